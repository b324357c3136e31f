"""Written-down exercises on this horn: each figure goes through its positions, keys or half steps.

A stage that this horn, the student's limits or the level have no place for is left out; on the way
outwards the exercise turns there. What is counted in partials is meant in its place; of all else
the route chooses.
"""

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import chain, islice

from handslide.drills.exercise import Exercise, Figure, Series, Step
from handslide.drills.finish import ends_of, well_joined
from handslide.drills.keys import fifths_of, parse_tonic, signature, spelled, tonics_within
from handslide.drills.keys import kind_of as scale_of
from handslide.drills.levels import ADVANCED, LEVELS, Level
from handslide.drills.piece import DrillNote, Key, Piece
from handslide.drills.placed import (
    NO_KEY,
    Bar,
    Player,
    Wishes,
    on_horn,
    placed,
    spelled_beside,
)
from handslide.drills.ranges import partial_midi
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, parse_pitch
from handslide.instrument.places import Place

# Two partials are in one position where the hand stays within a finger's breadth.
_SAME_PLACE_M = 0.03
_FURTHEST = 7
_COMFORTABLE = 7.2
_LEAST_WAY = 4
# A figure at a stage as bars; None where a note of it has no place there.
Play = Callable[[Figure, int], tuple[Bar, ...] | None]


def make_running(
    player: Player,
    wishes: Wishes,
    series: Series,
    level: Level,
    rng: random.Random,
    key: str | None = None,
) -> tuple[Piece, ...]:
    """Exercises of a series that this student can play, from easy to hard as they stand in it.

    What goes through keys is in ``key`` alone where one is asked for, else each in two keys or
    more.

    Raises
    ------
    BadUsage
        When none of them fits this level, this horn and these limits.
    PitchError
        For a key that can't be read.
    """
    if key is not None:
        tonic = parse_tonic(key).name.rstrip("0123456789")
        rows = [
            replace(row, keys=(tonic,)) for row in series.at(level.name) if row.through == "keys"
        ]
    else:
        rows = [_begun(row, rng) for row in series.at(level.name)]
    fitting = []
    for row in rows:
        made = _pieces(player, wishes, series.name, row, level)
        first = next(made, None)
        if first is not None:
            fitting.append((row, chain([first], made)))
    if not fitting:
        raise BadUsage("drills.no_exercise", level=level.name, where=on_horn(player))
    # Of duets there are as many tunes as exercises, of all else in keys two keys each.
    in_keys = key is None and any(row.through == "keys" and not row.teacher for row, _ in fitting)
    most = (wishes.pieces + 1) // 2 if in_keys else wishes.pieces
    chosen = sorted(rng.sample(range(len(fitting)), min(most, len(fitting))))
    share, more = divmod(wishes.pieces, len(chosen))
    parts = {at: [*islice(fitting[at][1], share + (k < more))] for k, at in enumerate(chosen)}
    # Where an exercise has fewer keys than its share, others come in.
    for at in (*chosen, *(at for at in range(len(fitting)) if at not in chosen)):
        missing = wishes.pieces - sum(map(len, parts.values()))
        parts.setdefault(at, []).extend(islice(fitting[at][1], missing))
    pieces = [piece for at in sorted(parts) for piece in parts[at]]
    return _told_once(well_joined(pieces, ends_of))


def _begun(row: Exercise, rng: random.Random) -> Exercise:
    """It begins so many half steps further on, as the seed has it; not where it is short."""
    if row.through != "half-steps" or abs(row.last - row.first) < _LEAST_WAY:
        return row
    return replace(row, first=row.first + rng.randrange(3) * (1 if row.last > row.first else -1))


