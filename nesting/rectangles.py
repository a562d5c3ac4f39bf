"""Jobs of rectangles only: a tree search that finds perfect and near-perfect strips where they exist."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from nesting.catalog import Catalog
from nesting.kernels import skyline
from nesting.problem import Part, Problem

Floats = NDArray[np.float64]
NODES: Final = 100_000
"""Per step of work: 10 to 50 ms."""


def is_rectangle(part: Part) -> bool:
    """Whether a part is an upright rectangle that may stand as it is or turned by quarters."""
    ring = part.outline.outer
    low, high = ring.min(axis=0), ring.max(axis=0)
    if part.outline.holes or len(ring) != 4 or not np.all((ring == low) | (ring == high)):
        return False
    return part.rotations is None or all(angle % 90.0 == 0.0 for angle in part.rotations)


class RectangleStrip:
    """Tree search for rectangles on a strip; `best` is the shortest length known, `places` how to reach it."""

    def __init__(
        self, problem: Problem, catalog: Catalog, parts: list[int], rect: Floats, best: float, *, seed: int
    ) -> None:
        self.catalog = catalog
        self.parts = parts
        self.rect = rect
        self.spacing = problem.rules.spacing
        self.height = float(rect[3] - rect[1]) + self.spacing
        self.best = best
        self.places: Floats | None = None
        self.random = np.random.default_rng(seed)
        self.types = sorted(set(parts))
        boxes = [problem.parts[t].outline.outer for t in self.types]
        self.sizes = np.array([np.ptp(ring, axis=0) for ring in boxes])
        self.counts = np.array([parts.count(t) for t in self.types], np.int64)
        ways = [{round(way.angle / 90.0) % 2 for way in catalog.attitudes[t]} for t in self.types]
        self.upright = np.array([0 in way for way in ways])
        # Types that may only stand on their side are entered with their sides exchanged.
        self.sizes[~self.upright] = self.sizes[~self.upright][:, ::-1]
        self.sizes = self.sizes + self.spacing
        oblong = self.sizes[:, 0] != self.sizes[:, 1]
        self.may_turn = (np.array([len(way) == 2 for way in ways]) & oblong).astype(np.int64)
        self.area = float((self.sizes.prod(axis=1) * self.counts).sum())
        self.unit = _unit(self.sizes)
        depth = 3 * len(parts) + 2
        self.work = (
            np.zeros((depth, len(parts) + 3)),
            np.zeros((depth, len(parts) + 3)),
            np.zeros((depth, 4), np.int64),
            np.zeros(depth),
            np.zeros((depth, 4)),
        )
        self.round = 0

    def step(self) -> bool:
        """One limited walk with a fresh order and target; True when a shorter strip was found."""
        least = self.area / self.height
        now = self.best + self.spacing
        share = (0.0, 0.5, 0.8, 0.95)[self.round % 4]
        target = least + share * (now - least)
        if self.unit > 0.0:
            # All lengths are whole multiples of the unit: the next one up from the bound, or the last below the best.
            target = max(np.floor(target / self.unit + 1e-6), np.ceil(least / self.unit - 1e-6)) * self.unit
        if target >= now - 1e-7 * now:
            return False
        noise = self.random.uniform(0.6, 1.5, len(self.types)) if self.round >= 4 else np.ones(len(self.types))
        power = (1.0, 0.5, 0.0)[self.round % 3]  # by area, by something between, by the longer side
        key = self.sizes.prod(axis=1) ** power * self.sizes.max(axis=1) ** (1.0 - power)
        order = np.argsort(-key * noise, kind="stable").astype(np.int64)
        self.round += 1
        target += 1e-9 * now
        limit = self.height * target - self.area
        nodes = NODES * (1 + self.round // 64)
        found = skyline.fill(
            self.height, target, self.sizes, self.counts, self.may_turn, order, max(limit, 0.0), nodes, *self.work
        )
        if found != skyline.FOUND:
            return False
        self._take()
        return True

    def _take(self) -> None:
        """Turn the walk's steps into places of the copies."""
        meta, placed = self.work[2], self.work[4]
        copies = {t: [i for i, part in enumerate(self.parts) if part == t] for t in self.types}
        places = np.zeros((len(self.parts), 5))
        reach = 0.0
        for along, across, kind, turned in placed[: meta[0, 1]]:
            if kind < 0:
                continue
            t = self.types[int(kind)]
            self.counts[int(kind)] += 1
            on_side = bool(turned) == bool(self.upright[int(kind)])
            way = next(way for way in self.catalog.attitudes[t] if round(way.angle / 90.0) % 2 == on_side)
            box = self.catalog.shapes.bare[way.shape]
            x, y = self.rect[0] + along - box[0], self.rect[1] + across - box[1]
            places[copies[t].pop(0)] = (x, y, 0.0, way.shape, 0)
            reach = max(reach, along + float(box[2] - box[0]))
        self.places, self.best = places, reach


def _unit(sizes: Floats) -> float:
    """Largest length of which all sizes are whole multiples, mm; 0 where that is too small to be of use."""
    whole = np.round(sizes.ravel() / 1e-6).astype(np.int64)
    unit = int(np.gcd.reduce(whole))
    return unit * 1e-6 if unit * 1e-6 > 1e-3 * float(sizes.max()) else 0.0
