"""Takes in the studio: heard as the command line hears, kept only with consent, shown and heard."""

import contextlib
import io
import json
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from command import run_json
from invented import DEMO
from played import RATE_HZ, placed, play_part, write_wav
from studio_pages import client, words

from handslide.edges.audio import read as audio
from handslide.edges.musicxml.read import open_score
from handslide.edges.store.students import StudentValues
from handslide.ground.errors import BadData, BadUsage, NotFound, TakeError
from handslide.ground.facts import Fact
from handslide.jobs.hear.follow import follow_json
from handslide.jobs.hear.followed import follow_take
from handslide.jobs.hear.listen import listen_file
from handslide.jobs.hear.partreport import part_report
from handslide.jobs.hear.report import report_from, report_json
from handslide.jobs.hear.sheet import sheet_pdf
from handslide.jobs.partwishes import PartWishes
from handslide.jobs.setup import make_setup
from handslide.sound.notes import hear
from handslide.studio.care.erase import erase_recording, erase_recordings, erase_student, erase_take
from handslide.studio.parts.scores import add_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student, change_student, main_horn
from handslide.studio.takes import hearing as desk
from handslide.studio.takes import takes
from handslide.studio.takes.changes import since_before
from handslide.studio.takes.hearing import hearing, start_hearing
from handslide.studio.takes.sound import (
    RecentSounds,
    Sound,
    forget_sounds,
    keep_recording,
    recent_sounds,
    sound_bytes,
    sound_facts,
)
from handslide.studio.takes.takes import (
    get_take,
    hear_take,
    list_takes,
    rename_take,
    save_take,
    take_notes,
    take_pdf,
)
from handslide.words.speech import speech

ENGLISH = speech("en")
SETUP = make_setup("tenor-f")
COUNT = 42
ROWS = placed(SETUP, DEMO)[:COUNT]
REAL = Path(__file__).parents[1] / "takes"
CONSENT = StudentValues(
    name="Mira Holt", consent_note="her mother, by letter", keep_recordings=True
)


def third_short(number, place, before):
    if number == 9:
        return None
    return -15.0 if abs(place.position - 3) < 0.2 and not place.valves else 0.0


@pytest.fixture(scope="module")
def samples():
    return play_part(SETUP, ROWS, third_short)


@pytest.fixture(scope="module")
def wav(samples, tmp_path_factory):
    return write_wav(tmp_path_factory.mktemp("take") / "take.wav", samples)


HEARD = {}


@pytest.fixture(autouse=True)
def _heard_once(monkeypatch):
    """What is heard in a recording, listened to by the first test that takes it in."""

    def listen(audio, **how):
        if isinstance(audio, Path) and not audio.exists():
            return listen_file(audio, **how)
        with audio.open("rb") if isinstance(audio, Path) else contextlib.nullcontext(audio) as file:
            asked = file.read(), how["a4_hz"]
            file.seek(0)
        if asked not in HEARD:
            HEARD[asked] = listen_file(audio, **how)
        return HEARD[asked]

    monkeypatch.setattr(takes, "listen_file", listen)


@pytest.fixture
def mira(studio):
    """A student with an F-valve horn and the demo part on the stand: (student, stand)."""
    student = add_student(studio, StudentValues(name="Mira Holt"))
    add_horn(studio, student.id, "tenor-f")
    score = add_score(studio, DEMO.read_bytes(), DEMO.name).score
    return student.id, open_stand(studio, student.id, score.id)


def stored_bytes(folder):
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def send(browser, data, name="take.wav", **fields):
    files = {"audio": (name, data)}
    return browser.post("/takes", files=files, data={k: str(v) for k, v in fields.items()})


def arrive(browser, url):
    """The page of a take, however long it is being heard; and where that is."""
    for _ in range(600):
        answer = browser.get(url)
        if answer.status_code != 303 and "/waiting/" not in url:
            return answer
        url = answer.headers.get("location", url)
        time.sleep(0.05 if "/waiting/" in url else 0)
    raise AssertionError("the take wasn't heard in half a minute")


# What was heard.


