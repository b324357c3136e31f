"""Live: where the slide is now against where it should be, while it sounds."""

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias, TypeGuard

import numpy as np
from numpy.typing import NDArray

from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.hearing import IN_TUNE_CENTS
from handslide.ground.limits import LIVE_BLOCK_S, LIVE_S
from handslide.ground.units import A4_MIDI, cents, midi_to_hz
from handslide.instrument.heardplace import OUTSIDE_M, heard_place
from handslide.instrument.marks import mark
from handslide.instrument.places import Place
from handslide.jobs.hear.free import usual_place_of
from handslide.jobs.setup import Setup
from handslide.sheets.slide import IN_PLACE_MM
from handslide.sound.livefollow import LiveFollower, PartNote
from handslide.sound.stream import Listener, Moment
from handslide.studio.parts.openpart import open_part
from handslide.studio.people.students import get_student, main_horn, setup_for
from handslide.studio.studio import Studio

Floats = NDArray[np.float64]

RATES_HZ = (8_000.0, 192_000.0)
_FURTHEST_CENTS = 150.0
# The note that is aimed at stays until another is nearer by this much.
_STAY_CENTS = 65.0
# A tone further from its note than that mostly becomes another one: so long it isn't judged.
_TURNS_S = 0.25
# A pitch that moves less than this is one tone: its frames are taken together.
_ONE_TONE_CENTS = 12.0
_MEDIAN_OF = 7
_FORGET_S = 0.4
# A note's place is told from so many frames on (10 ms each), and where half of them lie so near.
_SURE_FRAMES = 8
_STEADY_MM = 10.0
# A note that was heard has to last this long until enough of it is left to tell its place from.
_JUDGED_S = 0.18
_MIDI = (12, 96)

_Written: TypeAlias = tuple[int, PartNote, Place | None]
"""A note in playing order: its written note, what is listened for, and its marked place."""


@dataclass(frozen=True, slots=True)
class LiveStart:
    """What a live view asks for: the ``rate_hz`` of its samples, for whom, which note (MIDI)."""

    rate_hz: float
    student_id: int
    stand_id: int | None
    aim: int | None


def parse_start(text: str) -> LiveStart:
    """The first message of a live view. Raises BadUsage."""
    data = json_object(text)
    rate_hz, student = begun_by(data)
    stand = data.get("stand")
    if stand is not None and not _is_row(stand):
        raise BadUsage("live.stand")
    return LiveStart(rate_hz, student, stand, _aim(data))


def begun_by(data: dict[str, Any]) -> tuple[float, int]:
    """Rate of the samples in Hz and the student's number of a first message. Raises BadUsage."""
    rate, student = data.get("rate_hz"), data.get("student")
    if isinstance(rate, bool) or not isinstance(rate, int | float):
        raise BadUsage("live.rate_not_a_number")
    if not RATES_HZ[0] <= rate <= RATES_HZ[1]:
        raise BadUsage("live.rate", rate_hz=rate, lowest_hz=RATES_HZ[0], highest_hz=RATES_HZ[1])
    if not _is_row(student):
        raise BadUsage("live.student")
    return float(rate), student


def samples_of(data: bytes, rate_hz: float) -> Floats:
    """A block's samples (n,), -1 to 1, from 16-bit little-endian ones.

    Raises BadUsage for a block that is odd or longer than a second.
    """
    if len(data) % 2:
        raise BadUsage("live.odd_block")
    if len(data) > 2 * LIVE_BLOCK_S * rate_hz:
        raise BadUsage("live.long_block", most_s=LIVE_BLOCK_S)
    return np.frombuffer(data, dtype="<i2").astype(np.float64) / 32_768.0


def _written(data: dict[str, Any]) -> int:
    """The written note that playing begins with."""
    first = data["from"]
    if not _is_row(first):
        raise BadUsage("live.from")
    return first


def json_object(text: str) -> dict[str, Any]:
    """The object that a message is. Raises BadUsage."""
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        data = None
    if not isinstance(data, dict):
        raise BadUsage("live.not_an_object")
    return data


def _is_row(value: Any) -> TypeGuard[int]:
    """Whether a value can be the number of a row in the store."""
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 2**63


def _aim(data: dict[str, Any]) -> int | None:
    aim = data.get("aim")
    if aim is None:
        return None
    if isinstance(aim, bool) or not isinstance(aim, int) or not _MIDI[0] <= aim <= _MIDI[1]:
        raise BadUsage("live.aim", lowest=_MIDI[0], highest=_MIDI[1])
    return aim


