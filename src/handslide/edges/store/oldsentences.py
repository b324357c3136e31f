"""The sentences that a studio of form 1 kept, as patterns, and the facts that they told.

This is for the migration alone, and is as frozen as the sentences are: each pattern is one that the
program of form 1 could write. A fact is made as its JSON (`handslide.edges.files.factjson`).
"""

import re
from collections.abc import Callable, Sequence
from typing import Any

from handslide.edges.store.oldhorns import MODELS

Json = dict[str, Any]
Found = re.Match[str]
_Maker = Callable[[Found], Json]
Patterns = Sequence[tuple[re.Pattern[str], _Maker]]

_NOTE = r"[A-G][♭♯]*-?\d+"
_FAR = "(?P<way>too far out|too short)"
_HIGH = r"(?P<cents>\d+) cents too (?P<way>high|low)"
_WHERE = r"on (?P<count>\d+) of (?P<total>\d+) notes(?P<beyond>, beyond the tuning)?"
_VALVES = r"the (?P<valves>\S+(?: and \S+)*) valves?"
# The words "position" and "with ..." don't stand everywhere.
_AT = (
    r"(?P<place>(?:a long |a raised |halfway between )?\d+(?:st|nd|rd|th)"
    rf"(?: and \d+(?:st|nd|rd|th))?)(?: position)?(?: with {_VALVES})?"
)
_FROM = _AT.replace("<", "<from_")
_POSITIVE = ("too far out", "high", "higher", "above", "climb")
_FAULTS = {
    "not heard": "missing",
    "wrong": "wrong",
    "in another octave": "octave",
    "stopped or started again": "stopped",
}
_ONE_FAULT = "(?:" + "|".join(_FAULTS) + ")"


def as_told(text: str) -> Json:
    """A sentence that can't be told anew, as it was."""
    return fact("takes.as_told", text=text)


def fact(kind: str, **values: Any) -> Json:
    """The JSON of a fact."""
    return {"kind": kind, "values": values} if values else {"kind": kind}


def fact_of(patterns: Patterns, text: str) -> Json:
    """The fact of the first pattern that fits all of ``text``, else the text as it was told."""
    for pattern, make in patterns:
        found = pattern.fullmatch(text)
        if found is not None:
            return make(found)
    return as_told(text)


def facts_of(patterns: Patterns, text: str, between: str) -> list[Json]:
    """The facts of a line of several; all of it as it was told where one can't be read."""
    facts = [fact_of(patterns, piece) for piece in text.split(between)] if text else []
    return [as_told(text)] if any(one["kind"] == "takes.as_told" for one in facts) else facts


def pitch(name: str) -> Json:
    """A note's name with real signs as the JSON of its pitch."""
    return {"pitch": _ascii(name)}


def _ascii(name: str) -> str:
    return name.replace("♭", "b").replace("♯", "#")


def _signed(found: Found, size: float) -> float:
    return size if found["way"] in _POSITIVE else -size


def _mm(found: Found) -> Json:
    return {"slide_mm": _signed(found, float(found["mm"]))}


def _cents(found: Found) -> Json:
    return {"cents": _signed(found, float(found["cents"]))}


def _where(found: Found) -> Json:
    beyond = found["beyond"] is not None
    return {"count": int(found["count"]), "total": int(found["total"]), "beyond": beyond}


def _spot(found: Found, prefix: str = "") -> Json:
    """A place in words: its valves, and its position as nearly as the words told it."""
    words, valves = found[f"{prefix}place"].lower(), found[f"{prefix}valves"]
    number = re.search(r"\d+", words)
    assert number is not None
    off = {"a long": 0.27, "a raised": -0.27, "halfway between": 0.5}
    beside = next((by for sign, by in off.items() if words.startswith(sign)), 0.0)
    names = [] if valves is None else [_ascii(name) for name in valves.split(" and ")]
    return {f"{prefix}position": int(number[0]) + beside, f"{prefix}valves": names}


def _plain(kind: str) -> _Maker:
    return lambda found: fact(kind)


def _counted(kind: str) -> _Maker:
    return lambda found: fact(kind, count=int(found["count"]))


def _patterns(*rows: tuple[str, _Maker]) -> Patterns:
    return tuple((re.compile(pattern), make) for pattern, make in rows)


# Habits.


def _by_slide(kind: str) -> _Maker:
    return lambda found: fact(kind, **_mm(found), **_where(found))


def _by_pitch(kind: str) -> _Maker:
    return lambda found: fact(kind, **_cents(found), **_where(found))


