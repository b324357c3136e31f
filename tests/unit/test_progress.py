"""Progress: against other methods, and against students whose truth is known."""

import random
from dataclasses import replace

import numpy as np
import pytest
from progress_students import MANY, SPOTS, Spot, play
from scipy import optimize, stats

from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.instrument.practice import HOW_FAULTS
from handslide.instrument.progress.advice import key_of, next_to_practise
from handslide.instrument.progress.estimate import (
    Estimate,
    adjusted,
    fit_takes,
    heard_share,
    mean_over,
    robust_sd,
    share_p,
    spread_of,
    spread_p,
    takes_for_change,
    takes_for_mean,
    thirds,
    trend_over,
    usual_variance,
)
from handslide.instrument.progress.judge import TakenNote, find_progress

BIASES = dict(zip(SPOTS, (0.0, 0.0, -15.0, 10.0, -25.0, 5.0, -20.0)))
STILL = {spot: (bias, bias) for spot, bias in BIASES.items()}
CLOSED, SECOND_CLOSED, THIRD, FOURTH, SIXTH, VALVE, FAR = SPOTS


def group_of(progress, kind, spot):
    """The group of a spot: its place, or its note."""
    (found,) = [
        group
        for group in progress.of_kind(kind)
        if group.valves == spot.valves
        and abs(group.position - spot.position) < 0.3
        and (kind == "place" or group.midi == spot.midi)
    ]
    return found


# The statistics, against others' libraries and by hand.


def test_a_mean_of_exact_takes_is_students_t():
    y = np.random.default_rng(1).normal(5, 3, 9)
    ours, between = mean_over(y, np.full(9, 1e-9))
    theirs = stats.ttest_1samp(y, 0.0)
    low, high = theirs.confidence_interval(0.95)
    assert ours.value == pytest.approx(y.mean())
    assert (ours.low, ours.high) == pytest.approx((low, high), rel=1e-4)
    assert ours.p == pytest.approx(theirs.pvalue, rel=1e-4)
    assert between == pytest.approx(y.std(ddof=1), rel=1e-3)


def test_a_trend_of_exact_takes_is_least_squares():
    rng = np.random.default_rng(2)
    when = np.sort(rng.uniform(0, 90, 12))
    y = 20 - 0.2 * when + rng.normal(0, 3, 12)
    ends = thirds(when)
    trend = trend_over(when, y, np.full(12, 1e-9), ends)
    theirs = stats.linregress(when, y)
    span = ends[1] - ends[0]
    assert trend.change.value == pytest.approx(theirs.slope * span)
    assert trend.change.se == pytest.approx(theirs.stderr * span, rel=1e-3)
    assert trend.change.p == pytest.approx(theirs.pvalue, rel=1e-2)
    assert trend.early.value == pytest.approx(theirs.intercept + theirs.slope * ends[0])
    # The robust slope of Theil and Sen sees the same line.
    robust = stats.theilslopes(y, when, 0.95)
    assert robust.low_slope * span < trend.change.value < robust.high_slope * span


def test_noisy_takes_weigh_less_as_in_a_mixed_model():
    rng = np.random.default_rng(3)
    noise = rng.uniform(1.0, 30.0, 60)
    y = 7.0 + rng.normal(0, 4.0, 60) + rng.normal(0, np.sqrt(noise))

    def restricted(log_tau2):
        w = 1.0 / (np.exp(log_tau2) + noise)
        mean = np.sum(w * y) / np.sum(w)
        return 0.5 * (np.sum(w * (y - mean) ** 2) - np.sum(np.log(w)) + np.log(np.sum(w)))

    best = optimize.minimize_scalar(restricted, bounds=(-6, 8), method="bounded")
    tau = float(np.exp(best.x / 2))
    w = 1.0 / (tau**2 + noise)
    ours, between = mean_over(y, noise)
    assert between == pytest.approx(tau, rel=0.15)
    assert ours.value == pytest.approx(np.sum(w * y) / np.sum(w), abs=0.1)
    assert ours.se == pytest.approx(np.sum(w) ** -0.5, rel=0.1)


