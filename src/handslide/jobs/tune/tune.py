"""Tuning advice from frequencies: which slide, which way, how far, and whether it matters."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from handslide.ground.errors import BadData, BadUsage, PitchError
from handslide.ground.facts import Fact, fact
from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.ground.notenames import class_name
from handslide.ground.pitch import Pitch, from_midi, parse_pitch
from handslide.ground.progress import ProgressCallback
from handslide.ground.units import A4_MIDI, cents, cents_to_ratio
from handslide.instrument.air import Air
from handslide.instrument.horn import Horn
from handslide.instrument.tuning import (
    DEFAULT_SE_CENTS,
    EPull,
    TuningSlideMove,
    cents_per_kelvin,
    loop_after_main,
    move,
    nearest_partial,
    note_after_loop,
    pull_for_low_note,
    sounding_tube_m,
    tune_loop,
    tune_note,
)
from handslide.jobs.setup import parse_learned
from handslide.jobs.tune.takes import Heard, note_from_take, pair_from_takes
from handslide.words.speech import Speech

# A partial that lies further from equal temperament by itself isn't one to tune the horn with.
_OWN_OFFSET_CENTS = 3.0
# Notes further apart than this: set for their middle, the outer ones are heard out of tune.
_APART_CENTS = 2.0 * IN_TUNE_CENTS


@dataclass(frozen=True, slots=True)
class NoteHeard:
    """A note of the closed slide as it sounded."""

    pitch: Pitch
    heard: Heard


@dataclass(frozen=True, slots=True)
class TuneResult:
    """Advice for one slide: the move (or the E-pull), what is to be said, and keys for JSON.

    ``facts`` begin with what was found.
    """

    horn: Horn
    slide: str
    difference_cents: float
    se_cents: float
    pull_mm: float
    pull_se_mm: float
    direction: str
    matters: bool
    facts: tuple[Fact, ...]
    more: dict[str, Any] = field(default_factory=dict)

    def text(self, say: Speech) -> str:
        """All that is to be said, a line each."""
        return "\n".join(say.fact(told) for told in self.facts)


def parse_note_hz(text: str) -> tuple[Pitch, float | None]:
    """Read ``F3=174.2``, or ``F3`` alone. Raises BadUsage or PitchError."""
    name, equals, number = text.partition("=")
    if not equals:
        return parse_pitch(name), None
    try:
        return parse_pitch(name), float(number)
    except ValueError as error:
        if isinstance(error, PitchError):
            raise
        raise BadUsage("tuning.not_note_hz", text=text) from None


def engaged(horn: Horn, names: Sequence[str] | None) -> tuple[str, ...]:
    """The valves that were down: ``names``, or the only valve that the horn has.

    Raises
    ------
    BadUsage
        When the horn has none, several to choose from, or not these together.
    """
    has = [valve.name for valve in horn.valves]
    if not has:
        raise BadUsage("tuning.no_valve", horn=horn.called)
    if not names:
        if len(has) > 1:
            raise BadUsage("tuning.which_valve", horn=horn.called, has=has)
        return (has[0],)
    for name in names:
        if name not in has:
            raise BadUsage("tuning.no_such_valve", horn=horn.called, valve=name, has=has)
    valves = tuple(name for name in has if name in names)
    if valves not in horn.valve_sets:
        raise BadUsage("tuning.needs_other_valve", horn=horn.called, valves=valves)
    return valves


def tune_pair(
    horn: Horn,
    open_hz: float,
    valve_hz: float,
    names: Sequence[str] | None = None,
    se_cents: tuple[float, float] = (DEFAULT_SE_CENTS, DEFAULT_SE_CENTS),
) -> TuneResult:
    """The same note without and with valves. Raises BadData or BadUsage."""
    valves = engaged(horn, names)
    advice = tune_loop(horn, valves, open_hz, valve_hz, se_cents)
    heard = fact(
        "tuning.against_open_horn",
        pitch=_name(horn, open_hz),
        valves=valves,
        difference_cents=advice.difference_cents,
        se_cents=advice.se_cents,
        valve_hz=valve_hz,
        open_hz=open_hz,
    )
    return _loop_result(horn, valves, advice, heard)


def tune_valve_note(
    horn: Horn,
    pitch: Pitch,
    hz: float,
    names: Sequence[str] | None = None,
    se_cents: float = DEFAULT_SE_CENTS,
) -> TuneResult:
    """A note with valves, slide closed, against A4. Raises BadData or BadUsage."""
    valves = engaged(horn, names)
    target = pitch.hz(horn.a4_hz)
    advice = tune_note(horn, valves, hz, target, se_cents)
    heard = _against_a4(horn, valves, pitch, hz, target, advice)
    return _loop_result(horn, valves, advice, heard, _own_offset(horn, valves, hz))


def tune_main(
    horn: Horn,
    pitch: Pitch,
    hz: float,
    *,
    play_temp_c: float | None = None,
    se_cents: float = DEFAULT_SE_CENTS,
) -> TuneResult:
    """An open note of the closed slide against A4, for the main slide.

    ``play_temp_c``: the air in the horn later; the horn will rise by itself, so it is tuned lower
    (or higher) now. Raises BadData or AirError.
    """
    target = pitch.hz(horn.a4_hz) * cents_to_ratio(-_rise_cents(horn, play_temp_c))
    advice = tune_note(horn, (), hz, target, se_cents)
    found = _against_a4(horn, (), pitch, hz, target, advice)
    return _main_result(horn, advice, [found], play_temp_c, _own_offset(horn, (), hz))


def tune_by_notes(
    horn: Horn,
    notes: Sequence[NoteHeard],
    names: Sequence[str] = (),
    *,
    play_temp_c: float | None = None,
) -> TuneResult:
    """Notes of the closed slide against A4, with valves or (``names`` empty) for the main slide.

    One is taken as :func:`tune_main` and :func:`tune_valve_note` do. Of several, what each lies off
    by the nature of its partial is taken away, and their mean decides; its standard error is
    that of the notes, or their scatter over √n where that is more.

    Raises
    ------
    BadData, BadUsage, AirError
        As those; BadData also without a note.
    """
    if not notes:
        raise BadData("tuning.no_notes")
    if len(notes) == 1:
        pitch, heard = notes[0].pitch, notes[0].heard
        if names:
            return tune_valve_note(horn, pitch, heard.hz, names, heard.se_cents)
        return tune_main(horn, pitch, heard.hz, play_temp_c=play_temp_c, se_cents=heard.se_cents)
    valves = engaged(horn, names) if names else ()
    rise = _rise_cents(horn, play_temp_c)
    offs, tubes = [], []
    for one in notes:
        target = one.pitch.hz(horn.a4_hz) * cents_to_ratio(-rise)
        off = tune_note(horn, valves, one.heard.hz, target).difference_cents
        offs.append(off - _own_cents(horn, valves, one.heard.hz)[1])
        tubes.append(sounding_tube_m(horn, one.heard.hz, valves))
    count = len(notes)
    mean = sum(offs) / count
    own_se = math.hypot(*(one.heard.se_cents for one in notes)) / count
    scatter = math.sqrt(sum((off - mean) ** 2 for off in offs) / (count - 1) / count)
    slide = valves[-1] if valves else "main"
    advice = move(slide, mean, max(own_se, scatter), sum(tubes) / count)
    found = [
        fact(
            "tuning.notes_against_a4",
            valves=valves,
            low_cents=min(offs),
            high_cents=max(offs),
            difference_cents=mean,
            se_cents=advice.se_cents,
            a4_hz=horn.a4_hz,
        )
    ]
    if max(offs) - min(offs) > _APART_CENTS:
        found.append(fact("tuning.notes_disagree", apart_cents=max(offs) - min(offs)))
    if valves:
        result = _loop_result(horn, valves, advice, found[0], found[1:])
    else:
        result = _main_result(horn, advice, found, play_temp_c)
    return replace(result, more=result.more | {"notes_cents": [round(off, 2) for off in offs]})


def _rise_cents(horn: Horn, play_temp_c: float | None) -> float:
    """How far the horn will rise by itself until it is ``play_temp_c`` warm. Raises AirError."""
    if play_temp_c is None:
        return 0.0
    return cents(Air(temp_c=play_temp_c).speed_m_s / horn.air.speed_m_s)


def _main_result(
    horn: Horn,
    advice: TuningSlideMove,
    found: Sequence[Fact],
    play_temp_c: float | None,
    own_offset: Sequence[Fact] = (),
) -> TuneResult:
    rise = _rise_cents(horn, play_temp_c)
    facts = [*found, *_move_facts(advice)]
    temp = horn.air.temp_c
    per_k = cents_per_kelvin(temp)
    if play_temp_c is None:
        per_k_mm = move("main", per_k, 0.0, advice.tube_m).pull_mm
        facts.append(
            fact("tuning.holds_for_air", temp_c=temp, degree_cents=per_k, degree_mm=per_k_mm)
        )
    else:
        facts.append(
            fact(
                "tuning.target_later",
                play_temp_c=play_temp_c,
                a4_hz=horn.a4_hz,
                temp_c=temp,
                rise_cents=rise,
            )
        )
    after = {}
    for valves in horn.valve_sets:
        if len(valves) == 1:
            after[valves[0]] = round(loop_after_main(horn, valves, advice.change_m), 2)
    moved = [
        fact("tuning.loop_moves", valve=valve, off_cents=off)
        for valve, off in after.items()
        if abs(off) >= 1.0
    ]
    if moved:
        facts.append(fact("tuning.loops_after_main", loops=moved))
    more = {"loops_after_cents": after, "rise_cents": round(rise, 2)}
    return _result(horn, advice, (*facts, *own_offset), more)


def pull_low(
    horn: Horn,
    names: Sequence[str] | None = None,
    low: str | None = None,
    max_pull_mm: float | None = None,
) -> TuneResult:
    """How far the loop must come out for a low note (default: a semitone above the first partial).

    Raises
    ------
    BadData
        When the slide and the loop together can't reach it.
    """
    valves = engaged(horn, names or [valve.name for valve in horn.valves][:1])
    first = A4_MIDI + cents(horn.speed_m_s / (2.0 * horn.length_m) / horn.a4_hz) / 100.0
    pitch = from_midi(round(first) + 1) if low is None else parse_pitch(low)
    if horn.loops_m(valves) <= 0.0:
        raise BadData("tuning.valve_shortens", horn=horn.called, valve=valves[-1])
    pull = pull_for_low_note(horn, valves, pitch.hz(horn.a4_hz), max_pull_mm)
    at_mm = 1000.0 * pull.extension_m
    if not pull.change_m:
        first_fact = fact(
            "tuning.no_pull", pitch=pitch, extension_mm=at_mm, travel_mm=1000.0 * horn.travel_m
        )
    else:
        first_fact = fact(
            "tuning.pull_loop",
            valve=valves[-1],
            pull_mm=whole_tenths_mm(pull.pull_mm),
            pitch=pitch,
            extension_mm=at_mm,
        )
    return TuneResult(
        horn, valves[-1], pull.lowered_cents, 0.0, pull.pull_mm, 0.0,
        "out" if pull.change_m else "none", bool(pull.change_m),
        (first_fact, *_pulled_facts(horn, pull), _air_fact(horn)),
        {"note": pitch.name, "loop_semitones": round(pull.semitones, 3),
         "extension_mm": round(1000.0 * pull.extension_m, 1)},
    )  # fmt: skip


def whole_tenths_mm(pull_mm: float) -> float:
    """A pull for a low note in tenths of a mm, rounded up.

    A little less would leave the note beyond the end of the slide.
    """
    return math.ceil(10.0 * pull_mm) / 10.0


def tune_typed(
    horn: Horn,
    *,
    open_hz: float | None = None,
    valve_hz: float | None = None,
    valves: str | None = None,
    note: str | None = None,
    main_note: str | None = None,
    play_temp_c: float | None = None,
    e_pull: bool = False,
    low: str | None = None,
    max_pull_mm: float | None = None,
    se_cents: float = DEFAULT_SE_CENTS,
    takes: Sequence[Path] = (),
    progress: ProgressCallback | None = None,
) -> TuneResult:
    """The advice for what was typed: exactly one of pair, note, main note, E-pull.

    ``takes``: the pair (two takes, or one that alternates), or the note named without a frequency.

    Raises
    ------
    BadUsage
        When none or several of them are given, or an option belongs to another.
    BadData
        When the notes can't be right.
    """
    typed = open_hz is not None or valve_hz is not None
    named = note if note is not None else main_note
    pair = typed or bool(takes and named is None and not e_pull)
    if sum([pair, note is not None, main_note is not None, e_pull]) != 1:
        raise BadUsage("usage.tune_one_way")
    if play_temp_c is not None and main_note is None:
        raise BadUsage("usage.tune_later_air")
    if not e_pull and (low is not None or max_pull_mm is not None):
        raise BadUsage("usage.tune_low")
    names = parse_learned(valves)
    if e_pull:
        if takes:
            raise BadUsage("usage.tune_no_takes")
        return pull_low(horn, names, low, max_pull_mm)
    if named is not None:
        if main_note is not None and names:
            raise BadUsage("usage.tune_main_valves")
        pitch, heard = _named_note(horn, named, takes, se_cents, progress)
        if main_note is not None:
            return tune_main(
                horn, pitch, heard.hz, play_temp_c=play_temp_c, se_cents=heard.se_cents
            )
        return tune_valve_note(horn, pitch, heard.hz, names, heard.se_cents)
    if typed:
        if open_hz is None or valve_hz is None or takes:
            raise BadUsage("usage.tune_pair")
        return tune_pair(horn, open_hz, valve_hz, names, (se_cents, se_cents))
    if len(takes) > 2:
        raise BadUsage("tuning.many_takes", count=len(takes))
    engaged(horn, names)
    first, second = pair_from_takes(takes, horn.a4_hz, progress)
    return tune_pair(horn, first.hz, second.hz, names, (first.se_cents, second.se_cents))


def _named_note(
    horn: Horn,
    text: str,
    takes: Sequence[Path],
    se_cents: float,
    progress: ProgressCallback | None,
) -> tuple[Pitch, Heard]:
    pitch, hz = parse_note_hz(text)
    if (hz is None) != (len(takes) == 1):
        raise BadUsage("tuning.no_hz_of_note", text=text, example=f"{pitch.name}=174.2")
    if hz is not None:
        return pitch, Heard(hz, se_cents)
    return pitch, note_from_take(takes[0], horn.a4_hz, progress)


def _pulled_facts(horn: Horn, pull: EPull) -> list[Fact]:
    if not pull.change_m:
        return []
    whole = round(pull.semitones)
    hz = horn.speed_m_s / (2.0 * horn.length_m) * cents_to_ratio(-100.0 * whole)
    return [
        fact(
            "tuning.pulled_then",
            semitones=pull.semitones,
            pitch=_name(horn, hz),
            flat_cents=100.0 * (pull.semitones - whole),
        )
    ]


def _loop_result(
    horn: Horn,
    valves: tuple[str, ...],
    advice: TuningSlideMove,
    heard: Fact,
    extra: Sequence[Fact] = (),
) -> TuneResult:
    facts = [heard, *_move_facts(advice), *extra]
    more: dict[str, Any] = {"valves": list(valves)}
    if len(valves) > 1:
        more["choices"] = _choices(horn, valves, advice)
        facts.append(_choice_fact(more["choices"]))
    pairs = _pairs_after(horn, valves, advice)
    if pairs:
        more["together_after"] = [
            {
                "valves": "+".join(told["valves"]),
                "note": class_name(told["pitch"]),
                "cents": told["off_cents"],
            }
            for told in pairs
        ]
        facts += pairs
    facts.append(_air_fact(horn))
    return _result(horn, advice, facts, more)


def _choices(horn: Horn, valves: tuple[str, ...], advice: TuningSlideMove) -> list[dict[str, Any]]:
    # Which notes of single valves each of the loops would move, were it the one to change.
    rows = []
    for name in reversed(valves):
        alone = (name,) if (name,) in horn.valve_sets else None
        moved = None if alone is None else round(note_after_loop(horn, alone, advice.change_m), 2)
        rows.append({"slide": name, "pull_mm": round(advice.pull_mm, 2), "alone_cents": moved})
    return rows


def _choice_fact(choices: Sequence[dict[str, Any]]) -> Fact:
    first, *others = choices
    if first["alone_cents"] is None:
        return fact("tuning.only_together", valve=first["slide"])
    instead = [
        fact("tuning.moved_instead", valve=row["slide"], alone_cents=row["alone_cents"])
        for row in others
        if row["alone_cents"] is not None
    ]
    alone = {"valve": first["slide"], "alone_cents": first["alone_cents"]}
    if not instead:
        return fact("tuning.moves_alone", **alone)
    return fact("tuning.moves_alone_or", **alone, instead=instead)


def _pairs_after(horn: Horn, valves: tuple[str, ...], advice: TuningSlideMove) -> list[Fact]:
    # Sets of more valves that contain the moved loop, after the move, against the nearest note.
    if len(valves) != 1:
        return []
    rows = []
    now = advice.tube_m + advice.change_m
    for more in horn.valve_sets:
        if len(more) > 1 and advice.slide in more:
            others = [name for name in more if name not in valves]
            hz = horn.speed_m_s / (2.0 * (now + horn.loops_m(others)))
            midi = A4_MIDI + cents(hz / horn.a4_hz) / 100.0
            rows.append(
                fact(
                    "tuning.sound_together",
                    valves=more,
                    pitch=from_midi(round(midi)),
                    off_cents=round(100.0 * (midi - round(midi)), 2),
                )
            )
    return rows


def _against_a4(
    horn: Horn,
    valves: tuple[str, ...],
    pitch: Pitch,
    hz: float,
    target_hz: float,
    advice: TuningSlideMove,
) -> Fact:
    return fact(
        "tuning.against_a4",
        pitch=pitch,
        valves=valves,
        difference_cents=advice.difference_cents,
        se_cents=advice.se_cents,
        a4_hz=horn.a4_hz,
        hz=hz,
        target_hz=target_hz,
    )


def _move_facts(advice: TuningSlideMove) -> list[Fact]:
    if advice.direction == "none":
        return [fact("tuning.leave", slide=advice.slide)]
    return [
        fact(
            "tuning.move",
            slide=advice.slide,
            direction=advice.direction,
            pull_mm=advice.pull_mm,
            se_mm=advice.pull_se_mm,
            tube_mm=1000.0 * abs(advice.change_m),
        ),
        fact("tuning.heard", off_cents=abs(advice.difference_cents), sure=advice.sure),
    ]


def _own_offset(horn: Horn, valves: tuple[str, ...], hz: float) -> tuple[Fact, ...]:
    partial, own = _own_cents(horn, valves, hz)
    if abs(own) < _OWN_OFFSET_CENTS:
        return ()
    return (fact("tuning.own_offset", partial=partial, own_cents=own),)


def _own_cents(horn: Horn, valves: tuple[str, ...], hz: float) -> tuple[int, float]:
    """(partial, cents from equal temperament by its nature) of the note that sounds."""
    partial = nearest_partial(horn, hz, valves)[0]
    semitones = cents(partial) / 100.0
    return partial, 100.0 * (semitones - round(semitones)) + horn.deviation(valves, partial)[0]


def _air_fact(horn: Horn) -> Fact:
    return fact(
        "tuning.air",
        temp_c=horn.air.temp_c,
        a4_hz=horn.a4_hz,
        degree_cents=cents_per_kelvin(horn.air.temp_c),
    )


def _name(horn: Horn, hz: float) -> Pitch:
    return from_midi(round(A4_MIDI + cents(hz / horn.a4_hz) / 100.0))


def _result(
    horn: Horn, advice: TuningSlideMove, facts: Sequence[Fact], more: dict[str, Any]
) -> TuneResult:
    return TuneResult(
        horn, advice.slide, advice.difference_cents, advice.se_cents, advice.pull_mm,
        advice.pull_se_mm, advice.direction, advice.matters, tuple(facts), more,
    )  # fmt: skip


def tune_json(result: TuneResult, say: Speech) -> dict[str, Any]:
    """JSON of ``handslide tune``; its text as ``say`` speaks."""
    return {
        "horn": result.horn.name,
        "a4_hz": result.horn.a4_hz,
        "temp_c": result.horn.air.temp_c,
        "slide": result.slide,
        "difference_cents": round(result.difference_cents, 2),
        "difference_se_cents": round(result.se_cents, 2),
        "pull_mm": round(result.pull_mm, 2),
        "pull_se_mm": round(result.pull_se_mm, 2),
        "direction": result.direction,
        "matters": result.matters,
        "text": result.text(say),
        **result.more,
    }
