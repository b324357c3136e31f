"""A followed take as plain text for a terminal."""

from handslide.faces.cli.show import listed, table
from handslide.jobs.hear.follow import FollowedTake, NoteReport
from handslide.jobs.hear.listen import PRIVACY
from handslide.jobs.hear.sheet import summary

_SIGNS = {"right": "", "wrong": "wrong", "missing": "–", "octave": "octave", "unsure": "?"}


def follow_text(followed: FollowedTake) -> str:
    """The report of a take beside its part."""
    parts = [
        f"{followed.title}\n{followed.setup.horn_line}",
        summary(followed),
        followed.doubt or "",
        table(
            [_row(note) for note in followed.notes if not note.outside],
            ("measure", "note", "mark", "cents", "slide", ""),
        ),
        listed("Habits", [habit.words for habit in followed.habits], "none that is sure"),
        listed(
            "Practise",
            [f"{item.what}: {item.why}; {item.how}." for item in followed.practice],
            "nothing stands out",
        ),
        "\n".join(followed.take.warnings),
        PRIVACY,
    ]
    return "\n\n".join(part for part in parts if part)


def _row(note: NoteReport) -> tuple[str, ...]:
    number = "" if note.cents is None else f"{note.cents:+.0f}"
    slide = "" if note.slide_mm is None else f"{note.slide_mm:+.0f} mm"
    return (
        note.measure,
        note.pitch.pretty,
        note.mark or "–",
        number or _SIGNS[note.played],
        slide,
        note.words,
    )
