"""The words of clips."""

from handslide.words.messages import N_, NP_

# Translators: a caption: a note and where it is played, "E♭3: 3rd", "C3: 1st with the F valve".
PLAYED_AT = NP_("in a caption", "{note}: {place}")
MADE = N_(
    "{title}: {part}, {length_s:.1f} s at {width:d} × {height:d} and {fps:d} pictures a second"
)
