"""Entry fields that only hand on what makes sense."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QWheelEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDoubleSpinBox,
    QLineEdit,
    QSpinBox,
    QStyle,
    QStyleOptionButton,
    QWidget,
)

from app.job.document import DisplayUnits
from geometry.errors import InvalidLength
from geometry.units import format_length, parse_length

TEXT_MARGIN_PX = 5
"""What a number field keeps free before its text, as the other fields do."""


HOW_WRITTEN = "A length: 24\", 4' 6\", 1 1/2 in, 610 mm. A bare number is in the job's units."


class LengthField(QLineEdit):
    """A length, typed as 24", 4' 6", 610 mm, or a bare number in the job's units.

    Signals
    -------
    committed : float
        A length in mm, when it was changed and makes sense.
    refused : str
        Why what was typed is not taken.
    cleared : the field was emptied, where that means something
    """

    committed = Signal(float)
    refused = Signal(str)
    cleared = Signal()

    def __init__(
        self,
        name: str,
        *,
        least: float = 0.0,
        may_be_least: bool = False,
        may_be_empty: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._least, self._may_be_least, self._may_be_empty = least, may_be_least, may_be_empty
        self._name = name
        self._length: float | None = None
        self._units = DisplayUnits.INCHES
        self.setAccessibleName(name)
        self.setToolTip("")
        self.editingFinished.connect(self._commit)
        self.textEdited.connect(lambda _text: self._set_wrong(False))

    def show_length(self, length: float | None, units: DisplayUnits) -> None:
        """Show a length (mm), or nothing."""
        self._length, self._units = length, units
        self.setText("" if length is None else format_length(length, units.value))
        self.setModified(False)
        self._set_wrong(False)

    def setToolTip(self, tip: str) -> None:
        """Say what the length is, and always how one is written."""
        super().setToolTip(f"{tip}\n{HOW_WRITTEN}".lstrip())

    @property
    def units(self) -> DisplayUnits:
        """Units of bare numbers."""
        return self._units

    def _commit(self) -> None:
        # A field merely passed through must not be rounded to what it shows.
        if not self.isModified():
            return
        self.setModified(False)
        if not self.text().strip() and self._may_be_empty:
            self._set_wrong(False)
            self.cleared.emit()
            return
        try:
            length = parse_length(self.text(), default_unit=self._units.value)
        except InvalidLength as error:
            self._refuse(str(error))
            return
        if length < self._least or (length == self._least and not self._may_be_least):
            least = format_length(self._least, self._units.value)
            bound = f"{least} or more" if self._may_be_least else f"more than {least}"
            self._refuse(f"{self._name} of {format_length(length, self._units.value)} makes no sense; give {bound}")
            return
        self._set_wrong(False)
        self.committed.emit(length)
        if self._length is not None:
            self.show_length(self._length, self._units)  # whatever became of it

    def _refuse(self, why: str) -> None:
        self._set_wrong(True)
        self.refused.emit(why)

    def _set_wrong(self, is_wrong: bool) -> None:
        if bool(self.property("wrong")) != is_wrong:
            self.setProperty("wrong", is_wrong)
            self.style().unpolish(self)
            self.style().polish(self)


class Choice(QComboBox):
    """One of several; paints its own small arrow, and lets the panel scroll instead of taking the wheel.

    Signals
    -------
    chosen : object
        The data of the entry a person chose.
    """

    chosen = Signal(object)

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(10)
        self.activated.connect(lambda index: self.chosen.emit(self.itemData(index)))

    def offer(self, entries: Sequence[tuple[str, object]], current: object) -> None:
        """Offer these, with the one whose data equals `current` chosen."""
        self.blockSignals(True)
        now = [(self.itemText(index), self.itemData(index)) for index in range(self.count())]
        if now != list(entries):
            self.clear()
            for text, data in entries:
                self.addItem(text, data)
        values = [data for _text, data in entries]
        self.setCurrentIndex(values.index(current) if current in values else -1)
        self.blockSignals(False)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Not here: a wheel meant for the panel must not change a setting."""
        event.ignore()

    def paintEvent(self, event: QPaintEvent) -> None:
        """The field, and a small arrow."""
        super().paintEvent(event)
        _chevron(self, self.width() - 14.0, self.height() / 2.0, 2.0)


