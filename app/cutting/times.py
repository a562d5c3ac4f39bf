"""How long a sheet takes to cut, and how much the cutter does: lengths by operation, passes, time.

The machine is taken as simply as tells the truth: it speeds up and slows down at one rate, runs through smooth joints
at speed and stops at every bend, moves in the air at its rapid speed, and dives at a third of the feed. The time is an
estimate to plan a day by.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from app.cutting.feeds import SheetFeed, sheet_feed
from app.cutting.operations import ZERO_CORNER, Operation, Work
from app.job.cutting import Cutting
from app.planning.job_plan import PlannedSheet
from geometry.contour import Contour
from geometry.linearcs import LineArcs
from geometry.measure import contour_length

CLEARANCE: Final = 25.0
"""mm the cutter rises between cuts. Common practice."""
_BEND: Final = math.radians(5.0)
"""Joints that bend by less are run through without slowing down."""
_DIVE: Final = 1.0 / 3.0
"""Share of the feed at which the cutter dives. Common practice."""


@dataclass(frozen=True, slots=True)
class SheetTime:
    """Work and time of a sheet.

    Fields
    ------
    feed : SheetFeed
    lengths : dict of Work to float, mm
        Way of the cutter's middle in one pass, leads included; marks by their lines; drilled holes have none.
    cutting_s, air_s, dive_s : float
        Seconds in the material, in the air, going down.
    """

    feed: SheetFeed
    lengths: dict[Work, float]
    cutting_s: float
    air_s: float
    dive_s: float

    @property
    def total_s(self) -> float:
        """Seconds from the zero corner to the end of the last cut; loading and sweeping are not in it."""
        return self.cutting_s + self.air_s + self.dive_s


def sheet_time(sheet: PlannedSheet, ordered: Sequence[Operation], cutting: Cutting) -> SheetTime:
    """Work and time of a sheet's operations in their order."""
    feed = sheet_feed(sheet.material, sheet.cutter, cutting)
    speed, rapid, acceleration = feed.feed / 60.0, cutting.rapid / 60.0, cutting.acceleration
    lengths = dict.fromkeys(Work, 0.0)
    cutting_s = air_s = dive_s = 0.0
    at = ZERO_CORNER
    for one in ordered:
        air_s += run_time(np.array([math.dist(at, one.begin)]), rapid, acceleration) + 2 * CLEARANCE / rapid
        at = one.end
        passes = feed.passes
        if one.work is Work.DRILL:
            dive_s += sheet.material.thickness / (speed * _DIVE)
            continue
        ways = [way.contour for way in one.ways]
        if one.work is Work.MARK:
            ways, passes = [one.contour], 1
        for index, way in enumerate(ways):
            lengths[one.work] += contour_length(way)
            cutting_s += passes * run_time(straight_runs(way), speed, acceleration)
            dive_s += sheet.material.thickness / (speed * _DIVE)
            # Between passes an open way is run back to in the air.
            back = math.dist(way.segments[-1].end, way.segments[0].start)
            air_s += (passes - 1) * run_time(np.array([back]), rapid, acceleration)
            if index:
                gap = math.dist(ways[index - 1].segments[-1].end, way.segments[0].start)
                air_s += run_time(np.array([gap]), rapid, acceleration) + 2 * CLEARANCE / rapid
    return SheetTime(feed, lengths, cutting_s, air_s, dive_s)


def run_time(lengths: NDArray[np.float64], speed: float, acceleration: float) -> float:
    """Seconds for runs of those lengths (mm), each from rest to rest, at most at `speed` (mm/s).

    A run long enough reaches the speed: l / v + v / a. A shorter one turns half way: 2 sqrt(l / a).
    """
    long = lengths >= speed * speed / acceleration
    times = np.where(long, lengths / speed + speed / acceleration, 2.0 * np.sqrt(lengths / acceleration))
    return float(times[lengths > 0].sum())


def straight_runs(contour: Contour) -> NDArray[np.float64]:
    """Lengths, mm, of the stretches between bends at which a machine must stop."""
    lines = LineArcs.of(contour.segments)
    before, after = lines.tangents[1][:-1], lines.tangents[0][1:]
    bends = np.flatnonzero((before * after).sum(axis=1) < math.cos(_BEND))
    return np.add.reduceat(lines.length, np.concatenate([[0], bends + 1]))
