"""What is said of each kind of fact whose topic is ``drills``: titles, texts, remarks, errors."""

from collections.abc import Mapping, Sequence

from handslide.ground.facts import Fact
from handslide.words.drills import (
    CHANGING_RHYTHMS,
    CHOICE_NAMES,
    DIRECTION_NAMES,
    MAJOR_KEY,
    MINOR_KEY,
    SCALE_TITLES,
)
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.tellers import Teller
from handslide.words.translate import Translator

# Translators: the ways of a scale: "up and down, then up".
_THEN = N_("{first}, then {second}")
# Translators: over a scale, for example "Up and down, one octave."
_COURSE = N_("{ways}, {size}.")
_SIZES = {
    1: N_("one octave"), 2: N_("two octaves"), 3: N_("three octaves"), 4: N_("four octaves"),
}  # fmt: skip
_RANGE = N_("{low} to {high}")
# Translators: {notes} are those of a scale that a short arm reaches: B♭, E♭, F.
_WITHIN_REACH = N_("the notes within reach: {notes}")
# Translators: over a scale, for example "Dotted notes; slurred two by two."
_HOW = N_("{rhythm}; {articulation}.")
# Translators: a scale for which there is no room, for example "E major scale over two octaves".
_OVER = {
    1: N_("{scale} over one octave"), 2: N_("{scale} over two octaves"),
    3: N_("{scale} over three octaves"), 4: N_("{scale} over four octaves"),
}  # fmt: skip
# Translators: for example "harmonic minor in a key of this level".
_ANY_KEY = N_("{scale} in a key of this level")
# Translators: partials in the order in which they are played: "Lip slur: partials 2 3 4 3 2".
_PARTIALS = N_("{exercise}: partials {partials}")
# Translators: what a line is in and how it is read: "B♭ major scale, tenor clef".
_READ_IN = N_("{scale}, {clef}")
_MIXED_CLEFS = N_("{scale}, clefs mixed")
_HALF_POSITIONS = N_("Halfway between two positions: {notes}")
# Translators: {level} is "first year", {where} "on Tenor within these limits".
_NO_EXERCISE = N_(
    "none of these exercises fits {where} at the level {level}: give another level or a longer "
    "reach"
)
_SCALES_ALONE = N_("{choice} can't be chosen for {drill}: only for {scales}")


def _scale(say: Translator, told: Fact) -> str:
    return say(SCALE_TITLES[told["name"]], tonic=told["tonic"])


def _key(say: Translator, told: Fact) -> str:
    key = {"major": MAJOR_KEY, "minor": MINOR_KEY}.get(told["mode"])
    return _scale(say, told) if key is None else say(key, tonic=told["tonic"])


def _ways(say: Translator, names: Sequence[str]) -> str:
    first, *others = (say(DIRECTION_NAMES[name]) for name in names)
    for other in others:
        first = say(_THEN, first=first, second=other)
    return say.capital(first)


def _over_octaves(say: Translator, told: Fact) -> str:
    return say(_COURSE, ways=_ways(say, told["ways"]), size=_SIZES[told["octaves"]])


def _over_range(say: Translator, told: Fact) -> str:
    size = say(_RANGE, low=told["low"], high=told["high"])
    return say(_COURSE, ways=_ways(say, told["ways"]), size=size)


def _within_reach(say: Translator, told: Fact) -> str:
    size = say(_WITHIN_REACH, notes=", ".join(map(say.written, told["notes"])))
    return say(_COURSE, ways=_ways(say, told["ways"]), size=size)


def _in_rhythm(say: Translator, told: Fact) -> str:
    return _how(say, say.named("rhythm", told["rhythm"]), told)


def _changing_rhythms(say: Translator, told: Fact) -> str:
    return _how(say, say(CHANGING_RHYTHMS), told)


def _how(say: Translator, rhythm: str, told: Fact) -> str:
    articulation = say.named("articulation", told["articulation"])
    return say(_HOW, rhythm=say.capital(rhythm), articulation=articulation)


def _scale_over(say: Translator, told: Fact) -> str:
    return say(_OVER[told["octaves"]], scale=told["scale"])


def _any_key(say: Translator, told: Fact) -> str:
    return say(_ANY_KEY, scale=say.named("scale", told["name"]))


