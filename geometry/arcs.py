"""Arcs and circles by centre, ellipses as cubics, and the three curves read at a parameter.

The parameter t runs from 0 to 1 along a segment: evenly in length on lines and arcs, as the Bézier parameter on cubics.
"""

from __future__ import annotations

import math

from geometry.angles import cos_sin
from geometry.contour import Contour
from geometry.curve import Arc, Cubic, Line, Point, Segment
from geometry.errors import InvalidContour

_QUARTER_ERROR = 2.7253e-4  # radial error of the cubic quarter circle, as a share of the radius; falls with angle^6


def arc_sweep(arc: Arc) -> float:
    """Swept angle, degrees, positive anticlockwise."""
    return math.degrees(4.0 * math.atan(arc.bulge))


def arc_radius(arc: Arc) -> float:
    """Radius, mm: c (1 + b²) / (4 |b|) for chord c and bulge b."""
    chord = math.dist(arc.start, arc.end)
    return chord * (1.0 + arc.bulge * arc.bulge) / (4.0 * abs(arc.bulge))


def arc_centre(arc: Arc) -> Point:
    """Centre of the arc's circle, mm."""
    (x0, y0), (x1, y1) = arc.start, arc.end
    share = (1.0 - arc.bulge * arc.bulge) / (4.0 * arc.bulge)
    return (0.5 * (x0 + x1) - share * (y1 - y0), 0.5 * (y0 + y1) + share * (x1 - x0))


def arc_from_centre(centre: Point, radius: float, start_deg: float, sweep_deg: float) -> Arc | tuple[Arc, Arc]:
    """Arc about a centre; a full turn (±360 degrees) comes back as two half circles.

    Parameters
    ----------
    centre : Point
        mm
    radius : float
        mm, more than 0.
    start_deg, sweep_deg : float
        Degrees; the sweep is positive anticlockwise, -360 to 360, not 0.

    Raises
    ------
    InvalidContour
        If radius or sweep is out of range or not a number.
    """
    if not (math.isfinite(radius) and radius > 0.0):
        raise InvalidContour(f"an arc needs a radius more than 0, got {radius}")
    if not 0.0 < abs(sweep_deg) <= 360.0:
        raise InvalidContour(f"an arc sweeps more than 0 and at most 360 degrees, got {sweep_deg}")
    start = _on_circle(centre, radius, start_deg)
    if abs(sweep_deg) == 360.0:
        half = math.copysign(180.0, sweep_deg)
        middle = _on_circle(centre, radius, start_deg + half)
        bulge = math.copysign(1.0, sweep_deg)
        return Arc(start, middle, bulge), Arc(middle, start, bulge)
    return Arc(start, _on_circle(centre, radius, start_deg + sweep_deg), math.tan(math.radians(sweep_deg) / 4.0))


def circle(centre: Point, radius: float) -> Contour:
    """Full circle, anticlockwise, as two half circles starting at its rightmost point. Centre and radius in mm."""
    halves = arc_from_centre(centre, radius, 0.0, 360.0)
    assert isinstance(halves, tuple)
    return Contour(halves)


def ellipse_arc(
    centre: Point,
    rx: float,
    ry: float,
    rotation_deg: float,
    start_deg: float,
    sweep_deg: float,
    tolerance: float = 1e-4,
) -> tuple[Cubic, ...]:
    """Elliptic arc as cubics within `tolerance` mm of the true ellipse.

    Parameters
    ----------
    centre : Point
        mm
    rx, ry : float
        Half axes, mm.
    rotation_deg : float
        Direction of the rx axis, degrees.
    start_deg, sweep_deg : float
        Eccentric angles (the parameter of (rx cos, ry sin)), degrees; at most a full turn. A full turn ends exactly
        where it starts.
    tolerance : float
        mm
    """
    if not (rx > 0.0 and ry > 0.0 and math.isfinite(rx) and math.isfinite(ry)):
        raise InvalidContour(f"an ellipse needs half axes more than 0, got {rx} and {ry}")
    if not 0.0 < abs(sweep_deg) <= 360.0:
        raise InvalidContour(f"an arc sweeps more than 0 and at most 360 degrees, got {sweep_deg}")
    cosine, sine = cos_sin(rotation_deg)

    def placed(x: float, y: float) -> Point:
        return (centre[0] + cosine * x - sine * y, centre[1] + sine * x + cosine * y)

    count = cubics_per_arc(max(rx, ry), abs(sweep_deg), tolerance)
    step = sweep_deg / count
    handle = 4.0 / 3.0 * math.tan(math.radians(step) / 4.0)
    corners = [cos_sin(start_deg + step * i) for i in range(count + 1)]
    if abs(sweep_deg) == 360.0:
        corners[-1] = corners[0]
    points = [placed(rx * c, ry * s) for c, s in corners]
    cubics = []
    for i in range(count):
        (c0, s0), (c1, s1) = corners[i], corners[i + 1]
        first = placed(rx * (c0 - handle * s0), ry * (s0 + handle * c0))
        second = placed(rx * (c1 + handle * s1), ry * (s1 - handle * c1))
        cubics.append(Cubic(points[i], first, second, points[i + 1]))
    return tuple(cubics)


