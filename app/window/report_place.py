"""The report and the labels as they will be printed, page by page, before anything is written where it belongs."""

from __future__ import annotations

import os
import shutil
import tempfile
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QWidget

from app.errors import AppError
from app.job.document import Job
from app.window.background import Background
from app.window.facts import ProgressSection, Section, button, set_look, words
from app.window.fields import Choice, WholeNumber
from app.window.files_place import open_path
from app.window.forms import panel_label
from app.window.pdf_pages import Page, draw_page, page_picture
from app.window.place import Place
from app.window.session import Session
from app.window.theme import Theme
from app.window.walk import Standing

if TYPE_CHECKING:
    from app.output.write import Written
    from app.planning.job_plan import JobPlan

DOCUMENTS: Final = (("report", "report.pdf"), ("part labels", "labels.pdf"))


class ReportPlace(Place):
    """Shows what was written when it is of the plan in hand, else a draft made for looking at.

    Signals
    -------
    files_wanted : to the page where files are written
    """

    files_wanted = Signal()
    only_when_seen = True

    def __init__(self, session: Session, theme: Theme) -> None:
        super().__init__("Report", session, theme)
        self._draft = ""
        self._of: JobPlan | None = None
        self.page: Page | None = None
        self._folder = ""
        self.progress = ProgressSection("Making the draft", "Progress of the draft")
        self.making = Background("letterbed-draft", self)
        self.making.done.connect(self._made)
        self.making.failed.connect(self._failed)
        self.making.busy_changed.connect(self.refresh)
        self.making.progressed.connect(self.progress.show_share)
        self.drawing = Background("letterbed-pages", self)
        self.drawing.done.connect(self._take_page)
        self.drawing.failed.connect(self._failed)

        self.document = Choice("Document")
        self.document.offer(DOCUMENTS, "report.pdf")
        self.document.chosen.connect(lambda _value: self._show_page(0))
        self.number = WholeNumber("Page", 1, 1)
        self.number.setToolTip("Page shown; Page Up and Page Down turn pages")
        self.number.valueChanged.connect(lambda value: self._show_page(value - 1))
        self.of = words("", "muted", wrap=False)
        self.before = button("Before", tip="Page before")
        self.before.clicked.connect(lambda: self.step(-1))
        self.after = button("After", tip="Page after")
        self.after.clicked.connect(lambda: self.step(1))
        line = QWidget()
        row = QHBoxLayout(line)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(8)
        row.addWidget(panel_label("Page", self.number))
        row.addWidget(self.number)
        row.addWidget(self.of)
        row.addStretch(1)
        turn = QWidget()
        sides = QHBoxLayout(turn)
        sides.setContentsMargins(0, 0, 0, 0)
        sides.setSpacing(8)
        sides.addWidget(self.before)
        sides.addWidget(self.after)
        self.outside = button("Open in a viewer", tip="Open the document with the program the system keeps for PDF")
        self.outside.clicked.connect(lambda: open_path(self._path()))
        self.state = words("", "muted")
        self.page_section = Section("Document", self.document, line, turn, self.outside)
        self.body.addWidget(self.progress)
        self.body.addWidget(self.page_section)
        self.body.addWidget(self.state)
        self.body.addStretch(1)
        self.selected.hide()
        session.planning.plan_changed.connect(self.refresh)
        session.hand.checked.connect(self.refresh)
        session.exporting.busy_changed.connect(self.refresh)
        session.exported.connect(self._exported)
        session.closing.connect(self._close_down)
        session.document.opened.connect(self._other_job)
        session.document.changed.connect(self.refresh)

    def standing(self) -> Standing:
        """Nothing of its own."""
        return Standing()

    def show_job(self, job: Job) -> None:
        """Show the pages there are and the next step."""
        busy, current = self.making.is_busy, self._is_current()
        self.progress.setVisible(busy)
        self.page_section.setVisible(bool(self._folder))
        is_draft = self._folder == self._draft
        self.state.setText("A draft to look at; write the files when it is right." if is_draft else "As written.")
        self.state.setVisible(bool(self._folder))
        self.outside.setEnabled(bool(self._folder))
        page = self.page
        if page is not None:
            self.number.setRange(1, page.count)
            self.number.show_value(page.index + 1)
            self.of.setText(f"of {page.count}")
            self.before.setEnabled(page.index > 0)
            self.after.setEnabled(page.index + 1 < page.count)
        if busy:
            self.show_next("Making the draft…", is_ready=False)
        elif self.session.exporting.is_busy:
            self.show_next("Writing the files…", is_ready=False)
        elif not self.session.can_export:
            self.show_next("Back to Sheets", "There is no final plan yet; plan first.")
        elif current:
            self.show_next("Go to Files", "Write the files when the report is right." if is_draft else "")
        else:
            hint = (
                "The plan has changed since." if self._folder else "Made as it will be written, in a place of its own."
            )
            self.show_next("Show the report", hint)
        set_look(self.next, "primary")
        if self.page is None:
            can = self.session.can_export
            text = "Press the button to see the report as it will be printed."
            text = text if can else "Nothing to show yet.\nPlan the sheets first."
            self.show_empty("Making the draft…" if busy else text)

    def go_on(self) -> None:
        """Make the draft, or go where the button says."""
        if not self.session.can_export:
            self.next_chosen.emit()
        elif self._is_current():
            self.files_wanted.emit()
        else:
            self.make()

    def make(self) -> None:
        """Write everything into a folder of its own, to look at; nothing is reserved and nothing replaced."""
        plan, job = self.session.planning.plan, self.job
        if not self.session.can_export or plan is None or job is None or self.making.is_busy:
            return
        self._drop_draft()
        self._draft = os.path.join(tempfile.mkdtemp(prefix="letterbed-draft-"), "plan")
        self._of = plan
        folder = self._draft
        plan = replace(plan, job=replace(job, stock=plan.job.stock))
        self.making.start(lambda report: self.session.services.draft_plan(plan, folder, report))
        self.refresh()

    def step(self, by: int) -> None:
        """Turn pages."""
        if self.page is not None:
            self._show_page(self.page.index + by)

    def draw(self) -> None:
        """The page."""
        if self.page is None:
            self.view.show_picture(None)
            return
        self.show_empty("")
        self.view.show_picture(page_picture(self.page, self.theme), keep_view=self.keeps_view)

    def _close_down(self) -> None:
        """End the threads and drop the draft."""
        self.making.close()
        self.drawing.close()
        self._drop_draft()

    # What comes in

    def _made(self, written: Written) -> None:
        self._folder = str(written.folder)
        self._show_page(0)

    def _exported(self, written: Written) -> None:
        self._of, self._folder = self.session.planning.plan, str(written.folder)
        self._show_page(0)

    def _show_page(self, index: int) -> None:
        path = self._path()
        if not path or not os.path.exists(path):
            self.refresh()
            return
        self.drawing.start(lambda _report: draw_page(path, index))

    def _take_page(self, page: Page) -> None:
        before, self.page = self.page, page
        is_alike = before is not None and (before.width, before.height) == (page.width, page.height)
        self.draw_soon(keep_view=is_alike)
        self.refresh()

    def _failed(self, error: BaseException) -> None:
        if isinstance(error, AppError):
            self.said.emit(str(error))
        else:
            self.session.fault.emit(error)
        self.refresh()

    def _is_current(self) -> bool:
        return bool(self._folder) and self._of is not None and self._of is self.session.planning.plan

    def _path(self) -> str:
        return os.path.join(self._folder, self.document.currentData()) if self._folder else ""

    def _drop_draft(self) -> None:
        if self._draft:
            shutil.rmtree(os.path.dirname(self._draft), ignore_errors=True)
        if self._folder == self._draft:
            self._folder, self.page = "", None
        self._draft = ""

    def _other_job(self) -> None:
        self.making.forget()
        self._drop_draft()
        self._folder, self.page, self._of = "", None, None
        self.draw_soon()
        self.refresh()
