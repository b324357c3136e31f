"""Practice material in the studio: what is seen is what is printed, and what the commands make."""

import io
import re
from dataclasses import replace
from html import unescape
from importlib.resources import files
from urllib.parse import quote, urlsplit

import pypdfium2 as pdfium
import pytest
import soundfile
from command import run
from lxml import etree
from shares import share_of
from sound_meter import line_hz
from studio_pages import client, words
from studio_stands import LANTERNS, stand_of

from handslide.drills.kinds import DRILLS
from handslide.edges.store.students import StudentValues
from handslide.ground.intervals import of_semitones
from handslide.studio.parts.edits import lock_place, unlock_all
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.reading import score_data
from handslide.studio.parts.scores import get_score, list_scores
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.horns import add_horn, enrol
from handslide.studio.people.students import add_student, list_students
from handslide.studio.practice.sheets import (
    drill_for,
    faults_for,
    first_drill,
    player_of,
)
from handslide.studio.progress.progress import progress_of
from handslide.studio.studio import open_studio
from handslide.words.catalogues import languages
from handslide.words.drills import drill_name
from handslide.words.intervals import interval_size
from handslide.words.speech import speech

KINDS = tuple(DRILLS)
ALONE = [kind for kind in KINDS if not DRILLS[kind].from_report]


def links(answer):
    return [unescape(url) for url in re.findall(r'(?:href|src)="([^"]+)"', answer.text)]


def link(answer, path):
    """The one address of a page that has this path."""
    found = {url for url in links(answer) if urlsplit(url).path == path and "save" not in url}
    assert len(found) == 1, (path, found)
    return found.pop()


def page_count(data):
    document = pdfium.PdfDocument(data)
    try:
        return len(document)
    finally:
        document.close()


def picture_urls(answer):
    return [url for url in links(answer) if "/page.png" in url]


def notices(answer):
    return re.findall(r'class="notice bad" role="alert">\s*([^<]+?)\s*<', answer.text)


@pytest.mark.sample
@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_seen_and_printed_for_students_by_turns(example, kind):
    pages = client(example)
    name = ("Mira Holt", "Clara Moreno")[KINDS.index(kind) % 2]
    (student,) = (one for one in list_students(example) if one.name == name)
    home = f"/practice/{student.id}/drill"
    seen = pages.get(f"{home}?kind={kind}")
    assert notices(seen) == []
    pdf = pages.get(link(seen, f"{home}.pdf"))
    assert pdf.headers["content-type"] == "application/pdf"
    assert pdf.headers["content-disposition"].startswith("inline")
    pictures = picture_urls(seen)
    assert page_count(pdf.content) == len(pictures)
    for url in pictures:
        assert pages.get(url).content.startswith(b"\x89PNG")
    score = pages.get(link(seen, f"{home}.musicxml"))
    assert score.headers["content-disposition"].startswith("attachment")
    assert b"<score-partwise" in score.content


@pytest.mark.sample
@pytest.mark.parametrize("kind", ALONE)
def test_a_sheet_is_the_one_that_the_command_makes(studio, tmp_path, kind):
    one = enrol(studio, StudentValues("Mira", reach=6.0, marks="letter", clef="tenor"), "tenor-f")
    got = client(studio).get(
        f"/practice/{one.id}/drill.pdf?kind={kind}&seed=7&level=advanced&paper=letter&pieces=2"
    )
    run(
        "drill", kind, "--horn", "tenor-f", "--student", "Mira", "--reach", 6, "--marks", "letter",
        "--clef", "tenor", "--level", "advanced", "--seed", 7, "--exercises", 2,
        "--paper", "letter", "--drones", "none", "-o", tmp_path,
    )  # fmt: skip
    assert got.content == (tmp_path / f"{kind}.pdf").read_bytes()
    assert f'filename="mira-{kind}-7.pdf"' in got.headers["content-disposition"]
    score = client(studio).get(
        f"/practice/{one.id}/drill.musicxml?kind={kind}&seed=7&level=advanced&pieces=2"
    )
    assert score.content == (tmp_path / f"{kind}.musicxml").read_bytes()


