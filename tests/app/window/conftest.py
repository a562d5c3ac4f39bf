"""Windows with stand-ins for the slow rooms."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest
from PySide6.QtCore import QSettings

from app.job.document import Artwork, Job, Scale, ScaleBy
from app.job.edits import add_artwork
from app.job.new import new_job
from app.planning.job_plan import JobPlan
from app.planning.prepare import Prepared
from app.window.main_window import MainWindow
from app.window.services import Services
from app.window.session import Session
from app.window.settings import WindowSettings
from app.window.theme import Theme, ThemeChoice
from tests.app.window.hand_tools import ready
from tests.app.window.stand_ins import Desk, FakePlanner, made, open_job


@pytest.fixture
def small_job(tmp_path: Path) -> Job:
    job = new_job("Two letters", folder=str(tmp_path))
    sign = Artwork("sign", "Sign", job.builds[0].id, file="sign.svg", scale=Scale(ScaleBy.OVERALL_HEIGHT, 400.0))
    return add_artwork(job, sign)


@pytest.fixture
def settings(tmp_path: Path) -> WindowSettings:
    return WindowSettings(QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat))


@pytest.fixture(autouse=True)
def own_shop(tmp_path: Path, monkeypatch) -> Path:
    """Rack and stock book of the test alone."""
    monkeypatch.setenv("LETTERBED_RACK", str(tmp_path / "shop" / "rack.db"))
    monkeypatch.setenv("LETTERBED_BOOK", str(tmp_path / "shop" / "book"))
    return tmp_path / "shop"


@pytest.fixture
def make_desk(qtbot, qapp, no_timers_left, settings) -> Callable[..., Desk]:
    """Makes windows whose slow rooms are stand-ins; closes them at the end of the test."""
    desks: list[Desk] = []

    def make(**services: object) -> Desk:
        planner, jobs, gate = FakePlanner(), [], threading.Event()
        gate.set()

        def prepare(job: Job, report: Callable[[float, str], None]) -> Prepared:
            gate.wait(10.0)
            report(0.5, "reading Sign")
            jobs.append(job)
            length = job.artwork[0].scale.length
            return made(job, 1.0 if length is None else length / 400.0)

        def write_plan(plan: JobPlan, folder: str, report: Callable[[float, str], None]) -> object:
            gate.wait(10.0)
            report(0.5, "01.dxf")
            paths = []
            for sheet in plan.sheets:
                path = Path(folder) / "sheets" / sheet.file
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(sheet.material.name)
                paths.append(str(path))
            return SimpleNamespace(folder=folder, files=tuple(paths))

        doors = {"prepare": prepare, "new_planner": lambda: planner, "write_plan": write_plan} | services
        session = Session(Services(**doors))
        window = MainWindow(session, Theme(qapp, ThemeChoice.LIGHT), settings)
        window.resize(1200, 800)
        window.show()
        desks.append(Desk(window, session, planner, settings, jobs, gate))
        return desks[-1]

    yield make
    # Not by qtbot, which would close them before this has answered the question about unsaved work.
    for desk in desks:
        desk.gate.set()
        if desk.session.document.job is not None:
            desk.session.document.saved("", desk.session.document.job)
        desk.window.close()
        desk.window.deleteLater()


@pytest.fixture
def desk(make_desk) -> Desk:
    return make_desk()


@pytest.fixture
def open_desk(desk: Desk, qtbot, small_job: Job) -> Desk:
    """A window with the small job open and its parts derived."""
    open_job(desk, qtbot, small_job)
    desk.window.go(0)
    return desk


@pytest.fixture
def hand_desk(open_desk: Desk, qtbot) -> Desk:
    """Two letters planned: rings 400 mm across at x 50, Ls 240 x 400 mm at x 600, both at y 50 and 500."""
    return ready(open_desk, qtbot)
