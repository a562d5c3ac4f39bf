"""Long work in processes of their own (a comparison, an order): begun, followed, stopped, its answer delivered."""

from __future__ import annotations

import threading
from collections.abc import Callable

from PySide6.QtCore import QObject, Signal

from app.window.background import Background

Found = Callable[[int, object], None]
"""What the work calls with the number of a result and the result, as soon as there is one."""
Work = Callable[[Found, Callable[[], bool]], object]
"""What is run: gets `found` and a question that is true once the work is to stop."""


class Trial(QObject):
    """One piece of work at a time.

    Signals
    -------
    changed : begun, stopping or ended
    found : int, object
        A result on the way.
    done : object
        The answer; also of work that was stopped, when it has one.
    failed : object
        The exception raised.
    """

    changed = Signal()
    found = Signal(int, object)
    done = Signal(object)
    failed = Signal(object)
    _came = Signal(int, int, object)

    def __init__(self, name: str, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._run = 0
        self._stop = threading.Event()
        self._background = Background(name, self)
        self._background.done.connect(self.done)
        self._background.failed.connect(self.failed)
        self._background.busy_changed.connect(lambda _busy: self.changed.emit())
        self._came.connect(self._pass_on)

    @property
    def is_running(self) -> bool:
        """Whether work is under way, stopping included."""
        return self._background.is_busy

    @property
    def is_stopping(self) -> bool:
        """Whether it was asked to stop and has not ended yet."""
        return self.is_running and self._stop.is_set()

    def start(self, work: Work) -> None:
        """Run `work` on a thread; what runs now is stopped first."""
        self._stop.set()
        self._stop = stop = threading.Event()
        self._run += 1
        run = self._run

        def found(number: int, result: object) -> None:
            self._came.emit(run, number, result)

        self._background.start(lambda _report: work(found, stop.is_set))
        self.changed.emit()

    def stop(self) -> None:
        """Ask what runs to end with what it has."""
        if self.is_running and not self._stop.is_set():
            self._stop.set()
            self.changed.emit()

    def forget(self) -> None:
        """Stop, and drop what comes of it, as when another job is opened."""
        self._stop.set()
        self._run += 1
        self._background.forget()

    def close(self) -> None:
        """End for good."""
        self._stop.set()
        self._run += 1
        self._background.close()

    def _pass_on(self, run: int, number: int, result: object) -> None:
        if run == self._run:
            self.found.emit(number, result)