def test_every_wish_reaches_the_sheet(studio, tmp_path):
    one = enrol(studio, StudentValues("Mira"), "tenor-f")
    query = (
        "kind=scales&scale=melodic-minor&key=C&rhythm=dotted&articulation=slur-2&low=E2&high=F4"
        "&tempo=66,5&clef=alto&seed=3&pieces=2&level=second-year"
    )
    got = client(studio).get(f"/practice/{one.id}/drill.pdf?{query}")
    run(
        "drill", "scales", "--horn", "tenor-f", "--student", "Mira", "--scale", "melodic-minor",
        "--key", "C", "--rhythm", "dotted", "--articulation", "slur-2", "--range", "E2-F4",
        "--tempo", 66.5, "--clef", "alto", "--seed", 3, "--exercises", 2, "-o", tmp_path,
    )  # fmt: skip
    assert got.content == (tmp_path / "scales.pdf").read_bytes()
    seen = client(studio).get(f"/practice/{one.id}/drill?{query}")
    assert pdf_of(client(studio), seen, one.id) == got.content


def pdf_of(pages, seen, student_id):
    return pages.get(link(seen, f"/practice/{student_id}/drill.pdf")).content


def test_it_starts_from_the_student_s_own_ways(studio):
    prefer_letter(studio)
    values = StudentValues("Jon", clef="treble-bb", names="german", profile="beginner")
    one = enrol(studio, values, "tenor-f")
    seen = client(studio).get(f"/practice/{one.id}/drill?kind=scales").text
    for name, value in (
        ("level", "first-year"), ("clef", "treble-bb"), ("paper", "letter"), ("kind", "scales"),
    ):  # fmt: skip
        field = re.search(rf'<select id="{name}".*?</select>', seen, re.S).group()
        assert re.findall(r'value="([^"]*)" selected', field) == [value], name
    keys = re.search(r'<select id="key".*?</select>', seen, re.S).group()
    assert {"B", "Es", "As", "H", "Fis"} - set(re.findall(r">([^<]+)</option>", keys)) <= {"Fis"}
    low = re.search(r'<select id="low".*?</select>', seen, re.S).group()
    own = player_of(studio, one.id)
    assert re.findall(r'value="([A-G][^"]+)"', low) == [pitch.name for pitch in own.notes]


def prefer_letter(studio):
    from handslide.studio.preferences import Preferences, prefer

    prefer(studio, Preferences(paper="letter"))


def test_another_one_like_it(studio):
    one = enrol(studio, StudentValues("Mira"), "tenor-f")
    pages, home = client(studio), f"/practice/{one.id}/drill"
    first = pages.get(f"{home}/preview?kind=slurs&seed=4")
    second = pages.get(f"{home}/preview?kind=slurs&seed=4&another=1")
    assert "seed=4" in first.headers["hx-replace-url"]
    assert "seed=5" in second.headers["hx-replace-url"]
    assert re.search(r'id="seed" name="seed" value="5"[^>]*hx-swap-oob', second.text)
    assert "hx-swap-oob" not in first.text
    assert pdf_of(pages, first, one.id) != pdf_of(pages, second, one.id)
    # Without scripts the button asks for the whole page.
    whole = pages.get(f"{home}?kind=slurs&seed=4&another=1")
    assert 'id="seed" name="seed" value="5"' in whole.text
    assert whole.text.count('id="seed"') == 1
    assert pdf_of(pages, whole, one.id) == pdf_of(pages, second, one.id)


@pytest.mark.sample
def test_a_kind_shows_only_what_it_has(studio):
    one = enrol(studio, StudentValues("Mira"), "tenor-f")
    pages = client(studio)
    kinds = share_of(ALONE, 0, 4)
    assert {DRILLS[kind].in_key for kind in kinds} == {True, False}
    for kind in kinds:
        seen = pages.get(
            f"/practice/{one.id}/drill?kind={kind}&key=C&rhythm=eighths&scale=dorian&pieces=1"
        )
        assert notices(seen) == [], kind
        assert ('name="key"' in seen.text) == DRILLS[kind].in_key, kind