def _all(found: Found) -> Json:
    pull = _signed(found, float(found["pull"]))
    return fact("habits.all", **_cents(found), tuning_slide_mm=pull, **_where(found))


def _place(found: Found) -> Json:
    return fact("habits.place", **_spot(found), **_mm(found), **_where(found))


def _closed_place(found: Found) -> Json:
    return fact("habits.closed_place", **_spot(found), **_cents(found), **_where(found))


def _valve(found: Found) -> Json:
    valves = [_ascii(name) for name in found["valves"].split(" and ")]
    return fact("habits.valve", valves=valves, **_cents(found), **_where(found))


def _partial(found: Found) -> Json:
    number = int(found["partial"])
    return fact("habits.partial", partial=number, **_cents(found), **_where(found))


def _move(found: Found) -> Json:
    places = _spot(found, "from_") | _spot(found)
    return fact("habits.move", **places, **_mm(found), **_where(found))


_ABOUT_MM = rf"about (?P<mm>\d+) mm {_FAR}"
_ABOUT_CENTS = f"about {_HIGH}"
_CAPITAL_AT = _AT.replace("a long |a raised |halfway", "A long |A raised |Halfway")
HABITS = _patterns(
    (
        rf"The whole take is {_ABOUT_CENTS} \({_WHERE}\): move the main tuning slide (?P<pull>\d+) "
        "mm (?:out|in), if the piano or the band agrees\\.",
        _all,
    ),
    (
        rf"Away from 1st the slide is {_ABOUT_MM} everywhere \({_WHERE}\)\.",
        _by_slide("habits.away"),
    ),
    (
        rf"After a move out the slide (?:stops|goes) {_ABOUT_MM} \({_WHERE}\)\.",
        _by_slide("habits.out"),
    ),
    (
        rf"After a move in the slide (?:stops|comes back) {_ABOUT_MM} \({_WHERE}\)\.",
        _by_slide("habits.in"),
    ),
    (rf"{_CAPITAL_AT}: {_ABOUT_MM} {_WHERE}\.", _place),
    (
        rf"{_CAPITAL_AT}: {_ABOUT_CENTS} {_WHERE}; (?:the slide can't be shorter, so it's the lip "
        r"or the tuning slide|close the slide fully, and blow freely)\.",
        _closed_place,
    ),
    (
        rf"Notes with {_VALVES} are {_ABOUT_CENTS} \({_WHERE}\): the valve's own tuning "
        r"slide may have to go (?:out|in)\.",
        _valve,
    ),
    (
        rf"Notes on the (?P<partial>\d+)(?:st|nd|rd|th) partial are {_ABOUT_CENTS} \({_WHERE}\), "
        r"wherever the slide is: the horn or the lip\.",
        _partial,
    ),
    (rf"From {_FROM} to {_AT} the slide is {_ABOUT_MM} \({_WHERE}\)\.", _move),
    (
        rf"Notes begin {_ABOUT_CENTS} and (?:slide up|sink) {_WHERE}\.",
        _by_pitch("habits.scoop"),
    ),
    (
        rf"Long notes (?P<way>sink|climb) about (?P<cents>\d+) cents (?:to their end )?{_WHERE}"
        r"(?:: keep the air on)?\.",
        _by_pitch("habits.fall"),
    ),
)


# What to practise.


def _interval(found: Found) -> Json:
    return fact(
        "takes.interval", before=pitch(found["before"]), pitch=pitch(found["note"]),
        before_mark=found["before_mark"], mark=found["mark"],
    )  # fmt: skip


def _note_off(found: Found) -> Json:
    count = int(found["count"] or 1)
    return fact("habits.note_off", **_cents(found), count=count)


def _faults(found: Found) -> Json:
    return fact(
        "takes.faults",
        faults=[_FAULTS[text] for text in re.findall(_ONE_FAULT, found["faults"])],
        measures=found["measures"].split(", "),
        more=int(found["more"] or 0),
    )


def _how(kind: str) -> _Maker:
    def make(found: Found) -> Json:
        mm = float(found["mm"])
        return fact(kind, slide_mm=mm if found["way"] == "in" else -mm)

    return make


