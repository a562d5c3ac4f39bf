"""Contours and placements in Qt's terms. Arcs stay arcs; y still points up, the view turns it over once."""

from __future__ import annotations

import math

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


def spot_inside(path: QPainterPath) -> QPointF:
    """A point well inside the material: the middle of the widest run of it on one of several level lines."""
    bounds = path.boundingRect()
    rings = [[(point.x(), point.y()) for point in polygon] for polygon in path.toSubpathPolygons(QTransform())]
    best, spot = -1.0, bounds.center()
    for share in (0.5, 0.25, 0.75, 0.1, 0.9, 0.04, 0.96):
        y = bounds.top() + share * bounds.height()
        crossings = sorted(
            x1 + (y - y1) * (x2 - x1) / (y2 - y1)
            for ring in rings
            for (x1, y1), (x2, y2) in zip(ring, ring[1:] + ring[:1], strict=True)
            if (y1 > y) != (y2 > y)
        )
        for left, right in zip(crossings[::2], crossings[1::2], strict=False):
            # A label is wider than high, and the middle is where one looks: later lines must be clearly better.
            if right - left > best * 1.25:
                best, spot = right - left, QPointF((left + right) / 2, y)
    return spot


class PathCache:
    """Paths of regions, made once each. Keyed by identity: a part's region is the same object in every plan of it."""

    def __init__(self) -> None:
        self._paths: dict[int, tuple[Region, QPainterPath]] = {}
        self._spots: dict[int, QPointF] = {}

    def of(self, region: Region) -> QPainterPath:
        """Path of a region."""
        found = self._paths.get(id(region))
        if found is None:
            found = self._paths[id(region)] = (region, region_path(region))  # holding it keeps its id taken
        return found[1]

    def spot(self, region: Region) -> QPointF:
        """A point inside the region for its label."""
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
