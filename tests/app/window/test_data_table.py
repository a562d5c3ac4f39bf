"""Tables of the window: order, copy, paste, typing."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication

from app.window.data_table import Cell, Column, DataTable, Row, number
from app.window.theme import Theme, ThemeChoice

COLUMNS = (Column("Name"), Column("Length", "Of it", 80, is_number=True))
ROWS = [
    Row("a", (Cell("alpha"), number('9"', 228.6))),
    Row("b", (Cell("Beta"), number('10"', 254.0))),
    Row("c", (Cell("gamma"), number("not known", None))),
]


@pytest.fixture
def make_table(qtbot, qapp):
    theme = Theme(qapp, ThemeChoice.LIGHT)

    def make(columns=COLUMNS, rows=ROWS) -> DataTable:
        table = DataTable("Things", columns, theme)
        qtbot.addWidget(table)
        table.fill(rows)
        table.show()
        return table

    return make


def press(qtbot, table, key) -> None:
    qtbot.keyClick(table, key, Qt.KeyboardModifier.ControlModifier)


def test_order_is_by_what_is_meant_and_what_is_not_known_comes_last(make_table):
    table = make_table()
    table.sortItems(1, Qt.SortOrder.AscendingOrder)
    assert table.all_keys == ("a", "b", "c")  # as text, 10 would stand before 9
    table.sortItems(1, Qt.SortOrder.DescendingOrder)
    assert table.all_keys == ("c", "b", "a")
    table.sortItems(0, Qt.SortOrder.AscendingOrder)
    assert table.all_keys == ("a", "b", "c")  # whatever the capitals


def test_chosen_row_stays_chosen_when_filled_anew_in_another_order(make_table):
    table = make_table()
    table.choose("b")
    table.fill([ROWS[1], ROWS[0]])
    assert (table.key, table.currentRow()) == ("b", 0)
    told = []
    table.chosen.connect(told.append)
    table.fill([ROWS[0]])
    assert table.key == ""
    assert told == [""]


def test_copy_takes_headings_and_the_chosen_rows_or_all(make_table, qtbot):
    table = make_table()
    table.choose("b")
    press(qtbot, table, Qt.Key.Key_C)
    assert QGuiApplication.clipboard().text() == 'Name\tLength\nBeta\t10"'
    table.clearSelection()
    press(qtbot, table, Qt.Key.Key_C)
    assert len(QGuiApplication.clipboard().text().splitlines()) == 4


EDITABLE = (Column("Id"), Column("Name", is_editable=True), Column("Kind", is_editable=True, choices=("red", "green")))
CELLS = [Row(key, (Cell(key), Cell(f"name {key}"), Cell("red"))) for key in "abc"]


def test_paste_fills_cells_from_where_one_is_as_one_step(make_table, qtbot):
    table = make_table(EDITABLE, CELLS)
    steps = []
    table.edited.connect(steps.append)
    QGuiApplication.clipboard().setText("first\tgreen\nsecond\tgreen\nthird\tgreen\nover the end\tgreen")
    table.setCurrentCell(1, 1)
    press(qtbot, table, Qt.Key.Key_V)
    assert steps == [[("b", 1, "first"), ("b", 2, "green"), ("c", 1, "second"), ("c", 2, "green")]]


def test_one_value_is_pasted_into_all_that_is_selected_but_not_where_one_cannot_type(make_table, qtbot):
    table = make_table(EDITABLE, CELLS)
    steps = []
    table.edited.connect(steps.append)
    QGuiApplication.clipboard().setText("same")
    table.selectAll()
    press(qtbot, table, Qt.Key.Key_V)
    assert {(key, column) for key, column, _ in steps[0]} == {(key, column) for key in "abc" for column in (1, 2)}


def test_delete_clears_and_a_refused_edit_shows_what_was(make_table, qtbot):
    table = make_table(EDITABLE, CELLS)
    steps = []
    table.edited.connect(steps.append)
    table.setCurrentCell(0, 1)
    qtbot.keyClick(table, Qt.Key.Key_Delete)
    assert steps == [[("a", 1, "")]]
    table.item(0, 1).setText("typed")
    assert steps[1] == [("a", 1, "typed")]
    table.refuse()
    assert table.text("a", 1) == "name a"


def test_cells_that_are_copied_can_be_pasted_back(make_table, qtbot):
    table = make_table(EDITABLE, CELLS)
    table.setCurrentCell(0, 1)
    press(qtbot, table, Qt.Key.Key_C)
    assert QGuiApplication.clipboard().text() == "name a"


def test_a_column_takes_what_room_is_left_but_stays_readable_where_little_is(make_table, qtbot):
    table = make_table((Column("Name", least=150), Column("Length", "Of it", 80, is_number=True)))
    table.resize(500, 200)
    assert table.columnWidth(0) + table.columnWidth(1) == table.viewport().width()
    assert not table.horizontalScrollBar().maximum()
    table.resize(180, 200)
    assert (table.columnWidth(0), table.columnWidth(1)) == (150, 80)
    qtbot.waitUntil(lambda: table.horizontalScrollBar().maximum() > 0)
    table.setColumnWidth(0, 240)  # by hand
    table.resize(190, 200)
    assert table.columnWidth(0) == 240
    table.resize(500, 200)
    assert table.columnWidth(0) + table.columnWidth(1) == table.viewport().width()


def test_a_hidden_column_leaves_its_room_to_the_others(make_table):
    table = make_table((Column("Name", least=60), Column("Holes", width=68), Column("Build", width=76)), [])
    table.resize(160, 200)
    assert table.columnWidth(0) == 60
    table.hide_columns({1})
    assert table.columnWidth(0) + table.columnWidth(2) == table.viewport().width()
    table.hide_columns(())
    assert (table.columnWidth(0), table.columnWidth(1)) == (60, 68)