def test_a_take_says_what_the_command_line_says(studio, mira, wav):
    take = get_take(studio, hear_take(studio, mira[0], wav, stand_id=mira[1]))
    told = run_json("listen", wav, "--score", DEMO, "--horn", "tenor-f")
    again = follow_json(report_from(take.report), ENGLISH)
    for key in (
        "notes",
        "counts",
        "extra",
        "habits",
        "practice",
        "warnings",
        "tempo_ratio",
        "a4_hz",
    ):
        assert again[key] == told[key], key
    rows = take_notes(studio, take.id)
    inside = [note for note in told["notes"] if note["words"] != "not in this take"]
    assert len(rows) == len(inside) == len(report_from(take.report).inside) == COUNT
    for row, note in zip(rows, inside):
        assert (row.measure, row.played, row.mark) == (
            str(note["measure"]), note["played"], note["mark"],
        )  # fmt: skip
        if note["cents"] is None:
            assert row.cents is row.slide_mm is None
        else:
            assert row.cents == pytest.approx(note["cents"], abs=0.006)
            assert row.slide_mm == pytest.approx(note["slide_mm"], abs=0.06)
    assert (take.stand_id, take.title) == (mira[1], "Lanterns on the Quay")
    assert [row.played for row in rows].count("missing") == 1


def test_free_playing_is_laid_beside_usual_places(studio, mira, wav):
    take = get_take(studio, hear_take(studio, mira[0], wav))
    told = run_json("listen", wav)
    assert take.report["heard"] == told["notes"]
    rows = take_notes(studio, take.id)
    assert {row.played for row in rows} == {"free"}
    third = [row for row in rows if row.mark == "3"]
    assert len(third) >= 3
    for row in third:
        assert row.slide_mm == pytest.approx(-15.0, abs=1.0)
    habit = report_from(take.report).habits[0]
    assert (habit.kind, habit.fact["position"]) == ("place", pytest.approx(3.0, abs=0.1))
    assert "3rd position" in ENGLISH.fact(habit.fact)
    assert take.score_id is take.stand_id is None
    assert take.title == "take"


def test_a_real_trombone(studio, mira):
    path = REAL / "Trombone_Sustain_F3_v5_1.ogg"
    take = get_take(studio, hear_take(studio, mira[0], path))
    told = run_json("listen", path)
    assert take.report["heard"] == told["notes"] != []
    assert take_notes(studio, take.id)[0].mark is not None


def test_locked_places_are_the_places(studio, mira, wav):
    notes = get_take(studio, hear_take(studio, mira[0], wav, stand_id=mira[1])).report["notes"]
    number = next(k for k, row in enumerate(notes) if row["note"] == "C3" and row["mark"] == "T1")
    with studio.store.write() as db:
        db.execute("INSERT INTO stand_lock VALUES (?, ?, '[]', 3)", (mira[1], number))
    after = get_take(studio, hear_take(studio, mira[0], wav, stand_id=mira[1])).report["notes"]
    assert after[number]["mark"] == "6"
    locked = run_json(
        "mark", DEMO, "--horn", "tenor-f", "--no-pdf", "-o", studio.folder, "--lock", "1:2=6"
    )
    inside = [row["mark"] for row in after if not row["outside"]]
    assert inside == [note["mark"] for note in locked["notes"]][:COUNT]


def test_another_tuning_pitch(studio, mira, tmp_path):
    high = make_setup("tenor-f", a4_hz=446.0)
    path = write_wav(
        tmp_path / "high.wav", play_part(high, placed(high, DEMO)[:COUNT], lambda *_: 0.0)
    )
    take = get_take(studio, hear_take(studio, mira[0], path, stand_id=mira[1], a4_hz=446.0))
    off = [abs(row.cents) for row in take_notes(studio, take.id) if row.cents is not None]
    assert take.a4_hz == 446.0
    assert np.median(off) < 1.0


