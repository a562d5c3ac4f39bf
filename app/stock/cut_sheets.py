"""What has been cut: booking a sheet, and the pieces of a job with their fate.

Booking a cut sheet takes the sheet out of stock (or the offcut off the rack), writes down the pieces cut from it and
puts its offcuts onto the rack, all in one transaction.
"""

from __future__ import annotations

import json
import os
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from app.stock.rack import Rack
from app.stock.rack_file import read_stamp
from app.stock.rack_items import NewOffcut, RackError


class PieceStatus(StrEnum):
    """What became of a piece."""

    GOOD = "good"
    SPOILED = "spoiled"
    LOST = "lost"


@dataclass(frozen=True, slots=True)
class JobKey:
    """How a job is known to the rack's file: by its file; the name is for people."""

    path: str
    name: str


@dataclass(frozen=True, slots=True)
class CutPiece:
    """One copy (0-based) of a part; `shape` is a digest of its edges, to tell when the part was changed later."""

    part: str
    copy: int
    shape: str


@dataclass(frozen=True, slots=True)
class SheetCut:
    """A sheet that was cut.

    Fields
    ------
    job : JobKey
    plan : str
        Digest of the plan it belongs to: the same sheet of the same plan is booked once only.
    number : int
        Of the sheet in its plan, from 1.
    stock, material : str
        Ids.
    offcut : int or None
        Number of the rack's offcut, when the sheet was one.
    pieces : tuple of CutPiece
    offcuts : tuple of NewOffcut
        What goes onto the rack.
    """

    job: JobKey
    plan: str
    number: int
    stock: str
    material: str
    offcut: int | None
    pieces: tuple[CutPiece, ...]
    offcuts: tuple[NewOffcut, ...]


