"""Which plan each job takes and which sheets are bought, so that the whole order costs least: an exact integer program.

Every need (one material of one job) has options: plans that were nested, each using whole sheets of some sizes and
some offcuts of the rack. One option is chosen for each need; sheets on hand come off; a size is bought in its minimum
order or not at all; a material of which more sheets are used than its limit gets a spare. Among the cheapest orders
the one that uses least sheet area is taken, so that sheets on hand are not used up for nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from app.errors import PlanningError

SPARE_ABOVE: Final = 5
"""A material of which more sheets than this are used gets a spare one. Common practice."""


@dataclass(frozen=True, slots=True)
class Size:
    """A sheet size that can be bought.

    Fields
    ------
    stock, material : str
    price : int
        Of one, minor currency units, or any other cost where prices are unknown.
    area : float, mm²
    on_hand : int
    minimum : int
        Fewest to buy, when any are bought.
    most : int or None
        Most that can be had beside those on hand; None means as many as wanted.
    """

    stock: str
    material: str
    price: int
    area: float
    on_hand: int = 0
    minimum: int = 1
    most: int | None = None


@dataclass(frozen=True, slots=True)
class Option:
    """One plan for a need: how many sheets of each size, and which offcuts."""

    name: str
    sheets: tuple[tuple[str, int], ...]
    offcuts: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Need:
    """One material of one job, with the plans that would do."""

    job: str
    material: str
    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class SpareRule:
    """When a spare sheet is bought: above so many sheets of a material, and for lot-matched materials always."""

    above: int = SPARE_ABOVE
    lot_matched: frozenset[str] = frozenset()


NO_SPARES: Final = SpareRule(above=10**9)


@dataclass(frozen=True, slots=True)
class Mix:
    """The cheapest order.

    Fields
    ------
    chosen : tuple of int
        Index of the option of each need.
    used, spare, bought : dict of stock id to sheets
        Used by the plans; kept as spare; bought. What is neither bought nor used stays on hand.
    cost : int
        Of what is bought.
    lacks_spare : bool
        A spare was due and cannot be had.
    """

    chosen: tuple[int, ...]
    used: dict[str, int]
    spare: dict[str, int]
    bought: dict[str, int]
    cost: int
    lacks_spare: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Program:
    """An integer program: minimise `cost` @ x with low <= rows @ x <= high, x whole, 0 <= x <= most."""

    cost: NDArray[np.float64]
    rows: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    most: NDArray[np.float64]


def cheapest_mix(needs: Sequence[Need], sizes: Sequence[Size], *, spare: SpareRule | None = None) -> Mix:
    """The order of least cost, and among those of least sheet area used.

    Raises
    ------
    PlanningError
        When no choice of options can be met from what is to be had.
    """
    model = _Model(needs, sizes, spare or SpareRule())
    first = solve_program(model.program(model.money()))
    lacks_spare = first is None
    if first is None:
        model = _Model(needs, sizes, NO_SPARES)
        first = solve_program(model.program(model.money()))
    if first is None:
        raise PlanningError(
            "no choice of plans can be bought from what is to be had; raise a count, or add a sheet size to a job"
        )
    money = model.money()
    held = model.program(model.area(), extra=(money, float(money @ first)))
    second = solve_program(held)
    return replace(model.mix(first if second is None else second), lacks_spare=lacks_spare)


def order_program(needs: Sequence[Need], sizes: Sequence[Size], *, spare: SpareRule | None = None) -> Program:
    """The program whose answer is the least cost, for any solver."""
    model = _Model(needs, sizes, spare or SpareRule())
    return model.program(model.money())


def solve_program(program: Program) -> NDArray[np.float64] | None:
    """Whole numbers that solve the program to proven optimality; None when it has no answer."""
    answer = milp(
        program.cost,
        constraints=LinearConstraint(program.rows, program.low, program.high),
        integrality=np.ones(len(program.cost)),
        bounds=Bounds(0.0, program.most),
        options={"mip_rel_gap": 0.0},
    )
    if answer.x is None or answer.status != 0:
        return None
    found: NDArray[np.float64] = np.round(answer.x)
    return found


class _Add(Protocol):
    def __call__(self, row: NDArray[np.float64], at_least: float, at_most: float, /) -> None: ...


class _Model:
    """Columns: one per option, then for each size bought, ordered at all, spare and used at all, then per material."""

    def __init__(self, needs: Sequence[Need], sizes: Sequence[Size], spare: SpareRule) -> None:
        self.needs, self.sizes, self.rule = needs, sizes, spare
        self.materials = sorted({size.material for size in sizes})
        self.options = [(n, o) for n, need in enumerate(needs) for o in range(len(need.options))]
        counts = [len(self.options), *[len(sizes)] * 4, len(self.materials)]
        starts = np.concatenate([[0], np.cumsum(counts)])
        self.pick, self.buy, self.order, self.keep, self.touch, self.large = (int(start) for start in starts[:-1])
        self.width = int(starts[-1])
        self.use = np.zeros((len(sizes), len(self.options)))
        place = {size.stock: s for s, size in enumerate(sizes)}
        for column, (n, o) in enumerate(self.options):
            for stock, count in needs[n].options[o].sheets:
                self.use[place[stock], column] += count
        # What all needs together could use of a size at most: a limit that never cuts off an answer.
        self.top = [
            sum(
                max((self._count(need.options[o], size.stock) for o in range(len(need.options))), default=0)
                for need in needs
            )
            for size in sizes
        ]

    def program(self, cost: NDArray[np.float64], *, extra: tuple[NDArray[np.float64], float] | None = None) -> Program:
        rows: list[NDArray[np.float64]] = []
        low: list[float] = []
        high: list[float] = []

        def add(row: NDArray[np.float64], at_least: float, at_most: float) -> None:
            rows.append(row)
            low.append(at_least)
            high.append(at_most)

        for n in range(len(self.needs)):
            add(self._row(picks=[c for c, (need, _) in enumerate(self.options) if need == n]), 1.0, 1.0)
        for offcut in sorted({one for need in self.needs for option in need.options for one in option.offcuts}):
            users = [c for c, (n, o) in enumerate(self.options) if offcut in self.needs[n].options[o].offcuts]
            add(self._row(picks=users), 0.0, 1.0)
        for s, size in enumerate(self.sizes):
            need = self._uses(s, -1.0)
            need[self.buy + s] = 1.0
            need[self.keep + s] = -1.0
            add(need, -float(size.on_hand), math.inf)  # bought + on hand covers used + spare
            ceiling = self._ceiling(s)
            self._link(add, self.buy + s, self.order + s, float(max(size.minimum, 1)), ceiling)
            touched = self._uses(s, -1.0)
            touched[self.touch + s] = float(self.top[s])
            add(touched, 0.0, math.inf)
        for m, material in enumerate(self.materials):
            self._spares(add, m, [s for s, size in enumerate(self.sizes) if size.material == material])
        if extra is not None:
            add(extra[0], -math.inf, extra[1] + 0.5)
        most = np.ones(self.width)
        for s in range(len(self.sizes)):
            most[self.buy + s] = self._ceiling(s)
        return Program(cost, np.array(rows), np.array(low), np.array(high), most)

    def money(self) -> NDArray[np.float64]:
        cost = np.zeros(self.width)
        for s, size in enumerate(self.sizes):
            cost[self.buy + s] = size.price
        return cost

    def area(self) -> NDArray[np.float64]:
        """Area used and spare, cm²: whole numbers keep the second program exact; buying for nothing costs a little."""
        cost = np.zeros(self.width)
        areas = [round(size.area / 100.0) for size in self.sizes]
        cost[: len(self.options)] = np.array(areas) @ self.use if self.sizes else 0.0
        for s in range(len(self.sizes)):
            cost[self.keep + s] = areas[s]
            cost[self.buy + s] = 1.0
        # Between equal plans the first named is taken.
        cost[: len(self.options)] += [0.001 * o for _, o in self.options]
        return cost

    def mix(self, answer: NDArray[np.float64]) -> Mix:
        chosen = {n: o for column, (n, o) in enumerate(self.options) if answer[column] > 0.5}
        used = self.use @ answer[: len(self.options)]

        def counts(values: Iterable[float]) -> dict[str, int]:
            return {
                size.stock: round(value) for size, value in zip(self.sizes, values, strict=True) if round(value) > 0
            }

        bought = counts(answer[self.buy : self.buy + len(self.sizes)])
        return Mix(
            chosen=tuple(chosen[n] for n in range(len(self.needs))),
            used=counts(used),
            spare=counts(answer[self.keep : self.keep + len(self.sizes)]),
            bought=bought,
            cost=sum(size.price * bought.get(size.stock, 0) for size in self.sizes),
        )

    def _spares(self, add: _Add, m: int, sizes: list[int]) -> None:
        """One spare as large as the largest size used, when the material is used enough."""
        total = sum((self._uses(s, 1.0) for s in sizes), np.zeros(self.width))
        limit = 0 if self.materials[m] in self.rule.lot_matched else self.rule.above
        room = float(max(1, sum(self.top[s] for s in sizes)))
        enough = total.copy()
        enough[self.large + m] = -room
        add(enough, -math.inf, float(limit))  # more than the limit: the spare is due
        due = total.copy()
        due[self.large + m] = -float(limit + 1)
        add(due, 0.0, math.inf)  # no more than the limit: it is not
        one = np.zeros(self.width)
        for s in sizes:
            one[self.keep + s] = 1.0
        one[self.large + m] = -1.0
        add(one, 0.0, 0.0)
        for s in sizes:
            for t in sizes:
                if self.sizes[t].area > self.sizes[s].area * (1.0 + 1e-9):
                    clash = np.zeros(self.width)
                    clash[self.keep + s] = clash[self.touch + t] = 1.0
                    add(clash, 0.0, 1.0)

    def _link(self, add: _Add, number: int, switch: int, least: float, most: float) -> None:
        """`number` is 0, or from `least` to `most` with the switch on."""
        row = np.zeros(self.width)
        row[number], row[switch] = 1.0, -least
        add(row, 0.0, math.inf)
        row = np.zeros(self.width)
        row[number], row[switch] = 1.0, -most
        add(row, -math.inf, 0.0)

    def _ceiling(self, s: int) -> float:
        size = self.sizes[s]
        if size.most is not None:
            return float(size.most)
        return float(max(size.minimum, self.top[s] + 1))

    def _uses(self, s: int, sign: float) -> NDArray[np.float64]:
        row = np.zeros(self.width)
        row[: len(self.options)] = sign * self.use[s]
        return row

    def _row(self, *, picks: Iterable[int]) -> NDArray[np.float64]:
        row = np.zeros(self.width)
        row[list(picks)] = 1.0
        return row

    @staticmethod
    def _count(option: Option, stock: str) -> int:
        counts: Mapping[str, int] = dict(option.sheets)
        return counts.get(stock, 0)
