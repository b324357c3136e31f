"""The settled route: against the rule worked out over all routes, and what it promises."""

from dataclasses import replace

import brute
import numpy as np
import pytest
from anyhorn import load_profile
from randomlines import HORNS, LOWEST, horn_of, long_line, random_line, random_profile

from handslide.instrument import lattice, pushed
from handslide.instrument.effort import FORBIDDEN
from handslide.instrument.line import make_line, parse_line
from handslide.instrument.places import Limits, PlaceBook
from handslide.instrument.route import lay_out, playable, solve
from handslide.instrument.settle import NEAR_TIE, choose, choose_from, earlier_figures

PROFILES = ("classical", "beginner", "bass", "jazz")


def figured_line(rng, lowest):
    """A figure, something else, and the figure again, perhaps in another neighbourhood."""
    line = random_line(rng, lowest, 7)
    midi, length = line.midi.copy(), np.maximum(line.length_s, 0.05)
    midi[4:7], length[4:7] = midi[:3], length[:3]
    onset = np.concatenate([[0.0], np.cumsum(length)[:-1]])
    return make_line(midi, onset, length, line.slur & (rng.random(7) < 0.5))


def case(seed, bound, shape):
    """(line, book, profile): a line with at most ``bound`` routes."""
    rng = np.random.default_rng(seed)
    name = HORNS[seed % len(HORNS)]
    while True:
        profile = load_profile(PROFILES[rng.integers(4)])
        if rng.random() < 0.4:
            profile = replace(random_profile(rng), one_place=0.0)
        limits = Limits(None, None, profile.top_partial, profile.top_partial_valve)
        book = PlaceBook(horn_of(name), limits)
        line = shape(rng, LOWEST[name])
        if len(playable(line, book)) == len(line) and 8 < count_routes(line, book) <= bound:
            return line, book, profile


def count_routes(line, book):
    return int(np.prod([len(book.places(m)) for m in line.midi.tolist()], dtype=float))


def short_line(rng, lowest):
    line = random_line(rng, lowest, int(rng.integers(3, 8)))
    length = np.maximum(0.25, line.length_s)
    onset = np.concatenate([[0.0], np.cumsum(length)[:-1]])
    return make_line(line.midi, onset, length, line.slur)


@pytest.mark.sample
@pytest.mark.parametrize("shape", [short_line, figured_line])
@pytest.mark.parametrize("block", range(4))
def test_the_rule_over_all_routes(block, shape):
    moved = 0
    for seed in range(100 * block, 100 * block + 100):
        line, book, profile = case(seed, 1500, shape)
        # Most lines have nothing to settle: some of them are enough.
        if not choose(line, book, profile).solution.held and seed % 8:
            continue
        rows = [book.places(m) for m in line.midi.tolist()]
        want = brute.Settled(profile, line, rows)
        got = choose(line, book, profile)
        assert tuple(got.solution.chosen.tolist()) == want.route
        assert got.first.total == pytest.approx(want.first[0], rel=1e-9)
        assert got.solution.total == pytest.approx(want.total(want.route), rel=1e-9)
        moved += want.route != want.first[1]
        check_min_marginals(got, want)
    assert moved >= 1


def check_min_marginals(got, want):
    """Those of the last solve: of a settled note, with all others where they were settled."""
    held = got.solution.held
    for note, row in enumerate(want.choices):
        others = {i: k for i, k in held.items() if i != note}
        for k in range(len(row)):
            worse = want.best({**others, note: k})[0] - want.total(want.route)
            assert got.solution.worse_by[note, k] == pytest.approx(max(0.0, worse), abs=1e-7)


@pytest.mark.parametrize("horn", ["tenor", "tenor-f", "bass-independent"])
def test_a_part_of_the_line_solved_again_is_the_whole_solved_again(horn):
    profile, book = load_profile("classical"), PlaceBook(horn_of(horn))
    rng = np.random.default_rng(4)
    first = solve(lay_out(long_line(400), book, profile), profile)
    for _ in range(40):
        notes = rng.choice(400, int(rng.integers(1, 9)), replace=False).tolist()
        held = {n: int(rng.integers(len(first.choices.places[n]))) for n in notes}
        chosen, total = pushed.resolved(first._met, held)
        want, points = lattice.best_route(lattice.priced(first._moves, held))
        assert np.array_equal(chosen, want)
        assert total == pytest.approx(points, rel=1e-12)


@pytest.mark.parametrize("horn", ["tenor", "tenor-f", "bass-independent"])
@pytest.mark.parametrize("count", [1, 2, 3, 4, 30, 31, 200])
def test_single_min_marginals_are_those_of_the_whole_recursion(count, horn):
    profile, book = load_profile("classical"), PlaceBook(horn_of(horn))
    first = solve(lay_out(long_line(count), book, profile), profile)
    holds = [(n, k) for n, row in enumerate(first.choices.places) for k in range(len(row))]
    want = [first.worse_by[hold] for hold in holds]
    assert first.dearer(holds) == pytest.approx(want, abs=1e-7)


