"""Hand-outs as files: nothing leads out of them, and what plays in them is as the score says."""

import base64
import hashlib
import json
import re
from html import escape
from itertools import pairwise
from pathlib import Path

import pytest
from command import run
from lxml import etree

from handslide.edges.engraving.engrave import engrave_column, notes_in
from handslide.edges.engraving.screen import WIDTHS_MM, for_screen, screen_paper
from handslide.edges.engraving.shapes import SVG
from handslide.edges.htmlfile.drawing import systems_of
from handslide.edges.htmlfile.scripts import NotJoined, join_module, joined_scripts
from handslide.edges.musicxml.read import open_score, read_score
from handslide.ground.errors import BadUsage
from handslide.jobs.handout.exercises import drill_handout, routine_handout
from handslide.jobs.handout.handout import HandoutWishes, make_handout
from handslide.jobs.handout.lesson import lesson_handout
from handslide.jobs.handout.played import perform
from handslide.jobs.mark.mark import MarkOptions, choose_for
from handslide.jobs.practice.drill import DrillWishes, make_drill
from handslide.jobs.practice.lesson import LessonWishes, make_lesson
from handslide.jobs.practice.playalong import make_playalong
from handslide.jobs.practice.routine import Asked, make_week
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.jobs.setup import make_setup
from handslide.words.handout import TEXTS
from handslide.words.practice import WHOLE_PART
from handslide.words.speech import speech

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "src" / "handslide" / "data" / "example"
SCRIPTS = ROOT / "src" / "handslide" / "data" / "scripts"
SCORES = [
    EXAMPLES / "lanterns.musicxml",
    ROOT / "tests" / "scores" / "Bordogni_Vocalise_01_PD.musicxml",
    ROOT / "tests" / "scores" / "Slama_01.musicxml",
]


@pytest.fixture(scope="module")
def page():
    wishes = HandoutWishes(MarkOptions(student="<b>Mara</b> & Co"), measures="1-4")
    made = make_handout(SCORES[0], make_setup("tenor-f"), wishes, speech("de"))
    return made.data.decode()


def handed(html, name):
    return json.loads(
        re.search(rf'<script type="application/json" id="{name}">(.*?)</script>', html)[1]
    )


def test_modules_are_joined_in_the_order_of_their_imports():
    joined = joined_scripts("handout")
    order = re.findall(r"^const \$(\w+) = \(\(\) => \{$", joined, re.M)
    assert order[-1] == "handout" and len(order) == len(set(order)) > 8
    for before, after in (("words", "slide"), ("motion", "player"), ("music", "blockmusic")):
        assert order.index(before) < order.index(after)
    assert not re.search(r"^\s*(import|export)\b|/static/|\./\w+\.js", joined, re.M)


@pytest.mark.parametrize(
    "source",
    [
        'import thing from "./thing.js";', 'import "./thing.js";',
        'import * as all from "./thing.js";', "export default 3;", "export { a };",
        "export let a = 1;", 'const a = await import("./a.js");',
        "const a = import.meta.url;",
        "await go();", 'const a = "</script>";', 'import { a } from "/static/a.js";',
    ],
)  # fmt: skip
def test_what_cant_be_joined_is_refused(source):
    with pytest.raises(NotJoined):
        join_module("a", f"const b = 1;\n{source}\n")


def test_a_module_gives_what_it_exports():
    made = join_module(
        "a",
        'import { b as c, d } from "./e.js";\n// Said.\nexport const f = c;\n'
        "/**\n * @param g\n */\nexport async function g() {}\nexport class H {}\n"
        "/** @type {I} */ (f).j = 1;\n/** Done. */\n",
    )
    assert made.splitlines() == [
        "const $a = (() => {", "const { b: c, d } = $e;", "const f = c;", "async function g() {}",
        "class H {}", "/** @type {I} */ (f).j = 1;", "return { f, g, H };", "})();",
    ]  # fmt: skip


