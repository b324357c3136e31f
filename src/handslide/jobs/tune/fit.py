"""Fit a horn to notes at known extensions, and keep it as a horn file."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from handslide.edges.files.horns import load_horn
from handslide.edges.files.outfile import check_free, write_result
from handslide.edges.files.rows import plan_csv, read_plan, read_rows
from handslide.ground.errors import BadData
from handslide.ground.facts import Fact, fact
from handslide.ground.progress import ProgressCallback
from handslide.instrument.air import Air
from handslide.instrument.fitting.advice import NextNote, PlaceReport, next_notes, place_reports
from handslide.instrument.fitting.fit import Fit, fit_horn
from handslide.instrument.fitting.plan import MARK_M, make_plan, match_plan
from handslide.instrument.fitting.rows import DEFAULT_SE_CENTS, FitRow, LeftOut, PlannedNote
from handslide.instrument.horn import Horn, HornDescription
from handslide.jobs.tune.hornfile import commented_horn
from handslide.jobs.tune.takes import Recording, hear_recording
from handslide.words.files import WRITTEN
from handslide.words.fitting import (
    FITTED_TITLE,
    HEADINGS,
    NO_VALVE,
    OFF_BASE,
    fitted_lines,
    next_note_words,
    scale_words,
    tube_words,
    worst_words,
)
from handslide.words.horns import horn_title
from handslide.words.speech import Speech

NEXT_NOTES = 3

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
    def scale(self) -> Fact:
        """Where the millimetres come from."""
        fit, temp_c = self.fit, self.horn.air.temp_c
        if not fit.layout.marks_m:
            return fact("fitting.scale_by_air", temp_c=temp_c)
        kind = "fitting.scale_by_air_and_mark" if fit.thermometer else "fitting.scale_by_mark"
        marks_mm = tuple(1000.0 * mark for mark in fit.layout.marks_m)
        return fact(kind, temp_c=temp_c, marks_mm=marks_mm, percent=100.0 * (fit.scale - 1.0))

    @property
    def origin(self) -> Fact:
        """How the horn came to be: from how many notes, and how sure its places are."""
        worst = self.worst
        return fact(
            "fitting.fitted_to",
            count=len(self.fit.rows),
            base=self.fit.base.called,
            scale=self.scale,
            pitch=worst.pitch,
            extension_mm=1000.0 * worst.place.extension_m,
            half_width_mm=worst.half_width_mm,
        )


def fit_rows(
    rows: Sequence[FitRow],
    horn: str | HornDescription,
    *,
    name: str = "fitted",
    title: str = "",
    a4_hz: float = 440.0,
    temp_c: float = 25.0,
    thermometer: bool = True,
) -> FittedHorn:
    """Fit a horn, or the one called ``horn``, to ``rows``. Raises BadData or HornError.

    ``title`` empty: it is called as its model.
    """
    base = load_horn(horn) if isinstance(horn, str) else horn
    fit = fit_horn(base, rows, a4_hz=a4_hz, temp_c=temp_c, thermometer=thermometer)
    description = fit.description(name, title)
    tuned = description.tuned(a4_hz, fit.layout.base.air)
    places = place_reports(fit, tuned)
    following = next_notes(fit, NEXT_NOTES, horn=tuned, places=places)
    return FittedHorn(fit, description, tuned, places, following)


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
    progress: ProgressCallback | None = None,
) -> tuple[FitRow, ...]:
    """Rows from takes that follow the list in ``plan``; each take begins the list again.

    The standard error of a note is how well it was heard together with how well players repeat a
    note (2 cents, common practice); the fit scales both by what the notes show.

    Raises
    ------
    BadData
        When the list or a take can't be used, or nothing of a take is on the list.
    """
    planned = read_plan(plan)
    tuned = load_horn(horn).tuned(a4_hz, Air(temp_c=temp_c))
    rows: list[FitRow] = []
    for take in takes:
        rows += rows_from_take(planned, take, tuned, progress, plan.name).rows
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
    progress: ProgressCallback | None = None,
    listed: str | None = None,
) -> TakeRows:
    """Rows from one take of the notes ``planned``; ``listed`` is the name of their file.

    Raises as :func:`rows_from_takes`.
    """
    name, notes = hear_recording(take, horn.a4_hz, progress)
    pairs = match_plan(horn, planned, [note.f0_hz for note in notes])
    if not pairs:
        if listed is None:
            raise BadData("fitting.none_listed", take=name, count=len(notes))
        raise BadData("fitting.none_in_list", take=name, count=len(notes), listed=listed)
    rows = []
    for i, j in pairs:
        note = planned[i]
        se = math.hypot(notes[j].cents_se, DEFAULT_SE_CENTS)
        called = note.label or fact("fitting.a_note")
        label = fact("fitting.heard_note", note=called, take=name, at_s=notes[j].start_s)
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
    progress: ProgressCallback | None = None,
    say: Speech,
    title: str | None = None,
    a4_hz: float = 440.0,
    temp_c: float = 25.0,
    thermometer: bool = True,
    force: bool = False,
) -> FittedHorn:
    """Fit a horn to a rows file and write it to ``target`` (None: don't).

    With ``takes`` the file is the list that was played, and the frequencies come from the takes.
    ``say`` speaks in the comments of the horn file.

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
        title=title or say(FITTED_TITLE, horn=horn_title(say, load_horn(horn))),
        a4_hz=a4_hz,
        temp_c=temp_c,
        thermometer=thermometer,
    )
    if target is not None:
        text = commented_horn(fitted.description, say, fitted_lines(say, fitted.origin))
        write_result(target, text.encode("utf-8"), force=force)
    return fitted


