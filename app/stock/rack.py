"""The rack: offcuts, what state they are in and what happened to them.

Every change is one transaction and one line in the history. What changes a piece's state asks for the state it must
be in within the same transaction, so two programs can never both get it.
"""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from typing import Final, Self

from app.stock.rack_file import RackFile, read_stamp
from app.stock.rack_items import (
    ON_THE_RACK,
    Box,
    HistoryEntry,
    Measured,
    NewOffcut,
    OffcutStatus,
    RackError,
    RackEvent,
    RackOffcut,
    outline_area,
)

REVIEW_AFTER_DAYS: Final = 90
"""Age at which an offcut should be looked at again: used, or thrown out. Common practice."""

LONGEST: Final = 20_000.0
"""No offcut is longer than this, mm: a slip of the unit."""


class Rack(RackFile):
    """The offcuts in a rack file. ``with Rack() as rack:`` closes it at the end.

    Methods that change several pieces change all of them or none. Errors are `RackError`s that name the piece, its
    state and the way out.
    """

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

    def keep(self, pieces: Iterable[NewOffcut]) -> tuple[RackOffcut, ...]:
        """Put pieces on the rack, in one transaction."""
        with self.transaction():
            numbers = [self.put(piece) for piece in pieces]
        return tuple(self.offcut(number) for number in numbers)

    def offcut(self, number: int) -> RackOffcut:
        """The piece with this number, whatever its state."""
        with self.telling():
            row = self.connection.execute("SELECT * FROM offcut WHERE id = ?", (number,)).fetchone()
        if row is None:
            raise RackError(f"there is no offcut {number}; 'letterbed rack list --all' shows every number")
        return _offcut(row)

    def offcuts(
        self, *, material: str | None = None, statuses: Sequence[OffcutStatus] = ON_THE_RACK
    ) -> tuple[RackOffcut, ...]:
        """Pieces in any of these states, oldest first; all materials when none is named."""
        marks = ",".join("?" * len(statuses))
        query = f"SELECT * FROM offcut WHERE status IN ({marks}) AND (? IS NULL OR material = ?) ORDER BY kept_at, id"
        with self.telling():
            rows = self.connection.execute(query, (*statuses, material, material)).fetchall()
        return tuple(_offcut(row) for row in rows)

    def free_for(self, job: str, *, material: str | None = None) -> tuple[RackOffcut, ...]:
        """Pieces a job may use: those free for any job and those reserved for this one."""
        return tuple(one for one in self.offcuts(material=material) if one.reserved_for in ("", job))

    def old(self, *, days: int = REVIEW_AFTER_DAYS) -> tuple[RackOffcut, ...]:
        """Pieces on the rack that came there at least so many days ago: use them up or throw them out."""
        now = self.clock()
        return tuple(one for one in self.offcuts() if one.age_days(now) >= days)

    def history(self, number: int) -> tuple[HistoryEntry, ...]:
        """What happened to a piece, oldest first."""
        self.offcut(number)
        with self.telling():
            rows = self.connection.execute("SELECT * FROM event WHERE offcut = ? ORDER BY id", (number,)).fetchall()
        return tuple(
            HistoryEntry(row["offcut"], RackEvent(row["what"]), row["job"], row["note"], read_stamp(row["at"]))
            for row in rows
        )

    def reserve(self, numbers: Iterable[int], job: str) -> None:
        """Speak for pieces; those already reserved for the same job stay so."""
        self.reserve_for(dict.fromkeys(numbers, job))

    def reserve_for(self, jobs: Mapping[int, str]) -> None:
        """Speak for pieces, each for a job of its own; as `reserve`."""
        if not all(job.strip() for job in jobs.values()):
            raise RackError("a reservation needs the name of a job")
        with self.transaction():
            for number, job in jobs.items():
                piece = self.offcut(number)
                if (piece.status, piece.reserved_for) != (OffcutStatus.RESERVED, job):
                    self.change(number, RackEvent.RESERVED, OffcutStatus.RESERVED, (OffcutStatus.KEPT,), job=job)

    def release(self, numbers: Iterable[int]) -> None:
        """Give reserved pieces free again."""
        with self.transaction():
            for number in numbers:
                self.change(number, RackEvent.RELEASED, OffcutStatus.KEPT, (OffcutStatus.RESERVED,))

    def take(self, numbers: Iterable[int], *, job: str = "", note: str = "") -> None:
        """Take pieces off the rack. A reserved one is only given to the job it is reserved for."""
        with self.transaction():
            for number in numbers:
                self._not_anothers(number, job)
                self.change(number, RackEvent.TAKEN, OffcutStatus.TAKEN, ON_THE_RACK, job=job, note=note)

    def put_back(self, number: int, *, measured: Measured | None = None, slot: str | None = None) -> RackOffcut:
        """Return a taken piece to the rack, with its new size when something was cut off it."""
        with self.transaction():
            self.change(number, RackEvent.RETURNED, OffcutStatus.KEPT, (OffcutStatus.TAKEN,))
            if measured is not None:
                self._measured(number, measured)
            if slot is not None:
                self._moved(number, slot)
        return self.offcut(number)

    def discard(self, numbers: Iterable[int], *, note: str = "") -> None:
        """Throw pieces away; a reserved one must be released first."""
        with self.transaction():
            for number in numbers:
                self.change(
                    number,
                    RackEvent.DISCARDED,
                    OffcutStatus.DISCARDED,
                    (OffcutStatus.KEPT, OffcutStatus.TAKEN),
                    note=note,
                )

    def measure(self, number: int, measured: Measured) -> RackOffcut:
        """Record the size found on the piece; from now on it counts instead of the planned one."""
        with self.transaction():
            self._on_the_rack(number, "measured")
            self._measured(number, measured)
        return self.offcut(number)

    def move(self, number: int, slot: str) -> RackOffcut:
        """Record another place on the rack."""
        with self.transaction():
            self._on_the_rack(number, "moved")
            self._moved(number, slot)
        return self.offcut(number)

    def put(self, piece: NewOffcut, *, parent: int | None = None) -> int:
        """Put one piece on the rack within a transaction of the caller; its number."""
        check_offcut(piece)
        at = self.stamp()
        measured = piece.measured
        cursor = self.connection.execute(
            "INSERT INTO offcut (material, thickness_mm, outline_mm, usable_x_mm, usable_y_mm, usable_width_mm, "
            "usable_height_mm, measured_width_mm, measured_height_mm, measured_thickness_mm, lot, slot, job, note, "
            "status, parent, kept_at, changed_at) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,'kept',?,?,?)",
            (
                piece.material,
                piece.thickness,
                json.dumps(piece.outline),
                piece.usable.x,
                piece.usable.y,
                piece.usable.width,
                piece.usable.height,
                measured.width if measured else None,
                measured.height if measured else None,
                measured.thickness if measured else None,
                piece.lot,
                piece.slot,
                piece.job,
                piece.note,
                parent,
                at,
                at,
            ),
        )
        number = cursor.lastrowid
        assert number is not None  # an INSERT has just been made
        self._tell(number, RackEvent.KEPT, piece.job, piece.note, at)
        return number

    def change(
        self,
        number: int,
        what: RackEvent,
        becomes: OffcutStatus,
        allowed: Sequence[OffcutStatus],
        *,
        job: str = "",
        note: str = "",
    ) -> None:
        """Move a piece from one of the allowed states to another, within a transaction of the caller."""
        piece = self.offcut(number)
        if piece.status not in allowed:
            raise RackError(f"offcut {number} cannot be {what}: {_state(piece)}")
        at = self.stamp()
        reserved_for = job if becomes in (OffcutStatus.RESERVED, OffcutStatus.TAKEN) else ""
        self.connection.execute(
            "UPDATE offcut SET status = ?, reserved_for = ?, changed_at = ? WHERE id = ?",
            (becomes, reserved_for, at, number),
        )
        self._tell(number, what, job, note, at)

    def use(self, number: int, job: str) -> None:
        """Mark a piece as cut into parts, within a transaction of the caller."""
        self._not_anothers(number, job)
        self.change(number, RackEvent.USED, OffcutStatus.USED, (*ON_THE_RACK, OffcutStatus.TAKEN), job=job)

    def _not_anothers(self, number: int, job: str) -> None:
        piece = self.offcut(number)
        if piece.reserved_for not in ("", job):
            raise RackError(
                f"{_state(piece)}, not for '{job}'; release it first" if job else f"{_state(piece)}; name that job"
            )

    def _on_the_rack(self, number: int, what: str) -> None:
        piece = self.offcut(number)
        if piece.status not in ON_THE_RACK:
            raise RackError(f"offcut {number} cannot be {what}: {_state(piece)}")

    def _measured(self, number: int, measured: Measured) -> None:
        check_measured(measured)
        at = self.stamp()
        self.connection.execute(
            "UPDATE offcut SET measured_width_mm = ?, measured_height_mm = ?, "
            "measured_thickness_mm = coalesce(?, measured_thickness_mm), changed_at = ? WHERE id = ?",
            (measured.width, measured.height, measured.thickness, at, number),
        )
        said = f"{measured.width:g} x {measured.height:g} mm"
        if measured.thickness is not None:
            said += f", {measured.thickness:g} mm thick"
        self._tell(number, RackEvent.MEASURED, "", said, at)

    def _moved(self, number: int, slot: str) -> None:
        at = self.stamp()
        self.connection.execute("UPDATE offcut SET slot = ?, changed_at = ? WHERE id = ?", (slot, at, number))
        self._tell(number, RackEvent.MOVED, "", slot, at)

    def _tell(self, number: int, what: RackEvent, job: str, note: str, at: str) -> None:
        self.connection.execute(
            "INSERT INTO event (offcut, what, job, note, at) VALUES (?,?,?,?,?)", (number, what, job, note, at)
        )


