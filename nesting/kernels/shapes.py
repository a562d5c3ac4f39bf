"""Shapes as flat arrays, and what can be asked about two of them.

A shape is a set of edges (all rings together; inside is odd), split into chains of up to eight with a box each, plus
circles inside its material. Shape `b` is always given by its displacement from shape `a`, so no coordinates are copied.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nesting.kernels import inner

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
CHAIN = 8


NEAR = 1e-9  # mm; edges this close meet, far below the gap that parts keep when they slide together


class Shapes(NamedTuple):
    """All shapes of a problem; `s` counts shapes. Lengths in mm."""

    edges: Floats  # (m, 4): x1, y1, x2, y2
    chains: Floats  # (c, 4): box of each chain
    chain_edges: Ints  # (c, 2): first edge, one past the last
    circles: Floats  # (k, 3): x, y, radius, largest first
    spans: Ints  # (s, 6): edges from/to, chains from/to, circles from/to
    box: Floats  # (s, 4): min x, min y, max x, max y of the grown shape
    bare: Floats  # (s, 4): the same of the part itself
    number: Floats  # (s, 2): square root of the hull's linear size, diameter
    bare_shape: Ints  # (s,): shape of the part itself, -1 where no obstacle asks for it
    hulls: Floats  # (h, 2): hull corners of the part itself
    hull_span: Ints  # (s, 2)


@inner
def point_inside(shapes: Shapes, a: int, x: float, y: float) -> bool:
    """Whether a point is in the material of a shape, in the shape's frame."""
    if x < shapes.box[a, 0] or x > shapes.box[a, 2] or y < shapes.box[a, 1] or y > shapes.box[a, 3]:
        return False
    odd = False
    for c in range(shapes.spans[a, 2], shapes.spans[a, 3]):
        if y < shapes.chains[c, 1] or y > shapes.chains[c, 3] or x > shapes.chains[c, 2]:
            continue
        for e in range(shapes.chain_edges[c, 0], shapes.chain_edges[c, 1]):
            y1 = shapes.edges[e, 1]
            y2 = shapes.edges[e, 3]
            if (y1 > y) != (y2 > y):
                x1 = shapes.edges[e, 0]
                if x < x1 + (y - y1) / (y2 - y1) * (shapes.edges[e, 2] - x1):
                    odd = not odd
    return odd


@inner
def collide(shapes: Shapes, a: int, b: int, dx: float, dy: float) -> bool:
    """Whether shape b, moved by (dx, dy), touches or overlaps shape a. Exact on the edges; touching counts."""
    x0 = max(shapes.box[a, 0], shapes.box[b, 0] + dx)
    y0 = max(shapes.box[a, 1], shapes.box[b, 1] + dy)
    x1 = min(shapes.box[a, 2], shapes.box[b, 2] + dx)
    y1 = min(shapes.box[a, 3], shapes.box[b, 3] + dy)
    if x0 > x1 or y0 > y1:
        return False
    for ca in range(shapes.spans[a, 2], shapes.spans[a, 3]):
        ax0 = shapes.chains[ca, 0]
        ay0 = shapes.chains[ca, 1]
        ax1 = shapes.chains[ca, 2]
        ay1 = shapes.chains[ca, 3]
        if ax0 > x1 or ax1 < x0 or ay0 > y1 or ay1 < y0:
            continue
        for cb in range(shapes.spans[b, 2], shapes.spans[b, 3]):
            if (
                ax0 > shapes.chains[cb, 2] + dx
                or ax1 < shapes.chains[cb, 0] + dx
                or ay0 > shapes.chains[cb, 3] + dy
                or ay1 < shapes.chains[cb, 1] + dy
            ):
                continue
            if _chains_meet(shapes, ca, cb, dx, dy):
                return True
    # No edge meets, so all edges of the one are on the same side of the other's: one corner of each tells. It must be a
    # corner, not a point deep inside, which could look out through the other's hole.
    i = shapes.spans[a, 0]
    j = shapes.spans[b, 0]
    if point_inside(shapes, a, shapes.edges[j, 0] + dx, shapes.edges[j, 1] + dy):
        return True
    return point_inside(shapes, b, shapes.edges[i, 0] - dx, shapes.edges[i, 1] - dy)


