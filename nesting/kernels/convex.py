"""Lines that part convex polygons."""

from __future__ import annotations

import numpy as np

from nesting.kernels import kernel
from nesting.kernels.shapes import Floats, Ints


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
