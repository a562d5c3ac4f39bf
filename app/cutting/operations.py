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

from app.cutting.contours import begun_near
from app.cutting.ground import COARSE, Ground
from app.cutting.leads import LeadRules
from app.cutting.offcut_lines import offcut_lines
from app.cutting.placed import placed_drills, placed_marks, placed_region
from app.cutting.travel import shortest_tour
from app.cutting.ways import Loops, Way, finish_ways, lead_rules, loops_of_offcuts, loops_of_part, with_starts
from app.fabrication.part import CutPart
from app.job.cutting import USUAL, Cutting, Direction
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
        Finished edge, mm in the sheet's frame, true arcs; begins where the cutter goes in. Climb cutting goes
        clockwise round outside edges and anticlockwise round inside ones, conventional cutting the other way. A
        drilled hole is its circle.
    part : str
        Part id; empty for an offcut line.
    copy : int
        0-based copy of the part.
    ways : tuple of Way
        What the middle of the cutter follows, in order; none for drilled holes, marks, and holes too narrow for it.
    """

    work: Work
    contour: Contour
    part: str = ""
    copy: int = 0
    ways: tuple[Way, ...] = ()

    @property
    def begin(self) -> Point:
        """Where the cutter goes in, mm: the start of its way, of the contour, or the centre of a drilled hole."""
        if self.ways:
            return self.ways[0].contour.segments[0].start
        return self._centre() if self.work is Work.DRILL else self.contour.segments[0].start

    @property
    def end(self) -> Point:
        """Where the cutter comes out, mm."""
        if self.ways:
            return self.ways[-1].contour.segments[-1].end
        return self._centre() if self.work is Work.DRILL else self.contour.segments[-1].end

    def _centre(self) -> Point:
        # A drilled hole is a circle of two half arcs, so its centre lies half way between their ends.
        (x0, y0), (x1, y1) = self.contour.segments[0].start, self.contour.segments[0].end
        return (x0 + x1) / 2, (y0 + y1) / 2


@dataclass(frozen=True, slots=True, eq=False)
class _Task:
    """An operation before its place in the order is known: with the ways round its edge and where they may begin."""

    operation: Operation
    loops: Loops | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """A placed copy: its true curves and the numbers of its operations."""

    part: CutPart
    copy: int
    region: Region
    before_outside: list[int]  # drills, marks and holes
    holes: list[int]
    outside: int


def operations(sheet: PlannedSheet, cutting: Cutting = USUAL) -> tuple[Operation, ...]:
    """Everything to do on a sheet, in cutting order; the same sheet always gives the same order.

    Every drilled hole, mark, inside and outside edge of every part is there exactly once, and every offcut's lines.
    """
    ground = Ground(sheet, COARSE)
    rules = lead_rules(sheet, cutting)
    tasks, pieces = _list(sheet, cutting, ground, rules)
    listed = [task.operation for task in tasks]
    before = _rules(listed, pieces)
    stages = _stages(listed, pieces, before)
    done: list[_Task] = []
    at = ZERO_CORNER
    for stage in sorted(set(stages)):
        members = [index for index, one in enumerate(stages) if one == stage]
        made = _shortest([tasks[index] for index in members], before[np.ix_(members, members)], at)
        done += made
        at = _ends(made[-1])[1][0]
    return _finished(done, sheet, cutting, ground, rules)


def _list(sheet: PlannedSheet, cutting: Cutting, ground: Ground, rules: LeadRules) -> tuple[list[_Task], list[_Piece]]:
    tasks: list[_Task] = []
    pieces: list[_Piece] = []
    for owner, placed in enumerate(sheet.placed):
        part, copy = placed.part, placed.placement.copy
        region = placed_region(placed)
        outside_loops, *hole_loops = loops_of_part(placed, owner, cutting, rules, is_small=is_small(part))
        before = len(tasks)
        for drill in placed_drills(placed):
            tasks.append(_Task(Operation(Work.DRILL, circle(drill.centre, drill.diameter / 2), part.id, copy)))
        for mark in placed_marks(placed):
            tasks.append(_Task(Operation(Work.MARK, mark, part.id, copy)))
        first_hole = len(tasks)
        # In a region the material lies to the left of its edges: conventional cutting has it there, climb cutting not.
        is_climb = cutting.direction is Direction.CLIMB
        for hole, loops in zip(region.holes, hole_loops, strict=True):
            edge = reversed_contour(hole) if is_climb else hole
            tasks.append(_Task(Operation(Work.INSIDE, edge, part.id, copy), loops))
        edge = reversed_contour(region.outer) if is_climb else region.outer
        tasks.append(_Task(Operation(Work.OUTSIDE, edge, part.id, copy), outside_loops))
        outside = len(tasks) - 1
        pieces.append(
            _Piece(part, copy, region, list(range(before, outside)), list(range(first_hole, outside)), outside)
        )
    for number, offcut in enumerate(sheet.offcuts):
        for line in offcut_lines(offcut, sheet):
            loops = loops_of_offcuts(offcut, line, len(sheet.placed) + number, rules)
            tasks.append(_Task(Operation(Work.OFFCUT, line), loops))
    found = iter(with_starts([task.loops for task in tasks if task.loops is not None], ground, rules))
    return [task if task.loops is None else replace(task, loops=next(found)) for task in tasks], pieces


def _finished(
    done: Sequence[_Task], sheet: PlannedSheet, cutting: Cutting, ground: Ground, rules: LeadRules
) -> tuple[Operation, ...]:
    """The operations with their ways and holding, each finished edge begun beside the place of entry."""
    ways = iter(finish_ways([task.loops for task in done if task.loops is not None], sheet, cutting, ground, rules))
    made = []
    for task in done:
        one = task.operation
        if task.loops is None:
            made.append(one)
            continue
        mine = next(ways)
        contour = one.contour
        if mine and contour.is_closed:
            # A path that shares a cut begins at that cut.
            contour = begun_near(contour, mine[0].loop.segments[0].start)
        made.append(replace(one, contour=contour, ways=mine))
    return tuple(made)


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


def _shortest(listed: Sequence[_Task], rules: NDArray[np.bool_], at: Point) -> list[_Task]:
    """The tasks of one stage in a short order, each closed edge begun where it saves most travel."""
    best: list[_Task] = []
    best_travel = np.inf
    now = list(listed)
    numbers = list(range(len(listed)))
    for _ in range(4):
        ends = [_ends(one) for one in now]
        begins, leaves = np.array([one[0][0] for one in ends]), np.array([one[1][0] for one in ends])
        # A closed way cannot be run from its other end: for the tour it begins and ends where it meets the edge.
        is_closed = np.array([one.operation.contour.is_closed for one in now])
        begins[is_closed] = leaves[is_closed] = (begins[is_closed] + leaves[is_closed]) / 2
        here = np.array(numbers)
        tour = shortest_tour(begins, leaves, rules[np.ix_(here, here)], at)
        now = [_turned(now[visit]) if visit in tour.turned else now[visit] for visit in tour.order]
        numbers = [numbers[visit] for visit in tour.order]
        now, length = _best_begins(now, at)
        if length >= best_travel - 1e-6:
            break
        best, best_travel = now, length
    return best


def _turned(task: _Task) -> _Task:
    # Only open contours (marks, offcut lines) have two ends to choose from; closed ones are turned round for nothing.
    one = task.operation
    if one.contour.is_closed:
        return task
    turned = replace(one, contour=reversed_contour(one.contour))
    return _Task(turned, None if task.loops is None else task.loops.turned())


def _best_begins(ordered: Sequence[_Task], at: Point) -> tuple[list[_Task], float]:
    """Begin each closed edge where it makes the whole way shortest, the order being given.

    One pass forward over all choices (each edge's points against those of the one before), one back to read them off.
    """
    choices = [_ends(task) for task in ordered]
    cost = np.zeros(1)
    last = np.array([at])
    came: list[NDArray[np.intp]] = []
    for begins, leaves in choices:
        total = cost[:, None] + np.hypot(last[:, None, 0] - begins[None, :, 0], last[:, None, 1] - begins[None, :, 1])
        came.append(total.argmin(axis=0))
        cost, last = total.min(axis=0), leaves
    pick = int(cost.argmin())
    length = float(cost[pick])
    done: list[_Task] = []
    for task, source in zip(reversed(ordered), reversed(came), strict=True):
        done.append(_begun_at(task, pick))
        pick = int(source[pick])
    return done[::-1], length


def _ends(task: _Task) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where the cutter may come in, (n, 2), and where it then goes out; the first is what is chosen now."""
    if task.loops is not None and task.loops.contours:
        return task.loops.ends()
    one = task.operation
    if one.work is Work.DRILL or not one.contour.is_closed:
        return np.array([one.begin]), np.array([one.end])
    points = np.array([segment.start for segment in one.contour.segments])
    return points, points


def _begun_at(task: _Task, pick: int) -> _Task:
    if pick == 0:
        return task
    if task.loops is not None and task.loops.contours:
        return replace(task, loops=task.loops.begun_at(pick))
    segments = task.operation.contour.segments
    turned = Contour(segments[pick:] + segments[:pick], is_closed=True)
    return replace(task, operation=replace(task.operation, contour=turned))
