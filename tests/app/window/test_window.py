"""The window as a whole: jobs opened, saved and closed, findings, errors, keys, and what is remembered."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QDialog, QFileDialog, QMessageBox

from app.errors import JobFileError, ReadError
from app.window.fault_dialog import FaultDialog
from app.window.walk import Mark
from tests.app.window.stand_ins import Desk

# Opening


def test_first_page_says_what_to_do_and_hides_the_walk(desk: Desk):
    assert desk.window.pages.currentWidget() is desk.window.welcome
    assert not desk.window.walk.isVisible()
    assert desk.window.welcome.open.isVisible()
    assert not desk.window.actions_by_id["plan"].isEnabled()


def test_first_page_may_be_filled_again(desk: Desk):
    jobs = [("One", "one.json"), ("Two", "two.json")]
    for shown in (jobs, jobs[:1]):
        desk.window.welcome.show_jobs([], shown)
        box = desk.window.welcome.samples.box
        assert [box.itemAt(index).widget().text() for index in range(1, box.count())] == [name for name, _ in shown]


def test_job_opened_from_a_file_shows_its_letters(desk: Desk, qtbot, small_job, tmp_path: Path):
    path = tmp_path / "two.json"
    desk.session.services.write_job(small_job, str(path))
    desk.window.open_path(str(path))
    qtbot.waitUntil(lambda: desk.session.preparation.prepared is not None)
    assert [thing.key for thing in desk.window.artwork.view.picture.things] == ["sign-1", "sign-2"]
    assert desk.window.artwork.standing().words == '2 letters, 15.748" high'  # 400 mm = 15.748 in
    assert "two.json" in desk.window.windowTitle()
    assert not desk.window.isWindowModified()
    assert desk.settings.recent_jobs == [str(path)]


def test_artwork_file_begins_a_job_that_is_not_saved_yet(desk: Desk, qtbot, tmp_path: Path):
    artwork = tmp_path / "front sign.svg"
    artwork.write_text("<svg/>")
    desk.window.open_path(str(artwork))
    job = desk.session.document.job
    assert job.artwork[0].file == "front sign.svg"
    assert job.folder == str(tmp_path)
    assert desk.window.isWindowModified()
    qtbot.waitUntil(lambda: desk.session.preparation.prepared is not None)


def test_file_dropped_on_the_window_is_opened(desk: Desk, qtbot, small_job, tmp_path: Path):
    path = tmp_path / "dropped.json"
    desk.session.services.write_job(small_job, str(path))
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path))])
    drop = QDropEvent(
        QPointF(50, 50), Qt.DropAction.CopyAction, mime, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    )
    desk.window.dropEvent(drop)
    assert desk.session.document.path == str(path)
    qtbot.waitUntil(lambda: desk.session.preparation.prepared is not None)


def test_file_that_is_no_job_is_one_sentence_in_the_banner(desk: Desk, tmp_path: Path):
    path = tmp_path / "notes.json"
    path.write_text("{ not json")
    desk.window.open_path(str(path))
    assert desk.window.banner.isVisible()
    assert "notes.json" in desk.window.banner.message.text()
    assert desk.session.document.job is None


def test_another_job_never_shows_the_letters_of_the_one_before(open_desk: Desk, qtbot, small_job):
    open_desk.gate.clear()
    open_desk.session.document.open(replace(small_job, name="Other"), None)
    assert open_desk.window.artwork.view.picture is None
    assert open_desk.window.artwork.standing().mark is Mark.BUSY
    open_desk.gate.set()
    qtbot.waitUntil(lambda: open_desk.session.preparation.prepared is not None)


# Saving


def test_save_as_writes_the_job_and_paths_still_lead_to_the_artwork(open_desk: Desk, tmp_path: Path, monkeypatch):
    other = tmp_path / "jobs" / "deep"
    other.mkdir(parents=True)
    target = other / "saved.json"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(other / "saved"), ""))
    assert open_desk.window.save_as()
    saved = json.loads(target.read_text())
    assert (other / saved["artwork"][0]["file"]).resolve() == (tmp_path / "sign.svg").resolve()
    assert not open_desk.window.isWindowModified()
    assert open_desk.session.document.path == str(target)


def test_save_that_fails_keeps_the_job_unsaved_and_says_why(make_desk, qtbot, small_job, monkeypatch):
    def full(_job, _path):
        raise JobFileError("saved.json could not be written: no space left")

    desk = make_desk(write_job=full)
    desk.session.document.open(small_job, None)
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: ("/nowhere/saved.json", ""))
    assert not desk.window.save()
    assert desk.session.document.path is None
    assert desk.window.isWindowModified()
    assert "no space left" in desk.window.banner.message.text()
    qtbot.waitUntil(lambda: desk.session.preparation.prepared is not None)


def test_closing_asks_about_unsaved_work_and_can_be_called_off(open_desk: Desk, monkeypatch):
    monkeypatch.setattr(QMessageBox, "question", lambda *_: QMessageBox.StandardButton.Cancel)
    assert not open_desk.window.close()
    assert open_desk.window.isVisible()
    monkeypatch.setattr(QMessageBox, "question", lambda *_: QMessageBox.StandardButton.Discard)
    assert open_desk.window.close()
    assert open_desk.planner.is_closed or open_desk.session.planning._planner is None


# Findings


def test_finding_is_listed_and_leads_to_its_place(open_desk: Desk, qtbot):
    place = open_desk.window.artwork
    assert [one.code for one in place.findings.findings] == ["thin", "small"]
    place.findings.list.itemClicked.emit(place.findings.list.item(0))
    assert place.view.selection.key == "sign-2"
    seen = place.view._to_scene(QPointF(place.view.viewport().rect().center()))
    # (500, 50) mm in an artwork whose lower left is 400 mm below the picture's origin
    assert (seen.x(), seen.y()) == (pytest.approx(500.0, abs=3.0), pytest.approx(-350.0, abs=3.0))
    assert place.standing().mark is Mark.LOOK


def test_finding_of_a_part_is_listed_with_the_parts_and_leads_to_its_corner(open_desk: Desk):
    open_desk.window.go(1)
    place = open_desk.window.parts
    place.findings.list.itemClicked.emit(place.findings.list.item(0))
    assert place.view.selection.key == "sign-2-face"
    corner = place.view.selection.mapToScene(QPointF(90.0, 90.0))
    seen = place.view._to_scene(QPointF(place.view.viewport().rect().center()))
    assert (seen.x(), seen.y()) == (pytest.approx(corner.x(), abs=3.0), pytest.approx(corner.y(), abs=3.0))
    assert [one.code for one in place.findings.findings] == ["corner"]
    assert place.standing().mark is Mark.FAULT


# Errors


def test_unreadable_artwork_is_one_sentence_and_the_job_stays_open(make_desk, qtbot, small_job):
    def refuse(_job, _report):
        raise ReadError("sign.svg: line 3 is damaged; save it again")

    desk = make_desk(prepare=refuse)
    desk.session.document.open(small_job, None)
    desk.window.go(0)
    qtbot.waitUntil(lambda: desk.window.banner.isVisible())
    assert desk.window.banner.message.text() == "sign.svg: line 3 is damaged; save it again."
    assert desk.window.artwork.standing().mark is Mark.FAULT
    assert not desk.window.findChildren(QDialog)


def test_fault_of_the_program_is_shown_with_its_trace(make_desk, qtbot, small_job):
    def stumble(_job, _report):
        raise ZeroDivisionError("oops")

    desk = make_desk(prepare=stumble)
    desk.session.document.open(small_job, None)
    qtbot.waitUntil(lambda: bool(desk.window.findChildren(FaultDialog)))
    assert "ZeroDivisionError: oops" in desk.window.findChildren(FaultDialog)[0].trace.toPlainText()


# Keys and memory


def test_every_shortcut_is_given_once(desk: Desk):
    taken: dict[str, str] = {}
    for action in desk.window.actions_by_id.by_id.values():
        for key in action.shortcuts():
            assert key.toString() not in taken, f"{key.toString()}: {action.text()} and {taken[key.toString()]}"
            taken[key.toString()] = action.text()


def test_places_are_reached_by_keys_and_the_next_button(open_desk: Desk, qtbot):
    window = open_desk.window
    window.actions_by_id["go_3"].trigger()
    assert window.place is window.stock.sizes
    window.actions_by_id["next_step"].trigger()
    assert window.place is window.sheets


def test_letters_typed_into_a_field_do_not_set_off_shortcuts(open_desk: Desk, qtbot):
    place = open_desk.window.artwork
    qtbot.waitUntil(lambda: place.size_fields.length.isVisible())
    place.view.zoom(3.0)
    scale = place.view.scale_px
    place.size_fields.length.setFocus()
    place.size_fields.length.selectAll()
    qtbot.keyClicks(place.size_fields.length, "3ft")
    assert place.size_fields.length.text() == "3ft"
    assert place.view.scale_px == scale
    place.size_fields.length.clear()
    place.size_fields.length.setModified(False)


def test_everything_that_takes_the_focus_has_a_name(open_desk: Desk):
    from PySide6.QtWidgets import QAbstractButton, QAbstractSpinBox, QComboBox, QLineEdit, QListWidget

    nameless = [
        widget
        for kind in (QAbstractButton, QAbstractSpinBox, QComboBox, QLineEdit, QListWidget)
        for widget in open_desk.window.findChildren(kind)
        if widget.focusPolicy() != Qt.FocusPolicy.NoFocus
        and not widget.objectName().startswith("qt_")
        and not (widget.accessibleName() or getattr(widget, "text", lambda: "")())
    ]
    assert not nameless


def test_look_is_remembered_and_the_persons_own_settings_are_untouched(desk: Desk, tmp_path: Path):
    desk.window.actions_by_id["theme_dark"].trigger()
    assert desk.window.theme.colours.is_dark
    assert desk.settings.theme.value == "dark"
    assert Path(desk.settings._store.fileName()).is_relative_to(tmp_path)


def test_window_opens_without_loading_the_engine_or_the_readers(tmp_path: Path):
    """Starting must stay under 3 s; what takes the time is numba, shapely, ezdxf and their like."""
    code = (
        "import sys\n"
        "from PySide6.QtWidgets import QApplication\n"
        "from PySide6.QtCore import QSettings\n"
        "app = QApplication([])\n"
        "from app.window.main_window import MainWindow\n"
        "from app.window.session import Session\n"
        "from app.window.settings import WindowSettings\n"
        "from app.window.theme import Theme\n"
        "settings = WindowSettings(QSettings(sys.argv[1], QSettings.Format.IniFormat))\n"
        "window = MainWindow(Session(), Theme(app), settings)\n"
        "window.show()\n"
        "app.processEvents()\n"
        "heavy = {'numba', 'shapely', 'scipy', 'ezdxf', 'fontTools', 'reportlab', 'openpyxl', 'lxml'}\n"
        "window.close()\n"
        "print(sorted(heavy & set(sys.modules)))\n"
    )
    root = Path(__file__).parents[3]
    run = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "window.ini")],
        cwd=root,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    assert run.stdout.strip() == "[]"
