"""The horn's slide as a drawing: one geometry, in true millimetres, for all that shows it.

Along the drawing, x is in mm of the real slide; the hand, at the middle of the stay, is at
``STOP_MM`` with the slide closed. Only the group ``outer`` moves, by as many mm as the slide.
Groups say by ``data-slide`` what they are: inner, ghost, outer, stay, target, next; in the ruler
marks, levers, here, soon; in the lens now, go. How they look is the affair of a page's style sheet;
what is printed has a `Dressing` of its own.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from handslide.ground.pitch import pretty_name
from handslide.instrument.horn import Horn

STOP_MM = 110.0
HEIGHT_MM = 124.0
_ABOVE_MM = 8.0
LENS_MM = 40.0
"""How far the lens reaches to both sides of the place."""
IN_PLACE_MM = 5.0
"""Half the width of the lens's band: so near, the slide counts as in place."""

# From the stay: where the legs of the outer slide begin, how far they go on beyond the travel until
# the bow begins, and the bow. Bore and width of a common tenor's slide, alike for all horns.
_SLEEVE_MM, _OVERLAP_MM, _BOW_MM, _TIP_MM = 10.0, 10.0, 49.5, 15.5
_TICK_MM, _LONG_TICK_MM = 10, 50
_TEXT_PX = 20
_RULER_PX, _GAP_PX = 46, 8  # upright, the ruler would touch the tubes


@dataclass(frozen=True, slots=True)
class Ruler:
    """Where the positions 1, 2, … of a set of valves lie, mm from the closed stop."""

    valves: tuple[str, ...]
    marks_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class SlideMeasures:
    """What a slide is drawn from: the open horn's ruler first; ``reach_mm`` None if all is."""

    travel_mm: float
    rulers: tuple[Ruler, ...]
    valves: tuple[str, ...] = ()
    reach_mm: float | None = None

    @property
    def width_mm(self) -> float:
        """The whole drawing: the slide drawn out as far as it goes."""
        out = STOP_MM + self.travel_mm
        return out + self.travel_mm + _OVERLAP_MM + _BOW_MM + _TIP_MM

    def share(self, extension_mm: float) -> float:
        """Where the hand is at an extension, as a share of the drawing's width."""
        return (STOP_MM + extension_mm) / self.width_mm


def measures_for(horn: Horn, reach: float | None) -> SlideMeasures:
    """What the slide of a horn is drawn from; ``reach`` is a position."""
    travel_mm = 1000.0 * horn.travel_m
    reach_mm = None if reach is None else 1000.0 * horn.extension_m(reach)
    return SlideMeasures(
        round(travel_mm, 2),
        tuple(Ruler(valves, _positions_mm(horn, valves)) for valves in horn.valve_sets),
        tuple(valve.name for valve in horn.valves),
        None if reach_mm is None else round(min(reach_mm, travel_mm), 2),
    )


def _positions_mm(horn: Horn, valves: tuple[str, ...]) -> tuple[float, ...]:
    tube_m = horn.length_m + horn.loops_m(valves)
    found: list[float] = []
    while True:
        extension_m = tube_m * (2.0 ** (len(found) / 12.0) - 1.0) / 2.0
        if extension_m > horn.travel_m:
            return tuple(found)
        found.append(round(1000.0 * extension_m, 2))


@dataclass(frozen=True, slots=True)
class Dressing:
    """The colours of a slide where no style sheet dresses it, as SVG has them, and its lines.

    ``brass`` moves, ``steel`` stays, ``stay`` is where the hand is; each line ``line_mm`` wide on
    the paper, that of the steel half as wide.
    """

    brass: str
    steel: str
    line: str
    stay: str
    line_mm: float


GREY = Dressing(brass="#cccccc", steel="#ffffff", line="#000000", stay="#000000", line_mm=0.25)
"""For a black and white printer: what moves is grey, what stays white, all has a black line."""


