"""Areas, lengths, bounds, and whether a point is inside; exact, but for the length of cubics."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.arcs import arc_centre, arc_radius
from geometry.contour import Contour, Region
from geometry.curve import Arc, Cubic, Line, Point, Segment

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
_NODES, _WEIGHTS = 0.5 * (_NODES + 1.0), 0.5 * _WEIGHTS
_BERNSTEIN = np.stack([(1.0 - _NODES) ** 2, 2.0 * (1.0 - _NODES) * _NODES, _NODES**2], axis=1)
_FEW = 64  # segments that are quicker measured one by one
_LENGTH_ACCURACY = 1e-10  # relative; the stated 1e-9 with a margin


@dataclass(frozen=True, slots=True)
class Bounds:
    """Smallest upright rectangle round something, mm."""

    min_x: float
    min_y: float
    max_x: float
    max_y: float

    @property
    def width(self) -> float:
        """Extent along x, mm."""
        return self.max_x - self.min_x

    @property
    def height(self) -> float:
        """Extent along y, mm."""
        return self.max_y - self.min_y

    @property
    def centre(self) -> Point:
        """Middle of the rectangle, mm."""
        return (0.5 * (self.min_x + self.max_x), 0.5 * (self.min_y + self.max_y))

    def union(self, other: Bounds) -> Bounds:
        """Smallest bounds holding both."""
        return Bounds(
            min(self.min_x, other.min_x),
            min(self.min_y, other.min_y),
            max(self.max_x, other.max_x),
            max(self.max_y, other.max_y),
        )


def segment_length(segment: Segment) -> float:
    """Length, mm; cubics by quadrature to 1e-9 of their length."""
    match segment:
        case Line(start=start, end=end):
            return math.dist(start, end)
        case Arc(start=start, end=end, bulge=bulge):
            return math.dist(start, end) * (1.0 + bulge * bulge) * math.atan(bulge) / bulge
        case Cubic():
            return _cubic_length(segment)


def contour_length(contour: Contour) -> float:
    """Length along the contour, mm."""
    return math.fsum(map(segment_length, contour.segments))


def contour_area(contour: Contour) -> float:
    """Signed area, mm², positive when anticlockwise.

    A contour crossing itself counts by its winding; an open one is closed by a line.
    """
    if not contour.segments:
        return 0.0
    origin = contour.segments[0].start  # nearby, so that far-away artwork loses no digits
    return math.fsum(_area_under(segment, origin) for segment in contour.segments)


def contour_bounds(contour: Contour) -> Bounds:
    """Exact bounds of the curves (not of their control points), mm."""
    xs: list[float] = []
    ys: list[float] = []
    for segment in contour.segments:
        xs += (segment.start[0], segment.end[0])
        ys += (segment.start[1], segment.end[1])
        match segment:
            case Arc():
                for x, y in _arc_extremes(segment):
                    xs.append(x)
                    ys.append(y)
            case Cubic(start=p0, control1=p1, control2=p2, end=p3):
                xs += _cubic_extremes(p0[0], p1[0], p2[0], p3[0])
                ys += _cubic_extremes(p0[1], p1[1], p2[1], p3[1])
            case Line():
                pass
    return Bounds(min(xs), min(ys), max(xs), max(ys))


def bounds_of_each(contours: Sequence[Contour]) -> NDArray[np.float64]:
    """Bounds of many contours at once: rows (n, 4) of least x, least y, greatest x, greatest y, mm."""
    segments = [segment for contour in contours for segment in contour.segments]
    if len(segments) < _FEW:
        boxes = [contour_bounds(contour) for contour in contours]
        return np.array([(box.min_x, box.min_y, box.max_x, box.max_y) for box in boxes]).reshape(-1, 4)
    ends = np.array([(segment.start, segment.end) for segment in segments])
    low, high = ends.min(axis=1), ends.max(axis=1)
    arcs = [i for i, segment in enumerate(segments) if isinstance(segment, Arc)]
    if arcs:
        bulge = np.array([segment.bulge for segment in segments if isinstance(segment, Arc)])
        (x0, y0), (dx, dy) = ends[arcs, 0].T, (ends[arcs, 1] - ends[arcs, 0]).T
        share = (1.0 - bulge * bulge) / (4.0 * bulge)
        centre = ends[arcs].mean(axis=1) + share[:, None] * np.stack([-dy, dx], axis=1)
        radius = np.hypot(dx, dy) * (1.0 + bulge * bulge) / (4.0 * np.abs(bulge))
        for away in ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)):
            place = centre + radius[:, None] * np.array(away)
            # As in _arc_extremes: the arc lies to the right of its chord when anticlockwise.
            passed = (dx * (place[:, 1] - y0) - dy * (place[:, 0] - x0)) * bulge < 0.0
            which = np.array(arcs)[passed]
            low[which], high[which] = np.minimum(low[which], place[passed]), np.maximum(high[which], place[passed])
    for i, segment in enumerate(segments):
        if isinstance(segment, Cubic):
            box = contour_bounds(Contour((segment,), is_closed=False))
            low[i], high[i] = (box.min_x, box.min_y), (box.max_x, box.max_y)
    first = np.cumsum([0, *(len(contour.segments) for contour in contours[:-1])])
    return np.hstack([np.minimum.reduceat(low, first), np.maximum.reduceat(high, first)])


def region_area(region: Region) -> float:
    """Material area, mm²: the outer contour less its holes."""
    return contour_area(region.outer) + math.fsum(contour_area(hole) for hole in region.holes)


def region_perimeter(region: Region) -> float:
    """Length of all edges, holes included, mm."""
    return contour_length(region.outer) + math.fsum(contour_length(hole) for hole in region.holes)


def region_bounds(region: Region) -> Bounds:
    """Exact bounds, mm."""
    return contour_bounds(region.outer)


def point_in_region(point: Point, region: Region) -> bool:
    """Whether the point (mm) lies in the material. Points on an edge (within rounding) may come out either way."""
    return _crosses_odd(point, region.outer) and not any(_crosses_odd(point, hole) for hole in region.holes)


def point_in_contour(point: Point, contour: Contour) -> bool:
    """Whether the point (mm) lies inside a closed contour, by the even-odd rule."""
    return _crosses_odd(point, contour)


def _area_under(segment: Segment, origin: Point) -> float:
    """Half the integral of x dy - y dx along the segment, about `origin`."""
    ox, oy = origin
    x0, y0, x1, y1 = segment.start[0] - ox, segment.start[1] - oy, segment.end[0] - ox, segment.end[1] - oy
    chord = x0 * y1 - y0 * x1
    match segment:
        case Line():
            return 0.5 * chord
        case Arc(bulge=bulge):
            # The circular segment, R² (θ - sin θ) / 2, written in chord and bulge.
            b2 = bulge * bulge
            return 0.5 * chord + math.dist(segment.start, segment.end) ** 2 * _segment_share(bulge, b2)
        case Cubic(control1=control1, control2=control2):
            xa, ya, xb, yb = control1[0] - ox, control1[1] - oy, control2[0] - ox, control2[1] - oy
            # Green's theorem on the Bernstein form (the integrals of products of Bernstein polynomials are rational).
            return (
                6.0 * (x0 * ya - y0 * xa)
                + 3.0 * (x0 * yb - y0 * xb)
                + chord
                + 3.0 * (xa * yb - ya * xb)
                + 3.0 * (xa * y1 - ya * x1)
                + 6.0 * (xb * y1 - yb * x1)
            ) / 20.0


def _segment_share(bulge: float, b2: float) -> float:
    """Area between an arc and its chord over the chord squared; signed like the bulge."""
    if b2 < 1e-4:  # θ - sin θ cancels; series of ((1 + b²)² atan b - b (1 - b²)) / (8 b²) in b
        return bulge * (1.0 / 3.0 + b2 * (1.0 / 15.0 - b2 / 105.0))
    return ((1.0 + b2) ** 2 * math.atan(bulge) - bulge * (1.0 - b2)) / (8.0 * b2)


def _arc_extremes(arc: Arc) -> list[Point]:
    """The points of the arc's circle furthest right, up, left, down, where the arc passes them."""
    (cx, cy), radius = arc_centre(arc), arc_radius(arc)
    (x0, y0), (x1, y1) = arc.start, arc.end
    dx, dy = x1 - x0, y1 - y0
    found = []
    for x, y in ((cx + radius, cy), (cx, cy + radius), (cx - radius, cy), (cx, cy - radius)):
        # The arc lies to the right of its chord when anticlockwise, to the left when clockwise.
        if (dx * (y - y0) - dy * (x - x0)) * arc.bulge < 0.0:
            found.append((x, y))
    return found


