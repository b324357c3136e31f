"""Parts read from PDF, engraver by engraver, against what stands in them; a sketch as the peer.

    python benchmarks/pdf_parts.py                            the open half, all engravers
    python benchmarks/pdf_parts.py --engravers lilypond       one engraver or several
    python benchmarks/pdf_parts.py --half kept                the half that nobody tunes on
    python benchmarks/pdf_parts.py --marks                    marked: places, pixels, size, time
    python benchmarks/pdf_parts.py --also FOLDER              PDFs of the same parts, PART.pdf each
    python benchmarks/pdf_parts.py --failures FILE            each failure with its place

Parts are those of --scores (../shared/scores, else tests/scores). Engravers that aren't installed
are named and left out (tests/helpers/pdfengravers/engrave.py says what each needs); what was
engraved is kept in --folder. The truth is music21's reading of the MusicXML. Notes are paired by
edit distance, part by part. "wrong" notes have another pitch, or aren't there; "doubted" is the
share of them with a doubt, "false" the share of right notes with one. F is of ties and of slurs'
ends. Engravers with unknown signs (or read without the outlines of their font) are read as they
come, and again after at most ten questions, answered by the rig. Time is the
processor's, from the file's bytes to the notes. "covered" pages have a dark pixel of the original
that changed, or a mark beside its ink; the time of marking is that of the command line, report and
all.
"""

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import argparse  # noqa: E402
import importlib.util  # noqa: E402
import logging  # noqa: E402
import sys  # noqa: E402
import tempfile  # noqa: E402
import time  # noqa: E402
from collections.abc import Callable, Iterable, Iterator  # noqa: E402
from contextlib import suppress  # noqa: E402
from dataclasses import replace  # noqa: E402
from pathlib import Path  # noqa: E402

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "tests" / "helpers"))

from pdfengravers import answers  # noqa: E402
from pdfengravers.compare import Head, Tally, align, heads_of, tally  # noqa: E402
from pdfengravers.engrave import ENGRAVERS, Engraver, NotEngravedError, engrave  # noqa: E402
from pdfengravers.failures import Failures  # noqa: E402
from pdfengravers.marked import MarkedTally, Place, mark, marked  # noqa: E402
from pdfengravers.parts import HALVES, SourcePart, source_parts  # noqa: E402
from pdfengravers.truth import true_notes  # noqa: E402

from handslide.edges.pdfparts.content import draw  # noqa: E402
from handslide.edges.pdfparts.read import read_drawing, read_part  # noqa: E402
from handslide.edges.pdfparts.reading import Corrections, PdfReading  # noqa: E402
from handslide.edges.pdfparts.signs import Signs  # noqa: E402
from handslide.ground.errors import HandslideError  # noqa: E402

SHARED = ROOT.parent / "shared"
SKETCH = SHARED / "sketches" / "pdfparts" / "readpdf.py"
GOALS = {
    "pitch": 0.997, "onset": 0.98, "doubted": 0.90, "false": 0.01, "seconds": 0.5,
    "answers": 0.97, "places": 0.98,
}  # fmt: skip
HEAD = (
    f"{'engraver':<22} {'parts':>5} {'notes':>6} {'found':>6} {'pitch':>6} {'extra':>5} "
    f"{'onset':>6} {'bar':>6} {'tie F':>6} {'slurF':>6} {'tupl':>6} {'grace':>6} "
    f"{'wrong':>5} {'doubted':>7} {'false':>6} {'mistimed':>8} {'doubted':>7} {'pages':>5} "
    f"{'s/page':>6}"
)
MARKS_HEAD = (
    f"{'marked':<22} {'parts':>5} {'refused':>7} {'notes':>6} {'places':>6} {'pages':>5} "
    f"{'covered':>7} {'changed':>7} {'touching':>8} {'size x':>6} {'s/page':>6}"
)
NOTHING = Corrections()
Answers = dict[str, str]
"""Kinds of signs by their marks."""
Engraved = tuple[SourcePart, Path]
Reader = Callable[[bytes, Path], tuple[list[Head], int]]
"""Notes of a PDF and its number of pages."""


def share(part: float, whole: float) -> str:
    return f"{100 * part / whole:6.2f}" if whole else "     -"


def f_score(hits: int, true: int, read: int) -> str:
    return share(2 * hits, true + read)


def row_of(name: str, parts: int, got: Tally) -> str:
    return (
        f"{name:<22} {parts:>5} {got.true:>6} {share(got.found, got.true)} "
        f"{share(got.pitch, got.true)} {got.extra:>5} {share(got.onset, got.timed)} "
        f"{share(got.bar, got.timed)} {f_score(got.tie, got.ties, got.ties_read)} "
        f"{f_score(got.slur, got.slurs, got.slurs_read)} {share(got.tuplet, got.tuplets)} "
        f"{share(got.grace, got.graces)} {got.wrong:>5} {share(got.wrong_doubted, got.wrong):>7} "
        f"{share(got.right_doubted, got.right)} {got.mistimed:>8} "
        f"{share(got.mistimed_doubted, got.mistimed):>7} {got.pages:>5} "
        f"{got.seconds / max(got.pages, 1):6.3f}"
    )


