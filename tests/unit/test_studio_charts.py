"""Charts in the studio: the same sheets as the command makes, for one student or the class."""

import json
import re
from html import unescape
from urllib.parse import parse_qs, urlsplit

import pypdfium2 as pdfium
import pytest
from command import run
from studio_pages import client, words

from handslide.edges.store.students import StudentValues
from handslide.ground.errors import BadUsage
from handslide.studio.charts import charts
from handslide.studio.charts.charts import ChartWish, class_charts
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student, archive_student, list_students
from handslide.studio.studio import set_setting
from handslide.words.messages import N_
from handslide.words.speech import speech

SHEETS = ("all", "valve", "open", "alternates", "grid", "strip")


def student(studio, name="Mira", base="tenor-f", **values):
    one = add_student(studio, StudentValues(name, **values))
    return one.id, add_horn(studio, one.id, base, title=f"{name}'s horn").id


def by_command(tmp_path, *options):
    target = tmp_path / "by-command.pdf"
    run("chart", *options, "-o", target, "--force")
    return target.read_bytes()


def page_count(data):
    document = pdfium.PdfDocument(data)
    try:
        return len(document)
    finally:
        document.close()


def links(text):
    return [unescape(url) for url in re.findall(r'(?:href|src)="([^"]+)"', text)]


def test_a_sheet_is_the_one_that_the_command_makes(studio, tmp_path):
    mira, _ = student(studio, names="german", reach=6.0, marks="letter", clef="tenor")
    pages = client(studio)
    for sheet in SHEETS:
        got = pages.get(f"/charts/sheet.pdf?student={mira}&sheet={sheet}&paper=letter")
        assert got.headers["content-type"] == "application/pdf"
        assert got.headers["content-disposition"] == f'inline; filename="Mira-{sheet}.pdf"'
        assert got.content == by_command(
            tmp_path, "--horn", "tenor-f", "--student", "Mira", "--names", "german", "--reach", 6,
            "--marks", "letter", "--clef", "tenor", "--sheet", sheet, "--paper", "letter",
        )  # fmt: skip


def test_every_option_can_be_another_than_the_student_s(studio, tmp_path):
    mira, horn = student(studio, learned=())
    query = (
        f"student={mira}&horn={horn}&for={mira}:{horn}&sheet=all&clef=alto&names=do&reach=5,5"
        "&signs=number&counting=valve&numerals=roman&valve=F&learned=F&low=E2&high=F4"
        "&paper=a4&orientation=landscape"
    )
    got = client(studio).get(f"/charts/sheet.pdf?{query}&save=1")
    assert got.headers["content-disposition"].startswith("attachment")
    assert got.content == by_command(
        tmp_path, "--horn", "tenor-f", "--student", "Mira", "--clef", "alto", "--names", "do",
        "--reach", 5.5, "--marks", "number,valve,roman", "--range", "E2-F4", "--landscape",
    )  # fmt: skip


def test_pedals_and_the_bells_rim_are_chosen_on_the_page(studio, tmp_path):
    mira, horn = student(studio)
    pages = client(studio)
    query = f"student={mira}&horn={horn}&for={mira}:{horn}&pedals=without&bell_mm=187,5"
    for sheet in ("all", "strip"):
        got = pages.get(f"/charts/sheet.pdf?{query}&sheet={sheet}").content
        assert got == by_command(
            tmp_path, "--horn", "tenor-f", "--student", "Mira", "--no-pedals",
            "--bell-mm", 187.5, "--sheet", sheet,
        )  # fmt: skip
    shown = pages.get(f"/charts?{query}")
    assert 'value="187.5"' in shown.text and '<option value="without" selected>' in shown.text
    asked = parse_qs(urlsplit(next(u for u in links(shown.text) if "sheet.pdf" in u)).query)
    assert (asked["pedals"], asked["bell_mm"]) == (["without"], ["187.5"])
    assert "can't be 2000 mm" in words(pages.get(f"/charts?{query.replace('187,5', '2000')}"))
    assert "isn't a number" in words(pages.get(f"/charts?{query.replace('187,5', 'far')}"))
    assert "isn't a choice" in words(pages.get("/charts?pedals=some"))
    # Another student's sheet begins with that student's own horn.
    ben, _ = student(studio, "Ben")
    anew = pages.get(f"/charts?{query.replace(f'student={mira}&horn={horn}', f'student={ben}')}")
    assert 'value="187.5"' not in anew.text
    assert '<option value="without" selected>' in pages.get("/charts/class?pedals=without").text


