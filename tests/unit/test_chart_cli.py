"""The chart command as a person uses it, and a whole class at once."""

import json
from pathlib import Path

import pypdfium2 as pdfium
import pytest
from command import run

ROOT = Path(__file__).resolve().parents[2]


def page_count(path):
    document = pdfium.PdfDocument(path.read_bytes())
    try:
        return len(document)
    finally:
        document.close()


@pytest.mark.parametrize(
    "sheet", ["all", "valve", "open", "alternates", "grid", "strip", "compare"]
)
@pytest.mark.parametrize("form", ["pdf", "svg", "png"])
def test_every_sheet_in_every_form(tmp_path, sheet, form):
    more = ["--against", "tenor"] if sheet == "compare" else []
    target = tmp_path / f"sheet.{form}"
    out = run("chart", "--horn", "tenor-f", "--sheet", sheet, "-o", target, *more).stdout
    written = [Path(line.removeprefix("written: ")) for line in out.splitlines()]
    assert written
    starts = {"pdf": b"%PDF", "svg": b"<svg", "png": b"\x89PNG"}
    for path in written:
        assert path.read_bytes().startswith(starts[form])
    assert sorted(tmp_path.iterdir()) == sorted(written)


def test_the_default_name_says_horn_and_sheet(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run("chart", "--horn", "alto")
    assert [path.name for path in tmp_path.iterdir()] == ["alto-all.pdf"]
    assert "--force" in run("chart", "--horn", "alto", code=1).stderr
    run("chart", "--horn", "alto", "--force")


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["--sheet", "valve"], 2, "has no valve"),
        (["--sheet", "compare"], 2, "--against"),
        (["--range", "E2"], 2, "isn't a range"),
        (["--range", "C4-C3"], 2, "upside down"),
        (["--sheet", "strip", "--range", "E2-F4"], 2, "doesn't go with --sheet strip"),
        (["--range", "H2-C3"], 1, "German name"),
        (["-o", "chart.docx"], 2, "can't write a chart as 'docx'"),
        (["--horn", "kazoo"], 1, "no horn called"),
    ],
)
def test_bad_wishes_get_one_sentence(tmp_path, monkeypatch, words, code, says):
    monkeypatch.chdir(tmp_path)
    result = run("chart", *words, code=code)
    assert says in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
    assert list(tmp_path.iterdir()) == []


def roster(tmp_path, *rows):
    path = tmp_path / "class.csv"
    path.write_text("student,horn,reach,clef,names\n" + "\n".join(rows), encoding="utf-8")
    return path


def test_a_class_gives_a_pdf_each_and_one_of_all(tmp_path):
    path = roster(tmp_path, "Mira,tenor-f,6,bass,english", "Jon,alto,,alto,german", "Ada,,,,")
    out = json.loads(run("chart", "--class", path, "-o", tmp_path / "out", "--json").stdout)
    names = [Path(file).name for file in out["files"]]
    assert names == ["Mira-all.pdf", "Jon-all.pdf", "Ada-all.pdf", "class-all.pdf"]
    pages = [page_count(tmp_path / "out" / name) for name in names]
    assert pages[-1] == sum(pages[:-1])
    assert out["problems"] == []


def test_a_broken_row_is_named_and_the_rest_is_made(tmp_path):
    path = roster(tmp_path, "Mira,tenor-f,,,", "Tom,kazoo,,,", "Ida,tenor,99,,", "Jon,tenor,,,")
    result = run("chart", "--class", path, "-o", tmp_path / "out", code=1)
    assert "Tom" in result.stderr
    assert "no horn called 'kazoo'" in result.stderr
    assert "Ida" in result.stderr
    made = sorted(file.name for file in (tmp_path / "out").iterdir())
    assert made == ["Jon-all.pdf", "Mira-all.pdf", "class-all.pdf"]


def test_equal_and_odd_names_make_safe_files(tmp_path):
    path = roster(tmp_path, "Max,tenor,,,", "Max,alto,,,", "../../evil,tenor,,,", "Zoë O'Hara,,,,")
    run("chart", "--class", path, "-o", tmp_path / "out", "--sheet", "open")
    made = sorted(file.name for file in (tmp_path / "out").iterdir())
    assert made == [
        "Max-2-open.pdf", "Max-open.pdf", "Zoë O_Hara-open.pdf", "______evil-open.pdf",
        "class-open.pdf",
    ]  # fmt: skip


def test_a_horn_file_in_a_roster_is_looked_for_beside_it(tmp_path):
    (tmp_path / "mira.toml").write_text('closed = "Bb1"\ntravel_mm = 600\n', encoding="utf-8")
    path = roster(tmp_path, "Mira,mira.toml,,,")
    run("chart", "--class", path, "-o", tmp_path / "out")
    assert (tmp_path / "out" / "Mira-all.pdf").exists()


def test_the_example_classes_work(tmp_path):
    for name in ("class.csv", "class.toml"):
        run("chart", "--class", ROOT / "examples" / name, "-o", tmp_path / name)
        assert len(list((tmp_path / name).iterdir())) >= 4
