"""Teachers drawn by chance: that a few corrections bring the program nearer to them.

A small part of benchmarks/profiles.py, on the scores in tests/.
"""

from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from invented_teachers import (
    HORNS,
    KINDS,
    SLIPS,
    apart,
    base_for,
    his_places,
    read_piece,
    teacher,
    walk,
    wish_of,
)

from handslide.edges.files.horns import load_horn
from handslide.instrument.learning.learn import learn
from handslide.instrument.learning.weights import MOST_FACTOR, start_of, weights_of, with_factors

SCORES = Path(__file__).parents[1] / "scores"
LEARNT = ("Galliard_Sonata1",)
HELD_OUT = ("Muller_TechIII_01_Cb", "Bordogni_Vocalise_01_PD")
# Teachers on the tenor with F valve, one without slips and one with them, far from the base.
CHOSEN = (0, 10)


def pieces(names, horn):
    return [read_piece(SCORES / f"{name}.musicxml", horn) for name in names]


def test_a_hundred_teachers_are_of_all_kinds_on_all_horns():
    drawn = [teacher(number) for number in range(100)]
    assert Counter(who.kind for who in drawn) == {"exact": 34, "slips": 33, "times": 33}
    assert set(Counter((who.kind, who.horn) for who in drawn)) == {
        (kind, horn) for kind in KINDS for horn in HORNS
    }
    for who in drawn:
        base = base_for(load_horn(who.horn).tuned())
        ones, weights = np.ones(len(start_of(base))), weights_of(who.profile)
        assert (weights >= with_factors(base, ones / MOST_FACTOR)).all()
        assert (weights <= with_factors(base, ones * MOST_FACTOR)).all()
        assert (who.profile.hold_s != base.hold_s) == (who.kind == "times")
    assert teacher(7) == drawn[7]


def test_slips_are_few_and_the_same_each_time():
    who = teacher(1)
    piece = pieces(["Galliard_Sonata1"], who.horn)[0]
    plain, slipped = his_places(who, piece, slips=False), his_places(who, piece)
    assert slipped == his_places(who, piece)
    others = sum(one != other for one, other in zip(plain, slipped))
    assert 0 < others <= 2 * SLIPS * len(plain)


@pytest.fixture(scope="module")
def gone():
    """Of each chosen teacher the share of held-out notes that differs, before and after."""
    rows = []
    for number in CHOSEN:
        who = teacher(number)
        horn = load_horn(who.horn).tuned()
        base = base_for(horn)
        held_out = pieces(HELD_OUT, who.horn)
        his = [his_places(who, piece, slips=False) for piece in held_out]

        def profile(examples, base=base, horn=horn):
            return learn(examples, base_for).factors.profile(base, horn)

        last = list(walk(who, pieces(LEARNT, who.horn), profile, base, 10))[-1]
        before, after = (float(apart(held_out, his, p).mean()) for p in (base, last.profile))
        rows.append((before, after, last))
    return rows


def test_corrections_bring_it_nearer(gone):
    before, after, _ = zip(*gone)
    assert np.mean(before) > 0.04
    assert np.mean(after) < 0.5 * np.mean(before)
    assert all(after <= before + 0.005 for before, after, _ in gone)


def test_what_he_passed_counts_as_kept(gone):
    for number, (_, _, last) in zip(CHOSEN, gone):
        who = teacher(number)
        looked_at = [note for part in last.examples.examples for note in part.notes if note.how]
        assert sum(note.how == "changed" for note in looked_at) == last.corrections
        assert len(looked_at) == last.looked_at > last.corrections
        part = last.examples.examples[0]
        his = his_places(who, pieces([part.key], who.horn)[0])
        assert all(
            note.places == (wish_of(place),) for note, place in zip(part.notes, his) if note.how
        )