def test_a_horn_of_ours_and_two_compared(studio, tmp_path):
    pages = client(studio)
    got = pages.get("/charts/sheet.pdf?horn=alto&sheet=grid").content
    assert got == by_command(tmp_path, "--horn", "alto", "--sheet", "grid")
    got = pages.get("/charts/sheet.pdf?horn=tenor-f&sheet=compare&other=tenor").content
    assert got == by_command(
        tmp_path, "--horn", "tenor-f", "--sheet", "compare", "--against", "tenor"
    )
    mira, _ = student(studio)
    jon, _ = student(studio, "Jon", "alto")
    beside = pages.get(f"/charts/preview?student={mira}&sheet=compare&other=student-{jon}")
    assert "sheet.svg" in beside.text
    assert "choose one" in words(pages.get(f"/charts?student={mira}&sheet=compare"))


def test_the_page_starts_from_the_student(studio):
    mira, horn = student(studio, names="german", reach=5.0, learned=(), clef="tenor")
    text = client(studio).get(f"/charts?student={mira}").text
    for chosen in (
        'value="german" selected', 'value="5" selected', 'value="tenor" selected',
        f'value="{horn}" selected',
    ):  # fmt: skip
        assert chosen in text
    assert not re.search(r'name="learned" value="F" checked', text)


def test_another_student_starts_anew_but_the_sheet_stays(studio):
    mira, horn = student(studio, names="german")
    jon, _ = student(studio, "Jon", "alto", names="do")
    text = (
        client(studio)
        .get(f"/charts?student={jon}&horn={horn}&for={mira}:{horn}&sheet=grid&names=german&low=E2")
        .text
    )
    assert 'value="do" selected' in text
    assert 'value="grid" selected' in text
    assert 'value="E2"' not in text


def test_the_preview_keeps_its_room_and_its_address_is_read_back(studio):
    mira, horn = student(studio, learned=())
    pages = client(studio)
    got = pages.get(f"/charts/preview?student={mira}&horn={horn}&for={mira}:{horn}&valve=F&low=F2")
    images = re.findall(r"<img[^>]+>", got.text)
    assert images
    assert all(re.search(r'width="\d+" height="\d+"', image) for image in images)
    replaced = got.headers["hx-replace-url"]
    query = parse_qs(urlsplit(replaced).query)
    assert query["low"] == ["F2"]
    assert "learned" not in query
    again = pages.get(replaced.replace("/charts?", "/charts/preview?"))
    assert again.headers["hx-replace-url"] == replaced
    svg = next(url for url in links(got.text) if url.startswith("/charts/sheet.svg"))
    picture = pages.get(svg)
    assert picture.headers["content-type"] == "image/svg+xml"
    assert picture.content.startswith(b"<svg")
    png = next(url for url in links(got.text) if url.startswith("/charts/sheet.png"))
    assert pages.get(png).content.startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        ("low=C4&high=C3", "upside down"),
        ("low=H2", "German name"),
        ("low=C9&high=C9", "no note in this range"),
        ("clef=quaver", "isn't a clef"),
        ("sheet=none", "isn't a sheet"),
        ("orientation=over", "isn't a way for a page to lie"),
        ("horn=tenor&sheet=valve", "no valve"),
        ("for=:tenor&horn=tenor&reach=far", "isn't a reach"),
        ("for=:tenor&horn=tenor&reach=99", "isn't a position"),
        ("for=:tenor&horn=tenor&signs=wave", "isn't a mark style"),
        ("sheet=compare&other=/etc/passwd", "No horn called"),
        ("low=<script>&high=C4", "isn't a note"),
    ],
)
def test_a_bad_wish_is_one_sentence_in_place(studio, wish, says):
    for path in ("/charts", "/charts/preview"):
        got = client(studio).get(f"{path}?{wish}")
        assert got.status_code == 200
        sentence = re.search(r'<p class="notice bad" role="alert">(.*?)</p>', got.text)[1]
        assert says in unescape(sentence).replace("is not", "isn't")
        assert "<script>" not in got.text
    assert client(studio).get(f"/charts/sheet.pdf?{wish}").status_code == 400


def test_no_file_is_opened_by_its_path(studio, tmp_path):
    secret = tmp_path / "secret.toml"
    secret.write_text('title = "Nobody knows"\nclosed = "Bb1"\ntravel_mm = 600\n', "utf-8")
    pages = client(studio)
    assert "Nobody knows" not in pages.get(f"/charts?horn={secret}").text
    assert pages.get(f"/charts/sheet.pdf?sheet=compare&other={secret}").status_code >= 400


def test_who_and_what_is_gone(studio):
    pages = client(studio)
    assert pages.get("/charts?student=99").status_code == 404
    assert pages.get("/charts?student=x").status_code == 404
    assert pages.get("/charts/sheet.svg?page=9").status_code == 404
    assert pages.get("/charts/sheet.svg?page=x").status_code == 404
    assert pages.get("/charts/sheet.doc").status_code == 400


