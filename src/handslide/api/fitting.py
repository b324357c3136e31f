"""A horn from what it sounded."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import repeat

import numpy as np
from numpy.typing import ArrayLike

from handslide.api.arrays import Floats, column, finite, fixed
from handslide.api.horns import Horn, engaged_on, tuned_again
from handslide.api.places import place_of
from handslide.api.rows import Place
from handslide.api.telling import speech_for
from handslide.ground.errors import BadData
from handslide.ground.facts import Fact
from handslide.instrument.fitting.rows import DEFAULT_SE_CENTS, FitRow
from handslide.jobs.tune.fit import FittedHorn, fit_rows
from handslide.jobs.tune.hornfile import commented_horn
from handslide.words.fitting import fitted_lines


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """A horn fitted to R notes, and how sure its P usual places are.

    Attributes
    ----------
    horn
        To be played on, with the limits and profile of the horn that the fit began from.
    closed_hz
        What the first partial of the open horn sounds with the slide closed, Hz.
    places : P places
        The usual ones.
    half_width_mm : (P,)
        Each place lies within ± this in 95 % of cases, mm.
    scatter_cents : (3,)
        How evenly the notes were played: median, and the ends of its 80 % interval, cents.
    left_out
        Rows that the fit doesn't use: by number, a fact that says why.
    noticed
        Facts that the notes show, such as a mark that was off.
    """

    horn: Horn
    closed_hz: float
    places: tuple[Place, ...]
    half_width_mm: Floats
    scatter_cents: Floats
    left_out: dict[int, Fact]
    noticed: tuple[Fact, ...]
    _fitted: FittedHorn = field(repr=False)

    def toml(self, language: str | None = None) -> str:
        """The text of a horn file, which :func:`handslide.horn` reads; comments in a language."""
        say = speech_for(language)
        lines = fitted_lines(say, self._fitted.origin)
        return commented_horn(self._fitted.description, say, lines)


def fit(
    frequency_hz: ArrayLike,
    horn: Horn,
    *,
    extension_mm: ArrayLike = 0.0,
    valves: str | Sequence[str] = "",
    partial: ArrayLike = 0,
    se_cents: ArrayLike = DEFAULT_SE_CENTS,
    name: str = "fitted",
) -> Fitted:
    """Fit a horn to notes played at known extensions.

    Regularised least squares over tube, loops and the deviation of each partial along the slide
    (docs/physics.md). With notes on the closed slide alone far places keep a wide interval.

    Parameters
    ----------
    frequency_hz
        (R,) what sounded, 15 to 3000 Hz.
    horn
        What it is like: the fit begins there, at its A4 and air.
    extension_mm
        (R,) or one for all: 0 is the closed slide, all else was measured with a ruler.
    valves
        What was engaged: ``"F+Gb"``, one for all or one each.
    partial
        (R,) or one for all; 0: found from the frequency.
    se_cents
        (R,) or one for all: standard error, cents.
    name
        What the horn is called.

    Raises
    ------
    HandslideError
        Notes that can't come from such a horn, are too few, or contradict each other; arrays that
        don't fit together, NaN.

    Examples
    --------
    A horn that is 8 cents flat, played closed and 300 mm out:

    >>> import numpy as np
    >>> import handslide as hs
    >>> like = hs.horn("tenor")
    >>> partial, extension_mm = np.repeat([2, 3, 4, 5, 6], 2), np.tile([0.0, 300.0], 5)
    >>> heard_hz = like.frequency_hz(partial, extension_mm) * 2 ** (-8 / 1200)
    >>> fitted = hs.fit(heard_hz, like, extension_mm=extension_mm)
    >>> round(1200 * np.log2(fitted.closed_hz / like.frequency_hz(1, 0.0)))
    -8
    >>> hs.horn("tenor").length_mm < fitted.horn.length_mm, fitted.left_out
    (True, {})
    """
    rows = _rows(frequency_hz, horn, extension_mm, valves, partial, se_cents)
    fitted = fit_rows(
        rows, horn._description, name=name, title=name, a4_hz=horn.a4_hz, temp_c=horn.temp_c
    )
    found = tuned_again(horn, horn.a4_hz, fitted.description)
    played = [(row.frequency_hz, row.extension_m, row.valves) for row in rows]
    return Fitted(
        found,
        float(fitted.fit.closed_hz),
        tuple(place_of(found, report.place) for report in fitted.places),
        fixed([report.half_width_mm for report in fitted.places]),
        fixed(fitted.fit.scatter_cents),
        {
            played.index((one.row.frequency_hz, one.row.extension_m, one.row.valves)): one.why
            for one in fitted.fit.left_out
        },
        tuple(fitted.fit.noticed),
        fitted,
    )


def _rows(
    frequency_hz: ArrayLike,
    horn: Horn,
    extension_mm: ArrayLike,
    valves: str | Sequence[str],
    partial: ArrayLike,
    se_cents: ArrayLike,
) -> list[FitRow]:
    heard = np.atleast_1d(np.asarray(frequency_hz, np.float64))
    if heard.ndim != 1:
        raise BadData("api.shape", name="frequency_hz", shape=str(heard.shape), wanted="(R,)")
    finite("frequency_hz", heard)
    count = len(heard)
    extensions = column("extension_mm", extension_mm, count) / 1000.0
    partials = column("partial", partial, count, np.int64)
    errors = column("se_cents", se_cents, count)
    if not isinstance(valves, str) and len(valves) != count:
        raise BadData("api.shape", name="valves", shape=f"({len(valves)},)", wanted=f"({count},)")
    each = repeat(valves, count) if isinstance(valves, str) else valves
    engaged = [engaged_on(horn, names) for names in each]
    rows = zip(heard.tolist(), extensions.tolist(), engaged, partials.tolist(), errors.tolist())
    return [FitRow(hz, x, down, n or None, se) for hz, x, down, n, se in rows]
