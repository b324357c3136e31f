"""The reference of the library: every public name of `import handslide as hs`, by its docstring.

`docs/conf.py` writes it before the documents are built.
"""

from pathlib import Path

import handslide

_HEAD = """# All names

Every name of `handslide.__all__` with its docstring, functions first. What it is for, and what
*stable* means, says [handslide as a library](../../api.md).
"""
_FUNCTIONS = "## Functions"
_VALUES = "## Values and errors"


def page() -> str:
    """The page: a directive for each name, which the generator fills in."""
    named = {name: getattr(handslide, name) for name in sorted(handslide.__all__)}
    functions = [name for name, value in named.items() if not isinstance(value, type)]
    parts = [
        _HEAD,
        _FUNCTIONS,
        *(_block(f".. autofunction:: handslide.{one}") for one in functions),
    ]
    values = [name for name in named if name not in functions]
    parts += [_VALUES, *(_block(f".. autoclass:: handslide.{one}\n   :members:") for one in values)]
    return "\n\n".join(parts) + "\n"


def write(folder: Path) -> None:
    """Write the page, if it has changed."""
    folder.mkdir(parents=True, exist_ok=True)
    path, text = folder / "names.md", page()
    if not path.exists() or path.read_text(encoding="utf-8") != text:
        path.write_text(text, encoding="utf-8")


def _block(directive: str) -> str:
    return f"```{{eval-rst}}\n{directive}\n```"
