"""A tuning slide as a drawing: how far it is to move, before and after.

One unit is a millimetre. The brass bow slides on two legs in sleeves of steel; out is to the right,
as on the playing slide. Where it stands now isn't known: the rule counts from there. Groups say by
``data-tuning`` what they are: brass (what moves, drawn where it is to go), before (where it was),
maybe (where it will probably stop), way. How they look is the page's affair.
"""

from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

LENS_MM = 40.0
"""How far the rule reaches to both sides, as the lens of the playing slide does."""
_REACHES_MM = (LENS_MM, 80.0, 160.0, 320.0)
_SHOWN = 0.78  # the share of the reach that a move may take
_WIDE_MM, _NOW_MM = 236.0, 128.0  # the drawing's width, and where the collar ends now
_COLLAR_MM = 6.0
_LETTERS = 6  # a longer word at the rule's end is written smaller, to leave the next number alone


@dataclass(frozen=True, slots=True)
class TuningMove:
    """``out_mm``: how far the slide is to come out, negative for in, None: not known yet.

    ``span_mm``: between which it will probably stop, out positive.
    """

    out_mm: float | None = None
    span_mm: tuple[float, float] | None = None

    @property
    def reach_mm(self) -> float:
        """How far the rule reaches to both sides."""
        ends = [abs(self.out_mm or 0.0), *(abs(end) for end in self.span_mm or ())]
        return next((r for r in _REACHES_MM if max(ends) <= _SHOWN * r), _REACHES_MM[-1])

    @property
    def maybe_mm(self) -> tuple[float, float] | None:
        """The frame of where it will probably stop, as far as the rule shows it."""
        if self.span_mm is None:
            return None
        low, high = sorted(max(-self.reach_mm, min(self.reach_mm, end)) for end in self.span_mm)
        return low, high


def tuning_slide_svg(move: TuningMove) -> str:
    """The whole slide at true proportion, with a frame round what the rule shows larger."""
    out, reach = move.out_mm or 0.0, move.reach_mm
    wide = _WIDE_MM + max(0.0, out)
    sleeve = _NOW_MM - max(10.0, 6.0 - out)
    bow = _bow()
    parts = [
        f'<svg class="tuning-slide" viewBox="0 8 {_n(wide)} 120" aria-hidden="true">',
        _fixed(sleeve, out),
        f'<g data-tuning="brass" transform="translate({_n(out)} 0)">{bow}</g>',
    ]
    if out:
        parts.append(f'<g data-tuning="before">{bow}</g>')
    if move.maybe_mm is not None:
        low, high = move.maybe_mm
        parts.append(_rect(_NOW_MM + low, 79.0, high - low, 32.0, tuning="maybe"))
    left, right = max(1.0, _NOW_MM - reach), min(wide - 1.0, _NOW_MM + reach)
    cone = f"M{_n(left)} 106H{_n(right)}L{_n(wide)} 128H0z"
    parts.append(f'<path class="cone" d="{cone}"/>')
    parts.append(_rect(left, 84.0, right - left, 22.0, kind="frame"))
    return "".join(parts) + "</svg>"


def _fixed(sleeve: float, out: float) -> str:
    """The legs as far as the bow may come, and the sleeves that they go into."""
    legs = "".join(
        _rect(sleeve - 10.0, y, _NOW_MM + 32.0 - sleeve + max(out, 0.0), 15.0, kind="leg")
        for y in (18.5, 86.5)
    )
    tubes = "".join(_rect(0.0, y, sleeve, 18.0, kind="tube") for y in (17.0, 85.0))
    ends = "".join(_rect(sleeve - 16.0, y, 16.0, 24.0, kind="sleeve", rx=1.5) for y in (14.0, 82.0))
    brace = _rect(max(4.0, sleeve - 61.0), 34.0, 5.0, 52.0, kind="tube")
    return legs + tubes + brace + ends


def _bow() -> str:
    """The bow with its collars and stay, where the slide stands now."""
    collars = "".join(_rect(_NOW_MM, y, _COLLAR_MM, 21.0, rx=1.5) for y in (15.5, 83.5))
    bend = "h58a42.5 42.5 0 0 1 0 85h-58v-17h58a25.5 25.5 0 0 0 0 -51h-58z"
    return (
        f'<path d="M{_n(_NOW_MM)} 17.5{bend}"/>{collars}'
        f'<path d="M{_n(_NOW_MM + 14.0)} 33.5v53h4v-53z"/>'
    )


