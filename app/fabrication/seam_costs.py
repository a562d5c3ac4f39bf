"""How good a place for a seam is: what a straight line crosses, how sound it is there, and what stands near.

All is judged in a frame turned so that seams run upright, at x = c. A seam costs its length, something for every
stroke it crosses, and much for a stroke too narrow to join, for a corner or the tip of a counter near by, and for an
edge it meets at a slant. Costs are in mm of seam.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.contour import Region
from geometry.curve import Point
from geometry.flatten import flatten_region

Floats = NDArray[np.float64]

STROKE: Final = 250.0
NARROW: Final = 2000.0
NEAR: Final = 1500.0
SLANTED: Final = 800.0
SLIVER: Final = 3000.0
UNEQUAL: Final = 400.0
STAGGER: Final = 4000.0

_FLATTENED: Final = 0.25
_CORNER: Final = math.radians(20.0)  # bends tighter than about 16 mm count as corners too
_LEAST_SINE: Final = 0.5  # a seam that meets an edge under less than 30 degrees leaves a feather


@dataclass(frozen=True, slots=True)
class SeamLimits:
    """What a sound seam keeps to, mm.

    Fields
    ------
    clearance : float
        From corners and from the tips of counters and strokes.
    least_stroke : float
        Narrowest stroke a seam may cross.
    least_piece : float
        Narrowest piece a seam should leave.
    stagger : float
        From parallel seams of the layers beside it.
    step : float
        Seams stand at whole multiples of this from the left or the bottom, so that they can be measured out.
    holes : tuple of Point
        Middles of holes to be drilled, to stay clear of as of corners.
    lap : float
        How far the piece left of a seam lies over the other.
    """

    clearance: float
    least_stroke: float
    least_piece: float
    stagger: float
    step: float = 25.4 / 16.0
    holes: tuple[Point, ...] = ()
    lap: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Rims:
    """The edges of a region as chords, and its corners and upright tangents, in a frame turned by `turn` degrees.

    Fields
    ------
    turn : float
    starts, ends : (n, 2) float64, mm
    points : (k, 2) float64, mm
        Corners and tips.
    """

    turn: float
    starts: Floats
    ends: Floats
    points: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """A seam at x = c in the turned frame.

    Fields
    ------
    x : float
    spans : (k, 2) float64
        From and to, along y, within the material.
    cost : float
        mm of seam
    nearest : float
        To the nearest corner or tip, mm; no more than is looked for.
    narrowest : float
        Narrowest stroke crossed, mm; infinite when none is.
    """

    x: float
    spans: Floats
    cost: float
    nearest: float
    narrowest: float


def rims_of(polygon: Any, seam_angle: float, holes: tuple[Point, ...] = ()) -> Rims:
    """Edges of a shapely polygon, and holes, in the frame where seams of that direction (degrees) run upright."""
    turn = 90.0 - seam_angle
    starts, ends, points = [], [], []
    for ring in (polygon.exterior, *polygon.interiors):
        turned = _turned(shapely.get_coordinates(ring)[:-1], turn)
        following = np.roll(turned, -1, axis=0)
        starts.append(turned)
        ends.append(following)
        after, before = following - turned, turned - np.roll(turned, 1, axis=0)
        cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        is_corner = np.abs(np.arctan2(cross, (before * after).sum(axis=1))) > _CORNER
        points.append(turned[is_corner | (after[:, 0] * before[:, 0] <= 0.0)])
    if holes:
        points.append(_turned(np.array(holes), turn))
    return Rims(turn, np.concatenate(starts), np.concatenate(ends), np.concatenate(points))


def polygon_of(region: Region) -> Any:
    """A region as the shapely polygon that seams are judged on."""
    outline = flatten_region(region, _FLATTENED)
    return shapely.Polygon(outline.outer, outline.holes)


def place_at(rims: Rims, x: float, limits: SeamLimits, *, within: tuple[float, float] | None = None) -> Place:
    """What a seam at x crosses and what it costs; `within` some stretch of y only, where that is given."""
    y, sine = _crossings(rims, x)
    if len(y) < 2:
        return Place(x, np.empty((0, 2)), math.inf, limits.clearance, math.inf)
    spans = y[: len(y) // 2 * 2].reshape(-1, 2)
    if within is not None:  # a seam that ends at another one begins within the material
        spans, sine = np.clip(spans, *within), sine[(y >= within[0]) & (y <= within[1])]
    lengths = spans[:, 1] - spans[:, 0]
    spans, lengths = spans[lengths > 0.1], lengths[lengths > 0.1]
    if len(spans) == 0:
        return Place(x, spans, math.inf, limits.clearance, math.inf)
    narrow = _short_of(lengths, limits.least_stroke)
    slanted = float(np.maximum(0.0, 1.0 - sine / _LEAST_SINE).sum())
    nearest, near = limits.clearance, 0.0
    if limits.clearance > 0.0:
        close = rims.points[np.abs(rims.points[:, 0] - x) < limits.clearance]
        if len(close):
            low = spans[None, :, 0] - close[:, 1:]
            high = close[:, 1:] - spans[None, :, 1]
            aside = np.maximum(np.maximum(low, high), 0.0).min(axis=1)
            distance = np.hypot(close[:, 0] - x, aside)
            nearest = min(nearest, float(distance.min()))
            near = _short_of(distance, limits.clearance)
    cost = float(lengths.sum()) + STROKE * len(spans) + NARROW * narrow + SLANTED * slanted + NEAR * near
    return Place(x, spans, cost, nearest, float(lengths.min()))


def _short_of(values: Floats, limit: float) -> float:
    """How badly values fall short of a limit: 1 for each that does, and the share that it lacks."""
    short = values[values < limit]
    return float((2.0 - short / limit).sum()) if len(short) else 0.0


def turn_point(point: Point, degrees: float) -> Point:
    """A point turned about the origin."""
    turned = _turned(np.array([point]), degrees)[0]
    return float(turned[0]), float(turned[1])


def _crossings(rims: Rims, x: float) -> tuple[Floats, Floats]:
    """Where the upright line at x crosses the edges, in order, and the sine of the angle there."""
    before, after = rims.starts[:, 0] <= x, rims.ends[:, 0] <= x
    crossed = before != after
    start, end = rims.starts[crossed], rims.ends[crossed]
    share = (x - start[:, 0]) / (end[:, 0] - start[:, 0])
    y = start[:, 1] + share * (end[:, 1] - start[:, 1])
    length = np.hypot(end[:, 0] - start[:, 0], end[:, 1] - start[:, 1])
    sine = np.abs(end[:, 0] - start[:, 0]) / length
    order = np.argsort(y, kind="stable")
    return y[order], sine[order]


def _turned(points: Floats, degrees: float) -> Floats:
    if degrees == 0.0:
        return points
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    turned: Floats = np.column_stack((c * points[:, 0] - s * points[:, 1], s * points[:, 0] + c * points[:, 1]))
    return turned
