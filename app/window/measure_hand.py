"""The hand that measures: from one corner, edge or bare place of a sheet to another."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPen
from PySide6.QtWidgets import QGraphicsScene, QStyleOptionGraphicsItem, QWidget

from app.planning.job_plan import PlacedPart
from app.window.drawing_view import DrawingView
from app.window.hand import Hand, take_off_board
from app.window.picture import Item
from app.window.theme import Colours, Theme
from geometry.contour import Region
from geometry.units import format_both

if TYPE_CHECKING:
    from numpy.typing import NDArray

FLATTENED: Final = 0.01
"""mm; how far the edge that is snapped to may lie from the true curve."""


class Edges:
    """Corners and edges of parts and of the sheet, to measure from and to."""

    def __init__(self, placed: Mapping[str, PlacedPart], sheet: tuple[tuple[float, float], ...]) -> None:
        self._placed = tuple(placed.values())
        self._made: dict[int, tuple[NDArray[np.float64], NDArray[np.float64], QRectF]] = {}
        corners = np.array(sheet)
        self._sheet = (corners, np.column_stack((corners, np.roll(corners, -1, axis=0))))

    def snapped(self, at: QPointF, slop: float) -> tuple[QPointF, str]:
        """The corner nearest to a point within `slop` mm, else the nearest point of an edge, else the point itself.

        Also what it is: "corner", "edge" or nothing.
        """
        here = np.array((at.x(), at.y()))
        best: dict[str, tuple[float, NDArray[np.float64]]] = {}
        for corners, edges in self._near(at, slop):
            for kind, points in (("corner", corners), ("edge", _on_edges(edges, here))):
                if len(points):
                    away = np.hypot(*(points - here).T)
                    first = int(np.argmin(away))
                    if away[first] <= slop and (kind not in best or away[first] < best[kind][0]):
                        best[kind] = (float(away[first]), points[first])
        for kind in ("corner", "edge"):
            if kind in best:
                return QPointF(*(float(one) for one in best[kind][1])), kind
        return at, ""

    def _near(self, at: QPointF, slop: float):
        yield self._sheet
        for one in self._placed:
            found = self._made.get(id(one))
            if found is None:
                found = self._made[id(one)] = _edges_of(one)
            if found[2].adjusted(-slop, -slop, slop, slop).contains(at):
                yield found[0], found[1]


class MeasureHand(Hand):
    """Two clicks measure; a third begins anew.

    Signals
    -------
    measured : float or None
        Length between the two points, mm.
    left : Esc was pressed with nothing measured
    """

    measured = Signal(object)
    left = Signal()

    def __init__(self, view: DrawingView, theme: Theme, under: Hand) -> None:
        super().__init__()
        self._view, self._theme, self._under = view, theme, under
        self._mark: _Tape | None = None
        self.edges: Edges | None = None
        self.start: QPointF | None = None
        self.end: QPointF | None = None
        self.at: tuple[QPointF, str] | None = None
        self.is_done = False

    @property
    def length(self) -> float | None:
        """Between the two points, mm; None before there are two."""
        if self.start is None or self.end is None:
            return None
        return math.hypot(self.end.x() - self.start.x(), self.end.y() - self.start.y())

    def attach(self, scene: QGraphicsScene) -> None:
        """Put the tape on the board, over the marks of the hand that was used before."""
        self._under.attach(scene)
        self._mark = _Tape(self._theme, self, scene.sceneRect())
        scene.addItem(self._mark)

    def detach(self) -> None:
        """Take the tape off."""
        self._under.detach()
        take_off_board(self._mark)
        self._mark = None
        self.clear()

    def clear(self) -> None:
        """Forget what was measured."""
        self.start = self.end = self.at = None
        self.is_done = False
        self.measured.emit(None)
        self._view.viewport().update()

    def press(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """Take a point; the middle button pans as ever."""
        if event.button() != Qt.MouseButton.LeftButton or self.edges is None:
            return False
        point, _kind = self.edges.snapped(at, slop)
        if self.start is None or self.is_done:
            self.start, self.end, self.is_done = point, None, False
        else:
            self.end, self.is_done = point, True
        self.measured.emit(self.length)
        self._view.viewport().update()
        return True

    def move(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """Show what would be taken."""
        if self.edges is None:
            return False
        self.at = self.edges.snapped(at, slop)
        if self.start is not None and not self.is_done:
            self.end = self.at[0]
            self.measured.emit(self.length)
        self._view.viewport().update()
        return True

    def release(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """Points are taken when the button goes down."""
        return event.button() == Qt.MouseButton.LeftButton

    def key(self, event: QKeyEvent) -> bool:
        """Esc forgets what was measured, or lays the tape down."""
        if event.key() != Qt.Key.Key_Escape:
            return False
        if self.start is not None:
            self.clear()
        else:
            self.left.emit()
        return True

    def cursor(self) -> Qt.CursorShape:
        """A cross."""
        return Qt.CursorShape.CrossCursor


class _Tape(Item):
    """The line between the two points with its length, and a mark on what the cursor has caught."""

    def __init__(self, theme: Theme, hand: MeasureHand, area: QRectF) -> None:
        super().__init__(theme)
        self._hand, self._area = hand, area
        self.setZValue(8.5)

    def boundingRect(self) -> QRectF:
        return self._area

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        colours, hand = self._theme.colours, self._hand
        board = painter.worldTransform()
        painter.save()
        painter.resetTransform()
        painter.setPen(QPen(QColor(colours.accent), 2.0))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if hand.at is not None and hand.at[1]:
            spot = board.map(hand.at[0])
            if hand.at[1] == "corner":
                painter.drawRect(QRectF(spot.x() - 5, spot.y() - 5, 10, 10))
            else:
                painter.drawEllipse(spot, 5, 5)
        if hand.start is not None:
            start = board.map(hand.start)
            if hand.end is not None and hand.length is not None:
                draw_length(painter, colours, start, board.map(hand.end), format_both(hand.length))
            else:
                painter.setBrush(QColor(colours.accent))
                painter.drawEllipse(start, 3, 3)
        painter.restore()


def draw_length(painter: QPainter, colours: Colours, start: QPointF, end: QPointF, text: str) -> None:
    """A length from one place to another on the screen, with what it comes to on a plate."""
    along = end - start
    length = math.hypot(along.x(), along.y())
    for width, colour in ((4.5, QColor(colours.panel)), (2.0, QColor(colours.accent))):
        painter.setPen(QPen(colour, width))
        painter.drawLine(start, end)
        if length > 1e-6:
            across = QPointF(-along.y() / length * 7, along.x() / length * 7)
            for one in (start, end):
                painter.drawLine(one - across, one + across)
    font = QFont()
    font.setPixelSize(12)
    metrics = QFontMetricsF(font)
    middle = (start + end) / 2.0
    plate = QRectF(0, 0, metrics.horizontalAdvance(text) + 14, metrics.height() + 6)
    plate.moveCenter(middle + (QPointF(0, -22) if length < plate.width() + 30 else QPointF(0, 0)))
    painter.setPen(QPen(QColor(colours.accent), 1.2))
    painter.setBrush(QColor(colours.panel))
    painter.drawRoundedRect(plate, 4, 4)
    painter.setFont(font)
    painter.setPen(QColor(colours.ink))
    painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, text)


def gap_between(one: PlacedPart, other: PlacedPart) -> tuple[float, QPointF, QPointF]:
    """Clearance of two parts on a sheet, mm, and the two points it lies between."""
    import shapely

    from nesting.clearance import placed_polygon

    first, second = (placed_polygon(_outline(each.part.region), each.placement) for each in (one, other))
    (x0, y0), (x1, y1) = shapely.get_coordinates(shapely.shortest_line(first, second)).tolist()
    return float(first.distance(second)), QPointF(x0, y0), QPointF(x1, y1)


def _outline(region: Region):
    from geometry.flatten import flatten_region

    return flatten_region(region, FLATTENED)


def _edges_of(one: PlacedPart) -> tuple[NDArray[np.float64], NDArray[np.float64], QRectF]:
    from app.planning.by_hand import map_of

    way = map_of(one.placement)
    contours = (one.part.region.outer, *one.part.region.holes)
    corners = way.apply_array([segment.start for contour in contours for segment in contour.segments])
    outline = _outline(one.part.region)
    rings = [way.apply_array(ring) for ring in (outline.outer, *outline.holes)]
    edges = np.concatenate([np.column_stack((ring, np.roll(ring, -1, axis=0))) for ring in rings])
    (x0, y0), (x1, y1) = rings[0].min(axis=0), rings[0].max(axis=0)
    return corners, edges, QRectF(x0, y0, x1 - x0, y1 - y0)


def _on_edges(edges: NDArray[np.float64], here: NDArray[np.float64]) -> NDArray[np.float64]:
    """The point of each edge (n, 4) nearest to a point."""
    start, way = edges[:, :2], edges[:, 2:] - edges[:, :2]
    square = np.maximum((way**2).sum(axis=1), 1e-18)
    share = np.clip(((here - start) * way).sum(axis=1) / square, 0.0, 1.0)
    return start + way * share[:, None]
