"""Build the source archive and the wheel, install the wheel where nothing else is, use it there.

Run by the Python that it is to be tried with, which needs `build` and `pip` (`make wheel-test`).
The new environment has no pip of its own, as with pipx and uv; the folder of the user is empty; the
source that it was built from is a copy that is gone by then. What handslide and all that it needs
take is told, and is an error from 450 MB on.
"""

import argparse
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import urllib.request
import venv
import zipfile
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urljoin

ROOT = Path(__file__).resolve().parents[1]
MOST_BYTES = 450_000_000
_LEFT_OUT = (".git", ".*", "build", "dist", "node_modules", "demo-out", "__pycache__", "*.egg-info")
_KERN = b"**kern\n*clefF4\n*M4/4\n=1\n4BB-\n4C\n4D\n4E-\n==\n*-\n"
_HELD = ("data/fonts/HandslideMarks-Bold.ttf", "data/scripts/player.js", "data/styles/tokens.css",
         "data/horns/01-tenor.toml", "words/locale/de/LC_MESSAGES/handslide.po", "py.typed",
         "faces/web/static/htmx.min.js", "faces/web/templates/base.html")  # fmt: skip


def built(folder: Path) -> Path:
    """The wheel, built from the source archive, which is built from a copy without leftovers."""
    copy = folder / "source"
    shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(*_LEFT_OUT))
    run([sys.executable, "-m", "build", "--outdir", str(folder / "dist"), str(copy)], os.environ)
    shutil.rmtree(copy)
    (wheel,) = (folder / "dist").glob("*.whl")
    assert len([*(folder / "dist").glob("*.tar.gz")]) == 1
    return wheel


def run(words: list[str], env: object, code: int = 0, cwd: Path | None = None) -> str:
    """What a command prints; it must end with ``code``."""
    done = subprocess.run(
        words, env=dict(env), cwd=cwd, stdin=subprocess.DEVNULL, capture_output=True, timeout=1200,
        check=False,
    )  # fmt: skip
    said = done.stdout.decode("utf-8", "replace") + done.stderr.decode("utf-8", "replace")
    if done.returncode != code:
        raise AssertionError(f"{' '.join(words)}: exit code {done.returncode}\n{said[-4000:]}")
    return said


class Installed:
    """An environment with the wheel, and an empty folder beside it in which its commands run."""

    def __init__(self, folder: Path, wheel: Path) -> None:
        self.wheel, self.where = wheel, folder / "venv"
        venv.create(self.where, with_pip=False)
        scripts = self.where / ("Scripts" if os.name == "nt" else "bin")
        self.python, self.command = str(scripts / "python"), str(scripts / "handslide")
        self.home, self.work = folder / "home", folder / "work"
        self.home.mkdir()
        self.work.mkdir()
        self.before = {path.relative_to(self.where) for path in self.where.rglob("*")}
        self.pip("install", "-c", str(ROOT / "constraints.txt"), str(wheel))
        kept = (
            "PATH",
            "SYSTEMROOT",
            "TEMP",
            "TMP",
            "TMPDIR",
            "COMSPEC",
            "PATHEXT",
            "LD_LIBRARY_PATH",
        )
        self.env = {name: os.environ[name] for name in kept if name in os.environ}
        self.env |= {"HOME": str(self.home), "USERPROFILE": str(self.home), "LANG": "C.UTF-8"}
        self.env |= {"APPDATA": str(self.home), "LOCALAPPDATA": str(self.home)}
        self.packages = Path(self("-c", "import sysconfig; print(sysconfig.get_path('purelib'))"))

    def pip(self, *words: str) -> str:
        """What pip says about this environment."""
        pip = [sys.executable, "-m", "pip", "--python", self.python, "--quiet"]
        return run([*pip, "--disable-pip-version-check", *words], os.environ)

    def __call__(self, *words: str, code: int = 0) -> str:
        """What its Python says, far from the source."""
        return run([self.python, *words], self.env, code, self.work).strip()

    def say(self, *words: str, code: int = 0) -> str:
        """What its command says."""
        return run([self.command, *words], self.env, code, self.work).strip()


# What is tried, in this order; the first line of each says what.