def _cubic_extremes(p0: float, p1: float, p2: float, p3: float) -> list[float]:
    """Values of one coordinate where its derivative vanishes inside the cubic."""
    low, high = min(p0, p3), max(p0, p3)
    if low <= p1 <= high and low <= p2 <= high:
        return []
    a, b, c = p3 - p0 + 3.0 * (p1 - p2), 2.0 * (p0 - 2.0 * p1 + p2), p1 - p0
    values = []
    for t in quadratic_roots(a, b, c):
        if 0.0 < t < 1.0:
            u = 1.0 - t
            values.append(u * u * u * p0 + 3.0 * u * u * t * p1 + 3.0 * u * t * t * p2 + t * t * t * p3)
    return values


def quadratic_roots(a: float, b: float, c: float) -> tuple[float, ...]:
    """Real roots of a t² + b t + c, without cancellation; none when a and b vanish."""
    if abs(a) < 1e-14 * (abs(b) + abs(c)):
        return (-c / b,) if b != 0.0 else ()
    discriminant = b * b - 4.0 * a * c
    if discriminant < 0.0:
        return ()
    q = -0.5 * (b + math.copysign(math.sqrt(discriminant), b))
    return (q / a, c / q) if q != 0.0 else (0.0,)


def _cubic_length(cubic: Cubic) -> float:
    points = np.array([cubic.start, cubic.control1, cubic.control2, cubic.end])
    derivative = 3.0 * np.diff(points, axis=0)
    if not derivative.any():
        return 0.0
    whole = _gauss(derivative)
    return _halved(derivative, whole, whole, 0)


