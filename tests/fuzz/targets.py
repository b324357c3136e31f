"""What comes in from outside, each with examples, mutations and what is done with it.

A case may end well or with an error of ours; anything else is found.
"""

import io
import json
import re
import sqlite3
import tempfile
import zipfile
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import mutate
import pdf_build
import pikepdf
from musicxml_build import note, part, score
from pikepdf import Array, Dictionary, Name

from handslide.edges.leash.leash import Fallen
from handslide.ground.errors import HandslideError
from handslide.words.speech import speech

TESTS = Path(__file__).resolve().parents[1]
EXAMPLES = TESTS.parent / "src" / "handslide" / "data" / "example"


@dataclass(frozen=True)
class Target:
    """``seeds`` gives examples; ``change`` (chance, example, all) a new input; ``run`` takes it.

    ``cases`` are those of the short run.
    """

    seeds: Callable[[], Sequence[bytes]]
    change: Callable[..., bytes]
    run: Callable[[bytes], None]
    cases: int

    def case(self, chance):
        """A new input."""
        seeds = self.seeds()
        return self.change(chance, chance.choice(seeds), seeds)

    def __call__(self, data):
        """Take an input in; errors of ours are told, as a person would be.

        The answer is why a library on a leash fell, or None. Raises `Raised` where it was an
        exception that nobody foresaw.
        """
        try:
            self.run(data)
        except HandslideError as error:
            said = speech("en").fact(error)
            assert said and len(said) < 20_000
            fallen = error.__cause__
            if isinstance(fallen, Fallen):
                if fallen.why == "raised":
                    raise Raised(fallen.detail) from error
                return fallen.why
        return None


class Raised(Exception):
    """What was raised in a child process; ``place`` is its last line, and that of ours before."""

    def __init__(self, detail):
        super().__init__(detail)
        lines = re.findall(r'File "[^"]*?([^"/]+/[^"/]+)", line (\d+)', detail)
        own = re.findall(r'File "[^"]*handslide/([^"]+)", line (\d+)', detail)
        what = detail.strip().rpartition("\n")[2].partition(":")[0]
        self.place = f"{what} {(own or lines or ['?'])[-1]}"


# Scores.


@cache
def scores():
    made = [score(part(note() * 4))]
    return [*made, *(path.read_bytes() for path in sorted(EXAMPLES.glob("*.musicxml")))]


def read_and_mark(data, name="x.musicxml"):
    from handslide.edges.musicxml.marks import write_marks
    from handslide.edges.musicxml.read import read_score
    from handslide.edges.musicxml.transpose import transpose_part
    from handslide.ground.intervals import parse_interval

    read = read_score(data, name)
    for each in read.parts:
        try:
            found = read.read_part(each.part_id)
        except HandslideError:
            continue
        found.played  # noqa: B018 (worked out when it is asked for)
        moved = read.copy()
        transpose_part(moved, each.part_id, parse_interval("-M2"), {})
        moved.to_bytes()
        write_marks(read, found, dict.fromkeys(range(len(found.notes)), "1"))
        again = read_score(read.to_bytes(), name)
        assert len(again.read_part(each.part_id).notes) == len(found.notes)


def route_and_engrave(data):
    from handslide.edges.musicxml.read import read_score
    from handslide.jobs.mark.mark import MarkOptions, choose_for
    from handslide.jobs.setup import make_setup

    marked = choose_for(read_score(data, "x.musicxml"), make_setup("tenor-f"), MarkOptions())
    marked.pdf(speech("en"))


@cache
def compressed_scores():
    made = []
    for data in scores():
        file = io.BytesIO()
        container = (
            b'<?xml version="1.0"?><container><rootfiles><rootfile full-path="score.xml"/>'
            b"</rootfiles></container>"
        )
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("META-INF/container.xml", container)
            archive.writestr("score.xml", data)
        made.append(file.getvalue())
    return made


def change_mxl(chance, data, others):
    def change(chance, name, content):
        return mutate.xml(chance, content)

    return mutate.zipped(chance, data, change, others)


# Scores in other formats.