def printed_slide(
    slide: SlideMeasures, extension_mm: float, width_mm: float, dressing: Dressing = GREY
) -> str:
    """The tubes as an SVG element for print, ``width_mm`` wide, with the hand at an extension.

    It is `printed_height_mm` high.
    """
    line = dressing.line_mm * slide.width_mm / width_mm
    pen = f'stroke="{dressing.line}" stroke-width="{line:.3g}"'
    thin = f'stroke="{dressing.line}" stroke-width="{line / 2:.3g}"'
    outer = _outer(slide).replace('data-slide="stay"', f'fill="{dressing.stay}"')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{_box(slide)}">'
        f'<g transform="translate(0 {_ABOVE_MM:g})">'
        f'<g fill="{dressing.steel}" {thin}>{_inner(slide)}</g>'
        f'<g fill="{dressing.brass}" {pen} transform="translate({extension_mm:g} 0)">{outer}</g>'
        "</g></svg>"
    )


def printed_height_mm(slide: SlideMeasures, width_mm: float) -> float:
    """How high a slide is that is drawn so wide."""
    return width_mm * (HEIGHT_MM + 2 * _ABOVE_MM) / slide.width_mm


def _box(slide: SlideMeasures) -> str:
    return f"0 0 {slide.width_mm:g} {HEIGHT_MM + 2 * _ABOVE_MM:g}"


def slide_svg(slide: SlideMeasures, *, upright: bool = False) -> str:
    """The tubes, and under them the ruler, as two SVG elements beside each other.

    ``upright`` is how the player sees it: away is up, the ruler at its left.
    """
    return _tubes(slide, upright) + _ruler(slide, upright)


@dataclass(frozen=True, slots=True)
class SlideLayers:
    """The slide in pictures that lie over each other, ``width`` by ``height`` pixels, as SVG.

    ``still`` is what stays, by the valves that are down; ``outer`` is what moves, closed. An
    extension is at ``begin`` + ``step`` · mm along the slide: from the left, or, upright, from the
    bottom.
    """

    width: float
    height: float
    still: Mapping[tuple[str, ...], str]
    outer: str
    begin: float
    step: float


def layers_across(slide: SlideMeasures, *, upright: bool = False) -> tuple[float, float]:
    """How far across `slide_layers` are for a length of 1, and for numbers of size 1 beside it."""
    return (
        (HEIGHT_MM + 2 * _ABOVE_MM) / slide.width_mm,
        (_RULER_PX + _GAP_PX * upright) / _TEXT_PX,
    )


def slide_layers(
    slide: SlideMeasures, style: str, length: float, text: float, *, upright: bool = False
) -> SlideLayers:
    """`slide_svg` for pictures that move, ``length`` pixels long, its numbers of ``text`` pixels.

    ``style`` is what the pages' style sheet says of it.
    """
    step, size = length / slide.width_mm, text / _TEXT_PX
    tubes_across, ruler_across = layers_across(slide, upright=upright)
    across, ruler = tubes_across * length, ruler_across * text
    width, height = (across + ruler, length) if upright else (length, across + ruler)
    # As on a page: level the ruler is below the tubes, upright at their left.
    tubes, along = ((ruler, 0.0), (0.0, 0.0)) if upright else ((0.0, 0.0), (0.0, across))
    turn = f" translate(0 {slide.width_mm:g}) rotate(-90)" if upright else ""
    box = (_RULER_PX, length / size) if upright else (length / size, _RULER_PX)

    def layer(name: str, shapes: str, more: str = "") -> str:
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.2f}" height="{height:.2f}"'
            f' viewBox="0 0 {width:.2f} {height:.2f}"><style>{style}</style><g class="slide"'
            f' transform="translate({tubes[0]:.2f} {tubes[1]:.2f}) scale({step:.5f}){turn}'
            f' translate(0 {_ABOVE_MM:g})"><g data-slide="{name}">{shapes}</g></g>{more}</svg>'
        )

    def still(valves: tuple[str, ...]) -> str:
        lines = _ruler(slide, upright, valves).replace(
            "<svg", f'<svg width="{box[0]:.2f}" height="{box[1]:.2f}"', 1
        )
        return layer(
            "inner",
            _inner(slide),
            f'<g transform="translate({along[0]:.2f} {along[1]:.2f}) scale({size:.4f})"'
            f' font-family="Handslide Marks" font-weight="700" font-size="{_TEXT_PX}px"'
            f' class="slide">{lines}</g>',
        )

    outer = layer("outer", _outer(slide) + _light(slide))
    stills = {one.valves: still(one.valves) for one in slide.rulers}
    return SlideLayers(width, height, stills, outer, STOP_MM * step, step)


