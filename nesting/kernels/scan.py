"""Maps: the collisions of one copy at all places of a grid over its sheet, summed from rasters of the pair tables.

A raster holds the size of a pair's collision for displacements that are whole numbers of steps. Adding the rasters of
all neighbours, row by row, is so cheap that the whole sheet costs about as much as some dozen exact places. Neighbours
stand off the grid by up to half a step, so a map only tells where to look; what it finds is evaluated exactly.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.kernels import inner, kernel
from nesting.kernels.shapes import Floats, Ints
from nesting.kernels.tables import Tables, look_up

FOUND = 3


@kernel
def rasters(tables: Tables, box: Floats, pairs: Ints, step: float) -> tuple[Ints, Floats, NDArray[np.uint8]]:
    """Rasters of some ordered pairs of shapes (k, 2): where the first may be, seen from the second.

    Their low corner and size in steps, first value and values from row to row (k, 6), what a value of one stands for
    and the values.
    """
    k = len(pairs)
    spans = np.empty((k, 6), np.int64)
    units = np.empty(k)
    total = 0
    most = 0
    for r in range(k):
        a = pairs[r, 0]
        b = pairs[r, 1]
        for axis in range(2):
            low = int(np.floor((box[b, axis] - box[a, axis + 2]) / step))
            spans[r, axis] = low
            spans[r, axis + 2] = int(np.ceil((box[b, axis + 2] - box[a, axis]) / step)) - low + 1
        spans[r, 4] = total
        spans[r, 5] = spans[r, 2]
        total += spans[r, 2] * spans[r, 3]
        most = max(most, spans[r, 2] * spans[r, 3])
    out = np.empty(total, np.uint8)
    values = np.empty(most, np.float32)
    for r in range(k):
        t = tables.which[pairs[r, 0], pairs[r, 1]]
        turn = tables.turns[pairs[r, 0], pairs[r, 1]]
        nu = spans[r, 2]
        nv = spans[r, 3]
        largest = np.float32(0.0)
        for v in range(nv):
            for u in range(nu):
                value = np.float32(look_up(tables, t, turn, -(spans[r, 0] + u) * step, -(spans[r, 1] + v) * step))
                values[v * nu + u] = value
                if value > largest:
                    largest = value
        # Rounded upwards, so that no collision is worth nothing.
        unit = max(float(largest) / 255.0, 1e-300)
        units[r] = unit
        for c in range(nu * nv):
            out[spans[r, 4] + c] = np.uint8(min(np.ceil(values[c] / np.float32(unit)), np.float32(255.0)))
    return spans, units, out


@inner
def add_raster(
    field: NDArray[np.float32],
    nx: int,
    ny: int,
    values: NDArray[np.uint8],
    first: int,
    rise: int,
    nu: int,
    nv: int,
    x: int,
    y: int,
    weight: float,
) -> None:
    """Add a raster, times the weight, to a field with its low corner at cell (x, y); what lies outside is left out.

    Row v of the raster starts at value `first` + v `rise`.
    """
    w = np.float32(weight)
    low = max(0, -x)
    n = min(nu, nx - x) - low
    if n <= 0:
        return
    for v in range(max(0, -y), min(nv, ny - y)):
        # Slices, so that the compiler knows the numbers below for positive and adds many at once.
        at = first + v * rise + low
        source = values[at : at + n]
        target = field[y + v, x + low : x + low + n]
        for u in range(n):
            target[u] += w * source[u]


@inner
def lowest(field: NDArray[np.float32], nx: int, ny: int, apart: int, found: Floats) -> int:
    """The lowest cells, at most one of each neighbourhood: (FOUND, 3) value, x, y in order; returns how many."""
    count = 0
    limit = np.float32(np.inf)
    for y in range(ny):
        row = field[y]
        some = 0
        for x in range(nx):
            some |= int(row[x] < limit)
        if some == 0:
            continue
        for x in range(nx):
            value = row[x]
            if not value < limit:
                continue
            known = False
            kept = 0
            for k in range(count):
                near = abs(found[k, 1] - x) + abs(found[k, 2] - y) < apart
                known |= near and found[k, 0] <= value
            if known:
                continue
            for k in range(count):
                if abs(found[k, 1] - x) + abs(found[k, 2] - y) >= apart:
                    for c in range(3):
                        found[kept, c] = found[k, c]
                    kept += 1
            at = min(kept, FOUND - 1)
            count = at + 1
            while at > 0 and found[at - 1, 0] > value:
                for c in range(3):
                    found[at, c] = found[at - 1, c]
                at -= 1
            found[at, 0] = value
            found[at, 1] = x
            found[at, 2] = y
            limit = np.float32(found[FOUND - 1, 0]) if count == FOUND else np.float32(np.inf)
    return count
