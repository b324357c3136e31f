"""What every job starts from: a horn as this student plays it, and what to choose by."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from handslide.edges.files.horns import BELL_MM, HORN_FILES, load_horn
from handslide.edges.files.profiles import BY_HORN, load_profile
from handslide.ground.errors import BadUsage
from handslide.instrument.air import Air
from handslide.instrument.horn import Horn, HornDescription
from handslide.instrument.marks import as_counted
from handslide.instrument.markstyle import MarkStyle, parse_style
from handslide.instrument.places import Limits, Place, PlaceBook
from handslide.instrument.profile import Profile

DEFAULT_HORN = "tenor"


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """A horn in tune, a student's limits, a profile and a way to write marks."""

    horn: Horn
    profile: Profile
    book: PlaceBook
    style: MarkStyle

    def told(self, place: Place) -> Place:
        """A place as words name it beside its mark: its position as the mark counts it."""
        return as_counted(self.horn, place, self.style)


def load_tuned(
    horn: str | HornDescription, a4_hz: float = 440.0, temp_c: float | None = None
) -> Horn:
    """A horn by name, file or description, in tune for A4; ``temp_c`` None is its own temperature.

    Raises
    ------
    HornError, AirError
        A horn that can't be read, air out of range.
    """
    description = load_horn(horn) if isinstance(horn, str) else horn
    air = Air(temp_c=description.temp_c if temp_c is None else temp_c)
    return description.tuned(a4_hz, air)


def make_setup(
    horn: str | HornDescription = DEFAULT_HORN,
    *,
    a4_hz: float = 440.0,
    temp_c: float | None = None,
    reach: float | None = None,
    learned: Sequence[str] | None = None,
    profile: str | None = None,
    marks: str = "",
) -> Setup:
    """Load and check everything that a job needs.

    ``temp_c`` None is the horn file's own: 25 °C, unless it was measured at another. ``reach`` is a
    position; ``learned`` the valves that the student uses (None: all). ``profile`` None is that of
    the horn, as `BY_HORN`.

    Raises
    ------
    BadData
        A horn or profile that can't be read, air out of range.
    BadUsage
        A reach or valve that this horn doesn't have, an unknown mark style.
    """
    tuned = load_tuned(horn, a4_hz, temp_c)
    chosen = load_profile(BY_HORN if profile is None else profile, tuned)
    if reach is not None and not 1.0 <= reach <= 12.0:
        raise BadUsage("horn.reach", reach=reach)
    names = {valve.name for valve in tuned.valves}
    for valve in learned or ():
        if valve not in names:
            if not names:
                raise BadUsage("horn.no_valves", horn=tuned.name, valve=valve)
            raise BadUsage(
                "horn.no_valve", horn=tuned.name, valve=valve, valves=", ".join(sorted(names))
            )
    limits = Limits(
        reach=reach,
        learned=None if learned is None else frozenset(learned),
        top_partial=int(chosen.top_partial),
        top_partial_valve=int(chosen.top_partial_valve),
    )
    return Setup(tuned, chosen, PlaceBook(tuned, limits), parse_style(marks))


def with_bell(setup: Setup, bell_mm: float) -> Setup:
    """The setup on a horn with its bell's rim there. Raises BadUsage where it can't be."""
    check_bell(bell_mm)
    horn = replace(setup.horn, bell_m=bell_mm / 1000.0)
    return replace(setup, horn=horn, book=PlaceBook(horn, setup.book.limits))


def check_bell(bell_mm: float) -> None:
    """Raise BadUsage where a bell's rim can't be so far along a slide."""
    least_mm, most_mm = BELL_MM
    if not least_mm <= bell_mm <= most_mm:
        raise BadUsage("horn.bell", bell_mm=bell_mm, least_mm=least_mm, most_mm=most_mm)


def parse_learned(text: str | None) -> list[str] | None:
    """Valves as typed: names with commas, ``none`` for none; None for all that the horn has."""
    if text is None:
        return None
    words = [word.strip() for word in text.replace("+", ",").split(",") if word.strip()]
    return [] if [word.lower() for word in words] == ["none"] else words


@dataclass(frozen=True, slots=True)
class HornRow:
    """A horn in a list: its ``name``, whether it is the user's ``own``, and the tuned horn."""

    name: str
    own: bool
    horn: Horn


def list_horns(a4_hz: float = 440.0, temp_c: float | None = None) -> tuple[HornRow, ...]:
    """All horns that can be asked for by name. Raises HornError for a broken file of the user's."""
    return tuple(
        HornRow(name, name not in HORN_FILES.ours, load_tuned(name, a4_hz, temp_c))
        for name in HORN_FILES.known
    )
