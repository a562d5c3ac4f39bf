"""The walk: the places of the window in the order of the work, each with a line on how it stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, auto

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QButtonGroup, QHBoxLayout, QSizePolicy, QWidget

from app.window.theme import Theme


class Mark(Enum):
    """How a place stands."""

    OPEN = auto()
    BUSY = auto()
    DONE = auto()
    LOOK = auto()
    FAULT = auto()


@dataclass(frozen=True, slots=True)
class Standing:
    """How a place stands, with a few words."""

    mark: Mark = Mark.OPEN
    words: str = ""


class Step(QAbstractButton):
    """One place of the walk."""

    def __init__(self, number: int, title: str, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._number, self._theme = number, theme
        self._standing = Standing()
        self.setText(title)
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        theme.changed.connect(self.update)

    @property
    def standing(self) -> Standing:
        """How the place stands."""
        return self._standing

    def show_standing(self, standing: Standing) -> None:
        """Show how the place stands."""
        self._standing = standing
        self.setAccessibleName(f"{self.text()}. {standing.words}")
        self.setToolTip(f"{self.text()}: {standing.words or 'nothing yet'} (Ctrl+{self._number})")
        self.update()

    def sizeHint(self) -> QSize:
        """Two lines of text."""
        return QSize(150, 56)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Mark, title, words; a bar under the place one is at."""
        colours = self._theme.colours
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        area = QRectF(self.rect())
        if self.isChecked():
            painter.fillRect(area, QColor(colours.panel))
            painter.fillRect(QRectF(0, area.height() - 3, area.width(), 3), QColor(colours.accent))
        elif self.underMouse() and self.isEnabled():
            painter.fillRect(area, QColor(colours.accent_wash))
        if self.hasFocus():
            painter.setPen(QPen(QColor(colours.accent), 2))
            painter.drawRect(area.adjusted(1, 1, -1, -1))
        self._paint_mark(painter, QPointF(25, area.height() / 2))
        ink = QColor(colours.ink if self.isEnabled() else colours.muted)
        title, small = QFont(self.font()), QFont(self.font())
        title.setBold(True)
        title.setPixelSize(14)
        small.setPixelSize(11)
        room = area.width() - 50
        painter.setFont(title)
        painter.setPen(ink)
        painter.drawText(QRectF(44, 9, room, 20), Qt.AlignmentFlag.AlignVCenter, self.text())
        painter.setFont(small)
        painter.setPen(QColor(self._words_colour()))
        text = QFontMetricsF(small).elidedText(self._standing.words, Qt.TextElideMode.ElideRight, room)
        painter.drawText(QRectF(44, 29, room, 16), Qt.AlignmentFlag.AlignVCenter, text)
        painter.end()

    def _words_colour(self) -> str:
        colours = self._theme.colours
        return {Mark.LOOK: colours.warning, Mark.FAULT: colours.error}.get(self._standing.mark, colours.muted)

    def _paint_mark(self, painter: QPainter, centre: QPointF) -> None:
        colours = self._theme.colours
        mark = self._standing.mark
        colour = QColor(
            {
                Mark.DONE: colours.good,
                Mark.LOOK: colours.warning,
                Mark.FAULT: colours.error,
                Mark.BUSY: colours.accent,
            }.get(mark, colours.accent if self.isChecked() else colours.muted)
        )
        pen = QPen(colour, 1.8, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin)
        painter.setPen(pen)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        x, y = centre.x(), centre.y()
        painter.drawEllipse(centre, 11, 11)
        if mark is Mark.DONE:
            painter.drawPolyline([QPointF(x - 4.5, y), QPointF(x - 1.2, y + 3.6), QPointF(x + 5, y - 3.8)])
        elif mark in (Mark.LOOK, Mark.FAULT):
            painter.drawLine(QPointF(x, y - 5.5), QPointF(x, y + 1))
            painter.drawPoint(QPointF(x, y + 5))
        elif mark is Mark.BUSY:
            painter.setBrush(colour)
            for shift in (-4.5, 0.0, 4.5):
                painter.drawEllipse(QPointF(x + shift, y), 0.8, 0.8)
        else:
            font = QFont(self.font())
            font.setPixelSize(12)
            font.setBold(True)
            painter.setFont(font)
            painter.drawText(QRectF(x - 11, y - 11, 22, 22), Qt.AlignmentFlag.AlignCenter, str(self._number))


class Walk(QWidget):
    """The row of places.

    Signals
    -------
    chosen : int
        Index of the place.
    """

    chosen = Signal(int)

    def __init__(self, titles: Sequence[str], theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 1)
        row.setSpacing(0)
        group = QButtonGroup(self)
        self.steps = [Step(number, title, theme) for number, title in enumerate(titles, start=1)]
        for index, step in enumerate(self.steps):
            group.addButton(step, index)
            row.addWidget(step)
        group.idClicked.connect(self.chosen)
        theme.changed.connect(self.update)

    def go(self, index: int) -> None:
        """Mark a place as the one one is at."""
        self.steps[index].setChecked(True)

    def paintEvent(self, event: QPaintEvent) -> None:
        """A line under the row."""
        painter = QPainter(self)
        painter.fillRect(0, self.height() - 1, self.width(), 1, QColor(self._theme.colours.line))
        painter.end()
