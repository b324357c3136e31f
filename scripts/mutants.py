"""Small faults put into `instrument/` and `sound/`, one at a time: do the nearest tests notice?

Where and how a line is changed says cosmic-ray; which tests reach it say the contexts that
`make coverage` leaves behind. Of all places that can be changed a seeded sample is drawn, and of
each place one change: no place counts twice because much can be done to it. Each mutant's tests
run in a process of their own, first with the changed function in place of the imported one; where
that can't be, or nothing fails, once more from the start with a changed copy of the sources.
Nothing is written into the tree.

    python scripts/mutants.py --count 400 --seed 20 --minutes 60   # goes on where it was stopped
    python scripts/mutants.py --table                              # what came of it
    python scripts/mutants.py --again tests/unit/test_horn.py      # survivors against these tests
"""

import argparse
import difflib
import io
import json
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import asdict, dataclass
from functools import cache, partial
from pathlib import Path

import pytest
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator, operator_names
from coverage import CoverageData

from codeswap import swap
from reached import FOLDER, seconds

ROOT = Path(__file__).resolve().parents[1]
SOURCES = ROOT / "src"
ROOMS = ("instrument", "sound")
RESULTS = ROOT / "build" / "mutants.jsonl"
# Seconds of the nearest tests that one mutant may take, as measured without it; a mutant that takes
# three times as long and more is one that doesn't end.
NEAREST_S, SPARE_S, WALL_TIMES = 4.0, 20.0, 20
MEMORY_BYTES = 8 << 30
_NOT_SO = 71
# What some operators look at; all others see all that isn't a name or the like.
_LOOKED_AT = {
    "ReplaceBinaryOperator": {"operator", "keyword"},
    "ReplaceComparisonOperator": {"comparison"},
    "NumberReplacer": {"number"},
}
_NEVER_CHANGED = {"name", "newline", "string", "endmarker", "param", "trailer", "simple_stmt"}


@dataclass(frozen=True)
class Mutant:
    """One change of one file: the `occurrence`-th thing that `operator` can do there."""

    file: str
    operator: str
    occurrence: int
    line: int
    column: int


def _told_only(node) -> bool:
    """Whether this stands in an annotation: types are mypy's, not the tests'."""
    while node.parent is not None:
        node, child = node.parent, node
        place = {"annassign": 1, "tfpdef": 2, "funcdef": -3}.get(node.type)
        if place is not None and child is node.children[place]:
            return node.type != "funcdef" or "->" in node.children
    return False


@cache
def operators() -> tuple[str, ...]:
    """Those that change one thing in a known way; `==` and `is` are the same for most values."""
    return tuple(
        name
        for name in operator_names()
        if "Variable" not in name
        and (name.count("Is") == 0 or name.endswith(("_Is_IsNot", "_IsNot_Is")))
    )


def places() -> dict[tuple, list[Mutant]]:
    """All that can be changed in the rooms, by its place: file, start and end."""
    found = defaultdict(list)
    for path in sorted(
        path for room in ROOMS for path in (SOURCES / "handslide" / room).rglob("*.py")
    ):
        name = path.relative_to(SOURCES).as_posix()
        tree = get_ast(path.read_text(encoding="utf-8"))
        nodes = [node for node in ast_nodes(tree) if node.type not in _NEVER_CHANGED]
        by_type = {
            kind: [node for node in nodes if node.type in types]
            for kind, types in _LOOKED_AT.items()
        }
        for operator in operators():
            able = get_operator(operator)()
            looked_at = by_type.get(operator.partition("/")[2].partition("_")[0], nodes)
            spots = [(node, spot) for node in looked_at for spot in able.mutation_positions(node)]
            for occurrence, (node, spot) in enumerate(spots):
                if not _told_only(node):
                    mutant = Mutant(name, operator.partition("/")[2], occurrence, *spot[0])
                    found[name, *spot].append(mutant)
    return found


def sample(count: int, seed: int) -> list[Mutant]:
    """That many places, each with one of its changes; the same sources and seed give the same."""
    by_place = places()
    chance = random.Random(seed)
    return [chance.choice(by_place[place]) for place in chance.sample(sorted(by_place), count)]


def mutated(mutant: Mutant) -> str | None:
    """The file with the change."""
    source = (SOURCES / mutant.file).read_text(encoding="utf-8")
    able = get_operator(f"core/{mutant.operator}")()
    return mutate_code(source, able, mutant.occurrence)


def changed_lines(mutant: Mutant, text: str) -> str:
    """What was there and what is there now."""
    before = (SOURCES / mutant.file).read_text(encoding="utf-8").splitlines()
    lines = list(difflib.unified_diff(before, text.splitlines(), lineterm="", n=0))[3:]
    return "\n".join(lines)


