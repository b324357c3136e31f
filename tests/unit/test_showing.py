"""What was learnt, shown in the music: each claim is tested by the program's own choices, with
profiles put together here; contradictions are planted, and searched where there are none."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from anyhorn import bases, load_profile
from randomlines import LOWEST, horn_of, random_line, random_profile
from sampling import ALL

from handslide.edges.files.horns import load_horn
from handslide.ground.pitch import from_midi
from handslide.instrument.effort import route_terms, spots, timing
from handslide.instrument.learning.clashes import clashes
from handslide.instrument.learning.example import (
    Answer,
    At,
    ChosenNote,
    Example,
    Examples,
    Question,
    Stand,
)
from handslide.instrument.learning.learn import Learnt, learn
from handslide.instrument.learning.showing import GROUPS, MOST, WHATS, changes
from handslide.instrument.learning.weights import WEIGHTS, Factors
from handslide.instrument.line import make_line
from handslide.instrument.places import Limits, PlaceBook
from handslide.instrument.route import lay_out, playable, solve
from handslide.instrument.settle import choose

HORNS = ("tenor", "tenor-f", "bass-independent")
TASTES = (
    "distance_per_m", "speed_per_m2_s2", "turn_per_m", "valve_move", "far_per_m2", "seek",
    "alternate", "odd_partial", "smear_per_m", "slur_with_pitch", "valve_colour", "seventh",
)  # fmt: skip
TEACHERS = 24 if ALL else 9
KINDS = {"tenor": "Bb+0", "tenor-f": "Bb+1", "bass-independent": "Bb+2"}


def base_of(name):
    return load_profile("bass" if name == "bass-independent" else "classical")


def book_of(name, profile):
    return PlaceBook(
        horn_of(name), Limits(None, None, profile.top_partial, profile.top_partial_valve)
    )


def weight(profile, name):
    if name.startswith("partials."):
        return profile.partials.get(int(name[9:]), 0.0)
    return getattr(profile, name)


def with_weight(profile, name, value):
    if name.startswith("partials."):
        return replace(profile, partials={**profile.partials, int(name[9:]): value})
    return replace(profile, **{name: value})


def music(rng, name, count):
    """A line of which all notes can be played, without glissandi."""
    line = random_line(rng, LOWEST[name], 2 * count)
    line = line.only(playable(line, book_of(name, base_of(name)))[:count])
    return replace(line, gliss=np.zeros(len(line), bool))


def places_by(profile, name, line):
    """What the program chooses."""
    return choose(line, book_of(name, profile), profile).solution.places


def example_of(name, line, places, how="changed", key="part", **stand):
    notes = tuple(
        ChosenNote(
            int(line.midi[k]), from_midi(int(line.midi[k])).name, float(line.onset_s[k]),
            float(line.length_s[k]), bool(line.slur[k]), bool(line.gliss[k]), str(1 + k // 4),
            1 + k % 4, k, how, ((place.valves, place.partial),),
        )
        for k, place in enumerate(places)
    )  # fmt: skip
    return Example(key, key.title(), Stand(load_horn(name), **stand), notes)


def invented(seed, name):
    """Factors of a teacher who differs in a few things, and a profile of them."""
    rng, base = np.random.default_rng(seed), base_of(name)
    chosen = rng.choice(TASTES, 6, replace=False).tolist()
    factors = {each: float(np.exp(rng.choice((-1.5, 1.5)))) for each in chosen}
    return factors, profile_of(base, factors)


def profile_of(base, factors):
    for name, factor in factors.items():
        base = with_weight(base, name, factor * weight(base, name))
    return base


def learnt_as(name, factors):
    return Learnt(Factors({}, {KINDS[name]: factors}), (), ())


def near(factors, rng):
    """What is learnt isn't quite what is so."""
    return {name: factor * float(np.exp(rng.normal(0, 0.1))) for name, factor in factors.items()}


