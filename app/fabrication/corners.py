"""Corners a round cutter cannot enter, and how much of the material it leaves standing there.

Two straight edges that meet under a void of angle a leave, for a cutter of radius r, the area
r² (cot(a/2) - (π - a)/2) and a gap r (1/sin(a/2) - 1) between the corner and the cut; at 90 degrees that is
r² (1 - π/4) and r (√2 - 1). A corner already rounded with a radius smaller than the cutter's leaves the difference.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from geometry.arcs import arc_radius, arc_sweep, point_at, tangent_at
from geometry.contour import Contour, Region
from geometry.curve import Arc, Line, Point, Segment


@dataclass(frozen=True, slots=True)
class TightCorner:
    """A corner that stays partly uncut.

    Fields
    ------
    at : Point
        mm
    radius : float
        Of the corner as drawn, mm; 0 when sharp.
    gap : float
        From the corner to the nearest point the cutter reaches, mm.
    area : float
        Left standing, mm², were its walls straight and long enough to hold the cutter.
    """

    at: Point
    radius: float
    gap: float
    area: float


def tight_corners(region: Region, cutter_radius: float, *, ignore_below: float = 0.01) -> tuple[TightCorner, ...]:
    """Corners of the edge of a part that a cutter running outside the material cannot follow.

    Parameters
    ----------
    region : Region
        Lines and arcs.
    cutter_radius : float
        mm
    ignore_below : float
        A gap smaller than this (mm) is not worth a word.
    """
    found: list[TightCorner] = []
    for contour in (region.outer, *region.holes):
        found += _of_contour(contour, cutter_radius, ignore_below)
    return tuple(found)


def _of_contour(contour: Contour, cutter_radius: float, ignore_below: float) -> list[TightCorner]:
    found = []
    ends = [_directions(segment) for segment in contour.segments]
    for (_, before), (after, _), segment in zip((ends[-1], *ends), ends, contour.segments, strict=False):
        cross = before[0] * after[1] - before[1] * after[0]
        if cross < 0.0:  # a turn to the right, into the material
            turn = math.atan2(-cross, before[0] * after[0] + before[1] * after[1])
            found.append(_corner(segment.start, 0.0, turn, cutter_radius))
    for segment in contour.segments:
        # Material lies to the left, so an arc that bends right curves round the void, where the cutter runs.
        if isinstance(segment, Arc) and segment.bulge < 0.0 and arc_radius(segment) < cutter_radius:
            turn = math.radians(-arc_sweep(segment))
            found.append(_corner(point_at(segment, 0.5), arc_radius(segment), turn, cutter_radius))
    return [corner for corner in found if corner.gap >= ignore_below]


def _corner(at: Point, radius: float, turn: float, cutter_radius: float) -> TightCorner:
    """Corner of a void whose edge turns by `turn` radians; beyond a half turn the walls never meet, so it is capped."""
    half = min(turn, math.radians(170.0)) / 2.0
    short = cutter_radius - radius
    return TightCorner(
        at=at,
        radius=radius,
        gap=short * (1.0 / math.cos(half) - 1.0),
        area=(cutter_radius**2 - radius**2) * (math.tan(half) - half),
    )


def _directions(segment: Segment) -> tuple[Point, Point]:
    """Directions at the start and the end of a segment, of any length."""
    x, y = segment.end[0] - segment.start[0], segment.end[1] - segment.start[1]
    if isinstance(segment, Line):
        return (x, y), (x, y)
    if isinstance(segment, Arc):
        # The chord turned by half the sweep, either way: cos and sin of it are (1 - b²) and 2 b over 1 + b².
        c, s = 1.0 - segment.bulge**2, 2.0 * segment.bulge
        return (c * x + s * y, c * y - s * x), (c * x - s * y, c * y + s * x)
    return tangent_at(segment, 0.0), tangent_at(segment, 1.0)
