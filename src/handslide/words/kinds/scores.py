"""What is said of each kind of fact whose topic is ``scores``."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller
from handslide.words.translate import Translator

_TUNES = N_("{file} holds {tunes} tunes ({titles}...); put the one you want in a file of its own")


def _several_tunes(say: Translator, told: Fact) -> str:
    return say(_TUNES, **{**told.values, "titles": ", ".join(told["titles"])})


KINDS: Mapping[str, Message | Teller] = {
    # A file that isn't a score, or not a whole one. {file} is a name.
    "scores.missing": N_("{file} isn't there: check the name and the folder"),
    "scores.is_folder": N_("{file} is a folder: name one score file in it"),
    # Translators: {reason} is the system's own word, such as "Permission denied".
    "scores.unreadable": N_("can't read {file}: {reason}"),
    "scores.empty": N_("{file} is empty: export the part again"),
    "scores.too_large": N_("{file} is too large: a score file may have up to {most_mb} MB"),
    # Translators: a file inside a zip archive.
    "scores.inside": N_("{entry} in {archive}"),
    # Translators: {what} says what is wrong there, such as "the file seems cut off".
    "scores.at_line": N_("{file}, line {line}: {what}"),
    "scores.not_text": N_("{file} isn't readable text: the file seems damaged"),
    "scores.unknown_encoding": N_(
        "{file} says that its encoding is {encoding!q}, which nobody knows: UTF-8 is usual"
    ),
    # Translators: {what} says what it is instead, such as "it is a picture".
    "scores.not_score": N_("{file} isn't a score: {what}"),
    "scores.is_pdf": N_("it is a PDF; export MusicXML from the notation program"),
    "scores.is_midi": N_("it is a MIDI file; rename it to end in .mid"),
    "scores.is_picture": N_("it is a picture"),
    "scores.is_other_data": N_("it is data of some other kind"),
    "scores.begins_otherwise": N_(
        "a MusicXML file begins with <?xml or <score-partwise; was the right file chosen?"
    ),
    "scores.own_entities": N_(
        "the file defines entities of its own, which a score never needs and which can be used "
        "to do harm; it was not opened"
    ),
    "scores.undefined_entity": N_("the entity {entity} isn't defined; write the character itself"),
    "scores.deep_elements": N_("the elements are nested too deeply for a score"),
    "scores.entity_loop": N_("an entity refers to itself; the file was not opened"),
    "scores.cut_off": N_("the XML stops in the middle; the file seems cut off"),
    # Translators: {reason} is the XML reader's own word, in English.
    "scores.not_well_formed": N_("not well-formed XML ({reason}); export the part again"),
    # Archives (compressed scores).
    "scores.damaged_archive": N_("{file} is a damaged archive ({reason}); export the part again"),
    # Translators: stands for {reason} where the archive simply ends too soon.
    "scores.archive_cut_off": N_("cut off"),
    "scores.not_unpacked": N_("{file} is an archive that can't be unpacked: {reason}"),
    "scores.many_entries": N_(
        "{file} holds {entries} entries: an archive with a score has up to {most}"
    ),
    "scores.unpacks_large": N_(
        "{file} unpacks to more than {most_mb} MB, far more than a score has; it was not opened"
    ),
    "scores.entry_outside": N_("{file} holds an entry that points outside the archive: {entry!q}"),
    "scores.entry_twice": N_("{file} holds two entries named {entry!q}; export the part again"),
    "scores.no_container": N_(
        "{file} is an archive without {container}, so it isn't a compressed score (.mxl)"
    ),
    "scores.no_entry": N_("{file} names {entry!q} as its score, but holds no such entry"),
    "scores.no_entry_named": N_("{file} doesn't name its score in {container}"),
    # Other formats. {format} is Humdrum, MEI, ABC or MIDI.
    "scores.unknown_format": N_(
        "{file} is in no known score format; MusicXML (.musicxml, .mxl) is best"
    ),
    "scores.too_large_kind": N_("{file} is too large: a {format} file may have {most_mb} MB"),
    "scores.nested": N_("{file} is nested too deeply for a score"),
    "scores.not_readable_as": N_("{file} can't be read as {format}: {reason}"),
    "scores.no_notes": N_("{file} has no notes"),
    "scores.several_tunes": _several_tunes,
    "scores.only_percussion": N_("{file} has only percussion, no pitched notes"),
}
