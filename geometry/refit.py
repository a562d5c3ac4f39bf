"""Polygons with many short sides back to lines and arcs, where the curves they came from are lost."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.contour import Contour
from geometry.curve import Arc, Line, Point, Segment

_CORNER = math.radians(20.0)  # sharper turns stay corners
_Floats = NDArray[np.float64]


def refit_ring(points: ArrayLike, tolerance: float) -> Contour:
    """Closed contour of lines and arcs through some of the ring's points, within `tolerance` (mm) of its sides.

    Each piece runs as far as one line or arc stays near enough; turns of more than 20 degrees stay corners.

    Parameters
    ----------
    points : (n, 2) array_like
        Ring, first point not repeated, mm.
    tolerance : float
        mm
    """
    ring = np.asarray(points, dtype=np.float64)
    ring = ring[np.any(ring != np.roll(ring, 1, axis=0), axis=1)]
    count = len(ring)
    side = np.roll(ring, -1, axis=0) - ring
    before = np.roll(side, 1, axis=0)
    turn = np.abs(np.arctan2(before[:, 0] * side[:, 1] - before[:, 1] * side[:, 0], (before * side).sum(axis=1)))
    corners = np.flatnonzero(turn > _CORNER)
    first = int(corners[0]) if len(corners) else 0
    ring = np.roll(ring, -first, axis=0)
    stops = sorted({*((corners - first) % count).tolist(), 0, count} | ({count // 2} if len(corners) < 2 else set()))
    closed = np.concatenate([ring, ring[:1]])
    segments: list[Segment] = []
    for low, high in pairwise(stops):
        at = low
        while at < high:
            segment, at = _longest(closed, at, high, tolerance)
            segments.append(segment)
    return Contour(tuple(segments))


def _longest(points: _Floats, low: int, high: int, tolerance: float) -> tuple[Segment, int]:
    """The longest line or arc from point `low` on, and where it ends; found by doubling, then halving."""
    best, good = Line(_point(points, low), _point(points, low + 1)), low + 1
    result: Segment = best
    step, bad = 2, high + 1
    while good < high:
        trial = min(low + step, high) if bad > high else (good + bad) // 2
        if trial <= good or trial >= bad:
            break
        segment = _through(points, low, trial, tolerance)
        if segment is None:
            bad = trial
        else:
            result, good = segment, trial
            step *= 2
    return result, good


def _through(points: _Floats, low: int, high: int, tolerance: float) -> Segment | None:
    """A line or arc from one point to another that passes all between them near enough, or None."""
    start, end = _point(points, low), _point(points, high)
    inner = points[low + 1 : high]
    chord = points[high] - points[low]
    size = float(np.hypot(*chord))
    if size == 0.0:
        return None
    normal = np.array([chord[1], -chord[0]]) / size
    rise = (inner - points[low]) @ normal
    if np.abs(rise).max(initial=0.0) <= tolerance:
        return Line(start, end)
    middle = inner[int(np.abs((inner - points[low]) @ (chord / size) - 0.5 * size).argmin())] - points[low]
    # Bulge of the circle through three points: tangent of half the angle left over at the middle one.
    first, second = middle, chord - middle
    turn = math.atan2(float(first[0] * second[1] - first[1] * second[0]), float(first @ second))
    bulge = math.tan(0.5 * turn)
    if abs(turn) > math.radians(150.0) or abs(bulge) * size < tolerance:
        return None
    share = (1.0 - bulge * bulge) / (4.0 * bulge)
    centre = 0.5 * (points[low] + points[high]) + share * np.array([-chord[1], chord[0]])
    radius = size * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    all_points = points[low : high + 1]
    spokes = np.concatenate([all_points, 0.5 * (all_points[1:] + all_points[:-1])]) - centre
    if np.abs(np.hypot(spokes[:, 0], spokes[:, 1]) - radius).max() > tolerance:
        return None
    # The points must also go round the centre one way, or the arc would leave them where they turn back.
    around = spokes[: len(all_points)]
    steps = around[:-1, 0] * around[1:, 1] - around[:-1, 1] * around[1:, 0]
    return Arc(start, end, bulge) if (steps * bulge > 0.0).all() else None


def _point(points: _Floats, i: int) -> Point:
    return (float(points[i, 0]), float(points[i, 1]))
