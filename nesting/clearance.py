"""How the parts on one sheet stand to each other and to the sheet: the distances, and what is in the way.

For showing while parts are moved by hand. Whether a plan can be cut is for the referee, which measures on its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

import numpy as np
import shapely

from geometry.angles import cos_sin
from geometry.outline import Outline, Ring
from nesting.plan import Placement
from nesting.problem import Problem

TOLERANCE: Final = 0.001
"""mm by which a distance may fall short: the referee's."""

Key = tuple[str, int]
"""A copy: part id and copy, 0-based."""


class Verdict(StrEnum):
    """How a part stands, from good to bad."""

    CLEAR = "clear"
    CLOSE = "too close"
    IN_HOLE = "in a hole"
    OUTSIDE = "outside"
    OVERLAPS = "overlaps"


_BADNESS: Final = {verdict: rank for rank, verdict in enumerate(Verdict)}


@dataclass(frozen=True, slots=True)
class Standing:
    """How one part stands.

    Fields
    ------
    verdict : Verdict
    other : Key or None
        The part in the way; None when it is the sheet.
    what : str
        What of the sheet is in the way: "edge", "keep-out"; empty when it is a part.
    gap : float
        Distance to it, mm; 0 when they overlap. Of a part that is clear: to its nearest neighbour within the reach of
        `Standings`, else infinite.
    """

    verdict: Verdict
    other: Key | None = None
    what: str = ""
    gap: float = math.inf

    @property
    def is_legal(self) -> bool:
        """Whether it may stay so."""
        return self.verdict is Verdict.CLEAR


class PlacedShapes:
    """Outlines of a problem's parts as polygons where placements put them; each attitude is made once."""

    def __init__(self, problem: Problem) -> None:
        self.outlines = {part.id: part.outline for part in problem.parts}
        self._turned: dict[tuple[str, float, bool], Any] = {}

    def turned(self, part: str, rotation: float, mirrored: bool) -> Any:
        """A part's polygon mirrored and turned about its own origin."""
        key = (part, rotation, mirrored)
        found = self._turned.get(key)
        if found is None:
            if len(self._turned) > 4000:  # a part turned freely leaves one behind for every angle passed through
                self._turned.clear()
            found = self._turned[key] = placed_polygon(
                self.outlines[part], Placement(part, 0, 0.0, 0.0, rotation, mirrored)
            )
        return found

    def placed(self, one: Placement) -> Any:
        """A part's polygon on the sheet."""
        return shapely.transform(
            self.turned(one.part, one.rotation, one.mirrored), lambda points: points + np.array((one.x, one.y))
        )


def placed_polygon(outline: Outline, one: Placement) -> Any:
    """An outline as a shapely polygon where a placement puts it."""
    cosine, sine = cos_sin(one.rotation)

    def put(ring: Ring) -> Any:
        x, y = (-ring[:, 0] if one.mirrored else ring[:, 0]), ring[:, 1]
        return np.column_stack((cosine * x - sine * y + one.x, sine * x + cosine * y + one.y))

    return shapely.Polygon(put(outline.outer), [put(hole) for hole in outline.holes])


