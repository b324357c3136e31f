"""Play-alongs: a part as it sounds, with a count-in, clicks, and the other parts softly."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from handslide.edges.audio.write import audio_bytes, check_ending
from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.musicxml.concert import read_concert
from handslide.edges.musicxml.read import Score, open_score
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact, fact
from handslide.ground.limits import PLAYALONG_S
from handslide.jobs.practice.drone import (
    check_level,
    dynamic_of,
    level_warnings,
    most_dbtp_of,
    sound_json,
)
from handslide.jobs.practice.harmony import (
    Harmony,
    PlayedChord,
    harmony_json,
    harmony_of,
    harmony_warnings,
    played_chords,
)
from handslide.jobs.practice.playtime import Click, Pass, Section, section_of
from handslide.jobs.practice.soundwishes import (
    CLICKS_DB,
    MOST_COUNT_IN,
    MOST_PARTS,
    MOST_TEMPOS,
    MOST_TIMES,
    SOLO_GAINS,
    PlayWishes,
)
from handslide.sound.loudness import HIGHEST_DBTP, Levelled, set_level
from handslide.sound.notes import check_a4
from handslide.sound.playing.pace import Pace
from handslide.sound.playing.phrasing import timed_rows, tones_of
from handslide.sound.playing.room import TAIL_S, add_room
from handslide.sound.playing.score import PlayedScore, Timing
from handslide.sound.playing.steady import hold_all
from handslide.sound.playing.voices import Mix, Seat, sing_all
from handslide.sound.synth import RATE_HZ, add_at, click
from handslide.words.cautions import HEARING
from handslide.words.speech import Speech

OTHERS_GAIN = 0.35
DRONE_GAIN, DRONE_ALONE_GAIN = 0.5, 1.0
CLICK_GAINS = {"part": 0.4, "beat": 0.9, "first": 1.3}
TEMPOS_QPM = (10.0, 500.0)
SPEEDS = (10.0, 400.0)
_TAIL_S = 0.3
_TOLD = ("part", "repeat", "cue", "transpose")  # warnings of a part that change what is heard
_OTHERS_SOFTER = 0.25  # in dynamic
_WIDE = 0.7  # how far to the sides the other parts sit


@dataclass(frozen=True, slots=True)
class PlayedNote:
    """A note of the solo line in the sound: when it begins, and until when its time lasts."""

    index: int
    onset_s: float
    length_s: float
    hz: float


@dataclass(frozen=True, slots=True)
class PlayedPass:
    """The music once: its tempo at the start, and when it begins."""

    tempo_qpm: float
    begins_s: float


@dataclass(frozen=True, slots=True)
class Followed:
    """How much of what the score says on playing is in the music as played."""

    tempo_changes: int = 0
    pauses: int = 0
    dynamics: int = 0
    swing: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class PlayAlong:
    """A play-along as made; times in seconds from the start of the sound.

    ``other_notes`` is how many notes of other parts sound in a pass, ``chords`` what the
    ``harmony`` is in the first pass, where a drone follows it.
    """

    title: str
    part: ScorePart
    wishes: PlayWishes
    passes: tuple[PlayedPass, ...]
    notes: tuple[PlayedNote, ...]
    clicks: tuple[Click, ...]
    others: tuple[str, ...]
    other_notes: int
    followed: Followed
    sound: Levelled
    warnings: tuple[Fact, ...]
    harmony: Harmony | None = None
    chords: tuple[PlayedChord, ...] = ()

    @property
    def tempo_qpm(self) -> float:
        """Quarter notes a minute at the start."""
        return self.passes[0].tempo_qpm

    @property
    def begins_s(self) -> float:
        """When the music begins."""
        return self.passes[0].begins_s

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
    speeds = _speeds(part, wishes)
    concert, warnings = read_concert(
        score, part, others=wishes.others or wishes.drone is not None,
        small_notes=wishes.small_notes, sounds=wishes.sounds,
    )  # fmt: skip
    section = section_of(part, concert.course, wishes.measures)
    harmony = None
    if wishes.drone is not None:
        harmony = harmony_of(concert, part, section, wishes.drone, wishes.a4_hz)
    if not wishes.others:
        concert = replace(concert, parts=concert.parts[:1])
        warnings = warnings if harmony and harmony.source == "parts" else ()
    passes = _passes(concert, section, speeds, wishes)
    clicks = [one for each in passes for one in each.clicks(part, wishes)]
    mix, notes, other_notes = _mix(concert, part, passes, clicks, wishes, harmony)
    chords: tuple[PlayedChord, ...] = ()
    if harmony is not None:
        chords = played_chords(harmony, part, concert.spelled, passes[0])
    sound = set_level(mix, RATE_HZ, wishes.level_lufs, most_dbtp)
    told = [*warnings, *(one.told for one in part.warnings if one.kind in _TOLD)]
    if part.tempo_assumed and wishes.tempo_qpm is None and not wishes.tempos_qpm:
        told.append(fact("practice.tempo_assumed", tempo_qpm=part.tempo_qpm))
    if harmony is not None:
        told += harmony_warnings(chords, harmony.source)
    names = {one.name for one in concert.parts[1:] if one.part_id != part.part_id}
    return PlayAlong(
        title=score.title or Path(score.name).stem,
        part=part,
        wishes=wishes,
        passes=tuple(PlayedPass(part.tempo_qpm * one.speed, one.begins_s) for one in passes),
        notes=tuple(notes),
        clicks=tuple(clicks),
        others=tuple(one.name for one in score.parts if one.name in names),
        other_notes=other_notes,
        followed=_followed(concert, passes[0], wishes),
        sound=sound,
        warnings=(*told, *level_warnings(sound, wishes.level_lufs)),
        harmony=harmony,
        chords=chords,
    )


def _passes(
    concert: PlayedScore, section: Section, speeds: Sequence[float], wishes: PlayWishes
) -> list[Pass]:
    """The section as often as it is wanted, one after the other. Raises BadUsage: too long."""
    timing = concert.timing if wishes.expression else Timing(tempos=concert.timing.tempos)
    passes: list[Pass] = []
    from_s = 0.0
    for speed in speeds:
        pace = Pace(concert.course, timing, speed)
        for _ in range(wishes.times):
            one = Pass(section, concert.course, pace, speed, from_s, wishes.count_in)
            passes.append(one)
            from_s = one.ends_s
    if from_s + _TAIL_S > PLAYALONG_S:
        raise BadUsage(
            "practice.lasts_too_long", minutes=from_s / 60.0, most_minutes=PLAYALONG_S / 60.0
        )
    return passes


def _followed(concert: PlayedScore, first: Pass, wishes: PlayWishes) -> Followed:
    if not wishes.expression:
        return Followed()
    section = first.section
    changes = [
        piece
        for change in first.pace.changes
        for piece in concert.course.pieces(change.from_q, change.to_q)
        if piece[0] < section.end_p and piece[1] > section.begin_p
    ]
    pauses = [one for one in first.pace.pauses if section.begin_p < one.at_p <= section.end_p]
    dynamics = [
        at_p
        for part in concert.parts
        for mark in part.levels
        for at_p in concert.course.times(mark.at_q)
        if section.begin_p <= at_p < section.end_p
    ]
    swung = any(first.pace.swing(row.begin_q) for row in concert.parts[0].rows)
    return Followed(len(changes), len(pauses), len(dynamics), swung)


def _mix(
    concert: PlayedScore,
    part: ScorePart,
    passes: Sequence[Pass],
    clicks: Sequence[Click],
    wishes: PlayWishes,
    harmony: Harmony | None,
) -> tuple[Mix, list[PlayedNote], int]:
    """Solo, other parts and clicks; the notes of the solo, and how many others sound in a pass.
    Raises BadUsage where nothing sounds."""
    tail_s = max(_TAIL_S, TAIL_S) if wishes.room else _TAIL_S
    count = round((passes[-1].ends_s + tail_s) * RATE_HZ)
    # All of a drone alone is in the middle.
    alone = not (SOLO_GAINS[wishes.solo] or wishes.others or wishes.room)
    mix = np.zeros(count if alone else (2, count), np.float32)
    index = {note.ordinal: note.index for note in part.notes}
    seats = _seats(concert, wishes)
    notes: list[PlayedNote] = []
    sounding = others = 0
    for one in passes:
        window = one.section.begin_p, one.section.end_p
        for number, (played, seat) in enumerate(zip(concert.parts, seats)):
            timed = timed_rows(played, one.onset, one.until, window, wishes.a4_hz)
            if number == 0 and harmony is not None:
                timed = harmony.tuned(timed)
            if number == 0:
                notes += [
                    PlayedNote(index[row.row.ordinal], row.onset_s, row.length_s, row.hz)
                    for row in timed
                ]
            elif one is passes[0]:
                others += len(timed)
            if seat.gain > 0.0 and timed:
                sounding += len(timed)
                tones = tones_of(played, timed, flat=not wishes.expression)
                sing_all(mix, tones, seat, life=wishes.life)
        if harmony is not None:
            tones = harmony.tones(one)
            sounding += len(tones)
            hold_all(mix, tones, _drone_seat(wishes))
    if not sounding and not clicks:
        raise BadUsage("practice.nothing_sounds")
    if wishes.room:
        add_room(mix)
    _add_clicks(mix, clicks, wishes)
    return mix, notes, others


def _seats(concert: PlayedScore, wishes: PlayWishes) -> list[Seat]:
    """The solo in the middle, the others softly about it."""
    dynamic = dynamic_of(wishes.level_lufs)
    seats = [Seat(SOLO_GAINS[wishes.solo], 0.0, dynamic)]
    count = len(concert.parts) - 1
    gain = OTHERS_GAIN / max(1.0, count**0.5)
    for number in range(count):
        # From side to side, the first of them near the middle.
        side = (-1.0) ** number * (number // 2 + 1) / (count // 2 + 1)
        seats.append(Seat(gain, _WIDE * side, max(0.1, dynamic - _OTHERS_SOFTER)))
    return seats


def _drone_seat(wishes: PlayWishes) -> Seat:
    """The drone in the middle, softer than what is played over it."""
    gain = DRONE_GAIN if SOLO_GAINS[wishes.solo] else DRONE_ALONE_GAIN
    return Seat(gain, 0.0, dynamic_of(wishes.level_lufs))


def _add_clicks(mix: Mix, clicks: Sequence[Click], wishes: PlayWishes) -> None:
    """Clicks, dry and in the middle."""
    gain = 10.0 ** (wishes.click_db / 20.0) * 0.5**0.5
    for kind, level in CLICK_GAINS.items():
        wave = click(kind)
        for one in clicks:
            if one.kind == kind:
                add_at(mix, wave, one.at_s, gain * level)


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
        "speed_percent": round(100.0 * made.tempo_qpm / made.part.tempo_qpm, 4),
        "music_begins_s": round(made.begins_s, 6),
        "passes": [
            {"tempo_qpm": round(one.tempo_qpm, 4), "begins_s": round(one.begins_s, 6)}
            for one in made.passes
        ],
        "notes": len(made.notes),
        "other_notes": made.other_notes,
        "clicks": len(made.clicks),
        "expression": asdict(made.followed),
        "drone": None if made.harmony is None else harmony_json(made.harmony, made.chords),
        **sound_json(made.sound),
        "warnings": [say.fact(told) for told in made.warnings],
        "caution": say(HEARING),
    }


def _check(wishes: PlayWishes) -> None:
    check_a4(wishes.a4_hz)
    check_level(wishes.level_lufs)
    if wishes.solo not in SOLO_GAINS:
        raise BadUsage("practice.solo", wish=wishes.solo, known=tuple(SOLO_GAINS))
    if not 0 <= wishes.count_in <= MOST_COUNT_IN:
        raise BadUsage("practice.count_in", measures=wishes.count_in, most=MOST_COUNT_IN)
    low, high = CLICKS_DB
    if not low <= wishes.click_db <= high:
        raise BadUsage("practice.click_db", level_db=wishes.click_db, low=low, high=high)
    if not 1 <= wishes.click_parts <= MOST_PARTS:
        raise BadUsage("practice.click_parts", parts=wishes.click_parts, most=MOST_PARTS)
    if not 1 <= wishes.times <= MOST_TIMES:
        raise BadUsage("practice.times", times=wishes.times, most=MOST_TIMES)
    if len(wishes.tempos_qpm) > MOST_TEMPOS:
        raise BadUsage("practice.many_tempos", count=len(wishes.tempos_qpm), most=MOST_TEMPOS)
    given = (wishes.tempo_qpm is not None, wishes.speed_percent is not None, wishes.tempos_qpm)
    if sum(map(bool, given)) > 1:
        raise BadUsage("practice.tempo_and_speed")


def _speeds(part: ScorePart, wishes: PlayWishes) -> list[float]:
    """How much quicker than the part says, of each tempo wanted."""
    tempos = wishes.tempos_qpm or (() if wishes.tempo_qpm is None else (wishes.tempo_qpm,))
    low, high = TEMPOS_QPM
    for tempo_qpm in tempos:
        if not low <= tempo_qpm <= high:
            raise BadUsage("practice.tempo", tempo_qpm=tempo_qpm, low=low, high=high)
    if tempos:
        return [tempo_qpm / part.tempo_qpm for tempo_qpm in tempos]
    if wishes.speed_percent is None:
        return [1.0]
    low, high = SPEEDS
    if not low <= wishes.speed_percent <= high:
        raise BadUsage("practice.speed", percent=wishes.speed_percent, low=low, high=high)
    return [wishes.speed_percent / 100.0]
