"""What is said of each kind of fact whose topic is ``horn``."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.hints import STUDIO
from handslide.words.horns import HORN_LINE, model_name
from handslide.words.messages import N_, NN_, Message
from handslide.words.tellers import Teller
from handslide.words.translate import Translator

# Translators: units after a number: "must be a number, in mm", "outside 150 to 1200 mm".
_UNITS = {
    "mm": N_("mm"),
    "Hz": N_("Hz"),
    "°C": N_("°C"),
    "cents": N_("cents"),
    "cents_per_m": N_("cents per metre"),
    "formula": N_("times the formula"),
}
_NOT_A_NUMBER = N_("{key} = {value} must be a number, in {unit}")
_OUTSIDE = N_("{key} = {value:g} is outside {low:g} to {high:g} {unit}")
# Who never opens a horn file doesn't know its keys.
_OUTSIDE_ON_PAGE = {
    "lip_up_cents": N_("lipping up of {value:g} is outside {low:g} to {high:g} cents"),
    "temp_c": N_("air of {value:g} is outside {low:g} to {high:g} °C"),
    # Their true limits are told by kinds of their own: this is for what is no length at all.
    "travel_mm": N_("the slide's travel can't be {value:g} mm"),
    "bell_mm": N_("the bell's rim can't be {value:g} mm along the slide"),
}


def _model(say: Translator, told: Fact) -> str:
    return model_name(say, told["model"])


def _not_a_number(say: Translator, told: Fact) -> str:
    return say(_NOT_A_NUMBER, **{**told.values, "unit": _UNITS[told["unit"]]})


def _outside(say: Translator, told: Fact) -> str:
    if say.face == STUDIO and told["key"] in _OUTSIDE_ON_PAGE:
        return say(_OUTSIDE_ON_PAGE[told["key"]], **told.values)
    return say(_OUTSIDE, **{**told.values, "unit": _UNITS[told["unit"]]})


def _in(file: Message, page: Message) -> Teller:
    """In the words of a horn file, and in those of the studio's pages."""

    def tell(say: Translator, told: Fact) -> str:
        return say(page if say.face == STUDIO else file, **told.values)

    return tell


