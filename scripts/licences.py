"""Write `docs/licences.md`: what comes along with handslide, and under which licence.

From the metadata of what is installed here, with the versions of constraints.txt; a test holds the
page against both. `python scripts/licences.py` in an environment with all extras.
"""

import re
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "licences.md"
EXTRAS = ("formats", "phone", "cluster")
# What wheels hold besides their own code, as the licence files in them say.
_WITHIN = {
    "av": "FFmpeg, built with parts under the GPL (x264, x265): so it is an extra",
    "cryptography": "OpenSSL (Apache-2.0)",
    "lxml": "libxml2, libxslt (MIT)",
    "numpy": "OpenBLAS (BSD-3-Clause), libgfortran (GPL-3.0 with the GCC runtime exception)",
    "pikepdf": "qpdf (Apache-2.0)",
    "pillow": "libraries of picture formats (permissive)",
    "pypdfium2": "PDFium (BSD-3-Clause, Apache-2.0) and what that needs",
    "scipy": "OpenBLAS (BSD-3-Clause), libgfortran (GPL-3.0 with the GCC runtime exception)",
    "soundfile": "libsndfile (LGPL-2.1-or-later), its codecs (BSD; LAME and mpg123 under the LGPL)",
    "typst": "fonts (SIL OFL 1.1 and the like)",
    "verovio": "the engraver itself is LGPL: it is a library of its own that can be replaced; "
    "music fonts (SIL OFL 1.1)",
}
# As their licence files say, where the metadata say it at length.
_AT_LENGTH = {"scipy": "BSD-3-Clause", "matplotlib": "PSF-like (matplotlib)"}
_HEAD = """# Licences

handslide is under the Apache License 2.0. This is what comes along when it is installed; whoever
hands it on in a bundle hands on these, too, with their licence texts, which are in each package.
Made by `python scripts/licences.py` from the metadata of what is installed with `constraints.txt`;
on other systems one or the other small package is added or missing.
"""
_OWN = """
## In handslide's own package

| what | licence |
|---|---|
"""


def name_of(requirement: str) -> str:
    """The name of a package, as registries compare it."""
    return re.sub(r"[-_.]+", "-", Requirement(requirement).name).lower()


def needed(extra: str = "") -> dict[str, Distribution]:
    """All packages that handslide needs here with this extra, by their names."""
    found: dict[str, Distribution] = {}
    waiting = [(distribution("handslide"), (extra,))]
    while waiting:
        package, extras = waiting.pop()
        for text in package.requires or ():
            wanted = Requirement(text)
            marker, name = wanted.marker, name_of(text)
            if marker and not any(marker.evaluate({"extra": one}) for one in ("", *extras)):
                continue
            if name in found:
                continue
            try:
                found[name] = distribution(name)
            except PackageNotFoundError:
                continue
            waiting.append((found[name], tuple(wanted.extras)))
    return dict(sorted(found.items()))


def licence_of(package: Distribution) -> str:
    """The licence as the metadata have it, in few words."""
    told = package.metadata
    name = name_of(told["Name"])
    if name in _AT_LENGTH:
        return _AT_LENGTH[name]
    plain = told.get("License-Expression") or told.get("License") or ""
    if not plain or len(plain) > 60:
        heads = [one for one in told.get_all("Classifier", []) if one.startswith("License ::")]
        plain = ", ".join(one.rpartition(" :: ")[2] for one in heads) or plain.splitlines()[0]
    return " ".join(plain.split())


def _table(packages: dict[str, Distribution]) -> str:
    rows = [
        f"| {name} | {package.version} | {licence_of(package)} | {_WITHIN.get(name, '')} |"
        for name, package in packages.items()
    ]
    return "\n| package | version | licence | within it |\n|---|---|---|---|\n" + "\n".join(rows)


def own_files() -> dict[str, str]:
    """What lies in the package under another licence than ours: name and licence."""
    kinds = {"SIL Open Font License": "SIL OFL 1.1", "DejaVu": "Bitstream Vera (DejaVu)",
             "Zero-Clause BSD": "0BSD"}  # fmt: skip
    found = {}
    for file in sorted((ROOT / "src").rglob("*LICENSE.txt")):
        text = file.read_text(encoding="utf-8")
        (licence,) = [kind for sign, kind in kinds.items() if sign in text]
        name = file.relative_to(ROOT / "src" / "handslide").as_posix()
        found[name.removesuffix("-LICENSE.txt").removesuffix("/LICENSE.txt")] = licence
    return found


def page() -> str:
    """The page as text."""
    core = needed()
    parts = [_HEAD, "\n## What is always there\n", _table(core), "\n"]
    for extra in EXTRAS:
        more = {name: one for name, one in needed(extra).items() if name not in core}
        parts += [f"\n## With the extra `{extra}`\n", _table(more), "\n"]
    own = [f"| `{name}` | {licence} |" for name, licence in own_files().items()]
    return "".join([*parts, _OWN, "\n".join(own), "\n"])


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
