"""Clips: a part as a video file, with its captions beside it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handslide.edges.audio.write import audio_bytes
from handslide.edges.engraving.strip import engrave_strip
from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.musicxml.read import open_score
from handslide.edges.video.encoders import Encoding, find_encoding
from handslide.edges.video.write import write_video
from handslide.ground.errors import BadUsage
from handslide.ground.facts import Fact
from handslide.ground.limits import CLIP_S
from handslide.ground.progress import ProgressCallback, silent
from handslide.jobs.clip.captions import captions
from handslide.jobs.clip.course import Course, course_of
from handslide.jobs.clip.stage import Stage, card
from handslide.jobs.clip.wishes import ClipWishes, check_wishes
from handslide.jobs.mark.mark import MarkedPart, MarkOptions, choose_for
from handslide.jobs.mark.slideview import measures_of
from handslide.jobs.practice.playalong import PlayAlong, make_playalong
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.jobs.setup import Setup
from handslide.words.report import FOR_STUDENT
from handslide.words.speech import Speech

CARD_S = 2.5
"""How long a card is seen."""
_SMALLER = 0.56  # of the words below a title


@dataclass(frozen=True, slots=True, eq=False)
class Clip:
    """A clip as made. ``frames`` is how many pictures it has, ``music_s`` when its sound begins."""

    path: Path
    captions: Path
    wishes: ClipWishes
    encoding: Encoding
    marked: MarkedPart
    made: PlayAlong
    course: Course
    frames: int
    music_s: float
    warnings: tuple[Fact, ...]

    @property
    def length_s(self) -> float:
        """How long it is."""
        return self.frames / self.wishes.fps


def write_clip(
    score_path: Path,
    setup: Setup,
    options: MarkOptions,
    play: PlayWishes,
    wishes: ClipWishes,
    say: Speech,
    path: Path | None = None,
    *,
    force: bool = False,
    progress: ProgressCallback | None = None,
) -> Clip:
    """Make a clip of a part (default: FILE-clip.mp4 beside it) and its captions (.vtt).

    Raises
    ------
    ScoreError, BadUsage, BadData
        No such part, wishes out of range, nothing that would sound.
    OutputError
        It can't be written, there is no FFmpeg, or none that can make such a file.
    """
    tell = progress or silent
    path = path or score_path.with_name(f"{score_path.stem}-clip.mp4")
    beside = path.with_suffix(".vtt")
    check_wishes(wishes)
    for one in (path, beside):
        check_free(one, force=force)
    encoding = find_encoding(path.suffix)
    score = open_score(score_path)
    marked = choose_for(score, setup, options, progress)
    made = make_playalong(score, replace(play, a4_hz=setup.horn.a4_hz))
    before, after = cards_of(say, marked, wishes, options.student)
    stage = stage_of(say, marked, made, wishes)
    try:
        show = _Show(stage, made, wishes, before, after)
        tell("filming", 0, show.frames)
        write_video(
            path, encoding, wishes.size, wishes.fps, show.pictures(), show.sound(), force=force,
            told=lambda done: tell("filming", done, show.frames),
        )  # fmt: skip
        text = captions(say, marked, stage.course.notes, show.music_s, stage.layout.captions)
    finally:
        stage.close()
    write_result(beside, text.encode(), force=force)
    return Clip(
        path, beside, wishes, encoding, marked, made, stage.course, show.frames, show.music_s,
        made.warnings,
    )  # fmt: skip


def cards_of(
    say: Speech, marked: MarkedPart, wishes: ClipWishes, student: str
) -> tuple[NDArray[np.uint8] | None, NDArray[np.uint8] | None]:
    """The card before the music, with the student's name if there is one, and that behind it."""
    language = say.language.code
    title = marked.title if wishes.title is None else wishes.title
    lines = [line for line in map(str.strip, title.splitlines()) if line]
    rows = [(line, 1.0 if k == 0 else _SMALLER) for k, line in enumerate(lines)]
    if wishes.title is None and marked.score.composer:
        rows.append((marked.score.composer, _SMALLER))
    if rows and student:
        rows.append((say(FOR_STUDENT, student=student), _SMALLER))
    ends = [(line, 0.8) for line in map(str.strip, wishes.end.splitlines()) if line]
    before = card(rows, wishes.size, language) if rows else None
    return before, card(ends, wishes.size, language, "ink") if ends else None


