"""How the pages are built: `make docs`, with every warning an error.

Nothing is fetched, neither while the pages are made nor while they are read. What is made from the
program itself (the commands, the library's names) is written into `reference`, where git doesn't
keep it.
"""

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent / "scripts"), str(HERE.parent / "src")]

import command_pages  # noqa: E402
import handslide  # noqa: E402
import name_page  # noqa: E402

project = "handslide"
author = "the makers of handslide"
project_copyright = author
version = release = handslide.__version__
language = "en"

extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon", "site_links"]
exclude_patterns = ["_templates"]
myst_heading_anchors = 3
myst_enable_extensions = ["deflist"]
highlight_language = "none"
nitpicky = True
# Types in signatures are other libraries', or have no page of their own.
nitpick_ignore_regex = [("py:.*", ".*")]
autodoc_member_order = "bysource"
# Shapes and units stand in the docstrings; what numpy calls array-like is a page long.
autodoc_typehints = "none"
napoleon_use_ivar = True
python_display_short_literal_types = True
toc_object_entries_show_parents = "hide"
suppress_warnings = ["config.cache"]

html_theme = "furo"
html_title = "handslide"
_FONTS = ("Hyperlegible.woff2", "LibertinusSerif-Bold.woff2", "LibertinusSerif-Bold-Ext.woff2",
          "HandslideMarks-Bold.ttf", "Hyperlegible-LICENSE.txt", "LibertinusSerif-LICENSE.txt",
          "HandslideMarks-LICENSE.txt")  # fmt: skip
html_static_path = ["_static", *(f"../src/handslide/data/fonts/{name}" for name in _FONTS),
                    "pictures/moving-still.png"]  # fmt: skip
html_css_files = ["handslide.css"]
html_js_files = ["handslide.js"]
# Pages opened from the disk may not fetch each other.
html_show_search_summary = False
html_copy_source = False
html_show_sourcelink = False
html_show_copyright = False
_LIGHT = {
    "font-stack": '"Hyperlegible", "Handslide Marks", system-ui, sans-serif',
    "font-stack--headings": '"Libertinus Serif", Georgia, serif',
    "color-brand-primary": "#74510a",
    "color-brand-content": "#74510a",
    "color-brand-visited": "#5b5368",
    "color-foreground-primary": "#14272d",
    "color-foreground-secondary": "#4c5f64",
    "color-foreground-muted": "#4c5f64",
    "color-foreground-border": "#6f8084",
    "color-background-primary": "#fbfaf5",
    "color-background-secondary": "#efeee6",
    "color-background-hover": "#e5e3d6",
    "color-background-border": "#d2d2c6",
    "color-inline-code-background": "#efeee6",
    "color-code-background": "#efeee6",
    "color-code-foreground": "#14272d",
    "color-api-pre-name": "#4c5f64",
    "color-api-name": "#74510a",
}
_DARK = {
    "color-brand-primary": "#e9bf62",
    "color-brand-content": "#e9bf62",
    "color-brand-visited": "#c4b9d8",
    "color-foreground-primary": "#eef0e8",
    "color-foreground-secondary": "#a9bbbc",
    "color-foreground-muted": "#a9bbbc",
    "color-foreground-border": "#7b9095",
    "color-background-primary": "#15252a",
    "color-background-secondary": "#0e191c",
    "color-background-hover": "#1d3239",
    "color-background-border": "#2c4147",
    "color-inline-code-background": "#0e191c",
    "color-code-background": "#0e191c",
    "color-code-foreground": "#eef0e8",
    "color-api-pre-name": "#a9bbbc",
    "color-api-name": "#e9bf62",
}
html_theme_options = {"light_css_variables": _LIGHT, "dark_css_variables": _DARK}


def setup(app: object) -> None:
    """Write the pages that are made from the program before anything is read."""
    command_pages.write(HERE / "reference" / "commands")
    name_page.write(HERE / "reference" / "names")
