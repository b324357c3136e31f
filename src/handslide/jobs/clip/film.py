"""A clip as a browser makes it: the layers of its pictures as PNG, and when what is where.

`data/scripts/film.js` puts them together as `jobs/clip/stage` does.
"""

from base64 import b64encode
from typing import Any

from handslide.edges.files.styles import colour
from handslide.edges.pdfparts.leashed import png
from handslide.edges.typesetting.layers import Layer
from handslide.ground.errors import BadUsage
from handslide.ground.limits import CLIP_S
from handslide.jobs.clip.clip import CARD_S, cards_of, stage_of
from handslide.jobs.clip.stage import NOTE_MM, Stage
from handslide.jobs.clip.wishes import ClipWishes, check_wishes
from handslide.jobs.mark.mark import MarkedPart
from handslide.jobs.practice.playalong import PlayAlong
from handslide.words.speech import Speech

_TILE_PX = 1600


def film_json(
    say: Speech, marked: MarkedPart, made: PlayAlong, wishes: ClipWishes, student: str = ""
) -> dict[str, Any]:
    """JSON of a film: lengths in pixels, times in seconds from the start of its sound, pictures as
    addresses with all of their data.

    ``student`` is the name on the card before the music. Raises BadUsage, ScoreError, OutputError.
    """
    check_wishes(wishes)
    if made.sound.length_s > CLIP_S:
        minutes = made.sound.length_s / 60
        raise BadUsage("clips.too_long", minutes=minutes, most_minutes=CLIP_S / 60)
    stage = stage_of(say, marked, made, wishes)
    try:
        title, end = (
            None if card is None else _address(png(card))
            for card in cards_of(say, marked, wishes, student)
        )
        return {
            "width": wishes.size[0],
            "height": wishes.size[1],
            "fps": wishes.fps,
            "length_s": round(made.sound.length_s, 4),
            "card_s": CARD_S,
            "title": title,
            "end": end,
            **_music(stage),
            **_slide(stage),
            "notes": [
                {
                    "on_s": round(note.onset_s, 5),
                    "until_s": round(stage.course.until_s(number), 5),
                    "x": _head(stage, note.number),
                    "mark": note.mark,
                    "valves": "+".join(() if note.place is None else note.place.valves),
                }
                for number, note in enumerate(stage.course.notes)
            ],
        }
    finally:
        stage.close()


def _address(data: bytes) -> str:
    return f"data:image/png;base64,{b64encode(data).decode()}"


def _over(layer: Layer) -> str:
    return _address(png(layer.rgba))


def _head(stage: Stage, number: int) -> float | None:
    """How far along the music the middle of a note's head is."""
    found = stage.heads_mm.get(number)
    return None if found is None else round(found * stage.layout.pixels_a_mm, 5)


def _music(stage: Stage) -> dict[str, Any]:
    layout, view = stage.layout, stage.view
    return {
        "ground": _address(png(stage.ground)),
        "light": colour("brass-tint"),
        "light_px": [round(side * layout.pixels_a_mm, 5) for side in NOTE_MM],
        "look": layout.look,
        "top": layout.music[0],
        "high": stage.music.height,
        "tiles": [
            {"x": x, "png": _address(png(stage.inks[stage.music.grey(x, _TILE_PX)]))}
            for x in range(0, stage.music.width, _TILE_PX)
        ],
        "view": {
            "at_s": [round(one, 5) for one in view.time_s.tolist()],
            "x": [round(one * layout.pixels_a_mm, 5) for one in view.place.tolist()],
            "eased": view.eased.tolist(),
        },
    }


def _slide(stage: Stage) -> dict[str, Any]:
    layout, motion, a_m = stage.layout, stage.course.motion, 1000 * stage.slide.step
    still, outer, marks = stage.drawn
    return {
        "slide": {"x": layout.slide[0], "y": layout.slide[1], "upright": stage.upright},
        "still": {"+".join(valves): _over(layer) for valves, layer in still.items()},
        "outer": _over(outer),
        "marks": {mark: _over(layer) for mark, layer in marks.items()},
        "mark": {"x": layout.mark[0], "y": layout.mark[1]},
        "first": round(motion.first_m * a_m, 3),
        "moves": [
            {
                "at": round(begin, 5),
                "s": round(end - begin, 5),
                "from": round(from_m * a_m, 3),
                "to": round(to_m * a_m, 3),
            }
            for begin, end, from_m, to_m in zip(
                motion.begin_s.tolist(), motion.end_s.tolist(),
                motion.from_m.tolist(), motion.to_m.tolist(),
            )
        ],
    }  # fmt: skip
