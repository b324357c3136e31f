"""What can be taken away from a stand: the marked score, and the part as a PDF for the stand."""

import re
import unicodedata
from dataclasses import dataclass, replace
from pathlib import PurePath

from handslide.ground.errors import BadUsage
from handslide.ground.limits import OPEN_SHEETS_BYTES
from handslide.ground.progress import ProgressCallback
from handslide.instrument.markstyle import SHOWN
from handslide.jobs.mark.mark import MarkedPart, MarkOptions
from handslide.studio.cache import CacheKind
from handslide.studio.parts.openpart import OpenPart, read_on_stand
from handslide.studio.parts.scores import open_stored
from handslide.studio.people.namesakes import Names
from handslide.studio.preferences import preferences
from handslide.studio.studio import Studio
from handslide.words.speech import Speech

_PDF = "application/pdf"
_MEDIA = {
    ".mxl": "application/vnd.recordare.musicxml",
    ".musicxml": "application/vnd.recordare.musicxml+xml",
}
_LONGEST_NAME = 80
_PDFS: CacheKind[tuple[object, ...], bytes] = CacheKind(40, len, OPEN_SHEETS_BYTES)


@dataclass(frozen=True, slots=True)
class StandFile:
    """A file to take away: its bytes, a name that any system takes, and its media type."""

    data: bytes
    name: str
    media_type: str


def marked_score(studio: Studio, part: OpenPart, show: str | None = None) -> StandFile:
    """The score with the marks of the stand in it, in the kind of file that it came in."""
    score = open_stored(studio, part.score)
    stand = part.stand
    read = read_on_stand(score, stand)
    options = _options(part, show)
    data = MarkedPart(score, read, part.routed, options, existing=part.existing).musicxml()
    ending = PurePath(part.score.file_name).suffix.lower()
    if score.converted or ending not in (".mxl", ".musicxml", ".xml"):
        ending = ".mxl" if data[:2] == b"PK" else ".musicxml"
    media = _MEDIA.get(ending, _MEDIA[".musicxml"])
    return StandFile(data, file_name(studio, part, ending), media)


def stand_pdf(
    say: Speech,
    studio: Studio,
    part: OpenPart,
    show: str | None = None,
    progress: ProgressCallback | None = None,
) -> StandFile:
    """The printed part: marked music, legend and report, on the paper of the settings."""
    options = replace(_options(part, show), paper=preferences(studio).paper)
    marked = replace(part.marked, options=options)
    locks = tuple((number, place) for number, place in part.locks.items())
    key = part.key, options, locks, say
    data = studio.caches.of(_PDFS).get(key, lambda: marked.pdf(say, progress))
    return StandFile(data, file_name(studio, part, ".pdf"), _PDF)


def _options(part: OpenPart, show: str | None) -> MarkOptions:
    if show is not None and show not in SHOWN:
        raise BadUsage("marks.show", name=show, known=", ".join(SHOWN))
    return replace(
        part.marked.options,
        show=show or part.student.show,
        title=part.score.title,
        composer=part.score.composer,
    )


def file_name(studio: Studio, part: OpenPart, ending: str) -> str:
    """``lanterns-mira-holt.pdf``: plain letters only; namesakes told apart."""
    names = Names(studio)
    title, student = names.on_stand(part.stand.id).plain, names.student(part.student.id).plain
    return plain_name(f"{title} {student}") + ending


def plain_name(text: str) -> str:
    """A text as the stem of a file's name: small plain letters and digits, joined by hyphens."""
    text = text.replace("ß", "ss").replace("ø", "o").replace("æ", "ae").replace("♭", "b")
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:_LONGEST_NAME].strip("-") or "part"
