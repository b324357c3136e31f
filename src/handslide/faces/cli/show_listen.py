"""A heard take, alone or beside its part, as plain text for a terminal."""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from handslide.faces.cli.show import listed, table
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, from_midi, parse_pitch
from handslide.jobs.hear.listening import Listening, listening_of
from handslide.jobs.hear.report import ReportNote, TakeReport
from handslide.jobs.hear.sheet import trust_lines
from handslide.sound.measure import LeftOut
from handslide.sound.notes import HeardNote, HeardTake
from handslide.words import takepage as words
from handslide.words.handout import RECORDING_PUT
from handslide.words.listening import HEARD, NOTHING_HEARD, TRUST
from handslide.words.speech import Speech
from handslide.words.takes import remarks, summary_line

_FEW = 3  # stretches left out for one reason that are told one by one
# Least widths of the columns of numbers, and the blanks before a longer head.
_WIDTHS = ((9, 1), (11, 1), (10, 1), (10, 3), (6, 0))
_BLANK = {"right": "", "free": "", "missing": "–", "unsure": "?"}


def take_text(take: HeardTake, say: Speech, drone: Pitch | None = None) -> str:
    """The report of a take for people."""
    heard = listening_of(take, drone=drone)
    about = words.A4_ESTIMATED if take.a4_estimated else words.A4_GIVEN
    lines = [say(about, a4_hz=take.a4_hz, length_s=take.length_s)]
    if take.nothing is not None:
        lines += ["", *_nothing_lines(take.nothing, take.left_out, say)]
        return "\n".join([*lines, "", say(words.PRIVACY)])
    lines += ["", *_heard_table(take.notes, say)]
    lines += ["", *_left_out_lines(take.left_out, say)] if take.left_out else []
    lines += ["", *map(say.fact, take.warnings)] if take.warnings else []
    lines += ["", *_listening_lines(heard, say)] if heard is not None else []
    return "\n".join([*lines, "", say(words.PRIVACY)])


def _nothing_lines(nothing: Fact, left_out: Sequence[LeftOut], say: Speech) -> list[str]:
    """That nothing was heard, and what to do."""
    said = say.sentence(say.fact(fact("takes.nothing_heard", why=nothing)))
    lines = [said, say(words.RECORD_AGAIN)]
    return [*lines, "", *_left_out_lines(left_out, say)] if left_out else lines


def _heard_table(notes: Sequence[HeardNote], say: Speech) -> list[str]:
    """Numbers at the right of their columns, all else at the left."""
    heads = [say(head) for head in words.HEARD_HEADS]
    heads[4] = f"  {heads[4]}"
    widths = [max(least, len(head) + more) for (least, more), head in zip(_WIDTHS, heads[1:])]
    start, length, cents, se, spread = widths
    first = max(6, len(heads[0]) + 1)
    rows = [
        f"{row[0]:<{first}}{row[1]:>{start}}{row[2]:>{length}}{row[3]:>{cents}}{row[4]:<{se}}"
        f"{row[5]:>{spread}}  {row[6]}"
        for row in (heads, *(_heard_cells(note, say) for note in notes))
    ]
    return [rows[0], "", *rows[1:]]


def _heard_cells(note: HeardNote, say: Speech) -> list[str]:
    vibrato = "-"
    if note.vibrato_hz is not None and note.vibrato_cents is not None:
        vibrato = say(words.VIBRATO, cents=note.vibrato_cents, speed_hz=note.vibrato_hz)
    return [
        say.note(from_midi(note.midi)),
        say.number(note.start_s, 2),
        say.number(note.end_s - note.start_s, 2),
        "" if note.cents is None else say.spelled_number(note.cents, "+.1f"),
        "" if note.cents_se is None else f"  ± {say.number(max(note.cents_se, 0.1), 1)}",
        "" if note.spread_cents is None else say.number(note.spread_cents, 1),
        vibrato,
    ]


def _left_out_lines(left_out: Sequence[LeftOut], say: Speech) -> list[str]:
    counts = Counter(row.why for row in left_out)
    lines = [say(words.LEFT_OUT)]
    for why, count in counts.most_common():
        rows = [row for row in left_out if row.why == why]
        if count <= _FEW:
            where = ", ".join(
                say(words.LEFT_OUT_ONE, start_s=row.start_s, end_s=row.end_s) for row in rows
            )
        else:
            where = say(
                words.LEFT_OUT_MANY,
                count=count,
                start_s=rows[0].start_s,
                end_s=rows[-1].end_s,
                length_s=sum(row.end_s - row.start_s for row in rows),
            )
        lines.append(f"  {say(words.LEFT_OUT_ROW, why=why, where=where)}")
    return lines


def _listening_lines(heard: Listening, say: Speech) -> list[str]:
    """What a listener notices, and how far the take can be trusted."""
    findings = [say.fact(one) for one in heard.findings]
    lines = listed(say(HEARD), findings, say(NOTHING_HEARD)).splitlines()
    drone = heard.figures["drone"]
    if drone is not None and drone["notes"]:
        lines += ["", *_drone_lines(drone["notes"], say)]
    return [*lines, "", *listed(say(TRUST), trust_lines(heard, say), "").splitlines()]


def _drone_lines(rows: Sequence[Mapping[str, Any]], say: Speech) -> list[str]:
    """Each note against the drone."""
    heads = tuple(say(head) for head in words.DRONE_HEADS)
    cells = [
        (
            say.note(parse_pitch(row["note"])),
            say.number(row["start_s"], 2),
            row["ratio"],
            say.spelled_number(row["just_cents"], "+.1f"),
            say.number(row["beats_hz"], 1),
        )
        for row in rows
    ]
    return table(cells, heads).splitlines()


def follow_text(report: TakeReport, say: Speech, *, kept: bool = False) -> str:
    """The report of a take beside its part; ``kept``: the recording was put into a hand-out."""
    title = f"{report.title}\n{say.fact(report.horn)}"
    if report.nothing is not None:
        told = "\n".join(_nothing_lines(report.nothing, report.left_out, say))
        return "\n\n".join((title, told, say(words.PRIVACY)))
    heads = [say(head) for head in words.PLAYED_HEADS]
    parts = [
        title,
        summary_line(say, report.summary),
        "" if report.doubt is None else say.fact(report.doubt),
        table([_row(note, say) for note in report.inside], (*heads, "")),
        listed(
            say(words.HABITS),
            [say.fact(habit.fact) for habit in report.habits],
            say(words.NO_HABITS),
        ),
        listed(
            say(words.PRACTISE),
            [words.advice_line(say, item) for item in report.practice],
            say(words.NO_PRACTICE),
        ),
        "\n".join(map(say.fact, report.warnings)),
        "" if report.listening is None else "\n".join(_listening_lines(report.listening, say)),
        say(RECORDING_PUT if kept else words.PRIVACY),
    ]
    return "\n\n".join(part for part in parts if part)


def _row(note: ReportNote, say: Speech) -> tuple[str, ...]:
    if note.cents is not None:
        number = say.spelled_number(note.cents, "+.0f")
    else:
        number = say(words.SIGNS[note.played]) if note.played in words.SIGNS else ""
        number = number or _BLANK[note.played]
    slide = ""
    if note.slide_mm is not None:
        slide = say(words.SIGNED_MILLIMETRES, mm=note.slide_mm)
    return (
        note.measure or "",
        say.note(note.pitch),
        note.mark or "–",
        number,
        slide,
        remarks(say, note.told),
    )