def check_claims(found, examples, lines, name, factors):
    """Every claim against the program's choices, by profiles that are put together here."""
    base = base_of(name)
    learnt = profile_of(base, factors)
    now = [places_by(learnt, name, line) for line in lines]
    then = [places_by(base, name, line) for line in lines]
    assert len(found) <= MOST and len({change.what for change in found}) == len(found)
    used = []
    for change in found:
        without = learnt
        ratios = []
        for each in WHATS[change.what]:
            if weight(learnt, each) != weight(base, each):
                ratios.append(weight(learnt, each) / weight(base, each))
            without = with_weight(without, each, weight(base, each))
        told = [np.log(ratio) for ratio in ratios if abs(np.log(ratio)) > np.log(1.25)]
        assert told and (min(told) > 0.0 or max(told) < 0.0)
        assert min(*ratios, 1.0) - 1e-9 <= change.factor <= max(*ratios, 1.0) + 1e-9
        assert (change.factor > 1.0) == (told[0] > 0.0)
        other = [places_by(without, name, line) for line in lines]
        won = spoilt = 0
        for k, example in enumerate(examples.examples):
            for n, note in enumerate(example.notes):
                if note.how is None:
                    continue
                here, there, before = (
                    (route[k][n].valves, route[k][n].partial) == note.places[0]
                    for route in (now, other, then)
                )
                won += here and not there and not before
                spoilt += there and not here
        assert change.notes == won and spoilt < won
        for shown in change.shows:
            note = examples.examples[shown.example].notes[shown.note]
            assert shown.his == now[shown.example][shown.note]
            assert note.places == ((shown.his.valves, shown.his.partial),)
            assert shown.without == other[shown.example][shown.note] != shown.his
            assert then[shown.example][shown.note] != shown.his
        one, two = change.shows
        assert one.example != two.example or abs(one.note - two.note) > 2
        used += [(shown.example, shown.note) for shown in change.shows]
    assert len(set(used)) == len(used)


@cache
def taught(seed):
    """(name, lines, examples, factors, changes) of an invented teacher; some looked at less."""
    name = HORNS[seed % 3]
    rng = np.random.default_rng(seed)
    factors, teacher = invented(seed, name)
    lines = [music(rng, name, 150) for _ in range(2)]
    looked = 150 if seed % 4 else 90
    rows = []
    for k, line in enumerate(lines):
        example = example_of(name, line, places_by(teacher, name, line), key=str(k))
        rest = tuple(replace(note, how=None, places=()) for note in example.notes[looked:])
        rows.append(replace(example, notes=example.notes[:looked] + rest))
    examples, factors = Examples(tuple(rows)), near(factors, rng)
    return name, lines, examples, factors, changes(examples, learnt_as(name, factors), bases)


@pytest.mark.sample
def test_each_claim_is_true_of_the_music():
    for seed in range(TEACHERS):
        name, lines, examples, factors, found = taught(seed)
        check_claims(found, examples, lines, name, factors)


@pytest.mark.sample
def test_something_is_told_of_most_teachers():
    told = [len(taught(seed)[4]) for seed in range(TEACHERS)]
    assert sum(count > 0 for count in told) > 0.75 * TEACHERS and max(told) > 2
    whats = {change.what for seed in range(TEACHERS) for change in taught(seed)[4]}
    assert whats & set(GROUPS) and whats - set(GROUPS)


def test_what_is_really_learnt_is_told_truly():
    name, line = "tenor-f", music(np.random.default_rng(5), "tenor-f", 300)
    teacher = profile_of(base_of(name), {"turn_per_m": 0.2, "valve_move": 3.0, "seek": 3.0})
    examples = Examples((example_of(name, line, places_by(teacher, name, line)),))
    learnt = learn(examples, bases)
    found = changes(examples, learnt, bases)
    assert found
    check_claims(found, examples, [line], name, learnt.factors.on(horn_of(name)))


