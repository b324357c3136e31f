"""Follow a part: what a take did with each note of a marked part, in cents and in millimetres."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from statistics import median

from handslide.edges.musicxml.dynamics import written_dynamics
from handslide.edges.musicxml.fingerings import written_fingerings
from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch
from handslide.ground.units import midi_to_hz
from handslide.instrument.habits import LONG_NOTE_S, Habit, PlayedNote, find_habits
from handslide.instrument.heardplace import CLOSED_M, heard_place
from handslide.instrument.places import Place
from handslide.instrument.practice import FAULTS, Fault, Practice, suggest_practice
from handslide.instrument.takeoffset import take_drift, take_offset
from handslide.jobs.hear.judge import LATE_S, note_facts
from handslide.jobs.hear.passages import judged, left_out
from handslide.jobs.mark.locks import Lock, find_locked
from handslide.jobs.mark.measures import MeasureNames, measure_names
from handslide.jobs.mark.routed import Routed, played_line, route
from handslide.jobs.partwishes import PartWishes, read_wished
from handslide.jobs.setup import Setup
from handslide.sound.follow import PLAYED, Expected, Followed, Heard, follow
from handslide.sound.notes import HeardNote, HeardTake

# A rest in the playing longer than this: the slide had time, no move is blamed.
_NO_MOVE_S = 1.0
# Below this share of right notes, it may be another part altogether.
_FITS = 0.35
_WHOLE_SHARE = 0.8
LocksOf = Callable[[ScorePart], Mapping[int, Place]]
"""The fixed places of a part by written note."""


@dataclass(frozen=True, slots=True)
class Tuning:
    """What a take is off by: ``common`` cents as a whole; where it drifts, ``a_second`` cents more
    each second, and ``middle`` cents at ``middle_s``."""

    common: float = 0.0
    a_second: float = 0.0
    middle: float = 0.0
    middle_s: float = 0.0
    drift: float = 0.0
    """Cents from the first to the last note."""

    @property
    def usual(self) -> float:
        """What is off by the tuning in the middle of the take, in cents."""
        return self.middle if self.drift else self.common

    def at(self, second: float) -> float:
        """What is off by the tuning then, in cents."""
        return self.usual + self.drifted(second)

    def drifted(self, second: float) -> float:
        """How far the drift is from its middle then, in cents."""
        return self.a_second * (second - self.middle_s)


@dataclass(frozen=True, slots=True)
class FollowedNote:
    """A note of the part in playing order, and how it was played.

    ``played``: ``right``, ``wrong``, ``missing``, ``octave`` or ``unsure``. ``cents`` is how far it
    was above the note (beside its octave), ``slide_mm`` how far the slide was beyond the marked
    place (positive = too far out), ``beside_mm`` the same beside what the whole take is off by;
    None where there is no such thing to say. ``told`` is what there is to say of it.
    """

    index: int
    measure: str
    pitch: Pitch
    place: Place | None
    mark: str
    played: str
    confidence: float
    outside: bool
    joined: bool
    heard: HeardNote | None
    cents: float | None
    slide_mm: float | None
    slide_se_mm: float | None
    beside_mm: float | None
    told: tuple[Fact, ...]


@dataclass(frozen=True, eq=False)
class FollowedTake:
    """A take beside its part; ``tuning`` is what it is off by as a whole, ``dynamics`` what
    is written at the part's notes, by their index."""

    title: str
    part: ScorePart
    setup: Setup
    routed: Routed
    take: HeardTake
    followed: Followed
    notes: tuple[FollowedNote, ...]
    options: PartWishes
    dynamics: Mapping[int, str] = field(default_factory=dict)
    tuning: Tuning = field(default_factory=Tuning)

    @cached_property
    def played_rows(self) -> tuple[tuple[int, PlayedNote], ...]:
        """Right notes in their places, each with its number in ``notes``."""
        rows = []
        for number, note in enumerate(self.notes):
            if note.played != "right" or note.joined or note.place is None:
                continue
            if note.cents is not None:
                rows.append((number, _played(self, number)))
        return tuple(rows)

    @cached_property
    def habits(self) -> tuple[Habit, ...]:
        """What happens again and again, worst first; nothing of a take that is in doubt."""
        if self.doubt:
            return ()
        rows = [row for _, row in self.played_rows]
        return find_habits(self.setup.horn, rows, self.tuning.usual)

    @cached_property
    def passages(self) -> tuple[tuple[str, str], ...]:
        """The first and last measure of each passage within the take that was left out."""
        if self.doubt:
            return ()
        runs = left_out(self.part, self.followed.matches)
        return tuple(
            (self.notes[first].measure, self.notes[stop - 1].measure) for first, stop in runs
        )

    @cached_property
    def octaves(self) -> int:
        """By how many octaves the whole take lies above the part; 0 where it doesn't."""
        apart = [
            round((note.heard.midi - note.pitch.midi) / 12)
            for note in self.notes
            if note.heard is not None and note.played in ("right", "wrong", "octave")
        ]
        most = max(set(apart), key=apart.count, default=0)
        return most if apart.count(most) >= _WHOLE_SHARE * len(apart) else 0

    @cached_property
    def practice(self) -> tuple[Practice, ...]:
        """Three notes or intervals to practise, worst first; none of a take that is in doubt."""
        if self.doubt:
            return ()
        rows = [row for _, row in self.played_rows]
        again = self._stops()
        faults = []
        passed = {
            number
            for first, stop in left_out(self.part, self.followed.matches)
            for number in range(first, stop)
        }
        for number, note in enumerate(self.notes):
            kind = note.played
            waited = self.followed.matches[number].waited_s > LATE_S
            if kind == "right" and (waited or number in again):
                kind = "stopped"
            # Who left out a line, or plays all an octave lower, doesn't miss single notes.
            if number in passed or (kind == "octave" and self.octaves):
                continue
            # A note that this horn doesn't have can't be practised on it.
            if kind in FAULTS and not note.outside and note.place is not None:
                faults.append(Fault(note.measure, note.pitch, note.mark, kind))
        return suggest_practice(rows, self.habits, faults, self.tuning.usual)

    @property
    def tempo_ratio(self) -> float | None:
        """The take's tempo by the part's (2 is twice as fast); None where too little fits."""
        return self.followed.tempo_ratio if self.take.notes and not self.doubt else None

    def _stops(self) -> set[int]:
        """The notes before which the player stopped and went back: due after a last attempt."""
        tried = {x.heard: x.expected for x in self.followed.extras if x.kind == "attempt"}
        return {
            number + 1
            for heard, number in tried.items()
            if number is not None and heard + 1 not in tried
        }

    @cached_property
    def doubt(self) -> Fact | None:
        """What to doubt where hardly anything fits: another part, or read in another clef."""
        counts = self.counts
        most = max(sum(counts.values()), len(self.take.notes))
        # What was tried before it was played again fitted, too.
        tried = sum(extra.kind == "attempt" for extra in self.followed.extras)
        if counts["right"] + counts["octave"] + tried >= _FITS * most:
            return None
        heard = heard_rows(self.take)
        expected = expected_rows(self.part)
        for shift in sorted(range(-14, 15), key=abs):
            moved = [replace(note, midi=note.midi + shift) for note in expected]
            played = [match.played for match in follow(moved, heard).matches if not match.outside]
            if shift % 12 and played.count("right") > max(0.7 * len(heard), 5):
                return fact("takes.doubt_shifted", semitones=shift)
        return fact("takes.doubt")

    @property
    def counts(self) -> dict[str, int]:
        """How many notes were played in which way; those outside the take aren't counted."""
        inside = [note.played for note in self.notes if not note.outside]
        return {kind: inside.count(kind) for kind in PLAYED}


