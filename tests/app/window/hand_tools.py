"""What a person does: the mouse on the board of sheets, keys, the selection, and typing into a field."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.planning.job_plan import JobPlan, PlacedPart
from tests.app.window.stand_ins import Desk, make_plan


def ready(desk: Desk, qtbot) -> Desk:
    make_plan(desk, qtbot)
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
        one for sheet in desk.session.planning.plan.sheets for one in sheet.placed if one.key == (part, int(copy))
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


def alike(one: QColor, other: QColor) -> bool:
    return max(abs(one.red() - other.red()), abs(one.green() - other.green()), abs(one.blue() - other.blue())) < 40


def qt_key(desk: Desk, key: Qt.Key, modifiers=Qt.KeyboardModifier.NoModifier) -> None:
    QTest.keyClick(desk.window.sheets.view, key, modifiers)


def type_into(qtbot, widget, text: str) -> None:
    widget.setFocus()
    widget.selectAll()
    qtbot.keyClicks(widget, text)
    qtbot.keyClick(widget, Qt.Key.Key_Return)
