"""What there is to say of one note: how high it was, where the slide was, what else was heard."""

from typing import Any

from handslide.ground.facts import Fact, fact
from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.ground.pitch import Pitch, from_midi
from handslide.ground.units import cents, midi_to_hz
from handslide.instrument.heardplace import CLOSED_M, extension_of, why_not_there
from handslide.instrument.marks import position_text
from handslide.instrument.places import TOP_PARTIAL, Place
from handslide.jobs.setup import Setup
from handslide.sound.follow import Match
from handslide.sound.notes import HeardNote

IN_TUNE = fact("takes.in_tune")
# Of a take that is off as a whole.
IN_TUNE_WITH_REST = fact("takes.in_tune_with_rest")
TOO_QUICK = fact("takes.too_quick")
# A note that came so much later than its time was waited for.
LATE_S = 0.8
_UNSTEADY_CENTS = 20.0
_SAME_PLACE_CENTS = 45.0


def note_facts(
    setup: Setup,
    pitch: Pitch,
    place: Place | None,
    match: Match,
    heard: HeardNote | None,
    off_cents: float | None,
    slide_mm: float | None,
    common_cents: float = 0.0,
) -> tuple[Fact, ...]:
    """What became of a note of a part, and what else there is to say of it.

    ``off_cents`` and ``slide_mm`` are beside ``common_cents``, what the whole take is off by.
    """
    if match.played == "missing":
        if match.outside:
            return (fact("takes.outside"),)
        return (fact("takes.missing") if place is not None else fact("takes.not_on_horn"),)
    if match.played == "unsure" or heard is None:
        return (fact("takes.unsure"),)
    if match.played == "wrong":
        return (_wrong(setup, place, heard),)
    said = []
    if match.played == "octave":
        way = 1 if heard.midi > pitch.midi else -1
        octaves = way * round(abs(heard.midi - pitch.midi) / 12)
        said.append(fact("takes.octave", octaves=octaves))
    elif off_cents is not None:
        said.append(_tune(setup, pitch, place, heard, off_cents, slide_mm, common_cents))
    else:
        said.append(TOO_QUICK)
    if match.joined:
        said.append(fact("takes.joined"))
    wide = heard.spread_cents is not None and heard.spread_cents > _UNSTEADY_CENTS
    if wide and heard.vibrato_cents is None:
        said.append(fact("takes.unsteady"))
    if match.waited_s > LATE_S:
        said.append(fact("takes.waited"))
    return tuple(said)


def free_facts(
    place: Place | None,
    mark: str,
    off_cents: float | None,
    off_mm: float | None,
    common_cents: float = 0.0,
) -> tuple[Fact, ...]:
    """What there is to say of a note that was played without a part, if in its usual place.

    ``off_cents`` and ``off_mm`` are beside ``common_cents``, what the whole take is off by; None
    where the note was too quick to be measured.
    """
    if off_cents is None:
        return (TOO_QUICK,) if place is not None else (TOO_QUICK, fact("takes.no_place"))
    off = _off(off_cents, common_cents)
    if abs(off_cents) < IN_TUNE_CENTS:
        tune = IN_TUNE_WITH_REST if common_cents else IN_TUNE
    elif place is None or off_mm is None:
        tune = fact("takes.off", **off)
    elif place.extension_m <= CLOSED_M and off_mm < 0:
        tune = fact("takes.off_because", **off, why=fact("hearing.lip_or_tuning"))
    else:
        why = fact("hearing.slide_if", slide_mm=off_mm, mark=mark)
        tune = fact("takes.off_because", **off, why=why)
    return (tune,) if place is not None else (tune, fact("takes.no_place"))


def _tune(
    setup: Setup,
    pitch: Pitch,
    place: Place | None,
    heard: HeardNote,
    off_cents: float,
    slide_mm: float | None,
    common_cents: float,
) -> Fact:
    off = _off(off_cents, common_cents)
    if abs(off_cents) < IN_TUNE_CENTS:
        return IN_TUNE_WITH_REST if common_cents else IN_TUNE
    if abs(off_cents) < 2.0 * (heard.cents_se or 0.0):
        return fact("takes.off_unsure", **off)
    if place is None or slide_mm is None:
        return fact("takes.off", **off)
    target = midi_to_hz(pitch.midi, setup.horn.a4_hz)
    # As it would have sounded with the horn in tune.
    f0_hz = heard.f0_hz * 2.0 ** (-common_cents / 1200.0)
    others = [other for other in setup.book.places(pitch.midi) if other != place]
    why = why_not_there(setup.horn, place, f0_hz, target, others)
    if why is None:
        closed = place.extension_m <= CLOSED_M
        why = (
            fact("hearing.not_closed", slide_mm=slide_mm)
            if closed
            else fact("hearing.slide", slide_mm=slide_mm)
        )
    return fact("takes.off_because", **off, why=why)


def whole_take(common_cents: float) -> tuple[Fact, ...]:
    """What a summary says of a take that is off as a whole."""
    return (fact("takes.whole", cents=common_cents),) if common_cents else ()


def _off(off_cents: float, common_cents: float) -> dict[str, Any]:
    """How far a note was off, and whether that is beside the rest of its take."""
    return {"cents": off_cents} | ({"rest": True} if common_cents else {})


def _wrong(setup: Setup, place: Place | None, heard: HeardNote) -> Fact:
    played = from_midi(heard.midi)
    if place is None:
        return fact("takes.wrong", pitch=played)
    horn = setup.horn
    for partial in range(1, TOP_PARTIAL + 1):
        here = horn.frequency_hz(partial, place.extension_m, place.valves)
        if partial != place.partial and abs(cents(heard.f0_hz / here)) < _SAME_PLACE_CENTS:
            return fact("takes.wrong_partial", pitch=played, steps=partial - place.partial)
    where = extension_of(horn, heard.f0_hz, place.partial, place.valves)
    if -CLOSED_M <= where <= horn.travel_m:
        position = position_text(horn.position(max(where, 0.0)))
        return fact("takes.wrong_position", pitch=played, mark=position)
    return fact("takes.wrong", pitch=played)
