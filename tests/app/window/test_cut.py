"""Booking sheets as cut in the window: once, in one step, and for good."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox

from app.job.kept import lock_sheet, unlock_all
from app.planning.kept_plan import KeptPlans
from app.planning.recut import digest_of
from app.stock.cut_sheets import good_pieces, job_key, sheets_cut
from app.stock.on_hand import on_hand, set_on_hand
from app.stock.rack import Rack
from app.stock.rack_items import OffcutStatus, rectangle_offcut
from tests.app.window.stand_ins import BACKER, Desk, make_plan


@pytest.fixture
def cut_desk(open_desk: Desk, qtbot, tmp_path) -> Desk:
    """A saved job with a plan of two sheets, at the page where sheets are booked."""
    path = tmp_path / "two.json"
    open_desk.window._write(str(path))
    make_plan(open_desk, qtbot)
    qtbot.waitUntil(lambda: open_desk.session.can_export, timeout=20_000)
    open_desk.window.go(5)
    open_desk.window.output.show_page(open_desk.window.output.cutting)
    return open_desk


def place(desk: Desk):
    return desk.window.output.cutting


def key_of(desk: Desk):
    return job_key(desk.session.document.path, desk.session.document.job.name)


def say_yes(monkeypatch) -> list[str]:
    asked: list[str] = []
    monkeypatch.setattr(QMessageBox, "question", lambda *args: asked.append(args[2]) or QMessageBox.StandardButton.Yes)
    return asked


def book(desk: Desk, qtbot) -> None:
    qtbot.mouseClick(place(desk).next, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not desk.session.rack.is_busy)


def test_sheets_of_the_plan_are_listed_as_not_cut(cut_desk: Desk):
    cutting = place(cut_desk)
    assert [cutting.table.text(key, 5) for key in cutting.table.all_keys] == ["not cut yet"] * 2
    assert cutting.next.text() == "Book sheet 1 as cut…"


def test_booking_asks_once_in_plain_words_and_does_it_all_in_one_step(cut_desk: Desk, qtbot, monkeypatch):
    plan = cut_desk.session.planning.plan
    stock = plan.sheets[0].stock
    with Rack() as rack:
        set_on_hand(rack, {stock.id: 3}, materials={stock.id: BACKER})
    asked = say_yes(monkeypatch)
    book(cut_desk, qtbot)
    (question,) = asked
    assert f"One {stock.name}" in question
    assert "3 are counted" in question
    assert "4 pieces" in question
    assert "cannot be undone" in question
    with Rack() as rack:
        assert on_hand(rack) == {stock.id: 2}
        assert sum(good_pieces(rack, key_of(cut_desk)).values()) == 4
        (piece,) = rack.offcuts()
        (sheet,) = sheets_cut(rack, key_of(cut_desk))
    assert (piece.width, piece.height) == (plan.sheets[0].offcuts[0].width, plan.sheets[0].offcuts[0].height)
    assert (sheet.number, sheet.plan) == (1, digest_of(plan))
    assert "2 of this size are left" in place(cut_desk).done.text()
    assert f"S01-A is offcut {piece.id}" in place(cut_desk).done.text()


def test_list_of_sheets_says_which_are_cut(cut_desk: Desk, qtbot, monkeypatch):
    say_yes(monkeypatch)
    sheets = cut_desk.window.sheets
    cut_desk.session.hand.edit("lock sheet 2", lambda kept: lock_sheet(kept, 1, True))
    qtbot.waitUntil(lambda: cut_desk.session.can_export, timeout=20_000)

    def told() -> list[str]:
        role = Qt.ItemDataRole.AccessibleTextRole
        return [sheets.list.item(at).data(role).splitlines()[0].rpartition(", ")[2] for at in range(2)]

    locked = sheets.list.item(1).icon().pixmap(184, 200).toImage()
    assert told()[1] == "locked"
    assert told()[0].endswith("%")
    book(cut_desk, qtbot)
    assert told() == ["cut", "locked"]
    assert sheets.sheet_section.heading.text() == "Sheet 1, booked as cut"
    assert sheets.list.item(1).icon().pixmap(184, 200).toImage() == locked


def test_sheet_cut_is_shown_so_locked_and_not_booked_again(cut_desk: Desk, qtbot, monkeypatch):
    say_yes(monkeypatch)
    book(cut_desk, qtbot)
    cutting = place(cut_desk)
    assert cutting.table.text("1", 5).startswith("cut 20")
    assert cut_desk.session.document.job.plan.sheets[0].is_locked
    assert not cut_desk.session.document.job.plan.sheets[1].is_locked
    cutting.table.choose("1")
    assert not cutting.next.isEnabled()
    # The lock can be undone, what happened cannot: the sheet stays shown as cut.
    cut_desk.session.document.undo_stack.undo()
    assert cutting.table.text("1", 5).startswith("cut 20")


def test_what_was_measured_counts_and_the_place_is_kept(cut_desk: Desk, qtbot, monkeypatch):
    cutting = place(cut_desk)
    table = cutting.offcuts
    assert table.text("0", 0) == "S01-A"
    for column, text in ((1, "39"), (2, "690 mm"), (3, "B7")):
        table.item(0, column).setText(text)
    cutting.lot.setText("L42")
    say_yes(monkeypatch)
    book(cut_desk, qtbot)
    with Rack() as rack:
        (piece,) = rack.offcuts()
    assert (piece.width, piece.slot, piece.lot) == (pytest.approx(39 * 25.4), "B7", "L42")
    assert piece.height == pytest.approx(690, abs=0.02)  # shown in inches of three decimals


def test_half_a_measure_or_a_wrong_one_is_one_sentence(cut_desk: Desk, qtbot, monkeypatch):
    asked = say_yes(monkeypatch)
    table = place(cut_desk).offcuts
    table.item(0, 1).setText("long")
    assert "S01-A" in cut_desk.window.banner.message.text()
    assert table.text("0", 1) == ""
    table.item(0, 1).setText("39")
    place(cut_desk).go_on()
    assert "both width and height" in cut_desk.window.banner.message.text()
    assert asked == []


def test_nothing_is_booked_when_the_question_is_declined(cut_desk: Desk, qtbot, monkeypatch, own_shop):
    monkeypatch.setattr(QMessageBox, "question", lambda *_: QMessageBox.StandardButton.Cancel)
    book(cut_desk, qtbot)
    assert not (own_shop / "rack.db").exists()


def test_job_without_a_file_is_to_be_saved_first(open_desk: Desk, qtbot):
    make_plan(open_desk, qtbot)
    qtbot.waitUntil(lambda: open_desk.session.can_export, timeout=20_000)
    open_desk.window.go(5)
    open_desk.window.output.show_page(place(open_desk))
    assert not place(open_desk).next.isEnabled()
    assert "Save the job first" in place(open_desk).hint.text()


def test_no_plan_says_what_to_do(open_desk: Desk):
    open_desk.window.go(5)
    open_desk.window.output.show_page(place(open_desk))
    assert "Plan the sheets first" in place(open_desk).empty.text()
    assert place(open_desk).next.text() == "Back to Sheets"


def test_sheet_cut_stays_where_it_is_even_when_it_was_unlocked(cut_desk: Desk, qtbot, monkeypatch):
    say_yes(monkeypatch)
    book(cut_desk, qtbot)
    document = cut_desk.session.document
    cut_desk.session.hand.edit("unlock", unlock_all)
    assert not document.job.plan.sheets[0].is_locked
    cut_desk.window.plan()
    assert cut_desk.planner.prepared.job.plan.sheets[0].is_locked
    assert not cut_desk.planner.prepared.job.plan.sheets[1].is_locked


def test_offcut_that_was_cut_stays_a_sheet_of_the_plan_though_it_left_the_rack(
    open_desk: Desk, qtbot, tmp_path, monkeypatch
):
    open_desk.window._write(str(tmp_path / "two.json"))
    with Rack() as rack:
        (piece,) = rack.keep([rectangle_offcut(BACKER, 3.175, 1300, 2500)])
    open_desk.session.use_rack(True)
    make_plan(open_desk, qtbot)
    qtbot.waitUntil(lambda: open_desk.session.can_export, timeout=20_000)
    assert open_desk.session.planning.plan.sheets[0].stock.id == f"rack:{piece.id}"
    open_desk.window.go(5)
    open_desk.window.output.show_page(place(open_desk))
    asked = say_yes(monkeypatch)
    book(open_desk, qtbot)
    assert f"Offcut {piece.id} leaves the rack for good" in asked[0]
    with Rack() as rack:
        assert rack.offcut(piece.id).status is OffcutStatus.USED
    open_desk.session.use_rack(False)
    open_desk.window.plan()
    prepared = open_desk.planner.prepared
    usable, findings = KeptPlans(prepared).usable(prepared.job.plan)
    assert findings == ()
    assert usable.sheets[0].stock == f"rack:{piece.id}"  # or its parts would be planned, and cut, a second time
