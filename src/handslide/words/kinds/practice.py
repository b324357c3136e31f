"""What is said of each kind of fact whose topic is ``practice``: hard spots, reports, sheets."""

from collections.abc import Mapping, Sequence

from handslide.ground.facts import Fact
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.places import with_valves
from handslide.words.reasons import reason_words
from handslide.words.tellers import Teller
from handslide.words.translate import Translator

# Translators: between two notes: "change of valve, A2 open to B2 with the F valve".
_VALVE_CHANGE = N_("change of valve, {first} {first_way} to {second} {second_way}")
# Translators: why a note has its place: "F3: 6th, because ....".
_WHY = N_("{note}: {reason}.")
_OPEN = NP_("without a valve", "open")


def _way(say: Translator, valves: Sequence[str]) -> str:
    return with_valves(say, valves) or say(_OPEN)


def _valve_change(say: Translator, told: Fact) -> str:
    return say(
        _VALVE_CHANGE,
        first=told["first"],
        first_way=_way(say, told["first_valves"]),
        second=told["second"],
        second_way=_way(say, told["second_valves"]),
    )


def _also(say: Translator, told: Fact) -> str:
    return say.sentence(say.written(told["reason"]))


def _why(say: Translator, told: Fact) -> str:
    return say(_WHY, note=told["note"], reason=reason_words(say, told["reason"]))


# Translators: {notes} is a list of pitches, each with its measures; {why} follows in a sentence.
_UNPLAYABLE = NN_(
    "{count} of {total} notes can't be played: {notes} ({why})",
    "{count} of {total} notes can't be played: {notes} ({why})",
)
_FORBIDDEN = {
    "horn": N_("not on this horn: {count:d}"),
    "limits": N_("beyond the student's reach or valves: {count:d}"),
    "level": N_("beyond the level: {count:d}"),
}
_OTHER_LEVEL = N_("all would be playable at the level “{level}”")


def _unplayable(say: Translator, told: Fact) -> str:
    notes = [say.written(pitch) for pitch in told["pitches"]]
    if told["more"]:
        notes.append("…")
    by = told["by"].items()
    why = "; ".join(say(_FORBIDDEN[what], count=count) for what, count in by if count)
    values = {"count": told["count"], "total": told["total"]}
    return say(_UNPLAYABLE, **values, notes="; ".join(notes), why=why)


def _helps(say: Translator, told: Fact) -> str:
    return "; ".join(map(say.written, told["ways"]))


def _other_level(say: Translator, told: Fact) -> str:
    return say(_OTHER_LEVEL, level=say.named("level", told["level"]))


# Translators: titles of the steps to a hard spot: "Measures 5–7: one more note each time".
_LADDER = {
    "rhythms": N_("{measures}: in other rhythms"),
    "more": N_("{measures}: one more note each time"),
    "end": N_("{measures}: from the end"),
}
_HOW_TO_LADDER = {
    "rhythms": N_(
        "Each bar until it went well three times in a row. The quick moves come one by one, each "
        "with a rest for the arm before it."
    ),
    "more": N_("Go on only when it is easy; hold the last note and listen whether it is in tune."),
    "end": N_(
        "First the arrival, then what leads to it: always on to the last note, which you know by "
        "then."
    ),
}


# Translators: "ossia" stands in print beside another way to play a passage.
_OSSIA_OCTAVE = {
    "up": N_("Ossia, a suggestion: the figure an octave higher"),
    "down": N_("Ossia, a suggestion: the figure an octave lower"),
}
_MOST_PAIRS = 4
_OSSIA_NOTES = N_("Ossia, a suggestion: {notes}")


def _ossia_octave(say: Translator, told: Fact) -> str:
    return say(_OSSIA_OCTAVE[told["way"]])


def _ossia_notes(say: Translator, told: Fact) -> str:
    pairs = [say.written(pair) for pair in told["pairs"]]
    more = ["…"] if len(pairs) > _MOST_PAIRS else []
    return say(_OSSIA_NOTES, notes=", ".join([*pairs[:_MOST_PAIRS], *more]))


def _ladder(say: Translator, told: Fact) -> str:
    return say(_LADDER[told["step"]], measures=say.written(told["measures"]))


def _how_to_ladder(say: Translator, told: Fact) -> str:
    return say(_HOW_TO_LADDER[told["step"]])