def cubics_per_arc(radius: float, sweep_deg: float, tolerance: float) -> int:
    """How many equal cubics a circular arc needs to stay within `tolerance` (mm); each sweeps at most 90 degrees."""
    quarters = sweep_deg / 90.0
    finer = quarters * math.pow(_QUARTER_ERROR * radius / tolerance, 1.0 / 6.0)
    return max(1, math.ceil(quarters - 1e-9), math.ceil(finer))


def point_at(segment: Segment, t: float) -> Point:
    """Point at parameter t, mm; the segment's own end points at 0 and 1."""
    if t == 0.0:
        return segment.start
    if t == 1.0:
        return segment.end
    (x0, y0), (x1, y1) = segment.start, segment.end
    match segment:
        case Line():
            return (x0 + t * (x1 - x0), y0 + t * (y1 - y0))
        case Arc(bulge=bulge):
            # Chord to the point, turned and scaled from the whole chord: exact for flat arcs, whose centre is far away.
            half = 2.0 * math.atan(bulge)
            scale = math.sin(t * half) / math.sin(half)
            turn = (1.0 - t) * half
            cosine, sine = math.cos(turn) * scale, math.sin(turn) * scale
            dx, dy = x1 - x0, y1 - y0
            return (x0 + cosine * dx + sine * dy, y0 - sine * dx + cosine * dy)
        case Cubic(control1=(xa, ya), control2=(xb, yb)):
            u = 1.0 - t
            a, b, c, d = u * u * u, 3.0 * u * u * t, 3.0 * u * t * t, t * t * t
            return (a * x0 + b * xa + c * xb + d * x1, a * y0 + b * ya + c * yb + d * y1)


def tangent_at(segment: Segment, t: float) -> Point:
    """Unit vector along the direction of travel at parameter t; (0, 0) when the segment is a single point.

    Where a cubic's derivative vanishes (doubled control point, cusp) the limit from inside the segment is returned.
    """
    (x0, y0), (x1, y1) = segment.start, segment.end
    match segment:
        case Line():
            return _unit(x1 - x0, y1 - y0)
        case Arc(bulge=bulge):
            dx, dy = _unit(x1 - x0, y1 - y0)
            turn = (4.0 * t - 2.0) * math.atan(bulge)
            cosine, sine = math.cos(turn), math.sin(turn)
            return (cosine * dx - sine * dy, sine * dx + cosine * dy)
        case Cubic(control1=(xa, ya), control2=(xb, yb)):
            size = max(abs(v) for v in (xa - x0, ya - y0, xb - x0, yb - y0, x1 - x0, y1 - y0))
            if size == 0.0:
                return (0.0, 0.0)
            u = 1.0 - t
            dx = u * u * (xa - x0) + 2.0 * u * t * (xb - xa) + t * t * (x1 - xb)
            dy = u * u * (ya - y0) + 2.0 * u * t * (yb - ya) + t * t * (y1 - yb)
            if math.hypot(dx, dy) > 1e-9 * size:
                return _unit(dx, dy)
            # The derivative vanishes: the second (or third) one gives the direction, backwards at the far end.
            ddx = u * (xb - 2.0 * xa + x0) + t * (x1 - 2.0 * xb + xa)
            ddy = u * (yb - 2.0 * ya + y0) + t * (y1 - 2.0 * yb + ya)
            side = -1.0 if t > 0.5 else 1.0
            if math.hypot(ddx, ddy) > 1e-9 * size:
                return _unit(side * ddx, side * ddy)
            return _unit(x1 - x0, y1 - y0)


def split_segment(segment: Segment, t: float) -> tuple[Segment, Segment]:
    """The segment in two at parameter t, 0 < t < 1; both halves share the same point bit for bit.

    Raises
    ------
    ValueError
        If t is not strictly inside.
    """
    if not 0.0 < t < 1.0:
        raise ValueError(f"a segment is split inside, 0 < t < 1, got t = {t}")
    middle = point_at(segment, t)
    match segment:
        case Line(start=start, end=end):
            return Line(start, middle), Line(middle, end)
        case Arc(start=start, end=end, bulge=bulge):
            quarter = math.atan(bulge)
            return Arc(start, middle, math.tan(t * quarter)), Arc(middle, end, math.tan((1.0 - t) * quarter))
        case Cubic(start=p0, control1=p1, control2=p2, end=p3):
            p01, p12, p23 = _between(p0, p1, t), _between(p1, p2, t), _between(p2, p3, t)
            return (
                Cubic(p0, p01, _between(p01, p12, t), middle),
                Cubic(middle, _between(p12, p23, t), p23, p3),
            )


def _on_circle(centre: Point, radius: float, degrees: float) -> Point:
    cosine, sine = cos_sin(degrees)
    return (centre[0] + radius * cosine, centre[1] + radius * sine)


def _between(p: Point, q: Point, t: float) -> Point:
    return (p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1]))


def _unit(x: float, y: float) -> Point:
    length = math.hypot(x, y)
    return (x / length, y / length) if length > 0.0 else (0.0, 0.0)
