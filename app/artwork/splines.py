"""B-splines and NURBS as cubic Bézier pieces.

Non-rational splines up to degree 3 convert exactly, by blossoming each knot span; all others are fitted by cubics that
share end points and end tangents with the curve. The curve is taken on the knots' valid range [u_p, u_n], which is
where a spline with unclamped knots lives (Piegl and Tiller, The NURBS Book, 2nd ed., chapters 2.2, 4.2 and 12.2).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline

from geometry.curve import Cubic, Line, Point, Segment

Floats = NDArray[np.float64]
_MOST_DEGREE = 24
_MOST_HALVINGS = 12
_SAMPLES = np.linspace(0.0, 1.0, 9)[1:-1]


class BadSpline(ValueError):
    """Spline data that define no curve."""


def spline_segments(
    degree: int,
    knots: Sequence[float],
    control_points: Sequence[Point],
    weights: Sequence[float] | None = None,
    *,
    tolerance: float = 1e-4,
) -> tuple[tuple[Segment, ...], bool]:
    """Segments of a B-spline, and whether they are exact.

    Parameters
    ----------
    degree : int
        1 to 24.
    knots : sequence of float
        Non-decreasing, ``len(control_points) + degree + 1`` of them.
    control_points : sequence of (x, y)
    weights : sequence of float, optional
        Positive, one per control point; None or all equal means non-rational.
    tolerance : float
        Largest deviation where the conversion is not exact, in the unit of the points.

    Raises
    ------
    BadSpline
        If the data are inconsistent, not finite, or have no valid range.
    """
    points = np.array(control_points, dtype=np.float64).reshape(-1, 2)
    knot = np.array(knots, dtype=np.float64)
    count = len(points)
    if not 1 <= degree <= _MOST_DEGREE:
        raise BadSpline(f"degree {degree} is outside 1 to {_MOST_DEGREE}")
    if count <= degree:
        raise BadSpline(f"degree {degree} needs {degree + 1} control points, there are {count}")
    if len(knot) != count + degree + 1:
        raise BadSpline(f"{count} control points of degree {degree} need {count + degree + 1} knots, not {len(knot)}")
    if not (np.isfinite(points).all() and np.isfinite(knot).all()):
        raise BadSpline("a value is not a finite number")
    if (np.diff(knot) < 0.0).any():
        raise BadSpline("the knots do not increase")
    if not knot[degree] < knot[count]:
        raise BadSpline("the knots leave no valid range")
    weight = _weights(weights, count)
    if weight is None and degree <= 3:
        return _exact(degree, knot, points), True
    return _fitted(degree, knot, points, weight, tolerance), False


def _weights(weights: Sequence[float] | None, count: int) -> Floats | None:
    if not weights:
        return None
    values = np.array(weights, dtype=np.float64)
    if len(values) != count or not np.isfinite(values).all() or (values <= 0.0).any():
        raise BadSpline("the weights must be one positive number per control point")
    if np.ptp(values) <= 1e-12 * values.max():
        return None
    return values


def _spans(degree: int, knot: Floats) -> list[tuple[int, float, float]]:
    """Non-empty knot spans of the valid range: index of the span, its start and its end."""
    count = len(knot) - degree - 1
    return [
        (index, float(knot[index]), float(knot[index + 1]))
        for index in range(degree, count)
        if knot[index] < knot[index + 1]
    ]


def _blossom(degree: int, knot: Floats, points: Floats, span: int, arguments: Sequence[float]) -> Floats:
    """Polar form of one span at `degree` arguments (Ramshaw): de Boor's scheme, another argument in each round."""
    work = points[span - degree : span + 1].copy()
    for round_ in range(1, degree + 1):
        u = arguments[round_ - 1]
        for j in range(degree, round_ - 1, -1):
            low, high = knot[span - degree + j], knot[span + 1 + j - round_]
            share = (u - low) / (high - low)
            work[j] = (1.0 - share) * work[j - 1] + share * work[j]
    corner: Floats = work[degree]
    return corner


