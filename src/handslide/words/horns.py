"""Horns by name, and the line that states how one is played."""

from handslide.instrument.horn import Horn, HornDescription
from handslide.instrument.places import Limits
from handslide.words.messages import N_
from handslide.words.places import valve_name, where
from handslide.words.translate import Translator

MODELS = {
    "tenor": N_("Tenor trombone in B♭"),
    "tenor-f": N_("Tenor trombone in B♭ with F valve"),
    "tenor-f-long": N_("Tenor trombone in B♭ with F valve and long slide"),
    "tenor-e": N_("Tenor trombone in B♭ with valve pulled to E"),
    "bass-independent": N_("Bass trombone in B♭ with independent F and G♭ valves"),
    "bass-dependent": N_("Bass trombone in B♭ with F valve and dependent D valve"),
    "alto": N_("Alto trombone in E♭"),
    "alto-bb": N_("Alto trombone in E♭ with B♭ valve"),
    "soprano": N_("Soprano trombone in B♭"),
    "tenor-c-bb": N_("Compact tenor trombone in B♭ with C valve"),
    "contrabass-f": N_("Contrabass trombone in F with C and D♭ valves"),
}
HORN_LINE = N_(
    "{horn} · A4 = {a4_hz:g} Hz · air in the horn {temp_c:g} °C · slide {travel_mm:.0f} mm"
)
# Translators: how far the student reaches: "reach: 6th position".
_REACH = N_("reach: {position}")
_VALVES = N_("valves: {names}")
_NO_VALVES = N_("valves: none yet")


def model_name(say: Translator, model: str) -> str:
    """What a horn of ours is called; the model's own name for one that isn't ours."""
    return say(MODELS[model]) if model in MODELS else model


def horn_title(say: Translator, horn: Horn | HornDescription) -> str:
    """What a horn is called: as its owner called it, else by its model."""
    return horn.title or model_name(say, horn.model or horn.name)


def horn_line(say: Translator, horn: Horn) -> str:
    """The horn, tuning pitch and air that every sheet states."""
    return say(
        HORN_LINE,
        horn=horn_title(say, horn),
        a4_hz=horn.a4_hz,
        temp_c=horn.air.temp_c,
        travel_mm=1000.0 * horn.travel_m,
    )


def limits_line(say: Translator, horn: Horn, limits: Limits) -> str:
    """Reach and learned valves in words; empty without limits."""
    said = []
    if limits.reach is not None:
        said.append(say(_REACH, position=where(say, limits.reach, "full")))
    if limits.learned is not None and horn.valves:
        names = [valve_name(say, name) for name in sorted(limits.learned)]
        said.append(say(_VALVES, names=", ".join(names)) if names else say(_NO_VALVES))
    return " · ".join(said)
