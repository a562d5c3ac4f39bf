"""Unsaved work of a program that ended unexpectedly: what there is, to bring back or let go."""

from __future__ import annotations

import os
from collections.abc import Sequence

from PySide6.QtCore import QLocale, Qt, Signal
from PySide6.QtWidgets import QDialog, QFrame, QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from app.window.drafts import Draft, DraftSlot
from app.window.facts import button, words
from app.window.wording import count


class RecoveryDialog(QDialog):
    """Lists drafts left behind. What is neither brought back nor let go is kept for the next start.

    Signals
    -------
    wanted : DraftSlot, Draft
        This one is to be brought back.
    """

    wanted = Signal(object, object)

    def __init__(self, drafts: Sequence[tuple[DraftSlot, Draft]], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle("Unsaved work")
        self.rows: list[_Row] = [_Row(slot, draft) for slot, draft in drafts]
        box = QVBoxLayout(self)
        box.setContentsMargins(20, 18, 20, 16)
        box.setSpacing(12)
        box.addWidget(words("Letterbed ended unexpectedly", "heading"))
        jobs = count(len(self.rows), "job")
        box.addWidget(words(f"Changes to {jobs} were not saved, but they are kept. Bring them back?", "muted"))
        for row in self.rows:
            row.bring_back.clicked.connect(lambda _checked=False, row=row: self._bring_back(row))
            row.let_go.clicked.connect(lambda _checked=False, row=row: self._let_go(row))
            box.addWidget(row)
        later = button("Ask again next time", tip="Keep what is left in this list until the program is next started")
        later.clicked.connect(self.close)
        foot = QHBoxLayout()
        foot.addStretch(1)
        foot.addWidget(later)
        box.addLayout(foot)
        self.setMinimumWidth(480)
        self.finished.connect(self._release)
        if self.rows:
            self.rows[0].bring_back.setFocus()

    def _bring_back(self, row: _Row) -> None:
        self.rows.remove(row)
        slot, draft = row.slot, row.draft
        self._forget(row)
        self.wanted.emit(slot, draft)

    def _let_go(self, row: _Row) -> None:
        self.rows.remove(row)
        row.slot.drop()
        self._forget(row)

    def _forget(self, row: _Row) -> None:
        row.setParent(None)
        row.deleteLater()
        self.adjustSize()
        if not self.rows:
            self.close()

    def _release(self) -> None:
        for row in self.rows:
            row.slot.release()
        self.rows = []

    def closeEvent(self, event: object) -> None:
        """Leave what is left to the next start."""
        self._release()
        super().closeEvent(event)


class _Row(QFrame):
    """One draft: what it is of, from when, and what can be done with it."""

    def __init__(self, slot: DraftSlot, draft: Draft) -> None:
        super().__init__()
        self.setObjectName("card")
        self.slot, self.draft = slot, draft
        name = draft.job.name
        self.bring_back = button("Bring back", "primary", tip="Open the job with its unsaved changes")
        self.bring_back.setAccessibleName(f"Bring back {name}")
        self.let_go = button("Let go", tip="Throw these changes away; a saved job file stays as it is")
        self.let_go.setAccessibleName(f"Let go of {name}")
        when = QLocale().toString(draft.kept_at.astimezone().replace(tzinfo=None), QLocale.FormatType.ShortFormat)
        told = f"Changed until {when}. " + (f"File {os.path.basename(draft.path)}" if draft.path else "Never saved")
        if draft.path and _is_newer(draft.path, draft):
            told += ", which was saved since"
        grid = QGridLayout(self)
        grid.setContentsMargins(14, 10, 12, 10)
        grid.setColumnStretch(0, 1)
        grid.addWidget(words(name, "section"), 0, 0)
        grid.addWidget(words(told + ".", "muted"), 1, 0)
        grid.addWidget(self.let_go, 0, 1, 2, 1)
        grid.addWidget(self.bring_back, 0, 2, 2, 1)


def _is_newer(path: str, draft: Draft) -> bool:
    try:
        return os.stat(path).st_mtime > draft.kept_at.timestamp()
    except OSError:
        return False
