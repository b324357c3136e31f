"""Writes the example studio, src/handslide/data/example: invented students, parts and takes.

The playing is synthesised: tones of a brass-like spectrum, each with the slide where this student
would have it that day. It is then heard, followed and stored by the same jobs as any take, and what
they stored is written out. Run from the project folder: python scripts/make_example.py
"""

import gzip
import json
import shutil
import tempfile
import zlib
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from handslide.edges.files.factjson import to_json
from handslide.edges.store.horns import StudentHorn
from handslide.edges.store.students import StudentValues
from handslide.instrument.places import Place
from handslide.jobs.hear.report import facts_from
from handslide.sound.tones import fades, harmonic_tone
from handslide.studio.parts.edits import lock_place
from handslide.studio.parts.openpart import OpenPart, open_part
from handslide.studio.parts.scores import add_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.hornfacts import closed_text
from handslide.studio.people.horns import HornValues, add_horn, change_horn, enrol
from handslide.studio.people.students import list_horns_of, list_versions, main_horn
from handslide.studio.studio import Studio, open_studio
from handslide.studio.takes.takes import get_take, hear_take, take_notes
from handslide.words.speech import speech
from handslide.words.takes import summary_line
from make_demo_part import Tune, write

TARGET = Path("src/handslide/data/example")
RATE_HZ = 22_050

BOATS = Tune(
    "Paper Boats",
    "handslide (CC0)",
    """
    Bb2:1 Bb2:1 D3:1 D3:1
    Eb3:1 D3:1 C3:2
    D3:1 F3:1 Eb3:1 D3:1
    C3:1 D3:1 Bb2:2
    F3:1 F3:1 Eb3:1 D3:1
    (Eb3:1 D3:1) C3:2
    D3:.5 Eb3:.5 F3:1 D3:1 C3:1
    Bb2:3 r:1
    """,
    {0: ("Light", 88)},
    {0: "mf"},
)
# The theme of the last movement, 1824; the melody alone, in B flat.
JOY = Tune(
    "Theme from the Ninth Symphony",
    "Ludwig van Beethoven (1824)",
    """
    D3:1 D3:1 Eb3:1 F3:1
    F3:1 Eb3:1 D3:1 C3:1
    Bb2:1 Bb2:1 C3:1 D3:1
    D3:1.5 C3:.5 C3:2
    D3:1 D3:1 Eb3:1 F3:1
    F3:1 Eb3:1 D3:1 C3:1
    Bb2:1 Bb2:1 C3:1 D3:1
    C3:1.5 Bb2:.5 Bb2:2
    C3:1 C3:1 D3:1 Bb2:1
    C3:1 (D3:.5 Eb3:.5) D3:1 Bb2:1
    C3:1 (D3:.5 Eb3:.5) D3:1 C3:1
    Bb2:1 C3:1 F2:2
    D3:1 D3:1 Eb3:1 F3:1
    F3:1 Eb3:1 D3:1 C3:1
    Bb2:1 Bb2:1 C3:1 D3:1
    C3:1.5 Bb2:.5 Bb2:2
    """,
    {0: ("Steady", 96)},
    {0: "mf", 8: "mp", 12: "f"},
)
TIDE = Tune(
    "Low Tide",
    "handslide (CC0)",
    """
    F2:2 Eb2:1 D2:1
    Db2:2 C2:2
    F2:1 Gb2:1 Ab2:1 Bb2:1
    (C3:1 Bb2:1) Ab2:2
    Gb2:1 F2:1 E2:1 Eb2:1
    D2:2 Db2:2
    C2:1 F2:1 C2:2
    F2:3 r:1
    Bb2:1 (A2:1 Ab2:1) G2:1
    Gb2:2 D2:2
    Eb2:1 D2:1 Db2:1 C2:1
    F2:2 Bb1:2
    """,
    {0: ("Broad", 72)},
    {0: "f", 4: "mp", 8: "mf"},
    flats=4,
)


@dataclass(frozen=True)
class Day:
    """How a student plays on one day: mm too far out by whole position, cents with a valve."""

    days_ago: int
    at: str
    places_mm: dict[int, float]
    valve_cents: float = 0.0
    tuning_cents: float = 0.0
    unsure_mm: float = 4.0
    cracked: float = 0.0
    missed: float = 0.0
    stretch: float = 1.0
    measures: tuple[int, int] = (0, 99)


@dataclass(frozen=True)
class Spec:
    """One of our horns, called ``title``; its slide measured, where ``travel_mm`` says so."""

    base: str
    title: str
    travel_mm: float | None = None
    words: str = ""


@dataclass(frozen=True)
class Learner:
    values: StudentValues
    horns: tuple[Spec, ...]
    tunes: tuple[str, ...]
    locks: tuple[tuple[str, int, int], ...]  # tune, written note, which of its other places
    takes: dict[str, tuple[Day, ...]] = field(default_factory=dict)


