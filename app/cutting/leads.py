"""Where the cutter comes to its path, and how.

An arc lead is a quarter circle that meets the path without a bend, on the scrap side, and leaves it by another one. It
must be clear of every other part, of offcuts, clamps and margin, and begins on a straight run away from corners (on a
round path, anywhere). Where no arc fits, the cutter ramps down along the path itself, beginning on a straight run, and
goes over the ramp again at the end. Where there is no straight run either, it plunges.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from app.cutting.contours import stretch
from app.cutting.ground import Ground
from geometry.contour import Contour
from geometry.curve import Arc, Point
from geometry.linearcs import LineArcs
from geometry.measure import contour_length

ROOM: Final = 0.1
"""mm; a lead keeps this much farther than the cutter's radius from everything but its own part."""
_LONG_RUN: Final = 80.0
"""mm; on runs longer than this more than the middle is tried."""
_RUNS: Final = 12
"""Straight runs tried on one path, the longest first."""
_CHORDS: Final = 16  # of the half circle that the two arcs of a lead make
_FAR: Final = 5  # chords at either end that are plainly off the path: from 34 degrees of the arc on
_SMOOTH: Final = 3.0
"""An arc of the path is a run to begin on when its radius is at least this many cutter radii."""


class Entry(StrEnum):
    """How the cutter comes to its path."""

    ARC = "arc"
    RAMP = "ramp"
    PLUNGE = "plunge"
    EDGE = "edge"  # from beyond the sheet's edge, or from a cut already made


@dataclass(frozen=True, slots=True)
class Start:
    """A place on a closed path where the cutter may come to it: a segment and the parameter on it."""

    segment: int
    t: float
    entry: Entry


@dataclass(frozen=True, slots=True)
class LeadRules:
    """What holds for all leads of a sheet.

    Fields
    ------
    cutter_radius, arc_radius, ramp_length : float, mm
    wants_arc : bool
    scrap_is_left : bool
        Of the direction of travel: so when climb cutting with a clockwise spindle.
    """

    cutter_radius: float
    arc_radius: float
    ramp_length: float
    wants_arc: bool
    scrap_is_left: bool


def starts(
    loops: Sequence[Contour], owners: Sequence[int], ground: Ground, rules: LeadRules
) -> list[tuple[Start, ...]]:
    """For each closed path (run as it is cut; `owners` are places in the sheet's list) where it may be begun."""
    tried = [_runs(loop, rules) for loop in loops]
    found: list[list[Start]] = [[] for _ in loops]
    if rules.wants_arc:
        for wants_straight in (True, False):
            _fit(loops, owners, tried, found, ground, rules, wants_straight=wants_straight)
    for index, runs in enumerate(tried):
        if not found[index]:
            best = [run for run in runs if run.is_straight] or runs
            found[index] = [Start(run.segment, run.t, Entry.RAMP) for run in best]
        if not found[index]:
            found[index] = [Start(place, 0.0, Entry.PLUNGE) for place in range(len(loops[index].segments))]
    return [tuple(one) for one in found]


@dataclass(frozen=True, slots=True)
class _Run:
    segment: int
    t: float
    is_straight: bool
    at: Point
    heading: Point


def _runs(loop: Contour, rules: LeadRules) -> list[_Run]:
    """Places on straight runs, then on round ones, all at least the cutter's radius from the run's ends."""
    lines = LineArcs.of(loop.segments)
    straight = ~lines.is_arc
    is_run = lines.length >= 2.0 * rules.cutter_radius
    is_run &= straight | (lines.radius >= _SMOOTH * rules.cutter_radius)
    # Fitted curves are chains of short arcs and lines that go on smoothly: a straight run begins and ends at a bend,
    # so only lines that are long themselves count as straight.
    order = np.lexsort((-lines.length, ~straight))
    chosen = [int(index) for index in order if is_run[index]]
    chosen = [index for index in chosen if straight[index]][:_RUNS] + [i for i in chosen if not straight[i]][:_RUNS]
    runs = []
    for index in chosen:
        for t in (0.5, 0.25, 0.75) if lines.length[index] > _LONG_RUN else (0.5,):
            at, heading = _on(lines, index, t)
            runs.append(_Run(index, t, bool(straight[index]), at, heading))
    return runs


