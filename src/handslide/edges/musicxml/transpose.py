"""A part moved by an interval, in a score's tree: pitches, keys, accidentals, chords, clefs.

All voices and staves of the part move together, since they share its keys. ``<transpose>`` and
everything that doesn't depend on pitch stay. Our marks and a user's fingerings go: they belong to
other notes. Stems go, so that they are drawn anew.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from lxml import etree

from handslide.edges.musicxml.accidentals import (
    Moved,
    rewrite_accidental_marks,
    rewrite_accidentals,
)
from handslide.edges.musicxml.clefplaces import NewClef, place_clefs
from handslide.edges.musicxml.clefs import HOMES, MOST_LEDGERS, ledgers
from handslide.edges.musicxml.marks import remove_element, remove_fingerings, remove_marks
from handslide.edges.musicxml.read import Score
from handslide.edges.musicxml.scorepart import ScoreWarning
from handslide.edges.musicxml.signs import MOST_ALTER, MOST_FIFTHS, number, silence_of
from handslide.edges.musicxml.staves import (
    KeyRegion,
    OctaveLine,
    StaffNote,
    Staves,
    key_alters,
    key_pitches,
    measure_number,
    read_staves,
)
from handslide.ground.errors import ScoreError
from handslide.ground.facts import fact
from handslide.ground.intervals import Interval
from handslide.ground.pitch import STEPS, Pitch

_FINGERS = ("fingering", "fret", "string", "hole", "thumb-position", "open-string")
_LETTERS = "CDEFGAB"
_FEW_DOUBLES = 10  # up to one note in ten may have a double accidental
# Where a curve or a sign was drawn about notes that have other stems now.
_SIDES = (
    "placement", "orientation", "default-x", "default-y", "relative-x", "relative-y",
    "bezier-x", "bezier-y", "bezier-x2", "bezier-y2", "bezier-offset", "bezier-offset2",
)  # fmt: skip


@dataclass(slots=True)
class Changes:
    """What was changed. ``keys`` are (measure, old, new) in sharps, negative for flats."""

    notes: int = 0
    keys: list[tuple[str, int, int]] = field(default_factory=list)
    clefs: list[NewClef] = field(default_factory=list)
    warnings: list[ScoreWarning] = field(default_factory=list)


@dataclass(slots=True, eq=False)
class _Way:
    """How notes move under one key signature, and the alterations of the new one."""

    interval: Interval
    fifths: int | None
    alters: dict[str, float]
    known: dict[Pitch, Pitch] = field(default_factory=dict)

    def move(self, pitch: Pitch) -> Pitch:
        new = self.known.get(pitch)
        if new is None:
            new = _simple(pitch.transposed(self.interval.letters, self.interval.semitones), 2)
            self.known[pitch] = new
        return new


def transpose_part(
    score: Score,
    part_id: str,
    interval: Interval,
    alone: Mapping[int, Interval] | None = None,
    *,
    home: str = "bass",
) -> Changes:
    """Move all notes of a part.

    Parameters
    ----------
    score : Score
        Changed in place.
    alone : mapping, optional
        What single notes move by on top of it, with their ties and chords, by the notes' ordinal.
    home : str
        The name of the clef that the player's horn is read in.

    Raises
    ------
    ScoreError
        A note would lie outside the octaves that a score can hold.
    """
    remove_marks(score, part_id)
    staves = read_staves(score.part_roots(part_id))
    ways = {id(region): _way(region, interval) for region in staves.keys}
    if not interval.is_octaves:
        _spell_plainly(staves, ways)
    elements = score.note_elements(part_id) if alone else []
    lifted = {elements[ordinal]: further for ordinal, further in (alone or {}).items()}
    moved = _new_pitches(staves, ways, lifted, score.name)
    done = Changes(notes=sum(not one.note.tied_to for one in moved))
    if interval.semitones == 0 and interval.letters == 0 and not alone:
        return done
    _settle_octave_lines(staves, moved)
    shown = {id(one.note): _height(one.pitch) - 7 * _lines_over(staves, one.note) for one in moved}
    done.clefs = place_clefs(staves, shown, interval.letters, HOMES.get(home))
    rewrite_accidentals(moved)
    for one in moved:
        rewrite_accidental_marks(one)
        _write_pitch(one)
    _write_keys(staves, ways, done)
    for element, region in staves.harmonies:
        _write_harmony(element, ways[id(region)])
    _clean(score, part_id, staves, done, interval)
    return done


def drop_other_parts(score: Score, part_id: str) -> None:
    """Leave only one part in a score's tree."""
    holders = [score.root] if score.root.tag == "score-partwise" else score.root.findall("measure")
    for holder in holders:
        for part in holder.findall("part"):
            if part.get("id") != part_id:
                remove_element(part)
    entries = score.root.find("part-list")
    for entry in [] if entries is None else list(entries):
        if entry.tag == "part-group" or (entry.tag == "score-part" and entry.get("id") != part_id):
            remove_element(entry)


# Pitches