_ABC = (
    b"X:1\nT:Scale\nC:Anon\nM:4/4\nL:1/4\nQ:1/4=90\nK:Bb clef=bass\n"
    b"B,,C,D,E,|(F,G,) A,/2>B,/2 z|[B,,D,]2 (3CDE |1 F,4:|2 B,,4|]\n"
)


@cache
def other_scores():
    folder = TESTS / "scores"
    mei = (folder / "MEI_5_Hopkins_GatherRoundTheChristmasTree.mei").read_bytes()
    short = mei[: mei.index(b"</measure>") + 10] + b"</section></score></mdiv></body></music></mei>"
    midi = [path.read_bytes() for path in sorted(folder.glob("*.mid"))]
    return [_ABC, _ABC, short, *midi, *(path.read_bytes() for path in folder.glob("*.krn"))]


def change_other(chance, data, others):
    if data.startswith(b"MThd"):
        return mutate.bytes_of(chance, data, others)
    return (mutate.xml if data.startswith(b"<") else mutate.text)(chance, data, others)


def read_other(data):
    from handslide.edges.musicxml.read import read_score
    from handslide.edges.otherscores.read import to_musicxml

    name = "x.abc" if data.startswith(b"X") else "x.mei" if data.startswith(b"<") else "x.krn"
    read = read_score(to_musicxml(data, name), "x.musicxml")
    read.read_part(read.parts[0].part_id)


# Typed files.

_HORN = b"""title = "Mine"
closed = "Bb1"
travel_mm = 674
lip_up_cents = 20
temp_c = 25
speed_scale = 1.0
uncertainty_at_mm = [0, 300, 600]
[[valves]]
name = "F"
closed = "F1"
[[deviations]]
partial = 5
valves = ["F"]
cents = -14
slope_cents_per_m = 3
[[uncertainties]]
valves = []
half_width_mm = [1, 2, 3]
"""
_PROFILE = b"valve = 0.5\nalternate = 2\n[partials]\n7 = 3\n"
_LEARNT = b"""title = "Mira"
began_from = "by-horn"
[factors]
turn_per_m = 0.5
[factors.partials]
7 = 2.0
[factors_on."Bb+0"]
seek = 4
"""
_ROWS = (
    b"note,hz,cents,valves,partial,extension_mm,se_cents\nBb2,116.2,,F,2,0,1\nF3,,-3,,3,12.5,2\n"
)
_ROSTER = (
    b"student;horn;reach;clef;names;valves;sheet;a4_hz\nMira;tenor-f;6;tenor;german;F;all;442\n"
)
_ROSTER_TOML = b'reach = 6\n[[student]]\nstudent = "Mira"\nhorn = "tenor-f"\nvalves = ["F"]\n'
_ROWS_TOML = b'[[row]]\nnote = "Bb2"\nhz = 116.2\nvalves = ["F"]\npartial = 2\n'


def typed_files():
    return [_HORN, _PROFILE, _LEARNT, _ROWS, _ROSTER, _ROSTER_TOML, _ROWS_TOML]


def read_typed(data):
    from anyhorn import load_profile

    from handslide.edges.files.horns import load_horn
    from handslide.edges.files.roster import read_roster
    from handslide.edges.files.rows import read_plan, read_rows

    for name in ("x.toml", "x.csv"):
        path = _folder() / name
        path.write_bytes(data)
        for read in (
            lambda path: load_horn(str(path)),
            lambda path: load_profile(str(path)),
            lambda path: read_roster(path, ("all", "grid")),
            read_rows,
            read_plan,
        ):
            try:
                read(path)
            except HandslideError as error:
                assert speech("en").fact(error)


@cache
def _folder():
    return Path(tempfile.mkdtemp(prefix="handslide-fuzz-"))


# Sound.


@cache
def sounds():
    import numpy as np
    import soundfile

    made = []
    tone = (0.3 * np.sin(np.arange(4000) / 10.0)).astype(np.float32)
    for form, kind in (("WAV", "PCM_16"), ("WAV", "FLOAT"), ("FLAC", "PCM_16"), ("AIFF", "PCM_24"),
                       ("OGG", "VORBIS")):  # fmt: skip
        file = io.BytesIO()
        soundfile.write(file, tone, 8000, format=form, subtype=kind)
        made.append(file.getvalue())
    return made


