"""The engraver's child processes. Light to import, so that one can be started early."""

from handslide.edges.leash.leash import Leash, Limits
from handslide.ground.limits import ENGRAVER_BYTES, ENGRAVER_S, MB

ENGRAVER = Leash(
    Limits(seconds=ENGRAVER_S, memory_mb=ENGRAVER_BYTES // MB, children=2, kept=2),
    preload=("handslide.edges.engraving.render", "verovio"),
)
