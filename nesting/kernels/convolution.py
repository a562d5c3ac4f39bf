"""Where two shapes collide, from the convolution of their outlines.

Walk round shape a and round minus b; wherever a side of the one points into the turn at a corner of the other, that
side moved to the corner is part of the convolution, backwards where the turn is to the right. Around a displacement of
b the convolution winds once for each piece that the two have in common (Guibas, Ramshaw and Stolfi 1983, A kinetic
framework for computational geometry): it winds around zero times exactly where they do not collide. A hole, wound
clockwise, takes one off where the other shape lies inside it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.kernels import inner, kernel
from nesting.kernels.shapes import Floats, Ints
from nesting.kernels.tables import FREE, FULL, MOST, trace_border, winding_at, write_sizes

CROWDED = 24
"""More sides than this in one cell are not looked through for a free spot between them; the cell keeps them all."""
ASIDE = 1e-7
"""Of a cell's side: how far to either side of a border it is asked how often the border winds around there."""


@kernel
def convolve(a: Floats, b: Floats) -> Floats:
    """Directed sides of the convolution of two rings (n, 2) and (m, 2) without repeated points. -> (k, 4)."""
    n = len(a)
    m = len(b)
    angle = np.empty(n + m)
    _directions(a, angle[:n])
    _directions(b, angle[n:])
    # Sides in order of direction, those of b before those of a where both point the same way, as if a were turned by
    # next to nothing. Ranks leave no doubt about what lies between two directions, whatever rounding did to them.
    order = np.empty(n + m, np.int64)
    order[:m] = np.arange(n, n + m)
    order[m:] = np.arange(n)
    order = order[np.argsort(angle[order], kind="mergesort")]
    rank = np.empty(n + m, np.int64)
    for k in range(n + m):
        rank[order[k]] = k
    out = np.empty((0, 4))
    for turn in range(2):  # count, then enter
        k = 0
        for i in range(n):
            h = i - 1 if i > 0 else n - 1
            bend = _bend(angle[h], angle[i])
            if bend == 0:
                continue
            first = rank[h] if bend > 0 else rank[i]
            last = rank[i] if bend > 0 else rank[h]
            for j in range(m):
                if _between(first, rank[n + j], last):
                    if turn == 1:
                        g = j + 1 if j + 1 < m else 0
                        _enter(out, k, bend, a[i, 0], a[i, 1], b[j, 0], b[j, 1], b[g, 0], b[g, 1])
                    k += 1
        for j in range(m):
            g = j - 1 if j > 0 else m - 1
            bend = _bend(angle[n + g], angle[n + j])
            if bend == 0:
                continue
            first = rank[n + g] if bend > 0 else rank[n + j]
            last = rank[n + j] if bend > 0 else rank[n + g]
            for i in range(n):
                if _between(first, rank[i], last):
                    if turn == 1:
                        h = i + 1 if i + 1 < n else 0
                        _enter(out, k, bend, b[j, 0], b[j, 1], a[i, 0], a[i, 1], a[h, 0], a[h, 1])
                    k += 1
        if turn == 0:
            out = np.empty((k, 4))
    return out


@inner
def _directions(ring: Floats, angle: Floats) -> None:
    n = len(ring)
    for i in range(n):
        j = i + 1 if i + 1 < n else 0
        angle[i] = np.arctan2(ring[j, 1] - ring[i, 1], ring[j, 0] - ring[i, 0])
        if angle[i] == -np.pi:
            angle[i] = np.pi


@inner
def _bend(before: float, after: float) -> int:
    """1 where the outline turns left, -1 right, 0 straight on."""
    bend = after - before
    if bend > np.pi:
        bend -= 2.0 * np.pi
    elif bend <= -np.pi:
        bend += 2.0 * np.pi
    return int(np.sign(bend))


@inner
def _between(first: int, k: int, last: int) -> bool:
    """Whether k comes after `first` and before `last` on the way round."""
    if first < last:
        return first < k < last
    return k > first or k < last


@inner
def _enter(out: Floats, k: int, bend: int, x: float, y: float, x1: float, y1: float, x2: float, y2: float) -> None:
    if bend > 0:
        out[k, 0] = x1 + x
        out[k, 1] = y1 + y
        out[k, 2] = x2 + x
        out[k, 3] = y2 + y
    else:
        out[k, 0] = x2 + x
        out[k, 1] = y2 + y
        out[k, 2] = x1 + x
        out[k, 3] = y1 + y


@kernel
def corner_windings(edges: Floats, x0: float, y0: float, step: float, nx: int, ny: int) -> NDArray[np.int32]:
    """How often directed edges wind around each grid corner. (m, 4) -> (ny + 1, nx + 1)."""
    winding = np.zeros((ny + 1, nx + 1), np.int32)
    for e in range(len(edges)):
        y1 = edges[e, 1]
        y2 = edges[e, 3]
        j0 = max(0, int(np.floor((min(y1, y2) - y0) / step)))
        j1 = min(ny, int(np.ceil((max(y1, y2) - y0) / step)))
        for j in range(j0, j1 + 1):
            y = y0 + j * step
            if (y1 > y) != (y2 > y):
                x = edges[e, 0] + (y - y1) / (y2 - y1) * (edges[e, 2] - edges[e, 0])
                i = max(0, int((x - x0) / step) - 1)
                while i <= nx and x0 + i * step < x:
                    i += 1
                if i <= nx:
                    winding[j, i] += 1 if y2 < y1 else -1
    for j in range(ny + 1):
        for i in range(1, nx + 1):
            winding[j, i] += winding[j, i - 1]
    return winding


