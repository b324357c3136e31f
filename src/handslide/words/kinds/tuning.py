"""What is said of each kind of fact whose topic is ``tuning``: slides to move, and what was heard.

Values: ``valve`` and ``slide`` are names of valves (``main``: the main slide), ``valves`` those
that are down, lengths in mm, differences in cents.
"""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.messages import N_, NN_, Message
from handslide.words.tellers import Teller, by, with_or_without
from handslide.words.translate import Translator
from handslide.words.tuning import heard_words, moved_slide_words, slide_move_words


def _sharp(told: Fact) -> bool:
    return bool(told["difference_cents"] > 0)


# Translators: {instead} says the same of moving the other valves' slides, separated by semicolons.
_ALONE_OR = N_(
    "The {valve:valve} valve alone moves by {alone_cents:+.0f} cents; {instead} (the first valve "
    "is tuned first: common practice)."
)


_NO_PAIR = N_("no takes were given: give one take of both by turns, or two takes")
_PAIRS = NN_(
    "{count} take was given: give one take of both by turns, or two takes",
    "{count} takes were given: give one take of both by turns, or two takes",
)
_NO_NOTE = N_("no takes were given: give one take of the note")
_NOTES = NN_(
    "{count} take was given: give one take of the note",
    "{count} takes were given: give one take of the note",
)


def _moves_alone_or(say: Translator, told: Fact) -> str:
    instead = "; ".join(say.written(one) for one in told["instead"])
    return say(_ALONE_OR, **{**told.values, "instead": instead})


