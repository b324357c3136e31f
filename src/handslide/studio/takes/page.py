"""What the page of a take shows: its pictures, its table, what it is about."""

from collections import Counter
from dataclasses import dataclass
from typing import Any

from handslide.edges.store.takes import Take
from handslide.edges.typesetting.screen import Spot, screen_svg
from handslide.jobs.hear.sheet import content_from
from handslide.sheets.takescreen import screen_pieces
from handslide.studio.cache import CacheKind
from handslide.studio.studio import Studio

_PX_PER_MM = 4.2
_PICTURES: CacheKind[tuple[int, str], tuple[str, ...]] = CacheKind(40)
# Reasons for leaving something out that are told one by one.
_FEW = 3


@dataclass(frozen=True, slots=True)
class LeftOutRow:
    """What was left out for one reason: how often, and where (seconds), if that was seldom."""

    why: str
    count: int
    where_s: tuple[tuple[float, float], ...]


def take_pictures(studio: Studio, take: Take) -> tuple[str, ...]:
    """The pictures of a take as pieces of SVG; each note's column has the note's number."""
    return studio.caches.of(_PICTURES).get((take.id, take.created_at), lambda: _drawn(take))


def _drawn(take: Take) -> tuple[str, ...]:
    drawn = []
    report = content_from(take.report["sheet"]).report
    names = [f"{row['name']}: {row['words']}" for row in take.report["notes"]]
    for piece in screen_pieces(report):
        last = piece.first + len(piece.spots)
        spots = [Spot(box, str(piece.first + k)) for k, box in enumerate(piece.spots)]
        label = "; ".join(names[piece.first : last])
        drawn.append(
            screen_svg(
                piece.shapes, piece.width_mm, piece.height_mm, label=label, spots=spots,
                px_per_mm=_PX_PER_MM,
            )
        )  # fmt: skip
    return tuple(drawn)


def left_out(report: dict[str, Any]) -> tuple[LeftOutRow, ...]:
    """What was left out of the hearing, the most frequent reason first."""
    rows = report["left_out"]
    counts = Counter(row["why"] for row in rows)
    found = []
    for why, count in counts.most_common():
        where = [(row["start_s"], row["end_s"]) for row in rows if row["why"] == why]
        found.append(LeftOutRow(why, count, tuple(where) if count <= _FEW else ()))
    return tuple(found)
