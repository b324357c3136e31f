"""The import arrow: ground < instrument | sound < edges < jobs < studio < faces; libraries' homes.

The two wings, instrument and sound, don't know each other.
``sheets`` (what stands on a printed page, as plain shapes) and ``drills`` (what stands in the bars
of practice sheets) are beside the edges, above instrument.
"""

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

from source_trees import walked

import handslide

ROOT = Path(handslide.__file__).parent
MODULES = sorted(path.relative_to(ROOT) for path in ROOT.rglob("*.py"))
# What the modules of a package may import of handslide itself.
MAY_IMPORT = {
    "ground": {"ground"},
    "instrument": {"ground", "instrument"},
    "sound": {"ground", "sound"},
    "sheets": {"ground", "instrument", "sound", "sheets"},
    "drills": {"ground", "instrument", "drills"},
    "words": {"ground", "instrument", "sound", "words"},
    "edges": {"ground", "instrument", "sound", "sheets", "drills", "edges"},
}
_MAKERS = {"ground", "instrument", "sound", "sheets", "drills", "words"}
MAY_IMPORT["jobs"] = {*_MAKERS, "edges", "jobs"}
MAY_IMPORT["studio"] = {*MAY_IMPORT["jobs"], "studio"}
MAY_IMPORT["faces"] = {*MAY_IMPORT["studio"], "faces"}
# The face of programs: it knows the jobs and nothing that belongs to a studio.
MAY_IMPORT["api"] = {*MAY_IMPORT["jobs"], "api"}
# The only packages of handslide that may import a library.
HOME = {
    "numpy": {"instrument", "sound", "edges", "jobs", "studio", "api"},
    "scipy": {"instrument", "sound"},
    "threadpoolctl": {"instrument"},
    "soundfile": {"edges"},
    "av": {"edges"},
    "lxml": {"edges"},
    "msgspec": {"edges"},
    "verovio": {"edges"},
    "typst": {"edges"},
    "music21": {"edges"},
    "pikepdf": {"edges"},
    "fontTools": {"edges"},
    "pypdfium2": {"edges"},
    "platformdirs": {"edges"},
    "cryptography": {"edges"},
    "segno": {"edges"},
    "distributed": {"edges"},
    "babel": {"words"},
    "click": {"faces"},
    "jinja2": {"faces"},
    "markupsafe": {"faces"},
    "starlette": {"faces"},
    "uvicorn": {"faces"},
    "h11": {"faces"},
    "websockets": {"faces"},
    "sqlite3": {"edges"},
}
HEAVY = (
    "av", "babel", "cryptography", "distributed", "fontTools", "music21", "pikepdf", "pypdfium2",
    "scipy", "segno", "soundfile", "typst", "verovio",
)  # fmt: skip
SILENT = ("ground", "instrument", "sound")


@cache
def nodes_of(module):
    """All nodes of a module's tree that a test below looks at."""
    kinds = (ast.Import, ast.ImportFrom, ast.Constant, ast.Attribute, ast.Call)
    tree = ast.parse((ROOT / module).read_text(encoding="utf-8"))
    return [node for node in walked(tree) if isinstance(node, kinds)]


def package_of(module):
    return module.parts[0] if len(module.parts) > 1 else ""


@cache
def imports(module):
    """(line, dotted name) of all imports of a module, inside functions too."""
    found = []
    for node in nodes_of(module):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written out in full"
            found += [(node.lineno, f"{node.module}.{alias.name}") for alias in node.names]
    return found


def test_there_is_something_to_look_at():
    # A wrong root or a renamed package would make all tests below pass on nothing.
    assert {package_of(m) for m in MODULES} >= set(MAY_IMPORT) - {"sheets"}
    assert len(MODULES) > 20
    assert any(name == "numpy.np" or name == "numpy" for m in MODULES for _, name in imports(m))


