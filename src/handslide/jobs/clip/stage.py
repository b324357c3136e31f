"""The pictures of a clip: the music that passes, the mark of the note, the slide; and its cards.

All that is drawn is drawn once, in layers; a picture is put together from them. Pictures have the
shape (height, width, 3), red, green and blue in 8 bits.
"""

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from handslide.edges.files.styles import colour, drawing_style
from handslide.edges.typesetting.layers import (
    DrawnLayer,
    Layer,
    LongPicture,
    Words,
    WordsLayer,
    draw_layers,
)
from handslide.jobs.clip.course import Course, View, view_of
from handslide.jobs.clip.layout import Layout, layout_of
from handslide.sheets.slide import SlideMeasures, layers_across, slide_layers

Pixels = NDArray[np.uint8]

MARKS_FACE = "Handslide Marks"
_AHEAD = 3  # how many pictures wide a piece of the music is that is drawn at once
NOTE_MM = (3.4, 4.6)  # of the light on the note, to the left and right of its head's middle


def _rgb(name: str) -> NDArray[np.uint8]:
    code = colour(name).removeprefix("#")
    return np.frombuffer(bytes.fromhex(code), np.uint8)


class Stage:
    """Pictures of a course.

    ``strip`` is the music as SVG with its width, its height and the height of its staff in mm,
    ``heads_mm`` where the notes are along it.
    """

    def __init__(
        self,
        course: Course,
        slide: SlideMeasures,
        strip: tuple[str, float, float, float],
        heads_mm: Mapping[int, float],
        size: tuple[int, int],
        title: str,
        language: str,
    ) -> None:
        svg, wide_mm, high_mm, staff_mm = strip
        self.course, self.heads_mm = course, heads_mm
        self.view: View = view_of(course.notes, heads_mm)
        self.upright = size[1] > size[0]
        share, numbers = layers_across(slide, upright=self.upright)
        self.layout: Layout = layout_of(size, (high_mm, staff_mm), share, numbers)
        self.music = LongPicture(svg, wide_mm, high_mm, self.layout.pixels_a_mm)
        # Ink of every darkness on the ground of the music, and on the light of a note.
        dark = np.arange(256)[:, None] / 255.0
        self.inks, self._lit = (
            np.rint(_rgb("ink") * (1.0 - dark) + _rgb(ground) * dark).astype(np.uint8)
            for ground in ("sheet", "brass-tint")
        )
        nothing = np.empty((0, 0), np.uint8)
        self._tile: tuple[int, Pixels, Pixels] = (0, nothing, nothing)
        self.slide = slide_layers(
            slide, drawing_style("slide.css"), self.layout.slide_px, self.layout.numbers_px,
            upright=self.upright,
        )  # fmt: skip
        self.marks = tuple(sorted({note.mark for note in course.notes}))
        self._said = title, language
        self.ground = self._empty(size)
        self._slides: dict[tuple[tuple[str, ...], int], Pixels] = {}

    def _layers(self) -> tuple[DrawnLayer | WordsLayer, ...]:
        """What is drawn once: what stays, for each set of valves, what moves, and the marks."""
        layout, slide = self.layout, self.slide
        wide = min(round(6 * layout.mark_px), 2 * layout.mark[0])
        return (
            *(DrawnLayer(svg, slide.width, slide.height) for svg in slide.still.values()),
            DrawnLayer(slide.outer, slide.width, slide.height),
            *(
                WordsLayer(
                    (Words(mark, layout.mark_px, colour("ink"), MARKS_FACE, 700),),
                    wide,
                    round(1.5 * layout.mark_px),
                )
                for mark in self.marks
            ),
        )

    @cached_property
    def drawn(self) -> tuple[dict[tuple[str, ...], Layer], Layer, dict[str, Layer]]:
        """The layers as pixels: what stays by the valves, what moves, the marks."""
        drawn = draw_layers(self._layers(), *self._said)
        count = len(self.slide.still)
        still = dict(zip(self.slide.still, drawn))
        return still, drawn[count], dict(zip(self.marks, drawn[count + 1 :]))

    def _empty(self, size: tuple[int, int]) -> Pixels:
        width, height = size
        ground = np.empty((height, width, 3), np.uint8)
        ground[:] = _rgb("paper")
        line = max(1, round(2 * self.layout.unit))
        foot = self.layout.music[1] + round(8 * self.layout.unit)
        ground[:foot] = _rgb("sheet")
        ground[foot : foot + line] = _rgb("line")
        return ground

    def picture(self, time_s: float) -> Pixels:
        """What is seen at a time of the sound."""
        picture = self.ground.copy()
        now = self.course.sounding(time_s)
        self._put_music(picture, time_s, now)
        if self.course.notes:
            self._put_slide(picture, time_s)
            if now is not None:
                mark, (x, y) = self.drawn[2][self.course.notes[now].mark], self.layout.mark
                rows, columns = mark.colour.shape[:2]
                mark.over(picture, x - columns // 2, y - rows // 2)
        return picture

    def _put_music(self, picture: Pixels, time_s: float, now: int | None) -> None:
        layout, columns = self.layout, picture.shape[1]
        left = round(self.view.at(time_s) * layout.pixels_a_mm) - layout.look
        begin, grey, inked = self._tile
        if not begin <= left or left + columns > begin + grey.shape[1]:
            begin = left - columns // 2
            grey = self.music.grey(begin, _AHEAD * columns)
            inked = self.inks[grey]
            self._tile = (begin, grey, inked)
        here = slice(left - begin, left - begin + columns)
        seen = grey[:, here]
        top = layout.music[0]
        band = picture[top : top + len(seen)]
        band[:] = inked[:, here]
        head_mm = None if now is None else self.heads_mm.get(self.course.notes[now].number)
        if head_mm is not None:
            before, after = (
                min(max(0, round((head_mm + side) * layout.pixels_a_mm) - left), columns)
                for side in (-NOTE_MM[0], NOTE_MM[1])
            )
            band[:, before:after] = self._lit[seen[:, before:after]]

    def _put_slide(self, picture: Pixels, time_s: float) -> None:
        place = self.course.notes[self.course.begun(time_s) or 0].place
        valves = () if place is None else place.valves
        out = round(float(self.course.motion.at([time_s])[0]) * 1000 * self.slide.step)
        stills, outer, _ = self.drawn
        still = stills[valves]
        rows, columns = still.colour.shape[:2]
        x, y = self.layout.slide
        piece = picture[y : y + rows, x : x + columns]
        known = self._slides.get((valves, out))
        if known is None:
            still.over(piece, 0, 0)
            outer.over(piece, *((0, -out) if self.upright else (out, 0)))
            if len(self._slides) > 200:
                self._slides.clear()
            self._slides[valves, out] = piece.copy()
        else:
            piece[:] = known

    def close(self) -> None:
        """Let go of what draws the music."""
        self.music.close()


def card(
    lines: Sequence[tuple[str, float]], size: tuple[int, int], language: str, mark: str = "muted"
) -> Pixels:
    """A plain card: lines of words, each with its size beside that of the largest."""
    width, height = size
    unit = min(size) / 720
    rows = tuple(
        Words(
            text,
            62 * unit * share,
            colour("ink" if share == 1.0 else mark),
            weight=700 if share == 1.0 else 400,
            above=0.0 if k == 0 else 26 * unit,
        )
        for k, (text, share) in enumerate(lines)
    )
    (words,) = draw_layers([WordsLayer(rows, 0.84 * width, 0.84 * height)], lines[0][0], language)
    picture = np.empty((height, width, 3), np.uint8)
    picture[:] = _rgb("sheet")
    tall, wide = words.colour.shape[:2]
    words.over(picture, (width - wide) // 2, (height - tall) // 2)
    return picture