@kernel
def crossed_by_border(
    edges: Floats,
    cells: Ints,
    starts: Ints,
    winding: NDArray[np.int32],
    x0: float,
    y0: float,
    step: float,
) -> NDArray[np.bool_]:
    """Which of the cells that edges pass have a free spot; the others collide all over. Edges go cell by cell. (k,)."""
    nx = winding.shape[1] - 1
    out = np.zeros(len(cells), np.bool_)
    cuts = np.empty(CROWDED + 1)
    for c in range(len(cells)):
        j, i = divmod(cells[c], nx)
        first = starts[c]
        last = starts[c + 1]
        if (
            min(winding[j, i], winding[j, i + 1], winding[j + 1, i], winding[j + 1, i + 1]) <= 0
            or last - first > CROWDED
            or _has_free_spot(edges, first, last, winding[j, i], x0 + i * step, y0 + j * step, step, cuts)
        ):
            out[c] = True
    return out


@inner
def _has_free_spot(
    edges: Floats, first: int, last: int, start: int, cx: float, cy: float, step: float, cuts: Floats
) -> bool:
    """Ask on both sides of every stretch of every edge, between where others cross it, within the cell."""
    for e in range(first, last):
        px = edges[e, 0]
        py = edges[e, 1]
        ux = edges[e, 2] - px
        uy = edges[e, 3] - py
        lo = 0.0
        hi = 1.0
        for axis in range(2):
            p = px - cx if axis == 0 else py - cy
            u = ux if axis == 0 else uy
            if u != 0.0:
                s = -p / u
                t = (step - p) / u
                lo = max(lo, min(s, t))
                hi = min(hi, max(s, t))
            elif p < 0.0 or p > step:
                hi = -1.0
        if hi <= lo:
            continue
        count = 0
        for f in range(first, last):
            vx = edges[f, 2] - edges[f, 0]
            vy = edges[f, 3] - edges[f, 1]
            cross = ux * vy - uy * vx
            if f == e or cross == 0.0:
                continue
            t = ((edges[f, 0] - px) * vy - (edges[f, 1] - py) * vx) / cross
            if lo < t < hi:
                at = count
                while at > 0 and cuts[at - 1] > t:
                    cuts[at] = cuts[at - 1]
                    at -= 1
                cuts[at] = t
                count += 1
        cuts[count] = hi
        aside = ASIDE * step / np.hypot(ux, uy)
        before = lo
        for q in range(count + 1):
            t = 0.5 * (before + cuts[q])
            before = cuts[q]
            for sign in (-1.0, 1.0):
                x = px + t * ux - sign * aside * uy
                y = py + t * uy + sign * aside * ux
                if winding_at(edges, first, last, start, cx, cy, x, y) <= 0:
                    return True
    return False


@kernel
def table(
    edges: Floats, first: Floats, second: Floats, weight: float, eps: float, x0: float, y0: float, step: float,
    nx: int, ny: int,
) -> tuple[NDArray[np.int32], float, Ints, Ints, Floats]:  # fmt: skip
    """The grid of one pair table from its directed border (m, 4) and the circles of both shapes (k, 3).

    Cells with sizes (ny + 1, nx + 1), what a size of one stands for, then for the cells that the border crosses where
    each one's edges start, how often the border winds around its low left corner, and the edges.
    """
    cells, starts, listed = trace_border(edges, x0, y0, step, nx, ny)
    winding = corner_windings(edges, x0, y0, step, nx, ny)
    edges = edges[listed]  # cell by cell
    crossed = crossed_by_border(edges, cells, starts, winding, x0, y0, step)
    code = np.empty((ny + 1, nx + 1), np.int32)
    for j in range(ny + 1):
        for i in range(nx + 1):
            code[j, i] = FULL if winding[j, i] > 0 and j < ny and i < nx else FREE
    count = 0
    kept = 0
    for c in range(len(cells)):
        j, i = divmod(cells[c], nx)
        code[j, i] = FULL
        if crossed[c]:
            count += 1
            code[j, i] = count
            kept += starts[c + 1] - starts[c]
    begins = np.empty(count + 1, np.int64)
    around = np.empty(count, np.int64)
    out = np.empty((kept, 4))
    begins[0] = 0
    count = 0
    kept = 0
    for c in range(len(cells)):
        if crossed[c]:
            j, i = divmod(cells[c], nx)
            around[count] = winding[j, i]
            for k in range(starts[c], starts[c + 1]):
                for q in range(4):
                    out[kept, q] = edges[k, q]
                kept += 1
            count += 1
            begins[count] = kept
    near = np.zeros((ny + 1, nx + 1), np.bool_)
    for j in range(ny):
        for i in range(nx):
            if code[j, i] != FREE:
                near[j, i] = near[j, i + 1] = near[j + 1, i] = near[j + 1, i + 1] = True
    sizes = np.empty((ny + 1, nx + 1), np.float32)
    write_sizes(first, second, weight, eps, near, x0, y0, step, np.empty(nx + 1), sizes)
    largest = np.float32(0.0)
    for j in range(ny + 1):
        for i in range(nx + 1):
            largest = max(largest, sizes[j, i])
    unit = float(largest) / MOST
    for j in range(ny + 1):
        for i in range(nx + 1):
            code[j, i] = (code[j, i] << 16) + np.int32(np.rint(sizes[j, i] / np.float32(unit)))
    return code, unit, begins, around, out
