"""Sound to practise with: drones for a student, a part on the stand to play along with."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from handslide.faces.web.errors import told
from handslide.faces.web.formvalues import read_tempo, text_of, whole
from handslide.faces.web.pages import file_headers, page, ranged, speech_of, studio_of
from handslide.ground.errors import HandslideError, NotFound
from handslide.ground.notenames import FIXED_DO, full_name
from handslide.ground.pitch import Pitch, from_midi
from handslide.ground.temperament import CHORDS
from handslide.jobs.hear.free import usual_place_of
from handslide.jobs.mark.routed import place_json
from handslide.jobs.mark.slideview import slide_view, without_drawings
from handslide.jobs.practice.harmony import PlayedChord
from handslide.jobs.practice.soundwishes import (
    HARMONY_SOURCES,
    HELD_TONES,
    MOST_COUNT_IN,
    MOST_PARTS,
    SOLO_GAINS,
    DroneWishes,
    HarmonyWishes,
    PlayWishes,
    read_tempos,
)
from handslide.studio.parts.openpart import OpenPart, open_part
from handslide.studio.parts.stand import list_stands
from handslide.studio.people.students import speech_about
from handslide.studio.practice.film import FilmWishes, film_captions, film_plan
from handslide.studio.practice.sheets import Player, player_of
from handslide.studio.practice.sound import (
    LOOP_S,
    SoundFile,
    drone_file,
    heard_tones,
    own_wishes,
    playalong_file,
)
from handslide.words.chordnames import chord_name

LENGTHS_S = (30, 60, 120, 300, 600)
FORMS = ("wav", "flac", "ogg", "mp3")
TIMES = (1, 2, 3, 5, 10)
CLICK_LEVELS_DB = {"softer": -9.0, "usual": 0.0, "louder": 6.0}
_MOST_STANDS = 8
# From the lowest pedal to above the staff: what a trombone is tuned against.
_LOWEST, _HIGHEST = 24, 77


@dataclass(frozen=True)
class _Drone:
    """What an address asks for: a note with a chord on it, or notes of one's own."""

    note: str
    chord: str
    more: str
    just: bool
    root: str
    length: int

    def wishes(self, a4_hz: float, *, loop: bool = False) -> DroneWishes:
        notes = tuple(self.more.replace(",", " ").split()) or (self.note,)
        chord = None if self.more or self.chord == "unison" else self.chord
        length_s = LOOP_S if loop else float(self.length)
        root = self.root or None
        return DroneWishes(notes, chord, self.just, root, length_s, loop, a4_hz=a4_hz)

    @property
    def query(self) -> str:
        given = {"note": self.note, "chord": self.chord, "more": self.more, "root": self.root}
        just = {"tuning": "just" if self.just else "equal", "length": self.length}
        return urlencode(given | just)


def drone(request: Request) -> Response:
    """Choose a drone and hear it."""
    player = _player(request)
    names = speech_about(player.student, speech_of(request)).names
    notes = [(pitch.name, note_name(pitch, names)) for pitch in map(from_midi, _notes())]
    places = {
        from_midi(midi).name: place_json(player.setup, usual_place_of(player.setup, midi))
        for midi in _notes()
    }
    octave = [from_midi(player.home.midi + step) for step in range(13)]
    horn = slide_view(player.setup)
    return page(
        request,
        "practice/drone.html",
        notes=notes,
        places=places,
        keys=[(one.name, full_name(one, names), places[one.name]["mark"]) for one in octave],
        horn_slide=horn,
        horn_bare=without_drawings(horn),
        chords=tuple(CHORDS),
        lengths=LENGTHS_S,
        stands=list_stands(studio_of(request), student_id=player.student.id)[:_MOST_STANDS],
        **_shown_drone(request, player),
    )


def drone_preview(request: Request) -> Response:
    """The drone chosen, alone."""
    player = _player(request)
    shown = _shown_drone(request, player)
    answer = page(request, "practice/drone_preview.html", **shown)
    if not shown["problem"]:
        answer.headers["HX-Replace-Url"] = f"/practice/{player.student.id}/drone?{shown['query']}"
    return answer


def drone_sound(request: Request) -> Response:
    """The drone as a file; ``loop`` for one to repeat without a seam."""
    player = _player(request)
    asked = _read_drone(player, request.query_params)
    loop = "loop" in request.query_params
    wishes = asked.wishes(player.horn.a4_hz, loop=loop)
    return sound_answer(request, drone_file(studio_of(request), wishes, ending_of(request)))


def _notes() -> range:
    return range(_LOWEST, _HIGHEST + 1)


