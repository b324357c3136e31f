"""What stands in a part, by music21: a reader of MusicXML that shares nothing with ours."""

import json
import warnings
from collections import defaultdict
from dataclasses import asdict, dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any


@dataclass(frozen=True, slots=True)
class TrueNote:
    """A printed head. ``midi`` is the written pitch; clefs and octave lines are counted in.

    ``bar`` is 0-based; ``onset`` in quarters from the bar's beginning, a grace note's that of its
    main note. ``shared``: another voice has the same pitch at this onset, so that an engraver may
    print one head for both.
    """

    bar: int
    onset: Fraction
    midi: int
    grace: bool = False
    cue: bool = False
    tie_to: bool = False
    slur_start: int = 0
    slur_stop: int = 0
    actual: int = 1
    normal: int = 1
    shared: bool = False


def true_notes(musicxml: bytes) -> tuple[TrueNote, ...]:
    """The notes of a one-part file in written order: by bar and onset, grace notes before their
    main note, chords from low to high; hidden ones left out."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21

        score = music21.converter.parse(musicxml.decode(), format="musicxml")
    starts, stops = _slur_ends(score)
    found: list[tuple[tuple[Any, ...], TrueNote]] = []
    for bar, measure in enumerate(score.parts[0].getElementsByClass("Measure")):
        for order, element in enumerate(measure.recurse().notes):
            if element.style.hideObjectOnPrint or "ChordSymbol" in element.classes:
                continue
            for head in getattr(element, "notes", (element,)):
                if head.style.hideObjectOnPrint or not hasattr(head, "pitch"):
                    continue
                slurs = starts[id(element)] + starts[id(head)] * (head is not element)
                ends = stops[id(element)] + stops[id(head)] * (head is not element)
                one = _note(bar, measure, element, head, slurs, ends)
                place = order if one.grace else 0
                key = (bar, one.onset, not one.grace, place, one.midi)
                found.append((key, one))
    found.sort(key=lambda pair: pair[0])
    return _with_shared([one for _, one in found])


def _slur_ends(score: Any) -> tuple[dict[int, int], dict[int, int]]:
    starts: dict[int, int] = defaultdict(int)
    stops: dict[int, int] = defaultdict(int)
    for slur in score.recurse().getElementsByClass("Slur"):
        starts[id(slur.getFirst())] += 1
        stops[id(slur.getLast())] += 1
    return starts, stops


def _note(bar: int, measure: Any, element: Any, head: Any, starts: int, stops: int) -> TrueNote:
    tuplets = element.duration.tuplets
    actual = normal = 1
    for tuplet in tuplets:
        actual *= tuplet.numberNotesActual
        normal *= tuplet.numberNotesNormal
    tie = head.tie or element.tie
    return TrueNote(
        bar=bar,
        onset=Fraction(element.getOffsetInHierarchy(measure)).limit_denominator(960),
        midi=int(head.pitch.midi),
        grace=bool(element.duration.isGrace),
        cue=element.style.noteSize == "cue",
        tie_to=tie is not None and tie.type in ("start", "continue"),
        slur_start=starts,
        slur_stop=stops,
        actual=actual,
        normal=normal,
    )


def _with_shared(notes: list[TrueNote]) -> tuple[TrueNote, ...]:
    seen: set[tuple[int, Fraction, int]] = set()
    result = []
    for one in notes:
        key = (one.bar, one.onset, one.midi)
        again = key in seen and not one.grace
        if not one.grace:
            seen.add(key)
        result.append(TrueNote(**(asdict(one) | {"shared": again})) if again else one)
    return tuple(result)


def save(notes: tuple[TrueNote, ...], path: Path) -> None:
    """Write notes as JSON, a note a line; what is as usual is left out."""
    usual = asdict(TrueNote(-1, Fraction(-1), -1))
    rows = []
    for one in notes:
        row = {name: value for name, value in asdict(one).items() if value != usual[name]}
        rows.append(json.dumps(row | {"onset": str(one.onset)}))
    path.write_text("[\n" + ",\n".join(rows) + "\n]\n", encoding="utf-8")


def load(path: Path) -> tuple[TrueNote, ...]:
    """Notes written by ``save``."""
    rows = json.loads(path.read_text(encoding="utf-8"))
    return tuple(TrueNote(**(row | {"onset": Fraction(row["onset"])})) for row in rows)