def test_the_page_from_the_store_is_the_page_made_at_once(studio, mira, wav):
    take_id = hear_take(studio, mira[0], wav, stand_id=mira[1])
    followed = follow_take(
        open_score(DEMO), listen_file(wav, closely=True), SETUP, locks=lambda part: {}
    )
    report = part_report(followed)
    stored = json.loads(json.dumps(report_json(report)))
    assert report_json(report_from(stored)) == stored
    assert get_take(studio, take_id).report["notes"] == stored["notes"]
    horn = report_from(get_take(studio, take_id).report).horn
    report = replace(report, horn=horn)
    for paper in ("a4", "letter"):
        at_once = sheet_pdf(report, ENGLISH, "Mira Holt", paper, stored=True)
        assert take_pdf(studio, take_id, ENGLISH, paper) == at_once


def test_another_piece_says_nothing_of_this_part(studio, mira, tmp_path):
    rng = np.random.default_rng(0)
    rows = [(SETUP.book.places(int(rng.integers(41, 65)))[0], *row[1:]) for row in ROWS[:30]]
    path = write_wav(tmp_path / "other.wav", play_part(SETUP, rows, lambda *_: 0.0))
    take_id = hear_take(studio, mira[0], path, stand_id=mira[1])
    assert get_take(studio, take_id).report["doubt"] == {"kind": "takes.doubt"}
    assert [fact.kind for fact in list_takes(studio)[0].summary] == ["takes.doubt"]
    assert take_notes(studio, take_id) == ()
    said = words(client(studio).get(f"/takes/{take_id}"))
    assert "Is this the right part?" in said and "First find out" in said
    assert take_pdf(studio, take_id, ENGLISH).startswith(b"%PDF")


def test_what_cant_be_heard_stores_nothing(studio, mira, tmp_path, monkeypatch, wav):
    silence = write_wav(tmp_path / "silence.wav", np.zeros(44_100))
    hiss = 0.003 * np.random.default_rng(0).standard_normal(44_100)
    noise = write_wav(tmp_path / "noise.wav", hiss)
    broken = tmp_path / "broken.wav"
    broken.write_bytes(b"RIFF, but not music" * 100)
    (tmp_path / "empty.wav").touch()
    for path, said in (
        (silence, "is silent"),
        (noise, "no note"),
        (broken, "can't be read as audio"),
        (tmp_path / "empty.wav", "no bytes"),
        (tmp_path / "none.wav", "none.wav"),
    ):
        with pytest.raises(TakeError, match=said):
            hear_take(studio, mira[0], path)
    monkeypatch.setattr(audio, "TAKE_S", 10.0)
    with pytest.raises(TakeError, match="longer"):
        hear_take(studio, mira[0], wav)
    assert list_takes(studio) == ()


def test_the_page_of_a_stored_silence_says_what_to_do(studio, mira):
    setup = make_setup("tenor-f")
    heard = hear(np.zeros(44_100), 44_100.0, closely=True)
    report = part_report(follow_take(open_score(DEMO), heard, setup, PartWishes()))
    version = main_horn(studio, mira[0]).version.id
    take_id = save_take(
        studio, mira[0], report_json(report), (), title="Nothing", source="file", a4_hz=440.0,
        length_s=1.0, horn_version_id=version,
    )  # fmt: skip
    said = words(client(studio).get(f"/takes/{take_id}"))
    assert "Nothing was heard: the take is silent." in said and "Then record it again." in said
    assert "0 of 0" not in said and "Practise this first" not in said
    assert "nothing was heard" in words(client(studio).get("/takes"))


def test_a_stand_of_somebody_else_is_refused(studio, mira, wav):
    other = add_student(studio, StudentValues(name="Jonas Feld"))
    with pytest.raises(BadUsage, match="another student's stand"):
        hear_take(studio, other.id, wav, stand_id=mira[1])
    with pytest.raises(NotFound):
        hear_take(studio, 99, wav)


def test_list_rename_and_dates(studio, mira, wav):
    first = hear_take(studio, mira[0], wav, recorded_at="2026-11-01T10:00:00Z", title="Monday")
    report, rows = get_take(studio, first).report, take_notes(studio, first)
    second = save_take(
        studio, mira[0], report, rows, title=" Tues\nday ", source="example", a4_hz=440.0,
        length_s=3.0, recorded_at="2026-11-02",
    )  # fmt: skip
    assert [line.id for line in list_takes(studio)] == [second, first]
    assert list_takes(studio, mira[0], most=1, after=1)[0].id == first
    assert get_take(studio, second).title == "Tues day"
    assert take_notes(studio, second) == rows
    rename_take(studio, second, "Second")
    assert list_takes(studio)[0].title == "Second"
    with pytest.raises(BadData):
        rename_take(studio, second, "  ")
    with pytest.raises(BadData, match="yesterday"):
        save_take(studio, mira[0], report, rows, title="x", source="file", a4_hz=440.0,
                  length_s=3.0, recorded_at="yesterday")  # fmt: skip
    with pytest.raises(BadUsage):
        save_take(studio, mira[0], report, rows, title="x", source="radio", a4_hz=1, length_s=1)
    assert len(list_takes(studio)) == 2


