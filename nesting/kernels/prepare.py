"""Kernels that make packing shapes: simplifying outwards, circles inside the material."""

from __future__ import annotations

import numpy as np

from nesting.kernels import kernel
from nesting.kernels.shapes import Floats, Ints


@kernel
def simplify_outwards(ring: Floats, tolerance: float) -> Floats:
    """Fewer points, never less material, nothing added beyond `tolerance` mm. (n, 2), material on the left -> (m, 2).

    A corner that points inwards is skipped; an edge between two outward corners is dropped and its neighbours are
    lengthened until they meet. Straight sides therefore stay where they are.
    """
    n = len(ring)
    p = ring.copy()
    after = np.empty(n, np.int64)
    before = np.empty(n, np.int64)
    for i in range(n):
        after[i] = (i + 1) % n
        before[i] = (i - 1 + n) % n
    spent = np.zeros(n)
    skip = np.full(n, np.inf)
    lengthen = np.full(n, np.inf)
    for i in range(n):
        skip[i] = _skip_error(p, before, after, spent, i)
        lengthen[i] = _lengthen_error(p, before, after, spent, i)[0]
    left = n
    alive = np.ones(n, np.bool_)
    while left > 4:
        best = tolerance
        at = -1
        dropping = False
        for i in range(n):
            if alive[i]:
                if skip[i] <= best:
                    best = skip[i]
                    at = i
                    dropping = False
                if lengthen[i] <= best:
                    best = lengthen[i]
                    at = i
                    dropping = True
        if at < 0:
            break
        i = at
        j = after[i]
        if dropping:
            _, x, y = _lengthen_error(p, before, after, spent, i)
            p[i, 0] = x
            p[i, 1] = y
            gone = j
            spent[i] = best
        else:
            gone = i
            spent[before[i]] = max(spent[before[i]], best)
            spent[j] = max(spent[j], best)
        alive[gone] = False
        left -= 1
        before[after[gone]] = before[gone]
        after[before[gone]] = after[gone]
        k = before[before[gone]]
        k = before[k]
        for _ in range(6):
            skip[k] = _skip_error(p, before, after, spent, k)
            lengthen[k] = _lengthen_error(p, before, after, spent, k)[0]
            k = after[k]
    out = np.empty((left, 2))
    m = 0
    for i in range(n):
        if alive[i]:
            out[m, 0] = p[i, 0]
            out[m, 1] = p[i, 1]
            m += 1
    return out


@kernel
def _turn(p: Floats, i: int, j: int, k: int) -> float:
    return float((p[j, 0] - p[i, 0]) * (p[k, 1] - p[j, 1]) - (p[j, 1] - p[i, 1]) * (p[k, 0] - p[j, 0]))


@kernel
def _skip_error(p: Floats, before: Ints, after: Ints, spent: Floats, i: int) -> float:
    a = before[i]
    b = after[i]
    if _turn(p, a, i, b) > 0.0:
        return np.inf
    ux = p[b, 0] - p[a, 0]
    uy = p[b, 1] - p[a, 1]
    length = np.hypot(ux, uy)
    if length == 0.0:
        return np.inf
    along = (ux * (p[i, 0] - p[a, 0]) + uy * (p[i, 1] - p[a, 1])) / length
    if along < 0.0 or along > length:
        return np.inf
    away = abs(ux * (p[i, 1] - p[a, 1]) - uy * (p[i, 0] - p[a, 0])) / length
    return float(away + max(spent[i], max(spent[a], spent[b])))


@kernel
def _lengthen_error(p: Floats, before: Ints, after: Ints, spent: Floats, i: int) -> tuple[float, float, float]:
    j = after[i]
    a = before[i]
    b = after[j]
    nothing = (np.inf, 0.0, 0.0)
    if a == b or _turn(p, a, i, j) <= 0.0 or _turn(p, i, j, b) <= 0.0:
        return nothing
    ux = p[i, 0] - p[a, 0]
    uy = p[i, 1] - p[a, 1]
    vx = p[j, 0] - p[b, 0]
    vy = p[j, 1] - p[b, 1]
    det = ux * -vy + uy * vx
    if det == 0.0:
        return nothing
    wx = p[b, 0] - p[a, 0]
    wy = p[b, 1] - p[a, 1]
    t = (wx * -vy + wy * vx) / det
    s = (ux * wy - uy * wx) / det
    if t < 1.0 or s < 1.0:
        return nothing  # turning by half a circle or more: the sides never meet
    x = p[a, 0] + t * ux
    y = p[a, 1] + t * uy
    ex = p[j, 0] - p[i, 0]
    ey = p[j, 1] - p[i, 1]
    length = np.hypot(ex, ey)
    if length == 0.0:
        return nothing
    return abs(ex * (y - p[i, 1]) - ey * (x - p[i, 0])) / length + max(spent[i], spent[j]), x, y


