"""How soon the window can be used, how long it stands still while planning, and how fast a thousand parts are drawn.

    python -m tests.bench.window [--job sample_jobs/market_hall/market_hall.json] [--seconds 10]

Without a screen: ``QT_QPA_PLATFORM=offscreen``. Frames are drawn by the processor either way; on a screen what shows
them comes on top. Every figure is wall time, so the load of the machine is printed with it; frames are given in
computing time too.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

PARTS = 1000
FRAMES = 40
PULSE_MS = 2
FREEZE_MS = 50.0

_START = """
import sys, time
began = float(sys.argv[1])
from PySide6.QtCore import QSettings, QTimer
from PySide6.QtWidgets import QApplication
app = QApplication([])
from app.window.main_window import MainWindow
from app.window.session import Session
from app.window.settings import WindowSettings
from app.window.theme import Theme
settings = WindowSettings(QSettings(sys.argv[2], QSettings.Format.IniFormat))
window = MainWindow(Session(), Theme(app), settings)
window.show()
app.processEvents()
print(time.time() - began, flush=True)
if len(sys.argv) > 3:
    preparation = window.session.preparation
    window.open_path(sys.argv[3])
    app.processEvents()
    print(time.time() - began, flush=True)
    while preparation.prepared is None:
        app.processEvents()
        time.sleep(0.002)
    app.processEvents()
    print(time.time() - began, flush=True)
