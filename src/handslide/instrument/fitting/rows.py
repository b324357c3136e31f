"""Notes at known extensions: which partial each one is, and which of them can't be right."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from handslide.ground.errors import BadData
from handslide.ground.pitch import Pitch, from_midi
from handslide.ground.units import A4_MIDI, cents
from handslide.instrument.horn import Horn
from handslide.instrument.marks import ordinal, valve_words
from handslide.instrument.places import TOP_PARTIAL

DEFAULT_SE_CENTS = 2.0
# A partial explains a note within this, and within this share of the way to the next partial
# (204 cents from the 8th to the 9th, 112 from the 15th to the 16th).
EXPLAINED_CENTS = 90.0
EXPLAINED_SHARE = 0.4
# A note's name is only a hint: at a mark a horn sounds between the names.
MEANT_CENTS = 100.0
# In the search for the tuning a note that is further off counts no more than this.
_BOUND_CENTS = 55.0
_HZ = (15.0, 3000.0)
_SE_CENTS = (0.05, 100.0)
_SEARCH_CENTS = np.arange(-150.0, 150.1, 2.5)


@dataclass(frozen=True, slots=True)
class FitRow:
    """One note at a known extension.

    ``extension_m`` is 0 on the closed slide; anything else was measured with a ruler. ``partial``
    None: found from the frequency. ``meant`` is the note that was to be played, ``label`` how a
    message calls the row.
    """

    frequency_hz: float
    extension_m: float = 0.0
    valves: tuple[str, ...] = ()
    partial: int | None = None
    se_cents: float = DEFAULT_SE_CENTS
    meant: Pitch | None = None
    label: str = ""

    @property
    def words(self) -> str:
        """The row for a message: label, frequency, valves, extension."""
        where = f" at {1000 * self.extension_m:g} mm" if self.extension_m else ""
        what = f"{self.frequency_hz:.1f} Hz{valve_words(self.valves)}{where}"
        return f"{self.label} ({what})" if self.label else what


@dataclass(frozen=True, slots=True)
class PlannedNote:
    """A note to be played at a known extension; fields as in :class:`FitRow`."""

    extension_m: float = 0.0
    valves: tuple[str, ...] = ()
    partial: int | None = None
    meant: Pitch | None = None
    label: str = ""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A row that the fit doesn't use, and why, in one sentence."""

    row: FitRow
    why: str


def check_rows(horn: Horn, rows: Sequence[FitRow]) -> None:
    """Refuse rows that can't come from ``horn`` at all.

    Raises
    ------
    BadData
        One sentence: the row, what it says, what is allowed.
    """
    if not rows:
        raise BadData("there are no notes to fit a horn from: give at least 3 on the closed slide")
    names = [valve.name for valve in horn.valves]
    for row in rows:
        if not (math.isfinite(row.frequency_hz) and _HZ[0] <= row.frequency_hz <= _HZ[1]):
            raise BadData(f"{row.words}: a frequency must lie within {_HZ[0]:g} to {_HZ[1]:g} Hz")
        if not _SE_CENTS[0] <= row.se_cents <= _SE_CENTS[1]:
            raise BadData(
                f"{row.words}: a standard error of {row.se_cents:g} cents is outside "
                f"{_SE_CENTS[0]:g} to {_SE_CENTS[1]:g}"
            )
        if row.partial is not None and not 1 <= row.partial <= TOP_PARTIAL:
            raise BadData(f"{row.words}: partial {row.partial} is outside 1 to {TOP_PARTIAL}")
        _check_extension(horn, row)
        if row.valves not in horn.valve_sets:
            has = ", ".join(names) or "no valves"
            raise BadData(f"{row.words}: {horn.name} can't engage that (it has {has})")


def _check_extension(horn: Horn, row: FitRow) -> None:
    x = row.extension_m
    if 0.0 <= x <= horn.travel_m + 1e-9:
        return
    if x < 0.0:
        raise BadData(f"{row.words}: an extension is 0 (closed) or more")
    slip = ": is that the tube's length, twice the extension?" if x <= 2 * horn.travel_m else ""
    raise BadData(
        f"{row.words}: the slide of {horn.name} ends at {1000 * horn.travel_m:.0f} mm{slip}"
    )


