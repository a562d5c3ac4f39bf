"""Where the middle of the cutter runs round a part, and what it cannot reach there.

A path keeps the cutter's radius from the finished edge, on the scrap side: outside the part, inside its holes. Its
corners are round about the part's corners, as a control with cutter compensation makes them. Paths are worked out once
in the part's own frame and moved with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.build import reversed_contour
from geometry.contour import Contour, Region
from geometry.curve import Point
from geometry.flatten import flatten_contour
from geometry.offset import offset_region

LEAST_GAP: Final = 0.2
"""mm; a remain that reaches no further from the cut than this is not worth a word."""
_FLATTENING: Final = 0.002
"""mm; for measuring what remains."""
_SAMPLING: Final = 3.0
"""mm; how far apart the points are at which an edge is asked for remains, beside its own corners."""


@dataclass(frozen=True, slots=True)
class Remain:
    """Material left standing on a part because the cutter is too large to reach it.

    Fields
    ------
    at : Point, mm
        The place on the finished edge that is farthest from the cut.
    gap : float, mm
        From there to the nearest place the cutter reaches.
    """

    at: Point
    gap: float


@dataclass(frozen=True, slots=True, eq=False)
class EdgePaths:
    """The cutter's ways along one finished edge.

    Fields
    ------
    loops : tuple of Contour
        Closed, anticlockwise. One round the outside of a part; in a hole none where the cutter does not fit, and more
        than one where it does not fit through the hole's necks.
    remains : tuple of Remain
    remain_area : float, mm²
        Of all material left standing along the edge.
    leaves_drop : bool
        Whether a hole's loops free something that may move; False for an outside edge.
    """

    loops: tuple[Contour, ...]
    remains: tuple[Remain, ...]
    remain_area: float
    leaves_drop: bool


@dataclass(frozen=True, slots=True, eq=False)
class CentrePaths:
    """The ways along all edges of a part, holes in the order of its region."""

    outside: EdgePaths
    holes: tuple[EdgePaths, ...]


@lru_cache(maxsize=4096)
def centre_paths(region: Region, radius: float) -> CentrePaths:
    """Paths of a cutter of that radius (mm) along all edges of a region, in the region's own frame."""
    return CentrePaths(_outside(region.outer, radius), tuple(_hole(hole, radius) for hole in region.holes))


def _outside(edge: Contour, radius: float) -> EdgePaths:
    (grown,) = offset_region(Region(edge), radius)
    loops = (grown.outer,)
    # What is grown over entirely is a pocket with a mouth narrower than the cutter: it stays, as its walls show.
    remains = _remains(edge, loops, radius)
    area = 0.0
    if remains:
        freed = shapely.buffer(_polygon(grown.outer), -radius, quad_segs=64)
        area = float(shapely.difference(freed, _polygon(edge)).area)
    return EdgePaths(loops, remains, area, leaves_drop=False)


def _hole(edge: Contour, radius: float) -> EdgePaths:
    opening = Region(reversed_contour(edge))
    loops = tuple(shrunk.outer for shrunk in offset_region(opening, -radius))
    remains = _remains(edge, loops, radius)
    polygons = [_polygon(loop) for loop in loops]
    area = 0.0
    if remains:
        cut = shapely.union_all(shapely.buffer(polygons, radius, quad_segs=64)) if polygons else shapely.Polygon()
        area = float(shapely.difference(_polygon(edge), cut).area)
    drops = any(not shapely.is_empty(shapely.buffer(polygon, -radius)) for polygon in polygons)
    return EdgePaths(loops, remains, area, leaves_drop=drops)


def _polygon(contour: Contour) -> shapely.Polygon:
    return shapely.Polygon(flatten_contour(contour, _FLATTENING))


def _remains(edge: Contour, loops: Sequence[Contour], radius: float) -> tuple[Remain, ...]:
    """Stretches of the edge farther than the radius from every loop, each by its farthest point."""
    ring = flatten_contour(edge, 10 * _FLATTENING)
    points = shapely.get_coordinates(shapely.segmentize(shapely.linestrings(_closed(ring)), _SAMPLING))[:-1]
    if not loops:
        inner = shapely.maximum_inscribed_circle(_polygon(edge), 0.01)
        middle, touch = shapely.get_coordinates(inner)
        return (Remain((float(middle[0]), float(middle[1])), float(np.hypot(*(touch - middle)))),)
    way = shapely.MultiLineString([_closed(flatten_contour(loop, _FLATTENING)) for loop in loops])
    shapely.prepare(way)
    spots = shapely.points(points)
    left = ~shapely.dwithin(way, spots, radius + LEAST_GAP)
    if not left.any():
        return ()
    found = []
    for run in _runs(left):
        gaps = shapely.distance(way, spots[run]) - radius
        worst = int(np.argmax(gaps))
        x, y = points[run][worst].tolist()
        found.append(Remain((x, y), float(gaps[worst])))
    return tuple(found)


def _closed(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.vstack([ring, ring[:1]])


def _runs(flags: NDArray[np.bool_]) -> list[NDArray[np.intp]]:
    """Indices of each unbroken run of flags set, round the ring."""
    if flags.all():
        return [np.arange(len(flags))]
    first = int(np.flatnonzero(~flags)[0])
    turned = np.roll(flags, -first)
    steps = np.flatnonzero(np.diff(np.concatenate([[False], turned, [False]]).astype(np.int8)))
    return [(np.arange(begin, end) + first) % len(flags) for begin, end in zip(steps[::2], steps[1::2], strict=True)]