def _half_positions(say: Translator, told: Fact) -> str:
    return say(_HALF_POSITIONS, notes=", ".join(map(say.written, told["notes"])))


def _scales_alone(say: Translator, told: Fact) -> str:
    choice = CHOICE_NAMES[told["choice"]]
    return say(_SCALES_ALONE, choice=choice, drill=told["drill"], scales=told["scales"])


def _exercise(say: Translator, told: Fact) -> str:
    title = say.named("exercise", told["name"])
    if not told["partials"]:
        return title
    return say(_PARTIALS, exercise=title, partials=" ".join(map(str, told["partials"])))


def _how_to_exercise(say: Translator, told: Fact) -> str:
    return say.named("exercise_about", told["kind"])


def _no_exercise(say: Translator, told: Fact) -> str:
    return say(_NO_EXERCISE, level=say.named("level", told["level"]), where=told["where"])


# Translators: {size} is such as " (a fingertip)", or empty.
_SLIDE_OFF = {
    "drills.too_far_out": N_(
        "For {note} the slide was {off_mm:.0f} mm{size} too far out: let it arrive that much "
        "further in."
    ),
    "drills.too_short": N_(
        "For {note} the slide was {off_mm:.0f} mm{size} too short: let it arrive that much further "
        "out."
    ),
}
# Up to so many millimetres: what is as wide (common measures, from memory).
_AS_WIDE = (
    (3.0, NP_("millimetres", "the width of a pencil line")),
    (7.5, NP_("millimetres", "the thickness of a pencil")),
    (14.0, NP_("millimetres", "a fingertip")),
    (25.0, NP_("millimetres", "the width of a thumb")),
    (45.0, NP_("millimetres", "two fingers")),
)


def _slide_off(say: Translator, told: Fact) -> str:
    off_mm = told["off_mm"]
    wide = next((say(words) for most, words in _AS_WIDE if off_mm < most), "")
    size = f" ({wide})" if wide else ""
    return say(_SLIDE_OFF[told.kind], note=told["note"], off_mm=off_mm, size=size)


def _read_in(say: Translator, told: Fact) -> str:
    if told["clef"] == "mixed":
        return say(_MIXED_CLEFS, scale=told["scale"])
    return say(_READ_IN, scale=told["scale"], clef=say.named("clef", told["clef"]))


