"""Picking two points of an artwork whose true distance is known; the cursor snaps to corners."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPen, QTransform
from PySide6.QtWidgets import QGraphicsItem, QGraphicsScene, QStyleOptionGraphicsItem, QWidget

from app.artwork.drawing import Lettering
from app.window.hand import Hand, take_off_board
from app.window.picture import Item
from app.window.theme import Theme
from geometry.units import format_length

LABEL_PX: Final = 13


@dataclass(frozen=True, slots=True)
class Corner:
    """A place to snap to: the artwork it belongs to, and where it is on the board."""

    artwork: str
    at: QPointF


@dataclass(frozen=True, slots=True)
class Span:
    """Two points of one artwork, in its frame, mm."""

    artwork: str
    start: tuple[float, float]
    end: tuple[float, float]

    @property
    def length(self) -> float:
        """How far apart they are now, mm."""
        return math.dist(self.start, self.end)


def corners_of(lettering: Sequence[Lettering], frames: Mapping[str, QTransform]) -> tuple[Corner, ...]:
    """Every joint of two segments of every letter, in reading order."""
    found = []
    for one in lettering:
        frame = frames[one.artwork]
        for letter in one.letters:
            for region in letter.regions:
                for contour in (region.outer, *region.holes):
                    found += [Corner(one.artwork, frame.map(QPointF(*part.start))) for part in contour.segments]
    return tuple(found)


class DimensionHand(Hand):
    """Takes two clicks. Keys pick too: full stop and comma go from corner to corner, Enter takes one, Escape ends.

    Signals
    -------
    picked : Span
    ended : nothing was picked, or the points are wanted no more
    """

    picked = Signal(object)
    ended = Signal()

    def __init__(
        self,
        theme: Theme,
        lettering: Sequence[Lettering],
        frames: Mapping[str, QTransform],
        units: str,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._theme, self._units = theme, units
        self._lettering = {one.artwork: one for one in lettering}
        self._frames = dict(frames)
        self._corners = corners_of(lettering, frames)
        self._first: Corner | None = None
        self._last: Corner | None = None
        self._at: Corner | None = None
        self._item: _SpanItem | None = None

    @property
    def at(self) -> Corner | None:
        """What a click would take."""
        return self._at

    def attach(self, scene: QGraphicsScene) -> None:
        """Show what is picked so far."""
        self._item = _SpanItem(self._theme)
        scene.addItem(self._item)
        self._show()

    def detach(self) -> None:
        """Take it off the board."""
        take_off_board(self._item)
        self._item = None

    def press(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """Take a point; the middle button still pans."""
        if event.button() != Qt.MouseButton.LeftButton:
            return False
        self._at = self._nearest(at, slop)
        self._take()
        return True

    def release(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """The click is over with the press."""
        return event.button() == Qt.MouseButton.LeftButton

    def move(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """Show what a click would take."""
        self._at = self._nearest(at, slop)
        self._show()
        return True

    def key(self, event: QKeyEvent) -> bool:
        """Go from corner to corner, take one, or end."""
        if event.key() in (Qt.Key.Key_Period, Qt.Key.Key_Comma):
            self._step(1 if event.key() == Qt.Key.Key_Period else -1)
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._take()
        elif event.key() == Qt.Key.Key_Escape:
            self.ended.emit()
        else:
            return False
        return True

    def cursor(self) -> Qt.CursorShape:
        """A cross."""
        return Qt.CursorShape.CrossCursor

    def _take(self) -> None:
        if self._at is None:
            return
        if self._first is None or self._last is not None:
            self._first, self._last = self._at, None
        elif self._at.at != self._first.at:
            self._last = self._at
            self.picked.emit(self._span(self._first, self._last))
        self._show()

    def _span(self, first: Corner, last: Corner) -> Span:
        back, _ok = self._frames[first.artwork].inverted()
        start, end = back.map(first.at), back.map(last.at)
        return Span(first.artwork, (start.x(), start.y()), (end.x(), end.y()))

    def _nearest(self, at: QPointF, slop: float) -> Corner | None:
        """The corner under the cursor, else the place itself, of the artwork one has begun with or is over."""
        begun = self._first.artwork if self._first is not None and self._last is None else ""
        near = [
            (math.hypot(one.at.x() - at.x(), one.at.y() - at.y()), index)
            for index, one in enumerate(self._corners)
            if not begun or one.artwork == begun
        ]
        if not near:
            return None
        away, index = min(near)
        corner = self._corners[index]
        return corner if away <= slop else Corner(begun or corner.artwork, at)

    def _step(self, step: int) -> None:
        begun = self._first.artwork if self._first is not None and self._last is None else ""
        corners = [one for one in self._corners if not begun or one.artwork == begun]
        if corners:
            index = corners.index(self._at) + step if self._at in corners else (0 if step > 0 else -1)
            self._at = corners[index % len(corners)]
            self._show()

    def _show(self) -> None:
        if self._item is None:
            return
        end = self._last or self._at
        text = ""
        if self._first is not None and end is not None:
            text = format_length(self._span(self._first, end).length, self._units)
        is_corner = self._last is None and self._at in self._corners
        self._item.show_span(self._first, end, text, is_corner=is_corner)


class _SpanItem(Item):
    """The line between two points with its length now, and a square round the corner a click would take."""

    def __init__(self, theme: Theme) -> None:
        super().__init__(theme)
        self._first: Corner | None = None
        self._end: Corner | None = None
        self._text, self._is_corner = "", False
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemHasNoContents, False)
        self.setZValue(10.0)

    def show_span(self, first: Corner | None, end: Corner | None, text: str, *, is_corner: bool) -> None:
        """Show these."""
        self.prepareGeometryChange()
        self._first, self._end, self._text, self._is_corner = first, end, text, is_corner
        self.update()

    def boundingRect(self) -> QRectF:
        """Everything: it is painted in pixels, and there is one of it."""
        scene = self.scene()
        return scene.sceneRect() if scene is not None else QRectF()

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        """Line, ends, square and length."""
        colours = self._theme.colours
        board = painter.worldTransform()
        painter.save()
        painter.resetTransform()
        ends = [board.map(one.at) for one in (self._first, self._end) if one is not None]
        for width, colour in ((4.5, QColor(colours.panel)), (2.0, QColor(colours.accent))):
            painter.setPen(QPen(colour, width))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            if self._first is not None and self._end is not None:
                painter.drawLine(ends[0], ends[1])
            for end in ends:
                painter.drawEllipse(end, 3.5, 3.5)
            if self._is_corner:
                painter.drawRect(QRectF(ends[-1].x() - 8, ends[-1].y() - 8, 16, 16))
        if self._text and len(ends) == 2:
            font = QFont(painter.font())
            font.setPixelSize(LABEL_PX)
            font.setBold(True)
            metrics = QFontMetricsF(font)
            box = QRectF(0, 0, metrics.horizontalAdvance(self._text) + 12, metrics.height() + 4)
            box.moveCenter((ends[0] + ends[1]) / 2 - QPointF(0, 18))
            painter.setFont(font)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(colours.accent))
            painter.drawRoundedRect(box, 4, 4)
            painter.setPen(QColor(colours.on_accent))
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, self._text)
        painter.restore()
