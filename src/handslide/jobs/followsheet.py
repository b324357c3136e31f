"""The page of a followed take: what the job knows, put into what the sheet draws."""

from handslide.ground.pitch import from_midi
from handslide.instrument.habits import HEARING_CENTS
from handslide.instrument.heardplace import CLOSED_M
from handslide.jobs.follow import FollowedTake, NoteReport
from handslide.jobs.listen import PRIVACY
from handslide.sheets.frame import Head
from handslide.sheets.shapes import Sheet
from handslide.sheets.takereport import TakeNote, TakeReport, take_pages

_MOST_HABITS = 5
_LEAST_FIX_MM = 3.0
_VISIBLE_SE_CENTS = 2.0


def follow_sheet(followed: FollowedTake) -> Sheet:
    """The sheet of a take: one page, or more for a long one."""
    notes = tuple(_note(note) for note in followed.notes if not note.outside)
    options, setup = followed.options, followed.setup
    title = f"How it sounded: {followed.title}"
    if options.student:
        title += f" · {options.student}"
    head = Head(title, (setup.horn_line, summary(followed)), options.paper, legend=_legend(notes))
    horn = setup.horn
    positions = [(str(n), 1000.0 * horn.extension_m(n)) for n in range(1, 13)]
    report = TakeReport(
        notes=notes,
        habits=_first(followed) + tuple(habit.words for habit in followed.habits[:_MOST_HABITS]),
        practice=_practice(followed),
        positions_mm=tuple(row for row in positions if row[1] <= 1000.0 * horn.travel_m + 1.0),
        closing=PRIVACY,
    )
    return Sheet(title, take_pages(head, report))


def _first(followed: FollowedTake) -> tuple[str, ...]:
    """What to know before all habits."""
    return (followed.doubt,) if followed.doubt else ()


def _practice(followed: FollowedTake) -> tuple[tuple[str, str], ...]:
    if followed.doubt:
        return (("", "First find out which part this is, and how it is read."),)
    return tuple((item.what, f"{item.why}: {item.how}.") for item in followed.practice)


def _note(note: NoteReport) -> TakeNote:
    place = None if note.place is None else 1000.0 * note.place.extension_m
    slide = fix = None
    if place is not None and note.slide_mm is not None and note.cents is not None:
        slide = place + note.slide_mm
        audible = abs(note.cents) >= HEARING_CENTS and abs(note.slide_mm) >= _LEAST_FIX_MM
        # A closed slide that sounds sharp can't be mended by the slide.
        if audible and not (slide < -1000.0 * CLOSED_M and place <= 1000.0 * CLOSED_M):
            fix = -note.slide_mm
    heard = note.heard
    return TakeNote(
        measure=note.measure,
        name=note.pitch.pretty,
        mark=note.mark,
        played=note.played,
        cents=note.cents,
        cents_se=None if heard is None else heard.cents_se,
        place_mm=place,
        slide_mm=slide,
        fix_mm=fix,
        heard="" if heard is None or note.played != "wrong" else from_midi(heard.midi).pretty,
    )


def _legend(notes: tuple[TakeNote, ...]) -> tuple[tuple[str, str], ...]:
    kinds = {note.played for note in notes}
    rows = [("dot:0", "as played")]
    if any((note.cents_se or 0.0) > _VISIBLE_SE_CENTS for note in notes):
        rows.append(("|", "how sure the pitch is"))
    if any(note.fix_mm is not None and note.fix_mm > 0 for note in notes):
        rows.append(("↓12", "slide 12 mm further out"))
    if any(note.fix_mm is not None and note.fix_mm < 0 for note in notes):
        rows.append(("↑12", "slide 12 mm further in"))
    if "wrong" in kinds:
        rows.append(("×", "another note (its name below)"))
    if "octave" in kinds:
        rows.append(("dot:1", "in another octave"))
    if "missing" in kinds:
        rows.append(("ring:0", "not heard"))
    if "unsure" in kinds:
        rows.append(("?", "not sure"))
    return tuple(rows)


def summary(followed: FollowedTake) -> str:
    """One line on the whole take."""
    counts = followed.counts
    said = [f"{counts['right']} of {sum(counts.values())} notes right"]
    for kind, words in (
        ("wrong", "wrong"),
        ("octave", "in another octave"),
        ("missing", "not heard"),
        ("unsure", "not sure"),
    ):
        if counts[kind]:
            said.append(f"{counts[kind]} {words}")
    kinds = [extra.kind for extra in followed.followed.extras]
    if kinds.count("extra"):
        said.append(f"{kinds.count('extra')} that aren't in the part")
    if len(kinds) > kinds.count("extra"):
        said.append(f"{len(kinds) - kinds.count('extra')} played again")
    outside = sum(note.outside for note in followed.notes)
    if outside:
        said.append(f"{outside} notes of the part are before or after this take")
    if followed.tempo_ratio is not None:
        said.append(f"tempo {100 * followed.tempo_ratio:.0f} % of the part's")
    return " · ".join(said)
