"""What stands on charts: names and titles of the sheets, signs explained, texts beside drawings."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from handslide.instrument.horn import Horn
from handslide.words.comparison import SPAN
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.places import valve_label, valve_name, where, with_valves
from handslide.words.translate import Translator


@dataclass(frozen=True, slots=True)
class SheetWords:
    """A chart sheet in lists to choose from, what it is in a sentence, and its title on paper."""

    name: Message
    about: Message
    title: Message


SHEETS: Mapping[str, SheetWords] = {
    "all": SheetWords(
        NP_("chart sheet", "All notes"),
        N_("Every note with its places and the slide drawn to scale."),
        NP_("title", "Where the notes lie"),
    ),
    "valve": SheetWords(
        NP_("chart sheet", "Notes for the valve"),
        N_("The notes that are best taken with a valve."),
        NP_("title", "Notes for the valve"),
    ),
    "open": SheetWords(
        NP_("chart sheet", "Notes without the valve"),
        N_("The horn as if it had no valve."),
        NP_("title", "Notes without the valve"),
    ),
    "alternates": SheetWords(
        NP_("chart sheet", "Notes with several places"),
        N_("The notes that lie in more than one place."),
        NP_("title", "One note, several places"),
    ),
    "wall": SheetWords(
        NP_("chart sheet", "Wall chart"),
        N_("The usual place of every note, to be read from three metres."),
        NP_("title", "Where the notes lie"),
    ),
    "blank": SheetWords(
        NP_("chart sheet", "Sheet to fill in"),
        N_("The notes with their names; the places are for the student to write."),
        NP_("title", "Where do the notes lie?"),
    ),
    "grid": SheetWords(
        NP_("chart sheet", "Harmonic grid"),
        N_("Every partial against the slide: all that the horn can play."),
        NP_("title", "All that this horn can play"),
    ),
    "strip": SheetWords(
        NP_("chart sheet", "Slide strip"),
        N_("A paper ruler at true size, to lay along the slide."),
        NP_("title", "Slide strip"),
    ),
    "compare": SheetWords(
        NP_("chart sheet", "Two horns compared"),
        N_("Both horns beside each other, note by note."),
        NP_("title", "Two horns side by side"),
    ),
}
# Translators: a sheet's title and the student that it is for.
_TITLE = NP_("title", "{title} · {student}")
# Translators: the title of one document with the sheets of a whole class; {name} is its file's.
_CLASS = NP_("title", "{name}: {sheet}")
CLASS = NP_("title", "Class")
# Translators: said of a clef that transposes: "written in treble clef in B♭, sounding a major …".
WRITTEN_IN = N_("written in {clef}")
OPEN_HORN = N_("open horn")
# Translators: a set of valves: F valve; F and G♭ valves.
_VALVES = NN_("{valves} valve", "{valves} valves")


def sheet_title(say: Translator, sheet: str, student: str = "") -> str:
    """The title of a sheet on paper."""
    title = say(SHEETS[sheet].title)
    return say(_TITLE, title=title, student=student) if student else title


def class_title(say: Translator, name: str, sheet: str) -> str:
    """The title of the document with everybody's sheet; ``name`` empty: just a class."""
    return say(_CLASS, name=name or say(CLASS), sheet=say(SHEETS[sheet].name))


def valve_set(say: Translator, valves: Sequence[str], open_horn: Message = OPEN_HORN) -> str:
    """A set of valves: ``F and G♭ valves``, ``open horn``."""
    if not valves:
        return say(open_horn)
    names = [valve_name(say, name) for name in valves]
    return say(_VALVES, count=len(valves), valves=names)


# Signs, explained at the foot of the page.

_UNCERTAIN = N_("mm, and the bar through a dot: so far the place is known (95 %)")
# Translators: what a small lowered figure beside a mark means.
_ON_PARTIAL = N_("on the {number:partial} partial")
_LIP_UP = N_("lip up {cents} cents")
_SHORTER = N_("underlined: shorter slide than the usual place")
_USUAL = N_("usual place, {valves}")
_USUAL_OPEN = N_("usual place, open horn")
OTHER = N_("hollow: another place")


FILL_IN = N_(
    "Write the position of each note into its box, with the sign of the valve if it needs one, and "
    "draw a dot where the slide is."
)


