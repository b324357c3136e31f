"""A part as it is played, for the player of a page: with the times of a play-along."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from handslide.edges.musicxml.concert import read_concert
from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScorePart
from handslide.ground.facts import Fact
from handslide.jobs.mark.playback import moves_of
from handslide.jobs.mark.routed import Routed
from handslide.jobs.practice.playtime import Pass, section_of
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.sound.playing.pace import Pace
from handslide.sound.playing.phrasing import Tone, timed_rows, tones_of
from handslide.sound.playing.score import PlayedScore

SLURRED, GLIDING = 1, 2


@dataclass(frozen=True, slots=True)
class Performance:
    """A stretch of a part in time, at the speed asked for; seconds count from its beginning.

    ``measures`` are the first and last written measure that it has, from 0. ``rows`` and ``others``
    are as `performance_json` and `others_json` tell.
    """

    measures: tuple[int, int]
    tempo_qpm: float
    length_s: float
    rows: tuple[tuple[Any, ...], ...]
    beats: tuple[tuple[float, int], ...]
    others: tuple[tuple[str, str, tuple[tuple[Any, ...], ...]], ...]
    told: tuple[Fact, ...] = ()


def perform(
    score: Score, part: ScorePart, routed: Routed, wishes: PlayWishes, speed: float
) -> Performance:
    """Play a part, repeats, changes of tempo, fermatas and swing followed, as a play-along does.

    Raises BadUsage for measures that aren't there.
    """
    concert, told = read_concert(
        score, part, others=wishes.others, small_notes=wishes.small_notes, sounds=wishes.sounds
    )
    section = section_of(part, concert.course, wishes.measures)
    pace = Pace(concert.course, concert.timing, speed)
    one = Pass(section, concert.course, pace, speed, 0.0, 0)
    indices = [measure.index for measure in section.measures]
    rows = _solo(concert, part, moves_of(routed), one, wishes, speed)
    return Performance(
        measures=(min(indices), max(indices)),
        tempo_qpm=part.tempo_qpm * speed,
        length_s=one.ends_s,
        rows=tuple(rows),
        beats=tuple(
            (round(click.at_s, 4), int(click.kind == "first")) for click in one.clicks(part, wishes)
        ),
        others=tuple(_others(concert, one, wishes)),
        told=told,
    )


def _solo(
    concert: PlayedScore,
    part: ScorePart,
    moves_s: Mapping[int, float],
    one: Pass,
    wishes: PlayWishes,
    speed: float,
) -> list[tuple[Any, ...]]:
    solo = concert.parts[0]
    numbers = {id(row): number for number, row in enumerate(solo.rows)}
    window = one.section.begin_p, one.section.end_p
    timed = timed_rows(solo, one.onset, one.until, window, wishes.a4_hz)
    tones = {tone.onset_s: tone for tone in tones_of(solo, timed)}
    found = []
    for note in timed:
        number = numbers[id(note.row)]
        move_s, tone = moves_s.get(number), tones[note.onset_s]
        bits = SLURRED * note.row.slurred + GLIDING * note.row.gliding
        found.append(
            (part.played[number], round(note.onset_s, 4), round(note.length_s, 4),
             round(tone.length_s, 4), None if move_s is None else round(move_s / speed, 4),
             bits, *_levels(tone))
        )  # fmt: skip
    return found


def _others(
    concert: PlayedScore, one: Pass, wishes: PlayWishes
) -> list[tuple[str, str, tuple[tuple[Any, ...], ...]]]:
    window = one.section.begin_p, one.section.end_p
    found = []
    for played in concert.parts[1:]:
        timed = timed_rows(played, one.onset, one.until, window, wishes.a4_hz)
        pitches = {(row.onset_s, row.hz): row.row.midi for row in timed}
        rows = tuple(
            (pitches[tone.onset_s, tone.hz], round(tone.onset_s, 3), round(tone.length_s, 3),
             round(tone.levels[0][1], 1))
            for tone in sorted(tones_of(played, timed), key=lambda tone: tone.onset_s)
        )  # fmt: skip
        if rows:
            found.append((played.name, played.timbre, rows))
    return found


def _levels(tone: Tone) -> Sequence[Any]:
    """Corners of the loudness, (share of the tone, dB), flat; none where it is mezzo-forte."""
    corners = [(round(share, 3), round(level, 1)) for share, level in tone.levels]
    stronger = round(tone.stronger_db, 1)
    if not stronger and all(not level for _, level in corners):
        return ()
    return ([number for corner in corners for number in corner], stronger)


def others_json(played: Performance) -> list[dict[str, Any]]:
    """The other parts: rows of MIDI note, onset, how long it sounds, dB."""
    return [{"name": name, "timbre": timbre, "rows": rows} for name, timbre, rows in played.others]


def performance_json(played: Performance) -> dict[str, Any]:
    """Short rows for ``data/scripts/partblock.js``.

    ``played``: written note, onset, length, how long it sounds, the slide's time to come to it
    (None: not known), bits (slurred, gliding), corners of its loudness (share, dB, …), by how many
    dB it begins stronger. ``beats``: second, whether it begins a measure.
    """
    return {
        "tempo_qpm": round(played.tempo_qpm, 3),
        "length_s": round(played.length_s, 4),
        "played": played.rows,
        "beats": played.beats,
    }
