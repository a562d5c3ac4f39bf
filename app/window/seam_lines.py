"""Where parts are divided: a dashed line across the letter, in the colour of what is divided there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from app.fabrication.part import PartSeam
from app.window.picture import Item
from app.window.theme import Theme


class SeamLine(Item):
    """One seam, in the frame of its artwork; light under the dashes, so that it shows on any fill."""

    def __init__(self, theme: Theme, seam: PartSeam) -> None:
        super().__init__(theme)
        self.seam = seam
        self.setZValue(1.5)

    def boundingRect(self) -> QRectF:
        """Bounds with room for the line's width."""
        box = QRectF(QPointF(*self.seam.start), QPointF(*self.seam.end)).normalized()
        slack = 4.0 + 0.02 * max(box.width(), box.height())
        return box.adjusted(-slack, -slack, slack, slack)

    def paint(self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None) -> None:
        """The line."""
        start, end = QPointF(*self.seam.start), QPointF(*self.seam.end)
        for width, colour, style in (
            (3.6, QColor("#FFFFFF"), Qt.PenStyle.SolidLine),
            (1.8, self._theme.colours.role_edge(self.seam.role), Qt.PenStyle.DashLine),
        ):
            pen = QPen(colour, width, style, Qt.PenCapStyle.FlatCap)
            pen.setCosmetic(True)
            painter.setPen(pen)
            painter.drawLine(start, end)


def seams_in_words(seams: Sequence[PartSeam]) -> str:
    """How many of what: "8 (dashed): 5 backer, 3 face"."""
    of_role = Counter(seam.role.value for seam in seams)
    return f"{len(seams)} (dashed): " + ", ".join(f"{number} {role}" for role, number in of_role.items())
