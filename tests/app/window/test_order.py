"""The buy list in the window: one job or several, what is there taken off, saved, pieces reserved."""

from __future__ import annotations

import csv
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog

from app.planning.order import OrderStopped, plan_order
from app.stock.on_hand import set_on_hand
from app.stock.rack import Rack
from app.stock.rack_items import rectangle_offcut
from app.window.walk import Mark
from tests.app.planning.here import HereExecutor
from tests.app.window.stand_ins import BACKER, FACE, Desk, few_sizes, open_job


def order_here(jobs, stock, effort, spare, told, cancelled):
    """The real order without processes and without searching longer than the first layouts."""
    once = replace(effort, rounds=0)
    return plan_order(jobs, stock, once, spare=spare, executor=HereExecutor(), on_done=told, cancelled=cancelled)


@pytest.fixture
def order_desk(make_desk, qtbot, small_job) -> Desk:
    desk = make_desk(plan_order=order_here)
    open_job(desk, qtbot, few_sizes(small_job))
    desk.window.go(4)
    return desk


def made(desk: Desk, qtbot):
    place = desk.window.order
    place.make()
    qtbot.waitUntil(lambda: not desk.session.ordering.is_running, timeout=60_000)
    return place


def bought(place) -> dict[str, int]:
    return {line.stock.id: line.bought for line in place.order.lines}


def test_nothing_made_yet_says_what_the_button_does(order_desk: Desk):
    place = order_desk.window.order
    assert "minimum orders are kept" in place.blank.text()
    assert place.next.text() == "Make the buy list"
    assert place.standing().mark is Mark.OPEN


def test_one_button_makes_the_list_with_its_totals(order_desk: Desk, qtbot):
    place = order_desk.window.order
    qtbot.mouseClick(place.next, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: place.order is not None, timeout=60_000)
    # Two pieces of each letter fit one sheet of either material: the cheapest sheet of each is bought once.
    job = order_desk.session.document.job
    cheapest = [min((s for s in job.stock if s.material == m), key=lambda s: s.price) for m in (BACKER, FACE)]
    assert bought(place) == {size.id: 1 for size in cheapest}
    total = sum(size.price for size in cheapest) / 100
    assert place.standing().words == f"{total:.2f} {job.currency}"
    assert dict(place.totals.facts)["Everything"] == f"{total:.2f} {job.currency}"
    assert {place.table.text(size.id, 0) for size in cheapest} == {"1"}
    assert len(place.view.picture.things) == 2  # both sheets are drawn
    place.table.choose(cheapest[0].id)
    assert len(place.view.picture.things) == 1


def test_what_is_on_hand_is_taken_off(order_desk: Desk, qtbot):
    place = made(order_desk, qtbot)
    stock = next(line.stock.id for line in place.order.lines if line.material.id == BACKER)
    with Rack() as rack:
        set_on_hand(rack, {stock: 4}, materials={stock: BACKER})
    place = made(order_desk, qtbot)
    assert bought(place)[stock] == 0
    assert place.table.text(stock, 7) == "1"
    place.options.hand.setChecked(False)
    assert place.is_stale
    assert place.next.text() == "Make the buy list anew"
    assert bought(made(order_desk, qtbot))[stock] == 1


def test_pieces_of_the_rack_are_used_listed_and_reserved(order_desk: Desk, qtbot):
    with Rack() as rack:
        (piece,) = rack.keep([rectangle_offcut(BACKER, 3.175, 1300, 1300)])
    place = made(order_desk, qtbot)
    assert place.pieces.all_keys == (str(piece.id),)
    assert not any(line.material.id == BACKER for line in place.order.lines)
    place.reserve.click()
    qtbot.waitUntil(lambda: not order_desk.session.rack.is_busy)
    with Rack() as rack:
        assert rack.offcut(piece.id).reserved_for == "Two letters"


