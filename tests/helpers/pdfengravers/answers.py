"""The answers that a person would give about an engraver's signs, found without looking.

The engraver sets small sheets, each known to hold certain signs. A shape that stands on exactly the
sheets that hold a sign, and on no other, is that sign.
"""

from collections import defaultdict
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from handslide.edges.pdfparts.content import draw
from handslide.edges.pdfparts.drawn import Glyph, Outline, Point
from handslide.edges.pdfparts.read import read_drawing
from handslide.edges.pdfparts.reading import Corrections, PdfReading
from handslide.edges.pdfparts.signs import Sign, Signs
from handslide.ground.errors import HandslideError
from pdfengravers.engrave import Engraver, NotEngravedError, engrave

QUESTIONS = 10
_SURE = 0.12
_CLEFS = {"clef.F": ("F", 4, "DAF", 3), "clef.C": ("C", 4, "AEC", 3), "clef.G": ("G", 2, "BFD", 4)}
"""Sign, line, and three steps: on the middle line and to either side; the middle one's octave."""
_ACCIDENTALS = {"acc.-1": ("flat", -1), "acc.1": ("sharp", 1), "acc.0": ("natural", 0)}
_VALUES = {"whole": 16, "half": 8, "quarter": 4, "eighth": 2, "16th": 1}
_HEADS = {"whole": "head.whole", "half": "head.half"}
_RESTS = {"whole": "rest.1", "half": "rest.2", "quarter": "rest.4", "eighth": "rest.8",
          "16th": "rest.16"}  # fmt: skip
_FLAGS = {"eighth": "flag.1", "16th": "flag.2"}
_METERS = ((2, 4), (3, 4), (4, 4), (5, 4), (6, 8), (7, 8), (9, 8), (12, 8))

Probe = tuple[frozenset[str], bytes]
"""The signs that stand on a sheet, and the sheet."""


def probes() -> list[Probe]:
    """Sheets for clefs, accidentals, heads, rests, flags, dots, and the digits of meters."""
    sheets = []
    for clef in _CLEFS:
        quarters = [_note(clef, "quarter", step) for step in (0, 1, 2)] * 2
        for kind, head in _HEADS.items():
            notes = [_note(clef, kind, step) for step in (0, 1, 2)]
            sheets.append(_sheet(clef, notes, {head}))
        sheets.append(_sheet(clef, quarters, {"head.black"}))
    black = {"head.black"}
    dotted = [_note("clef.F", "quarter", step, dot=True) for step in (0, 1, 2)]
    sheets.append(_sheet("clef.F", dotted, {"dot"} | black))
    for sign in _ACCIDENTALS:
        sheets.append(_sheet("clef.F", [_note("clef.F", "quarter", 0, sign)] * 4, {sign} | black))
    quarter = _note("clef.F", "quarter", 0)
    for kind, sign in _RESTS.items():
        rests = [quarter, _note("clef.F", kind, None)] * 3
        sheets.append(_sheet("clef.F", rests, {sign} | black))
    rest = _note("clef.F", "quarter", None)
    for kind, sign in _FLAGS.items():
        flagged = [one for step in (0, 1, 2) for one in (_note("clef.F", kind, step), rest)]
        sheets.append(_sheet("clef.F", flagged, {"rest.4", sign} | black))
    for beats, unit in _METERS:
        digits = {f"digit.{digit}" for digit in f"{beats}{unit}"}
        count = beats * 4 // unit if unit == 4 else beats
        notes = [_note("clef.F", "quarter" if unit == 4 else "eighth", None)] * count
        rest_sign = "rest.4" if unit == 4 else "rest.8"
        sheets.append(_sheet("clef.F", notes, digits | {rest_sign}, (beats, unit)))
    return sheets


