"""A sheet of several short pieces of music: exercises with headings, tables, a practice log."""

import json
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from handslide.edges.engraving.engrave import OVERHANG_MM, Engraving, Notated, Paper, engrave_part
from handslide.edges.typesetting.part import Section, one_line
from handslide.edges.typesetting.run import count_pages, run_typst
from handslide.ground.facts import Fact

# Shorter lines of music than on a part's page: there is a heading every few lines.
# An ossia is as large as this beside other music; its marks are of 8.5 pt on paper.
OSSIA_SIZE = 0.72
_MARK_PT, _OSSIA_PT = 10.0, 8.5
_LOOSE_MM = 21.0
# Small music: its size beside the usual one on A4 and on shorter paper (marks of 10 pt stay 8 pt),
# and closer lines.
_SMALL_SIZE, _SMALL_SIZE_SHORT, _SMALL_MM = 0.86, 0.8, 16.0
_A4_MM = 297.0
_FILL_FROM = 0.35
_HEADING_MM = 27.0  # room of a heading and its text above music that needs a page of its own


@dataclass(frozen=True, slots=True)
class Exercise:
    """One exercise: its number or letter, words, engraved music and perhaps a table.

    ``music_alt`` says what the pictures of the music are. ``problem``: it has no music, and why.
    ``steps`` are tempos to tick one after the other; ``days`` are names in boxes to tick (None:
    no box, empty: one without a name). ``aside`` stands between the title and these. ``ossia`` is
    music that may be played instead, to be set small below, ``ossia_text`` what is said of it.
    """

    number: str
    title: str
    instruction: str
    music: tuple[str, ...]
    music_alt: str
    table: Section | None = None
    problem: Fact | None = None
    steps: tuple[str, ...] = ()
    days: tuple[str | None, ...] = ()
    aside: str = ""
    ossia: tuple[str, ...] = ()
    ossia_text: str = ""


@dataclass(frozen=True, slots=True)
class Group:
    """Exercises under one heading; an empty heading has none."""

    heading: str
    note: str
    exercises: tuple[Exercise, ...]


@dataclass(frozen=True, slots=True)
class PracticeLog:
    """A table to tick: each row has a number, what to practise and the tempo to reach.

    ``what`` and ``reached`` head these columns, ``minutes`` the last row.
    """

    heading: str
    note: str
    what: str
    days: tuple[str, ...]
    reached: str
    rows: tuple[tuple[str, str, str], ...]
    minutes: str


@dataclass(frozen=True, slots=True)
class Worksheet:
    """All texts and music of a sheet.

    ``cautions`` stand small at its end, ``notices`` below its title. ``room`` heads lines to write
    on where a page has much room left; without it there are none. ``small`` is its music.
    ``dense``: it must come out short: less air, groups with a line between them and no heading.
    """

    title: str
    subtitle: str
    student_line: str
    horn_line: str
    groups: tuple[Group, ...]
    legend: tuple[tuple[str, str], ...]
    paper: Paper
    language: str
    log: PracticeLog | None = None
    cautions: tuple[str, ...] = ()
    room: str = ""
    notices: tuple[str, ...] = ()
    small: bool = False
    dense: bool = False

    @property
    def problems(self) -> tuple[Fact, ...]:
        """What is said of the exercises that have no music."""
        rows = (one.problem for group in self.groups for one in group.exercises)
        return tuple(told for told in rows if told is not None)


def dense_paper(paper: Paper) -> Paper:
    """The paper with the narrower margins of a dense sheet."""
    return replace(paper, top_mm=13.0, foot_mm=16.0)


def small_size(paper: Paper) -> float:
    """The size of small music beside the usual one."""
    return _SMALL_SIZE if paper.height_mm >= _A4_MM else _SMALL_SIZE_SHORT


def fewest_pages(make: Callable[[bool], Worksheet]) -> Worksheet:
    """The sheet, its music small where that saves a page. Raises OutputError.

    ``make`` gives it, small or not.
    """
    usual = make(False)
    pages = _pages(usual)
    if pages == 1:
        return usual
    small = make(True)
    return small if _pages(small) < pages else usual


