"""The rack's file: where it lies, how it is opened, and its transactions.

SQLite with a write-ahead log: readers never wait, writers wait for each other, and a program killed at any instant
leaves either all or nothing of what it was doing. The file must lie on a disk of this machine: a write-ahead log does
not work over a network share.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Final

from app.stock.rack_items import RackError
from app.stock.rack_schema import migrate

PLACE_VARIABLE: Final = "LETTERBED_RACK"
"""Environment variable that names the rack's file."""

BUSY_S: Final = 15.0
"""How long one program waits for another to finish writing."""

_STAMP: Final = "%Y-%m-%dT%H:%M:%S.%fZ"


def rack_place() -> str:
    """Path of the rack's file: as the environment variable says, else in the user's data folder."""
    given = os.environ.get(PLACE_VARIABLE)
    if given:
        return os.path.abspath(given)
    from platformdirs import user_data_dir

    return os.path.join(user_data_dir("letterbed", appauthor=False), "rack.db")


def now_utc() -> datetime:
    """The present moment; the clock of a rack unless it is given another."""
    return datetime.now(UTC)


class RackFile:
    """An open rack file; use it in the thread that opened it.

    Parameters
    ----------
    path : str or path, optional
        `rack_place()` when not given. The file and its folder are made when missing; ":memory:" keeps nothing.
    clock : callable
        Present time, UTC.
    busy_s : float
        How long to wait for another program.

    Raises
    ------
    RackError
        When the file cannot be opened, is not a rack, or is of a later version.
    """

    def __init__(
        self,
        path: str | os.PathLike[str] | None = None,
        *,
        clock: Callable[[], datetime] = now_utc,
        busy_s: float = BUSY_S,
    ) -> None:
        self.path = os.fspath(path) if path is not None else rack_place()
        self.clock = clock
        self._name = f"rack {self.path}"
        try:
            if self.path != ":memory:":
                os.makedirs(os.path.dirname(os.path.abspath(self.path)), exist_ok=True)
            self.connection = sqlite3.connect(self.path, timeout=busy_s, isolation_level=None)
        except (OSError, sqlite3.Error) as error:
            raise RackError(f"{self._name} cannot be opened: {error}") from error
        try:
            self.connection.row_factory = sqlite3.Row
            self._ready(busy_s)
        except BaseException:
            self.connection.close()
            raise

    def close(self) -> None:
        """Close the file; nothing is pending."""
        self.connection.close()

    @contextmanager
    def transaction(self) -> Iterator[sqlite3.Connection]:
        """All or nothing: the write lock is taken at once, so that what is read inside still holds when it is written.

        Raises
        ------
        RackError
            When another program holds the lock for longer than the busy time, or the disk fails.
        """
        with self.telling():
            self.connection.execute("BEGIN IMMEDIATE")
        try:
            with self.telling():
                yield self.connection
                self.connection.execute("COMMIT")
        except BaseException:
            if self.connection.in_transaction:
                self.connection.execute("ROLLBACK")
            raise

    @contextmanager
    def telling(self) -> Iterator[None]:
        """Within, faults of the database become sentences."""
        try:
            yield
        except sqlite3.OperationalError as error:
            if "locked" in str(error) or "busy" in str(error):
                raise RackError(f"{self._name} is in use by another program; try again in a moment") from error
            raise RackError(f"{self._name} failed: {error}") from error
        except sqlite3.IntegrityError:
            raise  # a rule of the tables was broken: a fault of this program, to be seen with its trace
        except sqlite3.DatabaseError as error:
            raise RackError(f"{self._name} is damaged or no rack: {error}; restore it from a backup") from error

    def stamp(self) -> str:
        """The present moment as it is stored."""
        return self.clock().astimezone(UTC).strftime(_STAMP)

    def check(self) -> tuple[str, ...]:
        """Everything wrong with the file itself, as SQLite's own checks find it; empty when it is whole."""
        with self.telling():
            whole = [row[0] for row in self.connection.execute("PRAGMA integrity_check")]
            keys = [tuple(row) for row in self.connection.execute("PRAGMA foreign_key_check")]
        return tuple([one for one in whole if one != "ok"] + [f"dangling reference: {one}" for one in keys])

    def _ready(self, busy_s: float) -> None:
        with self.telling():
            self.connection.execute("PRAGMA foreign_keys = ON")
            self.connection.execute("PRAGMA synchronous = FULL")
            deadline = time.monotonic() + busy_s
            # Two programs that create the file at the same moment collide here without SQLite's own waiting.
            while not self._log_ahead():
                if time.monotonic() > deadline:
                    raise RackError(f"{self._name} is in use by another program; try again in a moment")
                time.sleep(0.01)
            migrate(self.connection, self._name)

    def _log_ahead(self) -> bool:
        try:
            self.connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if "locked" in str(error):
                return False
            raise
        return True


def read_stamp(text: str) -> datetime:
    """The moment of a stored stamp."""
    return datetime.strptime(text, _STAMP).replace(tzinfo=UTC)
