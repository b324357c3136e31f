"""What was learnt of a teacher's choices as plain text for a terminal."""

from collections.abc import Sequence

from handslide.edges.files.profiles import BY_HORN
from handslide.faces.cli.show import listed, table
from handslide.instrument.learning.clashes import clashes
from handslide.instrument.learning.example import Question
from handslide.instrument.learning.learn import Agreement
from handslide.instrument.learning.showing import Change
from handslide.instrument.marks import mark
from handslide.instrument.markstyle import MarkStyle
from handslide.jobs.profile.kept import Kept, Learned
from handslide.jobs.profile.partexample import TakenPart
from handslide.jobs.profile.profilejson import left_lock
from handslide.jobs.profile.teach import Forgotten, Taught
from handslide.jobs.profile.ways import Ways
from handslide.jobs.setup import Setup
from handslide.words import learnt as words
from handslide.words import listing
from handslide.words.profile import (
    COMPARED,
    change_words,
    clash_words,
    kind_words,
    left_words,
    shown_words,
)
from handslide.words.report import MORE
from handslide.words.speech import Speech

_MOST = 20


def taught_text(say: Speech, taught: Taught, style: MarkStyle) -> str:
    """What was taken from each part, and what was learnt."""
    taken = [_taken_text(say, one, one.example.key in taught.again) for one in taught.taken]
    return "\n\n".join([*taken, learned_text(say, taught.learned, style)])


def _taken_text(say: Speech, taken: TakenPart, again: bool) -> str:
    kinds = ("written", words.WRITTEN), ("changed", words.CHANGED), ("kept", words.STANDING)
    counted = ((message, taken.count(how)) for how, message in kinds)
    counts = say.listed([say(message, count=count) for message, count in counted if count])
    one = taken.example
    parts = [say(words.TAKEN, title=one.title, key=one.key, counts=counts)]
    parts += [say(words.AGAIN)] if again else []
    parts += [say(words.OURS, count=taken.ours)] if taken.ours else []
    if taken.unused:
        rows = [(measure, say.fact(told)) for measure, told in taken.unused]
        parts += [say(words.UNUSED), *_some(say, rows)]
    return "\n".join(parts)


def learned_text(say: Speech, learned: Learned, style: MarkStyle) -> str:
    """What was learnt, whether it holds, what it can't explain, what contradicts itself."""
    kept, learnt = learned.kept, learned.learnt
    parts = [_basis(say, kept)]
    parts += [_agreement(say, kept, row) for row in learnt.agreement]
    left = [
        (f"--lock {left_lock(kept, spot, style)}", left_words(say, spot, kept.examples, style))
        for spot in learnt.left
    ]
    if left:
        parts += [say(words.LEFT), *_some(say, left)]
    told = [clash_words(say, clash, kept.examples, style) for clash in clashes(kept.examples)]
    if told:
        parts += [say(words.CLASHES), *_some(say, [(text,) for text in told])]
    files = [say(listing.WRITTEN, file=learned.path), say(words.USE, name=kept.name)]
    return "\n".join([*parts, *files])


def _some(say: Speech, rows: Sequence[tuple[str, ...]]) -> list[str]:
    """The first rows as a table, and how many more there are."""
    more = len(rows) - _MOST
    return [table(rows[:_MOST]), *([f"  {say(MORE, count=more)}"] if more > 0 else [])]


def began(say: Speech, kept: Kept) -> str:
    """The name of the profile that one began from, as words have it."""
    return say(words.BY_HORN) if kept.began_from == BY_HORN else kept.began_from


def _basis(say: Speech, kept: Kept) -> str:
    """How much there is to learn from."""
    examples = kept.examples
    kinds = ("written", words.WRITTEN), ("changed", words.CHANGED), ("kept", words.STANDING)
    notes = [note for one in examples.examples for note in one.notes]
    counted = [(message, sum(note.how == how for note in notes)) for how, message in kinds]
    counted.append((words.ANSWERS, len(examples.answers)))
    counts = [say(message, count=count) for message, count in counted if count]
    if not counts:
        return say(words.FROM_NOTHING, name=kept.name, began_from=began(say, kept))
    return say(words.LEARNT_FROM, name=kept.name, counts=say.listed(counts))


def _agreement(say: Speech, kept: Kept, row: Agreement) -> str:
    kind = kind_words(say, row.kind)
    if not row.notes:
        return say(words.TOO_LITTLE, kind=kind)
    return say(
        words.TAKES if row.taken else words.KEEPS,
        kind=kind,
        notes=row.notes,
        learnt=row.learnt,
        base=row.base,
        began_from=began(say, kept),
    )


def why_text(say: Speech, kept: Kept, found: Sequence[Change], style: MarkStyle) -> str:
    """What sets a profile apart, each change with two places in the music."""
    parts = [_basis(say, kept)]
    if found:
        parts.append(say(COMPARED))
    elif kept.factors():
        parts.append(say(words.NOTHING_SHOWS, name=kept.name))
    else:
        parts.append(say(words.NOTHING_LEARNT, name=kept.name, began_from=began(say, kept)))
    for change in found:
        shown = [shown_words(say, one, kept.examples, style) for one in change.shows]
        parts.append(listed(change_words(say, change, kept.examples), shown, ""))
    return "\n".join(parts)


def forgotten_text(say: Speech, forgotten: Forgotten, style: MarkStyle) -> str:
    """What was forgotten, and what is learnt from the rest."""
    counts = [say(words.NOTES, count=forgotten.notes)]
    if forgotten.answers:
        counts.append(say(words.ANSWERS, count=forgotten.answers))
    said = say(words.FORGOTTEN, counts=say.listed(counts))
    return f"{said}\n{learned_text(say, forgotten.learned, style)}"


def question_text(say: Speech, setup: Setup, asked: Question) -> str:
    """A question: where it is, and both ways with their marks and in words."""
    where = say(words.WHERE, title=asked.title, measure=asked.notes[0].measure)
    ways = Ways(setup, asked)
    lines = [f"{say(words.WHICH)} {where}"]
    for number, places, told in zip((1, 2), ways.places, ways.words(say)):
        marks = "  ".join(mark(setup.horn, places[note], setup.style) for note in ways.near)
        lines.append("  " + say(words.WAY, number=str(number), marks=marks, words=told))
    return "\n".join(lines)
