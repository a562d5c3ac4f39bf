"""Unsaved work outlives the program, belongs to one window, and goes when it is saved or declined."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from PySide6.QtWidgets import QFileDialog, QMessageBox

from app.job.edits import set_name, set_notes
from app.window.drafts import Draft, DraftSlot, drafts_place, left_behind, now
from app.window.recovery import RecoveryDialog
from tests.app.window.stand_ins import Desk

WINDOW = """
import sys
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from app.job.edits import set_notes
from app.window.main_window import MainWindow
from app.window.services import Services
from app.window.session import Session
from app.window.settings import WindowSettings
from app.window.theme import Theme

def main():
    app = QApplication([])
    session = Session(Services(prepare=lambda job, report: 1 / 0))
    window = MainWindow(session, Theme(app), WindowSettings())
    window.show_error = lambda error: None
    window.show()
    window.open_path(sys.argv[1])
    session.document.edit("notes", lambda job: set_notes(job, "not saved by hand"))
    def look():
        from app.window.drafts import drafts_place
        import os
        if session.autosave.is_settled and os.path.isdir(drafts_place()):
            print("kept", flush=True)
            timer.stop()
    timer = QTimer(interval=20)
    timer.timeout.connect(look)
    timer.start()
    app.exec()

if __name__ == "__main__":
    main()
"""


@pytest.fixture
def other_window(tmp_path: Path, small_job, desk: Desk):
    """A window in a process of its own, with an edit that nobody saved; ends it at the end."""
    path = tmp_path / "other.json"
    desk.session.services.write_job(small_job, str(path))
    code = tmp_path / "window.py"
    code.write_text(WINDOW)
    root = Path(__file__).parents[3]
    env = {**os.environ, "PYTHONPATH": str(root), "XDG_CONFIG_HOME": str(tmp_path / "config")}
    child = subprocess.Popen([sys.executable, str(code), str(path)], stdout=subprocess.PIPE, text=True, env=env)
    try:
        assert child.stdout.readline() == "kept\n"
        yield child, path
    finally:
        child.kill()
        child.wait()
        child.stdout.close()


def kept(desk: Desk, qtbot) -> list[str]:
    """Drafts on disk once the window has done what it has to."""
    qtbot.waitUntil(lambda: desk.session.autosave.is_settled, timeout=5000)
    folder = Path(drafts_place())
    return [path.name for path in folder.glob("*.unsaved")] if folder.is_dir() else []


def offered(desk: Desk) -> RecoveryDialog | None:
    desk.window.offer_unsaved()
    return next(iter(desk.window.findChildren(RecoveryDialog)), None)


def test_work_of_a_killed_window_is_offered_once_and_brought_back(desk: Desk, qtbot, other_window):
    child, path = other_window
    child.send_signal(signal.SIGKILL)
    child.wait()
    dialog = offered(desk)
    assert len(dialog.rows) == 1
    assert left_behind(drafts_place()) == []  # what one window offers is offered by no other
    before = path.read_text()
    dialog.rows[0].bring_back.click()
    assert desk.session.document.job.notes == "not saved by hand"
    assert desk.session.document.path == str(path)
    assert desk.window.isWindowModified()
    assert path.read_text() == before  # nothing is written into the job's file unasked
    assert len(kept(desk, qtbot)) == 1  # still unsaved, now this window's
    assert desk.window.save()
    assert kept(desk, qtbot) == []
    assert "not saved by hand" in path.read_text()
    qtbot.waitUntil(lambda: not desk.session.preparation.is_busy)


def test_work_of_a_window_that_is_open_is_not_offered(desk: Desk, other_window):
    assert offered(desk) is None


def test_work_that_is_declined_is_gone_and_what_is_put_off_is_offered_again(desk: Desk, qtbot, small_job):
    for name in ("one", "two"):
        slot = DraftSlot.new(drafts_place())
        slot.write(Draft(set_name(small_job, name), None, now()))
        slot.release()  # as when its window has ended
    dialog = offered(desk)
    assert [row.draft.job.name for row in dialog.rows] == ["two", "one"]  # newest first
    dialog.rows[1].let_go.click()
    dialog.close()
    qtbot.waitUntil(lambda: not desk.window.findChildren(RecoveryDialog))
    dialog = offered(desk)
    assert [row.draft.job.name for row in dialog.rows] == ["two"]
    dialog.rows[0].let_go.click()
    assert left_behind(drafts_place()) == []
    assert kept(desk, qtbot) == []


def test_edit_is_kept_within_moments_and_dropped_when_saved(open_desk: Desk, qtbot, tmp_path: Path, monkeypatch):
    document = open_desk.session.document
    document.edit("notes", lambda job: set_notes(job, "first"))
    assert len(kept(open_desk, qtbot)) == 1
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "saved.json"), ""))
    assert open_desk.window.save()
    assert kept(open_desk, qtbot) == []
    document.edit("notes", lambda job: set_notes(job, "second"))
    assert len(kept(open_desk, qtbot)) == 1
    document.undo_stack.undo()  # back to what is saved
    assert kept(open_desk, qtbot) == []


def test_closing_and_declining_to_save_leaves_nothing_to_offer(open_desk: Desk, qtbot, monkeypatch):
    open_desk.session.document.edit("notes", lambda job: set_notes(job, "first"))
    assert len(kept(open_desk, qtbot)) == 1
    monkeypatch.setattr(QMessageBox, "question", lambda *_: QMessageBox.StandardButton.Discard)
    assert open_desk.window.close()
    assert list(Path(drafts_place()).iterdir()) == []  # no draft and no lock


def test_draft_reads_back_as_the_job_it_was_with_its_folder(small_job, tmp_path: Path):
    slot = DraftSlot.new(str(tmp_path / "unsaved"))
    when = now()
    slot.write(Draft(small_job, None, when))
    assert DraftSlot(slot.file).read() == Draft(small_job, None, when)
    slot.drop()


def test_disk_that_refuses_is_told_once(open_desk: Desk, qtbot, tmp_path: Path, monkeypatch):
    blocked = tmp_path / "file"
    blocked.write_text("")
    monkeypatch.setattr(open_desk.session.autosave._slot, "file", str(blocked / "x.unsaved"))
    for number in range(2):
        open_desk.session.document.edit("notes", lambda job, number=number: set_notes(job, f"note {number}"))
        qtbot.waitUntil(lambda: open_desk.session.autosave.is_settled, timeout=5000)
        said = open_desk.window.banner.message.text() if open_desk.window.banner.isVisible() else ""
        assert ("could not be kept" in said) == (number == 0)
        open_desk.window.banner.clear()


def test_draft_that_cannot_be_read_is_left_alone(desk: Desk):
    folder = Path(drafts_place())
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "strange.unsaved").write_text("{}")
    assert offered(desk) is None
    assert (folder / "strange.unsaved").is_file()
