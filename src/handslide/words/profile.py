"""What a teacher's choices look like, in words that he can check in the music.

Nobody knows what he values: two lists of weights can choose alike. So a claim is about what the
choices look like, and says how much in the words that a teacher would take.
"""

from collections.abc import Mapping

from handslide.ground.pitch import parse_pitch
from handslide.instrument.learning.clashes import Clash
from handslide.instrument.learning.example import At, Examples
from handslide.instrument.learning.learn import Spot
from handslide.instrument.learning.showing import Change, Shown
from handslide.instrument.marks import as_counted
from handslide.instrument.markstyle import MarkStyle
from handslide.instrument.places import Place
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.speech import Speech

# Translators: compared with what these claims are, above a list of them.
COMPARED = N_("Compared with the profile that it began from")
# Translators: {what} is one of the things below, {much} such as "half as much". It says what the
# choices look like and never what the teacher thinks.
_CHANGE = N_("Your choices look as if {what} mattered {much} to you.")
_HARDLY = N_("Your choices look as if {what} hardly mattered to you.")
_NEW = N_("Your choices look as if {what} mattered to you, too.")
# From this factor on.
_MUCH: Mapping[float, Message] = {
    3.5: NP_("how much something matters", "several times as much"),
    2.5: NP_("how much something matters", "three times as much"),
    1.75: NP_("how much something matters", "twice as much"),
    1.42: NP_("how much something matters", "half as much again"),
    1.25: NP_("how much something matters", "a third more"),
    1.0: NP_("how much something matters", "a little more"),
    0.8: NP_("how much something matters", "a little less"),
    0.6: NP_("how much something matters", "a third less"),
    0.42: NP_("how much something matters", "half as much"),
    0.29: NP_("how much something matters", "a third as much"),
}
_SMEAR = NP_("what matters", "a slur without a smear")
# Translators: what matters, as the subject of the sentences above, in the singular.
WHATS: Mapping[str, Message] = {
    "distance_per_m": NP_("what matters", "the trouble of a long way of the slide"),
    "speed_per_m2_s2": NP_("what matters", "the trouble of a quick move of the slide"),
    "jolt_per_m2_s4": NP_("what matters", "a smooth move of the slide"),
    "ways": NP_("what matters", "the trouble of long and quick moves of the slide"),
    "turn_per_m": NP_("what matters", "turning back"),
    "valve_move": NP_("what matters", "the trouble of moving a valve"),
    "valve_swap": NP_("what matters", "the trouble of letting one valve go to press another"),
    "valve_moves": NP_("what matters", "the trouble of moving valves"),
    "far_per_m2": NP_("what matters", "the trouble of reaching far out"),
    "seventh": NP_("what matters", "keeping off 7th position"),
    "valve_far": NP_("what matters", "the trouble of reaching far out with a valve"),
    "valve_home": NP_(
        "what matters", "leaving the valve alone where the open horn has the note near"
    ),
    "valve_colour": NP_("what matters", "the freer sound of the open horn"),
    "without_valves": NP_("what matters", "doing without a valve"),
    "second_valve": NP_("what matters", "doing with the first valve alone"),
    "valve_high": NP_("what matters", "keeping the valve off high notes"),
    "valve_pedal": NP_("what matters", "keeping the valve off pedal notes"),
    "between": NP_("what matters", "a whole position"),
    "lip_per_cent": NP_("what matters", "the trouble of lipping a note up"),
    "alternate": NP_("what matters", "the plain place"),
    "held_alternate": NP_("what matters", "the plain place of a held note"),
    "seek": NP_("what matters", "the trouble of finding an alternate"),
    "alternates": NP_("what matters", "staying in plain places"),
    "odd_partial": NP_("what matters", "keeping off partials that are out of tune"),
    "high_partials": NP_("what matters", "keeping off high partials"),
    "smear": _SMEAR,
    "smear_per_m": NP_("what matters", "keeping a smear short"),
    "smears": _SMEAR,
    "slur_with_pitch": NP_("what matters", "slurring against the slide"),
    "moved_repeat": NP_("what matters", "keeping the place of a repeated note"),
    "wander": NP_("what matters", "coming back to the place that a note had"),
    "vibrato": NP_("what matters", "room for a slide vibrato"),
}
_PARTIAL = NP_("what matters", "keeping off the {partial:partial} partial")
_TABLE = "partials."
# Translators: {kind} is such as "Horns in B♭ with one valve", {claim} a sentence.
_OF_KIND = N_("{kind}: {claim}")
_OPEN = N_("Horns in {note:key} without a valve")
_VALVES = NN_("Horns in {note:key} with one valve", "Horns in {note:key} with {count} valves")
# Translators: a note of a part: "“Etude 3”, measure 12, note 3 (C4)".
_NOTE = N_("measure {measure}, note {index} ({note})")
_NOTE_OF = N_("“{title}”, measure {measure}, note {index} ({note})")
# Translators: where the teacher has a note, and where it would be if that didn't matter so.
_SHOWN = N_("{where}: {his}, otherwise {without}")
# Translators: where the profile puts a note that the teacher has elsewhere.
_LEFT = N_("{where}: {his}; the profile would put it {ours:in}")
# Translators: two notes, each with its place and how often it was chosen.
_CLASH = N_(
    "{where}: {place} ({times:d}×); {other_where}: {other_place} ({other_times:d}×). The notes "
    "around them are the same."
)