def test_the_variance_between_takes_solves_its_equation():
    rng = np.random.default_rng(4)
    # Late takes say so little that the line isn't that of equal weights.
    noise, when = np.geomspace(1, 400, 15), np.linspace(1, 3, 15)
    design = np.column_stack([np.ones(15), when])
    y = 3 * when + rng.normal(0, 5, 15) + rng.normal(0, np.sqrt(noise))
    fit = fit_takes(design, y, noise)
    w = 1.0 / (fit.between**2 + noise)
    assert np.sum(w * (y - design @ fit.b) ** 2) == pytest.approx(13, rel=1e-3)


def test_counts_are_never_surer_than_counting_allows():
    # Equal shares in all takes by luck: the counts alone say how sure that is.
    y, noise = np.full(6, 0.9), np.full(6, 0.9 * 0.1 / 10)
    sure, _ = mean_over(y, noise)
    counted, _ = mean_over(y, noise, counted=True)
    assert sure.half_width < 1e-6
    assert counted.se == pytest.approx(np.sqrt(0.9 * 0.1 / 60))


def test_the_usual_variance_is_found_among_few_takes():
    # Variances that differ as those of a chi-squared with 8 degrees of freedom about 30 do.
    rng = np.random.default_rng(4)
    takes, true_df, true = 4, 8.0, 30.0
    variances = true * true_df / rng.chisquare(true_df, 400)
    own = variances * rng.chisquare(takes - 1, 400) / (takes - 1)
    means = [Estimate(0.0, float(np.sqrt(one / takes)), takes - 1) for one in own]
    usual = usual_variance(means)
    assert usual.variance == pytest.approx(true, rel=0.1)
    assert 5.0 < usual.df < 13.0
    # Where all are alike it says so, and of too few it says nothing.
    alike = [Estimate(0.0, float(np.sqrt(true * x / 3 / takes)), 3) for x in rng.chisquare(3, 400)]
    assert usual_variance(alike).df > 30.0
    assert usual_variance(alike[:3]).df == 0.0


def test_p_values_of_means_that_lean_on_it_are_even():
    rng = np.random.default_rng(5)
    y = rng.normal(0.0, 5.0, (800, 4))
    means = [Estimate(float(one.mean()), float(one.std(ddof=1) / 2), 3) for one in y]
    usual = usual_variance(means)
    p = [usual.p(one) for one in means]
    assert stats.kstest(p, "uniform").pvalue > 0.01
    # Beside t-tests of each alone more of what is there is found.
    moved = [replace(one, value=one.value + 8.0) for one in means]
    assert np.mean([usual.p(one) < 0.01 for one in moved]) > 0.7
    assert np.mean([one.p < 0.01 for one in moved]) < 0.4


@pytest.mark.parametrize("between", [0.0, 6.0])
def test_a_spread_is_rarely_called_large_by_chance(between):
    rng = np.random.default_rng(6)
    within = np.sqrt(100.0 - between**2)
    found = []
    for _ in range(1500):
        values = rng.normal(0, between, (6, 1)) + rng.normal(0, within, (6, 3))
        found.append(spread_p(robust_sd(values.ravel()), 18, 6, 10.0))
    assert np.mean(np.array(found) < 0.05) < 0.07
    assert spread_p(25.0, 18, 6, 10.0) < 0.001


def test_a_share_of_faults_is_judged_as_counts_are():
    theirs = stats.binomtest(9, 30, 0.1, alternative="greater").pvalue
    assert share_p(9, 30, 0.0, 0.1) == pytest.approx(theirs)
    # Takes that differ more than counts do are worth fewer notes: half of them here.
    se = float(np.sqrt(0.3 * 0.7 / 15))
    assert theirs < share_p(9, 30, se, 0.1) < 0.05
    assert share_p(0, 30, 0.0, 0.1) == 1.0
    assert share_p(3, 3, 0.0, 0.1) == pytest.approx(0.001)


