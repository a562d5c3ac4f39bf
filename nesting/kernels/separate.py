"""Removing overlaps: every copy has a place, some collide; move the colliding ones until none does.

Each pair has a weight that grows while it stays in collision, so what is stuck becomes so dear that something else
moves. Fixed obstacles are copies that never move. The method is the guided local search of overlap removal known since
Umetani et al. 2009 (ITOR 16:661-683); the size of a collision is that of `shapes.overlap_size`.
"""

from __future__ import annotations

import numpy as np

from nesting.kernels import inner
from nesting.kernels.moves import relocate
from nesting.kernels.place import Bins, State
from nesting.kernels.score import Effort, Search, move_to, note_all, note_sizes, uniform
from nesting.kernels.shapes import Floats, Shapes, collide, write_rotated
from nesting.kernels.tables import Tables

RUNNING = 0
FREE_OF_OVERLAP = 1
GAVE_UP = 2


@inner
def run(shapes: Shapes, tables: Tables, bins: Bins, state: State, search: Search, effort: Effort, budget: int) -> int:
    """Rounds of moves until nothing overlaps, hope is lost or about `budget` places have been evaluated.

    A round may be left in its midst, where many collide, and is taken up again by the next call.
    """
    n = len(search.order)
    memory = search.memory
    turn = search.turn
    stop = search.work[0] + budget
    while True:
        if turn[1] == turn[0]:
            m = 0
            for i in range(n):
                for j in range(len(search.size)):
                    if search.size[i, j] > 0.0:
                        search.order[m] = i
                        m += 1
                        break
            if m == 0:
                return FREE_OF_OVERLAP
            if search.work[0] >= stop:
                return RUNNING
            for k in range(m - 1, 0, -1):
                r = int(uniform(search.random) * (k + 1))
                search.order[k], search.order[r] = search.order[r], search.order[k]
            turn[0] = m
            turn[1] = 0
        while turn[1] < turn[0]:
            if search.work[0] >= stop:
                return RUNNING
            i = search.order[turn[1]]
            turn[1] += 1
            now = 0.0
            for j in range(len(search.size)):
                if search.size[i, j] > 0.0:
                    now += search.weight[i, j] * search.size[i, j]
            if now > 0.0:
                memory[5] += 1.0
                if relocate(shapes, tables, bins, state, search, effort, i, now):
                    note_sizes(shapes, tables, state, search.size, n, i, search.work)
        memory[6] += 1.0
        total = _reweigh(search.size, search.weight, n)
        if total < memory[0] * 0.98:
            memory[1] = 0.0
        else:
            memory[1] += 1.0
        if total < memory[0]:
            memory[0] = total
            snapshot(state, search, search.best)
        if memory[1] >= effort.patience:
            memory[1] = 0.0
            if memory[0] < 0.98 * memory[3]:
                memory[2] = 0.0
            else:
                memory[2] += 1.0
            memory[3] = memory[0]
            if memory[2] >= effort.strikes:
                return GAVE_UP
            _go_back(shapes, tables, state, search)


@inner
def _reweigh(size: Floats, weight: Floats, n: int) -> float:
    """Heavier for pairs that collide, lighter for the others; returns the sum of the sizes."""
    largest = 0.0
    total = 0.0
    for i in range(n):
        for j in range(len(size)):
            if (j < i or j >= n) and size[i, j] > 0.0:
                total += size[i, j]
                largest = max(largest, size[i, j])
    if largest == 0.0:
        return 0.0
    for i in range(n):
        for j in range(len(size)):
            if j < i or j >= n:
                if size[i, j] > 0.0:
                    weight[i, j] *= 1.2 + 0.8 * size[i, j] / largest
                elif weight[i, j] > 1.0:
                    weight[i, j] = max(1.0, 0.95 * weight[i, j])
                weight[j, i] = weight[i, j]
    return total


@inner
def snapshot(state: State, search: Search, kept: Floats) -> None:
    """Write where every copy is to `kept` (n, 5)."""
    for i in range(len(search.order)):
        kept[i, 0] = state.x[i]
        kept[i, 1] = state.y[i]
        turned = search.slot[i, 0] >= 0 and state.shape[i] == search.slot[i, 0]
        kept[i, 2] = state.angle[i] if turned else 0.0
        kept[i, 3] = -1 - state.base[i] if turned else state.shape[i]
        kept[i, 4] = state.bin[i]


@inner
def restore(shapes: Shapes, state: State, search: Search, kept: Floats) -> None:
    """Put every copy where `kept` (n, 5) says."""
    for i in range(len(search.order)):
        s = int(kept[i, 3])
        if s < 0:
            state.base[i] = -1 - s
            state.angle[i] = kept[i, 2]
            write_rotated(shapes, -1 - s, search.slot[i, 0], kept[i, 2])
            s = search.slot[i, 0]
        move_to(shapes, state, i, s, int(kept[i, 4]), kept[i, 0], kept[i, 1])


@inner
def _go_back(shapes: Shapes, tables: Tables, state: State, search: Search) -> None:
    restore(shapes, state, search, search.best)
    note_all(shapes, tables, state, search)


@inner
def begin(shapes: Shapes, tables: Tables, state: State, search: Search, even: bool) -> float:
    """Start a run from the state as it is: weights made even if asked, memory clear; returns the total size."""
    if even:
        search.weight[:] = 1.0
    total = note_all(shapes, tables, state, search)
    search.memory[0] = total
    search.memory[1] = 0.0
    search.memory[2] = 0.0
    search.memory[3] = np.inf
    search.turn[:] = 0
    snapshot(state, search, search.best)
    return total


@inner
def is_clean(shapes: Shapes, bins: Bins, state: State, n: int, slack: float) -> bool:
    """Whether nothing collides, judged from the edges alone, and every copy is on its sheet within `slack` mm."""
    for i in range(n):
        s = state.shape[i]
        b = state.bin[i]
        if (
            state.x[i] + shapes.bare[s, 0] < bins.rect[b, 0] - slack
            or state.y[i] + shapes.bare[s, 1] < bins.rect[b, 1] - slack
            or state.x[i] + shapes.bare[s, 2] > bins.rect[b, 2] + slack
            or state.y[i] + shapes.bare[s, 3] > bins.rect[b, 3] + slack
        ):
            return False
        for k in range(state.filled[b]):
            j = state.members[b, k]
            if j < i or j >= n:
                a = s if j < n else shapes.bare_shape[s]
                if collide(shapes, a, state.shape[j], state.x[j] - state.x[i], state.y[j] - state.y[i]):
                    return False
    return True