_SPOTS: Mapping[str, Message | Teller] = {
    # Translators: over a hard spot of a part: "Measures 2–3: quickest move C3 to D3, ...".
    "practice.spot": N_("{measures}: {reason}"),
    "practice.also": _also,
    "practice.measure": N_("Measure {number}"),
    "practice.measures": N_("Measures {first}–{last}"),
    "practice.quickest_move": N_(
        "quickest move {first} to {second}, {way_cm:.0f} cm in {time_s} s"
    ),
    "practice.quick_move": N_("quick move {first} to {second}, {way_cm:.0f} cm in {time_s} s"),
    "practice.valve_change": _valve_change,
    "practice.unusual_place": N_("unusual place, {note} {place:in}"),
    "practice.why": _why,
    "practice.unplayable": _unplayable,
    "practice.helps": _helps,
    "practice.other_level": _other_level,
    # Translators: what is said of measures in which notes can't be played, after their number.
    "practice.not_as_written": N_("can't be played as written"),
    "practice.ossia_octave": _ossia_octave,
    "practice.ossia_notes": _ossia_notes,
    # Translators: the note to play instead of another one.
    "practice.instead": N_("{new} instead of {old}"),
    "practice.ladder": _ladder,
    "practice.how_to_ladder": _how_to_ladder,
    "practice.goal": N_(
        "Goal this week: ♩ = {goal_qpm:.0f}; the part itself goes at ♩ = {own_qpm:.0f}."
    ),
    "practice.goal_own": N_("Goal this week: ♩ = {goal_qpm:.0f}, as in the part."),
}
_ERRORS: Mapping[str, Message | Teller] = {
    "practice.not_json": N_("{file} isn't JSON: give what 'handslide listen --json' prints"),
    "practice.not_a_report": N_(
        "{file} isn't a report: give what 'handslide listen --json' or 'handslide progress "
        "--json' prints"
    ),
    # Translators: stands for the name of a file where there is none.
    "practice.the_report": N_("the report"),
    "practice.broken_report": N_("{file} is a report with something missing in it"),
    "practice.large_report": N_("{file} is too large for a report"),
    "practice.unread_report": N_("can't read {file}: {problem}"),
    "practice.not_a_pdf": N_("{file}: the sheet is a PDF, its name ends in .pdf"),
    "practice.original": N_("{file} is the original itself: choose another name"),
    "practice.no_page": N_("this sheet has no page {number:d}: it has {pages:d}"),
    "practice.no_form": N_("there is no sound as {form!q}: there are {known}"),
    "practice.no_horn": N_("{student} has no such horn (any more)"),
    "practice.no_takes": N_("no take of {student} tells yet what goes wrong: record one first"),
    "practice.nothing_sure": N_(
        "nothing is surely weak in the takes of {student} yet: more takes of the same part will "
        "tell; until then a lesson sheet has the part's own hard spots"
    ),
    "practice.not_on_stand": N_("this part isn't on {student}'s stand (any more)"),
    "practice.no_part": N_("a lesson sheet is made for a part: put one on the stand first"),
    "practice.no_stand": N_("choose a part on the stand first"),
}


def _silent_drone(say: Translator, told: Fact) -> str:
    measures = [*told["measures"], *(["…"] if told["more"] else [])]
    return say(_SILENT[told.kind], percent=told["percent"], measures=", ".join(measures))


# Translators: {measures} are numbers of measures.
_SILENT = {
    "practice.harmony_unsure": N_(
        "the drone is silent {percent:.0f} % of the time, where no chord is sure: measures "
        "{measures}"
    ),
    "practice.unread_chords": N_(
        "the drone is silent {percent:.0f} % of the time, where chord symbols can't be read: "
        "measures {measures}"
    ),
}
# Translators: why a drone that follows a score would be silent, by where its harmony is from.
_NO_HARMONY = {
    "chords": N_("no chord symbol in these measures can be held as a drone"),
    "parts": N_(
        "no chord in these measures is sure enough to hold: the parts play too little of it"
    ),
}


def _no_harmony(say: Translator, told: Fact) -> str:
    return say(_NO_HARMONY[told["source"]])


