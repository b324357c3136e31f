"""Small MusicXML for tests: each case spells out only what it is about."""

from pathlib import Path

from lxml import etree

from handslide.edges.musicxml.read import ScorePart, read_score

HERE = Path(__file__).parents[1]
_SHARED = Path(__file__).parents[3] / "shared" / "scores"
SCORES = _SHARED if _SHARED.is_dir() else HERE / "scores"
OWN_SCORES = HERE / "scores"
XML_FILES = sorted(
    path for path in SCORES.rglob("*") if path.suffix in (".musicxml", ".mxl") and path.is_file()
)
OTHER_FILES = sorted(
    path for path in SCORES.rglob("*") if path.suffix in (".mei", ".krn", ".mid") and path.is_file()
)


def schema() -> etree.XMLSchema:
    return etree.XMLSchema(etree.parse(HERE / "scores" / "xsd" / "musicxml.xsd"))


def note(
    name: str = "C3",
    duration: int | None = 1,
    *,
    first: str = "",
    tie: str = "",
    voice: str | None = "1",
    kind: str = "quarter",
    after_kind: str = "",
    staff: str = "",
    notations: str = "",
    attributes: str = "",
) -> str:
    """One ``<note>``; ``name`` is a letter, b or # signs and an octave, or ``r`` for a rest."""
    if name == "r":
        pitch = "<rest/>"
    else:
        signs = name[1:-1]
        alter = signs.count("#") - signs.count("b")
        middle = f"<alter>{alter}</alter>" if alter else ""
        pitch = f"<pitch><step>{name[0]}</step>{middle}<octave>{name[-1]}</octave></pitch>"
    parts = [f"<note{attributes}>", first, pitch]
    if duration is not None:
        parts.append(f"<duration>{duration}</duration>")
    parts += [f'<tie type="{one}"/>' for one in tie.split()]
    if voice is not None:
        parts.append(f"<voice>{voice}</voice>")
    if kind:
        parts.append(f"<type>{kind}</type>")
    parts += [after_kind, staff]
    if notations:
        parts.append(f"<notations>{notations}</notations>")
    return "".join((*parts, "</note>"))


def notes(names: str, **options: object) -> str:
    return "".join(note(name, **options) for name in names.split())  # type: ignore[arg-type]


def attributes(
    divisions: int = 1, beats: int | None = 4, beat_type: int = 4, more: str = ""
) -> str:
    time = ""
    if beats is not None:
        time = f"<time><beats>{beats}</beats><beat-type>{beat_type}</beat-type></time>"
    return f"<attributes><divisions>{divisions}</divisions>{time}{more}</attributes>"


def part(*measures: str, part_id: str = "P1", start: int = 1) -> str:
    """A part; the first measure gets divisions and meter unless it has ``<attributes>``."""
    if measures and "<attributes>" not in measures[0]:
        measures = (attributes() + measures[0], *measures[1:])
    body = "".join(
        f'<measure number="{number}">{measure}</measure>'
        for number, measure in enumerate(measures, start=start)
    )
    return f'<part id="{part_id}">{body}</part>'


def score(*parts: str, names: tuple[str, ...] = ("Trombone",), more: str = "") -> bytes:
    listed = "".join(
        f'<score-part id="P{place}"><part-name>{name}</part-name></score-part>'
        for place, name in enumerate(names, start=1)
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<score-partwise version="4.0">{more}<part-list>{listed}</part-list>'
        f"{''.join(parts)}</score-partwise>\n"
    ).encode()


def tempo(qpm: float = 60) -> str:
    return f'<sound tempo="{qpm}"/>'


def barline(content: str, location: str = "right") -> str:
    return f'<barline location="{location}">{content}</barline>'


def repeat(direction: str = "backward", **options: object) -> str:
    more = "".join(f' {key.replace("_", "-")}="{value}"' for key, value in options.items())
    return barline(
        f'<repeat direction="{direction}"{more}/>', "left" if direction == "forward" else "right"
    )


def ending(number: str, kind: str, more: str = "") -> str:
    return barline(
        f'<ending number="{number}" type="{kind}"/>{more}', "left" if kind == "start" else "right"
    )


DOT = "<dot/>"
TRIPLET = (
    "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes>"
    "</time-modification>"
)


def read(*measures: str, **options: str) -> ScorePart:
    """A part of these measures at 60 quarter notes a minute: a beat is a second."""
    first = measures[0] if "<attributes>" in measures[0] else attributes() + measures[0]
    return read_score(score(part(tempo() + first, *measures[1:]))).read_part(**options)


def names(found: ScorePart) -> str:
    return " ".join(one.written.name for one in found.notes)


def line(found: ScorePart) -> str:
    """The line as played, with the whole seconds: ``C3@0+1``."""
    return " ".join(
        f"{found.notes[index].written.name}@{onset:.4g}+{length:.4g}"
        for index, onset, length in zip(found.played, found.onset_s, found.length_s)
    )


def order(found: ScorePart) -> str:
    """Measure numbers as played, one for each played note."""
    return " ".join(found.notes[index].measure for index in found.played)


def kinds(found: ScorePart) -> set[str]:
    return {one.kind for one in found.warnings}