def _on(lines: LineArcs, index: int, t: float) -> tuple[Point, Point]:
    """Point and unit heading at parameter t of a line or arc."""
    (x0, y0), (dx, dy) = lines.start[index].tolist(), lines.chord[index].tolist()
    bulge, size = float(lines.bulge[index]), float(lines.chord_length[index])
    if bulge == 0.0:
        return (x0 + t * dx, y0 + t * dy), (dx / size, dy / size)
    half = 2.0 * math.atan(bulge)
    scale, turn = math.sin(t * half) / math.sin(half), (1.0 - t) * half
    cosine, sine = math.cos(turn) * scale, math.sin(turn) * scale
    lean = (2.0 * t - 1.0) * half
    ux, uy, cl, sl = dx / size, dy / size, math.cos(lean), math.sin(lean)
    return (x0 + cosine * dx + sine * dy, y0 - sine * dx + cosine * dy), (cl * ux - sl * uy, sl * ux + cl * uy)


def _fit(
    loops: Sequence[Contour],
    owners: Sequence[int],
    tried: Sequence[Sequence[_Run]],
    found: list[list[Start]],
    ground: Ground,
    rules: LeadRules,
    *,
    wants_straight: bool,
) -> None:
    """Add the places where both arcs of a lead are clear, for paths that have none yet."""
    asked = [
        (index, run)
        for index in range(len(loops))
        if not found[index]
        for run in tried[index]
        if run.is_straight == wants_straight
    ]
    if not asked:
        return
    points = _half_circles(np.array([run.at for _, run in asked]), np.array([run.heading for _, run in asked]), rules)
    ways = shapely.linestrings(points)
    far = np.array([shapely.MultiLineString([one[: _FAR + 1], one[-_FAR - 1 :]]) for one in points], dtype=object)
    owning = np.array([owners[index] for index, _ in asked])
    clear = ground.clear(ways, far, owning, rules.cutter_radius, ROOM)
    for (index, run), fits in zip(asked, clear.tolist(), strict=True):
        if fits:
            found[index].append(Start(run.segment, run.t, Entry.ARC))


def _half_circles(at: NDArray[np.float64], heading: NDArray[np.float64], rules: LeadRules) -> NDArray[np.float64]:
    """The ways of the cutter in and out, (n, chords + 1, 2): within their sagitta of the two arcs."""
    side = 1.0 if rules.scrap_is_left else -1.0
    normal = side * np.stack([-heading[:, 1], heading[:, 0]], axis=1)
    radius = rules.arc_radius
    turn = np.linspace(-math.pi / 2, math.pi / 2, _CHORDS + 1)
    along, across = radius * np.sin(turn), radius * (1.0 - np.cos(turn))
    points: NDArray[np.float64] = at[:, None] + along[:, None] * heading[:, None] + across[:, None] * normal[:, None]
    return points


def with_lead(loop: Contour, entry: Entry, rules: LeadRules) -> Contour:
    """What the cutter follows for a closed path begun at the place of entry: in, once round, out."""
    if entry is Entry.ARC:
        lines = LineArcs.of(loop.segments[:1])
        (hx, hy) = lines.tangents[0][0].tolist()
        side = 1.0 if rules.scrap_is_left else -1.0
        (x, y), radius = loop.segments[0].start, rules.arc_radius
        nx, ny = -side * hy * radius, side * hx * radius
        bulge = side * math.tan(math.pi / 8)
        begin = (x + nx - hx * radius, y + ny - hy * radius)
        end = (x + nx + hx * radius, y + ny + hy * radius)
        return Contour((Arc(begin, (x, y), bulge), *loop.segments, Arc((x, y), end, bulge)), is_closed=False)
    if entry is Entry.RAMP:
        length = min(rules.ramp_length, contour_length(loop))
        return Contour((*loop.segments, *stretch(loop, 0.0, length)), is_closed=False)
    return loop
