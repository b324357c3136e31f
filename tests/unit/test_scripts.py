"""The studio's scripts: what checks their types is pinned, and leaves none out."""

import json
import re
from pathlib import Path

import handslide.faces.web

ROOT = Path(__file__).parents[2]
STATIC = Path(handslide.faces.web.__file__).parent / "static"


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
    folder = STATIC.relative_to(ROOT).as_posix()
    assert f"{folder}/*.js" in settings["include"]
    assert settings["exclude"] == [f"{folder}/htmx.min.js"]
    for path in STATIC.glob("*.js"):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"@ts-(nocheck|ignore|expect-error)", text), path.name
