"""Lessons of measuring and of tuning on every horn: what is asked for, and what its end is worth.

The horns of the second half are invented (`simhorns`); the whole run is ``make sweep``.
"""

import os

import numpy as np
import pytest
import simhorns

from handslide.edges.files.horns import load_horn
from handslide.instrument.fitting.advice import place_reports
from handslide.instrument.fitting.fit import fit_so_far
from handslide.instrument.fitting.lesson import (
    LEAST_REPEATS,
    ask,
    fine_enough,
    fine_mm,
    lesson_marks,
    repeats_wanted,
)
from handslide.instrument.fitting.rows import FitRow
from handslide.instrument.places import Limits
from handslide.studio.tuning.tuning import lesson_notes, tune_steps

HORNS = (
    "tenor", "tenor-f", "tenor-f-long", "tenor-e", "bass-independent", "bass-dependent", "alto",
    "alto-bb", "soprano", "tenor-c-bb", "contrabass-f",
)  # fmt: skip
COUNT = int(os.environ.get("HANDSLIDE_SWEEP_HORNS", "4"))
BASES = ("tenor-f", "tenor", "alto", "tenor-c-bb", "bass-independent", "contrabass-f")
MOST_NOTES = 44


@pytest.mark.sample
@pytest.mark.parametrize("name", HORNS)
@pytest.mark.parametrize("limits", [Limits(), Limits(reach=5.0, learned=frozenset())])
def test_every_horn_is_measured_by_notes_that_its_player_has(name, limits):
    base = load_horn(name)
    horn = base.tuned()
    marks = lesson_marks(horn, limits)
    assert marks
    assert all(0.0 < mark <= horn.travel_m for mark in marks)
    rows, widest = [], []
    for _ in range(7):
        fit = fit_so_far(base, rows)
        places = place_reports(fit, None, limits)
        widest.append(max(one.half_width_mm for one in places))
        note = ask(fit, marks, limits=limits, places=places).note
        assert note.valves in horn.valve_sets
        assert limits.learned is None or not note.valves
        assert 2 <= note.partial <= 8
        assert note.extension_m in (0.0, *marks)
        hz = horn.frequency_hz(note.partial, note.extension_m, note.valves)
        # What is called for is what sounds, within a quarter tone.
        assert abs(1200.0 * np.log2(hz / note.pitch.hz())) <= 51.0
        rows.append(FitRow(hz, note.extension_m, note.valves, note.partial))
    assert widest[-1] < 0.7 * widest[0]
    assert (
        {row.valves for row in rows if row.valves} or limits.learned is not None or not base.valves
    )


@pytest.mark.parametrize("name", HORNS)
def test_every_horn_is_tuned_by_notes_of_its_closed_slide(name):
    horn = load_horn(name).tuned()
    steps = tune_steps(horn)
    assert steps[0].kind == "main"
    loops = [valves for valves in horn.valve_sets if horn.loops_m(valves) > 0.0]
    assert len([one for one in steps if one.kind == "loop"]) >= min(1, len(loops))
    for step in steps:
        if step.kind == "low":
            continue
        notes = lesson_notes(horn, step)
        assert notes, step
        for note in notes:
            hz = [horn.frequency_hz(n, 0.0, note.valves) for n in range(1, 13)]
            off = min(abs(1200.0 * np.log2(one / note.hz)) for one in hz)
            assert off <= 45.0, (step.key, note)


def lesson_to_the_end(number, scatter):
    """(outcome, notes, fine or not, share of the places that are within what is called fine) of a
    lesson on an invented horn, to where it says fine."""
    rng = np.random.default_rng([60, number])
    name = BASES[number % len(BASES)]
    horn = simhorns.draw(rng, name, simhorns.MIXED[number % len(simhorns.MIXED)])
    base = load_horn(name)
    marks = lesson_marks(base.tuned())
    errors = {mark: simhorns.ruler_error_m(rng) for mark in marks}
    rows = []
    while True:
        fit = fit_so_far(base, rows, temp_c=simhorns.TEMP_C)
        places = place_reports(fit)
        fine = fine_enough(fit, places)
        if fine or len(rows) == MOST_NOTES:
            found = simhorns.outcome(horn, fit)
            within = np.abs(found.error_mm) <= [fine_mm(place) for place in places]
            return found, len(rows), fine, np.mean(within)
        note = ask(fit, marks, places=places).note
        error = errors.get(note.extension_m, 0.0)
        at = note.valves, note.partial, note.extension_m
        rows.append(simhorns.play(rng, horn, *at, error, scatter))


# The places of a horn hang together, so the share of few horns scatters by several per cent.
@pytest.mark.parametrize(("scatter", "least"), [(2.0, 0.93), (10.0, 0.87)])
def test_what_a_lesson_calls_fine_holds_the_truth(scatter, least):
    ends = [lesson_to_the_end(number, scatter) for number in range(COUNT)]
    outcomes = [one[0] for one in ends]
    inside, *_ = simhorns.pooled(outcomes)
    within = np.mean([share for *_, fine, share in ends if fine])
    print(
        f"{COUNT} horns, {scatter:g} cents: inside {100 * inside:.1f} %, notes "
        f"{np.median([one[1] for one in ends]):.0f}, fine {sum(one[2] for one in ends)}, "
        f"of these within a fifth of a semitone {100 * within:.1f} %"
    )
    assert inside >= least
    assert within >= 0.97


def test_before_it_is_fine_notes_are_asked_for_again():
    """Narrow bands from notes at places of their own don't tell how evenly they were played."""
    base = load_horn("alto")
    horn, rows = base.tuned(), []
    marks = lesson_marks(horn)
    wanted = []
    for _ in range(40):
        fit = fit_so_far(base, rows)
        places = place_reports(fit)
        if fine_enough(fit, places):
            break
        asked = ask(fit, marks, places=places)
        note, again = asked.note, repeats_wanted(fit, places)
        wanted.append(again)
        if again:
            assert asked.why.kind == "fitting.asks_again"
            spot = (note.valves, note.partial, note.extension_m)
            assert spot in [(row.valves, row.partial, row.extension_m) for row in rows]
        hz = horn.frequency_hz(note.partial, note.extension_m, note.valves)
        rows.append(FitRow(hz, note.extension_m, note.valves, note.partial))
    assert 1 <= max(wanted) <= LEAST_REPEATS
    assert wanted[-1] == 1
    assert repeats_wanted(fit_so_far(base, ()), places) == 0
