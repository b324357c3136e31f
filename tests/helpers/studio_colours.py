"""The colours of the pages by name, and how they contrast (WCAG 2.2)."""

import re
from importlib import resources

STATIC = resources.files("handslide.faces.web") / "static"
SCRIPTS = resources.files("handslide") / "data" / "scripts"  # shared with hand-outs
STYLES = resources.files("handslide") / "data" / "styles"
CSS = (STYLES / "tokens.css").read_text(encoding="utf-8")


def tokens(selector, css=CSS):
    """The names and values of the block after ``selector``."""
    block = css[css.index(selector) :]
    block = block[block.index("{") + 1 : block.index("}")]
    return dict(re.findall(r"--([\w-]+):\s*([^;]+);", block))


LIGHT = tokens(":root {")
DARK = tokens(':root[data-theme="dark"]')


def linear(colour):
    """Red, green and blue of a colour in linear light, 0 to 1 (IEC 61966-2-1)."""
    assert re.fullmatch(r"#[0-9a-f]{6}", colour), colour
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    return [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]


def luminance(colour):
    r, g, b = linear(colour)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