def follow_take(
    score: Score,
    take: HeardTake,
    setup: Setup,
    options: PartWishes | None = None,
    locks: LocksOf | None = None,
) -> FollowedTake:
    """Align a heard take with a part of an open score and judge each note.

    The places are those written over the notes (marks or fingerings that name a place of the
    note), or those that ``locks`` gives instead for the part; the rest is routed as ``mark``
    would. ``setup`` is to be at the take's A4.

    Raises
    ------
    ScoreError
        No such part or voice, nothing to play.
    BadData
        More than can be followed at once.
    """
    options = options or PartWishes()
    part = read_wished(score, options)
    fixed = _written_places(score, part, setup) if locks is None else locks(part)
    line, pitches = played_line(part)
    routed = route(setup, line, pitches, part.played, fixed)
    followed = judged(part, take, follow(expected_rows(part), heard_rows(take)))
    tuning, names = _tuning(part, routed, take, followed), measure_names(part)
    notes = tuple(
        _report(part, routed, take, followed, number, tuning, names)
        for number in range(len(part.played))
    )
    title = score.title or Path(score.name).stem
    dynamics = written_dynamics(score, part)
    return FollowedTake(
        title, part, setup, routed, take, followed, notes, options, dynamics, tuning
    )


def expected_rows(part: ScorePart) -> list[Expected]:
    """The part's notes as played; a player may begin again at a measure."""
    rows = []
    measure: int | None = None
    for number, onset, length in zip(part.played, part.onset_s, part.length_s):
        note = part.notes[number]
        begins = note.measure_index != measure
        rows.append(Expected(note.sounding.midi, onset, length, begins))
        measure = note.measure_index
    return rows


def heard_rows(take: HeardTake) -> list[Heard]:
    """The take's notes as the aligner wants them."""
    return [Heard(note.start_s, note.end_s, note.semitones(take.a4_hz)) for note in take.notes]


