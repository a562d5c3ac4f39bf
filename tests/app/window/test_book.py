"""The stock book in the window: typed, pasted, added to, imported, undone; the shipped one stays what it is."""

from __future__ import annotations

import csv

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QFileDialog, QMessageBox

from app.job.edits import remove_stock
from app.stock.book_folder import write_book
from app.stock.on_hand import on_hand
from app.stock.rack import Rack
from app.stock.shop_book import has_own_book, shipped_book, shop_book
from app.window.book_place import HAND
from app.window.book_tables import SHOWN
from tests.app.window.stand_ins import BACKER, Desk

PRICE = SHOWN["sheets"].index("price")
SUPPLIER = SHOWN["sheets"].index("supplier")


@pytest.fixture
def book_desk(open_desk: Desk) -> Desk:
    open_desk.window.go(2)
    open_desk.window.stock.show_page(open_desk.window.stock.book)
    return open_desk


def place(desk: Desk):
    return desk.window.stock.book


def type_into(desk: Desk, key: str, column: int, text: str) -> None:
    table = place(desk).table
    table.item(table.all_keys.index(key), column).setText(text)


def test_as_shipped_it_says_so_and_shows_every_entry(book_desk: Desk):
    book = place(book_desk)
    assert "invented" in book.state.text()
    assert set(book.table.all_keys) == set(shipped_book().sheets)
    book.show_table("cutters")
    assert set(book.table.all_keys) == set(shipped_book().cutters)
    assert not has_own_book()


def test_a_price_typed_is_the_shops_own_from_then_on_and_can_be_undone(book_desk: Desk, qtbot):
    key = place(book_desk).table.all_keys[0]
    type_into(book_desk, key, PRICE, "81.25")
    assert str(shop_book().sheets[key].price) == "81.25"
    assert shipped_book().sheets[key].price != shop_book().sheets[key].price
    assert "(1 row)" in place(book_desk).state.text()
    table = place(book_desk).table
    cell = table.item(table.all_keys.index(key), PRICE)
    assert cell.foreground().color().name().upper() == book_desk.window.theme.colours.accent
    assert "shipped: " in cell.toolTip()
    table.setFocus()
    table.choose(key)
    qtbot.keyClick(table, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert not has_own_book()
    assert table.text(key, PRICE) == str(shipped_book().sheets[key].price)


def test_a_wrong_cell_is_one_sentence_and_changes_nothing(book_desk: Desk):
    key = place(book_desk).table.all_keys[0]
    before = place(book_desk).table.text(key, SHOWN["sheets"].index("width"))
    type_into(book_desk, key, SHOWN["sheets"].index("width"), "wide")
    said = book_desk.window.banner.message.text()
    assert f"'{key}'" in said
    assert "wide" in said
    assert place(book_desk).table.text(key, SHOWN["sheets"].index("width")) == before
    assert not has_own_book()


def test_cells_are_pasted_from_a_spreadsheet_all_or_none(book_desk: Desk, qtbot):
    table = place(book_desk).table
    keys = table.all_keys[:3]
    table.setFocus()
    table.setCurrentCell(0, PRICE)
    QGuiApplication.clipboard().setText("10.00\n20.00\n30.00")
    qtbot.keyClick(table, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert [str(shop_book().sheets[key].price) for key in keys] == ["10.00", "20.00", "30.00"]
    table.setCurrentCell(0, PRICE)
    QGuiApplication.clipboard().setText("11.00\nfree of charge")
    qtbot.keyClick(table, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert [str(shop_book().sheets[key].price) for key in keys] == ["10.00", "20.00", "30.00"]
    place(book_desk).undo.click()
    assert not has_own_book()


def test_row_is_added_like_the_chosen_one_and_removed(book_desk: Desk):
    book = place(book_desk)
    key = book.table.all_keys[2]
    book.table.choose(key)
    book.add.click()
    new = book.table.key
    assert new not in shipped_book().sheets
    assert shop_book().sheets[new].material == shipped_book().sheets[key].material
    assert shop_book().sheets[new].mark == "own"
    book.remove.click()
    assert new not in shop_book().sheets


def test_what_is_used_elsewhere_cannot_be_removed(book_desk: Desk):
    book = place(book_desk)
    book.show_table("materials")
    book.table.choose(BACKER)
    book.remove.click()
    assert BACKER in shop_book().materials
    assert BACKER in book_desk.window.banner.message.text()


def test_sizes_are_used_in_the_job_as_one_step(book_desk: Desk, qtbot):
    book, document = place(book_desk), book_desk.session.document
    new = next(size.id for size in document.job.stock if size.material == BACKER)
    document.edit("less", lambda job: remove_stock(job, new))
    there = {size.id for size in document.job.stock}
    book.table.choose(new)
    qtbot.mouseClick(book.next, Qt.MouseButton.LeftButton)
    added = next(size for size in document.job.stock if size.id == new)
    assert added.width == pytest.approx(shipped_book().sheets[new].real_width)
    assert not book.next.isEnabled()
    document.undo_stack.undo()
    assert {size.id for size in document.job.stock} == there


def test_size_of_a_material_the_job_has_not_is_refused_in_a_sentence(book_desk: Desk):
    book = place(book_desk)
    mine = {material.id for material in book_desk.session.document.job.materials}
    strange = next(key for key, one in shipped_book().sheets.items() if one.material not in mine)
    book.table.choose(strange)
    book.go_on()
    assert "not in this job" in book_desk.window.banner.message.text()


def test_tables_go_out_and_come_in_as_csv(book_desk: Desk, tmp_path, monkeypatch):
    book = place(book_desk)
    folder = tmp_path / "tables"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(folder), ""))
    book.exporting.click()
    path = folder / "sheets.csv"
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    at = rows[0].index("supplier")
    rows[1][at] = "Harbour Metals"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(folder))
    book.importing.click()
    assert shop_book().sheets[rows[1][0]].supplier == "Harbour Metals"
    assert book.table.text(rows[1][0], SUPPLIER) == "Harbour Metals"


