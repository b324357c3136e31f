"""Takes the pictures of the README: pages in Debian's chromium, a moving one and a clip of a part.

Run from the project folder: make pictures [ONLY="moving today"]. The example's dates count back
from today, so pages are taken anew only where one has changed. The clip needs FFmpeg, that of the
machine or of imageio-ffmpeg.
"""

import importlib.util
import os
import shutil
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
PICTURES = ROOT / "docs" / "pictures"
MOST_BYTES = 200_000
MOST_MOVING_BYTES = 1_500_000
PART = ROOT / "examples" / "lanterns.musicxml"


@dataclass(frozen=True, slots=True)
class Picture:
    """A page in a window of so many pixels; ``until`` is there when all of it is drawn, ``press``
    is pressed then. A path without a slash before it is a file beside the studio. ``listens``: the
    picture is taken while the page hears the part played, at a note that is out of place."""

    name: str
    path: str
    until: str
    width: int = 1280
    height: int = 800
    press: str = ""
    listens: bool = False


@dataclass(frozen=True, slots=True)
class Moving:
    """A stretch of the example's part as it is filmed, so large, so many pictures a second."""

    name: str
    measures: str
    size: tuple[int, int]
    fps: int


# Quick notes from the 1st to the 6th position, then a glissando: the slide has to do.
MOVING = Moving("moving", "22-24", (800, 450), 20)
CLIP = Moving("clip", "1-4", (960, 540), 30)
PLANNED = 3  # the student who has a plan
OFF_MM = 14.0  # how far out the slide is at some notes on the stage
_COLOURS = 48  # of the moving picture; it has few
SHOTS = (
    Picture("today", "/", ".demo-line text.mark"),
    Picture("desk", "/students/3", ".things .heap"),
    Picture("plan", f"/plans/{PLANNED}", ".today .strip svg"),
    Picture("part", "/stands/6?note=12", "#score .hit"),
    Picture("stage", "/takes/new?stand=6", "#score .hit.is-playing", listens=True),
    Picture("report", "/takes/12", ".music svg .mark"),
    Picture("handout", "handout.html", ".score .hit", 960, 720, '.score .hit[data-i="2"]'),
)


def take(page: Any, address: str, folder: Path, shot: Picture) -> int:
    """One picture, without motion; how many bytes it has."""
    page.set_viewport_size({"width": shot.width, "height": shot.height})
    inside = shot.path.startswith("/")
    page.goto(address + shot.path if inside else (folder / shot.path).as_uri())
    page.wait_for_load_state("networkidle")
    page.locator(shot.until).first.wait_for(state="attached")
    if shot.press:
        page.locator(shot.press).dispatch_event("click")
    if shot.listens:
        begin_and_wait(page)
    path = PICTURES / f"{shot.name}.png"
    page.screenshot(path=path)
    size = path.stat().st_size
    if size > MOST_BYTES:
        raise SystemExit(f"{path.name} has {size} bytes, more than {MOST_BYTES}")
    return size


def begin_and_wait(page: Any) -> None:
    """Begin a take, and wait until some notes were heard and the slide is to move."""
    page.locator("#more").click()
    page.locator("#count-in").uncheck()
    page.keyboard.press("Escape")
    page.locator("#go:focus").wait_for()
    page.keyboard.press("Space")
    page.wait_for_function(
        """() => document.querySelectorAll("path.heard").length > 8 &&
          document.getElementById("far-words").textContent === "mm in" """,
        polling=50,
        timeout=90_000,
    )


def write_played(path: Path) -> Path:
    """The example's part as a microphone hears it, the slide too far out in the 4th position."""
    from played import placed, play_part, write_wav

    from handslide.jobs.setup import make_setup

    setup = make_setup("tenor-f")

    def slip(_: int, place: Any, __: Any) -> float:
        return OFF_MM if abs(place.position - 4) < 0.2 and not place.valves else 0.0

    return write_wav(path, play_part(setup, placed(setup, PART, 8), slip))


def make_plan(studio: Any) -> None:
    """A plan in its second week, with some of it done."""
    from datetime import date, timedelta

    from handslide.studio.practice.plans import begin_plan, plan_of, tick

    today = date.today()
    start = today - timedelta(days=9)
    begin_plan(studio, PLANNED, start=start, weeks=8, minutes=20, level="second-year")
    plan = plan_of(studio, PLANNED)
    for day, items in (
        (7, ("breathing", "scale", "lip-slurs")),
        (8, ("breathing", "long-tones", "scale", "lip-slurs")),
        (9, ("breathing", "long-tones", "scale")),
    ):
        for item in items:
            tick(studio, plan, day, item, today)


