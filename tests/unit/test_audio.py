"""Audio files in: formats, rates, channels, and every way in which a file can be wrong."""

import struct
import sys

import av
import numpy as np
import pytest
import soundfile

from handslide.edges.audio import read as audio
from handslide.edges.audio.decode import decoded
from handslide.edges.audio.read import read_take
from handslide.ground.errors import NotInstalled, TakeError
from handslide.ground.units import cents
from handslide.sound.notes import hear
from handslide.sound.tones import harmonic_tone

RATE_HZ = 44_100


def tone(rate_hz=RATE_HZ, length_s=0.8):
    return 0.15 * harmonic_tone(116.54, length_s, rate_hz, fade_s=0.02)


def write(path, samples, rate_hz=RATE_HZ, **options):
    soundfile.write(path, samples, rate_hz, **options)
    return path


def encode(path, samples, codec, rate_hz=RATE_HZ):
    """Write ``samples`` with PyAV, as a phone does."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=rate_hz, layout="mono")
        frame = av.AudioFrame.from_ndarray(
            samples[None].astype(np.float32), format="fltp", layout="mono"
        )
        frame.sample_rate = rate_hz
        for packet in [*stream.encode(frame), *stream.encode(None)]:
            container.mux(packet)
    return path


def the_note(path):
    take = read_take(path)
    assert np.abs(take.samples).max() <= 1.2
    (note,) = hear(take.samples, take.rate_hz).notes
    assert abs(cents(note.f0_hz / 116.54)) < 0.3
    return take


@pytest.mark.parametrize(
    ("suffix", "subtype"),
    [
        ("wav", "PCM_16"), ("wav", "PCM_U8"), ("wav", "PCM_24"), ("wav", "FLOAT"), ("wav", "ULAW"),
        ("flac", "PCM_16"), ("ogg", "VORBIS"), ("ogg", "OPUS"), ("mp3", "MPEG_LAYER_III"),
        ("aiff", "PCM_16"), ("w64", "PCM_16"),
    ],
)  # fmt: skip
def test_formats(tmp_path, suffix, subtype):
    rate_hz = 48_000 if subtype == "OPUS" else RATE_HZ
    path = write(tmp_path / f"take.{suffix}", tone(rate_hz), rate_hz, subtype=subtype)
    take = the_note(path)
    assert (take.rate_hz, take.channels, take.name) == (rate_hz, 1, path.name)


@pytest.mark.parametrize("rate_hz", [8000, 11_025, 22_050, 48_000, 96_000, 192_000])
def test_rates(tmp_path, rate_hz):
    assert the_note(write(tmp_path / "a.wav", tone(rate_hz), rate_hz)).rate_hz == rate_hz


def test_what_a_phone_records(tmp_path):
    take = the_note(encode(tmp_path / "voice memo.m4a", tone(), "aac"))
    assert take.channels == 1
    assert len(take.samples) == pytest.approx(0.8 * RATE_HZ, abs=4096)


def test_the_name_doesnt_matter(tmp_path):
    path = encode(tmp_path / "take.m4a", tone(), "aac")
    the_note(path.rename(tmp_path / "take.wav"))
    the_note(write(tmp_path / "b.wav", tone()).rename(tmp_path / "take.m4a"))


def test_channels_are_averaged_and_silent_ones_left_out(tmp_path):
    mono = tone()
    silent = write(tmp_path / "a.wav", np.stack((np.zeros_like(mono), mono), 1), subtype="FLOAT")
    assert np.allclose(the_note(silent).samples, mono, atol=1e-6)
    both = write(tmp_path / "b.wav", np.stack((mono, 0.5 * mono), 1), subtype="FLOAT")
    take = the_note(both)
    assert np.allclose(take.samples, 0.75 * mono, atol=1e-6)
    assert take.channels == 2


@pytest.mark.parametrize("share", [1.0, 0.6])
def test_a_channel_that_is_upside_down_takes_nothing_away(tmp_path, share):
    mono = tone()
    turned = write(tmp_path / "a.wav", np.stack((mono, -share * mono), 1), subtype="FLOAT")
    assert np.allclose(the_note(turned).samples, 0.5 * (1 + share) * mono, atol=1e-6)


def test_silence_is_no_error(tmp_path):
    take = read_take(write(tmp_path / "a.wav", np.zeros(4410)))
    assert not take.samples.any()


def test_driven_too_far_at_16_bit(tmp_path):
    loud = np.clip(12 * tone(), -1, 1)
    take = the_note(write(tmp_path / "a.wav", loud, subtype="PCM_16"))
    assert [fact.kind for fact in hear(take.samples, take.rate_hz).warnings] == ["sounds.clipped"]


def fails(path, match):
    with pytest.raises(TakeError, match=match) as caught:
        read_take(path)
    assert "\n" not in str(caught.value)


def test_wrong_files(tmp_path):
    fails(tmp_path / "no.wav", "can't read .*no.wav: No such file")
    fails(tmp_path, "is a folder: give the audio file itself")
    empty = tmp_path / "empty.wav"
    empty.touch()
    fails(empty, "empty.wav is empty")
    text = tmp_path / "text.wav"
    text.write_text("Dear teacher, here is my recording.\n" * 100)
    fails(text, "text.wav can't be read as audio")
    fails(write(tmp_path / "none.wav", np.zeros(0)), "none.wav holds no sound")
    slow = write(tmp_path / "slow.wav", np.zeros(1000), 2000)
    fails(slow, "2000 samples a second: 4000 or more")


def test_a_file_that_breaks_off_is_read_to_there_or_refused(tmp_path):
    whole = write(tmp_path / "a.wav", tone(), subtype="PCM_16").read_bytes()
    part = tmp_path / "part.wav"
    part.write_bytes(whole[: len(whole) // 2])
    take = read_take(part)
    assert len(take.samples) == pytest.approx(0.4 * RATE_HZ, rel=0.01)
    packed = encode(tmp_path / "b.m4a", tone(), "aac").read_bytes()
    part = tmp_path / "part.m4a"
    part.write_bytes(packed[: len(packed) // 2])
    fails(part, "part.m4a can't be read")


def test_an_hour_is_the_most(tmp_path, monkeypatch):
    monkeypatch.setattr(audio, "TAKE_S", 0.5)
    fails(write(tmp_path / "a.wav", tone()), "a.wav is longer than")
    # A header may lie about the length: the samples are counted, too.
    lying = write(tmp_path / "b.wav", tone(), subtype="PCM_16")
    data = bytearray(lying.read_bytes())
    data[40:44] = struct.pack("<I", 0xFFFFFFFF)
    lying.write_bytes(bytes(data))
    fails(lying, "b.wav is longer than")
    monkeypatch.setattr(audio, "TAKE_BYTES", 1000)
    fails(tmp_path / "a.wav", "is larger than")


def test_more_than_three_hours_are_refused_at_once(tmp_path):
    path = tmp_path / "long.flac"
    with soundfile.SoundFile(path, "w", 8000, 1) as file:
        for _ in range(185):
            file.write(np.zeros(8000 * 60, dtype=np.int16))
    fails(path, "longer than 180 minutes")


def test_without_the_library_for_phones_the_sentence_says_how_to_get_it(tmp_path, monkeypatch):
    path = tmp_path / "take.m4a"
    encode(path, tone(), "aac")
    monkeypatch.setitem(sys.modules, "av", None)
    with pytest.raises(NotInstalled, match=r'take.m4a isn.t WAV.*"handslide\[phone\]"'):
        next(decoded("take.m4a", path))


def test_samples_of_any_size_are_bounded(tmp_path):
    path = tmp_path / "wild.wav"
    wild = np.array([0.5, np.nan, np.inf, -np.inf, 1e300, -1e300, -0.5])
    soundfile.write(path, wild, 44100, subtype="DOUBLE")
    _, *blocks = decoded("wild.wav", path)
    assert np.concatenate(blocks)[:, 0].tolist() == [0.5, 0, 100, -100, 100, -100, -0.5]
