"""One way of a question for a player: what sounds, and how the slide goes with it."""

from typing import Any

from handslide.edges.engraving.values import NOTE_ID
from handslide.ground.notenames import full_name
from handslide.ground.units import midi_to_hz
from handslide.instrument.effort import timing
from handslide.instrument.learning.passages import line_of
from handslide.instrument.marks import mark
from handslide.jobs.mark.slideview import slide_view
from handslide.jobs.profile.ways import WaysInPart
from handslide.words.places import place_out
from handslide.words.speech import Speech


def way_json(say: Speech, shown: WaysInPart, way: int) -> dict[str, Any]:
    """JSON of the shown notes, played way 0 or 1, as `handslide.jobs.mark.playback` has it.

    ``notes`` are numbered from 0, ``el`` is the ``data-note`` of what is drawn of a note; seconds
    count from the first note.
    """
    ways = shown.ways
    setup, places = ways.setup, ways.places[way]
    notes = [ways.question.notes[number] for number in shown.shown]
    line = line_of(notes)
    moves = [None, *(round(move_s, 4) for move_s in timing(setup.profile, line).move_s.tolist())]
    rows, played = [], []
    for i, (number, note) in enumerate(zip(shown.shown, notes)):
        place, a4_hz = places[number], setup.horn.a4_hz
        extension_mm = 1000.0 * place.extension_m
        rows.append(
            {
                "i": i,
                "el": f"{NOTE_ID}{shown.ordinals[number]}",
                "name": full_name(ways.pitches[number], say.names),
                "mark": mark(setup.horn, place, setup.style),
                "valves": list(place.valves),
                "partial": place.partial,
                "position": round(place.position, 4),
                "extension_mm": round(extension_mm, 2),
                "words": place_out(say, setup.told(place).position, place.valves, extension_mm),
            }
        )
        played.append(
            {
                "i": i,
                "on_s": round(note.onset_s - notes[0].onset_s, 5),
                "len_s": round(note.length_s, 5),
                "slur": note.slur and i + 1 < len(notes),
                "gliss": note.gliss and i + 1 < len(notes),
                "hz": round(midi_to_hz(note.midi, a4_hz), 5),
                "move_s": moves[i],
            }
        )
    return {"horn": slide_view(setup), "notes": rows, "played": played}
