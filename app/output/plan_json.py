"""`plan.json`: the plan for other programs, version 1, all lengths in mm."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Final

from app.output.words import DEFINITIONS
from app.planning.job_plan import JobPlan, PlannedSheet
from geometry.contour import Region
from geometry.flatten import Side, flatten_region

VERSION: Final = 1
OUTLINE_TOLERANCE: Final = 0.005
"""mm; how far a part's outline here may lie inside the true curve. It is never outside it, so that a distance measured
between two outlines is never less than the true one would allow."""
_DECIMALS: Final = 4
SHEET_FOLDER: Final = "sheets"


def write_plan_json(plan: JobPlan, path: Path) -> None:
    """Write the plan. One line per placement and per ring, so that two plans can be compared line by line."""
    path.write_text(_lines(plan_as_json(plan)), encoding="utf-8")


def plan_as_json(plan: JobPlan) -> dict[str, Any]:
    """The plan as plain lists, texts and numbers.

    A placement mirrors in x, rotates (degrees anticlockwise) about the part's origin, then moves; `copy` counts from 0.
    Outer rings run anticlockwise, holes clockwise; the first point is not repeated.
    """
    return {
        "version": VERSION,
        "units": "mm",
        "sheets": [_sheet(sheet) for sheet in plan.sheets],
        "parts": [
            {
                "id": part.id,
                "role": part.role.value,
                "letter": part.letter,
                "material": part.material,
                "quantity": part.quantity,
                **_rings(part.region),
            }
            for part in plan.parts
        ],
        "unplaced": [{"part": left.part, "copy": left.copy, "reason": left.reason} for left in plan.unplaced],
        "bounds": {
            "definition": DEFINITIONS["fewest sheets"],
            "materials": {
                figures.material: {
                    "sheets_used": figures.sheet_count,
                    "least_sheets": figures.least_sheets,
                    "reason": figures.bound_reason,
                }
                for figures in plan.summaries
            },
        },
        "yield": _yield(plan),
    }


def _sheet(sheet: PlannedSheet) -> dict[str, Any]:
    return {
        "file": f"{SHEET_FOLDER}/{sheet.file}",
        "material": sheet.material.id,
        "stock": sheet.stock.id,
        "width": sheet.stock.width,
        "height": sheet.stock.height,
        "spacing": round(sheet.spacing, 9),
        "margin": round(sheet.margin, 9),
        "placements": [
            {
                "part": placed.part.id,
                "copy": placed.placement.copy,
                "x": placed.placement.x,
                "y": placed.placement.y,
                "rotation": placed.placement.rotation,
                "mirrored": placed.placement.mirrored,
            }
            for placed in sheet.placed
        ],
    }


def _rings(region: Region) -> dict[str, Any]:
    outline = flatten_region(region, OUTLINE_TOLERANCE, Side.INSIDE)
    return {
        "outer": outline.outer.round(_DECIMALS).tolist(),
        "holes": [hole.round(_DECIMALS).tolist() for hole in outline.holes],
    }


def _yield(plan: JobPlan) -> dict[str, Any]:
    def ratios(part_area: float, offcut_area: float, sheet_area: float) -> dict[str, float]:
        return {
            "net": part_area / sheet_area if sheet_area else 0.0,
            "credited": (part_area + offcut_area) / sheet_area if sheet_area else 0.0,
            "part_area_mm2": part_area,
            "offcut_area_mm2": offcut_area,
            "sheet_area_mm2": sheet_area,
        }

    figures = plan.summaries
    return {
        "definitions": {"net": DEFINITIONS["net yield"], "credited": DEFINITIONS["credited yield"]},
        "areas": f"of the true curves; the outlines in 'parts' lie inside them by up to {OUTLINE_TOLERANCE} mm",
        **ratios(
            sum(one.part_area for one in figures),
            sum(one.offcut_area for one in figures),
            sum(one.sheet_area for one in figures),
        ),
        "materials": {one.material: ratios(one.part_area, one.offcut_area, one.sheet_area) for one in figures},
    }


def _lines(value: object, depth: int = 0) -> str:
    """JSON with a line per member down to rings and placements, each of which is one line."""
    flat = not isinstance(value, dict | list) or not _has_depth(value)
    if flat:
        return json.dumps(value, ensure_ascii=False, allow_nan=False)
    pad, end = " " * (depth + 1), " " * depth
    if isinstance(value, dict):
        members: Iterable[str] = (
            f"{pad}{json.dumps(key, ensure_ascii=False)}: {_lines(member, depth + 1)}" for key, member in value.items()
        )
        return "{\n" + ",\n".join(members) + f"\n{end}}}"
    assert isinstance(value, list)
    return "[\n" + ",\n".join(pad + _lines(member, depth + 1) for member in value) + f"\n{end}]"


def _has_depth(value: dict[str, Any] | list[Any]) -> bool:
    """Whether to break a value over lines: anything but a ring, a point, or a record of plain values."""
    if isinstance(value, list):
        return bool(value) and not _is_point(value[0]) and isinstance(value[0], dict | list)
    return any(isinstance(member, dict | list) for member in value.values())


def _is_point(value: object) -> bool:
    return isinstance(value, list) and bool(value) and not isinstance(value[0], dict | list)