def forbidden(package, name):
    """Whether a module of a package mustn't import this."""
    first, *rest = name.split(".")
    if first == "handslide" and package:
        assert package in MAY_IMPORT, f"{package} is a new package: give it a level"
        return rest[0] in MAY_IMPORT and rest[0] not in MAY_IMPORT[package]
    if first in HOME:
        return package not in HOME[first]
    return first not in sys.stdlib_module_names and first not in ("handslide", "__future__")


# All modules in one test each: a thousand tests cost every process that collects them.
def test_imports_point_down():
    wrong = [
        f"{module}:{line} imports {name}"
        for module in MODULES
        for line, name in imports(module)
        if forbidden(package_of(module), name)
    ]
    assert wrong == []


def test_what_points_up_is_seen():
    assert forbidden("ground", "handslide.words.tell.tell")
    assert forbidden("sound", "handslide.instrument.horn")
    assert forbidden("ground", "numpy") and forbidden("jobs", "requests.get")
    assert not forbidden("words", "handslide.ground.facts.Fact")
    assert not forbidden("instrument", "numpy")


def test_the_web_stays_in_its_room():
    web = {"starlette", "jinja2", "markupsafe", "uvicorn", "h11", "websockets"}
    users = {m for m in MODULES for _, name in imports(m) if name.split(".")[0] in web}
    assert users
    assert {m.parent.as_posix() for m in users} == {"faces/web"}


# A statement begins with one of these in capitals: no sentence does.
_SQL = re.compile(
    r"\s*(SELECT|INSERT|UPDATE|DELETE|PRAGMA|CREATE|ALTER|DROP|ATTACH|VACUUM|BEGIN|COMMIT|ROLLBACK"
    r"|SAVEPOINT|RELEASE)\b"
)


def sql_in(module):
    """(line, what) of all SQL of a module: statements, and what runs them."""
    for node in nodes_of(module):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            if _SQL.match(node.value):
                yield node.lineno, node.value[:40]
        elif getattr(node, "attr", "") in ("execute", "executemany", "executescript", "blobopen"):
            yield node.lineno, f".{node.attr}"
    yield from (row for row in imports(module) if row[1].startswith("sqlite3"))


def test_only_the_store_has_sql():
    found = {m: list(sql_in(m)) for m in MODULES}
    store = {m for m in MODULES if m.parts[:2] in (("edges", "store"), ("edges", "manifest"))}
    assert sum(len(found[m]) for m in store) > 100
    assert {m: rows for m, rows in found.items() if rows and m not in store} == {}


def test_trees_of_scores_stay_in_the_edges():
    # What leads from a score to its elements; notes are named by their numbers.
    trees = {"partwise", "part_roots", "note_elements", "sourceline", "getparent"}
    users = {
        module: f"{module}:{node.lineno} {node.attr}"
        for module in MODULES
        for node in nodes_of(module)
        if isinstance(node, ast.Attribute) and node.attr in trees
    }
    above = ("drills", "jobs", "studio", "faces")
    assert any(package_of(module) == "edges" for module in users)
    assert [used for module, used in users.items() if package_of(module) in above] == []


def test_the_core_prints_nothing_and_opens_nothing():
    doors = {"print", "open", "input", "read_text", "read_bytes", "write_text", "write_bytes"}
    called = {
        module: f"{module}:{node.lineno} {name}"
        for module in MODULES
        for node in nodes_of(module)
        if isinstance(node, ast.Call)
        and (name := getattr(node.func, "id", getattr(node.func, "attr", ""))) in doors
    }
    assert any(package_of(module) == "edges" for module in called)
    assert [call for module, call in called.items() if package_of(module) in SILENT] == []
    outside = {"logging", "os", "pathlib", "shutil", "socket", "sqlite3", "subprocess"}
    used = {
        (str(module), name)
        for module in MODULES
        for _, name in imports(module)
        if name.split(".")[0] in outside
    }
    assert used
    assert [row for row in used if row[0].split("/")[0] in SILENT] == []


