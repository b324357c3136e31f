"""The route chooser against brute force over all routes.

The effort is counted a second time in ``brute``, in plain Python and from its description alone.
Tolerance: 1e-9 of the total, far above rounding (sums of some fifty terms in doubles) and far below
any difference that a weight could make.
"""

import math
import tracemalloc
from dataclasses import replace

import brute
import numpy as np
import pytest
from anyhorn import load_profile
from randomlines import (
    HORNS,
    LOWEST,
    horn_of,
    long_line,
    random_limits,
    random_line,
    random_profile,
)

from handslide.edges.files.horns import load_horn
from handslide.ground.errors import BadData, LineError
from handslide.ground.facts import fact
from handslide.instrument import lattice, route
from handslide.instrument.effort import FORBIDDEN, LINEAR, route_terms, spots, timing
from handslide.instrument.horn import Deviation
from handslide.instrument.line import make_line, parse_line
from handslide.instrument.places import Limits, PlaceBook
from handslide.instrument.route import lay_out, playable, solve, solve_line

WITHIN = 1e-9


def random_case(seed, bound, ties=False):
    """(line, book, profile, written): a line with at most ``bound`` routes, at least one."""
    rng = np.random.default_rng(seed)
    while True:
        name = HORNS[seed % len(HORNS)]
        profile = random_profile(rng)
        book = PlaceBook(horn_of(name), random_limits(rng, horn_of(name), profile))
        count = int(rng.integers(3, 8))
        if ties:
            line, written = repeated_line(rng, LOWEST[name], count)
        else:
            line, written = random_line(rng, LOWEST[name], count), None
        if len(playable(line, book)) < len(line):
            continue
        if math.prod(len(book.places(m)) for m in line.midi.tolist()) <= bound:
            return line, book, profile, written