def tuning_rule_svg(move: TuningMove, *, label: str, towards: str, away: str) -> str:
    """The collar's edge over a rule in mm that counts from where it is now.

    ``label`` is for those who hear the page; the other words stand on the rule.
    """
    out, reach = move.out_mm or 0.0, move.reach_mm
    unit = reach / LENS_MM
    top, base = 2.0 * unit, 21.0 * unit
    collar = _collar(unit, 2.0 * reach, top, base)
    parts = [
        f'<svg class="tuning-rule" viewBox="0 0 {_n(2 * reach)} {_n(29.0 * unit)}" role="img"'
        f" aria-label={quoteattr(label)}>",
        _rect(0.0, top + 3.0 * unit, 2 * reach, base - top - 6.0 * unit, kind="leg"),
        _rect(0.0, top - unit, 0.12 * reach, base - top + 2.0 * unit, kind="sleeve"),
        f'<g data-tuning="brass" transform="translate({_n(reach + out)} 0)">{collar}</g>',
    ]
    if out:
        parts.append(
            f'<g data-tuning="before" transform="translate({_n(reach)} 0)">{collar}</g>'
            + _way(reach, out, (top + base) / 2, unit)
        )
    if move.maybe_mm is not None:
        low, high = move.maybe_mm
        parts.append(_rect(reach + low, 0.8 * unit, high - low, base - 0.8 * unit, tuning="maybe"))
    parts.append(_rule(reach, base, unit, towards, away))
    return "".join(parts) + "</svg>"


def _collar(unit: float, wide: float, top: float, base: float) -> str:
    """The brass with its edge at 0."""
    collar = _COLLAR_MM * unit
    return _rect(collar / 2, top + unit, wide, base - top - 2.0 * unit) + _rect(
        0.0, top, collar, base - top, rx=unit
    )


def _way(reach: float, out: float, y: float, unit: float) -> str:
    """An arrow from where the edge is to where it goes."""
    turn = -1.0 if out > 0.0 else 1.0
    head = min(4.0 * unit, abs(out))
    return (
        f'<g data-tuning="way"><path d="M{_n(reach)} {_n(y)}H{_n(reach + out + turn * head)}"'
        f' stroke-width="{_n(2.0 * unit)}"/><path class="head" d="M{_n(reach + out)} {_n(y)}'
        f'l{_n(turn * head)} {_n(-2.6 * unit)}v{_n(5.2 * unit)}z"/></g>'
    )


def _rule(reach: float, base: float, unit: float, towards: str, away: str) -> str:
    ticks, numbers = [], []
    for k in range(-39, 40):
        x = _n(reach + k * unit)
        tall = 1.7 if k % 10 == 0 else 1.2 if k % 5 == 0 else 0.7
        ticks.append(f"M{x} {_n(base)}v{_n(tall * unit)}")
        if k % 10 == 0 and 0 < abs(k) < 30:
            numbers.append(_word(reach + k * unit, base, unit, f"{abs(k) * unit:g}"))
    # Towards the ends stand the ways instead of numbers.
    size = 3.5 if max(len(towards), len(away)) <= _LETTERS else 2.8
    words = [
        _word(reach, base, unit, "0 mm"),
        _word(0.8 * unit, base, unit, f"◂ {towards}", anchor="start", size=size),
        _word(2 * reach - 0.8 * unit, base, unit, f"{away} ▸", anchor="end", size=size),
    ]
    return f'<path class="ticks" d="M0 {_n(base)}H{_n(2 * reach)}{"".join(ticks)}"/>' + "".join(
        numbers + words
    )


def _word(
    x: float, base: float, unit: float, text: str, *, anchor: str = "middle", size: float = 3.5
) -> str:
    return (
        f'<text x="{_n(x)}" y="{_n(base + 5.9 * unit)}" font-size="{_n(size * unit)}"'
        f' text-anchor="{anchor}">{escape(text)}</text>'
    )


def _rect(
    x: float, y: float, width: float, height: float, *, kind: str = "", tuning: str = "",
    rx: float = 0.0,
) -> str:  # fmt: skip
    said = f' class="{kind}"' if kind else ""
    said += f' data-tuning="{tuning}"' if tuning else ""
    said += f' rx="{_n(rx)}"' if rx else ""
    return f'<rect{said} x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}"/>'


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
