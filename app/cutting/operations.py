"""What the machine does on one sheet, in order.

The order is common practice (inside before outside, small before large, offcuts last), under three rules that are
never bent:

1. a part's holes, drilled holes and marks come before its outside edge, for after that it may move;
2. everything that lies in a hole comes before that hole's edge, for after that the drop it is cut from is loose;
3. holes are drilled and lines marked on the whole sheet first, and offcuts are cut off last.

What the rules leave free is taken in stages: inside edges, outside edges of small parts, of large parts. A hole with
parts in it waits for the stage of its last guest. Within a stage the travel is made short (`app.cutting.travel`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from app.cutting.offcut_lines import offcut_lines
from app.cutting.placed import placed_drills, placed_marks, placed_region
from app.cutting.travel import shortest_tour
from app.fabrication.part import CutPart
from app.job.settings import SETTINGS
from app.planning.job_plan import PlannedSheet
from geometry.arcs import circle
from geometry.build import reversed_contour
from geometry.contour import Contour, Region
from geometry.curve import Point
from geometry.flatten import flatten_contour
from geometry.measure import region_area, region_bounds

SMALL_AREA: Final = SETTINGS["small part area"].default
"""mm²; a part below this is small: vacuum may not hold it. Common practice."""
SMALL_WIDTH: Final = SETTINGS["small part width"].default
"""mm; a part narrower than this is small. Common practice."""
ZERO_CORNER: Final[Point] = (0.0, 0.0)
"""The machine's zero: the sheet's lower left corner."""

_INSIDE_TOLERANCE: Final = 0.1
"""mm; flattening used to see what lies in a hole. Parts there are a cutter's width from its edge."""


class Work(StrEnum):
    """What is done along a contour."""

    DRILL = "drill"
    MARK = "mark"
    INSIDE = "inside"
    OUTSIDE = "outside"
    OFFCUT = "offcut"


class _Stage:
    """Order of what the rules leave free; a later stage never comes before an earlier one."""

    DRILL, MARK, INSIDE, SMALL, LARGE, OFFCUT = range(6)


@dataclass(frozen=True, slots=True)
class Operation:
    """One thing to do.

    Fields
    ------
    work : Work
    contour : Contour
        Finished edge, mm in the sheet's frame, true arcs; begins where the cutter goes in. Outside edges run
        anticlockwise and inside edges clockwise, as in the part's region. A drilled hole is its circle.
    part : str
        Part id; empty for an offcut line.
    copy : int
        0-based copy of the part.
    """

    work: Work
    contour: Contour
    part: str = ""
    copy: int = 0

    @property
    def begin(self) -> Point:
        """Where the cutter goes in, mm: the start of the contour, or the centre of a drilled hole."""
        return self._centre() if self.work is Work.DRILL else self.contour.segments[0].start

    @property
    def end(self) -> Point:
        """Where the cutter comes out, mm."""
        return self._centre() if self.work is Work.DRILL else self.contour.segments[-1].end

    def _centre(self) -> Point:
        # A drilled hole is a circle of two half arcs, so its centre lies half way between their ends.
        (x0, y0), (x1, y1) = self.contour.segments[0].start, self.contour.segments[0].end
        return (x0 + x1) / 2, (y0 + y1) / 2


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """A placed copy: its true curves and the numbers of its operations."""

    part: CutPart
    copy: int
    region: Region
    before_outside: list[int]  # drills, marks and holes
    holes: list[int]
    outside: int


def operations(sheet: PlannedSheet) -> tuple[Operation, ...]:
    """Everything to do on a sheet, in cutting order; the same sheet always gives the same order.

    Every drilled hole, mark, inside and outside edge of every part is there exactly once, and every offcut's lines.
    """
    listed, pieces = _list(sheet)
    before = _rules(listed, pieces)
    stages = _stages(listed, pieces, before)
    done: list[Operation] = []
    at = ZERO_CORNER
    for stage in sorted(set(stages)):
        members = [index for index, one in enumerate(stages) if one == stage]
        made = _shortest([listed[index] for index in members], before[np.ix_(members, members)], at)
        done += made
        at = made[-1].end
    return tuple(done)


def _list(sheet: PlannedSheet) -> tuple[list[Operation], list[_Piece]]:
    listed: list[Operation] = []
    pieces: list[_Piece] = []
    for placed in sheet.placed:
        part, copy = placed.part, placed.placement.copy
        region = placed_region(placed)
        before = len(listed)
        for drill in placed_drills(placed):
            listed.append(Operation(Work.DRILL, circle(drill.centre, drill.diameter / 2), part.id, copy))
        for mark in placed_marks(placed):
            listed.append(Operation(Work.MARK, mark, part.id, copy))
        first_hole = len(listed)
        for hole in region.holes:
            listed.append(Operation(Work.INSIDE, hole, part.id, copy))
        listed.append(Operation(Work.OUTSIDE, region.outer, part.id, copy))
        outside = len(listed) - 1
        pieces.append(
            _Piece(part, copy, region, list(range(before, outside)), list(range(first_hole, outside)), outside)
        )
    listed += [Operation(Work.OFFCUT, line) for offcut in sheet.offcuts for line in offcut_lines(offcut, sheet)]
    return listed, pieces


