"""Moving all parts of a layout at once, without turning them, so that it becomes as short as its arrangement allows.

Every pair of neighbouring parts is cut into convex pieces; each pair of pieces is kept apart by the line that separates
it best now. What remains is a linear program: the shortest layout in which every piece stays on its side (Gomes and
Oliveira 2006, EJOR 171:811-829, call this compaction). It also makes layouts exact that the search, which allows
itself a hair, left overlapping by that hair.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import csr_matrix

from nesting.arrays import turn
from nesting.catalog import Catalog, grow
from nesting.kernels.convex import parting_lines
from nesting.pairs import flat
from nesting.pieces import convex_pieces
from nesting.problem import Part, Problem

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
REACH: Final = 0.05
"""How far a part may move per program, as a share of the mean part size."""
EXACT: Final = 1e-9
MOST: Final = 4
"""Programs one after the other, each with freshly chosen lines."""


class Settler:
    """Compaction of the copies on one sheet along one axis; keeps the convex pieces of all it has seen."""

    def __init__(self, problem: Problem, catalog: Catalog) -> None:
        self.problem = problem
        self.catalog = catalog
        self.whole: dict[int, list[Floats]] = {}  # by part, as it came
        self.pieces: dict[tuple[int, int, float], tuple[Floats, Ints]] = {}

    def prepare(self, part: int) -> None:
        """Cut a part into its convex pieces: as much work as a program, so better done apart from it."""
        if part not in self.whole:
            self.whole[part] = convex_pieces(true_shape(self.problem.parts[part], self.problem.rules.spacing))

    def shortest(self, parts: list[int], places: Floats, rect: Floats, axis: int) -> Floats | None:
        """Places (n, 5 as in `separate.snapshot`) after compaction; None when the arrangement cannot be made exact."""
        best: Floats | None = None
        for _ in range(MOST):
            moved = self._program(parts, best if best is not None else places, rect, axis)
            if moved is None:
                break
            done = best is not None and self._extent(parts, moved, axis) > self._extent(parts, best, axis) - 1e-7
            best = moved
            if done:
                break
        return best

    def _extent(self, parts: list[int], places: Floats, axis: int) -> float:
        ends = [self._box(part, place)[axis + 2] + place[axis] for part, place in zip(parts, places, strict=True)]
        return float(max(ends))

    def _box(self, part: int, place: Floats) -> Floats:
        outline = self._turned(part, place, self.problem.parts[part].outline.outer)
        return np.concatenate((outline.min(axis=0), outline.max(axis=0)))

    def _turned(self, part: int, place: Floats, ring: Floats) -> Floats:
        way = self.catalog.way_of(part, int(place[3]), float(place[2]))
        return turn((ring - self.catalog.centres[part]) * (-1.0 if way.mirrored else 1.0, 1.0), way.angle)

    def _pieces(self, part: int, place: Floats) -> tuple[Floats, Ints]:
        key = (part, int(place[3]), float(place[2]))
        if key not in self.pieces:
            self.prepare(part)
            pieces = [self._turned(part, place, piece) for piece in self.whole[part]]
            mirrored = self.catalog.way_of(part, int(place[3]), float(place[2])).mirrored
            self.pieces[key] = flat([piece[::-1] if mirrored else piece for piece in pieces])
        return self.pieces[key]

    def _program(self, parts: list[int], places: Floats, rect: Floats, axis: int) -> Floats | None:
        n = len(parts)
        pieces = [self._pieces(part, place) for part, place in zip(parts, places, strict=True)]
        boxes = np.array([self._box(part, place) for part, place in zip(parts, places, strict=True)])
        reach = REACH * float(np.mean(boxes[:, 2:] - boxes[:, :2]))
        at = np.column_stack((places[:, :2], places[:, :2])) + boxes
        near = 3.0 * reach
        columns = 2 * n + 1
        entries, at_column, limits = [], [], []
        for i in range(n):
            for j in range(i):
                if np.any(at[i, :2] - at[j, 2:] > near) or np.any(at[j, :2] - at[i, 2:] > near):
                    continue
                dx, dy = places[j, :2] - places[i, :2]
                lines, count = parting_lines(*pieces[i], *pieces[j], dx, dy, near)
                normal, least = lines[:count, :2], lines[:count, 2]
                # normal . (p_j - p_i) >= least, for moves d: -normal . d_j + normal . d_i <= what is left of it
                entries.append(np.hstack((normal, -normal)).ravel())
                at_column.append(np.tile((2 * i, 2 * i + 1, 2 * j, 2 * j + 1), count))
                limits.append(normal[:, 0] * dx + normal[:, 1] * dy - least)
        widths = [4] * sum(len(limit) for limit in limits) + [2] * n
        entries.append(np.tile((1.0, -1.0), n))
        at_column.append(np.column_stack((2 * np.arange(n) + axis, np.full(n, 2 * n))).ravel())
        limits.append(-(places[:, axis] + boxes[:, axis + 2]))
        limit = np.concatenate(limits)
        at_row = np.repeat(np.arange(len(limit)), widths)
        bounds = []
        for i in range(n):
            for k in (0, 1):
                low = max(-reach, rect[k] - boxes[i, k] - places[i, k])
                high = reach if k == axis else min(reach, rect[k + 2] - boxes[i, k + 2] - places[i, k])
                bounds.append((min(low, 0.0) if low <= EXACT else low, max(high, low)))
        bounds.append((None, None))
        price = np.zeros(columns)
        price[2 * n] = 1.0
        matrix = csr_matrix((np.concatenate(entries), (at_row, np.concatenate(at_column))), shape=(len(limit), columns))
        tight = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-9}
        answer = linprog(price, A_ub=matrix, b_ub=limit, bounds=bounds, method="highs", options=tight)
        if answer.status != 0:
            return None
        moved = places.copy()
        moved[:, :2] += answer.x[: 2 * n].reshape(n, 2)
        return moved


def true_shape(part: Part, spacing: float) -> Any:
    """The part grown by half the spacing, without the hair the search takes off."""
    shape = shapely.Polygon(part.outline.outer, part.outline.holes)
    return shape if spacing <= 0.0 else grow(shape, spacing)