def test_adjusted_is_benjamini_and_hochbergs():
    p = np.random.default_rng(5).uniform(0, 1, 40) ** 2
    assert adjusted(p) == pytest.approx(stats.false_discovery_control(p, method="bh"))


@pytest.mark.parametrize("count", [2, 3, 4, 5, 8, 13])
def test_the_spread_of_few_notes_is_not_too_small(count):
    rng = np.random.default_rng(count)
    found = [spread_of(row) for row in rng.normal(0, 6.0, (2500, count))]
    assert np.mean(found) == pytest.approx(6.0, rel=0.06)


def test_heard_share_is_the_normal_tails():
    law = stats.norm(8, 6)
    assert heard_share(8, 6, 10) == pytest.approx(law.sf(10) + law.cdf(-10))
    assert (heard_share(11, 0, 10), heard_share(9, 0, 10)) == (1.0, 0.0)


def test_as_many_takes_as_said_do_tell():
    takes = takes_for_change(6.0, 10.0)
    assert takes is not None
    rng = np.random.default_rng(6)
    when = np.linspace(0, 84, takes)
    early, late = thirds(when)
    y = 10.0 * (when - early) / (late - early) + rng.normal(0, 6.0, (800, takes))
    seen = np.mean([stats.linregress(when, row).pvalue < 0.05 for row in y])
    assert seen == pytest.approx(0.8, abs=0.05)
    assert takes_for_change(60.0, 10.0) is None


def test_as_many_takes_as_said_make_the_interval_narrow():
    takes = takes_for_mean(8.0, 10.0)
    assert takes is not None
    widths = [stats.t.ppf(0.975, n - 1) * 8 / n**0.5 for n in (takes - 1, takes)]
    assert widths[0] > 10.0 >= widths[1]


def test_nearer_to_0_needs_both_sides():
    when = np.linspace(0, 80, 12)
    noise = np.random.default_rng(7).normal(0, 2, 12)
    near = trend_over(when, 25 - 0.3 * when + noise, np.full(12, 1.0), thirds(when))
    across = trend_over(when, 20 - 0.5 * when + noise, np.full(12, 1.0), thirds(when))
    assert near.nearer_p < 1e-4
    assert near.nearer.value == pytest.approx(abs(near.late.value) - abs(near.early.value), abs=3)
    # From 20 too high to 20 too low is a sure slope and no progress.
    assert across.change.p < 1e-6
    assert across.nearer_p > 0.05


# Students whose truth is known.


def test_intervals_hold_the_truth_and_still_students_raise_no_alarm():
    rng = np.random.default_rng(8)
    held, alarms, students = [], 0, 25
    for _ in range(students):
        progress = find_progress(play(rng, STILL, takes=int(rng.integers(4, 16))))
        for spot, bias in BIASES.items():
            estimate = group_of(progress, "note", spot).bias
            held.append(estimate.low <= bias <= estimate.high)
        verdicts = {change.verdict for group in progress.groups for change in group.changes}
        alarms += bool(verdicts & {"improved", "worse"})
    # 175 intervals that share takes, and 25 students: what chance allows around 95 % and 5 %.
    assert np.mean(held) > 0.90
    assert alarms <= 3


def test_a_mended_place_is_seen_and_little_else():
    rng = np.random.default_rng(9)
    seen, other, told = 0, 0, []
    moved = {**STILL, SIXTH: (-30.0, 0.0)}
    for _ in range(15):
        progress = find_progress(play(rng, moved, between=2.5))
        change = group_of(progress, "place", SIXTH).change("bias")
        seen += change.verdict == "improved"
        told.append(change.by.low <= -20.0 <= change.by.high)
        others = [spot for spot in SPOTS if spot is not SIXTH]
        verdicts = [group_of(progress, "place", spot).change("bias").verdict for spot in others]
        other += sum(verdict in ("improved", "worse") for verdict in verdicts)
    assert seen >= 13
    assert other <= 3
    # First to last third is two thirds of the way: 20 of the 30 cents.
    assert np.mean(told) >= 0.85


