"""The live view: the right note, cents and slide while it sounds; bounded; for our own pages."""

import json

import numpy as np
import pytest
from invented import DEMO
from played import RATE_HZ, placed, play_part, play_slurred
from starlette.websockets import WebSocketDisconnect
from studio_pages import BASE, client

from handslide.edges.store.students import StudentValues
from handslide.faces.web import live as face
from handslide.ground.errors import BadUsage, NotFound
from handslide.ground.facts import Fact
from handslide.ground.units import midi_to_hz
from handslide.instrument.heardplace import heard_place
from handslide.jobs.setup import make_setup
from handslide.sound.notes import hear
from handslide.sound.tones import harmonic_tone
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.scores import add_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student
from handslide.studio.takes.live import Live, LiveStart, parse_start
from handslide.words.hints import STUDIO
from handslide.words.messages import Message
from handslide.words.speech import speech

SETUP = make_setup("tenor-f")
RATE = round(RATE_HZ)
BLOCK = RATE // 50


@pytest.fixture
def mira(studio):
    student = add_student(studio, StudentValues(name="Mira Holt"))
    add_horn(studio, student.id, "tenor-f")
    score = add_score(studio, DEMO.read_bytes(), DEMO.name).score
    return student.id, open_stand(studio, student.id, score.id)


