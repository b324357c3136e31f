"""The report of a marked part: one page that a teacher reads before the lesson."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from handslide.edges.musicxml.scorepart import ScorePart
from handslide.edges.typesetting.part import Section
from handslide.instrument.marks import valve_words
from handslide.instrument.places import Place
from handslide.jobs.mark.routed import Routed

QUICKEST = 6
LONGEST_LIST = 14
# From here on a child's arm is near its end (common practice: six positions at about ten years).
FAR_POSITION = 5.5
PLAY_KINDS = ("unplayable", "glissando")
CAUTION = (
    "Far positions: a short arm reaches 6th and 7th only by leaning or turning. Set the reach to "
    "what the child reaches at ease, stop when anything hurts, and follow the rules of your school."
)


@dataclass(frozen=True, slots=True)
class Found:
    """Something to tell about a measure: ``number`` and ``note`` where it is about one note."""

    measure: str
    number: int | None
    note: str | None
    kind: str
    text: str


def report_sections(routed: Routed, part: ScorePart, found: Sequence[Found]) -> tuple[Section, ...]:
    """All sections of the report that have something to say."""
    sections = [
        _summary(routed, part),
        _found("Notes that can't be played", found, ("unplayable",)),
        _found("Glissandi that can't be played", found, ("glissando",)),
        _quickest(routed, part),
        _valves(routed, part),
        _unusual(routed, part),
        _found("Read with care", found, None),
        _caution(routed),
    ]
    return tuple(section for section in sections if section is not None)


def _summary(routed: Routed, part: ScorePart) -> Section:
    count, placed = len(part.notes), len(routed.places)
    words = [f"{placed} of {count} notes have a place."]
    if part.tempo_assumed:
        words.append("The part states no tempo; a moderate one was taken.")
    if not routed.exact:
        words.append("The repeats were settled one after the other, without proof of the best.")
    return Section("In short", (), " ".join(words))


def _found(heading: str, found: Iterable[Found], kinds: tuple[str, ...] | None) -> Section | None:
    groups: dict[str, list[str]] = {}
    for row in found:
        if row.kind in kinds if kinds else row.kind not in PLAY_KINDS:
            text = row.text.removeprefix(f"measure {row.measure}: ")
            groups.setdefault(text, []).append(row.measure)
    rows = [(listed_measures(measures, 8), text) for text, measures in groups.items()]
    return _section(heading, ("measure", ""), rows)


def _section(
    heading: str, header: tuple[str, ...], rows: Sequence[tuple[str, ...]]
) -> Section | None:
    if not rows:
        return None
    more = len(rows) - LONGEST_LIST
    note = f"and {more} more" if more > 0 else ""
    return Section(heading, tuple(rows[:LONGEST_LIST]), note, header)


def _quickest(routed: Routed, part: ScorePart) -> Section | None:
    moves = sorted(routed.moves(), key=lambda move: -move.speed_m_s)
    rows: list[tuple[str, ...]] = []
    seen = set()
    for move in moves:
        if (move.first, move.second) in seen or move.length_m < 0.02:
            continue
        seen.add((move.first, move.second))
        first, second = part.notes[move.first], part.notes[move.second]
        rows.append(
            (
                second.measure,
                f"{first.sounding.pretty} to {second.sounding.pretty}",
                f"{routed.marks[move.first]} to {routed.marks[move.second]}",
                f"{100 * move.length_m:.0f} cm",
                f"{move.speed_m_s:.1f} m/s",
            )
        )
        if len(rows) == QUICKEST:
            break
    return _section(
        "Quickest slide moves", ("measure", "notes", "places", "way", "peak speed"), rows
    )


def _valves(routed: Routed, part: ScorePart) -> Section | None:
    groups: dict[tuple[str, str], list[str]] = {}
    engaged: dict[tuple[str, str], Place] = {}
    for number, place in sorted(routed.places.items()):
        if place.valves:
            key = (part.notes[number].sounding.pretty, routed.marks[number])
            groups.setdefault(key, []).append(part.notes[number].measure)
            engaged[key] = place
    order = sorted(groups, key=lambda key: (engaged[key].valves, engaged[key].position))
    rows = [
        (
            name,
            text,
            valve_words(engaged[name, text].valves).strip(),
            listed_measures(groups[name, text]),
        )
        for name, text in order
    ]
    return _section("Notes with a valve", ("note", "mark", "", "measures"), rows)


def listed_measures(measures: Sequence[str], most: int = 14) -> str:
    """Measure numbers, each once, ``most`` of them."""
    unique = list(dict.fromkeys(measures))
    more = f" and {len(unique) - most} more" if len(unique) > most else ""
    return ", ".join(unique[:most]) + more


def _unusual(routed: Routed, part: ScorePart) -> Section | None:
    groups: dict[tuple[str, str], list[int]] = {}
    for number in sorted(routed.places):
        if routed.is_unusual(number):
            key = (part.notes[number].sounding.pretty, routed.marks[number])
            groups.setdefault(key, []).append(number)
    rows = []
    for (name, text), numbers in groups.items():
        first = numbers[0]
        reason = routed.note(first).reason or "it lies nearer to its neighbours than the usual one"
        measures = list(dict.fromkeys(part.notes[number].measure for number in numbers))
        if len(measures) > 1:
            reason += f" (so in measure {measures[0]})"
        rows.append((listed_measures(measures, 6), name, text, reason))
    return _section("Unusual places, and why", ("measure", "note", "mark", ""), rows)


def _caution(routed: Routed) -> Section | None:
    if routed.setup.book.limits.reach is not None:
        return None
    if not any(place.position >= FAR_POSITION for place in routed.places.values()):
        return None
    return Section("Caution", (), CAUTION)
