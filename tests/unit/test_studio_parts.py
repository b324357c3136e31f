"""Parts in the studio: taken in, on stands, chosen in, compared, taken away."""

import contextlib
import io
import json
import re
import zipfile

import musicxml_build as xml
import pytest
from studio_pages import client, words
from studio_stands import LANTERNS, SCORES, stand_of, titled

from handslide.edges.engraving.screen import joined
from handslide.edges.musicxml.fingerings import written_fingerings
from handslide.edges.musicxml.marks import write_marks
from handslide.edges.musicxml.read import read_score
from handslide.edges.store.students import StudentValues
from handslide.ground.errors import BadData, BadUsage, NotFound, ScoreError
from handslide.ground.limits import STORED_SCORE_BYTES
from handslide.instrument.marks import UNPLAYABLE
from handslide.jobs.mark.mark import MarkOptions, choose_for
from handslide.jobs.mark.routed import played_line, route
from handslide.studio.parts import screenmusic
from handslide.studio.parts.comparison import compare
from handslide.studio.parts.edits import lock_here, lock_place, redo, undo, unlock, unlock_all
from handslide.studio.parts.files import marked_score, plain_name, stand_pdf
from handslide.studio.parts.lists import Span, part_lists
from handslide.studio.parts.notewords import note_words
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.scores import (
    add_score,
    archive_score,
    delete_score,
    list_scores,
    rename_score,
    score_parts,
)
from handslide.studio.parts.screenmusic import screen_music
from handslide.studio.parts.stand import change_stand, get_stand, list_stands, open_stand
from handslide.studio.parts.standjson import changes_json, note_rows, route_json, route_text
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import change_student, get_student, setup_for
from handslide.studio.studio import open_studio
from handslide.words.speech import speech

SAY = speech("en")
NOTE = 20


def band():
    """A brass-band part that was saved without its transposition."""
    attributes = (
        "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time>"
        "<clef><sign>G</sign><line>2</line></clef></attributes>"
    )
    return xml.score(xml.part(attributes + xml.notes("C5 D5 E5 G4")), names=("1st Trombone in B♭",))


def choices(studio, stand_id, note=NOTE):
    """The other places of a note that can be chosen, best first: (valves, partial)."""
    found = note_words(SAY, studio, open_part(studio, stand_id), note)
    return [(p.valves, p.partial) for p in found.places if not p.chosen and p.worse_by is not None]


def marks(part):
    return dict(part.routed.marks)


# Scores


def test_a_score_is_kept_once(studio):
    first = add_score(studio, LANTERNS, "lanterns.musicxml")
    again = add_score(studio, LANTERNS, "copy.musicxml")
    assert (first.known, again.known) == (False, True)
    assert first.score == again.score
    assert [row.title for row in list_scores(studio)] == ["Lanterns on the Quay"]
    assert score_parts(studio, first.score).part_id == "P1"


def test_a_score_put_away_comes_back_when_it_is_sent_again(studio):
    row = add_score(studio, LANTERNS, "lanterns.musicxml").score
    archive_score(studio, row.id)
    assert list_scores(studio) == ()
    assert list_scores(studio, archived=True) != ()
    add_score(studio, LANTERNS, "lanterns.musicxml")
    assert [each.id for each in list_scores(studio)] == [row.id]


def test_titles_change_and_the_file_doesnt(studio):
    row = add_score(studio, LANTERNS, "lanterns.musicxml").score
    assert rename_score(studio, row.id, "  Evening\u202e ", "Nobody").title == "Evening"
    with pytest.raises(BadData, match="needs a title"):
        rename_score(studio, row.id, " \n ", "")
    assert add_score(studio, LANTERNS, "x.musicxml").known


@pytest.mark.parametrize(
    ("file", "name"),
    [
        (SCORES / "School_for_Trombone_026.mxl", "a.mxl"),
        (SCORES / "School_for_Trombone_008.mid", "a.mid"),
        (SCORES / "MEI_5_Hopkins_GatherRoundTheChristmasTree.mei", "a.mei"),
    ],
)
def test_other_formats_are_taken_in(studio, file, name):
    stand_id = stand_of(studio, data=file.read_bytes(), file=name)
    part = open_part(studio, stand_id)
    assert len(part.routed.places) > 10
    file = marked_score(studio, part)
    assert read_score(file.data, file.name).read_part(part.stand.part).notes


def test_a_deleted_score_leaves_all_stands(studio):
    stand_id = stand_of(studio)
    delete_score(studio, get_stand(studio, stand_id).score_id)
    with pytest.raises(NotFound):
        open_part(studio, stand_id)
    assert list_stands(studio) == ()


# Stands