@kernel
def inscribed_circles(edges: Floats, count: int, share: float) -> Floats:
    """Circles inside the material, largest first, none overlapping. (m, 4) edges -> (k, 3) x, y, radius, k <= count.

    Stops early when they cover `share` of the material. Centres come from a grid of about 28 cells a side, refined.
    """
    x0 = min(edges[:, 0].min(), edges[:, 2].min())
    y0 = min(edges[:, 1].min(), edges[:, 3].min())
    x1 = max(edges[:, 0].max(), edges[:, 2].max())
    y1 = max(edges[:, 1].max(), edges[:, 3].max())
    step = max(x1 - x0, y1 - y0) / 28.0
    thin = min(x1 - x0, y1 - y0) / 6.0
    step_x = min(step, (x1 - x0) / 6.0)
    step_y = min(step, (y1 - y0) / 6.0)
    step = max(step, thin)
    nx = max(1, int(np.ceil((x1 - x0) / step_x)))
    ny = max(1, int(np.ceil((y1 - y0) / step_y)))
    gx = np.empty(nx * ny)
    gy = np.empty(nx * ny)
    room = np.empty(nx * ny)
    n = 0
    inside = 0
    for i in range(nx):
        for j in range(ny):
            x = x0 + (i + 0.5) * (x1 - x0) / nx
            y = y0 + (j + 0.5) * (y1 - y0) / ny
            d = depth(edges, x, y)
            if d > 0.0:
                inside += 1
                gx[n] = x
                gy[n] = y
                room[n] = d
                n += 1
    area = inside * (x1 - x0) * (y1 - y0) / (nx * ny)
    out = np.empty((count, 3))
    found = 0
    covered = 0.0
    while found < count:
        at = -1
        best = 0.0
        for k in range(n):
            if room[k] > best:
                best = room[k]
                at = k
        if at < 0:
            break
        x = gx[at]
        y = gy[at]
        move = 0.5 * max(step_x, step_y)
        while move > 0.01 * step + 1e-9:
            better = False
            for d8 in range(8):
                ang = 0.7853981633974483 * d8
                u = x + move * np.cos(ang)
                v = y + move * np.sin(ang)
                d = _room(edges, out, found, u, v, best)
                # A step that stays within the circle so far cannot leave the material.
                if d > best and (move < best or depth(edges, u, v) > 0.0):
                    best = d
                    x = u
                    y = v
                    better = True
            if not better:
                move *= 0.5
        out[found, 0] = x
        out[found, 1] = y
        out[found, 2] = best
        found += 1
        covered += np.pi * best * best
        if covered > share * area or best < 0.02 * out[0, 2]:
            break
        for k in range(n):
            room[k] = min(room[k], np.hypot(gx[k] - x, gy[k] - y) - best)
    return out[:found].copy()


@kernel
def _room(edges: Floats, circles: Floats, count: int, x: float, y: float, least: float) -> float:
    """Radius of the circle about a point that meets no edge and no other circle; 0 where that is not above `least`."""
    best = np.inf
    for k in range(count):
        best = min(best, np.hypot(x - circles[k, 0], y - circles[k, 1]) - circles[k, 2])
        if best <= least:
            return 0.0
    best = best * best
    for e in range(len(edges)):
        ax = edges[e, 0]
        ay = edges[e, 1]
        ux = edges[e, 2] - ax
        uy = edges[e, 3] - ay
        q = ux * ux + uy * uy
        t = 0.0
        if q > 0.0:
            t = min(1.0, max(0.0, ((x - ax) * ux + (y - ay) * uy) / q))
        wx = ax + t * ux - x
        wy = ay + t * uy - y
        best = min(best, wx * wx + wy * wy)
        if best <= least * least:
            return 0.0
    return float(np.sqrt(best))


@kernel
def depth(edges: Floats, x: float, y: float) -> float:
    """Distance from a point to the nearest edge, mm; negative outside the material. O(m)."""
    best = np.inf
    odd = False
    for e in range(len(edges)):
        ax = edges[e, 0]
        ay = edges[e, 1]
        bx = edges[e, 2]
        by = edges[e, 3]
        if (ay > y) != (by > y) and x < ax + (y - ay) / (by - ay) * (bx - ax):
            odd = not odd
        ux = bx - ax
        uy = by - ay
        q = ux * ux + uy * uy
        t = 0.0
        if q > 0.0:
            t = ((x - ax) * ux + (y - ay) * uy) / q
            t = min(1.0, max(0.0, t))
        wx = ax + t * ux - x
        wy = ay + t * uy - y
        best = min(best, wx * wx + wy * wy)
    best = np.sqrt(best)
    return float(best if odd else -best)


@kernel
def stood(
    edges: Floats, chains: Ints, circles: Floats, hull: Floats, sign: float, c: float, s: float
) -> tuple[Floats, Floats, Floats, Floats, Floats, Floats]:
    """A figure with x times `sign`, then turned: edges, box of each chain, circles, hull, box, box of the hull."""
    turned = np.empty_like(edges)
    boxes = np.empty((len(chains), 4))
    box = np.array((np.inf, np.inf, -np.inf, -np.inf))
    for k in range(len(chains)):
        one = np.array((np.inf, np.inf, -np.inf, -np.inf))
        for e in range(chains[k, 0], chains[k, 1]):
            for end in (0, 2):
                x = sign * edges[e, end]
                y = edges[e, end + 1]
                turned[e, end] = c * x - s * y
                turned[e, end + 1] = s * x + c * y
                _widen(one, turned[e, end], turned[e, end + 1])
        boxes[k] = one
        _widen(box, one[0], one[1])
        _widen(box, one[2], one[3])
    moved = np.empty_like(circles)
    for k in range(len(circles)):
        x = sign * circles[k, 0]
        moved[k, 0] = c * x - s * circles[k, 1]
        moved[k, 1] = s * x + c * circles[k, 1]
        moved[k, 2] = circles[k, 2]
    corners = np.empty_like(hull)
    bare = np.array((np.inf, np.inf, -np.inf, -np.inf))
    for k in range(len(hull)):
        x = sign * hull[k, 0]
        corners[k, 0] = c * x - s * hull[k, 1]
        corners[k, 1] = s * x + c * hull[k, 1]
        _widen(bare, corners[k, 0], corners[k, 1])
    return turned, boxes, moved, corners, box, bare


@kernel
def _widen(box: Floats, x: float, y: float) -> None:
    box[0] = min(box[0], x)
    box[1] = min(box[1], y)
    box[2] = max(box[2], x)
    box[3] = max(box[3], y)
