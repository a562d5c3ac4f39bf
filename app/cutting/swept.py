"""What the cutter covers on a sheet, against what must stay whole and what must come free.

The cutter covers everything within its radius of its ways, leads included. That must not touch a finished part or an
offcut, nor a clamp; and when all of it is gone, every part must lie in a piece of its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from app.cutting.centre_paths import Remain, centre_paths
from app.cutting.ground import FLATTENING, Ground
from app.cutting.operations import Operation, Work
from app.cutting.placed import placing
from app.planning.job_plan import PlannedSheet
from geometry.curve import Point
from geometry.flatten import flatten_contour

TOLERANCE: Final = 0.01
"""mm; how far the cutter may reach into a finished edge before it is a fault: what offsetting may be off by."""
_COARSE: Final = 0.05
"""mm; flattening for telling pieces apart."""


@dataclass(frozen=True, slots=True)
class Gouge:
    """The cutter reaches into something that must stay whole: which operation, into what, where, how deep (mm)."""

    operation: int
    kept: int
    at: Point
    depth: float


@dataclass(frozen=True, slots=True)
class ClampHit:
    """The cutter reaches into a keep-out: which operation, which keep-out, how deep (mm)."""

    operation: int
    zone: int
    depth: float


@dataclass(frozen=True, slots=True)
class SweptCheck:
    """What the check found.

    Fields
    ------
    gouges : tuple of Gouge
        Into finished parts.
    offcut_gouges : tuple of Gouge
        Into offcuts, which then are smaller than planned; `kept` counts from the first offcut.
    clamp_hits : tuple of ClampHit
    still_fast : tuple of int
        Places in the sheet's list of parts that do not come free.
    """

    gouges: tuple[Gouge, ...]
    offcut_gouges: tuple[Gouge, ...]
    clamp_hits: tuple[ClampHit, ...]
    still_fast: tuple[int, ...]

    @property
    def is_clean(self) -> bool:
        """Whether the sheet may be cut as it is; an offcut or keep-out reached into is the operator's to look at."""
        return not self.gouges and not self.still_fast


def check_swept(sheet: PlannedSheet, ordered: Sequence[Operation]) -> SweptCheck:
    """Look at all ways of a sheet's operations together."""
    ground = Ground(sheet)
    radius = sheet.cutter.diameter / 2
    lines = []
    numbers = []
    for number, operation in enumerate(ordered):
        for way in operation.ways:
            points = flatten_contour(way.contour, FLATTENING)
            lines.append(np.vstack([points, points[:1]]) if way.contour.is_closed else points)
            numbers.append(number)
    if not lines:
        return SweptCheck((), (), (), tuple(range(len(sheet.placed))))
    ways = np.array([shapely.LineString(line) for line in lines], dtype=object)
    gouges: list[Gouge] = []
    offcut_gouges: list[Gouge] = []
    near, reached = ground.near(ways, radius - TOLERANCE)
    for one, other in zip(near.tolist(), reached.tolist(), strict=True):
        shape = ground.kept[other]
        spots = shapely.points(shapely.get_coordinates(shapely.segmentize(ways[one], radius)))
        gaps = shapely.distance(spots, shape)
        x, y = shapely.get_coordinates(spots[int(np.argmin(gaps))])[0].tolist()
        depth = radius - float(shapely.distance(ways[one], shape))
        if other < ground.part_count:
            gouges.append(Gouge(numbers[one], other, (x, y), depth))
        else:
            offcut_gouges.append(Gouge(numbers[one], other - ground.part_count, (x, y), depth))
    hits = []
    for zone, shape in enumerate(ground.zones):
        for one in np.flatnonzero(shapely.dwithin(ways, shape, radius - TOLERANCE)).tolist():
            hits.append(ClampHit(numbers[one], zone, radius + _depth(ways[one], shape, radius)))
    return SweptCheck(tuple(gouges), tuple(offcut_gouges), tuple(hits), _still_fast(sheet, ordered, ground, radius))


def _depth(way: shapely.LineString, zone: shapely.Polygon, step: float) -> float:
    """How deep a way goes into a zone, mm; below 0 by its distance when it stays outside."""
    if not shapely.intersects(way, zone):
        return -float(shapely.distance(way, zone))
    inside = shapely.intersection(shapely.segmentize(way, step), zone)
    return float(shapely.distance(shapely.points(shapely.get_coordinates(inside)), zone.exterior).max())


def _still_fast(sheet: PlannedSheet, ordered: Sequence[Operation], ground: Ground, radius: float) -> tuple[int, ...]:
    """Parts that share a piece with another part or with the rest of the sheet once everything is cut."""
    loops = []
    for operation in ordered:
        if operation.work is Work.OUTSIDE:
            for way in operation.ways:
                points = flatten_contour(way.contour, _COARSE)
                loops.append(shapely.LineString(np.vstack([points, points[:1]]) if way.contour.is_closed else points))
    # A little larger than it is, so that a part at the very edge is told from the rest of the sheet.
    room = 4 * radius
    stock = shapely.box(-room, -room, sheet.stock.width + room, sheet.stock.height + room)
    swept = shapely.union_all(shapely.buffer(loops, 0.95 * radius, quad_segs=4))
    pieces = shapely.get_parts(shapely.difference(stock, swept))
    tree = shapely.STRtree(pieces)
    inner = shapely.point_on_surface(ground.kept[: ground.part_count])
    part, piece = tree.query(inner, predicate="within")
    home = np.full(ground.part_count, -1)
    home[part] = piece
    shared = np.bincount(home[home >= 0], minlength=len(pieces))
    # The rest of the sheet is the piece that reaches its edge.
    edge = shapely.intersects(pieces, stock.exterior)
    return tuple(index for index, one in enumerate(home.tolist()) if one < 0 or shared[one] != 1 or bool(edge[one]))


@dataclass(frozen=True, slots=True)
class PlacedRemains:
    """What the cutter leaves standing on one copy: places on the sheet, mm, and the area, mm²."""

    part: str
    copy: int
    remains: tuple[Remain, ...]
    area: float

    @property
    def largest(self) -> float:
        """The widest gap, mm."""
        return max(remain.gap for remain in self.remains)


def placed_remains(sheet: PlannedSheet) -> tuple[PlacedRemains, ...]:
    """All that stays uncut on a sheet, with its places; copies in the order of the sheet's list."""
    found = []
    for placed in sheet.placed:
        paths = centre_paths(placed.part.region, sheet.cutter.diameter / 2)
        edges = (paths.outside, *paths.holes)
        remains = [remain for edge in edges for remain in edge.remains]
        if not remains:
            continue
        move = placing(placed.placement)
        found.append(
            PlacedRemains(
                placed.part.id,
                placed.placement.copy,
                tuple(Remain(move.apply(remain.at), remain.gap) for remain in remains),
                math.fsum(edge.remain_area for edge in edges),
            )
        )
    return tuple(found)


def covered(ordered: Sequence[Operation], radius: float) -> NDArray[np.object_]:
    """What the cutter covers in each operation, polygons, mm; within `FLATTENING` and the chords of a fine buffer."""
    shapes = []
    for operation in ordered:
        lines = []
        for way in operation.ways:
            points = flatten_contour(way.contour, FLATTENING)
            lines.append(shapely.LineString(np.vstack([points, points[:1]]) if way.contour.is_closed else points))
        shapes.append(shapely.union_all(shapely.buffer(lines, radius, quad_segs=32)))
    return np.array(shapes, dtype=object)