def test_a_part_stands_once_for_each_student_and_horn(studio):
    stand_id = stand_of(studio)
    stand = get_stand(studio, stand_id)
    assert open_stand(studio, stand.student_id, stand.score_id) == stand_id
    second = add_horn(studio, stand.student_id, "tenor-f-long", title="The long one")
    other = open_stand(studio, stand.student_id, stand.score_id, second.id)
    assert other != stand_id
    assert open_part(studio, other).horn.title == "The long one"


def test_a_horn_of_somebody_else_is_refused(studio):
    first, second = stand_of(studio), stand_of(studio, name="Ben Rye")
    mine, theirs = get_stand(studio, first), get_stand(studio, second)
    with pytest.raises(BadData, match="isn't a horn of Ada Quill"):
        open_stand(studio, mine.student_id, mine.score_id, theirs.horn_id)


def test_another_voice_drops_locks_and_another_tempo_keeps_them(studio):
    stand_id = stand_of(studio)
    lock_here(studio, stand_id, NOTE)
    values = {"part": None, "voice": None, "small_notes": False}
    change_stand(studio, stand_id, tempo_qpm=60.0, **values)
    assert open_part(studio, stand_id).can_undo
    change_stand(studio, stand_id, tempo_qpm=60.0, part="P1", voice="1", small_notes=False)
    part = open_part(studio, stand_id)
    assert (dict(part.locks), part.can_undo, part.can_redo) == ({}, False, False)
    with pytest.raises(BadUsage, match="outside"):
        change_stand(studio, stand_id, tempo_qpm=5.0, **values)
    with pytest.raises(ScoreError, match="no voice"):
        change_stand(studio, stand_id, tempo_qpm=60.0, part="P1", voice="9", small_notes=False)


# Choices


@pytest.mark.parametrize("note", [NOTE, 60, 103])
def test_a_choice_moves_the_line_as_a_lock_of_the_command_line_does(studio, note):
    stand_id = stand_of(studio)
    before = open_part(studio, stand_id)
    valves, partial = choices(studio, stand_id, note)[0]
    edited = lock_place(studio, stand_id, note, valves, partial)
    place = edited.after.routed.places[note]
    assert (place.valves, place.partial) == (valves, partial)
    row = before.marked.part.notes[note]
    where = f"#{row.measure_index + 1}:{row.number}={edited.after.routed.marks[note]}"
    setup = setup_for(before.student, before.horn)
    options = MarkOptions(locks=(where,))
    told = choose_for(read_score(LANTERNS), setup, options)
    assert marks(edited.after) == dict(told.routed.marks)
    changed = {row["i"]: row["mark"] for row in changes_json(SAY, edited)["changed"]}
    differing = {k: m for k, m in marks(edited.after).items() if m != marks(before)[k]}
    assert note in changed and differing.items() <= changed.items()
    assert len(changed) < 12


def test_every_note_of_a_locked_part_is_as_a_whole_new_route_has_it(studio):
    data = (SCORES / "Galliard_Sonata1.musicxml").read_bytes()
    stand_id = stand_of(studio, data=data, file="sonata.musicxml")
    for note in (10, 50, 200):
        lock_place(studio, stand_id, note, *choices(studio, stand_id, note)[0])
    part = open_part(studio, stand_id)
    line, pitches = played_line(part.marked.part)
    setup = setup_for(part.student, part.horn)
    whole = route(setup, line, pitches, part.marked.part.played, dict(part.locks))
    assert whole.places == part.routed.places


def test_undo_and_redo_outlive_the_program(studio, tmp_path):
    stand_id = stand_of(studio)
    seen = [marks(open_part(studio, stand_id))]
    for note in (NOTE, 40, 60):
        lock_place(studio, stand_id, note, *choices(studio, stand_id, note)[0])
        seen.append(marks(open_part(studio, stand_id)))
    assert seen[0] != seen[1] != seen[2] != seen[3]
    undo(studio, stand_id)
    studio.close()
    again = open_studio(studio.folder)
    try:
        assert marks(open_part(again, stand_id)) == seen[2]
        assert marks(undo(again, stand_id).after) == seen[1]
        part = undo(again, stand_id).after
        assert marks(part) == seen[0]
        assert (part.can_undo, part.can_redo) == (False, True)
        assert changes_json(SAY, undo(again, stand_id))["changed"] == []
        for expected in seen[1:]:
            part = redo(again, stand_id).after
            assert marks(part) == expected
        assert (part.can_undo, part.can_redo) == (True, False)
    finally:
        again.close()


def test_a_new_choice_forgets_what_was_taken_back(studio):
    stand_id = stand_of(studio)
    lock_here(studio, stand_id, NOTE)
    lock_here(studio, stand_id, 40)
    undo(studio, stand_id)
    lock_here(studio, stand_id, 60)
    part = open_part(studio, stand_id)
    assert not part.can_redo
    assert sorted(part.locks) == [NOTE, 60]
    assert sorted(undo(studio, stand_id).after.locks) == [NOTE]


