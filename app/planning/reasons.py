"""Why a part has no place, in the job's units and with the way out."""

from __future__ import annotations

import math

import shapely

from app.job.document import DisplayUnits
from app.planning.problems import MaterialProblem
from geometry.outline import Outline
from geometry.units import format_length
from nesting.bounds import may_fit
from nesting.plan import Unplaced


def reason_in_words(left: Unplaced, one: MaterialProblem, units: DisplayUnits) -> str:
    """One sentence for a copy that is on no sheet."""
    part = next(part for part in one.problem.parts if part.id == left.part)
    short, long = smallest_box(part.outline)
    needs = f"{format_length(short, units)} x {format_length(long, units)}"
    if any(may_fit(part, sheet, one.problem) for sheet in one.problem.sheets):
        if all(sheet.count is not None for sheet in one.stock):
            count = sum(sheet.count or 0 for sheet in one.stock)
            at_hand = "the one sheet" if count == 1 else f"the {count} sheets"
            return f"no room left for it ({needs}) on {at_hand} at hand; add sheets to the stock"
        return f"found no place for it ({needs}) on any sheet; {left.reason}"
    largest = max(one.stock, key=lambda sheet: sheet.width * sheet.height)
    width, height = (side - 2 * one.material.margin for side in (largest.width, largest.height))
    return (
        f"larger than every sheet: it takes {needs} at the least, and the largest sheet, {largest.name}, "
        f"leaves {format_length(width, units)} x {format_length(height, units)} inside its margins; "
        "divide it with a seam or add a larger sheet to the stock"
    )


def smallest_box(outline: Outline) -> tuple[float, float]:
    """Short and long side of the smallest rectangle that holds an outline at any angle, mm."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shapely.Polygon(outline.outer)))
    sides = sorted(math.dist(corners[i], corners[i + 1]) for i in (0, 1))
    return sides[0], sides[1]
