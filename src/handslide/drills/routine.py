"""A daily routine: breathing, long tones, lip slurs, tonguing, the week's key, range, a tune.

Common practice of brass teachers: begin without the horn, then in the middle of the range; the
week has one key, in another articulation each day; lip slurs grow through the week; after what
was played the lips rest about a third as long, first years half as long, and nobody plays for more
than two or three minutes on end. The shares of the blocks are our own judgement.

No time is typed in: that of a row is the beats of its bars at its tempo, as often as it is played,
and its rest, which is printed.
"""

import math
import random
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from handslide.drills import scales
from handslide.drills.exercise import Exercise, Series
from handslide.drills.finish import finished
from handslide.drills.keys import kind_of
from handslide.drills.kinds import MOST_SEED
from handslide.drills.levels import ADVANCED, FIRST_YEAR, Level
from handslide.drills.piece import Piece
from handslide.drills.placed import Player, Wishes
from handslide.drills.ranges import range_of
from handslide.drills.rhythms import RHYTHMS, articulated, fits
from handslide.drills.running import make_running
from handslide.drills.scales import ScaleWishes
from handslide.ground.errors import BadUsage
from handslide.ground.facts import fact

MINUTES = (10, 20, 30)
DAYS = 7
EVERY_DAY = tuple(range(DAYS))
# Seconds of each block, rests included, and how many exercises a day it has.
_BLOCKS: Mapping[int, Mapping[str, tuple[int, int]]] = {
    10: {"long-tones": (130, 1), "lip-slurs": (160, 1), "scale": (150, 1), "tune": (120, 1)},
    20: {
        "long-tones": (210, 1), "lip-slurs": (270, 2), "tonguing": (150, 1), "scale": (270, 2),
        "range": (150, 1), "tune": (120, 1),
    },
    30: {
        "long-tones": (330, 2), "lip-slurs": (420, 2), "tonguing": (210, 1), "scale": (390, 2),
        "range": (210, 1), "tune": (180, 1),
    },
}  # fmt: skip
# Counts of a breath, in and out, and how often; one a second.
_BREATHS = {
    FIRST_YEAR: ((4, 4, 2), (4, 6, 2), (2, 6, 2)),
    "second-year": ((4, 4, 2), (4, 8, 2), (2, 8, 2)),
    ADVANCED: ((4, 6, 2), (4, 10, 2), (1, 8, 3)),
}
_BREATHS_OF = {10: 2, 20: 3, 30: 3}
BREATH_QPM = 60.0
# Rest beside what was played, and the longest that is played on end, by level.
_REST = {FIRST_YEAR: 0.5, "second-year": 0.33, ADVANCED: 0.33}
_LEAST_REST_S = 10
MOST_ON_END_S = {FIRST_YEAR: 120.0, "second-year": 180.0, ADVANCED: 180.0}
_ROUND_S = 5
# How often an exercise is played at most; a short one more often, a tune seldom.
_MOST_TIMES, _MOST_TIMES_SHORT, _SHORT_S, _MOST_TIMES_TUNE = 6, 9, 20.0, 4
# Where the time doesn't come out otherwise, rests are longer by this at most.
_LONGER_REST = 1.9
# A day may fall so far short before it gets more exercises than usual, and how many more.
_SHORT, _MOST_MORE = 0.93, 3
_TRIED = 60
_MOST_PRINTED = 14  # bars of one exercise
# Lines of music of one exercise and of a tune, which is played to its end, and of a sheet of two
# pages; a heading counts half a line.
_MOST_LINES, _TUNE_LINES, _SHEET_LINES, _HEADING_LINES = 2, 3, 23.0, 0.5
_LEFT_OUT = ("long-tones", "tonguing", "range", "tune", "scale")
_BAR_MM, _NOTE_MM, _LINE_MM = 16.0, 4.6, 160.0
_TUNES = ("tune-", "five-song", "near-song", "open-song")
_IN_KEY = ("tonguing", "patterns")
NEEDED = (
    "long-tones",
    "lip-slurs",
    "five-notes",
    "patterns",
    "tonguing",
    "attacks",
    "range",
    "duets",
)
# A scale is printed several ways rather than played more often than this; so many bars at most.
_SCALE_TIMES, _MOST_SCALE = 3, 4
# So many of its notes show an articulation.
_MODEL_NOTES = 4
# More figures of lip slurs than a day has: the week goes on through them.
_MORE_SLURS = 1


