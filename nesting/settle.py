"""Moving all parts of a layout at once, without turning them, so that it becomes as short as its arrangement allows.

Every pair of neighbouring parts is cut into convex pieces; each pair of pieces is kept apart by the line that separates
it best now. What remains is a linear program: the shortest layout in which every piece stays on its side (Gomes and
Oliveira 2006, EJOR 171:811-829, call this compaction). It also makes layouts exact that the search, which allows
itself a hair, left overlapping by that hair. Pairs that overlap by more are parted by the same program: each has a
clash, dear enough to be paid only where nothing else helps (their separation).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import csr_matrix

from nesting.arrays import turn
from nesting.catalog import Catalog, grown_part
from nesting.kernels.convex import parting_lines
from nesting.pairs import flat
from nesting.pieces import convex_pieces
from nesting.problem import Problem

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
REACH: Final = 0.05
"""How far a part may move per program, as a share of the mean part size."""
EXACT: Final = 1e-9
TRIES: Final = 6
"""Programs one after the other, each with freshly chosen lines."""
CLASH_PRICE: Final = 100.0
"""Of a clash, in units of length."""
KEPT: Final = 4000
"""Attitudes of parts whose pieces are kept."""
LESS: Final = 0.7
"""A program that leaves more than this share of the clashes has failed."""


class Moved(NamedTuple):
    """What a program made of a layout."""

    places: Floats
    clash: float  # how far copies still overlap, all together
    extent: float  # along the axis


class Ground(NamedTuple):
    """Where copies may be: the sheet's usable rectangle, and what lies in it that never moves, as convex pieces."""

    rect: Floats  # (4,)
    fixed: tuple[tuple[Floats, Ints], ...] = ()


class Settler:
    """Moves the copies on one sheet together; keeps the convex pieces of all it has seen."""

    def __init__(self, problem: Problem, catalog: Catalog) -> None:
        self.problem = problem
        self.catalog = catalog
        self.whole: dict[tuple[int, bool], list[Floats]] = {}  # by part, as it came, and whether grown
        self.pieces: dict[tuple[int, bool, int, float], tuple[Floats, Ints]] = {}

    def prepare(self, part: int, *, grown: bool = True) -> None:
        """Cut a part into its convex pieces: as much work as a program, so better done apart from it."""
        if (part, grown) not in self.whole:
            one, spacing = self.problem.parts[part], self.problem.rules.spacing if grown else 0.0
            # Without spacing there is no room for the search's allowance: the part as it is.
            shape = grown_part(one, spacing) if spacing > 0.0 else shapely.Polygon(one.outline.outer, one.outline.holes)
            self.whole[part, grown] = convex_pieces(shape)

    def shortest(self, parts: list[int], places: Floats, rect: Floats, axis: int, most: float) -> Floats | None:
        """Places (n, 5 as in `separate.snapshot`) after compaction, none of which reaches beyond `most` along the axis.

        None when the arrangement cannot be made exact.
        """
        best: Floats | None = None
        extent = np.inf
        for moved in self._moves(parts, places, Ground(rect), axis, most):
            if moved.clash > EXACT:
                continue
            best = moved.places
            if moved.extent > extent - 1e-7:
                break
            extent = moved.extent
        return best

    def parted(self, parts: list[int], places: Floats, ground: Ground) -> Iterator[Floats | None]:
        """Part copies that overlap by little: None after each program, then their places if that worked."""
        for moved in self._moves(parts, places, ground, None, np.inf):
            if moved.clash <= EXACT:
                yield moved.places
                return
            yield None

    def _moves(
        self, parts: list[int], places: Floats, ground: Ground, axis: int | None, most: float
    ) -> Iterator[Moved]:
        """Programs one after the other, each with fresh lines, for as long as they leave ever less of the clashes."""
        clash = np.inf
        for _ in range(TRIES):
            moved = self._solved(parts, places, ground, axis, most)
            if moved is None or moved.clash > max(LESS * clash, EXACT):
                return
            yield moved
            places, clash = moved.places, moved.clash

    def _box(self, part: int, place: Floats) -> Floats:
        outline = self._turned(part, place, self.problem.parts[part].outline.outer)
        return np.concatenate((outline.min(axis=0), outline.max(axis=0)))

    def _turned(self, part: int, place: Floats, ring: Floats) -> Floats:
        way = self.catalog.way_of(part, int(place[3]), float(place[2]))
        return turn((ring - self.catalog.centres[part]) * (-1.0 if way.mirrored else 1.0, 1.0), way.angle)

    def _pieces(self, part: int, place: Floats, *, grown: bool) -> tuple[Floats, Ints]:
        key = (part, grown, int(place[3]), float(place[2]))
        if key not in self.pieces:
            if len(self.pieces) >= KEPT:
                self.pieces.clear()  # copies of any angle leave new ones behind with every turn
            self.prepare(part, grown=grown)
            pieces = [self._turned(part, place, piece) for piece in self.whole[part, grown]]
            mirrored = self.catalog.way_of(part, int(place[3]), float(place[2])).mirrored
            self.pieces[key] = flat([piece[::-1] if mirrored else piece for piece in pieces])
        return self.pieces[key]

    def _solved(self, parts: list[int], places: Floats, ground: Ground, axis: int | None, most: float) -> Moved | None:
        """One program: as short as possible along the axis, if there is one, after as little clash as possible."""
        n = len(parts)
        boxes = np.array([self._box(part, place) for part, place in zip(parts, places, strict=True)])
        reach = REACH * float(np.mean(boxes[:, 2:] - boxes[:, :2]))
        program = Program(n, reach)
        self._keep_apart(program, parts, places, boxes, 3.0 * reach)
        self._keep_off(program, parts, places, ground, 3.0 * reach)
        if axis is not None:
            program.stay_within(axis, -(places[:, axis] + boxes[:, axis + 2]))
        low = np.maximum(ground.rect[:2] - boxes[:, :2] - places[:, :2], -reach)
        low = np.where(low <= EXACT, np.minimum(low, 0.0), low)
        high = np.minimum(ground.rect[2:] - boxes[:, 2:] - places[:, :2], reach)
        if axis is not None:
            high[:, axis] = reach
        moves = program.solved(np.column_stack((low.ravel(), np.maximum(high, low).ravel())), most)
        if moves is None:
            return None
        moved = places.copy()
        moved[:, :2] += moves[: 2 * n].reshape(n, 2)
        extent = 0.0 if axis is None else float(np.max(moved[:, axis] + boxes[:, axis + 2]))
        return Moved(moved, float(moves[2 * n + 1 :].sum()), extent)

    def _keep_apart(self, program: Program, parts: list[int], places: Floats, boxes: Floats, near: float) -> None:
        pieces = [self._pieces(part, place, grown=True) for part, place in zip(parts, places, strict=True)]
        at = np.column_stack((places[:, :2], places[:, :2])) + boxes
        within = np.all(at[:, None, :2] - at[None, :, 2:] <= near, axis=2)
        pairs = np.argwhere(np.tril(within & within.T, -1))
        found = []
        for i, j in pairs.tolist():
            dx, dy = places[j, :2] - places[i, :2]
            lines, count = parting_lines(*pieces[i], *pieces[j], dx, dy, near)
            found.append(lines[:count])
        if not found:
            return
        pair = np.repeat(np.arange(len(pairs)), [len(lines) for lines in found])
        first, second = pairs[pair].T
        lines = np.concatenate(found)
        normal = lines[:, :2]
        # normal . (p_j - p_i) >= least, for moves d: -normal . d_j + normal . d_i <= what is left of it
        room = np.sum(normal * (places[second, :2] - places[first, :2]), axis=1) - lines[:, 2]
        columns = np.column_stack((2 * first, 2 * first + 1, 2 * second, 2 * second + 1))
        program.keep_sides(columns, np.hstack((normal, -normal)), room, pair)

    def _keep_off(self, program: Program, parts: list[int], places: Floats, ground: Ground, near: float) -> None:
        for block in ground.fixed:
            for i, (part, place) in enumerate(zip(parts, places, strict=True)):
                own = self._pieces(part, place, grown=False)
                lines, count = parting_lines(*own, *block, -place[0], -place[1], near)
                normal = lines[:count, :2]
                room = -(normal @ place[:2]) - lines[:count, 2]
                columns = np.tile((2 * i, 2 * i + 1), (count, 1))
                program.keep_sides(columns, normal, room, np.zeros(count, np.int64))


