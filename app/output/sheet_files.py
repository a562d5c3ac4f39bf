"""The files of each sheet, made and read back: one after the other, or several at once in processes of their own.

A sheet depends on no other, so a large plan is shared out over the machine's cores. What comes out is the same.
"""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from app.errors import ExportError
from app.job.document import Job
from app.output.cut_sheet import CutSheet, cut_sheet
from app.output.dxf import write_dxf
from app.output.labels import labels_of, paint_labels, write_labels
from app.output.plan_json import SHEET_FOLDER
from app.output.reread import check_cut_file
from app.output.svg import check_svg, write_svg
from app.planning.job_plan import JobPlan, PlannedSheet

DRAWING_FOLDER: Final = "drawings"
LARGE: Final = 250
"""Parts from which on more than one process is worth its start."""
_MOST: Final = 4


def drawing_name(sheet: PlannedSheet) -> str:
    """Name of the SVG of a sheet."""
    return f"{Path(sheet.file).stem}.svg"


def make_sheet(planned: PlannedSheet, job: Job, folder: Path, sheet_count: int) -> CutSheet:
    """Write the cut file and the drawing of a sheet, and check that both say what the plan says.

    Raises
    ------
    ExportError
        When the cutter would touch a finished part, a part would not come free, or a file reads back wrong.
    """
    cut = cut_sheet(planned, job.cutting)
    _refuse_gouges(cut)
    path = folder / SHEET_FOLDER / planned.file
    write_dxf(cut, job, path, sheet_count=sheet_count)
    check_cut_file(path, planned, job.units, job.cutting)
    drawing = folder / DRAWING_FOLDER / drawing_name(planned)
    write_svg(cut, drawing)
    check_svg(drawing, cut)
    # Worked out here, so that whoever gets the sheet from a helper need not.
    _ = cut.time, cut.remains
    return cut


def _refuse_gouges(cut: CutSheet) -> None:
    swept, sheet = cut.swept, cut.planned
    if swept.gouges:
        worst = max(swept.gouges, key=lambda one: one.depth)
        into = f"{sheet.placed[worst.kept].part.id} copy {sheet.placed[worst.kept].placement.copy + 1}"
        cutting = cut.operations[worst.operation].part or "an offcut line"
        raise ExportError(
            f"{sheet.file}: the cutter would reach {worst.depth:.3f} mm into {into} near {worst.at[0]:.1f}, "
            f"{worst.at[1]:.1f} mm while it cuts {cutting}; give the material a wider web and plan again"
        )
    if swept.still_fast:
        placed = sheet.placed[swept.still_fast[0]]
        raise ExportError(
            f"{sheet.file}: {placed.part.id} copy {placed.placement.copy + 1} would not come free of the sheet; "
            "give the material a wider web and plan again"
        )


class SheetWork:
    """All sheets of a plan and its labels, made here or by helpers."""

    def __init__(self, plan: JobPlan, folder: Path, pool: ProcessPoolExecutor | None) -> None:
        self._plan = plan
        self._folder = folder
        self._pool = pool
        self._waiting: list[Future[CutSheet]] = []
        if pool is not None:
            count = len(plan.sheets)
            self._waiting = [pool.submit(make_sheet, planned, plan.job, folder, count) for planned in plan.sheets]

    def sheets(self) -> Iterator[CutSheet]:
        """The sheets in their order, each once its files are written and checked."""
        if self._pool is None:
            for planned in self._plan.sheets:
                yield make_sheet(planned, self._plan.job, self._folder, len(self._plan.sheets))
            return
        try:
            for one in self._waiting:
                yield one.result()
        except BrokenProcessPool as error:
            raise ExportError("a helper that writes cut files ended early; try again with more memory free") from error

    def labels(self, sheets: list[CutSheet], path: Path) -> Future[None] | None:
        """Write the labels, or have them written meanwhile."""
        if self._pool is None:
            write_labels(self._plan, sheets, path)
            return None
        return self._pool.submit(paint_labels, labels_of(self._plan, sheets), self._plan.job, path)


@contextmanager
def sheet_work(plan: JobPlan, folder: Path) -> Iterator[SheetWork]:
    """Start on the sheets of a plan; helpers, if any, are gone at the end, whatever happens."""
    cores = min(_cores(), _MOST, len(plan.sheets))
    parts = sum(len(sheet.placed) for sheet in plan.sheets)
    if cores < 2 or parts < LARGE:
        yield SheetWork(plan, folder, None)
        return
    pool = ProcessPoolExecutor(cores, mp_context=multiprocessing.get_context("spawn"))
    try:
        yield SheetWork(plan, folder, pool)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