def blocks(samples, size=BLOCK):
    data = (np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes()
    return [data[k : k + 2 * size] for k in range(0, len(data), 2 * size)]


def tone(midi, cents=0.0, length_s=1.0, level=0.1):
    hz = midi_to_hz(midi) * 2 ** (cents / 1200)
    clean = level * harmonic_tone(hz, length_s, RATE, fade_s=0.02)
    return clean + 1e-4 * np.random.default_rng(1).standard_normal(len(clean))


def shown(view, samples):
    rows = [view.push(block) for block in blocks(samples)]
    return [row for row in rows if row is not None]


def start(student, stand=None, aim=None):
    return LiveStart(RATE, student, stand, aim)


def steady(rows):
    """What is shown while a tone is held."""
    return [row for row in rows if row["hz"] is not None][8:-8]


def test_live_says_what_the_file_says(studio, mira):
    samples = play_part(
        SETUP, placed(SETUP, DEMO)[:14], lambda n, place, _: -12.0 if place.position > 2 else 0.0
    )
    heard = hear(samples, RATE)
    rows = shown(Live(studio, start(mira[0], mira[1])), samples)
    compared = 0
    for note in heard.notes:
        middle = [
            row for row in rows
            if note.steady_start_s + 0.15 < row["t"] < note.steady_end_s - 0.1
        ]  # fmt: skip
        for row in middle:
            assert row["midi"] == note.midi
            assert row["cents"] == pytest.approx(note.cents, abs=0.5)
            place = row["place"]
            if row["slide_mm"] is not None:
                assert row["off_mm"] == pytest.approx(
                    row["slide_mm"] - place["extension_mm"], abs=0.2
                )
            if place["position"] > 2:
                assert row["off_mm"] == pytest.approx(-12.0, abs=1.0)
            compared += 1
    assert len(heard.notes) == 14
    assert compared > 150


@pytest.mark.parametrize(
    ("midi", "cents"), [(34, -8.0), (40, 11.0), (46, 7.3), (53, -12.4), (58, 0), (65, 20), (70, 3)]
)
def test_tones_over_the_whole_range(studio, mira, midi, cents):
    rows = steady(shown(Live(studio, start(mira[0])), tone(midi, cents)))
    assert len(rows) > 20
    for row in rows:
        assert (row["midi"], row["cents"]) == (midi, pytest.approx(cents, abs=0.5))


def test_the_slide_is_where_the_pitch_puts_it(studio, mira):
    for row in steady(shown(Live(studio, start(mira[0])), tone(50, 9.0))):
        assert (row["midi"], row["place"]["mark"], row["place"]["valves"]) == (50, "4", [])
        place = next(p for p in SETUP.book.places(50) if p.position > 3.5 and not p.valves)
        there = heard_place(SETUP.horn, place, midi_to_hz(50, 440) * 2 ** (9 / 1200),
                            midi_to_hz(50, 440))  # fmt: skip
        assert row["off_mm"] == pytest.approx(1000 * there.off_m, abs=1.0)
        assert row["slide_mm"] == pytest.approx(1000 * there.extension_m, abs=1.0)


def test_the_note_stays_at_a_quarter_tone(studio, mira):
    view = Live(studio, start(mira[0]))
    notes = [row["midi"] for row in steady(shown(view, tone(53, 40.0)))]
    notes += [row["midi"] for row in steady(shown(view, tone(53, 58.0)))]
    assert set(notes) == {53}
    assert {row["midi"] for row in steady(shown(view, tone(53, 75.0)))} == {54}
    assert {row["midi"] for row in steady(shown(view, tone(53, 55.0)))} == {54}


def test_an_aim_is_kept_even_far_off(studio, mira):
    view = Live(studio, start(mira[0], aim=50))
    for row in steady(shown(view, tone(51, -5.0))):
        assert (row["midi"], row["cents"]) == (50, pytest.approx(95.0, abs=0.5))
        assert row["tune"] == "off"
        assert row["off_mm"] < -60
    for row in steady(shown(view, tone(54))):
        assert (row["cents"], row["slide_mm"], row["off_mm"]) == (None, None, None)
        assert row["place"]["mark"] == "4" and row["hz"] is not None
        assert row["tune"] == "far"
    view.ask('{"aim": null}')
    assert steady(shown(view, tone(54)))[0]["midi"] == 54


def test_a_stand_says_the_place_where_its_route_has_one(studio, mira):
    # E flat 4 has places in 3rd and in a raised 6th; all of the part's are locked to the other.
    routed = open_part(studio, mira[1]).routed
    notes = [n for n, pitch in enumerate(routed.pitches) if pitch.midi == 63]
    other = next(p for p in routed.setup.book.places(63) if p != routed.places[notes[0]])
    with studio.store.write() as db:
        for number in notes:
            db.execute(
                "INSERT INTO stand_lock VALUES (?, ?, ?, ?)",
                (mira[1], number, json.dumps(other.valves), other.partial),
            )
    row = steady(shown(Live(studio, start(mira[0], mira[1])), tone(63)))[0]
    assert row["place"]["extension_mm"] == pytest.approx(1000 * other.extension_m, abs=0.01)
    free = steady(shown(Live(studio, start(mira[0])), tone(63)))[0]
    assert free["place"]["extension_mm"] != row["place"]["extension_mm"]


def test_silence_and_noise_have_no_pitch(studio, mira):
    noise = 1e-3 * np.random.default_rng(0).standard_normal(RATE)
    for row in shown(Live(studio, start(mira[0])), np.concatenate((np.zeros(RATE), noise))):
        assert row["hz"] is row["cents"] is row["slide_mm"] is row["midi"] is row["tune"] is None


def test_what_is_too_much_is_refused(studio, mira):
    view = Live(studio, start(mira[0]))
    with pytest.raises(BadUsage, match="whole samples"):
        view.push(b"abc")
    with pytest.raises(BadUsage, match="block"):
        view.push(bytes(2 * RATE + 2))
    view._samples = int(1200 * RATE) - 10
    with pytest.raises(BadUsage, match="20 minutes"):
        view.push(bytes(2 * BLOCK))
    with pytest.raises(NotFound):
        Live(studio, start(99))
    other = add_student(studio, StudentValues(name="Jonas Feld"))
    with pytest.raises(BadUsage, match="another student's"):
        Live(studio, start(other.id, mira[1]))


@pytest.mark.parametrize(
    "text",
    [
        "", "[]", "nonsense", '{"student": 1}', '{"rate_hz": "48000", "student": 1}',
        '{"rate_hz": 1e9, "student": 1}', '{"rate_hz": NaN, "student": 1}',
        '{"rate_hz": 48000, "student": true}', '{"rate_hz": 48000, "student": 1, "stand": "x"}',
        '{"rate_hz": 48000, "student": 1, "aim": 4000}', "[" * 100_000,
    ],
)  # fmt: skip
def test_a_first_message_that_cant_be_used(text):
    with pytest.raises(BadUsage):
        parse_start(text)


# Over the websocket.


def until_the_end(socket):
    rows = []
    while True:
        row = json.loads(socket.receive_text())
        if "error" in row:
            with pytest.raises(WebSocketDisconnect) as end:
                socket.receive_text()
            return rows, row["error"], end.value.code
        rows.append(row)


def first(student, **values):
    return json.dumps({"rate_hz": RATE, "student": student, "stand": None, "aim": None} | values)


def test_over_the_websocket(studio, mira, monkeypatch):
    monkeypatch.setattr(face, "_SEND_EVERY_S", 0.0)
    with client(studio).websocket_connect("/live") as socket:
        socket.send_text(first(mira[0], stand=mira[1]))
        for block in blocks(tone(50, 9.0)):
            socket.send_bytes(block)
        socket.send_text('{"aim": 51}')
        for block in blocks(tone(50, 9.0)):
            socket.send_bytes(block)
        socket.send_bytes(b"odd")
        rows, said, code = until_the_end(socket)
    assert code == face.REFUSED
    assert said == {
        "kind": "live.odd_block",
        "text": "a block must hold whole samples of two bytes",
    }
    assert len(rows) > 80
    keys = {
        "t",
        "hz",
        "clarity",
        "level_db",
        "midi",
        "note",
        "cents",
        "tune",
        "text",
        "place",
        "slide_mm",
        "off_mm",
    }
    assert keys <= set(rows[0])
    assert {"mark", "valves", "position", "extension_mm", "words"} == set(rows[20]["place"])
    assert (rows[20]["note"], rows[20]["cents"]) == ("D3", pytest.approx(9.0, abs=0.5))
    assert (rows[20]["tune"], rows[20]["text"]) == ("in_tune", "in tune")
    assert (rows[-20]["note"], rows[-20]["cents"]) == ("E♭3", pytest.approx(-91.0, abs=0.5))
    assert (rows[-20]["tune"], rows[-20]["text"]) == ("off", "91 cents too low")


def test_the_words_are_in_the_pages_language(studio, mira, monkeypatch):
    monkeypatch.setattr(face, "_SEND_EVERY_S", 0.0)
    headers = {"Accept-Language": "de"}
    with client(studio).websocket_connect("/live", headers=headers) as socket:
        socket.send_text(first(mira[0], aim=70))
        for block in blocks(tone(50)):
            socket.send_bytes(block)
        socket.send_bytes(b"odd")
        rows, said, _ = until_the_end(socket)
    german = speech("de", face=STUDIO)
    far = steady(rows)[0]
    assert (far["tune"], far["midi"]) == ("far", 70)
    assert far["text"] == german(Message("another note: {hz:.1f} Hz"), hz=far["hz"])
    assert said["text"] == german.fact(Fact("live.odd_block"))


def test_at_most_25_messages_a_second(studio, mira, monkeypatch):
    monkeypatch.setattr(face, "_SEND_EVERY_S", 1000.0)
    with client(studio).websocket_connect("/live") as socket:
        socket.send_text(first(mira[0]))
        for block in blocks(tone(50)):
            socket.send_bytes(block)
        socket.send_bytes(b"odd")
        rows, _, _ = until_the_end(socket)
    assert len(rows) == 1


def test_wrong_beginnings(studio, mira):
    for send, said in (
        (lambda socket: socket.send_bytes(bytes(100)), "begins with a text message"),
        (lambda socket: socket.send_text(first(99)), "isn't in the studio"),
        (lambda socket: socket.send_text(first(mira[0], rate_hz=1)), "outside"),
    ):
        with client(studio).websocket_connect("/live") as socket:
            send(socket)
            rows, error, code = until_the_end(socket)
        assert rows == [] and said in error["text"] and code == face.REFUSED
    assert face._listening == set()


def test_only_four_at_once(studio, mira, monkeypatch):
    monkeypatch.setattr(face, "LIVE_VIEWS", 1)
    browser = client(studio)
    with browser.websocket_connect("/live") as one:
        one.send_text(first(mira[0]))
        with browser.websocket_connect("/live") as two:
            rows, error, code = until_the_end(two)
        assert (rows, code) == ([], face.TOO_MANY) and "already" in error["text"]
    with browser.websocket_connect("/live") as again:
        again.send_text("x")
        assert until_the_end(again)[2] == face.REFUSED


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null", BASE + "0", None])
def test_another_pages_sound_isnt_taken(studio, mira, origin):
    browser = client(studio)
    for name in ("origin", "sec-fetch-site"):
        browser.headers.pop(name, None)
    headers = {} if origin is None else {"Origin": origin}
    with (
        pytest.raises(WebSocketDisconnect) as refused,
        browser.websocket_connect("/live", headers=headers),
    ):
        pass
    assert refused.value.code in (1008, 403)


@pytest.mark.parametrize("faster, signs", [(1, {"hit"}), (4.5, {"hit", "brief"})])
def test_what_is_too_short_to_judge_is_not_called_missed(studio, mira, faster, signs):
    student, stand = mira
    rows = [(place, on / faster, long / faster) for place, on, long in placed(SETUP, DEMO)[:12]]
    view = Live(studio, start(student, stand))
    told = []
    for block in blocks(play_part(SETUP, rows, lambda *_: 0.0)):
        view.push(block)
        told += view.take_passed()
    assert {row["sign"] for row in told} == signs
    assert len(told) >= 10 and all(row["mm"] is None for row in told)


def test_what_is_left_out_is_called_missed(studio, mira):
    student, stand = mira
    rows = placed(SETUP, DEMO)[:11]
    view = Live(studio, start(student, stand))
    told = []
    for block in blocks(play_part(SETUP, [*rows[:7], *rows[8:]], lambda *_: 0.0)):
        view.push(block)
        told += view.take_passed()
    assert {row["i"]: row["sign"] for row in told} == dict.fromkeys(range(11), "hit") | {7: "gone"}


def followed(studio, mira, samples):
    """What the stage is told while a part is followed, with how far off its note the slide is."""
    student, stand = mira
    places = open_part(studio, stand).routed.places
    rows = shown(Live(studio, start(student, stand)), samples)
    for row in rows:
        i = row["part"]["i"]
        known = row["hz"] is not None and i is not None and row["slide_mm"] is not None
        row["off"] = row["slide_mm"] - 1000 * places[i].extension_m if known else None
    return rows


def test_from_note_to_note_nothing_is_measured_by_the_wrong_note(studio, mira):
    rows = followed(studio, mira, play_part(SETUP, placed(SETUP, DEMO)[:40], lambda *_: 0.0))
    sounding = [row for row in rows if row["hz"] is not None]
    assert {row["part"]["state"] for row in sounding} == {"at", "turning"}
    at = [row for row in sounding if row["part"]["state"] == "at"]
    assert len(at) > 0.9 * len(sounding)
    assert max(abs(row["off"]) for row in at) < 30
    # What is held back would have been far off.
    turning = [
        abs(row["off"]) for row in sounding if row["part"]["state"] == "turning" and row["off"]
    ]
    assert max(turning) > 200


def test_a_slurred_line_is_followed_from_note_to_note(studio, mira):
    """By the sound of the slide alone: a legato without a tongue."""
    line = placed(SETUP, DEMO)[:40]
    rows = followed(studio, mira, play_slurred(SETUP, line))
    sounding = [row for row in rows if row["hz"] is not None]
    assert {row["part"]["state"] for row in sounding} == {"at", "turning"}
    at = [row for row in sounding if row["part"]["state"] == "at"]
    assert len(at) > 0.85 * len(sounding)
    # On the way within the note's own pitch the slide is where it is heard, up to half a step off.
    assert max(abs(row["off"]) for row in at) < 75
    assert sum(abs(row["off"]) > 12 for row in at) < 0.05 * len(at)


def test_another_note_is_told_after_a_quarter_of_a_second_at_most(studio, mira):
    first = placed(SETUP, DEMO)[0]
    sound = np.concatenate([play_part(SETUP, [first], lambda *_: 0.0), tone(70, length_s=1.5)])
    rows = [row for row in followed(studio, mira, sound) if row["hz"] is not None]
    other = [row for row in rows if row["midi"] == 70]
    held = [row for row in other if row["part"]["state"] == "turning"]
    assert held and held[-1]["t"] - other[0]["t"] <= 0.26
    assert {row["part"]["state"] for row in other[len(held) :]} == {"other"}
