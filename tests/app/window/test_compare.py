"""Comparing stock in the window: from one button to the sizes adopted."""

from __future__ import annotations

import csv
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QFileDialog

from app.planning import compare as comparing
from app.planning.choices import stock_choices
from app.stock.rack import Rack
from app.stock.rack_items import rectangle_offcut
from app.window.compare_options import BOOK
from tests.app.planning.here import HereExecutor
from tests.app.window.stand_ins import BACKER, FACE, Desk, few_sizes, open_job
from tests.app.window.test_real_run import FREEZE_LIMIT_S, Pulse


def compare_here(prepared, choices, effort, found, cancelled):
    """The real comparison without processes, and without searching any longer than the first layouts."""
    once = replace(effort, rounds=0)
    return comparing.compare(prepared, choices, once, executor=HereExecutor(), on_done=found, cancelled=cancelled)


@pytest.fixture
def stock_desk(make_desk, qtbot, small_job) -> Desk:
    desk = make_desk(compare=compare_here)
    open_job(desk, qtbot, few_sizes(small_job))
    desk.window.go(2)
    desk.window.stock.show_page(desk.window.stock.comparison)
    return desk


def compared(desk: Desk, qtbot):
    place = desk.window.stock.comparison
    qtbot.mouseClick(place.next, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: bool(place.found) and not desk.session.comparing.is_running, timeout=60_000)
    return place


def test_nothing_compared_says_what_the_button_does(stock_desk: Desk):
    place = stock_desk.window.stock.comparison
    assert "each of its sheet sizes alone" in place.blank.text()
    assert place.next.text() == "Compare"
    assert place.options.estimate.text().endswith("core." if "1 core" in place.options.estimate.text() else "cores.")


def test_one_button_compares_every_choice_of_the_command_and_says_which_to_take(stock_desk: Desk, qtbot):
    place = compared(stock_desk, qtbot)
    job = stock_desk.session.document.job
    material = next(one for one in job.materials if one.id == BACKER)
    cutter = next(one for one in job.cutters if one.id == material.cutter)
    sizes = [size for size in job.stock if size.material == BACKER]
    names = [one.name for one in stock_choices(material, cutter, sizes)]
    first = next(one for one in place.found if one.material.id == BACKER)
    assert [one.choice.name for one in first.outcomes] == names
    place.show_material(BACKER)
    best = first.outcomes[first.advice.index]
    # Four pieces of at most 400 x 400 mm fit any sheet twice over: the cheapest single sheet is the answer.
    assert best.cost == min(size.price for size in sizes)
    assert place.advice.text().startswith(f"{best.choice.name}: 1 sheet")
    assert place.table.text(place.table.key, 0) == best.choice.name
    assert place.table.text(place.table.key, 8) == "recommended"
    assert place.chart.bars[place.chart.index].is_best
    assert place.chart.bars[place.chart.index].parts == pytest.approx(best.part_area)


def test_choosing_a_row_draws_its_sheets_and_the_chart_follows(stock_desk: Desk, qtbot):
    place = compared(stock_desk, qtbot)
    key = place.table.all_keys[-1]
    place.table.choose(key)
    outcome = place._outcomes[key]
    assert [thing.key for thing in place.view.picture.things] == [
        f"sheet {number}" for number in range(1, outcome.sheet_count + 1)
    ]
    assert place.chart.bars[place.chart.index].name == outcome.choice.name
    qtbot.keyClick(place.chart, Qt.Key.Key_Up)
    assert place.table.key != key


def test_adopt_is_one_step_that_plans_anew_and_can_be_undone(stock_desk: Desk, qtbot):
    place = compared(stock_desk, qtbot)
    before = stock_desk.session.document.job
    best = [one.outcomes[one.advice.index].choice for one in place.found]
    assert place.next.text() == "Adopt what is recommended"
    assert "all 2 materials" in place.hint.text()
    qtbot.mouseClick(place.next, Qt.MouseButton.LeftButton)
    after = stock_desk.session.document.job
    assert {size.id for size in after.stock} == {size.id for choice in best for size in choice.stock}
    qtbot.waitUntil(lambda: stock_desk.planner.run == 1)  # planned again without being asked
    assert {size.id for size in stock_desk.planner.prepared.job.stock} == {size.id for size in after.stock}
    assert place.next.text() == "Next: Sheets"
    stock_desk.session.document.undo_stack.undo()
    assert stock_desk.session.document.job == before
    assert place.next.text().startswith("Adopt")


def test_a_changed_job_makes_the_comparison_old(stock_desk: Desk, qtbot):
    place = compared(stock_desk, qtbot)
    stock_desk.window.artwork.edit("sets", lambda job: replace(job, artwork=(replace(job.artwork[0], sets=2),)))
    assert place.is_stale
    assert place.next.text() == "Compare anew"
    assert not place.adopt.isEnabled()


