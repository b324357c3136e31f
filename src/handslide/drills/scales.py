"""Scales, arpeggios and broken thirds in a student's range.

A piece is made of passes, each a scale up, down or both, from one barline to another. "The same
description never gives two identical bars in a row by accident": two bars are identical when they
have the same pitches in the same lengths, whatever their articulation. A scale line repeats
nothing by itself; a short one that is asked for over many bars would. So each pass after the first
differs from the one before: first in what wasn't asked for, then in the octave, the direction and
the rhythm. No repetition is ever meant, so each would be an accident.
"""

import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise, product

from handslide.drills.keys import (
    MOST_SIGNS,
    Kind,
    kind_of,
    parse_tonic,
    signature,
    tones,
    tonics_within,
    usual_tonic,
)
from handslide.drills.kinds import DIRECTIONS, MOST_OCTAVES, SCALE_KINDS, THIRDS
from handslide.drills.levels import DEFAULT_LEVEL, Level, level_of
from handslide.drills.piece import DrillNote, Piece
from handslide.drills.placed import Player, check_size
from handslide.drills.ranges import limited, partial_midi, range_of, valve_notes
from handslide.drills.rhythms import (
    ARTICULATION_NAMES,
    METERS,
    RHYTHMS,
    Bar,
    Meter,
    Rhythm,
    articulated,
    beat_of,
    fits,
    in_bars,
    lengths,
    repeated_bars,
    rhythm_of,
)
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, from_midi
from handslide.instrument.places import PlaceBook

# Where a scale ends in the valve register away from its tonic: the fifth first, then thirds.
_GOOD_ENDS = (7, 4, 3, 5, 2, 9, 8, 10, 11, 1, 6)
_LEAST_SPAN = 7
# Half steps above the tonic where a scale may turn that isn't an octave long.
_TURNS = (0, 3, 4, 7, 8, 9)
# Of a scale with holes so many notes at least, of a chord all of them; its leaps.
_LEAST_HOLED, _LEAST_CHORD = 4, 3
_EASY_STEPS = (1, 2, 3, 4, 5, 7, 8, 9, 12)
# Bars of a piece at least, where nobody said how many and a key's notes are few.
_SHORTEST = 4
# How often a piece is made anew that would sound like one before it.
_TRIED = 12
_LEAST_THIRDS = 5
# The open horn goes so many semitones below its 2nd partial.
_BELOW_SECOND = 6


@dataclass(frozen=True, slots=True)
class ScaleWishes:
    """What is asked for.

    ``kind`` is one of SCALE_KINDS. None lets the seed choose among what the level has: ``key`` (a
    tonic such as ``Bb``), ``rhythm``, ``articulation``, ``direction``, ``meter``. ``low`` and
    ``high`` are MIDI notes as they sound (None: the level's range). ``octaves`` None is as far as
    the range allows. ``bars`` None is one pass, else passes of about so many bars in all. With
    ``valve_register`` the low end of the scale lies on a note that only a valve gives: up begins
    there, down ends there. What is named goes beyond the level, never beyond the student's own
    limits. ``loose``: where so many octaves don't fit, as far as the scale goes, at last the notes
    of it that are within reach.

    Raises
    ------
    BadUsage
        For what doesn't exist or makes no sense.
    """

    kind: str = "major"
    key: str | None = None
    low: int | None = None
    high: int | None = None
    rhythm: str | None = None
    articulation: str | None = None
    direction: str | None = "up-and-down"
    octaves: int | None = 1
    level: str = DEFAULT_LEVEL
    valve_register: bool = False
    meter: Meter | None = None
    tempo_qpm: float | None = None
    bars: int | None = None
    pieces: int = 1
    loose: bool = False

    def __post_init__(self) -> None:
        level_of(self.level)
        _check_one("drills.no_scale", self.kind, SCALE_KINDS)
        _check_one("drills.no_articulation", self.articulation, ARTICULATION_NAMES)
        _check_one("drills.no_direction", self.direction, DIRECTIONS)
        if self.meter is not None:
            self._check_meter(self.meter)
        elif self.rhythm is not None:
            rhythm_of(self.rhythm)
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise BadUsage("drills.no_range", low=from_midi(self.low), high=from_midi(self.high))
        if self.octaves is not None and not 1 <= self.octaves <= MOST_OCTAVES:
            raise BadUsage("drills.octaves", octaves=self.octaves, most=MOST_OCTAVES)
        check_size(self.pieces, self.bars, self.tempo_qpm)

    def _check_meter(self, meter: Meter) -> None:
        if meter not in METERS:
            raise BadUsage("drills.no_meter", wish=_written(meter), known=_meters(METERS))
        if self.rhythm is not None and meter not in (has := rhythm_of(self.rhythm).cells):
            raise BadUsage(
                "drills.rhythm_without_meter",
                rhythm=self.rhythm,
                wish=_written(meter),
                known=_meters(has),
            )

    @property
    def scale(self) -> Kind:
        """The scale or arpeggio itself."""
        return kind_of(self.kind.removesuffix(THIRDS))

    @property
    def thirds(self) -> bool:
        """Whether it is played in broken thirds."""
        return self.kind.endswith(THIRDS)


