"""Looking for a better place for one copy: a map of its sheet or random places, then the best of them refined."""

from __future__ import annotations

import numpy as np

from nesting.kernels import inner
from nesting.kernels.place import Bins, State
from nesting.kernels.scan import add_raster, lowest
from nesting.kernels.score import Effort, Search, evaluate, gather, move_to, uniform
from nesting.kernels.shapes import Floats, Shapes, write_rotated
from nesting.kernels.tables import Tables, ask


@inner
def relocate(
    shapes: Shapes, tables: Tables, bins: Bins, state: State, search: Search, effort: Effort, i: int, now: float
) -> bool:
    """Look for a better place of copy i, whose present weighted size is `now`; take it if there is one."""
    random = search.random
    w0 = search.way_span[i, 0]
    wn = search.way_span[i, 1] - w0
    if search.way_span[i, 2] > search.way_span[i, 1] and uniform(random) < effort.slanted:
        wn = search.way_span[i, 2] - w0
    home = state.bin[i]
    top = search.top
    top[:, 0] = np.inf
    here = state.shape[i]
    top[0, 0] = now
    top[0, 1] = state.x[i]
    top[0, 2] = state.y[i]
    top[0, 3] = here
    top[0, 4] = home
    first = 0
    if tables.map_step[0] > 0.0 and uniform(random) < effort.mapped:
        s = search.ways[w0 + int(uniform(random) * wn)]
        if _scan(shapes, tables, bins, state, search, i, s):
            first = effort.wide + effort.near // 2  # a map has looked everywhere, also near
    samples = effort.wide + effort.near
    for k in range(first, samples):
        s = search.ways[w0 + int(uniform(random) * wn)]
        b = home
        if k < effort.wide:
            if len(search.bin_share) > 1 and uniform(random) >= effort.own_bin:
                r = uniform(random)
                b = 0
                while search.bin_share[b] < r:
                    b += 1
        elif k % 2 == 0:
            s = here
        left = bins.rect[b, 0] - shapes.bare[s, 0]
        right = bins.rect[b, 2] - shapes.bare[s, 2]
        low = bins.rect[b, 1] - shapes.bare[s, 1]
        high = bins.rect[b, 3] - shapes.bare[s, 3]
        if right < left or high < low:
            continue
        if k < effort.wide:
            x = left + uniform(random) * (right - left)
            y = low + uniform(random) * (high - low)
        else:
            reach = 0.25 * shapes.number[s, 1]
            x = min(max(state.x[i] + (2.0 * uniform(random) - 1.0) * reach, left), right)
            y = min(max(state.y[i] + (2.0 * uniform(random) - 1.0) * reach, low), high)
        search.work[0] += 1.0
        score = evaluate(shapes, tables, state, search, i, s, x, y, top[2, 0], state.members[b], state.filled[b])
        if score < top[2, 0]:
            _keep(top, score, x, y, s, b, 0.1 * shapes.number[s, 1])
    best = np.inf
    bx = 0.0
    by = 0.0
    bs = 0
    bb = 0
    for k in range(3):
        if top[k, 0] == np.inf:
            break
        s = int(top[k, 3])
        b = int(top[k, 4])
        score, x, y = _refine(shapes, tables, bins, state, search, i, s, b, top[k, 1], top[k, 2], top[k, 0], 0.08, 0.02)
        if score < best:
            best = score
            bx = x
            by = y
            bs = s
            bb = b
            if best == 0.0:
                break
    if best > 0.0 and best < np.inf:
        best, bx, by = _refine(shapes, tables, bins, state, search, i, bs, bb, bx, by, best, 0.02, 0.0002)
    if best > 0.0 and search.slot[i, 0] >= 0 and uniform(random) < effort.turning:
        turned, tx, ty = _turn(shapes, tables, bins, state, search, i, bs, bb, bx, by, min(best, now))
        if turned < min(best, now):
            # The spare slot holds the better angle; the old one becomes the spare.
            search.slot[i, 0], search.slot[i, 1] = search.slot[i, 1], search.slot[i, 0]
            move_to(shapes, state, i, search.slot[i, 0], bb, tx, ty)
            return True
    if best < now:
        move_to(shapes, state, i, bs, bb, bx, by)
        return True
    return False


@inner
def _scan(shapes: Shapes, tables: Tables, bins: Bins, state: State, search: Search, i: int, s: int) -> bool:
    """Enter the best places of copy i as shape s on its sheet, found with a map; False where rasters are missing."""
    b = state.bin[i]
    step = tables.map_step[0]
    left = bins.rect[b, 0] - shapes.bare[s, 0]
    right = bins.rect[b, 2] - shapes.bare[s, 2]
    low = bins.rect[b, 1] - shapes.bare[s, 1]
    high = bins.rect[b, 3] - shapes.bare[s, 3]
    if right < left or high < low:
        return False
    missing = False
    for k in range(state.filled[b]):
        t = state.shape[state.members[b, k]]
        if t >= len(tables.which):
            continue  # turned freely: not on the map, which is no more than a hint
        if tables.map_which[s, t] < 0 and state.members[b, k] != i:
            ask(tables, s, t)
            missing = True
    if missing:
        return False
    nx = min(int(np.ceil((right - left) / step)) + 1, search.field.shape[1])
    ny = min(int(np.ceil((high - low) / step)) + 1, search.field.shape[0])
    for y in range(ny):
        row = search.field[y]
        for x in range(nx):
            row[x] = 0.0
    for k in range(state.filled[b]):
        j = state.members[b, k]
        if j != i and state.shape[j] < len(tables.which):
            r = tables.map_which[s, state.shape[j]]
            x = int(np.floor((state.x[j] - left) / step + 0.5)) + tables.map_span[r, 0]
            y = int(np.floor((state.y[j] - low) / step + 0.5)) + tables.map_span[r, 1]
            add_raster(
                search.field, nx, ny, tables.map_values, tables.map_span[r, 4], tables.map_span[r, 5],
                tables.map_span[r, 2], tables.map_span[r, 3], x, y, search.weight[i, j] * tables.map_unit[r],
            )  # fmt: skip
    search.work[0] += 50.0
    top = search.top
    for k in range(lowest(search.field, nx, ny, max(2, int(0.1 * shapes.number[s, 1] / step)), search.found)):
        u = min(left + search.found[k, 1] * step, right)
        v = min(low + search.found[k, 2] * step, high)
        score = evaluate(shapes, tables, state, search, i, s, u, v, top[2, 0], state.members[b], state.filled[b])
        if score < top[2, 0]:
            _keep(top, score, u, v, s, b, 0.1 * shapes.number[s, 1])
    return True


