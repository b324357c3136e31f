"""What is said of each kind of fact whose topic is ``clips``: wishes, and what encodes a video."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    "clips.size": N_("{wish!q} is no size: write it as 1280x720 or 1080x1920"),
    "clips.side": N_(
        "{width:d} by {height:d} pixels can't be: both must be even, from {low:d} to {high:d}"
    ),
    "clips.fps": N_("{fps:d} pictures a second can't be: from {low:d} to {high:d}"),
    "clips.card": N_("a card of {letters:d} letters is too long: {most:d} at most"),
    "clips.ending": N_("a clip is a file with one of the endings {known:either}, not {ending!q}"),
    "clips.too_long": N_(
        "the clip would take {minutes:.0f} minutes; {most_minutes:.0f} at most: choose measures"
    ),
    "clips.large": N_("{path} grew beyond {most_bytes:d} bytes and was given up"),
    "clips.no_ffmpeg": N_(
        "a clip needs FFmpeg, and there is none on this machine: install it with your system's own "
        "packages, or name one with {variable}"
    ),
    "clips.not_there": N_("{variable} names no program: {program!q}"),
    "clips.not_run": N_("{program} can't be run: {reason}"),
    "clips.silent": N_("{program} didn't say within {seconds:.0f} s what it can do"),
    "clips.no_encoder": N_(
        "the FFmpeg {program} can't make {ending} files: it has none of {tried:either}"
    ),
    "clips.encoder_slow": N_("FFmpeg took no picture for {seconds:.0f} s and was ended"),
    # Translators: {reason} is FFmpeg's own word, in English.
    "clips.encoder_failed": N_("FFmpeg didn't write {path}: {reason}"),
}
