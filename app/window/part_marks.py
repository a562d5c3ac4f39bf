"""What is painted over the parts of a sheet: how they stand, the handle for turning, a clearance, the box."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPen
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from app.window.measure_hand import draw_length
from app.window.picture import Item
from app.window.theme import Theme

if TYPE_CHECKING:
    from app.window.part_hand import PartHand

VERDICT_COLOURS: Final = {
    "clear": "#009E73",  # bluish green
    "too close": "#E69F00",  # orange
    "in a hole": "#0072B2",  # blue
    "outside": "#CC79A7",  # reddish purple
    "overlaps": "#D55E00",  # vermillion
}
"""How a part stands, in colours of Okabe and Ito; each comes with its word and a pattern of its own."""

VERDICT_PATTERNS: Final = {
    "clear": Qt.BrushStyle.NoBrush,
    "too close": Qt.BrushStyle.Dense6Pattern,
    "in a hole": Qt.BrushStyle.CrossPattern,
    "outside": Qt.BrushStyle.BDiagPattern,
    "overlaps": Qt.BrushStyle.DiagCrossPattern,
}


class PartMarks(Item):
    """Over everything else, as the hand that moves the parts has it."""

    def __init__(self, theme: Theme, hand: PartHand, area: QRectF) -> None:
        super().__init__(theme)
        self._hand, self._area = hand, area
        self.setZValue(8.0)

    def boundingRect(self) -> QRectF:
        """All of the board."""
        return self._area

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        """Verdicts, handle, clearance, box."""
        colours = self._theme.colours
        board = painter.worldTransform()
        for thing, kind, text in self._hand.standings():
            colour = QColor(VERDICT_COLOURS.get(kind, colours.error))
            painter.save()
            painter.setTransform(thing.sceneTransform(), True)
            pen = QPen(colour, 3.0)
            pen.setCosmetic(True)
            painter.setPen(pen)
            wash = QColor(colour)
            wash.setAlpha(150)
            brush = QBrush(wash, VERDICT_PATTERNS.get(kind, Qt.BrushStyle.BDiagPattern))
            brush.setTransform(painter.worldTransform().inverted()[0])
            painter.setBrush(brush)
            painter.drawPath(self._hand.path_of(thing))
            painter.restore()
            if text:
                self._say(painter, board.mapRect(thing.area()), text, colour)
        handle = self._hand.handle()
        if handle is not None:
            painter.save()
            painter.resetTransform()
            at, pivot = board.map(handle), board.map(self._hand.pivot())
            painter.setPen(QPen(QColor(colours.ink), 1.2, Qt.PenStyle.DotLine))
            painter.drawLine(pivot, at)
            painter.setPen(QPen(QColor(colours.panel), 1.5))
            painter.setBrush(QColor(colours.accent))
            painter.drawEllipse(at, 6.5, 6.5)
            self._draw_turn_arrows(painter, pivot, at)
            painter.restore()
        if self._hand.gap is not None and not self._hand.is_moving:
            start, end, text = self._hand.gap
            painter.save()
            painter.resetTransform()
            draw_length(painter, colours, board.map(start), board.map(end), text)
            painter.restore()
        box = self._hand.box()
        if box is not None:
            pen = QPen(QColor(colours.accent), 1.4, Qt.PenStyle.DashLine)
            pen.setCosmetic(True)
            wash = QColor(colours.accent)
            wash.setAlpha(35)
            painter.setPen(pen)
            painter.setBrush(wash)
            painter.drawRect(box)

    def _draw_turn_arrows(self, painter: QPainter, pivot: QPointF, at: QPointF) -> None:
        """Two short arrows beside the handle, along the circle it moves on."""
        radius = math.hypot(at.x() - pivot.x(), at.y() - pivot.y())
        lean = math.degrees(math.atan2(pivot.y() - at.y(), at.x() - pivot.x()))
        circle = QRectF(pivot.x() - radius, pivot.y() - radius, 2 * radius, 2 * radius)
        from_px, to_px = (math.degrees(px / max(radius, 1.0)) for px in (11.0, 20.0))
        painter.setPen(QPen(QColor(self._theme.colours.accent), 2.0))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for way in (1.0, -1.0):
            painter.drawArc(circle, round(16 * (lean + way * from_px)), round(16 * way * (to_px - from_px)))
            tip = math.radians(lean + way * to_px)
            end = QPointF(pivot.x() + radius * math.cos(tip), pivot.y() - radius * math.sin(tip))
            back = QPointF(math.sin(tip), math.cos(tip)) * way
            out = QPointF(math.cos(tip), -math.sin(tip))
            painter.drawLine(end, end + back * 4.0 + out * 3.0)
            painter.drawLine(end, end + back * 4.0 - out * 3.0)

    def _say(self, painter: QPainter, area: QRectF, text: str, colour: QColor) -> None:
        """A few words on a plate above a part, or below where there is no room."""
        font = QFont()
        font.setPixelSize(12)
        metrics = QFontMetricsF(font)
        width, height = metrics.horizontalAdvance(text) + 26, metrics.height() + 6
        y = area.top() - height - 6
        if y < 4:
            y = area.bottom() + 6
        window = painter.viewport()
        left = min(max(area.center().x() - width / 2, 4.0), window.width() - width - 4.0)
        plate = QRectF(left, y, width, height)
        painter.save()
        painter.resetTransform()
        painter.setPen(QPen(colour, 1.4))
        painter.setBrush(QColor(self._theme.colours.panel))
        painter.drawRoundedRect(plate, 4, 4)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        painter.drawRoundedRect(QRectF(plate.left() + 6, plate.center().y() - 5, 10, 10), 2, 2)
        painter.setPen(QColor(self._theme.colours.ink))
        painter.setFont(font)
        painter.drawText(plate.adjusted(20, 0, -4, 0), Qt.AlignmentFlag.AlignCenter, text)
        painter.restore()