def _read_drone(player: Player, values: Mapping[str, Any]) -> _Drone:
    """The drone of an address. Raises BadUsage."""
    length = whole(text_of(values, "length")) or LENGTHS_S[1]
    return _Drone(
        text_of(values, "note") or player.home.name,
        text_of(values, "chord") or "unison",
        text_of(values, "more"),
        text_of(values, "tuning") == "just",
        text_of(values, "root"),
        length,
    )


def _shown_drone(request: Request, player: Player) -> dict[str, Any]:
    made, problem = None, ""
    asked = _Drone(player.home.name, "unison", "", False, "", LENGTHS_S[1])
    try:
        asked = _read_drone(player, request.query_params)
        made = heard_tones(asked.wishes(player.horn.a4_hz))
    except HandslideError as error:
        problem = told(request, error)
    names = speech_about(player.student, speech_of(request)).names
    tones = [] if made is None else [(note_name(tone.pitch, names), hz, tone)
                                     for tone, hz in zip(made.tones, made.hz)]  # fmt: skip
    return {
        "player": player,
        "asked": asked,
        "tones": tones,
        "problem": problem,
        "query": asked.query,
        "forms": FORMS,
        "loop_s": LOOP_S,
    }


# Play-alongs.


def playalong(request: Request) -> Response:
    """Choose how a part is played and hear it."""
    part = _part(request)
    names = part.marked.measures
    played = {measure.index for measure in part.marked.part.measures}
    return page(
        request,
        "practice/playalong.html",
        counts=range(MOST_COUNT_IN + 1),
        solos=tuple(SOLO_GAINS),
        held=HELD_TONES,
        sources=HARMONY_SOURCES,
        times=TIMES,
        click_levels=tuple(CLICK_LEVELS_DB),
        in_beat=range(1, MOST_PARTS + 1),
        measures=[(f"#{index + 1}", names.name(index)) for index in sorted(played)],
        **_shown_playalong(request, part),
    )


def playalong_preview(request: Request) -> Response:
    """The play-along chosen, alone."""
    part = _part(request)
    shown = _shown_playalong(request, part)
    answer = page(request, "practice/playalong_preview.html", **shown)
    if not shown["problem"]:
        answer.headers["HX-Replace-Url"] = f"/stands/{part.stand.id}/playalong?{shown['query']}"
    return answer


def playalong_sound(request: Request) -> Response:
    """The play-along as a file."""
    part = _part(request)
    wishes = _read_playalong(part, request.query_params)
    file = playalong_file(studio_of(request), part.stand.id, wishes, ending_of(request))
    return sound_answer(request, file)


def _part(request: Request) -> OpenPart:
    return open_part(studio_of(request), request.path_params["stand_id"])


def _read_playalong(part: OpenPart, values: Mapping[str, Any]) -> PlayWishes:
    """The wishes of an address; at first all as the part has it. Raises BadUsage."""
    given = "set" in values
    tempo = text_of(values, "tempo")
    first, last = text_of(values, "from"), text_of(values, "to")
    count_in = whole(text_of(values, "count_in"))
    tempos = read_tempos(text_of(values, "tempos"))
    return own_wishes(
        part,
        PlayWishes(
            tempo_qpm=read_tempo(tempo) if tempo and not tempos else None,
            tempos_qpm=tempos,
            times=whole(text_of(values, "times")) or 1,
            click_db=CLICK_LEVELS_DB.get(text_of(values, "click"), 0.0),
            click_parts=whole(text_of(values, "in_beat")) or 1,
            accent="even" not in values,
            expression="strict" not in values,
            life="dry" not in values,
            room="dry" not in values,
            count_in=1 if count_in is None else count_in,
            clicks=not given or "clicks" in values,
            solo=text_of(values, "solo") or "loud",
            others=not given or "others" in values,
            measures=f"{first}-{last}" if first or last else None,
            drone=_read_harmony(values),
        ),
    )


def _read_harmony(values: Mapping[str, Any]) -> HarmonyWishes | None:
    """The drone that follows the harmony, if one is asked for."""
    tones = text_of(values, "drone")
    source = text_of(values, "harmony") or None
    return HarmonyWishes(source, tones, own="without" not in values) if tones else None


