"""Clips: what is seen when, beside what is heard; and what is said when none is made."""

import re
import sys
from pathlib import Path

import numpy as np
import pytest
from command import one_sentence, run, run_json
from musicxml_build import attributes, note, notes, part, repeat, score, tempo
from videos import ffmpeg, watched

from handslide.edges.files.styles import colour, drawing_style
from handslide.edges.musicxml.read import read_score
from handslide.edges.video import encoders
from handslide.ground.errors import BadUsage, OutputError
from handslide.jobs.clip import clip as making
from handslide.jobs.clip.captions import captions
from handslide.jobs.clip.course import course_of, view_of
from handslide.jobs.clip.layout import layout_of
from handslide.jobs.clip.wishes import ClipWishes, check_wishes, read_size
from handslide.jobs.mark.mark import MarkOptions, choose_for
from handslide.jobs.mark.slideview import measures_of
from handslide.jobs.practice.playalong import make_playalong
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.jobs.setup import make_setup
from handslide.sheets.slide import STOP_MM, layers_across, slide_layers
from handslide.words.speech import speech

__all__ = ["ffmpeg"]
SAY = speech("en")
LANTERNS = Path("examples/lanterns.musicxml")
TINT, INK = (np.array(list(bytes.fromhex(colour(name)[1:]))) for name in ("brass-tint", "ink"))
# A note, a rest, and so on: what lights up can't be taken for the note before it.
APART = notes("Bb2 r C3 r") + notes("Eb3 r F3 r")
QPM = 137  # no beat of this falls on the beginning of a picture


def written(path, *measures, qpm=QPM):
    measures = list(measures)
    measures[0] = tempo(qpm) + attributes() + measures[0]
    path.write_bytes(score(part(*measures)))
    return path


def clip_of(path, *words, code=0):
    small = ["--size", "240x160", "--title", "", "--count-in", 0]
    return run("clip", path, *small, *words, code=code)


def made(*measures, setup=None, qpm=QPM, play=None, **wishes):
    """The marked part, its play-along and the stage of a clip of some measures."""
    text = score(part(tempo(qpm) + attributes() + measures[0], *measures[1:]))
    found = read_score(text, "part.musicxml")
    marked = choose_for(found, setup or make_setup("tenor-f"), MarkOptions())
    sound = make_playalong(found, play or PlayWishes(count_in=0, clicks=False))
    return marked, sound, making.stage_of(SAY, marked, sound, ClipWishes(**wishes))


# In the file


@pytest.mark.parametrize("ending", ["mp4", "webm"])
def test_what_is_seen_is_heard_in_the_file(tmp_path, ffmpeg, ending):
    source = written(tmp_path / "apart.musicxml", APART)
    target = tmp_path / f"apart.{ending}"
    # The clicks begin at once, the notes softly; both begin at the same times.
    words = ["--click", "--solo", "off", "--title", "One\ntwo", "--end", "Well played"]
    clip_of(source, "-o", target, *words)
    seen = watched(target)
    assert seen.frames.shape[1:] == (160, 240, 3)
    # By hand: 2.5 s of a card, eight beats of 0.438 s and the tail of the sound, 2.5 s of a card.
    assert seen.time_s == pytest.approx(np.arange(len(seen.frames)) / 30, abs=0.0011)
    assert 8.5 < seen.time_s[-1] < 9.9
    assert abs(seen.sound_s[-1] - seen.time_s[-1]) < 0.1
    top = seen.frames[:, 20:40].astype(int)
    lit = (np.abs(top - TINT).max(axis=3) < 14).any(axis=(1, 2))
    begins = seen.time_s[1:][lit[1:] & ~lit[:-1]]
    heard = onsets_of(seen.sound, seen.sound_s)
    assert len(begins) == 4 and len(heard) == 8
    assert heard[::2] == pytest.approx(2.5 + 120 / QPM * np.arange(4), abs=0.004)
    assert np.abs(begins - heard[::2]).max() < 0.02
    codecs = {"mp4": ["video h264", "audio aac"], "webm": ["video vp9", "audio opus"]}
    assert [re.sub("lib(dav1d|vpx-)?", "", one) for one in seen.kinds] == codecs[ending]
    # Nothing but the cards at both ends, and nothing left beside it.
    assert np.ptp(seen.frames[5, :30]) < 12 and np.ptp(seen.frames[-5, :30]) < 12
    assert seen.frames[5].min() < 60
    assert {one.name for one in tmp_path.iterdir()} == {
        source.name, target.name, "apart.vtt",
    }  # fmt: skip


