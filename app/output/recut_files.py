"""A recut with its own cut files: written, its offcuts held, linked to its job and its pieces marked, in that order."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from os import PathLike

from app.output.write import Written, write_plan
from app.planning.job_plan import JobPlan
from app.planning.rack_stock import offcuts_used, reserved
from app.planning.recut import digest_of
from app.stock.cut_sheets import JobKey, PieceStatus, Recut, record_recut
from app.stock.rack import Rack


@dataclass(frozen=True, slots=True)
class WrittenRecut:
    """What was written, how many pieces were marked as spoiled or lost, and which offcuts are held for it."""

    written: Written
    marked: int
    offcuts: tuple[int, ...]


def write_recut(
    rack: Rack,
    key: JobKey,
    plan: JobPlan,
    folder: str | PathLike[str],
    counts: Mapping[str, int],
    *,
    when: datetime,
    status: PieceStatus | None,
    note: str = "",
    on_progress: Callable[[float, str], None] | None = None,
) -> WrittenRecut:
    """Write the cut files of a recut and record it.

    Parameters
    ----------
    rack : Rack
    key : JobKey
        Of the job the recut is for.
    plan : JobPlan
    folder : path
    counts : mapping of part id to pieces
        What is cut again.
    when : datetime
    status : PieceStatus or None
        What became of the pieces; None when they are cut for the first time.
    note : str
    on_progress : callable, optional
        As in `write_plan`.

    Raises
    ------
    ExportError
        When the files cannot be written; nothing is recorded or reserved then.
    RackError
        When another program took one of the offcuts.
    """
    with reserved(rack, plan, key.name):
        written = write_plan(plan, folder, when=when, on_progress=on_progress)
    recut = Recut(digest_of(plan), str(written.folder), tuple(counts.items()), note)
    marked = record_recut(rack, key, recut, status=status)
    return WrittenRecut(written, marked, offcuts_used(plan))
