"""For Sphinx: what the pages have beyond their words.

A command named in the text (`handslide mark --json`) leads to its page of the reference; what is
typed in blocks stays as it is. The moving picture stands still for who wants less motion. A class
of the library is shown without what makes it: that are functions.
"""

from typing import Any

from docutils import nodes
from sphinx.addnodes import pending_xref
from sphinx.util.nodes import make_refnode
from sphinx.util.osutil import relative_uri

import command_pages

_FOLDER = "reference/commands/"
_MOVING = "moving.png"
FRONT = {
    "README.md": "index", "SECURITY.md": "security", "CONTRIBUTING.md": "contributing",
    "CODE_OF_CONDUCT.md": "conduct", "CHANGELOG.md": "changelog",
}  # fmt: skip
STILL = "moving-still.png"


def change(app: Any, tree: nodes.document, docname: str) -> None:
    """Both, in one page."""
    names = sorted((name for name, _ in command_pages.every_command()), key=len, reverse=True)
    for literal in list(tree.findall(nodes.literal)):
        words = f"{literal.astext()} "
        name = next((one for one in names if words.startswith(f"handslide {one} ")), None)
        page = "" if name is None else _FOLDER + name.replace(" ", "-")
        if words.startswith("handslide --help"):
            page = f"{_FOLDER}index"
        if page and page != docname and not _inside(literal, (nodes.reference, nodes.title)):
            literal.replace_self(make_refnode(app.builder, docname, page, "", literal.deepcopy()))
    for image in list(tree.findall(nodes.image)):
        if image["uri"].endswith(_MOVING):
            here = app.builder.get_target_uri(docname)
            still = relative_uri(here, f"_static/{STILL}")
            image.replace_self([_raw(_OPEN.format(still)), image.deepcopy(), _raw("</picture>")])


_OPEN = '<picture><source media="(prefers-reduced-motion: reduce)" srcset="{}">'


def without_parameters(_app: Any, what: str, *_: Any) -> tuple[str, None] | None:
    """No signature for a class."""
    return ("", None) if what == "class" else None


def _raw(text: str) -> nodes.raw:
    return nodes.raw("", text, format="html")


def _inside(node: nodes.Node, kinds: tuple[type[nodes.Node], ...]) -> bool:
    while node.parent is not None:
        node = node.parent
        if isinstance(node, kinds):
            return True
    return False


def to_the_front(_app: Any, tree: nodes.document) -> None:
    """Links from one of the project's first files to another lead to the page that shows it."""
    for node in tree.findall(pending_xref):
        if node["reftype"] == "myst" and node["reftarget"] in FRONT:
            node["refdomain"], node["reftarget"] = "doc", FRONT[node["reftarget"]]
            node["reftargetid"] = None


def setup(app: Any) -> dict[str, bool]:
    """Tell Sphinx of it."""
    app.connect("doctree-resolved", change)
    app.connect("doctree-read", to_the_front)
    app.connect("autodoc-process-signature", without_parameters)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
