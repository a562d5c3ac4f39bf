"""What the rack holds and what happened to it. Plain data; the rack itself is `app.stock.rack`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from app.errors import AppError

Point = tuple[float, float]


class RackError(AppError):
    """The rack cannot do what was asked: the file, or the state an offcut is in."""


class OffcutStatus(StrEnum):
    """Where an offcut is."""

    KEPT = "kept"  # on the rack, free for any job
    RESERVED = "reserved"  # on the rack, spoken for by one job
    TAKEN = "taken"  # off the rack, in somebody's hands
    USED = "used"  # cut into parts
    DISCARDED = "discarded"  # thrown away, sold or recycled


ON_THE_RACK = (OffcutStatus.KEPT, OffcutStatus.RESERVED)


class RackEvent(StrEnum):
    """What can happen to an offcut."""

    KEPT = "kept"
    MEASURED = "measured"
    MOVED = "moved"
    RESERVED = "reserved"
    RELEASED = "released"
    TAKEN = "taken"
    RETURNED = "returned"
    USED = "used"
    DISCARDED = "discarded"


@dataclass(frozen=True, slots=True)
class Box:
    """An axis-parallel rectangle: lower left corner and size, mm."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Measured:
    """What was measured on the piece itself, mm; it overrides what was planned. Thickness where it was taken."""

    width: float
    height: float
    thickness: float | None = None


@dataclass(frozen=True, slots=True)
class NewOffcut:
    """A piece about to be put on the rack.

    Fields
    ------
    material : str
        Material id of the stock book or of the job it came from.
    thickness : float
        Nominal, mm.
    outline : tuple of points
        True outline as planned, mm, anticlockwise, lower left of its bounds at (0, 0).
    usable : Box
        The rectangle to reckon with, within the outline.
    lot : str
        Colour or production lot, as on the sheet's label; empty when unknown.
    slot : str
        Where it stands on the rack.
    job : str
        Job it came from; empty when unknown.
    note : str
    measured : Measured or None
    """

    material: str
    thickness: float
    outline: tuple[Point, ...]
    usable: Box
    lot: str = ""
    slot: str = ""
    job: str = ""
    note: str = ""
    measured: Measured | None = None


@dataclass(frozen=True, slots=True)
class RackOffcut:
    """A piece the rack knows: as in `NewOffcut`, with its number, its state and its times (UTC).

    Fields beyond those of `NewOffcut`
    ----------------------------------
    id : int
        Never given twice, not even after the piece is gone.
    status : OffcutStatus
    reserved_for : str
        Job it is reserved for or was taken for; empty otherwise.
    parent : int or None
        The offcut it was cut from, when it came from one.
    kept_at, changed_at : datetime
    """

    id: int
    material: str
    thickness: float
    outline: tuple[Point, ...]
    usable: Box
    lot: str
    slot: str
    job: str
    note: str
    measured: Measured | None
    status: OffcutStatus
    reserved_for: str
    parent: int | None
    kept_at: datetime
    changed_at: datetime

    @property
    def width(self) -> float:
        """Usable width, mm: measured where it was measured."""
        return self.measured.width if self.measured else self.usable.width

    @property
    def height(self) -> float:
        """Usable height, mm: measured where it was measured."""
        return self.measured.height if self.measured else self.usable.height

    @property
    def shape(self) -> tuple[Point, ...]:
        """Outline to cut from, mm: a measured piece is the rectangle that was measured, else the planned outline."""
        return box_outline(self.measured.width, self.measured.height) if self.measured else self.outline

    def age_days(self, now: datetime) -> int:
        """Whole days since it came onto the rack."""
        return max(0, (now - self.kept_at).days)


@dataclass(frozen=True, slots=True)
class HistoryEntry:
    """One event of an offcut; `job` and `note` are empty when nothing was said."""

    offcut: int
    what: RackEvent
    job: str
    note: str
    at: datetime


def box_outline(width: float, height: float) -> tuple[Point, ...]:
    """Rectangle with its lower left corner at (0, 0), anticlockwise; mm."""
    return ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))


def rectangle_offcut(
    material: str,
    thickness: float,
    width: float,
    height: float,
    *,
    lot: str = "",
    slot: str = "",
    job: str = "",
    note: str = "",
    measured: Measured | None = None,
) -> NewOffcut:
    """A rectangular piece; sizes in mm, texts as in `NewOffcut`."""
    outline, usable = box_outline(width, height), Box(0.0, 0.0, width, height)
    return NewOffcut(material, thickness, outline, usable, lot, slot, job, note, measured)


def outline_area(outline: Sequence[Point]) -> float:
    """Area inside a ring, mm², positive when it runs anticlockwise."""
    total = 0.0
    for (x1, y1), (x2, y2) in zip(outline, (*outline[1:], outline[0]), strict=True):
        total += x1 * y2 - x2 * y1
    return total / 2.0