def _check_one(kind: str, wish: str | None, known: tuple[str, ...]) -> None:
    if wish is not None and wish not in known:
        raise BadUsage(kind, wish=wish, known=known)


def _written(meter: Meter) -> str:
    return f"{meter[0]}/{meter[1]}"


def _meters(meters: Iterable[Meter]) -> tuple[str, ...]:
    return tuple(map(_written, meters))


@dataclass(frozen=True, slots=True)
class Span:
    """MIDI notes between which a scale runs, and the one that it sets out from.

    ``without``: notes between them that are out of reach and left out.
    """

    low: int
    high: int
    home: int
    without: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class _Pass:
    direction: str
    span: Span
    rhythm: Rhythm


@dataclass(frozen=True, slots=True, eq=False)
class _Scope:
    """What a piece is made on: the wishes with the student's places and range."""

    wishes: ScaleWishes
    level: Level
    book: PlaceBook
    low: int
    high: int
    valve: frozenset[int]

    def playable(self, pitches: Sequence[Pitch]) -> bool:
        return all(self.book.places(pitch.midi) for pitch in pitches)


def scale_pieces(player: Player, wishes: ScaleWishes, rng: random.Random) -> tuple[Piece, ...]:
    """Scales as asked for, each in a key of its own where the keys are free.

    Every note has a place in the player's book within the level.

    Raises
    ------
    BadUsage
        When the horn, the range and the student's limits leave no such scale.
    """
    scope = _scope(player, wishes)
    chosen = _chosen_tonics(scope, rng)
    found: list[Piece] = []
    for number in range(wishes.pieces):
        again, at = divmod(number, len(chosen))
        asked = scope if not again else replace(scope, wishes=_otherwise(wishes))
        found.append(_fresh(asked, *chosen[at], found, rng))
    return tuple(found)


def _otherwise(wishes: ScaleWishes) -> ScaleWishes:
    """The wishes for a key that comes again: in any direction, where none was named."""
    return replace(wishes, direction=None) if wishes.loose else wishes


def _fresh(
    scope: _Scope,
    tonic: Pitch,
    spans: tuple[Span, ...],
    before: Sequence[Piece],
    rng: random.Random,
) -> Piece:
    """A piece that no one before it sounds like, where the wishes leave room for one."""
    made = _piece(scope, tonic, spans, rng)
    for _ in range(_TRIED):
        if all(made.bars != other.bars or made.key != other.key for other in before):
            break
        made = _piece(scope, tonic, spans, rng)
    return made


def course(
    kind: str, tonic: Pitch, span: Span, direction: str, thirds: bool = False
) -> tuple[Pitch, ...]:
    """The pitches of a scale in their order, over a span whose ends are notes of it."""

    def run(start: int, end: int) -> list[Pitch]:
        falling = end < start
        found = list(tones(kind, tonic, min(start, end), max(start, end), falling))
        return _broken(found[::-1] if falling else found, thirds, span.without)

    low, high, home = span.low, span.high, span.home
    octaves = not (high - low) % 12
    ways = {
        "up": (low, high),
        "down": (high, low),
        "up-and-down": (low, high, low) if home == high and octaves else (home, high, low, home),
        "down-and-up": (high, low, high) if home == low else (home, low, high, home),
    }
    stops = ways[direction]
    line: list[Pitch] = []
    for start, end in pairwise(stops):
        if start != end:
            part = run(start, end)
            line += part[1:] if line and line[-1] == part[0] else part
    return tuple(line)


