"""The manual's page about effort against the program: every weight, its default, its example."""

import re
from dataclasses import fields
from pathlib import Path

import pytest

from handslide.edges.files.profiles import PROFILE_FILES, read_profile
from handslide.instrument.effort import (
    FAR_ALTERNATE,
    FIRST_CALM_S,
    FIRST_IN_SEVENTH,
    FIRST_SEEK,
    LEAST_MOVE_S,
    OUT_TO_SEVENTH,
    PEAK_ACCELERATION,
    PEAK_SPEED,
    SEEK_M,
    SHORTEST_DWELL_S,
    STILL_M,
)
from handslide.instrument.places import (
    FAR_VALVE_POSITION,
    HOME_STEPS,
    HOME_VALVE_POSITION,
    SAME_SPOT_M,
    SEVENTH_POSITION,
    SPARE_STEPS,
)
from handslide.instrument.profile import Profile
from handslide.instrument.settle import FIGURE, FIGURE_TIE, NEAR_TIE, QUICK_S

PAGE = (Path(__file__).parents[2] / "docs" / "effort.md").read_text(encoding="utf-8")
# A row that documents a weight: | ... | `name` | default | unit |
ROW = re.compile(r"\| `(\w+)` \| ([^|]+) \| ([^|]+) \|$", re.MULTILINE)
WEIGHTS = [item.name for item in fields(Profile) if item.name not in ("name", "title")]


def test_every_weight_has_one_row_and_every_row_is_a_weight():
    assert sorted(name for name, _, _ in ROW.findall(PAGE)) == sorted(WEIGHTS)


@pytest.mark.parametrize("name", [name for name in WEIGHTS if name != "partials"])
def test_documented_defaults(name):
    defaults = {row: value for row, value, _ in ROW.findall(PAGE)}
    assert float(defaults[name]) == getattr(Profile(), name)


def test_partials_have_no_points_by_default():
    assert dict(Profile().partials) == {}
    assert ("partials", "none", "points") in ROW.findall(PAGE)


@pytest.mark.parametrize(
    ("words", "value"),
    [
        (r"T is never less than ([\d.]+) s", LEAST_MOVE_S),
        (r"seek, for a move of more than ([\d.]+) cm", 100 * SEEK_M),
        (r"and ([\d.]+) of it more if that is three steps", FAR_ALTERNATE),
        (r"going out there costs ([\d.]+) times that", OUT_TO_SEVENTH),
        (r"beginning a line there ([\d.]+) times", FIRST_IN_SEVENTH),
        (r"nothing from ([\d.]+) s on", FIRST_CALM_S),
        (r"([\d.]+) of it for beginning a line there", FIRST_SEEK),
        (r"routes that differ by ([\d.]+) points", NEAR_TIE),
        (r"with that place\n  costs ([\d.]+) points more at most", NEAR_TIE),
        (r"figure that the hand\nknows is worth (\d)", FIGURE_TIE),
        (r"and (\d) where a note of a figure is held", FIGURE_TIE),
        (r"A note of ([\d.]+) s or more that lies in an alternate", QUICK_S),
        (r"valve set that moves more than ([\d.]+) cm", 100 * STILL_M),
        (r"in another place \(([\d.]+) mm", 1000 * SAME_SPOT_M),
        (r"to the next note's, at least ([\d.]+) s", SHORTEST_DWELL_S),
        (r"speed_per_m2_s2 · \(([\d.]+) · d/T\)²", PEAK_SPEED),
        (r"jolt_per_m2_s4 · \(([\d.]+) · d/T²\)²", round(PEAK_ACCELERATION, 2)),
    ],
)
def test_fixed_numbers_of_the_text(words, value):
    (found,) = re.findall(words, PAGE)
    assert float(found) == pytest.approx(value, rel=1e-12)


def test_numbers_in_words():
    assert "A figure is three notes or more" in PAGE
    assert "in 7th on the open horn (6½ and further)" in PAGE
    assert "with a valve in 5th (4½ and further)" in PAGE
    assert "three\nsteps more when the open horn has the note in 5th position, eight" in PAGE
    assert (FIGURE, SEVENTH_POSITION, FAR_VALVE_POSITION) == (3, 6.5, 4.5)
    assert "eight when that has\nit in its long 2nd or nearer" in PAGE
    assert (SPARE_STEPS, HOME_STEPS, HOME_VALVE_POSITION) == (3, 8, 2.5)


@pytest.mark.parametrize("name", PROFILE_FILES.ours)
def test_every_profile_is_explained(name):
    assert f"- `{name}`, " in PAGE


def test_the_example_profile_can_be_read():
    plain, learnt = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    profile = read_profile(plain, "no-trigger.toml")
    assert profile.valve_colour == 3.0
    assert profile.partials == {7: 0.0, 9: 0.3}
    learnt = read_profile(learnt, "mira.toml")
    assert learnt.factors.shared["partials.7"] == 1.4
    assert learnt.factors.by_kind == {"Bb+1": {"turn_per_m": 0.61}}


def test_a_point_is_about_a_calm_move_to_3rd():
    # "18 cm cost 0.9 points for the distance and a little for the speed", with a quarter second.
    distance = 0.18 * Profile().distance_per_m
    speed = Profile().speed_per_m2_s2 * (1.875 * 0.18 / 0.25) ** 2
    jolt = Profile().jolt_per_m2_s4 * (5.77 * 0.18 / 0.25**2) ** 2
    assert distance == pytest.approx(0.9)
    assert 0.9 < distance + speed + jolt < 1.3