@inner
def _chains_meet(shapes: Shapes, ca: int, cb: int, dx: float, dy: float) -> bool:
    bx0 = shapes.chains[cb, 0] + dx
    by0 = shapes.chains[cb, 1] + dy
    bx1 = shapes.chains[cb, 2] + dx
    by1 = shapes.chains[cb, 3] + dy
    for ea in range(shapes.chain_edges[ca, 0], shapes.chain_edges[ca, 1]):
        px = shapes.edges[ea, 0]
        py = shapes.edges[ea, 1]
        qx = shapes.edges[ea, 2]
        qy = shapes.edges[ea, 3]
        lx = min(px, qx)
        hx = max(px, qx)
        ly = min(py, qy)
        hy = max(py, qy)
        if lx > bx1 or hx < bx0 or ly > by1 or hy < by0:
            continue
        ux = qx - px
        uy = qy - py
        near = NEAR * (abs(ux) + abs(uy))
        for eb in range(shapes.chain_edges[cb, 0], shapes.chain_edges[cb, 1]):
            rx = shapes.edges[eb, 0] + dx
            ry = shapes.edges[eb, 1] + dy
            sx = shapes.edges[eb, 2] + dx
            sy = shapes.edges[eb, 3] + dy
            if min(rx, sx) > hx or max(rx, sx) < lx or min(ry, sy) > hy or max(ry, sy) < ly:
                continue
            # Closed on purpose, with a hair of width: flush edges overlap without any proper crossing, and rounding
            # may have moved them apart by less than that hair.
            r_side = ux * (ry - py) - uy * (rx - px)
            s_side = ux * (sy - py) - uy * (sx - px)
            if (r_side > near and s_side > near) or (r_side < -near and s_side < -near):
                continue
            vx = sx - rx
            vy = sy - ry
            hair = NEAR * (abs(vx) + abs(vy))
            p_side = vx * (py - ry) - vy * (px - rx)
            q_side = vx * (qy - ry) - vy * (qx - rx)
            if (p_side > hair and q_side > hair) or (p_side < -hair and q_side < -hair):
                continue
            return True
    return False


@inner
def overlap_size(shapes: Shapes, a: int, b: int, dx: float, dy: float) -> float:
    """Size of a collision from the circles of both shapes: always positive, falls with distance."""
    eps = 0.01 * max(shapes.number[a, 1], shapes.number[b, 1])
    total = 0.0
    for i in range(shapes.spans[a, 4], shapes.spans[a, 5]):
        x = shapes.circles[i, 0] - dx
        y = shapes.circles[i, 1] - dy
        r = shapes.circles[i, 2]
        for j in range(shapes.spans[b, 4], shapes.spans[b, 5]):
            ux = shapes.circles[j, 0] - x
            uy = shapes.circles[j, 1] - y
            s = shapes.circles[j, 2]
            depth = r + s - np.sqrt(ux * ux + uy * uy)
            if depth < eps:
                depth = eps * eps / (2.0 * eps - depth)
            total += depth * min(r, s)
    return float(np.sqrt(total) * shapes.number[a, 0] * shapes.number[b, 0])


@inner
def travel(shapes: Shapes, a: int, b: int, dx: float, dy: float, axis: int) -> float:
    """How far shape a can move towards minus `axis` (0 = x, 1 = y) before it meets b at (dx, dy), mm; else infinite."""
    o = 1 - axis
    da = dx if axis == 0 else dy
    do = dy if axis == 0 else dx
    best = np.inf
    if shapes.box[b, o] + do > shapes.box[a, o + 2] or shapes.box[b, o + 2] + do < shapes.box[a, o]:
        return best
    for ca in range(shapes.spans[a, 2], shapes.spans[a, 3]):
        for cb in range(shapes.spans[b, 2], shapes.spans[b, 3]):
            if (
                shapes.chains[cb, o] + do > shapes.chains[ca, o + 2]
                or shapes.chains[cb, o + 2] + do < shapes.chains[ca, o]
                or shapes.chains[cb, axis] + da > shapes.chains[ca, axis + 2]
                or shapes.chains[ca, axis] - shapes.chains[cb, axis + 2] - da > best
            ):
                continue
            for ea in range(shapes.chain_edges[ca, 0], shapes.chain_edges[ca, 1]):
                a1 = shapes.edges[ea, axis]
                o1 = shapes.edges[ea, o]
                a2 = shapes.edges[ea, axis + 2]
                o2 = shapes.edges[ea, o + 2]
                for eb in range(shapes.chain_edges[cb, 0], shapes.chain_edges[cb, 1]):
                    b1 = shapes.edges[eb, axis] + da
                    p1 = shapes.edges[eb, o] + do
                    b2 = shapes.edges[eb, axis + 2] + da
                    p2 = shapes.edges[eb, o + 2] + do
                    # Every corner starts an edge, so the first ends of both edges are enough.
                    if p1 != p2 and min(p1, p2) <= o1 <= max(p1, p2):
                        t = a1 - (b1 + (o1 - p1) / (p2 - p1) * (b2 - b1))
                        if -1e-7 < t < best:
                            best = t
                    if o1 != o2 and min(o1, o2) <= p1 <= max(o1, o2):
                        t = a1 + (p1 - o1) / (o2 - o1) * (a2 - a1) - b1
                        if -1e-7 < t < best:
                            best = t
    return best