class CheckBox(QCheckBox):
    """Something that is so or not; paints its own box, whose edge the style would draw all but unseen on dark."""

    def paintEvent(self, event: QPaintEvent) -> None:
        """The words, and a box with an edge that is seen, filled when ticked."""
        super().paintEvent(event)
        option = QStyleOptionButton()
        self.initStyleOption(option)
        box = QRectF(self.style().subElementRect(QStyle.SubElement.SE_CheckBoxIndicator, option, self))
        box = box.adjusted(0.5, 0.5, -0.5, -0.5)
        colours = self.palette()
        is_live = self.isChecked() and self.isEnabled()
        edge = colours.highlight() if is_live or (self.underMouse() and self.isEnabled()) else colours.placeholderText()
        painter = QPainter(self)
        painter.fillRect(box.toAlignedRect(), colours.button())
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setOpacity(1.0 if self.isEnabled() else 0.5)
        painter.setPen(QPen(edge.color(), 1.2))
        painter.setBrush(colours.highlight() if is_live else colours.base())
        painter.drawRoundedRect(box, 3, 3)
        if self.isChecked():
            tick = colours.highlightedText() if is_live else colours.placeholderText()
            painter.setPen(
                QPen(tick.color(), 2.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin)
            )
            ways = ((0.24, 0.52), (0.43, 0.72), (0.77, 0.30))
            painter.drawPolyline([box.topLeft() + QPointF(x * box.width(), y * box.height()) for x, y in ways])
        painter.end()


class _Calm:
    """What number fields share: the wheel scrolls the panel, and one visit of the field is one undo step."""

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()

    def focusInEvent(self, event) -> None:
        self.visit = getattr(self, "visit", 0) + 1
        super().focusInEvent(event)

    def show_value(self, value) -> None:
        self.blockSignals(True)
        if self.value() != value:
            self.setValue(value)
        self.blockSignals(False)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        x = self.width() - 12.0
        _chevron(self, x, self.height() * 0.33, -1.6)
        _chevron(self, x, self.height() * 0.67, 1.6)

    @property
    def gesture(self) -> str:
        return f"{id(self)}-{getattr(self, 'visit', 0)}"


class WholeNumber(_Calm, QSpinBox):
    """A whole number."""

    def __init__(self, name: str, least: int, most: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setRange(least, most)
        self.lineEdit().setTextMargins(TEXT_MARGIN_PX, 0, 0, 0)
        self.setAccessibleName(name)
        self.setKeyboardTracking(False)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)


class Seconds(_Calm, QDoubleSpinBox):
    """A time in seconds."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setRange(0.0, 86_400.0)
        self.lineEdit().setTextMargins(TEXT_MARGIN_PX, 0, 0, 0)
        self.setDecimals(0)
        self.setSuffix(" s")
        self.setSingleStep(5.0)
        self.setAccessibleName(name)
        self.setKeyboardTracking(False)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)


class Angle(_Calm, QDoubleSpinBox):
    """An angle in degrees, from 0 up to 360; stepping goes round.

    Signals
    -------
    committed : float
        An angle a person gave.
    """

    committed = Signal(float)

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setRange(0.0, 359.999)
        self.setWrapping(True)
        self.lineEdit().setTextMargins(TEXT_MARGIN_PX, 0, 0, 0)
        self.setDecimals(3)
        self.setSuffix("°")
        self.setAccessibleName(name)
        self.setKeyboardTracking(False)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.valueChanged.connect(self.committed)

    def textFromValue(self, value: float) -> str:
        """No more decimals than there are."""
        return f"{value:.3f}".rstrip("0").rstrip(".")


class Multiple(_Calm, QDoubleSpinBox):
    """A multiple of what is usual: × 1.25."""

    def __init__(self, name: str, least: float, most: float, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setRange(least, most)
        self.lineEdit().setTextMargins(TEXT_MARGIN_PX, 0, 0, 0)
        self.setDecimals(2)
        self.setSingleStep(0.05)
        self.setPrefix("× ")
        self.setAccessibleName(name)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)


def _chevron(widget: QWidget, x: float, y: float, down: float) -> None:
    """A small arrow that points down, or up when `down` is negative."""
    painter = QPainter(widget)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    colour = widget.palette().placeholderText().color()
    painter.setPen(QPen(colour, 1.5, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin))
    half = 2.0 * abs(down)
    painter.drawPolyline([QPointF(x - half, y - down), QPointF(x, y + down), QPointF(x + half, y - down)])
    painter.end()
