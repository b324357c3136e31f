"""Names and sentences of the progress page in the language of the studio."""

from handslide.ground.notenames import full_name
from handslide.ground.pitch import from_midi, pretty_name
from handslide.instrument.marks import split_position
from handslide.instrument.progress.judge import Change, GroupProgress
from handslide.studio.progress.progress import NextThing
from handslide.words.progressnames import PROGRESS
from handslide.words.speech import Speech

_SIGNS = {"": "whole", "½": "half", "♭": "long", "♯": "raised"}
_UNITS = {"bias": "cents", "spread": "cents", "right": "share"}


class Names:
    """Says what the job found, by the language of ``say`` and the student's note ``names``."""

    def __init__(self, say: Speech, names: str) -> None:
        self._say = say
        self._names = names

    def note(self, midi: int) -> str:
        """A note by its name."""
        return full_name(from_midi(midi), self._names)

    def valves(self, valves: tuple[str, ...]) -> str:
        """``with the F valve``; ``open horn`` for none."""
        if not valves:
            return self._say(PROGRESS["open"])
        return self._say(PROGRESS["valves"], count=len(valves), names=self._listed(valves))

    def _listed(self, valves: tuple[str, ...]) -> str:
        return self._say.listed(pretty_name(name) for name in valves)

    def place(self, valves: tuple[str, ...], position: float) -> str:
        """A place in words."""
        sign, number = split_position(position)
        words = self._say(
            PROGRESS[f"place.{_SIGNS[sign]}"], nth=self._nth(number), next=self._nth(number + 1)
        )
        if valves:
            words = self._say(PROGRESS["place.valves"], place=words, valves=self.valves(valves))
        return words

    def _nth(self, number: int) -> str:
        return self._say(PROGRESS["nths"]).split()[number - 1]

    def group(self, group: GroupProgress) -> str:
        """A group in words, to begin a sentence with."""
        where = None
        if group.position is not None:
            where = self.place(group.valves or (), group.position)
        if group.kind == "note" and group.midi is not None:
            note = self.note(group.midi)
            return note if where is None else self._say(PROGRESS["note"], note=note, place=where)
        if group.kind == "place" and where is not None:
            return where[:1].upper() + where[1:]
        return self._say(
            PROGRESS[f"group.{group.kind}"],
            valves=self.valves(group.valves or ()),
            nth=self._nth(group.partial or 1),
        )

    def picture(self, group: GroupProgress) -> str:
        """What the picture of a place shows, for those who hear the page."""
        said = [self.group(group)]
        if group.bias is not None:
            said.append(self.off(group.bias.value))
        said += [self.change(one) for one in group.changes if one.verdict in ("improved", "worse")]
        return ": ".join((said[0], "; ".join(said[1:])))

    def off(self, cents: float) -> str:
        """``12 cents too high``."""
        if round(cents) == 0:
            return self._say(PROGRESS["off.none"])
        way = "high" if cents > 0 else "low"
        return self._say(PROGRESS[f"off.{way}"], count=round(abs(cents)))

    def slide(self, mm: float) -> str:
        """``12 mm too far out``."""
        if round(mm) == 0:
            return self._say(PROGRESS["slide.none"])
        way = "out" if mm > 0 else "in"
        return self._say(PROGRESS[f"slide.{way}"], mm=self._say.number(abs(mm), 0))

    def change(self, change: Change) -> str:
        """From what to what, for any verdict."""
        early, late = change.early, change.late
        if change.measure == "bias":
            return self._say(PROGRESS["changed.bias"], early=self.off(early), late=self.off(late))
        if change.measure == "spread":
            way = "steadier" if late < early else "looser"
            early_words, late_words = self._say.number(early, 0), self._say.number(late, 0)
            return self._say(PROGRESS[f"changed.{way}"], early=early_words, late=late_words)
        early_words, late_words = (self._say.number(100 * share, 0) for share in (early, late))
        return self._say(PROGRESS["changed.right"], early=early_words, late=late_words)

    def interval(self, change: Change) -> str:
        """By how much, with the 95 % interval: of the distance from 0, the spread or the share."""
        scale = 100.0 if change.measure == "right" else 1.0
        low, high = (scale * value for value in (change.by.low, change.by.high))
        return self._say(
            PROGRESS[f"interval.{_UNITS[change.measure]}"],
            by=self._signed(scale * change.by.value),
            low=self._signed(low),
            high=self._signed(high),
        )

    def _signed(self, value: float) -> str:
        text = self._say.number(value, 0)
        return f"+{text}" if round(value) > 0 else text

    def why(self, thing: NextThing) -> str:
        """What is the matter with something to practise."""
        found = thing.found
        group = found.group
        if found.why == "off" and group.bias is not None:
            said = self.off(group.bias.value)
            if group.kind == "valve":
                way = "out" if group.bias.value > 0 else "in"
                said = self._say(PROGRESS[f"why.valve_{way}"], off=said)
            elif group.slide_mm is not None:
                slide = self.slide(group.slide_mm)
                said = self._say(PROGRESS["why.slide"], off=said, slide=slide)
        elif found.why == "unsteady":
            cents = self._say.number(group.spread or 0.0, 0)
            said = self._say(PROGRESS["why.unsteady"], cents=cents)
        else:
            tried, right = group.scored
            said = self._say(PROGRESS["why.faults"], wrong=tried - right, tried=tried)
        return said if found.sure else self._say(PROGRESS["why.unsure"], why=said)

    def how(self, thing: NextThing) -> str:
        """How to practise it."""
        found = thing.found
        if found.why != "off":
            return self._say(PROGRESS[f"how.{found.why}"])
        slide = found.group.slide_mm
        if slide is None:
            kind = "valve" if found.group.kind == "valve" else "rest"
            return self._say(PROGRESS[f"how.{kind}"])
        way = "in" if slide > 0 else "out"
        kind = "move" if found.group.kind in ("out", "in", "away") else "drone"
        return self._say(PROGRESS[f"how.{kind}_{way}"], mm=self._say.number(abs(slide), 0))

    def more(self, more: int | None) -> str:
        """How many more takes would tell."""
        if more is None:
            return self._say(PROGRESS["more.many"])
        if more == 0:
            return self._say(PROGRESS["more.enough"])
        return self._say(PROGRESS["more"], count=more)
