"""The colours of the studio's light pages, for pictures that no style sheet dresses.

A test holds them beside the style sheet, which says what each is for.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours by the names that the style sheet has for them."""

    paper: str
    sheet: str
    ink: str
    muted: str
    edge: str
    line: str
    brass: str
    brass_lit: str
    brass_line: str
    brass_tint: str
    steel: str
    steel_line: str


LIGHT = Palette(
    paper="#efeee6", sheet="#fbfaf5", ink="#14272d", muted="#4c5f64", edge="#6f8084",
    line="#d2d2c6", brass="#d3a13f", brass_lit="#f1d591", brass_line="#5d430b",
    brass_tint="#f3e6c4", steel="#d5dcdc", steel_line="#6f8084",
)  # fmt: skip
