"""The report looked at in the window: the very pages that are printed, before they are written where they belong."""

from __future__ import annotations

import os
from pathlib import Path
from types import SimpleNamespace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor
from reportlab.lib.pagesizes import letter
from reportlab.pdfgen.canvas import Canvas

from app.planning.host import Finished
from tests.app.window.stand_ins import Desk, make_plan, open_job, planned

INKS = ((1.0, 0.0, 0.0), (0.0, 0.6, 0.0), (0.0, 0.0, 1.0))


def write_pdf(path: Path, pages: int) -> None:
    """Letter pages, each with its upper half in a colour of its own."""
    canvas = Canvas(str(path), pagesize=letter)
    for ink in INKS[:pages]:
        canvas.setFillColorRGB(*ink)
        canvas.rect(0, letter[1] / 2, letter[0], letter[1] / 2, stroke=0, fill=1)
        canvas.showPage()
    canvas.save()


@pytest.fixture
def report_desk(make_desk, qtbot, small_job) -> Desk:
    """A planned job at the report; drafts and written folders hold PDFs of three pages and of one."""

    def write(plan, folder: str, report) -> object:
        report(0.5, "report")
        os.makedirs(folder, exist_ok=True)
        write_pdf(Path(folder) / "report.pdf", 3)
        write_pdf(Path(folder) / "labels.pdf", 1)
        return SimpleNamespace(folder=folder, files=(Path(folder) / "report.pdf",))

    desk = make_desk(draft_plan=write, write_plan=write)
    open_job(desk, qtbot, small_job)
    make_plan(desk, qtbot)
    qtbot.waitUntil(lambda: desk.session.can_export, timeout=20_000)
    desk.window.go(5)
    desk.window.output.show_page(desk.window.output.report)
    return desk


def place(desk: Desk):
    return desk.window.output.report


def colour_at(desk: Desk, x: float, y: float) -> QColor:
    """Of the window at a place of the page, mm from its lower left."""
    view = place(desk).view
    at = view.mapFromScene(x, y)
    return view.grab().toImage().pixelColor(at)


def test_button_makes_a_draft_and_shows_its_first_page_upright(report_desk: Desk, qtbot):
    report = place(report_desk)
    assert report.next.text() == "Show the report"
    qtbot.mouseClick(report.next, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: report.page is not None, timeout=20_000)
    # US Letter is 8 1/2 x 11 in.
    assert (report.page.width, report.page.height) == (pytest.approx(215.9), pytest.approx(279.4))
    assert colour_at(report_desk, 100, 250).red() > 200
    assert colour_at(report_desk, 100, 250).green() < 60  # red above
    assert colour_at(report_desk, 100, 60).green() > 200  # bare paper below
    assert report.of.text() == "of 3"
    assert report.next.text() == "Go to Files"


def test_pages_are_turned_and_the_labels_shown(report_desk: Desk, qtbot):
    report = place(report_desk)
    report.make()
    qtbot.waitUntil(lambda: report.page is not None, timeout=20_000)
    report_desk.window.actions_by_id["sheet_after"].trigger()  # Page Down
    qtbot.waitUntil(lambda: report.page.index == 1)
    assert colour_at(report_desk, 100, 250).red() < 60  # green
    report.number.setValue(3)
    qtbot.waitUntil(lambda: report.page.index == 2)
    assert not report.after.isEnabled()
    report.document.setCurrentIndex(1)
    report.document.chosen.emit("labels.pdf")
    qtbot.waitUntil(lambda: report.page.count == 1)


def test_draft_is_old_after_another_plan_and_gone_after_the_window(report_desk: Desk, qtbot):
    report = place(report_desk)
    report.make()
    qtbot.waitUntil(lambda: report.page is not None, timeout=20_000)
    folder = Path(report._draft)
    assert folder.is_dir()
    report_desk.window.plan()
    planner = report_desk.planner
    planner.waiting.append(Finished(planner.run, planned(planner.prepared, x=10.0), False))
    qtbot.waitUntil(lambda: report_desk.session.can_export, timeout=20_000)
    report_desk.window.go(5)
    assert report.next.text() == "Show the report"
    assert "changed since" in report.hint.text()
    report_desk.session.closing.emit()
    assert not folder.parent.exists()


def test_what_was_written_is_shown_without_a_draft(report_desk: Desk, qtbot, tmp_path):
    report, writing = place(report_desk), report_desk.window.output.writing
    writing.use_folder(str(tmp_path / "out"))
    writing.write()
    qtbot.waitUntil(lambda: report.page is not None, timeout=20_000)
    assert report.state.text() == "As written."
    assert report._path() == str(tmp_path / "out" / "report.pdf")


def test_file_that_is_no_pdf_is_one_sentence(report_desk: Desk, qtbot):
    report = place(report_desk)
    report.make()
    qtbot.waitUntil(lambda: report.page is not None, timeout=20_000)
    Path(report._path()).write_text("no pages here")
    report.after.click()
    qtbot.waitUntil(lambda: "cannot be shown" in report_desk.window.banner.message.text())
