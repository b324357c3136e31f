"""Chosen places stay on their notes when a PDF is read otherwise than before."""

from handslide.edges.musicxml.scorepart import ScorePart
from handslide.edges.pdfparts.reading import Spot
from handslide.edges.store.learnt import insert_unlearnt, select_unlearnt
from handslide.edges.store.scores import ScoreRow
from handslide.edges.store.stands import (
    Stand,
    delete_choices,
    put_locks,
    put_seen_to,
    select_locks,
    stands_of_score,
)
from handslide.jobs.mark.pdfpart import PdfPart
from handslide.studio.studio import Studio


def keep_locks(studio: Studio, row: ScoreRow, before: PdfPart, after: PdfPart) -> None:
    """Let the locks of all stands of a score follow their notes by place.

    Where notes have other numbers now, what can be undone there goes, for it names the old ones.
    """
    with studio.store.write() as db:
        for stand in stands_of_score(db, row.id):
            locked = select_locks(db, stand.id)
            if not locked and not stand.edits_done and stand.seen_to is None:
                continue
            if before.refused is not None or after.refused is not None:
                continue  # there are no notes to follow
            old, new = _spots(before, stand), _spots(after, stand)
            if old == new:
                continue
            numbers = {spot: number for number, spot in new.items()}
            locks = {
                numbers[old[number]]: wish
                for number, wish in locked.items()
                if old.get(number) in numbers
            }
            unlearnt = select_unlearnt(db, stand.id)
            looked_at = [] if stand.seen_to is None else range(stand.seen_to + 1)
            seen = [numbers[old[n]] for n in looked_at if old.get(n) in numbers]
            delete_choices(db, stand.id)
            put_locks(db, stand.id, locks)
            insert_unlearnt(
                db, stand.id, [numbers[old[n]] for n in unlearnt if old.get(n) in numbers]
            )
            put_seen_to(db, stand.id, max(seen, default=None))


def _spots(source: PdfPart, stand: Stand) -> dict[int, Spot]:
    """Where each note of the part on a stand is on the pages, by its number in the part."""
    part: ScorePart = source.score().read_part(
        stand.part,
        stand.voice,
        stand.tempo_qpm,
        small_notes=stand.small_notes,
        sounds=stand.sounds,
    )
    spots = {}
    for note in part.notes:
        number = source.numbers[note.ordinal]
        if number is not None:
            spots[note.index] = source.reading.notes[number].spot
    return spots
