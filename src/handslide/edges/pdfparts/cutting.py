"""Straight lines and areas cut to a box."""

from itertools import pairwise

from handslide.edges.pdfparts.drawn import Point
from handslide.edges.pdfparts.geometry import Box


def cut_area(polygon: list[Point], box: Box) -> list[Point]:
    """What of a polygon lies in a box (Sutherland and Hodgman, 1974)."""
    for axis, bound, sign in ((0, box[0], 1), (0, box[2], -1), (1, box[1], 1), (1, box[3], -1)):
        kept: list[Point] = []
        for before, point in zip(polygon[-1:] + polygon[:-1], polygon):
            was, now = sign * (before[axis] - bound), sign * (point[axis] - bound)
            if was * now < 0:
                part = was / (was - now)
                kept.append(
                    (
                        before[0] + part * (point[0] - before[0]),
                        before[1] + part * (point[1] - before[1]),
                    )
                )
            if now >= 0:
                kept.append(point)
        polygon = kept
    return polygon


def cut_line(polyline: list[Point], box: Box) -> list[list[Point]]:
    """What of a line lies in a box, piece by piece (Liang and Barsky, 1984)."""
    found: list[list[Point]] = []
    for (x0, y0), (x1, y1) in pairwise(polyline):
        low, high = 0.0, 1.0
        for at, step, least, most in ((x0, x1 - x0, box[0], box[2]), (y0, y1 - y0, box[1], box[3])):
            if step == 0:
                if not least <= at <= most:
                    low, high = 1.0, 0.0
                continue
            first, last = sorted(((least - at) / step, (most - at) / step))
            low, high = max(low, first), min(high, last)
        if low > high:
            continue
        start = (x0 + low * (x1 - x0), y0 + low * (y1 - y0))
        end = (x0 + high * (x1 - x0), y0 + high * (y1 - y0))
        if found and found[-1][-1] == start:
            found[-1].append(end)
        else:
            found.append([start, end])
    return found