def test_unlocking_all_is_one_step(studio):
    stand_id = stand_of(studio)
    for note in (NOTE, 40, 60):
        lock_here(studio, stand_id, note)
    assert dict(unlock_all(studio, stand_id).after.locks) == {}
    assert sorted(undo(studio, stand_id).after.locks) == [NOTE, 40, 60]
    assert sorted(unlock(studio, stand_id, 40).after.locks) == [NOTE, 60]
    # Nothing to unlock is nothing to undo.
    edits = open_part(studio, stand_id).edits
    unlock(studio, stand_id, 41)
    assert open_part(studio, stand_id).edits == edits


def test_a_place_that_isnt_one_is_refused_and_nothing_is_kept(studio):
    stand_id = stand_of(studio)
    with pytest.raises(BadUsage, match="has no such place"):
        lock_place(studio, stand_id, NOTE, ["F"], 15)
    with pytest.raises(NotFound):
        lock_place(studio, stand_id, 9999, [], 4)
    part = open_part(studio, stand_id)
    unplayable = next(row.number for row in part.found if row.kind == "unplayable")
    with pytest.raises(BadUsage, match="no place to lock"):
        lock_here(studio, stand_id, unplayable)
    assert not open_part(studio, stand_id).can_undo


def test_a_lock_that_the_student_cant_reach_now_waits(studio):
    stand_id = stand_of(studio)
    far = next(n for n, p in open_part(studio, stand_id).routed.places.items() if p.position > 5.9)
    lock_here(studio, stand_id, far)
    student = get_student(studio, get_stand(studio, stand_id).student_id)
    change_student(studio, student.id, StudentValues(name=student.name, reach=4.0))
    part = open_part(studio, stand_id)
    assert part.lost == (far,) and far not in part.locks
    warning = part.found[0]
    assert (warning.kind, warning.number) == ("lock", far)
    assert note_rows(SAY, part)[far]["locked"]
    change_student(studio, student.id, StudentValues(name=student.name))
    part = open_part(studio, stand_id)
    assert part.lost == () and far in part.locks


def test_a_glissando_torn_by_locks_is_told(studio):
    stand_id = stand_of(studio)
    part = open_part(studio, stand_id)
    line = part.routed.cleared.line
    first = part.routed.routed_written[int(line.gliss.nonzero()[0][0])]
    place = part.routed.places[first]
    other = next(
        p
        for p in part.routed.setup.book.places(part.routed.pitches[first + 1].midi)
        if (p.valves, p.partial) != (place.valves, place.partial)
    )
    lock_here(studio, stand_id, first)
    part = lock_place(studio, stand_id, first + 1, other.valves, other.partial).after
    assert any(row.kind == "glissando" and row.number == first for row in part.found)


def test_another_horn_has_other_places_and_its_own_locks(studio):
    stand_id = stand_of(studio)
    lock_here(studio, stand_id, NOTE)
    stand = get_stand(studio, stand_id)
    plain = add_horn(studio, stand.student_id, "tenor", title="Plain")
    other = open_part(studio, open_stand(studio, stand.student_id, stand.score_id, plain.id))
    assert dict(other.locks) == {}
    assert all(not place.valves for place in other.routed.places.values())


# What is told


def test_the_words_of_a_note(studio):
    stand_id = stand_of(studio)
    part = open_part(studio, stand_id)
    free = note_words(SAY, studio, part, NOTE)
    routed = part.routed.note(NOTE)
    told = [p.worse_by for p in free.places]
    assert told == sorted(told)
    assert told[0] == 0.0 and free.places[0].chosen
    assert told[1:] == [pytest.approx(other.worse_by) for other in routed.alternatives]
    assert all(place.why_not for place in free.places[1:])
    # With another place locked the others are still measured by the free choice.
    third = free.places[2]
    lock_place(studio, stand_id, NOTE, third.valves, third.partial)
    locked = note_words(SAY, studio, open_part(studio, stand_id), NOTE)
    assert [p.worse_by for p in locked.places] == pytest.approx(told)
    assert locked.chosen.mark == third.mark
    assert locked.locked and locked.reason.endswith("as it was given")


def test_limits_are_named_beside_the_places(studio):
    stand_id = stand_of(studio, reach=4.0, learned=())
    part = open_part(studio, stand_id)
    c3 = next(n.index for n in part.marked.part.notes if n.sounding.name == "C3")
    note = note_words(SAY, studio, part, c3)
    assert note.places == () and note.why_unplayable.startswith("C3 can't be played")
    why = " ".join(text for _, text in note.forbidden)
    assert "beyond the reach of 4" in why and "isn't learned yet" in why


