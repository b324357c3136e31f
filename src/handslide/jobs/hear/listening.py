"""What a teacher listens for besides pitch: rhythm, slurs, attacks, steadiness, loudness.

And how far the take can be trusted in each.
"""

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import Any

from handslide.edges.musicxml.dynamics import LEVELS
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, from_midi
from handslide.jobs.hear.followed import FollowedNote, FollowedTake
from handslide.sound.attacks import ATTACKS
from handslide.sound.change import Figure, mean_figure
from handslide.sound.drone import AgainstDrone, against_drone
from handslide.sound.dynamics import brightness_slope, contrasts, loudness_range_db
from handslide.sound.findings import Asked, Steadiness, told_apart, worst_first
from handslide.sound.listened import Listened
from handslide.sound.notes import HeardNote, HeardTake
from handslide.sound.rhythm import Rhythm, Struck, rhythm_alone, rhythm_of
from handslide.sound.slurs import Transition
from handslide.sound.trust import Trust, has_offset

_WAITED_S = 0.6
_ON_BEAT_S = 0.015
_LONG_S = 0.5
_TIED_GAP_MS, _TIED_DIP_DB = 10.0, 12.0


@dataclass(frozen=True, slots=True, eq=False)
class Listening:
    """What was heard besides pitch.

    ``findings`` are at most three things, worst first; ``quality`` says what the recording is like,
    ``believed`` what follows for the figures, ``advice`` what the student can do. ``figures`` and
    ``trust`` are the numbers, as they stand in JSON.
    """

    findings: tuple[Fact, ...]
    quality: tuple[Fact, ...]
    believed: tuple[Fact, ...]
    advice: tuple[Fact, ...]
    figures: Mapping[str, Any]
    trust: Mapping[str, Any]


def listening_of(
    take: HeardTake, followed: FollowedTake | None = None, drone: Pitch | None = None
) -> Listening | None:
    """What was heard of a take, beside its part if it was followed; None for a take that wasn't
    listened to closely."""
    heard = take.listened
    if heard is None:
        return None
    beside = followed if followed is not None and not followed.doubt else None
    rows = _Rows(take, heard, beside)
    rhythm = _rhythm(take, beside, rows)
    against = [] if drone is None else _against(take, drone)
    asked = Asked(
        trust=heard.trust,
        attacks=rows.attacks,
        slurs=rows.slurs,
        steady=rows.steady,
        rhythm=rhythm,
        between_s=_between_s(take),
        contrasts=rows.contrasts,
        just_cents=[row.just_cents for _, row in against],
    )
    figures = {
        "rhythm": None if rhythm is None else _rhythm_json(rhythm, take, beside, rows),
        "slurs": [_slur_json(one, take, rows) for one in rows.ways],
        "attacks": _attacks_json(heard, rows),
        "steadiness": _steadiness_json(rows.steady),
        "tones": _tones_json(take, heard),
        "loudness": _loudness_json(take, rows),
        "brightness": _brightness_json(take, heard),
        "drone": None if drone is None else _drone_json(take, drone, against),
        "changes": [_change_json(one) for one in _changes(take, rows, rhythm, beside)],
    }
    return Listening(
        findings=worst_first(asked),
        quality=_quality(heard.trust, rhythm),
        believed=_believed(heard.trust),
        advice=_advice(heard.trust),
        figures=figures,
        trust=_trust_json(heard.trust),
    )


# What is asked of the notes.


