"""Words for fitting a horn: what it was fitted to, how sure it is, what to play next."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.instrument.fitting.advice import NextNote, PlaceReport
from handslide.instrument.horn import Horn
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.translate import Translator

# Translators: what a fitted horn is called: the horn that the fit began from, and this word.
FITTED_TITLE = N_("{horn}, fitted")
HEADINGS: Mapping[str, Message] = {
    "places": N_("Places (95 % intervals)"),
    "deviations": N_("Deviations: cents closed, cents per metre"),
    "noticed": N_("What the notes show"),
    "left_out": N_("Left out"),
    "next": N_("Play next, to learn most"),
}
# Translators: stands in a table where the valves of a note would stand.
NO_VALVE = NP_("no valve", "open")
OFF_BASE = N_("closed slide {off_cents:+.0f} cents from {base} in tune")
_NOTES = NN_("{count} note", "{count} notes")
_LENGTH = N_("length {tube_mm:.0f} mm")
_LOOP = N_("{valve:valve} loop {loop_mm:.0f} mm")
_A4 = N_("A4 = {a4_hz:g} Hz")
# By whether there were only notes on the closed slide, and whether valves are down.
_WORST: Mapping[tuple[bool, bool], Message] = {
    (True, False): N_(
        "Closed-slide notes alone leave {pitch} in {position:.1f} ± {half_width_mm:.0f} mm"
    ),
    (True, True): N_(
        "Closed-slide notes alone leave {pitch} {valves:valves} in {position:.1f} ± "
        "{half_width_mm:.0f} mm"
    ),
    (False, False): N_("Known least: {pitch} in {position:.1f} ± {half_width_mm:.0f} mm"),
    (False, True): N_(
        "Known least: {pitch} {valves:valves} in {position:.1f} ± {half_width_mm:.0f} mm"
    ),
}
_FITTED = NN_(
    "Fitted from {count} note, starting from the horn {base!q}.",
    "Fitted from {count} notes, starting from the horn {base!q}.",
)
_LEAST_KNOWN = N_(
    "The usual place known least: {pitch} at {extension_mm:.0f} ± {half_width_mm:.0f} mm."
)
# By whether valves are down, and whether the slide is out.
_SPOT: Mapping[tuple[bool, bool], Message] = {
    (False, False): N_("{partial:partial} partial, closed slide"),
    (True, False): N_("{partial:partial} partial {valves:valves}, closed slide"),
    (False, True): N_("{partial:partial} partial, the slide {extension_mm:.0f} mm out"),
    (True, True): N_(
        "{partial:partial} partial {valves:valves}, the slide {extension_mm:.0f} mm out"
    ),
}
# Translators: {spot} is such as "3rd partial, closed slide"; {sounds} a note, with its cents.
_NEXT = N_(
    "{spot} (sounds about {sounds}): places on average ± {before_mm:.0f} → ± {after_mm:.0f} mm"
)
# Translators: a note that sounds some cents off.
_OFF_NOTE = N_("{pitch} {off_cents:+.0f} cents")
# Less off than this a note is called by its name alone.
_NEAR_CENTS = 10.0


def fitted_lines(say: Translator, told: Fact) -> tuple[str, str, str]:
    """How a fitted horn came to be, in sentences; the values of ``fitting.fitted_to``."""
    return (
        say(_FITTED, **told.values),
        say.sentence(say.written(told["scale"])),
        say(_LEAST_KNOWN, **told.values),
    )


def tube_words(say: Translator, horn: Horn, notes: int) -> str:
    """From how many notes, and the lengths that they told."""
    loops = [say(_LOOP, valve=valve.name, loop_mm=1000.0 * valve.loop_m) for valve in horn.valves]
    said = [say(_NOTES, count=notes), say(_LENGTH, tube_mm=1000.0 * horn.length_m)]
    return " · ".join([*said, ", ".join(loops)] if loops else said)


def scale_words(say: Translator, a4_hz: float, scale: Fact) -> str:
    """The tuning pitch, and where the millimetres come from."""
    return " · ".join((say(_A4, a4_hz=a4_hz), say.written(scale)))


def worst_words(say: Translator, worst: PlaceReport, *, closed_only: bool) -> str:
    """The usual place that is known least."""
    return say(
        _WORST[closed_only, bool(worst.place.valves)],
        pitch=worst.pitch,
        valves=worst.place.valves,
        position=worst.place.position,
        half_width_mm=worst.half_width_mm,
    )


def next_note_words(say: Translator, note: NextNote) -> str:
    """A note to play next, and what it would tell."""
    spot = say(
        _SPOT[bool(note.valves), note.extension_m > 0.0],
        partial=note.partial,
        valves=note.valves,
        extension_mm=1000.0 * note.extension_m,
    )
    sounds = say.written(note.pitch)
    if abs(note.off_cents) >= _NEAR_CENTS:
        sounds = say(_OFF_NOTE, pitch=note.pitch, off_cents=note.off_cents)
    return say(_NEXT, spot=spot, sounds=sounds, before_mm=note.before_mm, after_mm=note.typical_mm)
