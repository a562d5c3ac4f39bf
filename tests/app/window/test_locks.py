"""What stays where it is: locked parts and sheets, what is saved, a run that is held, a job changed since."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import Qt

from app.job.document import Job
from app.job.edits import set_stock_count
from app.job.file import read_job, write_job
from app.planning.host import RunState
from tests.app.window.hand_tools import (
    ELL,
    ELL_KEY,
    at,
    choose,
    drag,
    lies,
    qt_key,
    settled,
)
from tests.app.window.stand_ins import BACKER, Desk


def test_locked_part_stays_in_hand_and_in_planning(hand_desk: Desk, qtbot):
    window, session = hand_desk.window, hand_desk.session
    choose(hand_desk, ELL_KEY)
    window.actions_by_id["lock"].trigger()
    settled(hand_desk, qtbot)
    assert lies(hand_desk, ELL_KEY).is_locked
    assert window.sheets.run.again.text() == "Plan the rest"
    drag(hand_desk, ELL, (ELL[0] + 100.0, ELL[1]))
    assert at(hand_desk, ELL_KEY) == (600.0, 50.0)
    assert "is locked" in window.banner.message.text()
    window.sheets.run.again.click()
    (sheet,) = [one for one in hand_desk.planner.prepared.job.plan.sheets if any(part.is_locked for part in one.parts)]
    assert [part.key for part in sheet.parts if part.is_locked] == [("sign-2-backer", 0)]
    plan = hand_desk.planner.finish()
    qtbot.waitUntil(lambda: session.planning.plan is plan)
    session.document.undo_stack.undo()
    session.document.undo_stack.undo()
    assert not lies(hand_desk, ELL_KEY).is_locked
    window.actions_by_id["unlock_all"].isEnabled()


def test_offcuts_are_found_again_however_fast_edits_follow_each_other(hand_desk: Desk, qtbot):
    """A sheet changed twice before the referee had spoken once kept the empty list of the first change."""
    choose(hand_desk, ELL_KEY)
    qt_key(hand_desk, Qt.Key.Key_Right)
    hand_desk.window.actions_by_id["lock"].trigger()
    assert not hand_desk.session.hand.is_checked
    plan = settled(hand_desk, qtbot)
    (largest, *_others) = plan.sheets[0].offcuts
    assert largest.height > 1000.0  # of 2438 mm the parts take up 900
    figures = next(one for one in plan.summaries if one.material == BACKER)
    assert figures.credited_yield > figures.net_yield + 0.3


def test_locked_sheet_shows_it_and_unlocks(hand_desk: Desk, qtbot):
    window = hand_desk.window
    before = window.sheets.list.item(0).icon().pixmap(184, 200).toImage()
    window.actions_by_id["lock_sheet"].trigger()
    plan = settled(hand_desk, qtbot)
    assert [sheet.is_locked for sheet in plan.sheets] == [True, False]
    assert window.sheets.list.item(0).icon().pixmap(184, 200).toImage() != before
    choose(hand_desk, ELL_KEY)
    qt_key(hand_desk, Qt.Key.Key_Left)
    assert "Sheet 1 is locked" in window.banner.message.text()
    assert at(hand_desk, ELL_KEY) == (600.0, 50.0)
    window.actions_by_id["unlock_all"].trigger()
    assert not any(sheet.is_locked for sheet in settled(hand_desk, qtbot).sheets)


def test_plan_with_its_locks_is_saved_and_opened_again(hand_desk: Desk, qtbot, tmp_path: Path, small_job: Job):
    choose(hand_desk, ELL_KEY)
    qt_key(hand_desk, Qt.Key.Key_Right)
    hand_desk.window.actions_by_id["lock"].trigger()
    settled(hand_desk, qtbot)
    place = at(hand_desk, ELL_KEY)
    path = tmp_path / "kept.json"
    write_job(hand_desk.session.document.job, path)
    hand_desk.session.document.open(replace(small_job, name="another"), None)
    assert hand_desk.session.planning.plan is None
    hand_desk.session.document.open(read_job(path), str(path))
    qtbot.waitUntil(lambda: hand_desk.session.planning.plan is not None, timeout=20_000)
    settled(hand_desk, qtbot)
    assert at(hand_desk, ELL_KEY) == place
    assert lies(hand_desk, ELL_KEY).is_locked
    assert hand_desk.session.can_export
    assert hand_desk.session.document.is_saved
    assert hand_desk.window.sheets.list.count() == 2


def test_pause_holds_the_run_and_lets_it_go_on(open_desk: Desk):
    open_desk.window.plan()
    place = open_desk.window.sheets
    assert place.run.hold.text() == "Pause"
    open_desk.window.actions_by_id["pause"].trigger()
    assert open_desk.planner.state is RunState.PAUSED
    assert place.run.hold.text() == "Go on"
    assert "Paused" in place.run.state.text()
    assert not open_desk.session.can_plan
    place.run.hold.click()
    assert open_desk.planner.state is RunState.RUNNING
    open_desk.window.actions_by_id["pause"].trigger()
    open_desk.window.actions_by_id["cancel"].trigger()
    assert open_desk.planner.state is RunState.STOPPING


def test_nothing_can_be_moved_while_planning(hand_desk: Desk):
    choose(hand_desk, ELL_KEY)
    hand_desk.window.plan()
    assert not hand_desk.window.actions_by_id["turn_left"].isEnabled()
    assert not hand_desk.session.hand.can_edit
    hand_desk.planner.gain()


def test_plan_of_a_job_changed_since_can_be_kept_as_far_as_it_fits(hand_desk: Desk, qtbot):
    session, place = hand_desk.session, hand_desk.window.sheets
    sheet = session.document.job.stock[0].id
    session.document.edit("count", lambda job: set_stock_count(job, sheet, 3))
    qtbot.waitUntil(lambda: not session.preparation.is_busy)
    assert not session.can_export
    assert place.run.fit_to_job.isVisibleTo(place)
    place.run.fit_to_job.click()
    plan = settled(hand_desk, qtbot)
    assert session.can_export
    assert at(hand_desk, ELL_KEY) == (600.0, 50.0)
    assert plan.job.stock[0].count == 3
    assert not place.run.fit_to_job.isVisibleTo(place)
