"""Holes of a backer: drains where water collects, mounting holes spread over it, a way in for the wires.

The places a hole may stand are the backer less a rim. Water collects at the low points of that shape, seen with the
letter upright, and on floors that are level: on top of a counter with a flat top it cannot run off to either side.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.polygon import orient

from app.fabrication.part import Drill
from app.fabrication.remarks import FabricationCode, Remark
from app.fabrication.subject import MEASURING, Piece, Terms
from geometry.arcs import circle
from geometry.build import reversed_contour
from geometry.contour import Region
from geometry.curve import Point
from geometry.findings import Severity

_DOWN, _FLOOR, _UP, _CEILING = -1, 0, 1, 2
_LEVEL: Final = 0.05  # rise over run below which a floor counts as level
_LONG: Final = 25.4  # mm; level floors shorter than this between two slopes hold no water
_RISE: Final = 1.0  # mm; dents shallower than this are no low points
_APART: Final = 25.4  # mm; holes of different kinds keep this far apart

Floats = NDArray[np.float64]


def with_holes(piece: Piece, terms: Terms) -> tuple[Piece, list[Remark]]:
    """The backer with its drain, mounting and wire holes; remarks about those that found no room."""
    drains, remarks = _drains(piece, terms)
    wire = _wire(piece, terms, drains)
    wanted = round(terms["least mounting holes"])
    mounting = _mounting(piece, terms, [*drains, *wire], terms["mounting edge distance"])
    if len(mounting) < wanted:
        # Narrow strokes have no place so far from both edges: as near as the return's flange lets them, then.
        near = terms["return flange lip"] + terms["splice plate fit"]
        nearer = _mounting(piece, terms, [*drains, *wire], min(near, terms["mounting edge distance"]))
        if len(nearer) > len(mounting):
            mounting = nearer
        remarks.append(_few_mounting_holes(piece, len(mounting), wanted, terms))
    holes = [
        *(Drill(at, terms["drain hole"]) for at in drains),
        *(Drill(at, terms["wire hole"]) for at in wire),
        *(Drill(at, terms["mounting hole"]) for at in mounting),
    ]
    drilled = [hole for hole in holes if hole.diameter <= terms["drill up to"] + 1e-9]
    milled = [hole for hole in holes if hole.diameter > terms["drill up to"] + 1e-9]
    region = Region(
        piece.region.outer,
        (*piece.region.holes, *(reversed_contour(circle(hole.centre, hole.diameter / 2.0)) for hole in milled)),
    )
    return Piece.of(piece.role, region, drills=(*piece.drills, *drilled), marks=piece.marks), remarks


def low_points(polygon: Any) -> tuple[Point, ...]:
    """Where water would stand in a shapely polygon: low points, and middles of level floors it cannot run off."""
    upright = orient(polygon)
    rings = [shapely.get_coordinates(ring)[:-1] for ring in (upright.exterior, *upright.interiors)]
    return tuple(point for ring in rings for point in _low_points_of(ring))


def _low_points_of(ring: Floats) -> list[Point]:
    """Low points of one ring, material to the left of travel."""
    steps = np.roll(ring, -1, axis=0) - ring
    # A floor has its material above: it is walked to the right, a ceiling to the left.
    is_level = np.abs(steps[:, 1]) <= _LEVEL * np.abs(steps[:, 0])
    way = np.where(is_level, np.where(steps[:, 0] > 0.0, _FLOOR, _CEILING), np.sign(steps[:, 1])).astype(int)
    count = len(ring)
    starts = [i for i in range(count) if way[i] != way[i - 1]]
    if not starts:
        return []
    runs = [(first, second) for first, second in zip(starts, [*starts[1:], starts[0] + count], strict=True)]
    found: list[Point] = []
    for k, (first, second) in enumerate(runs):
        kind = way[first % count]
        before, after = runs[k - 1], runs[(k + 1) % len(runs)]
        points = ring[np.arange(first, second + 1) % count]
        x, y = 0.5 * (points[0] + points[-1])
        if kind == _FLOOR:
            # Between two slopes that rise from it a floor is a low point; any other holds water when it is long.
            is_low = way[before[0] % count] == _DOWN and way[after[0] % count] == _UP
            if is_low or points[-1, 0] - points[0, 0] >= _LONG:
                found.append((float(x), float(y)))
        elif kind == _DOWN and way[after[0] % count] == _UP:
            corner = points[-1]
            rising = ring[np.arange(after[0], after[1] + 1) % count]
            deep = min(float(points[0, 1] - corner[1]), float(rising[-1, 1] - corner[1])) >= _RISE
            # Turning left at the bottom: the material lies above it.
            turn = steps[(second - 1) % count], steps[second % count]
            if deep and turn[0][0] * turn[1][1] - turn[0][1] * turn[1][0] > 0.0:
                found.append((float(corner[0]), float(corner[1])))
    return found


def _drains(piece: Piece, terms: Terms) -> tuple[list[Point], list[Remark]]:
    rim = terms["return flange lip"] + terms["splice plate fit"] + terms["drain hole"] / 2.0
    plate = shapely.Polygon(piece.outline.outer, piece.outline.holes).buffer(-rim - MEASURING, quad_segs=32)
    places = [point for part in shapely.get_parts(plate) if not part.is_empty for point in low_points(part)]
    if places:
        return places, []
    missing = Remark(
        FabricationCode.HOLE_LEFT_OUT,
        Severity.WARNING,
        f"no drain hole of {terms.say(terms['drain hole'])} finds room in the {piece.role} beside the return's flange: "
        "drill the low points of the return instead",
        _middle(piece),
    )
    return [], [missing]


def _wire(piece: Piece, terms: Terms, taken: Sequence[Point]) -> list[Point]:
    """The widest place of the backer that is clear of the drains."""
    polygon: Any = shapely.Polygon(piece.outline.outer, piece.outline.holes)
    for at in taken:
        polygon = polygon.difference(shapely.Point(at).buffer(_APART))
    if polygon.is_empty:
        return []
    largest = max(shapely.get_parts(polygon), key=shapely.area)
    circle_radius = shapely.maximum_inscribed_circle(largest, tolerance=1.0)
    (x, y), (u, v) = shapely.get_coordinates(circle_radius)[[0, -1]]
    if math.hypot(u - x, v - y) < terms["return flange lip"] + terms["wire hole"] / 2.0:
        return []
    return [(float(x), float(y))]


def _mounting(piece: Piece, terms: Terms, taken: Sequence[Point], edge: float) -> list[Point]:
    """Corners of the backer less its rim, far apart: at least so many, and more until none is far from all others."""
    rim = edge + terms["mounting hole"] / 2.0
    # The outline is within its tolerance of the true edge; a place to drill needs no truer one.
    plate = shapely.Polygon(piece.outline.outer, piece.outline.holes).buffer(-rim - MEASURING, quad_segs=8)
    rings = [shapely.get_coordinates(part.exterior) for part in shapely.get_parts(plate) if not part.is_empty]
    if not rings:
        return []
    points = np.concatenate(rings)
    clear = np.ones(len(points), dtype=bool)
    for x, y in taken:
        clear &= np.hypot(points[:, 0] - x, points[:, 1] - y) >= _APART
    points = points[clear]
    if not len(points):
        return []
    first = int(np.argmax(points[:, 1] - points[:, 0] * 1e-6))  # the top, left where the top is level
    chosen = [first]
    distance = np.hypot(*(points - points[first]).T)
    while len(chosen) < 64:
        further = int(np.argmax(distance))
        if distance[further] < _APART or (
            len(chosen) >= terms["least mounting holes"] and distance[further] < terms["mounting hole distance"]
        ):
            break
        chosen.append(further)
        distance = np.minimum(distance, np.hypot(*(points - points[further]).T))
    return [(float(x), float(y)) for x, y in points[chosen]]


def _few_mounting_holes(piece: Piece, found: int, wanted: int, terms: Terms) -> Remark:
    limit = terms.say(terms["mounting edge distance"])
    if found >= wanted:
        return Remark(
            FabricationCode.HOLE_LEFT_OUT,
            Severity.NOTE,
            f"mounting holes of the {piece.role} stand nearer to its edge than {limit}, as its strokes are narrow: "
            "see that the anchors clear the return",
            _middle(piece),
        )
    return Remark(
        FabricationCode.HOLE_LEFT_OUT,
        Severity.WARNING,
        f"the {piece.role} has room for {found} of {wanted} mounting holes beside the return's flange: "
        "hang it by the return, or enlarge it",
        _middle(piece),
    )


def _middle(piece: Piece) -> Point:
    outer = piece.outline.outer
    return float(outer[:, 0].mean()), float(outer[:, 1].mean())
