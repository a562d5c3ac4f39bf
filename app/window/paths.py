"""Contours and placements in Qt's terms. Arcs stay arcs; y still points up, the view turns it over once."""

from __future__ import annotations

import math
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainterPath, QTransform

from geometry.contour import Contour, Region
from geometry.curve import Arc, Cubic, Line
from nesting.plan import Placement


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
    (x1, y1), (x2, y2) = arc.start, arc.end
    bulge = arc.bulge
    # The centre lies on the chord's bisector, (1 - b²) / 4b chords to its left.
    shift = (1.0 - bulge * bulge) / (4.0 * bulge)
    cx = (x1 + x2) / 2.0 - shift * (y2 - y1)
    cy = (y1 + y2) / 2.0 + shift * (x2 - x1)
    radius = math.hypot(x1 - cx, y1 - cy)
    start = math.degrees(math.atan2(y1 - cy, x1 - cx))
    sweep = math.degrees(4.0 * math.atan(bulge))
    # Qt counts angles for y pointing down, hence the signs.
    path.arcTo(QRectF(cx - radius, cy - radius, 2 * radius, 2 * radius), -start, -sweep)
