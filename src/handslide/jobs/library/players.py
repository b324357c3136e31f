"""For whom a library is marked: horns as they are, or the students of a class."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from handslide.edges.files.roster import BrokenRow, read_roster
from handslide.ground.errors import BadUsage
from handslide.jobs.chart.kinds import SHEETS
from handslide.jobs.classes import (
    ClassDefaults,
    apart,
    none_usable,
    setup_of_row,
    speech_of_row,
    student_stems,
)
from handslide.jobs.library.work import PlayedBy
from handslide.jobs.setup import Setup, make_setup
from handslide.words.catalogues import languages
from handslide.words.speech import Speech


@dataclass(frozen=True, slots=True)
class Player:
    """Somebody for whom the parts are marked: ``label`` stands in the names of the files."""

    label: str
    student: str
    played: PlayedBy

    @property
    def json(self) -> dict[str, Any]:
        """What a report and a search need to know, as JSON."""
        horn, limits = self.played.horn, self.played.limits
        return {
            "student": self.student,
            "horn": horn.name,
            "horn_title": horn.title,
            "model": horn.model or horn.name,
            "profile": self.played.profile.name,
            "reach": limits.reach,
            "learned": None if limits.learned is None else sorted(limits.learned),
            "a4_hz": horn.a4_hz,
        }

    @property
    def about(self) -> dict[str, Any]:
        """All that the marks depend on, in an order that never changes."""
        return about_of(self.played)


def about_of(played: PlayedBy) -> dict[str, Any]:
    """All of a player that the marks depend on, in an order that never changes."""
    return {
        "horn": asdict(played.horn),
        "profile": asdict(played.profile),
        "limits": asdict(played.limits)
        | {"learned": None if played.limits.learned is None else sorted(played.limits.learned)},
        "style": asdict(played.style),
    }


def players_of(
    horns: Sequence[str],
    roster: Path | None,
    say: Speech,
    *,
    learned: Sequence[str] | None = None,
    **options: Any,
) -> tuple[tuple[Player, ...], tuple[BrokenRow, ...]]:
    """The players: a row each of the class, else a horn each; and rows that can't be used.

    With a class the one horn is that of the rows that name none. ``options`` are those of
    `make_setup`.

    Raises
    ------
    BadUsage, BadData
        As `make_setup` and `read_roster`; several horns beside a class, valves beside a class.
    """
    if roster is None:
        stems = student_stems([Path(horn).stem if "." in horn else horn for horn in horns])
        return tuple(
            Player(stem, "", played_by(make_setup(horn, learned=learned, **options), say))
            for stem, horn in zip(stems, horns)
        ), ()
    if len(horns) > 1:
        raise BadUsage("library.horns_of_a_class")
    if learned is not None:
        raise BadUsage("usage.valves_of_a_class")
    rows, broken = read_roster(roster, SHEETS, tuple(languages()))
    problems, found = list(broken), []
    defaults = ClassDefaults(horn=horns[0], **options)
    for row in rows:
        with apart(row, problems):
            speaks = speech_of_row(row, say)
            found.append((row.student, played_by(setup_of_row(roster, row, defaults), speaks)))
    if not found:
        raise none_usable(roster, problems)
    stems = student_stems([student for student, _ in found])
    return tuple(
        Player(stem, student, played) for stem, (student, played) in zip(stems, found)
    ), tuple(sorted(problems, key=lambda row: row.number))


def played_by(setup: Setup, say: Speech) -> PlayedBy:
    """A setup as workers need it; its sheets speak as ``say`` does."""
    return PlayedBy(
        setup.horn, setup.profile, setup.book.limits, setup.style, say.language.code, say.names
    )
