"""Practice material put on a stand: a drill with its places, a part moved by an interval."""

from dataclasses import dataclass
from functools import cached_property

from handslide.edges.engraving.engrave import paper_named
from handslide.edges.store.stands import Wish
from handslide.ground.intervals import Interval
from handslide.ground.limits import OPEN_SCORES_BYTES
from handslide.jobs.mark.mark import MarkOptions
from handslide.jobs.practice.drill import DrillSheet
from handslide.jobs.practice.music import struck
from handslide.jobs.practice.routine import Routine
from handslide.jobs.transpose.transpose import (
    TransposedPart,
    TransposeWishes,
    transpose_score,
    transposed_section,
)
from handslide.studio.cache import CacheKind
from handslide.studio.parts.edits import lock_places
from handslide.studio.parts.files import plain_name
from handslide.studio.parts.openpart import open_part
from handslide.studio.parts.scores import add_score, open_stored, rename_score
from handslide.studio.parts.stand import open_stand, read_alike
from handslide.studio.people.students import speech_for
from handslide.studio.practice.sheets import PICTURE_PPI, Player, own_part, page_of
from handslide.studio.preferences import preferences
from handslide.studio.studio import Studio
from handslide.words.speech import Speech
from handslide.words.transpose import file_words

_MOST_ROUNDS = 4
_MOVED: CacheKind[tuple[object, ...], "Moved"] = CacheKind(
    16, lambda moved: moved.transposed.marked.score.memory_bytes(), OPEN_SCORES_BYTES
)


def drill_on_stand(studio: Studio, player: Player, sheet: DrillSheet | Routine, say: Speech) -> int:
    """Keep a drill or a day's routine as a part of the studio and put it on the stand, with the
    sheet's places.

    The places that the drill means are locked, and those that the student's wider limits would
    change. One that stands there already stays as it is. Gives the stand's id.
    """
    title = sheet.stand_name(say)
    with studio.store.write():
        added = add_score(studio, sheet.musicxml(say), plain_name(title) + ".musicxml")
        if not added.known:
            rename_score(studio, added.score.id, title, "")
        stand_id = open_stand(studio, player.student.id, added.score.id, player.horn.id)
        if open_part(studio, stand_id).edits == 0:
            _lock_as_printed(studio, stand_id, sheet)
    return stand_id


def _lock_as_printed(studio: Studio, stand_id: int, sheet: DrillSheet | Routine) -> None:
    meant, printed = _places(sheet)
    wanted = dict(meant)
    for _ in range(_MOST_ROUNDS):
        part = open_part(studio, stand_id)
        routed = part.with_locks(wanted)
        now = {n: (place.valves, place.partial) for n, place in routed.places.items()}
        other = {n: wish for n, wish in printed.items() if now.get(n) != wish}
        if not other:
            break
        wanted |= other
    if wanted:
        lock_places(studio, stand_id, wanted)


def _places(sheet: DrillSheet | Routine) -> tuple[dict[int, Wish], dict[int, Wish]]:
    """The places that are meant and all that are printed, by note of the joined score."""
    meant: dict[int, Wish] = {}
    printed: dict[int, Wish] = {}
    before = 0
    for one in sheet.pieces:
        for number, place in one.marked.routed.places.items():
            printed[before + number] = place.valves, place.partial
        for number, note in enumerate(struck(one.piece)):
            if note.lock is not None:
                meant[before + number] = printed[before + number]
        before += len(one.marked.part.notes)
    return meant, printed


@dataclass(frozen=True, eq=False)
class Moved:
    """A part of a stand moved by an interval, with what can and can't be played there."""

    score_title: str
    transposed: TransposedPart
    data: bytes
    say: Speech
    """How what is printed speaks: as the student is spoken to."""

    @property
    def title(self) -> str:
        """The title with the interval in it."""
        return self.transposed.marked.title

    @property
    def ways_out(self) -> tuple[Interval, ...]:
        """The intervals at which the most could be played, where not all can be at this one."""
        done = self.transposed.done
        return (done.best[0],) if done.best is not None else done.nearest

    def rows(self, say: Speech) -> tuple[tuple[str, str], ...]:
        """What was done and found, as (what it is about, what is said of it)."""
        section = transposed_section(self.transposed.done, say)
        return tuple((say.capital(about), said) for about, said in section.rows)

    @cached_property
    def pdf(self) -> bytes:
        """The moved part printed. Raises OutputError."""
        return self.transposed.marked.pdf(self.say)

    @cached_property
    def pictures(self) -> tuple[bytes, ...]:
        """A PNG picture of each page. Raises OutputError."""
        return self.transposed.marked.pictures(self.say, PICTURE_PPI)

    def picture(self, number: int) -> bytes:
        """The picture of a page, counted from 1. Raises NotFound."""
        return page_of(self.pictures, number)

    @property
    def paper_mm(self) -> tuple[float, float]:
        """Width and height of its pages."""
        paper = paper_named(self.transposed.marked.options.paper)
        return paper.width_mm, paper.height_mm

    @property
    def file_stem(self) -> str:
        """Its file's name without the ending."""
        return plain_name(f"{self.score_title} {file_words(self.transposed.done.interval)}")


def moved_part(
    studio: Studio,
    player: Player,
    stand_id: int,
    by: str,
    reader: Speech,
    *,
    octave_fix: bool = False,
) -> Moved:
    """The part on a student's stand alone, moved: as ``handslide transpose --only`` makes it.

    Raises
    ------
    BadUsage, ScoreError, NotFound
        No such interval or stand; a note that would leave what a score can hold.
    """
    part = own_part(studio, player, stand_id)
    options = MarkOptions(
        part.stand.part,
        part.stand.voice,
        part.stand.tempo_qpm,
        show=part.student.show,
        small_notes=part.stand.small_notes,
        sounds=part.stand.sounds,
        paper=preferences(studio).paper,
        student=part.student.name,
        title=part.score.title,
        composer=part.score.composer,
    )
    wishes = TransposeWishes(by, only=True, octave_fix=octave_fix)
    say = speech_for(part.student, reader)

    def make() -> Moved:
        setup = part.routed.setup
        score = open_stored(studio, part.score)
        transposed = transpose_score(score, setup, wishes, options, say)
        return Moved(part.score.title, transposed, transposed.marked.musicxml(), say)

    return studio.caches.of(_MOVED).get((part.key, options, wishes, say), make)


def moved_on_stand(studio: Studio, player: Player, stand_id: int, moved: Moved) -> int:
    """Keep the moved part of a stand as a part of the studio and put it on the same student's
    stand. Gives its stand's id.
    """
    part = own_part(studio, player, stand_id)
    ending = ".mxl" if moved.data[:2] == b"PK" else ".musicxml"
    name = moved.file_stem + ending
    with studio.store.write():
        added = add_score(studio, moved.data, name)
        if not added.known:
            rename_score(studio, added.score.id, moved.title, part.score.composer)
        stand_id = open_stand(
            studio, part.student.id, added.score.id, part.horn.id, part.stand.part, part.stand.voice
        )
        read_alike(studio, stand_id, part.stand)
    return stand_id
