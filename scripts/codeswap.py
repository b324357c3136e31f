"""A changed function put into a module that is already imported, for `scripts/mutants.py`.

Importing takes longer than most tests. Where a change lies within one function or method, whose
callers all hold the function itself, its code is exchanged in place; a change of what is done on
import (constants, defaults, decorators, fields) can't be made so.
"""

import functools
import importlib
import inspect
from types import CodeType, FunctionType


def _pieces(code: CodeType, within: str = "") -> tuple[dict[str, CodeType], list[tuple]]:
    """Functions and methods by their names, and what is done on import besides making them."""
    found: dict[str, CodeType] = {}
    rest: list[tuple] = [(code.co_code, code.co_names)]
    for const in code.co_consts:
        if not isinstance(const, CodeType):
            rest.append((type(const).__name__, repr(const)))
        elif const.co_name.startswith("<"):
            rest.append((const,))
        elif const.co_flags & inspect.CO_NEWLOCALS and const.co_flags & inspect.CO_OPTIMIZED:
            found[within + const.co_name] = const
        else:
            more, further = _pieces(const, f"{within}{const.co_name}.")
            found |= more
            rest += further
    return found, rest


def _function(module: object, name: str) -> FunctionType | None:
    """The function behind properties, caches and the like."""
    holder: object = module
    *classes, last = name.split(".")
    for one in classes:
        holder = getattr(holder, one, None)
    found = inspect.getattr_static(holder, last, None)
    if isinstance(found, property):
        found = found.fget
    elif isinstance(found, (classmethod, staticmethod)):
        found = found.__func__
    elif isinstance(found, functools.cached_property):
        found = found.func
    found = inspect.unwrap(found) if callable(found) else None
    return found if isinstance(found, FunctionType) else None


def swap(module_name: str, before: str, after: str) -> bool:
    """Exchange the code of what differs; `False`, and nothing done, where that can't be."""
    module = importlib.import_module(module_name)
    name = module.__file__ or module_name
    old, old_rest = _pieces(compile(before, name, "exec"))
    new, new_rest = _pieces(compile(after, name, "exec"))
    if old_rest != new_rest or list(old) != list(new):
        return False
    changed = {one: code for one, code in new.items() if code != old[one]}
    functions = {one: _function(module, one) for one in changed}
    for one, function in functions.items():
        if function is None or function.__code__ != old[one]:
            return False
    for one, function in functions.items():
        assert function is not None
        function.__code__ = changed[one]
    return bool(changed)