def test_before_the_stage_a_part_or_the_slide_alone_is_chosen(studio, mira):
    add_student(studio, StudentValues(name="Tim Okafor"))
    asked = client(studio).get("/takes/new")
    assert f'href="/takes/new?student={mira[0]}"' in asked.text
    assert f'href="/takes/new?stand={mira[1]}"' in asked.text
    # Without a horn there is no slide to follow.
    assert "Tim Okafor no horn yet" in words(asked)
    for url in (f"/takes/new?student={mira[0]}", f"/takes/new?stand={mira[1]}"):
        assert 'class="stage' in client(studio).get(url).text


# The sound, and consent.


def test_without_consent_no_sound_is_stored(studio, mira, wav, samples):
    take_id = hear_take(studio, mira[0], wav, stand_id=mira[1])
    facts = sound_facts(studio, take_id)
    assert facts is not None and not facts.kept
    held = sound_bytes(studio, take_id, 0, facts.size)
    heard, rate = soundfile.read(io.BytesIO(held))
    assert rate == RATE_HZ
    assert np.abs(heard - samples).max() < 1e-4
    with pytest.raises(BadUsage, match="consent"):
        keep_recording(studio, take_id)
    disk = stored_bytes(studio.folder)
    assert b"fLaC" not in disk
    pcm = wav.read_bytes()
    for start in range(20_000, len(pcm) - 64, 50_000):
        assert pcm[start : start + 64] not in disk
        assert held[start // 4 : start // 4 + 64] not in disk


def test_with_consent_it_is_kept_until_it_is_deleted(studio, mira, wav):
    change_student(studio, mira[0], CONSENT)
    take_id = hear_take(studio, mira[0], wav)
    facts = sound_facts(studio, take_id)
    assert facts is not None and facts.kept and get_take(studio, take_id).kept
    forget_sounds(studio, all_of_them=True)
    held = sound_bytes(studio, take_id, 0, facts.size)
    assert held[:4] == b"fLaC"
    assert sound_bytes(studio, take_id, 100, 50) == held[100:150]
    piece = held[5000:5064]
    assert piece in stored_bytes(studio.folder)
    erase_recording(studio, take_id)
    assert sound_facts(studio, take_id) is None
    assert piece not in stored_bytes(studio.folder)
    assert not get_take(studio, take_id).kept


def test_consent_given_after_the_take(studio, mira, wav):
    take_id = hear_take(studio, mira[0], wav)
    change_student(studio, mira[0], replace(CONSENT, keep_recordings=False))
    with pytest.raises(BadUsage):
        keep_recording(studio, take_id)
    change_student(studio, mira[0], CONSENT)
    keep_recording(studio, take_id)
    keep_recording(studio, take_id)
    assert get_take(studio, take_id).kept
    second = hear_take(studio, mira[0], wav)
    erase_recording(studio, second)
    with pytest.raises(BadUsage, match="wasn't kept"):
        keep_recording(studio, second)


def test_a_deleted_take_is_gone_everywhere(studio, mira, wav):
    change_student(studio, mira[0], CONSENT)
    take_id = hear_take(studio, mira[0], wav, title="Nachtfalter 4711")
    erase_take(studio, take_id)
    assert recent_sounds(studio).held() == ()
    disk = stored_bytes(studio.folder)
    assert b"Nachtfalter 4711" not in disk
    assert b"fLaC" not in disk
    with pytest.raises(NotFound):
        get_take(studio, take_id)
    with pytest.raises(NotFound):
        sound_facts(studio, take_id)
    # The next take gets the same number, and none of the old one's sound.
    report = {"kind": "free", "summary": []}
    other = save_take(
        studio, mira[0], report, (), title="x", source="file", a4_hz=440.0, length_s=1.0
    )
    assert other == take_id
    assert sound_facts(studio, other) is None


def test_erasing_reaches_the_memory_too(studio, mira, wav):
    other = add_student(studio, StudentValues(name="Jonas Feld"))
    add_horn(studio, other.id, "tenor")
    theirs, hers = hear_take(studio, other.id, wav), hear_take(studio, mira[0], wav)
    erase_recordings(studio, mira[0])
    assert sound_facts(studio, hers) is None
    assert sound_facts(studio, theirs) is not None
    erase_student(studio, other.id)
    assert recent_sounds(studio).held() == ()


def test_memory_is_bounded_in_bytes_and_time():
    now = [0.0]
    sounds = RecentSounds(most_bytes=100, longest_s=60.0, clock=lambda: now[0])
    for number in range(4):
        sounds.put((number, "x"), Sound("audio/flac", bytes(30)), 1)
    assert [key[0] for key in sounds.held()] == [1, 2, 3]
    sounds.put((9, "x"), Sound("audio/flac", bytes(101)), 1)
    assert sounds.get((9, "x")) is None
    assert len(sounds.held()) == 3
    assert sounds.get((1, "another take of this number")) is None
    sounds.put((5, "x"), Sound("audio/flac", bytes(30)), 2)
    sounds.forget_student(2)
    assert [key[0] for key in sounds.held()] == [2, 3]
    now[0] = 61.0
    assert sounds.get((3, "x")) is None
    assert sounds.held() == ()


# In the background.


def test_hearing_in_the_background(studio, mira, wav):
    file = io.BytesIO(wav.read_bytes())
    key = start_hearing(studio, mira[0], file, name="take.wav", stand_id=mira[1])
    state = hearing(studio, key, wait_s=60.0)
    assert state.done and state.share == 1.0 and state.error is None
    assert get_take(studio, state.take_id).stand_id == mira[1]
    assert file.closed
    broken = io.BytesIO(b"nothing to hear" * 50)
    state = hearing(studio, start_hearing(studio, mira[0], broken, name="x.wav"), wait_s=60.0)
    assert state.error.kind == "audio.not_audio" and state.take_id is None
    assert broken.closed
    with pytest.raises(NotFound):
        hearing(studio, "unknown")
    with pytest.raises(NotFound):
        start_hearing(studio, 99, io.BytesIO(b"x"), name="x.wav")


def test_an_unforeseen_error_is_one_sentence(studio, mira, wav, monkeypatch, caplog):
    def broken(*_, **__):
        raise RuntimeError("secret 4711")

    monkeypatch.setattr(desk, "hear_take", broken)
    state = hearing(studio, start_hearing(studio, mira[0], io.BytesIO(b"x"), name="x"), 60.0)
    assert state.error == Fact("takes.broken")
    assert "secret 4711" in caplog.text


def test_only_so_many_wait(studio, mira, monkeypatch):
    monkeypatch.setattr(desk, "TAKES_WAITING", 0)
    with pytest.raises(BadData, match="later"):
        start_hearing(studio, mira[0], io.BytesIO(b"x"), name="x.wav")


# Pages.


@pytest.mark.parametrize("form", ["WAV", "FLAC", "OGG", "MP3", "AIFF"])
def test_usual_files_are_taken(studio, mira, samples, form):
    data = io.BytesIO()
    soundfile.write(data, samples, round(RATE_HZ), format=form)
    browser = client(studio)
    answer = send(browser, data.getvalue(), f"take.{form.lower()}", student=mira[0], stand=mira[1])
    assert answer.status_code == 303, words(answer)
    page = arrive(browser, answer.headers["location"])
    assert page.status_code == 200
    said = words(page)
    assert "41 of 42 notes right" in said
    assert "15 mm too short" in said
    notes = take_notes(studio, list_takes(studio)[0].id)
    third = [row.slide_mm for row in notes if row.mark == "3" and row.slide_mm is not None]
    assert third == pytest.approx([-15.0] * len(third), abs=1.0)


def test_what_isnt_a_recording_gets_one_sentence(studio, mira):
    browser = client(studio)
    for data, fields, said in (
        (b"<svg>" * 1000, {"student": mira[0]}, "can't be read as audio"),
        (b"", {"student": mira[0]}, "no bytes"),
        (b"x", {}, "hose take"),
        (b"x", {"student": "1; DROP"}, "isn't a number"),
        (b"x", {"student": 99}, "isn't in the studio"),
    ):
        answer = send(browser, data, "../../x<b>.wav", **fields)
        assert 400 <= answer.status_code < 500
        assert said in words(answer)
        assert "Traceback" not in answer.text and "<b>" not in answer.text
    assert "choose a file" in words(browser.post("/takes", data={"student": "1"}))
    assert list_takes(studio) == ()


def test_a_long_take_is_waited_for(studio, mira, wav, monkeypatch):
    from handslide.faces.web import takes as face

    monkeypatch.setattr(face, "_AT_ONCE_S", 0.0)
    browser = client(studio)
    answer = send(browser, wav.read_bytes(), student=mira[0], stand=mira[1], title="Long <i>one")
    url = answer.headers["location"]
    assert url.startswith("/takes/waiting/")
    first = browser.get(url)
    assert first.status_code in (200, 303)
    for _ in range(300):
        polled = browser.get(url, headers={"HX-Request": "true"})
        if "hx-redirect" in polled.headers:
            break
        assert "Long &lt;i&gt;one" in polled.text
        time.sleep(0.1)
    page = browser.get(polled.headers["hx-redirect"])
    assert "Long <i>one" in words(page) and "<i>one" not in page.text
    assert browser.get(url).headers["location"] == polled.headers["hx-redirect"]
    key = start_hearing(studio, mira[0], io.BytesIO(b"no sound" * 9), name="x.wav")
    assert hearing(studio, key, 60.0).error
    failed = browser.get(f"/takes/waiting/{key}")
    assert "Nothing was stored" in words(failed)
    assert browser.get("/takes/waiting/unknown").status_code == 404


def test_an_upload_never_has_a_name_on_the_disk(studio, mira, wav, tmp_path, monkeypatch):
    from handslide.faces.web import takes as face

    spool = tmp_path / "spool"
    spool.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(spool))
    monkeypatch.setattr(face, "_AT_ONCE_S", 0.0)
    assert wav.stat().st_size > 1_000_000  # more than stays in memory
    browser = client(studio)
    answer = send(browser, wav.read_bytes(), student=mira[0])
    assert list(spool.iterdir()) == []
    assert arrive(browser, answer.headers["location"]).status_code == 200
    assert list(spool.iterdir()) == []