class _Rows:
    """The notes of a take as far as each figure asks for them."""

    def __init__(self, take: HeardTake, heard: Listened, beside: FollowedTake | None) -> None:
        self.take, self.heard, self.beside = take, heard, beside
        self.number_of: dict[int, int] = {}
        if beside is not None:
            for number, note in enumerate(beside.notes):
                match = beside.followed.matches[number]
                if note.heard is not None and match.heard is not None and not note.joined:
                    self.number_of.setdefault(match.heard, number)
        into = {one.first + 1: one for one in heard.transitions}
        self.into = into
        self.slurred = {k for k in into if self._written(k)}
        self.ways = [one for one in heard.transitions if self._tells(one)]
        self.slurs = [one for one in heard.transitions if one.first + 1 in self.slurred]
        self.attacks = [attack for k, attack in enumerate(heard.attacks) if k not in self.slurred]
        self.steady = [
            Steadiness(_wander(note), colour.level_sd_db)
            for note, colour in zip(take.notes, heard.colours, strict=True)
            if colour.level_sd_db is not None
            and note.spread_cents is not None
            and note.steady_end_s - note.steady_start_s >= _LONG_S
        ]
        self.by_sign: dict[str, list[float]] = {}
        if beside is not None:
            for k, number in self.number_of.items():
                sign = beside.dynamics.get(beside.notes[number].index)
                if sign is not None:
                    self.by_sign.setdefault(sign, []).append(take.notes[k].level_db)
        self.contrasts = contrasts(self.by_sign, LEVELS)

    def _written(self, heard: int) -> bool:
        """Whether the part has a slur from the note before to this one."""
        number, before = self.number_of.get(heard), self.number_of.get(heard - 1)
        if self.beside is None or number is None or before != number - 1:
            return False
        return bool(self.beside.part.slur[before])

    def _tells(self, way: Transition) -> bool:
        """Whether a transition is a slur: written, or where nobody wrote, tied in sound."""
        if self.beside is not None:
            return way.first + 1 in self.slurred
        tied = way.gap_ms < _TIED_GAP_MS and way.dip_db < _TIED_DIP_DB
        return tied and way.transit_ms is not None

    def begins_s(self, heard: int) -> float | None:
        """When a heard note begins, finely; None where that can't be told."""
        attack, way = self.heard.attacks[heard].at_s, self.into.get(heard)
        slurred = heard in self.slurred or attack is None
        tied = way is not None and slurred and way.dip_db < _TIED_DIP_DB
        return way.at_s if tied and way is not None and way.at_s is not None else attack


def _wander(note: HeardNote) -> float:
    """The spread of a note's pitch without its vibrato: of a sine, extent²/2."""
    spread, extent = note.spread_cents or 0.0, note.vibrato_cents or 0.0
    return float(max(spread**2 - 0.5 * extent**2, 0.0) ** 0.5)


def _between_s(take: HeardTake) -> float:
    starts = [note.start_s for note in take.notes]
    return median([b - a for a, b in pairwise(starts)] or [0.5])


# Rhythm.


def _rhythm(take: HeardTake, beside: FollowedTake | None, rows: _Rows) -> Rhythm | None:
    """Against a metronome's clicks, or against the player's own beat where there is a part."""
    if beside is None:
        at_s = [at_s for _, at_s in _begun(take, rows)]
        return None if take.clicks is None else rhythm_alone(at_s, take.clicks)
    beats = [second for second, _ in beside.part.beats_s]
    beat_s = median([b - a for a, b in pairwise(beats)] or [0.0])
    return rhythm_of([struck for _, struck in _struck(beside, rows)], take.clicks, beat_s)


def _begun(take: HeardTake, rows: _Rows) -> list[tuple[HeardNote, float]]:
    """The heard notes whose beginning is known, and when it is."""
    begun = [(note, rows.begins_s(number)) for number, note in enumerate(take.notes)]
    return [(note, at_s) for note, at_s in begun if at_s is not None]