_TITLES: Mapping[str, Message | Teller] = {
    "drills.scale": _scale,
    "drills.key": _key,
    "drills.read_in": _read_in,
    "drills.exercise": _exercise,
    # Translators: an exercise and the scale or key that it is in.
    "drills.in_key": N_("{exercise}: {scale}"),
    # Translators: a teacher's own words, as they are.
    "drills.own_words": N_("{text}"),
    "drills.broken_thirds": N_("{scale} in broken thirds"),
    "drills.long_tones": N_("Long tones"),
    "drills.easy_slurs": N_("Easy slurs"),
    "drills.shifts": N_("Slide shifts {number:d}"),
    "drills.glissandi": N_("Glissandi {number:d}"),
    "drills.slurs": N_("Slur or legato tongue {number:d}"),
    "drills.new_notes": N_("New notes {valves:valves}, {notes}"),
    "drills.half_positions": _half_positions,
    "drills.valve_against_open": N_("Valve against open, {notes}"),
    # Translators: from a high note down to a low one: "E3 to C2".
    "drills.down_to": N_("{high} to {low}"),
    "drills.two_places": N_("{note} in two places"),
    "drills.two_places_again": N_("{note} in two places, figure {number:d}"),
    "drills.drone": N_("In tune with a drone: {note}"),
    # Translators: a note that goes wrong and its place: "D3, in 4th".
    "drills.spot": N_("{note}, {place:in}"),
    # Translators: an interval that goes wrong, and the place of its second note.
    "drills.spot_after": N_("{before} to {note}, {place:in}"),
}
_TEXTS: Mapping[str, Message | Teller] = {
    "drills.over_octaves": _over_octaves,
    "drills.over_range": _over_range,
    "drills.within_reach": _within_reach,
    "drills.in_rhythm": _in_rhythm,
    "drills.changing_rhythms": _changing_rhythms,
    "drills.begins_with_valve": N_("Begins in the valve register, on {note}."),
    "drills.turns_with_valve": N_("Turns in the valve register, on {note}."),
    "drills.ends_with_valve": N_("Ends in the valve register, on {note}."),
    "drills.how_to_exercise": _how_to_exercise,
    "drills.how_to_hold": N_(
        "Breathe before each pair of bars. Begin softly, let the sound grow and die away; the "
        "same sound on both notes, and home at the same pitch each time."
    ),
    "drills.how_to_slur_easily": N_(
        "One breath, one tongue at the beginning of each bar: the air carries the slur, the slide "
        "stays where it is."
    ),
    "drills.shift_size": N_("Shifts of {way_mm:.0f} mm."),
    "drills.shift_sizes": N_("Shifts of {shortest_mm:.0f} to {longest_mm:.0f} mm."),
    "drills.how_to_shift": N_(
        "The bars get harder as they go on: further, in less time, or to a place that forgives "
        "less. Each goes there and back, and its last note must be the first again. Move late and "
        "at once, and stop dead. Breathe after every second bar."
    ),
    "drills.shift_again": N_("There and back: the last note of each bar must be the first again."),
    "drills.glissando_sizes": N_(
        "Each on one partial, {shortest_cm:.0f} to {longest_cm:.0f} cm of slide."
    ),
    "drills.glissandi_again": N_(
        "Each on one partial, {shortest_cm:.0f} to {longest_cm:.0f} cm of slide: only the slide "
        "moves."
    ),
    "drills.how_to_gliss": N_(
        "Keep the air and the lip as they are and let only the slide move, evenly all the way; no "
        "tongue on the second note. Breathe after every second bar."
    ),
    "drills.how_to_slur": N_(
        "Where the partial changes and the slide doesn't go with the pitch, slur without the "
        "tongue: the horn breaks the note cleanly. Where slide and pitch go along one partial the "
        "note would smear: touch it with a legato tongue. Both must sound alike. Breathe after "
        "every second bar."
    ),
    "drills.slur_again": N_(
        "No tongue where the partial changes, legato tongue along one partial."
    ),
    "drills.how_to_match": N_(
        "Play the note an octave up, keep it in your ear, then find the one below "
        "{valves:valves} and match it: same name, same sound."
    ),
    "drills.how_to_find_half": N_(
        "These notes lie about halfway between two positions: let the ear find the place. Come to "
        "each from both neighbours on the same valve; it must be the same both times. Then look: "
        "the last number says how far out the slide is."
    ),
    "drills.one_neighbour": N_("For {notes} there is a neighbour on one side only."),
    "drills.how_to_compare": N_(
        "Each note on the open horn and with the valve. Make pitch, sound and loudness so alike "
        "that nobody can tell them apart."
    ),
    "drills.same_notes": N_("The same notes in two ways."),
    "drills.goes_on": N_(
        "With {note} {usual:in} the slide turns back on it and goes {usual_cm:.0f} cm in all; "
        "with {note} {other:in} it goes on the same way: {other_cm:.0f} cm. Feel the arm stop and "
        "start in the first, and flow in the second."
    ),
    "drills.goes_less": N_(
        "With {note} {usual:in} the slide goes {usual_cm:.0f} cm in all; with {note} {other:in} "
        "it goes {other_cm:.0f} cm. Feel how much less there is to do in the second."
    ),
    "drills.second_is_easier": N_("At this tempo the second is the easier one."),
    "drills.first_is_easier": N_(
        "At this tempo the first is still the easier one: try both faster."
    ),
    "drills.drone_on": N_("Drone on {note}, quieter than you play."),
    "drills.how_to_tune": N_(
        "Begin each long note in its usual place, then move the slide as written until the beats "
        "stop. The numbers say how far the just interval lies from equal temperament, in cents "
        "(c), and what the slide does for it there; 2 mm are the width of a pencil line, 7 mm the "
        "thickness of a pencil, 12 mm a fingertip. Breathe before each long note."
    ),
    "drills.tune_again": N_("Move the slide as written until the beats stop."),
    "drills.how_to_approach": N_(
        "Come to it from nearer and from further away, hold it beside its neighbour, then play "
        "the interval slowly and faster, up and down. Stop when it goes wrong and go back a step."
    ),
    "drills.high_closed": N_(
        "{note} was too high with the slide closed: it's the lip or the tuning slide."
    ),
    "drills.flat_closed": N_(
        "{note} was flat: close the slide (it seems {off_mm:.0f} mm out), or it's the lip."
    ),
    "drills.too_far_out": _slide_off,
    "drills.too_short": _slide_off,
    "drills.too_high": N_(
        "{note} was about {off_cents:.0f} cents too high: hold it against a drone."
    ),
    "drills.too_low": N_(
        "{note} was about {off_cents:.0f} cents too low: hold it against a drone."
    ),
    "drills.valve_high": N_(
        "{note} was about {off_cents:.0f} cents too high, as all notes with its valve are: the "
        "valve's own tuning slide may have to go out. Hold it against a drone with and without "
        "the valve."
    ),
    "drills.valve_low": N_(
        "{note} was about {off_cents:.0f} cents too low, as all notes with its valve are: the "
        "valve's own tuning slide may have to go in. Hold it against a drone with and without "
        "the valve."
    ),
    "drills.make_sure": N_("{note} is the note to make sure of."),
}
# Translators: remarks stand small under a note: the shorter the better. A line break is a good
# place to go on in the next line.
_REMARKS: Mapping[str, Message | Teller] = {
    "drills.slide_out": NP_("under a note", "{way_mm:.0f} mm out"),
    "drills.slide_in": NP_("under a note", "{way_mm:.0f} mm in"),
    "drills.slide_still": NP_("under a note", "slide still"),
    "drills.on_partial": NP_("under a note", "{partial:partial} partial"),
    "drills.natural_slur": NP_("under a note", "slur: no tongue"),
    "drills.legato_tongue": NP_("under a note", "legato tongue"),
    # Translators: on the open horn, without a valve.
    "drills.open": NP_("under a note", "open"),
    # Translators: with the valve.
    "drills.valve": NP_("under a note", "valve"),
    # Translators: make it sound like the note an octave above.
    "drills.match": NP_("under a note", "match"),
    "drills.from_further_in": NP_("under a note", "from further in"),
    "drills.from_further_out": NP_("under a note", "from further out"),
    "drills.cm_out": NP_("under a note", "slide {out_cm:.0f} cm out"),
    # Translators: the usual place of a note.
    "drills.usual": NP_("under a note", "usual"),
    # Translators: another place of the same note.
    "drills.alternate": NP_("under a note", "alternate"),
    "drills.steady": NP_("under a note", "steady"),
    "drills.slowly": NP_("under a note", "slowly"),
    "drills.faster": NP_("under a note", "faster"),
    "drills.quick": NP_("under a note", "quick"),
    # Translators: c is short for cents.
    "drills.just_higher": NP_("under a note", "{off_cents:.1f} c higher:\n{slide}"),
    # Translators: c is short for cents.
    "drills.just_lower": NP_("under a note", "{off_cents:.1f} c lower:\n{slide}"),
    "drills.further_out": NP_("under a note", "{way_mm:.0f} mm further out"),
    "drills.further_in": NP_("under a note", "{way_mm:.0f} mm further in"),
    "drills.slide_as_it_is": NP_("under a note", "slide as it is"),
    "drills.without_lip": NP_("under a note", "closed, without the lip"),
    # Translators: the slide is closed; the lip does the rest. c is short for cents.
    "drills.lip_up": NP_("under a note", "closed, lip up {lip_cents:.0f} c"),
    # Translators: {mark} is another place of the note, as it is marked: 3, T1.
    "drills.lip_up_or_other": NP_("under a note", "closed, lip up {lip_cents:.0f} c, or in {mark}"),
    # Translators: the slide is at its end; the lip does the rest. c is short for cents.
    "drills.lip_down": NP_("under a note", "at the end, lip down {lip_cents:.0f} c"),
    "drills.lip_down_or_other": NP_(
        "under a note", "at the end, lip down {lip_cents:.0f} c, or in {mark}"
    ),
}
_ERRORS: Mapping[str, Message | Teller] = {
    "drills.no_kind": N_("{wish!q} isn't a kind of drill: there are {known}"),
    "drills.no_level": N_("there is no level called {wish!q}: choose one of {known}"),
    "drills.no_scale": N_("there is no scale called {wish!q} here: choose one of {known}"),
    "drills.no_rhythm": N_("there is no rhythm called {wish!q}: choose one of {known}"),
    "drills.no_articulation": N_("there is no articulation called {wish!q}: choose one of {known}"),
    "drills.no_direction": N_("a scale can't go {wish!q}: choose one of {known}"),
    "drills.no_meter": N_("there is no meter {wish}: choose one of {known}"),
    "drills.rhythm_without_meter": N_(
        "the rhythm {rhythm} isn't made for {wish}: choose one of {known}"
    ),
    "drills.german_tonic": N_("H is the German name: write B for it, and Bb for the German B"),
    "drills.not_a_tonic": N_(
        "{text!q} isn't a tonic: give a letter A to G, with b or #, such as Bb or F#"
    ),
    # Translators: {choice} is, for example, "a key"; {drill} and {scales} are names as they are
    # typed: slurs, scales.
    "drills.scales_alone": _scales_alone,
    "drills.seed": N_("a seed of {seed:d} is outside 0 to {most:d}"),
    "drills.no_range": N_("{low} to {high} is no range: give the lower note first"),
    "drills.no_range_at_level": N_("{low} to {high} is no range at this level: give both its ends"),
    "drills.octaves": N_("a scale of {octaves:d} octaves can't be made: ask for 1 to {most:d}"),
    "drills.pieces": N_("{pieces:d} exercises can't be made: ask for 1 to {most:d}"),
    "drills.bars": NN_(
        "an exercise of one bar can't be made: ask for {least:d} to {most:d}",
        "an exercise of {count:d} bars can't be made: ask for {least:d} to {most:d}",
    ),
    "drills.tempo": N_("a tempo of {tempo_qpm:g} is outside {low:g} to {high:g} quarters a minute"),
    # Translators: stands at {where} in a sentence such as "no shift fits into this range {where}".
    "drills.on_horn": N_("on {horn}"),
    # Translators: stands at {where} in a sentence such as "no shift fits into this range {where}";
    # the limits are the student's: how far the arm reaches, which valves are learned.
    "drills.on_limited_horn": N_("on {horn} within these limits"),
    "drills.no_note": N_("no note of this range can be played {where}"),
    "drills.no_note_at_level": N_(
        "{horn} has no note for a student of this level within this reach"
    ),
    "drills.no_note_for_valve": N_(
        "{horn} has no notes between {low} and {high} that need a valve this student uses"
    ),
    "drills.no_room": N_(
        "{scale} doesn't fit between {low} and {high} on {horn} with a place for every note: ask "
        "for another key, fewer octaves or a wider range"
    ),
    "drills.scale_over": _scale_over,
    # Translators: a scale for which there is no room.
    "drills.scale_to_valve": N_("{scale} with its low end in the valve register"),
    "drills.any_key": _any_key,
    "drills.no_exercise": _no_exercise,
    "drills.no_shift": N_(
        "no shift fits into this range {where}: give a wider range or a longer reach"
    ),
    "drills.no_glissando": N_(
        "no glissando fits into this range {where}: give a wider range or a longer reach"
    ),
    "drills.no_slurs": N_(
        "no note of this range has both a natural slur and a legato step {where}: give a wider "
        "range or a longer reach"
    ),
    "drills.no_two_routes": N_(
        "no figure of this range turns back less with an alternate {where}: give a higher or a "
        "wider range"
    ),
    "drills.no_just_intervals": N_(
        "no note of this range has its third and fifth within it {where}: give a range of an "
        "octave or more"
    ),
    "drills.no_valve": N_("{horn} has no valve: there is no valve register to practise"),
    "drills.no_valve_learned": N_("no valve is learned yet: name the valves to practise"),
    "drills.no_valve_note": N_(
        "no note of this range asks for a valve {where}: give a lower range"
    ),
    "drills.nothing_to_practise": N_(
        "there is nothing to practise in this report: no note of it was surely off"
    ),
    "drills.foreign_report": N_(
        "{notes} can't be played {where}: is it the report of this student and this horn?"
    ),
    "drills.place_gone": N_("{note} can't be played as this drill means it, within these limits"),
}
KINDS: Mapping[str, Message | Teller] = {**_TITLES, **_TEXTS, **_REMARKS, **_ERRORS}