def test_lists_keep_to_the_measures_asked_for(studio):
    part = open_part(studio, stand_of(studio))
    whole, some = part_lists(SAY, part), part_lists(SAY, part, Span(24, 28))
    assert whole.count == len(part.marked.part.notes) > some.count
    assert {row.kind for row in some.warnings} == {"unplayable", "glissando"}
    assert part_lists(SAY, part, Span(0, 3)).warnings == ()
    inside = {n.index for n in part.marked.part.notes if 24 <= n.measure_index <= 28}
    assert all(inside.issuperset((r.first, r.second)) for r in some.quickest)
    assert all(inside.issuperset(r.numbers) for r in some.unusual)
    speeds = [row.speed_m_s for row in whole.quickest]
    assert speeds == sorted(speeds, reverse=True)


def test_the_route_is_written_once_until_anything_of_it_changes(studio):
    stand_id = stand_of(studio)
    part = open_part(studio, stand_id)
    first = route_text(studio, SAY, part)
    assert json.loads(first) == json.loads(json.dumps(route_json(SAY, part)))
    assert route_text(studio, SAY, open_part(studio, stand_id)) is first
    assert route_text(studio, speech("de"), part) != first
    lock_place(studio, stand_id, NOTE, (), 4)
    after = json.loads(route_text(studio, SAY, open_part(studio, stand_id)))
    assert after["notes"][NOTE]["locked"] and after["can_undo"]
    undo(studio, stand_id)
    assert json.loads(route_text(studio, SAY, open_part(studio, stand_id)))["can_redo"]


def test_the_route_as_json(studio):
    part = open_part(studio, stand_of(studio, reach=6.0))
    told = route_json(SAY, part)
    notes = told["notes"]
    assert [row["i"] for row in notes] == list(range(len(part.marked.part.notes)))
    assert len({row["el"] for row in notes}) == len(notes)
    assert told["horn"]["valves"] == ["F"]
    assert told["horn"]["reach_mm"] == pytest.approx(
        1000 * part.routed.setup.horn.extension_m(6.0), abs=0.01
    )
    at = [row["on_s"] for row in told["played"]]
    assert at == sorted(at)
    for row in notes:
        assert row["playable"] == (row["partial"] is not None) == (row["mark"] != UNPLAYABLE)
    assert {row["kind"] for row in told["warnings"]} == {"unplayable", "glissando"}


def test_engraved_music_has_every_note_and_no_style(studio):
    part = open_part(studio, stand_of(studio))
    for width in ("narrow", "medium", "wide"):
        svg = screen_music(studio, part, width).svg
        assert " style=" not in svg and "<style" not in svg and "<script" not in svg
        assert 'fill="black"' not in svg and 'stroke="black"' not in svg
        ids = set(re.findall(r'id="(hs-n\d+)"', svg))
        assert {row["el"] for row in note_rows(SAY, part)} <= ids
        assert set(re.findall(r'data-note="(hs-n\d+)"', svg)) == {
            row["el"] for row in note_rows(SAY, part) if row["mark"]
        }
    assert screen_music(studio, part, "wide") is screen_music(studio, part, "wide")


def test_music_comes_in_pieces_that_link_to_the_next(studio):
    page = client(studio)
    address = f"/stands/{stand_of(studio)}/music?width=narrow"
    seen, following = [], f"{address}&piece=0"
    while following:
        answer = page.get(following)
        assert answer.headers["Content-Type"].startswith("image/svg+xml")
        seen.append(answer.text)
        again = page.get(following, headers={"If-None-Match": answer.headers["ETag"]})
        assert again.status_code == 304
        following = answer.links.get("next", {}).get("url")
    assert len(seen) > 1
    assert joined(seen) == page.get(address).text
    assert page.get(f"{address}&piece={len(seen)}").status_code == 404


def test_what_falls_unforeseen_is_tried_again(studio, monkeypatch):
    part = open_part(studio, stand_of(studio))
    engraving = screenmusic.engrave_column

    def fall(*_, **__):
        raise ZeroDivisionError
        yield

    monkeypatch.setattr(screenmusic, "engrave_column", fall)
    with pytest.raises(ZeroDivisionError):
        screen_music(studio, part, "wide").piece(0)
    monkeypatch.setattr(screenmusic, "engrave_column", engraving)
    assert screen_music(studio, part, "wide").piece(0).svg.startswith("<svg")


