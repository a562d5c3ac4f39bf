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

from nesting.kernels import inlined, kernel
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
    turns: NDArray[np.int8]  # (s, s): quarter turns from the pair to its table
    origin: Floats  # (t, 2)
    scale: Floats  # (t,): cells per mm
    size: Ints  # (t, 4): grid lines along x, along y, first entry, first border cell
    least: Floats  # (t,): size of the slightest collision
    unit: Floats  # (t,): what a size of one stands for
    cells: NDArray[np.int32]  # 2^16 times FREE, FULL or 1 + number of a border cell in this table, plus the size
    border: Ints  # (k + 1,): first border edge of each border cell
    inside: NDArray[np.bool_]  # (k,): whether the cell's low left corner collides
    edges: Floats  # (m, 4)
    asked: NDArray[np.int32]  # (s, s): how often a pair without a table was answered
    map_step: Floats  # (1,): mm per step of the rasters; zero where none are made
    map_which: NDArray[np.int32]  # (s, s): raster of an ordered pair of shapes, else -1
    map_span: Ints  # (r, 5): low corner in steps, steps along x, along y, first value
    map_unit: Floats  # (r,): what a value of one stands for
    map_values: NDArray[np.uint8]  # sizes; a byte each, since maps are bound by memory


@inlined
def look_up(tables: Tables, t: int, turn: int, dx: float, dy: float) -> float:
    """Size of the collision of a pair at displacement (dx, dy); zero when they do not collide."""
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
        if not _inside(tables, tables.size[t, 3] + code - 1, cx, cy, x, y):
            return 0.0
    u -= i
    v -= j
    low = (1.0 - u) * (here & MOST) + u * (tables.cells[at + 1] & MOST)
    at += nx
    high = (1.0 - u) * (tables.cells[at] & MOST) + u * (tables.cells[at + 1] & MOST)
    return float(max(tables.unit[t] * (low + v * (high - low)), tables.least[t]))


@inlined
def _inside(tables: Tables, k: int, cx: float, cy: float, x: float, y: float) -> bool:
    """Walk from the cell's corner up to the height of the point, then across to it, and count the border."""
    odd = tables.inside[k]
    for e in range(tables.border[k], tables.border[k + 1]):
        x1 = tables.edges[e, 0]
        y1 = tables.edges[e, 1]
        x2 = tables.edges[e, 2]
        y2 = tables.edges[e, 3]
        if (x1 > cx) != (x2 > cx):
            at = y1 + (cx - x1) / (x2 - x1) * (y2 - y1)
            if cy < at <= y:
                odd = not odd
        if (y1 > y) != (y2 > y):
            at = x1 + (y - y1) / (y2 - y1) * (x2 - x1)
            if cx < at <= x:
                odd = not odd
    return bool(odd)


@inlined
def pair_size(shapes: Shapes, tables: Tables, a: int, b: int, dx: float, dy: float, work: Floats) -> float:
    """Size of the collision of two shapes, from their table or else from the shapes; zero when they do not collide.

    `work` (1,) counts what that cost, in look-ups.
    """
    if a < len(tables.which) and b < len(tables.which):  # slots of freely turned shapes lie beyond
        t = tables.which[a, b]
        if t >= 0:
            return look_up(tables, t, tables.turns[a, b], dx, dy)
        tables.asked[a, b] += 1
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


@kernel
def corner_sides(edges: Floats, x0: float, y0: float, step: float, nx: int, ny: int) -> NDArray[np.bool_]:
    """Whether each grid corner lies inside the border. (m, 4) -> (ny + 1, nx + 1)."""
    inside = np.zeros((ny + 1, nx + 1), np.bool_)
    for e in range(len(edges)):
        y1 = edges[e, 1]
        y2 = edges[e, 3]
        j0 = max(0, int(np.floor((min(y1, y2) - y0) / step)))
        j1 = min(ny, int(np.ceil((max(y1, y2) - y0) / step)))
        for j in range(j0, j1 + 1):
            y = y0 + j * step
            if (y1 > y) != (y2 > y):
                x = edges[e, 0] + (y - y1) / (y2 - y1) * (edges[e, 2] - edges[e, 0])
                for i in range(nx + 1):
                    if x0 + i * step >= x:
                        inside[j, i] = not inside[j, i]
    return inside


@kernel
def corner_sizes(
    shapes: Shapes, a: int, b: int, near: NDArray[np.bool_], x0: float, y0: float, step: float
) -> NDArray[np.float32]:
    """Size of the collision at each grid corner that is near a colliding cell, else 0. (ny + 1, nx + 1)."""
    out = np.zeros(near.shape, np.float32)
    for j in range(near.shape[0]):
        for i in range(near.shape[1]):
            if near[j, i]:
                out[j, i] = overlap_size(shapes, a, b, x0 + i * step, y0 + j * step)
    return out
