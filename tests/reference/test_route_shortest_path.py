"""The route chooser against general solvers: all routes, and shortest paths.

The effort is that of ``brute``, counted from its description in plain Python. A route through N
notes is a path over pairs of neighbouring places; the outside check is Dijkstra's algorithm as
``scipy.sparse.csgraph`` has it, which knows nothing of lines, lanes or meeting in the middle.
Tolerance: 1e-9 of the total, the rounding of sums of some hundred terms.
"""

import itertools

import brute
import numpy as np
import pytest
from randomlines import HORNS, LOWEST, random_line
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

import handslide as hs
from handslide.instrument.line import make_line

WITHIN = 1e-9
# Every path has as many edges: this makes none of them 0, which a sparse graph couldn't hold.
EVERY = 1.0


def pair_graph(effort, rows):
    """(graph, nodes, end): from node 0 to ``end``, over (note e, place of e, place of e+1)."""
    nodes = {}
    for e in range(len(rows) - 1):
        for b in range(len(rows[e])):
            for c in range(len(rows[e + 1])):
                nodes[e, b, c] = len(nodes) + 1
    end = len(nodes) + 1
    edges = []
    for (e, b, c), node in nodes.items():
        here, there = rows[e][b], rows[e + 1][c]
        if e == 0:
            start = effort.stand(0, here) + effort.move(0, here, there) + effort.stand(1, there)
            edges.append((0, node, start))
        if e == len(rows) - 2:
            edges.append((node, end, 0.0))
            continue
        for d, after in enumerate(rows[e + 2]):
            points = effort.move(e + 1, there, after) + effort.stand(e + 2, after)
            points += effort.turn(e + 1, here, there, after)
            edges.append((node, nodes[e + 1, c, d], points))
    tails, heads, points = zip(*edges)
    graph = coo_array((np.array(points) + EVERY, (tails, heads)), shape=(end + 1, end + 1)).tocsr()
    return graph, nodes, end


def random_route(seed, count):
    rng = np.random.default_rng(seed)
    name = HORNS[seed % len(HORNS)]
    line = random_line(rng, LOWEST[name] + 6, count)
    line = make_line(line.midi, line.onset_s, line.length_s, line.slur)
    horn = hs.horn(name, profile=("classical", "beginner", "jazz")[seed % 3])
    route = hs.route(
        line.midi, horn, onset_s=line.onset_s, length_s=line.length_s, slur=line.slur,
        settled=False,
    )  # fmt: skip
    keep = np.flatnonzero(route.chosen >= 0)
    setup = horn._setup
    rows = [setup.book.places(int(midi)) for midi in line.midi[keep]]
    return route, keep, rows, brute.Effort(setup.profile, line.only(keep))


@pytest.mark.parametrize("seed", range(24))
def test_long_lines_against_dijkstra(seed):
    route, keep, rows, effort = random_route(seed, 40)
    assert len(keep) > 25
    graph, nodes, end = pair_graph(effort, rows)
    there = dijkstra(graph, indices=0)
    back = dijkstra(graph.T.tocsr(), indices=end)
    least = there[end] - EVERY * len(rows)
    assert route.effort == pytest.approx(least, rel=WITHIN)
    assert route.exact and route.least_effort == route.effort
    best = np.full((len(rows), max(map(len, rows))), np.inf)
    for (e, b, c), node in nodes.items():
        whole = there[node] + back[node] - EVERY * len(rows)
        best[e, b] = min(best[e, b], whole)
        best[e + 1, c] = min(best[e + 1, c], whole)
    worse = route.worse_by[keep]
    assert worse.shape == best.shape
    known = np.isfinite(best)
    assert (np.isfinite(worse) == known).all()
    assert worse[known] == pytest.approx(best[known] - least, rel=WITHIN, abs=WITHIN * least)


@pytest.mark.parametrize("seed", range(100, 130))
def test_short_lines_against_all_routes(seed):
    route, keep, rows, effort = random_route(seed, 6)
    if len(keep) < 3:
        pytest.skip("too little of it can be played")
    want = brute.BruteForce(effort.profile, effort_line(effort), rows)
    assert route.effort == pytest.approx(want.best, rel=WITHIN)
    for note, row in zip(keep.tolist(), want.through):
        found = route.worse_by[note, : len(row)]
        assert found == pytest.approx(np.array(row) - want.best, rel=WITHIN, abs=WITHIN * want.best)
    # What the library says that any route costs is what the other count says.
    every = itertools.islice(itertools.product(*(range(len(row)) for row in rows)), 200)
    for chosen in every:
        one = route.chosen.copy()
        one[keep] = chosen
        wanted = effort.of_route([row[k] for row, k in zip(rows, chosen)])
        assert route.effort_of(one) == pytest.approx(wanted, rel=WITHIN)


def effort_line(effort):
    return make_line(effort.midi, effort.onset, effort.length, effort.slur)


@pytest.mark.parametrize("seed", range(200, 212))
def test_settled_routes_against_the_rule_over_all_routes(seed):
    rng = np.random.default_rng(seed)
    name = HORNS[seed % len(HORNS)]
    line = random_line(rng, LOWEST[name] + 8, 6)
    horn = hs.horn(name, profile="classical")
    route = hs.route(line.midi, horn, onset_s=line.onset_s, length_s=line.length_s)
    keep = np.flatnonzero(route.chosen >= 0)
    rows = [horn._setup.book.places(int(midi)) for midi in line.midi[keep]]
    played = make_line(line.midi, line.onset_s, line.length_s).only(keep)
    want = brute.Settled(horn._setup.profile, played, rows)
    assert route.chosen[keep].tolist() == list(want.route)
    assert route.least_effort == pytest.approx(want.first[0], rel=WITHIN)
