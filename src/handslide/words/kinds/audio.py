"""What is said of each kind of fact whose topic is ``audio``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    # Translators: stands for a file's name where a recording has none.
    "audio.a_recording": N_("the recording"),
    "audio.is_folder": N_("{file} is a folder: give the audio file itself"),
    # Translators: {reason} is the system's own word, such as "Permission denied".
    "audio.unreadable": N_("can't read {file}: {reason}"),
    "audio.empty": N_("{file} is empty: it has no bytes"),
    "audio.too_large": N_("{file} is larger than {most_gb} GB: cut out what matters"),
    "audio.too_long": N_(
        "{file} is longer than {most_minutes:g} minutes: cut out the part that matters"
    ),
    "audio.low_rate": N_(
        "{file} has {rate_hz:g} samples a second: {least_hz:g} or more are needed"
    ),
    "audio.high_rate": N_("{file} has {rate_hz:.0f} samples a second: {most_hz:.0f} are the most"),
    "audio.no_samples": N_("{file} holds no sound: it has no samples"),
    "audio.not_audio": N_(
        "{file} can't be read as audio: give a recording (WAV, FLAC, OGG, MP3, M4A, ...), whole, "
        "whatever its name ends in"
    ),
    "audio.phone_format": N_(
        "{file} isn't WAV, FLAC, OGG or MP3; to read what phones record, install handslide with "
        'phone (pip install "handslide[phone]"), or save the take as one of these'
    ),
    "audio.ending": N_("a sound file can't end in {ending!q}: give {known:either}"),
    "audio.no_ending": N_("a sound file needs an ending: give {known:either}"),
    "audio.bits": N_("a sound file of {bits:d} bits can't be written: give {known:either}"),
    "audio.broken_off": N_("{file} can't be read to its end: was it copied whole?"),
    "audio.decoder_slow": N_("{file} can't be read: it wasn't decoded after {seconds:.0f} seconds"),
    "audio.decoder_died": N_("{file} can't be read: the audio library broke down on it"),
}