class Nearest:
    """The tests that reach a line: those that import its module first, then the quick ones."""

    def __init__(self) -> None:
        self._data = CoverageData(str(FOLDER / "data"))
        self._data.read()
        self.seconds = seconds()

    @cache  # noqa: B019
    def _lines(self, file: str) -> dict[int, set[str]]:
        found = self._data.contexts_by_lineno(str(SOURCES / file))
        return {line: {one for one in tests if one} for line, tests in found.items()}

    @cache  # noqa: B019
    def _imports(self, test: str, module: str) -> bool:
        text = (ROOT / test).read_text(encoding="utf-8")
        room, _, name = module.rpartition(".")
        return module in text or f"from {room} import {name}" in text

    def of(self, mutant: Mutant, most_s: float) -> list[str]:
        """Names of tests, as many as take these seconds. Nothing: no test reaches the line."""
        lines = self._lines(mutant.file)
        reaching = lines.get(mutant.line, set())
        if not reaching and not any(lines.get(mutant.line - back) for back in range(6)):
            # What is done on import is in no test: all of the module's are its tests.
            reaching = set().union(*lines.values()) if mutant.line in lines else set()
        elif not reaching:
            reaching = next(found for back in range(6) if (found := lines.get(mutant.line - back)))
        module = _module(mutant)
        order = sorted(
            (one for one in reaching if one in self.seconds),
            key=lambda one: (
                not self._imports(one.partition("::")[0], module),
                self.seconds[one],
                one,
            ),
        )
        chosen, total = [], 0.0
        for one in order:
            total += self.seconds[one]
            if chosen and total > most_s:
                break
            chosen.append(one)
        return chosen


class _First:
    """The first test that fails."""

    def __init__(self) -> None:
        self.name = ""

    def pytest_runtest_logreport(self, report):
        if report.failed and not self.name:
            self.name = report.nodeid


def _child(tests: list[str], cpu_s: float, told: Path) -> None:
    """In a process of its own: run the tests, and leave with pytest's code."""
    resource.setrlimit(resource.RLIMIT_CPU, (int(cpu_s) + 1, int(cpu_s) + 5))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    first = _First()
    options = ["-x", "-q", "-p", "no:cacheprovider", "--hypothesis-seed=0"]
    with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
        code = pytest.main([*options, *tests], plugins=[first])
    told.write_text(first.name, encoding="utf-8")
    os._exit(code)


def in_child(prepare: Callable[[], bool], tests: list[str], taken_s: float) -> tuple[str, str]:
    """What came of it (nothing, if it couldn't be prepared), and which test said so."""
    told = Path(os.environ["HYPOTHESIS_STORAGE_DIRECTORY"]) / "told.txt"
    told.write_text("", encoding="utf-8")
    cpu_s = 3 * taken_s + SPARE_S
    child = os.fork()
    if child == 0:
        os.setsid()
        try:
            if not prepare():
                os._exit(_NOT_SO)
            _child(tests, cpu_s, told)
        finally:
            os._exit(1)
    end = time.monotonic() + WALL_TIMES * cpu_s
    while not (ended := os.waitpid(child, os.WNOHANG))[0]:
        if time.monotonic() > end:
            os.killpg(child, signal.SIGKILL)
        time.sleep(0.02)
    if os.WIFSIGNALED(ended[1]):
        return ("endless", "")
    code = os.WEXITSTATUS(ended[1])
    if code in (0, _NOT_SO):
        return ("survived" if code == 0 else "", "")
    return ("died", told.read_text(encoding="utf-8") or f"(pytest: {code})")


def _from_the_start(copy: Path, tests: list[str], taken_s: float) -> tuple[str, str]:
    """As `in_child`, with all of handslide and the tests imported anew, from the copy."""

    def prepare() -> bool:
        for name in [name for name in sys.modules if _is_ours(name)]:
            del sys.modules[name]
        sys.path.insert(0, str(copy))
        os.environ["PYTHONPATH"] = str(copy)
        return True

    return in_child(prepare, tests, taken_s)


def _is_ours(name: str) -> bool:
    file = getattr(sys.modules[name], "__file__", None) or ""
    return name != "__main__" and file.startswith((f"{SOURCES}/", f"{ROOT}/tests/"))


