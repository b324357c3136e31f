"""What is said of each kind of fact whose topic is ``pdfmarks``: parts that came as PDF."""

from collections.abc import Mapping

from handslide.ground.facts import Fact
from handslide.words.messages import N_, NN_, Message
from handslide.words.pdfmarks import PLACE, SPACES
from handslide.words.tellers import Teller
from handslide.words.translate import Translator

_NO_ROOM = NN_(
    "{count} of {marks} marks found no room on the page: {where}",
    "{count} of {marks} marks found no room on the pages: {where}",
)
_MOST_PLACES = 8


def _no_room(say: Translator, told: Fact) -> str:
    places = [say(PLACE, page=page, system=system, bar=bar) for page, system, bar in told["where"]]
    listed = "; ".join(places[:_MOST_PLACES]) + (" …" if len(places) > _MOST_PLACES else "")
    return say(_NO_ROOM, count=told["count"], marks=told["marks"], where=listed)


_SIGNS_FIRST = N_("{file}: {what}; these signs aren't known: {signs}")
_SIGN = NN_(
    "{mark} ({count} time, {size}, page {page}, system {system})",
    "{mark} ({count} times, {size}, first on page {page}, system {system})",
)
_SIGN_GUESSED = NN_(
    "{mark} ({count} time, {size}, page {page}, system {system}, perhaps {guess})",
    "{mark} ({count} times, {size}, first on page {page}, system {system}, perhaps {guess})",
)


def _signs_first(say: Translator, told: Fact) -> str:
    signs = []
    for called, count, width, height, guess, page, system in told["signs"]:
        values = {
            "mark": called,
            "count": count,
            "size": say(SPACES, width=width, height=height),
            "page": page,
            "system": system,
        }
        guessed = say.named("sign", guess, "")
        if guessed:
            signs.append(say(_SIGN_GUESSED, **values, guess=guessed))
        else:
            signs.append(say(_SIGN, **values))
    return say(_SIGNS_FIRST, file=told["file"], what=told["what"], signs="; ".join(signs))


KINDS: Mapping[str, Message | Teller] = {
    # Translators: {what} says what is wrong, such as "it is a scan".
    "pdfmarks.in_file": N_("{file}: {what}"),
    "pdfmarks.slow": N_("{file}: working on its pages wasn't done after {seconds:.0f} seconds"),
    "pdfmarks.memory": N_("{file}: its pages take too much memory"),
    "pdfmarks.died": N_("{file} can't be read: the reader broke down on its pages"),
    # What a person says instead. The words before = are typed as they stand.
    "pdfmarks.no_sign": N_("the part has no unknown sign called {sign}"),
    "pdfmarks.not_a_clef": N_(
        "{text!q} isn't a clef for a system: write PAGE.SYSTEM=CLEF, such as 1.2=tenor"
    ),
    "pdfmarks.not_a_key": N_(
        "{text!q} isn't a key for a system: write PAGE.SYSTEM=KEY, such as 1.2=3♭ or 1.2=-3"
    ),
    "pdfmarks.not_a_note": N_(
        "{text!q} isn't a correction of a note: write PAGE.SYSTEM.BAR.ITEM=PITCH, such as "
        "1.2.3.4=Bb3, or =none where there is no note"
    ),
    "pdfmarks.not_a_sign": N_(
        "{text!q} doesn't name a sign: write SIGN=KIND, as the report has it"
    ),
    "pdfmarks.sign_kind": N_("{kind!q} isn't a kind of sign: {known}"),
    "pdfmarks.clef": N_("{name!q} isn't a clef that can be said: {known}"),
    "pdfmarks.key": N_("{text!q} isn't a key signature: write 0, 3♭ or -3, 2# and the like"),
    "pdfmarks.note_pitch": N_("{text!q}: {what}"),
    "pdfmarks.staff": N_("there is no staff {staff}: staves of a system count from 1"),
    "pdfmarks.no_system": N_("there is no system {system} on page {page}"),
    "pdfmarks.no_note": N_("there is no note {place} (page, system, bar, item)"),
    "pdfmarks.only_pdf": N_("{option} corrects what is read from a PDF; {file} is none"),
    "pdfmarks.not_notes": N_("{file} isn't a table of notes: its first row must be {columns}"),
    # Translators: {reason} is the system's own word, such as "Permission denied".
    "pdfmarks.notes_unreadable": N_("can't read {file}: {reason}"),
    "pdfmarks.row_place": N_("{file}, row {row}: page, system, bar and item count from 1"),
    "pdfmarks.row_pitch": N_("{file}, row {row}: {what}"),
    "pdfmarks.signs_damaged": N_(
        "{path} isn't a list of signs and their kinds: put it right, or delete it"
    ),
    "pdfmarks.signs_first": _signs_first,
    # What the print lacks.
    "pdfmarks.no_room": _no_room,
    "pdfmarks.tagged": N_(
        "The pages keep their tags for reading aloud; the marks over them have none."
    ),
    "pdfmarks.pdfa": N_(
        "The file said that it is PDF/A-{level}; with marks over its pages it no longer says so."
    ),
    # What can be done about doubts; what must be typed or clicked is said by each face.
    "pdfmarks.doubts": NN_(
        "{count} note was read with doubt: compare it with the page",
        "{count} notes were read with doubt: compare them with the pages",
    ),
    "pdfmarks.unknown": NN_(
        "{count} shape isn't known, and may be a clef or an accidental",
        "{count} shapes aren't known, and may be clefs or accidentals",
    ),
}