class Live:
    """One live view: blocks of samples in, what to show out. For one thread at a time."""

    def __init__(self, studio: Studio, start: LiveStart) -> None:
        """Raises NotFound, BadUsage, and what else keeps a part or horn from being used."""
        self.rate_hz = start.rate_hz
        self.aim = start.aim
        self._setup, self._places, self._written = _targets(studio, start)
        self._follower = LiveFollower([note for _, note, _ in self._written])
        self._offs: dict[int, list[float]] = {}
        self._listener = Listener(start.rate_hz, a4_hz=self._setup.horn.a4_hz)
        self._marks: dict[int, str] = {}
        self._recent: list[float] = []
        self._note: int | None = None
        self._settled = False
        self._sounded_s = -math.inf
        self._apart_s: float | None = None
        self._turns = False
        self._samples = 0

    @property
    def delay_s(self) -> float:
        """How long after it sounded a moment is known, besides the length of the blocks."""
        return self._listener.delay_s

    def ask(self, text: str) -> None:
        """A wish of the view: ``aim`` from now on (MIDI, None for the nearest note), or ``from``,
        the written note that the part is begun with. Raises BadUsage.
        """
        data = json_object(text)
        if "from" not in data:
            self.aim = _aim(data)
            return
        first = _written(data)
        played = (k for k, (written, _, _) in enumerate(self._written) if written >= first)
        self._follower.begin(next(played, 0))
        self._offs.clear()

    def take_passed(self) -> list[dict[str, Any]]:
        """How the part's notes were heard that are over since the last call.

        ``sign`` is hit, in, out (the way to go, by ``mm``), gone (not heard, or not surely), other
        (another note) or brief: too short to be judged before the take is heard whole.
        """
        passed = []
        for number, how in self._follower.take_passed():
            mm = None
            if how == "heard":
                sign, mm = _sign(self._offs.pop(number, []))
            elif how == "gone":
                lasts_s = self._follower.lasts_s(number)
                sign = "gone" if lasts_s is None or lasts_s >= _JUDGED_S else "brief"
            else:
                sign = "other"
            passed.append({"i": self._written[number][0], "sign": sign, "mm": mm})
        return passed

    def push(self, data: bytes) -> dict[str, Any] | None:
        """Take a block of 16-bit little-endian mono samples; what to show now, None if nothing new.

        ``tune`` is ``in_tune``, ``off`` (by ``cents``) or ``far`` (another note), None where
        nothing sounds.

        Raises BadUsage for a block that is odd or longer than a second, and after 20 minutes.
        """
        block = samples_of(data, self.rate_hz)
        self._samples += len(block)
        if self._samples > LIVE_S * self.rate_hz:
            raise BadUsage("live.long", most_minutes=LIVE_S / 60.0)
        moments = self._listener.push(block)
        for moment in moments:
            self._take_in(moment)
        return self._shown(moments[-1]) if moments else None

    def _follow(self, moment: Moment) -> None:
        """Where in the part this is, and how far the slide is off the place of that note."""
        follower, hz, a4_hz = self._follower, moment.f0_hz, self._setup.horn.a4_hz
        pitch = None if hz is None else A4_MIDI + cents(hz / a4_hz) / 100.0
        follower.push(moment.time_s, pitch, moment.level_db)
        here = self._here()
        near = here is not None and pitch is not None and _is_near(pitch, here[1].midi)
        if pitch is None or near:
            self._apart_s = None
        elif self._apart_s is None:
            self._apart_s = moment.time_s
        self._turns = self._apart_s is not None and moment.time_s - self._apart_s < _TURNS_S
        if hz is None or here is None or follower.at is None:
            return
        _, note, place = here
        if place is not None and near:
            there = heard_place(self._setup.horn, place, hz, midi_to_hz(note.midi, a4_hz))
            self._offs.setdefault(follower.at, []).append(1000.0 * there.off_m)

    def _take_in(self, moment: Moment) -> None:
        """Remember the last frames of the tone that sounds, and which note it is."""
        if self._written:
            self._follow(moment)
        if moment.f0_hz is None:
            if moment.time_s - self._sounded_s > _FORGET_S:
                self._note = None
            self._recent.clear()
            return
        self._sounded_s = moment.time_s
        if self._recent and abs(cents(moment.f0_hz / self._recent[-1])) > _ONE_TONE_CENTS:
            self._recent.clear()
        self._recent = [*self._recent[-_MEDIAN_OF + 1 :], moment.f0_hz]
        above = A4_MIDI + cents(self._hz() / self._setup.horn.a4_hz) / 100.0
        if self._note is None or abs(100.0 * (above - self._note)) > _STAY_CENTS:
            self._note, self._settled = round(above), False
        elif not self._settled and len(self._recent) == _MEDIAN_OF:
            # An attack may have been nearer to another note than the tone that it became.
            self._note, self._settled = round(above), True

    def _hz(self) -> float:
        return float(np.median(self._recent))

    def _shown(self, moment: Moment) -> dict[str, Any]:
        hz = None if moment.f0_hz is None else self._hz()
        midi, place = self._aimed()
        shown: dict[str, Any] = {
            "t": round(moment.time_s, 3),
            "hz": None if hz is None else round(hz, 3),
            "clarity": round(moment.clarity, 3),
            "level_db": round(moment.level_db, 1),
            "midi": midi,
            "tune": None,
            "cents": None,
            "place": None,
            "slide_mm": None,
            "off_mm": None,
            "part": self._part_json(),
        }
        if midi is not None and place is not None:
            shown["place"] = self._place_json(midi, place)
        if midi is None or hz is None:
            return shown
        target = midi_to_hz(midi, self._setup.horn.a4_hz)
        off = cents(hz / target)
        if abs(off) > _FURTHEST_CENTS:
            shown["tune"] = "far"
            return shown
        shown["cents"] = round(off, 2)
        shown["tune"] = "in_tune" if abs(off) < IN_TUNE_CENTS else "off"
        horn = self._setup.horn
        if place is not None:
            there = heard_place(horn, place, hz, target)
            if -OUTSIDE_M <= there.extension_m <= horn.travel_m + OUTSIDE_M:
                shown["slide_mm"] = round(1000.0 * there.extension_m, 1)
                shown["off_mm"] = round(1000.0 * there.off_m, 1)
        return shown

    def _aimed(self) -> tuple[int | None, Place | None]:
        """The note that is the measure now, and its place: the part's own where it is followed."""
        if self.aim is not None:
            return self.aim, self._place(self.aim)
        here = self._here()
        if here is not None:
            _, note, place = here
            if self._note is None or abs(self._note - note.midi) <= 1:
                return note.midi, place
        return self._note, None if self._note is None else self._place(self._note)

    def _here(self) -> _Written | None:
        """The part's note that sounds or sounded last, None where that isn't known."""
        follower = self._follower
        if follower.at is None or follower.other or not follower.sure:
            return None
        return self._written[follower.at]

    def _part_json(self) -> dict[str, Any] | None:
        """Where in the part this is: written notes ``i`` (None: not known) and ``next``, and how.

        ``state``: at, turning (it leaves the note, and what it becomes isn't known yet), other
        (another note than the next one), lost.
        """
        if not self._written:
            return None
        follower, here = self._follower, self._here()
        sounds = "other" if follower.other else "turning" if self._turns else "at"
        state = sounds if follower.sure else "lost"
        coming = self._written[follower.next : follower.next + 1] if follower.sure else ()
        return {
            "i": None if here is None else here[0],
            "next": coming[0][0] if coming else None,
            "state": state,
        }

    def _place(self, midi: int) -> Place | None:
        if midi not in self._places:
            self._places[midi] = usual_place_of(self._setup, midi)
        return self._places[midi]

    def _place_json(self, midi: int, place: Place) -> dict[str, Any]:
        if midi not in self._marks:
            self._marks[midi] = mark(self._setup.horn, place, self._setup.style)
        return {
            "mark": self._marks[midi],
            "valves": list(place.valves),
            "position": round(place.position, 4),
            "extension_mm": round(1000.0 * place.extension_m, 2),
        }


