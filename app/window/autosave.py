"""Keeps unsaved work on disk while one works, a moment after each edit and off the window's thread."""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QObject, QTimer, Signal

from app.window.background import Background
from app.window.document import Document
from app.window.drafts import Draft, DraftSlot, now

KEEP_AFTER_MS: Final = 1000
"""An edit is on disk this long after it was made, whether or not others follow."""


class Autosave(QObject):
    """Writes the open job as a draft while it has unsaved changes, and drops the draft when it has none.

    Signals
    -------
    failed : object
        The error, told once until a draft can be kept again.
    """

    failed = Signal(object)

    def __init__(self, document: Document, folder: str, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._slot = DraftSlot.new(folder)
        self._taken_over: DraftSlot | None = None
        self._has_failed = False
        self._background = Background("letterbed-autosave", self)
        self._background.done.connect(self._kept)
        self._background.failed.connect(self._not_kept)
        self._timer = QTimer(self, singleShot=True, interval=KEEP_AFTER_MS)
        self._timer.timeout.connect(self.keep)
        document.changed.connect(self._changed)
        document.title_changed.connect(self._changed)

    @property
    def is_settled(self) -> bool:
        """Whether what is on disk is what should be there."""
        return not self._timer.isActive() and not self._background.is_busy

    def take_over(self, slot: DraftSlot) -> None:
        """Answer for a draft that was brought back: it goes once there is one of one's own, or none is needed."""
        self._taken_over = slot
        self.keep()

    def keep(self) -> None:
        """Write or drop the draft now, on the thread."""
        self._timer.stop()
        job, document, slot = self._document.job, self._document, self._slot
        if job is None or document.is_saved:
            self._background.start(lambda _report: slot.clear())
            return
        draft = Draft(job, document.path, now())
        self._background.start(lambda _report: slot.write(draft))

    def close(self) -> None:
        """End, with nothing left to bring back: who closes a window has saved or declined."""
        self._document.changed.disconnect(self._changed)
        self._document.title_changed.disconnect(self._changed)
        self._timer.stop()
        self._background.close()
        self._slot.drop()
        self._let_go()

    def _changed(self) -> None:
        # Not started anew by each edit: a long run of them must not put off the writing for ever.
        if not self._timer.isActive():
            self._timer.start()

    def _kept(self) -> None:
        self._has_failed = False
        self._let_go()

    def _let_go(self) -> None:
        slot, self._taken_over = self._taken_over, None
        if slot is not None:
            slot.drop()

    def _not_kept(self, error: BaseException) -> None:
        if not self._has_failed:
            self._has_failed = True
            self.failed.emit(error)