def _struck(beside: FollowedTake, rows: _Rows) -> list[tuple[FollowedNote, Struck]]:
    """The notes of the part whose beginning is known, in playing order."""
    part = beside.part
    beats = _beat_names(part)
    times = [time for time, _ in beats]
    begins = [measure.begin_s for measure in part.measures]
    found = []
    tried = sorted(one.heard for one in beside.followed.extras if one.kind == "attempt")
    last = -1
    for heard, number in sorted(rows.number_of.items(), key=lambda pair: pair[1]):
        # What was tried before it, or left out: the beat goes on from here.
        again = bisect_right(tried, heard) > bisect_right(tried, last)
        last = max(last, heard)
        note, written = beside.notes[number], part.notes[part.played[number]]
        at_s = rows.begins_s(heard)
        if at_s is None or written.grace:
            continue
        onset = part.onset_s[number]
        near = bisect_right(times, onset + _ON_BEAT_S) - 1
        on_beat = near >= 0 and abs(times[near] - onset) <= _ON_BEAT_S
        late_s = beside.followed.matches[number].late_s or 0.0
        anew = again or abs(late_s) > _WAITED_S
        struck = Struck(
            onset, at_s, beats[near][1] if on_beat else "", written.beats,
            max(bisect_right(begins, onset + _ON_BEAT_S) - 1, 0), anew,
        )  # fmt: skip
        found.append((note, struck))
    return found


def _beat_names(part: ScorePart) -> list[tuple[float, str]]:
    """Every beat of the line as played: its second, and its number in the measure."""
    found, number = [], 0
    for second, begins in part.beats_s:
        number = 1 if begins else number + 1
        found.append((second, str(number)))
    return found


def _rhythm_json(
    rhythm: Rhythm, take: HeardTake, beside: FollowedTake | None, rows: _Rows
) -> dict[str, Any]:
    played: list[tuple[str | None, Pitch, float]]
    if beside is None:
        played = [(None, from_midi(note.midi), at_s) for note, at_s in _begun(take, rows)]
    else:
        played = [(note.measure, note.pitch, one.at_s) for note, one in _struck(beside, rows)]
    measures = () if beside is None else beside.part.measures
    return {
        "against": "clicks" if rhythm.clicks else "player",
        "mean_ms": round(rhythm.mean_ms, 1),
        "spread_ms": round(rhythm.spread_ms, 1),
        "spread_se_ms": round(rhythm.spread_se_ms, 1),
        "trend_percent": round(rhythm.trend_percent, 1),
        "beats": [_timing_json(one, "beat") for one in rhythm.beats],
        "kinds": [_timing_json(one, "quarters") for one in rhythm.kinds],
        "measures": [
            {
                "measure": measures[one.number].number if one.number < len(measures) else None,
                "tempo_percent": round(one.percent, 1),
            }
            for one in rhythm.measures
        ],
        "notes": [
            {
                "measure": measure,
                "note": pitch.name,
                "at_s": round(at_s, 4),
                "late_ms": None if late is None else round(late, 1),
            }
            for (measure, pitch, at_s), late in zip(played, rhythm.late_ms, strict=True)
        ],
    }


def _timing_json(one: Any, key: str) -> dict[str, Any]:
    return {
        key: one.name,
        "mean_ms": round(one.mean_ms, 1),
        "sd_ms": round(one.sd_ms, 1),
        "se_ms": round(one.se_ms, 1),
        "notes": one.notes,
    }


# The other figures as JSON.


def _slur_json(way: Transition, take: HeardTake, rows: _Rows) -> dict[str, Any]:
    first, second = take.notes[way.first], take.notes[way.first + 1]
    number = rows.number_of.get(way.first + 1)
    beside = rows.beside
    return {
        "measure": None if beside is None or number is None else beside.notes[number].measure,
        "from": from_midi(first.midi).name,
        "to": from_midi(second.midi).name,
        "at_s": _round(way.at_s, 3),
        "transit_ms": _round(way.transit_ms, 1),
        "dip_db": round(way.dip_db, 1),
        "smear_cents": _round(way.smear_cents, 1),
        "gap_ms": round(way.gap_ms, 1),
    }