def test_the_music_is_begun_with_the_page_that_will_ask_for_it(studio):
    home, stand_id = client(studio), stand_of(studio)
    page, part = f"/stands/{stand_id}", open_part(studio, stand_id)
    engraved = studio.caches.of(screenmusic._ENGRAVED)

    class NotThere(Exception):
        pass

    def missing():
        raise NotThere

    def begun():
        found = set()
        for width in ("wide", "medium", "narrow"):
            with contextlib.suppress(NotThere):
                engraved.get(screenmusic.music_tag(part, width), missing)
                found.add(width)
        return found

    # Whoever reads the page otherwise, such as a search for links, may never want the music.
    assert home.get(page).status_code == 200 and begun() == set()
    window = {"Sec-Fetch-Dest": "document"}
    home.get(page, headers={**window, "Sec-CH-UA-Mobile": "?1"})
    assert begun() == {"narrow"}
    # From then on in the width that a window has asked for.
    home.get(f"{page}/music?width=medium")
    engraved.forget(screenmusic.music_tag(part, "medium"))
    home.get(page, headers=window)
    assert begun() == {"narrow", "medium"}


def test_a_choice_doesnt_engrave_again(studio):
    stand_id = stand_of(studio)
    before = screen_music(studio, open_part(studio, stand_id), "wide")
    lock_place(studio, stand_id, NOTE, *choices(studio, stand_id)[0])
    assert screen_music(studio, open_part(studio, stand_id), "wide") is before


def test_two_rows_of_marks_dont_meet(studio):
    one, two = (
        open_part(studio, stand_of(studio, name=name, base=base))
        for name, base in (("Ada", "tenor"), ("Ben", "tenor-f"))
    )
    svg = screen_music(studio, one, "wide", two).svg
    row = r'<text class="(mark|mark second)" data-note="(hs-n\d+)" x="\d+" y="(-?\d+)"'
    heights = {}
    for kind, note, y in re.findall(row, svg):
        heights.setdefault(note, {})[kind] = int(y)
    both = [pair for pair in heights.values() if len(pair) == 2]
    assert len(both) > 100
    assert all(pair["mark"] - pair["mark second"] > 350 for pair in both)


# Comparing


def test_comparing_two_horns(studio):
    one, two = (
        open_part(studio, stand_of(studio, name=name, base=base))
        for name, base in (("Ada", "tenor"), ("Ben", "tenor-f"))
    )
    found = compare(SAY, one, two)
    assert found.sums[0].valve_changes == 0 < found.sums[1].valve_changes
    assert found.sums[0].unplayable > found.sums[1].unplayable == 1
    assert found.sums[0].furthest > found.sums[1].furthest - 1
    by_hand = sum(
        abs(b.extension_m - a.extension_m)
        for a, b in zip(one.routed.solution.places, one.routed.solution.places[1:])
    )
    assert found.sums[0].way_m == pytest.approx(by_hand)
    numbers = {row.number for row in found.differences}
    for note in one.marked.part.notes:
        a, b = one.routed.places.get(note.index), two.routed.places.get(note.index)
        same = a is b or (a and b and a.valves == b.valves and abs(a.position - b.position) < 0.1)
        assert (note.index in numbers) != bool(same)
    assert compare(SAY, one, one).differences == ()


def test_other_music_isnt_compared(studio):
    one = open_part(studio, stand_of(studio))
    data = (SCORES / "Slama_01.musicxml").read_bytes()
    two = open_part(studio, stand_of(studio, name="Ben", data=data, file="study.musicxml"))
    with pytest.raises(BadUsage, match="same part"):
        compare(SAY, one, two)


# Files


def test_files_to_take_away(studio):
    stand_id = stand_of(studio, name="Zoë / Grün")
    lock_place(studio, stand_id, NOTE, *choices(studio, stand_id)[0])
    part = open_part(studio, stand_id)
    score = marked_score(studio, part)
    assert score.name == "lanterns-on-the-quay-zoe-grun.musicxml"

    def fingered(data):
        again = read_score(data)
        read = again.read_part()
        return written_fingerings(again, read), len(read.notes)

    written, count = fingered(score.data)
    unplayable = dict.fromkeys(set(range(count)) - part.routed.marks.keys(), UNPLAYABLE)
    assert written == part.routed.marks | unplayable
    # Asked for twice, written once.
    assert marked_score(studio, part).data == score.data
    fewer, _ = fingered(marked_score(studio, part, "new").data)
    assert 0 < len(fewer) < count / 2
    pdf = stand_pdf(SAY, studio, part)
    assert pdf.data.startswith(b"%PDF") and pdf.name.endswith("zoe-grun.pdf")
    with pytest.raises(BadUsage):
        marked_score(studio, part, "some")


def test_names_of_files_are_plain():
    assert plain_name("../../B♭ Étude\r\nNº 3") == "bb-etude-no-3"
    assert plain_name("日本") == "part"


# Pages


def send(page, *files, **fields):
    return page.post("/parts", files=[("files", file) for file in files], data=fields)


def bomb():
    lines = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10))
    return f'<?xml version="1.0"?><!DOCTYPE s [<!ENTITY a0 "ha">{lines}]><s>&a9;</s>'.encode()


def zip_bomb():
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", b"<container/>")
        archive.writestr("score.xml", b"0" * (100 * 2**20))
    return data.getvalue()