def _tubes(slide: SlideMeasures, upright: bool) -> str:
    wide, high = slide.width_mm, HEIGHT_MM + 2 * _ABOVE_MM
    box = f"0 0 {high:g} {wide:g}" if upright else _box(slide)
    turn = f"translate(0 {wide:g}) rotate(-90) " if upright else ""
    outer = _outer(slide)
    return (
        f'<svg class="slide-tubes" viewBox="{box}" aria-hidden="true" data-slide="tubes"'
        f' data-stop="{STOP_MM:g}" data-width="{wide:g}">'
        f'<g transform="{turn}translate(0 {_ABOVE_MM:g})">'
        f'<g data-slide="inner">{_inner(slide)}</g>'
        f'<g data-slide="ghost" class="is-away">{outer}</g>'
        f'<g data-slide="outer">{outer}{_light(slide)}</g>'
        f'<g data-slide="next" class="is-away"><rect x="{STOP_MM - 8:g}" y="2" width="16"'
        f' height="120" rx="4"/></g>'
        f'<g data-slide="target" class="is-away">'
        f'<rect class="band" x="{STOP_MM - IN_PLACE_MM:g}" y="-7" width="{2 * IN_PLACE_MM:g}"'
        f' height="138"/><rect x="{STOP_MM - 10:g}" y="-3" width="20" height="130" rx="4"/></g>'
        "</g></svg>"
    )


def _bow_mm(slide: SlideMeasures) -> float:
    """Where the legs end and the bow begins, with the slide closed."""
    return STOP_MM + slide.travel_mm + _OVERLAP_MM


def _outer(slide: SlideMeasures) -> str:
    leg, bow, r = STOP_MM - _SLEEVE_MM, _bow_mm(slide), _BOW_MM
    return (
        f'<path d="M{leg:g} 12.5H{bow:g}a{r:g} {r:g} 0 0 1 0 99H{leg:g}v-15H{bow:g}'
        f'a34.5 34.5 0 0 0 0 -69H{leg:g}z"/>'
        f'<rect x="{bow + r - 3:g}" y="53" width="9" height="18" rx="3"/>'
        f'<rect x="{leg:g}" y="9.5" width="28" height="21" rx="3"/>'
        f'<rect x="{leg:g}" y="93.5" width="28" height="21" rx="3"/>'
        f'<rect data-slide="stay" x="{STOP_MM - 4.5:g}" y="27" width="9" height="70" rx="3"/>'
    )


def _light(slide: SlideMeasures) -> str:
    bow = _bow_mm(slide)
    return f'<path class="lit" d="M134 16.5H{bow - 2:g}a45 45 0 0 1 42 27.5M134 100.5H{bow:g}"/>'


def _inner(slide: SlideMeasures) -> str:
    legs = _bow_mm(slide) - 5 - 72
    return (
        '<path d="M4 7h4c8 0 12 6 20 8l16 2v6l-16 2c-8 2-12 8-20 8h-4z"/>'
        f'<rect x="72" y="13.5" width="{legs:g}" height="13"/>'
        f'<rect x="72" y="97.5" width="{legs:g}" height="13"/>'
        '<rect x="-20" y="98" width="70" height="12"/><rect x="60" y="28" width="7" height="68"/>'
        '<rect class="sleeve" x="44" y="10" width="36" height="20" rx="3"/>'
        '<rect class="sleeve" x="44" y="94" width="36" height="20" rx="3"/>'
    )