def _attacks_json(heard: Listened, rows: _Rows) -> dict[str, Any]:
    kinds = [attack.kind for attack in rows.attacks]
    rises = [attack.rise_ms for attack in rows.attacks if attack.rise_ms is not None]
    return {
        **{kind: kinds.count(kind) for kind in ATTACKS},
        "unknown": kinds.count(None),
        "rise_ms": _round(median(rises), 1) if rises else None,
        "notes": [
            {
                "at_s": _round(attack.at_s, 4),
                "rise_ms": _round(attack.rise_ms, 1),
                "speak_ms": _round(attack.speak_ms, 1),
                "kind": attack.kind,
            }
            for attack in heard.attacks
        ],
    }


def _steadiness_json(steady: list[Steadiness]) -> dict[str, Any] | None:
    if not steady:
        return None
    return {
        "pitch_sd_cents": round(median(one.pitch_sd_cents for one in steady), 2),
        "level_sd_db": round(median(one.level_sd_db for one in steady), 2),
        "notes": len(steady),
    }


def _tones_json(take: HeardTake, heard: Listened) -> list[dict[str, Any]]:
    """How steady and bright each heard note was."""
    return [
        {
            "start_s": round(note.start_s, 3),
            "pitch_sd_cents": None if note.spread_cents is None else round(_wander(note), 2),
            "level_sd_db": _round(colour.level_sd_db, 2),
            "level_drift_db": _round(colour.level_drift_db, 1),
            "centroid_hz": _round(colour.centroid_hz, 1),
            "colour_sd_percent": _round(colour.centroid_sd_percent, 1),
        }
        for note, colour in zip(take.notes, heard.colours, strict=True)
    ]


def _loudness_json(take: HeardTake, rows: _Rows) -> dict[str, Any]:
    return {
        "range_db": _round(loudness_range_db([note.level_db for note in take.notes]), 1),
        "dynamics": [
            {
                "soft": one.soft,
                "loud": one.loud,
                "difference_db": round(one.difference_db, 1),
                "se_db": round(one.se_db, 1),
                "share": round(one.share, 2),
                "notes": one.notes,
                "told_apart": told_apart(one),
            }
            for one in rows.contrasts
        ],
    }


def _brightness_json(take: HeardTake, heard: Listened) -> dict[str, Any] | None:
    pairs = [
        (note, colour)
        for note, colour in zip(take.notes, heard.colours, strict=True)
        if colour.centroid_hz is not None
    ]
    if not pairs:
        return None
    slope = brightness_slope(
        [note.level_db for note, _ in pairs],
        [colour.centroid_hz or 0.0 for _, colour in pairs],
        [note.f0_hz for note, _ in pairs],
    )
    sds = [colour.centroid_sd_percent or 0.0 for _, colour in pairs]
    return {
        "centroid_hz": round(median(colour.centroid_hz or 0.0 for _, colour in pairs), 1),
        "colour_sd_percent": round(median(sds), 1),
        "percent_per_10_db": None if slope is None else round(slope.value, 1),
        "se_percent": None if slope is None else round(slope.se, 1),
        "notes": len(pairs),
    }


def _against(take: HeardTake, drone: Pitch) -> list[tuple[HeardNote, AgainstDrone]]:
    hz = drone.hz(take.a4_hz)
    return [(note, against_drone(note.f0_hz, hz)) for note in take.notes if note.cents is not None]


def _drone_json(
    take: HeardTake, drone: Pitch, against: list[tuple[HeardNote, AgainstDrone]]
) -> dict[str, Any]:
    return {
        "note": drone.name,
        "hz": round(drone.hz(take.a4_hz), 4),
        "notes": [
            {
                "note": from_midi(note.midi).name,
                "start_s": round(note.start_s, 3),
                "semitones": row.semitones,
                "ratio": f"{row.p}:{row.q}",
                "just_cents": round(row.just_cents, 2),
                "beats_hz": round(row.beats_hz, 2),
            }
            for note, row in against
        ],
    }


