"""Tuning advice from frequencies: which slide, which way, how far, and whether it matters."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from handslide.ground.errors import BadData, BadUsage, PitchError
from handslide.ground.pitch import Pitch, from_midi, parse_pitch, pretty_name
from handslide.ground.units import A4_MIDI, cents, cents_to_ratio
from handslide.instrument.air import Air
from handslide.instrument.horn import Horn
from handslide.instrument.marks import ordinal, valve_words
from handslide.instrument.tuning import (
    CLEARLY_HEARD_CENTS,
    DEFAULT_SE_CENTS,
    HEARD_CENTS,
    EPull,
    SlideMove,
    cents_per_kelvin,
    loop_after_main,
    move,
    nearest_partial,
    note_after_loop,
    pull_for_low_note,
    tune_loop,
    tune_note,
)
from handslide.jobs.setup import parse_learned
from handslide.jobs.tune.takes import Heard, Progress, note_from_take, pair_from_takes

# A partial that lies further from equal temperament by itself isn't one to tune the horn with.
_OWN_OFFSET_CENTS = 3.0


@dataclass(frozen=True, slots=True)
class TuneResult:
    """Advice for one slide: the move (or the E-pull), sentences, and more keys for JSON."""

    horn: Horn
    slide: str
    difference_cents: float
    se_cents: float
    pull_mm: float
    pull_se_mm: float
    direction: str
    matters: bool
    sentences: tuple[str, ...]
    more: dict[str, Any] = field(default_factory=dict)

    @property
    def text(self) -> str:
        """All sentences, one a line."""
        return "\n".join(self.sentences)


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
        raise BadUsage(
            f"{text!r} isn't a note with its frequency: write it like F3=174.2"
        ) from None


def engaged(horn: Horn, names: Sequence[str] | None) -> tuple[str, ...]:
    """The valves that were down: ``names``, or the only valve that the horn has.

    Raises
    ------
    BadUsage
        When the horn has none, several to choose from, or not these together.
    """
    has = [valve.name for valve in horn.valves]
    if not has:
        raise BadUsage(f"{horn.name} has no valve: tune its main slide with --main Bb3=HZ")
    if not names:
        if len(has) > 1:
            raise BadUsage(f"{horn.name} has valves {', '.join(has)}: say which with --with")
        return (has[0],)
    for name in names:
        if name not in has:
            raise BadUsage(f"{horn.name} has no valve {name!r} (its valves: {', '.join(has)})")
    valves = tuple(name for name in has if name in names)
    if valves not in horn.valve_sets:
        raise BadUsage(f"{horn.name} can't engage {'+'.join(valves)} without the valve it needs")
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
    name = _name(horn, open_hz).pretty
    off = _off_words(advice, f"the open horn ({valve_hz:.2f} against {open_hz:.2f} Hz)")
    heard = f"{name}{valve_words(valves)} sounds {off}."
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
    off = _off_words(advice, f"A4 = {horn.a4_hz:g} Hz ({hz:.2f} against {target:.2f} Hz)")
    heard = f"{pitch.pretty}{valve_words(valves)} sounds {off}."
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
    rise = 0.0
    if play_temp_c is not None:
        rise = cents(Air(temp_c=play_temp_c).speed_m_s / horn.air.speed_m_s)
    target = pitch.hz(horn.a4_hz) * cents_to_ratio(-rise)
    advice = tune_note(horn, (), hz, target, se_cents)
    off = _off_words(advice, f"A4 = {horn.a4_hz:g} Hz ({hz:.2f} against {target:.2f} Hz)")
    sentences = [f"{pitch.pretty} sounds {off}.", *_move_words(advice)]
    temp = horn.air.temp_c
    per_k = cents_per_kelvin(temp)
    if play_temp_c is None:
        sentences.append(
            f"This holds for air of {temp:g} °C in the horn; each degree more makes it "
            f"{per_k:.1f} cents sharper ({move('main', per_k, 0.0, advice.tube_m).pull_mm:.1f} mm)."
        )
    else:
        sentences.append(
            f"The target is the one that at {play_temp_c:g} °C becomes A4 = {horn.a4_hz:g} Hz: "
            f"from {temp:g} °C the horn moves by {rise:+.1f} cents by itself."
        )
    after = {}
    for valves in horn.valve_sets:
        if len(valves) == 1:
            after[valves[0]] = round(loop_after_main(horn, valves, advice.change_m), 2)
    moved = [f"{pretty_name(k)} {v:+.0f}" for k, v in after.items() if abs(v) >= 1.0]
    if moved:
        sentences.append(
            f"Tune the loops after it: against the open horn they move by {', '.join(moved)} cents."
        )
    more = {"loops_after_cents": after, "rise_cents": round(rise, 2)}
    return _result(horn, advice, (*sentences, *_own_offset(horn, (), hz)), more)


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
        raise BadData(f"the valve {valves[-1]} of {horn.name} shortens the tube: it has no E-pull")
    pull = pull_for_low_note(horn, valves, pitch.hz(horn.a4_hz), max_pull_mm)
    at = f"{1000 * pull.extension_m:.0f} mm"
    if not pull.change_m:
        first_line = (
            f"No pull is needed: {pitch.pretty} lies at {at}, within the slide's "
            f"{1000 * horn.travel_m:.0f} mm."
        )
    else:
        first_line = (
            f"Pull the {pretty_name(valves[-1])} loop out by {pull.pull_mm:.0f} mm: then "
            f"{pitch.pretty} lies at the end of the slide ({at})."
        )
    return TuneResult(
        horn, valves[-1], pull.lowered_cents, 0.0, pull.pull_mm, 0.0,
        "out" if pull.change_m else "none", bool(pull.change_m),
        (first_line, *_pulled_words(horn, valves, pull), _air_line(horn)),
        {"note": pitch.name, "loop_semitones": round(pull.semitones, 3),
         "extension_mm": round(1000.0 * pull.extension_m, 1)},
    )  # fmt: skip


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
    progress: Progress | None = None,
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
        raise BadUsage(
            "give one of: --open HZ with --valve HZ (or takes of both), --note F3=HZ, "
            "--main Bb3=HZ, --e-pull"
        )
    if play_temp_c is not None and main_note is None:
        raise BadUsage("--play-temp-c goes with --main: loops don't depend on the temperature")
    if not e_pull and (low is not None or max_pull_mm is not None):
        raise BadUsage("--low and --max-pull-mm go with --e-pull")
    names = parse_learned(valves)
    if e_pull:
        if takes:
            raise BadUsage("--e-pull takes no recordings")
        return pull_low(horn, names, low, max_pull_mm)
    if named is not None:
        if main_note is not None and names:
            raise BadUsage("--main is without valves; with valves give --note")
        pitch, heard = _named_note(horn, named, takes, se_cents, progress)
        if main_note is not None:
            return tune_main(
                horn, pitch, heard.hz, play_temp_c=play_temp_c, se_cents=heard.se_cents
            )
        return tune_valve_note(horn, pitch, heard.hz, names, heard.se_cents)
    if typed:
        if open_hz is None or valve_hz is None or takes:
            raise BadUsage("a pair is needed: the same note with --open HZ and --valve HZ")
        return tune_pair(horn, open_hz, valve_hz, names, (se_cents, se_cents))
    if len(takes) > 2:
        raise BadUsage(f"{len(takes)} takes: give one of each, first open, then with the valve")
    engaged(horn, names)
    first, second = pair_from_takes(takes, horn.a4_hz, progress)
    return tune_pair(horn, first.hz, second.hz, names, (first.se_cents, second.se_cents))


def _named_note(
    horn: Horn,
    text: str,
    takes: Sequence[Path],
    se_cents: float,
    progress: Progress | None,
) -> tuple[Pitch, Heard]:
    pitch, hz = parse_note_hz(text)
    if (hz is None) != (len(takes) == 1):
        raise BadUsage(
            f"{text!r}: write its frequency, like {pitch.name}=174.2, or give one take of it"
        )
    if hz is not None:
        return pitch, Heard(hz, se_cents)
    return pitch, note_from_take(takes[0], horn.a4_hz, progress)


def _pulled_words(horn: Horn, valves: tuple[str, ...], pull: EPull) -> list[str]:
    if not pull.change_m:
        return []
    whole = round(pull.semitones)
    hz = horn.speed_m_s / (2.0 * horn.length_m) * cents_to_ratio(-100.0 * whole)
    off = 100.0 * (pull.semitones - whole)
    words = f"{abs(off):.0f} cents {'flat' if off > 0 else 'sharp'}"
    return [
        f"The closed slide with it is then {pull.semitones:.2f} semitones below the open horn: "
        f"{from_midi(round(A4_MIDI + cents(hz / horn.a4_hz) / 100)).pretty[:-1]} {words}, and all "
        f"notes with the valve need other positions."
    ]


def _loop_result(
    horn: Horn,
    valves: tuple[str, ...],
    advice: SlideMove,
    heard: str,
    extra: Sequence[str] = (),
) -> TuneResult:
    sentences = [heard, *_move_words(advice), *extra]
    more: dict[str, Any] = {"valves": list(valves)}
    if len(valves) > 1:
        more["choices"] = _choices(horn, valves, advice)
        sentences += _choice_words(advice, more["choices"])
    pairs = _pairs_after(horn, valves, advice)
    if pairs:
        more["together_after"] = pairs
        sentences += [
            f"{pretty_name(row['valves'])} together will then sound {row['note']} "
            f"{row['cents']:+.0f} cents: loops add, so one moves the pair."
            for row in pairs
        ]
    sentences.append(_air_line(horn))
    return _result(horn, advice, sentences, more)


def _choices(horn: Horn, valves: tuple[str, ...], advice: SlideMove) -> list[dict[str, Any]]:
    # Which notes of single valves each of the loops would move, were it the one to change.
    rows = []
    for name in reversed(valves):
        alone = (name,) if (name,) in horn.valve_sets else None
        moved = None if alone is None else round(note_after_loop(horn, alone, advice.change_m), 2)
        rows.append({"slide": name, "pull_mm": round(advice.pull_mm, 2), "alone_cents": moved})
    return rows


def _choice_words(advice: SlideMove, choices: list[dict[str, Any]]) -> list[str]:
    first, *others = choices
    if first["alone_cents"] is None:
        return [f"The {pretty_name(first['slide'])} loop changes only the notes with both valves."]
    said = [
        f"The {pretty_name(first['slide'])} valve alone moves by {first['alone_cents']:+.0f} cents"
    ]
    said += [
        f"moving the {pretty_name(row['slide'])} loop instead would move "
        f"{pretty_name(row['slide'])} alone by {row['alone_cents']:+.0f} cents"
        for row in others
        if row["alone_cents"] is not None
    ]
    return [f"{'; '.join(said)} (the first valve is tuned first: common practice)."]


def _pairs_after(horn: Horn, valves: tuple[str, ...], advice: SlideMove) -> list[dict[str, Any]]:
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
                {
                    "valves": "+".join(more),
                    "note": from_midi(round(midi)).pretty[:-1],
                    "cents": round(100.0 * (midi - round(midi)), 2),
                }
            )
    return rows


def _off_words(advice: SlideMove, against: str) -> str:
    amount = f"{abs(advice.difference_cents):.1f} ± {advice.se_cents:.1f} cents"
    way = "sharp" if advice.difference_cents > 0 else "flat"
    return f"{amount} {way} of {against}"


def _move_words(advice: SlideMove) -> list[str]:
    slide = "main slide" if advice.slide == "main" else f"{pretty_name(advice.slide)} loop's slide"
    size = abs(advice.difference_cents)
    if advice.direction == "none":
        return [f"Leave the {slide} where it is."]
    verb = "Pull" if advice.direction == "out" else "Push"
    more = "longer" if advice.change_m > 0 else "shorter"
    how = (
        f"{verb} the {slide} {advice.direction} by {advice.pull_mm:.1f} ± {advice.pull_se_mm:.1f} "
        f"mm: the tube must get {1000 * abs(advice.change_m):.1f} mm {more}, on two legs."
    )
    if size < HEARD_CENTS:
        heard = (
            f"It needn't: below {HEARD_CENTS:g} to {CLEARLY_HEARD_CENTS:g} cents listeners don't "
            "hear it (10: Hill and Summers 2007; 5: common practice)."
        )
    elif size < CLEARLY_HEARD_CENTS:
        heard = "Trained listeners can hear that, others hardly (10 cents: Hill and Summers 2007)."
    else:
        heard = "That can be heard (10 cents and more: Hill and Summers 2007)."
    unsure = "" if advice.sure else " The notes themselves aren't surer than that: play them again."
    return [how, heard + unsure]


def _own_offset(horn: Horn, valves: tuple[str, ...], hz: float) -> tuple[str, ...]:
    partial = nearest_partial(horn, hz, valves)[0]
    semitones = cents(partial) / 100.0
    own = 100.0 * (semitones - round(semitones)) + horn.deviation(valves, partial)[0]
    if abs(own) < _OWN_OFFSET_CENTS:
        return ()
    return (
        f"But the {ordinal(partial)} partial lies {own:+.0f} cents from equal temperament by "
        "itself: tune with a note on the 2nd, 4th or 8th.",
    )


def _air_line(horn: Horn) -> str:
    return (
        f"Air in the horn {horn.air.temp_c:g} °C, A4 = {horn.a4_hz:g} Hz. A degree warmer is "
        f"{cents_per_kelvin(horn.air.temp_c):.1f} cents sharper, on open and valve notes alike."
    )


def _name(horn: Horn, hz: float) -> Pitch:
    return from_midi(round(A4_MIDI + cents(hz / horn.a4_hz) / 100.0))


def _result(
    horn: Horn, advice: SlideMove, sentences: Sequence[str], more: dict[str, Any]
) -> TuneResult:
    return TuneResult(
        horn, advice.slide, advice.difference_cents, advice.se_cents, advice.pull_mm,
        advice.pull_se_mm, advice.direction, advice.matters, tuple(sentences), more,
    )  # fmt: skip


def tune_json(result: TuneResult) -> dict[str, Any]:
    """JSON of ``handslide tune``."""
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
        "text": result.text,
        **result.more,
    }
