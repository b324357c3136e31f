"""One note heard live: blocks of sound come in over a websocket, its tones go out."""

from starlette.routing import BaseRoute, WebSocketRoute
from starlette.websockets import WebSocket

from handslide.faces.web.live import View, for_own_page
from handslide.studio.studio import Studio
from handslide.studio.tuning.onenote import LiveNote, parse_note_start


async def one_note(websocket: WebSocket) -> None:
    """One page that listens for a note, from its first message to its end."""
    await for_own_page(websocket, _begin)


def _begin(_studio: Studio, first: str) -> tuple[int, View]:
    start = parse_note_start(first)
    return start.student_id, LiveNote(start)


routes: list[BaseRoute] = [WebSocketRoute("/one-note", one_note, name="one_note")]
