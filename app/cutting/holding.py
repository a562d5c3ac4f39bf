"""Holding tabs: where the cutter rises a little, so that a small part or a drop stays in the sheet until it is broken
out.

Two tabs hold a part with straight edges and three a round one, more where the edge is long (common practice). They lie
on straight runs away from corners, from the place where the cutter comes in, and from neighbours, and are spread round
the edge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from app.cutting.contours import stretch
from app.cutting.ground import Ground
from geometry.contour import Contour
from geometry.linearcs import LineArcs

FEWEST: Final = 2
FEWEST_ROUND: Final = 3
MOST: Final = 8
APART: Final = 500.0
"""mm of edge that a tab more is spent on. Common practice."""
_STEP: Final = 4.0
"""mm; how far apart places for a tab are tried along a path."""
_STRAIGHT: Final = math.radians(1.0)
_GENTLE: Final = math.radians(25.0)
"""How much a path may turn under a tab to be called straight, or a gentle bend."""
_BENT: Final = 0.3
"""What a gentle bend costs, against 1 for a place right beside a neighbour."""
_PHASES: Final = 12

_Floats = NDArray[np.float64]


def tabs(
    loops: Sequence[Contour], owners: Sequence[int], ground: Ground, *, cutter_diameter: float, width: float
) -> list[tuple[Contour, ...]]:
    """For each closed path, begun where the cutter comes in, the stretches on which it is up; none where none fit.

    A tab of `width` (mm) needs a stretch longer by the cutter's diameter, for the cutter's middle is that much ahead of
    its front.
    """
    length = width + cutter_diameter
    rooms = [_places(loop, length) for loop in loops]
    if not rooms:
        return []
    near = _neighbours(loops, owners, rooms, ground, 4.0 * cutter_diameter)
    return [
        tuple(
            Contour(stretch(loop, at - length / 2, at + length / 2), is_closed=False)
            for at in _spread(room, gaps, length, cutter_diameter)
        )
        for loop, room, gaps in zip(loops, rooms, near, strict=True)
    ]


class _Room:
    """Where tabs may lie on a path: distances along it, the points there, and what each place is worth.

    `cost` is 0 on a straight run and more where the path bends; `is_round`: there is no straight run to speak of.
    """

    def __init__(self, along: _Floats, points: _Floats, cost: _Floats, total: float, *, is_round: bool) -> None:
        self.along = along
        self.points = points
        self.cost = cost
        self.total = total
        self.is_round = is_round


def _places(loop: Contour, length: float) -> _Room:
    """Places on straight runs and on gentle bends; anywhere on a path that has neither."""
    lines = LineArcs.of(loop.segments)
    ends = np.cumsum(lines.length)
    total = float(ends[-1])
    # The path begins and ends where the cutter comes in; a tab there would be cut by the lead.
    along = np.arange(length, total - length, _STEP)
    bend = _bend(lines, ends, along - 0.6 * length, along + 0.6 * length)
    is_straight, is_gentle = bend <= _STRAIGHT, bend <= _GENTLE
    is_round = not is_straight.any() or np.ptp(along[is_straight]) < total / 4
    kept = is_gentle if is_gentle.sum() >= FEWEST_ROUND else np.ones(len(along), dtype=bool)
    along, is_straight = along[kept], is_straight[kept]
    return _Room(along, _points(lines, ends, along), np.where(is_straight, 0.0, _BENT), total, is_round=is_round)


def _bend(lines: LineArcs, ends: _Floats, begin: _Floats, end: _Floats) -> _Floats:
    """How much the path turns, radians added up whichever way, between two distances along it."""
    before, after = lines.tangents
    onward = np.roll(before, -1, axis=0)
    corner = np.arccos(np.clip((after * onward).sum(axis=1), -1.0, 1.0))
    # Turning along each line or arc, then all at once at its end.
    turned = np.cumsum(np.abs(lines.sweep) + corner)
    ahead = np.concatenate([[0.0], turned[:-1]])

    def upto(at: _Floats) -> _Floats:
        index = np.minimum(np.searchsorted(ends, at, side="right"), len(ends) - 1)
        share = 1.0 - (ends[index] - at) / lines.length[index]
        found: _Floats = ahead[index] + np.clip(share, 0.0, 1.0) * np.abs(lines.sweep[index])
        return found

    return upto(end) - upto(begin)


def _points(lines: LineArcs, ends: _Floats, along: _Floats) -> _Floats:
    index = np.minimum(np.searchsorted(ends, along), len(ends) - 1)
    t = (along - (ends[index] - lines.length[index])) / lines.length[index]
    bulge = lines.bulge[index]
    half = 2.0 * np.arctan(bulge)
    is_arc = bulge != 0.0
    safe = np.where(is_arc, half, 1.0)
    scale = np.where(is_arc, np.sin(t * safe) / np.sin(safe), t)
    turn = np.where(is_arc, (1.0 - t) * half, 0.0)
    cosine, sine = np.cos(turn) * scale, np.sin(turn) * scale
    dx, dy = lines.chord[index].T
    points: _Floats = lines.start[index] + np.stack([cosine * dx + sine * dy, cosine * dy - sine * dx], axis=1)
    return points


def _neighbours(
    loops: Sequence[Contour], owners: Sequence[int], rooms: Sequence[_Room], ground: Ground, reach: float
) -> list[_Floats]:
    counts = [len(room.along) for room in rooms]
    points = np.concatenate([room.points for room in rooms])
    gaps = ground.room_round(points, np.repeat(np.array(owners, dtype=np.intp), counts), reach)
    return np.split(gaps / reach, np.cumsum(counts)[:-1])


def _spread(room: _Room, gaps: _Floats, length: float, diameter: float) -> list[float]:
    """Distances along the path for tabs, evenly spread as far as the places allow, crowded places avoided."""
    fewest = FEWEST_ROUND if room.is_round else FEWEST
    count = min(max(fewest, math.ceil(room.total / APART)), MOST)
    if len(room.along) < fewest or room.total < (fewest + 1) * 2 * length:
        return []
    # A crowded place costs as much as being a good part of the way to the next tab off its even share.
    crowded = (1.0 - gaps + room.cost) * room.total / count / 2
    best: list[float] = []
    best_cost = math.inf
    for phase in np.linspace(0.0, 1.0, _PHASES, endpoint=False):
        wanted = (phase + np.arange(count)) * room.total / count
        off = np.abs(room.along[None, :] - wanted[:, None])
        off = np.minimum(off, room.total - off) + crowded[None, :]
        picks = off.argmin(axis=1)
        chosen = np.sort(room.along[picks])
        cost = float(off.min(axis=1).sum())
        around = np.diff(np.concatenate([chosen, chosen[:1] + room.total]))
        if around.min() >= 2 * length and cost < best_cost:
            best, best_cost = chosen.tolist(), cost
    return best
