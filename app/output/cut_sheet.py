"""One sheet made ready for all outputs: what is cut in which order, and the number each part goes by."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import shapely

from app.cutting.operations import Operation, Work, operations
from app.cutting.placed import placed_drills, placed_region
from app.cutting.summary import CutSummary, summarise_cutting
from app.fabrication.part import CutPart, Drill
from app.output.label_place import candidates
from app.planning.job_plan import JobPlan, PlannedSheet
from geometry.contour import Region
from geometry.curve import Point
from geometry.flatten import flatten_region
from geometry.measure import region_area

DRAWN_TOLERANCE: Final = 0.2
"""mm; for what is only looked at or labelled, never for what is cut or measured."""
_ROUND_DRILLS: Final = 3.0  # mm


@dataclass(frozen=True, eq=False)
class Piece:
    """A placed copy with its number.

    Fields
    ------
    number : int
        1-based on the sheet, in the order in which the parts come free; the same on drawing, cut file, lists, labels.
    part : CutPart
    copy : int
        0-based.
    region : Region
        True curves in the sheet's frame, mm.
    drills : tuple of Drill
        In the sheet's frame, mm.
    """

    number: int
    part: CutPart
    copy: int
    region: Region
    drills: tuple[Drill, ...]

    @cached_property
    def material(self) -> shapely.Polygon:
        """The part as drawn, flattened within `DRAWN_TOLERANCE`."""
        outline = flatten_region(self.region, DRAWN_TOLERANCE)
        return shapely.Polygon(outline.outer, outline.holes)

    @cached_property
    def label_ground(self) -> shapely.Polygon:
        """Where a label reads well, in the sheet's frame: the material but for drilled holes and what is round them."""
        if not self.drills:
            return self.material
        holes = [shapely.Point(drill.centre).buffer(drill.diameter / 2 + _ROUND_DRILLS) for drill in self.drills]
        left = shapely.difference(self.material, shapely.union_all(holes))
        return max(shapely.get_parts(left), key=shapely.area, default=self.material)

    @cached_property
    def label_points(self) -> tuple[Point, ...]:
        """Points worth trying for a label, in the sheet's frame."""
        return candidates(self.label_ground)


@dataclass(frozen=True, eq=False)
class CutSheet:
    """A planned sheet with its operations in cutting order, their figures, and its pieces by number."""

    planned: PlannedSheet
    operations: tuple[Operation, ...]
    summary: CutSummary
    pieces: tuple[Piece, ...]

    @cached_property
    def net_yield(self) -> float:
        """Net part area / sheet area."""
        stock = self.planned.stock
        return sum(region_area(piece.part.region) for piece in self.pieces) / stock.area


def cut_sheet(planned: PlannedSheet) -> CutSheet:
    """Order the cuts of a sheet and number its parts."""
    ordered = operations(planned)
    by_copy = {(placed.part.id, placed.placement.copy): placed for placed in planned.placed}
    outside = [(one.part, one.copy) for one in ordered if one.work is Work.OUTSIDE]
    pieces = tuple(
        Piece(number, by_copy[key].part, key[1], placed_region(by_copy[key]), placed_drills(by_copy[key]))
        for number, key in enumerate(outside, start=1)
    )
    return CutSheet(planned, ordered, summarise_cutting(ordered), pieces)


def cut_sheets(plan: JobPlan) -> tuple[CutSheet, ...]:
    """All sheets of a plan, ready for output."""
    return tuple(cut_sheet(planned) for planned in plan.sheets)