def uncertain_sign(say: Translator) -> tuple[str, str]:
    """Sign and meaning of how well a place is known."""
    return "±15", say(_UNCERTAIN)


def note_signs(
    say: Translator, horn: Horn, *, lipped: bool, shorter: bool, sets: Sequence[int], others: bool
) -> list[tuple[str, str]]:
    """What a note sheet draws beside the marks, as (sign, meaning).

    ``sets`` are the numbers of the valve sets that occur; the flags say what else does.
    """
    signs = [("index:4:3", say(_ON_PARTIAL, number=3))]
    if lipped:
        signs.append(("↑14", say(_LIP_UP, cents=14)))
    if shorter:
        signs.append(("_", say(_SHORTER)))
    for number in sets:
        valves = horn.valve_sets[number]
        usual = say(_USUAL, valves=with_valves(say, valves)) if valves else say(_USUAL_OPEN)
        signs.append((f"dot:{number}", usual))
    if others:
        signs.append(("ring:0", say(OTHER)))
    return signs


# The harmonic grid.

# Translators: the open horn, over a narrow column of numbers and in a key.
_OPEN = NP_("narrow column", "open")
PARTIAL = N_("partial")
USUAL_MARKED = N_("usual place, with its mark")
LIPPED_CLOSED = N_("lipped up on the closed slide")
END_OF_SLIDE = N_("end of the slide")
BEYOND_REACH = N_("beyond reach")
_NEVER = N_("not on this horn: {notes}")
_NOT_YET = N_("not yet for this student: {notes}")
# Translators: notes that the horn has but a sheet doesn't show.
_NOT_IN_SHEET = N_("not on this sheet: {notes}")


def valve_column(say: Translator, valves: Sequence[str]) -> str:
    """A set of valves over a narrow column: ``F+G♭``, ``open``."""
    return "+".join(valve_label(say, name) for name in valves) or say(_OPEN)


def valve_key(say: Translator, valves: Sequence[str]) -> str:
    """A set of valves in the key: ``F and G♭ valves``, ``open``."""
    return valve_set(say, valves, _OPEN)


def missing_notes(say: Translator, first: str, last: str, *, ever: bool) -> str:
    """That the notes from one name to another aren't there: ever, or for this student."""
    notes = first if first == last else say(SPAN, first=first, last=last)
    return not_there(say, notes, ever=ever)


def not_there(say: Translator, notes: str, *, ever: bool) -> str:
    """That notes can't be played: ever, or by this student."""
    return say(_NEVER if ever else _NOT_YET, notes=notes)


def not_in_sheet(say: Translator, notes: str) -> str:
    """That a sheet leaves notes out which the horn has."""
    return say(_NOT_IN_SHEET, notes=notes)


# Landmarks along the slide.

RIM = N_("bell rim")
# Translators: where the bell's rim is along the slide, and which positions lie near it.
_RIM_AT = N_("bell rim at {mm:.0f} mm: {near}")
_RIM_ALONE = N_("bell rim at {mm:.0f} mm")
_BEFORE_RIM = N_("{position:position} {mm:.0f} mm before it")
_BEYOND_RIM = N_("{position:position} {mm:.0f} mm beyond it")
_AT_RIM = N_("{position:position} level with it")
# Further away than this the eye has no use for it.
_NEAR_RIM_MM = 100.0


def landmarks(say: Translator, horn: Horn) -> str:
    """Which positions lie near the bell's rim, and by how much; empty where it isn't known."""
    if horn.bell_m is None:
        return ""
    near = []
    for position in range(1, 8):
        extension_m = horn.extension_m(position)
        past = round(1000.0 * (extension_m - horn.bell_m))
        if extension_m > horn.travel_m or abs(past) > _NEAR_RIM_MM:
            continue
        message = _AT_RIM if past == 0 else _BEYOND_RIM if past > 0 else _BEFORE_RIM
        near.append(say(message, position=position, mm=abs(past)))
    return say(
        _RIM_AT if near else _RIM_ALONE, mm=1000.0 * horn.bell_m, near=say.listed(near)
    )  # fmt: skip


# The slide strip.

