"""How choices of stock compare, as bars: what of the sheets bought becomes parts, kept offcuts and scrap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.window.theme import Theme

ROW_PX: Final = 34
HEAD_PX: Final = 30
BAR_PX: Final = 9
EDGE_PX: Final = 14


@dataclass(frozen=True, slots=True)
class Bar:
    """One choice.

    Fields
    ------
    name, figures, tip : str
        What it is called; cost and sheets in words; all that is known.
    parts, kept, scrap : float
        Areas of one unit, or anything else that adds up.
    is_best, is_unbeaten : bool
    is_waiting : bool
        Not planned yet.
    is_short : bool
        Leaves parts without a place, or cannot be planned.
    """

    name: str
    figures: str = ""
    tip: str = ""
    parts: float = 0.0
    kept: float = 0.0
    scrap: float = 0.0
    is_best: bool = False
    is_unbeaten: bool = False
    is_waiting: bool = False
    is_short: bool = False

    @property
    def whole(self) -> float:
        """Length of the bar."""
        return self.parts + self.kept + self.scrap


class CompareChart(QWidget):
    """One bar under the name of each choice, all to one scale.

    Signals
    -------
    chosen : int
        Index of the bar a person went to.
    """

    chosen = Signal(int)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.bars: tuple[Bar, ...] = ()
        self.index = -1
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.MinimumExpanding)
        self.setAccessibleName("Chart of the choices")
        theme.changed.connect(self.update)

    def show_bars(self, bars: Sequence[Bar], index: int) -> None:
        """Show these, with one of them marked (-1 for none)."""
        self.bars, self.index = tuple(bars), index
        self.setAccessibleDescription(". ".join(f"{bar.name}: {bar.figures}" for bar in self.bars))
        self.setMinimumHeight(self.sizeHint().height())
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """As high as there are choices."""
        return QSize(360, HEAD_PX + ROW_PX * len(self.bars) + 8)

    def row_area(self, index: int) -> QRectF:
        """Where a choice stands, pixels."""
        return QRectF(0, HEAD_PX + index * ROW_PX, self.width(), ROW_PX)

    def paintEvent(self, event: QPaintEvent) -> None:
        """The key, then a row for each choice."""
        colours = self._theme.colours
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_key(painter)
        longest = max((bar.whole for bar in self.bars), default=0.0) or 1.0
        room = self.width() - 2 * EDGE_PX
        for index, bar in enumerate(self.bars):
            area = self.row_area(index)
            if index == self.index:
                painter.fillRect(area, QColor(colours.accent_wash))
                if self.hasFocus():
                    painter.setPen(QPen(QColor(colours.accent), 1))
                    painter.setBrush(Qt.BrushStyle.NoBrush)
                    painter.drawRect(area.adjusted(0.5, 0.5, -0.5, -0.5))
            self._paint_words(painter, bar, area)
            line = QRectF(EDGE_PX, area.y() + 20, room, BAR_PX)
            if bar.is_waiting:
                painter.setPen(QPen(QColor(colours.line), 1, Qt.PenStyle.DashLine))
                painter.drawLine(line.left(), line.center().y(), line.right(), line.center().y())
                continue
            at = line.left()
            for size, brush in zip((bar.parts, bar.kept, bar.scrap), self._brushes(), strict=True):
                wide = room * size / longest
                piece = QRectF(at, line.y(), wide, BAR_PX)
                if wide > 0.0:
                    painter.fillRect(piece, QColor(colours.sheet))
                    painter.fillRect(piece, brush)
                at += wide
            painter.setPen(QPen(QColor(colours.muted), 1))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(QRectF(line.left(), line.y(), max(at - line.left(), 1.0), BAR_PX))
        painter.end()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Go to the choice under the cursor."""
        self._go(int((event.position().y() - HEAD_PX) // ROW_PX))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Up and down go from one to another."""
        steps = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}
        if event.key() in steps and self.bars:
            self._go(min(max(self.index + steps[event.key()], 0), len(self.bars) - 1))
        else:
            super().keyPressEvent(event)

    def event(self, event: QEvent) -> bool:
        """Say all that is known of the choice under the cursor."""
        if event.type() == QEvent.Type.ToolTip:
            index = int((event.pos().y() - HEAD_PX) // ROW_PX)
            if 0 <= index < len(self.bars):
                QToolTip.showText(event.globalPos(), self.bars[index].tip, self)
            else:
                QToolTip.hideText()
            return True
        return super().event(event)

    def _go(self, index: int) -> None:
        if 0 <= index < len(self.bars) and index != self.index:
            self.index = index
            self.update()
            self.chosen.emit(index)

    def _brushes(self) -> tuple[QBrush, ...]:
        colours = self._theme.colours
        kept = QBrush(QColor(colours.good), Qt.BrushStyle.BDiagPattern)
        return QBrush(QColor(colours.accent)), kept, QBrush(QColor(colours.sheet))

    def _paint_key(self, painter: QPainter) -> None:
        colours = self._theme.colours
        font = QFont(self.font())
        font.setPixelSize(11)
        painter.setFont(font)
        metrics = QFontMetricsF(font)
        x = float(EDGE_PX)
        for brush, words in zip(self._brushes(), ("parts", "kept offcuts", "scrap"), strict=True):
            patch = QRectF(x, 12, 14, BAR_PX)
            painter.fillRect(patch, QColor(colours.sheet))
            painter.fillRect(patch, brush)
            painter.setPen(QPen(QColor(colours.muted), 1))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(patch)
            painter.setPen(QColor(colours.muted))
            painter.drawText(QPointF(x + 19, 20), words)
            x += 19 + metrics.horizontalAdvance(words) + 16
        note = "length: sheet area used"
        if x + metrics.horizontalAdvance(note) < self.width() - EDGE_PX:
            painter.drawText(QPointF(self.width() - EDGE_PX - metrics.horizontalAdvance(note), 20), note)

    def _paint_words(self, painter: QPainter, bar: Bar, area: QRectF) -> None:
        colours = self._theme.colours
        font = QFont(self.font())
        font.setPixelSize(12)
        font.setBold(bar.is_best)
        metrics = QFontMetricsF(font)
        ink = QColor(colours.muted if bar.is_waiting or not (bar.is_best or bar.is_unbeaten) else colours.ink)
        y = area.y() + 14
        x = float(EDGE_PX)
        if bar.is_best:
            painter.setPen(QPen(QColor(colours.good), 2, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
            painter.drawPolyline([QPointF(x, y - 4), QPointF(x + 3, y - 1), QPointF(x + 9, y - 8)])
            x += 15
        elif bar.is_unbeaten:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(colours.good))
            painter.drawEllipse(QPointF(x + 4, y - 4), 2.5, 2.5)
            x += 15
        painter.setFont(font)
        painter.setPen(ink)
        right = self.width() - EDGE_PX
        wide = metrics.horizontalAdvance(bar.figures)
        name = metrics.elidedText(bar.name, Qt.TextElideMode.ElideMiddle, max(right - wide - x - 12, 60))
        painter.drawText(QPointF(x, y), name)
        painter.setPen(QColor(colours.error) if bar.is_short else ink)
        painter.drawText(QPointF(right - wide, y), bar.figures)
