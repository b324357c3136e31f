"""What is said of each kind of fact whose topic is ``transpose``."""

from collections.abc import Mapping, Sequence

from handslide.ground.facts import Fact
from handslide.ground.intervals import Interval
from handslide.words.intervals import interval_words
from handslide.words.messages import N_, NN_, NP_, Message
from handslide.words.tellers import Teller
from handslide.words.translate import Translator
from handslide.words.transpose import in_measures, some_measures

# Translators: {interval} is such as "an octave lower", {name} its short name: -P8.
_NOTES = {
    "none": NN_(
        "{count} note {interval} ({name}), all voices of {part!q}",
        "{count} notes {interval} ({name}), all voices of {part!q}",
    ),
    "left_out": NN_(
        "{count} note {interval} ({name}), all voices of {part!q}; the other parts were left out",
        "{count} notes {interval} ({name}), all voices of {part!q}; the other parts were left out",
    ),
    "stay": NN_(
        "{count} note {interval} ({name}), all voices of {part!q}; the other parts stay as they "
        "were",
        "{count} notes {interval} ({name}), all voices of {part!q}; the other parts stay as they "
        "were",
    ),
}
# Translators: key signatures, and in which measures: "2 flats became 1 sharp (measure 1)".
_KEY = N_("{old} became {new} ({measures})")
_NO_SIGNS = N_("no sharps or flats")
_SHARPS = NN_("{count} sharp", "{count} sharps")
_FLATS = NN_("{count} flat", "{count} flats")
# Translators: {in_measures} is such as "in measures 3, 5".
_CLEF = N_("{new} instead of {old} {in_measures}")
_CLEFS = {
    ("F", 4): N_("bass clef"),
    ("C", 4): N_("tenor clef"),
    ("C", 3): N_("alto clef"),
    ("G", 2): N_("treble clef"),
}
_CLEF_SIGNS = {
    "G": NP_("sign of a clef", "G"), "F": NP_("sign of a clef", "F"),
    "C": NP_("sign of a clef", "C"),
}  # fmt: skip
# Translators: a clef by its sign (as above) and its line, counted from below.
_OTHER_CLEF = N_("{sign} clef on line {line}")
# Translators: a clef with an octave sign: "treble clef 8va"; 8va above, 8vb below.
_CLEF_OCTAVE = N_("{clef} {octave}")
_LEDGERS = NN_(
    "up to {count} ledger line {in_measures}", "up to {count} ledger lines {in_measures}"
)
_PITCH = NP_("a note that can't be played", "{pitch} ({measures})")
_MORE_PITCHES = NN_("{count} more pitch", "{count} more pitches")
_GLISSANDI = N_("glissandi {in_measures}")
# Of the part as written, and of the part now.
_ALL = {
    "transpose.could": N_("everything could be played"),
    "transpose.can": N_("everything can be played"),
}
_ONLY_GLISSANDI = {
    "transpose.could": N_("every note could be played, but not the glissandi {in_measures}"),
    "transpose.can": N_("every note can be played, but not the glissandi {in_measures}"),
}
# Translators: {notes}: a list of pitches, each with its measures.
_SOME = {
    "transpose.could": NN_(
        "{count} note couldn't be: {notes}", "{count} notes couldn't be: {notes}"
    ),
    "transpose.can": NN_("{count} note can't be: {notes}", "{count} notes can't be: {notes}"),
}
_PUT_BACK = N_("by an octave: {notes}")
_PUT_BACK_NOTE = N_("{moved} to {now} {in_measures}")
# Translators: {intervals}: such as "an octave lower or where it is written".
_NEAREST = N_("all would be playable {intervals}")
_NEAREST_NOTES = N_("all notes, but not every glissando, would be playable {intervals}")
_WHERE_WRITTEN = N_("where it is written")
_FEWEST = NN_(
    "no interval makes all of it playable; {interval} the fewest are left: {left} of {count} note",
    "no interval makes all of it playable; {interval} the fewest are left: {left} of {count} notes",
)


def _notes(say: Translator, told: Fact) -> str:
    values = {**told.values, "interval": interval_words(say, told["interval"])}
    return say(_NOTES[told["others"]], **values)


def _key(say: Translator, told: Fact) -> str:
    return say(
        _KEY,
        old=_signs(say, told["old"]),
        new=_signs(say, told["new"]),
        measures=some_measures(say, told["measures"]),
    )