def test_nothing_leads_out_and_only_its_own_script_and_style_are_allowed(page):
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)[1]
    assert policy.startswith("default-src 'none'; ")
    assert "unsafe" not in policy and "http" not in policy and "connect-src" not in policy
    for kind in ("script", "style"):
        (text,) = re.findall(rf"<{kind}>(.*?)</{kind}>", page, re.S)
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{kind}-src 'sha256-{digest}'" in policy
    without = re.sub(r"<script>.*?</script>|<pre>.*?</pre>", "", page, flags=re.S)
    assert re.findall(r'\b(?:href|src|action)="(?!#|data:)[^"]*"', without) == []
    assert re.findall(r"url\((?!data:)", without) == []
    assert "<a " not in page and "@import" not in page
    assert set(re.findall(r"https?://[^\"<>\s]*", without)) <= {"http://www.w3.org/2000/svg"}


def test_what_others_wrote_is_text(page):
    assert "<b>Mara" not in page
    assert "für &lt;b&gt;Mara&lt;/b&gt; &amp; Co" in page
    assert '<html lang="de" data-theme="auto" data-size="usual" data-decimal=",">' in page
    assert "Takte 1 bis 4" in page or "Takte 1–4" in page


def test_the_licences_go_along_with_the_fonts(page):
    families = set(re.findall(r'@font-face\{font-family:"([^"]*)"', page))
    assert {"Hyperlegible", "Handslide Marks", "Libertinus Serif"} <= families
    assert page.count("SIL OPEN FONT LICENSE") >= 2


def test_only_the_measures_asked_for_are_there(page):
    data = handed(page, "part-data")
    marked = choose_for(open_score(SCORES[0]), make_setup("tenor-f"), MarkOptions())
    inside = [note for note in marked.part.notes if note.measure_index < 4]
    assert len(data["notes"]) == len(data["played"]) == len(inside)
    for (_, measure, midi, place, _), note in zip(data["notes"], inside):
        assert (measure, midi) == (note.measure_index, note.sounding.midi)
        expected = 1000 * marked.routed.places[note.index].extension_m
        assert data["places"][place]["extension_mm"] == pytest.approx(expected, abs=0.005)
    assert page.count('class="note"') == len(inside)


@pytest.mark.parametrize("path", SCORES, ids=lambda path: path.stem)
def test_it_plays_when_a_play_along_does(path):
    score, setup = open_score(path), make_setup("tenor-f")
    marked = choose_for(score, setup, MarkOptions())
    wishes = PlayWishes(count_in=0, life=False, room=False)
    speed = 0.8
    played = perform(score, marked.part, marked.routed, wishes, speed)
    theirs = make_playalong(
        open_score(path), PlayWishes(count_in=0, life=False, room=False, speed_percent=100 * speed)
    )
    assert [row[0] for row in played.rows] == [note.index for note in theirs.notes]
    for row, note in zip(played.rows, theirs.notes):
        assert row[1] == pytest.approx(note.onset_s - theirs.begins_s, abs=1e-4)
        assert row[2] == pytest.approx(note.length_s, abs=1e-4)
    clicks = [(one.at_s, one.kind == "first") for one in theirs.clicks]
    assert len(clicks) == len(played.beats)
    for (at_s, strong), (second, first) in zip(played.beats, clicks):
        assert at_s == pytest.approx(second, abs=1e-4) and strong == first
    assert sum(len(rows) for _, _, rows in played.others) == theirs.other_notes


def test_every_text_of_the_script_is_used():
    scripts = "\n".join(path.read_text(encoding="utf-8") for path in SCRIPTS.glob("*.js"))
    kinds = {"said", "auto", "light", "dark", "loud", "quiet", "off"}  # keys made up as it runs
    left = [
        key for key in TEXTS if key.partition(".")[0] not in kinds and f"texts.{key}" not in scripts
    ]
    assert left == []


def blocks_of(html):
    return re.findall(r'<section class="block" id="(\w+)" data-kind="(\w+)"', html)


def test_an_exercise_over_a_drone_and_a_duet_are_parts_that_play():
    setup, say = make_setup("tenor-f"), speech()
    sheet = make_drill(setup, "intonation", DrillWishes(pieces=1))
    made = drill_handout(sheet, HandoutWishes(), say)
    html = made.data.decode()
    assert blocks_of(html) == [("x1", "part")] and "data-tick" not in html.partition("<script")[0]
    data, piece = handed(html, "x1-data"), sheet.pieces[0]
    assert data["drone"] == {"midi": piece.piece.drone.midi, "name": say.note(piece.piece.drone)}
    assert [row[2] for row in data["notes"]] == [
        note.sounding.midi for note in piece.marked.part.notes
    ]
    assert data["tempo_qpm"] == piece.piece.tempo_qpm
    for text in (sheet.title(say), piece.title(say), *map(say.fact, piece.piece.instruction)):
        assert escape(text) in html
    duet = make_drill(setup, "duets", DrillWishes(pieces=1))
    (block,) = drill_handout(duet, HandoutWishes(), say).blocks
    (second,) = json.loads(block.html.packed["others"])
    struck = [note.sounding.midi for note in duet.pieces[0].teacher.part.notes]
    assert [row[0] for row in second["rows"]] == struck


