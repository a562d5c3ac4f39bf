"""What takes the mouse on a drawing instead of panning and selecting: a seam being dragged, two points picked."""

from __future__ import annotations

from PySide6.QtCore import QObject, QPointF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QGraphicsItem, QGraphicsScene


def take_off_board(item: QGraphicsItem | None) -> None:
    """Take what a hand has put on the board off it, where it still is there."""
    if item is not None and item.scene() is not None:
        item.scene().removeItem(item)


class Hand(QObject):
    """Asked first by the drawing about every press, move, release and key; what it does not take is done as usual.

    Points are the picture's mm, y up; `slop` is the mm that a few pixels come to at this zoom.
    """

    def attach(self, scene: QGraphicsScene) -> None:
        """Another picture is on the board, or this hand has just been taken up: put one's own items on it."""

    def detach(self) -> None:
        """The hand is laid down; items still on the board are to go."""

    def press(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """A button went down; whether it is this hand's."""
        return False

    def move(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """The mouse moved, with or without a button; whether it is this hand's."""
        return False

    def release(self, at: QPointF, slop: float, event: QMouseEvent) -> bool:
        """A button went up; whether it is this hand's."""
        return False

    def key(self, event: QKeyEvent) -> bool:
        """A key went down while the drawing has the focus; whether it is this hand's."""
        return False

    def cursor(self) -> Qt.CursorShape:
        """The mouse cursor over the drawing, as things stand."""
        return Qt.CursorShape.ArrowCursor
