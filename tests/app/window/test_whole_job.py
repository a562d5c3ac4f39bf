"""The market-hall job from the first page to the written files, by mouse, every click counted."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

from app.job.edits import set_seconds
from app.window.job_files import SAMPLE_FOLDER, sample_jobs
from app.window.services import Services
from tests.app.window.stand_ins import Desk

SECONDS = 2.0
"""Of planning; how long one waits is no matter here, only how often one clicks."""
CLICKS = 9
"""Sample, three places, plan, order, buy list, output, write."""


class Mouse:
    """Clicks and counts."""

    def __init__(self, qtbot) -> None:
        self._qtbot, self.clicks = qtbot, []

    def click(self, widget: QWidget) -> None:
        self._qtbot.waitUntil(lambda: widget.isVisible() and widget.isEnabled(), timeout=180_000)
        self.clicks.append(widget.accessibleName() or widget.text())
        self._qtbot.mouseClick(widget, Qt.MouseButton.LeftButton)


@pytest.mark.slow
@pytest.mark.timeout(600)
def test_market_hall_from_the_first_page_to_the_files(make_desk, qtbot, tmp_path: Path):
    own = Services()

    def read_job(path: str):
        return set_seconds(own.read_job(path), SECONDS)

    desk: Desk = make_desk(
        read_job=read_job, prepare=own.prepare, new_planner=own.new_planner, write_plan=own.write_plan
    )
    window, session = desk.window, desk.session
    mouse = Mouse(qtbot)
    for folder in ("fonts", "market_hall"):  # a copy: the files are written beside the job
        shutil.copytree(SAMPLE_FOLDER / folder, tmp_path / folder)
    out = tmp_path / "market_hall"
    window.welcome.show_jobs([], sample_jobs(out))
    mouse.click(window.welcome.samples.box.itemAt(1).widget())
    qtbot.waitUntil(lambda: not session.preparation.is_busy, timeout=180_000)
    while window.place is not window.sheets:
        mouse.click(window.place.next)
    mouse.click(window.sheets.next)
    qtbot.waitUntil(lambda: not session.planning.is_running, timeout=120_000)
    assert session.planning.state == "finished"
    plan = session.planning.plan
    assert plan.is_complete
    mouse.click(window.place.next)
    assert window.place is window.order
    mouse.click(window.order.next)  # the buy list
    qtbot.waitUntil(lambda: not session.ordering.is_running, timeout=120_000)
    mouse.click(window.walk.steps[window.places.index(window.output)])
    mouse.click(window.place.next)
    qtbot.waitUntil(lambda: bool(list(out.glob("*/plan.json"))) and not session.exporting.is_busy, timeout=120_000)
    written = json.loads(next(out.rglob("plan.json")).read_text(encoding="utf-8"))
    assert len(written["sheets"]) == len(plan.sheets)
    assert written["unplaced"] == []
    assert len(list(out.rglob("sheets/*.dxf"))) == len(plan.sheets)
    assert not window.banner.isVisible()
    assert len(mouse.clicks) == CLICKS, mouse.clicks