def test_pieces_of_the_sound(studio, mira, wav):
    take_id = hear_take(studio, mira[0], wav)
    size = sound_facts(studio, take_id).size
    whole = sound_bytes(studio, take_id, 0, size)
    browser = client(studio)
    answer = browser.get(f"/takes/{take_id}/audio")
    assert (answer.status_code, answer.content) == (200, whole)
    assert answer.headers["accept-ranges"] == "bytes"
    assert answer.headers["content-type"] == "audio/flac"
    assert "no-store" in answer.headers["cache-control"]
    for asked, first, last in (
        ("bytes=0-99", 0, 99),
        ("bytes=1000-", 1000, size - 1),
        ("bytes=-200", size - 200, size - 1),
        (f"bytes={size - 5}-{size + 500}", size - 5, size - 1),
    ):
        answer = browser.get(f"/takes/{take_id}/audio", headers={"Range": asked})
        assert answer.status_code == 206
        assert answer.content == whole[first : last + 1]
        assert answer.headers["content-range"] == f"bytes {first}-{last}/{size}"
    for asked in (f"bytes={size}-", "bytes=5-3", "bytes=-0", "bytes=-", "lines=1-2"):
        answer = browser.get(f"/takes/{take_id}/audio", headers={"Range": asked})
        assert answer.status_code == 416, asked
        assert answer.headers["content-range"] == f"bytes */{size}"