@dataclass(frozen=True, slots=True)
class Breath:
    """Breathing without the horn: so many counts in, so many out, so often."""

    counts_in: int
    counts_out: int
    times: int

    @property
    def play_s(self) -> float:
        """How long it takes."""
        return (self.counts_in + self.counts_out) * self.times * 60.0 / BREATH_QPM


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """An exercise of a routine: played so many ``times``, then ``rest_s`` of rest, on its ``days``
    (0 to 6). ``kind`` is the drill that it is of. ``by_day``: in the articulation of the day.
    A ``model`` shows how the one before it is played."""

    piece: Piece
    kind: str
    times: int = 1
    rest_s: int = 0
    days: tuple[int, ...] = EVERY_DAY
    by_day: bool = False
    model: bool = False

    @property
    def once_s(self) -> float:
        """How long it takes once."""
        return seconds_of(self.piece)

    @property
    def seconds(self) -> float:
        """How long it takes with its rest."""
        return self.once_s * self.times + self.rest_s


@dataclass(frozen=True, slots=True)
class Block:
    """A part of a routine; ``name`` is a key of _BLOCKS, ``breathing`` or ``again``."""

    name: str
    rows: tuple[Row, ...] = ()
    breaths: tuple[Breath, ...] = ()

    def seconds(self, day: int) -> float:
        """How long it takes on a day, with its rests."""
        played = sum(row.seconds for row in self.rows if day in row.days and not row.model)
        return played + sum(one.play_s for one in self.breaths)

    @property
    def days(self) -> tuple[int, ...]:
        """The days that have something of it."""
        return tuple(day for day in EVERY_DAY if self.seconds(day))


@dataclass(frozen=True, slots=True)
class RoutineWishes:
    """What is asked for: ``scale`` and ``tonic`` are the key of the week.

    ``spots`` are exercises for the trouble spots; ``again`` is what comes back: a kind of drill,
    its exercise, and the days (0 to 6) on which it does.

    Raises
    ------
    BadUsage
        For another number of minutes than MINUTES has.
    """

    minutes: int
    level: Level
    tonic: str
    scale: str = "major"
    clef: str = "bass"
    spots: tuple[Piece, ...] = ()
    again: tuple[tuple[str, Piece, tuple[int, ...]], ...] = ()
    articulation: str = "tongued"
    first: int = 0

    def __post_init__(self) -> None:
        if self.minutes not in MINUTES:
            raise BadUsage("routine.minutes", minutes=self.minutes, known=MINUTES)


def seconds_of(piece: Piece) -> float:
    """How long a piece takes once, by its beats and its tempo."""
    return float(piece.bar_beats) * len(piece.bars) * 60.0 / piece.tempo_qpm


def lines_of(piece: Piece) -> int:
    """About how many lines of music a piece takes on a routine's sheet (as engraved sheets have
    them: a bar takes some room and each of its notes some more)."""
    width_mm = sum(_BAR_MM + _NOTE_MM * len(bar) for bar in piece.bars)
    return math.ceil(width_mm / _LINE_MM)


def articulations_of(level: Level) -> tuple[str, ...]:
    """The articulations of a week's seven days: those of the level that lie well on a plain
    scale, in turn."""
    plain = RHYTHMS["eighths"]
    have = [name for name in level.articulations if fits(name, plain, (4, 4))]
    return tuple(have[day % len(have)] for day in EVERY_DAY)


