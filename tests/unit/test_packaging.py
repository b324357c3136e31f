"""What is written about the package elsewhere: licences, oldest versions, how to cite it."""

import re
import sys
from pathlib import Path

import pytest

import handslide

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "scripts"))
licences = pytest.importorskip("licences", reason="needs packaging, which comes with pytest")
import oldest  # noqa: E402

PINS = dict(
    line.split("==")
    for line in (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()
    if "==" in line
)
PINNED = {licences.name_of(name): version for name, version in PINS.items()}
# Nobody may be surprised by one of these.
PERMISSIVE = re.compile(
    r"MIT|BSD|Apache|ISC|PSF|Python Software Foundation|HPND|Zlib|Unlicense|0BSD|MPL", re.IGNORECASE
)


def rows():
    text = (ROOT / "docs" / "licences.md").read_text(encoding="utf-8")
    return re.findall(r"(?m)^\| ([\w-]+) \| (\d[\w.]*) \| ([^|]+) \| ([^|]*) \|$", text)


def test_the_licences_are_those_of_what_is_pinned():
    assert len(rows()) > 40
    assert [name for name, version, *_ in rows() if PINNED.get(name) != version] == []


def test_what_is_installed_is_on_the_page_with_its_licence():
    told = {name: licence.strip() for name, _, licence, _ in rows()}
    found = {name: one for extra in licences.EXTRAS for name, one in licences.needed(extra).items()}
    assert {"verovio", "music21", "av", "distributed", "numpy"} <= set(found)
    assert set(found) <= set(told)
    for name, package in found.items():
        if package.version == PINNED[name]:
            assert told[name] == licences.licence_of(package), name


def test_copyleft_is_known_by_name():
    strict = [name for name, _, licence, _ in rows() if not PERMISSIVE.search(licence)]
    assert strict == ["verovio"]
    within = {name: text for name, *_, text in rows()}
    assert "GPL" in within["av"] and "LGPL" in within["soundfile"] and "LGPL" in within["verovio"]


def test_every_font_and_script_of_others_has_its_licence():
    text = (ROOT / "docs" / "licences.md").read_text(encoding="utf-8")
    own = licences.own_files()
    assert len(own) == 6 and set(own.values()) > {"SIL OFL 1.1", "0BSD"}
    assert all(f"| `{name}` | {licence} |" in text for name, licence in own.items())
    fonts = ROOT / "src" / "handslide" / "data" / "fonts"
    for font in (*fonts.glob("*.ttf"), *fonts.glob("*.woff2")):
        assert f"data/fonts/{font.stem.split('-')[0]}" in own, font.name


def test_the_oldest_versions_are_the_lower_bounds():
    assert oldest.FILE.read_text(encoding="utf-8") == oldest.oldest()


def test_citing_names_this_version():
    text = (ROOT / "CITATION.cff").read_text(encoding="utf-8")
    assert f'\nversion: "{handslide.__version__}"\n' in text
    assert "\ncff-version: 1.2.0\n" in f"\n{text}" and "\nlicense: Apache-2.0\n" in text