def make_handout(path: Path) -> None:
    """The hand-out of the example's part."""
    from handslide.jobs.handout.handout import HandoutWishes, write_handout
    from handslide.jobs.mark.mark import MarkOptions
    from handslide.jobs.setup import make_setup
    from handslide.words.speech import speech

    score = ROOT / "src" / "handslide" / "data" / "example" / "lanterns.musicxml"
    wishes = HandoutWishes(MarkOptions(student="Ada Quill"))
    write_handout(score, make_setup("tenor-f"), wishes, speech(), path)


def make_moving() -> None:
    """The moving picture of the README (animated PNG, with a still of it), drawn as a clip is."""
    import numpy as np
    from PIL import Image

    from handslide.edges.musicxml.read import open_score
    from handslide.jobs.clip.clip import stage_of
    from handslide.jobs.clip.wishes import ClipWishes
    from handslide.jobs.mark.mark import MarkOptions, choose_for
    from handslide.jobs.practice.playalong import make_playalong
    from handslide.jobs.practice.soundwishes import PlayWishes
    from handslide.jobs.setup import make_setup
    from handslide.words.speech import speech

    score = open_score(PART)
    marked = choose_for(score, make_setup("tenor-f"), MarkOptions())
    made = make_playalong(score, PlayWishes(measures=MOVING.measures, clicks=False, count_in=0))
    stage = stage_of(speech(), marked, made, ClipWishes(size=MOVING.size))
    ends_s = made.notes[-1].onset_s + made.notes[-1].length_s
    frames = [
        stage.picture((number + 0.5) / MOVING.fps) for number in range(int(ends_s * MOVING.fps))
    ]
    stage.close()
    some = Image.fromarray(np.concatenate(frames[:: len(frames) // 10]))
    palette = some.quantize(_COLOURS, dither=Image.Dither.NONE)
    first, *rest = (
        Image.fromarray(frame).quantize(palette=palette, dither=Image.Dither.NONE)
        for frame in frames
    )
    path = PICTURES / f"{MOVING.name}.png"
    first.save(path, save_all=True, append_images=rest, duration=1000 // MOVING.fps, loop=0)
    first.save(PICTURES / f"{MOVING.name}-still.png", optimize=True)
    size = path.stat().st_size
    if size > MOST_MOVING_BYTES:
        raise SystemExit(f"{path.name} has {size} bytes, more than {MOST_MOVING_BYTES}")
    print(f"{path.name}: {size} bytes, {len(frames)} pictures")


def make_clip() -> None:
    """The short clip that the README leads to, with its captions."""
    from handslide.jobs.clip.clip import write_clip
    from handslide.jobs.clip.wishes import ClipWishes
    from handslide.jobs.mark.mark import MarkOptions
    from handslide.jobs.practice.soundwishes import PlayWishes
    from handslide.jobs.setup import make_setup
    from handslide.words.speech import speech

    if shutil.which("ffmpeg") is None and importlib.util.find_spec("imageio_ffmpeg"):
        import imageio_ffmpeg

        os.environ.setdefault("HANDSLIDE_FFMPEG", imageio_ffmpeg.get_ffmpeg_exe())
    path = PICTURES / f"{CLIP.name}.mp4"
    play = PlayWishes(measures=CLIP.measures, clicks=False, count_in=0)
    wishes = ClipWishes(size=CLIP.size, fps=CLIP.fps, title="Lanterns on the Quay")
    write_clip(PART, make_setup("tenor-f"), MarkOptions(), play, wishes, speech(), path, force=True)
    size = path.stat().st_size
    if size > MOST_MOVING_BYTES:
        raise SystemExit(f"{path.name} has {size} bytes, more than {MOST_MOVING_BYTES}")
    print(f"{path.name}: {size} bytes")


def main() -> None:
    """Take the pictures that are named, without a name all of them."""
    wanted = set(sys.argv[1:]) or {MOVING.name, CLIP.name, *(shot.name for shot in SHOTS)}
    PICTURES.mkdir(parents=True, exist_ok=True)
    if MOVING.name in wanted:
        make_moving()
    if CLIP.name in wanted:
        make_clip()
    shots = [shot for shot in SHOTS if shot.name in wanted]
    if shots:
        take_all(shots)


def take_all(shots: list[Picture]) -> None:
    """Pages of the example studio, and its hand-out."""
    sys.path.insert(0, str(ROOT / "tests" / "helpers"))
    from browser import chromium, serving
    from handslide.studio.care.example import add_example
    from handslide.studio.studio import open_studio

    with tempfile.TemporaryDirectory() as folder:
        os.environ["HANDSLIDE_HOME"] = folder
        studio = open_studio(Path(folder) / "studio")
        add_example(studio)
        make_plan(studio)
        make_handout(Path(folder) / "handout.html")
        played = write_played(Path(folder) / "played.wav")
        with serving(studio) as address, chromium(played) as started:
            page = started.new_page(color_scheme="light", reduced_motion="reduce", locale="en")
            for shot in shots:
                print(f"{shot.name}.png: {take(page, address, Path(folder), shot)} bytes")
        studio.close()


if __name__ == "__main__":
    main()
