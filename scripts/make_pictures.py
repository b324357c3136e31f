"""Takes the pictures of the README from the example studio, in Debian's chromium.

Run from the project folder: make pictures. The example's dates count back from today, so they are
taken anew only where a page has changed.
"""

import os
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
PICTURES = ROOT / "docs" / "pictures"
MOST_BYTES = 200_000


@dataclass(frozen=True, slots=True)
class Picture:
    """A page in a window of so many pixels; ``until`` is there when all of it is drawn, ``press``
    is pressed then. A path without a slash before it is a file beside the studio."""

    name: str
    path: str
    until: str
    width: int = 1280
    height: int = 800
    press: str = ""


SHOTS = (
    Picture("today", "/", ".demo-line text.mark"),
    Picture("desk", "/students/3", ".things .heap"),
    Picture("part", "/stands/6?note=12", "#score .hit"),
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
    path = PICTURES / f"{shot.name}.png"
    page.screenshot(path=path)
    size = path.stat().st_size
    if size > MOST_BYTES:
        raise SystemExit(f"{path.name} has {size} bytes, more than {MOST_BYTES}")
    return size


def make_handout(path: Path) -> None:
    """The hand-out of the example's part."""
    from handslide.jobs.handout.handout import HandoutWishes, write_handout
    from handslide.jobs.mark.mark import MarkOptions
    from handslide.jobs.setup import make_setup
    from handslide.words.speech import speech

    score = ROOT / "src" / "handslide" / "data" / "example" / "lanterns.musicxml"
    wishes = HandoutWishes(MarkOptions(student="Ada Quill"))
    write_handout(score, make_setup("tenor-f"), wishes, speech(), path)


def main() -> None:
    """Take all pictures."""
    sys.path.insert(0, str(ROOT / "tests" / "helpers"))
    from browser import chromium, serving
    from handslide.studio.care.example import add_example
    from handslide.studio.studio import open_studio

    PICTURES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        os.environ["HANDSLIDE_HOME"] = folder
        studio = open_studio(Path(folder) / "studio")
        add_example(studio)
        make_handout(Path(folder) / "handout.html")
        with serving(studio) as address, chromium() as started:
            page = started.new_page(color_scheme="light", reduced_motion="reduce", locale="en")
            for shot in SHOTS:
                print(f"{shot.name}.png: {take(page, address, Path(folder), shot)} bytes")
        studio.close()


if __name__ == "__main__":
    main()
