"""Pictures and a sound to a video file, a picture at a time.

FFmpeg gets the pictures through its standard input, as fast as it takes them, so that no more than
a few are ever in memory. It is started without a shell, is ended when it takes no picture for long
or its file grows too large, and what it complained of is one sentence.
"""

import contextlib
import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from handslide.edges.files.outfile import written_beside
from handslide.edges.video.encoders import Encoding
from handslide.ground.cleantext import cut_line
from handslide.ground.errors import OutputError
from handslide.ground.limits import CLIP_BYTES, ENCODER_STILL_S, TOLD_LETTERS

_LOOK_EVERY = 30  # pictures
_COMPLAINTS = 20  # last lines that are kept


def write_video(
    path: Path,
    encoding: Encoding,
    size: tuple[int, int],
    fps: int,
    frames: Iterable[NDArray[np.uint8]],
    sound: bytes,
    *,
    force: bool = False,
    told: Callable[[int], None] | None = None,
) -> None:
    """Write ``frames``, each of shape (height, width, 3), with the WAV file ``sound``.

    ``size`` is width and height. ``told`` hears how many are written. Nothing is left beside
    ``path`` when it fails or is stopped. Raises OutputError.
    """
    with written_beside(path, force=force, suffix=encoding.ending) as picture:
        heard = picture.with_suffix(".wav")
        try:
            heard.write_bytes(sound)
            with _Encoder(path, picture, heard, encoding, size, fps) as encoder:
                for number, frame in enumerate(frames, 1):
                    encoder.take(frame)
                    if told is not None:
                        told(number)
        finally:
            heard.unlink(missing_ok=True)


class _Encoder:
    """FFmpeg at work."""

    def __init__(
        self,
        name: Path,
        path: Path,
        sound: Path,
        encoding: Encoding,
        size: tuple[int, int],
        fps: int,
    ) -> None:
        self._name, self._path = name, path
        self._taken = 0
        self._last = time.monotonic()
        self._late = False
        self._complaints: deque[str] = deque(maxlen=_COMPLAINTS)
        words = [
            encoding.program, "-hide_banner", "-loglevel", "error", "-y",
            "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{size[0]}x{size[1]}", "-r", str(fps),
            "-i", "pipe:0", "-i", f"file:{sound.resolve()}", "-map", "0:v", "-map", "1:a",
            # The colours of high definition, said in the file, so that every player shows the same.
            "-vf", "scale=out_color_matrix=bt709:out_range=tv,format=yuv420p",
            "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709",
            "-g", str(2 * fps), *encoding.options(*size, fps), f"file:{path.resolve()}",
        ]  # fmt: skip
        self._process = subprocess.Popen(
            words,
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            # A Ctrl-C is ours to answer.
            start_new_session=sys.platform != "win32",
        )
        self._ended = threading.Event()
        self._threads = [
            threading.Thread(target=work, daemon=True) for work in (self._listen, self._watch)
        ]
        for thread in self._threads:
            thread.start()

    def __enter__(self) -> "_Encoder":
        return self

    def __exit__(self, kind: Any, *_: object) -> None:
        try:
            if kind is None:
                self._finish()
        finally:
            self._process.kill()
            self._process.wait()
            self._ended.set()
            for thread in self._threads:
                thread.join()
            for pipe in (self._process.stdin, self._process.stderr):
                with contextlib.suppress(OSError):
                    pipe.close()  # type: ignore[union-attr]

    def take(self, frame: NDArray[np.uint8]) -> None:
        """Hand it a picture. Raises OutputError when it is gone."""
        assert self._process.stdin is not None
        try:
            self._process.stdin.write(np.ascontiguousarray(frame).data)
        except OSError as error:
            raise self._failed() from error
        self._last = time.monotonic()
        self._taken += 1
        if self._taken % _LOOK_EVERY == 0 and self._path.stat().st_size > CLIP_BYTES:
            raise OutputError("clips.large", path=str(self._name), most_bytes=CLIP_BYTES)

    def _finish(self) -> None:
        assert self._process.stdin is not None
        try:
            self._process.stdin.close()
        except OSError as error:
            raise self._failed() from error
        self._last = time.monotonic()
        if self._process.wait() != 0:
            raise self._failed()

    def _failed(self) -> OutputError:
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(1.0)
        if self._late:
            return OutputError("clips.encoder_slow", seconds=ENCODER_STILL_S)
        self._threads[0].join(1.0)
        reason = cut_line(" ".join(self._complaints), TOLD_LETTERS)
        if not reason:
            reason = f"exit code {self._process.returncode}"
        return OutputError("clips.encoder_failed", path=str(self._name), reason=reason)

    def _listen(self) -> None:
        pipe: IO[bytes] | None = self._process.stderr
        assert pipe is not None
        while line := pipe.readline(TOLD_LETTERS):
            self._complaints.append(line.decode("utf-8", "replace").strip())

    def _watch(self) -> None:
        while not self._ended.wait(1.0) and self._process.poll() is None:
            if time.monotonic() - self._last > ENCODER_STILL_S:
                self._late = True
                self._process.kill()
