"""Names of things of horns and their history."""

from collections.abc import Mapping

from handslide.words.horns import MODELS
from handslide.words.messages import N_, Message

NAMES: Mapping[str, Mapping[str, Message]] = {
    "horn": MODELS,
    "horn_about": {
        "tenor": N_("Straight, no valve, seven positions."),
        "tenor-f": N_("One thumb valve: the usual student and orchestra horn."),
        "tenor-f-long": N_("As above with more room: low C is easy."),
        "tenor-e": N_("The loop pulled out as far as E, for low B."),
        "bass-independent": N_("Each valve works alone or with the other."),
        "bass-dependent": N_("The second valve works only together with the first."),
        "alto": N_("Small and high, no valve."),
        "alto-bb": N_("With a valve down to B♭."),
        "soprano": N_("An octave above the tenor."),
        "tenor-c-bb": N_(
            "For children: a short slide, and a valve up to C that saves the far positions."
        ),
        "contrabass-f": N_("A fourth below the tenor."),
    },
    "horn_origin": {
        "model": N_("as it is built"),
        "edit": N_("edited by hand"),
        "fit": N_("measured by ear"),
        "tuning": N_("tuned"),
        "restored": N_("used again"),
        "import": N_("from a horn file"),
    },
    "horn_change": {
        "nothing": N_("No value changed."),
        "closed": N_("first partial, open"),
        "valves": N_("valves"),
        "travel": N_("travel"),
        "bell": N_("bell rim"),
        "lip": N_("lipped up"),
        "measured_temp": N_("air while measured"),
        "speed_scale": N_("scale of the millimetres"),
        "deviations": N_("single partials measured anew"),
        "uncertainties": N_("how sure the places are, worked out anew"),
        "title": N_("built as"),
    },
}
