"""Strips: the shortest piece of a roll that takes all parts. The strip runs along x; its height is the roll's width."""

from __future__ import annotations

import time
from collections.abc import Callable, Generator, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import closing
from dataclasses import dataclass
from itertools import cycle
from typing import Final

import numpy as np
from numpy.typing import NDArray

from geometry.outline import Outline
from nesting.board import Board
from nesting.catalog import Catalog, preparing
from nesting.construct import build, default_order, fit_table, reasons
from nesting.knockout import Knockout
from nesting.pairs import MAP_STEP, PairTables
from nesting.plan import Placement, Unplaced
from nesting.problem import Part, Problem, Rules, Sheet, net_area
from nesting.rectangles import RectangleStrip, is_rectangle
from nesting.settle import Settler
from nesting.shrink import Shrinker
from nesting.stop import Progress, Stop
from nesting.team import Team
from nesting.warm import warming

Floats = NDArray[np.float64]
MOST_PREPARED: Final = 12_000
"""Tables built before the search begins; about a second of two cores for a thousand."""
ASK_EVERY: Final = 0.05
"""Seconds between two questions whether a person has cancelled, during a long step."""


@dataclass(frozen=True, slots=True)
class StripPlan:
    """Parts on a strip.

    Fields
    ------
    length : float
        From the strip's start to the far edge of the last part, plus the margin, mm.
    placements : tuple of Placement
    unplaced : tuple of Unplaced
        Copies too high for the strip in every allowed attitude.
    density : float
        Net area of the placed parts / (height x length).
    is_exact : bool
        Whether parts were settled to exact contact; otherwise they may overlap by the catalog's allowance.
    """

    length: float
    placements: tuple[Placement, ...]
    unplaced: tuple[Unplaced, ...]
    density: float
    is_exact: bool


_Step = tuple[str, StripPlan | None, bool]
"""Stage, the plan where it is a better one, whether this was a round."""


def solve_strip(
    parts: Sequence[Part],
    height: float,
    rules: Rules,
    stop: Stop,
    *,
    seed: int = 0,
    on_gain: Callable[[StripPlan], None] | None = None,
    on_progress: Callable[[Progress], None] | None = None,
    cancelled: Callable[[], bool] = lambda: False,
    clock: Callable[[], float] = time.perf_counter,
) -> StripPlan:
    """Pack parts on a strip of this height and make it as short as `stop` allows; a full layout always comes first.

    `Progress.best_cost` holds the length in micrometres. Same parts, seed and rounds give the same plan.

    Raises
    ------
    InvalidProblem
        As for sheets.
    """
    began = clock()
    best: StripPlan | None = None
    rounds = since_gain = 0
    with closing(_answering(_steps(parts, height, rules, seed), cancelled)) as road:
        for stage, plan, done in road:
            rounds += done
            since_gain += done
            if plan is not None and (best is None or plan.length < best.length):
                best, since_gain = plan, 0
                if on_gain is not None:
                    on_gain(plan)
            cost = () if best is None else (round(best.length * 1e3),)
            at = Progress(rounds, since_gain, clock() - began, cost, stage, None)
            if on_progress is not None:
                on_progress(at)
            if cancelled() or (best is not None and stop.reached(at)):
                break
    return best if best is not None else _nothing(parts)


def _answering(road: Generator[_Step, None, None], cancelled: Callable[[], bool]) -> Generator[_Step, None, None]:
    """The steps of a road, walked by a thread of its own: no linear program keeps a person who cancels waiting."""
    walker = ThreadPoolExecutor(1, thread_name_prefix="strip")
    try:
        while True:
            coming = walker.submit(next, road, None)
            while not wait((coming,), ASK_EVERY).done:
                if cancelled():
                    return
            step = coming.result()
            if step is None:
                return
            yield step
    finally:
        walker.submit(road.close)  # when the step at hand has ended
        walker.shutdown(wait=False)


def _nothing(parts: Sequence[Part]) -> StripPlan:
    missing = tuple(Unplaced(part.id, copy, "not tried") for part in parts for copy in range(part.quantity))
    return StripPlan(0.0, (), missing, 0.0, True)


