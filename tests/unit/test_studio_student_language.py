"""A student who reads French in a German studio: paper is French, pages are German."""

import io

import pypdfium2
import pytest
from studio_pages import client, words

from handslide.studio.studio import set_setting

CLARA = 1
PRINTED = {
    "/charts/sheet.pdf?student=1&horn=1&sheet=all&paper=a4": ("Où sont les notes", "Töne"),
    "/charts/sheet.pdf?student=1&horn=1&sheet=strip&paper=a4": ("Réglette", "Zug"),
    "/practice/1/drill.pdf?kind=register&horn=1&seed=1&level=second-year": ("feuille", "Blatt"),
    "/practice/1/lesson.pdf?stand=2&level=second-year&seed=1": ("Feuille de leçon", "Blatt"),
    "/practice/1/move.pdf?stand=2&way=down&interval=P8": ("une octave plus bas", "Oktave"),
    "/progress/1.pdf": ("Progrès", "Fortschritt"),
    "/stands/2/pdf": ("pour Clara Moreno", "für Clara"),
    "/takes/1.pdf": ("Comment cela sonnait", "Wie es klang"),
}
PAGES = {
    "/charts?student=1": "Zugtabellen",
    "/practice/1": "Üben",
    "/progress/1": "Fortschritt",
    "/stands/2": "Drucken",
    "/takes/1": "Aufnahmen",
}


@pytest.fixture
def bilingual(example):
    set_setting(example, "language", "de")
    with example.store.write() as db:
        db.execute("UPDATE student SET language = 'fr' WHERE id = ?", (CLARA,))
    return client(example)


def printed(answer):
    assert answer.status_code == 200, words(answer)[-200:]
    pages = pypdfium2.PdfDocument(io.BytesIO(answer.content))
    text = " ".join(page.get_textpage().get_text_bounded() for page in pages)
    return " ".join(text.split())


def test_what_is_printed_for_a_student_is_in_their_language(bilingual):
    for url, (french, german) in PRINTED.items():
        text = printed(bilingual.get(url))
        assert french in text, url
        assert german not in text, url


def test_the_pages_about_the_student_stay_in_the_studios_language(bilingual):
    for url, german in PAGES.items():
        assert german in words(bilingual.get(url)), url


def test_others_get_the_studios_language(bilingual):
    assert "Wie es klang" in printed(bilingual.get("/takes/2.pdf"))
    assert "für Jonas Feld" in printed(bilingual.get("/stands/3/pdf"))