def repeated_line(rng, lowest, count):
    """A line whose first notes come again, at other times and joins, as under a repeat sign."""
    line = random_line(rng, lowest, count)
    again = int(rng.integers(1, count // 2 + 1))
    midi = line.midi.copy()
    midi[-again:] = midi[:again]
    written = list(range(count - again)) + list(range(again))
    return make_line(midi, line.onset_s, line.length_s, line.slur, line.gliss), written


def possible(want, solution, effort):
    """Whether every glissando can be; else the total must show as few broken ones as can be."""
    if want.best < FORBIDDEN / 2:
        return True
    # 1e12 points in a double leave 1e-4 for the rest, and these are sums of several.
    assert solution.total == pytest.approx(want.best, rel=0, abs=0.01)
    assert effort.of_route(solution.places) == pytest.approx(want.best, rel=0, abs=0.01)
    return False


def check_solution(solution, profile, line, choices):
    """Total, min-marginals of every place, and the route through every place."""
    want = brute.BruteForce(profile, line, choices)
    effort = brute.Effort(profile, line)
    if not possible(want, solution, effort):
        return False
    near = {"rel": WITHIN, "abs": WITHIN}
    assert solution.total == pytest.approx(want.best, **near)
    assert effort.of_route(solution.places) == pytest.approx(want.best, **near)
    for note, row in enumerate(choices):
        assert solution.choices.places[note] == row
        assert (solution.worse_by[note, len(row) :] >= FORBIDDEN / 2).all()
        for k in range(len(row)):
            worse = solution.worse_by[note, k]
            if want.through[note][k] >= FORBIDDEN / 2:
                assert worse >= FORBIDDEN / 2
                continue
            assert worse == pytest.approx(
                want.through[note][k] - want.best, rel=WITHIN, abs=WITHIN * want.best
            )
            low, along = solution.through(note, k)
            chosen = solution.chosen.copy()
            chosen[low : low + len(along)] = along
            assert chosen[note] == k
            places = [r[j] for r, j in zip(choices, chosen.tolist())]
            assert effort.of_route(places) == pytest.approx(want.through[note][k], **near)
    return True


@pytest.mark.sample
@pytest.mark.parametrize("block", range(15))
def test_random_lines_against_all_routes(block):
    count = 0
    for seed in range(1000 + 24 * block, 1000 + 24 * (block + 1)):
        line, book, profile, _ = random_case(seed, 12_000)
        choices = tuple(book.places(m) for m in line.midi.tolist())
        solution = solve_line(line, book, profile).solution
        count += check_solution(solution, profile, line, choices)
    assert count >= 12  # the others have a glissando that no place allows


@pytest.mark.parametrize("seed", range(5))
def test_lines_with_many_routes_against_all_of_them(seed):
    rng = np.random.default_rng(seed)
    horn = horn_of("bass-independent")
    profile = load_profile(("classical", "beginner")[seed % 2])
    book = PlaceBook(horn)
    while True:
        line = random_line(rng, 46, 6)
        line = make_line(line.midi, line.onset_s, line.length_s, line.slur)
        choices = tuple(book.places(m) for m in line.midi.tolist())
        if 20_000 <= math.prod(map(len, choices)) <= 60_000:
            break
    assert check_solution(solve_line(line, book, profile).solution, profile, line, choices)


@pytest.mark.parametrize("horn_name", HORNS)
@pytest.mark.parametrize("profile_name", ["classical", "beginner"])
@pytest.mark.parametrize("text", ["F3", "Bb3:0.25 F4", "Eb4 D4:0.25 Eb4", "(D4 ~ F4) F4", "F3 F3"])
def test_lines_of_one_two_and_three_notes(text, profile_name, horn_name):
    line = parse_line(text, 90).line
    profile = load_profile(profile_name)
    book = PlaceBook(horn_of(horn_name))
    choices = tuple(book.places(m) for m in line.midi.tolist())
    assert check_solution(solve_line(line, book, profile).solution, profile, line, choices)


def test_a_horn_with_measured_deviations():
    description = load_horn("tenor-f")
    deviations = (
        Deviation((), 5, 9.0, -20.0), Deviation((), 6, 7.5), Deviation(("F",), 3, -6.0, 30.0),
    )  # fmt: skip
    book = PlaceBook(replace(description, deviations=deviations).tuned())
    profile = load_profile("classical")
    line = parse_line("D4 Eb4 (C3 D4) F4:0.25", 100).line
    choices = tuple(book.places(m) for m in line.midi.tolist())
    lips = [place.lip_cents for place in choices[0] if place.partial == 5 and not place.valves]
    assert lips == pytest.approx([13.6863 - 9.0], abs=1e-3)  # 1200·log2(5/4) is 386.3137
    assert check_solution(solve_line(line, book, profile).solution, profile, line, choices)


@pytest.mark.parametrize("seed", range(40))
def test_locks(seed):
    line, book, profile, _ = random_case(seed + 50, 2_000)
    rng = np.random.default_rng(seed)
    rows = [book.places(m) for m in line.midi.tolist()]
    locks = {
        note: rows[note][rng.integers(len(rows[note]))]
        for note in range(len(rows))
        if rng.random() < 0.4
    }
    open_rows = [[locks[i]] if i in locks else list(row) for i, row in enumerate(rows)]
    want = brute.BruteForce(profile, line, open_rows)
    solution = solve_line(line, book, profile, locks).solution
    if not possible(want, solution, brute.Effort(profile, line)):
        return
    assert solution.total == pytest.approx(want.best, rel=WITHIN)
    for note, place in locks.items():
        assert solution.places[note] == place
        others = np.delete(solution.worse_by[note], rows[note].index(place))
        assert (others >= FORBIDDEN / 2).all()


def test_a_lock_must_be_a_place_of_its_note():
    book = PlaceBook(horn_of("tenor"))
    foreign = book.places(53)[0]
    with pytest.raises(BadData, match="a place that its note doesn't have"):
        solve_line(parse_line("Bb2 C3").line, book, load_profile("classical"), {1: foreign})


def test_a_note_without_a_place_is_refused():
    book = PlaceBook(horn_of("tenor"))
    with pytest.raises(BadData, match="has no place on this horn"):
        solve_line(parse_line("Bb2 C2").line, book, load_profile("classical"))


@pytest.mark.parametrize("block", range(4))
def test_repeats_share_their_places(block):
    count = moved = 0
    for seed in range(5000 + 50 * block, 5000 + 50 * (block + 1)):
        line, book, profile, written = random_case(seed, 2_500, ties=True)
        rows = [book.places(m) for m in line.midi.tolist()]
        want = brute.BruteForce(profile, line, rows, written)
        tied = solve_line(line, book, profile, written=written)
        if not possible(want, tied.solution, brute.Effort(profile, line)):
            continue
        assert tied.exact
        count += 1
        assert tied.solution.total == pytest.approx(want.best, rel=WITHIN)
        got = {}
        for number, place in zip(written, tied.solution.places):
            assert got.setdefault(number, place) == place
        free = solve_line(line, book, profile).solution.total
        assert free <= tied.solution.total * (1 + WITHIN)
        moved += free < tied.solution.total * (1 - WITHIN)
    assert count >= 20
    assert moved >= 1  # the tie itself decided some of them


@pytest.mark.parametrize(("rounds", "branches", "proven"), [(1, 400, True), (1, 0, False)])
def test_repeats_whose_prices_do_not_settle_are_searched(monkeypatch, rounds, branches, proven):
    """By branch and bound the optimum; where that grows too long all ties, and no claim."""
    monkeypatch.setattr(route, "_MAX_ROUNDS", rounds)
    monkeypatch.setattr(route, "_MAX_BRANCHES", branches)
    searched = 0
    for seed in range(5000, 5060):
        line, book, profile, written = random_case(seed, 2_500, ties=True)
        rows = [book.places(m) for m in line.midi.tolist()]
        want = brute.BruteForce(profile, line, rows, written)
        tied = solve_line(line, book, profile, written=written)
        if not possible(want, tied.solution, brute.Effort(profile, line)):
            continue
        got = {}
        for number, place in zip(written, tied.solution.places):
            assert got.setdefault(number, place) == place
        if tied.exact:
            assert tied.solution.total == pytest.approx(want.best, rel=WITHIN)
        else:
            assert tied.solution.total >= want.best * (1 - WITHIN)
            assert not proven
        free = solve_line(line, book, profile).solution.total
        searched += not tied.exact or free < tied.solution.total * (1 - WITHIN)
    assert searched >= 1


@pytest.mark.parametrize("seed", range(30))
def test_a_lock_on_either_time_through_a_repeat_holds_for_both(seed):
    line, book, profile, written = random_case(seed + 9000, 2_000, ties=True)
    rows = [list(book.places(m)) for m in line.midi.tolist()]
    note = len(rows) - 1 if seed % 2 else 0  # the last note repeats an early one
    place = rows[note][seed % len(rows[note])]
    rows[note] = [place]
    want = brute.BruteForce(profile, line, rows, written)
    solution = solve_line(line, book, profile, {note: place}, written).solution
    if not possible(want, solution, brute.Effort(profile, line)):
        return
    assert solution.total == pytest.approx(want.best, rel=WITHIN)
    assert [p for n, p in zip(written, solution.places) if n == written[note]] == [
        place for n in written if n == written[note]
    ]


def test_two_locks_that_pull_a_repeat_apart_are_refused():
    book = PlaceBook(horn_of("tenor-f"))
    line = parse_line("C3 D3 C3").line
    first, second = book.places(48)[:2]
    with pytest.raises(BadData, match="two places to one written note"):
        solve_line(line, book, load_profile("classical"), {0: first, 2: second}, (0, 1, 0))


def long_solution(count, horn_name="tenor-f"):
    profile = load_profile("classical")
    book = PlaceBook(horn_of(horn_name))
    line = long_line(count)
    return line, book, profile, solve_line(line, book, profile).solution


@pytest.mark.parametrize("horn_name", ["tenor", "tenor-f", "bass-independent"])
def test_a_long_line_costs_what_its_own_route_costs(horn_name):
    line, book, profile, solution = long_solution(2_000, horn_name)
    effort = brute.Effort(profile, line)
    places = list(solution.places)
    assert effort.of_route(places) == pytest.approx(solution.total, rel=WITHIN)
    # No change of three neighbouring notes makes it cheaper.
    rng = np.random.default_rng(3)
    for start in rng.integers(2, 1_990, 12).tolist():
        window = range(start - 2, start + 5)
        rows = [book.places(int(line.midi[i])) for i in range(start, start + 3)]
        part = brute.Effort(profile, line.only(np.array(window)))
        before = part.of_route([places[i] for i in window])
        for a in rows[0]:
            for b in rows[1]:
                for c in rows[2]:
                    route_ = [*places[start - 2 : start], a, b, c, *places[start + 3 : start + 5]]
                    assert part.of_route(route_) >= before - 1e-9


def test_min_marginals_of_a_long_line_are_those_of_locked_lines():
    line, book, profile, solution = long_solution(300)
    rng = np.random.default_rng(11)
    for note in rng.integers(0, 300, 8).tolist():
        for k, place in enumerate(book.places(int(line.midi[note]))):
            locked = solve_line(line, book, profile, {note: place}).solution
            want = locked.total - solution.total
            assert solution.worse_by[note, k] == pytest.approx(want, abs=1e-8)


def test_the_terms_of_a_route_add_up_to_its_total():
    line, book, profile, solution = long_solution(400)
    at = spots(tuple(v.name for v in book.horn.valves), list(solution.places))
    parts = route_terms(profile, line, at, timing(profile, line))
    total = sum(float(points.sum()) for terms in parts for points in terms.values())
    assert total == pytest.approx(solution.total, rel=WITHIN)


@pytest.mark.parametrize("name", LINEAR)
def test_each_linear_weight_has_one_term_that_grows_with_it_alone(name):
    profile = replace(load_profile("classical"), vibrato=1.0)
    book = PlaceBook(load_horn("bass-independent").tuned())
    rng = np.random.default_rng(3)
    line = random_line(rng, LOWEST["bass-independent"], 400)
    line = line.only(playable(line, book))
    choices = lay_out(line, book, profile)
    chosen = rng.integers(choices.usable.sum(axis=1))
    at = choices.at.take((np.arange(len(line)), chosen))
    weight = getattr(profile, name)
    doubled = {n: 2 * x for n, x in weight.items()} if name == "partials" else 2 * weight
    when = timing(profile, line)
    less = route_terms(profile, line, at, when)
    more = route_terms(replace(profile, **{name: doubled}), line, at, when)
    assert {term for part in less for term in part} == set(LINEAR)
    grown = set()
    for terms, others in zip(less, more):
        for term, points in terms.items():
            factor = 2.0 if term == name else 1.0
            assert others[term] == pytest.approx(factor * points, rel=1e-12)
            grown |= {term} if points.any() and term == name else set()
    assert grown == {name}


def test_the_same_line_gives_the_same_route_every_time():
    _, _, _, first = long_solution(3_000)
    _, _, _, second = long_solution(3_000)
    assert first.places == second.places
    assert first.total == second.total
    assert np.array_equal(first.worse_by, second.worse_by)


@pytest.mark.parametrize("count", [3, 17, 18, 19, 33, 34, 35, 130, 500])
def test_work_in_small_chunks_changes_nothing(count, monkeypatch):
    _, _, _, whole = long_solution(count)
    monkeypatch.setattr(lattice, "_CHUNK_BYTES", 1)  # as few notes a chunk as there can be
    _, _, _, chunked = long_solution(count)
    assert chunked.total == whole.total
    assert np.array_equal(chunked.chosen, whole.chosen)
    assert np.array_equal(chunked.worse_by, whole.worse_by)
    for note in range(0, count, 9):
        for choice in range(len(whole.choices.places[note])):
            assert chunked.through(note, choice)[0] == whole.through(note, choice)[0]


@pytest.mark.parametrize("count", [2, 3, 4, 5, 60, 401])
def test_going_on_from_the_middle_finds_what_the_whole_recursion_finds(count):
    _, _, _, solution = long_solution(count, "bass-independent")
    moves, half = solution._moves, solution._met.swept
    whole = moves.sweep(count - 1)
    assert len(half.effort) < count or count < 4
    assert np.array_equal(half.effort, whole.effort[: len(half.effort)])
    assert np.array_equal(moves.swept_on(half.effort), whole.effort)
    assert np.array_equal(moves.swept_on(), whole.effort)
    for step in range(0, count - 2, 7):
        for lane in (0, 1):
            for pair in np.ndindex(whole.beyond.shape[2:]):
                found = moves.before(whole.effort, lane, step, pair)
                assert found == whole.beyond[step, lane][pair]


def test_memory_grows_with_the_length_of_the_line_only():
    profile, book = load_profile("classical"), PlaceBook(horn_of("tenor-f"))
    peaks = []
    for count in (4_000, 8_000):
        line = long_line(count)
        solve_line(line.only(np.arange(100)), book, profile)  # the book's pages, once
        tracemalloc.start()
        try:
            kept = solve_line(line, book, profile).solution.worse_by
            peaks.append(tracemalloc.get_traced_memory()[1])
        finally:
            tracemalloc.stop()
        assert len(kept) == len(line)
    # Twice the notes, twice the memory: a quadratic table would take four times as much.
    assert peaks[1] / peaks[0] < 2.3


def test_progress_is_told_to_the_end():
    profile, book = load_profile("classical"), PlaceBook(horn_of("tenor"))
    told = []
    solve_line(long_line(2_000), book, profile, progress=lambda done, of: told.append((done, of)))
    # From both ends to the middle: a step for every second note.
    assert told[-1] == (999, 999)
    assert [done for done, _ in told] == sorted({done for done, _ in told})


def test_one_choice_a_note_leaves_one_route():
    profile, book = load_profile("classical"), PlaceBook(horn_of("tenor"), Limits(top_partial=3))
    line = parse_line("E2 F2 Gb2 Bb2").line
    choices = lay_out(line, book, profile)
    assert [len(row) for row in choices.places] == [1, 1, 1, 1]
    assert [p.partial for p in solve(choices, profile).places] == [2, 2, 2, 2]


@pytest.mark.parametrize("text, column", [("~ Bb2 C3", 1), ("Bb2 r ~ C3", 7), ("~", 1)])
def test_a_glissando_comes_from_a_note(text, column):
    with pytest.raises(LineError) as caught:
        parse_line(text)
    assert caught.value.fact.values["cause"] == fact("line.glissando_before")
    assert caught.value.fact.values["column"] == column
    assert parse_line("Bb2 ~ C3").line.gliss.tolist() == [True, False]


def test_an_open_pedal_is_where_it_belongs_however_far_out():
    """A pedal sounds on the whole tube; common practice plays it open, down to 7th."""
    book = PlaceBook(horn_of("tenor-f"), Limits())
    for midi in range(34, 27, -1):
        found = {place.valves: place for place in book.places(midi) if place.partial == 1}
        assert not found[()].spared, midi
    assert found[()].position > 6.5 and any(valves for valves in found)
