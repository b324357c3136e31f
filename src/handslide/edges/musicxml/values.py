"""Length and pitch of one note from its XML, each worked out once and then looked up.

``fields`` are the children of a ``<note>``, of its ``<pitch>`` and of its ``<time-modification>``,
by tag.
"""

from collections.abc import Callable, Mapping
from typing import Any

from handslide.edges.musicxml.signs import LEAST_DIVISIONS, MOST_ALTER, nominal_q, number
from handslide.ground.errors import ScoreError
from handslide.ground.facts import Fact, fact
from handslide.ground.pitch import STEPS, Pitch, from_midi

_MOST_STEPS, _MOST_SEMITONES = 70.0, 120.0
_RATIOS = (0.001, 1000.0)
Warn = Callable[[str, Fact], None]
Fields = Mapping[Any, Any]
Sounding = tuple[Pitch, Pitch, int]
"""Written pitch, sounding pitch, MIDI number of the sounding pitch."""


class Lengths:
    """Note lengths in quarter notes, under the divisions in force."""

    def __init__(self, warn: Warn) -> None:
        self._warn = warn
        self.divisions = 1.0
        self._known: dict[tuple[Any, ...], float] = {}

    def set_divisions(self, text: str | None) -> None:
        """Take over a ``<divisions>``; one that can't be is warned of and left out."""
        divisions = number(text)
        if divisions is None or divisions < LEAST_DIVISIONS:
            what = fact("scores.bad_divisions", divisions=text or "", kept=self.divisions)
            self._warn("duration", what)
        elif divisions != self.divisions:
            self.divisions = divisions
            self._known = {}

    def of(self, fields: Fields, meter: float | None) -> float:
        """Quarter notes, from the duration or else from the printed value; 0 for a grace note."""
        if "grace" in fields:
            return 0.0
        text = fields["duration"].text if "duration" in fields else None
        kind = fields["type"].text if "type" in fields else None
        if "dot" in fields or "actual-notes" in fields:
            key: tuple[Any, ...] = (text, kind, _dots(fields), _tuplet(fields))
        else:
            key = (text, kind, 0, None)
        length = self._known.get(key)
        return self._worked_out(key, fields, meter) if length is None else length

    def _worked_out(self, key: tuple[Any, ...], fields: Fields, meter: float | None) -> float:
        text, kind, dots, ratio = key
        printed, length = nominal_q(kind, dots, ratio), number(text)
        if length is None or length <= 0.0:
            return self._without_duration(printed, fields, text, meter)
        length /= self.divisions
        if printed is None or "rest" in fields or self._is_near(length, printed):
            self._known[key] = length
        else:
            what = fact("scores.printed_otherwise", length=length, printed=printed)
            self._warn("duration", what)
        return length

    def _is_near(self, length: float, printed: float) -> bool:
        return abs(length - printed) <= max(1.0 / self.divisions, 0.1 * printed)

    def _without_duration(
        self, printed: float | None, fields: Fields, text: str | None, meter: float | None
    ) -> float:
        if "chord" in fields:
            return 0.0
        if printed is None:
            printed = meter or 4.0 if "rest" in fields else 1.0
        if text is None:
            what = fact("scores.no_duration", taken=printed)
        else:
            what = fact("scores.bad_duration", duration=text.strip(), taken=printed)
        self._warn("duration", what)
        return printed


class Pitches:
    """Pitches as written and as they sound, under the transposition in force."""

    def __init__(self, warn: Warn, shift: tuple[int, int] = (0, 0)) -> None:
        """``shift`` leads from written to sounding notes until the file says otherwise."""
        self._warn = warn
        self._shift = shift
        self._staff_shifts: dict[str, tuple[int, int]] = {}
        self._known: dict[tuple[Any, ...], Sounding] = {}

    def set_transpose(self, element: Any) -> None:
        """Take over a ``<transpose>``: steps and semitones, with octaves added to both."""
        chromatic = number(element.findtext("chromatic")) or 0.0
        octaves = number(element.findtext("octave-change")) or 0.0
        steps = number(element.findtext("diatonic"))
        if steps is None:
            steps = round(chromatic * 7 / 12)
        steps, chromatic = steps + 7 * octaves, chromatic + 12 * octaves
        if abs(steps) > _MOST_STEPS or abs(chromatic) > _MOST_SEMITONES:
            self._warn("transpose", fact("scores.far_transposition", semitones=chromatic))
            steps = chromatic = 0.0
        shift = (int(steps), int(chromatic))
        staff = element.get("number")
        if staff is None:
            self._shift, self._staff_shifts = shift, {}
        else:
            self._staff_shifts[staff] = shift
        self._known = {}
        if element.find("double") is not None:
            self._warn("transpose", fact("scores.doubled"))

    def moved(self, written: Pitch, staff: str = "1") -> Pitch:
        """How a written pitch sounds on a staff."""
        return written.transposed(*self._staff_shifts.get(staff, self._shift))

    def of(self, fields: Fields, element: Any, measure: str) -> Sounding:
        """The pitch of a note. Raises ScoreError when it can't be read."""
        step, octave, alter = fields.get("step"), fields.get("octave"), fields.get("alter")
        key: tuple[Any, ...] = (
            None if step is None else step.text,
            None if octave is None else octave.text,
            None if alter is None else alter.text,
        )
        if self._staff_shifts:
            key = (*key, fields["staff"].text if "staff" in fields else "1")
        found = self._known.get(key)
        return self._worked_out(key, element, measure) if found is None else found

    def _worked_out(self, key: tuple[Any, ...], element: Any, measure: str) -> Sounding:
        step, octave, alter = (key[0] or "").strip(), number(key[1]), number(key[2] or "0")
        if step not in STEPS or octave is None or not -2 <= octave <= 12:
            raise ScoreError(
                "scores.no_pitch", measure=measure, line=element.sourceline,
                step=key[0] or "", octave=key[1] or "",
            )  # fmt: skip
        if alter is None or abs(alter) > MOST_ALTER:
            self._warn("pitch", fact("scores.bad_alteration", alteration=key[2] or ""))
            alter = 0.0
        whole = round(alter)
        if whole != alter:
            self._warn("pitch", fact("scores.rounded", step=step, alteration=alter, whole=whole))
        written = Pitch(step, whole, int(octave))
        shift = self._staff_shifts.get(key[3], self._shift) if len(key) > 3 else self._shift
        sounding = written if shift == (0, 0) else written.transposed(*shift)
        if abs(sounding.alter) > 2:
            sounding = from_midi(sounding.midi)
        found = (written, sounding, sounding.midi)
        if whole == alter:
            self._known[key] = found
        return found


def _dots(fields: Fields) -> int:
    count, dot = 0, fields.get("dot")  # the last of them
    while dot is not None and dot.tag == "dot":
        count, dot = count + 1, dot.getprevious()
    return count


def _tuplet(fields: Fields) -> tuple[float, float] | None:
    if "actual-notes" not in fields or "normal-notes" not in fields:
        return None
    actual, normal = number(fields["actual-notes"].text), number(fields["normal-notes"].text)
    if actual is None or normal is None:
        return None
    least, most = _RATIOS
    return (actual, normal) if least <= actual <= most and least <= normal <= most else None
