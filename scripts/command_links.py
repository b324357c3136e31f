"""For Sphinx: a command named in the text leads to its page of the reference.

`handslide mark --json` in the text becomes a link to the page of `handslide mark`. Blocks that are typed
stay as they are.
"""

from typing import Any

from docutils import nodes
from sphinx.util.nodes import make_refnode

import command_pages

_FOLDER = "reference/commands/"


def link(app: Any, tree: nodes.document, docname: str) -> None:
    """Wrap the words that are a command's."""
    names = sorted((name for name, _ in command_pages.every_command()), key=len, reverse=True)
    for literal in list(tree.findall(nodes.literal)):
        words = f"{literal.astext()} "
        name = next((one for one in names if words.startswith(f"handslide {one} ")), None)
        page = None if name is None else _FOLDER + name.replace(" ", "-")
        inside = (nodes.reference, nodes.title)
        if page in (None, docname) or any(isinstance(p, inside) for p in _above(literal)):
            continue
        wrapped = make_refnode(app.builder, docname, page, "", literal.deepcopy())
        literal.replace_self(wrapped)


def _above(node: nodes.Node) -> list[nodes.Node]:
    found = []
    while node.parent is not None:
        node = node.parent
        found.append(node)
    return found


def setup(app: Any) -> dict[str, bool]:
    """Tell Sphinx of it."""
    app.connect("doctree-resolved", link)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
