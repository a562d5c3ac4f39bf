"""Reads a written plan back far enough to book one of its sheets as cut."""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping
from os import PathLike
from pathlib import Path
from typing import Any

import numpy as np

from app.errors import AppError
from app.output.plan_json import VERSION
from app.output.write import PLAN
from app.planning.rack_stock import offcut_of
from app.planning.recut import Shape, kept_offcuts, plan_digest
from app.stock.cut_sheets import CutPiece, JobKey, SheetCut
from app.stock.rack_items import Measured
from geometry.outline import signed_ring_area
from nesting.plan import Placement


class PlanFolderError(AppError):
    """A folder that holds no plan, or one that cannot be read."""


def sheet_count(folder: str | PathLike[str]) -> int:
    """How many sheets the plan in a folder has."""
    return len(_read(folder)["sheets"])


def cut_from_folder(
    folder: str | PathLike[str],
    number: int,
    job: JobKey,
    *,
    thickness: Mapping[str, float],
    measured: Mapping[int, Measured] | None = None,
    slots: Mapping[int, str] | None = None,
    lot: str = "",
) -> SheetCut:
    """What is booked when a sheet of a written plan was cut.

    Parameters
    ----------
    folder : path
    number : int
        Of the sheet, from 1.
    job : JobKey
    thickness : mapping of material id to mm
        The job's materials.
    measured, slots, lot
        As in `app.planning.recut.sheet_cut`.

    Raises
    ------
    PlanFolderError
        When the folder holds no plan of this version or the sheet is not in it.
    JobError
        When the sheet has no such offcut.
    """
    plan = _read(folder)
    sheets = plan["sheets"]
    if not 1 <= number <= len(sheets):
        raise PlanFolderError(f"the plan in '{folder}' has no sheet {number}; it has 1 to {len(sheets)}")
    try:
        sheet = sheets[number - 1]
        material, stock = sheet["material"], sheet["stock"]
        room = (float(sheet["width"]), float(sheet["height"]))
        digest = plan_digest((one["stock"], [_placement(placed) for placed in one["placements"]]) for one in sheets)
        shapes = {part["id"]: _shape(part).as_text() for part in plan["parts"]}
        pieces = tuple(CutPiece(one["part"], one["copy"], shapes[one["part"]]) for one in sheet["placements"])
    except (KeyError, TypeError, ValueError, IndexError) as error:
        raise PlanFolderError(f"{Path(folder) / PLAN} is damaged: {error}; plan the job again") from error
    if material not in thickness:
        raise PlanFolderError(f"the plan in '{folder}' is of another job: this one has no material '{material}'")
    return SheetCut(
        job=job,
        plan=digest,
        number=number,
        stock=stock,
        material=material,
        offcut=offcut_of(stock),
        pieces=pieces,
        offcuts=kept_offcuts(
            _offcuts(folder, number),
            room=room,
            material=material,
            thickness=thickness[material],
            job=job.name,
            sheet=number,
            measured=measured or {},
            slots=slots or {},
            lot=lot,
        ),
    )


def _read(folder: str | PathLike[str]) -> dict[str, Any]:
    path = Path(folder) / PLAN
    try:
        plan = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise PlanFolderError(f"'{folder}' holds no plan: {PLAN}: {error.strerror or error}") from error
    except ValueError as error:
        raise PlanFolderError(f"{path} is damaged: {error}") from error
    if not (isinstance(plan, dict) and plan.get("version") == VERSION and isinstance(plan.get("sheets"), list)):
        raise PlanFolderError(f"{path} is no plan of version {VERSION}")
    return plan


def _offcuts(folder: str | PathLike[str], sheet: int) -> list[tuple[float, float]]:
    """Width and height of the offcuts of a sheet, mm, in the order of their names."""
    path = Path(folder) / "offcuts.csv"
    try:
        rows = list(csv.DictReader(path.read_text(encoding="utf-8-sig").splitlines()))
        return [(float(row["width mm"]), float(row["height mm"])) for row in rows if int(row["sheet"]) == sheet]
    except OSError as error:
        raise PlanFolderError(f"'{folder}' lacks its list of offcuts: {error.strerror or error}") from error
    except (KeyError, TypeError, ValueError, csv.Error) as error:
        raise PlanFolderError(f"{path} is damaged: {error}; plan the job again") from error


def _placement(one: Mapping[str, Any]) -> Placement:
    return Placement(one["part"], one["copy"], one["x"], one["y"], one["rotation"], one["mirrored"])


def _shape(part: Mapping[str, Any]) -> Shape:
    outer = np.asarray(part["outer"], dtype=float)
    area = signed_ring_area(outer) - sum(abs(signed_ring_area(hole)) for hole in part["holes"])
    return Shape(float(np.ptp(outer[:, 0])), float(np.ptp(outer[:, 1])), area)
