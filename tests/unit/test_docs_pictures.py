"""The README's pictures: those that the script takes, all there, small and said in words."""

import importlib.util
import re
from pathlib import Path

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
    assert {path.stem for path in made.PICTURES.iterdir()} == {shot.name for shot in made.SHOTS}


def test_each_picture_is_small_and_of_its_size():
    made = script()
    for shot in made.SHOTS:
        data = (made.PICTURES / f"{shot.name}.png").read_bytes()
        # PNG (ISO/IEC 15948): the signature, then the header with width and height.
        assert data[:8] == PNG and len(data) <= made.MOST_BYTES
        size = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
        assert size == (shot.width, shot.height)
