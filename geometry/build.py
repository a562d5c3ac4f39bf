"""Contours and regions from points and segments, checked and oriented."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from geometry.contour import Contour, Region
from geometry.curve import Arc, Cubic, Line, Point, Segment
from geometry.errors import InvalidContour, OpenContour
from geometry.measure import contour_area

JOIN_SNAP = 1e-6
"""Neighbours whose ends are this close (mm) are the same point up to rounding, and are joined."""


def polygon(points: Iterable[Sequence[float]]) -> Contour:
    """Closed contour of straight lines through the points (mm), in their order; repeated points are left out.

    Raises
    ------
    InvalidContour
        If fewer than three distinct points remain or one is not finite.
    """
    ring: list[Point] = []
    for raw in points:
        point = (float(raw[0]), float(raw[1]))
        if not ring or point != ring[-1]:
            ring.append(point)
    if len(ring) > 1 and ring[0] == ring[-1]:
        ring.pop()
    if len(ring) < 3:
        raise InvalidContour(f"a polygon needs three distinct points, got {len(ring)}")
    return closed(Line(p, q) for p, q in zip(ring, ring[1:] + ring[:1], strict=True))


def rectangle(width: float, height: float, at: Point = (0.0, 0.0)) -> Contour:
    """Rectangle, anticlockwise, with its lower left corner at `at`; all in mm.

    Raises
    ------
    InvalidContour
        If width or height is not more than 0.
    """
    if not (width > 0.0 and height > 0.0):
        raise InvalidContour(f"a rectangle needs a width and a height more than 0, got {width} by {height}")
    x, y = float(at[0]), float(at[1])
    return polygon([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def closed(segments: Iterable[Segment]) -> Contour:
    """Closed contour of the segments in their order.

    Ends within 1e-6 mm of each other are made equal; segments without length are left out.

    Raises
    ------
    InvalidContour
        If there is nothing with a length, neighbours do not meet, or a coordinate is not finite.
    OpenContour
        If the last end does not meet the first start.
    """
    chain = _chain(segments)
    first, last = chain[0], chain[-1]
    gap = math.dist(last.end, first.start)
    if gap > JOIN_SNAP:
        raise OpenContour(gap, last.end)
    if gap > 0.0:
        chain[-1] = replace(last, end=first.start)
    return Contour(tuple(chain))


def open_chain(segments: Iterable[Segment]) -> Contour:
    """Open contour of the segments in their order, checked like ``closed`` but with free ends."""
    return Contour(tuple(_chain(segments)), is_closed=False)


def reversed_segment(segment: Segment) -> Segment:
    """The same curve run from its end to its start."""
    match segment:
        case Line(start=start, end=end):
            return Line(end, start)
        case Arc(start=start, end=end, bulge=bulge):
            return Arc(end, start, -bulge)
        case Cubic(start=start, control1=control1, control2=control2, end=end):
            return Cubic(end, control2, control1, start)


def reversed_contour(contour: Contour) -> Contour:
    """The same contour run the other way round."""
    return Contour(tuple(reversed_segment(s) for s in reversed(contour.segments)), contour.is_closed)


def region(outer: Contour, holes: Iterable[Contour] = ()) -> Region:
    """Region from closed contours of any direction: outer made anticlockwise, holes clockwise.

    Whether the holes lie inside, and apart, is not checked here; ``regions_from_contours`` works that out.

    Raises
    ------
    InvalidContour
        If a contour is open or encloses no area.
    """
    return Region(_oriented(outer, anticlockwise=True), tuple(_oriented(hole, anticlockwise=False) for hole in holes))


def _oriented(contour: Contour, *, anticlockwise: bool) -> Contour:
    if not contour.is_closed:
        first, last = contour.segments[0].start, contour.segments[-1].end
        raise OpenContour(math.dist(first, last), last)
    area = contour_area(contour)
    if area == 0.0:
        raise InvalidContour(f"the contour at {_place(contour.segments[0].start)} encloses no area")
    return contour if (area > 0.0) == anticlockwise else reversed_contour(contour)


def _chain(segments: Iterable[Segment]) -> list[Segment]:
    chain: list[Segment] = []
    for segment in segments:
        if not is_finite(segment):
            raise InvalidContour(f"a segment has a value that is not a finite number: {segment}")
        if has_no_length(segment):
            continue
        if chain:
            gap = math.dist(chain[-1].end, segment.start)
            if gap > JOIN_SNAP:
                raise InvalidContour(
                    f"a segment starts {gap:.6g} mm from the end of the one before, at {_place(segment.start)}"
                )
            if gap > 0.0:
                segment = replace(segment, start=chain[-1].end)
        chain.append(segment)
    if not chain:
        raise InvalidContour("a contour needs at least one segment with a length")
    return chain


def is_finite(segment: Segment) -> bool:
    """Whether every number of the segment is finite."""
    values = [*segment.start, *segment.end]
    match segment:
        case Arc(bulge=bulge):
            values.append(bulge)
        case Cubic(control1=control1, control2=control2):
            values += [*control1, *control2]
        case Line():
            pass
    return all(map(math.isfinite, values))


def has_no_length(segment: Segment) -> bool:
    """Whether the segment is a single point. An arc that ends where it starts has no circle and counts as a point."""
    if segment.start != segment.end:
        return False
    return not isinstance(segment, Cubic) or segment.control1 == segment.control2 == segment.start


def _place(point: Point) -> str:
    return f"({point[0]:.2f}, {point[1]:.2f})"
