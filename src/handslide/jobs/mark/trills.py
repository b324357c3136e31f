"""The trills of a marked part: how each goes from the place that its note has."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from handslide.edges.musicxml.scorepart import ScorePart
from handslide.edges.musicxml.trills import Trill
from handslide.edges.typesetting.part import Section
from handslide.ground.facts import Fact, fact
from handslide.instrument.places import Place
from handslide.instrument.trills import QUICKEST_NOTES_S, TrillWay, trill_way
from handslide.jobs.mark.measures import measure_names
from handslide.jobs.mark.report import measure_number
from handslide.jobs.mark.routed import Routed, place_json
from handslide.words import report as words
from handslide.words.speech import Speech


@dataclass(frozen=True, slots=True)
class TrillFound:
    """A trill of a part; ``way`` is None where its note can't be played."""

    trill: Trill
    way: TrillWay | None
    told: Fact

    @property
    def kind(self) -> str:
        """``lip``, ``valve``, ``slide`` or ``impossible``."""
        return "impossible" if self.way is None else self.way.kind


def find_trills(routed: Routed, trills: Sequence[Trill]) -> tuple[TrillFound, ...]:
    """How each trill goes."""
    rows = []
    for trill in trills:
        place, pitch = routed.places.get(trill.note), routed.pitches[trill.note]
        if place is None:
            told = fact("trills.unplayable", note=pitch, upper=trill.upper)
            rows.append(TrillFound(trill, None, told))
            continue
        way = trill_way(routed.setup.book, pitch.midi, place, trill.upper.midi)
        rows.append(TrillFound(trill, way, _told(routed, trill, way)))
    return tuple(rows)


def _told(routed: Routed, trill: Trill, way: TrillWay) -> Fact:
    note, upper, place = routed.pitches[trill.note], trill.upper, way.place
    way_cm = 100.0 * way.way_m
    if way.kind == "lip":
        return fact("trills.lip", note=note, upper=upper, place=place)
    if way.kind == "valve":
        return fact("trills.valve", note=note, upper=upper, place=place)
    if way.kind == "slide":
        assert way.upper is not None and way.notes_s is not None
        ways = {"place": place, "upper_place": way.upper, "way_cm": way_cm}
        if way.notes_s >= QUICKEST_NOTES_S:
            told = fact("trills.slide_quick", note=note, upper=upper, **ways)
        else:
            told = fact("trills.slide", note=note, upper=upper, notes_s=way.notes_s, **ways)
    elif way.upper is None:
        told = _without_upper(routed, trill, place)
    else:
        told = fact("trills.impossible", note=note, upper=upper, place=place, way_cm=way_cm)
    if way.elsewhere is None:
        return told
    return fact("trills.elsewhere", trill=told, note=note, place=way.elsewhere)


def _without_upper(routed: Routed, trill: Trill, place: Place) -> Fact:
    """The upper note has no place with the valves of the lower one; maybe with others."""
    about = {"note": routed.pitches[trill.note], "upper": trill.upper, "place": place}
    others = routed.setup.book.places(trill.upper.midi)
    if not others:
        return fact("trills.no_upper", **about)
    nearest = min(others, key=lambda other: abs(other.extension_m - place.extension_m))
    return fact("trills.other_valves", **about, other=routed.setup.told(nearest))


def trills_section(say: Speech, part: ScorePart, found: Sequence[TrillFound]) -> Section | None:
    """The trills, as a section of the report."""
    groups: dict[str, list[int]] = {}
    for row in found:
        groups.setdefault(say.fact(row.told), []).append(part.notes[row.trill.note].measure_index)
    names = measure_names(part)
    rows = tuple((names.listed(say, measures, 8), text) for text, measures in groups.items())
    return Section(say(words.TRILLS), rows, "", (say(words.MEASURE), "")) if rows else None


def trill_json(say: Speech, part: ScorePart, routed: Routed, row: TrillFound) -> dict[str, Any]:
    """The JSON object of a trill."""
    note, way = part.notes[row.trill.note], row.way
    return {
        "measure": measure_number(note.measure),
        "measure_index": note.measure_index,
        "index": note.number,
        "note": note.sounding.name,
        "upper": row.trill.upper.name,
        "upper_midi": row.trill.upper.midi,
        "kind": row.kind,
        "upper_place": None
        if way is None or way.upper is None
        else place_json(routed.setup, way.upper),
        "way_mm": None if way is None or way.upper is None else round(1000.0 * way.way_m, 2),
        "notes_a_second": None if way is None or way.notes_s is None else round(way.notes_s, 2),
        "elsewhere": None
        if way is None or way.elsewhere is None
        else place_json(routed.setup, way.elsewhere),
        "text": say.fact(row.told),
    }