def onsets_of(sound, time_s):
    """When something begins after a silence of 0.1 s."""
    loud = np.flatnonzero(np.abs(sound) > 0.15 * np.abs(sound).max())
    first = np.concatenate(([0], np.flatnonzero(np.diff(time_s[loud]) > 0.1) + 1))
    return time_s[loud[first]]


def test_what_the_command_says(tmp_path, ffmpeg):
    source = written(tmp_path / "apart.musicxml", APART)
    found = run_json(
        "clip", source, "--size", "160x240", "--fps", 10, "--horn", "tenor-f", "--tempo", 300,
        "--count-in", 0, "--title", "",
    )  # fmt: skip
    assert (found["width"], found["height"], found["fps"]) == (160, 240, 10)
    assert (found["notes"], found["tempo_qpm"], found["horn"]) == (4, 300, "tenor-f")
    assert found["frames"] == round(found["length_s"] * 10)
    assert [Path(one).name for one in found["files"]] == ["apart-clip.mp4", "apart-clip.vtt"]
    assert found["video"] in ("libx264", "libopenh264") and found["audio"] == "aac"
    kept = Path(found["files"][0]).read_bytes()
    assert "exists already" in one_sentence(clip_of(source, code=1))
    assert Path(found["files"][0]).read_bytes() == kept
    said = clip_of(source, "--force", "--fps", 10).stdout
    assert "240 × 160 and 10 pictures a second" in said and "apart-clip.vtt" in said


def test_ctrl_c_leaves_nothing(tmp_path, ffmpeg, monkeypatch):
    source = written(tmp_path / "apart.musicxml", APART)
    before = set(tmp_path.iterdir())

    def stop(stage, done, total):
        if (stage, done) == ("filming", 20):
            raise KeyboardInterrupt

    wishes = ClipWishes(size=(240, 160))
    with pytest.raises(KeyboardInterrupt):
        making.write_clip(
            source, make_setup("tenor"), MarkOptions(), PlayWishes(), wishes, SAY, progress=stop
        )
    assert set(tmp_path.iterdir()) == before


# Without a good FFmpeg


def program(folder, *lines):
    """A program that does as these lines of Python say."""
    path = folder / "ffmpeg"
    path.write_text("\n".join((f"#!{sys.executable}", "import sys, time", *lines)))
    path.chmod(0o755)
    return path


LISTS = "print(' V....D libx264 x\\n A....D aac x') or sys.exit() if '-encoders' in sys.argv else 0"


@pytest.mark.skipif(sys.platform == "win32", reason="programs begin otherwise there")
@pytest.mark.parametrize(
    ("lines", "says"),
    [
        (None, "a clip needs FFmpeg, and there is none on this machine"),
        ([], "can't make .mp4 files: it has none of libx264, libopenh264"),
        ([LISTS, "sys.exit('No space left on the moon')"], "No space left on the moon"),
        ([LISTS, "sys.stdin.buffer.read(5000)", "sys.exit(7)"], "exit code 7"),
        ([LISTS, "time.sleep(60)"], "took no picture for 1 s and was ended"),
    ],
)
def test_without_a_good_ffmpeg_there_is_one_sentence_and_nothing_else(
    tmp_path, monkeypatch, lines, says
):
    source = written(tmp_path / "apart.musicxml", APART)
    monkeypatch.delenv("HANDSLIDE_FFMPEG", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr("handslide.edges.video.write.ENCODER_STILL_S", 1.0)
    if lines is not None:
        monkeypatch.setenv("HANDSLIDE_FFMPEG", str(program(tmp_path, *lines)))
    before = set(tmp_path.iterdir())
    assert says in one_sentence(clip_of(source, code=1))
    assert set(tmp_path.iterdir()) == before


def test_an_encoder_of_the_hardware_is_tried_first(tmp_path, monkeypatch, ffmpeg):
    listed = {"h264_nvenc", "h264_qsv", "aac"}
    monkeypatch.setattr(encoders, "_listed", lambda _: listed)
    monkeypatch.setattr(encoders, "_works", lambda _, name: name == "h264_qsv")
    assert encoders.find_encoding(".mp4").video == "h264_qsv"
    monkeypatch.setattr(encoders, "_works", lambda *_: False)
    with pytest.raises(OutputError, match="has none of libx264"):
        encoders.find_encoding(".mp4")
    monkeypatch.undo()
    # The question itself: FFmpeg encodes with what it has, and not with what there isn't.
    assert encoders._works(ffmpeg_path(), "mpeg4")
    assert not encoders._works(ffmpeg_path(), "h264_nothing")


def ffmpeg_path():
    import imageio_ffmpeg

    return imageio_ffmpeg.get_ffmpeg_exe()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--size", "big"], "'big' is no size: write it as 1280x720"),
        (["--size", "641x480"], "641 by 480 pixels can't be"),
        (["--size", "8000x480"], "from 160 to 3840"),
        (["--fps", "400"], "400 pictures a second can't be: from 10 to 60"),
        (["-o", "clip.avi"], "one of the endings .mp4 or .webm, not '.avi'"),
        (["--end", "la " * 200], "a card of 600 letters is too long"),
        (["--measures", "77"], "77"),
    ],
)
def test_wishes_that_cannot_be(tmp_path, monkeypatch, ffmpeg, words, says):
    monkeypatch.chdir(tmp_path)
    source = written(tmp_path / "apart.musicxml", APART)
    assert says in one_sentence(run("clip", source, *words, code=2))
    assert [one.name for one in tmp_path.iterdir()] == [source.name]