@pytest.mark.parametrize(
    ("ends", "verdict"),
    [((0.0, -35.0), "worse"), ((-35.0, 0.0), "improved"), ((22.0, -22.0), "unclear")],
)
def test_verdicts_on_a_place(ends, verdict):
    rng = np.random.default_rng(10)
    progress = find_progress(play(rng, {**STILL, SIXTH: ends}, takes=14, between=2.0))
    assert group_of(progress, "place", SIXTH).change("bias").verdict == verdict


def test_of_a_place_that_changed_now_is_where_it_ended():
    rng = np.random.default_rng(10)
    progress = find_progress(play(rng, {**STILL, SIXTH: (-35.0, 0.0)}, takes=14, between=2.0))
    place = group_of(progress, "place", SIXTH)
    assert place.bias.value == pytest.approx(place.change("bias").late)
    assert abs(place.bias.value) < abs(np.mean([point.cents for point in place.points])) - 5


def test_a_place_that_stays_is_called_steady():
    rng = np.random.default_rng(11)
    progress = find_progress(play(rng, STILL, takes=16, between=1.5, sd=4.0, tuning=2.0))
    assert group_of(progress, "place", SIXTH).change("bias").verdict == "steady"


def test_steadier_notes_and_fewer_wrong_ones_are_seen():
    rng = np.random.default_rng(12)
    rows = play(rng, STILL, takes=14, sd=1.0, between=0.0, tuning=0.0, notes=(6, 9), faults=0.0)
    changed = []
    for row in rows:
        share = row.when_days / 84
        if rng.random() < 0.45 * (1 - share):
            changed.append(replace(row, played="wrong", cents=None, slide_mm=None))
        else:
            changed.append(replace(row, cents=row.cents + rng.normal(0, 1 + 14 * (1 - share))))
    progress = find_progress(changed)
    everything = progress.of_kind("all")[0]
    assert everything.change("right").verdict == "improved"
    assert everything.change("right").late > everything.change("right").early + 0.2
    assert everything.change("spread").verdict == "improved"
    place = group_of(progress, "place", CLOSED)
    assert place.change("spread").verdict == "improved"


def test_the_tuning_of_the_horn_is_taken_apart():
    rng = np.random.default_rng(13)
    flat = dict.fromkeys(SPOTS, (-22.0, -22.0))
    progress = find_progress(play(rng, flat, between=1.0, sd=3.0, tuning=8.0))
    assert progress.tuning_now.value == pytest.approx(-22.0, abs=6.0)
    assert all(one.closed for one in progress.tuning)
    for place in progress.of_kind("place"):
        assert abs(place.bias.value) < 4.0


def test_a_slide_that_is_too_far_out_everywhere_is_not_the_tuning():
    rng = np.random.default_rng(14)
    out = {spot: ((0.0, 0.0) if spot.position == 1.0 else (-22.0, -22.0)) for spot in SPOTS}
    progress = find_progress(play(rng, out, between=1.0, sd=3.0, tuning=0.0))
    assert abs(progress.tuning_now.value) < 3.0
    (away,) = progress.of_kind("away")
    assert away.bias.value == pytest.approx(-22.0, abs=3.0)
    assert away.slide_mm > 15.0


def test_without_closed_notes_nobody_vouches_for_the_tuning():
    rng = np.random.default_rng(15)
    progress = find_progress(play(rng, {s: STILL[s] for s in (THIRD, FOURTH, SIXTH)}))
    assert not any(one.closed for one in progress.tuning)


def test_one_take_says_what_it_heard_and_no_more():
    progress = find_progress(play(np.random.default_rng(16), STILL, takes=1, days=0.0))
    assert progress.tests == 0
    for group in progress.of_kind("place", "note"):
        assert group.changes == ()
        assert group.bias.half_width == float("inf")
        assert not group.known
        assert group.more is None or group.more >= 1


def test_nothing_played_is_nothing_known():
    progress = find_progress([])
    assert (progress.takes, progress.groups, progress.tuning_now) == (0, (), None)


