"""The words of sounds to practise with: what a drone or a play-along is."""

from handslide.words.messages import N_, NN_

# Translators: how far a just tone lies from equal temperament.
FROM_EQUAL = N_("{offset_cents:+.1f} cents from equal")
DRONE = N_("drone of {length_s:.2f} s at {level_lufs:.1f} LUFS")
LOOP = N_("loop of {length_s:.2f} s at {level_lufs:.1f} LUFS")
# Translators: {solo} says how loud the part itself is: "loud", "quiet".
PLAYED = NN_(
    "{title}: {part}, {count:d} note at {tempo_qpm:g} quarter notes a minute; solo {solo}",
    "{title}: {part}, {count:d} notes at {tempo_qpm:g} quarter notes a minute; solo {solo}",
)
# A drone that follows a score, by where its harmony is from.
FOLLOWED = {
    "chords": NN_(
        "{title}: {count:d} chord along {part}, by the chord symbols, at {tempo_qpm:g} quarter "
        "notes a minute",
        "{title}: {count:d} chords along {part}, by the chord symbols, at {tempo_qpm:g} quarter "
        "notes a minute",
    ),
    "parts": NN_(
        "{title}: {count:d} chord along {part}, found in the parts, at {tempo_qpm:g} quarter "
        "notes a minute",
        "{title}: {count:d} chords along {part}, found in the parts, at {tempo_qpm:g} quarter "
        "notes a minute",
    ),
}
WITH_OTHERS = N_("with {others}")
PLAYED_LENGTH = N_(
    "{length_s:.1f} s at {level_lufs:.1f} LUFS; the music begins at {begins_s:.2f} s"
)
# Translators: one time that the music is played, of several in one file.
PASSES = N_("at {tempo_qpm:g} quarter notes a minute from {begins_s:.2f} s on")
