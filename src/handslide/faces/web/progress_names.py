"""Names and sentences of the progress page in the language of the studio."""

from handslide.faces.web.texts import Texts
from handslide.ground.notenames import full_name
from handslide.ground.pitch import from_midi, pretty_name
from handslide.instrument.marks import split_position
from handslide.instrument.progress.judge import Change, GroupProgress
from handslide.studio.progress.progress import NextThing

_SIGNS = {"": "whole", "½": "half", "♭": "long", "♯": "raised"}
_UNITS = {"bias": "cents", "spread": "cents", "right": "share"}


class Names:
    """Says what the job found, in the words of ``t`` and the student's note ``names``."""

    def __init__(self, t: Texts, names: str) -> None:
        self.t = t
        self._names = names

    def note(self, midi: int) -> str:
        """A note by its name."""
        return full_name(from_midi(midi), self._names)

    def valves(self, valves: tuple[str, ...]) -> str:
        """``with the F valve``; ``open horn`` for none."""
        if not valves:
            return self.t("progress.open")
        return self.t("progress.valves", count=len(valves), names=self._listed(valves))

    def _listed(self, valves: tuple[str, ...]) -> str:
        return self.t("progress.and").join(pretty_name(name) for name in valves)

    def place(self, valves: tuple[str, ...], position: float) -> str:
        """A place in words."""
        sign, number = split_position(position)
        words = self.t(
            f"progress.place.{_SIGNS[sign]}", nth=self._nth(number), next=self._nth(number + 1)
        )
        if valves:
            words = self.t("progress.place.valves", place=words, valves=self.valves(valves))
        return words

    def _nth(self, number: int) -> str:
        return self.t("progress.nths").split()[number - 1]

    def group(self, group: GroupProgress) -> str:
        """A group in words, to begin a sentence with."""
        where = None
        if group.position is not None:
            where = self.place(group.valves or (), group.position)
        if group.kind == "note" and group.midi is not None:
            note = self.note(group.midi)
            return note if where is None else self.t("progress.note", note=note, place=where)
        if group.kind == "place" and where is not None:
            return where[:1].upper() + where[1:]
        return self.t(
            f"progress.group.{group.kind}",
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
            return self.t("progress.off.none")
        way = "high" if cents > 0 else "low"
        return self.t(f"progress.off.{way}", count=round(abs(cents)))

    def slide(self, mm: float) -> str:
        """``12 mm too far out``."""
        if round(mm) == 0:
            return self.t("progress.slide.none")
        return self.t(f"progress.slide.{'out' if mm > 0 else 'in'}", mm=self.t.number(abs(mm)))

    def change(self, change: Change) -> str:
        """From what to what, for any verdict."""
        early, late = change.early, change.late
        if change.measure == "bias":
            return self.t("progress.changed.bias", early=self.off(early), late=self.off(late))
        if change.measure == "spread":
            way = "steadier" if late < early else "looser"
            early_words, late_words = self.t.number(early), self.t.number(late)
            return self.t(f"progress.changed.{way}", early=early_words, late=late_words)
        shares = {"early": self.t.number(100 * early), "late": self.t.number(100 * late)}
        return self.t("progress.changed.right", **shares)

    def interval(self, change: Change) -> str:
        """By how much, with the 95 % interval: of the distance from 0, the spread or the share."""
        scale = 100.0 if change.measure == "right" else 1.0
        low, high = (scale * value for value in (change.by.low, change.by.high))
        return self.t(
            f"progress.interval.{_UNITS[change.measure]}",
            by=self._signed(scale * change.by.value),
            low=self._signed(low),
            high=self._signed(high),
        )

    def _signed(self, value: float) -> str:
        text = self.t.number(value)
        return f"+{text}" if round(value) > 0 else text

    def why(self, thing: NextThing) -> str:
        """What is the matter with something to practise."""
        found = thing.found
        group = found.group
        if found.why == "off" and group.bias is not None:
            said = self.off(group.bias.value)
            if group.kind == "valve":
                way = "out" if group.bias.value > 0 else "in"
                said = self.t(f"progress.why.valve_{way}", off=said)
            elif group.slide_mm is not None:
                slide = self.slide(group.slide_mm)
                said = self.t("progress.why.slide", off=said, slide=slide)
        elif found.why == "unsteady":
            said = self.t("progress.why.unsteady", cents=self.t.number(group.spread or 0.0))
        else:
            tried, right = group.scored
            said = self.t("progress.why.faults", wrong=tried - right, tried=tried)
        return said if found.sure else self.t("progress.why.unsure", why=said)

    def how(self, thing: NextThing) -> str:
        """How to practise it."""
        found = thing.found
        if found.why != "off":
            return self.t(f"progress.how.{found.why}")
        slide = found.group.slide_mm
        if slide is None:
            kind = "valve" if found.group.kind == "valve" else "rest"
            return self.t(f"progress.how.{kind}")
        way = "in" if slide > 0 else "out"
        kind = "move" if found.group.kind in ("out", "in", "away") else "drone"
        return self.t(f"progress.how.{kind}_{way}", mm=self.t.number(abs(slide)))

    def more(self, more: int | None) -> str:
        """How many more takes would tell."""
        if more is None:
            return self.t("progress.more.many")
        if more == 0:
            return self.t("progress.more.enough")
        return self.t("progress.more", count=more)