def asked(rng, name, teacher, count):
    """Answers of a teacher: the program's way by its profile, and by his."""
    answers, base = [], base_of(name)
    while len(answers) < count:
        line = music(rng, name, 6)
        ways = [places_by(profile, name, line) for profile in (base, teacher)]
        first, second = (tuple((p.valves, p.partial) for p in way) for way in ways)
        if first != second:
            notes = example_of(name, line, ways[0]).notes
            notes = tuple(replace(note, how=None, places=()) for note in notes)
            key = f"stand:{len(answers)}"
            ask = Question(key, key, Stand(load_horn(name)), notes, True, first, second)
            answers.append((line, ways, Answer(ask, 2)))
    return answers


@pytest.mark.parametrize("picked", [1, 2])
@pytest.mark.parametrize(("name", "what"), [("tenor-f", "valve_move"), ("tenor", "far_per_m2")])
def test_answers_show_what_was_learnt_too(name, what, picked):
    factors = {what: 5.0, "distance_per_m": 0.8}
    base, learnt = base_of(name), profile_of(base_of(name), factors)
    rows = asked(np.random.default_rng(3), name, learnt, 10)
    if picked == 1:  # the same questions, asked the other way about
        rows = [
            (
                line,
                ways,
                Answer(
                    replace(row.question, first=row.question.second, second=row.question.first),
                    1,
                ),
            )
            for line, ways, row in rows
        ]
    examples = Examples((), tuple(answer for _, _, answer in rows))
    (change,) = changes(examples, learnt_as(name, factors), bases)
    assert (change.what, change.kind) == (what, None) and change.factor > 3.0
    without = replace(learnt, **{what: getattr(base, what)})
    for shown in change.shows:
        line, (left, his), _ = rows[shown.example]
        note = next(k for k, (one, other) in enumerate(zip(left, his)) if one != other)
        assert shown.answered and shown.note == note
        assert (shown.his, shown.without) == (his[note], left[note])
        for profile, better in ((learnt, his), (without, left), (base, left)):
            assert (effort_of(profile, name, line, his) < effort_of(profile, name, line, left)) == (
                better is his
            )
    assert change.shows[0].example != change.shows[1].example


def effort_of(profile, name, line, places):
    at = spots(tuple(valve.name for valve in horn_of(name).valves), list(places))
    terms = route_terms(profile, line, at, timing(profile, line))
    return sum(float(row.sum()) for part in terms for row in part.values())


def test_what_only_one_kind_of_horns_learnt_is_not_told_of_all():
    name, other = "tenor", "tenor-f"
    line = music(np.random.default_rng(8), name, 300)
    teacher = profile_of(base_of(name), {"far_per_m2": 5.0})
    plain = music(np.random.default_rng(1), other, 40)
    examples = Examples(
        (
            example_of(name, line, places_by(teacher, name, line)),
            example_of(other, plain, places_by(base_of(other), other, plain)),
        )
    )
    (change,) = changes(examples, learnt_as(name, {"far_per_m2": 5.0}), bases)
    assert change.kind == KINDS[name]


def test_nothing_is_told_where_nothing_shows():
    name, rng = "tenor", np.random.default_rng(2)
    line, base = music(rng, name, 150), base_of("tenor")
    examples = Examples((example_of(name, line, places_by(base, name, line)),))
    # He chooses as before: whatever the factors are, no note needs them.
    factors = {each: float(np.exp(rng.normal(0, 0.6))) for each in WEIGHTS}
    assert changes(examples, learnt_as(name, factors), bases) == ()
    # Nothing was learnt.
    odd = [row[-1] for row in lay_out(line, book_of(name, base), base).places]
    odd = Examples((example_of(name, line, odd),))
    assert changes(odd, Learnt(Factors(), (), ()), bases) == ()
    # What was learnt is of valves, which the horn hasn't got.
    assert changes(odd, learnt_as(name, {"valve_move": 3.0, "valve_colour": 0.3}), bases) == ()
    assert changes(Examples(), Learnt(Factors(), (), ()), bases) == ()