def check_offcut(piece: NewOffcut) -> None:
    """Refuse a piece whose numbers make no sense, in one sentence (`RackError`)."""
    if not piece.material.strip():
        raise RackError("an offcut needs its material")
    if not (math.isfinite(piece.thickness) and 0.0 < piece.thickness <= 300.0):
        raise RackError(f"a thickness of {piece.thickness:g} mm makes no sense; check its unit")
    numbers = [value for point in piece.outline for value in point]
    if len(piece.outline) < 3 or not all(map(math.isfinite, numbers)) or outline_area(piece.outline) <= 0.0:
        raise RackError("the outline of an offcut needs three corners or more and must run anticlockwise")
    xs, ys = [x for x, _ in piece.outline], [y for _, y in piece.outline]
    if abs(min(xs)) > 1e-6 or abs(min(ys)) > 1e-6:
        raise RackError("the outline of an offcut starts at its lower left corner, 0, 0")
    _check_side("offcut's side", max(xs))
    _check_side("offcut's side", max(ys))
    box = piece.usable
    inside = box.x >= -1e-6 and box.y >= -1e-6
    inside = inside and box.x + box.width <= max(xs) + 1e-6 and box.y + box.height <= max(ys) + 1e-6
    if not (inside and box.width > 0.0 and box.height > 0.0):
        raise RackError("the usable rectangle of an offcut must lie within its outline")
    if piece.measured is not None:
        check_measured(piece.measured)


