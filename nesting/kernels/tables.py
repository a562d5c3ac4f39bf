"""Tables that answer "do these two collide, and how badly" for shapes that only move, not turn.

Shape b at displacement d from shape a collides exactly when d lies in the sum of a and b turned by half a circle. A
table is a grid over that region: cells wholly free, wholly colliding, or crossed by its border; those keep the few
border edges that pass through them, so the answer stays exact. The size of a collision is interpolated from the grid's
corners. What a cell is and the size at its low left corner share 32 bits: look-ups wait for memory most of the time.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nesting.kernels import inlined, inner, kernel
from nesting.kernels.shapes import Floats, Ints, Shapes, collide, overlap_size

FREE = 0
FULL = -1
MOST = 0xFFFF
"""Largest size an entry can hold."""
LEAST = 1e-3
"""Part of the largest size in a table that any collision is worth at least."""


class Tables(NamedTuple):
    """All tables; `t` counts them. Pairs without one have -1 and are answered from the shapes."""

    which: NDArray[np.int32]  # (s, s): table of an ordered pair of shapes
    turns: NDArray[np.int8]  # (s, s): quarter turns from the pair to its table; four more where it is mirrored first
    origin: Floats  # (t, 2)
    scale: Floats  # (t,): cells per mm
    size: Ints  # (t, 4): grid lines along x, along y, first entry, first border cell
    least: Floats  # (t,): size of the slightest collision
    unit: Floats  # (t,): what a size of one stands for
    cells: NDArray[np.int32]  # 2^16 times FREE, FULL or 1 + number of a border cell in this table, plus the size
    border: Ints  # (k + 1,): first border edge of each border cell
    winding: NDArray[np.int32]  # (k,): how often the border winds around the cell's low left corner
    edges: Floats  # (m, 4), directed
    asked: NDArray[np.int32]  # (s, s): how often a pair without a table was answered
    wanted: NDArray[np.int32]  # (w + 1, 2): pairs asked about often enough; how many of them in the last row
    enough: Ints  # (1,): how often that is
    map_step: Floats  # (1,): mm per step of the rasters; zero where none are made
    map_which: NDArray[np.int32]  # (s, s): raster of an ordered pair of shapes, else -1
    map_span: Ints  # (r, 6): low corner in steps, steps along x, along y, first value, values from row to row
    map_unit: Floats  # (r,): what a value of one stands for
    map_values: NDArray[np.uint8]  # sizes; a byte each, since maps are bound by memory


@inlined
def look_up(tables: Tables, t: int, turn: int, dx: float, dy: float) -> float:
    """Size of the collision of a pair at displacement (dx, dy); zero when they do not collide."""
    if turn >= 4:
        dx = -dx
        turn -= 4
    if turn == 0:
        x = dx
        y = dy
    elif turn == 1:
        x = dy
        y = -dx
    elif turn == 2:
        x = -dx
        y = -dy
    else:
        x = -dy
        y = dx
    u = (x - tables.origin[t, 0]) * tables.scale[t]
    v = (y - tables.origin[t, 1]) * tables.scale[t]
    if u < 0.0 or v < 0.0:
        return 0.0
    i = int(u)
    j = int(v)
    nx = tables.size[t, 0]
    if i >= nx - 1 or j >= tables.size[t, 1] - 1:
        return 0.0
    at = tables.size[t, 2] + j * nx + i
    here = tables.cells[at]
    code = here >> 16
    if code == FREE:
        return 0.0
    if code > 0:
        cx = tables.origin[t, 0] + i / tables.scale[t]
        cy = tables.origin[t, 1] + j / tables.scale[t]
        k = tables.size[t, 3] + code - 1
        if winding_at(tables.edges, tables.border[k], tables.border[k + 1], tables.winding[k], cx, cy, x, y) <= 0:
            return 0.0
    u -= i
    v -= j
    low = (1.0 - u) * (here & MOST) + u * (tables.cells[at + 1] & MOST)
    at += nx
    high = (1.0 - u) * (tables.cells[at] & MOST) + u * (tables.cells[at + 1] & MOST)
    return float(max(tables.unit[t] * (low + v * (high - low)), tables.least[t]))


@inlined
def winding_at(edges: Floats, first: int, last: int, start: int, cx: float, cy: float, x: float, y: float) -> int:
    """Winding at (x, y) from that at a corner of its cell: up to its height, then across, over the cell's edges."""
    count = start
    for e in range(first, last):
        x1 = edges[e, 0]
        y1 = edges[e, 1]
        x2 = edges[e, 2]
        y2 = edges[e, 3]
        if (x1 > cx) != (x2 > cx):
            at = y1 + (cx - x1) / (x2 - x1) * (y2 - y1)
            if cy < at <= y:
                count += 1 if x2 > x1 else -1
        if (y1 > y) != (y2 > y):
            at = x1 + (y - y1) / (y2 - y1) * (x2 - x1)
            if cx < at <= x:
                count += 1 if y2 < y1 else -1
    return int(count)


