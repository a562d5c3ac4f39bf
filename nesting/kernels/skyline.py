"""Rectangles on a strip by tree search: fill the lowest place first, never waste more than the target allows."""

from __future__ import annotations

from nesting.kernels import inner
from nesting.kernels.shapes import Floats, Ints

FOUND = 1
NO_MORE = 0
OUT_OF_NODES = 2


@inner
def fill(
    height: float,
    length: float,
    sizes: Floats,
    count: Ints,
    may_turn: Ints,
    order: Ints,
    waste_limit: float,
    nodes: int,
    starts: Floats,
    levels: Floats,
    meta: Ints,
    waste: Floats,
    placed: Floats,
) -> int:
    """Place all rectangles on a strip of this height and length, walking the tree depth first.

    `sizes` (t, 2): extent along the strip and across it; `count` (t,) is used up, and restored unless all were placed.
    Work arrays, one row per depth: `starts`, `levels` (d, n + 2): the skyline, where across the strip each step starts
    and how far along it reaches; `meta` (d, 4): steps, next choice, step being filled, type placed; `waste` (d,);
    `placed` (d, 4): along, across, type or -1, turned. When found, `meta[0, 1]` is the number of rows in `placed`.
    """
    eps = 1e-9 * (height + length)
    types = len(order)
    left = 0
    for t in range(types):
        left += count[t]
    d = 0
    starts[0, 0] = 0.0
    levels[0, 0] = 0.0
    meta[0, 0] = 1
    meta[0, 1] = -1
    waste[0] = 0.0
    used = 0
    while d >= 0:
        if meta[d, 1] == -1:
            used += 1
            if left == 0:
                meta[0, 1] = d
                return FOUND
            low = 0
            for k in range(1, meta[d, 0]):
                if levels[d, k] < levels[d, low] - eps:
                    low = k
            meta[d, 2] = low
            meta[d, 1] = 0
            meta[d, 3] = -1
        elif meta[d, 3] >= 0:
            count[meta[d, 3]] += 1
            left += 1
            meta[d, 3] = -1
        if used > nodes:
            # Give back what is out on the way up.
            for e in range(d):
                if meta[e, 3] >= 0:
                    count[meta[e, 3]] += 1
            return OUT_OF_NODES
        low = meta[d, 2]
        start = starts[d, low]
        end = starts[d, low + 1] if low + 1 < meta[d, 0] else height
        gap = end - start
        level = levels[d, low]
        went_down = False
        while meta[d, 1] < 4 * types:
            c = meta[d, 1]
            meta[d, 1] += 1
            exact = c < 2 * types
            t = order[(c % (2 * types)) // 2]
            turned = c % 2
            if count[t] == 0 or (turned == 1 and may_turn[t] == 0):
                continue
            along = sizes[t, turned]
            across = sizes[t, 1 - turned]
            if across > gap + eps or level + along > length + eps or (abs(across - gap) <= eps) != exact:
                continue
            if d + 1 >= len(waste):
                break
            _raise_step(starts, levels, meta, d, low, across, level + along, end, eps)
            waste[d + 1] = waste[d]
            placed[d, 0] = level
            placed[d, 1] = start
            placed[d, 2] = t
            placed[d, 3] = turned
            count[t] -= 1
            left -= 1
            meta[d, 3] = t
            went_down = True
            break
        if not went_down and meta[d, 1] == 4 * types:
            # Leave the lowest place empty up to its lower neighbour.
            meta[d, 1] += 1
            up = length
            if low > 0:
                up = min(up, levels[d, low - 1])
            if low + 1 < meta[d, 0]:
                up = min(up, levels[d, low + 1])
            lost = waste[d] + gap * (up - level)
            if lost <= waste_limit + eps and up > level + eps and d + 1 < len(waste):
                _raise_step(starts, levels, meta, d, low, gap, up, end, eps)
                waste[d + 1] = lost
                placed[d, 2] = -1.0
                went_down = True
        if went_down:
            d += 1
            meta[d, 1] = -1
        else:
            d -= 1
    return NO_MORE


@inner
def _raise_step(
    starts: Floats, levels: Floats, meta: Ints, d: int, low: int, across: float, up: float, end: float, eps: float
) -> None:
    """Write the skyline of depth d + 1: the first `across` of step `low` raised to `up`, equal neighbours joined."""
    n = 0
    for k in range(meta[d, 0]):
        if k != low:
            if n == 0 or abs(levels[d + 1, n - 1] - levels[d, k]) > eps:
                starts[d + 1, n] = starts[d, k]
                levels[d + 1, n] = levels[d, k]
                n += 1
            continue
        if n == 0 or abs(levels[d + 1, n - 1] - up) > eps:
            starts[d + 1, n] = starts[d, low]
            levels[d + 1, n] = up
            n += 1
        if starts[d, low] + across < end - eps:
            starts[d + 1, n] = starts[d, low] + across
            levels[d + 1, n] = levels[d, low]
            n += 1
    meta[d + 1, 0] = n
