"""The slide players' parts of the studio's scores: one row for each, however many a score has."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath

from handslide.edges.files.partchoice import PartChoice
from handslide.edges.manifest.manifest import Manifest
from handslide.edges.musicxml.looks import PartLook
from handslide.edges.store.scores import ScoreRow, read_score_data, update_takes
from handslide.ground.errors import BadData, BadUsage, NotFound
from handslide.jobs.library.choosing import PERSON, Chosen, choose_parts, look_of_json
from handslide.jobs.library.planning import reading_key
from handslide.jobs.library.work import Input
from handslide.studio.cache import CacheKind
from handslide.studio.library.kept import kept, looks_file
from handslide.studio.parts import reading
from handslide.studio.parts.scores import get_score
from handslide.studio.studio import Studio

_LOOKS: CacheKind[str, tuple[PartLook, ...]] = CacheKind(5000)


@dataclass(frozen=True, slots=True)
class SlidePart:
    """A part of a score for a slide player.

    ``part_id`` is None for the one that is read unasked; ``name`` is empty where the score has no
    other. ``usual``: a stand for which no part was named has this one. ``key`` is what looking at
    the score is known by.
    """

    score: ScoreRow
    part_id: str | None
    name: str
    usual: bool
    key: str

    @property
    def path(self) -> str:
        """What it is known by among the graded ones."""
        return f"{self.score.id}/{self.part_id or ''}"


def look_key(studio: Studio, row: ScoreRow) -> str:
    """What looking at a stored score is known by; the same for the same file in a folder."""
    return reading_key(reading.reading_key(studio, row), row.file_name)


def looks_at(studio: Studio, looked: Manifest, key: str) -> tuple[PartLook, ...] | None:
    """What was seen of a score; None: it wasn't looked at, or couldn't be."""
    cache = studio.caches.of(_LOOKS)
    known = cache.find(key)
    if known is None:
        found = looked.result(key)
        if found is None:
            return None
        known = cache.get(key, lambda: tuple(look_of_json(row) for row in found["parts"]))
    return known


def chosen_of(looks: Sequence[PartLook], takes: Sequence[str] | None) -> tuple[Chosen, ...]:
    """Which of a score's parts are taken: as the teacher says, else as names and clefs tell."""
    if takes is not None and not takes:
        return tuple(Chosen(look, False, PERSON) for look in looks)
    try:
        return choose_parts(looks, PartChoice(None if takes is None else tuple(takes)))
    except BadData:  # a part that is no longer there, where a PDF reads otherwise now
        return choose_parts(looks, PartChoice())


def slide_parts(
    studio: Studio, looked: Manifest, scores: Iterable[ScoreRow]
) -> tuple[SlidePart, ...]:
    """The parts of scores, in their order; of one that wasn't looked at, the usual one."""
    found: list[SlidePart] = []
    for row in scores:
        key = look_key(studio, row)
        found += _of_score(row, looks_at(studio, looked, key) or (), key)
    return tuple(found)


def unlooked_parts(studio: Studio, scores: Iterable[ScoreRow]) -> tuple[SlidePart, ...]:
    """One part for each score, the usual one."""
    return tuple(SlidePart(row, None, "", True, look_key(studio, row)) for row in scores)


def _of_score(row: ScoreRow, looks: Sequence[PartLook], key: str) -> list[SlidePart]:
    sounding = [look for look in looks if look.notes]
    taken = [one.look for one in chosen_of(looks, row.takes) if one.taken]
    if not taken or len(sounding) == 1:
        return [SlidePart(row, None, "", True, key)]
    usual = _usual(sounding)
    return [
        SlidePart(row, look.part_id, look.name or look.part_id, look is usual, key)
        for look in taken
    ]


def choice_of(studio: Studio, row: ScoreRow) -> tuple[Chosen, ...]:
    """The parts of a stored score with notes, and which of them are in the list; nothing where
    there is nothing to choose, or it wasn't looked at."""
    with kept(looks_file(studio)) as looked:
        key = look_key(studio, row)
        looks = looks_at(studio, looked, key) or ()
    sounding = [look for look in looks if look.notes]
    if len(sounding) < 2:
        return ()
    ids = {part.part_id for part in _of_score(row, looks, key)}
    if ids == {None}:
        ids = {_usual(sounding).part_id}
    return tuple(Chosen(look, look.part_id in ids, PERSON) for look in sounding)


def _usual(sounding: Sequence[PartLook]) -> PartLook:
    """The part that is read unasked: of equals the first."""
    return max(sounding, key=lambda look: look.likeness)


def take_parts(studio: Studio, score_id: int, part_ids: Sequence[str]) -> None:
    """Say which parts of a score are a slide player's. Raises BadUsage, NotFound."""
    if not part_ids:
        raise BadUsage("library.no_part_chosen")
    get_score(studio, score_id)
    with studio.store.write() as db:
        update_takes(db, score_id, part_ids)


def input_of(studio: Studio, row: ScoreRow) -> Input:
    """A stored score as workers take it. Raises NotFound, ScoreError."""
    key = reading.reading_key(studio, row)
    if row.pdf:
        read = reading.read_pdf_part(studio, row)
        if read.refused is not None:
            read.score()  # raises it
        return Input("", f"{PurePath(row.file_name).stem}.musicxml", key, read.musicxml)
    with studio.store.read() as db:
        data = read_score_data(db, row.id)
    if data is None:
        raise NotFound("parts.no_score")
    return Input("", row.file_name, key, data)


def by_path(parts: Iterable[SlidePart]) -> Mapping[str, SlidePart]:
    """Parts by what they are known by."""
    return {part.path: part for part in parts}
