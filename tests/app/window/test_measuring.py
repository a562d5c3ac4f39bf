"""The tape and the clearance of two parts on a sheet."""

from __future__ import annotations

import math

import pytest
from PySide6.QtCore import QEvent, Qt

from tests.app.window.hand_tools import (
    ELL_KEY,
    choose,
    mouse,
    press,
    px_of,
    qt_key,
)
from tests.app.window.stand_ins import Desk


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