def _mira() -> tuple[Day, ...]:
    """Six weeks: 3rd position from 20 mm short to 3; the valve stays 15 cents flat."""
    short = (-20.0, -18.0, -17.0, -12.0, -10.0, -6.0, -5.0, -3.0)
    days = (43, 38, 31, 24, 19, 12, 6, 2)
    tuning = (3.0, -4.0, 2.0, 5.0, -2.0, 1.0, -3.0, 2.0)
    return tuple(
        Day(
            day, "16:40", {3: mm, 4: 3.0, 6: 5.0}, -15.0, cents, 5.0 - 0.25 * number,
            0.03 if number < 5 else 0.01, 0.02 if number < 3 else 0.0, 1.12 - 0.015 * number,
            (0, 19),
        )
        for number, (day, mm, cents) in enumerate(zip(days, short, tuning))
    )  # fmt: skip


LEARNERS = (
    Learner(
        StudentValues(
            "Mira Holt",
            "Third year. Sings well, hurries when the slide has far to go.",
            profile="classical",
        ),
        (Spec("tenor-f", "Mira's tenor", 674.0, "slide measured with a ruler"),),
        ("lanterns", "joy"),
        (("lanterns", 11, 1),),
        {"lanterns": _mira()},
    ),
    Learner(
        StudentValues(
            "Jonas Feld",
            "Ten years old, plays a compact horn. Far positions can wait.",
            reach=5.0,
            profile="beginner",
        ),
        (Spec("tenor-c-bb", "Compact tenor of the school"),),
        ("boats", "joy"),
        (),
        {
            "boats": (
                Day(20, "15:10", {3: 14.0, 4: -16.0}, 4.0, 6.0, 9.0, 0.06, 0.06, 1.25),
                Day(13, "15:05", {3: 9.0, 4: -15.0}, 3.0, -5.0, 8.0, 0.03, 0.03, 1.2),
                Day(6, "15:20", {3: 4.0, 4: -13.0}, 4.0, 2.0, 6.0, 0.03, 0.0, 1.12),
            ),
        },
    ),
    Learner(
        StudentValues(
            "Clara Moreno",
            "Plays in a wind band. The second valve is new and isn't learned yet.",
            learned=("F",),
        ),
        (
            Spec("bass-independent", "Bass of the band"),
            Spec("tenor-f-long", "Clara's own tenor"),
        ),
        ("tide", "lanterns"),
        (("tide", 9, 1),),
        {"tide": (Day(9, "19:30", {6: -11.0, 5: -4.0}, -6.0, 3.0, 4.0, 0.0, 0.0, 1.05),)},
    ),
)


def play(part: OpenPart, day: Day, seed: int) -> np.ndarray:
    """Samples of a part as it was played that day, shape (n,)."""
    rng = np.random.default_rng(seed)
    line, routed = part.marked.part, part.routed
    low, high = day.measures
    rows = [
        (routed.places.get(written), line.onset_s[k], line.length_s[k])
        for k, written in enumerate(line.played)
        if low <= line.notes[written].measure_index < high
    ]
    begun = rows[0][1]
    end = day.stretch * max(onset - begun + length for _, onset, length in rows) + 1.0
    samples = 1e-4 * rng.standard_normal(round(end * RATE_HZ))
    for place, onset, length in rows:
        if place is None or rng.random() < day.missed:
            continue
        tone = _tone(part, place, day, day.stretch * length, rng)
        start = round((day.stretch * (onset - begun) + 0.3) * RATE_HZ)
        samples[start : start + len(tone)] += 0.1 * tone
    return samples


def _tone(
    part: OpenPart, place: Place, day: Day, length_s: float, rng: np.random.Generator
) -> np.ndarray:
    horn = part.routed.setup.horn
    off_mm = day.places_mm.get(round(place.position), 0.0)
    if place.extension_m > 0.01:
        off_mm += rng.normal(0.0, day.unsure_mm)
    cents = day.tuning_cents + rng.normal(0.0, 2.5) + place.lip_cents
    cents += day.valve_cents if place.valves else 0.0
    partial = place.partial + (1 if rng.random() < day.cracked else 0)
    x = max(place.extension_m + off_mm / 1000.0, 0.0)
    hz = horn.frequency_hz(partial, x, place.valves) * 2.0 ** (cents / 1200.0)
    sounds = max(0.88 * length_s, 0.08)
    count = round(sounds * RATE_HZ)
    drift = np.linspace(0.0, rng.normal(0.0, 2.0), count)
    tone = harmonic_tone(hz, sounds, RATE_HZ, phases=rng.uniform(0, 6.28, 30), cents=drift)
    return tone * fades(count, round(0.015 * RATE_HZ))


