"""Contours and placements in Qt's terms. Arcs stay arcs; y still points up, the view turns it over once."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainterPath, QTransform

from geometry.contour import Contour, Region
from geometry.curve import Arc, Cubic, Line
from nesting.plan import Placement

LARGEST_BULGE: Final = math.tan(math.radians(45.0 / 4.0)) * (1.0 + 1e-12)
"""Bulge of an arc of 45 degrees."""


def add_contour(path: QPainterPath, contour: Contour) -> None:
    """Append a contour to a path as one subpath."""
    path.moveTo(*contour.segments[0].start)
    for segment in contour.segments:
        match segment:
            case Line():
                path.lineTo(*segment.end)
            case Arc():
                _add_arc(path, segment)
            case Cubic():
                path.cubicTo(*segment.control1, *segment.control2, *segment.end)
    if contour.is_closed:
        path.closeSubpath()


def region_path(region: Region) -> QPainterPath:
    """Path of a region; its holes are holes by the even-odd rule."""
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.OddEvenFill)
    for contour in (region.outer, *region.holes):
        add_contour(path, contour)
    return path


def placement_transform(placement: Placement) -> QTransform:
    """Where a placement takes its part: mirror in x, rotate, move."""
    transform = QTransform()  # Qt applies what is said last first
    transform.translate(placement.x, placement.y)
    transform.rotate(placement.rotation)
    if placement.mirrored:
        transform.scale(-1.0, 1.0)
    return transform


@dataclass(frozen=True, slots=True)
class Spot:
    """The roomiest place in a shape: middle and radius (mm) of the largest circle that fits into the material."""

    middle: QPointF
    radius: float


def spot_inside(path: QPainterPath) -> Spot:
    """The roomiest place in a path's material, to about a hundredth of its size."""
    import shapely  # loaded by then for the parts themselves, but too slow to load before the window is seen

    bounds = path.boundingRect()
    rings = [
        [(point.x(), point.y()) for point in polygon]
        for polygon in path.toSubpathPolygons(QTransform())
        if len(polygon) > 3
    ]
    if not rings:
        return Spot(bounds.center(), 0.0)
    shape = shapely.Polygon(rings[0], rings[1:]).buffer(0.0)
    if shape.is_empty:
        return Spot(bounds.center(), 0.0)
    circle = shapely.maximum_inscribed_circle(shape, max(bounds.width(), bounds.height()) / 100.0)
    return Spot(QPointF(*circle.coords[0]), circle.length)


class PathCache:
    """Paths of regions, made once each. Keyed by identity: a part's region is the same object in every plan of it."""

    def __init__(self) -> None:
        self._paths: dict[int, tuple[Region, QPainterPath]] = {}
        self._spots: dict[int, Spot] = {}

    def of(self, region: Region) -> QPainterPath:
        """Path of a region."""
        found = self._paths.get(id(region))
        if found is None:
            found = self._paths[id(region)] = (region, region_path(region))  # holding it keeps its id taken
        return found[1]

    def spot(self, region: Region) -> Spot:
        """Where the region has most room for a label."""
        found = self._spots.get(id(region))
        if found is None:
            found = self._spots[id(region)] = spot_inside(self.of(region))
        return found

    def clear(self) -> None:
        """Forget all paths."""
        self._paths.clear()
        self._spots.clear()


def _add_arc(path: QPainterPath, arc: Arc) -> None:
    """Append an arc as cubics of at most 45 degrees, which keep to it within 5 millionths of its radius.

    Qt's own arcs are placed by their angles: on a nearly straight arc with a radius of kilometres that misses the ends
    visibly. Here all is reckoned from the ends and the bulge b, which stay exact: the handles of one cubic are a third
    of the chord, turned by half the sweep and stretched by 1 + b².
    """
    (x1, y1), (x2, y2), bulge = arc.start, arc.end, arc.bulge
    dx, dy = x2 - x1, y2 - y1
    if abs(bulge) > LARGEST_BULGE:
        middle = ((x1 + x2) / 2.0 + bulge * dy / 2.0, (y1 + y2) / 2.0 - bulge * dx / 2.0)
        half = math.tan(math.atan(bulge) / 2.0)
        _add_arc(path, Arc(arc.start, middle, half))
        _add_arc(path, Arc(middle, arc.end, half))
        return
    along, aside = (1.0 - bulge * bulge) / 3.0, 2.0 * bulge / 3.0
    path.cubicTo(
        x1 + along * dx + aside * dy,
        y1 + along * dy - aside * dx,
        x2 - along * dx + aside * dy,
        y2 - along * dy - aside * dx,
        x2,
        y2,
    )
