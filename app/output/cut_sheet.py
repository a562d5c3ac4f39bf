"""One sheet made ready for all outputs: what is cut in which order, and the number each part goes by."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import shapely

from app.cutting.operations import Operation, Work, operations
from app.cutting.placed import placed_drills, placed_region
from app.cutting.summary import CutSummary, summarise_cutting
from app.cutting.swept import PlacedRemains, SweptCheck, check_swept, placed_remains
from app.cutting.times import SheetTime, sheet_time
from app.errors import ExportError
from app.fabrication.part import CutPart, Drill
from app.job.cutting import USUAL, Cutting, Hold
from app.output.label_place import candidates
from app.planning.job_plan import JobPlan, PlannedSheet
from geometry.contour import Region
from geometry.curve import Cubic, Point
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
    cutting: Cutting
    operations: tuple[Operation, ...]
    summary: CutSummary
    pieces: tuple[Piece, ...]

    @cached_property
    def swept(self) -> SweptCheck:
        """What the cutter covers, against what must stay whole and come free."""
        return check_swept(self.planned, self.operations)

    @cached_property
    def time(self) -> SheetTime:
        """Work and time."""
        return sheet_time(self.planned, self.operations, self.cutting)

    @cached_property
    def remains(self) -> tuple[PlacedRemains, ...]:
        """What the cutter cannot reach."""
        return placed_remains(self.planned)

    @cached_property
    def number_of(self) -> dict[tuple[str, int], int]:
        """The number each copy goes by."""
        return {(piece.part.id, piece.copy): piece.number for piece in self.pieces}

    def held_by(self, hold: Hold) -> tuple[str, ...]:
        """What is held by tabs, or by a skin: "4" is part 4, "drop of 4" what falls out of its holes."""
        found: dict[str, None] = {}
        for one in self.operations:
            if any(way.hold is hold for way in one.ways):
                number = self.number_of[one.part, one.copy]
                found[f"drop of {number}" if one.work is Work.INSIDE else str(number)] = None
        return tuple(sorted(found, key=lambda name: (name.startswith("drop"), int(name.split()[-1]))))

    @cached_property
    def net_yield(self) -> float:
        """Net part area / sheet area."""
        stock = self.planned.stock
        return sum(region_area(piece.part.region) for piece in self.pieces) / stock.area


def cut_sheet(planned: PlannedSheet, cutting: Cutting = USUAL) -> CutSheet:
    """Order the cuts of a sheet and number its parts."""
    for placed in planned.placed:
        _refuse_cubics(placed.part)
    ordered = operations(planned, cutting)
    by_copy = {(placed.part.id, placed.placement.copy): placed for placed in planned.placed}
    outside = [(one.part, one.copy) for one in ordered if one.work is Work.OUTSIDE]
    pieces = tuple(
        Piece(number, by_copy[key].part, key[1], placed_region(by_copy[key]), placed_drills(by_copy[key]))
        for number, key in enumerate(outside, start=1)
    )
    return CutSheet(planned, cutting, ordered, summarise_cutting(ordered), pieces)


def _refuse_cubics(part: CutPart) -> None:
    for contour in (part.region.outer, *part.region.holes):
        for segment in contour.segments:
            if isinstance(segment, Cubic):
                raise ExportError(
                    f"'{part.id}' has an edge near ({segment.start[0]:.1f}, {segment.start[1]:.1f}) mm of its frame "
                    "that is neither line nor arc, which a cut file cannot hold; fit arcs to it first"
                )


def cut_sheets(plan: JobPlan) -> tuple[CutSheet, ...]:
    """All sheets of a plan, ready for output."""
    return tuple(cut_sheet(planned, plan.job.cutting) for planned in plan.sheets)
