"""The route as a teacher writes it: near ties go to the plain place, what returns stays the same.

First the exact route. Then each note in turn is given the place that it has where its figure came
first, else its plain place, if the best whole route through that place costs at most ``NEAR_TIE``
more. All these are held, and the line is solved again, exactly; where a stretch of the new route
costs more than ``NEAR_TIE`` above the old one, only the first of its new places is held, and the
line is solved once more. That is done again with the new route until nothing is left to settle,
at most ``_ROUNDS`` times.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handslide.instrument.effort import Floats
from handslide.instrument.line import Line
from handslide.instrument.places import Place, PlaceBook
from handslide.instrument.profile import Profile
from handslide.instrument.route import (
    Choices,
    Solution,
    StepCallback,
    lay_out,
    solve_choices,
)

NEAR_TIE = 0.7
"""Points within which two routes are equally good to a player."""

_ROUNDS = 3
# A figure has this many notes at least; longer ones are looked for in doublings of it.
_FIGURE = 3
_DOUBLINGS = 4
# Rhythms that differ by less are the same.
_SAME_S = 1e-3
# A turn is about three notes: stretches that differ are apart where two notes between them agree.
_APART = 3


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """A route and the exact best one that it was settled from (one object where nothing was).

    ``exact`` is false where the ties of written notes were made without proof of the optimum.
    """

    solution: Solution
    first: Solution
    exact: bool


def choose(
    line: Line,
    book: PlaceBook,
    profile: Profile,
    locks: Mapping[int, Place] | None = None,
    written: Sequence[int] | None = None,
    progress: StepCallback | None = None,
) -> Settled:
    """The settled route through a line of playable notes.

    ``locks`` fixes places by note index; ``written`` gives the number of the written note of each
    (default: each its own). Raises BadData when a lock isn't one of the note's places.
    """
    return choose_from(lay_out(line, book, profile), profile, locks, written, progress)


def choose_from(
    choices: Choices,
    profile: Profile,
    locks: Mapping[int, Place] | None = None,
    written: Sequence[int] | None = None,
    progress: StepCallback | None = None,
) -> Settled:
    """As :func:`choose`, over choices that are laid out already."""
    tied = solve_choices(choices, profile, locks, written, progress)
    return Settled(settle(tied.solution, written), tied.solution, tied.exact)


def settle(first: Solution, written: Sequence[int] | None = None) -> Solution:
    """Settle the exact route ``first``; notes with one number in ``written`` stay together."""
    numbers = np.arange(len(first.chosen)) if written is None else _numbered(written)
    line, profile = first.choices.line, first.profile
    plain = (first.choices.stand + first.choices.held).argmin(axis=1)
    sources = earlier_figures(line, numbers)
    settled = first
    for _ in range(_ROUNDS):
        worse = _together(settled.worse_by, numbers)
        if profile.one_place > 0.0:
            wanted = _one_place(line, settled.chosen, plain, worse, profile.one_place)
        else:
            wanted = _wanted(settled.chosen, plain, worse, sources, numbers)
        new = {
            note: choice
            for note, (choice, now) in enumerate(zip(wanted, settled.chosen.tolist()))
            if choice != now
        }
        if not new:
            break
        trial = first.settled({**settled.held, **new})
        if profile.one_place == 0.0:
            kept = _within(first, trial, new, numbers)
            if len(kept) < len(new):
                trial = first.settled({**settled.held, **kept})
        if np.array_equal(trial.chosen, settled.chosen):
            break
        settled = trial
    return settled


def earlier_figures(line: Line, numbers: NDArray[np.intp]) -> list[int]:
    """For each note, the note that it is in an earlier figure, -1 where there is none.

    A figure is three notes or more, of the same pitches, rhythm and slurs; of several, the longest
    and then the first counts. A note that is written once is its own first time.
    """
    count = len(line)
    sources = np.full(count, -1)
    first = np.unique(numbers, return_index=True)[1][
        np.unique(numbers, return_inverse=True)[1].reshape(-1)
    ]
    sources[first < np.arange(count)] = first[first < np.arange(count)]
    gap = np.append(np.diff(line.onset_s), line.length_s[-1:])
    rows = np.column_stack((line.midi, np.rint(gap / _SAME_S), line.slur))
    kinds = np.unique(rows, axis=0, return_inverse=True)[1].reshape(-1)
    window = 1
    runs: list[tuple[int, NDArray[np.intp]]] = []
    for step in (1, 1, *(_FIGURE * 2**k for k in range(_DOUBLINGS - 1))):
        if len(kinds) <= step:
            break
        base = kinds[: len(kinds) - step]
        other = (single if window == 2 else kinds)[-len(base) :]
        if window == 1:
            single = kinds
        kinds = np.unique(base * (count + 1) + other, return_inverse=True)[1].reshape(-1)
        window += step
        if window >= _FIGURE:
            runs.append((window, kinds))
    for length, kinds in reversed(runs):
        starts = np.unique(kinds, return_index=True)[1][kinds]
        again = np.flatnonzero(starts < np.arange(len(kinds)))
        for offset in range(length - 1, -1, -1):
            notes = again + offset
            free = sources[notes] < 0
            sources[notes[free]] = starts[again[free]] + offset
    return list(map(int, sources.tolist()))


def _numbered(written: Sequence[int]) -> NDArray[np.intp]:
    return np.unique(np.asarray(written), return_inverse=True)[1].reshape(-1)


def _together(worse: Floats, numbers: NDArray[np.intp]) -> Floats:
    """What a place costs all notes that are one written note."""
    groups = int(numbers.max()) + 1
    if groups == len(numbers):
        return worse
    sums = np.zeros((groups, worse.shape[1]))
    np.add.at(sums, numbers, worse)
    return np.asarray(sums[numbers])


def _wanted(
    chosen: NDArray[np.intp],
    plain: NDArray[np.intp],
    worse: Floats,
    sources: Sequence[int],
    numbers: NDArray[np.intp],
) -> list[int]:
    """For each note its place in the earlier figure, else its plain one, if that is a near tie."""
    wanted = chosen.tolist()
    written = numbers.tolist()
    near = (worse <= NEAR_TIE).tolist()
    for note, (source, home) in enumerate(zip(sources, plain.tolist())):
        if source >= 0 and written[source] == written[note]:
            wanted[note] = wanted[source]
        elif source >= 0 and near[note][wanted[source]]:
            wanted[note] = wanted[source]
        elif near[note][home]:
            wanted[note] = home
    return [int(choice) for choice in wanted]


def _one_place(
    line: Line,
    chosen: NDArray[np.intp],
    plain: NDArray[np.intp],
    worse: Floats,
    most: float,
) -> list[int]:
    """For each note the one place of its pitch that costs least over the line.

    The plain place is taken where it costs at most ``NEAR_TIE`` a note more than the best one. A
    note stays where it is if its place would cost it more than ``most``.
    """
    wanted = chosen.copy()
    for midi in np.unique(line.midi).tolist():
        notes = np.flatnonzero(line.midi == midi)
        sums = np.minimum(worse[notes], most).sum(axis=0)
        home, best = int(plain[notes[0]]), int(sums.argmin())
        if sums[home] <= sums[best] + NEAR_TIE * len(notes):
            best = home
        wanted[notes[worse[notes, best] <= most]] = best
    return [int(choice) for choice in wanted.tolist()]


def _within(
    first: Solution, trial: Solution, new: Mapping[int, int], numbers: NDArray[np.intp]
) -> dict[int, int]:
    """What is left of the ``new`` places where each stretch must cost a near tie at most."""
    kept = dict(new)
    differs = np.flatnonzero(first.chosen != trial.chosen)
    if trial.total - first.total <= NEAR_TIE or not len(differs):
        return kept
    dearer = np.cumsum(trial.points(trial.chosen) - first.points(first.chosen))
    cuts = np.flatnonzero(np.diff(differs) >= _APART) + 1
    for stretch in np.split(differs, cuts):
        low, high = int(stretch[0]), int(stretch[-1])
        before = dearer[low - 1] if low else 0.0
        if dearer[min(high + 2, len(dearer) - 1)] - before <= NEAR_TIE:
            continue
        inside = [note for note in new if low <= note <= high]
        for note in inside:
            if numbers[note] != numbers[inside[0]]:
                kept.pop(note, None)
    return kept
