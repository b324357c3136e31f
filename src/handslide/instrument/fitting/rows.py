"""Notes at known extensions: which partial each one is, and which of them can't be right."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from handslide.ground.errors import BadData
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, from_midi
from handslide.ground.units import A4_MIDI, cents
from handslide.instrument.horn import Horn
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
# So near to an octave off a note is taken for the right one in another octave.
_OCTAVE_SLIP_CENTS = 60.0
_HZ = (15.0, 3000.0)
_SE_CENTS = (0.05, 100.0)
_SEARCH_CENTS = np.arange(-150.0, 150.1, 2.5)


@dataclass(frozen=True, slots=True)
class FitRow:
    """One note at a known extension.

    ``extension_m`` is 0 on the closed slide; anything else was measured with a ruler. ``partial``
    None: found from the frequency. ``meant`` is the note that was to be played, ``label`` what the
    row is called.
    """

    frequency_hz: float
    extension_m: float = 0.0
    valves: tuple[str, ...] = ()
    partial: int | None = None
    se_cents: float = DEFAULT_SE_CENTS
    meant: Pitch | None = None
    label: Fact | None = None

    @property
    def told(self) -> Fact:
        """The row for a message: label, frequency, valves, extension."""
        what = fact(
            "fitting.frequency",
            hz=self.frequency_hz,
            valves=self.valves,
            extension_mm=1000.0 * self.extension_m,
        )
        return what if self.label is None else fact("fitting.row", label=self.label, what=what)


@dataclass(frozen=True, slots=True)
class PlannedNote:
    """A note to be played at a known extension; fields as in :class:`FitRow`."""

    extension_m: float = 0.0
    valves: tuple[str, ...] = ()
    partial: int | None = None
    meant: Pitch | None = None
    label: Fact | None = None


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A row that the fit doesn't use, and why."""

    row: FitRow
    why: Fact


def check_rows(horn: Horn, rows: Sequence[FitRow]) -> None:
    """Refuse rows that can't come from ``horn`` at all.

    Raises
    ------
    BadData
        The row, what it says, what is allowed.
    """
    names = tuple(valve.name for valve in horn.valves)
    for row in rows:
        if not (math.isfinite(row.frequency_hz) and _HZ[0] <= row.frequency_hz <= _HZ[1]):
            raise BadData("fitting.hz_range", row=row.told, low_hz=_HZ[0], high_hz=_HZ[1])
        if not _SE_CENTS[0] <= row.se_cents <= _SE_CENTS[1]:
            low, high = _SE_CENTS
            raise BadData(
                "fitting.se_range", row=row.told, se_cents=row.se_cents, low=low, high=high
            )
        if row.partial is not None and not 1 <= row.partial <= TOP_PARTIAL:
            raise BadData(
                "fitting.partial_range", row=row.told, partial=row.partial, most=TOP_PARTIAL
            )
        _check_extension(horn, row)
        if row.valves not in horn.valve_sets:
            raise BadData("fitting.cant_engage", row=row.told, horn=horn.called, has=names)


def _check_extension(horn: Horn, row: FitRow) -> None:
    x = row.extension_m
    if 0.0 <= x <= horn.travel_m + 1e-9:
        return
    if x < 0.0:
        raise BadData("fitting.negative_extension", row=row.told)
    beyond = {"row": row.told, "horn": horn.called, "travel_mm": 1000.0 * horn.travel_m}
    if x <= 2 * horn.travel_m:
        raise BadData("fitting.tube_for_extension", **beyond)
    raise BadData("fitting.beyond_slide", **beyond)


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


def _why_not(horn: Horn, row: FitRow, shift: float, loops: dict[str, float]) -> Fact | None:
    multiple = _harmonic(horn, row, shift, loops)
    partial = _partial(horn, row, shift, loops)
    off = cents(multiple / partial)
    nearest = min(max(round(multiple), 1), TOP_PARTIAL)
    if row.meant is not None:
        sounding = A4_MIDI + cents(row.frequency_hz / horn.a4_hz) / 100.0
        away = 100.0 * (sounding - row.meant.midi)
        if abs(away) > MEANT_CENTS:
            octaves = round(away / 1200.0)
            notes = {"sounds": from_midi(round(sounding)), "meant": row.meant}
            if octaves and abs(away - 1200 * octaves) < _OCTAVE_SLIP_CENTS:
                return fact("fitting.octave_off", **notes)
            return fact("fitting.other_note", **notes)
    if abs(off) <= _explained(partial):
        return None
    if row.partial is not None and abs(cents(multiple / nearest)) <= _explained(nearest):
        return fact("fitting.other_partial", sounds=nearest, meant=row.partial)
    return fact("fitting.no_partial", off_cents=off, partial=partial)


def _explained(partial: int) -> float:
    return min(EXPLAINED_CENTS, EXPLAINED_SHARE * cents((partial + 1) / partial))