def _ruler(slide: SlideMeasures, upright: bool, on: tuple[str, ...] = ()) -> str:
    """A line in mm with the positions of each set of valves; the page shows one set at a time, at
    first that of the valves ``on``.

    Numbers keep their size at any width, so they stand at shares of it, not in mm.
    """
    parts = [_ticks(slide, upright)]
    for ruler in slide.rulers:
        marks = "".join(
            f'<svg class="mark" {_at(slide, mm, upright)} data-n="{number}" data-mm="{mm:g}">'
            f"{_TICK[upright]}{_text(str(number), upright)}</svg>"
            for number, mm in enumerate(ruler.marks_mm, 1)
        )
        shown = " is-on" if ruler.valves == on else ""
        parts.append(
            f'<g class="marks{shown}" data-slide="marks" data-valves="{"+".join(ruler.valves)}">'
            f"{marks}{_levers(slide, ruler.valves, upright)}</g>"
        )
    parts += [
        f'<svg class="{name} is-away" data-slide="{name}" {_at(slide, 0.0, upright)}>'
        f'{_TICK[upright]}<rect {_BOX[upright]} rx="3"/>{_text("", upright)}</svg>'
        for name in ("soon", "here")
    ]
    way = "upright" if upright else "level"
    return (
        f'<svg class="slide-ruler {way}" data-slide="ruler" aria-hidden="true">'
        f"{''.join(parts)}</svg>"
    )


_TICK = {False: '<path d="M0 0v9"/>', True: '<path d="M0 0h-9"/>'}
_BOX = {
    False: 'x="-12" y="9" width="24" height="27"',
    True: 'x="-38" y="-13" width="28" height="26"',
}


def _at(slide: SlideMeasures, extension_mm: float, upright: bool) -> str:
    """The attributes of what stands at an extension; `data/scripts/slide.js` works out the same."""
    share = 100 * slide.share(extension_mm)
    return f'x="100%" y="{100 - share:.4f}%"' if upright else f'x="{share:.4f}%"'


def _text(words: str, upright: bool) -> str:
    where = 'x="-24" y="7"' if upright else 'x="0" y="30"'
    return f'<text {where} text-anchor="middle">{words}</text>'


def _ticks(slide: SlideMeasures, upright: bool) -> str:
    wide, end = slide.width_mm, STOP_MM + slide.travel_mm
    reach = end if slide.reach_mm is None else STOP_MM + slide.reach_mm
    rows = []
    for mm in range(0, int(slide.travel_mm) + 1, _TICK_MM):
        at, long = STOP_MM + mm, 10 if mm % _LONG_TICK_MM == 0 else 5
        rows.append(f"M{10 - long} {wide - at:g}H10" if upright else f"M{at:g} 0V{long}")
    box = f"0 0 10 {wide:g}" if upright else f"0 0 {wide:g} 10"

    def line(begin: float, stop: float) -> str:
        if upright:
            return f"M10 {wide - begin:g}V{wide - stop:g}"
        return f"M{begin:g} 0H{stop:g}"

    place = 'x="100%" width="10" height="100%"' if upright else 'width="100%" height="10"'
    beyond = f'<path class="beyond" d="{line(reach, end)}"/>' if reach < end else ""
    return (
        f'<svg class="ticks" {place} viewBox="{box}" preserveAspectRatio="none">'
        f'<path class="tick" d="{"".join(rows)}"/>'
        f'<path class="base" data-reach="{reach - STOP_MM:g}" d="{line(STOP_MM, reach)}"/>'
        f"{beyond}</svg>"
    )


