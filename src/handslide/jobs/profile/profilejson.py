"""JSON of the commands that learn a profile."""

from typing import Any

from handslide.instrument.horn import Horn
from handslide.instrument.learning.clashes import clashes
from handslide.instrument.learning.example import At, ChosenNote, Question, Wish
from handslide.instrument.learning.learn import Agreement, Learnt, Spot
from handslide.instrument.learning.showing import Change, Shown
from handslide.instrument.marks import mark
from handslide.instrument.markstyle import MarkStyle
from handslide.instrument.places import Place, find_places
from handslide.jobs.mark.report import measure_number
from handslide.jobs.profile.kept import Kept, Learned
from handslide.jobs.profile.partexample import TakenPart
from handslide.jobs.profile.teach import Forgotten, Taught, lock_measure
from handslide.words.profile import change_words, clash_words, left_words, shown_words
from handslide.words.speech import Speech


def taught_json(say: Speech, taught: Taught, style: MarkStyle) -> dict[str, Any]:
    """JSON of ``handslide profile learn``."""
    taken = [_taken_json(say, one, one.example.key in taught.again) for one in taught.taken]
    return {**learned_json(say, taught.learned, style), "taken": taken}


def learned_json(say: Speech, learned: Learned, style: MarkStyle) -> dict[str, Any]:
    """The keys of what was learnt, which all commands that learn have."""
    kept, learnt = learned.kept, learned.learnt
    examples = kept.examples
    return {
        **kept_json(kept),
        "accepted": learnt.accepted,
        "agreement": [_agreement_json(row) for row in learnt.agreement],
        "factors": _factors_json(learnt),
        "left": [_left_json(say, kept, spot, style) for spot in learnt.left],
        "clashes": [
            {
                "one": _at_json(kept, clash.one, style),
                "other": _at_json(kept, clash.other, style),
                "times": list(clash.times),
                "text": clash_words(say, clash, examples, style),
            }
            for clash in clashes(examples)
        ],
        "files": [str(learned.path)],
    }


def kept_json(kept: Kept) -> dict[str, Any]:
    """The keys of a profile and of what it is learnt from."""
    return {
        "name": kept.name,
        "began_from": kept.began_from,
        "examples": [
            {
                "key": one.key,
                "title": one.title,
                "horn": one.stand.horn.name,
                "notes": len(one.notes),
                **{how: sum(note.how == how for note in one.notes) for how in _HOWS},
            }
            for one in kept.examples.examples
        ],
        "answers": len(kept.examples.answers),
    }


_HOWS = ("written", "changed", "kept")


def _taken_json(say: Speech, taken: TakenPart, again: bool) -> dict[str, Any]:
    return {
        "key": taken.example.key,
        **{how: taken.count(how) for how in _HOWS},
        "own_marks": taken.ours,
        "again": again,
        "unused": [
            {"measure": measure_number(measure), "kind": told.kind, "text": say.fact(told)}
            for measure, told in taken.unused
        ],
    }


def _agreement_json(row: Agreement) -> dict[str, Any]:
    names = ("kind", "notes", "base", "learnt", "taken")
    return {name: getattr(row, name) for name in names}


def _factors_json(learnt: Learnt) -> dict[str, Any]:
    factors = learnt.factors
    kinds = {kind: dict(row) for kind, row in factors.by_kind.items()}
    return {"shared": dict(factors.shared), "by_kind": kinds}


def _left_json(say: Speech, kept: Kept, spot: Spot, style: MarkStyle) -> dict[str, Any]:
    note = kept.examples.examples[spot.example].notes[spot.note]
    horn = _horn_of(kept, spot.example)
    return {
        **_note_json(kept, At(spot.example, spot.note)),
        "his": mark(horn, spot.his, style),
        "ours": mark(horn, spot.ours, style),
        "lock": lock_of(note, horn, spot.his, style),
        "text": left_words(say, spot, kept.examples, style),
    }