def test_bad_values_are_one_sentence_in_place(studio):
    one = enrol(studio, StudentValues("Mira"), "tenor")
    pages, home = client(studio), f"/practice/{one.id}"
    for query in (
        "kind=knitting", "key=X", "low=C4&high=C3", "level=zero", "rhythm=wild", "tempo=soon",
        "tempo=5", "seed=-1", "seed=1e3", "paper=a9", "clef=french", "kind=register",
        "kind=trouble-spots", "low=Q", "pieces=99", "scale=secret&key=H", "pieces=x",
    ):  # fmt: skip
        for path in ("drill", "drill/preview"):
            answer = pages.get(f"{home}/{path}?{query}")
            assert answer.status_code == 200, query
            found = notices(answer)
            if query.startswith("scale="):
                continue
            assert len(found) == 1 and found[0].endswith("."), (query, found)
        refused = pages.get(f"{home}/drill.pdf?{query}")
        assert refused.status_code == 400, query
        assert "Traceback" not in refused.text
    assert pages.get(f"{home}/drill/page.png?page=9").status_code == 404
    assert pages.get("/practice/999").status_code == 404
    assert pages.get("/practice/999/drill").status_code == 404
    for path in ("drill", "lesson", "move", "drone"):
        assert pages.get(f"{home}/{path}?horn=99").status_code in (200, 404)


def test_a_student_without_a_horn_is_told(studio):
    one = add_student(studio, StudentValues("Nobody"))
    answer = client(studio).get(f"/practice/{one.id}")
    assert answer.status_code == 404
    assert "no horn yet" in words(answer)
    assert "/practice/" not in client(studio).get(f"/students/{one.id}").text


@pytest.mark.sample
@pytest.mark.parametrize("kind", ALONE)
def test_a_drill_on_the_stand_has_the_places_of_the_sheet(studio, kind):
    one = enrol(studio, StudentValues("Jon", profile="beginner"), "tenor-f")
    player = player_of(studio, one.id)
    sheet = drill_for(studio, player, kind, first_drill(player), 2, speech()).sheet
    answer = client(studio).post(f"/practice/{one.id}/drill/stand", data={"kind": kind, "seed": 2})
    assert answer.status_code == 303
    stand_id = int(answer.headers["location"].rsplit("/", 1)[1])
    part = open_part(studio, stand_id)
    printed = [text for piece in sheet.pieces for _, text in sorted(piece.marked.shown.items())]
    assert [part.routed.marks[n] for n in sorted(part.routed.marks)] == printed
    meant = sum(n.lock is not None for piece in sheet.pieces for n in piece.piece.notes if n.pitch)
    assert len(part.locks) >= meant
    assert part.lost == ()
    assert score_data(studio, part.score.id) == sheet.musicxml(speech())
    assert part.title == f"{drill_name(speech(), kind)}, first year, sheet 2"
    # All that any part can do, it can: it is engraved, printed and played.
    pages = client(studio)
    assert pages.get(f"/stands/{stand_id}").status_code == 200
    assert pages.get(f"/stands/{stand_id}/music").status_code == 200
    assert pages.get(f"/stands/{stand_id}/playalong").status_code == 200


def test_a_drill_put_there_twice_keeps_the_teacher_s_choices(studio):
    one = enrol(studio, StudentValues("Jon"), "tenor-f")
    pages, form = client(studio), {"kind": "register", "seed": 1}
    first = pages.post(f"/practice/{one.id}/drill/stand", data=form).headers["location"]
    stand_id = int(first.rsplit("/", 1)[1])
    assert len(open_part(studio, stand_id).locks) > 10
    unlock_all(studio, stand_id)
    again = pages.post(f"/practice/{one.id}/drill/stand", data=form).headers["location"]
    assert again == first
    assert open_part(studio, stand_id).locks == {}
    assert len(list_scores(studio)) == 1
    # One undo brings all locks back.
    from handslide.studio.parts.edits import undo

    assert len(undo(studio, stand_id).after.locks) > 10


def test_a_second_horn_gets_its_own_sheets(studio):
    one = enrol(studio, StudentValues("Jon"), "tenor-f")
    alto = add_horn(studio, one.id, "alto").id
    pages, home = client(studio), f"/practice/{one.id}/drill"
    usual, other = pages.get(f"{home}?kind=scales"), pages.get(f"{home}?kind=scales&horn={alto}")
    assert pdf_of(pages, usual, one.id) != pdf_of(pages, other, one.id)
    answer = pages.post(f"{home}/stand", data={"kind": "scales", "horn": str(alto)})
    stand_id = int(answer.headers["location"].rsplit("/", 1)[1])
    assert open_part(studio, stand_id).horn.id == alto
    stranger = enrol(studio, StudentValues("Else"), "tenor")
    theirs = player_of(studio, stranger.id).horn.id
    assert pages.get(f"{home}?horn={theirs}").status_code == 404


