"""Follows the first lessons of the documents: what they tell to type or press is typed, pressed.

`docs/tutorial/commands.md` has blocks as a terminal shows them, each `$` a command with what it
said; `docs/tutorial/studio.md` has its steps as comments between the words. The pictures of the
second are taken with `python scripts/follow_lesson.py`, which `make pictures` does.
"""

import os
import re
import shlex
import shutil
import sys
import tempfile
from collections.abc import Callable
from contextlib import chdir
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
LESSONS = ROOT / "docs" / "tutorial"
FILES = ("boats.musicxml", "boats-take.ogg")
_BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)
_NUMBER = re.compile(r"[−-]?\d+(?:\.\d+)?")
_STEP = re.compile(r"<!-- (\w+)(?: (link|button))?(?:: (.*?)|( /.*?))? -->")
WAIT_MS = 15_000
WIDE = "100"  # columns of the terminal that the lessons show


@dataclass(frozen=True, slots=True)
class Typed:
    """A command of a lesson and the lines that the lesson shows of what it says."""

    words: tuple[str, ...]
    shown: tuple[str, ...]
    into: str = ""


def typed(text: str) -> list[Typed]:
    """All commands of a lesson, in order."""
    found = []
    for block in _BLOCK.findall(text):
        for piece in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            line, *shown = piece.rstrip("\n").split("\n")
            command, _, into = line.partition(" > ")
            found.append(Typed(tuple(shlex.split(command)), tuple(shown), into.strip()))
    return found


def follow_commands(text: str, folder: Path) -> list[str]:
    """Run all commands of a lesson in ``folder``, within this process; what didn't go as shown."""
    from click.testing import CliRunner

    from handslide.faces.cli.main import main

    for name in FILES:
        shutil.copyfile(ROOT / "examples" / name, folder / name)
    wrong = []
    with chdir(folder):
        for one in typed(text):
            done = CliRunner(env={"COLUMNS": WIDE}).invoke(main, one.words[1:])
            said = done.stdout
            if one.into:
                Path(one.into).write_text(said, encoding="utf-8")
                said = ""
            if one.words[0] != "handslide" or done.exit_code or not fits(one.shown, said):
                wrong.append(f"{' '.join(one.words)}\n{done.stderr}{said}")
    return wrong


def fits(shown: tuple[str, ...], said: str) -> bool:
    """Whether a command said what a lesson shows; `…` stands for any words or lines.

    Numbers may differ by one in their last digit but none: another machine rounds another way.
    """
    lines = said.rstrip("\n").split("\n") if said.strip() else []
    return _fits(list(shown), lines)


def _fits(shown: list[str], lines: list[str]) -> bool:
    if not shown:
        return not lines
    if shown[0] == "…":
        return any(_fits(shown[1:], lines[k:]) for k in range(len(lines) + 1))
    return bool(lines) and _alike(shown[0], lines[0]) and _fits(shown[1:], lines[1:])


def _alike(shown: str, line: str) -> bool:
    if "…" in shown:
        return line.startswith(shown.partition("…")[0])
    numbers, others = _NUMBER.findall(shown), _NUMBER.findall(line)
    if _NUMBER.sub("0", shown).split() != _NUMBER.sub("0", line).split():
        return False
    pairs = [
        (float(a.replace("−", "-")), float(b.replace("−", "-"))) for a, b in zip(numbers, others)
    ]
    return all(abs(a - b) <= max(1.01, 0.005 * abs(a)) for a, b in pairs)


def steps(text: str) -> list[tuple[str, str, str]]:
    """The steps of a lesson in the studio: (what, which kind of control, words)."""
    return [
        (what, kind, (words or path).strip()) for what, kind, words, path in _STEP.findall(text)
    ]


class Follower:
    """Does the steps of a lesson in ``page``; ``keep`` takes the name and bytes of each picture."""

    def __init__(self, page: Any, keep: Callable[[str, bytes], None]) -> None:
        self.page, self.keep = page, keep
        page.set_default_timeout(WAIT_MS)

    def follow(self, text: str) -> None:
        for what, kind, words in steps(text):
            getattr(self, f"_{what}")(*([kind] if kind else []), *([words] if words else []))

    def _open(self, path: str) -> None:
        self.page.goto(path)

    def _press(self, kind: str, name: str) -> None:
        # What only a screen reader hears stands behind a colon.
        called = re.compile(rf"^{re.escape(name)}( ?:|$)")
        self.page.get_by_role(kind, name=called).first.click()

    def _fill(self, words: str) -> None:
        label, _, value = words.partition(" = ")
        self.page.get_by_label(label, exact=True).fill(value)

    def _choose(self, words: str) -> None:
        label, _, value = words.partition(" = ")
        self.page.get_by_label(label, exact=True).select_option(value)

    def _file(self, words: str) -> None:
        label, _, name = words.partition(" = ")
        self.page.get_by_label(label, exact=True).set_input_files(ROOT / "examples" / name)

    def _see(self, words: str) -> None:
        self.page.get_by_text(words).first.wait_for()

    def _wait(self, selector: str) -> None:
        self.page.locator(selector).first.wait_for(state="attached")

    def _note(self, number: str) -> None:
        self.page.locator(f"#score .hit[data-i='{number}']").click()
        self.page.locator("#note h2").first.wait_for()

    def _other(self, number: str) -> None:
        self.page.locator("#note button.other:not([aria-current])").nth(int(number)).click()

    def _keys(self, keys: str) -> None:
        self.page.locator("#score").focus()
        self.page.keyboard.press(keys)

    def _more(self) -> None:
        self.page.locator("summary[aria-label='More']").click()

    def _picture(self, name: str) -> None:
        self.page.wait_for_load_state("networkidle")
        self.keep(name, self.page.screenshot())


def follow_studio(
    text: str, browser: Any, address: str, keep: Callable[[str, bytes], None]
) -> None:
    """Do all steps of a lesson at a studio's ``address``."""
    context = browser.new_context(
        base_url=address, locale="en", viewport={"width": 1120, "height": 700},
        color_scheme="light", reduced_motion="reduce",
    )  # fmt: skip
    try:
        Follower(context.new_page(), keep).follow(text)
    finally:
        context.close()


def main() -> None:
    """Take the pictures of the lesson in the studio."""
    sys.path.insert(0, str(ROOT / "tests" / "helpers"))
    from browser import chromium, serving
    from handslide.studio.studio import open_studio

    def keep(name: str, data: bytes) -> None:
        (LESSONS / f"{name}.png").write_bytes(data)
        print(f"{name}.png: {len(data)} bytes")

    text = (LESSONS / "studio.md").read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        os.environ["HANDSLIDE_HOME"] = folder
        studio = open_studio(Path(folder) / "studio")
        with serving(studio) as address, chromium() as browser:
            follow_studio(text, browser, address, keep)
        studio.close()


if __name__ == "__main__":
    main()