def fit_sections(fitted: FittedHorn, say: Speech, written: Path | None = None) -> list[Section]:
    """The report as (heading, rows of cells): places, deviations, notes left out, what next."""
    fit = fitted.fit
    places = [
        (
            say.note(report.pitch),
            _engaged(report.place.valves, say),
            str(report.place.partial),
            say.number(report.place.position, 2),
            f"{say.number(1000 * report.place.extension_m, 0)} mm",
            f"± {say.number(report.half_width_mm, 1)}",
        )
        for report in fitted.places
    ]
    deviations = []
    for group in fit.measured:
        row, se = fit.deviation(group), fit.deviation_se(group)
        cents, slope = row.cents, row.slope_cents_per_m
        deviations.append(
            (
                _engaged(row.valves, say),
                str(row.partial),
                f"{say.spelled_number(cents, '+.1f')} ± {say.number(1.96 * se[0], 1)}",
                f"{say.spelled_number(slope, '+.0f')} ± {say.number(1.96 * se[1], 0)}",
            )
        )
    left_out = [(say.fact(item.row.told), say.fact(item.why)) for item in fit.left_out]
    seen = [(say.fact(one),) for one in fit.noticed]
    ahead = [(str(k), next_note_words(say, n)) for k, n in enumerate(fitted.next_notes, 1)]
    sections: list[Section] = [
        (_summary(fitted, say), []),
        (say(HEADINGS["places"]), places),
        (say(HEADINGS["deviations"]), deviations),
        (say(HEADINGS["noticed"]), seen),
        (say(HEADINGS["left_out"]) if left_out else "", left_out),
        (say(HEADINGS["next"]), ahead),
        ("" if written is None else say(WRITTEN, path=str(written)), []),
    ]
    return [section for section in sections if section[0]]


def _engaged(valves: tuple[str, ...], say: Speech) -> str:
    return say.written(valves, "together") if valves else say(NO_VALVE)


def _summary(fitted: FittedHorn, say: Speech) -> str:
    return "\n".join(
        (
            horn_title(say, fitted.description),
            tube_words(say, fitted.horn, len(fitted.fit.rows)),
            scale_words(say, fitted.horn.a4_hz, fitted.scale),
            say(OFF_BASE, off_cents=float(fitted.fit.theta[0]), base=fitted.fit.base.name),
            worst_words(say, fitted.worst, closed_only=not fitted.fit.layout.marks_m),
        )
    )


def fit_json(fitted: FittedHorn, written: Path | None, say: Speech) -> dict[str, Any]:
    """JSON of ``handslide fit``; its texts as ``say`` speaks."""
    fit, horn = fitted.fit, fitted.horn
    scatter, low, high = fit.scatter_cents
    return {
        "horn": fitted.description.name,
        "title": horn_title(say, fitted.description),
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
        "scatter_cents": round(scatter, 2),
        "scatter_low_cents": round(low, 2),
        "scatter_high_cents": round(high, 2),
        "noticed": [_noticed_json(one, say) for one in fit.noticed],
        "left_out": [_left_json(item, say) for item in fit.left_out],
        "next": [_next_json(note, say) for note in fitted.next_notes],
    }


def _noticed_json(one: Fact, say: Speech) -> dict[str, Any]:
    numbers = {
        key: round(value, 2) if isinstance(value, float) else [round(item, 3) for item in value]
        for key, value in one.values.items()
    }
    return {"kind": one.kind, **numbers, "text": say.fact(one)}


def _left_json(item: LeftOut, say: Speech) -> dict[str, Any]:
    row = item.row
    return {
        "row": "" if row.label is None else say.fact(row.label),
        "note": None if row.meant is None else row.meant.name,
        "hz": round(row.frequency_hz, 4),
        "extension_mm": round(1000.0 * row.extension_m, 3),
        "why": say.fact(item.why),
        "why_kind": item.why.kind,
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


def _next_json(note: NextNote, say: Speech) -> dict[str, Any]:
    return {
        "valves": list(note.valves),
        "partial": note.partial,
        "extension_mm": round(1000.0 * note.extension_m, 1),
        "note": note.pitch.name,
        "off_cents": round(note.off_cents, 1),
        "typical_mm_before": round(note.before_mm, 2),
        "typical_mm_after": round(note.typical_mm, 2),
        "text": next_note_words(say, note),
    }