def _note(clef: str, kind: str, step: int | None, sign: str = "", *, dot: bool = False) -> str:
    """A note on one of the clef's three steps, or a rest."""
    name, alter = _ACCIDENTALS.get(sign, ("", 0))
    head = "<rest/>"
    if step is not None:
        _, _, steps, octave = _CLEFS[clef]
        letter = steps[step]
        octave += letter == "D" and clef == "clef.G" and step == 2
        octave -= (letter == "A" and clef == "clef.F") * 1
        head = (
            f"<pitch><step>{letter}</step><alter>{alter}</alter><octave>{octave}</octave></pitch>"
        )
    length = _VALUES[kind] * 3 // 2 if dot else _VALUES[kind]
    shown = f"<accidental>{name}</accidental>" if sign else ""
    return (
        f"<note>{head}<duration>{length}</duration><voice>1</voice><type>{kind}</type>"
        f"{'<dot/>' * dot}{shown}</note>"
    )


def _sheet(
    clef: str, notes: list[str], signs: set[str], meter: tuple[int, int] | None = None
) -> Probe:
    """Without a meter of its own it has none that is shown, but for the first eight."""
    sign, line, _, _ = _CLEFS[clef]
    total = sum(int(one.split("<duration>")[1].split("<")[0]) for one in notes)
    beats, unit = meter or (total, 16)
    hidden = "" if meter else ' print-object="no"'
    attributes = (
        f"<attributes><divisions>4</divisions><key><fifths>0</fifths></key><time{hidden}>"
        f"<beats>{beats}</beats><beat-type>{unit}</beat-type></time><clef><sign>{sign}</sign>"
        f"<line>{line}</line></clef></attributes>"
    )
    text = (
        '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>.</part-name>'
        f'</score-part></part-list><part id="P1"><measure number="1">{attributes}{"".join(notes)}'
        "</measure></part></score-partwise>"
    )
    return frozenset({clef} | signs), text.encode()


class _Watched:
    """Known signs that note which shapes they are asked about."""

    def __init__(self) -> None:
        self._signs = Signs.load()
        self.marks: set[str] = set()

    def of_glyph(self, glyph: Glyph, outline: Outline | None, space: float) -> Sign | None:
        return self._noted(self._signs.of_glyph(glyph, outline, space))

    def of_outline(
        self, polygons: Iterable[Iterable[Point]], even_odd: bool = False
    ) -> Sign | None:
        return self._noted(self._signs.of_outline(polygons, even_odd))

    def _noted(self, sign: Sign | None) -> Sign | None:
        if sign is not None:
            self.marks.add(sign.mark)
        return sign


def learn(engraver: Engraver, folder: Path) -> dict[str, str]:
    """What the engraver's shapes are, by their marks. Sheets are kept in ``folder``."""
    stands: dict[str, set[int]] = defaultdict(set)
    wanted: dict[str, set[int]] = defaultdict(set)
    watched = _Watched()
    for number, (signs, sheet) in enumerate(probes()):
        target = folder / f"probe-{number}.pdf"
        try:
            if not target.is_file():
                engrave(engraver, sheet, target)
        except NotEngravedError:
            continue
        for sign in signs:
            wanted[sign].add(number)
        watched.marks.clear()
        with suppress(HandslideError):  # what it saw before it refused counts
            read_drawing(draw(target.read_bytes()), watched, Corrections())
        for mark in watched.marks:
            stands[mark].add(number)
    return {
        mark: sign
        for mark, sheets in stands.items()
        for sign, places in wanted.items()
        if sheets == places
    }


class Answerer:
    """Answers the first questions about an engraver, in the order in which they are asked.

    A shape that no sheet explains, nor a known font, is left unanswered; the question counts.
    """

    def __init__(self, known: dict[str, str]) -> None:
        self._table = Signs.load(known)  # with all fonts, also one that is read without
        self._asked: set[str] = set()
        self.given: dict[str, str] = {}

    def hear(self, reading: PdfReading) -> None:
        """Answer what this part asks, as long as it is among the first ten questions."""
        for sign in reading.unknown:
            if sign.mark in self._asked or len(self._asked) == QUESTIONS:
                continue
            self._asked.add(sign.mark)
            found = self._table.of_outline(sign.polygons)
            if found is not None and found.distance < _SURE:
                self.given[sign.mark] = found.kind
