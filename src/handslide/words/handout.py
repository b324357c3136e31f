"""The words of hand-outs: what their pages say, and what is said of them when they are made."""

from collections.abc import Mapping

from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.translate import Translator

MADE = NN_(
    "{title}: {part}, {count:d} note, {length_s:.0f} s of music; {size_kb:.0f} kB",
    "{title}: {part}, {count:d} notes, {length_s:.0f} s of music; {size_kb:.0f} kB",
)
WITHOUT_SCRIPT = N_(
    "This browser runs no scripts here: the page can be read and printed, but it plays nothing."
)
LICENCES = N_("Licences of the fonts and signs in this file")
FOR = N_("for {student}")
MADE_CHART = NN_(
    "{title}: {count:d} note; {size_kb:.0f} kB", "{title}: {count:d} notes; {size_kb:.0f} kB"
)
# Translators: what is over the player of a recording, which is so large.
RECORDING = N_("The recording ({size_kb:.0f} kB)")
RECORDING_INSIDE = N_(
    "The recording itself is in this file, with consent: give it to nobody else. For recordings of "
    "minors your local rules hold."
)
# Translators: what the terminal says below such a take.
RECORDING_PUT = N_(
    "The recording is in the hand-out, with consent, and nowhere else; for recordings of minors "
    "follow your local rules."
)
# What the signs round the notes of a take mean.
HEARD_SIGNS = (
    ("●", N_("in place")),
    ("◀", N_("go in")),
    ("▶", N_("go out")),
    ("□", N_("not heard")),
    ("◇", N_("another note")),
)
# Translators: what boxes to tick are of: the days on which something was practised; tempos that
# went well.
PRACTISED = N_("Practised on")
TEMPOS = N_("Tempos that went well")
# Translators: beside the only box of an exercise.
DONE = NP_("exercise", "done")

# What the script of a page says, by key; it fills in the values by itself.
TEXTS: Mapping[str, Message] = {
    "play": N_("Play"),
    "pause": N_("Pause"),
    "go_on": N_("Go on"),
    "counting": N_("Count-in {n}"),
    "said.playing": N_("playing"),
    "said.paused": N_("paused"),
    "said.stopped": N_("stopped"),
    "percent": N_("{n} %"),
    "speed": N_("Speed"),
    "volume": N_("Volume"),
    "count_in": N_("Count-in"),
    "metronome": N_("Metronome"),
    "others": N_("Other parts"),
    "caution": N_("Begin softly, with headphones above all: long loud listening harms hearing."),
    "label": N_("The slide: {place}"),
    "nothing": N_("no place for this note"),
    "in_place": N_("in place"),
    "go_in": N_("{mm} mm in"),
    "go_out": N_("{mm} mm out"),
    "music": N_("The music. Arrow keys left and right go from note to note."),
    # Translators: a note that was tapped: its name, its measure and its place.
    "note": N_("{name}, measure {measure}: {words}"),
    # Translators: a note of a chart: its name, and the place that is shown.
    "placed": NP_("a note and its place", "{name}: {words}"),
    # Translators: one of the places of a note: its words, which it is, of how many.
    "one_of": N_("{words} (place {k} of {n})"),
    "places": N_("Places of this note"),
    "chart": N_(
        "The chart. Arrow keys left and right go from note to note, up and down to its "
        "other places."
    ),
    # Translators: of a take: where a note lies, and how it was heard.
    "heard": NP_("a place, and how a note was heard", "{words} · {heard}"),
    "recording": N_("the recording"),
    "notes": N_("the notes"),
    # Translators: what Play plays: the notes, or the recording.
    "sounds": N_("What sounds"),
    "tap": N_("Tap a note: the slide goes to its place."),
    "loop": N_("Loop"),
    "loop_first": N_("Tap the first note to repeat."),
    "loop_last": N_("Tap the last note to repeat."),
    "loop_on": N_("Measures {first} to {last} again and again."),
    # Translators: of notes: from one to another.
    "loop_notes": N_("{first} to {last} again and again."),
    "loop_off": N_("No loop any more."),
    # Translators: a drone, a held tone to tune against.
    "drone": N_("Drone"),
    "drone_here": N_("Hold this note as a drone"),
    "drone_end": N_("End the drone"),
    # Translators: what of the music is heard how: the student's own part.
    "solo": N_("Own part"),
    "loud": N_("loud"),
    "quiet": N_("quiet"),
    # Translators: of a part: it isn't heard.
    "off": NP_("loudness", "off"),
    "layout": N_("Music"),
    "lines": N_("line below line"),
    "line": N_("one long line"),
    "path": N_("Path of the slide under the staff"),
    # Translators: which staves of a duet are shown.
    "staves": N_("Staves"),
    "both": N_("both parts"),
    "own": N_("own part only"),
    "settings": N_("Settings"),
    "look": N_("Look"),
    "auto": N_("As the system has it"),
    "light": N_("Light"),
    "dark": N_("Dark"),
    "large": N_("Large type"),
    "print": N_("Print"),
    "clear": N_("Clear all ticks"),
    "clear_sure": N_("Clear all ticks of this page?"),
    # Translators: over what exercise the drone is held: "Drone B♭2".
    "drone_of": N_("Drone {name}"),
    # Translators: read out on a button; {title} is an exercise.
    "play_of": N_("Play {title}"),
    "pause_of": N_("Pause {title}"),
}


def page_texts(say: Translator) -> dict[str, str]:
    """The texts of a page's script."""
    return {key: say.pattern(message) for key, message in TEXTS.items()}
