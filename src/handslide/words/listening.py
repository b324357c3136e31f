"""What a teacher hears besides pitch, in words; and how far a take can be trusted."""

from collections.abc import Mapping, Sequence
from typing import Any

from handslide.ground.facts import Fact
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.translate import Translator

# Headings of the section on the page, on paper and on the terminal.
HEARD = N_("What a listener notices")
NOTHING_HEARD = N_("Beside the pitches nothing stands out.")
TRUST = N_("How far this take can be trusted")
# Translators: {changes} is a list such as "4 cents in intonation and 9 ms in rhythm".
_CHANGES = N_("Beside another take, a change is more than chance from {changes} on.")
_CHANGE: Mapping[str, Message] = {
    "intonation_cents": N_("{size:.1f} cents in intonation"),
    "rhythm_ms": N_("{size:.0f} ms in rhythm"),
    "transit_ms": N_("{size:.0f} ms in slurs"),
    "pitch_sd_cents": N_("{size:.1f} cents in steadiness of pitch"),
    "level_sd_db": N_("{size:.1f} dB in steadiness of loudness"),
}
# Translators: {day} is when the student's last take of the same part was made.
SINCE = N_("Since the take of {day}")
# By the figure, and whether it is smaller now: that is better, or quicker.
_CHANGED: Mapping[tuple[str, bool], Message] = {
    ("intonation_cents", True): N_(
        "Nearer in tune: {now:.1f} cents off on average, {before:.1f} the time before."
    ),
    ("intonation_cents", False): N_(
        "Further out of tune: {now:.1f} cents off on average, {before:.1f} the time before."
    ),
    ("rhythm_ms", True): N_("Steadier rhythm: ±{now:.0f} ms, ±{before:.0f} the time before."),
    ("rhythm_ms", False): N_("Less steady rhythm: ±{now:.0f} ms, ±{before:.0f} the time before."),
    ("transit_ms", True): N_("Quicker slurs: {now:.0f} ms, {before:.0f} the time before."),
    ("transit_ms", False): N_("Slower slurs: {now:.0f} ms, {before:.0f} the time before."),
    ("pitch_sd_cents", True): N_(
        "Long notes steadier in pitch: ±{now:.1f} cents, ±{before:.1f} the time before."
    ),
    ("pitch_sd_cents", False): N_(
        "Long notes less steady in pitch: ±{now:.1f} cents, ±{before:.1f} the time before."
    ),
    ("level_sd_db", True): N_(
        "Long notes steadier in loudness: ±{now:.1f} dB, ±{before:.1f} the time before."
    ),
    ("level_sd_db", False): N_(
        "Long notes less steady in loudness: ±{now:.1f} dB, ±{before:.1f} the time before."
    ),
}
# What can be believed or not.
FIGURES: Mapping[str, Message] = {
    "pitch": NP_("figure of a take", "pitch"),
    "rhythm": NP_("figure of a take", "rhythm"),
    "attacks": NP_("figure of a take", "attacks"),
    "slurs": NP_("figure of a take", "slurs"),
    "steadiness": NP_("figure of a take", "steadiness"),
    "loudness": NP_("figure of a take", "loudness"),
    "brightness": NP_("figure of a take", "brightness"),
}
_ROUGH = N_("Only roughly right: {figures}.")
_NOT_BELIEVED = N_("Not to be believed: {figures}.")