# Lesson sheets.


def test_a_lesson_sheet_is_the_one_that_the_command_makes(studio, tmp_path):
    stand_id = stand_of(studio, "Ada Quill")
    student_id = open_part(studio, stand_id).student.id
    pages, home = client(studio), f"/practice/{student_id}/lesson"
    seen = pages.get(f"{home}?stand={stand_id}&level=advanced&seed=3&set=1")
    assert notices(seen) == []
    got = pages.get(link(seen, f"{home}.pdf"))
    score, target = tmp_path / "lanterns.musicxml", tmp_path / "lesson.pdf"
    score.write_bytes(LANTERNS)
    run(
        "lesson", score, "--horn", "tenor-f", "--student", "Ada Quill", "--level", "advanced",
        "--seed", 3, "-o", target,
    )  # fmt: skip
    assert got.content == target.read_bytes()
    assert page_count(got.content) == len(picture_urls(seen))
    assert pages.get(picture_urls(seen)[0]).content.startswith(b"\x89PNG")
    other = pages.get(f"{home}/preview?stand={stand_id}&level=advanced&seed=3&set=1&another=1")
    assert "seed=4" in other.headers["hx-replace-url"]


def test_a_lesson_sheet_keeps_the_places_chosen_on_the_stand(studio):
    from handslide.studio.practice.sheets import lesson_for

    stand_id = stand_of(studio)
    part = open_part(studio, stand_id)
    player = player_of(studio, part.student.id)
    note, other = next(
        (number, place)
        for number, now in part.routed.places.items()
        for place in player.setup.book.places(part.routed.pitches[number].midi)
        if place != now
    )
    lock_place(studio, stand_id, note, other.valves, other.partial)
    lesson = lesson_for(studio, player, stand_id, "second-year", 1, speech()).sheet
    assert lesson.marked.routed.places[note] == other


def test_a_lesson_sheet_has_what_goes_wrong_when_it_is_asked_for(example):
    from handslide.studio.practice.sheets import lesson_for

    sure = {
        one.id: bool(faults_for(example, player_of(example, one.id)))
        for one in list_students(example)
        if list_stands(example, student_id=one.id)
    }
    # Not all have something that is surely weak; whose takes tell nothing gets what suits.
    assert set(sure.values()) == {True, False}
    student_id = next(key for key, found in sure.items() if found)
    other_id = next(key for key, found in sure.items() if not found)
    other = player_of(example, other_id)
    stand_id = list_stands(example, student_id=other_id)[0].id
    plain = lesson_for(example, other, stand_id, "second-year", 1, speech()).sheet
    assert "trouble-spots" not in [sheet.kind for sheet in plain.drills]
    assert plain.wishes.nothing_sure == bool(progress_of(example, other_id).takes)
    player = player_of(example, student_id)
    stand_id = list_stands(example, student_id=student_id)[0].id
    with_, without = (
        [sheet.kind for sheet in lesson_for(
            example, player, stand_id, "second-year", 1, speech(), around=around).sheet.drills]
        for around in (True, False)
    )  # fmt: skip
    assert "trouble-spots" in with_ and "trouble-spots" not in without


def test_without_a_part_a_lesson_and_a_move_say_what_to_do(studio):
    one = enrol(studio, StudentValues("Mira"), "tenor")
    pages = client(studio)
    for name in ("lesson", "move"):
        answer = pages.get(f"/practice/{one.id}/{name}")
        assert answer.status_code == 200
        assert f"/parts?student={one.id}" in links(answer)
        assert pages.get(f"/practice/{one.id}/{name}.pdf").status_code == 400


def test_nobody_reads_the_part_of_somebody_else(studio):
    stand_id = stand_of(studio)
    other = enrol(studio, StudentValues("Else"), "tenor")
    pages = client(studio)
    for name in ("lesson", "move"):
        assert pages.get(f"/practice/{other.id}/{name}?stand={stand_id}").status_code == 404
        assert pages.get(f"/practice/{other.id}/{name}.pdf?stand={stand_id}").status_code == 404
        assert pages.get(f"/practice/{other.id}/{name}?stand=999").status_code == 404
    post = pages.post(f"/practice/{other.id}/move/stand", data={"stand": str(stand_id)})
    assert post.status_code == 404
    assert len(list_scores(studio)) == 1


