"""The kinds of drills: one list, which the command line, the pages, the jobs and lessons read.

A new kind is an entry here, a module that makes its exercises, and its name in
`handslide.words.drills`. Nothing else is loaded with this list: makers are when they are called.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from importlib import import_module
from typing import Any

from handslide.drills.keys import KINDS as SCALES
from handslide.drills.keys import Kind as Scale
from handslide.drills.piece import Piece
from handslide.ground.errors import BadUsage

THIRDS = "-thirds"
SCALE_KINDS = (*SCALES, *(name + THIRDS for name, scale in SCALES.items() if scale.has_thirds))
DIRECTIONS = ("up", "down", "up-and-down", "down-and-up")
MOST_OCTAVES = 4
# Those that are written down as data, in the order of a sheet.
WRITTEN = (
    "long-tones",
    "lip-slurs",
    "five-notes",
    "patterns",
    "intervals",
    "tonguing",
    "attacks",
    "range",
    "rhythms",
    "clef-reading",
    "duets",
)
_RUNNING = "running.make_running"
# What makes those that don't only run.
_WRITTEN_MAKERS = {"clef-reading": "clefreading.make_clef_reading"}
MOST_SEED = 10**9
# What kinds are for, in the order of a practice hour, each with its kinds: common practice.
FAMILIES: Mapping[str, tuple[str, ...]] = {
    "sound": ("long-tones", "attacks", "intonation"),
    "flexibility": ("lip-slurs", "range"),
    "keys": ("five-notes", "scales", "arpeggios", "thirds", "patterns", "intervals"),
    "tongue": ("tonguing", "slurs"),
    "slide": ("accuracy", "alternates", "register", "glissandi"),
    "reading": ("rhythms", "clef-reading"),
    "together": ("duets",),
    "takes": ("trouble-spots",),
}


@dataclass(frozen=True, slots=True)
class DrillKind:
    """A kind of drill.

    ``maker`` is MODULE.FUNCTION of this package. ``scales`` are those of a sheet, by level, where
    none is named, and ``about`` says which it may have; a drill that has some is in a key.
    ``ending`` is what a scale's name may lack: ``minor`` among arpeggios is ``minor-arpeggio``.
    ``from_report``: it practises the notes of a report, wherever they lie. ``valve_register``: it
    goes down to what only a valve gives, at every level. ``plain_places``: a level keeps its notes
    in plain places. ``with_drone``: it is played against one. ``written``: its exercises are those
    of the file of this name (`handslide.edges.files.exercises`), whose maker has them handed in.
    """

    name: str
    maker: str
    scales: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    about: Callable[[Scale], bool] = lambda _: False
    ending: str = ""
    from_report: bool = False
    valve_register: bool = False
    plain_places: bool = True
    with_drone: bool = False
    written: bool = False

    @property
    def in_key(self) -> bool:
        """Whether it is in a key, and has a scale, a rhythm and an articulation to choose."""
        return bool(self.scales)

    @property
    def scale_names(self) -> tuple[str, ...]:
        """The scales and arpeggios that it is about; none where it isn't in a key."""
        return tuple(name for name, scale in SCALES.items() if self.about(scale))

    def scale_named(self, name: str) -> str:
        """One of SCALE_KINDS by the name that it has among drills of this kind.

        Raises BadUsage.
        """
        thirds = THIRDS if self.ending == THIRDS else ""
        # Scales are asked for by any name, the others by what they are about.
        known = tuple(row + thirds for row in self.scale_names) if self.ending else SCALE_KINDS
        found = name if name in known else name + self.ending
        if found not in known:
            said = tuple(row.removesuffix(self.ending) if self.ending else row for row in known)
            raise BadUsage("drills.no_scale", wish=name, known=said)
        return found

    def make(self, *args: Any) -> tuple[Piece, ...]:
        """Call its maker."""
        module, _, name = self.maker.partition(".")
        maker: Callable[..., tuple[Piece, ...]] = getattr(
            import_module(f"handslide.drills.{module}"), name
        )
        return maker(*args)


# Which scales a sheet has when none is named: common practice.
DRILLS: Mapping[str, DrillKind] = {
    kind.name: kind
    for kind in (
        DrillKind(
            "scales",
            "scales.scale_pieces",
            {
                "first-year": ("major",),
                "second-year": ("major", "harmonic-minor", "melodic-minor"),
                "advanced": (
                    "major", "melodic-minor", "chromatic", "dorian", "whole-tone", "blues",
                ),
            },
            lambda scale: not scale.chord,
        ),
        DrillKind(
            "arpeggios",
            "scales.scale_pieces",
            {
                "first-year": ("major-arpeggio",),
                "second-year": ("major-arpeggio", "minor-arpeggio"),
                "advanced": (
                    "major-arpeggio", "minor-arpeggio", "dominant-seventh", "diminished-seventh",
                ),
            },
            lambda scale: scale.chord,
            "-arpeggio",
        ),
        DrillKind(
            "thirds",
            "scales.scale_pieces",
            {
                "first-year": ("major-thirds",),
                "second-year": ("major-thirds", "natural-minor-thirds"),
                "advanced": ("major-thirds", "harmonic-minor-thirds", "dorian-thirds"),
            },
            lambda scale: scale.has_thirds,
            THIRDS,
        ),
        DrillKind("register", "register.make", valve_register=True),
        DrillKind("alternates", "alternates.make", plain_places=False),
        DrillKind("accuracy", "accuracy.make_shifts"),
        DrillKind("glissandi", "accuracy.make_glissandi"),
        DrillKind("slurs", "accuracy.make_slurs"),
        DrillKind("intonation", "intonation.make", with_drone=True),
        DrillKind("trouble-spots", "troublespots.make", from_report=True),
        *(
            DrillKind(name, _WRITTEN_MAKERS.get(name, _RUNNING), written=True)
            for name in WRITTEN
        ),
    )
}  # fmt: skip
# What a week has: what a report found before all else, these, and of the others some in turn.
EVERY_WEEK = ("scales", "arpeggios")
IN_TURN = ("register", "alternates", "accuracy", "intonation", "slurs")
# A first year has neither alternates nor, before it is learned, a valve.
FIRST_IN_TURN = ("five-notes", "lip-slurs", "rhythms", "accuracy", "slurs")


def own_kind(name: str) -> DrillKind:
    """The kind that a teacher's own exercises are of, under a name."""
    return DrillKind(name, _RUNNING, written=True)


def drill_kind(name: str) -> DrillKind:
    """A kind by its name. Raises BadUsage."""
    if name not in DRILLS:
        raise BadUsage("drills.no_kind", wish=name, known=tuple(DRILLS))
    return DRILLS[name]
