"""The studio's scripts: what checks their types is pinned, and leaves none out."""

import json
import re
from pathlib import Path

import handslide
import handslide.faces.web

ROOT = Path(__file__).parents[2]
STATIC = Path(handslide.faces.web.__file__).parent / "static"
SHARED = Path(handslide.__file__).parent / "data" / "scripts"
STYLES = SHARED.parent / "styles"


def test_the_checker_is_pinned_and_comes_from_whatever_registry_is_set():
    wanted = json.loads((ROOT / "package.json").read_text(encoding="utf-8"))["devDependencies"]
    locked = (ROOT / "package-lock.json").read_text(encoding="utf-8")
    assert all(re.fullmatch(r"\d+\.\d+\.\d+", version) for version in wanted.values())
    packages = json.loads(locked)["packages"]
    for name, version in wanted.items():
        assert packages[f"node_modules/{name}"]["version"] == version
        assert packages[f"node_modules/{name}"]["integrity"].startswith("sha512-")
    assert "http" not in locked


def test_every_script_of_ours_is_checked():
    settings = json.loads((ROOT / "tsconfig.json").read_text(encoding="utf-8"))
    assert settings["compilerOptions"]["strict"] and settings["compilerOptions"]["checkJs"]
    folders = [one.relative_to(ROOT).as_posix() for one in (STATIC, SHARED)]
    assert {f"{folder}/*.js" for folder in folders} < set(settings["include"])
    assert settings["exclude"] == [f"{folders[0]}/htmx.min.js"]
    for path in (*STATIC.glob("*.js"), *SHARED.glob("*.js")):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"@ts-(nocheck|ignore|expect-error)", text), path.name


def test_no_script_hides_another():
    # Both folders are served at /static.
    shared = [one.name for one in (*SHARED.iterdir(), *STYLES.iterdir())]
    assert set(shared) & {one.name for one in STATIC.iterdir()} == set()
    assert len([*SHARED.glob("*.js")]) > 5
