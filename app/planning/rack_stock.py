"""Offcuts of the rack as stock to plan on: each a sheet of which there is one, costing nothing to buy."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Final

from app.job.check import OFFCUT_PREFIX
from app.job.document import Job
from app.planning.job_plan import JobPlan
from app.stock.book import Material, StockSheet
from app.stock.rack import Rack
from app.stock.rack_items import OffcutStatus, Point, RackOffcut

_OFFCUT_ID: Final = re.compile(re.escape(OFFCUT_PREFIX) + r"([1-9][0-9]{0,17})")

SAME_THICKNESS: Final = 0.05
"""mm; nominal thicknesses closer than this are the same."""


def stock_id(offcut: int) -> str:
    """Id of an offcut as stock of a plan: "rack:12". No size of a job is called so."""
    return f"{OFFCUT_PREFIX}{offcut}"


def offcut_of(stock: str) -> int | None:
    """Number of the offcut a stock id stands for; None when it is a size that is bought."""
    match = _OFFCUT_ID.fullmatch(stock)
    return int(match[1]) if match else None


def rack_sheets(pieces: Iterable[RackOffcut], material: Material) -> tuple[StockSheet, ...]:
    """The pieces of a material as stock, largest first; a piece of another thickness or without room is left out."""
    fitting = [
        piece
        for piece in pieces
        if piece.material == material.id
        and abs(piece.thickness - material.thickness) <= SAME_THICKNESS
        and min(_bounds(piece)) > 2.0 * material.margin
    ]
    fitting.sort(key=lambda piece: (-piece.width * piece.height, piece.id))
    return tuple(_sheet(piece) for piece in fitting)


def with_rack(job: Job, rack: Rack, *, takes_reserved: bool = True) -> Job:
    """The job with every offcut it may use among its stock, before the sizes that are bought.

    Parameters
    ----------
    job : Job
    rack : Rack
    takes_reserved : bool
        Also those reserved for this job. Not for a recut beside the job's plan: sheets of that plan which are not cut
        yet may lie on them.
    """
    free = rack.free_for(job.name) if takes_reserved else rack.offcuts(statuses=(OffcutStatus.KEPT,))
    offcuts = tuple(sheet for material in job.materials for sheet in rack_sheets(free, material))
    there = {sheet.id for sheet in offcuts}
    held = tuple(sheet for sheet in _held(job, rack) if sheet.id not in there)
    return replace(job, stock=(*offcuts, *held, *without_rack(job).stock))


def with_held(job: Job, rack: Rack) -> Job:
    """The job with only those offcuts among its stock that locked sheets of its plan lie on, whatever their state.

    An offcut that was cut has left the rack, and yet its sheet is part of the plan that the rest goes round.
    """
    held = _held(job, rack)
    return replace(job, stock=(*held, *without_rack(job).stock)) if held else without_rack(job)


def _held(job: Job, rack: Rack) -> tuple[StockSheet, ...]:
    kept = job.plan.sheets if job.plan is not None else ()
    locked = {sheet.stock for sheet in kept if sheet.is_locked or any(part.is_locked for part in sheet.parts)}
    numbers = sorted(number for stock in locked if (number := offcut_of(stock)) is not None)
    known = [piece for piece in rack.offcuts(statuses=tuple(OffcutStatus)) if piece.id in numbers] if numbers else []
    return tuple(sheet for material in job.materials for sheet in rack_sheets(known, material))


def without_rack(job: Job) -> Job:
    """The job with only what is bought among its stock."""
    bought = tuple(size for size in job.stock if offcut_of(size.id) is None)
    return job if len(bought) == len(job.stock) else replace(job, stock=bought)


def offcuts_used(plan: JobPlan) -> tuple[int, ...]:
    """Numbers of the rack's offcuts that a plan is cut from."""
    return tuple(number for sheet in plan.sheets if (number := offcut_of(sheet.stock.id)) is not None)


@contextmanager
def reserved(rack: Rack, plan: JobPlan, job: str) -> Iterator[tuple[int, ...]]:
    """Within, the offcuts a plan uses are reserved for the job; they stay so unless the work inside fails.

    Raises
    ------
    RackError
        When another program was quicker with one of them: the plan must then be made again.
    """
    numbers = offcuts_used(plan)
    before = {number for number in numbers if rack.offcut(number).reserved_for == job}
    rack.reserve(numbers, job)
    try:
        yield numbers
    except BaseException:
        rack.release(number for number in numbers if number not in before)
        raise


def _sheet(piece: RackOffcut) -> StockSheet:
    width, height = _bounds(piece)
    place = f", rack place {piece.slot}" if piece.slot else ""
    return StockSheet(
        id=stock_id(piece.id),
        material=piece.material,
        name=f"offcut {piece.id}{place}",
        width=width,
        height=height,
        count=1,
        price=0,
        outline=None if _is_box(piece.shape) else piece.shape,
    )


def _bounds(piece: RackOffcut) -> tuple[float, float]:
    return max(x for x, _ in piece.shape), max(y for _, y in piece.shape)


def _is_box(outline: Sequence[Point]) -> bool:
    xs, ys = {x for x, _ in outline}, {y for _, y in outline}
    return len(outline) == 4 and len(xs) == len(ys) == 2
