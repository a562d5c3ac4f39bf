"""How much is cut on a sheet: lengths, pierces, travel."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.cutting.operations import ZERO_CORNER, Operation, Work
from geometry.measure import contour_length


@dataclass(frozen=True, slots=True)
class CutSummary:
    """Figures of a sheet's operations.

    Fields
    ------
    lengths : dict of Work to float, mm
        Length of the finished edges, marks and offcut lines; a drilled hole has none.
    counts : dict of Work to int
    pierce_count : int
        Times the cutter goes into the sheet along an edge or offcut line; drilled holes and marks are not counted.
    travel : float, mm
        Way in the air from the zero corner through all operations; the way home is not counted.
    """

    lengths: dict[Work, float]
    counts: dict[Work, int]
    pierce_count: int
    travel: float

    @property
    def cut_length(self) -> float:
        """Inside and outside edges and offcut lines together, mm."""
        return self.lengths[Work.INSIDE] + self.lengths[Work.OUTSIDE] + self.lengths[Work.OFFCUT]


def summarise_cutting(ordered: Sequence[Operation]) -> CutSummary:
    """The figures of operations in their order, as `operations` gives them."""
    lengths = dict.fromkeys(Work, 0.0)
    counts = dict.fromkeys(Work, 0)
    travel, at = 0.0, ZERO_CORNER
    for one in ordered:
        counts[one.work] += 1
        if one.work is not Work.DRILL:
            lengths[one.work] += contour_length(one.contour)
        travel += math.dist(at, one.begin)
        at = one.end
    pierces = counts[Work.INSIDE] + counts[Work.OUTSIDE] + counts[Work.OFFCUT]
    return CutSummary(lengths, counts, pierces, travel)
