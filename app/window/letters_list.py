"""Every letter with its size: a table to sort, to copy from, and to find a letter on the drawing by."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import reduce
from typing import Final

from PySide6.QtCore import QItemSelectionModel, Qt, Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.artwork.drawing import Letter, Lettering
from app.job.document import DisplayUnits
from app.window.facts import button, words
from geometry.measure import region_bounds
from geometry.units import format_length

COLUMNS: Final = ("Letter", "Width", "Height", "Counters")
WIDTHS: Final = (70, 70, 66)
"""Of all columns but the first, pixels."""
ROWS_SHOWN: Final = 7
_ID: Final = Qt.ItemDataRole.UserRole
_VALUE: Final = Qt.ItemDataRole.UserRole + 1


@dataclass(frozen=True, slots=True)
class LetterSize:
    """What the table says of a letter: id, name, width and height (mm), number of counters."""

    letter: str
    name: str
    width: float
    height: float
    counters: int


def letter_sizes(lettering: Sequence[Lettering]) -> tuple[LetterSize, ...]:
    """Sizes of all letters, in reading order."""
    return tuple(_measured(letter) for one in lettering for letter in one.letters)


class LettersList(QWidget):
    """The table with its heading and a button that copies it.

    Signals
    -------
    chosen : str
        Id of the letter a person went to.
    """

    chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: tuple[tuple[LetterSize, ...], DisplayUnits] = ((), DisplayUnits.INCHES)
        self.heading = words("Letters", "section")
        self.copy_button = button("Copy", "plain", tip="Copy the table, or the rows chosen in it", name="Copy letters")
        self.copy_button.clicked.connect(self.copy)
        self.table = _Table(self.copy)
        self.table.setAccessibleName("Letters and their sizes")
        self.table.setToolTip("Choose a letter to see it on the drawing; click a heading to sort")
        self.table.itemSelectionChanged.connect(self._chosen)
        self.table.itemClicked.connect(lambda item: self.chosen.emit(item.data(_ID)))
        row = QHBoxLayout()
        row.addWidget(self.heading, 1)
        row.addWidget(self.copy_button)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(4)
        box.addLayout(row)
        box.addWidget(self.table)
        self.show_letters((), DisplayUnits.INCHES)

    def show_letters(self, sizes: Sequence[LetterSize], units: DisplayUnits) -> None:
        """List these and no others."""
        sizes = tuple(sizes)
        self.setVisible(bool(sizes))
        if (sizes, units) == self._shown:
            return
        self._shown = sizes, units
        self.heading.setText(f"Letters ({len(sizes)})")
        table = self.table
        table.blockSignals(True)
        table.setSortingEnabled(False)
        table.setRowCount(len(sizes))
        for row, one in enumerate(sizes):
            entries = (
                (one.name, (one.name.casefold(), row)),
                (format_length(one.width, units.value), (one.width, row)),
                (format_length(one.height, units.value), (one.height, row)),
                (str(one.counters), (one.counters, row)),
            )
            for column, (text, value) in enumerate(entries):
                cell = _Cell(text)
                cell.setData(_ID, one.letter)
                cell.setData(_VALUE, value)
                if column:
                    cell.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                else:
                    cell.setToolTip(f"{one.name} ({one.letter})")
                table.setItem(row, column, cell)
        table.setSortingEnabled(True)
        table.blockSignals(False)
        shown = max(min(len(sizes), ROWS_SHOWN), 1)
        table.setFixedHeight(table.horizontalHeader().sizeHint().height() + shown * table.rowHeight(0) + 4)

    def show_selected(self, letter: str) -> None:
        """Mark the row of the letter selected on the drawing, or none."""
        table = self.table
        if letter and letter in {cell.data(_ID) for cell in table.selectedItems()}:
            return
        table.blockSignals(True)
        table.clearSelection()
        for row in range(table.rowCount()):
            if table.item(row, 0).data(_ID) == letter:
                table.setCurrentCell(
                    row, 0, QItemSelectionModel.SelectionFlag.Select | QItemSelectionModel.SelectionFlag.Rows
                )
                table.scrollToItem(table.item(row, 0))
        table.blockSignals(False)
        table.viewport().update()

    def copy(self) -> None:
        """Put the chosen rows, or all, on the clipboard as a spreadsheet takes them."""
        table = self.table
        chosen = sorted({cell.row() for cell in table.selectedItems()}) or range(table.rowCount())
        lines = ["\t".join(COLUMNS)]
        lines += ["\t".join(table.item(row, column).text() for column in range(len(COLUMNS))) for row in chosen]
        QGuiApplication.clipboard().setText("\n".join(lines))

    def _chosen(self) -> None:
        cell = self.table.currentItem()
        if cell is not None and cell.isSelected():
            self.chosen.emit(cell.data(_ID))


class _Cell(QTableWidgetItem):
    """Sorted by the measure it shows, not by its text; equal ones stay in reading order."""

    def __lt__(self, other: QTableWidgetItem) -> bool:
        return tuple(self.data(_VALUE)) < tuple(other.data(_VALUE))


class _Table(QTableWidget):
    """A table of whole rows that are not typed into."""

    def __init__(self, copy: Callable[[], None]) -> None:
        super().__init__(0, len(COLUMNS))
        self._copy = copy
        self.setHorizontalHeaderLabels(COLUMNS)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(24)
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setSortIndicator(-1, Qt.SortOrder.AscendingOrder)  # reading order until a heading is clicked
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        for column, width in enumerate(WIDTHS, start=1):
            self.setColumnWidth(column, width)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Copy):
            self._copy()
            event.accept()
        else:
            super().keyPressEvent(event)


def _measured(letter: Letter) -> LetterSize:
    bounds = reduce(lambda one, other: one.union(other), map(region_bounds, letter.regions))
    counters = sum(len(region.holes) for region in letter.regions)
    return LetterSize(letter.id, letter.name, bounds.width, bounds.height, counters)