def check_measured(measured: Measured) -> None:
    """Refuse measurements that make no sense, in one sentence (`RackError`)."""
    _check_side("offcut's measured side", measured.width)
    _check_side("offcut's measured side", measured.height)
    if measured.thickness is not None and not (math.isfinite(measured.thickness) and 0.0 < measured.thickness <= 300.0):
        raise RackError(f"a measured thickness of {measured.thickness:g} mm makes no sense; check its unit")


def _check_side(what: str, value: float) -> None:
    if not (math.isfinite(value) and 0.0 < value <= LONGEST):
        raise RackError(f"{value:g} mm makes no sense as an {what}; give more than 0 and up to {LONGEST:g} mm")


def _state(piece: RackOffcut) -> str:
    match piece.status:
        case OffcutStatus.RESERVED:
            return f"offcut {piece.id} is reserved for '{piece.reserved_for}'"
        case OffcutStatus.TAKEN:
            whom = f" for '{piece.reserved_for}'" if piece.reserved_for else ""
            return f"offcut {piece.id} was taken{whom}"
        case OffcutStatus.USED:
            return f"offcut {piece.id} was cut into parts"
        case OffcutStatus.DISCARDED:
            return f"offcut {piece.id} was discarded"
        case OffcutStatus.KEPT:
            return f"offcut {piece.id} is on the rack"


def _offcut(row: sqlite3.Row) -> RackOffcut:
    measured = None
    if row["measured_width_mm"] is not None:
        measured = Measured(row["measured_width_mm"], row["measured_height_mm"], row["measured_thickness_mm"])
    return RackOffcut(
        id=row["id"],
        material=row["material"],
        thickness=row["thickness_mm"],
        outline=tuple((float(x), float(y)) for x, y in json.loads(row["outline_mm"])),
        usable=Box(row["usable_x_mm"], row["usable_y_mm"], row["usable_width_mm"], row["usable_height_mm"]),
        lot=row["lot"],
        slot=row["slot"],
        job=row["job"],
        note=row["note"],
        measured=measured,
        status=OffcutStatus(row["status"]),
        reserved_for=row["reserved_for"],
        parent=row["parent"],
        kept_at=read_stamp(row["kept_at"]),
        changed_at=read_stamp(row["changed_at"]),
    )