def make_routine(
    player: Player,
    wishes: RoutineWishes,
    series: Mapping[str, Series],
    rng: random.Random,
    shift: int = 0,
) -> tuple[Block, ...]:
    """The blocks of a week's routine in their order. ``series`` are those of NEEDED; ``shift`` as
    in `handslide.drills.finish.finished`.

    What a horn or a reach has no room for is left out; the other blocks take its time.

    Raises
    ------
    BadUsage
        Nothing can be played within these limits.
    """
    maker = _Maker(player, wishes, series, rng, shift, rng.randrange(MOST_SEED))
    breaths = Block(
        "breathing",
        breaths=tuple(
            Breath(*row) for row in _BREATHS[wishes.level.name][: _BREATHS_OF[wishes.minutes]]
        ),
    )
    asked = _BLOCKS[wishes.minutes]
    found = {name: maker.candidates(name) for name in asked}
    kept = {name: rows for name, rows in found.items() if rows}
    if not kept:
        raise BadUsage("drills.no_note_at_level", horn=player.horn.called)
    room_s = 60.0 * wishes.minutes - breaths.seconds(0)
    share = room_s / sum(asked[name][0] for name in kept)
    best: list[Block] = []
    for more in range(_MOST_MORE + 1):
        blocks: list[Block] = []
        for name, rows in kept.items():
            seconds, count = asked[name]
            blocks += maker.blocks(name, rows, seconds * share, count + more)
        if best and _print_lines(blocks) > _SHEET_LINES:
            break
        blocks = _rested(_fitted(_on_sheet(blocks), room_s, wishes.level), room_s)
        best = blocks
        if _mean_s(best) >= _SHORT * room_s:
            break
    return (breaths, *best)


def _print_lines(blocks: Sequence[Block]) -> float:
    return sum(lines_of(row.piece) + _HEADING_LINES for block in blocks for row in block.rows)


def _on_sheet(blocks: Sequence[Block]) -> list[Block]:
    """The blocks without what can be left out, where they take too much paper; what grows through
    the week stays."""
    found = {block.name: block for block in blocks}
    for name in _LEFT_OUT:
        while name in found and _print_lines(tuple(found.values())) > _SHEET_LINES:
            rows = found[name].rows
            last = [row for row in rows if not row.model]
            if len(last) < 2 or any(row.days != EVERY_DAY for row in last):
                break
            # Of long tones one that swells stays.
            out = next((row for row in last[::-1] if not _piece_swells(row.piece)), last[-1])
            out = out if name == "long-tones" else last[-1]
            found[name] = replace(found[name], rows=tuple(row for row in rows if row is not out))
    return list(found.values())


def _piece_swells(piece: Piece) -> bool:
    return any(note.swell for note in piece.notes)


def _mean_s(blocks: Sequence[Block]) -> float:
    return sum(block.seconds(day) for block in blocks for day in EVERY_DAY) / DAYS


def _fitted(blocks: Sequence[Block], room_s: float, level: Level) -> list[Block]:
    """The blocks with some exercises once more or once less, so that the time comes out."""
    found = list(blocks)
    for _ in range(_TRIED):
        left_s = room_s - _mean_s(found)
        more = left_s > 0
        options = []
        for b, block in enumerate(found):
            for r, row in enumerate(block.rows):
                most = _most_times(row.once_s, block.name)
                other = _once_more(row, most, level) if more else _once_less(row)
                if other is None:
                    continue
                change_s = (other.seconds - row.seconds) * len(row.days) / DAYS
                if abs(left_s - change_s) < abs(left_s):
                    options.append((row.seconds if more else -row.seconds, b, r, other))
        if not options:
            break
        _, b, r, other = min(options, key=lambda option: option[:3])
        rows = found[b].rows
        found[b] = replace(found[b], rows=(*rows[:r], other, *rows[r + 1 :]))
    return found


def _rested(blocks: Sequence[Block], room_s: float) -> list[Block]:
    """The blocks with longer rests, where time is left."""
    rest_s = sum(row.rest_s * len(row.days) / DAYS for block in blocks for row in block.rows)
    more = min(_LONGER_REST, 1.0 + (room_s - _mean_s(blocks)) / rest_s)
    if more <= 1.0:
        return list(blocks)
    return [
        replace(
            block,
            rows=tuple(replace(row, rest_s=_rounded(row.rest_s * more)) for row in block.rows),
        )
        for block in blocks
    ]


def _rounded(seconds: float) -> int:
    return _ROUND_S * round(seconds / _ROUND_S)


def _once_more(row: Row, most: int, level: Level) -> Row | None:
    times = row.times + 1
    if row.model or times > most or times * row.once_s > MOST_ON_END_S[level.name]:
        return None
    return _with_times(row, times)


def _most_times(once_s: float, block: str) -> int:
    if block == "tune":
        return _MOST_TIMES_TUNE
    return _MOST_TIMES_SHORT if once_s < _SHORT_S else _MOST_TIMES


