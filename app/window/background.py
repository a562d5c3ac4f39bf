"""One thing at a time, off the window's thread, with the answer delivered back on it."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor

from PySide6.QtCore import QObject, Qt, Signal

Report = Callable[[float, str], None]
"""What a task calls to say how far it is: share done (0 to 1) and words."""


class Background(QObject):
    """Runs plain functions on one thread of its own; only the newest task's answer is delivered.

    Signals
    -------
    done : object
        What the function returned.
    failed : object
        The exception it raised.
    progressed : float, str
    busy_changed : bool
    """

    done = Signal(object)
    failed = Signal(object)
    progressed = Signal(float, str)
    busy_changed = Signal(bool)
    _ended = Signal(int, object)
    _reported = Signal(int, float, str)

    def __init__(self, name: str, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._executor = ThreadPoolExecutor(max_workers=1, thread_name_prefix=name)
        self._number = 0
        self._is_busy = False
        self._future: Future[object] | None = None
        # Queued also when the task has ended before `start` returns: an answer never comes in the midst of asking.
        self._ended.connect(self._take_answer, Qt.ConnectionType.QueuedConnection)
        self._reported.connect(self._take_report)

    @property
    def is_busy(self) -> bool:
        """Whether an answer is awaited."""
        return self._is_busy

    def start(self, task: Callable[[Report], object]) -> None:
        """Run `task(report)` after what runs now; an answer still awaited will be dropped."""
        self._number += 1
        number = self._number
        if self._future is not None:
            self._future.cancel()  # one that waits its turn need not run at all

        def report(fraction: float, words: str) -> None:
            self._reported.emit(number, fraction, words)

        self._set_busy(True)
        self._future = self._executor.submit(task, report)
        self._future.add_done_callback(lambda future: self._ended.emit(number, future))

    def forget(self) -> None:
        """Let the answer awaited be dropped."""
        self._number += 1
        self._set_busy(False)

    def close(self) -> None:
        """Wait for what runs, drop what waits, end the thread."""
        self._number += 1
        self._executor.shutdown(wait=True, cancel_futures=True)
        self._set_busy(False)

    def _take_answer(self, number: int, future: Future[object]) -> None:
        if number != self._number:
            return
        self._set_busy(False)
        try:
            error = future.exception()
        except CancelledError:
            return
        if error is not None:
            self.failed.emit(error)
        else:
            self.done.emit(future.result())

    def _take_report(self, number: int, fraction: float, words: str) -> None:
        if number == self._number:
            self.progressed.emit(fraction, words)

    def _set_busy(self, is_busy: bool) -> None:
        if is_busy != self._is_busy:
            self._is_busy = is_busy
            self.busy_changed.emit(is_busy)