window.session.document.undo_stack.setClean()
window.close()
"""


class Pulse:
    """Times between two beats of the event loop, ms, and what the window's own thread computed in them, ms.

    What is longer than the beat itself the window stood still. On a busy machine the second tells more: it does not
    count what other programs took.
    """

    def __init__(self) -> None:
        from PySide6.QtCore import QTimer

        self.gaps: list[float] = []
        self.own: list[float] = []
        self._last, self._last_own = time.perf_counter(), time.thread_time()
        self._timer = QTimer(interval=PULSE_MS)
        self._timer.timeout.connect(self._beat)
        self._timer.start()

    def _beat(self) -> None:
        now, own = time.perf_counter(), time.thread_time()
        self.gaps.append((now - self._last) * 1000.0)
        self.own.append((own - self._last_own) * 1000.0)
        self._last, self._last_own = now, own

    def stop(self) -> None:
        self._timer.stop()


def load() -> str:
    """How busy the machine is."""
    return f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores" if hasattr(os, "getloadavg") else ""


def start(job: str, runs: int) -> None:
    """From the start of a program to its window, to a job on it, and to its parts."""
    root = Path(__file__).parents[2]
    rows = []
    for _ in range(runs + 1):  # the first one warms the disk
        with tempfile.TemporaryDirectory() as folder:
            command = [sys.executable, "-c", _START, str(time.time()), str(Path(folder) / "w.ini"), job]
            done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=True)
            rows.append([float(line) for line in done.stdout.split()])
    best = [min(column) for column in zip(*rows[1:], strict=True)]
    worst = [max(column) for column in zip(*rows[1:], strict=True)]
    for name, low, high in zip(("window usable", "job shown", "its parts derived"), best, worst, strict=True):
        print(f"{name:34} {low:6.2f} s   (slowest of {runs}: {high:.2f} s)   {load()}", flush=True)


def planning(app, job: str, seconds: float) -> object:
    """The longest the window stands still from pressing Plan to the final plan, sheets shown all the time."""
    from PySide6.QtCore import QSettings

    from app.job.edits import set_seconds
    from app.window.main_window import MainWindow
    from app.window.session import Session
    from app.window.settings import WindowSettings
    from app.window.theme import Theme

    with tempfile.TemporaryDirectory() as folder:
        os.environ["LETTERBED_UNSAVED"] = str(Path(folder) / "unsaved")
        session = Session()
        settings = WindowSettings(QSettings(str(Path(folder) / "w.ini"), QSettings.Format.IniFormat))
        window = MainWindow(session, Theme(app), settings)
        window.resize(1440, 900)
        window.show()
        window.open_path(job)
        until(app, lambda: session.preparation.prepared is not None)
        session.document.edit("time", lambda job: set_seconds(job, seconds))
        window.go(window.places.index(window.sheets))
        session.planning.warm()
        until(app, lambda: False, limit_s=6.0)  # as after a person has looked about
        pulse = Pulse()
        window.plan()
        until(app, lambda: not session.planning.is_running)
        until(app, lambda: session.hand.plans is not None, limit_s=20.0)
        pulse.stop()
        for name, gaps in (("longest freezes while planning", pulse.gaps), ("of that, own computing", pulse.own)):
            longest = ", ".join(f"{gap:.0f}" for gap in sorted(gaps)[-5:][::-1])
            print(f"{name:34} {longest} ms; {sum(gap > FREEZE_MS for gap in gaps)} above {FREEZE_MS:.0f} ms   {load()}")
        plan = session.planning.plan
        frames(app, window, plan)
        drags(app, window, session)
        session.document.saved("", session.document.job)
        window.close()
    return plan


def frames(app, window, plan) -> None:
    """Time to draw a frame of a sheet with a thousand parts, whole and closer, while panning and zooming."""
    from PySide6.QtCore import QPointF

    from app.window.sheet_picture import sheet_picture

    big = thousand(plan)
    view = window.sheets.view
    began = time.perf_counter()
    picture = sheet_picture(big, plan.job, window.theme, window.session.paths)
    view.show_picture(picture)
    app.processEvents()
    print(f"{'picture of 1,000 parts made':34} {(time.perf_counter() - began) * 1000:.0f} ms   {load()}", flush=True)
    for name, factor in (("whole sheet", 1.0), ("4 times closer", 4.0), ("16 times closer", 4.0)):
        if factor != 1.0:
            view.zoom(factor)
            app.processEvents()
        moves = {
            "pan": lambda at: view._pan_by(QPointF(3 if at % 2 else -3, 2)),
            "zoom": lambda at: view.zoom(1.02 if at % 2 else 1 / 1.02),
        }
        for kind, move in moves.items():
            wall, cpu = [], []
            for at in range(FRAMES):
                start_wall, start_cpu = time.perf_counter(), time.process_time()
                move(at)
                view.viewport().repaint()
                wall.append((time.perf_counter() - start_wall) * 1000)
                cpu.append((time.process_time() - start_cpu) * 1000)
            wall.sort()
            cpu.sort()
            print(
                f"{f'{kind}, {name}':34} median {cpu[FRAMES // 2]:.1f} ms of computing ({1000 / cpu[FRAMES // 2]:.0f} "
                f"frames a second), slowest {cpu[-1]:.1f}; wall median {wall[FRAMES // 2]:.1f}   {load()}",
                flush=True,
            )


def drags(app, window, session) -> None:
    """Time for one move of a part in hand, with its clearances, on the fullest sheet."""
    from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
    from PySide6.QtGui import QMouseEvent

    sheets = session.planning.plan.sheets
    row = max(range(len(sheets)), key=lambda at: len(sheets[at].placed))
    window.sheets._drawn = None
    window.sheets.list.setCurrentRow((row + 1) % len(sheets))
    window.sheets.list.setCurrentRow(row)
    app.processEvents()
    view = window.sheets.view
    thing = view.picture.things[len(view.picture.things) // 2]
    spot = thing.mapToScene(
        window.session.paths.spot(sheets[row].placed[len(sheets[row].placed) // 2].part.region).middle
    )
    at = view._from_scene(spot).toPoint()

    def send(kind: QEvent.Type, px: QPoint) -> None:
        button = Qt.MouseButton.LeftButton
        place = QPointF(view.viewport().mapToGlobal(px))
        app.sendEvent(
            view.viewport(), QMouseEvent(kind, QPointF(px), place, button, button, Qt.KeyboardModifier.NoModifier)
        )

    send(QEvent.Type.MouseButtonPress, at)
    send(QEvent.Type.MouseMove, at + QPoint(9, 9))
    cpu = []
    for step in range(FRAMES):
        began = time.process_time()
        send(QEvent.Type.MouseMove, at + QPoint(9 + step % 20, 9 + step % 7))
        view.viewport().repaint()
        cpu.append((time.process_time() - began) * 1000)
    cpu.sort()
    print(
        f"{f'part in hand among {len(sheets[row].placed)}':34} median {cpu[FRAMES // 2]:.1f} ms of computing, "
        f"slowest {cpu[-1]:.1f}   {load()}",
        flush=True,
    )
    window.sheets.hands.parts._let_go(put_back=True)


def thousand(plan):
    """A sheet of a thousand parts: those of a plan laid side by side as often as it takes, each sheet as it is."""
    from app.planning.job_plan import PlacedPart

    sheets = plan.sheets
    wide = max(sheet.stock.width for sheet in sheets) + 100.0
    tall = max(sheet.stock.height for sheet in sheets) + 100.0
    placed: list[PlacedPart] = []
    at = 0
    while len(placed) < PARTS:
        x, y = (at % 10) * wide, (at // 10) * tall
        for one in sheets[at % len(sheets)].placed:
            place = replace(one.placement, x=one.placement.x + x, y=one.placement.y + y, copy=len(placed))
            placed.append(PlacedPart(one.part, place))
        at += 1
    stock = replace(sheets[0].stock, width=10 * wide, height=(at // 10 + 1) * tall, keep_outs=(), outline=None)
    return replace(sheets[0], placed=tuple(placed[:PARTS]), stock=stock, offcuts=())


def until(app, is_so: Callable[[], bool], limit_s: float = 600.0) -> None:
    """Let the window live until something is so."""
    end = time.monotonic() + limit_s
    while not is_so() and time.monotonic() < end:
        app.processEvents()
        time.sleep(0.0005)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    sample = Path(__file__).parents[2] / "sample_jobs" / "market_hall" / "market_hall.json"
    parser.add_argument("--job", default=str(sample))
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--runs", type=int, default=3)
    chosen = parser.parse_args()
    start(chosen.job, chosen.runs)
    from PySide6.QtWidgets import QApplication

    app = QApplication([])
    planning(app, chosen.job, chosen.seconds)


if __name__ == "__main__":
    main()
