"""Hearing beside other trackers: each is a function from a take to notes.

What isn't installed is named and left out. The trackers that give only a pitch track share one
plain splitter. Licences: praat-parselmouth GPL-3 (a development dependency, only measured
against), librosa ISC, swift-f0 MIT, basic-pitch Apache-2.0; their models come in their wheels.
Install them by hand: librosa, "swift-f0[audio]", onnxruntime, pretty_midi, and basic-pitch with
--no-deps (its ONNX model needs no tensorflow).
"""

import contextlib
import importlib.util
import io
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from handslide.edges.audio.read import read_take
from handslide.sound.notes import hear

from .score import Found
from .truth import Floats, TrueTake

FLOOR_HZ, CEILING_HZ = 30.0, 1000.0
_STEP_CENTS, _STEP_S, _SHORTEST_S = 80.0, 0.04, 0.06
_DIP_DB, _QUIET_DB = 4.0, 40.0
Hearer = Callable[[TrueTake], list[Found]]


def mono(take: TrueTake) -> Floats:
    """One channel: the mean, as most programs do."""
    return take.samples if take.samples.ndim == 1 else take.samples.mean(axis=1)


def ours(take: TrueTake) -> list[Found]:
    """Our own hearing; stereo goes through a file, as a user's would."""
    if take.samples.ndim == 1:
        heard = hear(take.samples, take.rate_hz)
    else:
        heard = _through_file(take)
    return [
        Found(note.start_s, note.end_s, note.f0_hz, note.cents_se is not None)
        for note in heard.notes
    ]


def _through_file(take: TrueTake):
    import soundfile

    with TemporaryDirectory() as folder:
        path = Path(folder) / "take.wav"
        soundfile.write(path, take.samples, round(take.rate_hz), "PCM_24")
        read = read_take(path)
    return hear(read.samples, read.rate_hz)


def split(time_s: Floats, hz: Floats, samples: Floats, rate_hz: float) -> list[Found]:
    """A plain splitter: a new note after silence, a step of the pitch that stays, or a dip.

    ``hz`` (frames,) at ``time_s``, NaN or 0 without a pitch. A step is 80 cents for 40 ms; a dip
    goes down and up again by 4 dB within 60 ms each; notes last 60 ms or more.
    """
    step_s = float(np.median(np.diff(time_s))) if len(time_s) > 1 else 0.01
    level = _levels(time_s, samples, rate_hz)
    voiced = (np.nan_to_num(hz) > 0) & (level > level.max(initial=-200.0) - _QUIET_DB)
    cents = 1200.0 * np.log2(np.where(voiced, hz, 440.0) / 440.0)
    hold, around = max(2, round(_STEP_S / step_s)), max(1, round(0.06 / step_s))
    cuts, begin, middle = [], None, 0.0
    for at in range(len(hz)):
        if not voiced[at]:
            if begin is not None:
                cuts.append((begin, at))
            begin = None
            continue
        if begin is None:
            begin, middle = at, cents[at]
            continue
        ahead = cents[at : at + hold]
        stepped = (
            len(ahead) == hold
            and voiced[at : at + hold].all()
            and bool(np.all(np.abs(ahead - middle) > _STEP_CENTS))
            and float(np.ptp(ahead)) < _STEP_CENTS
        )
        if stepped or _dip(level, at, begin, around):
            cuts.append((begin, at))
            begin, middle = at, float(np.median(ahead))
        else:
            middle = float(np.median(cents[begin : at + 1][-40:]))
    if begin is not None:
        cuts.append((begin, len(hz)))
    return [
        Found(
            float(time_s[a]), float(time_s[b - 1]), float(np.exp(np.mean(np.log(_core(hz[a:b])))))
        )
        for a, b in cuts
        if (b - a) * step_s >= _SHORTEST_S
    ]


def _core(hz: Floats) -> Floats:
    """The middle three fifths of a note."""
    margin = len(hz) // 5
    return hz[margin : len(hz) - margin]