def page_count(data: bytes) -> int:
    import pypdfium2

    document = pypdfium2.PdfDocument(data)
    try:
        return len(document)
    finally:
        document.close()


def ours(given: Answers, without: tuple[str, ...] = ()) -> Reader:
    """Our reader, with answers about signs, and without some of the fonts that it knows."""

    def read(data: bytes, path: Path) -> tuple[list[Head], int]:
        return heads_of(reading_of(data, given, without)), page_count(data)

    return read


def reading_of(data: bytes, given: Answers, without: tuple[str, ...]) -> PdfReading:
    if without:
        return read_drawing(draw(data), Signs.load(given, without), NOTHING)
    return read_part(data, Corrections(signs=tuple(given.items())))


def sketch() -> Reader | None:
    if not SKETCH.is_file() or importlib.util.find_spec("pikepdf") is None:
        return None
    sys.path.insert(0, str(SKETCH.parent))
    import readpdf

    def read(data: bytes, path: Path) -> tuple[list[Head], int]:
        notes, _ = readpdf.read(str(path))
        heads = [
            Head(
                midi=one["midi"], page=one["page"] + 1, system=one["staff"], x=one["x"], y=one["y"],
                grace=one["small"], tie_to=False, doubted=bool(one["why"]), why=tuple(one["why"]),
            )
            for one in notes
        ]  # fmt: skip
        return heads, page_count(data)

    return read


class Bench:
    """The engraved parts, and what was measured on them."""

    def __init__(self, folder: Path, parts: list[SourcePart]) -> None:
        self.folder, self.parts = folder, parts
        self.truth = {one.name: true_notes(one.musicxml()) for one in parts}
        self.failed: list[str] = []
        self.broken: set[Path] = set()
        self.wanted: dict[str, list[Place] | None] = {}

    def engraved(self, engraver: Engraver) -> Iterator[Engraved]:
        for part in self.parts:
            path = self.folder / part.half / engraver.name / f"{part.name}.pdf"
            if not path.is_file() and path not in self.broken:
                try:
                    engrave(engraver, part.musicxml(), path)
                except NotEngravedError:
                    self.broken.add(path)
            if path not in self.broken:
                yield part, path

    def found(self, folder: Path) -> Iterator[Engraved]:
        """PDFs of the parts that somebody else made."""
        for part in self.parts:
            if (folder / f"{part.name}.pdf").is_file():
                yield part, folder / f"{part.name}.pdf"

    def measure(
        self, pdfs: Iterable[Engraved], reader: Reader, name: str, failures: Failures | None = None
    ) -> Tally:
        whole, count = Tally(), 0
        for part, path in pdfs:
            data = path.read_bytes()
            start = time.process_time()
            try:
                heads, pages = reader(data, path)
            except HandslideError as error:
                self.failed.append(f"{name} {part.name}: {error.fact.kind}")
                heads, pages = [], 0
            except Exception as error:  # a peer may die of a file: named, and nothing read
                self.failed.append(f"{name} {part.name}: {type(error).__name__}: {error}")
                heads, pages = [], 0
            seconds = time.process_time() - start
            pairs = align(self.truth[part.name], heads)
            got = replace(tally(pairs), pages=pages, seconds=seconds)
            if heads and all(one.onset is None for one in heads):  # a reader of pitches alone
                got = replace(got, timed=0, ties=0, slurs=0, tuplets=0)
            if failures is not None:
                failures.add(f"{name} {part.name}", pairs)
            whole.add(got)
            count += 1
        print(row_of(name, count, whole), flush=True)
        return whole

    def answers_for(self, engraver: Engraver, without: tuple[str, ...]) -> Answers:
        """What the rig says about the first ten signs that are asked, part after part."""
        known = {}
        if not engraver.known:
            known = answers.learn(engraver, self.folder / "probes" / engraver.name)
        answerer = answers.Answerer(known)
        for _, path in self.engraved(engraver):
            with suppress(HandslideError):
                answerer.hear(reading_of(path.read_bytes(), answerer.given, without))
        return answerer.given

    def measure_unknown(
        self, engraver: Engraver, without: tuple[str, ...], failures: Failures
    ) -> list[str]:
        """An engraver whose signs nobody knows, as it comes and with ten answers: missed goals."""
        name = f"{engraver.name} unknown" if without else engraver.name
        got = self.measure(self.engraved(engraver), ours({}, without), name, failures)
        given = self.answers_for(engraver, without)
        again = self.measure(
            self.engraved(engraver), ours(given, without), f"  {len(given)} answers", failures
        )
        print(f"  {', '.join(sorted(given.values()))}")
        missed = verdicts(name, False, got)
        if again.pitch < GOALS["answers"] * again.true:
            missed.append(f"{name}: {share(again.pitch, again.true)} % with {len(given)} answers")
        return missed

    def marks(self, pdfs: Iterable[Engraved], name: str) -> MarkedTally:
        """Mark each as a teacher does, beside the MusicXML of the same part."""
        whole = MarkedTally()
        for part, path in pdfs:
            with tempfile.TemporaryDirectory() as temporary:
                folder = Path(temporary)
                want = self._wanted(part, folder)
                if want is not None:
                    whole.add(marked(path, want, folder))
        print(
            f"{name:<22} {whole.parts:>5} {whole.refused:>7} {whole.notes:>6} "
            f"{share(whole.same, whole.notes)} {whole.pages:>5} {whole.covered:>7} "
            f"{whole.changed:>7} {whole.touching:>8} "
            f"{whole.bytes_after / max(whole.bytes_before, 1):>6.2f} "
            f"{whole.seconds / max(whole.pages, 1):6.3f}",
            flush=True,
        )
        return whole

    def _wanted(self, part: SourcePart, folder: Path) -> list[Place] | None:
        if part.name not in self.wanted:
            source = folder / f"{part.name}.musicxml"
            source.write_bytes(part.musicxml())
            self.wanted[part.name], _ = mark(source, folder)
        return self.wanted[part.name]


