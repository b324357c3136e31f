"""The documents as pages: links that lead somewhere, a place for each page, every command whole.

What a link leads to in another file is looked for by the rule by which Git forges and the generator
make anchors of headings: small letters, blanks as hyphens, other signs left out.
"""

import inspect
import re
import sys
from pathlib import Path

import click
import pytest

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
sys.path.append(str(ROOT / "scripts"))

import check_site  # noqa: E402
import command_pages  # noqa: E402
import handslide  # noqa: E402
import name_page  # noqa: E402

MADE = ("reference/commands/", "reference/names/")
PAGES = sorted(
    path for path in DOCS.rglob("*.md") if not any(one in path.as_posix() for one in MADE)
)
FRONT = [ROOT / name for name in ("README.md", "SECURITY.md", "CONTRIBUTING.md", "CHANGELOG.md")]
COMMANDS = dict(command_pages.every_command())
LINK = re.compile(r"\]\(([^)\s]+)\)|<(?:img|source)[^>]* src(?:set)?=\"([^\"]+)\"")
FENCED = re.compile(r"^```.*?^```", re.DOTALL | re.MULTILINE)


def text_of(path):
    return path.read_text(encoding="utf-8")


def anchors(path):
    heads = re.findall(r"^#+ (.+)$", FENCED.sub("", text_of(path)), re.MULTILINE)
    plain = (re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", head).lower() for head in heads)
    return {re.sub(r"[^\w\- ]", "", head).replace(" ", "-") for head in plain}


@pytest.mark.parametrize("page", [*FRONT, *PAGES], ids=lambda page: str(page.relative_to(ROOT)))
def test_every_link_of_a_page_leads_somewhere(page):
    for found in LINK.findall(FENCED.sub("", text_of(page))):
        target, _, anchor = "".join(found).partition("#")
        if target.startswith(("http://", "https://")):
            continue
        path = (page.parent / target).resolve() if target else page
        assert path.is_file(), (page, target)
        assert not anchor or anchor in anchors(path), (page, target, anchor)


def test_every_page_has_one_place_and_is_reached():
    reached, waiting = ["index"], ["index"]
    while waiting:
        name = waiting.pop()
        text = text_of(DOCS / f"{name}.md")
        for tree in re.findall(r"```\{toctree\}\n(.*?)```", text, re.DOTALL):
            for entry in [line for line in tree.splitlines() if line and line[0] != ":"]:
                path = (DOCS / name).parent.joinpath(f"{entry}.md").resolve()
                below = path.relative_to(DOCS).as_posix().removesuffix(".md")
                reached.append(below)
                if not below.startswith(MADE):
                    waiting.append(below)
    assert len(reached) == len(set(reached))
    made = {"reference/commands/index", "reference/names/names"}
    assert (
        set(reached) == {p.relative_to(DOCS).as_posix().removesuffix(".md") for p in PAGES} | made
    )


@pytest.mark.parametrize("name", COMMANDS)
def test_the_page_of_a_command_has_all_of_it(name):
    command, page = COMMANDS[name], command_pages.pages()[name.replace(" ", "-")]
    context = click.Context(command, info_name=name)
    assert page.startswith(f"# handslide {name}\n")
    for option in command.get_params(context):
        if isinstance(option, click.Option):
            assert all(f"`{name}" in page for name in (*option.opts, *option.secondary_opts))
            words = re.sub(r"\W+", "", option.help or "")
            assert words in re.sub(r"\W+", "", page), option.name


def test_every_public_name_is_in_the_reference_by_its_docstring():
    named = re.findall(
        r"auto(?:function|class):: handslide\.(\w+)$", name_page.page(), re.MULTILINE
    )
    assert sorted(named) == sorted(handslide.__all__)
    for name in named:
        assert inspect.getdoc(getattr(handslide, name)), name


def test_every_command_is_on_the_first_page_of_the_reference():
    index = command_pages.pages()["index"]
    for name in COMMANDS:
        slug = name.replace(" ", "-")
        assert f"[handslide {name}]({slug}.md)" in index and f"\n{slug}\n" in index


def test_pages_are_written_once_and_old_ones_go(tmp_path):
    (tmp_path / "gone.md").write_text("a command of before", encoding="utf-8")
    command_pages.write(tmp_path)
    first = {path: path.stat().st_mtime_ns for path in tmp_path.iterdir()}
    command_pages.write(tmp_path)
    assert {path: path.stat().st_mtime_ns for path in tmp_path.iterdir()} == first
    assert {path.stem for path in first} == set(command_pages.pages())


def test_a_site_that_fetches_from_elsewhere_or_leads_nowhere_is_told(tmp_path):
    good = '<h1 id="a">A</h1><a href="#a">a</a><a href="https://example.org">there</a>'
    (tmp_path / "good.html").write_text(good, encoding="utf-8")
    assert check_site.faults(tmp_path) == []
    bad = (
        '<link rel="stylesheet" href="https://example.org/a.css"><script src="//example.org/b.js">'
        '</script><img src="none.png"><a href="good.html#b">b</a>'
    )
    (tmp_path / "bad.html").write_text(bad, encoding="utf-8")
    (tmp_path / "c.css").write_text('@import "https://example.org/d.css";', encoding="utf-8")
    assert [line.partition(": ")[2] for line in check_site.faults(tmp_path)] == [
        "fetches https://example.org/a.css",
        "fetches //example.org/b.js",
        "leads to good.html#b, which isn't there",
        "leads to none.png, which isn't there",
        "fetches https://example.org/d.css",
    ]