def _steps(parts: Sequence[Part], height: float, rules: Rules, seed: int) -> Generator[_Step, None, None]:
    for _ in warming():
        yield "preparing", None, False
    area = sum(net_area(part.outline) * part.quantity for part in parts)
    longest = max((float(np.ptp(part.outline.outer, axis=0).max()) for part in parts), default=0.0)
    length = area / height / 0.4 + 2.0 * longest + 2.0 * rules.margin
    catalog: Catalog
    while True:
        problem = Problem(tuple(parts), (_strip(length, height),), rules)
        making = preparing(problem)
        while True:
            try:
                next(making)
            except StopIteration as made:
                catalog = made.value
                break
            yield "preparing", None, False
        fits = fit_table(catalog)
        board = Board(problem, catalog)
        order = [i for i in default_order(problem, catalog) if fits[board.items[i][0]][0]]
        if not order:
            return
        b = board.open_sheet(0, 0)
        board.open[b].axis = 0
        for tried in build(board, order, sheets=()):
            yield f"placing {tried} of {len(order)}", None, False
        if all(board.state.bin[i] == b for i in order):
            break
        length *= 1.6
    road = _Shortening(problem, catalog, board, order, height, seed)
    for part in sorted(set(road.parts)):
        road.settler.prepare(part)
        yield "preparing", None, False
    yield "improving", road.plan(), False
    yield from road.steps()


def _strip(length: float, height: float) -> Sheet:
    return Sheet("strip", Outline.from_points([(0, 0), (length, 0), (length, height), (0, height)]), 1, 1)


class _Shortening:
    """The part of a strip's run after its first full layout."""

    def __init__(
        self, problem: Problem, catalog: Catalog, board: Board, order: list[int], height: float, seed: int
    ) -> None:
        self.problem, self.catalog, self.height = problem, catalog, height
        self.items = sorted(order)
        self.parts = [board.items[i][0] for i in self.items]
        self.copies = [board.items[i] for i in self.items]
        self.missing = [board.items[i] for i in range(len(board.items)) if i not in set(order)]
        self.why = reasons(problem, catalog)
        self.settler = Settler(problem, catalog)
        step = MAP_STEP * catalog.mean_diameter(self.parts)
        self.team = Team(catalog, self.parts, PairTables(catalog, map_step=step), seed=seed)
        self.team.use([0])
        self.rect = catalog.rooms[0].box
        self.seed = seed
        self.seeds = np.random.SeedSequence(seed)
        # Some jobs lie best at right angles, others slantwise; of many shapes the tables for that would never be done.
        self.is_free = cycle((False,) if self.team.pairs.are_many else (False, True))
        self.best = self._life(board.places()[self.items], scattered=False)

    def _life(self, places: Floats, *, scattered: bool) -> Shrinker:
        seed = int(self.seeds.spawn(1)[0].generate_state(1)[0])
        return Shrinker(
            self.team,
            places,
            0,
            0,
            seed=seed,
            settle=self._settle,
            scattered=scattered,
            is_free=next(self.is_free),
        )

    def _settle(self, places: Floats, most: float) -> Floats | None:
        return self.settler.shortest(self.parts, places, self.rect, 0, most)

    def plan(self) -> StripPlan:
        """The best layout, settled."""
        places, exact = self.best.places, self.best.is_exact
        if not exact:
            settled = self._settle(places, np.inf)
            exact = settled is not None
            places = places if settled is None else settled
        placed, reach = [], 0.0
        for (part, copy), place in zip(self.copies, places, strict=True):
            way = self.catalog.way_of(part, int(place[3]), float(place[2]))
            x, y = self.catalog.placed_at(part, way, float(place[0]), float(place[1]))
            placed.append(Placement(self.problem.parts[part].id, copy, x, y, way.angle, way.mirrored))
            reach = max(reach, float(place[0]) + float(self.team.box(int(place[3]), float(place[2]))[2]))
        length = reach + self.problem.rules.margin
        area = sum(net_area(self.problem.parts[part].outline) for part, _ in self.copies)
        unplaced = tuple(Unplaced(self.problem.parts[part].id, copy, self.why[part]) for part, copy in self.missing)
        return StripPlan(length, tuple(placed), unplaced, area / (self.height * length), exact)

    def steps(self) -> Generator[_Step, None, None]:
        """Shorten for ever, from ever new starts; a plan comes with every gain."""
        rounds, tree = Knockout(self.best, lambda: self._life(self.best.places, scattered=True)), None
        if all(is_rectangle(self.problem.parts[part]) for part in self.parts):
            tree = RectangleStrip(self.problem, self.catalog, self.parts, self.rect, self.best.length, seed=self.seed)
        try:
            for _ in self.team.prepare(self.team.unprepared(MOST_PREPARED)):
                yield "improving", None, False
            while not self.best.done:
                rounds.turn()
                life = rounds.now
                gained = life.step()
                if tree is not None:
                    tree.best = min(tree.best, self.best.length)
                    for _ in range(4):
                        if tree.step() and tree.places is not None:
                            gained = life.adopt(tree.places) or gained
                gained = gained and (life is self.best or life.length < self.best.length)
                if gained:
                    self.best = life
                yield "improving", self.plan() if gained else None, True
        finally:
            self.team.close()
