"""Learning a profile from parts, and forgetting what it was learnt from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from handslide.ground.cleantext import clean_line
from handslide.ground.errors import BadUsage
from handslide.ground.progress import ProgressCallback, silent
from handslide.ground.wholenumber import whole_number
from handslide.instrument.learning.example import (
    Answer,
    ChosenNote,
    Example,
    Examples,
    Stand,
)
from handslide.jobs.mark.pdfwishes import NO_WISHES, open_source
from handslide.jobs.partwishes import PartWishes, read_wished
from handslide.jobs.profile.kept import Learned, change, find_kept, open_kept
from handslide.jobs.profile.partexample import (
    TO_THE_END,
    TakenPart,
    plain_example,
    setup_on,
    take_part,
)
from handslide.words.speech import Speech

_STAND = "stand:"


@dataclass(frozen=True, slots=True)
class Taught:
    """What was learnt, and what was taken from each part; ``again`` are the keys of those that had
    been learnt from before."""

    learned: Learned
    taken: tuple[TakenPart, ...]
    again: frozenset[str]


def learn_from(
    name: str,
    files: Sequence[Path],
    stand: Stand,
    wishes: PartWishes,
    say: Speech,
    *,
    marks: str = "",
    seen: str | None = None,
    base: str | None = None,
    studio: Examples | None = None,
    progress: ProgressCallback | None = None,
) -> Taught:
    """Learn the profile ``name`` from parts, and from what a ``studio`` has, beside what it was
    learnt from before; without any, learn it again.

    ``seen`` is the last measure that was read, `TO_THE_END` for all. ``base`` None: as before, or
    the profile of the horn. All parts are read before anything is written.

    Raises
    ------
    ScoreError, BadData
        A part that can't be read or has nothing to learn from, files that can't be read.
    BadUsage
        A name, base or measure that can't be.
    OutputError
        When the profile can't be written.
    """
    if seen is not None and seen.strip() != TO_THE_END and len(files) != 1:
        raise BadUsage("profile.seen_of_several")
    tell = progress or silent
    new = bool(files) or studio is not None
    kept = (open_kept if new else find_kept)(name, base)
    taken: list[TakenPart] = []
    for number, file in enumerate(files):
        tell("reading", number, len(files))
        taken.append(_take(file, stand, wishes, say, kept.began_from, marks, seen))
    keys = [one.example.key for one in taken]
    for key in keys:
        if keys.count(key) > 1:
            raise BadUsage("profile.same_name", file=key)
    fresh = {one.example.key: one.example for one in taken}
    tell("learning", 0, 1)
    before = frozenset(one.key for one in kept.examples.examples)
    learned = change(name, lambda held: _with(held, fresh, studio), base, new=new)
    return Taught(learned, tuple(taken), before & fresh.keys())


def _take(
    file: Path,
    stand: Stand,
    wishes: PartWishes,
    say: Speech,
    began_from: str,
    marks: str,
    seen: str | None,
) -> TakenPart:
    score, _ = open_source(file, NO_WISHES, say)
    setup = setup_on(stand, began_from, marks)
    part = read_wished(score, wishes)
    plain = plain_example(score, part, file.name, wishes, stand)
    return take_part(score, part, plain, setup, seen)


def _with(held: Examples, fresh: dict[str, Example], studio: Examples | None) -> Examples:
    """The examples with those of now in the place of those of the same key."""
    examples, answers = held.examples, held.answers
    if studio is not None:
        # What was taken back there is to be gone here.
        examples = tuple(one for one in examples if not one.key.startswith(_STAND))
        answers = tuple(one for one in answers if not one.question.key.startswith(_STAND))
        examples, answers = examples + studio.examples, answers + studio.answers
    keys = {one.key for one in examples}
    kept = tuple(fresh.get(one.key, one) for one in examples)
    added = tuple(one for key, one in fresh.items() if key not in keys)
    return Examples(kept + added, answers)


@dataclass(frozen=True, slots=True)
class Forgotten:
    """What was learnt from the rest, and how many ``notes`` and ``answers`` were forgotten."""

    learned: Learned
    notes: int
    answers: int


def forget(name: str, part: str | None = None, spot: str | None = None) -> Forgotten:
    """Forget all that a profile was learnt from, or one part of it, or one note of that part
    (``MEASURE:INDEX``), and learn it from the rest.

    Raises
    ------
    BadUsage
        A part or note that it wasn't learnt from.
    BadData, OutputError
        As `change`.
    """
    counts = [0, 0]

    def without(held: Examples) -> Examples:
        left = Examples() if part is None else _without(held, part, spot)
        counts[:] = _chosen(held) - _chosen(left), len(held.answers) - len(left.answers)
        return left

    learned = change(name, without)
    return Forgotten(learned, *counts)


def _chosen(examples: Examples) -> int:
    return sum(note.how is not None for one in examples.examples for note in one.notes)


def _without(held: Examples, part: str, spot: str | None) -> Examples:
    titles = {one.question.key: one.question.title for one in held.answers}
    titles |= {one.key: one.title for one in held.examples}
    keys = _keys(part, titles)
    if not keys:
        raise BadUsage("profile.no_part", part=part, known=tuple(titles))
    if spot is None:
        return Examples(
            tuple(one for one in held.examples if one.key not in keys),
            tuple(one for one in held.answers if one.question.key not in keys),
        )
    measure, _, index = spot.rpartition(":")
    number = whole_number(index)
    if not measure or number is None:
        raise BadUsage("profile.not_a_spot", text=spot)
    left = Examples(
        tuple(
            _without_note(one, measure, number) if one.key in keys else one for one in held.examples
        ),
        tuple(
            one
            for one in held.answers
            if one.question.key not in keys or not _asks_of(one, measure, number)
        ),
    )
    if left == held:
        raise BadUsage("profile.no_choice_there", part=part, spot=spot)
    return replace(left, examples=tuple(one for one in left.examples if _has_choice(one)))


def _keys(part: str, titles: Mapping[str, str]) -> frozenset[str]:
    """The keys that a part means: its own, those of the parts of the file of that name, or the one
    of that title."""
    file = clean_line(Path(part).name)
    for name in (part, file):
        if name in titles:
            return frozenset((name,))
    within = frozenset(key for key in titles if key.startswith(f"{file}#"))
    called = frozenset(key for key, title in titles.items() if title == part)
    return within or (called if len(called) == 1 else frozenset())


def _is_at(note: ChosenNote, measure: str, index: int) -> bool:
    """Whether a note is there: its measure by its whole name, or as a lock names it."""
    return note.index == index and measure.strip() in (note.measure, lock_measure(note))


def lock_measure(note: ChosenNote) -> str:
    """The measure of a note as a lock names it: its number, or ``#45`` where that isn't one."""
    before, _, after = note.measure.rpartition(" (#")
    if before and after.endswith(")"):
        return f"#{after.removesuffix(')')}"
    return note.measure.rpartition(": ")[2]


def _without_note(one: Example, measure: str, index: int) -> Example:
    notes = tuple(
        replace(note, how=None, places=()) if _is_at(note, measure, index) else note
        for note in one.notes
    )
    return replace(one, notes=notes)


def _asks_of(one: Answer, measure: str, index: int) -> bool:
    asked = one.question
    rows = zip(asked.notes, asked.first, asked.second)
    return any(_is_at(note, measure, index) for note, a, b in rows if a != b)


def _has_choice(one: Example) -> bool:
    return any(note.how is not None for note in one.notes)