def _broken(line: list[Pitch], thirds: bool, without: frozenset[int]) -> list[Pitch]:
    """The line without the notes that are left out, in broken thirds where they are wanted."""
    if not thirds or len(line) < 3:
        return [note for note in line if note.midi not in without]
    rows = [*zip(line, line[2:]), tuple(line[-2:])]
    kept = [note for row in rows if not {n.midi for n in row} & without for note in row]
    return kept if kept and kept[-1] == line[-1] else [*kept, line[-1]]


def _scope(player: Player, wishes: ScaleWishes) -> _Scope:
    level = level_of(wishes.level)
    book = limited(player.book, level, wishes.valve_register)
    low, high = range_of(book, level, wishes.valve_register)
    low = low if wishes.low is None else wishes.low
    high = high if wishes.high is None else wishes.high
    if low >= high:
        raise BadUsage("drills.no_range_at_level", low=from_midi(low), high=from_midi(high))
    valve: tuple[int, ...] = ()
    if wishes.valve_register:
        valve = valve_notes(book, range(low, high + 1))
        if not valve:
            raise BadUsage(
                "drills.no_note_for_valve",
                horn=book.horn.called,
                low=from_midi(low),
                high=from_midi(high),
            )
    return _Scope(wishes, level, book, low, high, frozenset(valve))


def _chosen_tonics(scope: _Scope, rng: random.Random) -> list[tuple[Pitch, tuple[Span, ...]]]:
    """Tonics with their spans: the one asked for, or all that the level has, as the seed mixes."""
    wishes, kind = scope.wishes, scope.wishes.scale.name
    if wishes.key is not None:
        tonic = usual_tonic(kind, parse_tonic(wishes.key))
        spans = _spans(scope, tonic)
        if not spans:
            raise _no_room(scope, _title(wishes, tonic))
        return [(tonic, spans)]
    tonics = list(tonics_within(kind, scope.level.flats, scope.level.sharps))
    rng.shuffle(tonics)
    found = [(tonic, spans) for tonic in tonics if (spans := _spans(scope, tonic))]
    if not found and kind == "chromatic":
        # It belongs to no key: any note may begin it.
        every = tonics_within(kind, MOST_SIGNS, MOST_SIGNS)
        found = [(tonic, spans) for tonic in every if (spans := _spans(scope, tonic))]
    if not found:
        raise _no_room(scope, fact("drills.any_key", name=kind))
    # Keys that begin in the valve register on their own tonic come first.
    at_home = [row for row in found if (row[1][0].low - row[0].midi) % 12 == 0]
    return at_home if scope.valve and at_home else found


def _no_room(scope: _Scope, scale: Fact) -> BadUsage:
    """What to say where no such scale fits."""
    wishes = scope.wishes
    if wishes.octaves is not None:
        scale = fact("drills.scale_over", scale=scale, octaves=wishes.octaves)
    if wishes.valve_register:
        scale = fact("drills.scale_to_valve", scale=scale)
    return BadUsage(
        "drills.no_room",
        scale=scale,
        low=from_midi(scope.low),
        high=from_midi(scope.high),
        horn=scope.book.horn.called,
    )


def _spans(scope: _Scope, tonic: Pitch) -> tuple[Span, ...]:
    """All spans that a scale on ``tonic`` can have here, as the wishes want them."""
    if scope.valve:
        found = list(_valve_spans(scope, tonic))
    elif scope.wishes.octaves is None:
        found = list(_far_spans(scope, tonic))
    else:
        high = scope.high - 12 * scope.wishes.octaves
        found = [
            Span(low, low + 12 * scope.wishes.octaves, low)
            for low in _homes(scope, tonic, scope.low, high)
        ]
    fitting = tuple(span for span in found if _fits_span(scope, tonic, span))
    if fitting or not scope.wishes.loose or scope.valve:
        return fitting
    near = tuple(_near_spans(scope, tonic))
    return near or tuple(_holed_spans(scope, tonic))