def test_cancel_keeps_what_is_done_and_says_so(make_desk, qtbot, small_job):
    def two_then_wait(prepared, choices, effort, found, cancelled):
        done = comparing.compare(
            prepared, choices[:2], replace(effort, rounds=0), executor=HereExecutor(), on_done=found
        )
        while not cancelled():
            qtbot_free_wait()
        return done

    desk = make_desk(compare=two_then_wait)
    open_job(desk, qtbot, small_job)
    desk.window.go(2)
    place = desk.window.stock.comparison
    desk.window.stock.show_page(place)
    place.go_on()
    qtbot.waitUntil(lambda: len(place._outcomes) == 2, timeout=30_000)
    assert place.next.text().startswith("Cancel")
    assert "2 of" in place.progress.stage.text()
    place.go_on()
    qtbot.waitUntil(lambda: not desk.session.comparing.is_running)
    assert "Stopped early" in place.advice.text()


def qtbot_free_wait() -> None:
    import time

    time.sleep(0.01)


def test_the_rack_the_whole_book_and_other_settings_are_further_choices(stock_desk: Desk, qtbot, own_shop):
    place = stock_desk.window.stock.comparison
    assert not place.options.rack.isEnabled()
    with Rack() as rack:
        rack.keep([rectangle_offcut(BACKER, 3.175, 1300, 1300)])
    stock_desk.session.rack.look()
    assert place.options.rack.isEnabled()
    assert "(1)" in place.options.rack.text()
    place.options.rack.setChecked(True)
    place.options.sizes.setCurrentIndex(place.options.sizes.findData(BOOK))
    place.options.spacing.setFocus()
    place.options.spacing.selectAll()
    qtbot.keyClicks(place.options.spacing, '3/4"')
    qtbot.keyClick(place.options.spacing, Qt.Key.Key_Return)
    found = next(one for one in compared(stock_desk, qtbot).found if one.material.id == BACKER)
    names = [one.choice.name for one in found.outcomes]
    assert any(name.endswith("with the rack") for name in names)
    assert any('spacing 3/4"' in name for name in names)
    assert len(names) > len(stock_desk.session.document.job.stock)
    taken = next(one for one in found.outcomes if one.choice.uses_rack)
    assert taken.cost == 0  # four pieces fit the offcut, which is paid for


def test_adopting_a_choice_with_the_rack_plans_on_its_offcuts(stock_desk: Desk, qtbot, own_shop):
    with Rack() as rack:
        (piece,) = rack.keep([rectangle_offcut(BACKER, 3.175, 1300, 1300)])
    stock_desk.session.rack.look()
    place = stock_desk.window.stock.comparison
    place.options.rack.setChecked(True)
    compared(stock_desk, qtbot)
    place.go_on()
    qtbot.waitUntil(lambda: stock_desk.planner.run == 1)
    assert f"rack:{piece.id}" in {size.id for size in stock_desk.planner.prepared.job.stock}
    assert not any(size.id.startswith("rack:") for size in stock_desk.session.document.job.stock)
    plan = stock_desk.planner.finish()
    qtbot.waitUntil(lambda: stock_desk.session.planning.plan is plan)
    assert stock_desk.session.can_export  # offcuts among the stock do not make the plan another job's


def test_table_sorts_by_figures_and_is_copied_as_a_spreadsheet_takes_it(stock_desk: Desk, qtbot):
    place = compared(stock_desk, qtbot)
    place.table.sortItems(2, Qt.SortOrder.DescendingOrder)
    costs = [float(place.table.text(key, 2)) for key in place.table.all_keys]
    assert costs == sorted(costs, reverse=True)
    place.table.clearSelection()
    place.table.setFocus()
    qtbot.keyClick(place.table, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    lines = QGuiApplication.clipboard().text().splitlines()
    assert lines[0].split("\t")[:4] == ["Choice", "Sheets", "Cost", "Net yield"]
    assert len(lines) == 1 + place.table.rowCount()


def test_comparison_is_saved_as_a_table(stock_desk: Desk, qtbot, tmp_path, monkeypatch):
    place = compared(stock_desk, qtbot)
    path = tmp_path / "sizes.csv"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), "Table (*.csv)"))
    place.ask_where_to_save()
    rows = list(csv.DictReader(path.read_text(encoding="utf-8-sig").splitlines()))
    assert len(rows) == sum(len(one.outcomes) for one in place.found)
    assert {row["material"] for row in rows} == {one.material.name for one in place.found}


def test_materials_are_shown_one_at_a_time(stock_desk: Desk, qtbot):
    place = compared(stock_desk, qtbot)
    assert {one.material.id for one in place.found} == {BACKER, FACE}
    place.show_material(FACE)
    assert {place._outcomes[key].choice.material.id for key in place.table.all_keys} == {FACE}


def test_real_comparison_runs_in_processes_of_its_own_and_the_window_stays_alive(make_desk, qtbot, small_job):
    desk = make_desk()  # nothing stood in for the comparison
    few = [next(size for size in small_job.stock if size.material == material) for material in (BACKER, FACE)]
    desk.session.document.open(replace(small_job, stock=tuple(few)), None)
    qtbot.waitUntil(lambda: desk.session.preparation.prepared is not None)
    desk.window.go(2)
    place = desk.window.stock.comparison
    desk.window.stock.show_page(place)
    place.options.seconds.setValue(0)
    pulse = Pulse()
    place.compare()
    qtbot.waitUntil(lambda: not desk.session.comparing.is_running, timeout=120_000)
    pulse.stop()
    assert pulse.longest < FREEZE_LIMIT_S
    assert [one.advice.index for one in place.found] == [0, 0]