def test_several_files_each_with_its_own_result(studio):
    page = client(studio)
    answer = send(
        page,
        ("good.musicxml", LANTERNS),
        ("bomb.musicxml", bomb()),
        ("zip.mxl", zip_bomb()),
        ("large.musicxml", LANTERNS + b" " * STORED_SCORE_BYTES),
        ("cut.musicxml", LANTERNS[:2000]),
        ("notes.txt", b"buy milk"),
        ("../../etc/passwd.mxl", b"PK\x03\x04 no"),
    )
    assert answer.status_code == 200
    told = words(answer)
    for text in ("Added.", "defines entities", "unpacks to more", "too large", "cut off",
                 "notes.txt isn't a score", "passwd.mxl"):  # fmt: skip
        assert text in told, text
    assert "etc/" not in told and "Traceback" not in told
    assert [row.title for row in list_scores(studio)] == ["Lanterns on the Quay"]
    assert send(page, ("cut.musicxml", LANTERNS[:2000])).status_code == 400
    assert page.post("/parts", data={"x": "y"}).status_code == 400


def test_a_script_in_a_title_stays_text(studio):
    evil = "</h1><script>alert(1)</script>&quot;'\""
    page = client(studio)
    send(page, ("<img src=x onerror=alert(1)>.musicxml", titled(evil)))
    row = list_scores(studio)[0]
    stand_id = stand_of(studio, name="<script>alert(2)</script>")
    student = get_stand(studio, stand_id).student_id
    page.post(f"/parts/{row.id}/stands", data={"student": str(student)})
    mine = list_stands(studio, score_id=row.id)[0].id
    for path in ("/parts", f"/parts/{row.id}", f"/parts/{row.id}/delete", f"/stands/{mine}",
                 f"/stands/{mine}/compare?with={mine}", f"/stands/{mine}/notes/3",
                 f"/stands/{mine}/lists"):  # fmt: skip
        answer = page.get(path)
        assert answer.status_code == 200, path
        assert "<script>alert" not in answer.text and "<img src=x" not in answer.text
    name = page.get(f"/stands/{mine}/score").headers["content-disposition"]
    assert re.fullmatch(r'attachment; filename="[a-z0-9-]+\.musicxml"', name)


def test_a_part_is_put_on_stands(studio):
    page = client(studio)
    row = add_score(studio, LANTERNS, "lanterns.musicxml").score
    ids = [get_stand(studio, stand_of(studio, name=n)).student_id for n in ("Ada", "Ben")]
    studio_rows = {r.student_id: r.id for r in list_stands(studio)}
    one = page.post(f"/parts/{row.id}/stands", data={"student": str(ids[0])})
    assert one.headers["location"] == f"/stands/{studio_rows[ids[0]]}"
    both = page.post(f"/parts/{row.id}/stands", data={"student": [str(n) for n in ids]})
    assert both.headers["location"] == f"/parts/{row.id}"
    assert page.post(f"/parts/{row.id}/stands", data={}).status_code == 400
    assert "Ada" in words(page.get(f"/parts?student={ids[0]}"))
    assert page.get("/parts?student=x").status_code == 400
    assert page.get("/parts/999").status_code == 404


def test_choices_over_the_wire(studio):
    page = client(studio, Accept="application/json")
    stand_id = stand_of(studio)
    base = f"/stands/{stand_id}"
    told = page.get(f"{base}/route").json()
    valves, partial = choices(studio, stand_id)[0]
    done = page.post(f"{base}/choose", json={"i": NOTE, "valves": valves, "partial": partial})
    assert done.status_code == 200
    changed = {row["i"]: row for row in done.json()["changed"]}
    assert changed[NOTE]["locked"] and changed[NOTE]["mark"] != told["notes"][NOTE]["mark"]
    assert done.json()["can_undo"] and not done.json()["can_redo"]
    back = page.post(f"{base}/undo", json={}).json()
    assert {row["i"]: row for row in back["changed"]} == {i: told["notes"][i] for i in changed}
    assert page.post(f"{base}/redo", json={}).json()["changed"] == done.json()["changed"]
    page.post(f"{base}/unlock", json={"i": NOTE})
    assert page.get(f"{base}/route").json()["notes"] == told["notes"]
    for bad in ({"i": "3"}, {"i": NOTE, "partial": "4"}, {"i": NOTE, "partial": 4, "valves": "F"},
                [], {"i": True}):  # fmt: skip
        answer = page.post(f"{base}/choose", json=bad)
        assert answer.status_code == 400 and answer.json()["error"], bad
    assert page.post(f"{base}/choose", content=b"{").status_code == 400
    assert page.post("/stands/999/undo", json={}).status_code == 404
    assert page.get(f"{base}/choose").status_code == 405


