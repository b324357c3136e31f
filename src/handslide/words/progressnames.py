"""What the page of a student's progress says of places, changes and what to practise."""

from collections.abc import Mapping

from handslide.words.messages import N_, NN_, Message

PROGRESS: Mapping[str, Message] = {
    "open": N_("open horn"),
    "nths": N_("1st 2nd 3rd 4th 5th 6th 7th 8th 9th 10th 11th 12th 13th 14th 15th 16th"),
    "note": N_("{note} in {place}"),
    "valves": NN_("with the {names} valve", "with the {names} valves"),
    "place.whole": N_("{nth} position"),
    "place.half": N_("halfway between {nth} and {next} position"),
    "place.long": N_("a long {nth} position"),
    "place.raised": N_("a raised {nth} position"),
    "place.valves": N_("{place} {valves}"),
    "group.all": N_("All notes"),
    "group.away": N_("All places away from 1st"),
    "group.out": N_("Notes after a move out"),
    "group.in": N_("Notes after a move in"),
    "group.valve": N_("Notes {valves}"),
    "group.partial": N_("Notes on the {nth} partial"),
    "off.none": N_("in tune"),
    "off.high": NN_("{count} cent too high", "{count} cents too high"),
    "off.low": NN_("{count} cent too low", "{count} cents too low"),
    "slide.none": N_("where it should be"),
    "slide.out": N_("{mm} mm too far out"),
    "slide.in": N_("{mm} mm too short"),
    "changed.bias": N_("{early} at first, {late} now"),
    "changed.steadier": N_("steadier: within ±{late} cents now, ±{early} at first"),
    "changed.looser": N_("less steady: within ±{late} cents now, ±{early} at first"),
    "changed.right": N_("{late} of 100 notes right now, {early} at first"),
    "interval.cents": N_("change {by} cents, 95 % interval {low} to {high}"),
    "interval.share": N_("change {by} of 100, 95 % interval {low} to {high}"),
    "why.slide": N_("{off}: the slide is {slide}"),
    "why.valve_in": N_("{off}: the valve's own tuning slide may have to go in"),
    "why.valve_out": N_("{off}: the valve's own tuning slide may have to go out"),
    "why.unsteady": N_("now higher, now lower: ±{cents} cents"),
    "why.faults": N_("{wrong} of {tried} wrong or not heard"),
    "why.unsure": N_("{why}, as far as can be told yet"),
    "how.faults": N_("Sing it, buzz it, then play it slowly with the note before it."),
    "how.unsteady": N_(
        "Play it three times in a row, each time from the air, until all three sound alike."
    ),
    "how.valve": N_("Hold it against a drone with and without the valve."),
    "how.rest": N_("Hold it against a drone and find where it rests."),
    "how.drone_in": N_(
        "Hold it against a drone and move the slide {mm} mm further in until the beats stop."
    ),
    "how.drone_out": N_(
        "Hold it against a drone and move the slide {mm} mm further out until the beats stop."
    ),
    "how.move_in": N_(
        "Slowly, then in time: let the slide arrive {mm} mm further in before you tongue."
    ),
    "how.move_out": N_(
        "Slowly, then in time: let the slide arrive {mm} mm further out before you tongue."
    ),
    "more.many": N_("many more takes"),
    "more.enough": N_("enough takes"),
    "more": NN_("one more take", "about {count} more takes"),
    "picture.high": N_("high"),
    "picture.low": N_("low"),
    "picture.further": N_("further out"),
    "tuning.picture": N_("Tuning of the horn"),
    "strip.label": N_(
        "The slide with each place and where it was played; the table of places says the "
        "same in numbers"
    ),
}
