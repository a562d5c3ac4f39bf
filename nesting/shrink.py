"""Making the used part of one sheet shorter: the same for a roll's length and for a larger offcut.

From a layout without overlap the sheet is cut a little shorter at a random place, everything beyond moves in, and the
overlaps are removed. What succeeds is settled (all parts moved together by a linear program) and kept. What fails with
little overlap left is settled too, which often parts the last colliding pairs after all; else it is tried again from
other disturbed states. Stretches of exploring alternate with stretches of fine compression, their lengths doubling, so
that no clock is needed to end well.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nesting.failures import Failures
from nesting.kernels.score import Effort
from nesting.kernels.separate import FREE_OF_OVERLAP, GAVE_UP
from nesting.team import WORKERS, Team

Floats = NDArray[np.float64]

BUDGET: Final = 10_000
"""Places a worker evaluates per stretch: 3 to 50 ms on a core of its own."""
FIRST_STEP: Final = 0.02
LEAST_STEP: Final = 0.001
FINE_STEPS: Final = (5e-4, 1e-4)
PATIENT: Final = Effort(wide=30, near=20, patience=60, strikes=2, own_bin=0.5, slanted=0.0, turning=0.0, mapped=1.0)
HASTY: Final = PATIENT._replace(strikes=1)
TURNED: Final = 0.05
"""How often a copy is turned freely where that is allowed. Beside such a copy others find their places slowly: it has
no tables and is on no map."""
FINE_SHARE: Final = 0.25
"""Of a cycle of exploring: the compression that follows it."""
LOOSE: Final = 1.08
"""How much longer the sheet is made to throw its copies about on it."""
LONGER: Final = 1.03
"""How much longer still when they cannot be parted there."""


def freely(effort: Effort) -> Effort:
    """The same, but copies of any angle may stand at any."""
    return effort._replace(slanted=1.0, turning=TURNED)


class Shrinker:
    """Shortens one sheet along one axis; `places` and `length` are the best so far, `done` when nothing is left.

    `places` are those to start from, without overlap. With `scattered` they are first thrown about on a longer sheet;
    `length` is then no more than an aim until the first gain. Copies of any angle are moved at right angles only unless
    the search `is_free`. `settle` is given places and the high end they must not pass. Several may share a team:
    `pause` one before another works.
    """

    def __init__(
        self,
        team: Team,
        places: Floats,
        b: int,
        axis: int,
        *,
        seed: int,
        settle: Callable[[Floats, float], Floats | None] = lambda places, most: None,
        scattered: bool = False,
        is_free: bool = False,
    ) -> None:
        self.team = team
        self.settle = settle
        self.is_free = is_free
        self.is_exact = False
        self.b = b
        self.axis = axis
        self.places = places
        self.low = float(team.bins.rect[b, axis])
        self.full = float(team.bins.rect[b, axis + 2])
        self.random = np.random.default_rng(seed)
        self.length = self._extent(places)
        self.done = False
        self.step_share = FIRST_STEP
        self.cycle = 100  # stretches of exploring before the next compression
        self.left = self.cycle
        self.compressing = False
        self.fine = FINE_STEPS[0]
        self.failures = Failures(team.parts, team.catalog.mean_diameter(team.parts))
        self.age = 0  # stretches
        self.settled = 0  # stretches until only small steps were left; zero before
        self.active: list[int] = []
        sizes = np.array([team.catalog.sizes[part] for part in team.parts])
        self.large = np.argsort(-sizes, kind="stable")[: max(2, len(sizes) // 2)]
        self.scattered = scattered
        if scattered:
            self.length *= LOOSE

    def pause(self) -> None:
        """Let go of the team, so that another may use it."""
        self.active = []

    def _take(self, places: Floats, *, settling: bool = True) -> bool:
        """Keep a layout without overlap, settled where that works; False when that leaves nothing gained.

        The search allows itself a hair of overlap, so what it shortened by less than that may be no gain once exact.
        While steps are still large layouts stay loose: a settled one is harder to squeeze.
        """
        if not settling:
            self.is_exact = False
        most = self.low + self.length if self.is_exact else np.inf
        settled = self.settle(places, most) if settling else None
        if settled is None and self.is_exact:
            return False
        taken = places if settled is None else settled
        length = self._extent(taken)
        if self.is_exact and length >= self.length - 1e-9:
            return False
        self.is_exact = settled is not None
        self.places, self.length = taken, length
        return True

    def restore_sheet(self) -> None:
        """Give the sheet its full length back."""
        self.team.bins.rect[self.b, self.axis + 2] = self.full

    def adopt(self, places: Floats) -> bool:
        """Go on from a layout found elsewhere, if it is shorter."""
        gained = self._take(places)
        if gained:
            self._gained()
        return gained

    def _gained(self) -> None:
        self.active = []
        self.failures.clear()
        self.scattered = False
        self._turn_over()

    def step(self) -> bool:
        """One stretch of work; True when the sheet became shorter."""
        self.age += 1
        if not self.active and not self._start():
            return False
        effort = PATIENT if self.step_share <= LEAST_STEP * 1.01 and not self.compressing else HASTY
        status = self.team.run(freely(effort) if self.is_free else effort, BUDGET, self.active)
        self.left -= not self.scattered
        for k in self.active:
            if (
                status[k] == FREE_OF_OVERLAP
                and self.team.is_clean(k)
                and self._take(self.team.places(k), settling=self.compressing or self.step_share <= LEAST_STEP * 1.01)
            ):
                self._gained()
                return True
        gave_up = [k for k in self.active if status[k] != 0]
        if self.scattered:
            if len(gave_up) == len(self.active):
                self.length *= LONGER
                self.active = []
            return False
        if self.compressing:
            if gave_up:
                self.fine *= 0.8
                self.active = []
                if self.fine < FINE_STEPS[1]:
                    self.left = 0
        elif self.step_share > LEAST_STEP * 1.01:
            if len(gave_up) == len(self.active):
                self.step_share = max(self.step_share / 2, LEAST_STEP)
                self.active = []
                if self.step_share == LEAST_STEP:
                    self.settled = self.age
                    return self._take(self.places)
        else:
            for k in gave_up:
                if status[k] == GAVE_UP and self._part_failure(k):
                    return True
                self._try_elsewhere(k, status[k] == GAVE_UP)
        if self.left <= 0:
            self._turn_over()
        return False

    def _turn_over(self) -> None:
        """Change between exploring and compressing when the stretch is used up."""
        if self.left > 0:
            return
        self.compressing = not self.compressing
        self.active = []
        self.failures.clear()
        if self.compressing:
            self.fine = FINE_STEPS[0]
            self.left = max(int(self.cycle * FINE_SHARE), 1)
        else:
            self.cycle = min(2 * self.cycle, 6400)
            self.left = self.cycle

    def _part_failure(self, k: int) -> bool:
        """Settle the best state of worker k's failed attempt, if that is worth it; whether it became a gain."""
        total, places = self.team.best(k)
        if not (self.is_exact and self.failures.is_promising(total) and self._take(places)):
            return False
        self._gained()
        return True

    def _set_out(self, share: float, places: Callable[[], Floats], *, even: bool) -> bool:
        """Make the sheet shorter by a share and give every worker places on it; False when something cannot fit."""
        self._set_target(self.length * (1.0 - share))
        for k in range(WORKERS):
            held = self._held_in(places())
            if held is None:
                self.done = True
                return False
            self.team.load(k, held)
            self.team.begin(k, even=even)
        self.active = list(range(WORKERS))
        return True

    def _start(self) -> bool:
        if self.scattered:
            return self._set_out(0.0, self._thrown, even=True)
        return self._set_out(self.fine if self.compressing else self.step_share, self._squeezed, even=False)

    def _set_target(self, length: float) -> None:
        self.target = length
        self.team.bins.rect[self.b, self.axis + 2] = self.low + length

    def _thrown(self) -> Floats:
        """Every copy anywhere on the sheet."""
        rect, places = self.team.bins.rect[self.b], self.places.copy()
        for i in np.flatnonzero(places[:, 4] == self.b):
            ways = self.team.right_angles(int(i))
            places[i, :2] = self.random.uniform(rect[:2], rect[2:])
            places[i, 2:4] = 0.0, ways[int(self.random.integers(len(ways)))]
        return places

    def _extent(self, places: Floats) -> float:
        """How far the copies on the sheet reach along the axis, from its low end."""
        on = np.flatnonzero(places[:, 4] == self.b)
        if not len(on):
            return 0.0
        return float(max(places[i, self.axis] + self._box(places[i])[self.axis + 2] for i in on) - self.low)

    def _box(self, place: Floats) -> Floats:
        return self.team.box(int(place[3]), float(place[2]))

    def _squeezed(self) -> Floats:
        """The best places with a piece of the sheet cut out."""
        places = self.places.copy()
        cut = self.low + self.random.uniform(0.0, self.length)
        moved = (places[:, 4] == self.b) & (places[:, self.axis] > cut)
        places[moved, self.axis] -= self.length - self.target
        return places

    def _held_in(self, places: Floats) -> Floats | None:
        """Every copy moved onto its sheet; turned, or sent to another sheet, where it does not fit as it is."""
        rect = self.team.bins.rect
        size = rect[:, 2:] - rect[:, :2]
        for i in range(len(places)):
            b = int(places[i, 4])
            box = self._box(places[i])
            if np.any(box[2:] - box[:2] > size[b] + 1e-9):
                ways = {
                    way.shape: self.team.box(way.shape, 0.0) for way in self.team.catalog.attitudes[self.team.parts[i]]
                }
                fit = [(b, s) for s, own in ways.items() if np.all(own[2:] - own[:2] <= size[b])]
                if not fit:
                    others = [k for k in range(len(rect)) if k != b]
                    fit = [(k, s) for k in others for s, own in ways.items() if np.all(own[2:] - own[:2] <= size[k])]
                if not fit:
                    return None
                b, shape = fit[int(self.random.integers(len(fit)))]
                box = ways[shape]
                places[i, 2:] = 0.0, shape, b
            for axis in (0, 1):
                high = rect[b, axis + 2] - box[axis + 2]
                places[i, axis] = max(min(places[i, axis], high), rect[b, axis] - box[axis])
        return places

    def _try_elsewhere(self, k: int, failed: bool) -> None:
        """Start worker k again from one of the best failures, with two large copies of different shape swapped."""
        if failed or not self.failures:
            self.failures.add(*self.team.best(k))
        places = self.failures.pick(self.random)
        i = int(self.random.choice(self.large))
        others = self.large[places[self.large, 3] != places[i, 3]]
        if len(others):
            j = int(self.random.choice(others))
            places[[i, j], :2] = places[[j, i], :2]
            places[[i, j], 4] = places[[j, i], 4]
        else:
            rect = self.team.bins.rect[self.b]
            places[i, :2] = self.random.uniform(rect[:2], rect[2:])
            places[i, 4] = self.b
        held = self._held_in(places)
        self.team.load(k, self.places if held is None else held)
        self.team.begin(k, even=True)