def _levels(time_s: Floats, samples: Floats, rate_hz: float) -> Floats:
    """Level in dB over 24 ms around each time."""
    energy = np.concatenate(([0.0], np.cumsum(samples**2)))
    begin = np.clip(((time_s - 0.012) * rate_hz).astype(int), 0, len(samples))
    end = np.clip(((time_s + 0.012) * rate_hz).astype(int), 0, len(samples))
    return 10.0 * np.log10((energy[end] - energy[begin]) / np.maximum(end - begin, 1) + 1e-12)


def _dip(level: Floats, at: int, begin: int, around: int) -> bool:
    if at - begin < around or at + around > len(level):
        return False
    here = level[at]
    lowest = here <= level[max(0, at - 2) : at + 3].min()
    return bool(
        lowest
        and level[at - around : at].max() - here > _DIP_DB
        and level[at : at + around].max() - here > _DIP_DB
    )


def praat(take: TrueTake) -> list[Found]:
    import parselmouth

    samples = mono(take)
    sound = parselmouth.Sound(samples, take.rate_hz)
    pitch = sound.to_pitch_ac(0.01, pitch_floor=FLOOR_HZ, pitch_ceiling=CEILING_HZ)
    return split(np.array(pitch.xs()), pitch.selected_array["frequency"], samples, take.rate_hz)


def pyin(take: TrueTake) -> list[Found]:
    import librosa

    samples = librosa.resample(mono(take), orig_sr=take.rate_hz, target_sr=22_050.0)
    hz, voiced, _ = librosa.pyin(
        samples, fmin=FLOOR_HZ, fmax=CEILING_HZ, sr=22_050, frame_length=2048, hop_length=512
    )
    time_s = np.arange(len(hz)) * 512 / 22_050
    return split(time_s, np.where(voiced, hz, 0.0), samples, 22_050.0)


@lru_cache(maxsize=1)
def _swift():
    import swift_f0

    return swift_f0.SwiftF0(threads=1)


def swift(take: TrueTake) -> list[Found]:
    """SwiftF0 with the confidence that its authors call voiced; its floor is 47 Hz."""
    samples = mono(take)
    found = _swift().detect(samples.astype(np.float32), round(take.rate_hz), fmax=CEILING_HZ)
    hz = np.where(found.confidence >= 0.5, found.pitch_hz, 0.0)
    return split(found.timestamps, hz, samples, take.rate_hz)


@lru_cache(maxsize=1)
def _basic():
    from basic_pitch import ICASSP_2022_MODEL_PATH
    from basic_pitch.inference import Model

    return Model(Path(ICASSP_2022_MODEL_PATH).with_name("nmp.onnx"))


def basic_pitch(take: TrueTake) -> list[Found]:
    """basic-pitch's own notes, to the semitone; no splitter of ours."""
    import soundfile
    from basic_pitch.inference import predict

    with TemporaryDirectory() as folder, contextlib.redirect_stdout(io.StringIO()):
        path = Path(folder) / "take.wav"
        soundfile.write(path, mono(take), round(take.rate_hz))
        _, _, notes = predict(
            path,
            _basic(),
            minimum_note_length=60.0,
            minimum_frequency=FLOOR_HZ,
            maximum_frequency=CEILING_HZ,
        )
    found = [
        Found(float(start_s), float(end_s), 440.0 * 2.0 ** ((midi - 69) / 12.0), cents=False)
        for start_s, end_s, midi, _, _ in notes
    ]
    return sorted(found, key=lambda one: one.start_s)


PEERS: dict[str, tuple[Hearer, tuple[str, ...]]] = {
    "handslide": (ours, ()),
    "praat": (praat, ("parselmouth",)),
    "pyin": (pyin, ("librosa",)),
    "swift-f0": (swift, ("swift_f0", "soxr")),
    "basic-pitch": (basic_pitch, ("basic_pitch", "pretty_midi", "onnxruntime")),
}


def installed(name: str) -> bool:
    """Whether all that a tracker needs is here."""
    return all(importlib.util.find_spec(package) for package in PEERS[name][1])