def test_jobs_are_ordered_together(order_desk: Desk, qtbot, tmp_path):
    other = replace(order_desk.session.document.job, name="Other letters")
    path = tmp_path / "other.json"
    order_desk.session.services.write_job(other, str(path))
    place = order_desk.window.order
    place.options.add_jobs([str(path)])
    assert [place.options.jobs.item(at).text() for at in range(2)] == ["Two letters (this job)", "other.json"]
    made(order_desk, qtbot)
    assert {job for line in place.order.lines for job, _ in line.jobs} == {"Two letters", "Other letters"}
    place.options.jobs.item(1).setSelected(True)
    place.options.remove.click()
    assert place.is_stale


def test_two_jobs_of_one_name_are_refused_in_a_sentence(order_desk: Desk, qtbot, tmp_path):
    path = tmp_path / "same.json"
    order_desk.session.services.write_job(order_desk.session.document.job, str(path))
    place = order_desk.window.order
    place.options.add_jobs([str(path)])
    made(order_desk, qtbot)
    assert "two jobs are called" in order_desk.window.banner.message.text().lower()
    assert place.order is None


def test_lot_matched_material_gets_its_spare(order_desk: Desk, qtbot):
    place = order_desk.window.order
    place.options.spares[FACE].setChecked(True)
    made(order_desk, qtbot)
    line = next(line for line in place.order.lines if line.material.id == FACE)
    assert (line.used, line.spare, line.bought) == (1, 1, 2)
    assert "1 spare" in place.table.text(line.stock.id, 10)


def test_lists_are_saved_and_named(order_desk: Desk, qtbot, tmp_path, monkeypatch):
    place = made(order_desk, qtbot)
    folder = tmp_path / "order"
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(folder))
    qtbot.mouseClick(place.next, Qt.MouseButton.LeftButton)
    assert [place.files.item(at).text() for at in range(3)] == ["order.csv", "order.xlsx", "order.pdf"]
    rows = list(csv.DictReader((folder / "order.csv").read_text(encoding="utf-8-sig").splitlines()))
    assert [row["stock"] for row in rows] == [line.stock.id for line in place.order.lines]
    assert place.next.text() == "Next: Output"


def test_stopped_order_keeps_the_one_before(make_desk, qtbot, small_job):
    def waits(jobs, stock, effort, spare, told, cancelled):
        import time

        told(1, 9)
        while not cancelled():
            time.sleep(0.01)
        raise OrderStopped("the order was stopped before every choice was tried; nothing was kept")

    desk = make_desk(plan_order=waits)
    open_job(desk, qtbot, small_job)
    desk.window.go(4)
    place = desk.window.order
    place.make()
    qtbot.waitUntil(lambda: place.progress.stage.text().startswith("1 of 9"))
    assert place.standing().mark is Mark.BUSY
    place.go_on()
    qtbot.waitUntil(lambda: not desk.session.ordering.is_running)
    assert place.order is None
    assert place.next.text() == "Make the buy list"


def test_changed_job_makes_the_list_old(order_desk: Desk, qtbot):
    place = made(order_desk, qtbot)
    order_desk.window.artwork.edit("sets", lambda job: replace(job, artwork=(replace(job.artwork[0], sets=2),)))
    assert place.standing().mark is Mark.LOOK


def test_plan_of_the_list_is_taken_over_as_one_step(order_desk: Desk, qtbot):
    place = made(order_desk, qtbot)
    before = order_desk.session.document.job
    place.take_over.click()
    job = order_desk.session.document.job
    ordered = place.order.plans[0]
    assert [sheet.stock for sheet in job.plan.sheets] == [sheet.stock.id for sheet in ordered.sheets]
    qtbot.waitUntil(lambda: order_desk.session.can_export, timeout=20_000)  # refereed, fit to be written
    assert len(order_desk.session.planning.plan.sheets) == len(ordered.sheets)
    assert not place.is_stale
    assert not place.take_over.isEnabled()
    order_desk.session.document.undo_stack.undo()
    assert order_desk.session.document.job == before
    assert place.take_over.isEnabled()