def attempt(mutant: Mutant, tests: list[str], taken_s: float, copy: Path) -> dict:
    """One mutant, tried; the copy is afterwards what it was."""
    text = mutated(mutant)
    if text is None:
        raise SystemExit(f"No such change: {mutant}")
    row = asdict(mutant) | {"change": changed_lines(mutant, text), "tests": len(tests)}
    if not tests:
        return row | {"outcome": "unreached", "by": "", "seconds": 0.0}
    started = _used_s()
    source = (SOURCES / mutant.file).read_text(encoding="utf-8")
    outcome, by = in_child(partial(swap, _module(mutant), source, text), tests, taken_s)
    if outcome in ("", "survived"):
        (copy / mutant.file).write_text(text, encoding="utf-8")
        try:
            outcome, by = _from_the_start(copy, tests, taken_s)
        finally:
            shutil.copy2(SOURCES / mutant.file, copy / mutant.file)
    return row | {"outcome": outcome, "by": by, "seconds": round(_used_s() - started, 2)}


def _module(mutant: Mutant) -> str:
    return mutant.file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def _used_s() -> float:
    now = resource.getrusage(resource.RUSAGE_CHILDREN)
    return now.ru_utime + now.ru_stime


def _rows() -> list[dict]:
    if not RESULTS.exists():
        return []
    return [json.loads(line) for line in RESULTS.read_text(encoding="utf-8").splitlines()]


def _key(row: dict) -> tuple:
    return row["file"], row["operator"], row["occurrence"]


def _prepared(folder: str) -> Path:
    """A copy of the sources; here, all tests of the core imported, so that no child has to."""
    copy = Path(folder) / "src"
    shutil.copytree(SOURCES, copy, ignore=shutil.ignore_patterns("*.egg-info"))
    os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = folder
    os.chdir(ROOT)
    files = sorted({test.partition("::")[0] for test in seconds()})
    with redirect_stdout(io.StringIO()):
        if pytest.main(["--collect-only", "-q", "-p", "no:cacheprovider", *files]):
            raise SystemExit("The tests of the core can't be collected: run make coverage first.")
    return copy


def sweep(count: int, seed: int, minutes: float) -> None:
    """Try the sample until the processor time is spent, but nothing that was tried before."""
    nearest, done = Nearest(), {_key(row) for row in _rows()}
    RESULTS.parent.mkdir(exist_ok=True)
    spent_s = sum(row["seconds"] for row in _rows())
    with tempfile.TemporaryDirectory() as folder:
        copy = _prepared(folder)
        for mutant in sample(count, seed):
            if _key(asdict(mutant)) in done or spent_s > 60 * minutes:
                continue
            tests = nearest.of(mutant, NEAREST_S)
            row = attempt(mutant, tests, sum(nearest.seconds[one] for one in tests), copy)
            spent_s += row["seconds"]
            with RESULTS.open("a", encoding="utf-8") as file:
                file.write(json.dumps(row) + "\n")
            print(f"{row['outcome']:9} {row['file']}:{row['line']} {row['by']}", flush=True)


def again(tests: list[str]) -> None:
    """Try all that survived against these tests, and keep what dies now."""
    rows = _rows()
    with tempfile.TemporaryDirectory() as folder:
        copy = _prepared(folder)
        for row in rows:
            if row["outcome"] in ("died", "endless"):
                continue
            mutant = Mutant(*(row[name] for name in Mutant.__dataclass_fields__))
            now = attempt(mutant, tests, 60.0, copy)
            if now["outcome"] in ("died", "endless"):
                row.update(now, after="more tests")
                print(f"{row['outcome']:9} {row['file']}:{row['line']} {row['by']}", flush=True)
    RESULTS.write_text("".join(json.dumps(row) + "\n" for row in rows), encoding="utf-8")


def table() -> None:
    """How many there are of each end, room by room, and each survivor with its change."""
    rows = _rows()
    ends = ("died", "endless", "survived", "unreached")
    print("room", *ends, "all", sep="\t")
    for room in (*ROOMS, ""):
        of_room = [row for row in rows if row["file"].startswith(f"handslide/{room}")]
        count = Counter(row["outcome"] for row in of_room)
        print(room or "both", *(count[end] for end in ends), len(of_room), sep="\t")
    for row in sorted(rows, key=_key):
        if row["outcome"] in ("survived", "unreached"):
            print(f"\n{row['outcome']} {row['file']}:{row['line']} ({row['tests']} tests)")
            print(row["change"])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=20)
    parser.add_argument("--minutes", type=float, default=60, help="of processor time")
    parser.add_argument("--table", action="store_true")
    parser.add_argument("--again", nargs="+", metavar="TEST")
    told = parser.parse_args()
    if told.again:
        again(told.again)
    elif not told.table:
        sweep(told.count, told.seed, told.minutes)
    table()


if __name__ == "__main__":
    main()