def test_only_wrong_notes_have_a_share_and_no_bias():
    rows = [TakenNote(7.0 * k, k, 50, "wrong", (), 3, 4.0, 250.0) for k in range(5)]
    place = find_progress(rows).of_kind("place")[0]
    assert place.bias is None
    assert place.right.value == 0.0
    assert place.more >= 2


def test_the_order_of_the_rows_does_not_matter():
    rows = play(np.random.default_rng(17), STILL, takes=6)
    mixed = list(rows)
    random.Random(1).shuffle(mixed)
    one, two = find_progress(rows), find_progress(mixed)
    for first, second in zip(one.groups, two.groups, strict=True):
        assert (first.kind, first.valves, first.midi) == (second.kind, second.valves, second.midi)
        if first.bias is not None:
            assert first.bias.value == pytest.approx(second.bias.value)
        assert [c.verdict for c in first.changes] == [c.verdict for c in second.changes]


def test_a_place_stays_one_when_a_new_fit_moves_it():
    rows = play(np.random.default_rng(18), STILL, takes=6)
    moved = [
        replace(row, position=3.66) if row.position == 3.62 and row.take > 2 else row
        for row in rows
    ]
    progress = find_progress(moved)
    assert [p.takes for p in progress.of_kind("place") if p.valves] == [6, 6]
    assert len({(p.valves, p.mark) for p in progress.of_kind("place")}) == 6


def test_free_notes_without_a_place_are_judged_by_pitch():
    rng = np.random.default_rng(19)
    rows = [
        TakenNote(float(take), take, midi, "free", cents=rng.normal(15 if midi == 50 else 0, 3))
        for take in range(4)
        for midi in (46, 50, 53, 58, 60)
        for _ in range(3)
    ]
    progress = find_progress(rows)
    assert progress.of_kind("place") == ()
    (high,) = [note for note in progress.of_kind("note") if note.midi == 50]
    assert high.bias.value == pytest.approx(15, abs=3)
    assert high.right is None


# What to practise.


def far_off(seed=20, **spots):
    named = {"third": THIRD, "fourth": FOURTH, "sixth": SIXTH, "far": FAR}
    still = dict.fromkeys(SPOTS, (0.0, 0.0))
    moved = {named[name]: (cents, cents) for name, cents in spots.items()}
    return play(np.random.default_rng(seed), {**still, **moved}, between=2.0, faults=0.0)


def test_the_worst_comes_first_and_there_are_three_at_most():
    rows = far_off(third=14.0, fourth=-20.0, sixth=-35.0, far=25.0)
    found = next_to_practise(find_progress(rows), rows, {})
    assert [one.group.position for one in found] == [6.0, 3.62, 4.0]
    assert all(one.why == "off" and one.sure for one in found)


def test_what_stands_on_the_stand_comes_before_what_does_not():
    rows = far_off(third=-18.0, sixth=-30.0)
    progress = find_progress(rows)
    third = next(key_of(row) for row in rows if row.position == 3.0)
    assert next_to_practise(progress, rows, {})[0].group.position == 6.0
    first = next_to_practise(progress, rows, {third: 40})[0]
    assert (first.group.position, first.on_stand, first.midi) == (3.0, 40, THIRD.midi)


def test_what_no_listener_hears_is_not_practised():
    rows = far_off(third=IN_TUNE_CENTS - 5.0)
    assert next_to_practise(find_progress(rows), rows, {}) == ()


def test_one_take_is_told_as_not_sure():
    rows = play(np.random.default_rng(21), STILL, takes=1, days=0.0, faults=0.0)
    found = next_to_practise(find_progress(rows), rows, {})
    assert found
    assert not any(one.sure for one in found)


# Students with many notes, takes of their own tuning, and days on which places differ.


