"""Removing overlaps: every copy has a place, some collide; move the colliding ones until none does.

Each pair has a weight that grows while it stays in collision, so what is stuck becomes so dear that something else
moves. Fixed obstacles are copies that never move. The method is the guided local search of overlap removal known since
Umetani et al. 2009 (ITOR 16:661-683); the size of a collision is that of `shapes.overlap_size`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nesting.kernels import inlined, inner
from nesting.kernels.place import Bins, State
from nesting.kernels.scan import add_raster, lowest
from nesting.kernels.shapes import Floats, Ints, Shapes, collide, write_rotated
from nesting.kernels.tables import Tables, pair_size

RUNNING = 0
FREE_OF_OVERLAP = 1
GAVE_UP = 2


class Search(NamedTuple):
    """What one worker keeps besides the state. `n` copies move; the rest of the state's copies are obstacles."""

    ways: Ints  # (w,): shapes a copy may take; for a copy of any angle its base shapes
    way_span: Ints  # (n, 2)
    bases: Ints  # (n, 2): unturned shape of a copy of any angle, then its mirror image if allowed; else -1
    slot: Ints  # (n, 2): shape that holds such a copy when it is turned freely, and a spare one; else -1
    weight: Floats  # (m, m)
    size: Floats  # (m, m): collision sizes as they are now
    random: NDArray[np.uint64]  # (1,)
    best: Floats  # (n, 5): best state of this run: x, y, angle, shape (or -1 - base where freely turned), sheet
    memory: Floats  # (8,): lowest total, rounds without gain, strikes, lowest at the last strike; places, moves, rounds
    way_base: Ints  # (s,): 1 where a shape is mirrored, else 0
    way_angle: Floats  # (s,): angle of a shape, degrees
    work: Floats  # (1,): effort so far, one per place evaluated and more where tables are missing
    order: Ints  # (n,): copies to be moved in the round at hand
    turn: Ints  # (2,): how many of them there are, and how many have had their turn; equal between rounds
    top: Floats  # (3, 5): the best places of the move at hand: score, x, y, shape, sheet
    met: NDArray[np.int32]  # (m + 1,): whose boxes meet the one at hand
    near: NDArray[np.int32]  # (m + 1,): whose boxes come near it
    bin_share: Floats  # (b,): cumulated chance of a sheet to be sampled
    field: NDArray[np.float32]  # scratch of the maps, as large as the largest sheet in steps
    found: Floats  # (3, 3): lowest cells of the map at hand


class Effort(NamedTuple):
    """How hard to try."""

    wide: int  # random places per move on the sheets
    near: int  # random places per move around the present one
    patience: int  # rounds without gain that make a strike
    strikes: int
    own_bin: float  # chance that a wide sample stays on the copy's own sheet
    turning: float  # chance that a copy of any angle is turned freely after its move
    mapped: float  # chance that a map takes the place of the wide samples


@inlined
def uniform(random: NDArray[np.uint64]) -> float:
    """Next number in [0, 1): splitmix64, the same on every machine and thread."""
    random[0] += np.uint64(0x9E3779B97F4A7C15)
    z = random[0]
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z = z ^ (z >> np.uint64(31))
    return float(float(z >> np.uint64(11)) * (1.0 / 9007199254740992.0))


@inlined
def evaluate(
    shapes: Shapes,
    tables: Tables,
    state: State,
    search: Search,
    i: int,
    s: int,
    x: float,
    y: float,
    bound: float,
    others: NDArray[np.int32],
    count: int,
) -> float:
    """Weighted size of the collisions of copy i as shape s at (x, y) with `others`; stops counting beyond `bound`."""
    n = len(search.order)
    x0 = x + shapes.box[s, 0]
    y0 = y + shapes.box[s, 1]
    x1 = x + shapes.box[s, 2]
    y1 = y + shapes.box[s, 3]
    # Whose boxes meet: without branches, since these would mostly be guessed wrong.
    met = 0
    for k in range(count):
        j = others[k]
        search.met[met] = j
        met += int(
            (state.box[j, 0] <= x1)
            & (state.box[j, 2] >= x0)
            & (state.box[j, 1] <= y1)
            & (state.box[j, 3] >= y0)
            & (j != i)
        )
    total = 0.0
    for k in range(met):
        j = search.met[k]
        a = s if j < n else shapes.bare_shape[s]
        value = pair_size(shapes, tables, a, state.shape[j], state.x[j] - x, state.y[j] - y, search.work)
        if value > 0.0:
            total += search.weight[i, j] * value
            if total >= bound:
                return float(total)
    return float(total)