_RUSHES = N_("It rushes: at the end it is about {percent:.0f} % quicker than at the beginning.")
_DRAGS = N_("It drags: at the end it is about {percent:.0f} % slower than at the beginning.")
_OFF_BEAT = {
    True: NN_(
        "{count} note off the beat comes about {ms:.0f} ms late.",
        "Notes off the beat come about {ms:.0f} ms late ({count} notes).",
    ),
    False: NN_(
        "{count} note off the beat comes about {ms:.0f} ms early.",
        "Notes off the beat come about {ms:.0f} ms early ({count} notes).",
    ),
}
_ON_BEAT = {
    True: NN_(
        "{count} note on beat {beat} comes about {ms:.0f} ms late.",
        "Notes on beat {beat} come about {ms:.0f} ms late ({count} notes).",
    ),
    False: NN_(
        "{count} note on beat {beat} comes about {ms:.0f} ms early.",
        "Notes on beat {beat} come about {ms:.0f} ms early ({count} notes).",
    ),
}
_ON_CLICK = {
    True: NN_(
        "{count} note on the click comes about {ms:.0f} ms late.",
        "Notes on the click come about {ms:.0f} ms late ({count} notes).",
    ),
    False: NN_(
        "{count} note on the click comes about {ms:.0f} ms early.",
        "Notes on the click come about {ms:.0f} ms early ({count} notes).",
    ),
}
_BEHIND = N_("Against the metronome the notes come about {ms:.0f} ms late.")
_AHEAD = N_("Against the metronome the notes come about {ms:.0f} ms early.")
_HEARD_DB = 1.0
_LEAST_SIZE = 0.05
_QUIET = N_("quiet: notes {db:.0f} dB above the noise")
_NOISY = N_("noise: notes only {db:.0f} dB above it")
_DRY = N_("hardly any echo")
_ECHO = N_("echo of {seconds:.1f} s")
_DYNAMICS = N_("Written {soft} and {loud} can hardly be told apart: {db:.1f} dB between them.")
_DYNAMICS_TURNED = N_("Written {loud} is softer than written {soft}, by {db:.1f} dB.")


def tempo_words(say: Translator, told: Fact) -> str:
    """That a take rushes or drags."""
    percent = told["percent"]
    return say(_RUSHES if percent > 0 else _DRAGS, percent=abs(percent))


def beat_words(say: Translator, told: Fact) -> str:
    """That the notes on a beat, or off it, come late or early."""
    ms, beat = told["ms"], told["beat"]
    kinds = {"off": _OFF_BEAT, "click": _ON_CLICK}
    message = kinds.get(beat, _ON_BEAT)[ms > 0]
    return say(message, beat=beat, ms=abs(ms), count=told["count"])


def clicks_words(say: Translator, told: Fact) -> str:
    """That all notes come late or early against a metronome."""
    ms = told["ms"]
    return say(_BEHIND if ms > 0 else _AHEAD, ms=abs(ms))


def dynamics_words(say: Translator, told: Fact) -> str:
    """That two written dynamics sound alike, or the wrong way round."""
    db = told["db"]
    message = _DYNAMICS_TURNED if db <= -_HEARD_DB else _DYNAMICS
    return say(message, soft=told["soft"], loud=told["loud"], db=abs(db))


def noise_words(say: Translator, told: Fact) -> str:
    """How far the notes are above the noise."""
    return say(_QUIET if told["quiet"] else _NOISY, db=told["db"])


def echo_words(say: Translator, told: Fact) -> str:
    """How long the room answers."""
    return say(_DRY) if told["dry"] else say(_ECHO, seconds=told["seconds"])


def change_words(say: Translator, told: Fact) -> str:
    """What changed since the take before."""
    now, before = told["now"], told["before"]
    return say(_CHANGED[told["figure"], now < before], now=now, before=before)


def rough_words(say: Translator, told: Fact) -> str:
    """Which figures are rough."""
    return say(_ROUGH, figures=say.listed(say(FIGURES[one]) for one in told["figures"]))


def lost_words(say: Translator, told: Fact) -> str:
    """Which figures aren't to be believed."""
    return say(_NOT_BELIEVED, figures=say.listed(say(FIGURES[one]) for one in told["figures"]))


def changes_words(say: Translator, changes: Sequence[Mapping[str, Any]]) -> str:
    """From where on another take differs by more than chance; empty where nothing is known.

    ``changes`` are the rows of the figure of this name.
    """
    told = [
        say(_CHANGE[one["figure"]], size=one["smallest_change"])
        for one in changes
        if one["smallest_change"] >= _LEAST_SIZE
    ]
    return say(_CHANGES, changes=say.listed(told)) if told else ""