def files(it: Installed) -> str:
    """All files of the package, and only these"""
    source = ROOT / "src"
    wanted = {
        path.relative_to(source).as_posix()
        for path in (source / "handslide").rglob("*")
        if path.is_file() and not path.name.endswith((".pyc", ".pyo", ".d.ts"))
    }
    with zipfile.ZipFile(it.wheel) as archive:
        found = {name for name in archive.namelist() if ".dist-info/" not in name}
        licences = [name for name in archive.namelist() if "/licenses/" in name]
    assert found == wanted, f"not as in the source: {sorted(found ^ wanted)[:20]}"
    missing = [name for name in _HELD if f"handslide/{name}" not in found]
    assert not missing and len(licences) > 5, (missing, licences)
    assert all((it.packages / name).is_file() for name in found)
    return f"{len(found)} files, {len(licences)} licences, {it.wheel.stat().st_size / 1e6:.1f} MB"


def size(it: Installed) -> str:
    """Less room than 450 MB"""
    whole = compiled = 0
    for path in it.packages.rglob("*"):
        if path.is_file():
            whole += path.stat().st_size
            compiled += path.stat().st_size if path.suffix == ".pyc" else 0
    told = f"{whole / 1e6:.0f} MB, of which {compiled / 1e6:.0f} MB are what Python compiled"
    assert whole - compiled < MOST_BYTES, told
    return told


def starts(it: Installed) -> str:
    """--version, --help, python -m handslide"""
    version = it.wheel.name.split("-")[1]
    assert (
        it.say("--version")
        == it("-m", "handslide", "--version")
        == (f"handslide, version {version}")
    )
    said = it.say("--help")
    assert all(name in said for name in ("mark", "studio", "library", "handout"))
    it("-c", "import handslide, os; assert 'venv' in handslide.__file__")
    return version


def mark(it: Installed) -> str:
    """mark, with its PDF"""
    shutil.copy(ROOT / "examples" / "lanterns.musicxml", it.work)
    it.say("mark", "lanterns.musicxml", "--horn", "tenor-f", "-o", "marked")
    assert (it.work / "marked" / "lanterns-marked.pdf").read_bytes().startswith(b"%PDF-")
    assert "<fingering" in (it.work / "marked" / "lanterns-marked.musicxml").read_text("utf-8")
    told = json.loads(it.say("places", "C3", "--horn", "tenor-f", "--json"))
    assert told["horn"] == "tenor-f" and len(told["notes"]) >= 1
    return "lanterns-marked.pdf"


def sheets(it: Installed) -> str:
    """chart, drill, handout"""
    it.say("chart", "--horn", "tenor-f", "-o", "chart.pdf")
    it.say("drill", "scales", "--horn", "tenor-f", "-o", "drills")
    it.say("handout", "lanterns.musicxml", "--horn", "tenor-f", "-o", "page.html")
    assert (it.work / "chart.pdf").read_bytes().startswith(b"%PDF-")
    assert [*(it.work / "drills").glob("*.pdf")]
    page = (it.work / "page.html").read_text("utf-8")
    assert "@font-face" in page and "<svg" in page
    return "chart.pdf, drills, page.html"


def library(it: Installed) -> str:
    """library --dry-run, and what is said without the extra formats"""
    scores = it.work / "scores"
    scores.mkdir()
    shutil.copy(it.work / "lanterns.musicxml", scores)
    it.say("library", "scores", "out", "--dry-run")
    (it.work / "scale.krn").write_bytes(_KERN)
    shutil.copy(it.work / "scale.krn", scores)
    for words in (("mark", "scale.krn"), ("library", "scores", "out", "--dry-run")):
        said = it.say(*words, code=2)
        assert 'pip install "handslide[formats]"' in said and len(said.splitlines()) == 1, said
    assert "kein Leser installiert" in it.say("mark", "scale.krn", "--language", "de", code=2)
    return "handslide[formats] is asked for"