def _exact(degree: int, knot: Floats, points: Floats) -> tuple[Segment, ...]:
    segments: list[Segment] = []
    at: Point | None = None
    for span, low, high in _spans(degree, knot):
        bezier = [
            _blossom(degree, knot, points, span, [low] * (degree - ups) + [high] * ups) for ups in range(degree + 1)
        ]
        corners: list[Point] = [(float(x), float(y)) for x, y in bezier]
        start = corners[0] if at is None or math.dist(at, corners[0]) > 1e-6 else at
        if at is not None and start is not at:
            segments.append(Line(at, start))  # a knot as often as the degree plus one: the curve jumps there
        at = corners[-1]
        segment = _segment_of(degree, start, corners)
        if segment is not None:
            segments.append(segment)
    return tuple(segments)


def _segment_of(degree: int, start: Point, corners: list[Point]) -> Segment | None:
    end = corners[-1]
    if all(corner == start for corner in corners[1:]):
        return None
    if degree == 1:
        return Line(start, end)
    if degree == 2:
        (cx, cy) = corners[1]
        third = 2.0 / 3.0
        return Cubic(
            start,
            (start[0] + third * (cx - start[0]), start[1] + third * (cy - start[1])),
            (end[0] + third * (cx - end[0]), end[1] + third * (cy - end[1])),
            end,
        )
    return Cubic(start, corners[1], corners[2], end)


class _Curve:
    """The true curve with its derivative, rational or not."""

    def __init__(self, degree: int, knot: Floats, points: Floats, weight: Floats | None) -> None:
        share = np.ones(len(points)) if weight is None else weight
        self._lifted = BSpline(knot, np.column_stack((points * share[:, None], share)), degree)
        self._slope = self._lifted.derivative()

    def at(self, u: Floats) -> Floats:
        lifted = self._lifted(u)
        return np.asarray(lifted[:, :2] / lifted[:, 2:], dtype=np.float64)

    def slope(self, u: Floats) -> Floats:
        lifted, slope = self._lifted(u), self._slope(u)
        place = lifted[:, :2] / lifted[:, 2:]
        return np.asarray((slope[:, :2] - place * slope[:, 2:]) / lifted[:, 2:], dtype=np.float64)


def _fitted(degree: int, knot: Floats, points: Floats, weight: Floats | None, tolerance: float) -> tuple[Segment, ...]:
    curve = _Curve(degree, knot, points, weight)
    pieces: list[Cubic] = []
    for _span, low, high in _spans(degree, knot):
        waiting = [(low, high, 0)]
        while waiting:
            start, end, depth = waiting.pop()
            cubic = _hermite(curve, start, end)
            u = start + (end - start) * _SAMPLES
            off = float(np.abs(_bezier(cubic, _SAMPLES) - curve.at(u)).max())
            if off <= tolerance or depth >= _MOST_HALVINGS:
                pieces.append(cubic)
            else:
                middle = (start + end) / 2.0
                waiting += [(middle, end, depth + 1), (start, middle, depth + 1)]
    out: list[Segment] = [pieces[0]]
    for before, cubic in itertools.pairwise(pieces):
        joint = before.end if math.dist(before.end, cubic.start) <= 1e-6 else cubic.start
        if joint != before.end:
            out.append(Line(before.end, joint))
        out.append(Cubic(joint, cubic.control1, cubic.control2, cubic.end))
    return tuple(out)


def _hermite(curve: _Curve, start: float, end: float) -> Cubic:
    # Inside the span, so that a sharp knot gives this side's tangent.
    nudge = (end - start) * 1e-9
    u = np.array([start, end])
    place = curve.at(u)
    slope = curve.slope(np.array([start + nudge, end - nudge])) * ((end - start) / 3.0)
    first, second = place[0] + slope[0], place[1] - slope[1]
    return Cubic(_point(place[0]), _point(first), _point(second), _point(place[1]))


def _bezier(cubic: Cubic, t: Floats) -> Floats:
    corners = np.array([cubic.start, cubic.control1, cubic.control2, cubic.end])
    s = 1.0 - t
    basis = np.column_stack((s**3, 3.0 * s * s * t, 3.0 * s * t * t, t**3))
    return np.asarray(basis @ corners, dtype=np.float64)


def _point(values: Floats) -> Point:
    return (float(values[0]), float(values[1]))
