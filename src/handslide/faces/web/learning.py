"""What it learnt from the teacher: his yes, what was noticed, undo, forgetting, a profile file."""

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from handslide.faces.web.forms import form_of
from handslide.faces.web.formvalues import text_of, whole
from handslide.faces.web.pages import page, see, speech_of, studio_of
from handslide.faces.web.stands import music_answer, say_of
from handslide.ground.errors import BadUsage, NotFound
from handslide.studio.choosing.consent import give_consent, withdraw_consent
from handslide.studio.choosing.versions import redo_learnt, undo_learnt
from handslide.studio.learning.background import learn_later
from handslide.studio.learning.forgetting import forget_all, forget_note, forget_part
from handslide.studio.learning.noticed import noticed_words
from handslide.studio.learning.saving import save_profile
from handslide.studio.learning.sidebyside import with_and_without
from handslide.studio.learning.view import learning_view
from handslide.studio.parts.comparison import compare
from handslide.studio.parts.edits import take_newest
from handslide.studio.parts.openpart import OpenPart
from handslide.words.profile import kind_words

_DONE = ("yes", "no", "undone", "redone", "forgotten", "forgotten_note", "forgotten_all")


def learning(request: Request) -> Response:
    """What was learnt, and from what."""
    done = request.query_params.get("done", "")
    return _learning(request, done if done in _DONE else "")


def _learning(request: Request, done: str, saved: str = "") -> Response:
    return _view(request, "learning/learning.html", done=done, saved=saved)


def _view(request: Request, template: str, **values: Any) -> Response:
    view, say = learning_view(studio_of(request)), speech_of(request)
    rows = () if view.row is None else view.row.told.agreement
    kinds = {row.kind: kind_words(say, row.kind) for row in rows}
    return page(request, template, view=view, kinds=kinds, **values)


def state(request: Request) -> Response:
    """Whether it is learning, as a piece of the page; what was learnt where that has ended."""
    return _view(request, "learning/state.html")


def noticed(request: Request) -> Response:
    """What was noticed, as a piece of the page: it takes some seconds to work out."""
    words = noticed_words(studio_of(request), speech_of(request))
    return page(request, "learning/noticed.html", words=words)


async def answer_consent(request: Request) -> Response:
    """The teacher's yes or no."""
    form, studio = await form_of(request), studio_of(request)
    said = text_of(form, "said")
    if said == "yes":
        earlier = form.get("earlier") is not None
        await run_in_threadpool(lambda: give_consent(studio, earlier=earlier))
    elif said == "no":
        await run_in_threadpool(withdraw_consent, studio)
    else:
        raise BadUsage("web.choice")
    return see(f"/learning?done={said}")


def undo(request: Request) -> Response:
    """Go back to what was learnt before."""
    undo_learnt(studio_of(request))
    return see("/learning?done=undone")


def redo(request: Request) -> Response:
    """Come again to what was left."""
    redo_learnt(studio_of(request))
    return see("/learning?done=redone")


async def forget(request: Request) -> Response:
    """Forget what was chosen for a note, in a part, or everything."""
    form, studio = await form_of(request), studio_of(request)
    if form.get("all") is not None:
        await run_in_threadpool(forget_all, studio)
        return see("/learning?done=forgotten_all")
    stand_id, note = whole(form.get("stand")), whole(form.get("note"))
    if stand_id is None:
        raise NotFound("parts.no_stand")
    if note is not None:
        await run_in_threadpool(forget_note, studio, stand_id, note)
        return see("/learning?done=forgotten_note")
    await run_in_threadpool(forget_part, studio, stand_id)
    return see("/learning?done=forgotten")


async def save(request: Request) -> Response:
    """What was learnt as a profile file that all commands take."""
    name = text_of(await form_of(request), "name")
    path = await run_in_threadpool(save_profile, studio_of(request), name)
    return await run_in_threadpool(_learning, request, "", str(path))


def beside(request: Request) -> Response:
    """A part with what was learnt, beside what would have been chosen without."""
    found = _both(request)
    say = say_of(request, found[0])
    return page(request, "learning/beside.html", part=found[0], comparison=compare(say, *found))


def beside_music(request: Request) -> Response:
    """The music with both rows of marks."""
    return music_answer(request, *_both(request))


def _both(request: Request) -> tuple[OpenPart, OpenPart]:
    found = with_and_without(studio_of(request), request.path_params["stand_id"])
    if found is None:
        raise BadUsage("learning.nothing_for_part")
    return found


def newest(request: Request) -> Response:
    """Mark a part with what is learnt by now."""
    stand_id = request.path_params["stand_id"]
    take_newest(studio_of(request), stand_id)
    learn_later(studio_of(request))
    return see(f"/stands/{stand_id}")


routes: list[BaseRoute] = [
    Route("/learning", learning),
    Route("/learning/state", state),
    Route("/learning/noticed", noticed),
    Route("/learning/consent", answer_consent, methods=["POST"]),
    Route("/learning/undo", undo, methods=["POST"]),
    Route("/learning/redo", redo, methods=["POST"]),
    Route("/learning/forget", forget, methods=["POST"]),
    Route("/learning/profile", save, methods=["POST"]),
    Route("/stands/{stand_id:int}/learnt", beside),
    Route("/stands/{stand_id:int}/learnt/music", beside_music),
    Route("/stands/{stand_id:int}/newest", newest, methods=["POST"]),
]