def _way(region: KeyRegion, interval: Interval) -> _Way:
    key = region.element
    if key is None or region.fifths is None or (key.findtext("mode") or "").strip() == "none":
        way = _Way(interval, region.fifths, dict(region.alters))
        if key is not None and region.fifths is None:
            way.alters = dict.fromkeys(STEPS, 0.0)
            for _, _, pitch in key_pitches(key):
                new = way.move(pitch)
                way.alters[new.step] = float(new.alter)
        return way
    spelled, fifths = interval.into_key(region.fifths)
    return _Way(spelled, fifths, key_alters(fifths))


def _spell_plainly(staves: Staves, ways: dict[int, _Way]) -> None:
    """Take the enharmonic of all notes under a key where they lean far away from that key.

    A line in C sharp without a signature would be full of double sharps a fifth higher.
    """
    groups: dict[int, list[Pitch]] = {}
    for note in staves.notes:
        if note.pitch is not None:
            groups.setdefault(id(note.key), []).append(note.pitch)
    for region, pitches in groups.items():
        way = ways[region]
        if sum(abs(way.move(pitch).alter) > 1 for pitch in pitches) * _FEW_DOUBLES < len(pitches):
            continue
        best = _cost(way, pitches) * 0.75
        for letter in (1, -1):
            interval = replace(way.interval, letters=way.interval.letters + letter)
            other = _Way(interval, way.fifths, way.alters)
            cost = _cost(other, pitches)
            if cost < best:
                best, ways[region] = cost, other


def _cost(way: _Way, pitches: Iterable[Pitch]) -> float:
    """Accidentals to read, a double one for three."""
    new = [way.move(pitch) for pitch in pitches]
    return sum(3.0 if abs(p.alter) > 1 else float(p.alter != way.alters[p.step]) for p in new)


def _simple(pitch: Pitch, most: int) -> Pitch:
    """The same sound with ``most`` sharps or flats."""
    while abs(pitch.alter) > most:
        pitch = pitch.transposed(1 if pitch.alter > 0 else -1, 0)
    return pitch


def _new_pitches(
    staves: Staves, ways: Mapping[int, _Way], alone: Mapping[Any, Interval], name: str
) -> list[Moved]:
    lifted = _lifted_chains(staves.notes, alone)
    chains: dict[int, Pitch] = {}
    moved = []
    for note in staves.notes:
        if note.pitch is None:
            continue
        way = ways[id(note.key)]
        pitch = chains.get(note.chain)
        if pitch is None or not note.tied_to:
            pitch = way.move(note.pitch)
            if note.chain in lifted:
                further = lifted[note.chain]
                pitch = pitch.transposed(further.letters, further.semitones)
            if not 0 <= pitch.octave <= 9:
                number = measure_number(staves.measures[note.measure])
                raise ScoreError(
                    "transpose.outside_octaves", file=name, measure=number, pitch=note.pitch
                )
            chains[note.chain] = pitch
        moved.append(Moved(note, pitch, way.alters))
    return moved


def _lifted_chains(
    notes: Iterable[StaffNote], alone: Mapping[Any, Interval]
) -> dict[int, Interval]:
    """What each tie chain moves by alone, from one of its notes or of a chord with it."""
    if not alone:
        return {}
    wanted: dict[Any, Interval] = {}
    for element, further in alone.items():
        for one in _chord_of(element):
            wanted[one] = further
    return {note.chain: wanted[note.element] for note in notes if note.element in wanted}


def _chord_of(element: Any) -> list[Any]:
    """The notes that are struck together with one, itself among them."""
    found = [element]
    while found[0].find("chord") is not None and found[0].getprevious() is not None:
        found.insert(0, found[0].getprevious())
    following = element.getnext()
    while following is not None and following.tag == "note":
        if following.find("chord") is None:
            break
        found.append(following)
        following = following.getnext()
    return found


def _height(pitch: Pitch) -> int:
    return 7 * pitch.octave + _LETTERS.index(pitch.step)


def _write_pitch(one: Moved) -> None:
    holder = one.note.element.find("pitch")
    _set_alter(holder, "step", "alter", one.pitch.step, one.alter)
    holder.find("octave").text = str(one.pitch.octave)


def _set_alter(holder: Any, step_tag: str, alter_tag: str, letter: str, value: float) -> None:
    """Write a letter and its alteration; an alteration of 0 is left out."""
    step, alter = holder.find(step_tag), holder.find(alter_tag)
    step.text = letter
    if value == 0.0:
        if alter is not None:
            remove_element(alter)
        return
    if alter is None:
        alter = etree.Element(alter_tag)
        following = step.getnext()
        if following is None:
            alter.tail, step.tail = step.tail, holder.text
        else:
            alter.tail = step.tail
        step.addnext(alter)
    text = f"{value:g}"
    if (alter.text or "").strip() != text:
        alter.text = text


# Keys and chords