_HARMONY: Mapping[str, Message | Teller] = {
    "practice.harmony_unsure": _silent_drone,
    "practice.unread_chords": _silent_drone,
    "practice.no_sure_harmony": _no_harmony,
    "practice.no_chord_symbols": N_(
        "this score has no chord symbols: let the harmony be found in its parts"
    ),
    "practice.one_line_alone": N_(
        "one line alone has no harmony to follow: this score has neither chord symbols nor other "
        "parts that go along"
    ),
    "practice.all_left_out": N_(
        "without the part's own notes nothing is left of the drone: hold more of each chord"
    ),
    # Translators: {known} are words as they are typed.
    "practice.harmony_source": N_("the harmony can't come from {wish!q}: give {known:either}"),
    "practice.held_tones": N_("of a chord {wish!q} can't be held: give {known:either}"),
    "practice.base_of_equal": N_(
        "in equal temperament nothing stands just above a note: leave that note away"
    ),
    "practice.no_drones": N_(
        "no exercise of this sheet is played over a drone: leave the drones away"
    ),
    "practice.no_drone_here": N_(
        "exercise {number:d} of this sheet has no drone; those that have one: {known}"
    ),
    "practice.lowest_root": N_("the lowest root of a drone lies from C1 to C5, not at {note}"),
}
_SOUNDS: Mapping[str, Message | Teller] = {
    "practice.no_note": N_("a drone needs a note, such as Bb2, or a score to follow"),
    "practice.chord_of_many": N_(
        "a chord stands on one note: give one, or the notes without a chord"
    ),
    "practice.many_tones": N_("a drone holds {most:d} tones at most; these are {tones:d}"),
    "practice.note_twice": N_("a note stands there twice: give each note once"),
    "practice.outside_drone": N_("{note} has {hz:.1f} Hz: a drone holds {low:g} to {high:g} Hz"),
    "practice.drone_length": N_(
        "a drone of {length_s:g} s is outside {low:g} to {high:g} s; for a longer sound make a "
        "loop and let the player repeat it"
    ),
    "practice.loop_length": N_(
        "a loop of {length_s:g} s is outside {low:g} to {high:g} s; for a longer sound let the "
        "player repeat it"
    ),
    "practice.no_lossy_loop": N_(
        "OGG and MP3 change where a sound begins and ends: take WAV or FLAC for a loop"
    ),
    # Translators: LUFS is the unit of loudness.
    "practice.level": N_(
        "a level of {level_lufs:g} LUFS is outside {low:g} to {high:g}; {calm:g} is calm"
    ),
    "practice.held_back": N_(
        "it is at {level_lufs:.1f} LUFS, not {wanted_lufs:g}: louder, its peaks would be clipped"
    ),
    # Translators: the solo is the part that is practised; {known} are words as they are typed.
    "practice.solo": N_("the solo can't be {wish!q}: give {known:either}"),
    "practice.count_in": N_("a count-in has 0 to {most:d} measures, not {measures:d}"),
    "practice.tempo_and_speed": N_(
        "a tempo, a list of tempos and a speed all say how quick it is: give one"
    ),
    "practice.click_db": N_(
        "clicks can be {low:+g} to {high:+g} dB louder or softer, not {level_db:+g}"
    ),
    "practice.click_parts": N_("a beat is clicked in 1 to {most:d} parts, not {parts:d}"),
    "practice.times": N_("the music can be played 1 to {most:d} times, not {times:d}"),
    "practice.many_tempos": N_(
        "{count:d} tempos are more than the {most:d} that one file can have"
    ),
    "practice.tempo_list": N_(
        "{wish!q} is no list of tempos: write quarter notes a minute, such as 60, 66, 72"
    ),
    "practice.tempo": N_(
        "a tempo of {tempo_qpm:g} quarter notes a minute is outside {low:g} to {high:g}"
    ),
    "practice.speed": N_("a speed of {percent:g} % is outside {low:g} to {high:g} %"),
    # Translators: {title} is the exercise's; {what} says why.
    "practice.not_engraved": N_(
        "exercise {number}, {title}, stands on the sheet without its music: {what}"
    ),
    "practice.no_measure": N_(
        "measures {wanted}: there is no measure {number!q} in the part; it goes from {first} to "
        "{last}, and a range is written 5-12"
    ),
    "practice.no_measure_after": N_(
        "measures {wanted}: there is no measure {number!q} after the first; the part goes from "
        "{first} to {last}, and a range is written 5-12"
    ),
    "practice.lasts_too_long": N_(
        "it would last {minutes:.0f} minutes, and {most_minutes:.0f} can be made: choose fewer "
        "measures, or a quicker tempo"
    ),
    "practice.nothing_sounds": N_("nothing would sound: no solo, no other parts and no clicks"),
    "practice.tempo_assumed": N_("the part states no tempo: {tempo_qpm:g} quarter notes a minute"),
    # Translators: {problem} is a sentence of its own on what is wrong with that part.
    "practice.unread_part": N_("{part} isn't played: {problem}"),
    "practice.too_many_parts": N_(
        "of the {count} other parts only the first {most} are played: no more can be heard apart"
    ),
    "practice.other_measures": N_("{part} isn't played: its measures or repeats go another way"),
}
KINDS: Mapping[str, Message | Teller] = {**_SPOTS, **_ERRORS, **_HARMONY, **_SOUNDS}
