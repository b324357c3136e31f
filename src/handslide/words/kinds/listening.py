"""What is said of each kind of fact whose topic is ``listening``."""

from collections.abc import Mapping

from handslide.words.listening import (
    beat_words,
    change_words,
    clicks_words,
    dynamics_words,
    echo_words,
    lost_words,
    noise_words,
    rough_words,
    tempo_words,
)
from handslide.words.messages import N_, NN_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    # What a listener notices.
    "listening.tempo": tempo_words,
    "listening.beat": beat_words,
    "listening.clicks": clicks_words,
    "listening.uneven": N_("The rhythm is uneven: notes lie about ±{ms:.0f} ms around the beat."),
    "listening.cracked": NN_(
        "{count} of {total} attacks cracks: another pitch sounds first.",
        "{count} of {total} attacks crack: another pitch sounds first.",
    ),
    "listening.late": NN_(
        "{count} of {total} notes speaks late, more than a tenth of a second after the air.",
        "{count} of {total} notes speak late, more than a tenth of a second after the air.",
    ),
    "listening.slur_dip": NN_(
        "In {count} of {total} slurs the sound sinks by about {size:.0f} dB on the way: keep the "
        "air on.",
        "In {count} of {total} slurs the sound sinks by about {size:.0f} dB on the way: keep the "
        "air on.",
    ),
    "listening.slur_stops": NN_(
        "In {count} of {total} slurs the sound stops between the notes: keep the air on.",
        "In {count} of {total} slurs the sound stops between the notes: keep the air on.",
    ),
    "listening.slur_smear": NN_(
        "In {count} of {total} slurs the slide is heard gliding over about {size:.0f} cents: move "
        "it later and more quickly.",
        "In {count} of {total} slurs the slide is heard gliding over about {size:.0f} cents: move "
        "it later and more quickly.",
    ),
    "listening.pitch_wanders": N_(
        "Long notes waver by about ±{cents:.0f} cents in pitch: long notes against a drone."
    ),
    "listening.level_wanders": N_(
        "Long notes waver by about ±{db:.1f} dB in loudness: a steady stream of air."
    ),
    "listening.dynamics": dynamics_words,
    "listening.drone": N_(
        "Against the drone notes are about {cents:.0f} cents from the just interval."
    ),
    # Beside the take before.
    "listening.change": change_words,
    "listening.no_change": N_("Nothing changed by more than chance."),
    # What the recording is like.
    "listening.noise": noise_words,
    "listening.echo": echo_words,
    "listening.band": N_("a narrow band, as through a telephone"),
    "listening.clipped": N_("{percent:.0f} % of the notes clipped"),
    "listening.offset": N_("an offset, which was taken out"),
    "listening.against_clicks": N_("early and late are told against its beeps"),
    "listening.beeps": NN_("{count} beep of a metronome", "{count} beeps of a metronome"),
    # What follows.
    "listening.all_believed": N_("All figures of this take can be believed."),
    "listening.untold": N_(
        "Nothing speaks against the figures, but there is no pause to hear noise and echo in."
    ),
    "listening.rough": rough_words,
    "listening.not_believed": lost_words,
    # What the student can do.
    "listening.nearer": N_("Next time a metre nearer to the microphone, and away from the wall."),
    "listening.less_gain": N_("Next time with less gain, or a step further from the microphone."),
    "listening.own_recorder": N_(
        "Next time with the device's own recorder at its best quality, not through a call or a "
        "message."
    ),
    "listening.headphones": N_("Next time with the metronome in headphones."),
}