def _levers(slide: SlideMeasures, down: tuple[str, ...], upright: bool) -> str:
    """All valves, beyond the ruler's end: pressed ones filled and under a wedge, others open."""
    if not slide.valves:
        return ""
    signs = []
    for number, valve in enumerate(slide.valves):
        pressed = valve in down
        x = (-16, -26 - 44 * number) if upright else (26 + 44 * number, 20)
        # Two signs (a filled disc, a wedge that presses): they are told apart without colour too.
        wedge = '<path d="M-7 -27h14l-7 9z"/>' if pressed else ""
        signs.append(
            f'<g class="lever{" is-down" if pressed else ""}" transform="translate({x[0]} {x[1]})">'
            f'{wedge}<circle r="15"/>'
            f'<text y="6" text-anchor="middle">{pretty_name(valve)}</text></g>'
        )
    return (
        f'<svg class="levers" data-slide="levers" {_at(slide, slide.travel_mm, upright)}>'
        f"<g>{''.join(signs)}</g></svg>"
    )


def lens_svg(towards: str, away: str, *, upright: bool = False) -> str:
    """±40 mm round a place, in mm: the place stands in the middle, group ``now`` moves by what the
    slide is off. ``towards`` and ``away`` are the words at the ends of its ruler.
    """
    middle = LENS_MM
    wide = 2 * LENS_MM
    box = f"0 0 48 {wide:g}" if upright else f"0 0 {wide:g} 36"
    # Upright, the ruler is at the left of the tube: the level lens seen from its other side.
    turn = f"matrix(0 -1 -1 0 42 {wide:g})" if upright else ""
    steel = '<rect x="-60" y="5.5" width="200" height="11"/>'
    now = (
        f'<rect x="{middle - 10:g}" y="5" width="200" height="12"/>'
        f'<path class="lit" d="M{middle + 19:g} 7.4h160"/>'
        f'<rect x="{middle - 10:g}" y="3" width="28" height="16" rx="1.2"/>'
        f'<rect data-slide="stay" x="{middle - 4.5:g}" y="10" width="9" height="14.4"/>'
        f'<path class="mid" d="M{middle:g} 11v13.4"/>'
    )
    want = (
        f'<rect class="band" x="{middle - IN_PLACE_MM:g}" y="0" width="{2 * IN_PLACE_MM:g}"'
        f' height="24.4"/><rect class="want" x="{middle - 4.5:g}" y="1" width="9" height="23.4"'
        f' rx="1"/><path class="want" d="M{middle:g} 1v23.4"/>'
    )
    ticks = "".join(
        f"M{mm} 24.4v{2.6 if mm % 10 == 0 else 1.9 if mm % 5 == 0 else 1.1}"
        for mm in range(round(wide) + 1)
    )
    way = "upright" if upright else "level"
    return (
        f'<svg class="slide-lens {way}" viewBox="{box}" aria-hidden="true" data-slide="lens">'
        f'<g transform="{turn}"><g data-slide="inner">{steel}</g>'
        f'<g data-slide="now"><g data-slide="outer">{now}</g></g>{want}'
        f'<path class="base" d="M-1 24.4h{wide + 2:g}"/><path class="tick" d="{ticks}"/>'
        '<g data-slide="go"><path class="under"/><path class="shaft"/><path class="head"/></g></g>'
        f"{_lens_words(towards, away, upright)}</svg>"
    )


def _lens_words(towards: str, away: str, upright: bool) -> str:
    """The numbers in tens, and on a line of their own, as words may be long, which way is which."""
    said = []
    for mm in range(-30, 31, 10):
        if upright:
            where = f'x="13.5" y="{LENS_MM - mm + 1.4:g}" text-anchor="end"'
        else:
            where = f'x="{LENS_MM + mm:g}" y="30.4" text-anchor="middle"'
        said.append(f"<text {where}>{abs(mm)}</text>")
    if upright:
        said += [
            f'<text class="end" x="1" y="4">{away}</text>',
            f'<text class="end" x="1" y="{2 * LENS_MM - 1.2:g}">{towards}</text>',
        ]
    else:
        said += [
            f'<text class="end" x="1" y="34.8">{towards}</text>',
            f'<text class="end" x="{2 * LENS_MM - 1:g}" y="34.8" text-anchor="end">{away}</text>',
        ]
    return "".join(said)