@inner
def gather(
    shapes: Shapes, state: State, search: Search, i: int, s: int, b: int, x: float, y: float, reach: float
) -> int:
    """List in `search.near` whose boxes copy i can meet while it stays within `reach` of (x, y); returns how many."""
    x0 = x + shapes.box[s, 0] - reach
    y0 = y + shapes.box[s, 1] - reach
    x1 = x + shapes.box[s, 2] + reach
    y1 = y + shapes.box[s, 3] + reach
    count = 0
    for k in range(state.filled[b]):
        j = state.members[b, k]
        search.near[count] = j
        count += int(
            (state.box[j, 0] <= x1)
            & (state.box[j, 2] >= x0)
            & (state.box[j, 1] <= y1)
            & (state.box[j, 3] >= y0)
            & (j != i)
        )
    return count


@inner
def note_sizes(shapes: Shapes, tables: Tables, state: State, size: Floats, n: int, i: int, work: Floats) -> None:
    """Enter the collision sizes of copy i as it stands."""
    for j in range(len(size)):
        size[i, j] = 0.0
        size[j, i] = 0.0
    b = state.bin[i]
    s = state.shape[i]
    for k in range(state.filled[b]):
        j = state.members[b, k]
        if (
            j == i
            or state.box[j, 0] > state.box[i, 2]
            or state.box[j, 2] < state.box[i, 0]
            or state.box[j, 1] > state.box[i, 3]
            or state.box[j, 3] < state.box[i, 1]
        ):
            continue
        a = s if j < n else shapes.bare_shape[s]
        value = pair_size(shapes, tables, a, state.shape[j], state.x[j] - state.x[i], state.y[j] - state.y[i], work)
        size[i, j] = value
        size[j, i] = value


@inner
def note_all(shapes: Shapes, tables: Tables, state: State, search: Search) -> float:
    """Enter all collision sizes; returns their sum."""
    n = len(search.order)
    for i in range(n):
        note_sizes(shapes, tables, state, search.size, n, i, search.work)
    return total_size(search.size, n)


@inner
def total_size(size: Floats, n: int) -> float:
    """Sum over pairs, obstacles included."""
    total = 0.0
    for i in range(n):
        for j in range(i):
            total += size[i, j]
        for j in range(n, len(size)):
            total += size[i, j]
    return total


@inner
def _move_to(shapes: Shapes, state: State, i: int, s: int, b: int, x: float, y: float) -> None:
    old = state.bin[i]
    if old != b:
        n = state.filled[old]
        for k in range(n):
            if state.members[old, k] == i:
                state.members[old, k] = state.members[old, n - 1]
                break
        state.filled[old] = n - 1
        state.members[b, state.filled[b]] = i
        state.filled[b] += 1
        state.bin[i] = b
    state.x[i] = x
    state.y[i] = y
    state.shape[i] = s
    state.box[i, 0] = shapes.box[s, 0] + x
    state.box[i, 1] = shapes.box[s, 1] + y
    state.box[i, 2] = shapes.box[s, 2] + x
    state.box[i, 3] = shapes.box[s, 3] + y


@inner
def _relocate(
    shapes: Shapes, tables: Tables, bins: Bins, state: State, search: Search, effort: Effort, i: int, now: float
) -> bool:
    """Look for a better place of copy i, whose present weighted size is `now`; take it if there is one."""
    random = search.random
    w0 = search.way_span[i, 0]
    wn = search.way_span[i, 1] - w0
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
        score, x, y = _refine(
            shapes, tables, bins, state, search, i, s, b, top[k, 1], top[k, 2], top[k, 0], 0.12, 0.004
        )
        if score < best:
            best = score
            bx = x
            by = y
            bs = s
            bb = b
            if best == 0.0:
                break
    if best > 0.0 and best < np.inf:
        best, bx, by = _refine(shapes, tables, bins, state, search, i, bs, bb, bx, by, best, 0.004, 0.0002)
    if best > 0.0 and search.slot[i, 0] >= 0 and uniform(random) < effort.turning:
        turned, tx, ty = _turn(shapes, tables, bins, state, search, i, bs, bb, bx, by, min(best, now))
        if turned < min(best, now):
            # The spare slot holds the better angle; the old one becomes the spare.
            search.slot[i, 0], search.slot[i, 1] = search.slot[i, 1], search.slot[i, 0]
            _move_to(shapes, state, i, search.slot[i, 0], bb, tx, ty)
            return True
    if best < now:
        _move_to(shapes, state, i, bs, bb, bx, by)
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
            return False
        if tables.map_which[s, t] < 0 and state.members[b, k] != i:
            tables.asked[s, t] += 1
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
        if j != i:
            r = tables.map_which[s, state.shape[j]]
            x = int(np.floor((state.x[j] - left) / step + 0.5)) + tables.map_span[r, 0]
            y = int(np.floor((state.y[j] - low) / step + 0.5)) + tables.map_span[r, 1]
            add_raster(
                search.field, nx, ny, tables.map_values, tables.map_span[r, 4],
                tables.map_span[r, 2], tables.map_span[r, 3], x, y, search.weight[i, j],
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
                if _relocate(shapes, tables, bins, state, search, effort, i, now):
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
        _move_to(shapes, state, i, s, int(kept[i, 4]), kept[i, 0], kept[i, 1])


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
