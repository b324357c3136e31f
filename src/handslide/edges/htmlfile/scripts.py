"""The shared scripts as one, for a page that can load none.

A page opened from disk may not import: to a browser every file is of an origin of its own, and
modules as ``data:`` URLs in an import map resolve no address of another's, can't be named by a hash
in all browsers, and are a third larger. So the modules are joined. Each becomes a function that
gives what it exports, in the order of their imports; nothing is parsed beyond the lines that import
and export, which our own scripts write in few ways. Any other way is refused.
"""

import re
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable

_IMPORT = re.compile(r'^import \{ ([\w$, ]+) \} from "\./(\w+)\.js";$', re.M)
_EXPORT = re.compile(r"^export[ ](?=(?:async[ ])?function\*?[ ]|class[ ]|const[ ])", re.M)
_NAME = re.compile(r"^export[ ](?:async[ ])?(?:function\*?|class|const)[ ]([\w$]+)", re.M)
_COMMENT = re.compile(r"^[ \t]*(?://[^\n]*|/\*(?:(?!\*/).)*\*/[ \t]*)\n", re.M | re.S)
# What would work in a module of its own, and not here.
_REFUSED = re.compile(r"^(?:import|export)\b|\bimport\.meta\b|\bimport\(|^await\b", re.M)
_CLOSES = re.compile(r"</script|<!--", re.I)


class NotJoined(Exception):
    """A script is written in a way that can't be joined, or imports itself: a fault of ours, not of
    a file. Its name, and the line or the scripts between."""


def shared(folder: str) -> Traversable:
    """The folder of package data: ``scripts``, ``styles``, ``fonts``."""
    return resources.files("handslide") / "data" / folder


@cache
def joined_scripts(entry: str) -> str:
    """The module ``entry`` of ``data/scripts`` and all that it imports, as one script."""
    order: list[str] = []
    found: dict[str, str] = {}
    _visit(entry, order, found, ())
    body = "\n".join(found[name] for name in order)
    return f'"use strict";\n(() => {{\n{body}\n}})();\n'


def _visit(name: str, order: list[str], found: dict[str, str], above: tuple[str, ...]) -> None:
    if name in above:
        raise NotJoined(name, *above)
    if name in found:
        return
    source = (shared("scripts") / f"{name}.js").read_text(encoding="utf-8")
    for _, wanted in _IMPORT.findall(source):
        _visit(wanted, order, found, (*above, name))
    found[name] = join_module(name, source)
    order.append(name)


def join_module(name: str, source: str) -> str:
    """A module as ``const $name = (() => { … return { exports }; })();``. Raises NotJoined."""
    exported = _NAME.findall(source)
    source = _IMPORT.sub(_taken, _COMMENT.sub("", source))
    source = _EXPORT.sub("", source)
    if refused := _REFUSED.search(source) or _CLOSES.search(source):
        line = source[: refused.end()].rpartition("\n")[2]
        raise NotJoined(name, line)
    body = source.strip()
    return f"const ${name} = (() => {{\n{body}\nreturn {{ {', '.join(exported)} }};\n}})();"


def _taken(found: re.Match[str]) -> str:
    names = found[1].replace(" as ", ": ")
    return f"const {{ {names} }} = ${found[2]};"
