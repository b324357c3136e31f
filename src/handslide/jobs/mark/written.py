"""A part that is marked to files: the marked score, its print, its report."""

from dataclasses import dataclass, replace
from pathlib import Path

from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.files.plainfile import is_same
from handslide.ground.errors import OutputError, ScoreError
from handslide.ground.progress import ProgressCallback, silent
from handslide.jobs.mark.mark import MarkedPart, MarkOptions, choose_for
from handslide.jobs.mark.pdfwishes import NO_WISHES, PdfWishes, open_source
from handslide.jobs.setup import Setup
from handslide.words.speech import Speech


@dataclass(frozen=True, slots=True)
class Written:
    """A marked part and the files that it was written to; None where one wasn't asked for.

    Nor is there a ``pdf_path`` where the part couldn't be engraved.
    """

    marked: MarkedPart
    score_path: Path | None
    pdf_path: Path | None
    report_path: Path | None = None

    @property
    def files(self) -> tuple[Path, ...]:
        """All files."""
        paths = self.score_path, self.pdf_path, self.report_path
        return tuple(path for path in paths if path is not None)


def printed(
    marked: MarkedPart, say: Speech, progress: ProgressCallback | None = None
) -> tuple[MarkedPart, bytes | None]:
    """A marked part and its PDF; None, and the part says why, where it can't be engraved."""
    try:
        return marked, marked.pdf(say, progress)
    except ScoreError as error:
        return replace(marked, not_engraved=error.fact), None


def mark_file(
    path: Path,
    setup: Setup,
    options: MarkOptions,
    say: Speech,
    *,
    folder: Path | None = None,
    stem: str | None = None,
    with_pdf: bool = True,
    force: bool = False,
    progress: ProgressCallback | None = None,
    pdf: PdfWishes = NO_WISHES,
) -> Written:
    """Mark a part of a score file and write the results beside it, or into ``folder``.

    Their names begin with ``stem`` (None: as that of the score). The original is never written to,
    and nothing at all where fingerings are only checked. The print is in the language of ``say``. A
    part that can't be engraved is marked all the same; a warning of the kind ``not_engraved`` says
    so. ``pdf`` corrects what is read from a PDF, whose own pages are printed.

    Raises
    ------
    ScoreError, BadUsage
        As :func:`choose_for`, or when the file can't be opened.
    OutputError
        When a result exists already (unless ``force``) or can't be written.
    """
    tell = progress or silent
    targets = mark_targets(path, folder, options, stem, with_pdf=with_pdf)
    for target in targets.values():
        _check_target(path, target, force=force)
    tell("reading", 0, 1)
    score, source = open_source(path, pdf, say, force=force)
    if score.converted and "score" in targets:
        targets["score"] = targets["score"].with_suffix(".musicxml")
        _check_target(path, targets["score"], force=force)
    tell("reading", 1, 1)
    marked = choose_for(score, setup, options, progress, source=source)
    # The print is made first: where it can't be set, nothing is left half done.
    made = {}
    if "pdf" in targets:
        marked, print_ = printed(marked, say, progress)
        if print_ is not None:
            made["pdf"] = print_
        else:
            del targets["pdf"]
    if "report" in targets:
        made["report"] = marked.report_pdf(say)
    if "score" in targets:
        write_result(targets["score"], marked.musicxml(), force=force)
    for kind, data in made.items():
        write_result(targets[kind], data, force=force)
    return Written(marked, targets.get("score"), targets.get("pdf"), targets.get("report"))


def mark_targets(
    path: Path,
    folder: Path | None,
    options: MarkOptions,
    stem: str | None = None,
    *,
    with_pdf: bool = True,
) -> dict[str, Path]:
    """The files to write, by kind: score, pdf, report; a score that is converted is MusicXML."""
    if options.existing == "check":
        return {}
    base = (folder or path.parent) / path.name
    name = f"{path.stem if stem is None else stem}-marked"
    suffix = ".musicxml" if path.suffix.lower() == ".pdf" else path.suffix
    targets = {"score": base.with_name(name + suffix)}
    if with_pdf:
        targets["pdf"] = base.with_name(name + ".pdf")
        if options.report == "file":
            targets["report"] = base.with_name(name + "-report.pdf")
    return targets


def _check_target(original: Path, target: Path, *, force: bool) -> None:
    if is_same(target, original):
        raise OutputError("marks.original", path=str(target))
    check_free(target, force=force)