def test_a_clip_has_an_end(tmp_path, ffmpeg, monkeypatch):
    monkeypatch.setattr(making, "CLIP_S", 2.0)
    source = written(tmp_path / "apart.musicxml", APART)
    assert "at most: choose measures" in one_sentence(clip_of(source, code=2))
    assert len(list(tmp_path.iterdir())) == 1


def test_sizes_are_read():
    assert read_size("1920x1080") == read_size(" 1920 × 1080 ") == (1920, 1080)
    check_wishes(ClipWishes(size=(1080, 1920)))
    with pytest.raises(BadUsage):
        read_size("1920")


# In the pictures


@pytest.mark.parametrize("size", [(1280, 720), (720, 1280)])
def test_the_slide_is_where_the_route_has_it(size):
    setup = make_setup("bass-independent")
    line = notes("Bb2 A2 Ab2 G2") + notes("C3 B1 F2 E2")
    _, _, stage = made(line, setup=setup, qpm=60, size=size)
    places = [one.place for one in stage.course.notes]
    assert len({place.valves for place in places}) >= 2
    layout, upright = stage.layout, size[1] > size[0]
    step = layout.slide_px / measures_of(setup).width_mm
    # Of the stay only ink is so dark, across the whole of the tubes.
    for one in stage.course.notes:
        picture = stage.picture(one.onset_s + 0.2)
        x, y = layout.slide
        rows, columns = stage.drawn[1].colour.shape[:2]
        piece = picture[y : y + rows, x : x + columns].astype(int)
        if upright:
            piece = np.rot90(piece, -1)
        across = round(140 * step)
        tubes = piece[-across:] if upright else piece[:across]
        dark = (np.abs(tubes - INK).max(axis=2) < 40).sum(axis=0) > 60 * step
        middle = np.flatnonzero(dark).mean() + 0.5
        assert middle / step - STOP_MM == pytest.approx(1000 * one.place.extension_m, abs=1.5)
    stage.close()


def test_a_repeat_turns_back_and_the_music_flows():
    _, _, stage = made(
        repeat("forward", location="left") + notes("Bb2 C3 D3 Eb3"),
        notes("F3 Eb3 D3 C3") + repeat(),
        notes("Bb2 r r r"),
    )
    heads, course = stage.heads_mm, stage.course
    assert [one.number for one in course.notes] == [*range(8), *range(8), 8]
    view = view_of(course.notes, heads)
    times = np.arange(0.0, course.notes[-1].onset_s, 0.01)
    places = np.array([view.at(time) for time in times])
    for one in course.notes:
        assert view.at(one.onset_s) == pytest.approx(heads[one.number])
    # It goes on all the time but once, where it turns back within half a note.
    back = times[1:][np.diff(places) < 0]
    again_s = course.notes[8].onset_s
    assert back.min() > again_s - 30 / QPM - 0.01 and back.max() <= again_s + 0.01
    stage.close()


