"""What is said of each kind of fact whose topic is ``fitting``: a horn from its notes.

Values: ``row`` is what a note is called, itself a fact; ``valves`` are those that are down; lengths
in mm, differences in cents.
"""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.fitting import fitted_lines
from handslide.words.messages import N_, NN_, Message
from handslide.words.tellers import Teller, by
from handslide.words.translate import Translator

_BY_MARK = NN_(
    "millimetres pinned by the mark at {marks}: {percent:+.2f} % on {temp_c:g} °C",
    "millimetres pinned by the marks at {marks}: {percent:+.2f} % on {temp_c:g} °C",
)
_BY_AIR_AND_MARK = NN_(
    "air in the horn {temp_c:g} °C ± 3; with the mark at {marks}: {percent:+.2f} %",
    "air in the horn {temp_c:g} °C ± 3; with the marks at {marks}: {percent:+.2f} %",
)
# By whether the slide was really further out than the marks say.
_MARKS_OFF: Mapping[bool, Message] = {
    True: NN_(
        "The mark at {marks} seems {off_mm:|.0f|} mm further out than that: measure it again from "
        "the closed slide.",
        "All marks ({marks}) seem {off_mm:|.0f|} mm further out: measure again where the ruler "
        "begins.",
    ),
    False: NN_(
        "The mark at {marks} seems {off_mm:|.0f|} mm further in than that: measure it again from "
        "the closed slide.",
        "All marks ({marks}) seem {off_mm:|.0f|} mm further in: measure again where the ruler "
        "begins.",
    ),
}
_CANT_ENGAGE = N_("{row}: {horn} can't engage that (it has {has})")
_NO_VALVES = N_("{row}: {horn} can't engage that (it has no valves)")


def _scale(message: Message) -> Teller:
    def told_with_marks(say: Translator, told: Fact) -> str:
        marks = [f"{say.number(mark)} mm" for mark in told["marks_mm"]]
        return say(message, count=len(marks), marks=marks, **told.values)

    return told_with_marks


def _place(told: Fact) -> tuple[bool, bool]:
    return bool(told["valves"]), told["extension_mm"] > 0.0


def _above(told: Fact) -> bool:
    return bool(told["off_cents"] > 0.0)


# What a note tells that is asked for next: by the rest of its kind, and whether valves are down.
_ASKS: Mapping[str, Mapping[bool, Message]] = {
    "length": dict.fromkeys(
        (False, True), N_("It tells how long the horn is, on which all places hang.")
    ),
    "loop": dict.fromkeys(
        (False, True),
        N_("It tells how long the loop is: nothing was heard {asks_valves:valves} yet."),
    ),
    "mark": dict.fromkeys(
        (False, True),
        N_("It tells how places out there lie: nothing was heard at this mark yet."),
    ),
    "along": {
        False: N_(
            "It tells whether the {asks_partial:partial} partial gets sharper or flatter along "
            "the slide."
        ),
        True: N_(
            "It tells whether the {asks_partial:partial} partial {asks_valves:valves} gets "
            "sharper or flatter along the slide."
        ),
    },
    "partial": {
        False: N_("It tells how sharp or flat the {asks_partial:partial} partial is."),
        True: N_(
            "It tells how sharp or flat the {asks_partial:partial} partial {asks_valves:valves} is."
        ),
    },
    "again": dict.fromkeys(
        (False, True),
        N_("Once more: it tells how evenly you play, and makes sure of this place."),
    ),
}
# By whether the place that gains most is played with valves.
_GAINS: Mapping[bool, Message] = {
    False: N_("{pitch} will be known within ± {after_mm:.0f} mm instead of ± {before_mm:.0f}."),
    True: N_(
        "{pitch} {valves:valves} will be known within ± {after_mm:.0f} mm instead of "
        "± {before_mm:.0f}."
    ),
}


def _asks(messages: Mapping[bool, Message]) -> Teller:
    def told_with_gain(say: Translator, told: Fact) -> str:
        what, gain = messages[bool(told["asks_valves"])], _GAINS[bool(told["valves"])]
        return f"{say(what, **told.values)} {say(gain, **told.values)}"

    return told_with_gain


