"""Pages that no link of the example leads to: what waits, is sent, brought back, tried, played."""

import io
import re
from contextlib import contextmanager

from pdf_sheets import sheet
from small_library import write_library
from studio_pages import browse
from tablets import a_stand, letting_in

from handslide.faces.web.app import create_app
from handslide.faces.web.links import Wish
from handslide.faces.web.pages import templates
from handslide.studio.care.backups import list_backups, make_backup
from handslide.studio.choosing.consent import give_consent
from handslide.studio.library.folders import name_folder
from handslide.studio.library.shelf import Job, look
from handslide.studio.parts.scores import add_score
from handslide.studio.people.students import list_students
from handslide.studio.takes.hearing import hearing, start_hearing

# Seen by another test, after something was learnt: test_studio_learning_browser.
ELSEWHERE = {"learning/beside.html"}
_WHOLE = re.compile(r'\{% extends "(base|working)\.html" %\}')


@contextmanager
def unlinked(studio):
    """An application of ``studio`` and the addresses of such pages in it."""
    with letting_in(studio) as guests:
        app = create_app(studio, None, guests)
        yield app, _addresses(studio, browse(app), guests)


def _addresses(studio, home, guests):
    pupil = list_students(studio)[0].id
    part, stand = add_score(studio, sheet(), "etude.pdf").score, a_stand(studio)
    make_backup(studio)
    give_consent(studio, earlier=False)
    archive = home.post("/data/export", data={}).content
    sent = home.post("/data/import", files={"archive": ("studio.zip", archive)})
    link = guests.send(Wish(stand, False, False, 60), next(iter(guests.addresses())), secure=False)
    key = start_hearing(studio, pupil, io.BytesIO(b"no sound" * 9), name="take.wav")
    assert hearing(studio, key, 60.0).error
    scores = write_library(studio.folder.parent / "scores", 1)
    (scores / "half.musicxml").write_bytes(b"<score-partwise>")
    name_folder(studio, str(scores))
    look(studio, Job("looking"))
    return [
        "/parts/folders",
        "/parts/folders/files/1",
        f"/parts/{stand.score_id}/try?horn=tenor-f",
        f"/parts/{part.id}",
        f"/parts/{part.id}/read",
        sent.headers["location"],
        f"/data/backups/{list_backups(studio)[0].name}/restore",
        f"/data/recordings/delete?student={pupil}",
        f"/send/{link.number}",
        "/send",
        f"/takes/waiting/{key}",
        "/learning",
        "/learning/game",
        "/no/such/page",
    ]


def whole_templates():
    """The names of all templates that are a page."""
    made = templates()
    texts = {name: made.loader.get_source(made, name)[0] for name in made.list_templates()}
    return {name for name, text in texts.items() if _WHOLE.search(text)}


@contextmanager
def templates_shown(monkeypatch):
    """The names of the templates that pages are made from until the block ends."""
    made, shown = templates(), set()
    get = made.get_template

    def noting(name, *args, **values):
        shown.add(name)
        return get(name, *args, **values)

    monkeypatch.setattr(made, "get_template", noting)
    yield shown