# Moved parts.


def test_a_moved_part_is_the_one_that_the_command_makes(studio, tmp_path):
    stand_id = stand_of(studio, "Ada Quill", reach=6.0)
    part = open_part(studio, stand_id)
    pages, home = client(studio), f"/practice/{part.student.id}/move"
    for way, interval, by, more in (
        ("down", "P8", "-P8", ""), ("up", "m3", "m3", ""), ("down", "P8", "-P8", "&fix=1"),
    ):  # fmt: skip
        seen = pages.get(f"{home}?stand={stand_id}&way={way}&interval={interval}{more}")
        assert notices(seen) == []
        score = tmp_path / "lanterns.musicxml"
        score.write_bytes(LANTERNS)
        run(
            "transpose", score, "--by", by, "--only", "--horn", "tenor-f", "--reach", 6,
            "--student", "Ada Quill", "-o", tmp_path / "out", "--force",
            *(["--octave-fix"] if more else []),
        )  # fmt: skip
        (pdf,) = (tmp_path / "out").glob("*.pdf")
        assert pages.get(link(seen, f"{home}.pdf")).content == pdf.read_bytes()
        (moved,) = (tmp_path / "out").glob("*.musicxml")
        form = {"stand": str(stand_id), "way": way, "interval": interval}
        answer = pages.post(f"{home}/stand", data=form | ({"fix": "1"} if more else {}))
        new = open_part(studio, int(answer.headers["location"].rsplit("/", 1)[1]))
        assert score_data(studio, new.score.id) == moved.read_bytes()
        assert new.student.id == part.student.id and new.horn.id == part.horn.id
        for made in (pdf, moved):
            made.unlink()


def test_what_cannot_be_played_is_said_with_a_way_out(studio):
    gliding = stand_of(studio, base="tenor")
    joy = (files("handslide") / "data" / "example" / "joy.musicxml").read_bytes()
    plain = stand_of(studio, "Ben", "tenor", joy, "joy.musicxml")
    pages = client(studio)
    promised = []
    for stand_id, way, interval in (
        (gliding, "down", "P8"), (gliding, "up", "M2"), (plain, "down", "P8"), (plain, "up", "P12"),
    ):  # fmt: skip
        home = f"/practice/{open_part(studio, stand_id).student.id}/move"
        seen = pages.get(f"{home}?stand={stand_id}&way={way}&interval={interval}")
        assert "can't be played" in words(seen)
        found = [url for url in links(seen) if url.startswith(f"{home}?stand=")]
        if "All could be played:" in words(seen):
            promised += found
        elif "All notes, but not every glissando, could be played:" in words(seen):
            for url in found:
                said = words(pages.get(url))
                assert "glissandi in measure" in said and "notes can't be" not in said
    assert promised
    for url in promised:
        assert "All of it can be played" in words(pages.get(url)), url


def test_no_such_interval_is_one_sentence(studio):
    stand_id = stand_of(studio)
    student_id = open_part(studio, stand_id).student.id
    for interval in ("P3", "x", "P99", "--P8"):
        for path in ("move", "move/preview"):
            answer = client(studio).get(
                f"/practice/{student_id}/{path}?stand={stand_id}&interval={interval}"
            )
            assert answer.status_code == 200
            assert len(notices(answer)) == 1, interval


def test_intervals_have_words_in_each_language():
    for code in languages():
        say = speech(code)
        said = [interval_size(say, of_semitones(n)) for n in range(37)]
        assert len(set(said)) == 37
        assert not [text for text in said if re.fullmatch(r"[PMmAd]\d+", text)]


# Sound.


