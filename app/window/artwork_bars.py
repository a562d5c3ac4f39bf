"""What the artwork's board asks: how long the picked distance truly is, and in what unit a file is drawn."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from app.artwork.file_units import OFFERED
from app.errors import UnitWanted
from app.job.document import DisplayUnits
from app.window.dimension_hand import Span
from app.window.facts import button, clear, words
from app.window.fields import LengthField
from geometry.units import MM_PER, format_both, format_length

UNIT_NAMES = {
    "in": "inches",
    "ft": "feet",
    "mm": "millimetres",
    "cm": "centimetres",
    "m": "metres",
    "px": "pixels, 96 to the inch",
    "pt": "points, 72 to the inch",
}


class DimensionBar(QFrame):
    """Over the drawing while two points are picked: what to do, then the field for their true distance.

    Signals
    -------
    measured : Span, float
        The points, and how far apart they are to be, mm.
    refused : str
    ended : no size is set
    """

    measured = Signal(object, float)
    refused = Signal(str)
    ended = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("banner")
        self._span: Span | None = None
        self.told = words()
        self.length = LengthField("True length between the two points")
        self.length.setMaximumWidth(150)
        self.length.committed.connect(self._take)
        self.length.refused.connect(self.refused)
        self.cancel = button("Cancel", tip="Leave the size as it is (Escape)")
        self.cancel.clicked.connect(self.ended)
        row = QHBoxLayout(self)
        row.setContentsMargins(16, 8, 10, 8)
        row.setSpacing(10)
        row.addWidget(self.told, 1)
        row.addWidget(self.length)
        row.addWidget(self.cancel)
        self.hide()

    def begin(self) -> None:
        """Ask for the points."""
        self._span = None
        self.told.setText("Click two points whose true distance you know. The cursor snaps to corners.")
        self.length.hide()
        self.show()

    def show_span(self, span: Span, units: DisplayUnits) -> None:
        """Ask for the true distance of these."""
        self._span = span
        self.told.setText(f"Now {format_both(span.length)}. How long is it truly?")
        self.length.show_length(None, units)
        self.length.setPlaceholderText(format_length(span.length, units.value))
        self.length.show()
        self.length.setFocus()

    def _take(self, length: float) -> None:
        if self._span is not None:
            self.measured.emit(self._span, length)


class UnitQuestion(QWidget):
    """In the middle of the board: the units a file may be drawn in, each with the size it gives.

    Signals
    -------
    chosen : str, str
        Id of the artwork and the unit.
    height_given : str, float
        Id of the artwork and how high the whole of it is, mm.
    refused : str
    """

    chosen = Signal(str, str)
    height_given = Signal(str, float)
    refused = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._artwork = ""
        self.setMaximumWidth(470)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        self.heading = words("", "heading")
        self.told = words("", "muted")
        self._choices = QVBoxLayout()
        self._choices.setSpacing(6)
        self.height_field = LengthField("Height of the whole artwork")
        self.height_field.setPlaceholderText('such as 24" or 610 mm')
        self.height_field.committed.connect(lambda length: self.height_given.emit(self._artwork, length))
        self.height_field.refused.connect(self.refused)
        row = QHBoxLayout()
        row.setSpacing(10)
        row.addWidget(words("Or give the height of the whole artwork", wrap=False))
        row.addWidget(self.height_field, 1)
        box = QVBoxLayout(self)
        box.setSpacing(10)
        box.addWidget(self.heading)
        box.addWidget(self.told)
        box.addLayout(self._choices)
        box.addLayout(row)
        self.hide()

    def ask(self, question: UnitWanted, name: str, units: DisplayUnits) -> None:
        """Ask about an artwork."""
        if self._artwork == question.artwork and self.isVisible():
            return
        self._artwork = question.artwork
        wide, high = question.size
        self.heading.setText(f"In what unit is “{name}” drawn?")
        self.told.setText(f"The file does not say. Its numbers are {wide:.6g} across and {high:.6g} up.")
        self.height_field.show_length(None, units)
        clear(self._choices)
        for unit in OFFERED:
            sizes = f"{format_both(wide * MM_PER[unit])} × {format_both(high * MM_PER[unit])}"
            made = button(f"{UNIT_NAMES[unit].capitalize()}:  {sizes}", "card", name=f"{UNIT_NAMES[unit]}, {sizes}")
            made.clicked.connect(lambda _checked=False, unit=unit: self.chosen.emit(self._artwork, unit))
            self._choices.addWidget(made)
        self.show()

    def buttons(self) -> list[QWidget]:
        """One for each unit, in the order of `OFFERED`."""
        return [self._choices.itemAt(index).widget() for index in range(self._choices.count())]


def centre_over(view: QWidget, question: QWidget) -> None:
    """Lay a widget over the middle of another."""
    holder = QVBoxLayout(view)
    holder.setContentsMargins(20, 20, 20, 20)
    holder.addWidget(question, 0, Qt.AlignmentFlag.AlignCenter)
