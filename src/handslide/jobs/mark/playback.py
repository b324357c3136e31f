"""A routed part as it sounds: times, pitches, the slide's moves and the beats, for a player."""

from typing import Any

from handslide.edges.musicxml.scorepart import ScorePart
from handslide.ground.units import midi_to_hz
from handslide.jobs.mark.routed import Routed


def playback(routed: Routed, part: ScorePart) -> dict[str, Any]:
    """JSON of a part as played, times in seconds at the part's own tempo.

    ``played`` has a row for each note that the player strikes: ``i`` is its written note,
    ``move_s`` the time that the slide has to come to it from the note before (None for the first,
    and for notes that can't be played). ``beats`` are [second, whether it begins a measure].
    """
    a4_hz = routed.setup.horn.a4_hz
    moves = moves_of(routed)
    rows = []
    for number, written in enumerate(part.played):
        rows.append(
            {
                "i": written,
                "on_s": round(part.onset_s[number], 5),
                "len_s": round(part.length_s[number], 5),
                "slur": part.slur[number],
                "gliss": part.gliss[number],
                "hz": round(midi_to_hz(part.notes[written].sounding.midi, a4_hz), 5),
                "move_s": moves.get(number),
            }
        )
    return {
        "played": rows,
        "beats": [[round(second, 5), int(first)] for second, first in part.beats_s],
    }


def moves_of(routed: Routed) -> dict[int, float]:
    """Seconds that the slide has to come to each note as played, from the one before it, by its
    number; none for the first, and for notes that can't be played."""
    if routed.solution is None:
        return {}
    keep = routed.cleared.keep.tolist()
    return {
        number: round(time_s, 4)
        for number, time_s in zip(keep[1:], routed.solution.when.move_s.tolist())
    }