@pytest.mark.parametrize("form", ["wav", "flac", "ogg"])
def test_a_drone_is_a_sound_of_its_length_and_pitch(studio, form):
    one = enrol(studio, StudentValues("Mira"), "tenor-f")
    pages, home = client(studio), f"/practice/{one.id}/drone"
    seen = pages.get(f"{home}?note=Bb2&chord=major&tuning=just&length=30")
    assert notices(seen) == []
    got = pages.get(f"{link(seen, f'{home}.wav').split('?')[0][:-4]}.{form}"
                    "?note=Bb2&chord=major&tuning=just&length=30")  # fmt: skip
    samples, rate = soundfile.read(io.BytesIO(got.content))
    assert len(samples) / rate == pytest.approx(30.0, abs=0.05)
    middle = samples[5 * rate : 15 * rate]
    root = 440.0 * 2 ** (-23 / 12)
    for ratio in (1.0, 5 / 4, 3 / 2):
        assert line_hz(middle, rate, root * ratio) == pytest.approx(root * ratio, rel=3e-5)
    assert "146" not in words(seen) and "145.68" in words(seen)


def test_a_drone_is_heard_in_pieces_and_loops(studio):
    one = enrol(studio, StudentValues("Mira"), "tenor-f")
    pages, home = client(studio), f"/practice/{one.id}/drone"
    (loop,) = {url for url in links(pages.get(home)) if "loop=1" in url}
    whole = pages.get(loop)
    assert whole.headers["accept-ranges"] == "bytes"
    piece = pages.get(loop, headers={"Range": "bytes=100-299"})
    assert piece.status_code == 206
    assert piece.content == whole.content[100:300]
    assert piece.headers["content-range"] == f"bytes 100-299/{len(whole.content)}"
    assert pages.get(loop, headers={"Range": "bytes=99999999-"}).status_code == 416
    samples, rate = soundfile.read(io.BytesIO(whole.content))
    assert len(samples) / rate >= 30.0
    seam = abs(samples[0] - samples[-1])
    assert seam <= abs(samples[1:] - samples[:-1]).max() * 1.05


def test_a_drone_of_own_notes_takes_the_horn_s_tuning(studio):
    one = enrol(studio, StudentValues("Mira", names="do"), "tenor-f")
    with studio.store.write() as db:
        db.execute("UPDATE horn SET a4_hz = 442 WHERE student_id = ?", (one.id,))
    seen = client(studio).get(f"/practice/{one.id}/drone?more=A2+E3,A3&tuning=equal")
    assert notices(seen) == []
    assert "110.50" in words(seen) and "221.00" in words(seen)
    assert "la (A2)" in words(seen)


@pytest.mark.parametrize(
    "query",
    ["note=X", "chord=sour", "more=Bb2+Bb2", "more=C9", "root=Z&tuning=just", "length=x"],
)
def test_a_drone_that_cannot_be_is_one_sentence(studio, query):
    one = enrol(studio, StudentValues("Mira"), "tenor-f")
    for path in ("drone", "drone/preview"):
        answer = client(studio).get(f"/practice/{one.id}/{path}?{query}")
        assert answer.status_code == 200
        assert len(notices(answer)) == 1
    assert client(studio).get(f"/practice/{one.id}/drone.wav?{query}").status_code == 400
    assert client(studio).get(f"/practice/{one.id}/drone.aiff").status_code == 404


def test_a_play_along_has_the_length_that_was_asked_for(studio, tmp_path):
    stand_id = stand_of(studio)
    pages, home = client(studio), f"/stands/{stand_id}/playalong"
    assert home in links(pages.get(f"/stands/{stand_id}"))
    seen = pages.get(home)
    assert notices(seen) == []
    usual = soundfile.info(io.BytesIO(pages.get(link(seen, f"{home}.flac")).content))
    line = open_part(studio, stand_id).marked.part
    bar_s = line.measures[0].full_s
    # The last note stands under a fermata: two quarters longer. The room rings on behind it.
    music_s = line.measures[-1].end_s + 2 * line.measures[-1].beat_s
    assert usual.duration == pytest.approx(bar_s + music_s + 0.45, abs=0.05)
    tempo = line.tempo_qpm / 2
    query = f"set=1&tempo={tempo:g}&count_in=0&clicks=1&solo=off"
    slow = pages.get(f"{home}.wav?{query}")
    assert soundfile.info(io.BytesIO(slow.content)).duration == pytest.approx(
        2 * music_s + 0.45, abs=0.05
    )
    score = tmp_path / "lanterns.musicxml"
    score.write_bytes(LANTERNS)
    run(
        "playalong", score, "--tempo", tempo, "--count-in", 0, "--solo", "off", "--no-others",
        "-o", tmp_path / "a.wav",
    )  # fmt: skip
    assert slow.content == (tmp_path / "a.wav").read_bytes()


