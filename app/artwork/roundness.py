"""Circular arcs that a drawing program had to write as cubics, made arcs again.

PDF and path data of most programs hold no arcs: a circle is four cubics whose handles are 4/3 tan(angle / 4) of the
radius (0.5523 for a quarter; 0.5517 to 0.5534 are in use). Such a cubic is off the circle by up to 2.7e-4 of the
radius, so taking it at its word would give a circle many pieces.
"""

from __future__ import annotations

import math

from geometry.arcs import point_at
from geometry.contour import Contour
from geometry.curve import Arc, Cubic, Point, Segment

_HANDLE = 5e-3  # handles may differ this much, relatively, from those of the circle
_RADIAL = 3e-4  # samples may be off the circle by this share of the radius
_SMALLEST, _WIDEST = math.radians(5.0), math.radians(100.0)  # sweeps that programs write as one cubic
_SAMPLES = tuple(k / 16.0 for k in range(1, 16))


def with_arcs(contour: Contour) -> tuple[Contour, int]:
    """The contour with every cubic that stands for a circular arc replaced by it, and how many there were."""
    count = 0
    segments: list[Segment] = []
    for segment in contour.segments:
        arc = _arc_of(segment) if isinstance(segment, Cubic) else None
        if arc is not None:
            count += 1
        segments.append(arc or segment)
    if count == 0:
        return contour, 0
    return Contour(tuple(segments), contour.is_closed), count


def _arc_of(cubic: Cubic) -> Arc | None:
    start, end = cubic.start, cubic.end
    first = _vector(start, cubic.control1)
    last = _vector(cubic.control2, end)
    chord = _vector(start, end)
    length_first, length_last, length = math.hypot(*first), math.hypot(*last), math.hypot(*chord)
    if min(length_first, length_last, length) == 0.0:
        return None
    # On a circle both tangents make the same angle with the chord, on opposite sides: half the sweep.
    before = math.atan2(_cross(first, chord), _dot(first, chord))
    after = math.atan2(_cross(chord, last), _dot(chord, last))
    sweep = before + after
    if not (_SMALLEST <= abs(sweep) <= _WIDEST and abs(before - after) <= _HANDLE * abs(sweep)):
        return None
    radius = length / (2.0 * abs(math.sin(sweep / 2.0)))
    handle = 4.0 / 3.0 * math.tan(abs(sweep) / 4.0) * radius
    if max(abs(length_first - handle), abs(length_last - handle)) > _HANDLE * handle:
        return None
    share = 0.5 / math.tan(sweep / 2.0)
    centre = (
        (start[0] + end[0]) / 2.0 - share * chord[1],
        (start[1] + end[1]) / 2.0 + share * chord[0],
    )
    if any(abs(math.dist(point_at(cubic, t), centre) - radius) > _RADIAL * radius for t in _SAMPLES):
        return None
    return Arc(start, end, math.tan(sweep / 4.0))


def _vector(start: Point, end: Point) -> Point:
    return (end[0] - start[0], end[1] - start[1])


def _cross(a: Point, b: Point) -> float:
    return a[0] * b[1] - a[1] * b[0]


def _dot(a: Point, b: Point) -> float:
    return a[0] * b[0] + a[1] * b[1]