def arrows():
    """Which modules each module imports, inside functions and for type checking too."""
    names = {".".join(("handslide", *m.with_suffix("").parts)): m for m in MODULES}
    found = {}
    for name, module in names.items():
        wanted = {imported for _, imported in imports(module)}
        wanted |= {imported.rpartition(".")[0] for imported in wanted}
        found[name] = {other for other in wanted if other in names and other != name}
    return found


def room_of(name):
    """The package that a module lies in: ``handslide.jobs.mark``."""
    return name.rpartition(".")[0]


def cycle_in(edges):
    """A cycle as a list of names, or nothing."""
    done, path = set(), []

    def visit(name):
        if name in path:
            return [*path[path.index(name) :], name]
        if name in done:
            return []
        path.append(name)
        for other in sorted(edges.get(name, ())):
            if found := visit(other):
                return found
        path.pop()
        done.add(name)
        return []

    return next((found for name in sorted(edges) if (found := visit(name))), [])


def test_a_cycle_is_found():
    assert cycle_in({"a": {"b"}, "b": {"c"}, "c": {"b"}}) == ["b", "c", "b"]
    assert cycle_in({"a": {"b", "c"}, "b": {"c"}, "c": set()}) == []


def test_no_import_cycles():
    edges = arrows()
    assert sum(map(len, edges.values())) > 20
    assert cycle_in(edges) == []


def test_no_cycles_of_packages():
    rooms = {}
    for name, others in arrows().items():
        rooms.setdefault(room_of(name), set()).update(
            room_of(other) for other in others if room_of(other) != room_of(name)
        )
    assert len(rooms) > 20
    assert cycle_in(rooms) == []


def loaded_after(code):
    """Top names of all modules that a fresh Python has after ``code``."""
    script = f"{code}\nimport sys\nprint(*{{name.split('.')[0] for name in sys.modules}})"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=60
    )
    return set(done.stdout.split())


def test_the_core_loads_without_the_rest():
    core = [m for m in MODULES if package_of(m) in SILENT and m.name != "__init__.py"]
    code = "\n".join(f"import handslide.{'.'.join(m.with_suffix('').parts)}" for m in core)
    loaded = loaded_after(code)
    assert {"handslide", "numpy"} <= loaded
    others = {"lxml", "click", "verovio", "typst", "music21", "sqlite3", "platformdirs"}
    others |= {"soundfile", "av"}
    assert loaded & others == set()


def test_the_command_line_starts_without_heavy_libraries():
    # Help and usage errors must come at once.
    loaded = loaded_after("import handslide.faces.cli.main")
    assert {"handslide", "click"} <= loaded
    assert loaded & {*HEAVY, "numpy", "lxml"} == set()


def test_what_all_commands_do_is_said_without_loading_any():
    loaded = loaded_after(
        "import sys\nsys.argv = ['handslide', '--help']\n"
        "from handslide.faces.cli.start import main\nmain()"
    )
    assert {"handslide", "textwrap"} <= loaded
    assert loaded & {*HEAVY, "numpy", "lxml", "click", "typing"} == set()


def test_importing_the_library_loads_nothing():
    loaded = loaded_after("import handslide as hs\nassert 'route' in dir(hs)")
    assert loaded & {*HEAVY, "numpy", "lxml", "click"} == set()
    loaded = loaded_after("import handslide as hs\nhs.route(['Bb2', 'C3'], hs.horn('tenor')).marks")
    assert "numpy" in loaded
    assert loaded & {*HEAVY, "lxml", "click", "sqlite3"} == set()


def test_music21_is_loaded_last_of_all():
    # It takes seconds, and most parts are MusicXML: only reading another format loads it.
    rest = [m for m in MODULES if package_of(m) != "" and m.name != "__init__.py"]
    code = "\n".join(f"import handslide.{'.'.join(m.with_suffix('').parts)}" for m in rest)
    loaded = loaded_after(code)
    assert "lxml" in loaded
    assert "music21" not in loaded