def test_a_play_along_in_several_tempos_with_clicks_of_their_own(studio):
    stand_id = stand_of(studio)
    pages, home = client(studio), f"/stands/{stand_id}/playalong"
    query = "set=1&clicks=1&tempo=80&tempos=90,100&times=2&click=softer&in_beat=2&strict=1&dry=1"
    query += "&from=%231&to=%231&count_in=1"
    seen = pages.get(f"{home}?{query}")
    assert notices(seen) == []
    assert "90, 100" in seen.text
    address = next(url for url in links(seen) if urlsplit(url).path == f"{home}.mp3")
    for piece in ("tempos=90", "times=2", "click=softer", "in_beat=2", "strict=1", "dry=1"):
        assert piece in address
    data = pages.get(address)
    assert data.headers["content-type"] == "audio/mpeg"
    bar_q = 4.0
    lasts_s = 2 * 2 * bar_q * (60 / 90 + 60 / 100)
    assert soundfile.info(io.BytesIO(data.content)).duration == pytest.approx(lasts_s, abs=0.5)
    assert "is no list of tempos" in pages.get(f"{home}/preview?set=1&tempos=quick").text


def test_a_play_along_that_cannot_be_is_one_sentence(studio):
    stand_id = stand_of(studio)
    pages, home = client(studio), f"/stands/{stand_id}/playalong"
    for query in ("tempo=x", "tempo=1", "count_in=9", "solo=shout", "from=99", "solo=off"):
        answer = pages.get(f"{home}/preview?set=1&count_in=0&{query}")
        if query == "count_in=9":
            answer = pages.get(f"{home}/preview?set=1&{query}")
        assert answer.status_code == 200
        assert len(notices(answer)) == 1, query
        assert "--" not in notices(answer)[0], query
    assert pages.get(f"{home}.aiff").status_code == 404
    assert pages.get("/stands/999/playalong").status_code == 404


def test_the_pages_lead_to_each_other(example):
    student = next(one for one in list_students(example) if one.name == "Clara Moreno")
    pages = client(example)
    assert f"/practice/{student.id}" in links(pages.get(f"/students/{student.id}"))
    stand_id = list_stands(example, student_id=student.id)[0].id
    stand = links(pages.get(f"/stands/{stand_id}"))
    assert f"/stands/{stand_id}/playalong" in stand
    assert f"/practice/{student.id}/move?stand={stand_id}" in stand
    assert f"/practice/{student.id}/drill?kind=trouble-spots" in links(
        pages.get(f"/progress/{student.id}")
    )
    overview = links(pages.get(f"/practice/{student.id}"))
    for kind in KINDS:
        assert f"/practice/{student.id}/drill?kind={kind}" in overview


def test_a_moved_part_has_the_title_that_the_teacher_gave(studio):
    from handslide.studio.parts.scores import rename_score

    stand_id = stand_of(studio)
    part = open_part(studio, stand_id)
    rename_score(studio, part.score.id, "Evening piece", "Nobody")
    pages = client(studio)
    form = {"stand": str(stand_id), "way": "down", "interval": "P4"}
    answer = pages.post(f"/practice/{part.student.id}/move/stand", data=form)
    new = open_part(studio, int(answer.headers["location"].rsplit("/", 1)[1]))
    assert get_score(studio, new.score.id).title == "Evening piece, a fourth lower"
    assert get_score(studio, new.score.id).composer == "Nobody"


def test_each_thing_to_practise_has_a_drill_of_its_own(example):
    home = client(example)
    asked = 0
    for student in list_students(example):
        player = player_of(example, student.id)
        report = progress_of(example, student.id)
        links_ = links(home.get(f"/students/{student.id}/things"))
        assert len(report.next) <= 3
        for thing in report.next:
            group = thing.found.group
            key = group.key
            (link,) = [url for url in links_ if url.endswith(f"about={quote(key)}")]
            assert home.get(link).status_code == 200
            spots = faults_for(example, player, key)
            assert spots[0].midi == thing.found.midi
            played = {report.rows[n].midi for n in group.rows}
            assert {spot.midi for spot in spots} <= played
            if group.kind == "note":
                assert len(spots) == 1
            asked += 1
        # What is mended by now asks for all that comes next.
        assert faults_for(example, player, "gone") == faults_for(example, player)
    assert asked >= 3


