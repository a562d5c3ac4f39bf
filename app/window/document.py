"""The open job, its file, its history and its one change signal."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoCommand, QUndoStack

from app.job.document import Job

Edit = Callable[[Job], Job]


class Document(QObject):
    """Holds one frozen job at a time; every edit swaps it for another and can be undone.

    Signals
    -------
    opened : another job was taken up; comes before its `changed`
    changed : before (Job or None), after (Job), initiator (object or None)
        On every edit, undo, redo and opening.
    edited : before (Job), after (Job)
        On every edit, undo and redo.
    title_changed : the name, the path or the saved state is different now
    """

    opened = Signal()
    changed = Signal(object, object, object)
    edited = Signal(object, object)
    title_changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._job: Job | None = None
        self._path: str | None = None
        self._never_saved = False
        self.undo_stack = QUndoStack(self)
        self.undo_stack.cleanChanged.connect(self.title_changed)

    @property
    def job(self) -> Job | None:
        """The job as it stands."""
        return self._job

    @property
    def path(self) -> str | None:
        """The job's file; None before the first save."""
        return self._path

    @property
    def is_saved(self) -> bool:
        """Whether closing now would lose nothing."""
        return self._job is None or (self.undo_stack.isClean() and not self._never_saved)

    @property
    def title(self) -> str:
        """The job's name for the title bar."""
        if self._job is None:
            return ""
        return os.path.basename(self._path) if self._path else f"{self._job.name} (not saved yet)"

    def open(self, job: Job, path: str | None, *, is_saved: bool = True) -> None:
        """Take up another job. With no path, or when told so, it counts as not saved yet."""
        before = self._job
        self._job, self._path, self._never_saved = job, path, path is None or not is_saved
        self.undo_stack.clear()
        self.opened.emit()
        self.changed.emit(before, job, None)
        self.title_changed.emit()

    def saved(self, path: str, job: Job) -> None:
        """Note that `job`, the present one or the same with another folder, is now in the file at `path`."""
        before = self._job
        self._job, self._path, self._never_saved = job, path, False
        self.undo_stack.setClean()
        if before != job:
            self.changed.emit(before, job, None)
        self.title_changed.emit()

    def edit(self, text: str, edit: Edit, *, initiator: object = None, merge: str = "") -> None:
        """Change the job by a plain function, as one undo step.

        Parameters
        ----------
        text : str
            What is done, for the menu: "change capital height".
        edit : function from job to job
            An AppError it raises goes to the caller and nothing is changed.
        initiator : object, optional
            Who asks; passed on so that a view may skip its own echo.
        merge : str, optional
            Key of one gesture; edits that follow each other with the same key become one step.
        """
        if self._job is None:
            return
        before, after = self._job, edit(self._job)
        if after != before:
            self.undo_stack.push(_ReplaceJob(self, text, before, after, merge, initiator))

    def put(self, job: Job, initiator: object) -> None:
        """Swap the job; only for undo commands."""
        before, folder = self._job, self._job.folder if self._job else ""
        # Where the file lies is not an edit: after "save as" the older steps belong to the new folder too.
        self._job = job if job.folder == folder else replace(job, folder=folder)
        self.changed.emit(before, self._job, initiator)
        self.edited.emit(before, self._job)


class _ReplaceJob(QUndoCommand):
    """Swaps one whole job for another; they share what did not change."""

    def __init__(self, document: Document, text: str, before: Job, after: Job, merge: str, initiator: object) -> None:
        super().__init__(text)
        self._document = document
        self._before, self._after = before, after
        self._merge = merge
        self._initiator = initiator

    def id(self) -> int:
        """One kind for all: whether two steps merge is decided by their keys."""
        return 1 if self._merge else -1

    def mergeWith(self, other: QUndoCommand) -> bool:
        """Take up a later step of the same gesture."""
        if not isinstance(other, _ReplaceJob) or other._merge != self._merge:
            return False
        self._after = other._after
        return True

    def redo(self) -> None:
        """Do it, for the first time or again."""
        initiator, self._initiator = self._initiator, None
        self._document.put(self._after, initiator)

    def undo(self) -> None:
        """Put the former job back."""
        self._document.put(self._before, None)