def _changes(
    take: HeardTake, rows: _Rows, rhythm: Rhythm | None, beside: FollowedTake | None
) -> list[Figure]:
    """What another take can be compared by."""
    if beside is None:
        off = [abs(note.cents) for note in take.notes if note.cents is not None]
    else:
        off = [
            abs(note.cents - beside.tuning.common)
            for note in beside.notes
            if note.played == "right" and note.cents is not None and not note.joined
        ]
    transits = [one.transit_ms for one in rows.slurs if one.transit_ms is not None]
    found = [
        mean_figure("intonation_cents", off),
        mean_figure("pitch_sd_cents", [one.pitch_sd_cents for one in rows.steady]),
        mean_figure("level_sd_db", [one.level_sd_db for one in rows.steady]),
        mean_figure("transit_ms", transits),
    ]
    if rhythm is not None:
        count = sum(late is not None for late in rhythm.late_ms)
        found.append(Figure("rhythm_ms", rhythm.spread_ms, rhythm.spread_se_ms, count))
    return [one for one in found if one is not None]


def _change_json(one: Figure) -> dict[str, Any]:
    return {
        "figure": one.name,
        "value": round(one.value, 2),
        "se": round(one.se, 3),
        "notes": one.notes,
        "smallest_change": round(one.smallest_change, 2),
    }


def _round(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


# Trust.


def _trust_json(trust: Trust) -> dict[str, Any]:
    return {
        "noise_db": _round(trust.noise_db, 1),
        "signal_db": _round(trust.signal_db, 1),
        "echo_s": _round(trust.echo_s, 2),
        "band_high_hz": _round(trust.high_hz, 0),
        "low_cut": trust.low_cut,
        "clipped": round(trust.clipped, 3),
        "offset": round(trust.offset, 5),
        "beeps": trust.beeps,
        "believed": dict(trust.believed),
    }


_DRY_S, _QUIET_DB = 0.3, 40.0


def _quality(trust: Trust, rhythm: Rhythm | None) -> tuple[Fact, ...]:
    """What the recording is like."""
    said = []
    if trust.signal_db is not None:
        said.append(fact("listening.noise", db=trust.signal_db, quiet=trust.signal_db >= _QUIET_DB))
    if trust.echo_s is not None:
        said.append(fact("listening.echo", seconds=trust.echo_s, dry=trust.echo_s < _DRY_S))
    if trust.high_hz is not None or trust.low_cut:
        said.append(fact("listening.band"))
    if trust.clipped > 0.0:
        said.append(fact("listening.clipped", percent=100.0 * trust.clipped))
    if has_offset(trust):
        said.append(fact("listening.offset"))
    if trust.beeps:
        said.append(fact("listening.beeps", count=trust.beeps))
    if rhythm is not None and rhythm.clicks:
        said.append(fact("listening.against_clicks"))
    return tuple(said)


def _believed(trust: Trust) -> tuple[Fact, ...]:
    """Which figures can be believed."""
    rough = [figure for figure, grade in trust.believed if grade == "rough"]
    lost = [figure for figure, grade in trust.believed if grade == "not"]
    said = [fact("listening.rough", figures=rough)] if rough else []
    said += [fact("listening.not_believed", figures=lost)] if lost else []
    if said:
        return tuple(said)
    untold = trust.signal_db is None and trust.echo_s is None
    return (fact("listening.untold") if untold else fact("listening.all_believed"),)


def _advice(trust: Trust) -> tuple[Fact, ...]:
    """What the student can do for a better recording."""
    grades = dict(trust.believed)
    said = []
    noisy = trust.signal_db is not None and grades["steadiness"] != "good"
    if grades["slurs"] != "good" or noisy:
        said.append(fact("listening.nearer"))
    if trust.clipped > 0.0:
        said.append(fact("listening.less_gain"))
    if trust.high_hz is not None or trust.low_cut:
        said.append(fact("listening.own_recorder"))
    if trust.beeps:
        said.append(fact("listening.headphones"))
    return tuple(said)