def test_a_duet_has_both_staves_and_the_students_alone_in_each_width():
    setup, say = make_setup("tenor-f"), speech()
    sheet = make_drill(setup, "duets", DrillWishes(pieces=1))
    (one,) = sheet.pieces
    own, theirs = len(one.marked.shown), len(one.teacher.shown)
    (block,) = drill_handout(sheet, HandoutWishes(), say).blocks
    packed, shown = block.html.packed, "".join(block.html.drawings)
    assert block.html.data["paired"] is True
    for drawn in (shown, packed["narrow"], packed["medium"], packed["line"]):
        assert drawn.count('class="mark theirs"') == theirs
        assert drawn.count('class="mark"') == own
        # What a script takes for a note is the student's.
        notes = set(re.findall(r'<g id="hs-n(\d+)"[^>]*class="note"', drawn))
        assert notes <= {str(n) for n in range(notes_in(score_of(one, say), "P1"))}
        assert set(map(str, one.marked.part.ordinals)) <= notes
        assert "Student" in drawn and "Teacher" in drawn
    for width in ("own-narrow", "own-medium", "own-wide", "own-line"):
        assert packed[width].count('class="mark"') == own and "theirs" not in packed[width]
    # Who leaves the other part out has one staff.
    (alone,) = drill_handout(sheet, HandoutWishes(others=False), say).blocks
    assert "paired" not in alone.html.data and "own-wide" not in alone.html.packed
    assert "theirs" not in "".join((*alone.html.drawings, *alone.html.packed.values()))


def score_of(one, say):
    """A piece of a sheet as it is engraved."""
    return read_score(one.scored(say))


def test_a_routine_has_the_boxes_of_its_sheet_and_keeps_its_name():
    setup, say = make_setup("tenor-f"), speech("de")
    week = make_week(setup, Asked(minutes=10))
    html = routine_handout(week, HandoutWishes(), say).data.decode()
    entries = list(week.entries(say))
    assert [kind for _, kind in blocks_of(html)] == [
        "words" if entry.row is None else "part" for entry in entries
    ]
    sections = html.split('<section class="block"')[1:]
    for section, entry in zip(sections, entries):
        assert escape(entry.told.title) in section and escape(entry.told.instruction) in section
        boxes = re.findall(r'data-tick="(d\d)" autocomplete="off"><span>([^<]*)<', section)
        days = [(f"d{at}", day) for at, day in enumerate(entry.told.days) if day]
        assert boxes == days
    name = re.search(r'data-page="([^"]*)"', html)[1]
    english = routine_handout(make_week(setup, Asked(minutes=10)), HandoutWishes(), speech())
    assert f'data-page="{name}"' in english.data.decode()
    day = routine_handout(make_week(setup, Asked(minutes=10, day=2)), HandoutWishes(), say)
    assert set(re.findall(r'data-tick="(\w+)"', day.data.decode())) == {"d2"}


def test_a_lesson_is_all_of_its_sheet_and_the_part():
    setup, say = make_setup("tenor-f"), speech()
    lesson = make_lesson(open_score(SCORES[0]), setup, LessonWishes(drills=("slurs",)))
    html = lesson_handout(lesson, HandoutWishes(), say).data.decode()
    numbers = re.findall(r'<span class="number">([^<]*)<', html)
    count = len(lesson.warmup) + len(lesson.week) + len(lesson.excerpts) + len(lesson.beyond)
    assert [one for one in numbers if one.isdigit()] == [str(n + 1) for n in range(count)]
    assert sum("." in one for one in numbers) == sum(map(len, lesson.ladders.values())) > 0
    assert any(one.endswith("*") for one in numbers) == bool(lesson._shown_ossias)
    spot = lesson.excerpts[0]
    goal, steps = lesson.tempos(spot)
    found = re.findall(r'data-tick="t(\d+)"[^>]*><button type="button" data-rate="([^"]*)"', html)
    assert [int(one) for one, _ in found[: len(steps)]] == list(steps)
    for (_one, rate), step in zip(found, steps):
        assert float(rate) == pytest.approx(min(1.0, step / goal), rel=1e-4)
    whole = handed(html, f"x{len(blocks_of(html))}-data")
    assert len(whole["notes"]) == len(lesson.marked.part.notes)
    heading = re.findall(r"<h2>([^<]*)<", html)[-1]
    assert heading == escape(say(WHOLE_PART, title=lesson.marked.title))


