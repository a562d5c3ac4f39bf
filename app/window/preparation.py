"""Keeps the letters and parts of the open job up to date, on a thread."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject, QTimer, Signal

from app.job.document import Job
from app.window.background import Background
from app.window.document import Document
from app.window.services import Services

if TYPE_CHECKING:
    from app.planning.prepare import Prepared

SETTLE_MS: Final = 150
"""Wait this long after an edit, so that a run of edits (a held arrow key) is read once."""


def what_matters(job: Job) -> Job:
    """The job with everything blanked that letters, parts and the words of their findings do not depend on.

    Stock does matter: seams are placed by it. So do the units, in which findings are written.
    """
    return replace(job, name="", currency="", seconds=0.0, seed=0, notes="", plan=None)


class Preparation(QObject):
    """The letters and parts of the job, or why there are none.

    Signals
    -------
    changed : `prepared` or `error` is different now
    busy_changed : bool
    """

    changed = Signal()
    busy_changed = Signal(bool)
    progressed = Signal(float, str)

    def __init__(self, document: Document, services: Services, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._services = services
        self._background = Background("letterbed-prepare", self)
        self._timer = QTimer(self, singleShot=True, interval=SETTLE_MS)
        self._is_busy = False
        self.prepared: Prepared | None = None
        self.error: BaseException | None = None
        self._timer.timeout.connect(self._start)
        self._background.done.connect(self._take)
        self._background.failed.connect(self._fail)
        self._background.progressed.connect(self.progressed)
        document.opened.connect(lambda: self._set(None, None))  # never the former job's letters under the new name
        document.changed.connect(self._job_changed)

    @property
    def is_busy(self) -> bool:
        """Whether what is shown is about to be replaced."""
        return self._is_busy

    @property
    def is_ready(self) -> bool:
        """Whether there are parts, and they are those of the job as it stands."""
        return self.prepared is not None and bool(self.prepared.parts) and not self.is_busy

    def close(self) -> None:
        """End the thread."""
        self._timer.stop()
        self._background.close()

    def _job_changed(self, before: Job | None, after: Job, _initiator: object) -> None:
        if before is None or self.prepared is None or what_matters(before) != what_matters(after):
            self._background.forget()
            self._set_busy(True)
            self._timer.start()

    def _start(self) -> None:
        job = self._document.job
        if job is not None and not job.artwork:
            self._set_busy(False)
            self._set(None, None)
        elif job is not None:
            self._background.start(lambda report: self._services.prepare(job, report))

    def _take(self, prepared: Prepared) -> None:
        self._set_busy(False)
        self._set(prepared, None)

    def _fail(self, error: BaseException) -> None:
        self._set_busy(False)
        self._set(None, error)

    def _set(self, prepared: Prepared | None, error: BaseException | None) -> None:
        self.prepared, self.error = prepared, error
        self.changed.emit()

    def _set_busy(self, is_busy: bool) -> None:
        if is_busy != self._is_busy:
            self._is_busy = is_busy
            self.busy_changed.emit(is_busy)