@dataclass(frozen=True, slots=True)
class Booked:
    """What a booking did: numbers of the new offcuts; sheets of this size left, None when they are not counted."""

    offcuts: tuple[int, ...]
    left_on_hand: int | None


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece that was cut, of which sheet of which plan, and what became of it."""

    part: str
    copy: int
    shape: str
    status: PieceStatus
    note: str
    sheet: int
    plan: str
    cut_at: datetime


@dataclass(frozen=True, slots=True)
class BookedSheet:
    """A sheet that is booked as cut: digest of its plan, its number there, ids of stock and material, and when."""

    plan: str
    number: int
    stock: str
    material: str
    cut_at: datetime


@dataclass(frozen=True, slots=True)
class Recut:
    """A plan for pieces that must be cut again, or for what was not cut yet.

    Fields
    ------
    plan : str
        Its digest, as in `SheetCut`.
    folder : str
        Where its cut files are.
    parts : tuple of (part, pieces)
    note : str
    at : datetime or None
        When it was recorded.
    """

    plan: str
    folder: str
    parts: tuple[tuple[str, int], ...]
    note: str = ""
    at: datetime | None = None


def job_key(path: str | os.PathLike[str], name: str) -> JobKey:
    """Key of the job in this file."""
    return JobKey(os.path.realpath(path), name)


def book_cut(rack: Rack, cut: SheetCut) -> Booked:
    """Book a sheet as cut, all or nothing.

    Raises
    ------
    RackError
        When it was booked before, or its offcut is not there for this job.
    """
    with rack.transaction() as connection:
        job = _job_row(rack, cut.job, add=True)
        before = connection.execute(
            "SELECT at FROM cut_sheet WHERE job = ? AND plan = ? AND number = ?", (job, cut.plan, cut.number)
        ).fetchone()
        if before is not None:
            raise RackError(
                f"sheet {cut.number} of '{cut.job.name}' was booked as cut on {read_stamp(before['at']):%Y-%m-%d %H:%M}"
                " UTC already; nothing was changed"
            )
        left = None
        if cut.offcut is not None:
            rack.use(cut.offcut, cut.job.name)
        else:
            left = _one_less(rack, cut.stock)
        row = connection.execute(
            "INSERT INTO cut_sheet (job, plan, number, stock, material, offcut, at) VALUES (?,?,?,?,?,?,?)",
            (job, cut.plan, cut.number, cut.stock, cut.material, cut.offcut, rack.stamp()),
        ).lastrowid
        connection.executemany(
            "INSERT INTO piece (cut_sheet, part, copy, shape, status) VALUES (?,?,?,?,'good')",
            [(row, piece.part, piece.copy, piece.shape) for piece in cut.pieces],
        )
        numbers = tuple(rack.put(piece, parent=cut.offcut) for piece in cut.offcuts)
    return Booked(numbers, left)


def pieces_cut(rack: Rack, job: JobKey) -> tuple[Piece, ...]:
    """Every piece ever cut for a job, in the order of cutting."""
    with rack.telling():
        number = _job_row(rack, job, add=False)
        rows = rack.connection.execute(
            "SELECT piece.*, cut_sheet.number AS sheet, cut_sheet.plan, cut_sheet.at FROM piece "
            "JOIN cut_sheet ON cut_sheet.id = piece.cut_sheet WHERE cut_sheet.job IS ? ORDER BY piece.id",
            (number,),
        ).fetchall()
    return tuple(
        Piece(
            part=row["part"],
            copy=row["copy"],
            shape=row["shape"],
            status=PieceStatus(row["status"]),
            note=row["note"],
            sheet=row["sheet"],
            plan=row["plan"],
            cut_at=read_stamp(row["at"]),
        )
        for row in rows
    )


def sheets_cut(rack: Rack, job: JobKey) -> tuple[BookedSheet, ...]:
    """Every sheet booked as cut for a job, in that order."""
    with rack.telling():
        number = _job_row(rack, job, add=False)
        rows = rack.connection.execute("SELECT * FROM cut_sheet WHERE job IS ? ORDER BY id", (number,)).fetchall()
    return tuple(
        BookedSheet(row["plan"], row["number"], row["stock"], row["material"], read_stamp(row["at"])) for row in rows
    )


def good_pieces(rack: Rack, job: JobKey) -> Counter[str]:
    """How many good pieces of each part have been cut for a job."""
    return Counter(piece.part for piece in pieces_cut(rack, job) if piece.status is PieceStatus.GOOD)


def mark_pieces(rack: Rack, job: JobKey, counts: Mapping[str, int], status: PieceStatus, *, note: str = "") -> None:
    """Mark so many good pieces of each part as spoiled or lost, the latest cut first; all or none.

    Raises
    ------
    RackError
        When fewer good pieces of a part have been cut than are to be marked.
    """
    with rack.transaction() as connection:
        number = _job_row(rack, job, add=False)
        for part, count in counts.items():
            rows = _latest_good(rack, number, part, count)
            if len(rows) < count:
                raise RackError(
                    f"part '{part}': {count} to be marked as {status}, but {len(rows)} good ones are booked as cut; "
                    "book the sheet first ('letterbed cut')"
                )
            connection.executemany(
                "UPDATE piece SET status = ?, note = ? WHERE id = ?", [(status, note, row) for row in rows]
            )


def record_recut(
    rack: Rack,
    job: JobKey,
    recut: Recut,
    *,
    status: PieceStatus | None = None,
) -> int:
    """Link a recut to its job and, given a status, mark as many of its parts' good pieces as are booked.

    Returns
    -------
    int
        How many pieces were marked. Fewer than asked when the sheets they came from were never booked.
    """
    marked = 0
    with rack.transaction() as connection:
        number = _job_row(rack, job, add=True)
        connection.execute(
            "INSERT INTO recut (job, plan, folder, parts, note, at) VALUES (?,?,?,?,?,?)",
            (number, recut.plan, recut.folder, json.dumps(dict(recut.parts)), recut.note, rack.stamp()),
        )
        if status is not None:
            for part, count in recut.parts:
                rows = _latest_good(rack, number, part, count)
                connection.executemany(
                    "UPDATE piece SET status = ?, note = ? WHERE id = ?", [(status, recut.note, row) for row in rows]
                )
                marked += len(rows)
    return marked


def recuts(rack: Rack, job: JobKey) -> tuple[Recut, ...]:
    """Every recut of a job, in order."""
    with rack.telling():
        number = _job_row(rack, job, add=False)
        rows = rack.connection.execute("SELECT * FROM recut WHERE job IS ? ORDER BY id", (number,)).fetchall()
    return tuple(
        Recut(row["plan"], row["folder"], tuple(json.loads(row["parts"]).items()), row["note"], read_stamp(row["at"]))
        for row in rows
    )


def waiting_recuts(rack: Rack, job: JobKey) -> tuple[Recut, ...]:
    """Recuts with pieces that are not booked as cut yet, `parts` being those only; not those another one replaced."""
    booked: dict[str, Counter[str]] = {}
    for piece in pieces_cut(rack, job):
        booked.setdefault(piece.plan, Counter())[piece.part] += 1
    waiting = []
    all_recuts = recuts(rack, job)
    for number, one in enumerate(all_recuts):
        done = booked.get(one.plan, Counter())
        left = tuple((part, count - done[part]) for part, count in one.parts if count > done[part])
        if left and one.folder not in {later.folder for later in all_recuts[number + 1 :]}:
            waiting.append(replace(one, parts=left))
    return tuple(waiting)


def _latest_good(rack: Rack, job: int | None, part: str, count: int) -> list[int]:
    rows = rack.connection.execute(
        "SELECT piece.id FROM piece JOIN cut_sheet ON cut_sheet.id = piece.cut_sheet "
        "WHERE cut_sheet.job IS ? AND piece.part = ? AND piece.status = 'good' ORDER BY piece.id DESC LIMIT ?",
        (job, part, count),
    )
    return [row["id"] for row in rows]


def _job_row(rack: Rack, job: JobKey, *, add: bool) -> int | None:
    """Row of a job; one whose file was moved is found by its name and gets its new place. Within a transaction."""
    connection = rack.connection
    row = connection.execute("SELECT id FROM job WHERE path = ?", (job.path,)).fetchone()
    if row is None:
        same = connection.execute("SELECT id, path FROM job WHERE name = ? ORDER BY id", (job.name,)).fetchall()
        moved = [one for one in same if not os.path.exists(one["path"])]
        row = moved[0] if len(moved) == 1 else None
        if row is not None and add:
            connection.execute("UPDATE job SET path = ?, name = ? WHERE id = ?", (job.path, job.name, row["id"]))
    if row is not None:
        return int(row["id"])
    if not add:
        return None
    return connection.execute("INSERT INTO job (path, name) VALUES (?, ?)", (job.path, job.name)).lastrowid


def _one_less(rack: Rack, stock: str) -> int | None:
    row = rack.connection.execute("SELECT count FROM on_hand WHERE stock = ?", (stock,)).fetchone()
    if row is None:
        return None
    # A sheet that was cut was there, whatever the list says: the list cannot go below nothing.
    left = max(0, int(row["count"]) - 1)
    rack.connection.execute("UPDATE on_hand SET count = ? WHERE stock = ?", (left, stock))
    return left
