"""Fit a horn to notes at known extensions, and keep it as a horn file."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from handslide.edges.files.horns import load_horn
from handslide.edges.files.hornwriter import horn_toml
from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.files.rows import plan_csv, read_plan, read_rows
from handslide.ground.errors import BadData
from handslide.ground.pitch import pretty_name
from handslide.instrument.air import Air
from handslide.instrument.fitting.advice import NextNote, PlaceReport, next_notes, place_reports
from handslide.instrument.fitting.fit import Fit, fit_horn
from handslide.instrument.fitting.plan import MARK_M, make_plan, match_plan
from handslide.instrument.fitting.rows import DEFAULT_SE_CENTS, FitRow, PlannedNote
from handslide.instrument.horn import Horn, HornDescription
from handslide.instrument.marks import ordinal, valve_words
from handslide.jobs.tune.takes import Recording, hear_recording

NEXT_NOTES = 3

Progress = Callable[[str, int, int], None]
Section = tuple[str, Sequence[tuple[str, ...]]]


@dataclass(frozen=True, slots=True, eq=False)
class FittedHorn:
    """A fit with its horn, what is known of each place, and what to play next."""

    fit: Fit
    description: HornDescription
    horn: Horn
    places: tuple[PlaceReport, ...]
    next_notes: tuple[NextNote, ...]

    @property
    def worst(self) -> PlaceReport:
        """The usual place that is known least."""
        return max(self.places, key=lambda report: report.half_width_mm)

    @property
    def scale_line(self) -> str:
        """Where the millimetres come from."""
        fit = self.fit
        temp_c, percent = self.horn.air.temp_c, 100.0 * (fit.scale - 1.0)
        marks = ", ".join(f"{1000 * mark:g} mm" for mark in fit.layout.marks_m)
        if not fit.thermometer:
            return f"millimetres pinned by the mark at {marks}: {percent:+.2f} % on {temp_c:g} °C"
        if marks:
            return f"air in the horn {temp_c:g} °C ± 3; with the mark at {marks}: {percent:+.2f} %"
        return f"millimetres from the air alone: {temp_c:g} °C ± 3 in the horn"


def fit_rows(
    rows: Sequence[FitRow],
    horn: str | HornDescription,
    *,
    name: str = "fitted",
    title: str | None = None,
    a4_hz: float = 440.0,
    temp_c: float = 25.0,
    thermometer: bool = True,
) -> FittedHorn:
    """Fit a horn, or the one called ``horn``, to ``rows``. Raises BadData or HornError."""
    base = load_horn(horn) if isinstance(horn, str) else horn
    fit = fit_horn(base, rows, a4_hz=a4_hz, temp_c=temp_c, thermometer=thermometer)
    description = fit.description(name, title or f"{base.title}, fitted")
    tuned = description.tuned(a4_hz, fit.layout.base.air)
    return FittedHorn(
        fit,
        description,
        tuned,
        place_reports(fit, tuned),
        next_notes(fit, NEXT_NOTES, horn=tuned),
    )


def list_notes(
    horn: str, *, mark_mm: float | None = None, a4_hz: float = 440.0, temp_c: float = 25.0
) -> str:
    """The notes to play for a fit, as a CSV file; ``mark_mm`` 0: the closed slide only."""
    return plan_csv(plan_notes(load_horn(horn).tuned(a4_hz, Air(temp_c=temp_c)), mark_mm))


def plan_notes(horn: Horn, mark_mm: float | None = None) -> tuple[PlannedNote, ...]:
    """The notes to play for a fit; ``mark_mm`` 0: the closed slide only, None: a usual mark.

    Raises BadData for a mark outside the slide.
    """
    if mark_mm is None:
        mark_mm = usual_mark_mm(horn)
    return make_plan(horn, mark_mm / 1000.0 if mark_mm else None)


def usual_mark_mm(horn: Horn) -> float:
    """Where the slide is set for the second half of the list, in mm."""
    return 1000.0 * min(MARK_M, round(0.7 * horn.travel_m, 2))


def rows_from_takes(
    plan: Path,
    takes: Sequence[Path],
    horn: str,
    *,
    a4_hz: float = 440.0,
    temp_c: float = 25.0,
    progress: Progress | None = None,
) -> tuple[FitRow, ...]:
    """Rows from takes that follow the list in ``plan``; each take begins the list again.

    The standard error of a note is how well it was heard together with how well players repeat a
    note (2 cents, common practice).

    Raises
    ------
    BadData
        When the list or a take can't be used, or nothing of a take is on the list.
    """
    planned = read_plan(plan)
    tuned = load_horn(horn).tuned(a4_hz, Air(temp_c=temp_c))
    rows: list[FitRow] = []
    for take in takes:
        rows += rows_from_take(planned, take, tuned, progress, f"the list {plan.name}").rows
    return tuple(rows)


@dataclass(frozen=True, slots=True)
class TakeRows:
    """Rows from one take; which notes of the list weren't heard, and which heard ones fit none.

    ``strays`` are pairs of frequency in Hz and onset in s.
    """

    name: str
    rows: tuple[FitRow, ...]
    missed: tuple[PlannedNote, ...]
    strays: tuple[tuple[float, float], ...]


def rows_from_take(
    planned: Sequence[PlannedNote],
    take: Recording,
    horn: Horn,
    progress: Progress | None = None,
    listed: str = "the list",
) -> TakeRows:
    """Rows from one take of the notes ``planned``. Raises as :func:`rows_from_takes`."""
    name, notes = hear_recording(take, horn.a4_hz, progress)
    pairs = match_plan(horn, planned, [note.f0_hz for note in notes])
    if not pairs:
        raise BadData(
            f"{name}: none of its {len(notes)} notes is on {listed}: is it the right take, horn "
            "and list?"
        )
    rows = []
    for i, j in pairs:
        note = planned[i]
        se = math.hypot(notes[j].cents_se, DEFAULT_SE_CENTS)
        label = f"{note.label or 'a note'}, {name} at {notes[j].start_s:.1f} s"
        rows.append(
            FitRow(notes[j].f0_hz, note.extension_m, note.valves, note.partial, se, None, label)
        )
    found, used = {i for i, _ in pairs}, {j for _, j in pairs}
    return TakeRows(
        name,
        tuple(rows),
        tuple(note for i, note in enumerate(planned) if i not in found),
        tuple((note.f0_hz, note.start_s) for j, note in enumerate(notes) if j not in used),
    )


def fit_file(
    path: Path,
    horn: str,
    target: Path | None = None,
    *,
    takes: Sequence[Path] = (),
    progress: Progress | None = None,
    title: str | None = None,
    a4_hz: float = 440.0,
    temp_c: float = 25.0,
    thermometer: bool = True,
    force: bool = False,
) -> FittedHorn:
    """Fit a horn to a rows file and write it to ``target`` (None: don't).

    With ``takes`` the file is the list that was played, and the frequencies come from the takes.

    Raises
    ------
    BadData, HornError
        Rows or base horn that can't be used.
    OutputError
        A target that can't be written.
    """
    if target is not None:
        check_free(target, force=force)
    if takes:
        rows = rows_from_takes(path, takes, horn, a4_hz=a4_hz, temp_c=temp_c, progress=progress)
    else:
        rows = read_rows(path, a4_hz)
    fitted = fit_rows(
        rows,
        horn,
        name=target.stem if target is not None else path.stem,
        title=title,
        a4_hz=a4_hz,
        temp_c=temp_c,
        thermometer=thermometer,
    )
    if target is not None:
        text = horn_toml(fitted.description, tuple(fit_head(fitted)))
        write_result(target, text.encode("utf-8"), force=force)
    return fitted


def fit_head(fitted: FittedHorn) -> list[str]:
    """What a horn file says at its head about the fit that made it."""
    fit, worst = fitted.fit, fitted.worst
    return [
        f"Fitted from {len(fit.rows)} notes, starting from the horn {fit.base.name}.",
        f"{fitted.scale_line[0].upper()}{fitted.scale_line[1:]}.",
        f"The usual place known least: {worst.pitch.pretty} at "
        f"{1000 * worst.place.extension_m:.0f} ± {worst.half_width_mm:.0f} mm.",
    ]


def next_words(note: NextNote) -> str:
    """A note to play next, in words."""
    at = f"the slide {1000 * note.extension_m:.0f} mm out" if note.extension_m else "closed slide"
    off = "" if abs(note.off_cents) < 10 else f" {note.off_cents:+.0f} cents"
    return (
        f"{ordinal(note.partial)} partial{valve_words(note.valves)}, {at} (sounds about "
        f"{note.pitch.pretty}{off}): places on average ± {note.before_mm:.0f} → "
        f"± {note.typical_mm:.0f} mm"
    )


def fit_sections(fitted: FittedHorn, written: Path | None = None) -> list[Section]:
    """The report as (heading, rows of cells): places, deviations, notes left out, what next."""
    fit = fitted.fit
    places = [
        (
            report.pitch.pretty,
            "+".join(pretty_name(v) for v in report.place.valves) or "open",
            str(report.place.partial),
            f"{report.place.position:.2f}",
            f"{1000 * report.place.extension_m:.0f} mm",
            f"± {report.half_width_mm:.1f}",
        )
        for report in fitted.places
    ]
    deviations = []
    for group in fit.measured:
        row, se = fit.deviation(group), fit.deviation_se(group)
        engaged = "+".join(pretty_name(v) for v in row.valves) or "open"
        deviations.append(
            (
                engaged,
                str(row.partial),
                f"{row.cents:+.1f} ± {1.96 * se[0]:.1f}",
                f"{row.slope_cents_per_m:+.0f} ± {1.96 * se[1]:.0f}",
            )
        )
    left_out = [(item.row.words, item.why) for item in fit.left_out]
    ahead = [(str(k), next_words(note)) for k, note in enumerate(fitted.next_notes, 1)]
    sections: list[Section] = [
        (_summary(fitted), []),
        ("Places (95 % intervals)", places),
        ("Deviations: cents closed, cents per metre", deviations),
        ("Left out", left_out),
        ("Play next, to learn most", ahead),
        ("" if written is None else f"written: {written}", []),
    ]
    return [section for section in sections if section[1] or section[0] not in ("", "Left out")]


def _summary(fitted: FittedHorn) -> str:
    horn, fit, worst = fitted.horn, fitted.fit, fitted.worst
    loops = ", ".join(
        f"{pretty_name(valve.name)} loop {1000 * valve.loop_m:.0f} mm" for valve in horn.valves
    )
    tube = f"length {1000 * horn.length_m:.0f} mm"
    closed_only = "" if fit.layout.marks_m else "Closed-slide notes alone leave "
    known = "" if closed_only else "Known least: "
    off = float(fit.theta[0])
    return "\n".join(
        (
            fitted.description.title,
            " · ".join(filter(None, (f"{len(fit.rows)} notes", tube, loops))),
            f"A4 = {horn.a4_hz:g} Hz · {fitted.scale_line}",
            f"closed slide {off:+.0f} cents from {fit.base.name} in tune",
            f"{closed_only}{known}{worst.pitch.pretty}"
            f"{valve_words(worst.place.valves)} in {worst.place.position:.1f} "
            f"± {worst.half_width_mm:.0f} mm",
        )
    )


def fit_json(fitted: FittedHorn, written: Path | None) -> dict[str, Any]:
    """JSON of ``handslide fit``."""
    fit, horn = fitted.fit, fitted.horn
    return {
        "horn": fitted.description.name,
        "title": fitted.description.title,
        "base": fit.base.name,
        "a4_hz": horn.a4_hz,
        "temp_c": horn.air.temp_c,
        "speed_scale": fitted.description.speed_scale,
        "thermometer": fit.thermometer,
        "file": None if written is None else str(written),
        "length_mm": round(1000.0 * horn.length_m, 2),
        "closed_hz": round(fit.closed_hz, 4),
        "valves": [
            {
                "name": valve.name,
                "loop_mm": round(1000.0 * valve.loop_m, 2),
                "measured": any(valve.name in row.valves for row in fit.rows),
            }
            for valve in horn.valves
        ],
        "deviations": [_deviation_json(fit, group) for group in fit.measured],
        "places": [_place_json(report) for report in fitted.places],
        "worst_half_width_mm": round(fitted.worst.half_width_mm, 2),
        "used": len(fit.rows),
        "left_out": [_left_json(item) for item in fit.left_out],
        "next": [_next_json(note) for note in fitted.next_notes],
    }


def _left_json(item: Any) -> dict[str, Any]:
    row = item.row
    return {
        "row": row.label,
        "note": None if row.meant is None else row.meant.name,
        "hz": round(row.frequency_hz, 4),
        "extension_mm": round(1000.0 * row.extension_m, 3),
        "why": item.why,
    }


def _deviation_json(fit: Fit, group: tuple[tuple[str, ...], int]) -> dict[str, Any]:
    row, se = fit.deviation(group), fit.deviation_se(group)
    return {
        "valves": list(row.valves),
        "partial": row.partial,
        "cents": row.cents,
        "cents_se": round(se[0], 2),
        "slope_cents_per_m": row.slope_cents_per_m,
        "slope_se_cents_per_m": round(se[1], 2),
    }


def _place_json(report: PlaceReport) -> dict[str, Any]:
    return {
        "note": report.pitch.name,
        "valves": list(report.place.valves),
        "partial": report.place.partial,
        "position": round(report.place.position, 4),
        "extension_mm": round(1000.0 * report.place.extension_m, 2),
        "half_width_mm": round(report.half_width_mm, 2),
    }


def _next_json(note: NextNote) -> dict[str, Any]:
    return {
        "valves": list(note.valves),
        "partial": note.partial,
        "extension_mm": round(1000.0 * note.extension_m, 1),
        "note": note.pitch.name,
        "off_cents": round(note.off_cents, 1),
        "typical_mm_before": round(note.before_mm, 2),
        "typical_mm_after": round(note.typical_mm, 2),
        "text": next_words(note),
    }