def read_sound(data):
    from handslide.edges.audio.read import open_take

    for _ in open_take(io.BytesIO(data), "x").blocks():
        pass


# Archives of a studio.


@cache
def _studio():
    from studio_versions import fill

    from handslide.studio.care.archive import export_archive
    from handslide.studio.studio import open_studio

    studio = open_studio(Path(tempfile.mkdtemp(prefix="handslide-fuzz-")))
    fill(studio)
    file = io.BytesIO()
    export_archive(studio, file, speech("en"))
    return SimpleNamespace(studio=studio, archive=file.getvalue())


def archives():
    return [_studio().archive]


def change_archive(chance, data, others):
    def change(chance, name, content):
        if name == "archive.json":
            return json.dumps(mutate.values(chance, json.loads(content))).encode()
        return _changed_rows(chance, content) if name == "studio.db" else content

    return mutate.zipped(chance, data, change, others)


def _changed_rows(chance, content):
    if chance.random() < 0.2:
        return mutate.bytes_of(chance, content)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "x.db")
        path.write_bytes(content)
        with closing(sqlite3.connect(path)) as db:
            tables = [row[0] for row in db.execute(
                "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")]  # fmt: skip
            for _ in range(chance.randint(1, 2)):
                table = chance.choice(tables)
                column = chance.choice(
                    [row[1] for row in db.execute(f'PRAGMA table_info("{table}")')]
                )
                value = chance.choice((*mutate.TEXTS, 0, -1, 2**60, 1e300, float("inf"), None,
                                       *mutate.NUMBERS, "[]", "{}", "[1]", '["F"]'))  # fmt: skip
                held = db.execute(f'SELECT "{column}" FROM "{table}"').fetchone()
                if held and isinstance(held[0], str) and held[0][:1] in "[{":
                    value = json.dumps(mutate.values(chance, json.loads(held[0])))
                try:
                    db.execute(f'UPDATE "{table}" SET "{column}" = ?', (value,))
                    db.commit()
                except (sqlite3.Error, UnicodeError):
                    db.rollback()
        return path.read_bytes()


@cache
def _guest():
    from studio_pages import client

    from handslide.studio.studio import open_studio

    studio = open_studio(Path(tempfile.mkdtemp(prefix="handslide-fuzz-")))
    return SimpleNamespace(studio=studio, home=client(studio).__enter__())


def import_archive(data):
    """What passes the check must show on all pages."""
    from handslide.studio.care.archiveimport import _database, read_archive

    guest = _guest()
    found = read_archive(guest.studio, io.BytesIO(data))
    with closing(sqlite3.connect(_database(guest.studio, found.token))) as source:
        guest.studio.store.replace_with(source)
    guest.studio.caches.empty()
    for path in ("/", "/students/1", "/stands/1", "/takes/1", "/parts", "/takes", "/data",
                 "/horns/1", "/students/1/progress", "/charts?student=1"):  # fmt: skip
        answer = guest.home.get(path)
        assert answer.status_code < 500, (path, answer.text[:500])


# Reports.


@cache
def reports():
    import gzip

    from studio_versions import small_report

    packed = (EXAMPLES / "studio.json.gz").read_bytes()
    taken = [
        take["report"] | {"notes": take["report"]["notes"][:6]}
        for one in json.loads(gzip.decompress(packed))["students"]
        for take in one["takes"]
    ][:3]
    groups = {"groups": [{"valves": [], "partial": 4, "midi": 58, "notes": 5, "slide_mm": 2.0,
                          "cents": {"value": 3.0}, "right": {"value": 0.5}}]}  # fmt: skip
    heard = {"notes": [{"midi": 58, "cents": 12.0}, {"midi": 60, "cents": -30.0}]}
    return [json.dumps(one).encode() for one in (small_report("x"), *taken, groups, heard)]


def change_json(chance, data, others):
    if chance.random() < 0.1:
        return mutate.bytes_of(chance, data, others)
    value = json.loads(data)
    for _ in range(chance.randint(1, 3)):
        value = mutate.values(chance, value)
    return json.dumps(value).encode()


def example_files():
    from learnt_examples import EXAMPLES as LEARNT_FROM

    from handslide.edges.files.examples import examples_json

    return [examples_json(LEARNT_FROM)]


