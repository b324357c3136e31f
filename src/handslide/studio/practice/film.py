"""A part on a stand as a video that the teacher's browser records."""

from dataclasses import dataclass
from typing import Any

from handslide.jobs.clip.captions import captions
from handslide.jobs.clip.clip import CARD_S, stage_of
from handslide.jobs.clip.film import film_json
from handslide.jobs.clip.wishes import ClipWishes
from handslide.jobs.practice.playalong import PlayAlong, make_playalong
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.studio.cache import CacheKind
from handslide.studio.parts.files import StandFile, file_name
from handslide.studio.parts.openpart import OpenPart
from handslide.studio.parts.scores import open_stored
from handslide.studio.practice.sound import own_wishes
from handslide.studio.studio import Studio
from handslide.words.speech import Speech

_WIDE, _UPRIGHT = (1280, 720), (720, 1280)
_MADE: CacheKind[tuple[object, ...], PlayAlong] = CacheKind(1)


@dataclass(frozen=True, slots=True)
class FilmWishes:
    """How the video looks: ``title`` None is that of the score; ``named``: with the student's
    name."""

    upright: bool = False
    title: str | None = None
    end: str = ""
    named: bool = False

    @property
    def clip(self) -> ClipWishes:
        """The same as of any clip."""
        size = _UPRIGHT if self.upright else _WIDE
        return ClipWishes(size=size, title=self.title, end=self.end)


def film_plan(
    studio: Studio, part: OpenPart, wishes: PlayWishes, film: FilmWishes, say: Speech
) -> dict[str, Any]:
    """`film_json` of a play-along of a stand. Raises as that, and as `make_playalong`."""
    made = _made(studio, part, wishes)
    student = part.student.name if film.named else ""
    return film_json(say, part.marked, made, film.clip, student)


def film_captions(
    studio: Studio, part: OpenPart, wishes: PlayWishes, film: FilmWishes, say: Speech
) -> StandFile:
    """The captions of the same video."""
    stage = stage_of(say, part.marked, _made(studio, part, wishes), film.clip)
    try:
        later_s = 0.0 if film.title == "" else CARD_S
        text = captions(say, part.marked, stage.course.notes, later_s, stage.layout.captions)
    finally:
        stage.close()
    return StandFile(text.encode(), file_name(studio, part, ".vtt"), "text/vtt")


def _made(studio: Studio, part: OpenPart, wishes: PlayWishes) -> PlayAlong:
    wishes = own_wishes(part, wishes)

    def make() -> PlayAlong:
        return make_playalong(open_stored(studio, part.score), wishes)

    return studio.caches.of(_MADE).get((part.key.digest, wishes), make)
