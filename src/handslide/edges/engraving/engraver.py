"""The engraver's child processes. Light to import, so that one can be started early."""

from handslide.edges.leash.leash import Leash, Limits

ENGRAVER = Leash(
    Limits(seconds=20.0, memory_mb=900, children=2, kept=2),
    preload=("handslide.edges.engraving.render", "verovio"),
)
# A thousand notes take half a second; a busy machine takes ten times that.
NOTES_A_SECOND = 100.0
