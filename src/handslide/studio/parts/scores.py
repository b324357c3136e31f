"""The scores of a studio: taken in through the safe reader, listed, renamed, deleted."""

import hashlib
from dataclasses import dataclass
from pathlib import PurePath

from handslide.edges.musicxml.read import Score, open_score_data
from handslide.edges.musicxml.scorepart import PartInfo, ScorePart
from handslide.edges.pdfparts.head import is_pdf
from handslide.edges.store.scores import (
    ScoreRow,
    delete_score_row,
    find_score,
    find_score_by_digest,
    insert_score,
    select_scores,
    update_score,
    update_score_archived,
)
from handslide.ground.cleantext import clean_line
from handslide.ground.errors import BadData, NotFound, ScoreError
from handslide.ground.limits import MB, NAME_LETTERS, STORED_SCORE_BYTES
from handslide.studio.cache import CacheKind
from handslide.studio.parts.reading import first_reading, open_source, reading_key
from handslide.studio.studio import Studio


@dataclass(frozen=True, slots=True)
class Added:
    """A score that was taken in; ``known``: the same file was there already."""

    score: ScoreRow
    known: bool


def add_score(studio: Studio, data: bytes, file_name: str, *, example: bool = False) -> Added:
    """Take a score into the studio. A file that is there already is brought back, not doubled.

    Raises
    ------
    ScoreError
        One sentence: too large, unsafe, not a score, nothing to play in it.
    """
    name = _plain(PurePath(file_name.replace("\\", "/")).name) or "score"
    if len(data) > STORED_SCORE_BYTES:
        raise ScoreError("parts.too_large", file=name, most_mb=STORED_SCORE_BYTES // MB)
    digest = hashlib.sha256(data).hexdigest()
    known = _by_digest(studio, digest)
    if known is not None:
        if known.archived_at is not None:
            archive_score(studio, known.id, archived=False)
        return Added(get_score(studio, known.id), True)
    pdf = is_pdf(data)
    title, composer = _checked_pdf(studio, data, name) if pdf else _checked(studio, data, name)
    title = _plain(title or PurePath(name).stem) or name
    composer = _plain(composer or "")
    with studio.store.write() as db:
        insert_score(
            db,
            data,
            digest,
            title=title,
            composer=composer,
            file_name=name,
            example=example,
            pdf=pdf,
        )
    added = _by_digest(studio, digest)
    assert added is not None
    return Added(added, False)


def _plain(text: str) -> str:
    return clean_line(text)[:NAME_LETTERS].strip()


def _checked(studio: Studio, data: bytes, name: str) -> tuple[str | None, str | None]:
    score = open_score_data(data, name)
    preferred = _check_playable(score, name)
    # Who takes a score in is asked next which of its parts is meant.
    digest = hashlib.sha256(data).hexdigest()
    studio.caches.of(_PARTS).get(digest, lambda: _parts_of(score, preferred))
    return score.title, score.composer


def _checked_pdf(studio: Studio, data: bytes, name: str) -> tuple[str, str]:
    source = first_reading(studio, data, name)
    # One whose signs must be named first is taken in, for it is asked about inside.
    if source.refused is None:
        _check_playable(source.score(), name)
    return source.reading.title, source.reading.composer


def _check_playable(score: Score, name: str) -> ScorePart:
    """The preferred part, read so that what can't be read is told at the door."""
    if not any(part.notes for part in score.parts):
        raise ScoreError("parts.no_notes", file=name)
    return score.read_part()


def _by_digest(studio: Studio, digest: str) -> ScoreRow | None:
    with studio.store.read() as db:
        return find_score_by_digest(db, digest)


def get_score(studio: Studio, score_id: int) -> ScoreRow:
    """A score. Raises NotFound."""
    with studio.store.read() as db:
        found = find_score(db, score_id)
    if found is None:
        raise NotFound("parts.no_score")
    return found


def list_scores(studio: Studio, *, archived: bool = False) -> tuple[ScoreRow, ...]:
    """All scores by title: those in use, or the archived ones."""
    with studio.store.read() as db:
        return select_scores(db, archived=archived)


def open_stored(studio: Studio, row: ScoreRow) -> Score:
    """A stored score, freshly opened. Raises NotFound."""
    return open_source(studio, row).score


@dataclass(frozen=True, slots=True)
class ScoreParts:
    """The parts of a score that have notes; ``part_id`` and ``voice`` are read unasked."""

    parts: tuple[PartInfo, ...]
    part_id: str
    voice: str


_PARTS: CacheKind[str, ScoreParts] = CacheKind(200)


def score_parts(studio: Studio, row: ScoreRow) -> ScoreParts:
    """The parts of a score, for choosing. Raises NotFound."""

    def read() -> ScoreParts:
        score = open_stored(studio, row)
        return _parts_of(score, score.read_part())

    return studio.caches.of(_PARTS).get(reading_key(studio, row), read)


def _parts_of(score: Score, preferred: ScorePart) -> ScoreParts:
    parts = tuple(part for part in score.parts if part.notes)
    return ScoreParts(parts, preferred.part_id, preferred.voice)


def rename_score(studio: Studio, score_id: int, title: str, composer: str) -> ScoreRow:
    """Give a score another title and composer; the file stays as it is.

    Raises BadData, NotFound.
    """
    if max(len(title), len(composer)) > NAME_LETTERS:
        raise BadData("parts.long_title", most=NAME_LETTERS)
    title, composer = _plain(title), _plain(composer)
    if not title:
        raise BadData("parts.untitled")
    get_score(studio, score_id)
    with studio.store.write() as db:
        update_score(db, score_id, title=title, composer=composer)
    return get_score(studio, score_id)


def archive_score(studio: Studio, score_id: int, *, archived: bool = True) -> None:
    """Put a score away, or bring it back; stands and takes stay. Raises NotFound."""
    get_score(studio, score_id)
    with studio.store.write() as db:
        update_score_archived(db, score_id, archived=archived)


def delete_score(studio: Studio, score_id: int) -> None:
    """Delete a score for good, with all stands that it is on; takes stay. Raises NotFound."""
    get_score(studio, score_id)
    with studio.store.write() as db:
        delete_score_row(db, score_id)
