"""The tables of the rack file and how an older file becomes a newer one.

Each step of `MIGRATIONS` takes a file from version n to n + 1 (`PRAGMA user_version`). A step that was ever released
is never edited: a change is a new step.
"""

from __future__ import annotations

import sqlite3
from typing import Final

from app.stock.rack_items import RackError

APPLICATION_ID: Final = 0x4C42_524B
"""Marks an SQLite file as a rack ("LBRK"), so that no other program's file is touched."""

_OFFCUTS: Final = """
CREATE TABLE offcut (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  material TEXT NOT NULL CHECK (material <> ''),
  thickness_mm REAL NOT NULL CHECK (thickness_mm > 0),
  outline_mm TEXT NOT NULL CHECK (json_valid(outline_mm)),
  usable_x_mm REAL NOT NULL,
  usable_y_mm REAL NOT NULL,
  usable_width_mm REAL NOT NULL CHECK (usable_width_mm > 0),
  usable_height_mm REAL NOT NULL CHECK (usable_height_mm > 0),
  measured_width_mm REAL CHECK (measured_width_mm > 0),
  measured_height_mm REAL CHECK (measured_height_mm > 0),
  lot TEXT NOT NULL,
  slot TEXT NOT NULL,
  job TEXT NOT NULL,
  note TEXT NOT NULL,
  status TEXT NOT NULL CHECK (status IN ('kept', 'reserved', 'taken', 'used', 'discarded')),
  reserved_for TEXT NOT NULL DEFAULT '',
  kept_at TEXT NOT NULL,
  changed_at TEXT NOT NULL,
  CHECK ((measured_width_mm IS NULL) = (measured_height_mm IS NULL)),
  CHECK (status <> 'reserved' OR reserved_for <> ''),
  CHECK (status <> 'kept' OR reserved_for = '')
) STRICT;
CREATE INDEX offcut_by_material ON offcut (material, status);
CREATE TABLE event (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  offcut INTEGER NOT NULL REFERENCES offcut (id) ON DELETE RESTRICT,
  what TEXT NOT NULL,
  job TEXT NOT NULL,
  note TEXT NOT NULL,
  at TEXT NOT NULL
) STRICT;
CREATE INDEX event_by_offcut ON event (offcut, id);
"""

_THICKNESS_AND_PARENT: Final = """
ALTER TABLE offcut ADD COLUMN measured_thickness_mm REAL CHECK (measured_thickness_mm > 0);
ALTER TABLE offcut ADD COLUMN parent INTEGER REFERENCES offcut (id) ON DELETE RESTRICT;
"""

_SHEETS: Final = """
CREATE TABLE on_hand (
  stock TEXT PRIMARY KEY,
  material TEXT NOT NULL,
  count INTEGER NOT NULL CHECK (count >= 0)
) STRICT;
CREATE TABLE job (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  path TEXT NOT NULL UNIQUE,
  name TEXT NOT NULL
) STRICT;
CREATE TABLE cut_sheet (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  job INTEGER NOT NULL REFERENCES job (id) ON DELETE RESTRICT,
  plan TEXT NOT NULL,
  number INTEGER NOT NULL CHECK (number >= 1),
  stock TEXT NOT NULL,
  material TEXT NOT NULL,
  offcut INTEGER REFERENCES offcut (id) ON DELETE RESTRICT,
  at TEXT NOT NULL,
  UNIQUE (job, plan, number)
) STRICT;
CREATE TABLE piece (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  cut_sheet INTEGER NOT NULL REFERENCES cut_sheet (id) ON DELETE RESTRICT,
  part TEXT NOT NULL,
  copy INTEGER NOT NULL CHECK (copy >= 0),
  shape TEXT NOT NULL,
  status TEXT NOT NULL CHECK (status IN ('good', 'spoiled', 'lost')),
  note TEXT NOT NULL DEFAULT '',
  UNIQUE (cut_sheet, part, copy)
) STRICT;
CREATE INDEX piece_by_part ON piece (part, status);
CREATE TABLE recut (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  job INTEGER NOT NULL REFERENCES job (id) ON DELETE RESTRICT,
  plan TEXT NOT NULL,
  folder TEXT NOT NULL,
  parts TEXT NOT NULL CHECK (json_valid(parts)),
  note TEXT NOT NULL,
  at TEXT NOT NULL
) STRICT;
"""

MIGRATIONS: Final = (_OFFCUTS, _THICKNESS_AND_PARENT, _SHEETS)
"""Step n makes version n + 1 of version n."""


def migrate(connection: sqlite3.Connection, name: str) -> None:
    """Bring an open file up to date; each step is one transaction, so a kill leaves a whole version.

    Parameters
    ----------
    connection : sqlite3.Connection
        In autocommit mode (``isolation_level=None``).
    name : str
        The file, for messages.

    Raises
    ------
    RackError
        When the file is another program's, or of a later version.
    """
    while True:
        if _version(connection, name) == len(MIGRATIONS):
            return
        connection.execute("BEGIN IMMEDIATE")
        try:
            version = _version(connection, name)  # another program may have been quicker
            if version < len(MIGRATIONS):
                for statement in _statements(MIGRATIONS[version]):
                    connection.execute(statement)
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {version + 1}")
            connection.execute("COMMIT")
        except BaseException:
            connection.execute("ROLLBACK")
            raise


def _version(connection: sqlite3.Connection, name: str) -> int:
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    owner: int = connection.execute("PRAGMA application_id").fetchone()[0]
    if owner != APPLICATION_ID:
        tables: int = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        if owner != 0 or version != 0 or tables != 0:
            raise RackError(f"{name} is a database of another program; name another file for the rack")
    if version > len(MIGRATIONS):
        raise RackError(
            f"{name} was written by a later version of this program (rack version {version}, "
            f"this one knows {len(MIGRATIONS)}); update the program"
        )
    return version


def _statements(script: str) -> list[str]:
    # executescript would commit the transaction under way. No statement above holds a semicolon of its own.
    return [statement for statement in script.split(";") if statement.strip()]