def verdicts(name: str, known: bool, got: Tally) -> list[str]:
    """The goals that an engraver misses. Shares are of true notes; doubts where notes are wrong."""
    missed = []

    def look(goal: str, value: float, least: bool) -> None:
        if (value < GOALS[goal]) if least else (value > GOALS[goal]):
            missed.append(f"{name}: {goal} {value:.4f}, goal {GOALS[goal]}")

    if known:
        look("pitch", got.pitch / max(got.true, 1), True)
        look("onset", got.onset / max(got.timed, 1), True)
        look("false", got.right_doubted / max(got.right, 1), False)
    if got.wrong:
        look("doubted", got.wrong_doubted / got.wrong, True)
    look("seconds", got.seconds / max(got.pages, 1), False)
    return missed


def mark_verdicts(name: str, known: bool, got: MarkedTally) -> list[str]:
    """What marking misses: equal places, and the original's ink."""
    missed = []
    if known and got.same < GOALS["places"] * got.notes:
        missed.append(f"{name}: places {share(got.same, got.notes)} %")
    if got.changed or got.touching:
        missed.append(f"{name}: ink changed or touched on {got.covered} pages")
    return missed


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    names = [one.name for one in ENGRAVERS]
    parser.add_argument("--engravers", nargs="*", choices=names, default=names)
    parser.add_argument("--half", choices=(*HALVES, "both"), default="open")
    parser.add_argument("--scores", type=Path, default=SHARED / "scores")
    parser.add_argument("--folder", type=Path, default=ROOT / "build" / "pdf-parts")
    parser.add_argument("--only", default="", help="parts whose name contains this")
    parser.add_argument("--also", type=Path, nargs="+", default=[], help="folders of PDFs")
    parser.add_argument("--no-peer", action="store_true", help="without the sketch")
    parser.add_argument("--marks", action="store_true", help="mark each too: slow")
    parser.add_argument("--failures", type=Path, help="write each failure to this file")
    options = parser.parse_args()
    logging.disable(logging.WARNING)
    halves = HALVES if options.half == "both" else (options.half,)
    scores = options.scores if options.scores.is_dir() else ROOT / "tests" / "scores"
    parts = [one for one in source_parts(scores) if one.half in halves and options.only in one.name]
    bench = Bench(options.folder, parts)
    chosen = [one for one in ENGRAVERS if one.name in options.engravers]
    for one in [one for one in chosen if not one.installed()]:
        print(f"{one.name}: not installed ({', '.join(one.needs)}), left out")
    chosen = [one for one in chosen if one.installed()]
    failures, missed = Failures(), []
    print(f"handslide, {options.half} half\n{HEAD}")
    known = Tally()
    for one in [one for one in chosen if one.known]:
        got = bench.measure(bench.engraved(one), ours({}), one.name, failures)
        missed += verdicts(one.name, True, got)
        known.add(got)
    for folder in options.also:
        got = bench.measure(bench.found(folder), ours({}), folder.name, failures)
        missed += verdicts(folder.name, True, got)
    print(row_of("all known", 0, known))
    for one in chosen:
        if one.font or not one.known:
            fonts = (one.font,) if one.font else ()
            missed += bench.measure_unknown(one, fonts, failures)
    peer = None if options.no_peer else sketch()
    if peer is not None:
        print("the sketch")
        for one in chosen:
            bench.measure(bench.engraved(one), peer, one.name)
    if options.marks:
        print(MARKS_HEAD)
        for one in chosen:
            missed += mark_verdicts(one.name, one.known, bench.marks(bench.engraved(one), one.name))
        for folder in options.also:
            got_marks = bench.marks(bench.found(folder), folder.name)
            missed += mark_verdicts(folder.name, True, got_marks)
    for line in bench.failed:
        print("failed:", line)
    if options.failures:
        failures.notes = bench.failed
        options.failures.write_text(failures.markdown(), encoding="utf-8")
    print("\n".join(["missed goals:", *missed] if missed else ["all goals are met"]))


if __name__ == "__main__":
    main()
