"""What is kept of a take beside a part: its report, and a row for each note that lies in it."""

from handslide.edges.store.takes import NoteRow
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import Pitch, from_midi
from handslide.jobs.hear.followed import FollowedNote, FollowedTake
from handslide.jobs.hear.judge import whole_take
from handslide.jobs.hear.listening import listening_of
from handslide.jobs.hear.passages import repeats_left_out
from handslide.jobs.hear.report import ReportExtra, ReportNote, TakeReport, report_habit
from handslide.jobs.setup import Setup

_MOST_PASSAGES = 3


def part_report(followed: FollowedTake, drone: Pitch | None = None) -> TakeReport:
    """The report of a followed take, also against a ``drone`` if it was played to one."""
    take = followed.take
    return TakeReport(
        kind="part",
        title=followed.title,
        horn=horn_fact(followed.setup),
        horn_name=followed.setup.horn.name,
        a4_hz=take.a4_hz,
        summary=_summary(followed),
        notes=tuple(map(_note, followed.notes)),
        habits=tuple(map(report_habit, followed.habits)),
        practice=followed.practice,
        left_out=take.left_out,
        warnings=(*take.warnings, *_of_the_part(followed)),
        positions_mm=open_positions(followed.setup),
        doubt=followed.doubt,
        tempo_ratio=followed.tempo_ratio,
        offset_cents=followed.followed.offset_cents,
        restarts=followed.followed.restarts,
        extras=_extras(followed),
        common_cents=followed.tuning.common,
        listening=listening_of(take, followed, drone),
    )


def horn_fact(setup: Setup) -> Fact:
    """The horn, tuning pitch and air that a report states."""
    horn = setup.horn
    return fact(
        "horn.line",
        horn=horn.called,
        a4_hz=horn.a4_hz,
        temp_c=horn.air.temp_c,
        travel_mm=1000.0 * horn.travel_m,
    )


def _of_the_part(followed: FollowedTake) -> list[Fact]:
    """What was read in doubt of the part: how it sounds."""
    return [row.told for row in followed.part.warnings if row.kind == "transpose"]


def open_positions(setup: Setup) -> tuple[tuple[str, float], ...]:
    """The open positions that the slide has, as (number, extension in mm)."""
    horn = setup.horn
    rows = [(str(number), 1000.0 * horn.extension_m(number)) for number in range(1, 13)]
    return tuple(row for row in rows if row[1] <= 1000.0 * horn.travel_m + 1.0)


def _summary(followed: FollowedTake) -> tuple[Fact, ...]:
    """The whole take in counts; those that are 0 aren't told."""
    nothing = followed.take.nothing
    if nothing is not None:
        return (fact("takes.nothing_heard", why=nothing),)
    counts = followed.counts
    kinds = [extra.kind for extra in followed.followed.extras]
    extra = kinds.count("extra")
    outside = sum(note.outside for note in followed.notes)
    repeats = repeats_left_out(followed.part, followed.followed.matches)
    rows = (
        fact("takes.count_wrong", count=counts["wrong"]),
        fact("takes.count_octave", count=counts["octave"]),
        fact("takes.count_missing", count=counts["missing"]),
        fact("takes.count_unsure", count=counts["unsure"]),
        fact("takes.count_extra", count=extra),
        fact("takes.count_again", count=len(kinds) - extra),
        fact("takes.count_outside", count=outside - repeats),
        fact("takes.count_repeat", count=repeats),
    )
    said = [fact("takes.right", right=counts["right"], count=sum(counts.values()))]
    said += [row for row in rows if row["count"]]
    if followed.octaves:
        said.append(fact("takes.whole_octave", octaves=followed.octaves))
    said += [fact("takes.left_out", first=a, last=b) for a, b in followed.passages[:_MOST_PASSAGES]]
    if followed.tempo_ratio is not None:
        said.append(fact("takes.tempo", percent=100.0 * followed.tempo_ratio))
    said += whole_take(followed.tuning.common)
    if followed.tuning.drift:
        said.append(fact("takes.drift", cents=followed.tuning.drift))
    return tuple(said)


def _note(note: FollowedNote) -> ReportNote:
    heard, place = note.heard, note.place
    wrong = heard is not None and note.played == "wrong"
    return ReportNote(
        measure=note.measure,
        pitch=note.pitch,
        mark=note.mark,
        played=note.played,
        told=note.told,
        outside=note.outside,
        confidence=note.confidence,
        start_s=None if heard is None else heard.start_s,
        end_s=None if heard is None else heard.end_s,
        cents=note.cents,
        cents_se=None if heard is None else heard.cents_se,
        spread_cents=None if heard is None else heard.spread_cents,
        slide_mm=note.slide_mm,
        slide_se_mm=note.slide_se_mm,
        beside_mm=note.beside_mm,
        place_mm=None if place is None else 1000.0 * place.extension_m,
        heard=from_midi(heard.midi) if wrong and heard is not None else None,
    )


def _extras(followed: FollowedTake) -> tuple[ReportExtra, ...]:
    notes = followed.take.notes
    return tuple(
        ReportExtra(
            notes[extra.heard].start_s,
            notes[extra.heard].midi,
            extra.kind,
            None if extra.expected is None else followed.notes[extra.expected].measure,
        )
        for extra in followed.followed.extras
    )


def part_rows(followed: FollowedTake) -> tuple[NoteRow, ...]:
    """The rows of a followed take; notes before or after the take have none.

    A take that hardly fits the part has no rows at all: it says nothing of these notes.
    """
    if followed.doubt:
        return ()
    inside = [note for note in followed.notes if not note.outside]
    return tuple(_row(number, note) for number, note in enumerate(inside))


def _row(number: int, note: FollowedNote) -> NoteRow:
    heard, place = note.heard, note.place
    told = heard is not None and not note.joined and note.cents is not None
    return NoteRow(
        number=number,
        measure=note.measure,
        midi=note.pitch.midi,
        valves=None if place is None else place.valves,
        partial=None if place is None else place.partial,
        extension_mm=None if place is None else 1000.0 * place.extension_m,
        mark=note.mark or None,
        played=note.played,
        cents=note.cents if told else None,
        cents_se=heard.cents_se if told and heard is not None else None,
        spread_cents=heard.spread_cents if told and heard is not None else None,
        slide_mm=note.slide_mm if told else None,
        slide_se_mm=note.slide_se_mm if told else None,
        start_s=None if heard is None else heard.start_s,
        end_s=None if heard is None else heard.end_s,
        f0_hz=None if heard is None else heard.f0_hz,
    )
