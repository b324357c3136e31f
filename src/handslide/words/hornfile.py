"""The comments in a horn file that handslide writes, by what they stand beside."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message

COMMENTS: Mapping[str, Message] = {
    "closed": N_("first partial of the closed slide"),
    "closed_with_valve": N_("first partial of the closed slide with the valve down"),
    "temp": N_("air in the horn while it was measured"),
    "speed_scale": N_("of the millimetres: speed of sound found / formula"),
    "extensions": N_("Extensions for the half-widths below (95 % intervals of places, mm)."),
    # Translators: stands where a number of a partial would stand.
    "other_partials": N_("all other partials"),
}
