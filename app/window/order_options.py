"""What an order is asked for: other jobs along with this one, what is taken off, spares, and time for each choice."""

from __future__ import annotations

import os
from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.job.document import Job
from app.window.facts import Section, button, clear, words
from app.window.fields import CheckBox, Seconds, WholeNumber
from app.window.forms import field_grid
from app.window.order_work import Wanted
from app.window.session import Session
from app.window.settings import WindowSettings
from app.window.taking_in import JOB_FILTER

USUAL_SECONDS = 3.0
USUAL_SPARE_ABOVE = 5


class OrderOptions(QWidget):
    """The fields, under three headings.

    Signals
    -------
    changed : something else is asked for now
    refused : str
        Why a job is not taken.
    """

    changed = Signal()
    refused = Signal(str)

    def __init__(self, session: Session, settings: WindowSettings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._settings = session, settings
        self._others: list[str] = []
        self.spares: dict[str, CheckBox] = {}
        self.jobs = QListWidget()
        self.jobs.setAccessibleName("Jobs ordered together")
        self.jobs.setFixedHeight(84)
        self.jobs.setSelectionMode(QListWidget.SelectionMode.ExtendedSelection)
        self.jobs.itemSelectionChanged.connect(self._show_removable)
        self.add = button("Add jobs…", tip="Order other job files along with this one")
        self.add.clicked.connect(self.ask_for_jobs)
        self.remove = button("Remove", tip="Take the chosen jobs off the list")
        self.remove.clicked.connect(self.remove_jobs)
        deeds = QWidget()
        row = QHBoxLayout(deeds)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(8)
        row.addWidget(self.add, 1)
        row.addWidget(self.remove, 1)
        self.hand = CheckBox("Take off what is on hand")
        self.hand.setToolTip("Whole sheets, coils and rolls counted under Stock, Stock book, On hand")
        self.rack = CheckBox("Use offcuts of the rack")
        self.rack.setToolTip("Offcuts a job may use cost nothing; those used can be reserved")
        for box in (self.hand, self.rack):
            box.setChecked(True)
            box.toggled.connect(self.changed)
        self.spare = WholeNumber("Sheets of a material above which a spare is bought", 0, 9999)
        self.spare.show_value(USUAL_SPARE_ABOVE)
        self.spare.setToolTip("A material that takes more sheets than this gets one spare; common practice")
        self.seconds = Seconds("Time for each choice of stock")
        self.seconds.show_value(USUAL_SECONDS)
        self.seconds.setToolTip("Every choice of stock gets the same time, seconds")
        for field in (self.spare, self.seconds):
            field.valueChanged.connect(lambda _value: self.changed.emit())
        fields = field_grid(("Spare above", self.spare), ("Time each", self.seconds))
        self.matched = QWidget()
        self._matched_box = QVBoxLayout(self.matched)
        self._matched_box.setContentsMargins(0, 0, 0, 0)
        self._matched_box.setSpacing(4)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(16)
        column.addWidget(Section("Jobs ordered together", self.jobs, deeds))
        column.addWidget(Section("What is taken off", self.hand, self.rack))
        column.addWidget(Section("Spares and time", fields, self.matched))

    @property
    def wanted(self) -> Wanted:
        """What is asked for now."""
        return Wanted(
            tuple(self._others),
            self.hand.isChecked(),
            self.rack.isChecked(),
            self.spare.value(),
            frozenset(key for key, box in self.spares.items() if box.isChecked()),
            self.seconds.value(),
        )

    def show_job(self, job: Job, *, is_running: bool) -> None:
        """Offer what this job can be ordered with."""
        self._show_jobs(job)
        self._offer_spares(job)
        self.add.setEnabled(not is_running)
        for widget in (self.hand, self.rack, self.spare, self.seconds, self.matched):
            widget.setEnabled(not is_running)
        self._show_removable()

    def forget_jobs(self) -> None:
        """Order this job alone."""
        self._others.clear()

    def add_jobs(self, paths: Sequence[str]) -> None:
        """Order other jobs along with this one."""
        own = self._session.document.path
        for path in map(os.path.abspath, paths):
            if own is not None and os.path.realpath(path) == os.path.realpath(own):
                self.refused.emit(f"{os.path.basename(path)} is the job that is open; it is on the list already")
            elif path not in self._others:
                self._others.append(path)
        self.changed.emit()

    def ask_for_jobs(self) -> None:
        """Ask which other jobs are ordered along."""
        start = self._settings.folder("open")
        paths, _kind = QFileDialog.getOpenFileNames(self, "Jobs to order along", start, JOB_FILTER)
        self.add_jobs(paths)

    def remove_jobs(self) -> None:
        """Order the chosen jobs no longer along."""
        gone = {item.data(Qt.ItemDataRole.UserRole) for item in self.jobs.selectedItems()}
        self._others = [path for path in self._others if path not in gone]
        self.changed.emit()

    def _show_jobs(self, job: Job) -> None:
        shown = [("", f"{job.name} (this job)"), *((path, os.path.basename(path)) for path in self._others)]
        items = [self.jobs.item(at) for at in range(self.jobs.count())]
        if [(item.data(Qt.ItemDataRole.UserRole), item.text()) for item in items] != shown:
            self.jobs.clear()
            for path, text in shown:
                item = QListWidgetItem(text)
                item.setData(Qt.ItemDataRole.UserRole, path)
                item.setToolTip(path or "The job that is open, as it stands")
                self.jobs.addItem(item)

    def _show_removable(self) -> None:
        chosen = [item.data(Qt.ItemDataRole.UserRole) for item in self.jobs.selectedItems()]
        self.remove.setEnabled(any(chosen) and not self._session.ordering.is_running)

    def _offer_spares(self, job: Job) -> None:
        prepared = self._session.preparation.prepared
        used = {part.material for part in prepared.parts} if prepared is not None else set()
        offered = {one.id: one.name for one in job.materials if one.id in used}
        if offered == {key: box.text() for key, box in self.spares.items()}:
            return
        kept = self.wanted.matched
        clear(self._matched_box)
        self.spares = {}
        if offered:
            self._matched_box.addWidget(words("Always one spare, all of one lot:", "key"))
        for key, name in offered.items():
            box = self.spares[key] = CheckBox(name)
            box.setChecked(key in kept)
            box.setToolTip("Colours differ from lot to lot: a spoiled piece can only be cut again from the same lot")
            box.toggled.connect(self.changed)
            self._matched_box.addWidget(box)