def _shown_playalong(request: Request, part: OpenPart) -> dict[str, Any]:
    wishes, problem, made = own_wishes(part, PlayWishes()), "", None
    values = request.query_params
    try:
        wishes = _read_playalong(part, values)
        if "set" in values:
            made = playalong_file(studio_of(request), part.stand.id, wishes, ".flac")
    except NotFound:
        raise
    except HandslideError as error:
        problem = told(request, error)
    say = speech_about(part.student, speech_of(request))
    tempo_qpm = wishes.tempo_qpm or part.marked.part.tempo_qpm
    tempos = ", ".join(f"{one:g}" for one in wishes.tempos_qpm)
    first, _, last = (wishes.measures or "-").partition("-")
    more = _more_of(wishes, tempos)
    query = {
        "set": "1",
        "tempo": f"{tempo_qpm:g}",
        "count_in": wishes.count_in,
        "solo": wishes.solo,
        "from": first,
        "to": last,
        **({"clicks": "1"} if wishes.clicks else {}),
        **({"others": "1"} if wishes.others else {}),
        **more,
    }
    return {
        "part": part,
        "wishes": wishes,
        "tempo": f"{tempo_qpm:g}",
        "tempos": tempos,
        "more": more,
        "more_open": bool(more.keys() - {"drone", "harmony", "without"}),
        "chords": _shown_chords(request, part, made.chords if made else ()),
        "silent": [say.fact(one) for one in made.silent] if made else (),
        "click_level": more.get("click", "usual"),
        "span": (first, last),
        "several": len(part.marked.score.parts) > 1,
        "problem": problem,
        "query": urlencode(query),
        "forms": FORMS,
    }


def _shown_chords(
    request: Request, part: OpenPart, chords: Sequence[PlayedChord]
) -> list[tuple[str, str]]:
    """Of each measure in which chords begin its number and their names; a dash: none is held."""
    names = speech_about(part.student, speech_of(request)).names
    found: list[tuple[str, str]] = []
    for measure, rows in groupby(chords, key=lambda one: one.measure):
        said = ("–" if one.root is None else chord_name(one.root, one.kind, names) for one in rows)
        found.append((measure, " ".join(said)))
    return found


def _more_of(wishes: PlayWishes, tempos: str) -> dict[str, str]:
    """What of the further wishes isn't as usual, as an address has it."""
    drone = wishes.drone
    levels = {level_db: name for name, level_db in CLICK_LEVELS_DB.items()}
    given = {
        "tempos": tempos,
        "times": "" if wishes.times == 1 else str(wishes.times),
        "click": levels[wishes.click_db] if wishes.click_db else "",
        "in_beat": "" if wishes.click_parts == 1 else str(wishes.click_parts),
        "even": "" if wishes.accent else "1",
        "strict": "" if wishes.expression else "1",
        "dry": "" if wishes.room else "1",
        "drone": drone.tones if drone else "",
        "harmony": (drone.source or "") if drone else "",
        "without": "1" if drone and not drone.own else "",
    }
    return {key: value for key, value in given.items() if value}


def film(request: Request) -> Response:
    """What a browser makes a video of the play-along from; its captions with the form ``vtt``."""
    part = _part(request)
    values = request.query_params
    say = speech_about(part.student, speech_of(request))
    wishes = _read_playalong(part, values)
    asked = FilmWishes(
        upright="upright" in values,
        title=None if "title" not in values else text_of(values, "title"),
        end=text_of(values, "end"),
        named="named" in values,
    )
    if request.path_params["form"] == "vtt":
        file = film_captions(studio_of(request), part, wishes, asked, say)
        headers = file_headers(file.name, save=True)
        return Response(file.data, media_type=file.media_type, headers=headers)
    if request.path_params["form"] != "json":
        raise NotFound("practice.no_form", form=request.path_params["form"][:20], known=("json",))
    return JSONResponse(film_plan(studio_of(request), part, wishes, asked, say))


# What both share.


def _player(request: Request) -> Player:
    return player_of(studio_of(request), request.path_params["student_id"])


def note_name(pitch: Pitch, language: str) -> str:
    """A note as a student says it, such that its octave is told."""
    name = full_name(pitch, language)
    return f"{name} ({pitch.pretty})" if language in FIXED_DO else name


def ending_of(request: Request) -> str:
    """The ending of the sound that an address asks for. Raises NotFound."""
    form = request.path_params["form"]
    if form not in FORMS:
        raise NotFound("practice.no_form", form=form[:20], known=FORMS)
    return f".{form}"


def sound_answer(request: Request, file: SoundFile) -> Response:
    """A sound as a browser asks for it, piece by piece."""
    headers = file_headers(file.name, save="save" in request.query_params)

    def read(first: int, length: int) -> bytes:
        return file.data[first : first + length]

    return ranged(request, len(file.data), read, file.media_type, headers)


routes: list[BaseRoute] = [
    Route("/practice/{student_id:int}/drone", drone),
    Route("/practice/{student_id:int}/drone/preview", drone_preview),
    Route("/practice/{student_id:int}/drone.{form:str}", drone_sound),
    Route("/stands/{stand_id:int}/playalong", playalong),
    Route("/stands/{stand_id:int}/playalong/preview", playalong_preview),
    Route("/stands/{stand_id:int}/playalong.{form:str}", playalong_sound),
    Route("/stands/{stand_id:int}/film.{form:str}", film),
]
