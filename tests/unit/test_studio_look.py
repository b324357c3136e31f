"""The colours of the pages, worked out from the style sheet: they can be read in both themes."""

import re

import pytest
from studio_colours import DARK, LIGHT, STATIC, STYLES, contrast, tokens

# (what is read, what it stands on, least contrast): text 4.5, edges of fields and signs 3.
HEARD = ("hit", "off", "gone")
GROUNDS = ("paper", "sheet")
PAIRS = [
    *((ink, ground, 4.5) for ground in GROUNDS for ink in ("ink", "muted", "brass-text", *HEARD)),
    *((ink, f"{ink}-tint", 4.5) for ink in HEARD),
    *(("ink", f"{ground}-tint", 4.5) for ground in (*HEARD, "brass")),
    *((ink, "brass-tint", 4.5) for ink in ("muted", "brass-text")),
    *((ink, "hit-tint", 4.5) for ink in ("muted", "brass-text")),
    ("act-ink", "act", 4.5), ("act-over-ink", "act-over", 4.5), ("act", "paper", 3),
    *((ink, ground, 3) for ground in GROUNDS for ink in ("edge", "focus", "steel-line")),
    *(("brass-line", ground, 3) for ground in GROUNDS),
    ("print-ink", "print", 4.5), ("print-accent", "print", 4.5), ("print-bad", "print", 4.5),
    ("print-focus", "print", 3),
]  # fmt: skip


def test_the_measure_is_that_of_the_standard():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(("ink", "ground", "least"), PAIRS)
def test_colours_can_be_told_apart(theme, ink, ground, least):
    values = {**LIGHT, **(DARK if theme == "dark" else {})}
    assert contrast(values[ink], values[ground]) >= least


def test_the_theme_of_the_system_is_the_dark_one():
    assert tokens(':root[data-theme="auto"]') == DARK
    colours = {name for name, value in LIGHT.items() if value.startswith("#")}
    assert colours == {name for name, value in DARK.items() if value.startswith("#")}


def sheets():
    found = [*STATIC.iterdir(), *STYLES.iterdir()]
    return sorted((each for each in found if each.name.endswith(".css")), key=lambda one: one.name)


@pytest.mark.parametrize("sheet", sheets(), ids=lambda one: one.name)
def test_colours_are_named_in_one_place(sheet):
    css = re.sub(r"/\*.*?\*/", "", sheet.read_text(encoding="utf-8"), flags=re.S)
    if sheet.name == "tokens.css":
        css = re.sub(r":root[^{]*\{[^}]*\}", "", css)
    assert re.findall(r"#[0-9a-fA-F]{3,8}\b(?=[\s;,)])", css) == []
    assert "url(http" not in css and "@import" not in css


@pytest.mark.parametrize("sheet", sheets(), ids=lambda one: one.name)
def test_every_colour_that_is_used_has_a_name(sheet):
    css = sheet.read_text(encoding="utf-8")
    own = set(re.findall(r"--([\w-]+)\s*:", css)) | set(LIGHT)
    # Scripts set some of their own on an element; those have a value to fall back to.
    used = set(re.findall(r"var\(--([\w-]+)\)", css))
    assert used <= own