def sort_out(horn: Horn, rows: Sequence[FitRow]) -> tuple[list[FitRow], list[LeftOut]]:
    """(rows with their partials, rows that no partial explains).

    The horn may be tuned up to 150 cents away from ``horn``, and each loop too: the tuning that
    explains most notes is searched first, so that single wrong notes don't spoil the count.
    """
    shift = _best_shift(horn, [row for row in rows if not row.valves], 0.0, {})
    loops: dict[str, float] = {}
    for valve in horn.valves:
        ready = {*loops, valve.name}
        own = [row for row in rows if valve.name in row.valves and ready.issuperset(row.valves)]
        loops[valve.name] = valve.loop_m
        if own:
            tube = horn.length_m + horn.loops_m(own[0].valves)
            best = _best_shift(horn, own, shift, loops)
            loops[valve.name] += tube * (math.pow(2.0, -best / 1200.0) - 1.0)
    good, bad = [], []
    for row in rows:
        why = _why_not(horn, row, shift, loops)
        if why is None:
            good.append(replace(row, partial=_partial(horn, row, shift, loops)))
        else:
            bad.append(LeftOut(row, why))
    return good, bad


def _harmonic(horn: Horn, row: FitRow, shift: float, loops: dict[str, float]) -> float:
    # Frequency of a row as a multiple of the tube's first partial.
    added = sum(loops.get(valve.name, valve.loop_m) for valve in horn.valves
                if valve.name in row.valves)  # fmt: skip
    tube = (horn.length_m * math.pow(2.0, -shift / 1200.0)) + added + 2.0 * row.extension_m
    return row.frequency_hz * 2.0 * tube / horn.speed_m_s


def _partial(horn: Horn, row: FitRow, shift: float, loops: dict[str, float]) -> int:
    if row.partial is not None:
        return row.partial
    return min(max(round(_harmonic(horn, row, shift, loops)), 1), TOP_PARTIAL)


def _best_shift(horn: Horn, rows: Sequence[FitRow], shift: float, loops: dict[str, float]) -> float:
    # The shift in cents of all these rows that leaves the least sum of bounded residuals.
    if not rows:
        return 0.0
    multiple = np.array([_harmonic(horn, row, shift, loops) for row in rows])
    given = np.array([row.partial or 0 for row in rows])
    ratio = multiple[:, None] * np.power(2.0, -_SEARCH_CENTS / 1200.0)[None, :]
    nearest = np.clip(np.round(ratio), 1, TOP_PARTIAL)
    target = np.where(given[:, None] > 0, given[:, None], nearest)
    off = np.minimum(np.abs(1200.0 * np.log2(ratio / target)), _BOUND_CENTS)
    cost = off.sum(axis=0) + 0.05 * np.abs(_SEARCH_CENTS)
    return float(_SEARCH_CENTS[int(np.argmin(cost))])


def _why_not(horn: Horn, row: FitRow, shift: float, loops: dict[str, float]) -> str | None:
    multiple = _harmonic(horn, row, shift, loops)
    partial = _partial(horn, row, shift, loops)
    off = cents(multiple / partial)
    nearest = min(max(round(multiple), 1), TOP_PARTIAL)
    if row.meant is not None:
        sounding = A4_MIDI + cents(row.frequency_hz / horn.a4_hz) / 100.0
        away = 100.0 * (sounding - row.meant.midi)
        if abs(away) > MEANT_CENTS:
            octaves = round(away / 1200.0)
            slip = ": an octave off" if octaves and abs(away - 1200 * octaves) < 60 else ""
            return f"sounds {from_midi(round(sounding)).pretty}, not {row.meant.pretty}{slip}"
    if abs(off) <= _explained(partial):
        return None
    if row.partial is not None and abs(cents(multiple / nearest)) <= _explained(nearest):
        return f"sounds the {ordinal(nearest)} partial, not the {ordinal(row.partial)}"
    return (
        f"no partial explains it: it lies {abs(off):.0f} cents {'above' if off > 0 else 'below'} "
        f"the {ordinal(partial)}"
    )


def _explained(partial: int) -> float:
    return min(EXPLAINED_CENTS, EXPLAINED_SHARE * cents((partial + 1) / partial))
