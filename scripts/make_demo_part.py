"""Writes the demo part, examples/lanterns.musicxml: a melody of our own, free to use (CC0).

Run from the project folder: python scripts/make_demo_part.py
"""

from dataclasses import dataclass, field
from pathlib import Path

from lxml import etree
from music21 import (
    articulations,
    clef,
    dynamics,
    expressions,
    key,
    metadata,
    meter,
    note,
    spanner,
    stream,
    tempo,
)

# One string a measure: pitch:quarter-length, ( ) slurred, ~ a glissando to the next, r a rest.
MEASURES = """
Bb2:1 (C3:1 D3:1) Eb3:1
F3:2 (Eb3:1 D3:1)
(G3:1 F3:.5 Eb3:.5) D3:1 C3:1
Bb2:3 r:1
Bb2:1 (C3:1 D3:1) F3:1
Bb3:2 (A3:1 G3:1)
(F3:1 G3:.5 A3:.5) Bb3:1 C4:1
D4:3 r:1
Eb3:1 D3:1 Db3:1 C3:1
Bb2:1 A2:1 Ab2:1 G2:1
Gb2:1 F2:1 Gb2:1 F2:1
(A2:1 B2:1) A2:1 E2:1
F2:2 Bb2:1 F2:1
Eb2:1 D2:1 Db2:1 C2:1
F2:3 r:1
(Eb4:1 D4:1 Eb4:1) F4:1
(G4:1 Ab4:1 G4:1) F4:1
(Eb4:.5 D4:.5 C4:.5 Bb3:.5) (A3:.5 Bb3:.5 C4:.5 A3:.5)
Bb3:2 r:2
F3:.25 A3:.25 C4:.25 F4:.25 C4:.25 A3:.25 F3:.25 A3:.25 C4:1 r:1
Gb3:.25 Bb3:.25 Db4:.25 Gb4:.25 Db4:.25 Bb3:.25 Gb3:.25 Bb3:.25 Db4:1 r:1
D4:.5 C4:.5 Bb3:.5 A3:.5 G3:.5 F3:.5 Eb3:.5 D3:.5
C3:.5 D3:.5 Eb3:.5 F3:.5 G3:.5 A3:.5 Bb3:.5 C4:.5
F3:1~Bb3:1 F3:2
E3:1~Bb3:1 C4:1~E3:1
D4:1 Bb3:.5 F3:.5 D3:1 Bb2:1
C3:1 F2:1 C3:1 F2:1
F2:2 C2:2
B1:2 r:2
Bb1:1 F2:1 Bb2:1 D3:1
Bb2:4
"""
TEMPI = {0: ("Calm, singing", 84), 15: ("A little slower", 72), 19: ("Quick", 104)}
DYNAMICS = {0: "mf", 8: "p", 13: "mf", 15: "p", 19: "f", 26: "mf", 29: "f"}


@dataclass(frozen=True)
class Tune:
    """A melody for one trombone; tempi and dynamics by measure, counted from 0."""

    title: str
    composer: str
    measures: str
    tempi: dict[int, tuple[str, int]]
    dynamics: dict[int, str] = field(default_factory=dict)
    flats: int = 2
    accents: tuple[int, ...] = ()


LANTERNS = Tune("Lanterns on the Quay", "handslide (CC0)", MEASURES, TEMPI, DYNAMICS, accents=(26,))


def build(tune: Tune) -> stream.Score:
    part = stream.Part(id="P1")
    part.partName = "Trombone"
    slur: list[note.Note] | None = None
    glide: note.Note | None = None
    spans: list[spanner.Spanner] = []
    for number, text in enumerate(tune.measures.strip().splitlines()):
        measure = stream.Measure(number=number + 1)
        if number == 0:
            measure.append(
                [clef.BassClef(), key.KeySignature(-tune.flats), meter.TimeSignature("4/4")]
            )
        if number in tune.tempi:
            words, speed = tune.tempi[number]
            measure.insert(0, tempo.MetronomeMark(words, speed))
        if number in tune.dynamics:
            measure.insert(0, dynamics.Dynamic(tune.dynamics[number]))
        for token in text.replace("~", "~ ").split():
            word = token.strip("()~")
            name, length = word.split(":")
            if name == "r":
                measure.append(note.Rest(quarterLength=float(length)))
                continue
            one = note.Note(name.replace("b", "-"), quarterLength=float(length))
            measure.append(one)
            if token.startswith("("):
                slur = []
            if slur is not None:
                slur.append(one)
            if token.endswith(")") and slur is not None:
                spans.append(spanner.Slur(slur[0], slur[-1]))
                slur = None
            if glide is not None:
                spans.append(spanner.Glissando(glide, one))
            glide = one if token.endswith("~") else None
        part.append(measure)
    last = part.recurse().notes.last()
    assert last is not None
    last.expressions.append(expressions.Fermata())
    for number in tune.accents:
        accented = part.measure(number)
        assert accented is not None
        for one in accented.notes:
            one.articulations.append(articulations.Accent())
    for span in spans:
        part.insert(0, span)
    score = stream.Score([part])
    score.metadata = metadata.Metadata(title=tune.title, composer=tune.composer)
    return score


def tidied(path: Path) -> bytes:
    """The file with words and tempo above the staff and plain names."""
    tree = etree.parse(str(path))
    for direction in tree.iter("direction"):
        if direction.find("direction-type/dynamics") is None:
            direction.set("placement", "above")
    for fermata in tree.iter("fermata"):
        fermata.set("type", "upright")
    for element in tree.iter("score-part", "part"):
        element.set("id", "P1")
    return etree.tostring(tree, xml_declaration=True, encoding="utf-8")


def write(tune: Tune, target: Path) -> None:
    build(tune).write("musicxml", target)
    target.write_bytes(tidied(target))


if __name__ == "__main__":
    write(LANTERNS, Path("examples") / "lanterns.musicxml")