def test_what_did_not_matter_before_has_no_factor():
    name = "tenor"
    base = base_of(name)
    assert base.vibrato == 0.0
    line = music(np.random.default_rng(1), name, 200)
    line = replace(line, onset_s=4.0 * np.arange(len(line)), length_s=np.full(len(line), 3.5))
    teacher = replace(base, vibrato=3.0)
    examples = Examples((example_of(name, line, places_by(teacher, name, line)),))
    # A weight of 0 becomes 0.5 for a factor of 2.
    found = changes(examples, learnt_as(name, {"vibrato": 7.0}), bases)
    assert [(change.what, change.factor) for change in found] == [("vibrato", None)]
    assert all(shown.without.extension_m < 0.01 < shown.his.extension_m for shown in found[0].shows)


def test_horns_that_agree_are_told_of_together_and_others_apart():
    lines = {name: music(np.random.default_rng(8), name, 300) for name in ("tenor", "tenor-f")}

    def told(tenor, tenor_f):
        factors = {"tenor": {"far_per_m2": tenor}, "tenor-f": {"far_per_m2": tenor_f}}
        examples = Examples(
            tuple(
                example_of(
                    name, line, places_by(profile_of(base_of(name), factors[name]), name, line)
                )
                for name, line in lines.items()
            )
        )
        by_kind = {KINDS[name]: found for name, found in factors.items()}
        return changes(examples, Learnt(Factors({}, by_kind), (), ()), bases)

    (both,) = told(5.0, 5.0)
    assert (both.what, both.kind) == ("far_per_m2", None)
    assert both.factor == pytest.approx(5.0)
    apart = told(5.0, 0.15)
    assert {(change.kind, change.factor > 1.0) for change in apart} == {
        ("Bb+0", True), ("Bb+1", False),
    }  # fmt: skip
    assert all(
        {shown.example for shown in change.shows} == {("Bb+0", "Bb+1").index(change.kind)}
        for change in apart
    )


# Contradictions.

PHRASE = (58, 60, 62, 60, 58, 65, 62, 58)


def phrases(count, beat=0.5):
    """A phrase ``count`` times, with a second's rest between."""
    size = len(PHRASE)
    onset = [beat * k + (beat * size + 1.0) * n for n in range(count) for k in range(size)]
    return make_line(PHRASE * count, onset, [beat] * (size * count))


def usual(line, name="tenor-f"):
    return list(places_by(base_of(name), name, line))


def other_place(name, midi, place):
    rows = book_of(name, base_of(name)).places(midi)
    return next(row for row in rows if (row.valves, row.partial) != (place.valves, place.partial))


def test_a_planted_contradiction_is_found_once():
    line = phrases(5)
    places = usual(line)
    # The note in the middle of the third phrase lies elsewhere, all else is as ever.
    note = 2 * len(PHRASE) + 3
    alternate = other_place("tenor-f", PHRASE[3], places[note])
    example = example_of("tenor-f", line, places)
    assert clashes(Examples((example,))) == ()
    places[note] = alternate
    (found,) = clashes(Examples((example_of("tenor-f", line, places),)))
    assert (found.one, found.other, found.times) == (At(0, 3), At(0, note), (4, 1))
    assert [(place.valves, place.partial) for place in found.places] == [
        (places[3].valves, places[3].partial), (alternate.valves, alternate.partial),
    ]  # fmt: skip
    assert found.places[1].extension_m == pytest.approx(alternate.extension_m)


def test_a_contradiction_between_two_parts_is_found():
    line = phrases(2)
    places = usual(line)
    moved = list(places)
    moved[3] = moved[11] = other_place("tenor-f", PHRASE[3], places[3])
    one, two = (
        example_of("tenor-f", line, row, key=key) for key, row in (("a", places), ("b", moved))
    )
    (found,) = clashes(Examples((one, two)))
    assert (found.one, found.other, found.times) == (At(0, 3), At(1, 3), (2, 2))