WHATS = _patterns(
    (
        rf"(?P<before>{_NOTE}) to (?P<note>{_NOTE}) \((?P<before_mark>\S+) to (?P<mark>\S+)\)",
        _interval,
    ),
    (
        rf"(?P<note>{_NOTE}) in (?P<mark>\S+)",
        lambda found: fact("takes.note_in", pitch=pitch(found["note"]), mark=found["mark"]),
    ),
    (rf"(?P<note>{_NOTE})", lambda found: fact("takes.note", pitch=pitch(found["note"]))),
)
WHYS = _patterns(
    (rf"{_ABOUT_MM} {_WHERE}", _by_slide("habits.slide_off")),
    (rf"{_ABOUT_CENTS} {_WHERE}", _by_pitch("habits.pitch_off")),
    (rf"{_HIGH} (?:once|in the middle of (?P<count>\d+) times)", _note_off),
    (
        rf"(?P<faults>{_ONE_FAULT}(?: or {_ONE_FAULT})*) in measures? "
        r"(?P<measures>.+?)(?: and (?P<more>\d+) more)?",
        _faults,
    ),
)
HOWS = _patterns(
    (
        r"slowly, then in time; let the slide arrive (?P<mm>\d+) mm further (?P<way>in|out) before "
        "you tongue",
        _how("habits.how_move"),
    ),
    (
        r"hold it against a drone, move the slide (?P<mm>\d+) mm further (?P<way>in|out) until the "
        "beats stop",
        _how("habits.how_slide"),
    ),
    (
        "start with air only, then a soft tongue, right on the pitch",
        _plain("habits.how_scoop"),
    ),
    ("long notes with a steady stream of air to the very end", _plain("habits.how_fall")),
    ("hold it against a drone with and without the valve", _plain("habits.how_valve")),
    ("hold it against a drone and find where it rests", _plain("habits.how_rest")),
    ("hold it against a drone", _plain("habits.how_drone")),
    (
        "hold it against a drone until the beats stop, then play it in its place",
        _plain("habits.how_note"),
    ),
    (
        "sing it, buzz it, then play it slowly with the note before it",
        _plain("habits.how_faults"),
    ),
    (
        "begin a measure earlier, as slowly as it takes to go through three times",
        _plain("habits.how_stopped"),
    ),
)


# A note.


def _elsewhere(found: Found) -> Json:
    low = found["side"] == "lower"
    return fact("hearing.elsewhere", low=low, **_spot(found), **_mm(found))


def _closed_partial(found: Found) -> Json:
    names = found["valves"]
    valves = [] if names is None else [_ascii(name) for name in names.split(" and ")]
    return fact("hearing.closed_partial", partial=int(found["partial"]), valves=valves)


def _off_because(found: Found) -> Json:
    return fact("takes.off_because", **_cents(found), why=fact_of(_REASONS, found["why"]))


def _octave(found: Found) -> Json:
    octaves = int(found["count"] or 1)
    return fact("takes.octave", octaves=octaves if found["way"] == "high" else -octaves)


def _wrong_partial(found: Found) -> Json:
    steps = int(found["count"] or 1)
    steps = steps if found["way"] == "above" else -steps
    return fact("takes.wrong_partial", pitch=pitch(found["note"]), steps=steps)


_REASONS = _patterns(
    ("lower than the end of the slide can sound", _plain("hearing.below_slide")),
    (
        "the slide can't be shorter: it's the lip or the tuning slide",
        _plain("hearing.lip_or_tuning"),
    ),
    (
        rf"(?P<side>lower|higher) than the marked place can sound: perhaps played in {_AT}, "
        rf"(?P<mm>\d+) mm {_FAR}",
        _elsewhere,
    ),
    (
        r"this is the pitch of the (?P<partial>\d+)(?:st|nd|rd|th) partial with the slide closed"
        rf"(?: with {_VALVES})?: perhaps not played in the marked place",
        _closed_partial,
    ),
    (
        r"slide not quite closed \((?P<mm>-?\d+) mm\), or the lip",
        lambda found: fact("hearing.not_closed", slide_mm=float(found["mm"])),
    ),
    (rf"slide (?P<mm>\d+) mm {_FAR}", lambda found: fact("hearing.slide", **_mm(found))),
    (
        rf"(?P<mm>\d+) mm {_FAR}, if it was played in (?P<mark>\S+)",
        lambda found: fact("hearing.slide_if", mark=found["mark"], **_mm(found)),
    ),
)
REMARKS = _patterns(
    ("in tune", _plain("takes.in_tune")),
    (_HIGH, lambda found: fact("takes.off", **_cents(found))),
    (
        f"{_HIGH}, but too short or rough to be sure",
        lambda found: fact("takes.off_unsure", **_cents(found)),
    ),
    (f"{_HIGH}: (?P<why>.+)", _off_because),
    (r"(?:an octave|(?P<count>\d+) octaves) too (?P<way>high|low)", _octave),
    ("not in this take", _plain("takes.outside")),
    ("not heard", _plain("takes.missing")),
    ("not on this horn", _plain("takes.not_on_horn")),
    ("no place on this horn within the student's limits", _plain("takes.no_place")),
    ("not sure what was played here", _plain("takes.unsure")),
    (
        rf"played (?P<note>{_NOTE})",
        lambda found: fact("takes.wrong", pitch=pitch(found["note"])),
    ),
    (
        rf"played (?P<note>{_NOTE}): (?:the partial|(?P<count>\d+) partials) (?P<way>above|below), "
        "with the slide in its place",
        _wrong_partial,
    ),
    (
        rf"played (?P<note>{_NOTE}): the slide was about in (?P<mark>\S+)",
        lambda found: fact("takes.wrong_position", pitch=pitch(found["note"]), mark=found["mark"]),
    ),
    ("ran together with the note before", _plain("takes.joined")),
    ("unsteady", _plain("takes.unsteady")),
    ("after a wait", _plain("takes.waited")),
)


