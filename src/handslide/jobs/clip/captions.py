"""The places of a clip's notes as captions, for those who don't hear it: WebVTT (W3C)."""

from collections.abc import Iterable, Mapping, Sequence

from handslide.jobs.clip.course import Shown
from handslide.jobs.mark.mark import MarkedPart
from handslide.words.clips import PLAYED_AT
from handslide.words.listing import UNPLAYABLE
from handslide.words.speech import Speech

# Notes are told together until they last so long, but no more of them than this.
_LEAST_S, _MOST_NOTES = 1.2, 6
_SIGNS = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;"})


def captions(
    say: Speech,
    marked: MarkedPart,
    notes: Sequence[Shown],
    later_s: float,
    settings: Mapping[str, str],
) -> str:
    """A cue for each note, or for a few that are short; the music begins ``later_s`` into the clip.

    ``settings`` say where in the picture they stand.
    """
    cues, where = ["WEBVTT"], " ".join(f"{name}:{value}" for name, value in settings.items())
    for group in _groups(notes):
        words = ", ".join(_told(say, marked, note) for note in group)
        begin, end = group[0].onset_s + later_s, group[-1].end_s + later_s
        cues.append(f"{_time(begin)} --> {_time(end)} {where}\n{words.translate(_SIGNS)}")
    return "\n\n".join(cues) + "\n"


def _groups(notes: Sequence[Shown]) -> Iterable[list[Shown]]:
    group: list[Shown] = []
    for note, after in zip(notes, [*notes[1:], None]):
        group.append(note)
        gap_s = 1e9 if after is None else after.onset_s - note.end_s
        long = note.end_s - group[0].onset_s >= _LEAST_S
        if long or len(group) == _MOST_NOTES or gap_s > _LEAST_S / 2:
            yield group
            group = []


def _told(say: Speech, marked: MarkedPart, note: Shown) -> str:
    pitch = marked.routed.pitches[note.number]
    if note.place is None:
        return say(PLAYED_AT, note=pitch, place=say(UNPLAYABLE))
    return say(PLAYED_AT, note=pitch, place=marked.routed.setup.told(note.place))


def _time(second: float) -> str:
    whole = round(1000 * max(0.0, second))
    hours, rest = divmod(whole, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours:02d}:{minutes:02d}:{rest // 1000:02d}.{rest % 1000:03d}"