class Program:
    """A linear program on the moves of n copies: x and y of each, the extent, then a clash for all that overlap."""

    def __init__(self, n: int, reach: float) -> None:
        self.n = n
        self.farthest = 2.0 * math.sqrt(2.0) * reach  # two copies never come nearer than that
        self.clashes = self.height = 0
        self.rows: list[Ints] = []
        self.columns: list[Ints] = []
        self.entries: list[Floats] = []
        self.limits: list[Floats] = []
        self.has_extent = False

    def _add(self, columns: Ints, entries: Floats, limits: Floats) -> None:
        """Rows `entries . columns <= limits`: (m, k), (m, k), (m,)."""
        self.rows.append(np.repeat(np.arange(self.height, self.height + len(limits)), columns.shape[1]))
        self.columns.append(columns.ravel())
        self.entries.append(entries.ravel())
        self.limits.append(limits)
        self.height += len(limits)

    def keep_sides(self, columns: Ints, entries: Floats, room: Floats, group: Ints) -> None:
        """Let moves use up no more than `room`; where that is short now, the rows of a group share a clash."""
        bound = room < self.farthest
        short = room < -EXACT
        free = bound & ~short
        self._add(columns[free], entries[free], room[free])
        groups, clash = np.unique(group[short], return_inverse=True)
        own = 2 * self.n + 1 + self.clashes + clash[:, None]
        self._add(np.hstack((columns[short], own)), np.hstack((entries[short], np.full(own.shape, -1.0))), room[short])
        self.clashes += len(groups)

    def stay_within(self, axis: int, room: Floats) -> None:
        """Keep copies, with -`room` as their far ends now, within the extent."""
        columns = np.column_stack((2 * np.arange(self.n) + axis, np.full(self.n, 2 * self.n)))
        self._add(columns, np.tile((1.0, -1.0), (self.n, 1)), room)
        self.has_extent = True

    def solved(self, bounds: Floats, most: float) -> Floats | None:
        """Moves, extent and clashes; None when there are none within the bounds (2n, 2) and the most extent."""
        limits = [(low, high) for low, high in bounds.tolist()]
        limits += [(None, most if self.has_extent else 0.0), *[(0.0, None)] * self.clashes]
        price = np.array([0.0] * (2 * self.n) + [float(self.has_extent)] + [CLASH_PRICE] * self.clashes)
        where = np.concatenate(self.rows), np.concatenate(self.columns)
        matrix = csr_matrix((np.concatenate(self.entries), where), shape=(self.height, len(price)))
        tight = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-9}
        room = np.concatenate(self.limits)
        answer = linprog(price, A_ub=matrix, b_ub=room, bounds=limits, method="highs", options=tight)
        return answer.x if answer.status == 0 else None