def _marks_off(say: Translator, told: Fact) -> str:
    marks = [f"{say.number(mark)} mm" for mark in told["marks_mm"]]
    off_mm = told["off_mm"]
    return say(_MARKS_OFF[off_mm > 0.0], count=len(marks), marks=marks, off_mm=off_mm)


KINDS: Mapping[str, Message | Teller] = {
    # A fitted horn.
    "fitting.fitted_to": lambda say, told: " ".join(fitted_lines(say, told)),
    "fitting.scale_by_mark": _scale(_BY_MARK),
    "fitting.scale_by_air_and_mark": _scale(_BY_AIR_AND_MARK),
    "fitting.scale_by_air": N_("millimetres from the air alone: {temp_c:g} °C ± 3 in the horn"),
    # What the fit noticed; whole sentences.
    "fitting.rows_scatter": N_(
        "Your notes scatter by about {cents:.0f} cents ({low_cents:.0f} to {high_cents:.0f})."
    ),
    "fitting.scatter_unsure": N_(
        "How much your notes scatter can't be told yet ({low_cents:.0f} to {high_cents:.0f} "
        "cents): play them all a second time."
    ),
    "fitting.horn_drifted": by(
        lambda told: told["cents"] > 0.0,
        {
            True: N_("The horn warmed by about {cents:|.0f|} cents from first to last note."),
            False: N_("The horn cooled by about {cents:|.0f|} cents from first to last note."),
        },
    ),
    "fitting.marks_off": _marks_off,
    "fitting.mark_off": by(
        lambda told: told["off_mm"] > 0.0,
        {
            True: N_(
                "The mark at {mark_mm:g} mm seems {off_mm:|.0f|} mm further out than the others: "
                "is it typed right?"
            ),
            False: N_(
                "The mark at {mark_mm:g} mm seems {off_mm:|.0f|} mm further in than the others: "
                "is it typed right?"
            ),
        },
    ),
    # Why a note is asked for next.
    **{f"fitting.asks_{why}": _asks(messages) for why, messages in _ASKS.items()},
    # What a note is called.
    # Translators: {label} is such as "row 3, F3", {what} such as "174.6 Hz with the F valve".
    "fitting.row": N_("{label} ({what})"),
    "fitting.frequency": by(
        _place,
        {
            (False, False): N_("{hz:.1f} Hz"),
            (True, False): N_("{hz:.1f} Hz {valves:valves}"),
            (False, True): N_("{hz:.1f} Hz at {extension_mm:g} mm"),
            (True, True): N_("{hz:.1f} Hz {valves:valves} at {extension_mm:g} mm"),
        },
    ),
    "fitting.listed_note": by(
        _place,
        {
            (False, False): N_("{note}, slide closed"),
            (True, False): N_("{note} {valves:valves}, slide closed"),
            (False, True): N_("{note}, {extension_mm:g} mm out"),
            (True, True): N_("{note} {valves:valves}, {extension_mm:g} mm out"),
        },
    ),
    "fitting.partial": N_("partial {partial}"),
    # Translators: a note in a recording, which is called {take}, and when it was heard there.
    "fitting.heard_note": N_("{note}, {take} at {at_s:.1f} s"),
    "fitting.a_note": N_("a note"),
    "fitting.a_planned_note": N_("a planned note"),
    # Why a note isn't used. These go on after the note itself: "row 3, F3 ... sounds B♭3, not F3".
    "fitting.other_note": N_("sounds {sounds}, not {meant}"),
    "fitting.octave_off": N_("sounds {sounds}, not {meant}: the right note in another octave"),
    "fitting.other_partial": N_("sounds the {sounds:partial} partial, not the {meant:partial}"),
    "fitting.no_partial": by(
        _above,
        {
            True: N_(
                "no partial explains it: it lies {off_cents:|.0f|} cents above the "
                "{partial:partial}"
            ),
            False: N_(
                "no partial explains it: it lies {off_cents:|.0f|} cents below the "
                "{partial:partial}"
            ),
        },
    ),
    "fitting.off_the_others": by(
        _above,
        {
            True: N_("lies {off_cents:|.0f|} cents above what the other notes say"),
            False: N_("lies {off_cents:|.0f|} cents below what the other notes say"),
        },
    ),
    "fitting.alone_at_mark": N_(
        "stands alone there and would fit better at {mark_mm:g} mm, where the others are"
    ),
    # Notes that a horn can't be fitted to.
    "fitting.no_rows": N_(
        "there are no notes to fit a horn from: give at least 3 on the closed slide"
    ),
    "fitting.hz_range": N_("{row}: a frequency must lie within {low_hz:g} to {high_hz:g} Hz"),
    "fitting.se_range": N_(
        "{row}: a standard error of {se_cents:g} cents is outside {low:g} to {high:g}"
    ),
    "fitting.partial_range": N_("{row}: partial {partial} is outside 1 to {most}"),
    "fitting.cant_engage": by(
        lambda told: bool(told["has"]), {True: _CANT_ENGAGE, False: _NO_VALVES}
    ),
    "fitting.negative_extension": N_("{row}: an extension is 0 (closed) or more"),
    "fitting.beyond_slide": N_("{row}: the slide of {horn} ends at {travel_mm:.0f} mm"),
    "fitting.tube_for_extension": N_(
        "{row}: the slide of {horn} ends at {travel_mm:.0f} mm: is that the tube's length, twice "
        "the extension?"
    ),
    "fitting.neither_note_nor_partial": N_(
        "{row}: give the note or the partial that is to be played"
    ),
    "fitting.mark_outside": N_(
        "a mark at {mark_mm:g} mm is outside the slide, which goes out {travel_mm:.0f} mm"
    ),
    "fitting.mark_needed": N_(
        "without a thermometer the millimetres need a mark: play some notes with the slide at a "
        "measured extension of {least_mm:.0f} mm or more, such as 450 mm"
    ),
    "fitting.far_from_base": N_(
        "the closed horn sounds {off_cents:+.0f} cents from {base}: is it the right base horn, A4 "
        "and temperature (at most {most_cents:.0f} cents)?"
    ),
    # Translators: {why} goes on after {row}: "row 3, F3 (170.0 Hz) sounds E3, not F3".
    "fitting.contradictory": N_(
        "{left_out} of {total} notes don't fit together (the first: {row} {why}): is it the right "
        "base horn, are valves and extensions typed right?"
    ),
    "fitting.no_closed_note": N_(
        "no usable note on the closed slide without valves: the horn's length comes from these"
    ),
    "fitting.few_closed_notes": N_(
        "usable notes on the closed slide without valves: {usable}; at least {least}, on 2 "
        "partials or more, are needed"
    ),
    # Takes of a list.
    "fitting.none_listed": NN_(
        "{take}: its {count} note isn't on the list: is it the right take, horn and list?",
        "{take}: none of its {count} notes is on the list: is it the right take, horn and list?",
    ),
    "fitting.none_in_list": NN_(
        "{take}: its {count} note isn't on the list {listed}: is it the right take, horn and list?",
        "{take}: none of its {count} notes is on the list {listed}: is it the right take, horn and "
        "list?",
    ),
    # Typed in the studio.
    "fitting.give_mark": N_("give a distance in mm, such as 450"),
    "fitting.give_cents": N_("give a number of cents, such as -12 ct"),
    "fitting.give_hz_or_cents": N_(
        "give a frequency in Hz, such as 174.2, or cents, such as -12 ct"
    ),
    # Translators: {note} is such as "F3, slide closed".
    "fitting.typed_note": N_("{note}: {problem}"),
    "fitting.no_name_for_cents": N_("give Hz: this note has no name to count cents from"),
    "fitting.negative_mark": N_("a mark at {mark_mm:g} mm can't be: give how far the slide is out"),
    "fitting.no_scale": N_(
        "without a thermometer the scale comes from a mark on the slide: choose one, or give the "
        "temperature"
    ),
    "fitting.too_many_notes": NN_(
        "{count} note is more than a fit takes: leave out some of them",
        "{count} notes are more than a fit takes: leave out some of them",
    ),
    "fitting.unread_note": N_("a note that this page carries can't be read: enter it again"),
    # A note of a lesson.
    "fitting.no_places": N_("this student reaches no usual place on this horn: look at the reach"),
    "fitting.not_taken": N_("That wasn't it: {row}: {why}. Once more, or another note."),
    "fitting.unread_list": N_("the list that this page carries can't be read: begin again"),
}
