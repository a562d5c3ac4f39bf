"""What a clip path does to a shape: nothing, hide it, or cut it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
import shapely

from geometry.contour import Contour, FillRule
from geometry.flatten import flatten_contour
from geometry.measure import contour_bounds

_CHORD = 2e-3  # of the clip's size: a clip is only asked whether it leaves a shape alone
_SLACK = 1e-3  # of the clip's size: overlap of a frame with its own clip is no cut


class Effect(StrEnum):
    """How a clip meets a shape."""

    NONE = "none"
    HIDES = "hides"
    CUTS = "cuts"


@dataclass(frozen=True, slots=True, eq=False)
class Clip:
    """Area outside which nothing shows, as polygons close enough to tell which shapes it touches."""

    area: Any  # shapely geometry
    slack: float

    @classmethod
    def from_contours(cls, contours: Iterable[Contour], rule: FillRule) -> Clip:
        """Clip of closed contours under a fill rule; no contours hide everything."""
        kept = [contour for contour in contours if contour.segments]
        if not kept:
            return cls(shapely.Polygon(), 0.0)
        boxes = [contour_bounds(contour) for contour in kept]
        size = max(
            max(box.max_x for box in boxes) - min(box.min_x for box in boxes),
            max(box.max_y for box in boxes) - min(box.min_y for box in boxes),
        )
        rings = [flatten_contour(contour, max(size * _CHORD, 1e-9)) for contour in kept]
        polygons = [
            shapely.make_valid(shapely.Polygon(ring), method="structure", keep_collapsed=False)
            for ring in rings
            if len(ring) >= 3
        ]
        if rule is FillRule.EVEN_ODD:
            area = shapely.Polygon()
            for one in polygons:
                area = shapely.symmetric_difference(area, one)
        else:
            area = shapely.union_all(polygons)
        return cls(area, size * _SLACK)

    def effect(self, contours: Iterable[Contour]) -> Effect:
        """What this clip does to a shape, judged by the boxes of its contours first and by its outline where needed."""
        boxes = [contour_bounds(contour) for contour in contours]
        if not boxes:
            return Effect.NONE
        box = shapely.box(
            min(b.min_x for b in boxes),
            min(b.min_y for b in boxes),
            max(b.max_x for b in boxes),
            max(b.max_y for b in boxes),
        )
        if self.area.is_empty or not shapely.intersects(self.area, box):
            return Effect.HIDES
        grown = shapely.buffer(self.area, self.slack, join_style="mitre")
        if shapely.covers(grown, box):
            return Effect.NONE
        lines = [_line(contour) for contour in contours]
        if all(shapely.covers(grown, line) for line in lines):
            return Effect.NONE
        if not any(shapely.intersects(self.area, line) for line in lines) and not _surrounded(self.area, lines):
            return Effect.HIDES
        return Effect.CUTS


def _line(contour: Contour) -> Any:
    box = contour_bounds(contour)
    ring = flatten_contour(contour, max(_CHORD * max(box.width, box.height), 1e-9))
    if contour.is_closed and len(ring) >= 2:
        ring = np.vstack((ring, ring[:1]))
    return shapely.LineString(ring) if len(ring) >= 2 else shapely.Point(box.min_x, box.min_y)


def _surrounded(area: Any, lines: list[Any]) -> bool:
    """Whether the clip lies inside the shape, so that it shows a part of it."""
    rings = [line for line in lines if line.geom_type == "LineString" and line.is_closed and len(line.coords) >= 4]
    place = area.representative_point()
    return any(shapely.covers(shapely.Polygon(ring), place) for ring in rings)
