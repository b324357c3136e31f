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
    """A page in a window of so many pixels; ``until`` is there when all of it is drawn."""

    name: str
    path: str
    until: str
    width: int = 1280
    height: int = 800


SHOTS = (
    Picture("today", "/", ".demo-line text.mark"),
    Picture("desk", "/students/3", ".things .heap"),
    Picture("part", "/stands/6?note=12", "#score .hit"),
    Picture("report", "/takes/12", ".music svg .mark"),
)


def take(page: Any, address: str, shot: Picture) -> int:
    """One picture, without motion; how many bytes it has."""
    page.set_viewport_size({"width": shot.width, "height": shot.height})
    page.goto(address + shot.path, wait_until="networkidle")
    page.locator(shot.until).first.wait_for()
    path = PICTURES / f"{shot.name}.png"
    page.screenshot(path=path)
    size = path.stat().st_size
    if size > MOST_BYTES:
        raise SystemExit(f"{path.name} has {size} bytes, more than {MOST_BYTES}")
    return size


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
        with serving(studio) as address, chromium() as started:
            page = started.new_page(color_scheme="light", reduced_motion="reduce", locale="en")
            for shot in SHOTS:
                print(f"{shot.name}.png: {take(page, address, shot)} bytes")
        studio.close()


if __name__ == "__main__":
    main()
