"""The rack as the window sees it: read at once, changed on a thread, and watched for what other programs change."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TYPE_CHECKING, Final, TypeVar

from PySide6.QtCore import QObject, QTimer, Signal

from app.errors import AppError
from app.window.background import Background

if TYPE_CHECKING:
    from app.stock.rack import Rack

Answer = TypeVar("Answer")

LOOK_EVERY_MS: Final = 1000
READ_WAIT_S: Final = 0.05
"""Readers do not wait for writers, save while a rack file is being made: then they look again a second later."""


class RackDesk(QObject):
    """Nothing is kept here: what is on the rack is asked for each time, so two windows always see the same.

    Signals
    -------
    changed : the rack holds something else now, whoever changed it
    failed : object
        An exception: the rack cannot be read, or refused what was asked.
    busy_changed : bool
    """

    changed = Signal()
    failed = Signal(object)
    busy_changed = Signal(bool)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._rack: Rack | None = None
        self._opened: tuple[int, int] | None = None
        self._seen: tuple[object, ...] = ()
        self._then: Callable[[object], None] | None = None
        self._background = Background("letterbed-rack", self)
        self._background.done.connect(self._take)
        self._background.failed.connect(self._fail)
        self._background.busy_changed.connect(self.busy_changed)
        self._timer = QTimer(self, interval=LOOK_EVERY_MS)
        self._timer.timeout.connect(self.look)

    @property
    def is_busy(self) -> bool:
        """Whether a change is under way."""
        return self._background.is_busy

    def read(self, ask: Callable[[Rack], Answer], otherwise: Answer) -> Answer:
        """What the rack answers; `otherwise` when there is no rack yet or it cannot be read, which is told."""
        if not self._timer.isActive():
            self._timer.start()
        try:
            rack = self._open()
            return otherwise if rack is None else ask(rack)
        except AppError as error:
            self._close_rack()
            self._timer.stop()  # or the same sentence would come every second; the next asking looks again
            self.failed.emit(error)
            return otherwise

    def act(self, deed: Callable[[Rack], Answer], then: Callable[[Answer], None] | None = None) -> bool:
        """Change the rack on a thread, with its own connection; `then` gets the answer here. One change at a time.

        Returns
        -------
        bool
            Whether it was begun: not while another is under way.
        """
        if self.is_busy:
            return False
        self._then = then
        self._background.start(lambda _report: _done_on_a_rack(deed))
        return True

    def look(self) -> None:
        """Tell when the file is different from when this was last asked."""
        seen = self._state()
        if seen != self._seen:
            self._seen = seen
            self.changed.emit()

    def close(self) -> None:
        """Let a change under way end, and close the file."""
        self._timer.stop()
        self._background.close()
        self._close_rack()

    def _state(self) -> tuple[object, ...]:
        def version(rack: Rack) -> tuple[object, ...]:
            with rack.telling():
                (number,) = rack.connection.execute("PRAGMA data_version").fetchone()
            return (_file_of(rack.path), number)

        return self.read(version, ())

    def _open(self) -> Rack | None:
        from app.stock.rack import Rack
        from app.stock.rack_file import rack_place

        path = rack_place()
        if self._rack is not None and (self._rack.path != path or _file_of(path) != self._opened):
            self._close_rack()  # the file was moved, or another was put in its place
        if self._rack is None and os.path.exists(path):  # who only looks makes none
            self._rack = Rack(path, busy_s=READ_WAIT_S)
            self._opened = _file_of(path)
        return self._rack

    def _close_rack(self) -> None:
        if self._rack is not None:
            self._rack.close()
            self._rack = None

    def _take(self, answer: object) -> None:
        then, self._then = self._then, None
        self.look()
        if then is not None:
            then(answer)

    def _fail(self, error: BaseException) -> None:
        self._then = None
        self.look()
        self.failed.emit(error)


def _done_on_a_rack(deed: Callable[[Rack], Answer]) -> Answer:
    from app.stock.rack import Rack

    with Rack() as rack:
        return deed(rack)


def _file_of(path: str) -> tuple[int, int] | None:
    try:
        there = os.stat(path)
    except OSError:
        return None
    return there.st_dev, there.st_ino
