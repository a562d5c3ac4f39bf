"""The three curves everything is made of: line, circular arc, cubic Bézier.

A segment knows its own end points exactly, so neighbours in a contour share them bit for bit. Arcs are kept as
end points and bulge, the tangent of a quarter of the swept angle (positive anticlockwise): the form that the DXF
LWPOLYLINE holds, that survives mirroring by a change of sign, and that cannot drift from its ends. A full circle
is two arcs of bulge 1.
"""

from __future__ import annotations

from dataclasses import dataclass

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """Straight segment. Points in mm."""

    start: Point
    end: Point


@dataclass(frozen=True, slots=True)
class Arc:
    """Circular arc from start to end. Points in mm; bulge = tan(sweep / 4), positive anticlockwise, never 0."""

    start: Point
    end: Point
    bulge: float


@dataclass(frozen=True, slots=True)
class Cubic:
    """Cubic Bézier segment with its two control points, mm."""

    start: Point
    control1: Point
    control2: Point
    end: Point


Segment = Line | Arc | Cubic
