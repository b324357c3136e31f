"""A run over a library, and what a search found, as text for a terminal."""

from collections.abc import Sequence

from handslide.faces.cli.show import table
from handslide.jobs.library.library import LibraryRun
from handslide.jobs.library.search import Found
from handslide.words import library as words
from handslide.words.listing import WRITTEN
from handslide.words.speech import Speech

_TOLD = 10


def run_text(say: Speech, run: LibraryRun, files: Sequence[str]) -> str:
    """What a run came to: counts, what went wrong, and where the rest is told."""
    done, waiting = run.counts["done"], run.counts["to_do"]
    said = [say(words.FILES, count=run.files)]
    if run.rehearsed:
        said.append(say(words.WOULD, count=waiting - run.copied))
    else:
        said.append(say(words.MARKED, count=done))
        said.append(say(words.MADE, count=run.made))
    if run.copied:
        said.append(say(words.COPIED, count=run.copied))
    if waiting and not run.rehearsed:
        said.append(say(words.TO_DO, count=waiting))
    if run.failed:
        said.append(say(words.FAILED, count=len(run.failed)))
    if run.problems:
        said.append(say(words.UNREAD, count=len(run.problems)))
    lines = ["; ".join(said)]
    left = sum(not row.taken for _, row in run.chosen)
    if left:
        lines.append(f"{say.sentence(say(words.LEFT, count=left))} "
                     + say(words.CORRECT, folder=run.folder))  # fmt: skip
    told = [f"{path}: {say.fact(why)}" for path, why in run.problems]
    told += [f"{row.target.path}: {say.fact(why)}" for row, why in run.failed]
    lines += told[:_TOLD]
    if run.stopped:
        lines.append(say(words.STOPPED))
    lines += [say(WRITTEN, file=file) for file in files]
    return "\n".join(lines)


def found_text(say: Speech, found: Sequence[Found], count: int) -> str:
    """A table of what a search found."""
    if not found:
        return say(words.NOTHING_FOUND)
    rows = [
        (
            words.span(say, one.grade.low, one.grade.high),
            words.furthest(say, one.grade.position),
            words.quickest(say, one.grade.speed_m_s),
            words.valves_used(say, one.grade.valves),
            words.unplayable(say, one.grade.unplayable, one.grade.notes),
            one.row.target.path,
        )
        for one in found
    ]
    heads = words.RANGE, words.REACH, words.QUICKEST, words.VALVES, words.UNPLAYABLE, words.PART
    text = table(rows, [say(head) for head in heads], indent="")
    more = count - len(found)
    return f"{text}\n{say(words.FOUND_MORE, count=more)}" if more else text