def test_another_student_s_horn_is_not_taken(studio):
    mira, own = student(studio)
    _, foreign = student(studio, "Jon", "alto")
    pages = client(studio)
    wrong = pages.get(f"/charts/sheet.pdf?student={mira}&horn={foreign}").content
    assert wrong == pages.get(f"/charts/sheet.pdf?student={mira}&horn={own}").content


def test_the_class_in_one_file(studio, tmp_path):
    mira, _ = student(studio, learned=())
    jon, _ = student(studio, "Jon", "alto", names="german")
    gone, _ = student(studio, "Ida", "tenor")
    archive_student(studio, gone)
    add_student(studio, StudentValues("Zoë"))
    pages = client(studio)
    shown = words(pages.get("/charts/class?sheet=all"))
    assert "Mira" in shown
    assert "Ida" not in shown
    assert "has no horn yet" in shown
    singles = [
        page_count(pages.get(f"/charts/sheet.pdf?student={one}&sheet=all").content)
        for one in (mira, jon)
    ]
    everybody = pages.get("/charts/class.pdf?sheet=all").content
    assert page_count(everybody) == sum(singles)
    one = pages.get(f"/charts/class.pdf?sheet=all&only=1&student={jon}").content
    assert page_count(one) == singles[1]
    nobody = pages.get("/charts/class.pdf?sheet=valve")
    assert nobody.status_code == 400
    assert "no student with such a sheet" in words(nobody)
    assert pages.get("/charts/class.pdf?sheet=all&only=1").status_code == 400


def test_sheets_of_a_class_are_drawn_one_by_one(studio, monkeypatch):
    for name in ("Ada", "Ben", "Cem"):
        student(studio, name)
    drawn = []
    making = charts.chart

    def counted(setup, options, say):
        drawn.append(options.student)
        return making(setup, options, say)

    monkeypatch.setattr(charts, "chart", counted)
    rows = class_charts(studio, ChartWish(sheet="all"), speech("en"), list_students(studio))
    assert not drawn
    assert next(rows).picture("a & b").startswith("<svg") and len(drawn) == 1
    page = client(studio).get("/charts/class?sheet=all")
    assert page.text.count("<svg") >= 3 and page.text.rstrip().endswith("</html>")
    with pytest.raises(BadUsage):
        class_charts(studio, ChartWish(sheet="all", orientation="round"), speech("en"), ())


def test_a_class_file_is_told_as_it_is_made(studio):
    for name in ("Ada", "Ben"):
        student(studio, name)
    pages = client(studio)
    url = "/charts/class.pdf?sheet=all"
    told = pages.get(url, headers={"Accept": "application/x-ndjson, application/json"})
    *going, last = map(json.loads, told.text.splitlines())
    assert [line["text"] for line in going[:2]] == [
        "Sheet 1 of 2 is being drawn …",
        "Sheet 2 of 2 is being drawn …",
    ]
    shares = [line["share"] for line in going]
    assert shares == sorted(shares) and 0 < shares[0] < shares[-1] <= 1
    made = pages.get(f"{url}&made={last['made']}")
    assert made.headers["content-type"] == "application/pdf"
    assert made.content == pages.get(f"{url}&made=forgotten").content
    wrong = pages.get(f"{url}&only=1", headers={"Accept": "application/x-ndjson"})
    assert "no student with such a sheet" in json.loads(wrong.text.splitlines()[-1])["error"]


def test_names_are_text_and_safe_in_files(studio):
    name = '<script>alert(1)</script>/../\u202ex"'
    one, _ = student(studio, name)
    pages = client(studio)
    for url in (f"/charts?student={one}", "/charts/class", f"/charts/preview?student={one}"):
        assert "<script>alert" not in pages.get(url).text
    got = pages.get(f"/charts/sheet.pdf?student={one}&save=1")
    file = re.search(r"filename\*?=(?:UTF-8'')?\"?([^\"]+)", got.headers["content-disposition"])[1]
    assert re.fullmatch(r"[\w%-]+-all\.pdf", file)
    assert "%2F" not in file


@pytest.mark.parametrize("language", ["de", "es", "fr"])
def test_other_languages(studio, language):
    mira, _ = student(studio)
    set_setting(studio, "language", language)
    text = words(client(studio).get(f"/charts?student={mira}&sheet=strip"))
    say = speech(language)
    for said in (
        say(N_("Charts")), say.named("sheet", "grid"), say.named("clef", "treble-bb"),
        say(N_("Nobody: a horn as it is built")),
    ):  # fmt: skip
        assert said in text
    assert speech("en").named("sheet", "grid") not in text
    class_page = words(client(studio).get("/charts/class"))
    assert say(N_("A sheet for the whole class")) in class_page
    assert say(N_("Print all (opens one PDF)")) in class_page