@inner
def ask(tables: Tables, a: int, b: int) -> None:
    """Count a question about a pair without a table, and say so when they have become many."""
    if tables.asked[a, b] + 1 == tables.enough[0]:
        count = tables.wanted[-1, 0]
        if count == len(tables.wanted) - 1:
            return  # the next question will be the one
        tables.wanted[count, 0] = a
        tables.wanted[count, 1] = b
        tables.wanted[-1, 0] = count + 1
    tables.asked[a, b] += 1


@inlined
def pair_size(shapes: Shapes, tables: Tables, a: int, b: int, dx: float, dy: float, work: Floats) -> float:
    """Size of the collision of two shapes, from their table or else from the shapes; zero when they do not collide.

    `work` (1,) counts what that cost, in look-ups.
    """
    if a < len(tables.which) and b < len(tables.which):  # slots of freely turned shapes lie beyond
        t = tables.which[a, b]
        if t >= 0:
            return look_up(tables, t, tables.turns[a, b], dx, dy)
        ask(tables, a, b)
    work[0] += 8.0
    if collide(shapes, a, b, dx, dy):
        return overlap_size(shapes, a, b, dx, dy)
    return 0.0


@kernel
def trace_border(edges: Floats, x0: float, y0: float, step: float, nx: int, ny: int) -> tuple[Ints, Ints, Ints]:
    """Cells the border passes, in order; where each one's edges start; edges. (m, 4) -> (k,), (k + 1,), (p,)."""
    count = np.zeros(nx * ny + 1, np.int64)
    for turn in range(2):
        if turn == 1:
            total = 0
            for c in range(nx * ny + 1):
                n = count[c]
                count[c] = total
                total += n
            listed = np.empty(total, np.int64)
        for e in range(len(edges)):
            ax = (edges[e, 0] - x0) / step
            ay = (edges[e, 1] - y0) / step
            bx = (edges[e, 2] - x0) / step
            by = (edges[e, 3] - y0) / step
            j0 = max(0, int(np.floor(min(ay, by) - 1e-9)))
            j1 = min(ny - 1, int(np.floor(max(ay, by) + 1e-9)))
            for j in range(j0, j1 + 1):
                # Stretch of the edge within this row of cells.
                lo = min(ax, bx)
                hi = max(ax, bx)
                if ay != by:
                    s = (j - ay) / (by - ay)
                    t = (j + 1 - ay) / (by - ay)
                    if s > t:
                        s, t = t, s
                    s = max(0.0, s)
                    t = min(1.0, t)
                    xs = ax + s * (bx - ax)
                    xt = ax + t * (bx - ax)
                    lo = min(xs, xt)
                    hi = max(xs, xt)
                i0 = max(0, int(np.floor(lo - 1e-9)))
                i1 = min(nx - 1, int(np.floor(hi + 1e-9)))
                for i in range(i0, i1 + 1):
                    if turn == 0:
                        count[j * nx + i] += 1
                    else:
                        listed[count[j * nx + i]] = e
                        count[j * nx + i] += 1
    cells = np.empty(nx * ny, np.int64)
    starts = np.empty(nx * ny + 1, np.int64)
    k = 0
    before = 0
    for c in range(nx * ny):
        if count[c] > before:
            cells[k] = c
            starts[k] = before
            k += 1
            before = count[c]
    starts[k] = before
    return cells[:k].copy(), starts[: k + 1].copy(), listed


@inner
def write_sizes(
    first: Floats,
    second: Floats,
    weight: float,
    eps: float,
    near: NDArray[np.bool_],
    x0: float,
    y0: float,
    step: float,
    total: Floats,
    out: NDArray[np.float32],
) -> None:
    """Size of the collision of two shapes' circles at each grid corner that is `near` a colliding cell, else 0.

    As `shapes.overlap_size` has it, a row of corners at a time, so that the compiler does several at once.
    `total` (nx,) is scratch.
    """
    ny, nx = near.shape
    for j in range(ny):
        low = 0
        high = nx
        while low < nx and not near[j, low]:
            low += 1
        while high > low and not near[j, high - 1]:
            high -= 1
        row = total[: high - low]
        for i in range(len(row)):
            row[i] = 0.0
        for p in range(len(first)):
            r = first[p, 2]
            px = first[p, 0]
            y = first[p, 1] - (y0 + j * step)
            for q in range(len(second)):
                s = second[q, 2]
                least = min(r, s)
                reach = r + s
                qx = second[q, 0]
                uy = second[q, 1] - y
                uy *= uy
                for i in range(len(row)):
                    ux = qx - (px - (x0 + (low + i) * step))
                    depth = reach - np.sqrt(ux * ux + uy)
                    slight = eps * eps / (2.0 * eps - min(depth, eps))
                    row[i] += (slight if depth < eps else depth) * least
        for i in range(nx):
            out[j, i] = 0.0
        for i in range(low, high):
            if near[j, i]:
                out[j, i] = np.sqrt(row[i - low]) * weight