def test_where_nothing_rejoins_the_whole_line_is_solved(monkeypatch):
    profile, book = load_profile("classical"), PlaceBook(horn_of("tenor-f"))
    first = solve(lay_out(long_line(60), book, profile), profile)
    held = {20: len(first.choices.places[20]) - 1}
    want = first.settled(held)
    monkeypatch.setattr(pushed, "REJOINS", (0,))
    assert np.array_equal(first.settled(held).chosen, want.chosen)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("profile_name", ["classical", "bass"])
def test_each_stretch_costs_a_near_tie_at_most(seed, profile_name):
    profile, book = load_profile(profile_name), PlaceBook(horn_of("bass-independent"))
    line = long_line(400, seed)
    got = choose(line, book, profile)
    effort = brute.Effort(profile, line)
    ours, exact = list(got.solution.places), list(got.first.places)
    differs = [i for i in range(400) if ours[i] != exact[i]]
    stretches = np.split(differs, np.flatnonzero(np.diff(differs) >= 3) + 1) if differs else []
    for stretch in stretches:
        low, high = int(stretch[0]), int(stretch[-1]) + 1
        window = np.arange(max(0, low - 2), min(400, high + 2))
        part = brute.Effort(profile, line.only(window))
        mixed = [ours[i] if low <= i < high else exact[i] for i in window]
        dearer = part.of_route(mixed) - part.of_route([exact[i] for i in window])
        assert dearer <= NEAR_TIE + 1e-9
    assert effort.of_route(ours) == pytest.approx(got.solution.total, rel=1e-9)


@pytest.mark.parametrize("seed", range(40))
def test_a_locked_note_stays_where_it_is_locked(seed):
    line, book, profile = case(seed + 700, 3000, figured_line)
    rng = np.random.default_rng(seed)
    rows = [book.places(m) for m in line.midi.tolist()]
    locks = {n: rows[n][rng.integers(len(rows[n]))] for n in range(7) if rng.random() < 0.5}
    got = choose(line, book, profile, locks)
    for note, place in locks.items():
        assert got.solution.places[note] == place
        others = np.delete(got.solution.worse_by[note], rows[note].index(place))
        assert (others >= FORBIDDEN / 2).all()


@pytest.mark.parametrize("seed", range(40))
def test_what_is_written_once_has_one_place(seed):
    line, book, profile = case(seed + 900, 3000, figured_line)
    written = [0, 1, 2, 3, 0, 1, 2]
    got = choose(line, book, profile, None, written)
    places = got.solution.places
    assert places[:3] == places[4:]
    effort = brute.Effort(profile, line)
    assert effort.of_route(list(places)) == pytest.approx(got.solution.total, rel=1e-9)


def test_a_beginner_plays_one_note_in_one_place():
    # one note, one place in first-year music, unless it can't be played otherwise
    profile, book = load_profile("beginner"), PlaceBook(horn_of("tenor-f"))
    for seed in range(5):
        got = choose(long_line(200, seed), book, profile).solution
        places = {}
        for midi, place in zip(got.choices.line.midi.tolist(), got.places):
            places.setdefault(midi, set()).add(place)
        assert sum(len(found) > 1 for found in places.values()) <= 1


def test_figures_are_found_where_they_came_first():
    line = parse_line("F3 G3 A3 C4 F3 G3 A3 D4 C4 F3 G3").line
    sources = earlier_figures(line, np.arange(11))
    assert sources.tolist() == [-1, -1, -1, -1, 0, 1, 2, -1, 3, 4, 5]
    other_rhythm = parse_line("F3 G3 A3 C4 F3 G3:2 A3 D4").line
    assert earlier_figures(other_rhythm, np.arange(8)).tolist() == [-1] * 8
    assert earlier_figures(parse_line("F3").line, np.arange(1)).tolist() == [-1]


def test_nothing_to_settle_gives_the_first_solution():
    profile, book = load_profile("classical"), PlaceBook(horn_of("tenor-f"))
    choices = lay_out(parse_line("Bb3 D4 F4").line, book, profile)
    got = choose_from(choices, profile)
    assert got.solution is got.first
    assert got.exact


def test_a_glissando_that_cannot_be_leaves_the_rest_to_be_settled():
    profile, book = load_profile("classical"), PlaceBook(horn_of("tenor-f"))
    line = parse_line("Bb2~F3 " + "F4:.5 Ab4:.5 Bb4:2 F3 C3 D3 G3 A3 " * 6, 100).line
    got = choose(line, book, profile)
    assert got.first.total > FORBIDDEN / 2
    want, total = lattice.best_route(lattice.priced(got.first._moves, got.solution.held))
    assert np.array_equal(got.solution.chosen, want)
    assert got.solution.total == pytest.approx(total, abs=0.01)
