"""Speed of clips, beside their encoder alone, in one run.

The peer is the same FFmpeg that gets the same pictures, put together before, as fast as it takes
them: what is more than that is our drawing. FFmpeg is the machine's, else that of imageio-ffmpeg (a
development dependency). Then what a browser records is looked at: by how much its picture precedes
its sound. Run: python benchmarks/clip.py [--size 1280x720] [--ending mp4] [--only recorded]
"""

import argparse
import importlib.util
import os
import shutil
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from handslide.edges.audio.write import audio_bytes
from handslide.edges.video.encoders import find_encoding
from handslide.edges.video.write import write_video
from handslide.jobs.clip import clip as clips
from handslide.jobs.clip.wishes import ClipWishes, read_size
from handslide.jobs.mark.mark import MarkOptions
from handslide.jobs.practice.soundwishes import PlayWishes
from handslide.jobs.setup import make_setup
from handslide.words.speech import speech

ROOT = Path(__file__).resolve().parents[1]
PART = ROOT / "examples" / "lanterns.musicxml"
MEASURES = "1-4"  # the pictures of more don't fit the memory of a small machine
RUNS = 3
RECORDED_S = 8.0


def find_ffmpeg() -> None:
    """Names the FFmpeg of the machine, else that of the package."""
    if shutil.which("ffmpeg") is None and "HANDSLIDE_FFMPEG" not in os.environ:
        if importlib.util.find_spec("imageio_ffmpeg") is None:
            sys.exit("no FFmpeg on this machine, and imageio-ffmpeg isn't installed")
        import imageio_ffmpeg

        os.environ["HANDSLIDE_FFMPEG"] = imageio_ffmpeg.get_ffmpeg_exe()


def main() -> None:
    """What was asked for."""
    options = argparse.ArgumentParser()
    options.add_argument("--size", default="1280x720")
    options.add_argument("--ending", default="mp4")
    options.add_argument("--only", choices=("written", "recorded"))
    wanted = options.parse_args()
    if wanted.only != "recorded":
        written(wanted)
    if wanted.only != "written":
        recorded()


def recorded() -> None:
    """Record pictures that say their time, and beeps, and look them up in the file."""
    sys.path.insert(0, str(ROOT / "tests" / "helpers"))
    import filmsync

    from browser import chromium, serving
    from handslide.studio.studio import open_studio

    with tempfile.TemporaryDirectory() as folder:
        os.environ["HANDSLIDE_HOME"] = folder
        studio = open_studio(Path(folder) / "studio")
        found = []
        with serving(studio) as address, chromium() as browser:
            for _ in range(RUNS):
                page = browser.new_page()
                page.goto(f"{address}/help")
                found.append(filmsync.recorded(page, Path(folder) / "film", RECORDED_S))
                page.close()
        studio.close()
    load = " ".join(f"{one:.1f}" for one in os.getloadavg())
    print(f"recorded by chromium as {' and '.join(found[0].kinds)}, {RUNS} times, load {load}")
    early = ", ".join(f"{one.picture_first_ms:.1f}" for one in found)
    print(f"picture before sound, medians: {early} ms")
    for what in ("picture", "sound"):
        ms = [getattr(one, f"{what}_ms") for one in found]
        off = np.concatenate([one - np.median(one) for one in ms])
        low, high = np.percentile(off, (10, 90))
        print(f"a single {what}: from {low:.1f} to {high:.1f} ms beside its median, 8 of 10")


def written(wanted: argparse.Namespace) -> None:
    """Make a clip, then encode its pictures again."""
    find_ffmpeg()
    wishes = ClipWishes(size=read_size(wanted.size), title="")
    play = PlayWishes(measures=MEASURES, clicks=False, count_in=0)
    encoding = find_encoding(f".{wanted.ending}")
    say, setup = speech("en"), make_setup("tenor-f")
    pictures: list[np.ndarray] = []

    class Kept(clips.Stage):
        """Keeps its pictures for the peer."""

        def picture(self, time_s: float) -> np.ndarray:
            pictures.append(super().picture(time_s))
            return pictures[-1]

    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / f"clip.{wanted.ending}"

        def clip() -> clips.Clip:
            return clips.write_clip(
                PART, setup, MarkOptions(), play, wishes, say, target, force=True
            )

        usual, clips.Stage = clips.Stage, Kept  # type: ignore[misc]
        made = clip()
        clips.Stage = usual  # type: ignore[misc]
        sound = audio_bytes(made.made.sound.samples, made.made.sound.rate_hz)
        whole, own, alone = [], [], []
        for _ in range(RUNS):
            wall, busy = time.perf_counter(), time.process_time()
            clip()
            whole.append(time.perf_counter() - wall)
            own.append(time.process_time() - busy)
            wall = time.perf_counter()
            write_video(target, encoding, wishes.size, wishes.fps, pictures, sound, force=True)
            alone.append(time.perf_counter() - wall)
        size = target.stat().st_size
    load = " ".join(f"{one:.1f}" for one in os.getloadavg())
    length_s = made.length_s
    print(f"{wanted.size}, {encoding.video} and {encoding.audio}: {length_s:.1f} s, {size} bytes")
    print(f"best of {RUNS} on {os.cpu_count()} processors, load {load}")
    for what, seconds in (("clip, all of it", min(whole)), ("encoder alone", min(alone))):
        print(f"{what:<20}{seconds:8.2f} s  {length_s / seconds:6.2f} times real time")
    print(f"processor time of our own {min(own):.2f} s; ratio {min(whole) / min(alone):.2f}")


if __name__ == "__main__":
    main()
