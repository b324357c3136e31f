"""Invented students whose slides are off by known amounts: rows for the core, takes to store."""

from datetime import UTC, datetime, timedelta
from typing import NamedTuple

import numpy as np
from invented import DEMO

from handslide.edges.store.students import StudentValues
from handslide.edges.store.takes import NoteRow
from handslide.instrument.heardplace import m_per_cent
from handslide.instrument.progress.judge import TakenNote
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.scores import add_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.horns import enrol
from handslide.studio.people.students import main_horn, setup_for
from handslide.studio.takes.takes import save_take

BEGIN = datetime(2026, 8, 31, 16, 0, tzinfo=UTC)


class Spot(NamedTuple):
    """A note in a place, in the core's terms."""

    valves: tuple[str, ...]
    position: float
    midi: int
    partial: int


SPOTS = (
    Spot((), 1.0, 58, 4), Spot((), 1.0, 53, 3), Spot((), 3.0, 56, 4), Spot((), 4.0, 55, 4),
    Spot((), 6.0, 48, 3), Spot(("F",), 1.0, 48, 4), Spot(("F",), 3.62, 45, 4),
)  # fmt: skip
MANY = (
    *(Spot((), float(position), midi, partial) for position, midi, partial in (
        (1, 58, 4), (1, 53, 3), (1, 65, 6), (1, 62, 5), (2, 57, 4), (2, 52, 3), (2, 64, 6),
        (3, 56, 4), (3, 63, 6), (3, 51, 3), (4, 55, 4), (4, 50, 3), (4, 62, 6), (5, 49, 3),
        (5, 54, 4), (6, 48, 3), (6, 53, 4),
    )),
    Spot(("F",), 1.0, 48, 4),
    Spot(("F",), 3.62, 45, 4),
)  # fmt: skip
"""About what a part of a page has."""


def play(rng, spots, *, takes=12, days=84.0, notes=(2, 6), sd=6.0, between=4.0, tuning=6.0,
         faults=0.04):  # fmt: skip
    """Rows of a student. ``spots`` gives each spot its (bias at first, bias at last) in cents;
    every take has its own tuning, every spot its own day."""
    rows = []
    when = np.sort(rng.uniform(0, days, takes))
    when[[0, -1]] = 0.0, days
    for take, day in enumerate(when):
        whole = rng.normal(0, tuning)
        share = day / days if days else 0.0
        for spot, (first, last) in spots.items():
            centre = whole + first + (last - first) * share + rng.normal(0, between)
            for _ in range(int(rng.integers(*notes))):
                rows.append(_row(rng, spot, take, day, centre + rng.normal(0, sd), faults))
    return rows


def _row(rng, spot, take, day, cents, faults):
    extension = 1479.0 * (2 ** ((spot.position - 1) / 12) - 1)
    right = rng.random() >= faults
    return TakenNote(
        when_days=float(day),
        take=take,
        midi=spot.midi,
        played="right" if right else str(rng.choice(["wrong", "missing"])),
        valves=spot.valves,
        partial=spot.partial,
        position=spot.position,
        extension_mm=extension,
        cents=float(cents) if right else None,
        cents_se=1.5 if right else None,
        slide_mm=float(-cents * (0.85 + extension / 1700)) if right else None,
    )


def give_student(studio, name="Mira", horn="tenor-f", **values):
    """A student with a horn, and our own demo part on the stand: (student, stand id)."""
    student = enrol(studio, StudentValues(name=name, **values), horn)
    score = add_score(studio, DEMO.read_bytes(), "lanterns.musicxml").score
    return student, open_stand(studio, student.id, score.id)


def give_takes(studio, student, stand_id, off_mm, *, takes=12, weeks=12, seed=0, tuning=5.0,
               faults=0.05, sd=5.0, notes=None, day_mm=3.0):  # fmt: skip
    """Store takes of the stand's part. ``off_mm(place, share)`` is how far the slide is beyond a
    place (too far out positive) when that share of the time has gone; returns the takes' ids."""
    rng = np.random.default_rng(seed)
    part = open_part(studio, stand_id)
    horn = main_horn(studio, student.id)
    tuned = setup_for(student, horn).horn
    ids = []
    for k in range(takes):
        share = k / max(takes - 1, 1)
        whole = float(rng.normal(0, tuning))
        days: dict[tuple, float] = {}
        rows, clock = [], 0.0
        for number in part.marked.part.played[:notes]:
            note, place = part.marked.part.notes[number], part.routed.places.get(number)
            if place is None:
                continue
            key = place.valves, round(2 * place.position)
            closed = place.extension_m < 0.005
            day = days.setdefault(key, 0.0 if closed else float(rng.normal(0, day_mm)))
            per_cent = 1000.0 * m_per_cent(tuned, place)
            beyond = 0.0 if closed else off_mm(place, share) + day
            cents = whole - beyond / per_cent + float(rng.normal(0, sd))
            hit = rng.random() >= faults
            rows.append(
                NoteRow(
                    number=len(rows),
                    measure=note.measure,
                    midi=note.sounding.midi,
                    valves=place.valves,
                    partial=place.partial,
                    extension_mm=1000.0 * place.extension_m,
                    mark=part.routed.marks[number],
                    played="right" if hit else str(rng.choice(["wrong", "missing"])),
                    cents=cents if hit else None,
                    cents_se=1.5 if hit else None,
                    spread_cents=3.0 if hit else None,
                    slide_mm=-cents * per_cent if hit else None,
                    slide_se_mm=1.5 * per_cent if hit else None,
                    start_s=clock if hit else None,
                    end_s=clock + 0.45 if hit else None,
                )
            )
            clock += 0.5
        moment = BEGIN + timedelta(days=7 * weeks * share, minutes=k)
        ids.append(
            save_take(
                studio, student.id,
                {"kind": "part", "title": "", "summary": "", "doubt": None, "notes": []}, rows,
                title=f"Take {k + 1}", source="file", a4_hz=440.0, length_s=clock,
                horn_version_id=horn.version.id, score_id=part.stand.score_id,
                recorded_at=moment.isoformat(),
            )
        )  # fmt: skip
    return ids


def learner(place, share):
    """6th is mended over the weeks, 4th stays too short, the F valve's long 2nd too far out."""
    near = round(2 * place.position) / 2
    if not place.valves and near == 6:
        return 34.0 * (1 - share)
    if not place.valves and near == 4:
        return -22.0
    return 15.0 if place.valves and near == 2.5 else 0.0