def _fits_span(scope: _Scope, tonic: Pitch, span: Span) -> bool:
    kind = scope.wishes.scale.name
    return all(
        scope.playable(tones(kind, tonic, span.low, span.high, falling))
        for falling in (False, True)
    )


def _homes(scope: _Scope, tonic: Pitch, low: int, high: int) -> list[int]:
    return [midi for midi in range(low, high + 1) if (midi - tonic.midi) % 12 == 0]


def _ends(scope: _Scope, tonic: Pitch, low: int, high: int) -> list[int]:
    """Notes of the scale at which it may turn: those that it has on both its ways."""
    kind = scope.wishes.scale.name
    rising, falling = (tones(kind, tonic, low, high, way) for way in (False, True))
    # So a melodic minor never turns on its 6th or 7th, where it would step by more than a tone.
    return sorted({note.midi for note in rising} & {note.midi for note in falling})


def _far_spans(scope: _Scope, tonic: Pitch) -> Iterator[Span]:
    """The longest stretch without a gap: whole octaves one way, all of it there and back."""
    kind, low, high = scope.wishes.scale.name, scope.low, scope.high
    notes = {n.midi for way in (False, True) for n in tones(kind, tonic, low, high, way)}
    gaps = sorted(midi for midi in notes if not scope.book.places(midi))
    ends = _ends(scope, tonic, low, high)
    found = []
    for home in _homes(scope, tonic, low, high):
        floor = max((gap for gap in gaps if gap <= home), default=low - 1)
        top = min((gap for gap in gaps if gap >= home), default=high + 1)
        within = [midi for midi in ends if floor < midi < top]
        if not within:
            continue
        low_end, high_end = within[0], within[-1]
        if scope.wishes.thirds:
            # Broken thirds need room on either side of the tonic, or stay on one.
            low_end = low_end if home - low_end >= _LEAST_THIRDS else home
            high_end = high_end if high_end - home >= _LEAST_THIRDS else home
        span = Span(low_end, high_end, home)
        if scope.wishes.direction in ("up", "down") and span.high - home >= 12:
            span = Span(home, home + (span.high - home) // 12 * 12, home)
        if span.high - span.low >= _LEAST_SPAN:
            found.append(span)
    # Of equally long ones the lowest home.
    yield from sorted(found, key=lambda span: span.low - span.high)[:1]


def _near_spans(scope: _Scope, tonic: Pitch) -> Iterator[Span]:
    """About a tonic less than an octave without a gap, between two notes of its chord or its sixth:
    for keys whose octave is out of range or reach."""
    kind = scope.wishes.scale.name
    for home in _homes(scope, tonic, scope.low, scope.high):
        ends = _ends(scope, tonic, max(scope.low, home - 12), min(scope.high, home + 12))
        turns = [midi for midi in ends if (midi - home) % 12 in _TURNS]
        spans = [
            Span(low, high, home)
            for low in turns
            for high in turns
            if low <= home <= high and _LEAST_SPAN <= high - low <= 12
        ]
        spans = [span for span in spans if _fits_span(scope, tonic, span)]
        line = [tones(kind, tonic, span.low, span.high) for span in spans]
        size = [len(some) + (span.low == home) for span, some in zip(spans, line)]
        if spans:
            yield spans[size.index(max(size))]


def _holed_spans(scope: _Scope, tonic: Pitch) -> Iterator[Span]:
    """The longest stretch about a tonic of what is within reach, over small steps and easy leaps:
    for short arms, which miss notes between two partials."""
    kind = scope.wishes.scale.name
    notes = tones(kind, tonic, scope.low, scope.high)
    ends = set(_ends(scope, tonic, scope.low, scope.high))
    within = [n.midi for n in notes if n.midi in ends and scope.book.places(n.midi)]
    stretches: list[list[int]] = []
    for midi in within:
        if stretches and midi - stretches[-1][-1] in _EASY_STEPS:
            stretches[-1].append(midi)
        else:
            stretches.append([midi])
    found = []
    for some in stretches:
        out = frozenset(n.midi for n in notes if some[0] < n.midi < some[-1]) - set(some)
        homes = [midi for midi in some if (midi - tonic.midi) % 12 == 0]
        spans = [Span(some[0], some[-1], home, out) for home in homes[-1:]]
        found += [span for span in spans if _is_enough(scope, tonic, span)]
    yield from sorted(found, key=lambda span: span.low - span.high)[:1]


def _is_enough(scope: _Scope, tonic: Pitch, span: Span) -> bool:
    """Whether what is left of a scale or chord is still heard as one."""
    wishes = scope.wishes
    line = course(wishes.scale.name, tonic, span, "up", wishes.thirds)
    if wishes.scale.chord:
        return len({note.midi % 12 for note in line}) >= _LEAST_CHORD
    return len(set(line)) >= _LEAST_HOLED


def _valve_spans(scope: _Scope, tonic: Pitch) -> Iterator[Span]:
    """Spans whose low end needs a valve, on the tonic first; else on the best other degree."""
    octaves = scope.wishes.octaves
    ends = [m for m in _ends(scope, tonic, scope.low, scope.high) if m in scope.valve]
    ends.sort(key=lambda midi: (0, *_GOOD_ENDS).index((midi - tonic.midi) % 12))
    found = []
    for low in ends:
        homes = _homes(scope, tonic, low + _LEAST_SPAN, scope.high)
        tops = homes[::-1] if octaves is None else homes[octaves - 1 : octaves]
        spans = (Span(low, high, low) for high in tops)
        found += [span for span in spans if _fits_span(scope, tonic, span)][:1]
    on_tonic = [span for span in found if (span.low - tonic.midi) % 12 == 0]
    yield from on_tonic or found[:1]


def _piece(scope: _Scope, tonic: Pitch, spans: tuple[Span, ...], rng: random.Random) -> Piece:
    wishes = scope.wishes
    meter, rhythms = _rhythms(scope, rng)
    articulation = wishes.articulation
    if articulation is None:
        rhythm = rng.choice(rhythms)
        names = [a for a in scope.level.articulations if fits(a, rhythm, meter)]
        articulation = rng.choice(names)
        rhythms = [r for r in rhythms if fits(articulation, r, meter)]
    passes: list[_Pass] = []
    bars: tuple[Bar, ...] = ()
    size = 0
    most = wishes.bars or (_SHORTEST if wishes.loose else 0)
    while not passes or len(bars) + size / 2 <= most:
        bars = _with_breath(bars, meter) if bars else bars
        for chosen in _candidates(scope, passes[-1:], spans, rhythms, meter, rng):
            more = _pass_bars(scope, tonic, chosen, articulation, meter)
            if not repeated_bars((*bars[-1:], *more)):
                break
        bars, size = (*bars, *more), len(more)
        passes.append(chosen)
    notes_per_beat = max(p.rhythm.notes_per_beat(meter) for p in passes)
    return Piece(
        _title(wishes, tonic),
        _instruction(scope, tonic, passes, articulation),
        signature(wishes.scale.name, tonic),
        meter,
        wishes.tempo_qpm or scope.level.tempo_for(notes_per_beat, float(beat_of(meter))),
        bars,
    )


def _rhythms(scope: _Scope, rng: random.Random) -> tuple[Meter, list[Rhythm]]:
    """A meter, and the rhythms in it that were asked for or are the level's.

    Where only the articulation was named, those on which it lies well.
    """
    wishes = scope.wishes
    names = scope.level.rhythms if wishes.rhythm is None else (wishes.rhythm,)
    meters = scope.level.meters if wishes.meter is None else (wishes.meter,)
    pairs = [(m, r) for m in meters for r in map(rhythm_of, names) if m in r.cells]
    if wishes.articulation is not None and wishes.rhythm is None:
        pairs = [(m, r) for m, r in pairs if fits(wishes.articulation, r, m)] or pairs
    meter = rng.choice(list(dict.fromkeys(meter for meter, _ in pairs)))
    return meter, [rhythm for its_meter, rhythm in pairs if its_meter == meter]


def _candidates(
    scope: _Scope,
    before: Sequence[_Pass],
    spans: Sequence[Span],
    rhythms: Sequence[Rhythm],
    meter: Meter,
    rng: random.Random,
) -> list[_Pass]:
    """Next passes, those nearest to the wishes first, never the one before again.

    Another direction, at last another rhythm than was asked for come only where nothing else
    keeps two bars from being the same.
    """
    wishes = scope.wishes
    ways = DIRECTIONS[:3] if scope.valve else DIRECTIONS
    level = (RHYTHMS[name] for name in scope.level.rhythms)
    others = [r for r in level if meter in r.cells and r not in rhythms]
    floor = partial_midi(scope.book.horn, 2) - _BELOW_SECOND

    def strayed(chosen: _Pass) -> float:
        way = wishes.direction is not None and chosen.direction != wishes.direction
        usual = wishes.direction is not None or chosen.direction in ways
        # Now and then a scale from the lowest notes, mostly one from where the horn sings.
        deep = wishes.low is None and not scope.valve and chosen.span.low < floor
        strayed = 2.0 * way + 2.0 * (not usual) + 4.0 * (chosen.rhythm in others)
        strayed += 1.5 * (wishes.loose and not _comes_home(chosen))
        return strayed + 0.5 * deep + rng.random()

    every = [_Pass(*parts) for parts in product(DIRECTIONS, spans, (*rhythms, *others))]
    return sorted((chosen for chosen in every if chosen not in before), key=strayed)


def _comes_home(chosen: _Pass) -> bool:
    """Whether a pass ends on its tonic, as an ear expects."""
    span = chosen.span
    ends = {"up": span.high, "down": span.low, "up-and-down": span.home}
    last = ends.get(chosen.direction, span.high if span.home == span.low else span.home)
    return (last - span.home) % 12 == 0


def _way(chosen: _Pass) -> str:
    """The direction as it is heard: from the top of less than an octave one first goes down."""
    span = chosen.span
    turned = span.home == span.high and (span.high - span.low) % 12
    return "down-and-up" if turned and chosen.direction == "up-and-down" else chosen.direction


def _pass_bars(
    scope: _Scope, tonic: Pitch, chosen: _Pass, articulation: str, meter: Meter
) -> tuple[Bar, ...]:
    wishes = scope.wishes
    line = course(wishes.scale.name, tonic, chosen.span, chosen.direction, wishes.thirds)
    beats = lengths(len(line), chosen.rhythm, meter)
    return in_bars(articulated(line, beats, articulation), meter)


def _with_breath(bars: tuple[Bar, ...], meter: Meter) -> tuple[Bar, ...]:
    """The long last note a beat shorter, where it stays long: a breath before the next pass."""
    *rest, last = bars[-1]
    beat = beat_of(meter)
    if last.beats < beat + max(beat, Fraction(2)):
        return bars
    return (*bars[:-1], (*rest, replace(last, beats=last.beats - beat), DrillNote(None, beat)))


def _title(wishes: ScaleWishes, tonic: Pitch) -> Fact:
    scale = fact("drills.scale", name=wishes.scale.name, tonic=tonic)
    return fact("drills.broken_thirds", scale=scale) if wishes.thirds else scale


def _instruction(
    scope: _Scope, tonic: Pitch, passes: Sequence[_Pass], articulation: str
) -> tuple[Fact, ...]:
    first = passes[0]
    line = tones(scope.wishes.scale.name, tonic, first.span.low, first.span.high)
    low, high = line[0], line[-1]
    octaves, more = divmod(high.midi - low.midi, 12)
    ways = tuple(dict.fromkeys(map(_way, passes)))
    if first.span.without:
        kept = tuple(note for note in line if note.midi not in first.span.without)
        course_ = fact("drills.within_reach", ways=ways, notes=kept)
    elif not more and 1 <= octaves <= MOST_OCTAVES and (low.midi - tonic.midi) % 12 == 0:
        course_ = fact("drills.over_octaves", ways=ways, octaves=octaves)
    else:
        course_ = fact("drills.over_range", ways=ways, low=low, high=high)
    varied = len({chosen.rhythm.name for chosen in passes}) > 1
    how = (
        fact("drills.changing_rhythms", articulation=articulation)
        if varied
        else fact("drills.in_rhythm", rhythm=first.rhythm.name, articulation=articulation)
    )
    if not scope.valve:
        return course_, how
    kinds = {"down": "drills.ends_with_valve", "down-and-up": "drills.turns_with_valve"}
    return course_, how, fact(kinds.get(first.direction, "drills.begins_with_valve"), note=low)
