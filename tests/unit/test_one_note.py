"""One note heard live: its tones as a recording's, what isn't one, and the websocket."""

import json

import numpy as np
import pytest
from starlette.websockets import WebSocketDisconnect
from studio_pages import client
from truetakes import rooms
from truetakes.voices import RATE_HZ, Play, tones

from handslide.edges.store.students import StudentValues
from handslide.ground.errors import BadUsage
from handslide.ground.pitch import parse_pitch
from handslide.ground.units import cents
from handslide.sound.notes import hear
from handslide.sound.onenote import LEAST_S, OneNote
from handslide.sound.tones import harmonic_tone
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student, get_horn
from handslide.studio.tuning.onenote import LiveNote, NoteStart, note_svg, parse_note_start
from handslide.words.speech import speech

RATE = 22_050
AIM_HZ = 233.08
LOW_HZ = 116.54  # B flat 2


def played(*tones):
    """Samples of (Hz, seconds) with rests between."""
    rest = np.zeros(round(0.5 * RATE))
    pieces = [rest]
    for hz, seconds in tones:
        pieces += [0.1 * harmonic_tone(hz, seconds, RATE, fade_s=0.03), rest]
    samples = np.concatenate(pieces)
    return samples + 1e-4 * np.random.default_rng(2).standard_normal(len(samples))


def states(ear, samples, rate_hz=RATE):
    """The states in which it was, each once in a row."""
    found, block = [ear.state], rate_hz // 50
    for k in range(0, len(samples), block):
        ear.push(samples[k : k + block])
        if ear.state != found[-1]:
            found.append(ear.state)
    return found


def test_three_tones_are_measured_as_a_recording_is():
    ear, samples = OneNote(RATE, AIM_HZ, 70.0), played((233.5, 1.6), (232.7, 1.3), (233.2, 3.6))
    found = states(ear, samples)
    assert found == ["quiet", "sounding", "quiet", "sounding", "quiet", "sounding", "held", "quiet"]
    for tone, note in zip(ear.tones, hear(samples, RATE).notes, strict=True):
        assert abs(cents(tone.f0_hz / note.f0_hz)) < 0.1


def test_other_and_short_notes_are_not_counted():
    ear = OneNote(RATE, AIM_HZ, 70.0)
    short = 0.6 * LEAST_S
    assert "other" in states(ear, played((174.6, 1.2)))
    assert states(ear, played((233.0, short)))[-1] == "short"
    assert ear.held_s == 0.0
    # An octave is another note, too.
    assert "other" in states(ear, played((466.2, 1.2)))
    assert ear.tones == ()


def test_what_sounds_on_is_not_the_next_note():
    ear = OneNote(RATE, AIM_HZ, 70.0)
    tone = 0.1 * harmonic_tone(233.0, 4.0, RATE, fade_s=0.03)
    states(ear, tone[:RATE])
    ear.aim(AIM_HZ, 70.0)
    # Nor is it left unsaid why nothing is counted.
    assert states(ear, tone[RATE:]) == ["quiet", "before"]
    assert ear.tones == ()
    states(ear, played((233.0, 1.5)))
    assert len(ear.tones) == 1


def played_as_a_trombone(*plays):
    """Samples at RATE_HZ with half a second of quiet at the end; (MIDI, begin, length, how)."""
    notes = [Play(midi, begin_s, lasts_s, **how) for midi, begin_s, lasts_s, how in plays]
    length_s = notes[-1].onset_s + notes[-1].length_s + 0.5
    rng = np.random.default_rng(4)
    sound = tones(notes, length_s, rng)
    return sound + 5e-4 * rng.standard_normal(len(sound))


def heard(samples):
    """(the ear, its states) after a take of a trombone."""
    ear = OneNote(RATE_HZ, LOW_HZ, 70.0)
    return ear, states(ear, samples, RATE_HZ)