class Standings:
    """One sheet with parts that stand still; says how others would stand there.

    Parameters
    ----------
    problem : Problem
    sheet : str
        Id of the kind of sheet.
    fixed : placements that stand still
    shapes : PlacedShapes, optional
        Of the same problem, to be shared between sheets.
    """

    def __init__(
        self, problem: Problem, sheet: str, fixed: Iterable[Placement] = (), shapes: PlacedShapes | None = None
    ) -> None:
        self.shapes = shapes if shapes is not None else PlacedShapes(problem)
        self._rules = problem.rules
        kind = next(one for one in problem.sheets if one.id == sheet)
        self._stock = shapely.Polygon(kind.outline.outer, kind.outline.holes)
        self._rim = self._stock.boundary
        self._zones = [shapely.Polygon(zone.outer, zone.holes) for zone in kind.keep_outs]
        shapely.prepare(self._stock)
        shapely.prepare(self._rim)
        self.fixed = tuple(fixed)
        self._polygons = [self.shapes.placed(one) for one in self.fixed]
        self._tree = shapely.STRtree([self._reach_of(polygon) for polygon in self._polygons])

    def of(self, moving: Sequence[Placement], *, reach: float = 0.0) -> tuple[Standing, ...]:
        """How each of some parts stands to the sheet and to the parts that stand still, not to each other.

        Parameters
        ----------
        moving : sequence of Placement
        reach : float
            Neighbours up to so far beyond the spacing are told of too, mm.
        """
        polygons = [self.shapes.placed(one) for one in moving]
        found = [self._to_sheet(polygon) for polygon in polygons]
        if not self._polygons or not polygons:
            return tuple(found)
        for i, j in self._neighbours(polygons, reach):
            found[i] = worse(found[i], self._to_part(polygons[i], self._polygons[j], self.fixed[j]))
        return tuple(found)

    def faults(self) -> list[tuple[int, Standing]]:
        """Everything wrong among the parts that stand still: the index of one, and how it stands; a pair once."""
        found = [(i, stand) for i, one in enumerate(self._polygons) if not (stand := self._to_sheet(one)).is_legal]
        if len(self._polygons) > 1:
            for i, j in sorted(self._neighbours(self._polygons, 0.0)):
                stand = self._to_part(self._polygons[i], self._polygons[j], self.fixed[j])
                if i < j and not stand.is_legal:
                    found.append((i, stand))
        return sorted(found, key=lambda one: one[0])

    def _reach_of(self, polygon: Any) -> Any:
        # Where no part may lie in a hole, what is in a hole is a neighbour, however far from its rim.
        return polygon if self._rules.may_nest_in_holes else shapely.Polygon(polygon.exterior)

    def _neighbours(self, polygons: Sequence[Any], reach: float) -> list[tuple[int, int]]:
        """Pairs of one of these and one that stands still that are near each other."""
        distance = max(self._rules.spacing, 0.0) + reach
        found = self._tree.query([self._reach_of(one) for one in polygons], predicate="dwithin", distance=distance)
        return [(int(i), int(j)) for i, j in zip(*found, strict=True)]

    def _to_sheet(self, polygon: Any) -> Standing:
        margin = self._rules.margin
        if not self._stock.covers(polygon) and _is_wider(polygon.difference(self._stock)):
            return Standing(Verdict.OUTSIDE, what="edge", gap=0.0)
        for zone in self._zones:
            if zone.intersects(polygon) and _is_wider(zone.intersection(polygon)):
                return Standing(Verdict.OUTSIDE, what="keep-out", gap=0.0)
        if margin > TOLERANCE and shapely.dwithin(self._rim, polygon, margin - TOLERANCE):
            return Standing(Verdict.OUTSIDE, what="edge", gap=float(self._rim.distance(polygon)))
        return Standing(Verdict.CLEAR)

    def _to_part(self, polygon: Any, other: Any, placement: Placement) -> Standing:
        key = (placement.part, placement.copy)
        gap = float(polygon.distance(other))
        spacing = self._rules.spacing
        if gap == 0.0:
            if _is_wider(polygon.intersection(other)):
                return Standing(Verdict.OVERLAPS, key, gap=0.0)
            return Standing(Verdict.CLOSE if spacing > TOLERANCE else Verdict.CLEAR, key, gap=0.0)
        if gap < spacing - TOLERANCE:
            return Standing(Verdict.CLOSE, key, gap=gap)
        if not self._rules.may_nest_in_holes and (_lies_in_hole(polygon, other) or _lies_in_hole(other, polygon)):
            return Standing(Verdict.IN_HOLE, key, gap=gap)
        return Standing(Verdict.CLEAR, key, gap=gap)


def worse(one: Standing, other: Standing) -> Standing:
    """The worse of two standings; of two alike the one with less room."""
    first = (_BADNESS[one.verdict], -one.gap)
    return one if first >= (_BADNESS[other.verdict], -other.gap) else other


def _lies_in_hole(guest: Any, host: Any) -> bool:
    return any(shapely.Polygon(ring).contains(guest) for ring in host.interiors)


def _is_wider(shape: Any) -> bool:
    """Whether a disc of the tolerance's diameter fits: slivers of touching edges do not count."""
    return shape.area > 0.0 and not shape.buffer(-TOLERANCE / 2).is_empty
