"""The window with nothing stood in: real artwork, the real child process, real files."""

from __future__ import annotations

import json
import time
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QTimer

from app.job.document import Job, Scale, ScaleBy
from app.job.edits import set_seconds
from app.window.job_files import job_from_artwork
from app.window.services import Services
from app.window.session import Session
from tests.app.window.stand_ins import Desk

ARTWORK = """<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" viewBox="0 0 100 60">
<path id="bar" d="M0 0 H40 V60 H0 Z"/>
<path id="frame" fill-rule="evenodd" d="M50 0 H100 V60 H50 Z M65 15 H85 V45 H65 Z"/>
</svg>"""
FREEZE_LIMIT_S = 0.5
"""The window is frozen when its event loop stands still this long; generous for a machine shared with others."""


@pytest.fixture
def real_job(tmp_path: Path) -> Job:
    path = tmp_path / "two.svg"
    path.write_text(ARTWORK)
    job = job_from_artwork(str(path))
    artwork = replace(job.artwork[0], scale=Scale(ScaleBy.OVERALL_HEIGHT, 600.0))
    return set_seconds(replace(job, artwork=(artwork,)), 1.0)


@pytest.fixture
def real_desk(make_desk) -> Desk:
    own = Services()
    return make_desk(prepare=own.prepare, new_planner=own.new_planner, write_plan=own.write_plan)


class Pulse:
    """Longest time between two beats of the event loop."""

    def __init__(self) -> None:
        self.longest, self._last = 0.0, time.monotonic()
        self._timer = QTimer(interval=5)
        self._timer.timeout.connect(self._beat)
        self._timer.start()

    def _beat(self) -> None:
        now = time.monotonic()
        self.longest, self._last = max(self.longest, now - self._last), now

    def stop(self) -> None:
        self._timer.stop()


def test_job_goes_from_artwork_to_files_without_freezing(real_desk: Desk, qtbot, real_job, tmp_path: Path):
    session: Session = real_desk.session
    session.document.open(real_job, None)
    real_desk.window.go(0)
    qtbot.waitUntil(lambda: not session.preparation.is_busy, timeout=30_000)
    assert session.preparation.error is None
    assert len(session.preparation.prepared.lettering[0].letters) == 2
    pulse = Pulse()
    real_desk.window.plan()
    qtbot.waitUntil(lambda: not session.planning.is_running, timeout=90_000)
    pulse.stop()
    assert session.planning.state == "finished"
    assert pulse.longest < FREEZE_LIMIT_S
    plan = session.planning.plan
    assert not plan.unplaced
    assert sum(len(sheet.placed) for sheet in plan.sheets) == sum(part.quantity for part in plan.parts)
    out = tmp_path / "out"
    real_desk.window.output.writing.use_folder(str(out))
    real_desk.window.output.write()
    qtbot.waitUntil(lambda: real_desk.window.output.writing.files.count() > 0, timeout=60_000)
    written = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert len(written["sheets"]) == len(plan.sheets)
    assert all((out / "sheets" / sheet.file).is_file() for sheet in plan.sheets)


def test_cancel_of_a_real_run_keeps_a_plan_and_answers_soon(real_desk: Desk, qtbot, real_job):
    session: Session = real_desk.session
    session.document.open(set_seconds(real_job, 600.0), None)
    qtbot.waitUntil(lambda: session.preparation.prepared is not None, timeout=30_000)
    real_desk.window.plan()
    qtbot.waitUntil(lambda: session.planning.plan is not None, timeout=90_000)
    asked = time.monotonic()
    real_desk.window.actions_by_id["cancel"].trigger()
    qtbot.waitUntil(lambda: not session.planning.is_running, timeout=20_000)
    assert time.monotonic() - asked < 10.0
    assert session.planning.state == "cancelled"
    assert session.planning.plan is not None
    assert session.can_export


def test_real_run_stopped_at_once_keeps_what_came_in_and_one_may_plan_again(real_desk: Desk, qtbot, real_job):
    session: Session = real_desk.session
    session.document.open(set_seconds(real_job, 600.0), None)
    qtbot.waitUntil(lambda: session.preparation.prepared is not None, timeout=30_000)
    real_desk.window.plan()
    qtbot.waitUntil(lambda: session.planning.plan is not None, timeout=90_000)
    session.planning.cancel()
    session.planning._offer_stop()  # as when the time for it is over
    asked = time.monotonic()
    session.planning.stop_at_once()
    assert time.monotonic() - asked < 2.0
    assert session.planning.state == "cancelled"
    assert not session.planning.is_preview
    assert session.can_export
    assert session.can_plan
    session.document.edit("time", lambda job: set_seconds(job, 1.0))
    real_desk.window.plan()
    qtbot.waitUntil(lambda: session.planning.state == "finished", timeout=90_000)
    assert not session.planning.plan.unplaced


def test_closing_while_planning_leaves_no_child(real_desk: Desk, qtbot, real_job):
    session: Session = real_desk.session
    session.document.open(real_job, None)
    qtbot.waitUntil(lambda: session.preparation.prepared is not None, timeout=30_000)
    real_desk.window.plan()
    assert session.planning.is_running
    # The fixture closes the window now; what all tests share then looks for threads and children left running.
