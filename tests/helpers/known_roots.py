"""Pieces whose chords have been told by people: music21's corpus has analyses in Roman numerals.

Chorales by J. S. Bach (analyses: A. Jones, proofread by D. Tymoczko and H. Robb) and madrigals by
Monteverdi, with their scores, each with the permission of its encoders (``corpus/license.txt``).
"""

from pathlib import Path

import music21
from music21 import converter, roman

from handslide.edges.musicxml.concert import read_concert
from handslide.edges.musicxml.read import open_score
from handslide.sound.playing.harmony import beats_to_cells, found_harmony

_CORPUS = Path(music21.__file__).parent / "corpus"
_MOST_TAIL_Q = 8.0
_SHARED = 0.4  # two chords in a beat: either counts
_LEAST_INSIDE = 0.8
_TONES = {"major": (0, 4, 7), "minor": (0, 3, 7), "diminished": (0, 3, 6), "augmented": (0, 4, 8)}


def chorales():
    """(analysis, score) of each chorale that has both."""
    found = []
    for analysis in sorted((_CORPUS / "bach" / "choraleAnalyses").glob("*.rntxt")):
        head = next(row for row in analysis.read_text().splitlines() if row.startswith("BWV"))
        path = _CORPUS / "bach" / f"bwv{head.split(':')[1].strip().replace('/', '.')}.mxl"
        if path.exists():
            found.append((analysis, path))
    return found


def madrigals():
    """(analysis, score) of each madrigal that has both."""
    rows = sorted((_CORPUS / "monteverdi").glob("*.rntxt"))
    return [(row, row.with_suffix(".mxl")) for row in rows if row.with_suffix(".mxl").exists()]


def told_roots(analysis):
    """(measure number, quarters into it, root, quality) of each chord of an analysis."""
    read = converter.parse(str(analysis), format="romantext")
    return [
        (measure.number, float(chord.getOffsetInHierarchy(measure)), chord.root().pitchClass,
         chord.quality)
        for measure in read.parts[0].getElementsByClass("Measure")
        for chord in measure.recurse().getElementsByClass(roman.RomanNumeral)
    ]  # fmt: skip


def compared(analysis, path):
    """(right, how sure) of each beat, where it is played first; None for a piece whose analysis
    goes another way than its score, or in another key: less than 80 % of what sounds is in the
    chords that are told."""
    score = open_score(path)
    part = score.read_part(score.parts[-1].part_id)
    concert, _ = read_concert(score, part)
    if len({one.part_id for one in concert.parts}) < len(score.parts):
        return None
    line, _, _ = score.read_way(part)
    starts = {}
    for number, begin_q in zip(line.numbers, line.measure_q):
        starts.setdefault(number, begin_q)
    told = sorted(
        (starts[str(measure)] + at_q, root, quality)
        for measure, at_q, root, quality in told_roots(analysis)
        if str(measure) in starts
    )
    places = concert.course.played([at_s for at_s, _ in part.beats_s]).tolist()
    end_p = float(concert.course.place_p[-1])
    cells = beats_to_cells(zip(places, (strong for _, strong in part.beats_s)), end_p)
    rows = [row for one in concert.parts for row in one.rows if not row.grace]
    found, seen, inside = [], set(), [0.0, 0.0]
    for one in found_harmony(rows, cells, end_p):
        at_q = concert.course.written(one.begin_p)
        roots = _roots(told, at_q, one.end_p - one.begin_p)
        if round(at_q, 3) in seen or not roots:
            continue
        seen.add(round(at_q, 3))
        chords = [[(root + above) % 12 for above in (*_TONES.get(kind, (0, 4, 7)), 10)]
                  for root, kind in roots]  # fmt: skip
        for row in rows:
            if row.begin_p <= one.begin_p < row.end_p - 1e-6:
                inside[1] += 1
                inside[0] += any(row.midi % 12 in chord for chord in chords)
        found.append((one.chord.root in {root for root, _ in roots}, one.sure))
    return found if inside[1] and inside[0] / inside[1] >= _LEAST_INSIDE else None


def _roots(told, from_q, long_q):
    """The (root, quality) that are told of a stretch."""
    shares = {}
    for (at_q, root, quality), (next_q, *_) in zip(
        told, [*told[1:], (told[-1][0] + _MOST_TAIL_Q, 0, "")]
    ):
        share = min(from_q + long_q, next_q) - max(from_q, at_q)
        if share > 0:
            shares[root, quality] = shares.get((root, quality), 0.0) + share
    whole = sum(shares.values())
    return {row for row, share in shares.items() if share >= _SHARED * whole}