def _targets(
    studio: Studio, start: LiveStart
) -> tuple[Setup, dict[int, Place | None], tuple[_Written, ...]]:
    """The horn in tune, for the notes of a stand the place where the route has only one, and its
    notes in playing order."""
    student = get_student(studio, start.student_id)
    if start.stand_id is None:
        return setup_for(student, main_horn(studio, student.id)), {}, ()
    part = open_part(studio, start.stand_id)
    if part.student.id != student.id:
        raise BadUsage("takes.other_stand", student=student.name)
    routed, score = part.routed, part.marked.part
    found: dict[int, set[Place]] = {}
    for number, place in routed.places.items():
        found.setdefault(routed.pitches[number].midi, set()).add(place)
    unique = {midi: next(iter(places)) for midi, places in found.items() if len(places) == 1}
    written = tuple(
        (number, PartNote(routed.pitches[number].midi, on_s), routed.places.get(number))
        for number, on_s in zip(score.played, score.onset_s)
    )
    return routed.setup, dict(unique), written


def _is_near(pitch: float, midi: int) -> bool:
    return abs(pitch - midi) < _STAY_CENTS / 100.0


def _sign(offs_mm: list[float]) -> tuple[str, int | None]:
    """How a note's place was heard, from its frames: sign, and how many mm to go."""
    held = offs_mm[len(offs_mm) // 4 :]
    if len(held) < _SURE_FRAMES:
        return "brief", None
    low, off_mm, high = np.quantile(held, (0.25, 0.5, 0.75))
    if high - low > _STEADY_MM:
        return "gone", None
    if abs(off_mm) < IN_PLACE_MM:
        return "hit", None
    return ("in" if off_mm > 0 else "out"), round(abs(float(off_mm)))


def tune_fact(shown: Mapping[str, Any]) -> Fact | None:
    """What is to be said of how high it sounds now; None where nothing sounds."""
    match shown["tune"]:
        case "in_tune":
            return fact("takes.in_tune")
        case "off":
            return fact("takes.off", cents=shown["cents"])
        case "far":
            return fact("live.far", hz=shown["hz"])
    return None