def change_words(say: Speech, change: Change, examples: Examples) -> str:
    """What seems to matter more or less than before, as a sentence."""
    if change.what.startswith(_TABLE):
        what = say(_PARTIAL, partial=int(change.what.removeprefix(_TABLE)))
    else:
        what = say(WHATS[change.what])
    claim = _claim(say, what, change.factor)
    if change.kind is None:
        return claim
    return say(_OF_KIND, kind=kind_words(say, change.kind), claim=claim)


def _claim(say: Speech, what: str, factor: float | None) -> str:
    if factor is None:
        return say(_NEW, what=what)
    much = next((words for least, words in _MUCH.items() if factor >= least), None)
    return say(_HARDLY, what=what) if much is None else say(_CHANGE, what=what, much=much)


def shown_words(say: Speech, shown: Shown, examples: Examples, style: MarkStyle) -> str:
    """A note that shows a change: ``measure 12, note 3 (C4): 6th, otherwise 1st``."""
    at = shown.at
    his, without = (_told(place, at, examples, style) for place in (shown.his, shown.without))
    line = say(_SHOWN, where=where_words(say, at, examples), his=his, without=without)
    return say.capital(line)


def left_words(say: Speech, spot: Spot, examples: Examples, style: MarkStyle) -> str:
    """A note that what was learnt puts elsewhere than the teacher."""
    at = At(spot.example, spot.note)
    his, ours = (_told(place, at, examples, style) for place in (spot.his, spot.ours))
    return say.capital(say(_LEFT, where=where_words(say, at, examples), his=his, ours=ours))


def clash_words(say: Speech, clash: Clash, examples: Examples, style: MarkStyle) -> str:
    """Two notes that are alike and lie in different places."""
    place, other_place = (
        _told(place, at, examples, style)
        for place, at in zip(clash.places, (clash.one, clash.other))
    )
    line = say(
        _CLASH,
        where=where_words(say, clash.one, examples),
        place=place,
        times=clash.times[0],
        other_where=where_words(say, clash.other, examples),
        other_place=other_place,
        other_times=clash.times[1],
    )
    return say.capital(line)


def where_words(say: Speech, at: At, examples: Examples) -> str:
    """Which note it is; with the title of its part where there are several."""
    source, note = examples.source(at), examples.note(at)
    told = {"measure": note.measure, "index": note.index, "note": parse_pitch(note.spelled)}
    parts = {one.key for one in examples.examples}
    parts |= {answer.question.key for answer in examples.answers}
    if len(parts) == 1:
        return say(_NOTE, **told)
    return say(_NOTE_OF, title=source.title, **told)


def kind_words(say: Speech, kind: str) -> str:
    """A kind of horns, such as ``Bb1+1``: ``Horns in B♭ with one valve``."""
    note, _, valves = kind.partition("+")
    pitch, count = parse_pitch(f"{note.rstrip('-0123456789')}2"), int(valves)
    if not count:
        return say(_OPEN, note=pitch)
    return say(_VALVES, note=pitch, count=count)


def _told(place: Place, at: At, examples: Examples, style: MarkStyle) -> Place:
    """A place as it is told beside its mark."""
    return as_counted(examples.source(at).stand.tuned(), place, style)