def _written_places(score: Score, part: ScorePart, setup: Setup) -> dict[int, Place]:
    """Places that stand over the notes already; what names no place of its note is passed over."""
    found = {}
    for number, text in written_fingerings(score, part).items():
        try:
            found[number] = find_locked(setup, Lock(None, 1, text), part.notes[number].sounding)
        except BadUsage:
            continue
    return found


def _tuning(part: ScorePart, routed: Routed, take: HeardTake, followed: Followed) -> Tuning:
    """What the right notes are off by as a whole, and how that drifts."""
    rows: list[tuple[float, float, bool | None]] = []
    for number, match in enumerate(followed.matches):
        if match.played == "right" and match.heard is not None and not match.joined:
            written = part.played[number]
            place = routed.places.get(written)
            heard = take.notes[match.heard]
            if heard.cents is None:
                continue
            off = _off_cents(part, written, heard.cents, heard.midi)
            closed = None if place is None else place.extension_m <= CLOSED_M
            rows.append((heard.start_s, off, closed))
    common = take_offset([row[1:] for row in rows])
    a_second = take_drift(rows)
    if not a_second:
        return Tuning(common)
    times = [row[0] for row in rows]
    middle_s = median(times)
    middle = median(off - a_second * (at_s - middle_s) for at_s, off, _ in rows)
    return Tuning(common, a_second, middle, middle_s, a_second * (max(times) - min(times)))


def _off_cents(part: ScorePart, written: int, cents: float, midi: int) -> float:
    """How far ``cents`` above ``midi`` was above the written note, beside its octave."""
    off = 100.0 * (midi - part.notes[written].sounding.midi) + cents
    return off - 1200.0 * round(off / 1200.0)


def _report(
    part: ScorePart,
    routed: Routed,
    take: HeardTake,
    followed: Followed,
    number: int,
    tuning: Tuning,
    names: MeasureNames,
) -> FollowedNote:
    match = followed.matches[number]
    written = part.played[number]
    note = part.notes[written]
    place = routed.places.get(written)
    heard = None if match.heard is None else take.notes[match.heard]
    common = tuning.common if heard is None else tuning.at(heard.start_s)
    off = slide = slide_se = beside = None
    if heard is not None and heard.cents is not None and match.played in ("right", "octave"):
        off = _off_cents(part, written, heard.cents, heard.midi)
        if match.played == "right" and place is not None:
            target = midi_to_hz(note.sounding.midi, take.a4_hz)
            there = heard_place(routed.setup.horn, place, heard.f0_hz, target)
            slide = 1000.0 * there.off_m
            slide_se = 1000.0 * there.m_per_cent * (heard.cents_se or 0.0)
            beside = slide + 1000.0 * there.m_per_cent * common
    off_beside = None if off is None else off - common
    told = note_facts(routed.setup, note.sounding, place, match, heard, off_beside, beside, common)
    return FollowedNote(
        written, names.name(note.measure_index), note.sounding, place,
        routed.marks.get(written, ""), match.played, match.confidence, match.outside, match.joined,
        heard, off, slide, slide_se, beside, told,
    )  # fmt: skip


def _played(followed: FollowedTake, number: int) -> PlayedNote:
    note = followed.notes[number]
    assert note.place is not None and note.heard is not None and note.cents is not None
    assert note.heard.cents_se is not None
    horn = followed.setup.horn
    target = midi_to_hz(note.pitch.midi, followed.take.a4_hz)
    per_cent = heard_place(horn, note.place, note.heard.f0_hz, target).m_per_cent
    before = _moved_from(followed, number)
    move = None
    if before is not None and before.place is not None:
        move = 1000.0 * (note.place.extension_m - before.place.extension_m)
    held_s = note.heard.steady_end_s - note.heard.steady_start_s
    return PlayedNote(
        pitch=note.pitch,
        place=note.place,
        mark=note.mark,
        cents=note.cents - followed.tuning.drifted(note.heard.start_s),
        cents_se=note.heard.cents_se,
        mm_per_cent=1000.0 * per_cent,
        move_mm=move,
        from_place=None if before is None else before.place,
        from_pitch=None if before is None else before.pitch,
        scoop_cents=note.heard.scoop_cents,
        fall_cents=note.heard.drift_cents if held_s >= LONG_NOTE_S else None,
    )


def _moved_from(followed: FollowedTake, number: int) -> FollowedNote | None:
    """The note from which the slide came, where that is sure and there was no long rest."""
    note = followed.notes[number]
    before = followed.notes[number - 1] if number else None
    if before is None or before.played != "right" or before.place is None or note.joined:
        return None
    if before.heard is None or note.heard is None:
        return None
    rest_s = note.heard.start_s - before.heard.end_s
    backwards = before.heard.start_s > note.heard.start_s
    return None if backwards or rest_s > _NO_MOVE_S else before