_CUT = N_("Cut the strip out along the dashed lines.")
_GLUE = N_(
    "Cut the parts out along the dashed lines and glue each hatched tab under the next part, so "
    "that the points of the black arrows meet."
)
_LAY = N_(
    "Close the slide against the stop, lay the strip beside it with the zero end at the cross "
    "brace of the outer slide, and read where this brace stands as the slide moves out: open "
    "positions along the upper edge."
)
_LAY_VALVES = N_(
    "Close the slide against the stop, lay the strip beside it with the zero end at the cross "
    "brace of the outer slide, and read where this brace stands as the slide moves out: open "
    "positions along the upper edge, the notes with a valve below."
)
# Translators: two rows beside a line; the second goes on from the first.
PRINT_TRUE = N_("Print at 100 %, not fitted to the page:"), N_("this line must measure 100 mm.")
_OCTAVES = N_("The places are for the partials 2, 4 and 8.")
_MEASURED = N_("The places are for the 2nd partial as it was measured on this horn.")
_VALVE_NOTES = N_("Valve notes are named for the 2nd partial, in tune with A4.")
# Translators: offsets: a list such as "3rd partial 12 mm further out, 5th partial 9 mm further in".
_OTHERS = N_("Other partials lie beside these places, at most: {offsets}.")
_FURTHER_OUT = N_("{number:partial} partial {mm:.0f} mm further out")
_FURTHER_IN = N_("{number:partial} partial {mm:.0f} mm further in")
_LIPPED = N_("{mm:.0f} mm, lipped up {cents:.0f} cents")
CLOSED = N_("closed slide, against the stop")
_REACH = N_("reach: {position}, to {mm:.0f} mm")
_REACH_SHORT = N_("reach to {mm:.0f} mm")
_PART = N_("part {number} of {total}")
_GLUE_UNDER = N_("glue under part {number}")
# Translators: tuning and temperature on a part of the strip; A4 is the note.
_AIR = N_("A4 = {a4_hz} Hz · {temp_c} °C")


def how_to(say: Translator, *, parts: bool, valves: bool) -> str:
    """How a strip is cut out and laid along the slide."""
    return f"{say(_GLUE if parts else _CUT)} {say(_LAY_VALVES if valves else _LAY)}"


def partials_note(say: Translator, horn: Horn, offsets_mm: Sequence[tuple[int, float]]) -> str:
    """Which partials a strip is for, and how far others lie beside it (negative: further in)."""
    measured = any(row.partial == 2 for row in horn.deviations)
    said = [say(_MEASURED if measured else _OCTAVES)]
    if horn.valves:
        said.append(say(_VALVE_NOTES))
    offsets = [
        say(_FURTHER_OUT if off > 0 else _FURTHER_IN, number=partial, mm=abs(off))
        for partial, off in offsets_mm
    ]
    if offsets:
        said.append(say(_OTHERS, offsets=", ".join(offsets)))
    return " ".join(said)


def lipped(say: Translator, mm: float, cents: float) -> str:
    """Where a note lies that is lipped up on the closed slide."""
    return say(_LIPPED, mm=mm, cents=cents)


def reach_on_strip(say: Translator, reach: float, mm: float) -> tuple[str, str]:
    """How far a reach goes, in full and in short."""
    full = say(_REACH, position=where(say, reach, "full"), mm=mm)
    return full, say(_REACH_SHORT, mm=mm)


def part_of(say: Translator, number: int, total: int) -> str:
    """Which part of a strip this is."""
    return say(_PART, number=number, total=total)


def glue_under(say: Translator, number: int) -> str:
    """Where a tab goes: under the part of this number."""
    return say(_GLUE_UNDER, number=number)


def tuning_and_air(say: Translator, horn: Horn) -> str:
    """What the horn is tuned to, and its temperature."""
    return say(_AIR, a4_hz=say.number(horn.a4_hz), temp_c=say.number(horn.air.temp_c))


# Two horns compared.

EXPLAINED = N_(
    "mm: extension of the note's usual place. further: how much further out (−: in) the second "
    "horn has it. cents: how far off it is on the second horn with slide, valves and partial of "
    "the first; a dash: no such place there. Grey: another mark. Thick line: end of the slide "
    "(dashed: the second horn's)."
)
NOTE = NP_("column", "note")
MARK = NP_("column", "mark")
FURTHER = NP_("column", "further")
CENTS = NP_("column", "cents")
LACKING = N_("not on this horn")
OUTSIDE_CHART = N_("not in its chart")
