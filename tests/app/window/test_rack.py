"""The rack in the window: seen, changed through its own doors, and the same in every window."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pypdfium2
import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QFileDialog, QInputDialog, QMessageBox

from app.stock.rack import Rack
from app.stock.rack_items import Box, Measured, NewOffcut, OffcutStatus, rectangle_offcut
from app.window.piece_dialog import AddPieceDialog, MeasureDialog, ReturnDialog
from app.window.rack_place import ALL, OLD, TAKEN
from tests.app.window.stand_ins import BACKER, FACE, Desk

L_SHAPE = ((0.0, 0.0), (1000.0, 0.0), (1000.0, 300.0), (400.0, 300.0), (400.0, 800.0), (0.0, 800.0))


def l_piece() -> NewOffcut:
    return NewOffcut(BACKER, 3.175, L_SHAPE, Box(0.0, 0.0, 400.0, 800.0), slot="B1")


@pytest.fixture
def rack_desk(open_desk: Desk) -> Desk:
    """At the rack, which holds a rectangle of 600 x 300, an L, and a measured piece of another material."""
    with Rack() as rack:
        rack.keep(
            [
                rectangle_offcut(BACKER, 3.175, 600, 300, slot="A1"),
                l_piece(),
                rectangle_offcut(FACE, 4.5, 500, 500, measured=Measured(498.0, 501.0, 4.4)),
            ]
        )
    open_desk.window.go(2)
    open_desk.window.stock.show_page(open_desk.window.stock.rack)
    return open_desk


def place(desk: Desk):
    return desk.window.stock.rack


def status(number: int) -> OffcutStatus:
    with Rack() as rack:
        return rack.offcut(number).status


def press(desk: Desk, qtbot, deed: str) -> None:
    place(desk).buttons[deed].click()
    qtbot.waitUntil(lambda: not desk.session.rack.is_busy)


def answer(kind: type, fill) -> None:
    """Fill in the dialog of a kind as soon as it is there, and accept it."""

    def look() -> None:
        dialog = QApplication.activeModalWidget()
        if not isinstance(dialog, kind):
            QTimer.singleShot(20, look)
            return
        fill(dialog)
        dialog.accept()

    QTimer.singleShot(0, look)


def test_bare_rack_says_how_pieces_get_there_and_makes_no_file(open_desk: Desk, qtbot, own_shop):
    open_desk.window.go(2)
    open_desk.window.stock.show_page(place(open_desk))
    assert "Nothing is on the rack yet" in place(open_desk).empty.text()
    board, told = place(open_desk).view, place(open_desk).empty
    qtbot.waitUntil(lambda: abs(told.geometry().center().y() - board.height() / 2) <= 1)  # the table has made room
    assert not (own_shop / "rack.db").exists()


def test_pieces_are_drawn_true_with_their_usable_rectangle(rack_desk: Desk):
    rack = place(rack_desk)
    picture = rack.view.picture
    assert [thing.key for thing in picture.things] == ["offcut 1", "offcut 2", "offcut 3"]
    ell = picture.thing("offcut 2")
    inside, notch = ell.mapToScene(700, 150), ell.mapToScene(700, 600)
    assert ell.holds(inside, 0.0)
    assert not ell.holds(notch, 0.0)  # what was cut out of the L is not there
    assert dict(picture.thing("offcut 3").facts)["Usable"] == '19.606" × 19.724"'  # 498 x 501 mm, as measured


def test_choosing_in_the_list_and_on_the_drawing_is_one(rack_desk: Desk):
    rack = place(rack_desk)
    rack.table.choose("2")
    assert rack.view.selection.key == "offcut 2"
    rack.view.select(rack.view.picture.thing("offcut 3"))
    assert rack.table.key == "3"
    assert dict(rack.facts.facts)["Thickness"].endswith('measured 0.173"')  # 4.4 mm


def test_filter_by_material_and_state(rack_desk: Desk, qtbot):
    rack = place(rack_desk)
    rack.material.setCurrentIndex(rack.material.findData(FACE))
    rack.material.chosen.emit(FACE)
    assert [piece.id for piece in rack.pieces] == [3]
    rack.material.setCurrentIndex(0)
    rack.shown.setCurrentIndex(rack.shown.findData(TAKEN))
    rack.refresh()
    assert rack.pieces == ()
    assert "No piece" in rack.empty.text()
    rack.shown.setCurrentIndex(rack.shown.findData(ALL))
    rack.refresh()
    assert len(rack.pieces) == 3


def test_old_pieces_are_found(rack_desk: Desk):
    with Rack(clock=lambda: datetime.now(UTC) - timedelta(days=200)) as old:
        old.keep([rectangle_offcut(BACKER, 3.175, 400, 400)])
    rack = place(rack_desk)
    rack.shown.setCurrentIndex(rack.shown.findData(OLD))
    rack.refresh()
    assert [piece.id for piece in rack.pieces] == [4]


def test_take_and_return_with_what_is_left_of_it(rack_desk: Desk, qtbot):
    rack = place(rack_desk)
    rack.table.choose("1")
    press(rack_desk, qtbot, "take")
    assert status(1) is OffcutStatus.TAKEN
    assert [piece.id for piece in rack.pieces] == [2, 3]
    rack.shown.setCurrentIndex(rack.shown.findData(TAKEN))
    rack.refresh()
    rack.table.choose("1")

    def cut_down(dialog: ReturnDialog) -> None:
        dialog.width_field.setText("400 mm")
        dialog.height_field.setText("250 mm")
        dialog.slot.setText("C3")

    answer(ReturnDialog, cut_down)
    press(rack_desk, qtbot, "return")
    with Rack() as file:
        piece = file.offcut(1)
    assert (piece.status, piece.width, piece.height, piece.slot) == (OffcutStatus.KEPT, 400.0, 250.0, "C3")


def test_reserve_for_this_job_and_release(rack_desk: Desk, qtbot):
    rack = place(rack_desk)
    rack.table.choose("2")
    press(rack_desk, qtbot, "reserve")
    with Rack() as file:
        assert file.offcut(2).reserved_for == rack_desk.session.document.job.name
    assert "reserved for Two letters" in rack.table.text("2", 7)
    assert not rack.buttons["discard"].isEnabled()
    press(rack_desk, qtbot, "release")
    assert status(2) is OffcutStatus.KEPT


def test_pieces_of_another_job_cannot_be_taken(rack_desk: Desk):
    with Rack() as file:
        file.reserve([1], "another job")
    rack_desk.session.rack.look()
    rack = place(rack_desk)
    rack.table.choose("1")
    assert not rack.buttons["take"].isEnabled()
    assert rack.buttons["release"].isEnabled()


def test_measure_overrides_the_plan_and_doubts_an_odd_thickness(rack_desk: Desk, qtbot):
    rack = place(rack_desk)
    rack.table.choose("1")

    def measured(dialog: MeasureDialog) -> None:
        dialog.width_field.setText("23 1/2")  # a bare number is in the job's units
        dialog.height_field.setText("300 mm")
        dialog.thickness.setText("5 mm")

    answer(MeasureDialog, measured)
    press(rack_desk, qtbot, "measure")
    with Rack() as file:
        assert file.offcut(1).width == pytest.approx(596.9)
    assert "look again" in rack_desk.window.banner.message.text().lower()


def test_discard_asks_once(rack_desk: Desk, qtbot, monkeypatch):
    rack = place(rack_desk)
    rack.table.choose("1")
    asked = []
    monkeypatch.setattr(
        QMessageBox, "question", lambda *args: asked.append(args[2]) or QMessageBox.StandardButton.Cancel
    )
    press(rack_desk, qtbot, "discard")
    assert status(1) is OffcutStatus.KEPT
    monkeypatch.setattr(QMessageBox, "question", lambda *_: QMessageBox.StandardButton.Discard)
    press(rack_desk, qtbot, "discard")
    assert status(1) is OffcutStatus.DISCARDED
    assert asked == ["Discard offcut 1? It leaves the rack for good and can be found in its history only."]


def test_move_is_recorded(rack_desk: Desk, qtbot, monkeypatch):
    rack = place(rack_desk)
    rack.table.choose("1")
    monkeypatch.setattr(QInputDialog, "getText", lambda *_: ("D4", True))
    press(rack_desk, qtbot, "move")
    assert rack.table.text("1", 4) == "D4"
    assert "moved" in rack.story.text()


def test_piece_put_on_by_hand_is_chosen_and_a_wrong_size_is_one_sentence(rack_desk: Desk, qtbot):
    rack = place(rack_desk)
    said = []

    def fill(dialog: AddPieceDialog) -> None:
        dialog.width_field.setText("24 paces")
        dialog.height_field.setText('36"')
        dialog.accept()
        said.append(dialog.wrong.text())
        dialog.width_field.setText('24"')
        dialog.slot.setText("E5")

    answer(AddPieceDialog, fill)
    rack.next.click()
    qtbot.waitUntil(lambda: len(rack.pieces) == 4)
    assert "24 paces" in said[0]
    assert rack.table.key == "4"
    assert (rack.chosen[0].width, rack.chosen[0].height, rack.chosen[0].slot) == (609.6, 914.4, "E5")


def test_piece_with_a_drawn_outline(rack_desk: Desk, qtbot, tmp_path):
    path = tmp_path / "left.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="500mm" height="400mm" viewBox="0 0 500 400">'
        '<path d="M0 0 H500 V200 H200 V400 H0 Z"/></svg>'
    )
    rack = place(rack_desk)
    answer(AddPieceDialog, lambda dialog: dialog.outline.setText(str(path)))
    rack.next.click()
    qtbot.waitUntil(lambda: len(rack.pieces) == 4, timeout=20_000)
    assert len(rack.pieces[3].shape) == 6


def test_labels_are_written_for_what_is_chosen(rack_desk: Desk, tmp_path, monkeypatch):
    rack = place(rack_desk)
    rack.table.choose("2")
    path = tmp_path / "labels.pdf"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    rack.labels.click()
    pdf = pypdfium2.PdfDocument(path)
    text = pdf[0].get_textpage().get_text_range()
    pdf.close()
    assert "OFFCUT 2" in text
    assert "OFFCUT 1" not in text


def test_two_windows_see_the_same_rack_and_never_both_get_a_piece(rack_desk: Desk, make_desk, qtbot, small_job):
    other = make_desk()
    other.session.document.open(small_job, None)
    other.window.go(2)
    other.window.stock.show_page(place(other))
    place(rack_desk).table.choose("1")
    place(other).table.choose("1")
    faults = []
    other.session.rack.failed.connect(faults.append)
    # Both press before either has seen what the other did.
    rack_desk.session.rack._timer.stop()
    other.session.rack._timer.stop()
    press(rack_desk, qtbot, "take")
    press(other, qtbot, "take")
    qtbot.waitUntil(lambda: len(faults) == 1)
    assert "was taken" in str(faults[0])
    with Rack() as file:
        assert [event.what.value for event in file.history(1)] == ["kept", "taken"]
    assert [piece.id for piece in place(other).pieces] == [2, 3]
    assert "was taken" in other.window.banner.message.text()


def test_what_another_program_does_shows_within_a_second_or_two(rack_desk: Desk, qtbot):
    with Rack() as file:
        file.discard([3])
    qtbot.waitUntil(lambda: [piece.id for piece in place(rack_desk).pieces] == [1, 2], timeout=3000)


def test_a_rack_that_is_none_is_one_sentence(open_desk: Desk, own_shop):
    own_shop.mkdir()
    (own_shop / "rack.db").write_text("this is no database, only a text that is long enough to be looked at")
    open_desk.window.go(2)
    open_desk.window.stock.show_page(place(open_desk))
    assert "rack.db" in open_desk.window.banner.message.text()
    assert place(open_desk).pieces == ()