def parts(folder: Path) -> dict[str, Path]:
    """The score files by their key, in the example's folder."""
    shutil.copyfile("examples/lanterns.musicxml", folder / "lanterns.musicxml")
    for key, tune in (("boats", BOATS), ("joy", JOY), ("tide", TIDE)):
        write(tune, folder / f"{key}.musicxml")
    return {key: folder / f"{key}.musicxml" for key in ("lanterns", "boats", "joy", "tide")}


def build(studio: Studio, files: dict[str, Path], work: Path) -> dict[str, object]:
    """Make the example with the real jobs and give it as JSON."""
    scores = {
        key: add_score(studio, file.read_bytes(), file.name).score.id for key, file in files.items()
    }
    students = [_learner(studio, learner, scores, work) for learner in LEARNERS]
    return {"scores": [file.name for file in files.values()], "students": students}


def _learner(
    studio: Studio, learner: Learner, scores: dict[str, int], work: Path
) -> dict[str, object]:
    student = enrol(studio, learner.values, learner.horns[0].base)
    main = main_horn(studio, student.id)
    for horn in learner.horns[1:]:
        add_horn(studio, student.id, horn.base, title=horn.title)
    if learner.horns[0].travel_mm is not None:
        change_horn(studio, main.id, _values(main, learner.horns[0]), learner.horns[0].words)
    stands = {tune: open_stand(studio, student.id, scores[tune]) for tune in learner.tunes}
    locks: dict[str, list[object]] = {tune: [] for tune in learner.tunes}
    for tune, note, other in learner.locks:
        before = open_part(studio, stands[tune]).routed
        now = before.places[note]
        others = [p for p in before.setup.book.places(before.pitches[note].midi) if p != now]
        place = others[min(other, len(others)) - 1]
        lock_place(studio, stands[tune], note, place.valves, place.partial)
        locks[tune].append([note, list(place.valves), place.partial])
    takes = []
    for tune, days in learner.takes.items():
        for number, day in enumerate(days):
            seed = zlib.crc32(f"{learner.values.name} {tune} {number}".encode())
            part = open_part(studio, stands[tune])
            wav = work / "take.wav"
            soundfile.write(wav, play(part, day, seed), RATE_HZ, subtype="PCM_16")
            take_id = hear_take(studio, student.id, wav, source="example", stand_id=stands[tune])
            take = get_take(studio, take_id)
            print(learner.values.name, tune, day.days_ago, _summary(take.report))
            takes.append(
                {
                    "score": f"{tune}.musicxml", "days_ago": day.days_ago, "at": day.at,
                    "title": take.title, "a4_hz": take.a4_hz, "length_s": round(take.length_s, 3),
                    "report": _rounded(take.report),
                    "notes": [_rounded(asdict(row)) for row in take_notes(studio, take_id)],
                }
            )  # fmt: skip
    return {
        "values": asdict(learner.values),
        "horns": [
            {
                "base": spec.base, "title": spec.title,
                "versions": [
                    {"toml": version.toml, "origin": version.origin, "told": to_json(version.told)}
                    for version in reversed(list_versions(studio, horn.id)[:-1])
                ],
            }
            for spec, horn in zip(learner.horns, list_horns_of(studio, student.id))
        ],
        "stands": [{"score": f"{t}.musicxml", "locks": locks[t]} for t in learner.tunes],
        "takes": takes,
    }  # fmt: skip


def _values(horn: StudentHorn, spec: Spec) -> HornValues:
    description = horn.version.description
    return HornValues(
        title=spec.title,
        a4_hz=horn.a4_hz,
        temp_c=horn.temp_c,
        travel_mm=spec.travel_mm or 1000.0 * description.travel_m,
        lip_up_cents=description.lip_up_cents,
        closed=closed_text(description.closed),
        valves=tuple((v.name, closed_text(v.closed)) for v in description.valves),
    )


def _summary(report: dict[str, Any]) -> str:
    return summary_line(speech("en"), facts_from(report["summary"]))


def _rounded(value: Any) -> Any:
    """All numbers to what can be seen: the file is smaller."""
    if isinstance(value, dict):
        return {key: _rounded(held) for key, held in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(held) for held in value]
    return round(value, 4) if isinstance(value, float) else value


if __name__ == "__main__":
    TARGET.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        studio = open_studio(Path(name) / "studio")
        made = build(studio, parts(TARGET), Path(name))
        studio.close()
    text = json.dumps(made, ensure_ascii=False, separators=(",", ":"))
    data = gzip.compress(text.encode("utf-8"), mtime=0)
    (TARGET / "studio.json.gz").write_bytes(data)
    print(f"{len(text) / 1e6:.2f} MB, {len(data) / 1e3:.0f} kB packed")
