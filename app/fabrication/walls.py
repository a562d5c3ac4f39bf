"""Distances between opposed walls: how wide a stroke is, or a gap, place by place."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.curve import Point
from geometry.outline import Outline

OPPOSED_WITHIN: Final = 25.0
"""Two walls count as opposed when they are parallel within this angle, degrees. A wedge that closes more quickly is a
corner, not a stroke."""

_MOST_SAMPLES: Final = 2000
_TOUCHING: Final = 1e-6  # mm

_Floats = NDArray[np.float64]


class Across(Enum):
    """What is measured: the material between two walls, or the gap."""

    MATERIAL = 1.0
    GAP = -1.0


@dataclass(frozen=True, slots=True, eq=False)
class Walls:
    """Opposed walls no further apart than was asked for.

    Fields
    ------
    widths : (n,) float64
        Distance to the opposite wall, mm, measured square to the wall at each sample.
    middles : (n, 2) float64
        Half way across, mm.
    lengths : (n,) float64
        Length of wall that each sample stands for, mm.
    total : float
        Length of all walls, opposed or not, mm.
    """

    widths: NDArray[np.float64]
    middles: NDArray[np.float64]
    lengths: NDArray[np.float64]
    total: float

    def below(self, limit: float) -> tuple[float, Point, float] | None:
        """Least width below `limit` (mm), where it is, and the length of wall it holds along; None when there is none.

        A narrow place shorter than half its limit is a nick or a corner and does not count.
        """
        narrow = self.widths < limit
        length = float(self.lengths[narrow].sum())
        if length < limit:  # each place has two walls
            return None
        least = int(np.argmin(self.widths))
        x, y = self.middles[least]
        return float(self.widths[least]), (float(x), float(y)), length


def opposed_walls(outline: Outline, across: Across, *, up_to: float) -> Walls:
    """Opposed walls of a shape no further apart than `up_to` (mm).

    From samples along every edge a ray goes square into the material (or the gap); the first edge it meets is the
    opposite wall when it is parallel within `OPPOSED_WITHIN`. Samples are at most an eighth of `up_to` apart, wider on
    very long outlines; narrower things between two samples can be missed.
    """
    rings = (outline.outer, *outline.holes)
    starts = np.concatenate(rings)
    ends = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    along = ends - starts
    long = np.hypot(along[:, 0], along[:, 1])
    total = float(long.sum())
    along /= long[:, None]
    # Material lies to the left of every edge.
    inward = across.value * np.stack([-along[:, 1], along[:, 0]], axis=1)

    # Only edges that some parallel edge faces from near by can have an opposite wall.
    low, high = np.minimum(starts, ends), np.maximum(starts, ends)
    lines = shapely.linestrings(np.stack([starts, ends], axis=1))
    reach = shapely.box(*(low - up_to).T, *(high + up_to).T)
    one, other = shapely.STRtree(lines).query(reach)  # by bounding boxes: enough to narrow the choice
    one, other = one[one != other], other[one != other]
    faced = np.zeros(len(lines), dtype=bool)
    faced[one[_parallel(inward, one, other)]] = True
    nearby = faced[one]
    order = np.argsort(one[nearby], kind="stable")
    one, other = one[nearby][order], other[nearby][order]

    step = max(up_to / 8.0, total / _MOST_SAMPLES)
    counts = np.where(faced, np.maximum(1, np.ceil(long / step)), 0).astype(np.intp)
    owner = np.repeat(np.arange(len(long)), counts)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    points = starts[owner] + ((place + 0.5) / counts[owner] * long[owner])[:, None] * along[owner]

    # Every sample with every edge near its own: where the ray from the one crosses the other.
    candidates = np.bincount(one, minlength=len(lines))
    before = np.cumsum(candidates) - candidates
    sample = np.repeat(np.arange(len(owner)), candidates[owner])
    rank = np.arange(len(sample)) - np.repeat(np.cumsum(candidates[owner]) - candidates[owner], candidates[owner])
    edge = other[before[owner[sample]] + rank]
    direction, offset = inward[owner[sample]], starts[edge] - points[sample]
    across_edge = _cross(direction, along[edge])
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = _cross(offset, along[edge]) / across_edge
        share = _cross(offset, direction) / across_edge
    met = (distance > _TOUCHING) & (distance <= up_to) & (share >= -_TOUCHING) & (share <= long[edge] + _TOUCHING)
    sample, edge, distance = sample[met], edge[met], distance[met]
    order = np.lexsort((edge, distance, sample))
    sample, edge, distance = sample[order], edge[order], distance[order]
    first = np.ones(len(sample), dtype=bool)
    first[1:] = sample[1:] != sample[:-1]
    sample, edge, distance = sample[first], edge[first], distance[first]
    opposed = _parallel(inward, owner[sample], edge)
    sample, distance = sample[opposed], distance[opposed]
    return Walls(
        widths=distance,
        middles=points[sample] + 0.5 * distance[:, None] * inward[owner[sample]],
        lengths=(long / np.maximum(counts, 1))[owner[sample]],
        total=total,
    )


def _parallel(inward: _Floats, one: NDArray[np.intp], other: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Whether edges look at each other, within `OPPOSED_WITHIN`."""
    facing = -np.sum(inward[one] * inward[other], axis=1)
    return np.asarray(facing > math.cos(math.radians(OPPOSED_WITHIN)))


def _cross(a: _Floats, b: _Floats) -> _Floats:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
