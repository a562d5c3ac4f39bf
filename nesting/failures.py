"""Layouts in which a little overlap was left: what the search goes on from when a shorter sheet would not take all.

Disturbed a little, such a layout mostly falls back to itself. Kept as they come, the best twenty are therefore soon
twenty times the same one, and the search never leaves it; so of layouts that are alike only the best is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MOST: Final = 20
PROMISING: Final = 0.25
"""Of those kept: what a new one must be among to be worth a linear program."""
ALIKE: Final = 4
"""Copies that must stand elsewhere for a layout to be another one."""
NEAR: Final = 0.1
"""Of the parts' mean diameter: a copy within this of where another of its part stood counts as standing there."""


class Failure(NamedTuple):
    """A layout (`places`, see `Team`) and the sum of the sizes of its collisions."""

    total: float
    places: Floats


class Failures:
    """The best failures so far, least overlap first, each different from all others."""

    def __init__(self, parts: Sequence[int], diameter: float) -> None:
        parts = list(parts)
        self.near = NEAR * diameter
        self.copies = {part: np.flatnonzero(np.array(parts) == part) for part in set(parts)}
        self.parts = parts
        self.kept: list[Failure] = []

    def __bool__(self) -> bool:
        return bool(self.kept)

    def clear(self) -> None:
        """Forget all, since the sheet has another length now."""
        self.kept = []

    def add(self, total: float, places: Floats) -> None:
        """Keep a failure, unless one that is alike is at least as good or twenty others are better."""
        if len(self.kept) == MOST and total >= self.kept[-1].total:
            return
        alike = [self.are_alike(places, one.places) for one in self.kept]
        if any(same and one.total <= total for same, one in zip(alike, self.kept, strict=True)):
            return
        others = [one for same, one in zip(alike, self.kept, strict=True) if not same]
        self.kept = sorted([*others, Failure(total, places)], key=lambda one: one.total)[:MOST]

    def is_promising(self, total: float) -> bool:
        """Whether a failure with this much overlap would be among the best quarter."""
        return len(self.kept) < MOST or total < self.kept[int(PROMISING * MOST)].total

    def pick(self, random: np.random.Generator) -> Floats:
        """Places of one of them, the better the more often, to be changed at will."""
        at = int(abs(random.normal(0.0, 0.25)) * len(self.kept))
        return self.kept[min(at, len(self.kept) - 1)].places.copy()

    def are_alike(self, one: Floats, other: Floats) -> bool:
        """Whether fewer than `ALIKE` copies stand where no copy of their part stands in the other layout."""
        moved = np.flatnonzero(~self._meet(one, other))
        left = ALIKE
        for i in moved:
            left -= not self._meet(one[i], other[self.copies[self.parts[i]]]).any()
            if left == 0:
                return False
        return True

    def _meet(self, one: Floats, other: Floats) -> NDArray[np.bool_]:
        apart = np.abs(one - other)
        turned = np.minimum(apart[..., 2], 360.0 - apart[..., 2])
        return np.asarray(
            (np.hypot(apart[..., 0], apart[..., 1]) < self.near)
            & (turned < 10.0)
            & (apart[..., 3] == 0.0)
            & (apart[..., 4] == 0.0)
        )