def _once_less(row: Row) -> Row | None:
    return None if row.model or row.times == 1 else _with_times(row, row.times - 1)


def _with_times(row: Row, times: int) -> Row:
    """The row played so often, with as much rest beside it."""
    rest_s = _rounded(row.rest_s * times / row.times)
    return replace(row, times=times, rest_s=max(rest_s, _LEAST_REST_S))


@dataclass(frozen=True, slots=True, eq=False)
class _Maker:
    player: Player
    wishes: RoutineWishes
    series: Mapping[str, Series]
    rng: random.Random
    shift: int
    seed: int
    known: dict[tuple[str, Exercise, int], Piece | None] = field(default_factory=dict)

    @property
    def level(self) -> Level:
        return self.wishes.level

    # What there is.

    def candidates(self, name: str) -> list[tuple[str, Exercise | None]]:
        """The written exercises that a block can have, by kind; None stands for a whole scale."""
        if name == "scale":
            rows: list[tuple[str, Exercise | None]] = [("scales", None)]
            return rows + self._playable("patterns")
        if name == "tune":
            return self._tunes()
        found = self._playable(name)
        if name == "tonguing":
            found += self._playable("attacks")
        return found

    def _playable(self, kind: str) -> list[tuple[str, Exercise | None]]:
        return self._fitting(kind, self.series[kind].at(self.level.name))

    def _tunes(self) -> list[tuple[str, Exercise | None]]:
        """Tunes on five notes, and what a student has of the duets in the mode of the week."""
        level = self.level.name
        small = [row for row in self.series["five-notes"].at(level) if row.name.startswith(_TUNES)]
        mode = kind_of(self.wishes.scale).name_mode
        alone = [
            replace(row, teacher=(), keys=(self.wishes.tonic,))
            for row in self.series["duets"].at(level)
            if row.through == "keys" and kind_of(row.scale).name_mode == mode
        ]
        found = self._fitting("five-notes", small) + self._fitting("duets", alone)
        if found:
            return found
        # An easy tune in any key is a task of its own: how it is sung.
        easy = self.series["five-notes"].at("second-year")
        return self._fitting("five-notes", [row for row in easy if row.name.startswith(_TUNES)])

    def _fitting(self, kind: str, rows: Iterable[Exercise]) -> list[tuple[str, Exercise | None]]:
        fitted = [self._in_week(kind, row) for row in rows]
        # A duet's words are for two.
        told = "five-notes" if kind == "duets" else kind
        return [(told, row) for row in fitted if self._made(told, row, _MOST_PRINTED) is not None]

    def _in_week(self, kind: str, row: Exercise) -> Exercise:
        """The exercise at every level, in the week's key where it is in one. On a sheet with
        little room a long figure goes all the way out rather than half of it and back."""
        back = row.back and (row.through != "positions" or len(row.figure) == 1)
        row = replace(row, levels=(), back=back)
        if row.through != "keys" or kind == "duets":
            return row
        minor = kind_of(self.wishes.scale).name_mode == "minor"
        scale = self.wishes.scale if kind in _IN_KEY else "natural-minor" if minor else "major"
        return replace(row, keys=(self.wishes.tonic,), scale=scale)

    def _made(self, kind: str, row: Exercise, bars: int) -> Piece | None:
        """The exercise over so many bars at most; each time the same."""
        wish = kind, row, bars
        if wish not in self.known:
            self.known[wish] = self._make(kind, row, bars)
        return self.known[wish]

    def _make(self, kind: str, row: Exercise, bars: int) -> Piece | None:
        rng = random.Random(f"{self.seed} {kind} {row.name} {row.tempo_qpm}")
        try:
            low, high = range_of(self.player.book, self.level)
            asked = Wishes(low, high, 1, max(bars, 2), None, False, self.level, self.wishes.clef)
            made = make_running(self.player, asked, Series(kind, (row,)), self.level, rng)
        except BadUsage:
            return None
        piece = finished(made, self.level, rng, self.shift)[0]
        if piece.title.kind == "drills.in_key":
            # The key stands over the week.
            piece = replace(piece, title=piece.title["exercise"])
        return piece

    def _scale(self, share_s: float) -> Piece:
        """The week's scale, several ways where there is time."""
        rhythm = "quarters" if self.level.name == FIRST_YEAR else "eighths"
        asked = ScaleWishes(
            self.wishes.scale, self.wishes.tonic, rhythm=rhythm,
            articulation=self.wishes.articulation, level=self.level.name, meter=(4, 4), loose=True,
            octaves=2 if self.level.name == ADVANCED else 1,
        )  # fmt: skip
        one = scales.scale_pieces(self.player, asked, random.Random(self.seed))[0]
        passes = int(share_s / (1.0 + _REST[self.level.name]) / _SCALE_TIMES / seconds_of(one))
        bars = min(passes * len(one.bars), _MOST_SCALE)
        if bars > len(one.bars):
            asked = replace(asked, bars=bars)
        made = scales.scale_pieces(self.player, asked, random.Random(self.seed))
        return finished(made, self.level, random.Random(self.seed), self.shift)[0]

    # How a block is filled.

    def blocks(
        self,
        name: str,
        candidates: Sequence[tuple[str, Exercise | None]],
        room_s: float,
        count: int,
    ) -> list[Block]:
        """The block, and what comes back beside it."""
        if name == "lip-slurs":
            return [Block(name, self._growing(candidates, room_s, count))]
        if name == "tune":
            return self._ending(candidates, room_s, count)
        chosen = self._chosen(name, candidates, count, room_s / count)
        rows = self._filled(chosen, room_s, EVERY_DAY)
        if not rows:
            return []
        if name == "scale":
            rows = (replace(rows[0], by_day=True), self._models(rows[0]), *rows[1:])
        return [Block(name, rows)]

    def _chosen(
        self,
        name: str,
        candidates: Sequence[tuple[str, Exercise | None]],
        count: int,
        share_s: float,
    ) -> list[tuple[str, Exercise | None]]:
        """As many as wanted, easy ones first; long tones swell, a key begins with its scale.

        Before the others come those that fill their time without being played too often and
        without much paper, and of one kind of figure one.
        """
        good = {k: self._is_good(*one, share_s) for k, one in enumerate(candidates)}
        first: list[int] = []
        if name == "long-tones":
            swells = [k for k, (_, row) in enumerate(candidates) if row and _swells(row)]
            first = [self.rng.choice([k for k in swells if good[k]] or swells)] if swells else []
        elif name == "scale":
            first = [0]
        others = [k for k in range(len(candidates)) if k not in first]
        self.rng.shuffle(others)
        others.sort(key=lambda k: not good[k])
        names = {row.name for k in first if (row := candidates[k][1]) is not None}
        fresh = []
        for k in others:
            row = candidates[k][1]
            if row is not None and row.name not in names:
                names.add(row.name)
                fresh.append(k)
        late = [k for k in others if k not in fresh]
        # What isn't good is no better for being of another kind.
        ordered = sorted((*fresh, *late), key=lambda k: not good[k])
        return [candidates[k] for k in sorted((*first, *ordered)[:count])]

    def _is_good(self, kind: str, row: Exercise | None, share_s: float) -> bool:
        piece = self._in_room(kind, row, share_s)
        if piece is None or lines_of(piece) > _most_lines(row):
            return False
        play_s = share_s / (1.0 + _REST[self.level.name])
        # A tune that is too short for its time leaves the rest of it to other blocks.
        most = _MOST_TIMES if _is_tune(row) else _MOST_TIMES_SHORT
        return play_s / seconds_of(piece) <= most

    def _filled(
        self,
        chosen: Sequence[tuple[str, Exercise | None]],
        room_s: float,
        days: tuple[int, ...],
        most: int = _MOST_TIMES,
    ) -> tuple[Row, ...]:
        """The exercises, each in its share of the time, so often at most."""
        found: list[Row] = []
        for number, (kind, row) in enumerate(chosen):
            share_s = (room_s - sum(one.seconds for one in found)) / (len(chosen) - number)
            piece = self._in_room(kind, row, share_s)
            if piece is not None:
                found.append(replace(self._timed(piece, kind, share_s, most), days=days))
        return tuple(found)

    def _in_room(self, kind: str, row: Exercise | None, share_s: float) -> Piece | None:
        """The exercise with no more bars than there is time for."""
        if row is None:
            return self._scale(share_s)
        bar_s = 60.0 * 4.0 * row.meter[0] / row.meter[1] / row.tempo_qpm
        most = min(_MOST_PRINTED, int(share_s / (1.0 + _REST[self.level.name]) / bar_s))
        piece = self._made(kind, row, most)
        if piece is not None and (lines := lines_of(piece)) > _most_lines(row):
            piece = self._made(kind, row, len(piece.bars) * _most_lines(row) // lines)
        return piece

    def _timed(self, piece: Piece, kind: str, share_s: float, most: int = _MOST_TIMES) -> Row:
        """How often it is played, and the rest after it."""
        once_s, rest = seconds_of(piece), _REST[self.level.name]
        most = min(most, int(MOST_ON_END_S[self.level.name] / once_s))
        times = max(1, min(most, round(share_s / (1.0 + rest) / once_s)))
        rest_s = _rounded(rest * once_s * times)
        return Row(piece, kind, times, max(rest_s, _LEAST_REST_S))

    def _growing(
        self, candidates: Sequence[tuple[str, Exercise | None]], room_s: float, count: int
    ) -> tuple[Row, ...]:
        """Figures from easy to hard: each day so many of them, from the first ones to the last."""
        chosen = self._chosen("lip-slurs", candidates, count + _MORE_SLURS, room_s / count)
        rows = self._filled(chosen, room_s * len(chosen) / min(count, len(chosen)), EVERY_DAY)
        spare = max(len(rows) - count, 0)
        first = [day * (spare + 1) // DAYS for day in EVERY_DAY]
        return tuple(
            replace(
                row, days=tuple(day for day in EVERY_DAY if first[day] <= k < first[day] + count)
            )
            for k, row in enumerate(rows)
        )

    def _models(self, row: Row) -> Row:
        """The first notes of the scale in each articulation of the week."""
        notes = [note for note in row.piece.notes if note.pitch is not None][:_MODEL_NOTES]
        pitches = [note.pitch for note in notes if note.pitch is not None]
        beats = [notes[0].beats] * len(notes)
        days: dict[str, list[int]] = {}
        for day, name in enumerate(articulations_of(self.level)):
            days.setdefault(name, []).append(day)
        bars = []
        for name, on in days.items():
            on_days = fact("routine.on_days", days=tuple(on), first=self.wishes.first)
            first, *others = articulated(pitches, beats, name)
            bars.append((replace(first, remark=on_days), *others))
        how = fact("routine.articulations")
        meter = (4, 4) if beats[0] == 1 else (2, 4)
        piece = replace(row.piece, title=how, instruction=(), meter=meter, bars=tuple(bars))
        return Row(piece, row.kind, by_day=True, model=True)

    def _ending(
        self, candidates: Sequence[tuple[str, Exercise | None]], room_s: float, count: int
    ) -> list[Block]:
        """A tune or the trouble spots, or both; on its days what comes back instead."""
        again = self._again(room_s)
        days = tuple(day for day in EVERY_DAY if not any(day in row.days for row in again))
        spots: list[Row] = []
        if days:
            some = self.wishes.spots[:count]
            share_s = room_s / max(count, 1)
            spots = [replace(self._timed(one, "trouble-spots", share_s), days=days) for one in some]
        tunes: tuple[Row, ...] = ()
        if count > len(spots) and days:
            left_s = room_s - sum(one.seconds for one in spots)
            more = count - len(spots)
            chosen = self._chosen("tune", candidates, more, left_s / more)
            tunes = self._filled(chosen, left_s, days, _MOST_TIMES_TUNE)
        named = (("trouble-spots", tuple(spots)), ("tune", tunes), ("again", again))
        return [Block(name, rows) for name, rows in named if rows]

    def _again(self, room_s: float) -> tuple[Row, ...]:
        """What comes back, each on its days; of two on one day each has half of the time."""
        found = []
        for kind, piece, days in self.wishes.again:
            most = max(sum(day in on for *_, on in self.wishes.again) for day in days)
            found.append(replace(self._timed(piece, kind, room_s / most), days=days))
        return tuple(found)


def _most_lines(row: Exercise | None) -> int:
    return _TUNE_LINES if _is_tune(row) else _MOST_LINES


def _is_tune(row: Exercise | None) -> bool:
    return row is not None and row.name.startswith((*_TUNES, "duet-"))


def _swells(row: Exercise) -> bool:
    return any(step.swell for bar in row.figure for step in bar)