@inner
def write_rotated(shapes: Shapes, base: int, slot: int, angle: float) -> None:
    """Fill a slot with a base shape turned about its own zero, degrees. The slot keeps its places in the arrays."""
    _write_one(shapes, base, slot, angle)
    if shapes.bare_shape[base] >= 0:
        _write_one(shapes, shapes.bare_shape[base], shapes.bare_shape[slot], angle)


@inner
def _write_one(shapes: Shapes, base: int, slot: int, angle: float) -> None:
    c = np.cos(np.radians(angle))
    s = np.sin(np.radians(angle))
    shift = shapes.spans[slot, 0] - shapes.spans[base, 0]
    first = shapes.spans[slot, 2]
    n = shapes.spans[base, 3] - shapes.spans[base, 2]
    shapes.spans[slot, 1] = shapes.spans[slot, 0] + shapes.spans[base, 1] - shapes.spans[base, 0]
    shapes.spans[slot, 3] = first + n
    shapes.box[slot, 0] = np.inf
    shapes.box[slot, 1] = np.inf
    shapes.box[slot, 2] = -np.inf
    shapes.box[slot, 3] = -np.inf
    for k in range(n):
        cb = shapes.spans[base, 2] + k
        cs = first + k
        shapes.chain_edges[cs, 0] = shapes.chain_edges[cb, 0] + shift
        shapes.chain_edges[cs, 1] = shapes.chain_edges[cb, 1] + shift
        x0 = np.inf
        y0 = np.inf
        x1 = -np.inf
        y1 = -np.inf
        for e in range(shapes.chain_edges[cb, 0], shapes.chain_edges[cb, 1]):
            px = c * shapes.edges[e, 0] - s * shapes.edges[e, 1]
            py = s * shapes.edges[e, 0] + c * shapes.edges[e, 1]
            qx = c * shapes.edges[e, 2] - s * shapes.edges[e, 3]
            qy = s * shapes.edges[e, 2] + c * shapes.edges[e, 3]
            shapes.edges[e + shift, 0] = px
            shapes.edges[e + shift, 1] = py
            shapes.edges[e + shift, 2] = qx
            shapes.edges[e + shift, 3] = qy
            x0 = min(x0, min(px, qx))
            y0 = min(y0, min(py, qy))
            x1 = max(x1, max(px, qx))
            y1 = max(y1, max(py, qy))
        shapes.chains[cs, 0] = x0
        shapes.chains[cs, 1] = y0
        shapes.chains[cs, 2] = x1
        shapes.chains[cs, 3] = y1
        shapes.box[slot, 0] = min(shapes.box[slot, 0], x0)
        shapes.box[slot, 1] = min(shapes.box[slot, 1], y0)
        shapes.box[slot, 2] = max(shapes.box[slot, 2], x1)
        shapes.box[slot, 3] = max(shapes.box[slot, 3], y1)
    kn = shapes.spans[base, 5] - shapes.spans[base, 4]
    shapes.spans[slot, 5] = shapes.spans[slot, 4] + kn
    for k in range(kn):
        i = shapes.spans[base, 4] + k
        j = shapes.spans[slot, 4] + k
        shapes.circles[j, 0] = c * shapes.circles[i, 0] - s * shapes.circles[i, 1]
        shapes.circles[j, 1] = s * shapes.circles[i, 0] + c * shapes.circles[i, 1]
        shapes.circles[j, 2] = shapes.circles[i, 2]
    shapes.number[slot, 0] = shapes.number[base, 0]
    shapes.number[slot, 1] = shapes.number[base, 1]
    x0 = np.inf
    y0 = np.inf
    x1 = -np.inf
    y1 = -np.inf
    for h in range(shapes.hull_span[base, 0], shapes.hull_span[base, 1]):
        px = c * shapes.hulls[h, 0] - s * shapes.hulls[h, 1]
        py = s * shapes.hulls[h, 0] + c * shapes.hulls[h, 1]
        x0 = min(x0, px)
        y0 = min(y0, py)
        x1 = max(x1, px)
        y1 = max(y1, py)
    shapes.bare[slot, 0] = x0
    shapes.bare[slot, 1] = y0
    shapes.bare[slot, 2] = x1
    shapes.bare[slot, 3] = y1