def _signs(say: Translator, fifths: int) -> str:
    if fifths == 0:
        return say(_NO_SIGNS)
    return say(_SHARPS if fifths > 0 else _FLATS, count=abs(fifths))


def _clef(say: Translator, told: Fact) -> str:
    return say(
        _CLEF, old=told["old"], new=told["new"], in_measures=in_measures(say, told["measures"])
    )


def _printed_clef(say: Translator, told: Fact) -> str:
    sign, line, octaves = told["sign"], told["line"], told["octaves"]
    named = _CLEFS.get((sign, line))
    other = {"sign": _CLEF_SIGNS.get(sign, sign), "line": line}
    clef = say(_OTHER_CLEF, **other) if named is None else say(named)
    if not octaves:
        return clef
    octave = f"{8 if abs(octaves) == 1 else 15}{'va' if octaves > 0 else 'vb'}"
    return say(_CLEF_OCTAVE, clef=clef, octave=octave)


def _ledgers(say: Translator, told: Fact) -> str:
    measures = in_measures(say, told["measures"])
    return say(_LEDGERS, count=told["count"], in_measures=measures)


def _pitch(say: Translator, told: Fact) -> str:
    return say(_PITCH, pitch=told["pitch"], measures=some_measures(say, told["measures"]))


def _playable(say: Translator, told: Fact) -> str:
    glissandi: Sequence[str] = told["glissandi"]
    if not told["pitches"]:
        if not glissandi:
            return say(_ALL[told.kind])
        return say(_ONLY_GLISSANDI[told.kind], in_measures=in_measures(say, glissandi))
    texts = [say.written(pitch) for pitch in told["pitches"]]
    if told["more"]:
        texts.append(say(_MORE_PITCHES, count=told["more"]))
    if glissandi:
        texts.append(say(_GLISSANDI, in_measures=in_measures(say, glissandi)))
    return say(_SOME[told.kind], count=told["count"], notes="; ".join(texts))


def _put_back(say: Translator, told: Fact) -> str:
    return say(_PUT_BACK, notes="; ".join(say.written(note) for note in told["notes"]))


def _put_back_note(say: Translator, told: Fact) -> str:
    measures = in_measures(say, told["measures"])
    return say(_PUT_BACK_NOTE, moved=told["moved"], now=told["now"], in_measures=measures)


def _nearest(say: Translator, told: Fact) -> str:
    words = [_where(say, interval) for interval in told["intervals"]]
    message = _NEAREST if told.kind == "transpose.nearest" else _NEAREST_NOTES
    return say(message, intervals=say.listed(words, either=True))


def _where(say: Translator, interval: Interval) -> str:
    return interval_words(say, interval) if interval.semitones else say(_WHERE_WRITTEN)


def _fewest(say: Translator, told: Fact) -> str:
    return say(_FEWEST, **{**told.values, "interval": interval_words(say, told["interval"])})


KINDS: Mapping[str, Message | Teller] = {
    "transpose.notes": _notes,
    "transpose.key": _key,
    "transpose.clef": _clef,
    "transpose.printed_clef": _printed_clef,
    "transpose.no_clef": N_("no clef"),
    "transpose.ledgers": _ledgers,
    "transpose.could": _playable,
    "transpose.can": _playable,
    "transpose.pitch": _pitch,
    "transpose.put_back": _put_back,
    "transpose.put_back_note": _put_back_note,
    "transpose.nearest": _nearest,
    "transpose.nearest_notes": _nearest,
    "transpose.fewest": _fewest,
    "transpose.fingerings_left_out": NN_(
        "{count} fingering was left out: it belongs to the note as it was",
        "{count} fingerings were left out: they belong to the notes as they were",
    ),
    "transpose.figured_bass": N_(
        "figured bass from measure {measure} on stays as it is; check its signs"
    ),
    "transpose.cue_notes": NN_(
        "{count} small (cue) note was moved too, from measure {measure} on",
        "{count} small (cue) notes were moved too, from measure {measure} on",
    ),
    "transpose.tempo_elsewhere": N_(
        "tempo marks or jumps stood in another part only; without it they are missing"
    ),
    "transpose.outside_octaves": N_(
        "{file}, measure {measure}: {pitch} moved that far would lie outside the octaves 0 to 9 "
        "that a score can hold; take a smaller interval"
    ),
}
