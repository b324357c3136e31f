"""What is said of each kind of fact whose topic is ``scores``."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.messages import N_, NN_, Message
from handslide.words.partnames import listed_parts
from handslide.words.tellers import Teller
from handslide.words.translate import Translator

_TUNES = N_("{file} holds {tunes} tunes ({titles}...); put the one you want in a file of its own")

_NO_SUCH_PART = N_("{file}: there is no part {wish!q}; the parts are {parts}")
_SEVERAL_PARTS = N_("{file}: several parts fit {wish!q}; the parts are {parts}")


def _several_tunes(say: Translator, told: Fact) -> str:
    return say(_TUNES, **{**told.values, "titles": ", ".join(told["titles"])})


def _with_parts(message: Message) -> Teller:
    def told_with_parts(say: Translator, told: Fact) -> str:
        return say(message, **{**told.values, "parts": listed_parts(say, told["parts"])})

    return told_with_parts


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
        "{file} says that its encoding is {encoding!q}, which isn't known here: UTF-8 is usual"
    ),
    # Translators: {what} says what it is instead, such as "it is a picture".
    "scores.not_score": N_("{file} isn't a score: {what}"),
    "scores.is_pdf": N_("it is a PDF; mark it first, and use the MusicXML that is written with it"),
    "scores.is_midi": N_("it is a MIDI file; rename it to end in .mid"),
    "scores.is_picture": N_("it is a picture"),
    "scores.is_other_data": N_("it is data of some other kind"),
    "scores.begins_otherwise": N_(
        "a MusicXML file begins with <?xml or <score-partwise; was the right file chosen?"
    ),
    "scores.own_entities": N_(
        "the document type defines entities or the like of its own, which a score never needs and "
        "which can be used to do harm; it was not opened"
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
    # Translators: a transposition in the file, between what is written and what sounds.
    "scores.far_transposition": N_(
        "a transposition by {semitones:g} semitones was left out: no instrument has one"
    ),
    "scores.many_entries": N_("{file} holds more than {most} entries, far more than a score needs"),
    "scores.other_packing": N_(
        "{file} is packed in a way that isn't usual for scores and can hide a trap; it was not "
        "opened"
    ),
    "scores.many_elements": N_(
        "{file} has far more elements than a score needs; it was not opened"
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
    # Translators: what stands in brackets is typed as it stands.
    "scores.no_reader": N_(
        "{file} is in the format {format}, whose reader isn't installed: install handslide with "
        'formats (pip install "handslide[formats]"), or save the score as MusicXML'
    ),
    "scores.too_large_kind": N_("{file} is too large: a {format} file may have {most_mb} MB"),
    "scores.nested": N_("{file} is nested too deeply for a score"),
    "scores.not_readable_as": N_(
        "{file} can't be read as {format}: something in it isn't as that format has it; export it "
        "again, best as MusicXML"
    ),
    "scores.many_tracks": N_("{file} has {tracks} tracks, more than {most}: no score has so many"),
    "scores.reader_slow": N_(
        "{file}: reading it as {format} wasn't done after {seconds:.0f} seconds"
    ),
    "scores.reader_memory": N_("{file}: reading it as {format} takes too much memory"),
    "scores.reader_died": N_("{file} can't be read as {format}: the reader broke down on it"),
    "scores.no_notes": N_("{file} has no notes"),
    "scores.several_tunes": _several_tunes,
    "scores.only_percussion": N_("{file} has only percussion, no pitched notes"),
    # What a score holds. {part} is a part's name, {what} says what it is instead of a score.
    "scores.not_musicxml": N_("{file} isn't a MusicXML score: {what}"),
    "scores.is_opus": N_("it is a list of scores (an opus); open one of them"),
    "scores.is_web_page": N_("it is a web page; download the score itself"),
    "scores.is_mei": N_("it is MEI; give the file a name that ends in .mei"),
    "scores.has_namespace": N_("its elements are in a namespace, and MusicXML has none"),
    "scores.begins_with": N_(
        "it begins with <{tag}>, and a score with <score-partwise> or <score-timewise>"
    ),
    "scores.no_part": N_("{file} has no part: nothing is notated in it"),
    "scores.many_parts": N_("{file} has {count} parts, more than {most}: no score has so many"),
    "scores.no_pitched_part": N_("{file} has no pitched notes in any of its {count} parts"),
    "scores.no_such_part": _with_parts(_NO_SUCH_PART),
    "scores.several_parts": _with_parts(_SEVERAL_PARTS),
    "scores.unpitched_part": N_("{file}: the part {part!q} has only unpitched (percussion) notes"),
    "scores.only_cues": N_("{file}: the part {part!q} has only cue notes, nothing to play"),
    "scores.empty_part": N_("{file}: the part {part!q} has no notes"),
    "scores.no_voice": N_("{file}: {part!q} has no voice {voice!q} with notes; it has {voices}"),
    "scores.silent_voice": N_("{file}: {part!q} has no notes to play in voice {voice}"),
    # Translators: {what} goes on with where and what, such as "measure 3, line 40: a note has ...".
    "scores.in_part": N_("{file}, {part}, {what}"),
    "scores.many_notes": N_("{count} notes, more than {most}: no part has so many"),
    "scores.no_pitch": N_(
        "measure {measure}, line {line}: a note has no readable pitch (step {step!q}, octave "
        "{octave!q}); a step is C to B, an octave 0 to 9"
    ),
    "scores.first_trombone_part": N_("{part!q} was read (the first of the trombone parts)"),
    "scores.first_part": N_("{part!q} was read (no part is called trombone)"),
    "scores.bflat": N_(
        "the part {part!q} is in treble clef and called one in B flat, but the file states no "
        "transposition: it was read as it is written; as a brass-band part it would sound a major "
        "ninth lower"
    ),
    # What looks wrong in a measure. {what} is one of the sentences below.
    "scores.in_measure": N_("measure {measure}: {what}"),
    # Translators: of the measure.
    "scores.long_measure": N_("lasts {length:g} quarter notes, but its meter has {meter:g}"),
    "scores.other_voices": N_("voice {voice} has no notes here, but voice {others} has"),
    "scores.busy_voice": N_("{note} starts while voice {voice} is still busy; left out"),
    "scores.chord": N_("of {notes} notes at once the top one is taken, {taken}"),
    "scores.tie_from_nowhere": N_("a tie ends on {note}, but starts nowhere"),
    "scores.tie_to_nowhere": N_("a tie starts on {note}, but the next note doesn't continue it"),
    "scores.open_slur": N_("a slur starts on {note} and doesn't end; it was read to the next note"),
    # Translators: {tag} is backup or forward, elements of MusicXML.
    "scores.move_without_duration": N_("a <{tag}> without a readable duration was left out"),
    "scores.backup_too_far": N_("a <backup> leads to before the start of the measure"),
    "scores.measure_repeat": N_("a measure-repeat sign: only notes in the file are read"),
    "scores.cue_notes": NN_(
        "from here on {count} cue note (a small note of another player) was read as a rest",
        "from here on {count} cue notes (small notes of another player) were read as rests",
    ),
    "scores.hidden_notes": NN_(
        "from here on {count} note that isn't printed was read as a rest",
        "from here on {count} notes that aren't printed were read as rests",
    ),
    # Translators: divisions (of a quarter note) are a number that MusicXML counts lengths in.
    "scores.bad_divisions": N_("divisions {divisions!q} can't be; {kept:g} stays"),
    "scores.printed_otherwise": N_(
        "a note lasts {length:g} quarter notes, but is printed as {printed:g}; the duration was "
        "followed"
    ),
    "scores.no_duration": N_("a note has no duration; {taken:g} quarter notes were taken"),
    "scores.bad_duration": N_(
        "a note has the duration {duration!q}; {taken:g} quarter notes were taken"
    ),
    "scores.doubled": N_("the part is doubled an octave away; the printed line is read"),
    # Translators: alteration, here and below: sharp or flat, in semitones.
    "scores.bad_alteration": N_("the alteration {alteration!q} was left out"),
    "scores.rounded": N_("{step} altered by {alteration:g} semitones was rounded to {whole}"),
    "scores.many_repeats": N_("the repeats are so many that only {count} measures were followed"),
    "scores.no_segno": N_("dal segno, but there is no segno before it; it was left out"),
    "scores.da_capo_words": N_("da capo is given in words only; it was followed"),
    "scores.dal_segno_words": N_("dal segno is given in words only; it was followed"),
    # Engraving: what can't be drawn, or wasn't.
    "scores.not_partwise": N_("can't engrave <{tag}>: it must be a score-partwise document"),
    "scores.no_part_id": N_("there is no part {part!q} in the score"),
    "scores.no_music": N_("the part {part!q} can't be engraved: no music was found in it"),
    "scores.not_engraved": N_(
        "the part can't be engraved: the engraver doesn't understand the file"
    ),
    "scores.no_room_for_marks": N_("the part can't be engraved: there is no room for its marks"),
    "scores.engraver_died": N_(
        "the part {part!q} can't be engraved: the engraver broke down on it"
    ),
    "scores.engraver_slow": N_(
        "the part {part!q} can't be engraved: the engraver wasn't done after {seconds:.0f} seconds"
    ),
    "scores.engraver_crowded": N_(
        "the part {part!q} can't be engraved: measure {measure} has {count} notes, more than {most}"
    ),
    "scores.engraver_overfull": N_(
        "the part {part!q} can't be engraved: measure {measure} has {count} elements, more than "
        "{most}"
    ),
    "scores.engraver_long": N_(
        "the part {part!q} can't be engraved: it has {count} notes, more than {most}"
    ),
    "scores.engraver_heavy": N_(
        "the part {part!q} can't be engraved: it has {count} elements, more than {most}"
    ),
    "scores.engraver_memory": N_("the part {part!q} can't be engraved: it takes too much memory"),
    # Translators: {what} says why, such as "the part 'Trombone' can't be engraved: ...".
    "scores.no_print": N_("no PDF was made, but the marked score is whole: {what}"),
    "scores.notes_left_out": NN_(
        "the engraver left out {count} of {notes} notes; compare with the score",
        "the engraver left out {count} of {notes} notes; compare with the score",
    ),
    "scores.marks_missing": NN_(
        "{count} of {marks} marks is missing in the print",
        "{count} of {marks} marks are missing in the print",
    ),
}
