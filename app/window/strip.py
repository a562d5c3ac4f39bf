"""The strip under a drawing: a scale bar, the cursor's place, the units, and the zoom buttons."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QButtonGroup, QFrame, QHBoxLayout, QSizePolicy, QWidget

from app.job.document import DisplayUnits
from app.window.drawing_view import DrawingView, round_step
from app.window.facts import button, words
from app.window.theme import Theme
from geometry.units import format_length

BAR_LEAST_PX = 64
WORDS_PX = 52  # beside the bar
MOST_STEP = 3.0  # from one round length to the next


class ScaleBar(QWidget):
    """A bar of a round length at the drawing's scale."""

    def __init__(self, view: DrawingView, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._view, self._theme = view, theme
        self.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Scale bar")
        view.zoomed.connect(self.update)
        theme.changed.connect(self.update)

    def sizeHint(self) -> QSize:
        """Room for the longest bar and its words."""
        return QSize(250, 24)

    def minimumSizeHint(self) -> QSize:
        """Room for a short bar and its words, where the window is narrow."""
        return QSize(100, 24)

    def length(self) -> float:
        """Length the bar stands for, mm: as much as leaves room for its words."""
        room = (self.width() - WORDS_PX) / MOST_STEP
        return round_step(max(1.0, min(BAR_LEAST_PX, room)) / self._view.scale_px, self._view.units)

    def paintEvent(self, event: QPaintEvent) -> None:
        """The bar, half filled, and its length."""
        if self._view.picture is None:
            return
        length = self.length()
        width = length * self._view.scale_px
        ink = QColor(self._theme.colours.ink)
        painter = QPainter(self)
        painter.setPen(QPen(ink, 1))
        middle = self.height() / 2
        painter.drawRect(QRectF(0.5, middle - 3, width, 6))
        painter.fillRect(QRectF(0.5, middle - 3, width / 2, 6), ink)
        painter.drawText(
            QPointF(width + 8, middle + painter.fontMetrics().ascent() / 2 - 1),
            format_length(length, self._view.units.value),
        )
        painter.end()


class Strip(QFrame):
    """Scale bar, cursor, units, zoom.

    Signals
    -------
    units_chosen : DisplayUnits
    """

    units_chosen = Signal(object)

    def __init__(
        self, view: DrawingView, theme: Theme, *, can_turn: bool = False, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setObjectName("strip")
        self._view = view
        self.bar = ScaleBar(view, theme)
        self.cursor = words("", "muted", wrap=False)
        self.cursor.setAccessibleName("Cursor position")
        self.cursor.setMinimumWidth(60)
        self.fit = button("Fit", "plain", tip="Show the whole drawing (F)", name="Fit the drawing")
        self.closer = button("+", "plain", tip="Zoom in (+)", name="Zoom in")
        self.farther = button("−", "plain", tip="Zoom out (−)", name="Zoom out")
        self.turn = button("Turn", "plain", tip="Lay the sheet on its side or stand it up (T)", name="Turn the drawing")
        self.inches = button("in", "plain", tip="Show lengths in inches", name="Inches")
        self.millimetres = button("mm", "plain", tip="Show lengths in millimetres", name="Millimetres")
        choice = QButtonGroup(self)
        for one in (self.inches, self.millimetres):
            one.setCheckable(True)
            choice.addButton(one)
        self.turn.setVisible(can_turn)
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 3, 8, 3)
        row.setSpacing(4)
        row.addWidget(self.bar)
        row.addWidget(self.cursor, 1)
        for widget in (self.inches, self.millimetres, self.turn, self.farther, self.closer, self.fit):
            row.addWidget(widget)
        self.fit.clicked.connect(view.fit)
        self.closer.clicked.connect(lambda: view.zoom(1.5))
        self.farther.clicked.connect(lambda: view.zoom(1 / 1.5))
        self.turn.clicked.connect(lambda: view.turn(not view.is_turned))
        self.inches.clicked.connect(lambda: self.units_chosen.emit(DisplayUnits.INCHES))
        self.millimetres.clicked.connect(lambda: self.units_chosen.emit(DisplayUnits.MILLIMETRES))
        view.pointer_moved.connect(self._show_cursor)
        self.show_units(DisplayUnits.INCHES)

    def show_units(self, units: DisplayUnits) -> None:
        """Use these units from now on."""
        self._view.units = units
        (self.inches if units is DisplayUnits.INCHES else self.millimetres).setChecked(True)
        self._view.viewport().update()
        self.bar.update()

    def _show_cursor(self, at: QPointF | None) -> None:
        if at is None or self._view.picture is None:
            self.cursor.setText("")
            return
        if self._view.units is DisplayUnits.INCHES:
            self.cursor.setText(f"x {at.x() / 25.4:.2f}″   y {at.y() / 25.4:.2f}″")
        else:
            self.cursor.setText(f"x {at.x():.1f}   y {at.y():.1f} mm")
        self.cursor.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
