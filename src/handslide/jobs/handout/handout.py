"""Make a hand-out: one HTML file that plays, shows the slide, and prints.

A page is a row of blocks, each of a *kind*; they share one slide, one player and one line of words,
and only one of them sounds at a time. A kind is added in two places:

- here: a module that makes a `HandoutBlock` of it, as `part` does. Its `HtmlBlock` has the name of
  the kind, drawings that can be read and printed without any script, and ``data`` as short rows of
  facts and numbers; sentences come from ``words`` through `Speech`. `make_page` puts blocks on a
  page, several of a kind too.
- in ``data/scripts``: a module that sets a block up, ``setUp(el, data, dock)``, named in the table
  ``KINDS`` of ``handout.js``. What all blocks share it asks of the dock (``dock.js``): `take`, to
  have it (what another block plays ends, and that block is told to `release`), `point` for a note
  that is tapped, `show` for one that is only looked at, ``dock.player.ready()`` for tones of its
  own. A block with a ``route`` can be played; long texts and further drawings come out of
  ``packed.js``.

Boxes to tick are part of a block of any kind (`Boxes`); ``ticks.js`` keeps them on the device under
the names of page and block. What else a block must remember goes through ``remember`` of
``kept.js``, under the block's name, which therefore says what it is and is the same when a page is
made anew.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.htmlfile.page import HtmlPage, html_file
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact
from handslide.ground.progress import ProgressCallback, silent
from handslide.jobs.handout.block import HandoutBlock
from handslide.jobs.handout.part import part_block
from handslide.jobs.mark.mark import MarkedPart, MarkOptions, choose_for
from handslide.jobs.mark.pdfwishes import NO_WISHES, open_source
from handslide.jobs.mark.slideview import slide_view
from handslide.jobs.practice.playalong import TEMPOS_QPM
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.jobs.setup import Setup
from handslide.words import handout as words
from handslide.words.horns import horn_line, limits_line
from handslide.words.speech import Speech

ENDING = ".html"
LOOKS = ("auto", "light", "dark")


@dataclass(frozen=True, slots=True)
class HandoutWishes:
    """What stands in a hand-out and how it looks at first.

    ``tempo_qpm`` is the tempo at the start of what the page calls 100 %, in quarter notes a minute
    (None: that of the part, else 80). ``measures``: such as 5-12. ``others``: the score's other
    parts sound along. ``large`` type; ``look``: one of `LOOKS`.
    """

    mark: MarkOptions = field(default_factory=MarkOptions)
    tempo_qpm: float | None = None
    measures: str | None = None
    others: bool = True
    large: bool = False
    look: str = LOOKS[0]


@dataclass(frozen=True, slots=True)
class Handout:
    """A hand-out as made."""

    title: str
    part_name: str
    blocks: tuple[HandoutBlock, ...]
    data: bytes

    @property
    def told(self) -> tuple[Fact, ...]:
        """What should be known of it, each once."""
        return tuple(dict.fromkeys(told for block in self.blocks for told in block.told))


def make_handout(path: Path, setup: Setup, wishes: HandoutWishes, say: Speech) -> Handout:
    """A hand-out of a part of a score file. Raises ScoreError, BadUsage, BadData."""
    low, high = TEMPOS_QPM
    if wishes.tempo_qpm is not None and not low <= wishes.tempo_qpm <= high:
        raise BadUsage("practice.tempo", tempo_qpm=wishes.tempo_qpm, low=low, high=high)
    score, source = open_source(path, NO_WISHES, say)
    marked = choose_for(score, setup, wishes.mark, source=source)
    return part_handout(marked, wishes, say)


def part_handout(
    marked: MarkedPart,
    wishes: HandoutWishes,
    say: Speech,
    progress: ProgressCallback = silent,
) -> Handout:
    """A hand-out of a part that is marked already. Raises ScoreError, BadUsage."""
    say = say.on_paper
    part, options = marked.part, marked.options
    play = PlayWishes(
        small_notes=options.small_notes, sounds=options.sounds, others=wishes.others,
        measures=wishes.measures, a4_hz=marked.routed.setup.horn.a4_hz,
    )  # fmt: skip
    speed = 1.0 if wishes.tempo_qpm is None else wishes.tempo_qpm / part.tempo_qpm
    block = part_block(marked, play, say, speed=speed, progress=progress)
    composer = options.composer or marked.score.composer or ""
    measures = ""
    if wishes.measures is not None:
        measures = say.fact(marked.measures.told(*block.measures))
    lines = (
        " · ".join(filter(None, (composer, part.name, measures))),
        _whose(marked, say),
        horn_line(say, marked.routed.setup.horn),
    )
    data = make_page(marked.title, lines, (block,), wishes, say)
    return Handout(marked.title, part.name, (block,), data)


def make_page(
    title: str,
    lines: Sequence[str],
    blocks: Sequence[HandoutBlock],
    wishes: HandoutWishes | None,
    say: Speech,
    *,
    name: str = "",
    notices: Sequence[str] = (),
    notes: Sequence[tuple[str, str]] = (),
    cautions: Sequence[str] = (),
) -> bytes:
    """A page of blocks as one file; the slide is that of the first block's horn.

    ``wishes`` None: it looks as usual. What is ticked is kept under ``name``. The other texts as
    `HtmlPage` has them.
    """
    wishes = wishes or HandoutWishes()
    glyphs = {key: glyph for block in blocks for key, glyph in block.glyphs.items()}
    horn = slide_view(blocks[0].setup)
    return html_file(
        HtmlPage(
            title=title,
            lines=tuple(filter(None, lines)),
            blocks=tuple(block.html for block in blocks),
            texts=words.page_texts(say),
            data={"horn": {key: horn[key] for key in horn if key != "upright"}},
            glyphs=glyphs,
            language=say.language.code,
            settings={
                "theme": wishes.look,
                "size": "large" if wishes.large else "usual",
                "decimal": say.language.decimal,
                **({"page": name} if name else {}),
            },
            without_script=say(words.WITHOUT_SCRIPT),
            legal=say(words.LICENCES),
            notices=tuple(notices),
            notes=tuple(notes),
            cautions=tuple(cautions),
        )
    )


def _whose(marked: MarkedPart, say: Speech) -> str:
    setup, student = marked.routed.setup, marked.options.student
    name = say(words.FOR, student=student) if student else ""
    return " · ".join(filter(None, (name, limits_line(say, setup.horn, setup.book.limits))))


def write_handout(
    path: Path,
    setup: Setup,
    wishes: HandoutWishes,
    say: Speech,
    target: Path | None = None,
    *,
    force: bool = False,
) -> tuple[Handout, Path]:
    """Make a hand-out and write it (default: FILE-handout.html beside it).

    Raises OutputError, too, where it can't be written.
    """
    target = target or path.with_name(f"{path.stem}-handout{ENDING}")
    check_target(target, force=force)
    made = make_handout(path, setup, wishes, say)
    write_made(made, target, force=force)
    return made, target


def check_target(target: Path, *, force: bool = False) -> None:
    """Raise BadUsage or OutputError for a file that no hand-out can be written to."""
    if target.suffix.lower() not in (ENDING, ".htm"):
        raise BadUsage("handout.ending", file=target.name)
    check_free(target, force=force)


def write_made(made: Handout, target: Path, *, force: bool = False) -> None:
    """Write a hand-out that is made. Raises BadUsage, OutputError."""
    check_target(target, force=force)
    write_result(target, made.data, force=force)


def page_beside(path: Path, *, force: bool = False) -> Path:
    """Where the hand-out of a sheet is written. Raises OutputError where it can't be."""
    check_free(path, force=force)  # what has no name, such as ".", is a folder
    page = path.with_suffix(ENDING)
    check_free(page, force=force)
    return page


def write_page(made: Handout, page: Path, *, force: bool = False) -> Path:
    """Write a hand-out that is made. Raises OutputError."""
    write_result(page, made.data, force=force)
    return page


def handout_json(made: Handout, say: Speech) -> dict[str, Any]:
    """JSON of ``handslide handout``."""
    return {
        "title": made.title,
        "part": made.part_name,
        "bytes": len(made.data),
        "blocks": [
            {
                "kind": block.html.kind,
                "name": block.html.name,
                "notes": block.count,
                "length_s": round(block.length_s, 4),
            }
            for block in made.blocks
        ],
        "warnings": [say.fact(told) for told in made.told],
    }
