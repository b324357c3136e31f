"""What is said of each kind of fact whose topic is ``habits``."""

from collections.abc import Mapping

from handslide.words.habits import (
    habit_group,
    habit_words,
    how_move,
    how_slide,
    note_off,
    pitch_off,
    slide_off,
)
from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    "habits.all": habit_words,
    "habits.away": habit_words,
    "habits.out": habit_words,
    "habits.in": habit_words,
    "habits.place": habit_words,
    "habits.closed_place": habit_words,
    "habits.valve": habit_words,
    "habits.partial": habit_words,
    "habits.move": habit_words,
    "habits.scoop": habit_words,
    "habits.fall": habit_words,
    "habits.group": habit_group,
    # Why to practise it.
    "habits.slide_off": slide_off,
    "habits.pitch_off": pitch_off,
    "habits.note_off": note_off,
    # How to practise it.
    "habits.how_move": how_move,
    "habits.how_slide": how_slide,
    "habits.how_scoop": N_("start with air only, then a soft tongue, right on the pitch"),
    "habits.how_fall": N_("long notes with a steady stream of air to the very end"),
    "habits.how_valve": N_("hold it against a drone with and without the valve"),
    "habits.how_rest": N_("hold it against a drone and find where it rests"),
    "habits.how_drone": N_("hold it against a drone"),
    "habits.how_note": N_(
        "hold it against a drone until the beats stop, then play it in its place"
    ),
    "habits.how_faults": N_("sing it, buzz it, then play it slowly with the note before it"),
    "habits.how_stopped": N_(
        "begin a measure earlier, as slowly as it takes to go through three times"
    ),
}
