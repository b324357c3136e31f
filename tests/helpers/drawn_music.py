"""A staff as a notation program draws it: signs by their code points in SMuFL, lines as strokes.

A space is 6 points; the lowest line of the first staff stands at 700. Places count half spaces from
the lowest line.
"""

from handslide.edges.pdfparts.drawn import Drawing, Glyph, PageDrawing, Path, Picture
from handslide.edges.pdfparts.read import read_drawing
from handslide.edges.pdfparts.reading import Corrections
from handslide.edges.pdfparts.signs import Signs

SPACE = 6.0
LEFT, RIGHT = 60.0, 540.0
CODES = {
    "F": 0xE062, "C": 0xE05C, "G": 0xE050, "G8b": 0xE052,
    "black": 0xE0A4, "half": 0xE0A3, "whole": 0xE0A2,
    "flat": 0xE260, "natural": 0xE261, "sharp": 0xE262, "dot": 0xE1E7, "repeatdot": 0xE044,
    "flag up": 0xE240, "flag down": 0xE241, "rest1": 0xE4E3, "rest2": 0xE4E4, "rest4": 0xE4E5,
    "rest8": 0xE4E6, "segno": 0xE047, "coda": 0xE048, "p": 0xE520, "f": 0xE522, "m": 0xE521,
    "common": 0xE08A, "ottava": 0xE510, "multirest": 0xE4EE, "quarter": 0xECA5,
}  # fmt: skip
WIDE = {
    "black": 1.2, "half": 1.2, "whole": 1.7, "flat": 0.9, "natural": 0.7, "sharp": 1.0,
    "dot": 0.4, "repeatdot": 0.4, "F": 2.7, "C": 2.8, "G": 2.7, "G8b": 2.7,
}  # fmt: skip


class Sheet:
    """A page that is drawn bit by bit. All x are in spaces from the staff's left end."""

    def __init__(self, bottoms=(700.0,)):
        self.glyphs, self.paths, self.pictures = [], [], []
        self.bottoms = bottoms
        for bottom in bottoms:
            for line in range(5):
                y = bottom + line * SPACE
                self.line(0, y, (RIGHT - LEFT) / SPACE, y)
        self.staff = 0

    def y(self, place):
        return self.bottoms[self.staff] + place * SPACE / 2

    def line(self, x0, y0, x1, y1, width=0.8):
        ends = ((LEFT + x0 * SPACE, y0), (LEFT + x1 * SPACE, y1))
        self.paths.append(Path((ends,), True, False, width, False, False))

    def area(self, points):
        corners = tuple((LEFT + x * SPACE, y) for x, y in points)
        self.paths.append(Path((corners,), False, True, 0.0, False, True))

    def sign(self, name, x, place, size=1.0):
        em = 4 * SPACE * size
        at, y = LEFT + x * SPACE, self.y(place)
        wide = WIDE.get(name, 1.0) * SPACE * size
        code = CODES.get(name, name)
        self.glyphs.append(
            Glyph(at, y, em, (em, 0, 0, em, at, y), "Music", code, "", chr(code), wide)
        )

    def digits(self, number, x, place):
        for offset, digit in enumerate(str(number)):
            self.sign(0xE080 + int(digit), x + offset, place)

    def meter(self, beats, unit, x=7.0):
        self.digits(beats, x, 6)
        self.digits(unit, x, 2)

    def words(self, text, x, place, em=12.0):
        at = LEFT + x * SPACE
        for letter in text:
            y = self.y(place)
            self.glyphs.append(
                Glyph(at, y, em, (em, 0, 0, em, at, y), "Text", ord(letter), "", letter, em / 2)
            )
            at += em / 2

    def bar(self, x, thick=0.8):
        self.line(x, self.y(0), x, self.y(8), thick)

    def note(self, x, place, kind="black", up=None, size=1.0, ledgers=True, sign=None, dots=0):
        """A head with its ledger lines and stem (none for whole notes)."""
        self.sign(kind, x, place, size)
        if sign:
            self.sign(sign, x - 1.4, place)
        for dot in range(dots):
            self.sign("dot", x + 1.6 + dot, place + (place % 2 == 0))
        if ledgers:
            whole = round(place)
            for line in [*range(10, whole + 1, 2), *range(-2, whole - 1, -2)]:
                self.line(x - 0.3, self.y(line), x + 1.5, self.y(line))
        if kind != "whole":
            up = place < 4 if up is None else up
            stem = x + 1.15 * size if up else x + 0.05
            self.line(stem, self.y(place), stem, self.y(place + (7 if up else -7)))

    def flag(self, x, place, up=True):
        stem = x + 1.15 if up else x + 0.05
        self.sign("flag up" if up else "flag down", stem, place + (7 if up else -7))

    def beam(self, x0, x1, place):
        y = self.y(place)
        half = 0.25 * SPACE
        self.area([(x0, y - half), (x1, y - half + 0.5), (x1, y + half + 0.5), (x0, y + half)])

    def bow(self, x0, x1, place, up=True):
        y = self.y(place)
        tall = 5.0 if up else -5.0
        points = tuple(
            (LEFT + (x0 + (x1 - x0) * t / 8) * SPACE, y + tall * (1 - (t / 4 - 1) ** 2))
            for t in range(9)
        )
        self.paths.append(Path((points,), True, False, 1.0, True, False))

    def drawing(self):
        page = PageDrawing(
            595.0, 842.0, (1, 0, 0, 1, 0, 0), tuple(self.glyphs), tuple(self.paths),
            tuple(self.pictures),
        )  # fmt: skip
        return Drawing((page,), {})

    def picture(self):
        self.pictures.append(Picture(0, 0, 595, 842))

    def read(self, **corrections):
        return read_drawing(self.drawing(), Signs.load({}), Corrections(**corrections))


def started(clef="F", meter=None, bottoms=(700.0,), place=None):
    """A sheet whose staves begin with a clef, and a meter in the first one."""
    sheet = Sheet(bottoms)
    for staff in range(len(bottoms)):
        sheet.staff = staff
        sheet.sign(clef, 1, {"F": 6, "C": 6, "G": 2, "G8b": 2}[clef] if place is None else place)
    sheet.staff = 0
    if meter:
        sheet.meter(*meter)
    return sheet


def names(reading):
    """Notes as scientific pitch, rests as r."""
    signs = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
    return [
        "r" if note.step is None else f"{'CDEFGAB'[note.step]}{signs[note.alter]}{note.octave}"
        for note in reading.notes
    ]


def doubts(reading):
    """The kinds of the doubts of each note, without their topic."""
    return [
        [doubt.kind.removeprefix("pdfparts.doubt_") for doubt in note.doubts]
        for note in reading.notes
    ]