def test_keep_drop_rename_delete_by_page(studio, mira, wav):
    browser = client(studio)
    take_id = hear_take(studio, mira[0], wav, stand_id=mira[1])
    assert "nobody has agreed" in words(browser.get(f"/takes/{take_id}"))
    assert browser.post(f"/takes/{take_id}/keep").status_code == 400
    change_student(studio, mira[0], CONSENT)
    assert browser.post(f"/takes/{take_id}/keep").status_code == 303
    assert "kept in the studio" in words(browser.get(f"/takes/{take_id}"))
    assert "recording kept" in words(browser.get("/takes"))
    assert browser.post(f"/takes/{take_id}/drop").status_code == 303
    assert "wasn't kept" in words(browser.get(f"/takes/{take_id}"))
    assert browser.get(f"/takes/{take_id}/audio").status_code == 404
    name = "<script>alert(1)</script>"
    assert browser.post(f"/takes/{take_id}/rename", data={"title": name}).status_code == 303
    for url in (f"/takes/{take_id}", "/takes", f"/takes?student={mira[0]}"):
        text = browser.get(url).text
        assert "<script>alert" not in text and "&lt;script&gt;alert" in text
    pdf = browser.get(f"/takes/{take_id}.pdf")
    assert pdf.content.startswith(b"%PDF") and pdf.headers["content-type"] == "application/pdf"
    assert browser.get(f"/takes/{take_id}/delete").status_code == 405
    assert browser.post(f"/takes/{take_id}/delete").status_code == 303
    assert browser.get(f"/takes/{take_id}").status_code == 404


