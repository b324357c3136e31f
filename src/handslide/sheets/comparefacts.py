"""What differs in two horns, in words and numbers: the block over their comparison."""

from dataclasses import dataclass

from handslide.ground.pitch import pretty_name
from handslide.instrument.horn import Horn


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of the block: what it is, and how it is on each horn."""

    what: str
    first: str
    second: str

    @property
    def differs(self) -> bool:
        """Whether the horns differ in it."""
        return self.first != self.second


def fact_rows(
    first: tuple[str, Horn], second: tuple[str, Horn], only_first: str, only_second: str
) -> tuple[Fact, ...]:
    """The block: names first (``what`` empty), lengths in mm, A4 and air, the notes of one only."""
    (one_label, one), (other_label, other) = first, second
    facts = [
        Fact("", one_label, other_label),
        Fact("acoustic length", _mm(one.length_m), _mm(other.length_m)),
        Fact("slide travel", _mm(one.travel_m), _mm(other.travel_m)),
        Fact("valves", _valves(one), _valves(other)),
        Fact("A4", f"{one.a4_hz:g} Hz", f"{other.a4_hz:g} Hz"),
        Fact("air in the horn", f"{one.air.temp_c:g} °C", f"{other.air.temp_c:g} °C"),
    ]
    if one.deviations or other.deviations:
        facts.append(Fact("measured partials", _measured(one), _measured(other)))
    if only_first != "–" or only_second != "–":
        facts.append(Fact("only on this horn", only_first, only_second))
    return tuple(facts)


def _mm(length_m: float) -> str:
    return f"{1000 * length_m:.0f} mm"


def _valves(horn: Horn) -> str:
    texts = []
    for valve in horn.valves:
        sign = "+" if valve.loop_m > 0 else "−"
        needs = f" (with {pretty_name(valve.needs)})" if valve.needs else ""
        texts.append(f"{pretty_name(valve.name)} {sign}{_mm(abs(valve.loop_m))}{needs}")
    return ", ".join(texts) or "none"


def _measured(horn: Horn) -> str:
    if not horn.deviations:
        return "none: exact harmonics"
    texts = []
    for row in horn.deviations:
        valves = "+".join(pretty_name(name) for name in row.valves)
        number = round(row.cents)
        sign = "+" if number > 0 else "−" if number else ""
        texts.append(f"{valves + ' ' if valves else ''}{row.partial}: {sign}{abs(number)} c")
    return ", ".join(texts)
