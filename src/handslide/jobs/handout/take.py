"""A take as a hand-out: what was heard over the notes of its part, and where the slide was."""

from dataclasses import replace
from pathlib import Path
from typing import Any, BinaryIO

from handslide.edges.audio.recordings import mp3_of
from handslide.edges.htmlfile.page import HtmlSound
from handslide.edges.musicxml.fingerings import read_fingerings
from handslide.edges.musicxml.read import Score
from handslide.ground.errors import BadUsage
from handslide.ground.limits import HANDED_SOUND_BYTES
from handslide.jobs.handout.block import HandoutBlock
from handslide.jobs.handout.handout import Handout, HandoutWishes, make_page
from handslide.jobs.handout.part import part_block
from handslide.jobs.hear.followed import FollowedTake
from handslide.jobs.hear.onmusic import heard_notes, is_of
from handslide.jobs.hear.report import TakeReport
from handslide.jobs.hear.sheet import take_page
from handslide.jobs.mark.existing import Existing
from handslide.jobs.mark.mark import MarkedPart, MarkOptions
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.words import handout as words
from handslide.words.speech import Speech
from handslide.words.takepage import sheet_title
from handslide.words.takes import summary_line

Sound = Path | BinaryIO


def take_handout(
    marked: MarkedPart,
    report: TakeReport,
    say: Speech,
    wishes: HandoutWishes | None = None,
    *,
    recording: Sound | None = None,
    consent: bool = False,
) -> Handout:
    """A hand-out of a take that followed a part.

    ``marked`` is the part as it was played; only the measures that the take has are in it.
    ``recording`` puts the sound itself into it, for which there must be ``consent``.

    Raises
    ------
    BadUsage
        A report of free playing, of another part or of hardly any of its notes; a recording without
        consent, or one that is too long.
    TakeError
        A recording that can't be read.
    """
    if recording is not None and not consent:
        raise BadUsage("handout.no_consent")
    if report.nothing is not None or not is_of(report, marked.part):
        raise BadUsage("handout.take")
    say = say.on_paper
    sound = None if recording is None else _sound(recording, say)
    block = take_block(marked, report, say, sound=sound)
    title = sheet_title(say, report.title, marked.options.student)
    lines = (summary_line(say, report.summary), say.fact(report.horn))
    notices = () if sound is None else (say(words.RECORDING_INSIDE),)
    data = make_page(title, lines, (block,), wishes, say, notices=notices)
    return Handout(title, marked.part.name, (block,), data)


def followed_part(score: Score, followed: FollowedTake, student: str = "") -> MarkedPart:
    """The part of a followed take, of ``score``, with the places that it was judged by."""
    wished = followed.options
    options = MarkOptions(
        part=wished.part, voice=wished.voice, small_notes=wished.small_notes,
        sounds=wished.sounds, tempo_qpm=wished.tempo_qpm, student=student, existing="replace",
    )  # fmt: skip
    written = Existing(read_fingerings(score, followed.part))
    return MarkedPart(score, followed.part, followed.routed, options, existing=written)


def take_block(
    marked: MarkedPart,
    report: TakeReport,
    say: Speech,
    *,
    name: str = "take",
    heading: str | None = None,
    sound: HtmlSound | None = None,
) -> HandoutBlock:
    """The block of a take: that of its part, and what was heard."""
    part, setup = marked.part, marked.routed.setup
    play = PlayWishes(
        small_notes=marked.options.small_notes, sounds=marked.options.sounds,
        measures=_measures(marked, report), a4_hz=setup.horn.a4_hz,
    )  # fmt: skip
    block = part_block(marked, play, say, name=name, heading=heading)
    first, last = block.measures
    inside = [note.index for note in part.notes if first <= note.measure_index <= last]
    numbers = {number: at for at, number in enumerate(inside)}
    page = take_page(report, say)
    lists = [
        (page.texts.habits, page.habits or (page.texts.no_habits,)),
        (page.texts.practice, _advice(page.practice) or (page.texts.no_practice,)),
    ]
    if page.heard is not None and page.trust is not None:
        lists.append((page.texts.heard, page.heard or (page.texts.nothing_heard,)))
        lists.append((page.texts.trust, page.trust))
    html = replace(
        block.html,
        kind="take",
        data={**block.html.data, **_heard(marked, report, numbers, say)},
        notes=(*((sign, say(said)) for sign, said in words.HEARD_SIGNS), *block.html.notes),
        lists=tuple(lists),
        sound=sound,
    )
    return replace(block, html=html)


def _measures(marked: MarkedPart, report: TakeReport) -> str | None:
    """The measures of the part that lie in the take; None where all do."""
    part = marked.part
    found = {
        part.notes[written].measure_index
        for written, note in zip(part.played, report.notes)
        if not note.outside
    }
    every = {note.measure_index for note in part.notes}
    if not found or found == every:
        return None
    return f"#{min(found) + 1}-#{max(found) + 1}"


def _heard(
    marked: MarkedPart, report: TakeReport, numbers: dict[int, int], say: Speech
) -> dict[str, Any]:
    """``heard`` are rows of note, sign, mm to go, mm that the slide was off, words; ``recorded``
    the notes as they come in the recording: note, second, length, mm off."""
    played = marked.part.played
    heard = heard_notes(report, say, played)
    recorded = [
        (numbers[written], round(note.start_s, 3), round(note.end_s - note.start_s, 3),
         None if note.slide_mm is None else round(note.slide_mm, 1))
        for written, note in zip(played, report.notes)
        if written in numbers and note.start_s is not None and note.end_s is not None
    ]  # fmt: skip
    return {
        "heard": [
            (numbers[i], row["sign"], row["mm"], row["off_mm"], row["words"])
            for i, row in heard.items()
            if i in numbers
        ],
        "recorded": sorted(recorded, key=lambda row: row[1]),
    }


def _advice(rows: tuple[tuple[str, str], ...]) -> tuple[str, ...]:
    return tuple(f"{what}: {how}" if what else how for what, how in rows)


def _sound(recording: Sound, say: Speech) -> HtmlSound:
    name = recording.name if isinstance(recording, Path) else ""
    data = mp3_of(recording, name, HANDED_SOUND_BYTES)
    if data is None:
        raise BadUsage("handout.long_recording", most_mb=HANDED_SOUND_BYTES / 1e6)
    return HtmlSound(data, "audio/mpeg", say(words.RECORDING, size_kb=len(data) / 1e3))