@inner
def _turn(
    shapes: Shapes,
    tables: Tables,
    bins: Bins,
    state: State,
    search: Search,
    i: int,
    s: int,
    b: int,
    x: float,
    y: float,
    score: float,
) -> tuple[float, float, float]:
    """Turn a copy of any angle in small steps, shifting it after each; the spare slot ends at the best angle."""
    spare = search.slot[i, 1]
    if s == search.slot[i, 0]:
        base = state.base[i]
        angle = state.angle[i]
    else:
        base = search.bases[i, int(search.way_base[s])]
        angle = search.way_angle[s]
    start = score
    best = angle
    step = 6.0
    while step > 0.05 and score > 0.0:
        gained = False
        for sign in (1.0, -1.0):
            write_rotated(shapes, base, spare, best + sign * step)
            left = bins.rect[b, 0] - shapes.bare[spare, 0]
            right = bins.rect[b, 2] - shapes.bare[spare, 2]
            low = bins.rect[b, 1] - shapes.bare[spare, 1]
            high = bins.rect[b, 3] - shapes.bare[spare, 3]
            if right < left or high < low:
                continue
            u = min(max(x, left), right)
            v = min(max(y, low), high)
            search.work[0] += 4.0
            t = evaluate(shapes, tables, state, search, i, spare, u, v, 2.0 * score, state.members[b], state.filled[b])
            if t >= score and t < 2.0 * score:
                t, u, v = _refine(shapes, tables, bins, state, search, i, spare, b, u, v, t, 0.02, 0.008)
            if t < score:
                score = t
                x = u
                y = v
                best += sign * step
                gained = True
                break
        step = step * 1.2 if gained else step * 0.5
    if score < start:
        best = best % 360.0
        write_rotated(shapes, base, spare, best)
        left = bins.rect[b, 0] - shapes.bare[spare, 0]
        right = bins.rect[b, 2] - shapes.bare[spare, 2]
        low = bins.rect[b, 1] - shapes.bare[spare, 1]
        high = bins.rect[b, 3] - shapes.bare[spare, 3]
        x = min(max(x, left), right)
        y = min(max(y, low), high)
        state.base[i] = base
        state.angle[i] = best
    return score, x, y


@inner
def _keep(top: Floats, score: float, x: float, y: float, s: int, b: int, apart: float) -> None:
    """Enter a place among the three best, at most one of each neighbourhood."""
    at = 2
    for k in range(3):
        if top[k, 0] < np.inf and top[k, 3] == s and top[k, 4] == b and abs(top[k, 1] - x) + abs(top[k, 2] - y) < apart:
            if score >= top[k, 0]:
                return
            at = k
            break
    while at > 0 and top[at - 1, 0] > score:
        for c in range(5):
            top[at, c] = top[at - 1, c]
        at -= 1
    top[at, 0] = score
    top[at, 1] = x
    top[at, 2] = y
    top[at, 3] = s
    top[at, 4] = b


@inner
def _refine(
    shapes: Shapes,
    tables: Tables,
    bins: Bins,
    state: State,
    search: Search,
    i: int,
    s: int,
    b: int,
    x: float,
    y: float,
    score: float,
    first: float,
    last: float,
) -> tuple[float, float, float]:
    """Walk downhill along the axes and diagonals with shrinking steps, given as shares of the shape's diameter."""
    left = bins.rect[b, 0] - shapes.bare[s, 0]
    right = bins.rect[b, 2] - shapes.bare[s, 2]
    low = bins.rect[b, 1] - shapes.bare[s, 1]
    high = bins.rect[b, 3] - shapes.bare[s, 3]
    step = first * shapes.number[s, 1]
    end = last * shapes.number[s, 1]
    reach = 3.0 * step
    count = gather(shapes, state, search, i, s, b, x, y, reach)
    cx = x
    cy = y
    while step > end and score > 0.0:
        r = int(uniform(search.random) * 4.0)
        ux = 0.0 if r == 1 else step
        uy = 0.0 if r == 0 else (step if r != 3 else -step)
        gained = False
        for sign in (1.0, -1.0):
            u = min(max(x + sign * ux, left), right)
            v = min(max(y + sign * uy, low), high)
            if u == x and v == y:
                continue
            search.work[0] += 1.0
            if abs(u - cx) > reach or abs(v - cy) > reach:
                count = gather(shapes, state, search, i, s, b, u, v, reach)
                cx = u
                cy = v
            t = evaluate(shapes, tables, state, search, i, s, u, v, score, search.near, count)
            if t < score:
                score = t
                x = u
                y = v
                gained = True
                break
        step = step * 1.1 if gained else step * 0.6
    return score, x, y
