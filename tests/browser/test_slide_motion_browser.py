"""The slide's motion in the page beside Python's, over the scores in tests/scores."""

from pathlib import Path

import numpy as np
import pytest

from browser import serving, visiting
from handslide.edges.musicxml.read import open_score
from handslide.instrument.slidemotion import slide_motion
from handslide.jobs.mark.playback import playback
from handslide.jobs.mark.routed import played_line, route
from handslide.jobs.setup import make_setup
from handslide.studio.studio import open_studio

pytestmark = pytest.mark.browser

SCORES = sorted(
    path for path in Path("tests/scores").iterdir() if path.suffix in (".musicxml", ".mxl")
)
MOTION = """
async (scores) => {
  const { Motion } = await import("/static/motion.js");
  return scores.map(({ rows, mm, times }) => {
    const numbered = rows.map((row, i) => ({ ...row, i }));
    const motion = new Motion(numbered, (i) => mm[i]);
    return times.map((t) => motion.at(t));
  });
}
"""


def part_of(path):
    """The rows that a page gets of a score, the place of each in mm, and times to look at."""
    part = open_score(path).read_part()
    setup = make_setup("tenor-f", reach=6)
    line, pitches = played_line(part)
    routed = route(setup, line, pitches, part.played)
    rows = playback(routed, part)["played"]
    places = [routed.places.get(row["i"]) for row in rows]
    mm = [None if place is None else 1000 * place.extension_m for place in places]
    times = np.random.default_rng(1).uniform(-0.5, rows[-1]["on_s"] + 1, 3000)
    return {"rows": rows, "mm": mm, "times": np.sort(times).tolist()}


def motion_of(part):
    def column(name):
        return [np.nan if row[name] is None else row[name] for row in part["rows"]]

    places = [np.nan if mm is None else mm / 1000 for mm in part["mm"]]
    return slide_motion(column("on_s"), column("len_s"), places, column("move_s"), column("gliss"))


def test_page_and_python_move_the_slide_alike(tmp_path, browser):
    parts = [part_of(path) for path in SCORES]
    assert sum(len(part["rows"]) for part in parts) > 1500
    # Every rule is met somewhere: a rest, a slur, quick notes that take all the time that there is.
    rows = [row for part in parts for row in part["rows"]]
    assert any(row["slur"] for row in rows) and min(row["len_s"] for row in rows) < 0.15
    glide = {"rows": [], "mm": [120.0, 480.0, 300.0], "times": np.linspace(-1, 4, 500).tolist()}
    for number, (length, gliss) in enumerate(((1.0, True), (0.5, True), (1.0, False))):
        row = {"i": number, "on_s": float(number), "len_s": length, "move_s": 0.2, "gliss": gliss}
        glide["rows"].append(row)
    parts.append(glide)
    studio = open_studio(tmp_path)
    with serving(studio) as address, visiting(browser, address) as page:
        page.goto("/help")
        found = page.evaluate(MOTION, parts)
    studio.close()
    for part, mm in zip(parts, found):
        off = np.abs(1000 * motion_of(part).at(part["times"]) - mm)
        assert off.max() < 0.1
