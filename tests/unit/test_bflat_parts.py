"""Brass-band parts that were saved without their transposition."""

import pytest
from command import run, run_json
from musicxml_build import notes, part, score

from handslide.edges.musicxml.read import read_score
from handslide.ground.errors import BadUsage
from handslide.jobs.hear.followed import follow_take
from handslide.jobs.hear.partreport import part_report
from handslide.jobs.partwishes import PartWishes
from handslide.jobs.practice.lesson import LessonWishes, make_lesson
from handslide.jobs.practice.playalong import make_playalong
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.jobs.setup import make_setup
from handslide.sound.notes import hear
from handslide.sound.tones import harmonic_tone
from handslide.words.hints import TERMINAL
from handslide.words.speech import speech

TREBLE = (
    "<attributes><divisions>1</divisions>{}<clef><sign>G</sign><line>2</line>{}</clef>{}"
    "</attributes>"
)
SHIFT = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
FOUR = "<time><beats>4</beats><beat-type>4</beat-type></time>"


def band(name="1st Trombone in B♭", clef="", transpose=""):
    content = TREBLE.format(FOUR, clef, transpose) + notes("C5 D5 E5 G4")
    return score(part(content), names=(name,))


def warned(data):
    return [row.kind for row in read_score(data).read_part().warnings] == ["transpose"]


@pytest.mark.parametrize(
    "name",
    ["1st Trombone in B♭", "Trombone in Bb", "Bb Trombone", "B-flat Trombone", "Trombone (B♭)",
     "Posaune in B", "Solo Trombone in B flat", "Trombone en Si♭", "B♭ Baritone"],
)  # fmt: skip
def test_a_part_called_in_b_flat_is_warned_of(name):
    assert warned(band(name))


@pytest.mark.parametrize("name", ["Trombone", "Trombone in C", "Bass Trombone", "Trombone 2"])
def test_other_names_arent(name):
    assert not warned(band(name))


def test_what_states_a_transposition_or_stands_in_another_clef_isnt():
    assert not warned(band(transpose=SHIFT))
    assert not warned(band(clef="<clef-octave-change>-1</clef-octave-change>"))
    assert not warned(band().replace(b"<sign>G</sign><line>2", b"<sign>F</sign><line>4"))


def test_it_sounds_a_major_ninth_lower_when_told_so():
    opened = read_score(band())
    for sounds, names in (
        (None, "C5 D5 E5 G4"), ("as-written", "C5 D5 E5 G4"), ("Bb-treble", "Bb3 C4 D4 F3"),
    ):  # fmt: skip
        read = opened.read_part(sounds=sounds)
        assert " ".join(note.sounding.name for note in read.notes) == names
        assert " ".join(note.written.name for note in read.notes) == "C5 D5 E5 G4"
        assert bool(read.warnings) == (sounds is None)
    # What the file says holds.
    read = read_score(band(transpose=SHIFT)).read_part(sounds="Bb-treble")
    assert read.notes[0].sounding.name == "Bb4"
    with pytest.raises(BadUsage):
        opened.read_part(sounds="Eb-treble")


def test_on_the_command_line(tmp_path):
    path = tmp_path / "band.musicxml"
    path.write_bytes(band())
    words = ("mark", path, "--no-pdf", "--force", "-o", tmp_path)
    (warning,) = run_json(*words)["warnings"]
    assert warning["kind"] == "transpose" and "--sounds Bb-treble" in warning["text"]
    told = run_json(*words, "--sounds", "Bb-treble")
    assert told["warnings"] == [] and told["notes"][0]["note"] == "Bb3"
    assert run_json(*words, "--sounds", "as-written")["warnings"] == []
    run(*words, "--sounds", "whatever", code=2)
    assert "ninth" in speech("en", None, TERMINAL).fact(
        read_score(band()).read_part().warnings[0].told
    )


def test_every_job_that_reads_a_part_takes_it(tmp_path):
    path, how = tmp_path / "band.musicxml", "Bb-treble"
    path.write_bytes(band())
    words = ("transpose", path, "--by", "M2", "--no-pdf", "-o", tmp_path)
    assert run_json(*words, "--sounds", how)["notes"][0]["note"] == "C4"
    # B flat 3 by its definition, from A4 = 440 Hz.
    played = make_playalong(read_score(band()), PlayWishes(sounds=how, solo="quiet", count_in=0))
    assert played.notes[0].hz == pytest.approx(440.0 * 2 ** (-11 / 12))
    asked = make_playalong(read_score(band()), PlayWishes(count_in=0))
    assert "scores.bflat" in {told.kind for told in asked.warnings}
    lesson = make_lesson(read_score(band()), make_setup("tenor"), LessonWishes(sounds=how))
    assert lesson.marked.part.notes[0].sounding.name == "Bb3" and lesson.found == ()
    tone = hear(harmonic_tone(220.0, 1.0, 22050.0), 22050.0)
    followed = follow_take(read_score(band()), tone, make_setup("tenor"), PartWishes(sounds=how))
    assert followed.notes[0].pitch.name == "Bb3"
    doubted = part_report(follow_take(read_score(band()), tone, make_setup("tenor")))
    assert "scores.bflat" in {told.kind for told in doubted.warnings}


def test_the_other_parts_of_a_band_sound_as_the_part_does():
    content = TREBLE.format(FOUR, "", "") + notes("C5 D5 E5 G4")
    names = ("1st Trombone in B♭", "2nd Trombone in B♭")
    both = score(part(content), part(content, part_id="P2"), names=names)
    wishes = PlayWishes(sounds="Bb-treble", solo="off", clicks=False, count_in=0)
    alone = make_playalong(read_score(both), wishes)
    assert alone.others == (names[1],)
    heard = hear(alone.sound.samples.mean(axis=0), float(alone.sound.rate_hz))
    assert [note.midi for note in heard.notes] == [58, 60, 62, 53]
