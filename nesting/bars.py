"""Cutting lengths from bars and coils: fewest or cheapest bars, proven, kerf included.

A set of pieces fits a bar when the pieces and one kerf each come to no more than the bar and one kerf: the last piece
needs no cut after it when it ends with the bar (common practice).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from nesting.errors import InvalidProblem

UNIT: Final = 1e-3
"""mm. Lengths are counted in whole micrometres, so that sums compare exactly."""
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Piece:
    """A length to cut, `quantity` times, mm."""

    id: str
    length: float
    quantity: int = 1


@dataclass(frozen=True, slots=True)
class Bar:
    """A stock length, mm; `quantity` None means as many as wanted; `cost` of one in whole units."""

    id: str
    length: float
    quantity: int | None = None
    cost: int = 1


@dataclass(frozen=True, slots=True)
class Cut:
    """How `count` bars of one kind are cut: pieces from left to right, and what is left over of each, mm."""

    bar: str
    count: int
    pieces: tuple[str, ...]
    left_over: float


@dataclass(frozen=True, slots=True)
class BarPlan:
    """The cheapest way found to cut all pieces.

    Fields
    ------
    cuts : tuple of Cut
    unplaced : tuple of (str, int, str)
        Piece id, how many, why.
    cost : int
        Of all bars used.
    relaxed : float
        Cost when bars could be cut in fractions over all cutting patterns: no plan is cheaper than this rounded up.
    is_proven : bool
        Whether no cheaper plan exists for the pieces placed.
    """

    cuts: tuple[Cut, ...]
    unplaced: tuple[tuple[str, int, str], ...]
    cost: int
    relaxed: float
    is_proven: bool

    @property
    def bars(self) -> int:
        """Number of bars used."""
        return sum(cut.count for cut in self.cuts)


def cut_bars(pieces: Sequence[Piece], bars: Sequence[Bar], *, kerf: float = 0.0) -> BarPlan:
    """Cut pieces from bars at least cost, by column generation and an exact integer program over the patterns found.

    Parameters
    ----------
    pieces : sequence of Piece
    bars : sequence of Bar
    kerf : float
        Width of a cut, mm.

    Raises
    ------
    InvalidProblem
        For lengths, quantities or a kerf that make no sense.

    Notes
    -----
    Gilmore and Gomory, Operations Research 9 (1961) and 11 (1963), for the patterns. The integer program is exact over
    the patterns at hand; `is_proven` says whether its cost meets the bound over all patterns. When it does not, more
    patterns are added by pricing with the gap left (all whose reduced cost could still matter), until it does or the
    list would become unwieldy.
    """
    _check(pieces, bars, kerf)
    reach = max((_units(bar.length) for bar in bars if bar.quantity != 0), default=0)
    fitting = [piece for piece in pieces if _units(piece.length) <= reach]
    unplaced = [
        (piece.id, piece.quantity, f"needs {piece.length:.1f} mm; the longest bar is {reach * UNIT:.1f} mm")
        for piece in pieces
        if _units(piece.length) > reach
    ]
    plan = _cheapest(fitting, bars, kerf)
    if plan is None:
        plan, left_out = _fewer(fitting, bars, kerf)
        unplaced += [(name, count, "the bars at hand are used up") for name, count in left_out.items()]
    return replace(plan, unplaced=tuple(unplaced))


def _cheapest(pieces: Sequence[Piece], bars: Sequence[Bar], kerf: float) -> BarPlan | None:
    """Cheapest plan for pieces that each fit some bar; None when there are too few bars."""
    if not pieces:
        return BarPlan((), (), 0, 0.0, True)
    k = _units(kerf)
    sizes = np.array([_units(piece.length) + k for piece in pieces], np.int64)
    demand = np.array([piece.quantity for piece in pieces], np.int64)
    room = np.array([_units(bar.length) + k for bar in bars], np.int64)
    limit = np.array([np.inf if bar.quantity is None else float(bar.quantity) for bar in bars])
    cost = np.array([float(bar.cost) for bar in bars])
    master = _Master(sizes, demand, room, limit, cost)
    relaxed = master.relax()
    solution = master.whole() if master.shortage < 1e-7 else None
    if solution is None:
        return None
    best = round(float(cost[master.kind] @ solution))
    proven = best <= math.ceil(relaxed - 1e-6)
    if not proven and master.add_all_within(best - 1 - relaxed):
        again = master.whole()
        solution = solution if again is None else again
        best = round(float(cost[master.kind] @ solution))
        proven = again is not None  # every pattern that a cheaper plan could use was at hand
    return BarPlan(_cuts(master, solution, pieces, bars, k), (), best, relaxed, proven)


def _fewer(pieces: Sequence[Piece], bars: Sequence[Bar], kerf: float) -> tuple[BarPlan, dict[str, int]]:
    """Leave out the shortest pieces, as few as the bars at hand demand."""
    one_by_one = [piece for piece in sorted(pieces, key=lambda one: one.length) for _ in range(piece.quantity)]

    def without(count: int) -> tuple[BarPlan | None, dict[str, int]]:
        out = Counter(piece.id for piece in one_by_one[:count])
        rest = [Piece(p.id, p.length, p.quantity - out[p.id]) for p in pieces if p.quantity > out[p.id]]
        return _cheapest(rest, bars, kerf), dict(out)

    few, many = 0, len(one_by_one)
    while many - few > 1:
        middle = (few + many) // 2
        few, many = (few, middle) if without(middle)[0] is not None else (middle, many)
    plan, left_out = without(many)
    return plan or BarPlan((), (), 0, 0.0, True), left_out


class _Master:
    """Patterns (one column each: kind of bar, pieces) and the programs over them."""

    MOST: Final = 20_000

    def __init__(self, sizes: Ints, demand: Ints, room: Ints, limit: Any, cost: Any) -> None:
        self.sizes, self.demand, self.room, self.limit, self.cost = sizes, demand, room, limit, cost
        self.patterns: list[tuple[int, tuple[int, ...]]] = []
        self.known: set[tuple[int, tuple[int, ...]]] = set()
        self.shortage = 0.0
        self.duals: Any = None
        for b in range(len(room)):
            for i in range(len(sizes)):
                most = min(int(room[b] // sizes[i]), int(demand[i]))
                if most > 0 and limit[b] > 0:
                    self._add(b, tuple(most if j == i else 0 for j in range(len(sizes))))

    @property
    def kind(self) -> Ints:
        return np.array([b for b, _ in self.patterns], np.int64)

    def _add(self, b: int, pattern: tuple[int, ...]) -> bool:
        if (b, pattern) in self.known:
            return False
        self.known.add((b, pattern))
        self.patterns.append((b, pattern))
        return True

    def _rows(self) -> tuple[Any, Any]:
        made = np.array([pattern for _, pattern in self.patterns], float).T
        used = np.array([[1.0 if b == k else 0.0 for b, _ in self.patterns] for k in range(len(self.room))])
        return made, used

    def relax(self) -> float:
        """Solve the program without whole numbers to its optimum over all patterns; returns its cost."""
        penalty = 1e3 * float(self.cost.max() + 1.0)
        finite = np.isfinite(self.limit)
        while True:
            made, used = self._rows()
            n, m = len(self.patterns), len(self.sizes)
            # One column per piece for what no bar is left for.
            rows = np.vstack((np.hstack((-made, -np.eye(m))), np.hstack((used[finite], np.zeros((finite.sum(), m))))))
            answer = linprog(
                np.concatenate((self.cost[self.kind], np.full(m, penalty))),
                A_ub=rows,
                b_ub=np.concatenate((-self.demand.astype(float), self.limit[finite])),
                method="highs",
            )
            self.shortage = float(answer.x[n:].sum())
            values = -answer.ineqlin.marginals[:m]
            fees = np.zeros(len(self.room))
            fees[finite] = -answer.ineqlin.marginals[m:]
            self.duals = (values, fees)
            added = False
            for b in range(len(self.room)):
                if self.limit[b] > 0:
                    worth, pattern = _best_pattern(self.sizes, values, self.demand, int(self.room[b]))
                    if worth > self.cost[b] + fees[b] + 1e-7:
                        added |= self._add(b, pattern)
            if not added:
                return float(self.cost[self.kind] @ answer.x[:n])

    def whole(self) -> Any:
        """Cheapest whole numbers of each pattern; None when there are too few bars."""
        made, used = self._rows()
        rows = np.vstack((made, used))
        low = np.concatenate((self.demand.astype(float), np.zeros(len(self.room))))
        high = np.concatenate((np.full(len(self.sizes), np.inf), self.limit))
        answer = milp(
            self.cost[self.kind],
            constraints=LinearConstraint(rows, low, high),
            integrality=np.ones(len(self.patterns)),
            bounds=Bounds(0, np.inf),
            options={"mip_rel_gap": 0.0, "time_limit": 60.0},
        )
        if answer.x is None:
            raise RuntimeError(
                f"the integer program over {len(self.patterns)} patterns was not solved: {answer.message}"
            )
        return np.round(answer.x).astype(np.int64)

    def add_all_within(self, gap: float) -> bool:
        """Add every pattern whose reduced cost is at most `gap`; False when there are too many to list."""
        values, fees = self.duals
        for b in range(len(self.room)):
            if self.limit[b] <= 0:
                continue
            least = self.cost[b] + fees[b] - gap - 1e-7
            for pattern in _patterns_worth(self.sizes, values, self.demand, int(self.room[b]), least):
                self._add(b, pattern)
                if len(self.patterns) > self.MOST:
                    return False
        return True


def _best_pattern(sizes: Ints, values: Any, demand: Ints, room: int) -> tuple[float, tuple[int, ...]]:
    """The most valuable set of pieces that fits: a bounded knapsack, by branch and bound."""
    best = [0.0]
    chosen: tuple[int, ...] = (0,) * len(sizes)

    def least() -> float:
        return best[0] + 1e-9

    for pattern, worth in _walk(sizes, values, demand, room, least):
        if worth > best[0]:
            best[0], chosen = worth, pattern
    return best[0], chosen


def _patterns_worth(sizes: Ints, values: Any, demand: Ints, room: int, least: float) -> Any:
    """Every set of pieces that fits and is worth at least `least`, fullest first along each branch."""
    for pattern, worth in _walk(sizes, values, demand, room, lambda: least):
        if worth >= least and any(pattern):
            yield pattern


def _walk(sizes: Ints, values: Any, demand: Ints, room: int, least: Any) -> Any:
    """All sets of pieces that fit and could still reach `least()`, with their worth."""
    order = sorted(range(len(sizes)), key=lambda i: (-values[i] / sizes[i], i))
    rate = [max(values[i], 0.0) / sizes[i] for i in order] + [0.0]
    counts = [0] * len(sizes)

    def deeper(depth: int, left: int, worth: float) -> Any:
        if worth + left * rate[depth] < least():
            return
        if depth == len(order):
            yield tuple(counts), worth
            return
        i = order[depth]
        for count in range(min(int(left // sizes[i]), int(demand[i])), -1, -1):
            counts[i] = count
            yield from deeper(depth + 1, left - count * int(sizes[i]), worth + count * values[i])
        counts[i] = 0

    yield from deeper(0, room, 0.0)


def _cuts(master: _Master, solution: Ints, pieces: Sequence[Piece], bars: Sequence[Bar], kerf: int) -> tuple[Cut, ...]:
    """Patterns as cuts; pieces cut beyond the demand are left out."""
    left = master.demand.copy()
    cuts: dict[tuple[int, tuple[int, ...]], int] = {}
    for (b, pattern), count in zip(master.patterns, solution, strict=True):
        for _ in range(int(count)):
            taken = np.minimum(np.array(pattern), left)
            left -= taken
            key = (b, tuple(int(n) for n in taken))
            cuts[key] = cuts.get(key, 0) + 1
    out = []
    for (b, taken_once), count in cuts.items():
        ids = [piece.id for piece, n in zip(pieces, taken_once, strict=True) for _ in range(n)]
        used = int(np.array(taken_once) @ master.sizes)
        out.append(
            Cut(
                bars[b].id,
                count,
                tuple(ids),
                max(int(master.room[b]) - used - kerf, 0) * UNIT if ids else bars[b].length,
            )
        )
    return tuple(cut for cut in out if cut.pieces)


def _units(length: float) -> int:
    return round(length / UNIT)


def _check(pieces: Sequence[Piece], bars: Sequence[Bar], kerf: float) -> None:
    found = []
    if not math.isfinite(kerf) or kerf < 0:
        found.append(f"kerf is {kerf} mm; it must be 0 mm or more")
    if not bars:
        found.append("there is no bar to cut from; add at least one")
    for kind, one in [("piece", piece) for piece in pieces] + [("bar", bar) for bar in bars]:
        if not math.isfinite(one.length) or one.length <= 0:
            found.append(f"{kind} {one.id!r}: length is {one.length} mm; it must be more than 0 mm")
    for piece in pieces:
        if piece.quantity < 1:
            found.append(f"piece {piece.id!r}: quantity is {piece.quantity}; it must be at least 1")
    for bar in bars:
        if bar.quantity is not None and bar.quantity < 0:
            found.append(f"bar {bar.id!r}: quantity is {bar.quantity}; it must be 0 or more, or unlimited")
        if bar.cost < 0:
            found.append(f"bar {bar.id!r}: cost is {bar.cost}; it must be 0 or more")
    for kind, ids in (("piece", [piece.id for piece in pieces]), ("bar", [bar.id for bar in bars])):
        for name in sorted({name for name in ids if ids.count(name) > 1}):
            found.append(f"{kind} id {name!r} is used more than once; ids must be unique")
    if found:
        raise InvalidProblem(tuple(found))
