"""Parts read from PDF against what stands in them, as music21 reads the MusicXML.

The PDFs were engraved by other people's programs; tests/scores/pdf/README.md names them.
"""

import pytest
from musicxml_build import OWN_SCORES
from pdfengravers.compare import align, heads_of, tally
from pdfengravers.engrave import engrave, engraver
from pdfengravers.parts import cut
from pdfengravers.truth import load, true_notes

from handslide.edges.pdfparts.read import read_part
from handslide.edges.pdfparts.reading import Corrections

FOLDER = OWN_SCORES / "pdf"
KNOWN = (
    "Slama_01-lilypond",
    "School_for_Trombone_006-outlines",
    "School_for_Trombone_006-verovio",
    "Bordogni_Vocalise_01_PD-webmscore",
    "Belcke_12_Etudes_08-webmscore",
)
UNKNOWN = ("School_for_Trombone_006-abcm2ps", "Slama_01-musixtex")


def compared(data, truth):
    return tally(align(truth, heads_of(read_part(data, Corrections()))))


def of_file(name):
    truth = load(FOLDER / f"{name.rpartition('-')[0]}.json")
    return compared((FOLDER / f"{name}.pdf").read_bytes(), truth)


def check_all_read(got):
    """Every note, its pitch, time and tie; nothing else; and hardly a doubt."""
    assert (got.found, got.pitch, got.extra) == (got.true, got.true, 0)
    assert (got.onset, got.bar) == (got.timed, got.timed)
    assert (got.tie, got.ties_read) == (got.ties, got.ties)
    assert (got.grace, got.tuplet) == (got.graces, got.tuplets)
    assert got.slur >= 0.9 * got.slurs
    assert got.right_doubted <= 0.01 * got.right


@pytest.mark.parametrize("name", KNOWN)
def test_known_engravers_are_read_whole(name):
    check_all_read(of_file(name))


@pytest.mark.parametrize("name", UNKNOWN)
def test_what_an_unknown_engraver_makes_wrong_is_doubted(name):
    got = of_file(name)
    assert got.pitch > 0.85 * got.true
    assert got.wrong_doubted >= 0.9 * got.wrong


def test_truth_is_that_of_the_scores():
    for path in sorted(FOLDER.glob("S*.json")):
        assert true_notes(cut(OWN_SCORES / f"{path.stem}.musicxml", "P1")) == load(path)


@pytest.mark.skipif(not engraver("lilypond").installed(), reason="LilyPond isn't installed")
def test_what_lilypond_engraves_now(tmp_path):
    source = OWN_SCORES / "School_for_Trombone_006.musicxml"
    target = tmp_path / "part.pdf"
    engrave(engraver("lilypond"), source.read_bytes(), target)
    check_all_read(compared(target.read_bytes(), load(FOLDER / f"{source.stem}.json")))
