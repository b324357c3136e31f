"""Small scores of our own for the tests of print: a builder and some dense measures."""

from collections.abc import Iterable

from lxml import etree

from handslide.edges.engraving.engrave import Engraving, engrave_part

DIVISIONS = 24
_LENGTHS = {"whole": 96, "half": 48, "quarter": 24, "eighth": 12, "16th": 6}


class Tree:
    """A bare tree as something that can be engraved."""

    def __init__(self, root: etree._Element) -> None:
        self.root = root

    def partwise(self) -> etree._Element:
        return self.root


def engraved(root: etree._Element, *args, **options) -> Engraving:
    """A part of a bare tree, engraved."""
    return engrave_part(Tree(root), *args, **options)


def note(
    pitch: str, kind: str = "16th", *, beam: str = "", notations: str = "", extra: str = ""
) -> str:
    """Return a ``<note>``: pitch like ``Bb3``, ``grace:C4`` or ``rest``."""
    grace = pitch.startswith("grace:")
    pitch = pitch.removeprefix("grace:")
    if pitch == "rest":
        head = "<rest/>"
    else:
        alter = {"b": "<alter>-1</alter>", "#": "<alter>1</alter>"}.get(pitch[1:2], "")
        octave = f"<octave>{pitch[-1]}</octave>"
        head = f"<pitch><step>{pitch[0]}</step>{alter}{octave}</pitch>"
    length = "" if grace else f"<duration>{_LENGTHS[kind]}</duration>"
    notations = f"<notations>{notations}</notations>" if notations else ""
    beam = f'<beam number="1">{beam}</beam>' if beam else ""
    start = "<grace/>" if grace else ""
    return (
        f"<note>{start}{head}{length}<voice>1</voice><type>{kind}</type>{extra}{beam}"
        f"{notations}</note>"
    )


def rest_measure() -> str:
    """Return the content of an empty measure."""
    return f'<note><rest measure="yes"/><duration>{4 * DIVISIONS}</duration></note>'


def words(text: str, *, bold: bool = True) -> str:
    """Return words above the staff."""
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<direction placement="above"><direction-type><words{weight}>{text}</words>'
        "</direction-type></direction>"
    )


def score(measures: Iterable[str], *, parts: int = 1) -> etree._Element:
    """Return a score; the second part and all after are empty measures."""
    measures = list(measures)
    head = (
        f"<attributes><divisions>{DIVISIONS}</divisions><key><fifths>-2</fifths></key><time>"
        "<beats>4</beats><beat-type>4</beat-type></time><clef><sign>F</sign><line>4</line></clef>"
        "</attributes>"
    )
    listed, bodies = "", ""
    for part in range(1, parts + 1):
        listed += f'<score-part id="P{part}"><part-name>Horn {part}</part-name></score-part>'
        bodies += f'<part id="P{part}">'
        for number, content in enumerate(measures, 1):
            inner = content if part == 1 else rest_measure()
            bodies += f'<measure number="{number}">{head if number == 1 else ""}{inner}</measure>'
        bodies += "</part>"
    text = f'<score-partwise version="4.0"><part-list>{listed}</part-list>{bodies}</score-partwise>'
    return etree.fromstring(text)


def sixteenths(pitches: str, first: str = "", last: str = "") -> str:
    """Return beamed sixteenths; ``first`` and ``last`` are notations of the outer notes."""
    names = pitches.split()
    result = []
    for index, name in enumerate(names):
        beam = {0: "begin", 3: "end"}.get(index % 4, "continue")
        notations = (first if index == 0 else "") + (last if index == len(names) - 1 else "")
        result.append(note(name, beam=beam, notations=notations))
    return "".join(result)


SLUR = '<slur type="start" number="1" placement="above"/>', '<slur type="stop" number="1"/>'
RUN = "Bb2 C3 D3 Eb3 F3 G3 A3 Bb3 C4 Bb3 A3 G3 F3 Eb3 D3 C3"
HIGH = "F4 G4 A4 Bb4 A4 G4 F4 Eb4 D4 Eb4 F4 G4 A4 G4 F4 D4"
_FERMATA = "<fermata/>"
_TRILL = "<ornaments><trill-mark/></ornaments>"
_DYNAMICS = (
    '<direction placement="above"><direction-type><dynamics><ff/></dynamics></direction-type>'
    "</direction>"
)
_OCTAVE = (
    '<direction placement="above"><direction-type><octave-shift type="{}" size="8" number="1"/>'
    "</direction-type></direction>"
)
_REHEARSAL = (
    '<direction placement="above"><direction-type><rehearsal>A</rehearsal></direction-type>'
    "</direction>"
)


def dense_measures() -> list[str]:
    """Return measures in which signs and words crowd above the staff."""
    quarters = "".join(note(p, "quarter", notations=_FERMATA) for p in ("Bb3", "D4", "F4", "Bb4"))
    trills = "".join(note(p, "quarter", notations=_TRILL) for p in ("F3", "G3", "A3", "C4"))
    graces = "".join(
        note("grace:C4", "16th") + note("grace:D4", "16th") + note(p, "quarter")
        for p in ("Eb4", "D4", "C4", "Bb3")
    )
    return [
        words("Andante, ma non troppo lento") + sixteenths(RUN, *SLUR),
        _REHEARSAL + sixteenths(HIGH, *SLUR),
        words("slowly and very evenly", bold=False) + _DYNAMICS + sixteenths(RUN),
        quarters,
        _OCTAVE.format("down") + sixteenths(HIGH) + _OCTAVE.format("stop"),
        _DYNAMICS + trills,
        graces,
        sixteenths(HIGH, *SLUR),
    ]


MARKS = ("T♭3", "T3½", "1", "♯2", "T♭2", "6", "♭4", "T1")


def mark_all(tree: etree._Element, part_id: str = "P1") -> dict[int, str]:
    """Return marks for every sounding note of the part that isn't the end of a tie."""
    part = next(part for part in tree.findall("part") if part.get("id") == part_id)
    marks: dict[int, str] = {}
    for ordinal, element in enumerate(part.iter("note")):
        tied = any(tie.get("type") == "stop" for tie in element.findall("tie"))
        silent = element.find("rest") is not None or element.get("print-object") == "no"
        if not (tied or silent or element.find("chord") is not None):
            marks[ordinal] = MARKS[len(marks) % len(MARKS)]
    return marks
