"""Every reason is true of both routes, and few notes have one: random lines and all test scores.

`make sweep` does the same over many more lines and over all scores of a folder.
"""

import os
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np
import pytest
from reason_truth import lies, numbers_meant, numbers_said

from handslide.edges.files.horns import HORN_FILES
from handslide.edges.files.profiles import PROFILE_FILES
from handslide.edges.musicxml.read import open_score
from handslide.ground.errors import BadData
from handslide.ground.pitch import from_midi
from handslide.instrument.line import make_line
from handslide.instrument.obstacles import clear
from handslide.instrument.places import find_places
from handslide.instrument.reasons import Reasons
from handslide.instrument.route import NEAR_TIE, solve_line, usual_place
from handslide.jobs.mark.mark import MarkOptions, choose_for
from handslide.jobs.setup import make_setup
from handslide.words.reasons import against_words, reason_words
from handslide.words.speech import speech

SAY = speech("en")
SCORES = Path(__file__).parents[1] / "scores"
READABLE = (".musicxml", ".xml", ".mxl", ".mid", ".mei", ".krn")
# `make sweep` sets these: lines for each horn and profile, and a folder with more scores.
LINES = int(os.environ.get("HANDSLIDE_SWEEP_LINES", "2"))
MORE = os.environ.get("HANDSLIDE_SWEEP_SCORES")
FILES = [
    path
    for folder in (SCORES, *([Path(MORE)] if MORE else []))
    for path in sorted(folder.rglob("*"))
    if path.suffix in READABLE and "xsd" not in path.parts
]
SETUPS = [(horn, profile) for horn in HORN_FILES.ours for profile in PROFILE_FILES.ours]
# All horns over each score take long; these have every kind of valve.
COUNTS: defaultdict[tuple[str, str], Counter[str]] = defaultdict(Counter)
USUAL = (("tenor-f", "classical"), ("bass-independent", "classical"), ("tenor", "beginner"))


def random_line(rng, horn, count=24):
    """A line by steps, skips, repeats and returns, in every length, with slurs and glissandi."""
    playable = [midi for midi in range(28, 80) if find_places(horn, midi)]
    at, midis = int(rng.integers(5, len(playable) - 5)), []
    for _ in range(count):
        at += int(rng.choice([0, 1, -1, 2, -2, 3, -3, 5, -5, 7, -7]))
        at = min(max(at, 0), len(playable) - 1)
        back = midis[-2] if len(midis) > 1 and rng.random() < 0.2 else playable[at]
        midis.append(back)
    length = rng.choice([0.1, 0.15, 0.25, 0.4, 0.8, 2.0], count)
    rest = np.where(rng.random(count) < 0.1, 1.5, 0.0)
    onset = np.concatenate(([0.0], np.cumsum(length + rest)[:-1]))
    slur, gliss = rng.random(count) < 0.35, rng.random(count) < 0.03
    return make_line(midis, onset.tolist(), length.tolist(), slur.tolist(), gliss.tolist())


def untrue(reasons, note, reason, setup, rival_places=None):
    """What is untrue of a reason. ``rival_places``: the other route's, else what the search says"""
    solution = reasons.solution
    options = solution.choices.places
    if rival_places is None:
        route = reasons.rival_route(note, reason.rival).tolist()
        rival_places = [row[k] for row, k in zip(options, route)]
    usual = usual_place(solution.choices, note)
    return lies(
        setup.horn, setup.profile, solution.choices.line, solution.places, rival_places, note,
        reason, usual,
    )  # fmt: skip


def check_words(reason):
    said = against_words(SAY, reason)
    assert numbers_said(said) == numbers_meant(reason), said
    positions = said.replace("8th partial", "").replace("9th partial", "")
    assert "8th" not in positions and "9th" not in positions, said


@pytest.mark.parametrize(("horn", "profile"), SETUPS)
def test_reasons_of_random_lines_hold_on_the_best_route_through_the_rival(horn, profile):
    setup = make_setup(horn, profile=profile)
    rng = np.random.default_rng([len(horn), len(profile)])
    for _ in range(LINES):
        line = random_line(rng, setup.horn)
        pitches = [from_midi(midi) for midi in line.midi.tolist()]
        line = clear(line, setup.book, pitches).line
        if len(line) < 3:
            continue
        pitches = [from_midi(midi) for midi in line.midi.tolist()]
        solution = solve_line(line, setup.book, setup.profile).solution
        reasons = Reasons(solution, setup.book, pitches)
        for note in range(len(line)):
            reason = reasons.of(note)
            if reason is None:
                continue
            assert reason.rival == usual_place(solution.choices, note) != reason.place
            try:
                locked = solve_line(line, setup.book, setup.profile, {note: reason.rival}).solution
            except BadData:
                continue
            if reason.kind != "glissando":
                assert locked.total - solution.total > NEAR_TIE
            assert untrue(reasons, note, reason, setup, locked.places) == []
            check_words(reason)
            for place in solution.choices.places[note]:
                if place != reason.place:
                    against = reasons.against(place, note)
                    assert untrue(reasons, note, against, setup) == []
                    check_words(against)


@pytest.mark.sample
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem[:40])
def test_reasons_of_scores(path):
    for horn, profile in SETUPS if MORE and path.parent == SCORES else USUAL:
        setup = make_setup(horn, profile=profile)
        marked = choose_for(open_score(path), setup, MarkOptions())
        routed = marked.routed
        if routed.solution is None:
            continue
        kinds = Counter()
        for number, notes in routed.passes.items():
            reason = routed.reasons.of(*notes)
            if reason is None:
                continue
            kinds[reason.kind] += 1
            assert routed.is_unusual(number)
            # A note that is played again has the reason of one of its times.
            wrong = [untrue(routed.reasons, note, reason, setup) for note in notes]
            assert [] in wrong, (reason_words(SAY, reason), wrong)
            check_words(reason)
        COUNTS[horn, profile].update(notes=len(routed.places), reasons=kinds.total())


def test_at_most_one_note_in_five_has_a_reason():
    """Over all scores that were read before; today it is one in ten."""
    for count in COUNTS.values():
        assert count["reasons"] <= count["notes"] / 5, COUNTS
