"""The road a run takes: prepare, build a first full layout, improve. Knows no clock and no stop.

Improving means, in turn: fitting the parts on a cheaper set of sheets, and making the largest free strip larger.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nesting.board import Board
from nesting.catalog import Catalog, preparing
from nesting.construct import build, default_order, fit_table, reasons
from nesting.kernels.separate import FREE_OF_OVERLAP, GAVE_UP
from nesting.mix import cheaper_sets
from nesting.pairs import PairTables
from nesting.plan import Plan
from nesting.problem import Problem
from nesting.shrink import BUDGET, PATIENT, Shrinker
from nesting.team import WORKERS, Team
from nesting.warm import warming

Floats = NDArray[np.float64]
FIRST_PATIENCE: Final = 40
"""Rounds without gain before a set of sheets is given up, doubled each time it is tried again."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a run. `plan` is set when it is better than all before."""

    stage: str
    fraction: float | None
    plan: Plan | None = None
    round_done: bool = False
    complete: bool = False  # a first full layout exists


@dataclass(slots=True)
class Standing:
    """The best so far: which copies are placed, on which kinds of sheets, where (n, 5), and the plan."""

    items: list[int]
    kinds: list[int]
    places: Floats
    plan: Plan


def steps(problem: Problem, *, seed: int, start: Plan | None = None) -> Generator[Step, None, None]:
    """Walk the road; ends only when nothing better can exist or nothing is left to try."""
    for _ in warming():
        yield Step("preparing", None)
    making = preparing(problem)
    while True:
        try:
            done = next(making)
        except StopIteration as made:
            catalog: Catalog = made.value
            break
        yield Step("preparing", done / (2 * len(problem.parts)))
    why = reasons(problem, catalog)
    order = default_order(problem, catalog)
    board = Board(problem, catalog)
    keep = max(1, len(order) // 8)
    for tried in build(board, order):
        partial = board.plan(why) if tried % keep == 0 else None  # so that a cancelled run has something to show
        yield Step(f"placing {tried} of {len(order)}", tried / len(order), partial)
    best = standing(board, board.plan(why))
    if start is not None:
        given = from_plan(problem, catalog, start)
        if given is not None and given.cost() < best.plan.cost:
            best = standing(given, given.plan(why))
    yield Step("improving", None, best.plan, complete=True)
    if not best.items:
        return
    yield from Improving(problem, catalog, best, why, seed).steps()


def standing(board: Board, plan: Plan) -> Standing:
    """What a board holds, its sheets renumbered so that empty ones are left out."""
    places = board.places()
    items = [i for i in range(len(places)) if places[i, 4] >= 0]
    used = sorted({int(places[i, 4]) for i in items})
    places = places[items]
    places[:, 4] = np.searchsorted(used, places[:, 4])
    return Standing(items, [board.open[b].sheet for b in used], places, plan)


def from_plan(problem: Problem, catalog: Catalog, plan: Plan) -> Board | None:
    """A board as a plan says; None if the plan is not of this problem's making."""
    from nesting.referee import violations

    if violations(problem, plan):
        return None
    board = Board(problem, catalog)
    numbers = {(problem.parts[part].id, copy): i for i, (part, copy) in enumerate(board.items)}
    kinds = {sheet.id: k for k, sheet in enumerate(problem.sheets)}
    for layout in plan.layouts:
        b = board.open_sheet(kinds[layout.sheet], layout.copy, with_field=False)
        for one in layout.placements:
            i = numbers[one.part, one.copy]
            if not board.adopt(i, b, one):
                return None
    return board


class Improving:
    """The part of a run after the first full layout."""

    def __init__(self, problem: Problem, catalog: Catalog, best: Standing, why: dict[int, str], seed: int) -> None:
        self.problem = problem
        self.catalog = catalog
        self.best = best
        self.why = why
        self.seeds = np.random.SeedSequence(seed)
        self.random = np.random.default_rng(self.seeds.spawn(1)[0])
        self.pairs = PairTables(catalog)
        self.items = Board(problem, catalog).items
        fits = fit_table(catalog)
        self.placeable = [i for i, (part, _) in enumerate(self.items) if any(fits[part])]
        self.times: dict[tuple[int, tuple[int, ...]], int] = {}

    def steps(self) -> Iterator[Step]:
        """Alternate between cheaper sheets and a larger strip, with equal effort."""
        spent = 0
        while True:
            target = self._target()
            if target is not None:
                for step in self._refit(*target):
                    spent += 1
                    yield step
            limit = max(spent, 50)
            spent = 0
            for step in self._lengthen_strip(limit):
                yield step
            if target is None and len(self.best.items) == 0:
                return

    def _target(self) -> tuple[list[int], tuple[int, ...]] | None:
        """What to try next: which copies on which sheets."""
        missing = [i for i in self.placeable if i not in set(self.best.items)]
        options: list[tuple[list[int], tuple[int, ...]]] = []
        if missing:
            # Stock is short: everything at hand is in use; squeeze in one more, the most important first.
            missing.sort(key=self._importance)
            for i in missing[:4]:
                options.append((sorted([*self.best.items, i]), tuple(sorted(self._all_stock()))))
        else:
            parts = [self.items[i][0] for i in self.best.items]
            for chosen in cheaper_sets(self.problem, self.catalog, parts, self.best.kinds):
                options.append((self.best.items, chosen))
        if not options:
            return None
        key = min(range(len(options)), key=lambda k: (self.times.get(self._name(options[k]), 0), k))
        return options[key]

    def _importance(self, i: int) -> tuple[float, float, int]:
        part = self.items[i][0]
        return -self.problem.parts[part].priority, -self.catalog.areas[part], i

    def _all_stock(self) -> list[int]:
        left = {k: sheet.quantity for k, sheet in enumerate(self.problem.sheets)}
        kinds = list(self.best.kinds)
        for k, quantity in left.items():
            if quantity is not None:
                kinds += [k] * (quantity - kinds.count(k))
        return kinds

    @staticmethod
    def _name(option: tuple[list[int], tuple[int, ...]]) -> tuple[int, tuple[int, ...]]:
        return len(option[0]), option[1]

    def _refit(self, items: list[int], kinds: tuple[int, ...]) -> Iterator[Step]:
        """Try to place these copies on exactly these sheets."""
        name = self._name((items, kinds))
        times = self.times.get(name, 0)
        self.times[name] = times + 1
        board = Board(self.problem, self.catalog)
        order = self._order(items, shuffled=times > 0)
        for _ in build(board, order, sheets=self._sheet_order(kinds)):
            yield Step("improving", None)
        plan = board.plan(self.why)
        if plan.cost < self.best.plan.cost:
            self.best = standing(board, plan)
            yield Step("improving", None, plan, round_done=True)
            return
        team = Team(self.catalog, [self.items[i][0] for i in items], self.pairs, seed=self._seed())
        try:
            team.use(kinds)
            start = self._filled_up(board, items, kinds, team)
            for k in range(WORKERS):
                team.load(k, start)
                team.begin(k, even=True)
            effort = PATIENT._replace(patience=FIRST_PATIENCE * 2 ** min(times, 6), strikes=1 + min(times, 2))
            active = list(range(WORKERS))
            while active:
                status = team.run(effort, BUDGET, active)
                won = [k for k in active if status[k] == FREE_OF_OVERLAP and team.is_clean(k)]
                if won:
                    yield self._won(items, kinds, team.places(won[0]))
                    return
                active = [k for k in active if status[k] not in (GAVE_UP, FREE_OF_OVERLAP)]
                yield Step("improving", None, round_done=True)
        finally:
            team.close()

    def _won(self, items: Sequence[int], kinds: Sequence[int], places: Floats) -> Step:
        """Take over a layout without overlap; a plan comes out when it is better."""
        board = self._board(items, kinds, places)
        if board.cost() < self.best.plan.cost:
            plan = board.plan(self.why)
            self.best = standing(board, plan)
            return Step("improving", None, plan, round_done=True)
        return Step("improving", None, round_done=True)

    def _board(self, items: Sequence[int], kinds: Sequence[int], places: Floats) -> Board:
        board = Board(self.problem, self.catalog)
        for b, kind in enumerate(kinds):
            board.open_sheet(kind, list(kinds[:b]).count(kind), with_field=False)
        for i, (x, y, angle, code, b) in zip(items, places, strict=True):
            board.stand(i, int(b), int(code), float(angle), float(x), float(y))
        return board

    def _order(self, items: list[int], *, shuffled: bool) -> list[int]:
        weight = {i: self.catalog.sizes[self.items[i][0]] for i in items}
        if shuffled:
            weight = {i: size * self.random.uniform(0.6, 1.6) for i, size in weight.items()}
        return sorted(items, key=lambda i: (-weight[i], i))

    def _sheet_order(self, kinds: Sequence[int]) -> list[int]:
        return sorted(kinds, key=lambda k: (-self.catalog.rooms[k].area, k))

    def _filled_up(self, board: Board, items: list[int], kinds: Sequence[int], team: Team) -> Floats:
        """The board's places on the sheets of `kinds`, and random ones for copies it had no room for."""
        numbers: dict[int, list[int]] = {}
        for b, kind in enumerate(kinds):
            numbers.setdefault(kind, []).append(b)
        new_bin = [numbers[sheet.sheet].pop(0) for sheet in board.open]
        places = board.places()[items]
        rect = team.bins.rect
        fits = fit_table(self.catalog)
        for row, i in enumerate(items):
            if places[row, 4] >= 0:
                places[row, 4] = new_bin[int(places[row, 4])]
                continue
            part = self.items[i][0]
            able = [b for b, kind in enumerate(kinds) if fits[part][kind]]
            b = able[int(self.random.integers(len(able)))]
            size = rect[b, 2:] - rect[b, :2]
            boxes = {way.shape: team.box(way.shape, 0.0) for way in self.catalog.attitudes[part]}
            good = [shape for shape, box in boxes.items() if np.all(box[2:] - box[:2] <= size)]
            shape = good[int(self.random.integers(len(good)))]
            low, high = rect[b, :2] - boxes[shape][:2], rect[b, 2:] - boxes[shape][2:]
            x, y = low + self.random.random(2) * (high - low)
            places[row] = (x, y, 0.0, shape, b)
        return places

    def _lengthen_strip(self, limit: int) -> Iterator[Step]:
        """For `limit` stretches: shorten the layout of the sheet that has the largest free strip already."""
        best = self.best
        team = Team(self.catalog, [self.items[i][0] for i in best.items], self.pairs, seed=self._seed())
        try:
            team.use(best.kinds)
            b, axis = self._roomiest(team)
            shrinker = Shrinker(team, best.places, b, axis, seed=self._seed())
            for _ in range(limit):
                if shrinker.step():
                    yield self._won(best.items, best.kinds, shrinker.places)
                else:
                    yield Step("improving", None, round_done=True)
                if shrinker.done or self.best.kinds != best.kinds:
                    return
        finally:
            team.close()

    def _roomiest(self, team: Team) -> tuple[int, int]:
        """Sheet and axis with the largest free strip at the high end."""
        rect, places = team.bins.rect, self.best.places
        high = np.full((len(rect), 2), -np.inf)
        for place in places:
            box = team.box(int(place[3]), float(place[2]))
            b = int(place[4])
            high[b] = np.maximum(high[b], place[:2] + box[2:])
        free = np.maximum(rect[:, 2:] - high, 0.0) * (rect[:, 2:] - rect[:, :2])[:, ::-1]
        size = rect[:, 2:] - rect[:, :2]
        b, axis = divmod(int(np.argmax(free)), 2)
        if free.max() <= 0.0:
            b = int(np.argmin([np.sum(places[:, 4] == k) for k in range(len(rect))]))
            axis = int(np.argmax(size[b]))
        return b, axis

    def _seed(self) -> int:
        return int(self.random.integers(2**62))