def test_the_line_of_a_part_has_the_same_name_after_a_restart(tmp_path, monkeypatch):
    studio = open_studio(tmp_path)
    stand = stand_of(studio)
    address = f"/stands/{stand}/strip?width=narrow"
    drawn = client(studio).get(address)
    assert drawn.status_code == 200 and "<svg" in drawn.text
    studio.close()
    studio = open_studio(tmp_path)
    monkeypatch.delattr("handslide.studio.home.strips.opening_of")
    kept = {"If-None-Match": drawn.headers["ETag"]}
    assert client(studio).get(address, headers=kept).status_code == 304
    # Another mark makes another line.
    part = open_part(studio, stand)
    number, place = next(
        (n, place)
        for n in part.marked.part.played[:8]
        for place in part.routed.setup.book.places(part.marked.part.notes[n].sounding.midi)
        if place != part.routed.places[n]
    )
    lock_place(studio, stand, number, place.valves, place.partial)
    changed = client(studio).get(address, headers=kept)
    assert changed.status_code == 500
    studio.close()


def test_a_play_along_has_a_drone_that_follows_its_chords(studio):
    root = etree.fromstring(LANTERNS)
    for (step, alter), measure in zip((("B", -1), ("F", 0), ("E", -1)), root.iter("measure")):
        symbol = (
            f"<harmony><root><root-step>{step}</root-step><root-alter>{alter}</root-alter></root>"
            "<kind>major</kind></harmony>"
        )
        measure.find("note").addprevious(etree.fromstring(symbol))
    stand_id = stand_of(studio, data=etree.tostring(root))
    pages, home = client(studio), f"/stands/{stand_id}/playalong"
    seen = pages.get(f"{home}?set=1&solo=off&drone=chord&without=1")
    assert notices(seen) == []
    rows = re.findall(r'<th scope="row">(\d)</th><td>([^<]*)</td>', seen.text)
    assert rows == [("1", "B♭"), ("2", "F"), ("3", "E♭")]
    address = link(seen, f"{home}.flac")
    assert "drone=chord" in address and "without=1" in address
    assert pages.get(address).headers["content-type"] == "audio/flac"
    for wrong in ("drone=all", "drone=chord&harmony=ear", "drone=root&harmony=parts"):
        assert len(notices(pages.get(f"{home}/preview?set=1&{wrong}"))) == 1, wrong


def test_a_sheet_over_drones_has_them_to_hear_and_to_take_along(studio):
    one = enrol(studio, StudentValues("Mira"), "tenor-f")
    pages, home = client(studio), f"/practice/{one.id}/drill"
    seen = pages.get(f"{home}?kind=intonation&pieces=2")
    ways = f"{home}/drone.", f"{home}/played."
    found = [url for url in links(seen) if urlsplit(url).path.startswith(ways)]
    assert {url.rpartition("number=")[2][:1] for url in found} == {"1", "2"}
    played = next(url for url in found if "/played.flac" in url and url.endswith("number=2"))
    assert soundfile.info(io.BytesIO(pages.get(played).content)).duration > 20.0
    loop = next(url for url in found if "loop=1" in url)
    heard, rate = soundfile.read(io.BytesIO(pages.get(loop).content))
    sheet = drill_for(
        studio, player_of(studio, one.id), "intonation",
        replace(first_drill(player_of(studio, one.id)), pieces=2), 1, speech("en"),
    ).sheet  # fmt: skip
    want_hz = sheet.pieces[0].piece.drone.hz(player_of(studio, one.id).horn.a4_hz)
    assert line_hz(heard, rate, want_hz) == pytest.approx(want_hz, rel=4e-5)
    assert pages.get(f"{home}/drone.mp3?kind=intonation&number=9").status_code == 400
    assert pages.get(f"{home}/played.flac?kind=scales&number=1").status_code == 400
    assert pages.get(f"{home}/drone.aiff?kind=intonation").status_code == 404
    assert f"{home}/drone" not in pages.get(f"{home}?kind=scales").text
