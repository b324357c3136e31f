"""What differs in two horns, in words and numbers: the block over their comparison."""

from collections.abc import Callable, Sequence

from handslide.ground.notenames import full_name
from handslide.ground.pitch import from_midi
from handslide.instrument.horn import Horn, Valve
from handslide.words.messages import N_, NP_, Message
from handslide.words.places import valve_label
from handslide.words.translate import Translator

_LENGTH = N_("acoustic length")
_TRAVEL = N_("slide travel")
_VALVES = N_("valves")
# Translators: the note that a horn is tuned to, before its frequency.
_A4 = NP_("tuning pitch", "A4")
_AIR = N_("air in the horn")
_MEASURED = N_("measured partials")
_ONLY = N_("only on this horn")
_NO_VALVES = NP_("valves", "none")
_NOT_MEASURED = N_("none: exact harmonics")
# Translators: a dependent valve: it works only together with another one.
_VALVE_WITH = N_("{valve} (with {other})")
# Translators: a measured partial by its number, with how many cents it is off; c: cents.
_CENTS = N_("{partial}: {cents} c")
_CENTS_WITH = N_("{valves} {partial}: {cents} c")
# Translators: from one note to another: C2 to E♭2.
SPAN = NP_("notes", "{first} to {last}")
NOTHING = "–"


def facts_of(
    say: Translator, one: tuple[str, Horn], other: tuple[str, Horn], only: tuple[str, str]
) -> tuple[tuple[str, str, str], ...]:
    """The block: what is compared, and how it is on each horn.

    The horns come with what they are called; ``only`` are the notes that each alone has. The names
    come first (what is compared is empty), then lengths in mm, valves, A4 and air, and the notes
    that only one of them has.
    """

    def row(what: Message, here: str, there: str) -> tuple[str, str, str]:
        return say(what), here, there

    (label, first), (other_label, second) = one, other
    rows = [
        ("", label, other_label),
        row(_LENGTH, _mm(first.length_m), _mm(second.length_m)),
        row(_TRAVEL, _mm(first.travel_m), _mm(second.travel_m)),
        row(_VALVES, _valves(say, first), _valves(say, second)),
        row(_A4, f"{say.number(first.a4_hz)} Hz", f"{say.number(second.a4_hz)} Hz"),
        row(_AIR, f"{say.number(first.air.temp_c)} °C", f"{say.number(second.air.temp_c)} °C"),
    ]
    if first.deviations or second.deviations:
        rows.append(row(_MEASURED, _measured(say, first), _measured(say, second)))
    if only != (NOTHING, NOTHING):
        rows.append(row(_ONLY, *only))
    return tuple(rows)


def note_spans(
    say: Translator, midis: Sequence[int], named: Callable[[int], str] | None = None
) -> str:
    """Notes by name, neighbours together: ``C2 to E♭2, B2``; a dash for none.

    ``named``: what a note is called; None: as it sounds.
    """
    spans: list[list[int]] = []
    for midi in sorted(midis):
        if spans and midi == spans[-1][-1] + 1:
            spans[-1].append(midi)
        else:
            spans.append([midi])
    texts = []
    for span in spans:
        names = [full_name(from_midi(m), say.names) if named is None else named(m) for m in span]
        few = len(names) < 3
        texts.append(", ".join(names) if few else say(SPAN, first=names[0], last=names[-1]))
    return ", ".join(texts) or NOTHING


def _mm(length_m: float) -> str:
    return f"{1000 * length_m:.0f} mm"


def _valves(say: Translator, horn: Horn) -> str:
    return ", ".join(_valve(say, valve) for valve in horn.valves) or say(_NO_VALVES)


def _valve(say: Translator, valve: Valve) -> str:
    sign = "+" if valve.loop_m > 0 else "−"
    text = f"{valve_label(say, valve.name)} {sign}{_mm(abs(valve.loop_m))}"
    if not valve.needs:
        return text
    return say(_VALVE_WITH, valve=text, other=valve_label(say, valve.needs))


def _measured(say: Translator, horn: Horn) -> str:
    if not horn.deviations:
        return say(_NOT_MEASURED)
    texts = []
    for row in horn.deviations:
        number = round(row.cents)
        cents = say.spelled_number(number, "+d" if number else "d")
        valves = "+".join(valve_label(say, name) for name in row.valves)
        message = _CENTS_WITH if valves else _CENTS
        texts.append(say(message, valves=valves, partial=row.partial, cents=cents))
    return ", ".join(texts)