def test_the_music_is_kept_by_the_browser(studio):
    page = client(studio)
    base = f"/stands/{stand_of(studio)}"
    first = page.get(f"{base}/music?width=narrow")
    assert first.headers["content-type"].startswith("image/svg+xml")
    tag = first.headers["etag"]
    again = page.get(f"{base}/music?width=narrow", headers={"If-None-Match": tag})
    assert (again.status_code, again.content) == (304, b"")
    assert page.get(f"{base}/music?width=wide").headers["etag"] != tag
    assert page.get(f"{base}/music?width=huge").status_code == 400


def test_the_same_part_for_another_student(studio):
    page = client(studio)
    first, second = stand_of(studio, name="Ada"), stand_of(studio, name="Ben", base="tenor")
    stand = get_stand(studio, second)
    to = f"{stand.student_id}/{stand.horn_id}"
    assert page.post(f"/stands/{first}/switch", data={"to": to}).headers["location"] == (
        f"/stands/{second}"
    )
    answer = page.post(f"/stands/{first}/compare", data={"to": to})
    assert answer.headers["location"] == f"/stands/{first}/compare?with={second}"
    told = words(page.get(answer.headers["location"]))
    assert "Slide travel in all" in told and "notes lie elsewhere" in told
    assert page.post(f"/stands/{first}/switch", data={}).status_code == 400


def test_a_part_is_not_compared_with_itself(studio):
    page = client(studio)
    first = stand_of(studio, name="Ada")
    own = get_stand(studio, first)
    value = f"{own.student_id}/{own.horn_id}"
    alone = page.get(f"/stands/{first}/compare")
    assert "There is nobody else" in words(alone) and "<select" not in alone.text
    second = stand_of(studio, name="Ben", base="tenor")
    other = get_stand(studio, second)
    offered = page.get(f"/stands/{first}/compare").text
    assert f'value="{other.student_id}/{other.horn_id}"' in offered
    assert f'value="{value}"' not in offered
    # By its address: nobody is chosen yet.
    page.post(f"/stands/{first}/compare", data={"to": value})
    itself = words(page.get(f"/stands/{first}/compare?with={first}"))
    assert "Choose with whom" in itself and "Slide travel in all" not in itself
    assert page.get(f"/stands/{first}/compare/music?with={first}").status_code == 400


@pytest.mark.parametrize("language", ["en", "de", "es"])
def test_pages_in_each_language(studio, language):
    page = client(studio, **{"Accept-Language": language})
    stand_id = stand_of(studio, reach=5.0)
    for path in ("", "/lists", "/compare", f"/compare?with={stand_id}"):
        assert page.get(f"/stands/{stand_id}{path}").status_code == 200
    for note in range(0, 125, 5):
        assert page.get(f"/stands/{stand_id}/notes/{note}").status_code == 200
    lock_here(studio, stand_id, NOTE)
    assert page.get(f"/stands/{stand_id}").status_code == 200


def test_settings_of_a_stand(studio):
    page = client(studio)
    stand_id = stand_of(studio)
    values = {"reading": "P1/1", "tempo": "62,5", "small_notes": "1"}
    assert page.post(f"/stands/{stand_id}/settings", data=values).status_code == 303
    stand = get_stand(studio, stand_id)
    assert (stand.part, stand.voice, stand.tempo_qpm, stand.small_notes) == ("P1", "1", 62.5, True)
    for tempo in ("fast", "nan", "1e9", ""):
        answer = page.post(f"/stands/{stand_id}/settings", data={**values, "tempo": tempo})
        assert answer.status_code == 400
    assert page.post(f"/stands/{stand_id}/off").status_code == 303
    assert page.get(f"/stands/{stand_id}").status_code == 404


def test_what_stands_over_a_note_is_kept(studio):
    free = open_part(studio, stand_of(studio))
    rival = note_words(SAY, studio, free, NOTE).places[1]
    score = read_score(LANTERNS)
    read = score.read_part()
    write_marks(score, read, {NOTE: rival.mark.replace("T", "F")})
    data = re.sub(rb"<\?handslide[^?]*\?>", b"", score.to_bytes())
    stand_id = stand_of(studio, name="Kim", data=data, file="kept.musicxml")
    part = open_part(studio, stand_id)
    assert part.routed.marks[NOTE] == rival.mark and not part.locks
    told = note_words(SAY, studio, part, NOTE)
    assert [place.worse_by for place in told.places] == pytest.approx(
        [place.worse_by for place in note_words(SAY, studio, free, NOTE).places]
    )
    file = marked_score(studio, part)
    assert file.data.count(b"<fingering") == len(part.marked.part.notes)
    assert svg_marks(screen_music(studio, part, "wide").svg) == len(part.marked.part.notes)
    # The teacher's own choice goes before what stood there.
    lock_place(studio, stand_id, NOTE, *choices(studio, stand_id)[0])
    part = open_part(studio, stand_id)
    assert part.routed.marks[NOTE] != rival.mark
    again = read_score(marked_score(studio, part).data)
    assert written_fingerings(again, again.read_part())[NOTE] == part.routed.marks[NOTE]


