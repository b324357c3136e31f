"""What is installed only when it is asked for, and what is said where it isn't."""

import re
import sys
import tomllib
from pathlib import Path

import pytest
from command import one_sentence, run
from small_library import run_library, write_library
from studio_pages import client, words

import handslide
from handslide.ground.errors import NotInstalled
from handslide.words.catalogues import languages

ROOT = Path(__file__).parents[2]
KERN = b"**kern\n*clefF4\n*M4/4\n=1\n4BB-\n4C\n4D\n4E-\n==\n*-\n"
HOW = 'pip install "handslide[formats]"'


def name_of(requirement):
    return re.match(r"[A-Za-z0-9._-]+", requirement)[0].lower()


@pytest.fixture
def bare(monkeypatch):
    """As if the library of the other formats weren't installed."""
    monkeypatch.setitem(sys.modules, "music21", None)


def test_all_is_all_of_them_and_none_is_in_the_core():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = {
        extra: set(map(name_of, wanted))
        for extra, wanted in project["optional-dependencies"].items()
    }
    parts = extras["formats"] | extras["phone"] | extras["cluster"]
    assert extras["all"] == parts == {"av", "distributed", "music21"}
    assert not parts & set(map(name_of, project["dependencies"]))
    assert not extras["all"] & extras["dev"]


def test_the_version_stands_in_one_place():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["dynamic"] == ["version"]
    assert project["tool"]["setuptools"]["dynamic"]["version"]["attr"] == "handslide.__version__"
    assert run("--version").stdout.strip() == f"handslide, version {handslide.__version__}"


@pytest.mark.parametrize("code", sorted(languages()))
def test_a_score_in_another_format_is_refused_in_one_sentence(bare, tmp_path, code):
    path = tmp_path / "scale.krn"
    path.write_bytes(KERN)
    said = one_sentence(run("mark", path, "--language", code, code=2))
    assert "scale.krn" in said and "Humdrum" in said and HOW in said
    assert ("isn't installed" in said) == (code == "en")
    assert [one.name for one in tmp_path.iterdir()] == ["scale.krn"]


def test_the_studio_says_so_on_the_page(bare, studio):
    page = client(studio).post("/parts", files=[("files", ("scale.krn", KERN))])
    assert page.status_code == 400
    assert f"Humdrum, whose reader isn't installed: install handslide with formats ({HOW})" in (
        words(page)
    )


def test_a_library_says_so_before_it_begins(tmp_path, monkeypatch):
    source, out = write_library(tmp_path / "in"), tmp_path / "out"
    (source / "scale.krn").write_bytes(KERN)
    (source / "b" / "scale.MID").write_bytes(b"MThd")
    with monkeypatch.context() as without:
        without.setitem(sys.modules, "music21", None)
        said = one_sentence(run("library", source, out, "--no-pdf", code=2))
        assert "2 files" in said and HOW in said and "--formats musicxml,xml,mxl" in said
        run("library", source, out, "--no-pdf", "--dry-run", code=2)
        assert not list(out.rglob("*-marked*"))
        made, _ = run_library(source, out, endings=(".musicxml", ".xml", ".mxl"))
        assert made.counts == {"done": 3, "to_do": 0, "error": 0}
        # One that only its content gives away is told of in its row, and tried again.
        (source / "scale.krn").rename(source / "scale.xml")
        (source / "b" / "scale.MID").unlink()
        made, _ = run_library(source, out)
        assert [(path, why.kind) for path, why in made.problems] == [
            ("scale.xml", "scores.no_reader")
        ]
    assert run_library(source, out)[0].counts == {"done": 4, "to_do": 0, "error": 0}


def test_other_extras_are_asked_for_as_well(monkeypatch):
    from handslide.edges.cluster.cluster import Cluster

    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(NotInstalled, match=r'"handslide\[cluster\]"') as caught:
        Cluster("tcp://host:8786")
    assert caught.value.exit_code == 2
