"""The free place nearest to where a part was put by hand, found exactly.

The shifts at which a part would stand in the way of another are the sum of the other with the part turned over
(pointwise negative), widened by the spacing: a polygon, put together from sums of convex pieces. What is left of the
plane is where the part may stand, and the nearest point of that is the answer. Only pieces that come near matter, so a
short way is found fast; the search widens until it finds something or has seen the whole sheet. Far away, where a
millimetre of the way is of no account, outlines with fewer corners are used that contain the true ones.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.clearance import PlacedShapes
from nesting.pieces import convex_pieces
from nesting.plan import Placement
from nesting.problem import Problem

ALLOWANCE: Final = 8e-4
"""mm by which parts may come nearer than the spacing. The referee allows 0.001, the engine makes use of a third of it,
and what it has put close on all sides must still be found to be a place."""
ARC_ERROR: Final = 4e-4
"""mm by which the corners of what is widened may stand out from the true circle."""
FIRST_REACH: Final = 40.0
"""mm looked about at first; four times as far each time nothing is found."""
COARSE_FROM: Final = 300.0
"""Looking farther than this, mm, outlines are made coarser by `COARSE`, mm."""
COARSE: Final = 1.0
MOST_SUMS: Final = 4_000
"""Sums of pieces taken at a time."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Pieces:
    """Convex polygons (n, m, 2), short ones filled up with their last corner, and their boxes (n, 4)."""

    points: Floats
    boxes: Floats

    def moved(self, x: float, y: float) -> _Pieces:
        return _Pieces(self.points + np.array((x, y)), self.boxes + np.array((x, y, x, y)))


