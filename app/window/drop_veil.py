"""What the window shows while files are held over it: where they go when they are let go."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from app.window.theme import Theme


class DropVeil(QWidget):
    """A frame with a sentence, over everything; takes no mouse events."""

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme = theme
        self.text = ""
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.hide()

    def show_over(self, area: QWidget, *, has_job: bool) -> None:
        """Cover an area and say what dropping does."""
        self.text = "Let go to add artwork to this job, or to open a job" if has_job else "Let go to begin"
        self.setGeometry(area.rect())
        self.raise_()
        self.show()

    def paintEvent(self, event: QPaintEvent) -> None:
        """A wash, a frame and the sentence."""
        colours = self._theme.colours
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        wash = QColor(colours.accent_wash)
        wash.setAlpha(225)
        painter.fillRect(self.rect(), wash)
        painter.setPen(QPen(QColor(colours.accent), 3))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(10, 10, -10, -10), 8, 8)
        font = painter.font()
        font.setPixelSize(20)
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(QColor(colours.ink))
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, self.text)
        painter.end()
