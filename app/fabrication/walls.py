"""Distances between opposed walls: how wide a stroke is, or a gap, place by place."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.contour import Region
from geometry.curve import Point
from geometry.flatten import flatten_region

OPPOSED_WITHIN: Final = 25.0
"""Two walls count as opposed when they are parallel within this angle, degrees. A wedge that closes more quickly is a
corner, not a stroke."""

_TOLERANCE: Final = 0.1  # of the flattening, mm; a thousandth of what is measured
_MOST_SAMPLES: Final = 2000


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


def opposed_walls(region: Region, across: Across, *, up_to: float) -> Walls:
    """Opposed walls of a region no further apart than `up_to` (mm).

    From samples along every edge a ray goes square into the material (or the gap); the first edge it meets is the
    opposite wall when it is parallel within `OPPOSED_WITHIN`. Samples are at most an eighth of `up_to` apart, wider on
    very long outlines; narrower things between two samples can be missed.
    """
    outline = flatten_region(region, _TOLERANCE)
    rings = (outline.outer, *outline.holes)
    starts = np.concatenate(rings)
    ends = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    along = ends - starts
    long = np.hypot(along[:, 0], along[:, 1])
    total = float(long.sum())
    along /= long[:, None]
    step = max(up_to / 8.0, total / _MOST_SAMPLES)
    counts = np.maximum(1, np.ceil(long / step)).astype(np.intp)
    owner = np.repeat(np.arange(len(long)), counts)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = (place + 0.5) / counts[owner]
    points = starts[owner] + (share * long[owner])[:, None] * along[owner]
    # Material lies to the left of every edge.
    inward = across.value * np.stack([-along[:, 1], along[:, 0]], axis=1)

    tree = shapely.STRtree(shapely.linestrings(np.stack([starts, ends], axis=1)))
    rays = shapely.linestrings(np.stack([points, points + up_to * inward[owner]], axis=1))
    sample, edge = tree.query(rays, predicate="intersects")
    other = edge != owner[sample]
    sample, edge = sample[other], edge[other]
    direction = inward[owner[sample]]
    offset = starts[edge] - points[sample]
    crossing = direction[:, 0] * along[edge, 1] - direction[:, 1] * along[edge, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = (offset[:, 0] * along[edge, 1] - offset[:, 1] * along[edge, 0]) / crossing
    ahead = np.isfinite(distance) & (distance > 1e-6)
    sample, edge, distance = sample[ahead], edge[ahead], distance[ahead]
    order = np.lexsort((edge, distance, sample))
    sample, edge, distance = sample[order], edge[order], distance[order]
    first = np.ones(len(sample), dtype=bool)
    first[1:] = sample[1:] != sample[:-1]
    sample, edge, distance = sample[first], edge[first], distance[first]
    parallel = -np.sum(inward[owner[sample]] * inward[edge], axis=1)
    opposed = (parallel > math.cos(math.radians(OPPOSED_WITHIN))) & (distance <= up_to)
    sample, distance = sample[opposed], distance[opposed]
    return Walls(
        widths=distance,
        middles=points[sample] + 0.5 * distance[:, None] * inward[owner[sample]],
        lengths=(long / counts)[owner[sample]],
        total=total,
    )
