"""Checks of what a reader built, before anything is calculated with it."""

from __future__ import annotations

import math
from collections.abc import Iterable

from geometry.contour import Contour
from geometry.curve import Cubic, Line, Segment
from geometry.measure import contour_bounds
from geometry.transform import Affine


def reach(contours: Iterable[Contour]) -> float:
    """Largest absolute coordinate of any end or control point; nan when one of them is not a number."""
    most = 0.0
    for contour in contours:
        for segment in contour.segments:
            points = [segment.start, segment.end]
            if isinstance(segment, Cubic):
                points += [segment.control1, segment.control2]
            for x, y in points:
                if not (math.isfinite(x) and math.isfinite(y)):
                    return math.nan
                most = max(most, abs(x), abs(y))
    return most


def stretch(matrix: Affine) -> float:
    """Upper bound of how much a map lengthens anything (row sum norm of its linear part)."""
    return max(abs(matrix.a) + abs(matrix.c), abs(matrix.b) + abs(matrix.d))


def stays_within(contours: tuple[Contour, ...], matrix: Affine, limit: float) -> bool:
    """Whether the mapped contours certainly stay within `limit` of the origin."""
    # Written so that nan answers no.
    return reach(contours) * stretch(matrix) + max(abs(matrix.e), abs(matrix.f)) <= limit


def is_past(contours: Iterable[Contour], width: float, height: float) -> bool:
    """Whether contours reach past a page of this size at (0, 0) by more than a thousandth of it."""
    slack = 1e-3 * max(width, height)
    boxes = [contour_bounds(contour) for contour in contours]
    return any(
        box.min_x < -slack or box.min_y < -slack or box.max_x > width + slack or box.max_y > height + slack
        for box in boxes
    )


def closed_by_line(contour: Contour) -> Contour:
    """The contour closed by a straight line between its ends; closed ones as they are."""
    if contour.is_closed:
        return contour
    start, end = contour.segments[0].start, contour.segments[-1].end
    closing: tuple[Segment, ...] = () if start == end else (Line(end, start),)
    return Contour(contour.segments + closing, is_closed=True)


def is_one_line(contour: Contour) -> bool:
    """Whether a contour is nothing but one straight line, which encloses nothing."""
    return len(contour.segments) == 1 and isinstance(contour.segments[0], Line)