def _pages(sheet: Worksheet) -> int:
    return count_pages("worksheet.typ", _files(sheet), sheet.title)


def engrave_exercise(
    score: Notated,
    part_id: str,
    marks: Mapping[int, str],
    paper: Paper,
    staff: str | None = None,
    hidden: Collection[tuple[int, str]] = (),
    *,
    across: bool = False,
    below: tuple[str, Mapping[int, str]] | None = None,
    small: bool = False,
    ossia: bool = False,
) -> Engraving:
    """Engrave one exercise: a single picture, or one a line of music when a page is too short.

    ``across``: a short line goes across the page, too. ``small``: and lines stand closer together.
    ``ossia``: the sheet sets it smaller, so that its marks are larger here.

    Arguments and errors as `handslide.edges.engraving.engrave.engrave_part`.
    """
    sheet = replace(
        paper,
        loose_mm=_SMALL_MM if small else _LOOSE_MM,
        title_mm=_HEADING_MM,
        fill_from=0.0 if across else _FILL_FROM,
        even_lines=True,
    )
    if small:
        # It is engraved on a wider column, which the sheet brings to its own width.
        wide = paper.music_width_mm / small_size(paper) + 2 * paper.side_mm
        sheet = replace(sheet, width_mm=wide, hang_mm=paper.hang_mm / small_size(paper))
    pt = _OSSIA_PT / OSSIA_SIZE if ossia else _MARK_PT
    whole = engrave_part(
        score, part_id, marks, sheet, staff=staff, hidden=hidden, below=below, mark_pt=pt
    )
    if len(whole.pages) == 1:
        return whole
    # On paper of 1 mm each page takes one line.
    lines = replace(sheet, height_mm=sheet.top_mm + sheet.foot_mm + 1.0, title_mm=0.0)
    return engrave_part(
        score, part_id, marks, lines, staff=staff, hidden=hidden, below=below, mark_pt=pt
    )


def warned(sentences: Sequence[str]) -> Section | None:
    """What went wrong in engraving an exercise, to stand below it; None when all is well."""
    return Section("", (), " ".join(sentences)) if sentences else None


def typeset_worksheet(sheet: Worksheet) -> bytes:
    """The sheet as a tagged PDF. Raises OutputError when the typesetter can't set it."""
    return run_typst("worksheet.typ", _files(sheet), sheet.title)[0]


def render_worksheet(sheet: Worksheet, *, ppi: float = 110.0) -> tuple[bytes, ...]:
    """The same sheet as one PNG picture per page. Raises OutputError."""
    return run_typst("worksheet.typ", _files(sheet), sheet.title, "png", ppi)


def _files(sheet: Worksheet) -> dict[str, str]:
    files: dict[str, str] = {}
    groups = []
    for group in sheet.groups:
        rows = []
        for exercise in group.exercises:
            plain = replace(exercise, music=(), ossia=(), problem=None)
            rows.append(
                _tidied(asdict(plain))
                | {
                    "music": _pictures(exercise.music, exercise.music_alt, files),
                    "ossia": _pictures(exercise.ossia, exercise.ossia_text, files),
                }
            )
        groups.append(
            {
                **_tidied({"heading": group.heading, "note": group.note}),
                "exercises": rows,
            }
        )
    values = _tidied(asdict(replace(sheet, groups=())))
    size = small_size(sheet.paper) if sheet.small else 1.0
    values |= {"ossia_size": OSSIA_SIZE}
    values |= {"groups": groups, "overhang_mm": OVERHANG_MM * size}
    return {**files, "sheet.json": json.dumps(values)}


def _pictures(pages: Sequence[str], alt: str, files: dict[str, str]) -> list[dict[str, str]]:
    """Pages of music as files, and what they are."""
    found = []
    for page in pages:
        file = f"music-{len(files) + 1}.svg"
        files[file] = page
        found.append({"file": file, "alt": alt})
    return found


def _tidied(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _tidied(one) for key, one in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_tidied(one) for one in value]
    return one_line(value)