KINDS: Mapping[str, Message | Teller] = {
    "horn.model": _model,
    "horn.line": HORN_LINE,
    "horn.reach": N_("a reach of {reach:g} isn't a position: give 1 to 12, such as 6 or 5.5"),
    "horn.no_valve": N_("{horn} has no valve called {valve!q} (its valves: {valves})"),
    "horn.no_valves": N_("{horn} has no valve called {valve!q}: it has no valves"),
    # Translators: a horn file describes a horn; its keys are English: leave them.
    "horn.unknown": N_(
        "no horn called {name!q} (there are {known}, or the path of a horn file of your own)"
    ),
    "horn.unknown_near": N_(
        "no horn called {name!q}: did you mean {near}? (there are {known}, or the path of a horn "
        "file of your own)"
    ),
    "horn.unknown_here": N_("no horn called {name!q} (there are {known})"),
    "horn.is_folder": N_("{path} is a folder, not a horn file"),
    "horn.too_large": N_("{path} is too large for a horn file"),
    "horn.missing": N_("there is no horn file {path}"),
    "horn.not_text": N_("{path} isn't text in UTF-8: is it a horn file?"),
    "horn.unreadable": N_("can't read {path}: {reason}"),
    "horn.not_toml": N_("{source} isn't valid TOML: {reason}"),
    "horn.unknown_key": N_("unknown key {key!q}: known keys are {known}"),
    "horn.unknown_key_near": N_("unknown key {key!q}: did you mean {near}?"),
    # Translators: a student's horn that was stored; {cause} is what is wrong with it.
    "horn.unread": N_(
        "the horn {horn!q} can't be read any more: open it on the student's page and use a former "
        "version again, or add another ({cause})"
    ),
    # Translators: where in a horn file something is wrong, and what.
    "horn.in_file": N_("{source}: {cause}"),
    "horn.in_valve": N_("valve {number}: {cause}"),
    "horn.in_deviation": N_("deviation {number}: {cause}"),
    "horn.in_uncertainty": N_("uncertainty {number}: {cause}"),
    "horn.closed_or_hz": N_(
        'give either closed (a note such as "Bb1") or closed_hz (a measured frequency), for the '
        "first partial of the closed slide"
    ),
    "horn.closed_in_quotes": N_('closed = {value} must be a note in quotes, such as "Bb1"'),
    "horn.closed_either": N_("a closed tube needs either a note or a frequency in Hz, not both"),
    "horn.bell": N_(
        "the bell's rim can't be {bell_mm:g} mm along the slide: measure how far out its brace is "
        "level with the rim ({least_mm:g} to {most_mm:g} mm)"
    ),
    "horn.travel_missing": N_("travel_mm is missing: how far the slide goes out, in millimetres"),
    "horn.travel_in_mm": N_(
        "travel_mm is missing: how far the slide goes out, in millimetres (there is {key}: write "
        "it in millimetres)"
    ),
    "horn.travel_outside": _in(
        N_("travel_mm = {value:g} is outside 150 to 1200 mm"),
        N_("the slide's travel of {value:g} is outside 150 to 1200 mm"),
    ),
    "horn.travel_metres": _in(
        N_(
            "travel_mm = {value:g} is outside 150 to 1200 mm: is that in metres? {value:g} metres "
            "are travel_mm = {travel_mm:.0f}"
        ),
        N_(
            "the slide's travel of {value:g} is outside 150 to 1200 mm: is that in metres? "
            "{value:g} metres are {travel_mm:.0f} mm"
        ),
    ),
    "horn.travel_centimetres": _in(
        N_(
            "travel_mm = {value:g} is outside 150 to 1200 mm: is that in centimetres? {value:g} "
            "centimetres are travel_mm = {travel_mm:.0f}"
        ),
        N_(
            "the slide's travel of {value:g} is outside 150 to 1200 mm: is that in centimetres? "
            "{value:g} centimetres are {travel_mm:.0f} mm"
        ),
    ),
    "horn.travel_inches": _in(
        N_(
            "travel_mm = {value:g} is outside 150 to 1200 mm: is that in inches? {value:g} inches "
            "are travel_mm = {travel_mm:.0f}"
        ),
        N_(
            "the slide's travel of {value:g} is outside 150 to 1200 mm: is that in inches? "
            "{value:g} inches are {travel_mm:.0f} mm"
        ),
    ),
    "horn.valve_name": N_('name is missing: the note of its loop, such as "F"'),
    "horn.valve_needs_name": N_("needs = {value} must be the name of another valve in quotes"),
    "horn.valve_list": N_('valves must be a list of names such as ["F"], [] for the open horn'),
    "horn.partial": N_("partial = {value} must be a whole number from 1 to 16"),
    "horn.number_list": N_("{key} = {value} must be a list of numbers, in mm"),
    "horn.table_list": N_("{key} must be a list of tables: write [[{key}]] before each"),
    "horn.not_text_value": N_("{key} = {value} must be text in quotes"),
    "horn.not_a_number": _not_a_number,
    "horn.outside": _outside,
    "horn.uncertainty_count": NN_(
        "{count} uncertainty for {extensions} extensions: give one for each",
        "{count} uncertainties for {extensions} extensions: give one for each",
    ),
    "horn.uncertainty_order": N_("the extensions of uncertainties must rise"),
    "horn.uncertainty_valves": N_(
        "an uncertainty names valves {valves:together} that this horn can't engage"
    ),
    "horn.deviation_valves": N_(
        "a deviation names valves {valves:together} that this horn can't engage"
    ),
    "horn.a4": N_("A4 = {a4_hz:g} Hz is outside 380 to 500 Hz (the usual is 440)"),
    "horn.length": N_(
        "a tube of {length_m:.3g} m isn't a slide-brass horn (0.5 to 12 m): is the closed pitch "
        "the first partial, in the right octave?"
    ),
    "horn.travel": N_("a slide travel of {travel_mm:g} mm isn't possible"),
    "horn.many_valves": N_("{count} valves; at most {most} are supported"),
    "horn.valve_twice": N_("two valves are called {valve!q}"),
    "horn.valve_needs": N_(
        "valve {valve!q} needs valve {needs!q}, which must be listed before it (is the name "
        "misspelt?)"
    ),
    "horn.valve_loop": N_(
        "valve {valve!q} would change the tube by {loop_m:.3f} m: is its closed pitch the first "
        "partial, in the right octave?"
    ),
}
