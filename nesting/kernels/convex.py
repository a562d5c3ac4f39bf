"""Sums of convex polygons."""

from __future__ import annotations

import numpy as np

from nesting.kernels import kernel
from nesting.kernels.shapes import Floats, Ints


@kernel
def convex_sums(a: Floats, a_span: Ints, b: Floats, b_span: Ints) -> tuple[Floats, Ints]:
    """Sum of every piece of a with every piece of b: points of all rings one after the other, and the ring of each.

    Pieces are convex and anticlockwise; `*_span` (k + 1,) says where each starts. O(total points).
    """
    na = len(a_span) - 1
    nb = len(b_span) - 1
    total = len(a) * nb + len(b) * na
    out = np.empty((total, 2))
    ring = np.empty(total, np.int64)
    n = 0
    for i in range(na):
        p0 = a_span[i]
        pn = a_span[i + 1] - p0
        p = p0 + _lowest(a, p0, pn) - p0
        for j in range(nb):
            q0 = b_span[j]
            qn = b_span[j + 1] - q0
            q = _lowest(b, q0, qn)
            u = p - p0
            v = q - q0
            done_u = 0
            done_v = 0
            while done_u < pn or done_v < qn:
                x = a[p0 + u % pn, 0] + b[q0 + v % qn, 0]
                y = a[p0 + u % pn, 1] + b[q0 + v % qn, 1]
                out[n, 0] = x
                out[n, 1] = y
                ring[n] = i * nb + j
                n += 1
                ax = a[p0 + (u + 1) % pn, 0] - a[p0 + u % pn, 0]
                ay = a[p0 + (u + 1) % pn, 1] - a[p0 + u % pn, 1]
                bx = b[q0 + (v + 1) % qn, 0] - b[q0 + v % qn, 0]
                by = b[q0 + (v + 1) % qn, 1] - b[q0 + v % qn, 1]
                cross = ax * by - ay * bx
                if done_v >= qn or (done_u < pn and cross > 0.0):
                    u += 1
                    done_u += 1
                elif done_u >= pn or cross < 0.0:
                    v += 1
                    done_v += 1
                else:
                    u += 1
                    v += 1
                    done_u += 1
                    done_v += 1
    return out[:n].copy(), ring[:n].copy()


@kernel
def _lowest(p: Floats, start: int, count: int) -> int:
    best = start
    for k in range(start + 1, start + count):
        if p[k, 1] < p[best, 1] or (p[k, 1] == p[best, 1] and p[k, 0] < p[best, 0]):
            best = k
    return best


@kernel
def parting_lines(
    a: Floats, a_span: Ints, b: Floats, b_span: Ints, dx: float, dy: float, reach: float
) -> tuple[Floats, int]:
    """Lines that part every two convex pieces of a and of b, moved by (dx, dy), that are within reach of each other.

    One row each, and how many: normal (2), then the least distance along it from the zero of a to that of b. The line
    is the side of either piece along which they are farthest apart now.
    """
    na = len(a_span) - 1
    nb = len(b_span) - 1
    out = np.empty((na * nb, 3))
    n = 0
    box_a = _boxes(a, a_span)
    box_b = _boxes(b, b_span)
    for i in range(na):
        for j in range(nb):
            if (
                box_b[j, 0] + dx - box_a[i, 2] > reach
                or box_a[i, 0] - box_b[j, 2] - dx > reach
                or box_b[j, 1] + dy - box_a[i, 3] > reach
                or box_a[i, 1] - box_b[j, 3] - dy > reach
            ):
                continue
            best = -np.inf
            for turn in range(2):
                p, p0, p1 = (a, a_span[i], a_span[i + 1]) if turn == 0 else (b, b_span[j], b_span[j + 1])
                q, q0, q1 = (b, b_span[j], b_span[j + 1]) if turn == 0 else (a, a_span[i], a_span[i + 1])
                sign = 1.0 if turn == 0 else -1.0
                for k in range(p0, p1):
                    m = k + 1 if k + 1 < p1 else p0
                    ux = p[m, 1] - p[k, 1]
                    uy = p[k, 0] - p[m, 0]
                    size = np.hypot(ux, uy)
                    if size < 1e-12:
                        continue
                    ux /= size
                    uy /= size
                    nearest = np.inf
                    for h in range(q0, q1):
                        nearest = min(nearest, ux * q[h, 0] + uy * q[h, 1])
                    least = ux * p[k, 0] + uy * p[k, 1] - nearest
                    gap = sign * (ux * dx + uy * dy) - least
                    if gap > best:
                        best = gap
                        out[n, 0] = sign * ux
                        out[n, 1] = sign * uy
                        out[n, 2] = least
            n += 1
    return out, n


@kernel
def _boxes(p: Floats, span: Ints) -> Floats:
    out = np.empty((len(span) - 1, 4))
    for k in range(len(span) - 1):
        out[k, 0] = np.inf
        out[k, 1] = np.inf
        out[k, 2] = -np.inf
        out[k, 3] = -np.inf
        for h in range(span[k], span[k + 1]):
            out[k, 0] = min(out[k, 0], p[h, 0])
            out[k, 1] = min(out[k, 1], p[h, 1])
            out[k, 2] = max(out[k, 2], p[h, 0])
            out[k, 3] = max(out[k, 3], p[h, 1])
    return out
