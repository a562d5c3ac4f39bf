"""Parts moved by hand from sheet to sheet, taken off and put back."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QEvent, QPoint, Qt

from app.window.walk import Mark
from nesting.plan import Placement
from tests.app.window.hand_tools import (
    ELL_KEY,
    at,
    choose,
    lies,
    mouse,
    press,
    px_of,
    qt_key,
    settled,
)
from tests.app.window.stand_ins import BACKER, Desk


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


def test_part_that_finds_no_place_on_a_full_sheet_says_so(hand_desk: Desk, qtbot):
    choose(hand_desk, "sign-1-backer#0")
    hand_desk.window.sheets.hands.to_sheet(0)  # the sheet it is on: nothing else is in its way there
    settled(hand_desk, qtbot)
    assert at(hand_desk, "sign-1-backer#0") == (50.0, 50.0)
    plan = hand_desk.session.planning.plan
    ring = lies(hand_desk, "sign-1-backer#0")
    wall = tuple(
        replace(ring, placement=Placement("sign-1-backer", copy, 10.0 + 390.0 * (copy % 3), 10.0 + 390.0 * (copy // 3)))
        for copy in range(18)
    )
    hand_desk.window.sheets.hands.work.to_sheet(
        [lies(hand_desk, ELL_KEY)], replace(plan.sheets[0], placed=wall), plan.sheets[0]
    )
    settled(hand_desk, qtbot)
    assert at(hand_desk, ELL_KEY) == (600.0, 50.0)
    assert hand_desk.window.banner.message.text() == "Sign-2-backer · 1 finds no free place on sheet 1."