class FreePlaces:
    """One sheet with parts that stand still; finds where others have room.

    Parameters
    ----------
    problem : Problem
    sheet : str
        Id of the kind of sheet.
    fixed : placements that stand still
    shapes : PlacedShapes, optional
        Of the same problem, to be shared.
    """

    def __init__(
        self, problem: Problem, sheet: str, fixed: Iterable[Placement] = (), shapes: PlacedShapes | None = None
    ) -> None:
        self._shapes = shapes if shapes is not None else PlacedShapes(problem)
        self._rules = problem.rules
        self._fixed = tuple(fixed)
        self._made: dict[tuple[str, float, bool, bool, bool], _Pieces] = {}
        kind = next(one for one in problem.sheets if one.id == sheet)
        stock = shapely.Polygon(kind.outline.outer, kind.outline.holes)
        margin = problem.rules.margin - ALLOWANCE
        self._usable = widened(stock, -margin) if margin > 0.0 else stock.buffer(-margin, join_style="mitre")
        self._zones = [shapely.Polygon(zone.outer, zone.holes) for zone in kind.keep_outs]

    def shift(self, moving: Sequence[Placement], *, most: float = math.inf) -> tuple[float, float] | None:
        """The shortest shift (mm) that brings parts, moved together, to where all of them may stand.

        Parameters
        ----------
        moving : sequence of Placement
            How they stand to each other is not looked at.
        most : float
            Do not look for longer shifts, mm.

        Returns
        -------
        (x, y) or None
            None when there is no such place; (0, 0) when they may stay. No longer than the shortest by more than a
            hundredth of a mm; where it is longer than 300 mm, by a mm or two, and places with no more play than that
            are not found.
        """
        x0, y0, x1, y1 = shapely.total_bounds([self._shapes.placed(one) for one in moving])
        sx0, sy0, sx1, sy1 = self._usable.bounds if not self._usable.is_empty else (0.0, 0.0, 0.0, 0.0)
        # No shift that leads onto the sheet lies outside this window.
        whole = (sx0 - x0 - ALLOWANCE, sy0 - y0 - ALLOWANCE, sx1 - x1 + ALLOWANCE, sy1 - y1 + ALLOWANCE)
        if self._usable.is_empty or whole[0] > whole[2] or whole[1] > whole[3]:
            return None
        way = math.hypot(max(whole[0], -whole[2], 0.0), max(whole[1], -whole[3], 0.0))  # at least
        farthest = math.hypot(max(-whole[0], whole[2]), max(-whole[1], whole[3]))
        reach = way + FIRST_REACH
        while True:
            reach = min(reach, most, farthest)
            found = self._within(moving, whole, reach, is_coarse=reach - way > COARSE_FROM)
            if found is not None and math.hypot(*found) <= most:
                return found
            if reach >= most or reach >= farthest:
                return None
            reach = way + (reach - way) * 4.0

    def _within(
        self, moving: Sequence[Placement], whole: tuple[float, ...], reach: float, *, is_coarse: bool
    ) -> tuple[float, float] | None:
        """The shortest free shift no longer than `reach`."""
        window = (max(whole[0], -reach), max(whole[1], -reach), min(whole[2], reach), min(whole[3], reach))
        if window[0] > window[2] or window[1] > window[3]:
            return None
        # Where no part may lie in a hole of another, holes are as good as filled, but for flaws of the sheet.
        filled = not self._rules.may_nest_in_holes
        own = [self._pieces_of(one, is_coarse, filled) for one in moving]
        others = (self._pieces_of(one, is_coarse, filled) for one in self._fixed)
        near = self._sums(others, own, window, self._rules.spacing)
        own = [self._pieces_of(one, is_coarse, False) for one in moving]
        spacing = self._rules.spacing - ALLOWANCE
        blocked = [near if near is None or spacing <= 0.0 else widened(near, spacing)]
        blocked.append(self._sums(self._edges(moving, window), own, window, 0.0))
        free = shapely.box(*window)
        for one in blocked:
            if one is not None:
                free = free.difference(one)
        if free.is_empty:
            return None
        line = shapely.shortest_line(shapely.Point(0.0, 0.0), free)
        x, y = (float(value) for value in shapely.get_coordinates(line)[1])
        return (x, y) if math.hypot(x, y) <= reach else None

    def _edges(self, moving: Sequence[Placement], window: tuple[float, ...]) -> Iterator[_Pieces]:
        """What lies beyond the usable part of the sheet, as far as the parts come in the window, and keep-outs."""
        x0, y0, x1, y1 = shapely.total_bounds([self._shapes.placed(one) for one in moving])
        frame = shapely.box(x0 + window[0] - 1.0, y0 + window[1] - 1.0, x1 + window[2] + 1.0, y1 + window[3] + 1.0)
        barred = [frame.difference(self._usable)]
        barred += [zone.buffer(-ALLOWANCE / 2, join_style="mitre") for zone in self._zones if zone.intersects(frame)]
        polygons = [one for shape in barred for one in shapely.get_parts(shape) if one.area > 0.0]
        if polygons:
            yield _pieces(polygons)

    def _pieces_of(self, one: Placement, is_coarse: bool, is_filled: bool) -> _Pieces:
        key = (one.part, one.rotation, one.mirrored, is_coarse, is_filled)
        found = self._made.get(key)
        if found is None:
            shape = self._shapes.turned(one.part, one.rotation, one.mirrored)
            if is_filled:
                shape = shapely.Polygon(shape.exterior)
            if is_coarse:
                shape = shape.buffer(COARSE, join_style="mitre").simplify(COARSE)
            found = self._made[key] = _pieces([one for one in shapely.get_parts(shape) if one.area > 0.0])
        return found.moved(one.x, one.y)

    def _sums(
        self, others: Iterable[_Pieces], own: Sequence[_Pieces], window: tuple[float, ...], widened: float
    ) -> Any | None:
        """Shifts within the window, and a little beyond, at which own pieces would meet the others'."""
        hulls: list[Any] = []
        for other in others:
            for mine in own:
                # The sum of two pieces lies in the sum of their boxes.
                low = other.boxes[:, None, :2] - mine.boxes[None, :, 2:] - widened
                high = other.boxes[:, None, 2:] - mine.boxes[None, :, :2] + widened
                near = (low[..., 0] < window[2]) & (low[..., 1] < window[3])
                near &= (high[..., 0] > window[0]) & (high[..., 1] > window[1])
                first, second = np.nonzero(near)
                for start in range(0, len(first), MOST_SUMS):
                    a, b = first[start : start + MOST_SUMS], second[start : start + MOST_SUMS]
                    points = other.points[a][:, :, None, :] - mine.points[b][:, None, :, :]
                    clouds = shapely.multipoints(points.reshape(len(a), -1, 2))
                    hulls.append(shapely.union_all(shapely.convex_hull(clouds)))
        if not hulls:
            return None
        return shapely.union_all(hulls)


def _pieces(polygons: Sequence[Any]) -> _Pieces:
    pieces = [piece for polygon in polygons for piece in convex_pieces(polygon)]
    most = max(len(piece) for piece in pieces)
    points = np.stack([np.concatenate((piece, np.repeat(piece[-1:], most - len(piece), axis=0))) for piece in pieces])
    return _Pieces(points, np.concatenate((points.min(axis=1), points.max(axis=1)), axis=1))


def widened(region: Any, by: float) -> Any:
    """A shapely region widened by so much (mm), or narrowed; never by less, and by no more than `ARC_ERROR` more."""
    corners = math.ceil(math.pi / 4.0 / math.sqrt(2.0 * ARC_ERROR / abs(by)))
    return region.buffer(by / math.cos(math.pi / (4 * corners)), quad_segs=corners)
