"""Learning weights from places: features against the effort, the chain against all routes written
out, factors, limits, the guard of passages left out."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from anyhorn import bases, load_profile
from musicxml_build import OWN_SCORES
from randomlines import HORNS, LOWEST, horn_of, random_line, random_profile

from handslide.edges.files.horns import load_horn
from handslide.edges.musicxml.read import open_score
from handslide.ground.pitch import from_midi
from handslide.instrument.effort import route_terms, timing
from handslide.instrument.learning.asking import MOST_NOTES, most_telling, question
from handslide.instrument.learning.chain import BETA, SLIP, Chain, blocks_of
from handslide.instrument.learning.example import (
    Answer,
    ChosenNote,
    Example,
    Examples,
    Question,
    Stand,
)
from handslide.instrument.learning.features import route_features
from handslide.instrument.learning.fit import Objective
from handslide.instrument.learning.learn import chosen_by, gather, lay_out_all, learn
from handslide.instrument.learning.passages import lay_out_example, question_routes
from handslide.instrument.learning.weights import (
    MOST_FACTOR,
    WEIGHTS,
    Factors,
    profile_with,
    weights_of,
    with_factors,
)
from handslide.instrument.line import parse_line
from handslide.instrument.places import Limits, PlaceBook
from handslide.instrument.route import NEAR_TIE, lay_out, playable
from handslide.instrument.settle import QUICK_S
from handslide.jobs.profile.examplenotes import plain_notes

TENOR = load_horn("tenor-f")
BASS = load_horn("bass-independent")


def playable_line(rng, name, count):
    horn, profile = horn_of(name), load_profile("classical")
    book = PlaceBook(horn, Limits(None, None, profile.top_partial, profile.top_partial_valve))
    while True:
        line = random_line(rng, LOWEST[name], count)
        keep = playable(line, book)
        if len(keep) == count:
            return line, book


def notes_of(line, route=None, places=None, how="changed"):
    return tuple(
        ChosenNote(
            int(line.midi[k]), from_midi(int(line.midi[k])).name, float(line.onset_s[k]),
            float(line.length_s[k]), bool(line.slur[k]), False, str(1 + k // 4), 1 + k % 4, k,
            None if route is None else how,
            () if route is None else ((places[k][route[k]].valves, places[k][route[k]].partial),),
        )
        for k in range(len(line))
    )  # fmt: skip


def example_by(profile_of, seed, count=200, horn=TENOR, key="part"):
    """An example in which every note lies where ``profile_of(base)`` puts it."""
    rng = np.random.default_rng(seed)
    line, _ = playable_line(rng, horn.name, count)
    example = Example(key, key, Stand(horn), notes_of(line))
    passage = lay_out_example(0, example, bases)
    route = chosen_by(passage, profile_of(passage.base))
    places = passage.choices.places
    return replace(example, notes=notes_of(line, route, places))


def scaled(**factors):
    def profile_of(base):
        return replace(base, **{name: getattr(base, name) * by for name, by in factors.items()})

    return profile_of


@pytest.mark.parametrize("name", HORNS)
def test_effort_is_features_times_weights(name):
    rng = np.random.default_rng(sum(map(ord, name)))
    for _ in range(12):
        profile = random_profile(rng)
        profile = replace(profile, partials={7: 0.3, 9: 1.3, 12: float(rng.uniform(0, 2))})
        line, book = playable_line(rng, name, int(rng.integers(1, 30)))
        choices = lay_out(line, book, profile)
        route = np.array([rng.choice(np.flatnonzero(row)) for row in choices.usable])
        at = choices.at.take((np.arange(len(line)), route))
        when, begins = timing(profile, line), bool(rng.integers(2))
        terms = route_terms(profile, line, at, when, begins=begins)
        effort = sum(float(np.sum(points)) for row in terms for points in row.values())
        features = route_features(profile, line, at, when, begins=begins)
        assert features @ weights_of(profile) == pytest.approx(effort, rel=1e-9)


SCORES = sorted(OWN_SCORES.glob("*.musicxml"))


@pytest.mark.parametrize("path", SCORES, ids=lambda path: path.stem)
@pytest.mark.parametrize("horn", ["tenor", "tenor-f", "bass-independent"])
def test_effort_is_features_times_weights_on_scores(path, horn):
    notes = plain_notes(open_score(path).read_part(None, None, 80.0))
    passage = lay_out_example(0, Example("a", "a", Stand(load_horn(horn)), notes), bases)
    line, solution = passage.choices.line, passage.first
    at = passage.choices.at.take((np.arange(len(line)), solution.chosen))
    features = route_features(passage.base, line, at, timing(passage.base, line))
    assert features @ weights_of(passage.base) == pytest.approx(solution.total, rel=1e-9)


@pytest.mark.parametrize("slips", [False, True])
def test_the_chain_sums_over_all_routes(slips):
    rng = np.random.default_rng(5)
    for count in (1, 2, 3, 6):
        line, _ = playable_line(rng, "tenor", count)
        passage = lay_out_example(
            0, Example("a", "a", Stand(load_horn("tenor")), notes_of(line)), bases
        )
        usable = passage.choices.usable
        his, seen = usable.copy(), np.zeros(count, bool)
        for note in range(count):
            if usable[note].sum() > 1 and rng.random() < 0.6:
                seen[note] = True
                his[note] = False
                his[note, rng.choice(np.flatnonzero(usable[note]))] = True
        passage = replace(passage, his=his, seen=seen)
        blocks = blocks_of(0, passage)
        if not blocks:
            continue
        factors = np.exp(rng.normal(0, 0.4, len(WEIGHTS)))
        weights = with_factors(passage.base, factors)
        value, slope = Chain(blocks, slips=slips)(weights)
        stated, every, told = [], [], []
        when = timing(passage.base, passage.choices.line)
        for route in itertools.product(*(np.flatnonzero(row) for row in usable)):
            at = passage.choices.at.take((np.arange(count), np.array(route)))
            features = route_features(passage.base, passage.choices.line, at, when)
            if passage.choices.line.gliss.any():
                continue
            plain = (passage.choices.stand + passage.choices.held).argmin(axis=1)
            away = ((at.alternate > 0) | at.spared) & (np.array(route) != plain)
            away &= passage.choices.line.length_s >= QUICK_S
            every.append(-BETA * (features @ weights + NEAR_TIE * away.sum()))
            stated.append(features)
            others = sum(not his[note, place] for note, place in enumerate(route))
            told.append(every[-1] - (SLIP * others if slips else np.inf if others else 0.0))
        every, stated, told = np.array(every), np.array(stated), np.array(told)
        total, his_total = np.logaddexp.reduce(every), np.logaddexp.reduce(told)
        assert value == pytest.approx(total - his_total, abs=1e-8)
        expected = np.exp(every - total) @ stated
        of_his = np.exp(told - his_total) @ stated
        assert slope == pytest.approx(BETA * (of_his - expected), abs=1e-7)


def test_the_gradient_is_that_of_the_value():
    made = Examples(
        (example_by(scaled(turn_per_m=0.3), 1, 60), example_by(scaled(seek=3.0), 2, 60, BASS))
    )
    objective = Objective(gather(lay_out_all(made, bases), made, bases))
    rng = np.random.default_rng(0)
    logs = rng.normal(0, 0.2, objective.size)
    _, slope = objective(logs)
    for k in rng.choice(objective.size, 12, replace=False):
        step = np.zeros(objective.size)
        step[k] = 1e-5
        rise = (objective(logs + step)[0] - objective(logs - step)[0]) / 2e-5
        assert rise == pytest.approx(slope[k], rel=1e-4, abs=1e-5)


def test_it_chooses_as_the_teacher_does_on_passages_that_it_never_saw():
    taste = scaled(turn_per_m=0.25, seek=3.0, valve_move=3.0, valve_colour=2.5)
    made = Examples(tuple(example_by(taste, seed, 160, key=str(seed)) for seed in range(2)))
    learnt = learn(made, bases)
    assert learnt.accepted and [row.kind for row in learnt.agreement] == ["Bb+1"]
    before = after = 0
    for seed in range(10, 14):
        fresh = lay_out_example(0, example_by(taste, seed), bases)
        his = fresh.his.argmax(axis=1)
        before += int((chosen_by(fresh, fresh.base) != his).sum())
        now = learnt.factors.profile(fresh.base, fresh.book.horn)
        after += int((chosen_by(fresh, now) != his).sum())
    assert before > 30 and after < before / 2


def test_one_slip_does_not_stop_what_all_else_says():
    """C3 in 6th each time, but once with the valve, between notes that are the same."""
    line = parse_line(" ".join(["C3 Bb2 C3 D3 Bb3 C3 F3 C3"] * 4)).line
    wishes = [((), 3), ((), 2), ((), 3), ((), 3), ((), 4), ((), 3), ((), 3), ((), 3)] * 4
    passage = lay_out_example(0, Example("a", "a", Stand(TENOR), notes_of(line)), bases)
    places = passage.choices.places
    route = [
        [(place.valves, place.partial) for place in row].index(wish)
        for row, wish in zip(places, wishes)
    ]
    wanted = list(route)
    names = [(place.valves, place.partial) for place in places[18]]
    route[18] = names.index((("F",), 3))
    made = Examples((Example("a", "a", Stand(TENOR), notes_of(line, route, places)),))
    learnt = learn(made, bases)
    assert learn(made, bases) == learnt
    low = np.flatnonzero(line.midi == 48)
    chosen = chosen_by(passage, learnt.factors.profile(passage.base, passage.book.horn))
    before = chosen_by(passage, passage.base)
    assert (before[low] != np.array(wanted)[low]).all()
    assert (chosen[low] == np.array(wanted)[low]).all()


def test_what_agrees_already_teaches_nothing_else():
    made = Examples((example_by(lambda base: base, 3),))
    learnt = learn(made, bases)
    assert learnt.left == ()
    fresh = lay_out_example(0, example_by(lambda base: base, 30), bases)
    profile = learnt.factors.profile(fresh.base, fresh.book.horn)
    assert (chosen_by(fresh, profile) != fresh.his.argmax(axis=1)).mean() <= 0.01


def test_random_places_are_not_learnt_and_are_left():
    rng = np.random.default_rng(8)
    line, _ = playable_line(rng, "tenor-f", 150)
    example = Example("a", "a", Stand(TENOR), notes_of(line))
    passage = lay_out_example(0, example, bases)
    base = chosen_by(passage, passage.base)
    odd = rng.random(150) < 0.15
    route = [
        int(rng.choice(np.flatnonzero(passage.choices.usable[k]))) if odd[k] else int(base[k])
        for k in range(150)
    ]
    learnt = learn(
        Examples((replace(example, notes=notes_of(line, route, passage.choices.places)),)), bases
    )
    for row in learnt.agreement:
        assert not row.taken or row.learnt >= row.base
    profile = learnt.factors.profile(passage.base, passage.book.horn)
    chosen = chosen_by(passage, profile)
    assert {spot.note for spot in learnt.left} == set(np.flatnonzero(chosen != route).tolist())
    for spot in learnt.left:
        assert spot.his == passage.choices.places[spot.note][route[spot.note]]
        assert spot.ours == passage.choices.places[spot.note][chosen[spot.note]]


def test_limits_and_glissandi_hold_whatever_was_learnt():
    taste = scaled(far_per_m2=0.125, valve_move=8.0, valve_colour=8.0)
    learnt = learn(Examples((example_by(taste, 1),)), bases)
    for factor in (1.0 / MOST_FACTOR, MOST_FACTOR):
        forced = Factors(dict.fromkeys(WEIGHTS, factor))
        for factors in (learnt.factors, forced):
            rng = np.random.default_rng(4)
            line, _ = playable_line(rng, "tenor-f", 60)
            stand = Stand(TENOR, reach=4.0, learned=())
            passage = lay_out_example(0, Example("a", "a", stand, notes_of(line)), bases)
            if passage is None:
                continue
            profile = factors.profile(passage.base, passage.book.horn)
            for row, place in enumerate(chosen_by(passage, profile)):
                assert passage.book.limits.allows(passage.choices.places[row][place])


def test_one_horn_does_not_spoil_another():
    quick, lazy = scaled(seek=0.2, turn_per_m=3.0), scaled(seek=4.0, turn_per_m=0.2)
    tenor = tuple(example_by(quick, seed, 110, key=f"t{seed}") for seed in range(2))
    bass = tuple(example_by(lazy, seed, 60, horn=BASS, key=f"b{seed}") for seed in range(2))
    both, alone = learn(Examples(tenor + bass), bases), learn(Examples(tenor), bases)
    assert {row.kind for row in both.agreement} == {"Bb+1", "Bb+2"}
    wrong = [0, 0]
    for seed in range(20, 22):
        fresh = lay_out_example(0, example_by(quick, seed), bases)
        for number, learnt in enumerate((alone, both)):
            profile = learnt.factors.profile(fresh.base, fresh.book.horn)
            wrong[number] += int((chosen_by(fresh, profile) != fresh.his.argmax(axis=1)).sum())
    assert wrong[1] <= wrong[0] + 4


def test_answers_teach_too_and_neither_says_nothing():
    rng = np.random.default_rng(2)
    answers = []
    for _ in range(60):
        line, _ = playable_line(rng, "tenor-f", 5)
        example = Example("a", "a", Stand(TENOR), notes_of(line))
        passage = lay_out_example(0, example, bases)
        ours = chosen_by(passage, passage.base)
        theirs = chosen_by(passage, scaled(valve_move=8.0, valve_colour=8.0)(passage.base))
        ways = [
            tuple((row[k].valves, row[k].partial) for row, k in zip(passage.choices.places, way))
            for way in (ours, theirs)
        ]
        if ways[0] != ways[1]:
            question = Question("a", "a", example.stand, example.notes, True, *ways)
            answers.append(Answer(question, 2))
    assert len(answers) > 8
    learnt = learn(Examples((), tuple(answers)), bases)
    assert learnt.accepted
    on = learnt.factors.by_kind["Bb+1"]
    assert max(on.get("valve_move", 1.0), on.get("valve_colour", 1.0)) > 1.2
    silent = tuple(replace(answer, picked=0) for answer in answers)
    assert learn(Examples((), silent), bases).agreement == ()


def test_a_factor_of_one_changes_no_bit_and_a_weight_of_nothing_can_grow():
    base = load_profile("classical")
    horn = horn_of("tenor-f")
    assert Factors({"seek": 1.0}).profile(base, horn) == base
    grown = Factors({"vibrato": 3.0, "partials.8": 2.0, "turn_per_m": 0.5}).profile(base, horn)
    assert base.vibrato == 0.0 < grown.vibrato and grown.partials[8] > 0.0
    assert grown.turn_per_m == base.turn_per_m / 2.0
    assert profile_with(base, weights_of(base)) == base
    by_kind = Factors({"seek": 2.0}, {"Bb+1": {"seek": 0.5}})
    assert by_kind.profile(base, horn).seek == base.seek / 2.0
    assert by_kind.profile(base, horn_of("tenor")).seek == base.seek * 2.0


def test_questions_are_two_ways_that_can_be_played_and_none_comes_twice():
    taste = scaled(turn_per_m=0.25, seek=3.0, valve_move=3.0)
    made = example_by(taste, 6, 150)
    part = replace(made, notes=tuple(replace(note, how=None, places=()) for note in made.notes))
    passage = lay_out_example(0, made, bases)
    teacher, examples, asked = taste(passage.base), Examples(), []
    learnt = learn(examples, bases)
    while len(asked) < 12 and (ask := question(examples, learnt, part, bases)) is not None:
        assert ask not in asked
        asked.append(ask)
        assert len(ask.notes) == len(ask.first) == len(ask.second) <= MOST_NOTES
        assert ask.first != ask.second and {note.how for note in ask.notes} == {None}
        ways = question_routes(ask, passage.book, passage.base)
        dearer = (ways[1] - ways[0]) @ weights_of(teacher)
        examples = Examples((), (*examples.answers, Answer(ask, 1 if dearer > 0.0 else 2)))
        learnt = learn(examples, bases)
    assert len(asked) > 5
    skipped = question(Examples(), learn(Examples(), bases), part, bases, asked)
    assert skipped is None or skipped not in asked
    # A note that he chose a place for isn't asked about.
    assert question(Examples(), learnt, made, bases) is None
    his, profile = (
        passage.his.argmax(axis=1),
        learnt.factors.profile(passage.base, passage.book.horn),
    )
    before = int((chosen_by(passage, passage.base) != his).sum())
    assert int((chosen_by(passage, profile) != his).sum()) < before


def test_the_most_telling_question_is_the_one_that_all_others_hang_on():
    # Ten near ties along one direction, and one along another that nothing else depends on.
    slopes = np.zeros((11, len(WEIGHTS)))
    slopes[:10, 0], slopes[10, 1] = 0.5, 0.6
    best = most_telling(np.zeros(11), slopes, np.eye(len(WEIGHTS)))
    assert best < 10
    # What is known already, or far from a tie, isn't asked.
    margins = np.zeros(11)
    margins[:10] = 9.0
    assert most_telling(margins, slopes, np.eye(len(WEIGHTS))) == 10
