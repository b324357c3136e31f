"""One note to play again and again: its drawing on a staff, and hearing it live."""

import math
from dataclasses import dataclass
from typing import Any

from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.students import Student
from handslide.edges.typesetting.screen import screen_svg
from handslide.ground.clefs import Clef, clef_named
from handslide.ground.errors import BadData, BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import LIVE_S
from handslide.ground.pitch import Pitch, from_midi
from handslide.ground.units import A4_MIDI, cents
from handslide.instrument.tuning import SAME_NOTE_CENTS
from handslide.jobs.chart.content import default_clef
from handslide.jobs.tune.takes import Heard, hear_mean
from handslide.sheets.onenote import staff_note
from handslide.sound.onenote import APART_CENTS, HOLD_S, OneNote
from handslide.studio.takes.live import begun_by, json_object, samples_of
from handslide.words.speech import Speech

TONES = 3
"""So many tones of a note are heard before the next."""
_PX_PER_MM = 8.0
_HZ, _WITHIN_CENTS, _A4_HZ = (10.0, 4000.0), (10.0, 600.0), (380.0, 500.0)


@dataclass(frozen=True, slots=True)
class NoteStart:
    """What is listened for: a note of ``hz`` and what lies ``within_cents`` of it, for whom."""

    rate_hz: float
    student_id: int
    hz: float
    within_cents: float
    a4_hz: float


def staff_clef(student: Student, horn: StudentHorn) -> Clef:
    """The student's clef, or else the one that the horn is read in."""
    return clef_named(student.clef) if student.clef else default_clef(horn.description.tuned())


def note_svg(student: Student, horn: StudentHorn, pitch: Pitch, say: Speech) -> str:
    """A note as ``<svg>``, in the student's clef or else the one that the horn is read in."""
    clef = staff_clef(student, horn)
    drawn = staff_note(clef, pitch)
    label = f"{say.note(pitch)}, {say.named('clef', clef.name)}"
    return screen_svg(
        drawn.shapes, drawn.width_mm, drawn.height_mm, label=label, px_per_mm=_PX_PER_MM
    )


def parse_note_start(text: str) -> NoteStart:
    """The first message of a page that listens for a note. Raises BadUsage."""
    data = json_object(text)
    rate_hz, student = begun_by(data)
    hz, within = _aimed(data)
    return NoteStart(rate_hz, student, hz, within, _number(data, "a4_hz", 440.0, _A4_HZ))


class LiveNote:
    """One note heard live: blocks of samples in, its tones out. For one thread at a time."""

    def __init__(self, start: NoteStart) -> None:
        self._start = start
        self._ear = OneNote(start.rate_hz, start.hz, start.within_cents)
        self._samples = 0

    def ask(self, text: str) -> None:
        """Another note from now on: ``hz``, ``within_cents``. Raises BadUsage."""
        self._ear.aim(*_aimed(json_object(text)))

    def push(self, data: bytes) -> dict[str, Any] | None:
        """Take a block as the live view of the slide does; what to show, None if nothing new.

        ``held`` is how much of a tone's time is over (0 to 1); ``mean`` is that of all ``tones`` so
        far. Raises BadUsage as there.
        """
        block = samples_of(data, self._start.rate_hz)
        self._samples += len(block)
        if self._samples > LIVE_S * self._start.rate_hz:
            raise BadUsage("live.long", most_minutes=LIVE_S / 60.0)
        ear = self._ear
        if not ear.push(block):
            return None
        tones = [Heard(tone.f0_hz, tone.cents_se) for tone in ear.tones]
        return {
            "t": round(self._samples / self._start.rate_hz, 3),
            "hz": ear.hz,
            "state": ear.state,
            "other_hz": ear.other_hz if ear.state == "other" else None,
            "held": round(min(ear.held_s / HOLD_S, 1.0), 3),
            "tones": [_json(tone) for tone in tones],
            "mean": self._mean(),
            "wanted": TONES,
        }

    def message(self, shown: dict[str, Any], say: Speech) -> dict[str, Any]:
        """The same with what is to be said of it."""
        told = note_fact_of(shown, self._start.a4_hz)
        return shown | {"text": "" if told is None else say.fact(told)}

    def _mean(self) -> dict[str, float] | None:
        try:
            return _json(hear_mean("", self._ear.tones))
        except BadData:
            return None


def note_fact_of(shown: dict[str, Any], a4_hz: float) -> Fact | None:
    """What is to be said of a note that is listened for; None where nothing is."""
    match shown["state"]:
        case "held":
            return fact("live.tone_held")
        case "before":
            return fact("live.tone_before")
        case "apart":
            return fact("live.tone_apart", apart_cents=APART_CENTS)
        case "short":
            return fact("live.tone_short", hold_s=HOLD_S)
        case "unsteady":
            return fact("live.tone_unsteady")
        case "other":
            midi = A4_MIDI + cents(shown["other_hz"] / a4_hz) / 100.0
            return fact("live.other_tone", pitch=from_midi(round(midi)))
    return None


def _json(heard: Heard) -> dict[str, float]:
    return {"hz": round(heard.hz, 3), "se_cents": round(heard.se_cents, 2)}


def _aimed(data: dict[str, Any]) -> tuple[float, float]:
    hz = _number(data, "hz", math.nan, _HZ)
    return hz, _number(data, "within_cents", SAME_NOTE_CENTS, _WITHIN_CENTS)


def _number(data: dict[str, Any], key: str, otherwise: float, limits: tuple[float, float]) -> float:
    value = data.get(key, otherwise)
    low, high = limits
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not low <= value <= high:
        raise BadUsage("live.number_wanted", key=key, low=low, high=high)
    return float(value)
