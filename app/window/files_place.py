"""All sheets at a glance, and the files written for the machine and the office: first page of the output."""

from __future__ import annotations

import os
from pathlib import Path

from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QListWidget, QListWidgetItem, QWidget

from app.job.document import Job
from app.planning.job_plan import total_yield
from app.window.facts import FactList, ProgressSection, Section, button, words
from app.window.not_made import NotMade, missing_in_words
from app.window.place import Place
from app.window.session import Session
from app.window.settings import WindowSettings
from app.window.sheet_picture import sheets_picture
from app.window.theme import Theme
from app.window.walk import Mark, Standing
from app.window.wording import as_folder_name, count, share


class FilesPlace(Place):
    """Where to, write, and what was written."""

    def __init__(self, session: Session, theme: Theme, settings: WindowSettings) -> None:
        super().__init__("Files", session, theme)
        self._settings = settings
        self.folder = ""
        self._written: tuple[str, ...] = ()
        self._is_stale = False
        self.totals = FactList()
        self.not_made = NotMade()
        self.folder_label = words("")
        self.folder_label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.choose = button("Choose folder…", tip="Where the files go")
        self.choose.clicked.connect(self.choose_folder)
        self.contents = words(
            "A cut file (DXF) per sheet, the report, lists of parts, offcuts and stock to buy, and part labels. "
            "Every cut file is read back and compared before it counts as written.",
            "muted",
        )
        self.progress = ProgressSection("Writing", "Progress of writing")
        self.files = QListWidget()
        self.files.setAccessibleName("Files written")
        self.files.setToolTip("Double-click or press Enter to open a file")
        self.files.setMinimumHeight(150)
        self.files.itemActivated.connect(self._open_file)
        self.again = button("Write again", tip="Write all files once more")
        self.again.clicked.connect(self.write)
        buttons = QWidget()
        row = QHBoxLayout(buttons)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.again)
        row.addStretch(1)
        self.written_heading = Section("Written", self.files, buttons)
        self.body.addWidget(Section("Plan", self.totals))
        self.body.addWidget(self.not_made)
        self.body.addWidget(Section("Folder", self.folder_label, self.choose, self.contents))
        self.body.addWidget(self.progress)
        self.body.addWidget(self.written_heading, 1)
        self.body.addWidget(self.selected)
        self.body.addStretch(1)
        session.planning.plan_changed.connect(self._plan_changed)
        session.planning.state_changed.connect(self.refresh)
        session.document.changed.connect(self.refresh)
        session.document.opened.connect(self._other_job)
        session.exporting.busy_changed.connect(self.refresh)
        session.exporting.progressed.connect(self.progress.show_share)
        session.exported.connect(self._show_written)

    def standing(self) -> Standing:
        """Whether files are written."""
        if self.session.exporting.is_busy:
            return Standing(Mark.BUSY, "writing…")
        if self._written:
            if self._is_stale:
                return Standing(Mark.LOOK, "files are of an earlier plan")
            return Standing(Mark.DONE, f"{count(len(self._written), 'file')} written")
        plan = self.session.planning.plan
        if plan is not None and self.session.can_export and not plan.is_complete:
            return Standing(Mark.FAULT, missing_in_words(plan))
        return Standing(Mark.OPEN, "nothing written yet" if self.job is not None else "")

    def show_job(self, job: Job) -> None:
        """Show the plan, the folder and what was written."""
        session, plan = self.session, self.session.planning.plan
        if self._written and not session.can_export and not session.exporting.is_busy:
            self._is_stale = True
            self.standing_changed.emit()
        self.folder_label.setText(self.folder or "No folder chosen yet.")
        self.folder_label.setToolTip(self.folder)
        busy = session.exporting.is_busy
        self.progress.setVisible(busy)
        self.written_heading.setVisible(bool(self._written) and not busy)
        self.contents.setVisible(not self._written or busy)
        self.choose.setEnabled(not busy)
        if plan is not None:
            self.totals.show_facts(
                (
                    ("Sheets", str(len(plan.sheets))),
                    ("Net yield", share(total_yield(plan.summaries))),
                    ("Not placed", str(len(plan.unplaced)) if plan.unplaced else "nothing"),
                    ("Not made", str(len(plan.not_done)) if plan.not_done else "nothing"),
                )
            )
        else:
            self.totals.show_facts((("Sheets", "not planned yet"),))
        self.not_made.show_plan(plan if session.can_export or busy else None)
        if busy:
            self.show_next("Writing…", is_ready=False)
        elif not session.can_export:
            why = "There is no plan yet." if plan is None else "The plan is not final."
            if plan is not None and not session.planning.is_running and not session.planning.fits(job):
                why = "The job has changed since it was planned."
            then = "Plan first; then the files can be written."
            if plan is not None and plan.faults and session.planning.fits(job):
                why, then = "Parts lie where they may not.", "Mend that at Sheets; then the files can be written."
            self.show_next("Back to Sheets", f"{why} {then}")
        elif self._written and not self._is_stale:
            self.show_next("Open folder", "All files are written and read back.")
        else:
            hint = ""
            if plan is not None and not plan.is_complete:
                hint = f"The files will not be the whole job: {missing_in_words(plan)}."
            self.show_next("Write files" if self.folder else "Choose folder and write", hint)

    def go_on(self) -> None:
        """Write, open, or go back to planning: whatever the button says."""
        if not self.session.can_export:
            self.next_chosen.emit()
        elif self._written and not self._is_stale:
            open_path(self.folder)
        else:
            self.write()

    def write(self) -> None:
        """Write all files, asking for the folder first when there is none."""
        if not self.session.can_export or (not self.folder and not self.choose_folder()):
            return
        self._written = ()
        self.session.export(self.folder)
        self.refresh()

    def choose_folder(self) -> bool:
        """Ask for the folder."""
        start = self.folder or self._settings.folder("output") or (self.job.folder if self.job is not None else "")
        chosen = QFileDialog.getExistingDirectory(self, "Folder for the files", start)
        if chosen:
            self.use_folder(self._own_folder(chosen))
        return bool(chosen)

    def use_folder(self, folder: str) -> None:
        """Write into this folder from now on."""
        self.folder = folder
        self._settings.remember_folder("output", os.path.dirname(folder))
        self._written = ()
        self.refresh()

    def _own_folder(self, chosen: str) -> str:
        """The folder itself when it is empty or holds an earlier plan, else a new one in it: nothing of others' is
        mixed with what is written and replaced.
        """
        path = Path(chosen)
        if not any(path.iterdir()) or (path / "plan.json").is_file():
            return chosen
        return str(path / self._folder_name())

    def _folder_name(self) -> str:
        return f"{as_folder_name(self.job.name if self.job is not None else '')} - cut files"

    def _plan_changed(self) -> None:
        if not self.session.planning.is_preview:
            self._is_stale = bool(self._written)
            self.draw_soon()
        self.refresh()

    def draw(self) -> None:
        """All sheets at a glance."""
        plan, job = self.session.planning.plan, self.job
        if plan is None or not plan.sheets or job is None:
            self.view.show_picture(None)
            self.show_empty("Nothing to write yet.\nPlan the sheets first.")
            return
        self.show_empty("")
        self.view.show_picture(sheets_picture(plan.sheets, job, self.theme, self.session.paths, self.board_px))

    def _other_job(self) -> None:
        self._written, self._is_stale = (), False
        saved_in = self.session.document.path and os.path.dirname(self.session.document.path)
        # Beside the job file, where it will be looked for; samples may lie where nothing can be written.
        can_write = bool(saved_in) and os.access(saved_in, os.W_OK)
        self.folder = os.path.join(saved_in, self._folder_name()) if can_write else ""
        self.refresh()

    def _show_written(self, written) -> None:
        self._written = tuple(str(path) for path in written.files)
        self._is_stale = False
        self.files.clear()
        root = Path(self.folder)
        for path in self._written:
            shown = os.path.relpath(path, root) if os.path.isabs(path) else path
            item = QListWidgetItem(shown)
            item.setData(Qt.ItemDataRole.UserRole, os.path.join(root, path))
            self.files.addItem(item)
        self.refresh()

    def _open_file(self, item: QListWidgetItem) -> None:
        open_path(item.data(Qt.ItemDataRole.UserRole))


def open_path(path: str) -> None:
    """Open a file or folder with the program the system keeps for it."""
    if path:
        QDesktopServices.openUrl(QUrl.fromLocalFile(path))