def test_back_to_the_shipped_book_asks_and_can_be_undone(book_desk: Desk, monkeypatch):
    key = place(book_desk).table.all_keys[0]
    type_into(book_desk, key, PRICE, "81.25")
    monkeypatch.setattr(QMessageBox, "question", lambda *_: QMessageBox.StandardButton.Discard)
    place(book_desk).back.click()
    assert shop_book() == shipped_book()
    place(book_desk).undo.click()
    assert str(shop_book().sheets[key].price) == "81.25"


def test_two_windows_do_not_undo_each_others_edits(book_desk: Desk, make_desk, small_job):
    first = place(book_desk).table.all_keys[0]
    type_into(book_desk, first, PRICE, "81.25")
    other = make_desk()
    other.session.document.open(small_job, None)
    other.window.go(2)
    other.window.stock.show_page(place(other))
    second = place(other).table.all_keys[1]
    type_into(other, second, PRICE, "92.75")
    assert [str(shop_book().sheets[key].price) for key in (first, second)] == ["81.25", "92.75"]
    place(book_desk).desk.undo()
    assert "changed in another window" in book_desk.window.banner.message.text()
    assert str(shop_book().sheets[second].price) == "92.75"


def test_counts_on_hand_are_the_racks(book_desk: Desk, qtbot):
    book = place(book_desk)
    book.show_table(HAND)
    key = book.table.all_keys[0]
    type_into(book_desk, key, 2, "7")
    qtbot.waitUntil(lambda: not book_desk.session.rack.is_busy)
    with Rack() as rack:
        assert on_hand(rack) == {key: 7}
    assert book.table.text(key, 2) == "7"
    type_into(book_desk, key, 2, "some")
    assert "not a whole number" in book_desk.window.banner.message.text()
    assert book.table.text(key, 2) == "7"


def test_find_shows_rows_that_hold_all_words(book_desk: Desk):
    book = place(book_desk)
    book.find.setText(f"{BACKER} 48 x 96")
    assert book.table.all_keys
    assert all(shop_book().sheets[key].material == BACKER for key in book.table.all_keys)


def test_a_book_that_cannot_be_read_is_one_sentence(open_desk: Desk, own_shop):
    write_book(shipped_book(), own_shop / "book")
    (own_shop / "book" / "cutters.csv").write_text("id,name\n")
    open_desk.window.go(2)
    open_desk.window.stock.show_page(place(open_desk))
    assert "cutters.csv" in open_desk.window.banner.message.text()