def test_pages_without_takes_and_in_other_languages(studio, mira, wav):
    assert "No take yet" in words(client(studio).get("/takes"))
    take_id = hear_take(studio, mira[0], wav, stand_id=mira[1])
    for language, said in (("de", "Ton für Ton"), ("es", "Nota por nota"), ("en", "Note by note")):
        browser = client(studio, **{"Accept-Language": language})
        assert said in words(browser.get(f"/takes/{take_id}"))
        assert browser.get("/takes").status_code == 200
    options = client(studio).get(f"/takes/stands?student={mira[0]}").text
    assert "Lanterns on the Quay" in options


def test_the_pictures_have_each_note_once(studio, mira, wav):
    import re

    take_id = hear_take(studio, mira[0], wav, stand_id=mira[1])
    text = client(studio).get(f"/takes/{take_id}").text
    spots = re.findall(r'class="spot" data-of="(\d+)"', text)
    rows = re.findall(r'<tr id="n\d+" data-of="(\d+)"', text)
    assert spots == rows == [str(number) for number in range(COUNT)]
    assert " style=" not in text


# Take against take.


def test_what_changed_since_the_last_take_of_the_part(studio, mira, tmp_path):
    rng = np.random.default_rng(2)

    def take(sd_ms, off_mm, when):
        rows = [(p, on + rng.normal(0.0, sd_ms) / 1000.0, length) for p, on, length in ROWS]
        wave = play_part(SETUP, rows, lambda *_: rng.normal(0.0, off_mm))
        path = write_wav(tmp_path / f"{when}.wav", wave)
        return hear_take(studio, mira[0], path, stand_id=mira[1], recorded_at=f"2026-11-{when}")

    free = write_wav(tmp_path / "free.wav", play_part(SETUP, ROWS[:8], lambda *_: 0.0))
    first = take(45.0, 14.0, "02")
    hear_take(studio, mira[0], free, recorded_at="2026-11-03")
    second, third = take(10.0, 2.0, "09"), take(10.0, 2.0, "10")
    assert since_before(studio, get_take(studio, first)) is None
    since = since_before(studio, get_take(studio, second))
    assert since.take_id == first
    changed = {one["figure"]: one for one in since.changes}
    assert {"intonation_cents", "rhythm_ms"} <= set(changed)
    assert all(one["now"] < one["before"] for one in changed.values())
    said = words(client(studio).get(f"/takes/{second}"))
    assert "Since the take of 2 Nov 2026" in said
    assert "Steadier rhythm: ±" in said and "Nearer in tune" in said
    again = since_before(studio, get_take(studio, third))
    assert again.take_id == second
    assert again.changes == (Fact("listening.no_change"),)