def _with(notes, k, **values):
    return (*notes[:k], replace(notes[k], **values), *notes[k + 1 :])


@pytest.mark.parametrize(
    "change",
    [
        lambda notes: _with(notes, 11, how=None),  # nobody looked at it
        lambda notes: _with(notes, 10, slur=True),
        lambda notes: _with(notes, 11, length_s=0.4),
        lambda notes: _with(notes, 13, midi=64),  # the note but one after it
        lambda notes: _with(
            notes, 9, places=(((), 9),)
        ),  # the note but one before it lies elsewhere
        lambda notes: _with(notes, 12, how=None),  # its neighbour may lie anywhere
        # A mark that may mean both.
        lambda notes: _with(notes, 11, places=notes[11].places + notes[3].places),
    ],
)
def test_notes_that_are_not_alike_are_no_contradiction(change):
    line = phrases(2)
    places = usual(line)
    places[11] = other_place("tenor-f", PHRASE[3], places[3])
    example = example_of("tenor-f", line, places)
    assert len(clashes(Examples((example,)))) == 1
    assert clashes(Examples((replace(example, notes=change(example.notes)),))) == ()


def test_other_horns_and_limits_are_no_contradiction():
    line = phrases(1)
    places = usual(line, "tenor")
    moved = list(places)
    moved[3] = other_place("tenor", PHRASE[3], places[3])
    one = example_of("tenor", line, places)
    assert len(clashes(Examples((one, example_of("tenor", line, moved))))) == 1
    assert clashes(Examples((one, example_of("tenor-f", line, moved)))) == ()
    assert clashes(Examples((one, example_of("tenor", line, moved, reach=6.0)))) == ()


@pytest.mark.parametrize("seed", range(12))
def test_a_teacher_who_goes_by_one_measure_contradicts_himself_nowhere(seed):
    """An exact route has the cheaper place for a note between the same neighbours, each time."""
    rng = np.random.default_rng(seed)
    name = HORNS[seed % 3]
    profile = random_profile(rng)
    figures = [music(rng, name, 4).midi for _ in range(3)]
    midi = np.concatenate([figures[k] for k in rng.integers(3, size=60)])
    count = len(midi)
    line = make_line(midi, 0.25 * np.arange(count), [0.25] * count, rng.random(count) < 0.3)
    book = book_of(name, profile)
    if len(playable(line, book)) < count:
        pytest.fail("a note can't be played")
    places = solve(lay_out(line, book, profile), profile).places
    assert clashes(Examples((example_of(name, line, places),))) == ()


@pytest.mark.parametrize("seed", range(6))
def test_no_weights_explain_both_sides_of_a_contradiction(seed):
    """Between their neighbours, two places cost one difference in both spots, by any profile."""
    rng = np.random.default_rng(seed)
    name, count = HORNS[seed % 3], 400
    figures = [music(rng, name, 5).midi for _ in range(2)]
    midi = np.concatenate([figures[k] for k in rng.integers(2, size=80)])
    line = make_line(midi, 0.2 * np.arange(count), [0.2] * count, np.arange(count) % 5 == 1)
    base = base_of(name)
    choices = lay_out(line, book_of(name, base), base)
    chosen = np.array([rng.choice(2 if len(row) > 1 else 1) for row in choices.places])
    places = [row[k] for row, k in zip(choices.places, chosen.tolist())]
    found = clashes(Examples((example_of(name, line, places),)))
    assert found
    for clash in found[:10]:
        profile = random_profile(rng)
        when = timing(profile, line)
        differences = []
        for at in (clash.one, clash.other):
            efforts = []
            for side in (clash.one, clash.other):
                route = chosen.copy()
                route[at.note] = chosen[side.note]
                terms = route_terms(profile, line, choices.at.take((np.arange(count), route)), when)
                efforts.append(sum(float(row.sum()) for part in terms for row in part.values()))
            differences.append(efforts[0] - efforts[1])
        assert differences[0] == pytest.approx(differences[1], abs=1e-8)
