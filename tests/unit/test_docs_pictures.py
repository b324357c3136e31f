"""The README's pictures: those that the script takes, all there, small and said in words."""

import importlib.util
import re
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).parents[2]
PNG = b"\x89PNG\r\n\x1a\n"


def script():
    spec = importlib.util.spec_from_file_location(
        "make_pictures", ROOT / "scripts" / "make_pictures.py"
    )
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


def test_the_readme_shows_what_the_script_takes():
    made = script()
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.findall(r"!\[([^\]]*)\]\(([^)]+)\)", text)
    folder = made.PICTURES.relative_to(ROOT).as_posix()
    assert {path for _, path in shown} == {f"{folder}/{shot.name}.png" for shot in made.SHOTS}
    assert all(len(words) > 30 for words, _ in shown)
    moving, clip = made.MOVING.name, made.CLIP.name
    files = {f"{moving}.png", f"{moving}-still.png", f"{clip}.mp4", f"{clip}.vtt"}
    files |= {f"{shot.name}.png" for shot in made.SHOTS}
    assert {path.name for path in made.PICTURES.iterdir()} == files
    assert f'src="{folder}/{moving}.png"' in text and f"({folder}/{clip}.mp4)" in text


def test_each_picture_is_small_and_of_its_size():
    made = script()
    for shot in made.SHOTS:
        data = (made.PICTURES / f"{shot.name}.png").read_bytes()
        # PNG (ISO/IEC 15948): the signature, then the header with width and height.
        assert data[:8] == PNG and len(data) <= made.MOST_BYTES
        size = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
        assert size == (shot.width, shot.height)


def test_the_moving_picture_moves_and_comes_again_and_again():
    made = script()
    path = made.PICTURES / f"{made.MOVING.name}.png"
    assert path.stat().st_size <= made.MOST_MOVING_BYTES
    assert (made.PICTURES / f"{made.CLIP.name}.mp4").stat().st_size <= made.MOST_MOVING_BYTES
    with Image.open(path) as picture:
        assert picture.size == made.MOVING.size
        # Animated PNG (PNG, third edition, W3C 2025): no number of plays is for ever.
        assert picture.info["loop"] == 0 and picture.n_frames > 3 * made.MOVING.fps
        slide = {}
        for number in (0, picture.n_frames // 2):
            picture.seek(number)
            assert picture.info["duration"] % (1000 // made.MOVING.fps) == 0
            slide[number] = picture.convert("RGB").crop((0, 300, *made.MOVING.size)).tobytes()
    assert len(set(slide.values())) == 2