def read_example_file(data):
    from handslide.edges.files.examples import examples_json, read_examples
    from handslide.edges.files.profiles import BY_HORN, load_profile
    from handslide.instrument.learning.learn import gather, lay_out_all

    examples = read_examples(data, "x")
    assert read_examples(examples_json(examples), "x") == examples

    def base(horn):
        return load_profile(BY_HORN, horn)

    gather(lay_out_all(examples, base), examples, base)


@cache
def _setup():
    from handslide.jobs.setup import make_setup

    return make_setup("tenor-f")


def read_report(data):
    from handslide.jobs.hear.report import report_from
    from handslide.jobs.practice.faults import faults_of

    try:
        value = json.loads(data)
    except ValueError:
        return
    try:
        report_from(value)
    except HandslideError as error:
        assert speech("en").fact(error)
    faults_of(value, _setup(), "x")


# Requests.

_PATHS = (
    "/", "/students/1", "/students/new", "/horns/1", "/parts", "/parts/1", "/stands/1", "/charts",
    "/takes", "/takes/1", "/tuning/1", "/fitting/1", "/progress/1", "/practice/1", "/data",
    "/data/backups", "/data/settings", "/data/import/x", "/students/1/edit", "/horns/1/history",
    "/takes/1/sound", "/charts/sheet", "/practice/1/sheet", "/stands/1/lock", "/static/base.css",
)  # fmt: skip


def requests():
    return [
        json.dumps({"method": method, "path": path, "query": {"student": "1", "horn": "1"},
                    "headers": {"Accept": "text/html", "Range": "bytes=0-1", "Cookie": "a=b",
                                "Referer": "http://127.0.0.1:8471/", "HX-Request": "true"},
                    "form": {"name": "x", "title": "x", "reach": "6", "page": "1", "wish": "add"}}
                   ).encode()
        for method in ("GET", "POST")
        for path in _PATHS
    ]  # fmt: skip


def change_request(chance, data, others):
    asked = json.loads(data)
    for _ in range(chance.randint(1, 4)):
        key = chance.choice(("path", "query", "headers", "form"))
        word = chance.choice(mutate.TEXTS if chance.random() < 0.5 else mutate.NUMBERS)
        if key == "path":
            pieces = asked["path"].split("/")
            pieces[chance.randint(0, len(pieces) - 1)] = word
            asked["path"] = "/".join(pieces)
        else:
            names = sorted(asked[key])
            name = chance.choice((*names, "student", "stand", "kind", "date", "theme", "paper"))
            asked[key][name] = word
    return json.dumps(asked).encode()


@cache
def _home():
    from studio_pages import client

    # Entered, it keeps its thread from one request to the next.
    return client(_studio().studio).__enter__()


def request(data):
    _ask(_home(), data)


def _ask(home, data):
    from urllib.parse import quote, urlencode

    asked = json.loads(data)
    path = quote(asked["path"] or "/", safe="/%", errors="replace")
    if not path.startswith("/") or path.startswith("//"):
        path = "/" + path.lstrip("/")
    query = urlencode(asked["query"], errors="replace")
    headers = {name: value.encode("latin-1", "replace").replace(b"\n", b" ").strip()
               for name, value in asked["headers"].items()}  # fmt: skip
    kind = {"data": asked["form"]} if asked["method"] == "POST" else {}
    answer = home.request(asked["method"], f"{path}?{query}", headers=headers, **kind)
    assert answer.status_code < 500, answer.text[:2000]


# What a tablet asks for, with a link that is open.

_GUEST_PATHS = ("/", "/join", "/music", "/route", "/take", "/live", "/static/guest.js", "/stands/1")


def guest_requests():
    return [
        json.dumps({"method": method, "path": path, "query": {"width": "wide", "piece": "0"},
                    "headers": {"Accept": "application/json", "Cookie": "a=b"},
                    "form": {"code": "abc", "audio": "x"}}).encode()
        for method in ("GET", "POST")
        for path in _GUEST_PATHS
    ]  # fmt: skip


@cache
def _tablet():
    from tablets import seated

    return seated(_studio().studio, stage=True, records=True, minutes=480)[2].__enter__()


