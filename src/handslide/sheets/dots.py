"""Dots for places, told apart by shape, so that they survive any printer.

Open horn: circle; first valve set: diamond; second: triangle; third and further: square. Filled for
a note's usual place, hollow for its others.
"""

from handslide.sheets.shapes import Circle, Path, Rect, Shape

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
