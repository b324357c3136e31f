"""Which FFmpeg is on the machine, and with which of its encoders a clip can be made.

FFmpeg is a program of its own, and none comes along: which licence its encoders are under is its
user's choice. ``HANDSLIDE_FFMPEG`` names one that isn't on the path.
"""

import os
import shutil
import subprocess
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from handslide.ground.errors import BadUsage, OutputError
from handslide.ground.limits import ENCODER_ASKED_S
from handslide.ground.system import system_reason

ENVIRONMENT = "HANDSLIDE_FFMPEG"
_BITS_A_PIXEL = 0.06  # where an encoder isn't told a quality: drawn pictures need few
Options = Callable[[int, int, int], Sequence[str]]


def _constant(*words: str) -> Options:
    return lambda width, height, fps: words


def _rate(width: int, height: int, fps: int) -> Sequence[str]:
    bits = max(200_000, round(_BITS_A_PIXEL * width * height * fps))
    return ("-b:v", str(bits))


@dataclass(frozen=True, slots=True)
class _Encoder:
    """An encoder by FFmpeg's name; ``tried``: that it is listed doesn't say that it works here."""

    name: str
    options: Options
    tried: bool = False


@dataclass(frozen=True, slots=True)
class _Form:
    """What a kind of file can have inside, the best first."""

    video: tuple[_Encoder, ...]
    audio: tuple[_Encoder, ...]
    options: tuple[str, ...] = ()


# An encoder of the machine's hardware is listed wherever FFmpeg was built with it.
_HARDWARE = ("h264_videotoolbox", "h264_nvenc", "h264_qsv", "h264_amf", "h264_mf")
_FORMS = {
    ".mp4": _Form(
        (
            _Encoder("libx264", _constant("-preset", "veryfast", "-crf", "20")),
            _Encoder("libopenh264", _rate),
            *(_Encoder(name, _rate, tried=True) for name in _HARDWARE),
        ),
        (_Encoder("aac", _constant("-b:a", "160k")),),
        ("-movflags", "+faststart"),
    ),
    ".webm": _Form(
        (
            _Encoder(
                "libvpx-vp9",
                _constant("-deadline", "realtime", "-cpu-used", "8", "-row-mt", "1",
                          "-b:v", "0", "-crf", "30"),
            ),
            _Encoder("libsvtav1", _constant("-preset", "10", "-crf", "36")),
        ),
        (_Encoder("libopus", _constant("-b:a", "128k")),),
    ),
}  # fmt: skip
ENDINGS = tuple(_FORMS)


@dataclass(frozen=True, slots=True)
class Encoding:
    """How a clip is encoded here: FFmpeg's path, and its encoders by their names."""

    program: str
    video: str
    audio: str
    ending: str

    def options(self, width: int, height: int, fps: int) -> tuple[str, ...]:
        """What FFmpeg is told of both streams and the file."""
        form = _FORMS[self.ending]
        words: list[str] = []
        for sign, name, known in (
            ("-c:v", self.video, form.video),
            ("-c:a", self.audio, form.audio),
        ):
            (encoder,) = (one for one in known if one.name == name)
            words += [sign, name, *encoder.options(width, height, fps)]
        return (*words, *form.options)


def check_ending(ending: str) -> None:
    """Raises BadUsage for a file that is no clip."""
    if ending.lower() not in ENDINGS:
        raise BadUsage("clips.ending", ending=ending, known=ENDINGS)


def find_encoding(ending: str) -> Encoding:
    """Raises BadUsage for an ending that is none, OutputError where there is no FFmpeg or none
    that can make such a file."""
    check_ending(ending)
    program, ending = _find_program(), ending.lower()
    form, listed = _FORMS[ending], _listed(program)

    def first(known: Sequence[_Encoder]) -> str | None:
        for one in known:
            if one.name in listed and (not one.tried or _works(program, one.name)):
                return one.name
        return None

    video, audio = first(form.video), first(form.audio)
    if video is None or audio is None:
        lacking = form.audio if video is not None else form.video
        raise OutputError(
            "clips.no_encoder", program=program, ending=ending,
            tried=tuple(one.name for one in lacking),
        )  # fmt: skip
    return Encoding(program, video, audio, ending)


def _find_program() -> str:
    wish = os.environ.get(ENVIRONMENT)
    found = shutil.which(wish or "ffmpeg")
    if found is None:
        if wish:
            raise OutputError("clips.not_there", program=wish, variable=ENVIRONMENT)
        raise OutputError("clips.no_ffmpeg", variable=ENVIRONMENT)
    return str(Path(found).resolve())


@cache
def _listed(program: str) -> frozenset[str]:
    """The names of all encoders of an FFmpeg."""
    try:
        done = subprocess.run(
            [program, "-nostdin", "-hide_banner", "-encoders"],
            stdin=subprocess.DEVNULL, capture_output=True, timeout=ENCODER_ASKED_S, check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired as error:
        raise OutputError("clips.silent", program=program, seconds=ENCODER_ASKED_S) from error
    except OSError as error:
        reason = system_reason(error)
        raise OutputError("clips.not_run", program=program, reason=reason) from error
    lines = done.stdout.decode("utf-8", "replace").splitlines()
    return frozenset(words[1] for line in lines if len(words := line.split()) > 1)


@cache
def _works(program: str, encoder: str) -> bool:
    """Whether an encoder makes something of two grey pictures."""
    side = 256
    words = [
        program, "-hide_banner", "-loglevel", "error", "-f", "rawvideo", "-pix_fmt", "yuv420p",
        "-s", f"{side}x{side}", "-r", "30", "-i", "pipe:0", "-c:v", encoder, "-f", "null", "-",
    ]  # fmt: skip
    grey = b"\x80" * (side * side * 3 // 2) * 2
    try:
        done = subprocess.run(
            words, input=grey, capture_output=True, timeout=ENCODER_ASKED_S, check=False
        )
    except (subprocess.TimeoutExpired, OSError):
        return False
    return done.returncode == 0