# The take as a whole.


def _shifted(found: Found) -> Json:
    return fact("takes.doubt_shifted", semitones=int(_signed(found, int(found["count"]))))


def _horn(found: Found) -> Json:
    title = found["horn"]
    return fact(
        "horn.line",
        horn=fact("horn.model", model=MODELS[title]) if title in MODELS else title,
        a4_hz=float(found["a4"]),
        temp_c=float(found["temp"]),
        travel_mm=float(found["travel"]),
    )


DOUBTS = _patterns(
    (
        r"Hardly a note of the take fits this part: is it the right one\?",
        _plain("takes.doubt"),
    ),
    (
        r"Hardly a note fits, but all would (?P<count>\d+) semitones (?P<way>higher|lower): was it "
        r"read in another clef or transposition\?",
        _shifted,
    ),
)
COUNTS = _patterns(
    (
        r"(?P<right>\d+) of (?P<count>\d+) notes right",
        lambda found: fact("takes.right", right=int(found["right"]), count=int(found["count"])),
    ),
    (r"(?P<count>\d+) wrong", _counted("takes.count_wrong")),
    (r"(?P<count>\d+) in another octave", _counted("takes.count_octave")),
    (r"(?P<count>\d+) not heard", _counted("takes.count_missing")),
    (r"(?P<count>\d+) not sure", _counted("takes.count_unsure")),
    (r"(?P<count>\d+) that aren't in the part", _counted("takes.count_extra")),
    (r"(?P<count>\d+) played again", _counted("takes.count_again")),
    (
        r"(?P<count>\d+) (?:note of the part is|notes of the part are) before or after this take",
        _counted("takes.count_outside"),
    ),
    (
        r"tempo (?P<percent>\d+) % of the part's",
        lambda found: fact("takes.tempo", percent=float(found["percent"])),
    ),
    (r"(?P<count>\d+) notes? heard", _counted("takes.count_heard")),
    (r"(?P<count>\d+) in tune to the ear", _counted("takes.count_tuned")),
    (
        r"(?P<count>\d+) that this horn doesn't have within the student's reach and valves",
        _counted("takes.count_placeless"),
    ),
)
HORNS = _patterns(
    (
        r"(?P<horn>.+) · A4 = (?P<a4>[\d.]+) Hz · air in the horn (?P<temp>-?[\d.]+) °C · "
        r"slide (?P<travel>\d+) mm",
        _horn,
    ),
)
LEFT_OUT = _patterns(
    ("click", _plain("sounds.click")),
    ("noise", _plain("sounds.noise")),
    ("too short", _plain("sounds.too_short")),
    ("sliding", _plain("sounds.sliding")),
    ("no steady pitch", _plain("sounds.no_steady_pitch")),
    ("hum", _plain("sounds.hum")),
    ("struck string", _plain("sounds.struck_string")),
    ("several pitches at once", _plain("sounds.several_pitches")),
)
WARNINGS = _patterns(
    (
        r"(?P<count>\d+) of (?P<total>\d+) notes are clipped: their pitch can be trusted, their "
        "level can't; record with less gain",
        lambda found: fact("sounds.clipped", count=int(found["count"]), total=int(found["total"])),
    ),
    ("the take is silent", _plain("sounds.silent")),
    ("no note was found in the take", _plain("sounds.no_note")),
    (
        r"there is no note to estimate A4 from: (?P<a4>[\d.]+) Hz is used",
        lambda found: fact("sounds.a4_assumed", a4_hz=float(found["a4"])),
    ),
    (r"A4 is estimated from (?P<count>\d+) note\(s\) only", _counted("sounds.a4_of_few")),
    (
        "the notes don't agree on a tuning pitch: the estimate of A4 is weak",
        _plain("sounds.a4_weak"),
    ),
)