def off_cents(ear, midi):
    return [cents(one.f0_hz / 440.0) - 100.0 * (midi - 69.0) for one in ear.tones]


@pytest.mark.parametrize(("rest_s", "rt_s"), [(0.2, 0.0), (0.3, 0.9)])
def test_tones_are_told_apart_though_a_room_sounds_on(rest_s, rt_s):
    three = [(46.1, 0.5 + k * (1.4 + rest_s), 1.4, {}) for k in range(3)]
    samples = played_as_a_trombone(*three)
    if rt_s:
        room = rooms.decaying_noise(rt_s, -2.0, np.random.default_rng(5))
        samples = rooms.in_room(samples, room)
    ear, _ = heard(samples)
    assert off_cents(ear, 46.1) == pytest.approx([0.0] * 3, abs=0.6)


def test_an_echo_neither_makes_a_short_tone_long_nor_is_it_a_tone_that_goes_on():
    room = rooms.decaying_noise(2.0, -2.0, np.random.default_rng(5))
    dry = played_as_a_trombone((46.1, 0.5, 0.6, {}), (70.0, 3.0, 0.5, {}))
    ear, found = heard(rooms.in_room(dry, room))
    assert ear.tones == () and "short" in found and "before" not in found


def with_drone(samples, hz, level_db):
    time_s = np.arange(len(samples)) / RATE_HZ
    drone = sum(np.sin(2.0 * np.pi * k * hz * time_s) / k for k in range(1, 8))
    return samples + 10.0 ** (level_db / 20.0) / np.std(drone) * drone


def test_over_a_soft_drone_tones_are_counted_and_a_loud_one_never_is():
    # The tones are at -20 dB.
    samples = played_as_a_trombone((46.1, 1.3, 1.6, {}), (46.1, 3.5, 1.6, {}))
    ear, found = heard(with_drone(samples, LOW_HZ, -36.0))
    assert found[:3] == ["quiet", "before", "sounding"]
    assert off_cents(ear, 46.1) == pytest.approx([0.0] * 2, abs=0.6)
    # 20 cents below the note: beside 30 cents nothing was measured.
    ear, _ = heard(with_drone(samples, LOW_HZ * 2.0 ** (-20.0 / 1200.0), -28.0))
    assert all(abs(off) < 3.0 for off in off_cents(ear, 46.1))


def test_what_passes_through_the_note_is_no_try_at_it():
    slide = {"join": "smeared", "transit_s": 0.25}
    _, found = heard(played_as_a_trombone((44.0, 0.5, 0.8, {}), (48.0, 1.3, 0.8, slide)))
    assert "sounding" in found and "short" not in found