def studio(it: Installed) -> str:
    """studio: its first page with all that it names"""
    process = subprocess.Popen(
        [it.command, "studio", "--no-browser", "--port", "0", "--folder", str(it.work / "studio")],
        env=it.env, cwd=it.work, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, text=True, encoding="utf-8",
    )  # fmt: skip
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
        found = re.search(r"http://\S+", line)
        assert found, line
        page = got(found[0])
        named = set(re.findall(r'(?:href|src)="(/[^"#]+)"', page.decode()))
        styles = [one for one in named if one.partition("?")[0].endswith(".css")]
        for address in sorted(named):
            got(urljoin(found[0], address))
        fonts = set()
        for one in styles:
            sheet = urljoin(found[0], one)
            # A sheet names its faces from where it lies.
            named_there = re.findall(r"""url\(["']?([^"':)]+)""", got(sheet).decode())
            fonts |= {urljoin(sheet, face) for face in named_there}
        assert styles and fonts and [one for one in named if ".js" in one]
        for address in fonts:
            assert len(got(address)) > 1000
        return f"{len(named)} addresses, {len(fonts)} fonts"
    finally:
        process.terminate()
        process.communicate(timeout=60)


def got(address: str) -> bytes:
    """What is there; no proxy is asked."""
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    with opener.open(address, timeout=60) as answer:
        body: bytes = answer.read()
    return body


def uninstalled(it: Installed) -> str:
    """Uninstalled, nothing of it is left"""
    with_all = [line for line in it.pip("freeze").splitlines() if line]
    it.pip("uninstall", "--yes", "handslide")
    left = [path for path in it.packages.rglob("*") if "handslide" in path.name.lower()]
    assert not left and not Path(it.command).exists(), left[:5]
    it("-c", "import handslide", code=1)
    names = [re.split(r" @ |==", line)[0] for line in with_all]
    it.pip("uninstall", "--yes", *(name for name in names if name != "handslide"))
    now = {path.relative_to(it.where) for path in it.where.rglob("*")}
    left = [path for path in now - it.before if "__pycache__" not in path.parts]
    assert not [path for path in left if (it.where / path).is_file()], left[:5]
    mine = sorted(path.relative_to(it.home).as_posix() for path in it.home.rglob("*"))
    return f"{len(names)} packages; in the user's folder: {', '.join(mine) or 'nothing'}"


def write_sbom(it: Installed, file: Path) -> None:
    """What is in the environment of the wheel, in CycloneDX's JSON, checked against its schema."""
    words = ["environment", "--pyproject", str(ROOT / "pyproject.toml"), "--output-reproducible"]
    words += ["--of", "JSON", "--validate", "-o", str(file), it.python]
    run([sys.executable, "-m", "cyclonedx_py", *words], os.environ)
    told = json.loads(file.read_text("utf-8"))
    # It stands in the code, where the tool doesn't look.
    told["metadata"]["component"]["version"] = it.wheel.name.split("-")[1]
    file.write_text(json.dumps(told, indent=2) + "\n", "utf-8")
    print(f"{file}: {len(told['components'])} packages")


TRIED: tuple[Callable[[Installed], str], ...] = (
    files, size, starts, mark, sheets, library, studio, uninstalled,
)  # fmt: skip


def main() -> None:
    """Build, install, try all of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--wheel", type=Path, help="This wheel, instead of building one.")
    parser.add_argument("--sbom", type=Path, help="Write what was installed here; try nothing.")
    asked = parser.parse_args()
    wheel = asked.wheel
    with tempfile.TemporaryDirectory(prefix="handslide-wheel-", ignore_cleanup_errors=True) as name:
        folder = Path(name)
        wheel = wheel.resolve() if wheel else built(folder)
        print(f"{wheel.name}, with Python {sys.version.split()[0]}", flush=True)
        it = Installed(folder, wheel)
        if asked.sbom:
            write_sbom(it, asked.sbom.resolve())
            return
        failed = 0
        for each in TRIED:
            try:
                told = f"ok      {each.__doc__}: {each(it)}"
            except Exception as error:
                failed += 1
                told = f"FAILED  {each.__doc__}: {type(error).__name__}: {error}"
            print(told, flush=True)
    print(f"{len(TRIED) - failed} passed, {failed} failed")
    sys.exit(failed > 0)


if __name__ == "__main__":
    main()
