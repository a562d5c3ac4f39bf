"""A plan changed by hand through the real window: mouse, keys and fields; the referee judges every change."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QMouseEvent
from PySide6.QtWidgets import QApplication

from app.job.document import Job
from app.job.edits import set_seconds, set_stock_count
from app.job.file import read_job, write_job
from app.planning.by_hand import box_on_sheet
from app.planning.host import RunState
from app.planning.job_plan import JobPlan, PlacedPart
from app.planning.prepare import Prepared
from app.stock.book import KeepOut
from app.window.part_hand import VERDICT_COLOURS
from app.window.sheet_picture import margin_path, sheet_picture
from app.window.thumbnail import thumbnail
from app.window.walk import Mark
from tests.app.window.stand_ins import BACKER, Desk, made, planned

INCH = 25.4


@pytest.fixture
def hand_desk(open_desk: Desk, qtbot) -> Desk:
    """Two letters planned: rings 400 mm across at x 50, Ls 240 x 400 mm at x 600, both at y 50 and 500."""
    return ready(open_desk, qtbot)


def ready(desk: Desk, qtbot) -> Desk:
    desk.window.plan()
    plan = desk.planner.finish()
    qtbot.waitUntil(lambda: desk.session.planning.plan is plan)
    qtbot.waitUntil(lambda: desk.session.hand.plans is not None, timeout=20_000)
    desk.window.sheets.view.fit()
    return desk


def settled(desk: Desk, qtbot) -> JobPlan:
    """The plan when no place is looked for any more and the referee has spoken."""
    qtbot.waitUntil(
        lambda: not desk.window.sheets.hands.work._search.is_busy and desk.session.hand.is_checked, timeout=20_000
    )
    return desk.session.planning.plan


def lies(desk: Desk, key: str) -> PlacedPart:
    part, copy = key.split("#")
    return next(
        one
        for sheet in desk.session.planning.plan.sheets
        for one in sheet.placed
        if (one.placement.part, one.placement.copy) == (part, int(copy))
    )


def at(desk: Desk, key: str) -> tuple[float, float]:
    return lies(desk, key).placement.x, lies(desk, key).placement.y


def mouse(desk: Desk, kind: QEvent.Type, px: QPoint, modifiers=Qt.KeyboardModifier.NoModifier) -> None:
    viewport = desk.window.sheets.view.viewport()
    is_move = kind == QEvent.Type.MouseMove
    button = Qt.MouseButton.NoButton if is_move else Qt.MouseButton.LeftButton
    held = Qt.MouseButton.NoButton if kind == QEvent.Type.MouseButtonRelease else Qt.MouseButton.LeftButton
    event = QMouseEvent(kind, QPointF(px), QPointF(viewport.mapToGlobal(px)), button, held, modifiers)
    QApplication.sendEvent(viewport, event)


def px_of(desk: Desk, x: float, y: float) -> QPoint:
    return desk.window.sheets.view._from_scene(QPointF(x, y)).toPoint()


def press(desk: Desk, x: float, y: float, **how) -> None:
    mouse(desk, QEvent.Type.MouseButtonPress, px_of(desk, x, y), **how)


def drag(desk: Desk, start: tuple[float, float], end: tuple[float, float], *, drop: bool = True, **how) -> None:
    press(desk, *start, **how)
    for step in range(1, 11):
        x, y = (a + (b - a) * step / 10 for a, b in zip(start, end, strict=True))
        mouse(desk, QEvent.Type.MouseMove, px_of(desk, x, y), **how)
    if drop:
        mouse(desk, QEvent.Type.MouseButtonRelease, px_of(desk, *end), **how)


def click(desk: Desk, x: float, y: float, **how) -> None:
    press(desk, x, y, **how)
    mouse(desk, QEvent.Type.MouseButtonRelease, px_of(desk, x, y), **how)


def choose(desk: Desk, *keys: str) -> None:
    view = desk.window.sheets.view
    view.select_all([view.picture.thing(key) for key in keys])


ELL = (640.0, 90.0)
"""In the material of the first L, whose key is the next."""
ELL_KEY = "sign-2-backer#0"


# Moving


def test_dragging_a_part_moves_it_as_one_undo_step(hand_desk: Desk, qtbot):
    stack = hand_desk.session.document.undo_stack
    steps = stack.count()
    drag(hand_desk, ELL, (ELL[0] + 200.0, ELL[1] + 20.0))
    plan = settled(hand_desk, qtbot)
    pixel = 1.0 / hand_desk.window.sheets.view.scale_px
    assert at(hand_desk, ELL_KEY) == (pytest.approx(800.0, abs=2 * pixel), pytest.approx(70.0, abs=2 * pixel))
    assert stack.count() == steps + 1
    assert stack.undoText() == "move sign-2-backer"
    assert not plan.faults
    assert hand_desk.session.can_export
    assert "changed by hand" in hand_desk.window.sheets.state.text()
    stack.undo()
    assert at(hand_desk, ELL_KEY) == (600.0, 50.0)
    assert hand_desk.session.can_export
    stack.redo()
    assert at(hand_desk, ELL_KEY)[0] == pytest.approx(800.0, abs=2 * pixel)
    assert hand_desk.session.hand.is_checked  # known already


def test_plan_itself_can_be_undone_and_redone(hand_desk: Desk):
    stack, planning = hand_desk.session.document.undo_stack, hand_desk.session.planning
    plan = planning.plan
    stack.undo()
    assert planning.plan is None
    assert not hand_desk.session.can_export
    stack.redo()
    assert planning.plan is plan


def test_part_dropped_on_another_goes_to_the_nearest_legal_place(hand_desk: Desk, qtbot):
    steps = hand_desk.session.document.undo_stack.count()
    drag(hand_desk, ELL, (ELL[0], ELL[1] + 60.0))  # 50 mm stood between them; spacing 1/4 in + web
    plan = settled(hand_desk, qtbot)
    assert not plan.faults
    spacing = plan.sheets[0].spacing
    problem = hand_desk.session.hand.plans.problems[BACKER].problem
    gap = 500.0 - (at(hand_desk, ELL_KEY)[1] + 400.0)
    assert problem.rules.spacing - 0.001 <= gap <= problem.rules.spacing + 0.01
    assert spacing > 0
    assert hand_desk.session.document.undo_stack.count() == steps + 1
    assert hand_desk.session.can_export


def test_part_left_in_a_bad_place_is_shown_and_nothing_can_be_written(hand_desk: Desk, qtbot):
    window = hand_desk.window
    window.sheets.hands.panel.snaps.setChecked(False)
    drag(hand_desk, ELL, (ELL[0], ELL[1] + 60.0))
    plan = settled(hand_desk, qtbot)
    (fault,) = plan.faults
    assert fault.message == "sign-2-backer · 1 overlaps sign-2-backer · 2"
    assert not hand_desk.session.can_export
    assert not window.actions_by_id["write"].isEnabled()
    assert window.output.writing.hint.text().startswith("Parts lie where they may not.")
    assert window.sheets.standing().mark is Mark.FAULT
    assert window.sheets.hands.faults.isVisibleTo(window.sheets)
    assert window.sheets.hands.parts.faults == {ELL_KEY: "overlaps", "sign-2-backer#1": "overlaps"}
    hand_desk.session.document.undo_stack.undo()
    assert hand_desk.session.can_export
    assert not window.sheets.hands.faults.isVisibleTo(window.sheets)


@pytest.mark.parametrize(
    ("to", "verdict", "said"),
    [
        ((640.0, 110.0), "clear", "free"),
        ((640.0, 135.0), "too close", "too close"),
        ((640.0, 200.0), "overlaps", "overlaps sign-2-backer · 2"),
        ((640.0, 30.0), "outside", "beyond the edge"),
    ],
)
def test_colour_and_words_follow_while_a_part_is_in_hand(hand_desk: Desk, to, verdict, said):
    drag(hand_desk, ELL, to, drop=False)
    hands = hand_desk.window.sheets.hands
    ((thing, kind, text),) = hands.parts.standings()
    assert (thing.key, kind) == (ELL_KEY, verdict)
    assert text.startswith(said)
    edge = px_of(hand_desk, thing.mapToScene(QPointF(0, 200)).x(), thing.mapToScene(QPointF(0, 200)).y())
    shot = hand_desk.window.sheets.view.viewport().grab().toImage()
    ratio = shot.devicePixelRatio()
    near = [shot.pixelColor(round((edge.x() + dx) * ratio), round(edge.y() * ratio)) for dx in (-1, 0, 1)]
    wanted = QColor(VERDICT_COLOURS[verdict])
    assert any(_alike(one, wanted) for one in near)
    qt_key(hand_desk, Qt.Key.Key_Escape)
    assert at(hand_desk, ELL_KEY) == (600.0, 50.0)
    assert thing.pos() == QPointF(0, 0)
    assert thing.mapToScene(QPointF(0, 0)) == QPointF(600.0, 50.0)


def _alike(one: QColor, other: QColor) -> bool:
    return max(abs(one.red() - other.red()), abs(one.green() - other.green()), abs(one.blue() - other.blue())) < 40


def qt_key(desk: Desk, key: Qt.Key, modifiers=Qt.KeyboardModifier.NoModifier) -> None:
    from PySide6.QtTest import QTest

    QTest.keyClick(desk.window.sheets.view, key, modifiers)


def test_arrow_keys_nudge_by_the_step_and_a_run_of_them_is_one_undo_step(hand_desk: Desk, qtbot):
    steps = hand_desk.session.document.undo_stack.count()
    choose(hand_desk, ELL_KEY)
    hand_desk.window.sheets.view.turn(False)
    for _ in range(3):
        qt_key(hand_desk, Qt.Key.Key_Right)
    qt_key(hand_desk, Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier)
    settled(hand_desk, qtbot)
    assert at(hand_desk, ELL_KEY) == (pytest.approx(600.0 + 3 * INCH / 4), pytest.approx(50.0 + INCH / 16))
    assert hand_desk.session.document.undo_stack.count() == steps + 1
    hand_desk.window.sheets.hands.panel.step.setText("10 mm")
    hand_desk.window.sheets.hands.panel.step.setModified(True)
    hand_desk.window.sheets.hands.panel.step.editingFinished.emit()
    hand_desk.session.document.undo_stack.undo()
    hand_desk.window.sheets.view.turn(True)  # right on the screen is y then
    choose(hand_desk, ELL_KEY)
    qt_key(hand_desk, Qt.Key.Key_Right)
    settled(hand_desk, qtbot)
    assert at(hand_desk, ELL_KEY) == (pytest.approx(600.0), pytest.approx(60.0))


def test_place_is_typed_exactly(hand_desk: Desk, qtbot):
    choose(hand_desk, ELL_KEY)
    panel = hand_desk.window.sheets.hands.panel
    qtbot.waitUntil(panel.isVisible)
    assert panel.heading.text() == "sign-2-backer · 1"
    for field, text in ((panel.x, '31 3/16"'), (panel.y, "75 mm")):
        field.setFocus()
        field.selectAll()
        qtbot.keyClicks(field, text)
        qtbot.keyClick(field, Qt.Key.Key_Return)
    settled(hand_desk, qtbot)
    box = box_on_sheet(lies(hand_desk, ELL_KEY))
    assert (box.min_x, box.min_y) == (pytest.approx(31.1875 * INCH), pytest.approx(75.0))
    panel.angle.setValue(30.0)
    settled(hand_desk, qtbot)
    assert lies(hand_desk, ELL_KEY).placement.rotation == pytest.approx(30.0)


def test_box_and_click_select_several_and_they_move_together(hand_desk: Desk, qtbot):
    view = hand_desk.window.sheets.view
    drag(hand_desk, (560.0, 20.0), (900.0, 950.0), modifiers=Qt.KeyboardModifier.ShiftModifier)
    assert {one.key for one in view.selections} == {ELL_KEY, "sign-2-backer#1"}
    click(hand_desk, 100.0, 250.0, modifiers=Qt.KeyboardModifier.ControlModifier)
    assert {one.key for one in view.selections} == {ELL_KEY, "sign-2-backer#1", "sign-1-backer#0"}
    click(hand_desk, 100.0, 250.0, modifiers=Qt.KeyboardModifier.ControlModifier)
    drag(hand_desk, ELL, (ELL[0] + 100.0, ELL[1]))
    settled(hand_desk, qtbot)
    first, second = at(hand_desk, ELL_KEY), at(hand_desk, "sign-2-backer#1")
    assert first[0] > 680.0
    assert (second[0] - first[0], second[1] - first[1]) == (pytest.approx(0.0), pytest.approx(450.0))
    hand_desk.window.actions_by_id["choose_all"].trigger()
    assert len(view.selections) == 4


# Turning and mirroring


def test_quarter_turns_are_about_the_middle(hand_desk: Desk, qtbot):
    choose(hand_desk, ELL_KEY)
    hand_desk.window.sheets.hands.panel.snaps.setChecked(False)
    hand_desk.window.actions_by_id["turn_left"].trigger()
    settled(hand_desk, qtbot)
    one = lies(hand_desk, ELL_KEY)
    box = box_on_sheet(one)
    assert one.placement.rotation == 90.0
    # 240 x 400 about (720, 250) becomes 400 x 240
    assert (box.min_x, box.min_y, box.max_x, box.max_y) == pytest.approx((520.0, 130.0, 920.0, 370.0))
    hand_desk.window.actions_by_id["turn_right"].trigger()
    settled(hand_desk, qtbot)
    assert at(hand_desk, ELL_KEY) == (pytest.approx(600.0), pytest.approx(50.0))


def test_handle_turns_freely_and_in_steps_with_shift(hand_desk: Desk, qtbot):
    choose(hand_desk, ELL_KEY)
    parts = hand_desk.window.sheets.hands.parts
    handle, pivot = parts.handle(), parts.pivot()
    radius = math.hypot(handle.x() - pivot.x(), handle.y() - pivot.y())
    assert (pivot.x(), pivot.y()) == pytest.approx((720.0, 250.0))

    def to(angle: float) -> tuple[float, float]:
        turn = math.radians(angle + 90.0)
        return pivot.x() + radius * math.cos(turn), pivot.y() + radius * math.sin(turn)

    hand_desk.window.sheets.hands.panel.snaps.setChecked(False)
    drag(hand_desk, to(0.0), to(20.0))
    settled(hand_desk, qtbot)
    assert lies(hand_desk, ELL_KEY).placement.rotation == pytest.approx(20.0, abs=1.0)
    held = Qt.KeyboardModifier.ShiftModifier
    drag(hand_desk, to(lies(hand_desk, ELL_KEY).placement.rotation), to(43.0), modifiers=held)
    settled(hand_desk, qtbot)
    assert lies(hand_desk, ELL_KEY).placement.rotation == pytest.approx(45.0)
    assert hand_desk.session.document.undo_stack.undoText() == "turn sign-2-backer"


@pytest.fixture
def grained_desk(make_desk: Callable[..., Desk], qtbot, small_job: Job) -> Desk:
    """Parts that may lie at 0 and 180 degrees; faces, both sides of which are alike, may be mirrored."""

    def prepare(job: Job, _report) -> Prepared:
        prepared = made(job)
        parts = tuple(
            replace(part, rotations=(0.0, 180.0), may_mirror=part.material != BACKER) for part in prepared.parts
        )
        return replace(prepared, parts=parts)

    desk = make_desk(prepare=prepare)
    desk.session.document.open(small_job, None)
    qtbot.waitUntil(lambda: desk.session.preparation.prepared is not None)
    return ready(desk, qtbot)


def test_grain_is_kept_by_keys_fields_and_handle(grained_desk: Desk, qtbot):
    choose(grained_desk, ELL_KEY)
    hands, banner = grained_desk.window.sheets.hands, grained_desk.window.banner
    assert hands.parts.handle() is None
    grained_desk.window.actions_by_id["turn_left"].trigger()
    settled(grained_desk, qtbot)
    assert lies(grained_desk, ELL_KEY).placement.rotation == 180.0
    hands.panel.angle.setValue(90.0)
    assert "may lie at 0° or 180° only" in banner.message.text()
    assert lies(grained_desk, ELL_KEY).placement.rotation == 180.0
    assert hands.panel.angle.value() == 180.0


def test_only_what_may_be_mirrored_is(grained_desk: Desk, qtbot):
    choose(grained_desk, ELL_KEY)
    grained_desk.window.actions_by_id["mirror"].trigger()
    assert "may not be mirrored" in grained_desk.window.banner.message.text()
    grained_desk.window.sheets.step(1)
    key = "sign-2-face#0"
    choose(grained_desk, key)
    before = box_on_sheet(lies(grained_desk, key))
    grained_desk.window.actions_by_id["mirror"].trigger()
    settled(grained_desk, qtbot)
    assert lies(grained_desk, key).placement.mirrored
    after = box_on_sheet(lies(grained_desk, key))
    assert (after.min_x, after.min_y) == (pytest.approx(before.min_x), pytest.approx(before.min_y))


# From sheet to sheet, off and on


def test_part_goes_to_a_new_sheet_and_back_and_figures_follow(hand_desk: Desk, qtbot):
    window, session = hand_desk.window, hand_desk.session
    before = next(one for one in session.planning.plan.summaries if one.material == BACKER)
    choose(hand_desk, ELL_KEY)
    window.actions_by_id["part_new"].trigger()
    plan = settled(hand_desk, qtbot)
    assert [len(sheet.placed) for sheet in plan.sheets] == [3, 1, 4]
    assert not plan.faults
    figures = next(one for one in plan.summaries if one.material == BACKER)
    assert figures.sheet_count == 2
    assert figures.net_yield == pytest.approx(before.net_yield / 2)
    assert window.sheets.list.currentRow() == 1
    assert [one.key for one in window.sheets.view.selections] == [ELL_KEY]
    window.actions_by_id["part_before"].trigger()
    plan = settled(hand_desk, qtbot)
    assert [len(sheet.placed) for sheet in plan.sheets] == [4, 4]
    assert window.sheets.list.currentRow() == 0
    assert not plan.faults


def test_plan_changed_while_a_place_was_looked_for_moves_nothing(hand_desk: Desk, qtbot):
    choose(hand_desk, ELL_KEY)
    qt_key(hand_desk, Qt.Key.Key_Right)
    settled(hand_desk, qtbot)
    hand_desk.window.actions_by_id["part_new"].trigger()
    hand_desk.session.document.undo_stack.undo()
    qtbot.waitUntil(lambda: "changed meanwhile" in hand_desk.window.banner.message.text(), timeout=20_000)
    plan = settled(hand_desk, qtbot)
    assert [len(sheet.placed) for sheet in plan.sheets] == [4, 4]


def test_part_dragged_onto_the_list_goes_to_that_sheet(hand_desk: Desk, qtbot):
    choose(hand_desk, ELL_KEY)
    hand_desk.window.actions_by_id["part_new"].trigger()
    settled(hand_desk, qtbot)
    hand_desk.window.sheets.list.setCurrentRow(0)
    view, sheets = hand_desk.window.sheets.view, hand_desk.window.sheets.list
    ring = (100.0, 250.0)
    press(hand_desk, *ring)
    item = sheets.visualItemRect(sheets.item(1)).center()
    target = view.viewport().mapFromGlobal(sheets.viewport().mapToGlobal(item))
    mouse(hand_desk, QEvent.Type.MouseMove, px_of(hand_desk, *ring) + QPoint(30, 0))
    mouse(hand_desk, QEvent.Type.MouseMove, target)
    mouse(hand_desk, QEvent.Type.MouseButtonRelease, target)
    plan = settled(hand_desk, qtbot)
    assert [len(sheet.placed) for sheet in plan.sheets] == [2, 2, 4]
    assert not plan.faults


def test_part_of_another_material_is_refused_with_a_sentence(hand_desk: Desk):
    choose(hand_desk, ELL_KEY)
    hand_desk.window.sheets.hands.to_sheet(1)
    assert "is not made of" in hand_desk.window.banner.message.text()
    hand_desk.window.actions_by_id["part_after"].trigger()
    assert "There is no sheet of" in hand_desk.window.banner.message.text()


def test_part_taken_off_is_not_placed_and_can_be_put_back(hand_desk: Desk, qtbot):
    choose(hand_desk, ELL_KEY)
    hand_desk.window.actions_by_id["take_off"].trigger()
    plan = settled(hand_desk, qtbot)
    place = hand_desk.window.sheets
    assert [(one.part, one.copy) for one in plan.unplaced] == [("sign-2-backer", 0)]
    assert place.unplaced.remarks == (("sign-2-backer · 1", "taken off its sheet by hand"),)
    assert place.standing().mark is Mark.FAULT
    assert hand_desk.session.can_export  # as with any plan that lacks a piece: the window says so
    place.unplaced.place_wanted.emit("sign-2-backer", 0)
    plan = settled(hand_desk, qtbot)
    assert not plan.unplaced
    assert not plan.faults
    assert lies(hand_desk, ELL_KEY)


# Locks


def test_locked_part_stays_in_hand_and_in_planning(hand_desk: Desk, qtbot):
    window, session = hand_desk.window, hand_desk.session
    choose(hand_desk, ELL_KEY)
    window.actions_by_id["lock"].trigger()
    settled(hand_desk, qtbot)
    assert lies(hand_desk, ELL_KEY).is_locked
    assert window.sheets.again.text() == "Plan the rest"
    drag(hand_desk, ELL, (ELL[0] + 100.0, ELL[1]))
    assert at(hand_desk, ELL_KEY) == (600.0, 50.0)
    assert "is locked" in window.banner.message.text()
    window.sheets.again.click()
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
    assert place.hold.text() == "Pause"
    open_desk.window.actions_by_id["pause"].trigger()
    assert open_desk.planner.state is RunState.PAUSED
    assert place.hold.text() == "Go on"
    assert "Paused" in place.state.text()
    assert not open_desk.session.can_plan
    place.hold.click()
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
    assert place.fit_to_job.isVisibleTo(place)
    place.fit_to_job.click()
    plan = settled(hand_desk, qtbot)
    assert session.can_export
    assert at(hand_desk, ELL_KEY) == (600.0, 50.0)
    assert plan.job.stock[0].count == 3
    assert not place.fit_to_job.isVisibleTo(place)


def test_part_that_fits_no_other_place_says_so(hand_desk: Desk, qtbot):
    choose(hand_desk, "sign-1-backer#0")
    sheet = hand_desk.session.planning.plan.sheets[0]
    hand_desk.window.sheets.hands.to_sheet(0)  # the sheet it is on: nothing else is in its way there
    settled(hand_desk, qtbot)
    assert at(hand_desk, "sign-1-backer#0") == (50.0, 50.0)
    from app.window.hand_work import _places
    from nesting.plan import Placement

    plans = hand_desk.session.hand.plans
    wall = tuple(
        Placement("sign-1-backer", copy, 10.0 + 390.0 * (copy % 3), 10.0 + 390.0 * (copy // 3)) for copy in range(18)
    )
    found = _places(plans, BACKER, sheet.stock.id, wall, (lies(hand_desk, ELL_KEY),), 0, "sheet 1")
    assert found.placements is None
    assert found.why_not == "sign-2-backer · 1 finds no free place on sheet 1"


# Measuring


def test_tape_catches_corners_and_tells_both_units(hand_desk: Desk):
    window = hand_desk.window
    window.actions_by_id["measure"].trigger()
    tape = window.sheets.hands.tape
    near = 3.0 / window.sheets.view.scale_px
    press(hand_desk, 600.0 + near, 50.0 - near)
    mouse(hand_desk, QEvent.Type.MouseMove, px_of(hand_desk, 600.0 - near, 450.0 + near))
    assert tape.length == pytest.approx(400.0)
    press(hand_desk, 600.0 - near, 450.0 + near)
    assert tape.length == pytest.approx(400.0)  # the L is 400 mm tall
    assert window.sheets.hands.told.text() == 'Measured 15.748" (400 mm)'
    press(hand_desk, 450.0, 250.0)  # the ring's edge, where it is nearest
    press(hand_desk, 600.0, 250.0)
    assert tape.length == pytest.approx(150.0, abs=0.02)
    qt_key(hand_desk, Qt.Key.Key_Escape)
    assert tape.length is None
    qt_key(hand_desk, Qt.Key.Key_Escape)
    assert window.sheets.view.hand is window.sheets.hands.parts


def test_clearance_of_two_selected_parts_is_shown(hand_desk: Desk):
    choose(hand_desk, ELL_KEY, "sign-1-backer#0")
    start, end, text = hand_desk.window.sheets.hands.parts.gap
    assert text == 'clearance 5.906" (150 mm)'
    assert math.hypot(end.x() - start.x(), end.y() - start.y()) == pytest.approx(150.0, abs=0.02)
    choose(hand_desk, ELL_KEY)
    assert hand_desk.window.sheets.hands.parts.gap is None


# Sheets with corners of their own


def test_offcut_is_drawn_by_its_true_edge_with_margin_and_keep_out(open_desk: Desk, qtbot):
    theme, place = open_desk.window.theme, open_desk.window.sheets
    plan = planned(made(open_desk.session.document.job))
    outline = ((0.0, 0.0), (1200.0, 0.0), (1200.0, 900.0), (600.0, 1800.0), (0.0, 1800.0))
    stock = replace(plan.sheets[0].stock, width=1200.0, height=1800.0, outline=outline)
    stock = replace(stock, keep_outs=(KeepOut(50.0, 1500.0, 200.0, 200.0, "dent"),))
    sheet = replace(plan.sheets[0], stock=stock, placed=(), offcuts=())
    open_desk.window.go(open_desk.window.places.index(place))
    place.view.show_picture(sheet_picture(sheet, plan.job, theme, open_desk.session.paths))
    place.view.fit()
    shot = place.view.viewport().grab().toImage()

    def colour(x: float, y: float) -> QColor:
        px = px_of(open_desk, x, y)
        return shot.pixelColor(round(px.x() * shot.devicePixelRatio()), round(px.y() * shot.devicePixelRatio()))

    assert colour(430.0, 1130.0) == QColor(theme.colours.sheet)
    assert colour(1100.0, 1610.0) != QColor(theme.colours.sheet)  # beyond the slanted edge: the bench
    assert _alike(colour(1100.0, 1610.0), QColor(theme.colours.bench))
    zone = [colour(60.0 + step * 6.0, 1590.0) for step in range(30)]
    assert any(one != QColor(theme.colours.sheet) for one in zone)
    inner = margin_path(stock, 12.7)
    assert inner.contains(QPointF(1180.0, 890.0))
    assert not inner.contains(QPointF(900.0, 1345.0))  # 5 mm from the slanted edge
    small = thumbnail(sheet, open_desk.session.paths, theme.colours, 1.0, place.font()).toImage()
    # Lying on its long side the missing corner is at the lower right of the picture.
    assert small.pixelColor(10, 10) == QColor(theme.colours.sheet)
    assert small.pixelColor(small.width() - 6, 115).alpha() == 0


# Written


def test_what_was_moved_by_hand_is_what_is_written(make_desk, qtbot, tmp_path: Path):
    from app.job.document import Scale, ScaleBy
    from app.window.job_files import job_from_artwork
    from app.window.services import Services
    from tests.app.window.test_real_run import ARTWORK

    path = tmp_path / "two.svg"
    path.write_text(ARTWORK)
    job = job_from_artwork(str(path))
    scaled = replace(job.artwork[0], scale=Scale(ScaleBy.OVERALL_HEIGHT, 600.0))
    own = Services()
    desk = make_desk(prepare=own.prepare, new_planner=own.new_planner, write_plan=own.write_plan)
    desk.session.document.open(set_seconds(replace(job, artwork=(scaled,)), 0.0), None)
    qtbot.waitUntil(lambda: desk.session.preparation.prepared is not None, timeout=30_000)
    desk.window.plan()
    qtbot.waitUntil(lambda: desk.session.hand.can_edit and desk.session.hand.plans is not None, timeout=90_000)
    sheet = desk.session.planning.plan.sheets[0]
    placed = sheet.placed[0]
    choose(desk, f"{placed.part.id}#{placed.placement.copy}")
    desk.window.actions_by_id["part_new"].trigger()
    qtbot.waitUntil(lambda: len(desk.session.planning.plan.sheets) > 2, timeout=20_000)
    qt_key(desk, Qt.Key.Key_Up)
    plan = settled(desk, qtbot)
    if plan.faults:
        desk.window.actions_by_id["snap"].trigger()
        plan = settled(desk, qtbot)
    assert not plan.faults
    out = tmp_path / "out"
    desk.window.output.writing.use_folder(str(out))
    desk.window.actions_by_id["write"].trigger()
    qtbot.waitUntil(lambda: (out / "plan.json").is_file(), timeout=60_000)
    written = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    shown = [
        [(one.placement.part, one.placement.copy, one.placement.x, one.placement.y) for one in each.placed]
        for each in plan.sheets
    ]
    found = [
        [(one["part"], one["copy"], one["x"], one["y"]) for one in each["placements"]] for each in written["sheets"]
    ]
    assert found == shown
    qtbot.waitUntil(lambda: not desk.session.exporting.is_busy, timeout=60_000)


def test_stand_in_plan_is_legal_as_it_comes(open_desk: Desk, qtbot):
    """What the other tests of this page lean on."""
    from app.planning.kept_plan import KeptPlans, kept_of

    prepared = made(open_desk.session.document.job)
    assert not KeptPlans(prepared).plan(kept_of(planned(prepared))).faults
