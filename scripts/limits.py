"""Write the page of the limits, `docs/limits.md`, from `handslide/ground/limits.py`.

A test looks whether it is up to date.
"""

import ast
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SOURCE = ROOT / "src" / "handslide" / "ground" / "limits.py"
PAGE = ROOT / "docs" / "limits.md"
_HEAD = """# Limits

How large, long, many or slow what comes in may be. Everything beyond is refused with a sentence,
before it is read or while it is. The numbers stand in `src/handslide/ground/limits.py`, and this
page is made from there by `make limits`.
"""
_UNITS = {"BYTES": "bytes", "S": "s", "BPS": "bytes a second", "LETTERS": "letters", "HZ": "Hz"}


def page() -> str:
    """The page as text."""
    text = SOURCE.read_text(encoding="utf-8")
    module = ast.parse(text)
    names: dict[str, object] = {}
    exec(compile(module, str(SOURCE), "exec"), names)
    heads = {k: line for k, line in enumerate(text.splitlines(), 1) if line.startswith("# ")}
    lines, waiting = [_HEAD], dict(heads)
    for node, after in zip(module.body, module.body[1:]):
        if not isinstance(node, ast.Assign) or not isinstance(after, ast.Expr):
            continue
        for line in [line for line in waiting if line < node.lineno]:
            title = waiting.pop(line).removeprefix("# ").rstrip(".")
            lines += [f"\n## {title}\n", "| limit | most | why |", "|---|---:|---|"]
        target = node.targets[0]
        found = target.elts if isinstance(target, ast.Tuple) else [target]
        each = [one.id for one in found if isinstance(one, ast.Name)]
        shown = " to ".join(_shown(one, names[one]) for one in each)
        why = ast.literal_eval(after.value)
        called = ", ".join(f"`{one}`" for one in each)
        lines.append(f"| {called} | {shown} | {' '.join(str(why).split())} |")
    return "\n".join(lines) + "\n"


def _shown(name: str, value: object) -> str:
    assert isinstance(value, int | float)
    if name.endswith("_BYTES"):
        for size, unit in ((2**30, "GB"), (2**20, "MB")):
            if value >= size and value % size == 0:
                return f"{value / size:g} {unit}"
    unit = _UNITS.get(name.rpartition("_")[2], "")
    return f"{value:,} {unit}".strip()


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