def _gauss(derivative: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> float:
    return float(_WEIGHTS @ np.hypot(*(_BERNSTEIN @ derivative).T))


def _halved(
    derivative: np.ndarray[tuple[int, int], np.dtype[np.float64]], value: float, total: float, depth: int
) -> float:
    d0, d1, d2 = derivative
    d01, d12 = 0.5 * (d0 + d1), 0.5 * (d1 + d2)
    middle = 0.5 * (d01 + d12)
    left, right = 0.5 * np.array([d0, d01, middle]), 0.5 * np.array([middle, d12, d2])
    first, second = _gauss(left), _gauss(right)
    if abs(first + second - value) <= _LENGTH_ACCURACY * total or depth >= 40:
        return first + second
    return _halved(left, first, total, depth + 1) + _halved(right, second, total, depth + 1)


def _crosses_odd(point: Point, contour: Contour) -> bool:
    """Even-odd rule: crossings of the ray to the right with the chords, and the caps between chord and curve."""
    x, y = point
    odd = False
    for segment in contour.segments:
        (x0, y0), (x1, y1) = segment.start, segment.end
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) * (x1 - x0) / (y1 - y0):
            odd = not odd
        match segment:
            case Arc():
                odd ^= _in_arc_cap(point, segment)
            case Cubic():
                odd ^= _in_cubic_cap(point, (segment.start, segment.control1, segment.control2, segment.end))
            case Line():
                pass
    return odd


def _in_arc_cap(point: Point, arc: Arc) -> bool:
    (x0, y0), (x1, y1) = arc.start, arc.end
    side = (x1 - x0) * (point[1] - y0) - (y1 - y0) * (point[0] - x0)
    # The half plane is closed on the same side as the chord's own crossing test is, so that points on the chord agree.
    below = side < 0.0 if side != 0.0 else _left_of_zero(x1 - x0, y1 - y0)
    if below != (arc.bulge > 0.0):
        return False
    return math.dist(point, arc_centre(arc)) < arc_radius(arc)


def _left_of_zero(dx: float, dy: float) -> bool:
    """On which side of a chord the crossing test puts a point exactly on it: True for the right side."""
    return dy > 0.0 or (dy == 0.0 and dx < 0.0)


def _in_cubic_cap(point: Point, control: tuple[Point, Point, Point, Point], depth: int = 0) -> bool:
    """Even-odd rule for the closed curve made of a cubic and its chord, by halving."""
    x, y = point
    p0, p1, p2, p3 = control
    ys = (p0[1], p1[1], p2[1], p3[1])
    if y < min(ys) or y > max(ys) or x > max(p0[0], p1[0], p2[0], p3[0]) or depth > 50:
        return False
    if x < min(p0[0], p1[0], p2[0], p3[0]):
        return False  # left of the whole closed curve: the ray crosses curve and chord equally often
    p01, p12, p23 = _middle(p0, p1), _middle(p1, p2), _middle(p2, p3)
    p012, p123 = _middle(p01, p12), _middle(p12, p23)
    middle = _middle(p012, p123)
    odd = False
    for (xa, ya), (xb, yb) in ((p0, middle), (middle, p3), (p3, p0)):
        if (ya > y) != (yb > y) and x < xa + (y - ya) * (xb - xa) / (yb - ya):
            odd = not odd
    return (
        odd
        ^ _in_cubic_cap(point, (p0, p01, p012, middle), depth + 1)
        ^ _in_cubic_cap(point, (middle, p123, p23, p3), depth + 1)
    )


def _middle(p: Point, q: Point) -> Point:
    return (0.5 * (p[0] + q[0]), 0.5 * (p[1] + q[1]))
