"""Matrices and boxes of a page."""

import math

from handslide.edges.pdfparts.drawn import Matrix, Point

IDENTITY: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
Box = tuple[float, float, float, float]
"""x0, y0, x1, y1."""


def times(first: Matrix, then: Matrix) -> Matrix:
    """``first`` applied first."""
    a, b, c, d, e, f = first
    g, h, i, j, k, m = then
    return (a * g + b * i, a * h + b * j, c * g + d * i, c * h + d * j, e * g + f * i + k,
            e * h + f * j + m)  # fmt: skip


def through(matrix: Matrix, x: float, y: float) -> Point:
    """Where a point comes to lie."""
    a, b, c, d, e, f = matrix
    return (a * x + c * y + e, b * x + d * y + f)


def scale_of(matrix: Matrix) -> float:
    """By how much lengths grow, in the middle of all directions."""
    return math.sqrt(abs(matrix[0] * matrix[3] - matrix[1] * matrix[2]))


def inverse(matrix: Matrix) -> Matrix:
    """The matrix that leads back. Raises ZeroDivisionError where none does."""
    a, b, c, d, e, f = matrix
    whole = a * d - b * c
    return (d / whole, -b / whole, -c / whole, a / whole, (c * f - d * e) / whole,
            (b * e - a * f) / whole)  # fmt: skip


def box_of(points: list[Point]) -> Box:
    """The smallest box around points."""
    xs = [x for x, _ in points]
    ys = [y for _, y in points]
    return (min(xs), min(ys), max(xs), max(ys))


def common(one: Box, other: Box) -> Box:
    """What two boxes share; it has no width or height below 0."""
    x0, y0 = max(one[0], other[0]), max(one[1], other[1])
    return (x0, y0, max(x0, min(one[2], other[2])), max(y0, min(one[3], other[3])))


def apart(one: Box, other: Box) -> bool:
    """Whether two boxes share nothing, not even an edge."""
    return one[0] > other[2] or one[2] < other[0] or one[1] > other[3] or one[3] < other[1]
