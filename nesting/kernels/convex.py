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