def sure_of(seed, takes, *, off=0.0, faults=0.0, wander=0.0):
    """What is called sure of a student whose fourth position is weak."""
    rng = np.random.default_rng(seed)
    weak = {one: one.position == 4.0 and not one.valves for one in MANY}
    spots = {one: (off, off) if weak[one] else (0.0, 0.0) for one in MANY}
    rows = play(rng, spots, takes=takes, days=7.0 * takes, notes=(1, 6), sd=8.0, between=6.0)
    for at, row in enumerate(rows):
        if row.position != 4.0 or row.valves or row.cents is None:
            continue
        if rng.random() < faults:
            rows[at] = replace(row, played="missing", cents=None, slide_mm=None)
        elif wander:
            rows[at] = replace(row, cents=row.cents + rng.normal(0, wander))
    found = [one for one in next_to_practise(find_progress(rows), rows, {}) if one.sure]
    right = [
        one for one in found
        if any(rows[n].position == 4.0 and not rows[n].valves for n in one.group.rows)
    ]  # fmt: skip
    return found, {one.why for one in right}


@pytest.mark.parametrize("takes", [2, 4, 8])
def test_students_without_a_weakness_are_left_in_peace(takes):
    # Each group judged alone told 12 to 24 of 40 of something that isn't there.
    found = [bool(sure_of(seed, takes)[0]) for seed in range(10)]
    assert sum(found) <= 1


@pytest.mark.parametrize(
    ("takes", "weakness", "why"),
    [
        (4, {"off": 20.0}, "off"),
        (8, {"off": 14.0}, "off"),
        (8, {"faults": 0.5}, "faults"),
        (8, {"wander": 25.0}, "unsteady"),
    ],
)
def test_what_is_there_is_still_found(takes, weakness, why):
    found = [why in sure_of(seed, takes, **weakness)[1] for seed in range(7)]
    assert sum(found) >= 6


def test_a_cause_of_all_places_is_named_once():
    rows = far_off(third=-24.0, fourth=-24.0, sixth=-24.0, far=-24.0)
    stand = {key_of(row): 5 for row in rows}
    found = next_to_practise(find_progress(rows), rows, stand)
    assert [one.group.kind for one in found] == ["away"]


def test_a_valve_that_is_out_of_tune_is_not_blamed_on_the_slide():
    spots = {
        spot: ((-24.0, -24.0) if spot.valves else (0.0, 0.0))
        for spot in (*SPOTS, Spot(("F",), 2.32, 52, 4), Spot(("F",), 4.9, 43, 3))
    }
    rows = play(np.random.default_rng(24), spots, between=2.0, faults=0.0)
    stand = {key_of(row): 5 for row in rows}
    (found,) = next_to_practise(find_progress(rows), rows, stand)
    assert (found.group.kind, found.group.valves) == ("valve", ("F",))
    assert found.group.slide_mm is None


def test_one_bad_place_is_not_called_a_habit_of_all():
    rows = far_off(sixth=-60.0)
    stand = {key_of(row): 5 for row in rows}
    found = next_to_practise(find_progress(rows), rows, stand)
    assert [(one.group.kind, one.group.position) for one in found] == [("place", 6.0)]


def test_notes_that_are_missed_are_practised():
    rng = np.random.default_rng(22)
    rows = [
        replace(row, played="missing", cents=None, slide_mm=None)
        if row.position == 4.0 and rng.random() < 0.6
        else row
        for row in far_off(seed=22)
    ]
    (found,) = next_to_practise(find_progress(rows), rows, {})
    assert (found.why, found.group.position, found.sure) == ("faults", 4.0, True)
    assert found.how == HOW_FAULTS


def test_a_note_that_wanders_is_practised_as_one_that_does():
    rng = np.random.default_rng(23)
    unsteady = [
        replace(row, cents=row.cents + rng.normal(0, 25)) if row.position == 4.0 else row
        for row in far_off(seed=23)
    ]
    found = next_to_practise(find_progress(unsteady), unsteady, {})
    assert [one.how.kind for one in found if one.why == "unsteady"] == ["progress.how_unsteady"]


def test_notes_that_wander_are_practised():
    rng = np.random.default_rng(23)
    rows = [
        replace(row, cents=row.cents + rng.normal(0, 25)) if row.position == 4.0 else row
        for row in far_off(seed=23)
    ]
    found = next_to_practise(find_progress(rows), rows, {})
    assert ("unsteady", 4.0) in [(one.why, one.group.position) for one in found]