def svg_marks(svg):
    return len(re.findall(r'<text class="mark" data-note', svg))


def test_measures_are_named_uniquely_across_movements(studio):
    """Galliard's first sonata: five movements, each counted from 1."""
    data = (SCORES / "Galliard_Sonata1.musicxml").read_bytes()
    first = stand_of(studio, data=data, file="galliard.musicxml")
    page, part = client(studio), open_part(studio, first)
    bo = get_stand(studio, stand_of(studio, name="Bo", base="tenor")).student_id
    second = open_stand(studio, bo, part.score.id)
    rows = note_rows(SAY, part)
    of_measure = {}
    for row in rows:
        of_measure.setdefault(row["measure"], set()).add(row["mi"])
    assert all(len(indices) == 1 for indices in of_measure.values())
    last = rows[-1]
    assert last["measure"].startswith("V: ")
    panel = words(page.get(f"/stands/{first}/notes/{last['i']}"))
    assert f"measure {last['measure']}, note" in panel
    for path in (f"/stands/{first}", f"/stands/{first}/playalong"):
        assert f">{last['measure']}</option>" in page.get(path).text
    compared = page.get(f"/stands/{first}/compare?with={second}")
    assert compared.status_code == 200
    assert re.search(r"\(measure [IV]+: \d+\)", words(compared))


def test_a_stand_asks_how_a_brass_band_part_sounds(studio):
    stand_id = stand_of(studio, data=band(), file="band.musicxml")
    page = client(studio)
    asked = page.get(f"/stands/{stand_id}").text
    assert "It sounds a major ninth lower" in asked
    assert note_rows(SAY, open_part(studio, stand_id))[0]["name"] == "C5"
    lock_here(studio, stand_id, 0)
    answer = page.post(f"/stands/{stand_id}/sounds", data={"sounds": "Bb-treble"})
    assert answer.status_code == 303
    part = open_part(studio, stand_id)
    assert (note_rows(SAY, part)[0]["name"], part.stand.sounds) == ("B♭3", "Bb-treble")
    assert dict(part.locks) == {}
    assert "It sounds" not in page.get(f"/stands/{stand_id}").text
    # The marked score keeps its written notes, and the marks are those of what sounds.
    over = read_score(marked_score(studio, part).data).read_part()
    assert [note.written.name for note in over.notes][:2] == ["C5", "D5"]
    # Another player reads the part in the same way; a bad choice is one sentence.
    other = get_stand(studio, stand_of(studio, name="Bo"))
    there = page.post(f"/stands/{stand_id}/switch", data={"to": f"{other.student_id}/"})
    moved = int(there.headers["location"].rpartition("/")[2])
    assert get_stand(studio, moved).sounds == "Bb-treble"
    assert page.get(f"/stands/{stand_id}/compare?with={moved}").status_code == 200
    assert page.post(f"/stands/{moved}/sounds", data={"sounds": "loud"}).status_code == 400
    page.post(f"/stands/{moved}/sounds", data={"sounds": "as-written"})
    refused = page.get(f"/stands/{stand_id}/compare?with={moved}")
    assert "Only what sounds alike can be compared" in words(refused)


def test_what_cant_be_played_has_its_sign_on_the_screen(studio):
    data = xml.score(xml.part(xml.notes("F3 C2 D2 F3")))
    stand_id = stand_of(studio, base="tenor", data=data, file="low.musicxml")
    part = open_part(studio, stand_id)
    rows = note_rows(SAY, part)
    assert [row["mark"] for row in rows if not row["playable"]] == [UNPLAYABLE] * 2
    svg = screen_music(studio, part, "wide").svg
    assert svg.count(f">{UNPLAYABLE}</text>") == 2
    page = client(studio)
    assert UNPLAYABLE in page.get(f"/stands/{stand_id}/notes/1").text
    lists = page.get(f"/stands/{stand_id}/lists").text
    assert f'<dt class="mark">{UNPLAYABLE}</dt>' in lists


def test_what_is_true_of_many_notes_is_told_once(studio):
    high = band().replace(b"<step>G</step><octave>4", b"<step>G</step><octave>5")
    measures = high.count(b"<octave>5</octave>")
    part = open_part(studio, stand_of(studio, base="tenor", data=high, file="band.musicxml"))
    assert measures == 4
    high_note, question = part_lists(SAY, part).warnings
    assert (question.kind, question.measures) == ("transpose", ())
    assert (high_note.kind, high_note.measures) == ("unplayable", (("1", 3),))
    assert high_note.text.startswith("G5 can't be played")
