"""Seams dragged, turned, added and removed on the drawing, judged as they move, and undone."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QPointF, Qt

from app.fabrication.part import Role
from app.job.document import Scale, ScaleBy, Seam
from app.job.edits import set_scale
from app.window.job_files import job_from_artwork
from app.window.services import Services
from tests.app.window.stand_ins import Desk

BAR = """<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="60mm" viewBox="0 0 400 60">
<path id="bar" d="M0 0 H400 V60 H0 Z"/></svg>"""
LENGTH = 4000.0
"""mm; longer than the longest shipped sheet of 144 in (3658 mm), so every part of the bar is divided once."""


@pytest.fixture
def parts(make_desk, qtbot, tmp_path: Path) -> Desk:
    path = tmp_path / "bar.svg"
    path.write_text(BAR)
    job = job_from_artwork(str(path))
    job = set_scale(job, job.artwork[0].id, Scale(ScaleBy.OVERALL_WIDTH, LENGTH))
    desk = make_desk(prepare=Services().prepare)
    desk.session.document.open(job, None)
    settled(desk, qtbot)
    desk.window.go(1)
    place = desk.window.parts
    place.seams.divided.setCurrentIndex(place.seams.divided.findText("bar backer", Qt.MatchFlag.MatchStartsWith))
    place.seams.change.click()
    qtbot.waitUntil(lambda: place.seams.bar.isVisible())
    return desk


def settled(desk: Desk, qtbot) -> None:
    qtbot.waitUntil(lambda: not desk.session.preparation.is_busy, timeout=60_000)


def own(desk: Desk) -> list[Seam]:
    return [seam for one in desk.session.document.job.seams if one.part == "backer" for seam in one.seams]


def spot(desk: Desk, x: float, y: float):
    """A place of the letter's frame on the viewport."""
    place = desk.window.parts
    return place.view._from_scene(place.view.hand._frame.map(QPointF(x, y))).toPoint()


def drag(desk: Desk, qtbot, start: tuple[float, float], end: tuple[float, float]) -> None:
    viewport = desk.window.parts.view.viewport()
    qtbot.mousePress(viewport, Qt.MouseButton.LeftButton, pos=spot(desk, *start))
    qtbot.mouseMove(viewport, spot(desk, *((a + b) / 2 for a, b in zip(start, end, strict=True))))
    qtbot.mouseMove(viewport, spot(desk, *end))
    qtbot.mouseRelease(viewport, Qt.MouseButton.LeftButton, pos=spot(desk, *end))


def test_seam_is_dragged_judged_and_undone(parts: Desk, qtbot):
    place, document = parts.window.parts, parts.session.document
    found = place.view.hand.seams
    assert len(found) == 1
    at = found[0].start[0]
    middle = (at, 300.0)
    to = (at - 300.0 if at > LENGTH / 2 else at + 300.0, 300.0)
    drag(parts, qtbot, middle, to)
    moved = own(parts)
    assert len(moved) == 1
    assert moved[0].start[0] == pytest.approx(to[0], abs=8.0)  # a pixel is some mm at this zoom
    assert place.view.hand.check.is_sound
    assert "Sound" in place.seams.bar.verdict.text()
    settled(parts, qtbot)
    made = [one for one in parts.session.preparation.prepared.seams if one.role is Role.BACKER]
    assert [one.is_own for one in made] == [True]
    assert made[0].seam.start[0] == pytest.approx(moved[0].start[0], abs=0.01)
    document.undo_stack.undo()
    assert own(parts) == []
    settled(parts, qtbot)
    assert place.view.hand.seams[0].start[0] == pytest.approx(at, abs=0.01)


def test_seam_that_leaves_a_piece_too_long_is_told_with_its_size(parts: Desk, qtbot):
    place = parts.window.parts
    at = place.view.hand.seams[0].start[0]
    drag(parts, qtbot, (at, 300.0), (150.0, 300.0))  # leaves 3850 mm, and no sheet is longer than 144 in
    assert not place.view.hand.check.is_sound
    assert place.seams.bar.verdict.property("look") == "bad"
    assert "sheet" in place.seams.bar.verdict.text()
    settled(parts, qtbot)


def test_seams_are_added_turned_removed_and_found_again(parts: Desk, qtbot):
    place, viewport = parts.window.parts, parts.window.parts.view.viewport()
    place.seams.bar.add.click()
    qtbot.mouseClick(viewport, Qt.MouseButton.LeftButton, pos=spot(parts, 1000.0, 200.0))
    assert len(own(parts)) == 2
    added = place.view.hand.seams[place.view.hand.chosen]
    assert added.start[0] == pytest.approx(1000.0, abs=8.0)
    assert added.start[0] == pytest.approx(added.end[0], abs=1e-6)  # upright
    top = max((added.start, added.end), key=lambda one: one[1])
    drag(parts, qtbot, top, (top[0] + 330.0, top[1]))  # about 30 degrees off upright
    turned = place.view.hand.seams[place.view.hand.chosen]
    assert abs(turned.start[0] - turned.end[0]) > 200.0
    place.seams.bar.remove.click()
    assert len(own(parts)) == 1
    settled(parts, qtbot)
    place.seams.bar.find.click()
    assert own(parts) == []
    settled(parts, qtbot)
    assert len(place.view.hand.seams) == 1
    place.seams.bar.done.click()
    assert place.view.hand is None
    assert not place.seams.bar.isVisible()


def test_seams_are_changed_with_keys_alone(parts: Desk, qtbot):
    place = parts.window.parts
    view, at = place.view, place.view.hand.seams[0].start[0]
    key = Qt.Key.Key_Left if at > LENGTH / 2 else Qt.Key.Key_Right
    for _ in range(3):
        qtbot.keyClick(view, key, Qt.KeyboardModifier.ShiftModifier)
    assert abs(own(parts)[0].start[0] - at) == pytest.approx(30 * view.hand.desk.limits.step, abs=0.1)
    parts.session.document.undo_stack.undo()  # a run of keys is one step
    assert own(parts) == []
    settled(parts, qtbot)
    qtbot.keyClick(view, Qt.Key.Key_Insert)
    assert len(own(parts)) == 2
    qtbot.keyClick(view, Qt.Key.Key_Delete)
    assert len(own(parts)) == 1
    qtbot.keyClick(view, Qt.Key.Key_Escape)
    assert view.hand is None
    settled(parts, qtbot)


def test_another_job_ends_the_changing_of_seams(parts: Desk, qtbot, small_job):
    parts.session.document.open(small_job, None)
    assert parts.window.parts.view.hand is None
    assert not parts.window.parts.seams.bar.isVisible()
    qtbot.waitUntil(lambda: not parts.session.preparation.is_busy, timeout=20_000)
    parts.window.banner.clear()