def lock_of(note: ChosenNote, horn: Horn, place: Place, style: MarkStyle) -> str:
    """A note's place as ``mark --lock`` takes it."""
    return f"{lock_measure(note)}:{note.index}={mark(horn, place, style)}"


def left_lock(kept: Kept, spot: Spot, style: MarkStyle) -> str:
    """A place that isn't explained as ``mark --lock`` takes it."""
    note = kept.examples.examples[spot.example].notes[spot.note]
    return lock_of(note, _horn_of(kept, spot.example), spot.his, style)


def _horn_of(kept: Kept, example: int) -> Horn:
    return kept.examples.examples[example].stand.tuned()


def _note_json(kept: Kept, at: At) -> dict[str, Any]:
    note = kept.examples.note(at)
    return {
        "key": kept.examples.source(at).key,
        "measure": measure_number(note.measure),
        "index": note.index,
        "note": note.spelled,
    }


def _at_json(kept: Kept, at: At, style: MarkStyle) -> dict[str, Any]:
    note = kept.examples.examples[at.example].notes[at.note]
    place = place_of(_horn_of(kept, at.example), note, note.places[0])
    place_mark = None if place is None else mark(_horn_of(kept, at.example), place, style)
    return _note_json(kept, at) | {"mark": place_mark}


def place_of(horn: Horn, note: ChosenNote, wish: Wish) -> Place | None:
    """The place of a note that a wish names; None where the horn hasn't it."""
    places = find_places(horn, note.midi)
    return next((one for one in places if (one.valves, one.partial) == wish), None)


def why_json(
    say: Speech, kept: Kept, found: tuple[Change, ...], style: MarkStyle
) -> dict[str, Any]:
    """JSON of ``handslide profile why``."""
    return {
        **kept_json(kept),
        "changes": [_change_json(say, kept, change, style) for change in found],
    }


def _change_json(say: Speech, kept: Kept, change: Change, style: MarkStyle) -> dict[str, Any]:
    return {
        "what": change.what,
        "factor": None if change.factor is None else round(change.factor, 4),
        "kind": change.kind,
        "notes": change.notes,
        "text": change_words(say, change, kept.examples),
        "shows": [_shown_json(say, kept, shown, style) for shown in change.shows],
    }


def _shown_json(say: Speech, kept: Kept, shown: Shown, style: MarkStyle) -> dict[str, Any]:
    horn = kept.examples.source(shown.at).stand.tuned()
    return {
        **_note_json(kept, shown.at),
        "answered": shown.answered,
        "his": mark(horn, shown.his, style),
        "without": mark(horn, shown.without, style),
        "text": shown_words(say, shown, kept.examples, style),
    }


def forgotten_json(say: Speech, forgotten: Forgotten, style: MarkStyle) -> dict[str, Any]:
    """JSON of ``handslide profile forget``."""
    counts = {"notes": forgotten.notes, "answers": forgotten.answers}
    return {**learned_json(say, forgotten.learned, style), "forgotten": counts}


def question_json(asked: Question, style: MarkStyle) -> dict[str, Any]:
    """A question: its notes, each with the marks of both ways."""
    horn = asked.stand.tuned()
    rows = zip(asked.notes, asked.first, asked.second)
    return {
        "key": asked.key,
        "title": asked.title,
        "notes": [
            {
                "measure": measure_number(note.measure),
                "index": note.index,
                "note": note.spelled,
                "first": _way_json(horn, note, first, style),
                "second": _way_json(horn, note, second, style),
            }
            for note, first, second in rows
        ],
    }


def _way_json(horn: Horn, note: ChosenNote, wish: Wish, style: MarkStyle) -> dict[str, Any]:
    place = place_of(horn, note, wish)
    mark_ = None if place is None else mark(horn, place, style)
    return {"valves": list(wish[0]), "partial": wish[1], "mark": mark_}