def _told_once(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """Each with its text but where the one before says the same."""
    before: tuple[Fact, ...] = ()
    found = []
    for one in pieces:
        found.append(replace(one, instruction=()) if one.instruction == before else one)
        before = one.instruction
    return tuple(found)


def _pieces(
    player: Player, wishes: Wishes, kind: str, row: Exercise, level: Level
) -> Iterator[Piece]:
    """The exercise, in one key after the other where it goes through keys."""
    if row.through == "keys":
        for tonic in _tonics(player, row, level):
            bars, teacher = _in_key(player, wishes, row, tonic)
            if bars:
                key = signature(row.scale, tonic)
                scale = fact("drills.key", name=row.scale, tonic=tonic, mode=key.mode)
                made = _piece(row, kind, wishes, bars, key, scale)
                yield replace(made, teacher=_dynamics_once(teacher))
        return
    bars = tuple(bar for one in _ROADS[row.through](player, wishes, row) for bar in one)
    if row.teacher:
        teacher = _sounding(row.teacher)
        if _is_for_teacher(wishes, _midis(teacher)):
            made = _piece(row, kind, wishes, bars, NO_KEY)
            yield replace(made, teacher=_dynamics_once(teacher))
    elif bars:
        yield _piece(row, kind, wishes, bars, NO_KEY)


def _piece(
    row: Exercise,
    kind: str,
    wishes: Wishes,
    bars: Sequence[Bar],
    key: Key,
    scale: Fact | None = None,
) -> Piece:
    title = fact("drills.own_words", text=row.title)
    if row.name:
        title = fact("drills.exercise", name=row.name, partials=_order(row))
    if scale is not None:
        title = fact("drills.in_key", exercise=title, scale=scale)
    text = (fact("drills.how_to_exercise", kind=kind),) if row.name else ()
    if row.text:
        text = (fact("drills.own_words", text=row.text),)
    kept = _dynamics_once(bars)
    return Piece(title, text, key, row.meter, wishes.tempo(row.tempo_qpm), kept)


def _order(row: Exercise) -> tuple[int, ...]:
    """The partials of a figure in their order; empty where others are counted, or they move."""
    steps = [step for bar in row.figure for step in bar if isinstance(step.what, int)]
    if row.counted != "partials" or any(step.moving for step in steps):
        return ()
    return tuple(step.what for step in steps if isinstance(step.what, int))


def _dynamics_once(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """Without the dynamics that are in force already."""
    in_force, found = "", []
    for bar in bars:
        notes = []
        for note in bar:
            now = "" if note.dynamic == in_force else note.dynamic
            notes.append(replace(note, dynamic=now))
            in_force = "" if note.swell else note.dynamic or in_force
        found.append(tuple(notes))
    return tuple(found)


def _valves(player: Player, row: Exercise) -> tuple[str, ...] | None:
    """The valve that is held; None where the horn or the student hasn't got it."""
    if not row.valve:
        return ()
    valves = player.horn.valves
    if row.valve > len(valves):
        return None
    name = valves[row.valve - 1].name
    return (name,) if (name,) in player.horn.valve_sets else None


def _tube(player: Player, partial: int, valves: tuple[str, ...]) -> dict[int, tuple[int, Place]]:
    """Note and place by position (1 closed) of a partial on one length of tube."""
    top = partial_midi(player.horn, partial, valves)
    found = {}
    for stage in range(1, _FURTHEST + 1):
        midi = top - (stage - 1)
        for place in player.book.places(midi):
            if place.valves == valves and place.partial == partial:
                found[stage] = midi, place
    return found


def _through_positions(player: Player, wishes: Wishes, row: Exercise) -> Iterator[tuple[Bar, ...]]:
    valves = _valves(player, row)
    if valves is None:
        return
    tubes = {p: _tube(player, p, valves) for p in _partials(row.figure) | _partials(row.ending)}
    yield from _passes(
        row,
        wishes.bars,
        lambda figure, stage: _on_partials(player, wishes, tubes, figure, stage, 0),
    )


def _through_partials(player: Player, wishes: Wishes, row: Exercise) -> Iterator[tuple[Bar, ...]]:
    valves = _valves(player, row)
    if valves is None:
        return
    steps = [s.what for bar in (*row.figure, *row.ending) for s in bar if s.moving]
    wanted = {stage + step for stage in row.stages for step in steps if isinstance(step, int)}
    wanted |= _partials(row.figure) | _partials(row.ending)
    tubes = {partial: _tube(player, partial, valves) for partial in wanted if 1 <= partial <= 12}
    yield from _passes(
        row,
        wishes.bars,
        lambda figure, stage: _on_partials(player, wishes, tubes, figure, row.start, stage),
    )


def _partials(figure: Figure) -> set[int]:
    return {
        step.what
        for bar in figure
        for step in bar
        if isinstance(step.what, int) and not step.moving and 1 <= step.what <= 12
    }


def _passes(row: Exercise, most_bars: int, play: Play) -> Iterator[tuple[Bar, ...]]:
    """The figure at each stage that can be played, then the ending; as many stages as go into
    ``most_bars``."""
    there = row.stages[: abs(row.last - row.first) + 1]
    room = (most_bars - len(row.ending)) // len(row.figure)
    there = there[: max(1, (room + 1) // 2 if row.back else room)]
    played = []
    for stage in there:
        bars = play(row.figure, stage)
        if bars is not None:
            played.append((stage, bars))
        elif played:
            break
    if not played:
        return
    yield from (bars for _, bars in played)
    if row.back:
        yield from (bars for _, bars in played[-2::-1])
    if row.ending:
        bars = play(row.ending, played[0][0])
        if bars is not None:
            yield bars


def _on_partials(
    player: Player,
    wishes: Wishes,
    tubes: dict[int, dict[int, tuple[int, Place]]],
    figure: Figure,
    stage: int,
    base: int,
) -> tuple[Bar, ...] | None:
    """The figure in one position, its moving partials counted from ``base``."""
    seats: list[Place] = []
    bars = []
    for bar in figure:
        notes = []
        for step in bar:
            if step.what is None:
                notes.append(_note(step, None))
                continue
            assert isinstance(step.what, int)
            partial = step.what + base if step.moving else step.what
            seat = tubes.get(partial, {}).get(stage)
            if seat is None or not wishes.within(seat[0]):
                return None
            seats.append(seat[1])
            notes.append(_note(step, placed(seat[0], step.beats, seat[1])))
        bars.append(tuple(notes))
    reach = [seat.extension_m for seat in seats]
    if not reach or max(reach) - min(reach) > _SAME_PLACE_M:
        return None
    return tuple(bars)


def _through_half_steps(player: Player, wishes: Wishes, row: Exercise) -> Iterator[tuple[Bar, ...]]:
    home = partial_midi(player.horn, row.start)

    def play(figure: Figure, stage: int) -> tuple[Bar, ...] | None:
        bars = []
        for bar in figure:
            midis = [home + stage + s.what for s in bar if isinstance(s.what, int)]
            if not all(player.book.places(midi) and wishes.within(midi) for midi in midis):
                return None
            pitches = iter(_spelled(home + stage, midis))
            bars.append(tuple(_note(s, None if s.what is None else next(pitches)) for s in bar))
        return tuple(bars)

    yield from _passes(row, wishes.bars, play)


def _spelled(start: int, midis: Sequence[int]) -> list[Pitch]:
    near = sorted({midi for midi in midis if midi != start and abs(midi - start) <= 12})
    names = dict(zip((start, *near), spelled_beside(start, *near)))
    return [names[midi] if midi in names else spelled_beside(midi)[0] for midi in midis]


def _once(player: Player, wishes: Wishes, row: Exercise) -> Iterator[tuple[Bar, ...]]:
    def play(figure: Figure, _stage: int) -> tuple[Bar, ...] | None:
        bars = _sounding(figure)
        can = all(player.book.places(m) and wishes.within(m) for m in _midis(bars))
        return bars if can else None

    yield from _passes(replace(row, first=1, last=1), wishes.bars, play)


def _sounding(figure: Figure) -> tuple[Bar, ...]:
    """A figure of named notes."""
    return tuple(
        tuple(_note(s, None if s.what is None else parse_pitch(str(s.what))) for s in bar)
        for bar in figure
    )


def _midis(bars: Sequence[Bar]) -> list[int]:
    return [note.pitch.midi for bar in bars for note in bar if note.pitch is not None]


def _is_for_teacher(wishes: Wishes, midis: Sequence[int]) -> bool:
    """Whether who plays second parts has a place for all of them, but for pedals and for the very
    end of the slide."""
    teacher = wishes.teacher
    if teacher is None:
        return not midis
    top = partial_midi(teacher.horn, LEVELS[ADVANCED].top_partial)
    return all(
        midi <= top
        and any(
            place.partial > 1 and place.position <= _COMFORTABLE
            for place in teacher.book.places(midi)
        )
        for midi in midis
    )


_ROADS: Mapping[str, Callable[[Player, Wishes, Exercise], Iterator[tuple[Bar, ...]]]] = {
    "positions": _through_positions,
    "partials": _through_partials,
    "half-steps": _through_half_steps,
    "once": _once,
}


def _note(step: Step, at: DrillNote | Pitch | None) -> DrillNote:
    """A step as a note: ``at`` has its pitch, and its place where one is meant."""
    note = at if isinstance(at, DrillNote) else DrillNote(at, step.beats)
    return DrillNote(
        note.pitch,
        note.beats,
        slur=step.slur,
        gliss=step.gliss,
        tie=step.tie,
        articulation=step.articulation,
        lock=note.lock,
        remark=note.remark,
        dynamic=step.dynamic,
        swell=step.swell,
        breath=step.breath,
        fermata=step.fermata,
    )


# Keys.


def _tonics(player: Player, row: Exercise, level: Level) -> list[Pitch]:
    """The tonics in order: those named, else the level's, from the horn's own key outwards."""
    if row.keys:
        return [parse_tonic(name) for name in row.keys]
    mode = scale_of(row.scale).name_mode
    home = fifths_of(parse_tonic(player.horn.closed_name(())), "major")
    found = tonics_within(row.scale, level.flats, level.sharps)
    return sorted(found, key=lambda tonic: abs(fifths_of(tonic, mode) - home))


def _in_key(
    player: Player, wishes: Wishes, row: Exercise, tonic: Pitch
) -> tuple[tuple[Bar, ...], tuple[Bar, ...]]:
    """The figure in a key, in the octave nearest to the middle of the range, and the teacher's
    voice with it; empty where there is no such octave."""
    low = 0 if wishes.low is None else wishes.low
    high = 127 if wishes.high is None else wishes.high
    named, below = (
        [p.midi for bar in figure for p in _degrees(row, bar, tonic) if p is not None]
        for figure in ((*row.figure, *row.ending), row.teacher)
    )
    options = []
    for octaves in range(-1 - tonic.octave, 8 - tonic.octave):
        midis = {midi + 12 * octaves for midi in named}
        played = all(low <= m <= high and player.book.places(m) for m in midis)
        if midis and played and _is_for_teacher(wishes, [m + 12 * octaves for m in below]):
            options.append((abs((min(midis) + max(midis)) - (low + high)), octaves))
    if not options:
        return (), ()
    _, octaves = min(options)
    root = tonic.transposed(7 * octaves, 12 * octaves)
    return (
        _degrees_of(row, (*row.figure, *row.ending), root),
        _degrees_of(row, row.teacher, root),
    )


def _degrees_of(row: Exercise, figure: Figure, root: Pitch) -> tuple[Bar, ...]:
    return tuple(tuple(map(_note, bar, _degrees(row, bar, root))) for bar in figure)


def _degrees(row: Exercise, bar: Sequence[Step], root: Pitch) -> list[Pitch | None]:
    numbers = [step.what for step in bar]
    pitches: list[Pitch | None] = []
    for at, step in enumerate(bar):
        if step.what is None:
            pitches.append(None)
            continue
        assert isinstance(step.what, int)
        later = next((n for n in numbers[at + 1 :] if n is not None), step.what)
        assert isinstance(later, int)
        pitch = degree(row.scale, root, step.what, falling=later < step.what)
        pitches.append(pitch.transposed(0, step.alter) if step.alter else pitch)
    return pitches


def degree(scale: str, tonic: Pitch, number: int, *, falling: bool = False) -> Pitch:
    """A degree of a scale: 1 is the tonic, 8 of a scale of seven notes its octave, 0 what lies
    below the tonic."""
    row = spelled(scale, tonic, falling)
    octaves, at = divmod(number - 1, len(row))
    return row[at].transposed(7 * octaves, 12 * octaves)
