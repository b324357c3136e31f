"""Passages of a part that a take leaves out: repeats that weren't played, measures skipped.

And notes at whose time something sounded that couldn't be heard as a note: nobody can say that they
were missed.
"""

from collections.abc import Sequence
from dataclasses import replace

from handslide.edges.musicxml.scorepart import ScorePart
from handslide.ground.units import cents
from handslide.sound.follow import Followed, Match
from handslide.sound.measure import LeftOut
from handslide.sound.notes import HeardNote, HeardTake

Run = tuple[int, int]
"""First number in the line as played, and the one behind the last."""

# Fewer notes than this are single notes that weren't heard, though they fill a measure.
_LEAST_PASSAGE = 4
# Sounds of somebody or something, that weren't a clear note.
_UNCLEAR = (
    "sounds.sliding", "sounds.no_steady_pitch", "sounds.several_pitches", "sounds.struck_string",
)  # fmt: skip
_COVERS = 0.5
_DRONE_CENTS, _IN_COMMON = 30.0, 4


def judged(part: ScorePart, take: HeardTake, followed: Followed) -> Followed:
    """The same with what can't be held against the player.

    Of a repeat that wasn't played, the notes that were heard the other time lie outside the take. A
    missing note is unsure where for half of its length something sounded that was left out, and so
    is a wrong one as high as a drone: what is left of that is no note of the player's.
    """
    matches = list(followed.matches)
    heard = _heard(part, matches)
    for first, stop in _runs(part, matches):
        for number in range(first, stop):
            if part.played[number] in heard:
                matches[number] = replace(matches[number], outside=True)
    drone = {number for number, note in enumerate(take.notes) if _as_drone(take, note)}
    for number, match in enumerate(matches):
        if match.heard in drone and match.played in ("wrong", "octave"):
            matches[number] = replace(match, played="unsure", confidence=0.4)
        if (
            match.played == "missing"
            and not match.outside
            and _covered(part, take, followed, number)
        ):
            matches[number] = replace(match, played="unsure", confidence=0.4)
    extras = (one for one in followed.extras if one.kind != "extra" or one.heard not in drone)
    return replace(followed, matches=tuple(matches), extras=tuple(extras))


def left_out(part: ScorePart, matches: Sequence[Match]) -> tuple[Run, ...]:
    """The passages of a measure and more within a take that weren't heard at all."""
    return tuple(run for run in _runs(part, matches) if run[1] - run[0] >= _LEAST_PASSAGE)


def repeats_left_out(part: ScorePart, matches: Sequence[Match]) -> int:
    """How many notes outside the take were heard another time: of a repeat that wasn't played."""
    heard = _heard(part, matches)
    return sum(match.outside and part.played[n] in heard for n, match in enumerate(matches))


def _heard(part: ScorePart, matches: Sequence[Match]) -> set[int]:
    """The written notes that were heard once at least."""
    return {
        part.played[number]
        for number, match in enumerate(matches)
        if match.heard is not None and match.played != "unsure"
    }


def _runs(part: ScorePart, matches: Sequence[Match]) -> list[Run]:
    """Runs of missing notes within the take that hold a whole measure."""
    missing = [match.played == "missing" and not match.outside for match in matches]
    found: list[Run] = []
    number = 0
    while number < len(missing):
        stop = number
        while stop < len(missing) and missing[stop]:
            stop += 1
        begins = [n for n in range(number, stop + 1) if _begins(part, n)]
        if len(begins) > 1:
            found.append((number, stop))
        number = stop + 1
    return found


def _begins(part: ScorePart, number: int) -> bool:
    """Whether a measure begins with this note of the line as played, or the line is at its end."""
    if number in (0, len(part.played)):
        return True
    before, written = part.played[number - 1], part.played[number]
    back = written <= before
    return back or part.notes[written].measure_index != part.notes[before].measure_index


def _covered(part: ScorePart, take: HeardTake, followed: Followed, number: int) -> bool:
    """Whether something unclear sounded where a missing note was due."""
    matches = followed.matches
    before = next((m.heard for m in matches[number::-1] if m.heard is not None), None)
    after = next((m.heard for m in matches[number:] if m.heard is not None), None)
    if before is None or after is None:
        return False
    begin_s, end_s = take.notes[before].end_s, take.notes[after].start_s
    unclear = [row for row in take.left_out if row.why.kind in _UNCLEAR]
    sounded_s = sum(_within_s(row, begin_s, end_s) for row in unclear)
    return sounded_s >= _COVERS * part.length_s[number] / followed.tempo_ratio


def _as_drone(take: HeardTake, note: HeardNote) -> bool:
    """Whether a note is as high as a drone, or as what it has in common with a note above it."""
    if take.drone_hz is None:
        return False
    times = max(1, round(take.drone_hz / note.f0_hz))
    return times <= _IN_COMMON and abs(cents(times * note.f0_hz / take.drone_hz)) < _DRONE_CENTS


def _within_s(row: LeftOut, begin_s: float, end_s: float) -> float:
    return max(0.0, min(row.end_s, end_s) - max(row.start_s, begin_s))
