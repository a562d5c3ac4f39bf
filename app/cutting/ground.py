"""What lies on a sheet when it is cut: finished parts, offcuts to keep, clamps, the margin; and what is clear of them.

Everything here is polygons, flattened so finely that no distance is off by more than the flattening asked for.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from app.planning.job_plan import PlacedPart, PlannedSheet
from geometry.angles import cos_sin
from geometry.contour import Region
from geometry.flatten import flatten_contour

FLATTENING: Final = 0.002
"""mm; for saying whether a cutter touches a part."""
COARSE: Final = 0.02
"""mm; for looking for places that are clear by more than that."""

_Points = NDArray[np.float64]
_Flags = NDArray[np.bool_]
_Shapes = NDArray[np.object_]


def placed_polygon(placed: PlacedPart, flattening: float) -> shapely.Polygon:
    """A finished part where it lies on the sheet, mm."""
    outer, *holes = _rings(placed.part.region, flattening)
    place = placed.placement
    cosine, sine = cos_sin(place.rotation)
    sign = -1.0 if place.mirrored else 1.0
    turn = np.array([[sign * cosine, sign * sine], [-sine, cosine]])
    shift = np.array([place.x, place.y])
    return shapely.Polygon(outer @ turn + shift, [hole @ turn + shift for hole in holes])


@lru_cache(maxsize=4096)
def _rings(region: Region, flattening: float) -> tuple[_Points, ...]:
    return tuple(flatten_contour(contour, flattening) for contour in (region.outer, *region.holes))


class Ground:
    """The things on one sheet that the cutter must not touch.

    Fields
    ------
    kept : (n,) array of shapely.Polygon
        Finished parts in the order of the sheet's list, then the offcuts.
    part_count : int
    """

    def __init__(self, sheet: PlannedSheet, flattening: float = FLATTENING) -> None:
        self._sheet = sheet
        self._flattening = flattening
        parts = [placed_polygon(placed, flattening) for placed in sheet.placed]
        offcuts = [shapely.box(one.x, one.y, one.x + one.width, one.y + one.height) for one in sheet.offcuts]
        self.part_count = len(parts)
        self.kept = np.array([*parts, *offcuts], dtype=object)
        self._tree = shapely.STRtree(self.kept)
        self.zones = np.array(
            [shapely.box(z.x, z.y, z.x + z.width, z.y + z.height) for z in sheet.stock.keep_outs], dtype=object
        )

    def near(self, ways: _Shapes, reach: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Pairs (way, kept) where a way of the cutter's middle comes as near as `reach`, mm."""
        way, kept = self._tree.query(ways, predicate="dwithin", distance=reach)
        return way, kept

    def clear(self, ways: _Shapes, far: _Shapes, owners: NDArray[np.intp], radius: float, room: float) -> _Flags:
        """Which leads of a cutter are clear: of all else by `room` (mm), of what they belong to by a little.

        All else: other parts, offcuts, keep-outs, and the margin, in which no lead is wanted. `far` is what of each
        lead is away from the path; the rest touches the part's edge by design.
        """
        is_clear = np.ones(len(ways), dtype=bool)
        way, kept = self.near(ways, radius + room)
        own = kept == owners[way]
        is_clear[way[~own]] = False
        way, kept = way[own], kept[own]
        is_clear[way[shapely.distance(far[way], self.kept[kept]) < radius + self._flattening]] = False
        for zone in self.zones:
            is_clear &= ~shapely.dwithin(ways, zone, radius + room)
        bounds = shapely.bounds(ways)
        stock, least = self._sheet.stock, self._sheet.margin + radius
        is_clear &= bounds[:, :2].min(axis=1) >= least
        is_clear &= (bounds[:, 2] <= stock.width - least) & (bounds[:, 3] <= stock.height - least)
        if stock.outline is not None:  # an offcut that is no rectangle
            is_clear &= shapely.contains(shapely.buffer(shapely.Polygon(stock.outline), -least), ways)
        return is_clear

    def room_round(self, points: _Points, owners: NDArray[np.intp], reach: float) -> _Points:
        """Distance, mm, from each point to the nearest thing kept but its owner; `reach` where none is nearer."""
        spots = shapely.points(points)
        nearest = np.full(len(points), reach)
        # Asked thing by thing, not point by point: what is asked often is prepared once, and answers fast.
        shapely.prepare(self.kept)
        bounds = shapely.bounds(self.kept) + np.array([-reach, -reach, reach, reach])
        for number, (shape, (min_x, min_y, max_x, max_y)) in enumerate(zip(self.kept, bounds.tolist(), strict=True)):
            x, y = points[:, 0], points[:, 1]
            by = np.flatnonzero((x > min_x) & (x < max_x) & (y > min_y) & (y < max_y) & (owners != number))
            by = by[shapely.dwithin(shape, spots[by], reach)]
            nearest[by] = np.minimum(nearest[by], shapely.distance(shape, spots[by]))
        return nearest