def guest_request(data):
    _ask(_tablet(), data)


# Parts as PDF.


@cache
def pdfs():
    drawn = b"2 w 10 10 m 90 10 l S q 1 0 0 1 5 5 cm 0 0 m 1 2 3 4 5 6 c f* Q 20 30 40 10 re W n "
    shown = b"BT /F 10 Tf 3 Tc 20 30 Td [(AA) -500 (A)] TJ T* (A) ' ET /X Do "
    image = b"q 9 0 0 9 1 1 cm BI /W 8 /H 2 /IM true /BPC 1 ID \x0f\xf0 EI Q "

    def resources(make):
        def made(pdf):
            form = pikepdf.Stream(pdf, b"0 0 5 5 re f /X Do BT /F 3 Tf (A) Tj ET")
            form.Subtype, form.BBox = Name.Form, Array([0, 0, 9, 9])
            form = pdf.make_indirect(form)
            return {**pdf_build.with_font(make)(pdf), "/XObject": Dictionary(X=form)}

        return made

    proc = b"600 0 0 0 500 400 d1 100 0 400 400 re f"
    fonts = [
        lambda pdf: pdf_build.simple_font(
            pdf, "TrueType", "FontFile2", pdf_build.font_file(False), Encoding=Name.WinAnsiEncoding
        ),
        lambda pdf: pdf_build.simple_font(pdf, "Type1", "FontFile", pdf_build.type_one()),
        lambda pdf: pdf_build.simple_font(
            pdf, "Type1", "FontFile3", pdf_build.bare_cff("noteheads.s2"), "Type1C"
        ),
        lambda pdf: pdf_build.composite_font(
            pdf, pdf_build.font_file(False),
            ToUnicode=pikepdf.Stream(pdf, b"1 beginbfrange <00> <09> <E0A3> endbfrange"),
        ),
        lambda pdf: pdf_build.drawn_font(pdf, proc),
    ]  # fmt: skip
    made = [pdf_build.pdf_of((drawn + shown + image, resources(make))) for make in fonts]
    engraved = sorted((TESTS / "scores" / "pdf").glob("S*.pdf"))
    return [*made, *made, *made, *(path.read_bytes() for path in engraved)]


def read_pdf(data):
    """What a page draws, for all; of those that are a part its notes, and marks laid over them."""
    from handslide.edges.pdfparts.content import draw
    from handslide.edges.pdfparts.read import read_drawing
    from handslide.edges.pdfparts.reading import Corrections
    from handslide.edges.pdfparts.score import musicxml_of
    from handslide.edges.pdfparts.signs import Signs

    drawing, signs = draw(data), Signs.load()
    for page in drawing.pages:
        for glyph in page.glyphs:
            signs.of_glyph(glyph, drawing.outlines[glyph.font, glyph.code], 5.0)
        for path in page.paths:
            signs.of_outline([[(x / 5, y / 5) for x, y in each] for each in path.polygons])
    musicxml, numbers = musicxml_of(read_drawing(drawing, signs, Corrections()))
    from handslide.edges.musicxml.read import read_score

    part = read_score(musicxml, "x.musicxml")
    for each in part.parts:
        part.read_part(each.part_id)
    assert len(numbers) == musicxml.count(b"<note")


TARGETS = {
    "musicxml": Target(scores, mutate.xml, read_and_mark, 30),
    "mxl": Target(compressed_scores, change_mxl, lambda data: read_and_mark(data, "x.mxl"), 20),
    "other": Target(other_scores, change_other, read_other, 0),
    "typed": Target(typed_files, mutate.text, read_typed, 150),
    "sound": Target(sounds, mutate.bytes_of, read_sound, 100),
    "pdf": Target(pdfs, mutate.pdf, read_pdf, 20),
    "archive": Target(archives, change_archive, import_archive, 12),
    "report": Target(reports, change_json, read_report, 150),
    "examples": Target(example_files, change_json, read_example_file, 100),
    "request": Target(requests, change_request, request, 100),
    "guest": Target(guest_requests, change_request, guest_request, 60),
    "engrave": Target(scores, mutate.xml, route_and_engrave, 0),
}
