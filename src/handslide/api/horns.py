"""Horns: one instrument in tune, within a player's limits, with what to choose by."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from os import PathLike, fspath

import numpy as np
from numpy.typing import ArrayLike

import handslide.api.telling  # noqa: F401 (errors as sentences)
from handslide.api.arrays import Floats, finite, fixed
from handslide.edges.files.horns import HORN_FILES, load_horn
from handslide.ground.errors import BadUsage
from handslide.instrument.horn import HornDescription
from handslide.jobs.setup import Setup, make_setup


@dataclass(frozen=True, slots=True)
class Horn:
    """One horn as it is played now; made by :func:`handslide.horn` and :func:`handslide.fit`.

    ``a4_hz`` is the tuning pitch, ``temp_c`` the air inside. ``length_mm`` is the acoustic length
    of the open tube with the slide closed, ``travel_mm`` how far the slide goes. ``valves`` are
    named after the notes of their loops; their order is that of the columns of all arrays of
    valves. ``reach`` (a position) and ``learned`` (valves) limit the player; None: no limit.
    ``profile`` names the weights that routes are chosen by, ``marks`` how marks are written.
    """

    name: str
    a4_hz: float
    temp_c: float
    length_mm: float
    travel_mm: float
    valves: tuple[str, ...]
    reach: float | None
    learned: tuple[str, ...] | None
    profile: str
    marks: str
    _description: HornDescription = field(repr=False)
    _asked_profile: str | None = field(repr=False)
    _setup: Setup = field(repr=False, compare=False)

    def frequency_hz(self, partial: ArrayLike, extension_mm: ArrayLike, valves: str = "") -> Floats:
        """What sounds: n·c / (2·(L + ΣV + 2x)) · 2^(δ/1200), in Hz (docs/physics.md).

        Parameters
        ----------
        partial, extension_mm
            Numbers or arrays that broadcast: partials from 1, extensions from 0 to the travel.
        valves
            What is engaged, such as ``"F"`` or ``"F+Gb"``; empty: nothing.

        Raises
        ------
        HandslideError
            For valves that the horn doesn't have together, extensions outside the slide.

        Examples
        --------
        >>> import handslide as hs
        >>> horn = hs.horn("tenor-f")
        >>> horn.frequency_hz([1, 2, 4], 0.0).round(2).tolist()
        [58.27, 116.54, 233.08]
        >>> horn.frequency_hz(2, 0.0, "F").round(2).tolist()
        87.31
        """
        engaged = engaged_on(self, valves)
        partials, extensions = np.asarray(partial), np.asarray(extension_mm, np.float64)
        finite("extension_mm", extensions)
        out = (extensions < 0.0) | (extensions > self.travel_mm + 1e-6)
        if out.any():
            raise BadUsage(
                "api.extension", extension_mm=float(extensions[out].flat[0]), most_mm=self.travel_mm
            )
        if not (partials >= 1).all():
            raise BadUsage("api.partial")
        horn = self._setup.horn
        return _each(
            lambda n, mm: horn.frequency_hz(int(n), mm / 1000.0, engaged), partials, extensions
        )

    def position(self, extension_mm: ArrayLike) -> Floats:
        """Positions of extensions: 1 + 12·log2((L + 2x)/L), in semitones of the open horn.

        Examples
        --------
        >>> import handslide as hs
        >>> hs.horn("tenor").position([0.0, 91.5]).round(2).tolist()
        [1.0, 2.03]
        """
        extensions = np.asarray(extension_mm, np.float64)
        finite("extension_mm", extensions)
        return _each(lambda mm: self._setup.horn.position(mm / 1000.0), extensions)

    def extension_mm(self, position: ArrayLike) -> Floats:
        """Extensions in mm of positions; the inverse of :meth:`position`.

        Examples
        --------
        >>> import handslide as hs
        >>> hs.horn("tenor").extension_mm([1, 2, 7]).round(1).tolist()
        [0.0, 88.6, 616.9]
        """
        positions = np.asarray(position, np.float64)
        finite("position", positions)
        return _each(lambda at: 1000.0 * self._setup.horn.extension_m(at), positions)


def _each(work: Callable[..., float], *values: Floats) -> Floats:
    return fixed(np.vectorize(work, otypes=[np.float64])(*values))


def horn(
    name: str | PathLike[str] = "tenor",
    *,
    a4_hz: float = 440.0,
    temp_c: float | None = None,
    reach: float | None = None,
    learned: Sequence[str] | None = None,
    profile: str | None = None,
    marks: str = "",
) -> Horn:
    """A horn in tune, within a player's limits.

    Parameters
    ----------
    name
        One of :func:`handslide.horns`, or the path of a horn file.
    a4_hz
        The tuning pitch, 380 to 500 Hz.
    temp_c
        The air inside the horn, °C. None: that of the horn file, 25 °C unless it was measured at
        another. Speed of sound after Cramer (J. Acoust. Soc. Am. 93 (1993) 2510), 0 to 30 °C.
    reach
        The furthest position that the player reaches at ease, such as 6; None: the slide's end.
    learned
        The valves that the player uses; None: all that the horn has, empty: none.
    profile
        What routes are chosen by: ``classical``, ``beginner``, ``bass``, ``jazz``, one of the
        user's own, or the path of a profile file (docs/effort.md). None: ``bass`` on a horn with
        two valves, else ``classical``.
    marks
        How marks are written, as ``--marks`` of the command line.

    Raises
    ------
    HandslideError
        A horn or profile that there isn't or that can't be read, a valve that it doesn't have,
        air, A4 or reach out of range.

    Examples
    --------
    >>> import handslide as hs
    >>> horn = hs.horn("tenor-f", reach=6)
    >>> horn.valves, round(horn.length_mm), round(horn.travel_mm)
    (('F',), 2979, 670)
    """
    asked = load_horn(fspath(name))
    return horn_of(asked, a4_hz, temp_c, reach, learned, profile, marks)


def horn_of(
    description: HornDescription,
    a4_hz: float,
    temp_c: float | None,
    reach: float | None,
    learned: Sequence[str] | None,
    profile: str | None,
    marks: str,
) -> Horn:
    """A horn from its description; arguments as :func:`horn`."""
    setup = make_setup(
        description, a4_hz=a4_hz, temp_c=temp_c, reach=reach, learned=learned, profile=profile,
        marks=marks,
    )  # fmt: skip
    tuned = setup.horn
    return Horn(
        tuned.name,
        tuned.a4_hz,
        tuned.air.temp_c,
        1000.0 * tuned.length_m,
        1000.0 * tuned.travel_m,
        tuple(valve.name for valve in tuned.valves),
        reach,
        None if learned is None else tuple(learned),
        setup.profile.name,
        marks,
        description,
        profile,
        setup,
    )


def tuned_again(horn: Horn, a4_hz: float, description: HornDescription | None = None) -> Horn:
    """The same horn, or another one of the same player, at another A4."""
    return horn_of(
        horn._description if description is None else description,
        a4_hz, horn.temp_c, horn.reach, horn.learned, horn._asked_profile, horn.marks,
    )  # fmt: skip


def horns() -> tuple[str, ...]:
    """The names of all horns: those that come along, then the user's own.

    Examples
    --------
    >>> import handslide as hs
    >>> "tenor-f" in hs.horns()
    True
    """
    return HORN_FILES.known


def engaged_on(horn: Horn, valves: str) -> tuple[str, ...]:
    """Engaged valves from ``"F+Gb"``, in the order of the horn. Raises BadUsage."""
    names = [name.strip() for name in valves.split("+") if name.strip()]
    for name in names:
        if name not in horn.valves:
            if not horn.valves:
                raise BadUsage("horn.no_valves", horn=horn.name, valve=name)
            known = ", ".join(horn.valves)
            raise BadUsage("horn.no_valve", horn=horn.name, valve=name, valves=known)
    engaged = tuple(name for name in horn.valves if name in names)
    if engaged not in horn._setup.horn.valve_sets:
        raise BadUsage("tuning.needs_other_valve", horn=horn._description.called, valves=engaged)
    return engaged
