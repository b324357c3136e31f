"""Parts with their places written over the notes."""

from dataclasses import dataclass
from os import PathLike, fspath
from pathlib import Path

from handslide.api.horns import Horn
from handslide.api.routes import Route, route_of
from handslide.api.telling import speech_for
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact
from handslide.instrument.markstyle import EXISTING, SHOWN_ON_SHEETS
from handslide.jobs.mark.mark import MarkOptions
from handslide.jobs.mark.routed import played_line
from handslide.jobs.mark.written import mark_file


@dataclass(frozen=True, slots=True, eq=False)
class Marked:
    """A marked part, N written notes.

    ``score`` is the marked score, ``pdf`` its print; None where it wasn't asked for, ``pdf`` also
    where the part can't be engraved (a warning says why). ``route`` is what was chosen: a note that
    is played several times, under a repeat sign, has one place, and its ``worse_by`` counts all its
    times. ``measures`` are the printed numbers of each note's measure. ``warnings`` are facts of
    what can't be played and of what looked wrong in the file.
    """

    title: str
    part: str
    score: Path | None
    pdf: Path | None
    route: Route
    measures: tuple[str, ...]
    warnings: tuple[Fact, ...]


def mark(
    file: str | PathLike[str],
    horn: Horn,
    *,
    folder: str | PathLike[str] | None = None,
    part: str | None = None,
    voice: str | None = None,
    tempo_qpm: float = 80.0,
    show: str = "all",
    existing: str = "keep",
    pdf: bool = True,
    force: bool = False,
    language: str | None = None,
) -> Marked:
    """Mark a part: the best route through it, written over its notes.

    Parameters
    ----------
    file
        MusicXML (``.musicxml``, ``.xml``, ``.mxl``), or a PDF that a notation program has made;
        with the extra ``formats`` also Humdrum, MEI, ABC, MIDI. It stays as it is.
    horn
        From :func:`handslide.horn`.
    folder
        Where ``FILE-marked.musicxml`` (or ``.mxl``) and ``FILE-marked.pdf`` go. None: beside the
        file.
    part, voice
        By name, number or id. None: the trombone's, its first voice.
    tempo_qpm
        Quarter notes a minute where the part states none.
    show
        Which notes get a mark: ``all``, ``unusual``, ``new`` or ``none``.
    existing
        Fingerings in the part: ``keep`` those that are places, ``replace`` all, or ``lock`` the
        route to them.
    pdf
        Whether to print.
    force
        Whether results that exist are replaced.
    language
        Of the print: ``en``, ``de``, ``es``, ``fr``. None: the user's.

    Raises
    ------
    HandslideError
        A file that can't be read, a part that there isn't, a result that exists.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> import handslide as hs
    >>> with TemporaryDirectory() as folder:
    ...     marked = hs.mark(
    ...         "examples/lanterns.musicxml", hs.horn("tenor-f"), folder=folder, pdf=False
    ...     )
    ...     marked.score.name
    'lanterns-marked.musicxml'
    >>> len(marked.route), marked.route.marks[:6], marked.measures[:6]
    (125, ('1', 'T1', '4', '3', '1', '3'), ('1', '1', '1', '1', '2', '2'))
    """
    for name, value, known in (
        ("show", show, SHOWN_ON_SHEETS),
        ("existing", existing, tuple(one for one in EXISTING if one != "check")),
    ):
        if value not in known:
            raise BadUsage("usage.choice", name=name, known=known)
    options = MarkOptions(part=part, voice=voice, tempo_qpm=tempo_qpm, show=show, existing=existing)
    written = mark_file(
        Path(fspath(file)),
        horn._setup,
        options,
        speech_for(language),
        folder=None if folder is None else Path(fspath(folder)),
        with_pdf=pdf,
        force=force,
    )
    marked = written.marked
    return Marked(
        marked.title,
        marked.part.name,
        written.score_path,
        written.pdf_path,
        route_of(horn, marked.routed, played_line(marked.part)[0]),
        tuple(note.measure for note in marked.part.notes),
        tuple(row.told for row in marked.found),
    )