def stage_of(say: Speech, marked: MarkedPart, made: PlayAlong, wishes: ClipWishes) -> Stage:
    """What a clip of a part is put together from. Raises ScoreError."""
    ordinals = marked.part.ordinals
    strip = engrave_strip(
        marked.score,
        marked.part.part_id,
        {ordinals[number]: text for number, text in marked.printed.items()},
        staff=marked.part.staff,
        hidden=marked.hidden,
    )
    numbers = {ordinal: number for number, ordinal in enumerate(ordinals)}
    heads = {numbers[one]: mm for one, mm in strip.heads_mm.items() if one in numbers}
    return Stage(
        course_of(marked, made),
        measures_of(marked.routed.setup),
        (strip.svg, strip.width_mm, strip.height_mm, strip.staff_mm[1] - strip.staff_mm[0]),
        heads,
        wishes.size,
        marked.title,
        say.language.code,
    )


class _Show:
    """The order of things: a card, the music with its sound, a card."""

    def __init__(
        self,
        stage: Stage,
        made: PlayAlong,
        wishes: ClipWishes,
        before: NDArray[np.uint8] | None,
        after: NDArray[np.uint8] | None,
    ) -> None:
        self._stage, self._made, self._fps = stage, made, wishes.fps
        self._before, self._after = before, after
        whole = round(CARD_S * wishes.fps)
        self._counts = (
            0 if before is None else whole,
            int(np.ceil(made.sound.length_s * wishes.fps)),
            0 if after is None else whole,
        )
        self.frames = sum(self._counts)
        self.music_s = self._counts[0] / wishes.fps
        if self.frames / wishes.fps > CLIP_S:
            minutes = self.frames / wishes.fps / 60
            raise BadUsage("clips.too_long", minutes=minutes, most_minutes=CLIP_S / 60)

    def pictures(self) -> Iterator[NDArray[np.uint8]]:
        """All pictures, one after the other."""
        first, music, last = self._counts
        for _ in range(first):
            assert self._before is not None
            yield self._before
        for number in range(music):
            # What begins while a picture is seen is in it when it is nearer than the next one.
            yield self._stage.picture((number + 0.5) / self._fps)
        for _ in range(last):
            assert self._after is not None
            yield self._after

    def sound(self) -> bytes:
        """The WAV of it all."""
        made = self._made.sound
        rate = made.rate_hz
        samples = np.zeros((len(made.samples), round(self.frames / self._fps * rate)), np.float32)
        at = round(self.music_s * rate)
        heard = made.samples[:, : samples.shape[1] - at]
        samples[:, at : at + heard.shape[1]] = heard
        return audio_bytes(samples, rate)


def clip_json(say: Speech, clip: Clip) -> dict[str, Any]:
    """JSON of ``handslide clip``; times in seconds from the start of the clip."""
    width, height = clip.wishes.size
    return {
        "title": clip.marked.title,
        "part": clip.marked.part.name,
        "horn": clip.marked.routed.setup.horn.name,
        "files": [str(clip.path), str(clip.captions)],
        "width": width,
        "height": height,
        "fps": clip.wishes.fps,
        "frames": clip.frames,
        "length_s": round(clip.length_s, 6),
        "video": clip.encoding.video,
        "audio": clip.encoding.audio,
        "tempo_qpm": round(clip.made.tempo_qpm, 4),
        "music_begins_s": round(clip.music_s + clip.made.begins_s, 6),
        "notes": len(clip.course.notes),
        "warnings": [say.fact(told) for told in clip.warnings],
    }
