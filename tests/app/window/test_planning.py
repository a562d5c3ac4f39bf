"""Planning and writing in the window: progress, gains, ends of every kind, and the files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from app.errors import ExportError
from app.job.edits import set_seconds
from app.planning.host import Crashed, Failed, RunState
from app.window.fault_dialog import FaultDialog
from app.window.walk import Mark
from tests.app.window.hand_tools import type_into
from tests.app.window.stand_ins import Desk, make_plan, open_job

# Planning


def test_plan_shows_progress_then_gains_then_the_plan(open_desk: Desk, qtbot):
    window, planning = open_desk.window, open_desk.session.planning
    window.actions_by_id["plan"].trigger()
    assert window.place is window.sheets
    assert open_desk.planner.asked == {"seconds": 10.0, "seed": 0}
    assert planning.state == "running"
    assert window.sheets.next.text() == "Cancel, keep the best plan"
    assert not open_desk.session.can_plan
    open_desk.planner.progress(0.25)
    qtbot.waitUntil(lambda: window.sheets.run.bar.value() == 250)
    assert "placing 3 of 8" in window.sheets.run.stage.text()
    open_desk.planner.gain()
    better = open_desk.planner.gain(x=10.0)
    qtbot.waitUntil(lambda: planning.plan is better)  # of two gains in one poll only the last is shown
    assert planning.is_preview
    assert not open_desk.session.can_export
    assert window.sheets.list.count() == 2
    final = open_desk.planner.finish()
    qtbot.waitUntil(lambda: planning.plan is final)
    assert planning.state == "finished"
    assert open_desk.session.can_export
    assert window.sheets.next.text() == "Next: Output"
    assert window.sheets.standing().mark is Mark.DONE


def test_cancel_shows_stopping_and_keeps_the_best_plan(open_desk: Desk, qtbot):
    open_desk.window.plan()
    open_desk.window.actions_by_id["cancel"].trigger()
    assert open_desk.session.planning.state == "stopping"
    assert not open_desk.window.sheets.next.isEnabled()
    plan = open_desk.planner.finish(cancelled=True)
    qtbot.waitUntil(lambda: open_desk.session.planning.plan is plan)
    assert open_desk.session.planning.state == "cancelled"
    assert "best plan is kept" in open_desk.window.sheets.run.state.text()
    assert open_desk.session.can_export


def test_planning_that_fails_shows_no_plan_and_says_why(open_desk: Desk, qtbot):
    open_desk.window.plan()
    open_desk.planner.gain()
    open_desk.planner.waiting.append(Failed(1, "material 'x' has no stock; add a sheet size"))
    qtbot.waitUntil(lambda: open_desk.session.planning.state == "failed")
    assert open_desk.session.planning.plan is None
    assert "has no stock" in open_desk.window.banner.message.text()
    assert open_desk.window.sheets.standing().mark is Mark.FAULT
    assert open_desk.session.can_plan


def test_crash_of_the_child_is_shown_and_planning_can_be_started_again(open_desk: Desk, qtbot):
    open_desk.window.plan()
    open_desk.planner.waiting.append(Crashed(1, -9))
    open_desk.planner.state = RunState.CRASHED
    qtbot.waitUntil(lambda: open_desk.session.planning.state == "crashed")
    assert "exit code -9" in open_desk.window.banner.message.text()
    make_plan(open_desk, qtbot)


def test_fault_of_the_planner_is_shown_with_its_trace(open_desk: Desk, qtbot):
    open_desk.window.plan()
    open_desk.planner.waiting.append(Failed(1, "planning stopped on a fault", "Traceback: here"))
    qtbot.waitUntil(lambda: bool(open_desk.window.findChildren(FaultDialog)))
    assert "Traceback: here" in open_desk.window.findChildren(FaultDialog)[0].trace.toPlainText()


def test_pieces_without_a_place_are_listed_with_the_reason(open_desk: Desk, qtbot):
    make_plan(open_desk, qtbot, unplaced=2)
    assert open_desk.window.sheets.unplaced_section.isVisibleTo(open_desk.window)
    assert ("sign-2-face · 1", "no sheet has room for it") in open_desk.window.sheets.unplaced.remarks
    assert open_desk.window.sheets.standing().mark is Mark.FAULT


def test_plan_of_a_job_changed_since_is_not_written(open_desk: Desk, qtbot):
    make_plan(open_desk, qtbot)
    type_into(qtbot, open_desk.window.artwork.size_fields.length, "500 mm")
    assert not open_desk.session.can_export
    assert open_desk.window.sheets.standing().words == "job changed since"
    assert open_desk.window.sheets.next.text() == "Plan again"
    open_desk.session.document.undo_stack.undo()
    assert open_desk.session.can_export
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)


def test_units_and_time_may_change_without_making_the_plan_old(open_desk: Desk, qtbot):
    make_plan(open_desk, qtbot)
    open_desk.session.document.edit("time", lambda job: set_seconds(job, 77.0))
    open_desk.window.sheets.strip.millimetres.click()
    assert open_desk.session.can_export
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)


def test_opening_another_job_drops_the_run_and_its_plan(open_desk: Desk, qtbot, small_job):
    open_desk.window.plan()
    open_desk.planner.gain()
    qtbot.waitUntil(lambda: open_desk.session.planning.plan is not None)
    open_desk.session.document.open(replace(small_job, name="Other"), None)
    assert open_desk.session.planning.plan is None
    assert open_desk.planner.state is RunState.CANCELLED
    assert open_desk.window.sheets.list.count() == 0
    qtbot.waitUntil(lambda: open_desk.session.preparation.prepared is not None)


# Writing


def test_files_are_written_and_listed(open_desk: Desk, qtbot, tmp_path: Path):
    make_plan(open_desk, qtbot)
    open_desk.window.output.writing.use_folder(str(tmp_path))
    open_desk.window.actions_by_id["write"].trigger()
    place = open_desk.window.output.writing
    qtbot.waitUntil(lambda: place.files.count() == 2)
    assert place.files.item(0).text().replace("\\", "/") == "sheets/01-1.dxf"
    assert (tmp_path / "sheets" / "01-1.dxf").is_file()
    assert place.next.text() == "Open folder"
    assert place.standing().words == "2 files written"


def test_export_error_is_one_sentence_and_no_file_counts_as_written(make_desk, qtbot, small_job, tmp_path: Path):
    def refuse(_plan, _folder, _report):
        raise ExportError("sheet 1 did not read back the same; nothing was kept")

    desk = make_desk(write_plan=refuse)
    open_job(desk, qtbot, small_job)
    make_plan(desk, qtbot)
    desk.window.output.writing.use_folder(str(tmp_path))
    desk.window.output.write()
    qtbot.waitUntil(lambda: desk.window.banner.isVisible())
    assert "did not read back" in desk.window.banner.message.text()
    assert desk.window.output.writing.files.count() == 0
    assert desk.window.output.standing().mark is Mark.OPEN
