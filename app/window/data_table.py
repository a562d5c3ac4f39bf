"""A table of rows with keys: sorted by what is meant rather than by its text, copied and pasted as spreadsheets do."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QEvent, QItemSelectionModel, QModelIndex, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QGuiApplication, QKeyEvent, QKeySequence, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from app.window.theme import Theme

ROW_PX: Final = 26
_KEY: Final = Qt.ItemDataRole.UserRole
_VALUE: Final = Qt.ItemDataRole.UserRole + 1
_LOOK: Final = Qt.ItemDataRole.UserRole + 2


@dataclass(frozen=True, slots=True)
class Column:
    """A column.

    Fields
    ------
    title, tip : str
    width : int
        Pixels; 0 takes what room is left.
    least : int
        Pixels, of a column that takes what room is left.
    is_number : bool
        Flush right.
    is_editable : bool
    choices : tuple of str
        The only values an editable column may have; empty when it may have any.
    """

    title: str
    tip: str = ""
    width: int = 0
    is_number: bool = False
    is_editable: bool = False
    choices: tuple[str, ...] = ()
    least: int = 36


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in a cell, what it is sorted by (its text when None), and how it looks ("muted", "bad", "strong")."""

    text: str
    value: object = None
    look: str = ""
    tip: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A row and the key it is known by."""

    key: str
    cells: tuple[Cell, ...]


Edit = tuple[str, int, str]
"""Key of the row, index of the column, new text."""


class DataTable(QTableWidget):
    """Rows as given until a heading is clicked; a second click turns the order round.

    Signals
    -------
    chosen : str
        Key of the row one is at; empty for none.
    opened : str
        Key of the row that was double-clicked or entered.
    edited : list of Edit
        What was typed, pasted or cleared, as one step. The table shows it until it is filled again.
    undo_wanted : Ctrl+Z in a table that can be edited
    """

    chosen = Signal(str)
    opened = Signal(str)
    edited = Signal(object)
    undo_wanted = Signal()

    def __init__(self, name: str, columns: Sequence[Column], theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(0, len(columns), parent)
        self._theme = theme
        self.columns = tuple(columns)
        self._rows: tuple[Row, ...] = ()
        self.is_editable = any(column.is_editable for column in columns)
        self.setAccessibleName(name)
        self.setHorizontalHeaderLabels([column.title for column in columns])
        self.setShowGrid(self.is_editable)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(ROW_PX)
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setSortIndicatorClearable(True)
        header.setSortIndicator(-1, Qt.SortOrder.AscendingOrder)
        header.setMinimumSectionSize(36)
        for index, column in enumerate(columns):
            head = self.horizontalHeaderItem(index)
            side = Qt.AlignmentFlag.AlignRight if column.is_number else Qt.AlignmentFlag.AlignLeft
            head.setTextAlignment(side | Qt.AlignmentFlag.AlignVCenter)
            head.setToolTip(f"{column.tip or column.title}. Click to sort.")
            self.setColumnWidth(index, column.width or column.least)
        if self.is_editable:
            triggers = QAbstractItemView.EditTrigger
            self.setEditTriggers(triggers.DoubleClicked | triggers.EditKeyPressed | triggers.AnyKeyPressed)
            self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
            self.setItemDelegate(_Typing(self.columns, self))
        else:
            self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
            self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.itemChanged.connect(self._typed)
        self.itemSelectionChanged.connect(lambda: self.chosen.emit(self.key))
        self.itemActivated.connect(lambda item: self.opened.emit(item.data(_KEY)))
        theme.changed.connect(self._colour)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Columns without a width share what is left; where that is too little the table is scrolled."""
        super().resizeEvent(event)
        self._share_room()

    def hide_columns(self, hidden: Collection[int]) -> None:
        """Show all columns but these."""
        for index in range(len(self.columns)):
            self.setColumnHidden(index, index in hidden)
        self._share_room()

    def _share_room(self) -> None:
        shown = {at: column for at, column in enumerate(self.columns) if not self.isColumnHidden(at)}
        wide = {index: column.least for index, column in shown.items() if not column.width}
        room = self.viewport().width() - sum(column.width for column in shown.values())
        mode = QHeaderView.ResizeMode.Stretch if room >= sum(wide.values()) else QHeaderView.ResizeMode.Interactive
        header = self.horizontalHeader()
        for index, least in wide.items():
            if header.sectionResizeMode(index) != mode:  # else a width set by hand stays
                header.setSectionResizeMode(index, mode)
                if mode is QHeaderView.ResizeMode.Interactive:
                    self.setColumnWidth(index, least)

    @property
    def key(self) -> str:
        """Key of the row one is at, when it is selected."""
        item = self.currentItem()
        return item.data(_KEY) if item is not None and item.isSelected() else ""

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys of all selected rows, from above."""
        return tuple(self.item(row, 0).data(_KEY) for row in self._selected_rows())

    @property
    def all_keys(self) -> tuple[str, ...]:
        """Keys of all rows, from above."""
        return tuple(self.item(row, 0).data(_KEY) for row in range(self.rowCount()))

    def text(self, key: str, column: int) -> str:
        """What stands in a cell."""
        return self.item(self.all_keys.index(key), column).text()

    def fill(self, rows: Sequence[Row]) -> None:
        """Show these and no others; selection, order and place stay as far as they can."""
        rows = tuple(rows)
        if rows == self._rows:
            return
        self._rows = rows
        keys, at = set(self.keys), (self.key, max(self.currentColumn(), 0))
        scroll = self.verticalScrollBar().value()
        self.blockSignals(True)
        self.setSortingEnabled(False)
        self.setRowCount(len(rows))
        for index, row in enumerate(rows):
            for column, cell in enumerate(row.cells):
                self.setItem(index, column, self._item(row.key, index, self.columns[column], cell))
        header = self.horizontalHeader()
        if header.sortIndicatorSection() >= len(self.columns):
            header.setSortIndicator(-1, Qt.SortOrder.AscendingOrder)
        self.setSortingEnabled(True)
        self._colour()
        self.clearSelection()
        self.setCurrentItem(None)
        self._select(keys, at)
        self.blockSignals(False)
        self.verticalScrollBar().setValue(scroll)
        self.viewport().update()
        if at[0] and not self.key:
            self.chosen.emit("")

    def refuse(self) -> None:
        """Show again what was there before the last edit."""
        rows, self._rows = self._rows, ()
        self.fill(rows)

    def choose(self, key: str, column: int | None = None) -> None:
        """Go to a row, and to a column of it when one is given."""
        if key == self.key and column in (None, self.currentColumn()):
            return
        keys = self.all_keys
        if key in keys:
            column = max(self.currentColumn(), 0) if column is None else column
            # Said outright: left to itself Qt would toggle while Ctrl is held.
            how = QItemSelectionModel.SelectionFlag.ClearAndSelect
            if not self.is_editable:
                how |= QItemSelectionModel.SelectionFlag.Rows
            self.setCurrentCell(keys.index(key), column, how)
            self.scrollToItem(self.item(keys.index(key), column))
        else:
            self.clearSelection()

    def copy(self) -> None:
        """Put what is selected, or everything, on the clipboard as a spreadsheet takes it."""
        lines = []
        if self.is_editable and self.selectedItems():
            rows, columns = self._selected_rows(), sorted({item.column() for item in self.selectedItems()})
        else:
            rows = self._selected_rows() or list(range(self.rowCount()))
            columns = [column for column in range(self.columnCount()) if not self.isColumnHidden(column)]
            lines.append("\t".join(self.columns[column].title for column in columns))
        lines += ["\t".join(self.item(row, column).text() for column in columns) for row in rows]
        QGuiApplication.clipboard().setText("\n".join(lines))

    def paste(self) -> None:
        """Put the clipboard's cells where the selection begins; cells that cannot be edited are passed over."""
        lines = QGuiApplication.clipboard().text().rstrip("\r\n").splitlines()
        grid = [line.split("\t") for line in lines]
        chosen = self.selectedItems()
        if not chosen or not grid:
            return
        if len(grid) == 1 and len(grid[0]) == 1:
            spots = [(item.row(), item.column(), grid[0][0]) for item in chosen]  # one value into all that is selected
        else:
            top, left = min(item.row() for item in chosen), min(item.column() for item in chosen)
            spots = [
                (top + down, left + right, text) for down, line in enumerate(grid) for right, text in enumerate(line)
            ]
        self._hand_on(spots)

    # Qt's own calls

    def event(self, event: QEvent) -> bool:
        """Take keys for the table that would be the window's: letters while one can type, Home and End, undo."""
        if event.type() == QEvent.Type.ShortcutOverride and self._is_mine(event):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Copy, paste, clear, undo; the rest is Qt's."""
        if event.matches(QKeySequence.StandardKey.Copy):
            self.copy()
        elif self.is_editable and event.matches(QKeySequence.StandardKey.Paste):
            self.paste()
        elif self.is_editable and event.matches(QKeySequence.StandardKey.Undo):
            self.undo_wanted.emit()
        elif self.is_editable and event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self._hand_on([(item.row(), item.column(), "") for item in self.selectedItems()])
        elif not self.is_editable and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.key:
            self.opened.emit(self.key)
        else:
            super().keyPressEvent(event)
            return
        event.accept()

    def _is_mine(self, event: QKeyEvent) -> bool:
        if event.matches(QKeySequence.StandardKey.Copy):
            return True
        if event.key() in (Qt.Key.Key_Home, Qt.Key.Key_End, Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            return True
        if not self.is_editable:
            return False
        if event.matches(QKeySequence.StandardKey.Paste) or event.matches(QKeySequence.StandardKey.Undo):
            return True
        plain = event.modifiers() & ~(Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier)
        return plain == Qt.KeyboardModifier.NoModifier and bool(event.text()) and event.text().isprintable()

    def _typed(self, item: QTableWidgetItem) -> None:
        if self.columns[item.column()].is_editable:
            self.edited.emit([(item.data(_KEY), item.column(), item.text().strip())])

    def _hand_on(self, spots: Sequence[tuple[int, int, str]]) -> None:
        edits = [
            (self.item(row, column).data(_KEY), column, text.strip())
            for row, column, text in spots
            if row < self.rowCount() and column < self.columnCount() and self.columns[column].is_editable
            and self.item(row, column).text() != text.strip()
        ]  # fmt: skip
        if edits:
            self.edited.emit(edits)

    def _item(self, key: str, index: int, column: Column, cell: Cell) -> QTableWidgetItem:
        item = _Cell(cell.text)
        item.setData(_KEY, key)
        item.setData(_VALUE, (_rank(cell), index))
        item.setData(_LOOK, cell.look)
        item.setToolTip(cell.tip or cell.text)
        if column.is_number:
            item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        if not column.is_editable:
            item.setFlags(item.flags() & ~Qt.ItemFlag.ItemIsEditable)
        if cell.look == "strong":
            font = self.font()
            font.setBold(True)
            item.setFont(font)
        return item

    def _colour(self) -> None:
        colours = self._theme.colours
        inks = {"muted": colours.muted, "bad": colours.error, "warn": colours.warning, "own": colours.accent}
        was = self.blockSignals(True)
        for row in range(self.rowCount()):
            for column in range(self.columnCount()):
                item = self.item(row, column)
                item.setForeground(QBrush(QColor(inks.get(item.data(_LOOK), colours.ink))))
        self.blockSignals(was)

    def _select(self, keys: set[str], at: tuple[str, int]) -> None:
        rows = {key: row for row, key in enumerate(self.all_keys)}
        if at[0] in rows:
            how = QItemSelectionModel.SelectionFlag.Select
            if not self.is_editable:
                how |= QItemSelectionModel.SelectionFlag.Rows
            for key in keys & rows.keys() if not self.is_editable else ():
                self.setCurrentCell(rows[key], 0, how)
            self.setCurrentCell(rows[at[0]], at[1], how)

    def _selected_rows(self) -> list[int]:
        return sorted({item.row() for item in self.selectedItems()})


class _Cell(QTableWidgetItem):
    """Sorted by its value; equal ones stay as they were given."""

    def __lt__(self, other: QTableWidgetItem) -> bool:
        return tuple(self.data(_VALUE)) < tuple(other.data(_VALUE))


class _Typing(QStyledItemDelegate):
    """A list to choose from where only some values make sense."""

    def __init__(self, columns: Sequence[Column], parent: DataTable) -> None:
        super().__init__(parent)
        self._columns = columns

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: QModelIndex) -> QWidget:
        column = self._columns[index.column()]
        if not column.choices:
            return super().createEditor(parent, option, index)
        editor = QComboBox(parent)
        editor.addItems(column.choices)
        editor.setAccessibleName(column.title)
        editor.activated.connect(lambda _index: (self.commitData.emit(editor), self.closeEditor.emit(editor)))
        return editor

    def setEditorData(self, editor: QWidget, index: QModelIndex) -> None:
        if isinstance(editor, QComboBox):
            editor.setCurrentText(index.data(Qt.ItemDataRole.EditRole))
        else:
            super().setEditorData(editor, index)

    def setModelData(self, editor: QWidget, model, index: QModelIndex) -> None:
        if isinstance(editor, QComboBox):
            model.setData(index, editor.currentText(), Qt.ItemDataRole.EditRole)
        else:
            super().setModelData(editor, model, index)


def _rank(cell: Cell) -> tuple[int, float, str]:
    """Numbers before texts, so that any two cells can be compared."""
    value = cell.text if cell.value is None else cell.value
    if isinstance(value, int | float):
        return (0, float(value), "")
    return (1, 0.0, str(value).casefold())


def number(text: str, value: float | None, *, look: str = "", tip: str = "") -> Cell:
    """A cell sorted by a number; one that is not known comes last."""
    return Cell(text, float("inf") if value is None else float(value), look, tip)
