"""Play-alongs: a part as it sounds, with a count-in, clicks, and the other parts softly."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from handslide.edges.audio.write import audio_bytes, check_ending
from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.musicxml.articulations import articulations
from handslide.edges.musicxml.read import Score, open_score
from handslide.edges.musicxml.scorepart import PlayedMeasure, ScorePart
from handslide.ground.errors import BadUsage, ScoreError
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import PLAYALONG_S, PLAYED_PARTS
from handslide.ground.units import midi_to_hz
from handslide.ground.wholenumber import whole_number
from handslide.jobs.practice.drone import (
    check_level,
    dynamic_of,
    level_warnings,
    most_dbtp_of,
    sound_json,
)
from handslide.jobs.practice.soundwishes import MOST_COUNT_IN, SOLO_GAINS, PlayWishes
from handslide.sound.loudness import HIGHEST_DBTP, Levelled, set_level
from handslide.sound.notes import check_a4
from handslide.sound.synth import RATE_HZ, SLUR_S, Mix, Tone, add_at, click, render
from handslide.words.cautions import HEARING
from handslide.words.speech import Speech

OTHERS_GAIN = 0.35
CLICK_GAINS = (0.9, 1.3)  # an ordinary beat, the first of a measure
TEMPOS_QPM = (10.0, 500.0)
SPEEDS = (10.0, 400.0)
_TAIL_S = 0.3
_TOLD = ("part", "repeat", "cue", "transpose")  # warnings of a part that change what is heard
_LONGEST_COUNT = 12  # beats of a measure that are counted in; free ones may have many more
_COUNT_FREELY = 4
# How much of its time a note sounds, by its sign.
_SHARES = {"staccatissimo": 0.35, "staccato": 0.5, "portato": 0.75, "tenuto": 1.0, "": 0.92}
_GAP_S = 0.06  # the breath before the next tongued note is no longer
_OTHERS_SOFTER = 0.25  # in dynamic
_NEAR_S = 0.05  # a glissando over a longer rest is not sung through it
_EPS_S = 1e-6


@dataclass(frozen=True, slots=True)
class PlayedNote:
    """A note of the solo line in the sound: when it begins, and until when its time lasts."""

    index: int
    onset_s: float
    length_s: float
    hz: float


@dataclass(frozen=True, slots=True, eq=False)
class PlayAlong:
    """A play-along as made; times in seconds from the start of the sound."""

    title: str
    part: ScorePart
    wishes: PlayWishes
    tempo_qpm: float
    speed: float
    begins_s: float
    notes: tuple[PlayedNote, ...]
    clicks: tuple[tuple[float, bool], ...]
    others: tuple[str, ...]
    sound: Levelled
    warnings: tuple[Fact, ...]

    def data(self, ending: str = ".wav", bits: int = 16) -> bytes:
        """The bytes of a file of this ending."""
        return audio_bytes(self.sound.samples, self.sound.rate_hz, ending, bits)


def make_playalong(
    score: Score, wishes: PlayWishes | None = None, most_dbtp: float = HIGHEST_DBTP
) -> PlayAlong:
    """Play a part of an open score, repeats followed, at sounding pitch.

    Raises
    ------
    ScoreError, BadUsage, BadData
        No such part, wishes out of range, nothing that would sound.
    """
    wishes = wishes or PlayWishes()
    _check(wishes)
    part = score.read_part(
        wishes.part, wishes.voice, small_notes=wishes.small_notes, sounds=wishes.sounds
    )
    speed = _speed(part, wishes)
    first, last = _section(part, wishes.measures)
    section = part.measures[first : last + 1]
    # Each exercise of a sheet, each movement is counted in.
    counted = [
        (measure, _count_in(measure, wishes.count_in, speed))
        for number, measure in enumerate(section)
        if number == 0 or measure.anew
    ]
    lead_s = _length_s(counted[0][1])
    pauses = tuple((measure.begin_s, _length_s(counts)) for measure, counts in counted[1:])
    clock = _Clock(section[0].begin_s, section[-1].end_s, speed, lead_s, pauses)
    clicks = _clicks(part, counted, clock, wishes)
    others, warnings = _others(score, part, wishes)
    mix = _mix(score, part, others, clicks, clock, wishes)
    sound = set_level(mix, RATE_HZ, wishes.level_lufs, most_dbtp)
    warnings += [warning.told for warning in part.warnings if warning.kind in _TOLD]
    if part.tempo_assumed and wishes.tempo_qpm is None:
        warnings.append(fact("practice.tempo_assumed", tempo_qpm=part.tempo_qpm))
    return PlayAlong(
        title=score.title or Path(score.name).stem,
        part=part,
        wishes=wishes,
        tempo_qpm=part.tempo_qpm * speed,
        speed=speed,
        begins_s=lead_s,
        notes=tuple(
            PlayedNote(written, onset, length, hz)
            for written, onset, length, hz, _, _ in _inside(part, clock, wishes.a4_hz)
        ),
        clicks=tuple(clicks),
        others=tuple(other.name for other in others),
        sound=sound,
        warnings=(*warnings, *level_warnings(sound, wishes.level_lufs)),
    )


def _clicks(
    part: ScorePart,
    counted: Sequence[tuple[PlayedMeasure, list[tuple[float, bool, float]]]],
    clock: "_Clock",
    wishes: PlayWishes,
) -> list[tuple[float, bool]]:
    """(second, first of a measure) of all clicks: those counted in, then those along the music."""
    clicks = []
    for measure, counts in counted:
        from_s = clock.at(measure.begin_s) - _length_s(counts)
        clicks += [(from_s + at_s, strong) for at_s, strong, _ in counts]
    if wishes.clicks:
        clicks += [
            (clock.at(at_s), strong)
            for at_s, strong in part.beats_s
            if clock.begin_s - _EPS_S <= at_s < clock.end_s - _EPS_S
        ]
    return clicks


def _mix(
    score: Score,
    part: ScorePart,
    others: Sequence[ScorePart],
    clicks: Sequence[tuple[float, bool]],
    clock: "_Clock",
    wishes: PlayWishes,
) -> Mix:
    """Solo, other parts and clicks. Raises BadUsage where nothing sounds, or for too long."""
    length_s = clock.length_s + _TAIL_S
    if length_s > PLAYALONG_S:
        raise BadUsage(
            "practice.lasts_too_long", minutes=length_s / 60.0, most_minutes=PLAYALONG_S / 60.0
        )
    tones = _tones(score, part, clock, wishes, SOLO_GAINS[wishes.solo], 0.0)
    for other in others:
        gain = OTHERS_GAIN / max(1.0, len(others) ** 0.5)
        tones += _tones(score, other, clock, wishes, gain, _OTHERS_SOFTER)
    if not tones and not clicks:
        raise BadUsage("practice.nothing_sounds")
    mix = render(tones, length_s)
    for strong in (False, True):
        wave = click(strong)
        for at_s, is_strong in clicks:
            if is_strong == strong:
                add_at(mix, wave, at_s, CLICK_GAINS[strong])
    return mix


def playalong_data(
    score: Score, wishes: PlayWishes | None = None, ending: str = ".wav", bits: int = 16
) -> tuple[PlayAlong, bytes]:
    """A play-along and the bytes of its file. Raises as :func:`make_playalong`."""
    check_ending(ending, bits)
    made = make_playalong(score, wishes, most_dbtp_of(ending))
    return made, made.data(ending, bits)


def write_playalong(
    score_path: Path,
    wishes: PlayWishes,
    path: Path | None = None,
    *,
    bits: int = 16,
    force: bool = False,
) -> tuple[PlayAlong, Path]:
    """Make a play-along of a score file and write it (default: FILE-playalong.wav beside it).

    Raises OutputError, too, where it can't be written.
    """
    path = path or score_path.with_name(f"{score_path.stem}-playalong.wav")
    check_ending(path.suffix, bits)
    check_free(path, force=force)
    made, data = playalong_data(open_score(score_path), wishes, path.suffix, bits)
    write_result(path, data, force=force)
    return made, path


def playalong_json(made: PlayAlong, say: Speech) -> dict[str, Any]:
    """JSON of ``handslide playalong``; times in seconds from the start of the sound."""
    return {
        "title": made.title,
        "part": made.part.name,
        "others": list(made.others),
        "solo": made.wishes.solo,
        "measures": made.wishes.measures,
        "a4_hz": made.wishes.a4_hz,
        "tempo_qpm": round(made.tempo_qpm, 4),
        "speed_percent": round(100.0 * made.speed, 4),
        "music_begins_s": round(made.begins_s, 6),
        "notes": len(made.notes),
        "clicks": len(made.clicks),
        **sound_json(made.sound),
        "warnings": [say.fact(told) for told in made.warnings],
        "caution": say(HEARING),
    }


@dataclass(frozen=True, slots=True)
class _Clock:
    """From the part's seconds to the sound's. ``pauses`` are (part's second, seconds of sound)."""

    begin_s: float
    end_s: float
    speed: float
    lead_s: float
    pauses: tuple[tuple[float, float], ...] = ()

    def at(self, part_s: float) -> float:
        """When something begins."""
        return self._plain(part_s) + sum(p for at_s, p in self.pauses if at_s < part_s + _EPS_S)

    def until(self, part_s: float) -> float:
        """When something ends: before a pause that begins there."""
        return self._plain(part_s) + sum(p for at_s, p in self.pauses if at_s < part_s - _EPS_S)

    def _plain(self, part_s: float) -> float:
        return self.lead_s + (part_s - self.begin_s) / self.speed

    @property
    def length_s(self) -> float:
        return self.until(self.end_s)


def _check(wishes: PlayWishes) -> None:
    check_a4(wishes.a4_hz)
    check_level(wishes.level_lufs)
    if wishes.solo not in SOLO_GAINS:
        raise BadUsage("practice.solo", wish=wishes.solo, known=tuple(SOLO_GAINS))
    if not 0 <= wishes.count_in <= MOST_COUNT_IN:
        raise BadUsage("practice.count_in", measures=wishes.count_in, most=MOST_COUNT_IN)
    if wishes.tempo_qpm is not None and wishes.speed_percent is not None:
        raise BadUsage("practice.tempo_and_speed")


def _speed(part: ScorePart, wishes: PlayWishes) -> float:
    """How much quicker than the part says."""
    if wishes.tempo_qpm is not None:
        low, high = TEMPOS_QPM
        if not low <= wishes.tempo_qpm <= high:
            raise BadUsage("practice.tempo", tempo_qpm=wishes.tempo_qpm, low=low, high=high)
        return wishes.tempo_qpm / part.tempo_qpm
    if wishes.speed_percent is None:
        return 1.0
    low, high = SPEEDS
    if not low <= wishes.speed_percent <= high:
        raise BadUsage("practice.speed", percent=wishes.speed_percent, low=low, high=high)
    return wishes.speed_percent / 100.0


def _section(part: ScorePart, wanted: str | None) -> tuple[int, int]:
    """Places in ``part.measures`` of the first and last measure to play."""
    numbers = [measure.number for measure in part.measures]
    if wanted is None:
        return 0, len(numbers) - 1
    from_, dash, to = (word.strip() for word in wanted.replace("–", "-").partition("-"))
    if wanted.strip() in numbers:
        from_, dash, to = wanted.strip(), "", ""
    to = to if dash else from_
    first = _find_measure(part, from_) if from_ else 0
    if first is None:
        raise _no_measure(part, from_, wanted)
    last = _find_measure(part, to, first) if to else len(numbers) - 1
    if last is None:
        raise _no_measure(part, to, wanted)
    return first, last


def _find_measure(part: ScorePart, name: str, start: int = 0) -> int | None:
    """The place in the part as played of a measure's number, or of the Nth measure, ``#N``."""
    count = whole_number(name[1:]) if name.startswith("#") else None
    for at, measure in enumerate(part.measures[start:], start):
        if name == measure.number or (count is not None and measure.index == count - 1):
            return at
    return None


def _no_measure(part: ScorePart, number: str, wanted: str) -> BadUsage:
    known = _find_measure(part, number) is not None
    kind = "practice.no_measure_after" if known else "practice.no_measure"
    return BadUsage(
        kind, wanted=wanted, number=number, first=part.measures[0].number,
        last=part.measures[-1].number,
    )  # fmt: skip


def _count_in(measure: PlayedMeasure, count: int, speed: float) -> list[tuple[float, bool, float]]:
    """Clicks before the music: (second, first of a measure, seconds until the next).

    Before an upbeat the beats that its measure lacks are counted, too.
    """
    beat_s = measure.beat_s / speed
    beats = round(measure.full_s / measure.beat_s + 0.49)
    full_s = measure.full_s / speed
    if not 1 <= beats <= _LONGEST_COUNT:
        beats, full_s = _COUNT_FREELY, _COUNT_FREELY * beat_s
    starts = [number * full_s for number in range(count)]
    ends_s = count * full_s
    if measure.upbeat and count:
        starts.append(ends_s)
        ends_s += full_s - (measure.end_s - measure.begin_s) / speed
    at_s = [start + number * beat_s for start in starts for number in range(beats)]
    kept = [second for second in at_s if second < ends_s - _EPS_S]
    gaps = [later - now for now, later in zip(kept, [*kept[1:], ends_s])]
    return [
        (second, number % beats == 0, gap) for number, (second, gap) in enumerate(zip(kept, gaps))
    ]


def _length_s(counted: list[tuple[float, bool, float]]) -> float:
    return counted[-1][0] + counted[-1][2] if counted else 0.0


def _others(
    score: Score, part: ScorePart, wishes: PlayWishes
) -> tuple[list[ScorePart], list[Fact]]:
    """The other parts that go with this one, and what to say of each that doesn't."""
    found: list[ScorePart] = []
    warnings: list[Fact] = []
    wanted = [info for info in score.parts if info.notes and info.part_id != part.part_id]
    if wishes.others and len(wanted) > PLAYED_PARTS:
        warnings.append(fact("practice.too_many_parts", count=len(wanted), most=PLAYED_PARTS))
    for info in wanted[:PLAYED_PARTS] if wishes.others else ():
        try:
            other = score.read_part(info.part_id)
            if wishes.sounds is not None and any(w.kind == "transpose" for w in other.warnings):
                other = score.read_part(info.part_id, sounds=wishes.sounds)
        except ScoreError as error:
            warnings.append(fact("practice.unread_part", part=info.name, problem=error.fact))
            continue
        if _in_step(part, other):
            found.append(other)
        else:
            warnings.append(fact("practice.other_measures", part=info.name))
    return found, warnings


def _in_step(part: ScorePart, other: ScorePart) -> bool:
    return len(part.measures) == len(other.measures) and all(
        mine.index == theirs.index and abs(mine.begin_s - theirs.begin_s) < 1e-3
        for mine, theirs in zip(part.measures, other.measures)
    )


def _inside(
    part: ScorePart, clock: _Clock, a4_hz: float
) -> list[tuple[int, float, float, float, bool, bool]]:
    """(written note, onset, length, Hz, slur, glissando) of the notes in the section, in the
    sound's time; what is held into it begins with it, what reaches beyond it is cut."""
    rows = []
    for written, onset, length, slur, gliss in zip(
        part.played, part.onset_s, part.length_s, part.slur, part.gliss
    ):
        begin, end = max(onset, clock.begin_s), min(onset + length, clock.end_s)
        if end <= begin + _EPS_S:
            continue
        hz = midi_to_hz(part.notes[written].sounding.midi, a4_hz)
        start = clock.at(begin)
        rows.append((written, start, clock.until(end) - start, hz, slur, gliss))
    return rows


def _tones(
    score: Score, part: ScorePart, clock: _Clock, wishes: PlayWishes, gain: float, softer: float
) -> list[Tone]:
    """The notes as tones, their ends shaped by slurs and articulation."""
    if gain == 0.0:
        return []
    signs = articulations(score, part)
    dynamic = max(0.1, dynamic_of(wishes.level_lufs) - softer)
    rows = _inside(part, clock, wishes.a4_hz)
    tones: list[Tone] = []
    joined = glided = False  # to the note before
    for place, (written, onset, length, hz, slur, gliss) in enumerate(rows):
        after = rows[place + 1] if place + 1 < len(rows) else None
        goes_on = False
        if after is not None and after[1] - onset - length < _NEAR_S:
            # Under a slur the same note again is tongued softly: nobody would hear it otherwise.
            goes_on = gliss or (slur and after[3] != hz)
        tone = Tone(onset, length, hz, dynamic, gain, accent="accent" in signs[written])
        if after is not None and goes_on:
            tone = replace(tone, length_s=after[1] - onset + SLUR_S, release_s=SLUR_S)
            if gliss:
                tone = replace(tone, to_hz=after[3], glide_s=after[1] - onset)
        else:
            tone = replace(tone, length_s=_sounding_s(length, signs[written], slur))
        if joined:
            tone = replace(tone, attack_s=SLUR_S, accent=False, carry=glided)
        tones.append(tone)
        joined, glided = goes_on, goes_on and gliss
    return tones


def _sounding_s(length_s: float, signs: frozenset[str], slur: bool) -> float:
    """How long a note sounds before the next is tongued."""
    if slur and not signs & {"staccato", "staccatissimo"}:
        return length_s * _SHARES["tenuto"]
    share = min((_SHARES[sign] for sign in signs if sign in _SHARES), default=_SHARES[""])
    if "tenuto" in signs and "staccato" in signs:
        share = _SHARES["portato"]
    if share < _SHARES[""]:
        return length_s * share
    return length_s - min(_GAP_S, (1.0 - share) * length_s)