def test_the_light_is_on_the_note_that_sounds():
    _, _, stage = made(APART)
    px, look = stage.layout.pixels_a_mm, stage.layout.look
    for one in stage.course.notes:
        for time_s, lit in ((one.onset_s + 0.01, True), (one.end_s + 0.05, False)):
            picture = stage.picture(time_s)
            row = picture[stage.layout.music[0] + 1].astype(int)
            found = np.flatnonzero(np.abs(row - TINT).max(axis=1) < 3)
            assert bool(len(found)) is lit
            if lit:
                assert abs(found.mean() - look) < 2.5 * px
    stage.close()


def test_slurred_quick_notes_move_within_a_tenth_of_a_second():
    legato = note("D3", notations='<notations><slur type="start"/></notations>')
    legato += note("G2", notations='<notations><slur type="stop"/></notations>')
    setup = make_setup("tenor")
    _, _, stage = made(legato + notes("D3 G2"), setup=setup, qpm=60)
    first, _, third = stage.course.motion.end_s - stage.course.motion.begin_s
    assert first == pytest.approx(setup.profile.slur_move_s) and third > 1.5 * first
    stage.close()


@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080), (1080, 1920), (640, 640), (720, 800)])
@pytest.mark.parametrize("strip_mm", [(28.0, 6.9), (60.0, 6.9)])
def test_nothing_lies_over_anything_else(size, strip_mm):
    for horn in ("alto", "tenor-f", "bass-independent", "contrabass-f"):
        slide, upright = measures_of(make_setup(horn)), size[1] > size[0]
        share, numbers = layers_across(slide, upright=upright)
        layout = layout_of(size, strip_mm, share, numbers)
        drawn = slide_layers(slide, "", layout.slide_px, layout.numbers_px, upright=upright)
        x, y = layout.slide
        assert x >= 0 and x + drawn.width <= size[0]
        assert layout.music[1] < y and y + drawn.height <= size[1]
        half = layout.mark_px / 2
        if upright:
            assert x + drawn.width + half < layout.mark[0]
        else:
            assert layout.music[1] + 0.3 * half < layout.mark[1] - 0.8 * half
            assert layout.mark[1] + 0.8 * half < y


def test_the_slide_is_dressed_as_on_the_pages():
    style = drawing_style("slide.css")
    assert "var(" not in style and "rem" not in style and "@media" not in style
    for name in ("brass", "brass-line", "brass-lit", "steel", "steel-line", "ink"):
        assert colour(name) in style


# Captions


def test_captions_say_each_note_in_its_time():
    marked, _, stage = made(notes("Bb2 C3 r F3"), qpm=60)
    text = captions(speech("en"), marked, stage.course.notes, 2.5, {"line": "5%"})
    assert text == (
        "WEBVTT\n\n00:00:02.500 --> 00:00:04.500 line:5%\n"
        "B♭2: 1st, C3: 1st with the F valve\n\n"
        "00:00:05.500 --> 00:00:06.500 line:5%\nF3: 1st\n"
    )
    german = captions(speech("de"), marked, stage.course.notes, 0.0, {})
    assert "B: 1.\u00a0Lage" in german
    stage.close()


def test_captions_have_no_more_than_six_notes_and_what_cannot_be_played():
    marked, _, stage = made(notes("Bb2 A2 D3 C2") * 4, setup=make_setup("tenor"), qpm=240)
    text = captions(SAY, marked, stage.course.notes, 0.0, {})
    cues = text.split("\n\n")[1:]
    assert sum(len(cue.splitlines()[1].split(", ")) for cue in cues) == 16
    assert max(len(cue.splitlines()[1].split(", ")) for cue in cues) <= 6
    assert "C2: can't be played" in text
    ends = re.findall(r"--> (\S+)", text)
    starts = re.findall(r"(\S+) -->", text)
    assert starts[1:] == ends[:-1]
    stage.close()


def test_the_course_is_that_of_the_sound():
    found = read_score(LANTERNS.read_bytes(), LANTERNS.name)
    marked = choose_for(found, make_setup("tenor-f"), MarkOptions())
    sound = make_playalong(found, PlayWishes())
    course = course_of(marked, sound)
    assert [one.onset_s for one in course.notes] == [one.onset_s for one in sound.notes]
    assert [one.number for one in course.notes] == [one.index for one in sound.notes]
    placed = [one for one in course.notes if one.place is not None]
    assert len(placed) == len(course.notes) - 1
    arrived = course.motion.at([one.onset_s for one in placed])
    assert arrived == pytest.approx([one.place.extension_m for one in placed])