def _rules(listed: Sequence[Operation], pieces: Sequence[_Piece]) -> NDArray[np.bool_]:
    """`rules[a, b]`: a must come before b. Transitive, because a guest's guests lie in the host's hole too."""
    rules = np.zeros((len(listed), len(listed)), dtype=bool)
    for piece in pieces:
        rules[piece.before_outside, piece.outside] = True
    if not pieces:
        return rules
    # No two parts touch, so one point of an outside edge tells whether the whole part lies in a hole.
    points = np.array([piece.region.outer.segments[0].start for piece in pieces])
    for host in pieces:
        for hole, number in zip(host.region.holes, host.holes, strict=True):
            opening = shapely.Polygon(flatten_contour(hole, _INSIDE_TOLERANCE))
            shapely.prepare(opening)
            for guest in np.flatnonzero(shapely.contains_xy(opening, points[:, 0], points[:, 1])).tolist():
                theirs = [*pieces[guest].before_outside, pieces[guest].outside]
                rules[theirs, number] = True
                rules[theirs, host.outside] = True
    return rules


def _stages(listed: Sequence[Operation], pieces: Sequence[_Piece], rules: NDArray[np.bool_]) -> list[int]:
    """Stage of each operation: its own, or that of the last operation that must precede it if later."""
    plain = {Work.DRILL: _Stage.DRILL, Work.MARK: _Stage.MARK, Work.INSIDE: _Stage.INSIDE, Work.OFFCUT: _Stage.OFFCUT}
    small = {piece.outside for piece in pieces if is_small(piece.part)}
    own = [plain.get(one.work, _Stage.SMALL if index in small else _Stage.LARGE) for index, one in enumerate(listed)]
    # The rules are transitive, so looking at the own stage of all that must come before is enough.
    return [max([stage, *(own[other] for other in np.flatnonzero(rules[:, index]))]) for index, stage in enumerate(own)]


def is_small(part: CutPart) -> bool:
    """Whether a part may come loose for its size: below `SMALL_AREA` net or narrower than `SMALL_WIDTH`."""
    bounds = region_bounds(part.region)
    return region_area(part.region) < SMALL_AREA or min(bounds.width, bounds.height) < SMALL_WIDTH


def _shortest(listed: Sequence[Operation], rules: NDArray[np.bool_], at: Point) -> list[Operation]:
    """The operations of one stage in a short order, each closed edge begun at the corner that saves most travel."""
    best: list[Operation] = []
    best_travel = np.inf
    now = list(listed)
    numbers = list(range(len(listed)))
    for _ in range(4):
        begins, ends = np.array([one.begin for one in now]), np.array([one.end for one in now])
        here = np.array(numbers)
        tour = shortest_tour(begins, ends, rules[np.ix_(here, here)], at)
        now = [_turned(now[visit]) if visit in tour.turned else now[visit] for visit in tour.order]
        numbers = [numbers[visit] for visit in tour.order]
        now, length = _best_begins(now, at)
        if length >= best_travel - 1e-6:
            break
        best, best_travel = now, length
    return best


def _turned(one: Operation) -> Operation:
    # Only open contours (marks, offcut lines) have two ends to choose from; closed ones are turned round for nothing.
    return one if one.contour.is_closed else replace(one, contour=reversed_contour(one.contour))


def _best_begins(ordered: Sequence[Operation], at: Point) -> tuple[list[Operation], float]:
    """Begin each closed edge at the segment end that makes the whole way shortest, the order being given.

    One pass forward over all choices (each edge's points against those of the one before), one back to read them off.
    """
    choices = [_choices(one) for one in ordered]
    leaves = [
        points if one.contour.is_closed else np.array([one.end]) for one, points in zip(ordered, choices, strict=True)
    ]
    cost = np.zeros(1)
    last = np.array([at])
    came: list[NDArray[np.intp]] = []
    for points, leaving in zip(choices, leaves, strict=True):
        total = cost[:, None] + np.hypot(last[:, None, 0] - points[None, :, 0], last[:, None, 1] - points[None, :, 1])
        came.append(total.argmin(axis=0))
        cost, last = total.min(axis=0), leaving
    pick = int(cost.argmin())
    length = float(cost[pick])
    done: list[Operation] = []
    for one, source in zip(reversed(ordered), reversed(came), strict=True):
        done.append(_begun_at(one, pick))
        pick = int(source[pick])
    return done[::-1], length


def _choices(one: Operation) -> NDArray[np.float64]:
    if one.work is Work.DRILL or not one.contour.is_closed:
        return np.array([one.begin])
    return np.array([segment.start for segment in one.contour.segments])


def _begun_at(one: Operation, pick: int) -> Operation:
    if pick == 0:
        return one
    segments = one.contour.segments
    return replace(one, contour=Contour(segments[pick:] + segments[:pick], is_closed=True))