def test_a_tempo_or_a_measure_that_cant_be_is_refused():
    setup, say = make_setup("tenor"), speech()
    with pytest.raises(BadUsage, match="tempo"):
        make_handout(SCORES[0], setup, HandoutWishes(tempo_qpm=5000.0), say)
    with pytest.raises(BadUsage, match="measure"):
        make_handout(SCORES[0], setup, HandoutWishes(measures="900-901"), say)


@pytest.mark.parametrize(
    "asked", [("drill", "slurs", "--exercises", "1"), ("routine",), ("lesson",)]
)
def test_sheets_have_a_hand_out_beside_them(asked, tmp_path):
    command, *more = asked
    target = tmp_path / "sheet.pdf"
    if command == "drill":
        ends, page = ("-o", tmp_path, "--no-pdf"), tmp_path / "slurs.html"
    else:
        ends, page = ("-o", target), target.with_suffix(".html")
    score = [SCORES[0]] if command == "lesson" else []
    small = {"routine": ["--minutes", "10"], "lesson": ["--drill", "slurs", "--ladders", "0"]}
    page.write_text("mine")
    line = (command, *score, *more, *small.get(command, []), *ends, "--handout", "--json")
    assert page.name in run(*line, code=1).stderr and page.read_text() == "mine"
    told = json.loads(run(*line, "--force").stdout)
    assert told["files"][-1] == str(page)
    assert page.read_bytes().startswith(b"<!doctype html>")


def test_the_command_writes_one_file(tmp_path):
    target = tmp_path / "page.html"
    done = run("handout", SCORES[0], "-o", target, "--measures", "1-2", "--json", "--large")
    told = json.loads(done.stdout)
    data = target.read_bytes()
    assert told["files"] == [str(target)] and told["bytes"] == len(data)
    assert told["blocks"][0] | {"length_s": 0} == {
        "kind": "part", "name": "part", "notes": 7, "length_s": 0,
    }  # fmt: skip
    assert b'data-size="large"' in data
    assert "exists" in run("handout", SCORES[0], "-o", target, code=1).stderr
    assert "page.pdf" in run("handout", SCORES[0], "-o", tmp_path / "page.pdf", code=2).stderr


def test_the_drawing_in_it_is_the_engraver_s():
    score = open_score(SCORES[0])
    part = score.read_part()
    pieces = [
        for_screen(piece.svg)
        for piece in engrave_column(score, part.part_id, {}, screen_paper(WIDTHS_MM["wide"]))
    ]
    drawn = systems_of(pieces)
    whole = [etree.fromstring(piece.encode()) for piece in pieces]
    ours = [etree.fromstring(system.encode()) for system in drawn.systems]
    assert sum(map(len, drawn.systems)) < 0.8 * sum(map(len, pieces))

    kinds = ("path", "use", "text", "rect", "ellipse", "polygon", "polyline")

    def ink(roots):
        return sorted(
            f"{kind} {element.get('d')} {element.get('transform')} "
            + " ".join("".join(element.itertext()).split())
            for root in roots
            for kind in kinds
            for element in root.iter(f"{SVG}{kind}")
            if not any(above.tag == f"{SVG}defs" for above in element.iterancestors())
        )

    assert ink(ours) == ink(whole)
    used = {use.get("href") for root in ours for use in root.iter(f"{SVG}use")}
    assert used <= {f"#{name}" for name in drawn.glyphs}
    # They stand below each other as the whole did.
    boxes = [[float(number) for number in root.get("viewBox").split()] for root in ours]
    for (_, top, _, height), (_, below, _, _) in pairwise(boxes):
        assert top + height == below