def test_another_note_is_named_with_vibrato_and_not_on_the_way():
    wide = {"vibrato_hz": 5.2, "vibrato_cents": 50.0, "vibrato_phase": 1.5}
    ear, found = heard(played_as_a_trombone((48.0, 0.5, 1.5, wide)))
    assert found == ["quiet", "other", "quiet"]
    ear = OneNote(RATE_HZ, LOW_HZ, 70.0)
    slide = {"join": "smeared", "transit_s": 0.4}
    samples = played_as_a_trombone((50.0, 0.5, 0.8, {}), (55.0, 1.5, 0.8, slide))
    named = set()
    for k in range(0, len(samples), RATE_HZ // 50):
        ear.push(samples[k : k + RATE_HZ // 50])
        if ear.state == "other":
            named.add(round(69.0 + cents(ear.other_hz / 440.0) / 100.0))
    assert named == {50, 55}


def test_tones_far_apart_do_not_make_a_mean_and_the_newest_counts():
    view, say = LiveNote(NoteStart(RATE_HZ, 1, LOW_HZ, 70.0, 440.0)), speech()
    three = [(midi, 0.5 + 2.0 * k, 1.3, {}) for k, midi in enumerate((45.55, 45.6, 46.45))]
    shown = [view.push(one) for one in blocks(played_as_a_trombone(*three), RATE_HZ)]
    last = view.message([one for one in shown if one is not None][-1], say)
    assert last["state"] == "apart" and "cents from an earlier tone" in last["text"]
    assert len(last["tones"]) == 1 and last["mean"]["hz"] == last["tones"][0]["hz"]


def blocks(samples, rate_hz=RATE):
    data = (samples * 32767).astype("<i2").tobytes()
    size = 2 * (rate_hz // 20)
    return [data[k : k + size] for k in range(0, len(data), size)]


def test_a_page_is_told_of_each_tone_and_their_mean():
    view = LiveNote(NoteStart(RATE, 1, AIM_HZ, 70.0, 440.0))
    say = speech()
    samples = played((233.5, 1.5), (196.0, 1.0), (233.3, 1.5))
    shown = [view.push(block) for block in blocks(samples)]
    said = [view.message(one, say) for one in shown if one is not None]
    assert "That is G3." in {one["text"] for one in said}
    assert [len(one["tones"]) for one in (said[0], said[-1])] == [0, 2]
    mean = said[-1]["mean"]
    assert mean["hz"] == pytest.approx(233.4, abs=0.02)
    # Two tones, each repeated to 2 cents (common practice).
    assert mean["se_cents"] == pytest.approx(2.0 / 2**0.5, abs=0.1)
    view.ask('{"hz": 174.6}')
    shown = view.push(blocks(played((174.6, 1.0)))[0])
    assert shown["tones"] == [] and shown["mean"] is None


@pytest.mark.parametrize(
    "message",
    ["7", "{}", '{"rate_hz": 48000, "student": 1}', '{"rate_hz": 48000, "student": 1, "hz": "a"}',
     '{"rate_hz": 48000, "student": 1, "hz": 0}', '{"rate_hz": 1, "student": 1, "hz": 100}',
     '{"rate_hz": 48000, "student": 1, "hz": NaN}',
     '{"rate_hz": 48000, "student": 1, "hz": 200, "within_cents": true}'],
)  # fmt: skip
def test_what_a_page_may_not_ask_for(message):
    with pytest.raises(BadUsage):
        parse_note_start(message)


def test_the_websocket_hears_for_its_own_pages_only(studio):
    mira = add_student(studio, StudentValues("Mira", names="german"))
    start = {"rate_hz": RATE, "student": mira.id, "hz": 233.08, "a4_hz": 440.0}
    with client(studio).websocket_connect("/one-note") as socket:
        socket.send_text(json.dumps(start))
        for block in blocks(played((493.9, 1.5))):
            socket.send_bytes(block)
        while not (said := json.loads(socket.receive_text()))["text"]:
            pass
    # Named as this student names notes.
    assert said["text"] == "That is h′."
    elsewhere = {"origin": "http://else"}
    with (
        pytest.raises(WebSocketDisconnect),
        client(studio).websocket_connect("/one-note", headers=elsewhere) as socket,
    ):
        socket.receive_text()


@pytest.mark.parametrize(
    ("base", "clef", "named", "sign"),
    [("tenor-f", "", "bass clef", "\ue062"), ("alto", "", "alto clef", "\ue05c"),
     ("tenor-f", "treble-bb", "treble clef in B♭, sounding a major ninth lower", "\ue050")],
)  # fmt: skip
def test_a_note_stands_in_the_students_or_the_horns_clef(studio, base, clef, named, sign):
    mira = add_student(studio, StudentValues("Mira", clef=clef))
    horn = get_horn(studio, add_horn(studio, mira.id, base).id)
    drawn = note_svg(mira, horn, parse_pitch("Bb3"), speech())
    assert f'aria-label="B♭3, {named}"' in drawn
    assert sign in drawn
    # Written in B flat it is C5, without a sign; else it has its flat.
    assert ("\ue260" in drawn) == (clef != "treble-bb")