def _write_keys(staves: Staves, ways: Mapping[int, _Way], done: Changes) -> None:
    numbers = {id(region): number for region, number in _region_measures(staves)}
    before: dict[str, int] = {}
    for region in staves.keys:
        key, way = region.element, ways[id(region)]
        if key is None:
            continue
        if region.fifths is None:
            for step, alter, pitch in key_pitches(key):
                new = way.move(pitch)
                step.text, alter.text = new.step, str(new.alter)
            continue
        assert way.fifths is not None
        staff = key.get("number", "")
        if way.fifths != region.fifths:
            key.find("fifths").text = str(way.fifths)
            cancel = key.find("cancel")
            if cancel is not None:
                cancel.text = str(before.get(staff, before.get("", 0)))
        before[staff] = way.fifths
        done.keys.append((numbers[id(region)], region.fifths, way.fifths))


def _region_measures(staves: Staves) -> Iterable[tuple[KeyRegion, str]]:
    for region in staves.keys:
        if region.element is not None:
            measure = region.element.getparent().getparent()
            yield region, measure_number(measure)


def _write_harmony(harmony: Any, way: _Way) -> None:
    for name in ("root", "bass"):
        for holder in harmony.iterchildren(name):
            step, alter = holder.find(f"{name}-step"), holder.find(f"{name}-alter")
            letter = "" if step is None else (step.text or "").strip()
            if letter not in STEPS:
                continue
            found = number("0" if alter is None else alter.text or "0")
            if found is None or abs(found) > MOST_ALTER:
                continue
            value = round(found)
            new = _simple(way.move(Pitch(letter, value, 4)), max(1, abs(value)))
            if new.step != letter or new.alter != value:
                step.attrib.pop("text", None)
            _set_alter(holder, f"{name}-step", f"{name}-alter", new.step, new.alter)
    for key in harmony.iter("numeral-key"):
        fifths = key.find("numeral-fifths")
        signs = None if fifths is None else number(fifths.text)
        if fifths is not None and signs is not None and abs(signs) <= MOST_FIFTHS:
            fifths.text = str(way.interval.into_key(int(signs))[1])
    if not way.interval.is_octaves:
        for frame in list(harmony.iterchildren("frame")):
            remove_element(frame)


# 8va lines


def _covers(line: OctaveLine, note: StaffNote) -> bool:
    return line.staff == note.staff and line.start <= (note.measure, note.onset) < line.end


def _lines_over(staves: Staves, note: StaffNote) -> int:
    return sum(line.octaves for line in staves.lines if _covers(line, note))


def _settle_octave_lines(staves: Staves, moved: Collection[Moved]) -> None:
    """Take out the 8va lines that the new pitches don't need; the others stay in the list."""
    for line in list(staves.lines):
        needed = False
        for one in moved:
            region = one.note.clef
            if region is not None and region.clef is not None and _covers(line, one.note):
                place = _height(one.pitch) - region.clef.middle
                needed |= ledgers(place) > MOST_LEDGERS and (place > 0) == (line.octaves > 0)
        if needed:
            continue
        staves.lines.remove(line)
        for element in line.elements:
            _remove_direction_type(element.getparent())


def _remove_direction_type(kind: Any) -> None:
    direction = kind.getparent()
    remove_element(kind)
    if direction.find("direction-type") is not None:
        return
    sound = direction.find("sound")
    if sound is not None:
        sound.tail = direction.tail
        direction.addprevious(sound)
        direction.tail = None
        direction.getparent().remove(direction)
    else:
        remove_element(direction)


# What belonged to the old pitches


def _clean(score: Score, part_id: str, staves: Staves, done: Changes, interval: Interval) -> None:
    voices: dict[tuple[int, str], set[str]] = {}
    for note in staves.notes:
        voices.setdefault((note.measure, note.staff), set()).add(note.voice)
        note.element.attrib.pop("default-y", None)
        stem = note.element.find("stem")
        if stem is not None and (stem.text or "").strip() != "none":
            remove_element(stem)
    for note in staves.notes:
        # Among several voices the side tells whose curve it is.
        if len(voices[note.measure, note.staff]) == 1:
            _forget_sides(note.element)
    count = remove_fingerings(score, part_id, _FINGERS)
    if count:
        left_out = fact("transpose.fingerings_left_out", count=count)
        done.warnings.append(ScoreWarning("", "fingering", left_out))
    if staves.figured and not interval.is_octaves:
        measure = staves.figured[0]
        figures = fact("transpose.figured_bass", measure=measure)
        done.warnings.append(ScoreWarning(measure, "figures", figures))
    cues = [
        note
        for note in staves.notes
        if note.pitch is not None and silence_of(note.element) == "cue"
    ]
    if cues:
        numbers = [measure_number(staves.measures[note.measure]) for note in cues]
        small = fact("transpose.cue_notes", count=len(cues), measure=numbers[0])
        done.warnings.append(ScoreWarning(numbers[0], "cue", small))


def _forget_sides(note: Any) -> None:
    for notations in note.iterchildren("notations"):
        for child in notations:
            if child.tag in ("slur", "tied"):
                signs = [child]
            elif child.tag == "articulations":
                signs = list(child)
            else:
                continue
            for sign in signs:
                for name in _SIDES:
                    sign.attrib.pop(name, None)
