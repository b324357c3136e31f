"""Dots for places, told apart by shape, so that they survive any printer.

Open horn: circle; first valve set: diamond; second: triangle; third and further: square. Filled for
a note's usual place, hollow for its others.
"""

from handslide.sheets.shapes import Circle, Line, Path, Rect, Shape

_BAR_MM, _CAP_MM = 0.35, 0.8
SHAPES = ("circle", "diamond", "triangle", "square")


def place_dot(
    which: int, x_mm: float, y_mm: float, radius_mm: float, *, filled: bool, pen_mm: float = 0.25
) -> Shape:
    """The dot of a place: ``which`` is the index of its valve set on the horn (0 = open)."""
    fill = 0.0 if filled else 1.0
    kind = SHAPES[min(which, len(SHAPES) - 1)]
    if kind == "circle":
        return Circle(x_mm, y_mm, radius_mm, fill, pen_mm)
    if kind == "square":
        half = 0.86 * radius_mm
        return Rect(x_mm - half, y_mm - half, 2 * half, 2 * half, fill, pen_mm)
    reach = 1.18 * radius_mm
    if kind == "diamond":
        corners = [(0.0, -reach), (reach, 0.0), (0.0, reach), (-reach, 0.0)]
    else:
        corners = [(0.0, -reach), (1.04 * reach, 0.72 * reach), (-1.04 * reach, 0.72 * reach)]
    return Path(tuple((x_mm + dx, y_mm + dy) for dx, dy in corners), pen_mm, fill=fill, closed=True)


def interval_bar(
    x_mm: float, y_mm: float, low_mm: float, high_mm: float, *, upright: bool
) -> list[Shape]:
    """The 95 % interval of a place through its dot, with caps.

    It runs from ``low_mm`` to ``high_mm`` along the slide's axis: y if ``upright``, else x.
    """
    ends = ((x_mm, low_mm), (x_mm, high_mm)) if upright else ((low_mm, y_mm), (high_mm, y_mm))
    (x1, y1), (x2, y2) = ends
    across = (_CAP_MM, 0.0) if upright else (0.0, _CAP_MM)
    caps = [
        Line(x - across[0], y - across[1], x + across[0], y + across[1], _BAR_MM, 0.35)
        for x, y in ends
    ]
    return [Line(x1, y1, x2, y2, _BAR_MM, 0.35), *caps]