KINDS: Mapping[str, Message | Teller] = {
    # What was heard.
    "tuning.against_open_horn": by(
        _sharp,
        {
            True: N_(
                "{pitch} {valves:valves} sounds {difference_cents:|.1f|} ± {se_cents:.1f} cents "
                "sharp of the open horn ({valve_hz:.2f} against {open_hz:.2f} Hz)."
            ),
            False: N_(
                "{pitch} {valves:valves} sounds {difference_cents:|.1f|} ± {se_cents:.1f} cents "
                "flat of the open horn ({valve_hz:.2f} against {open_hz:.2f} Hz)."
            ),
        },
    ),
    "tuning.against_a4": by(
        lambda told: (_sharp(told), bool(told["valves"])),
        {
            (True, False): N_(
                "{pitch} sounds {difference_cents:|.1f|} ± {se_cents:.1f} cents sharp of A4 = "
                "{a4_hz:g} Hz ({hz:.2f} against {target_hz:.2f} Hz)."
            ),
            (False, False): N_(
                "{pitch} sounds {difference_cents:|.1f|} ± {se_cents:.1f} cents flat of A4 = "
                "{a4_hz:g} Hz ({hz:.2f} against {target_hz:.2f} Hz)."
            ),
            (True, True): N_(
                "{pitch} {valves:valves} sounds {difference_cents:|.1f|} ± {se_cents:.1f} cents "
                "sharp of A4 = {a4_hz:g} Hz ({hz:.2f} against {target_hz:.2f} Hz)."
            ),
            (False, True): N_(
                "{pitch} {valves:valves} sounds {difference_cents:|.1f|} ± {se_cents:.1f} cents "
                "flat of A4 = {a4_hz:g} Hz ({hz:.2f} against {target_hz:.2f} Hz)."
            ),
        },
    ),
    "tuning.notes_against_a4": by(
        lambda told: (told["low_cents"] > 0) - (told["high_cents"] < 0),
        {
            1: N_(
                "The notes sound {low_cents:.0f} to {high_cents:.0f} cents sharp of A4 = "
                "{a4_hz:g} Hz, all the same way, so it is the slide and not the lip: "
                "{difference_cents:|.1f|} ± {se_cents:.1f} on average."
            ),
            -1: N_(
                "The notes sound {high_cents:|.0f|} to {low_cents:|.0f|} cents flat of A4 = "
                "{a4_hz:g} Hz, all the same way, so it is the slide and not the lip: "
                "{difference_cents:|.1f|} ± {se_cents:.1f} on average."
            ),
            0: N_(
                "The notes lie from {low_cents:+.0f} to {high_cents:+.0f} cents about A4 = "
                "{a4_hz:g} Hz: {difference_cents:+.1f} ± {se_cents:.1f} on average."
            ),
        },
    ),
    "tuning.notes_disagree": N_(
        "They lie {apart_cents:.0f} cents apart: no slide takes that away, it is the lip or the "
        "horn. The slide is set for their middle."
    ),
    "tuning.no_notes": N_("no note was heard yet"),
    "tuning.own_offset": N_(
        "But the {partial:partial} partial lies {own_cents:+.0f} cents from equal temperament by "
        "itself: tune with a note on the 2nd, 4th or 8th."
    ),
    # What to do.
    "tuning.move": slide_move_words,
    "tuning.leave": by(
        lambda told: told["slide"] == "main",
        {
            True: N_("Leave the main slide where it is."),
            False: N_("Leave the {slide:valve} loop's slide where it is."),
        },
    ),
    "tuning.heard": heard_words,
    # What else there is to know.
    "tuning.air": N_(
        "Air in the horn {temp_c:g} °C, A4 = {a4_hz:g} Hz. A degree warmer is {degree_cents:.1f} "
        "cents sharper, on open and valve notes alike."
    ),
    "tuning.holds_for_air": N_(
        "This holds for air of {temp_c:g} °C in the horn; each degree more makes it "
        "{degree_cents:.1f} cents sharper ({degree_mm:.1f} mm)."
    ),
    "tuning.target_later": N_(
        "The target is the one that at {play_temp_c:g} °C becomes A4 = {a4_hz:g} Hz: from "
        "{temp_c:g} °C the horn moves by {rise_cents:+.1f} cents by itself."
    ),
    # Translators: {loops} is such as "F +3 and G♭ +2": valves with cents.
    "tuning.loops_after_main": N_(
        "Tune the loops after it: against the open horn they move by {loops} cents."
    ),
    # Translators: a valve with the cents by which its notes move.
    "tuning.loop_moves": N_("{valve:valve} {off_cents:+.0f}"),
    "tuning.only_together": N_("The {valve:valve} loop changes only the notes with both valves."),
    "tuning.moves_alone": N_(
        "The {valve:valve} valve alone moves by {alone_cents:+.0f} cents (the first valve is tuned "
        "first: common practice)."
    ),
    "tuning.moves_alone_or": _moves_alone_or,
    "tuning.moved_instead": N_(
        "moving the {valve:valve} loop instead would move {valve:valve} alone by "
        "{alone_cents:+.0f} cents"
    ),
    "tuning.sound_together": N_(
        "{valves:together} together will then sound {pitch:class} {off_cents:+.0f} cents: loops "
        "add, so one moves the pair."
    ),
    # A loop pulled for a low note.
    "tuning.no_pull": N_(
        "No pull is needed: {pitch} lies at {extension_mm:.0f} mm, within the slide's "
        "{travel_mm:.0f} mm."
    ),
    "tuning.pull_loop": N_(
        "Pull the {valve:valve} loop out by {pull_mm:g} mm: then {pitch} lies at the end of the "
        "slide ({extension_mm:.0f} mm)."
    ),
    "tuning.pulled_then": by(
        lambda told: told["flat_cents"] > 0,
        {
            True: N_(
                "The closed slide with it is then {semitones:.2f} semitones below the open horn: "
                "{pitch:class} {flat_cents:|.0f|} cents flat, and all notes with the valve need "
                "other positions."
            ),
            False: N_(
                "The closed slide with it is then {semitones:.2f} semitones below the open horn: "
                "{pitch:class} {flat_cents:|.0f|} cents sharp, and all notes with the valve need "
                "other positions."
            ),
        },
    ),
    "tuning.valve_shortens": N_(
        "the valve {valve:valve} of {horn} shortens the tube: it has no E-pull"
    ),
    "tuning.low_note_too_high": with_or_without(
        N_("{target_hz:.2f} Hz lies above the closed slide {valves:valves}: is the octave right?"),
        N_("{target_hz:.2f} Hz lies above the closed slide: is the octave right?"),
    ),
    "tuning.loop_too_short": N_(
        "the {valve:valve} loop would have to come out {pull_mm:.0f} mm and has at most "
        "{most_mm:.0f}: with that the note is missed by {missing_mm:.0f} mm of slide "
        "({missing_cents:.0f} cents)"
    ),
    # Notes and frequencies that can't be right.
    "tuning.no_frequency": N_("{hz:g} Hz isn't a frequency"),
    "tuning.no_closed_note": with_or_without(
        N_(
            "{hz:g} Hz is {off_cents:.0f} cents from the nearest note of the closed slide "
            "{valves:valves} (partial {partial}): was the slide closed, is it the right horn?"
        ),
        N_(
            "{hz:g} Hz is {off_cents:.0f} cents from the nearest note of the closed slide (partial "
            "{partial}): was the slide closed, is it the right horn?"
        ),
    ),
    "tuning.pair_octaves": N_(
        "{open_hz:g} Hz and {valve_hz:g} Hz are {apart_cents:.0f} cents apart: one is an octave "
        "higher"
    ),
    "tuning.no_pair": N_(
        "{open_hz:g} Hz and {valve_hz:g} Hz are {apart_cents:.0f} cents apart: is it the same "
        "note, with closed slide?"
    ),
    "tuning.octave_off": N_(
        "{hz:g} Hz is {off_cents:.0f} cents from {target_hz:.2f} Hz: an octave off (is the note's "
        "name right?)"
    ),
    "tuning.other_note": N_(
        "{hz:g} Hz is {off_cents:.0f} cents from {target_hz:.2f} Hz (is the note's name right?)"
    ),
    "tuning.not_note_hz": N_("{text!q} isn't a note with its frequency: write it like F3=174.2"),
    "tuning.no_hz_of_note": N_(
        "{text!q}: write its frequency, like {example}, or give one take of it"
    ),
    # Valves.
    "tuning.no_valve": N_("{horn} has no valve: tune its main slide"),
    "tuning.which_valve": N_("{horn} has the valves {has}: say which were down"),
    "tuning.no_such_valve": N_("{horn} has no valve {valve!q} (its valves: {has})"),
    "tuning.needs_other_valve": N_(
        "{horn} can't engage {valves:together} without the valve it needs"
    ),
    # Takes to tune by.
    "tuning.no_steady_note": N_("{take}: no steady note was heard"),
    "tuning.several_notes": N_(
        "{take}: its notes lie {apart_cents:.0f} cents apart: play one and the same note"
    ),
    "tuning.two_notes_needed": NN_(
        "{take}: {count} steady note; two are needed: the note on the open horn, then with the "
        "valve",
        "{take}: {count} steady notes; two are needed: the note on the open horn, then with the "
        "valve",
    ),
    "tuning.many_takes": NN_(
        "{count} take: give one of each, first open, then with the valve",
        "{count} takes: give one of each, first open, then with the valve",
    ),
    # Slides that were moved.
    "tuning.moved_slide": moved_slide_words,
    "tuning.no_such_slide": N_("{horn} has no slide called {slide!q}"),
    "tuning.moved_too_far": N_(
        "a tuning slide moved by {moved_mm:g} mm: give how far it was moved, up to {most_mm:g} mm"
    ),
    "tuning.tube_too_short": N_("a tube of {tube_mm:.0f} mm can't get {by_mm:.0f} mm shorter"),
    # Typed in the studio. {wanted} is one of the next seven.
    "tuning.unread_number": N_("{text!q} can't be read: {wanted}"),
    "tuning.give_hz": N_("give a frequency in Hz, such as 231.5"),
    "tuning.give_open_hz": N_(
        "give a frequency in Hz for the note without the valve, such as 174.2"
    ),
    "tuning.give_valve_hz": N_("give a frequency in Hz for the note with the valve, such as 174.2"),
    "tuning.give_length": N_("give a length in mm, such as 150"),
    "tuning.give_temp": N_("give a temperature in °C, such as 22"),
    "tuning.give_moved": N_("say how far the slide was moved in mm, such as 12.5"),
    "tuning.impossible_move": N_(
        "the slide can't have moved by {moved_mm:g} mm: give more than 0 and at most {most_mm:g} "
        "mm, and which way beside it"
    ),
    "tuning.which_way": N_("say which way the slide was moved: out or in"),
    "tuning.unread_heard": N_("what was heard before can't be read: play the notes again"),
    "tuning.main_by_one_note": N_("the main slide is tuned by one note without valves"),
    "tuning.takes_for_pair": by(lambda told: told["count"] == 0, {True: _NO_PAIR, False: _PAIRS}),
    "tuning.takes_for_note": by(lambda told: told["count"] == 0, {True: _NO_NOTE, False: _NOTES}),
    "tuning.no_such_step": N_("this horn has no such slide to tune"),
    "tuning.not_students_horn": N_("this horn isn't this student's"),
}
