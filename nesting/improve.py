"""Improving a full layout: fewer and cheaper sheets, then a larger free strip.

In turn: the parts of some sheets are fitted on a cheaper set of sheets; parts of the emptiest sheets are pushed into
fuller ones, the overlaps removed, until a sheet is empty; the layout with the largest free strip is made shorter. Each
works on a window of sheets, the rest stands still, so that a round costs no more in a job of a thousand parts.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import cycle
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.board import Board
from nesting.catalog import Catalog
from nesting.construct import build, fit_table
from nesting.excerpt import Excerpt, excerpt
from nesting.failures import PROMISING
from nesting.kernels.score import Effort
from nesting.kernels.separate import FREE_OF_OVERLAP, GAVE_UP
from nesting.mix import FULLEST, capacity, cheaper_sets
from nesting.pairs import MAP_STEP, PairTables, flat, shape_rings
from nesting.pieces import convex_pieces
from nesting.plan import Plan
from nesting.problem import Problem
from nesting.settle import Ground, Settler
from nesting.shrink import BUDGET, HASTY, PATIENT, Shrinker, freely
from nesting.team import WORKERS, Team

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
FIRST_PATIENCE: Final = 40
"""Rounds without gain before a set of sheets is given up, doubled each time it is tried again."""
WINDOW: Final = 100
"""Copies that are worked on at once; a single sheet may hold more."""
MANY_SHAPES: Final = 2500
"""From here on each window has its own pair tables: those of all shapes would need too much memory."""
REFIT_ROUNDS: Final = 50
"""Most rounds of fitting copies on a set of sheets, doubled each time it is tried again."""
PUSH_ROUNDS: Final = 15
"""Most rounds of pushing one copy onto a sheet."""
RECENT: Final = 20
"""Failures that a new one is compared with: only the better ones are worth parting."""
PREPARED_FIRST: Final = 1000
PREPARED_A_ROUND: Final = 3
"""Tables that may be built ahead at once, and then for every round: about as long as the round takes."""
STRETCH: Final = 50
"""Rounds of one way of improving before the next one has its turn, at least."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a run. `plan` is set when it is better than all before."""

    stage: str
    fraction: float | None
    plan: Plan | None = None
    round_done: bool = False
    complete: bool = False  # a first full layout exists


ROUND: Final = Step("improving", None, round_done=True)


@dataclass(slots=True)
class Standing:
    """A full layout: which copies are placed, on which kinds of sheets, where (n, 5), and the plan."""

    items: list[int]
    kinds: list[int]
    places: Floats
    plan: Plan


@dataclass(slots=True)
class Crew:
    """A team on some copies, and how its catalog counts shapes."""

    team: Team
    some: Excerpt | None = None

    def inwards(self, places: Floats) -> Floats:
        """Places with shapes numbered as the team does."""
        return places if self.some is None else self.some.inwards(places)

    def outwards(self, places: Floats) -> Floats:
        """Places with shapes numbered as in the whole catalog."""
        return places if self.some is None else self.some.outwards(places)

    def separated(self, start: Floats, effort: Effort, most: int) -> Iterator[Floats | None]:
        """Remove overlaps in at most so many rounds: None after each, the places where all are gone."""
        for k in range(WORKERS):
            self.team.load(k, self.inwards(start))
            self.team.begin(k, even=True)
        active = list(range(WORKERS))
        while active and most > 0:
            most -= 1
            status = self.team.run(effort, BUDGET, active)
            for k in active:
                if status[k] == FREE_OF_OVERLAP and self.team.is_clean(k):
                    yield self.outwards(self.team.places(k))
                    return
            active = [k for k in active if status[k] not in (GAVE_UP, FREE_OF_OVERLAP)]
            yield None

    def is_clean(self, places: Floats) -> bool:
        """Whether nothing overlaps by the exact test."""
        self.team.load(0, self.inwards(places))
        return self.team.is_clean(0)

    def nearly(self) -> tuple[float, Floats]:
        """The least overlap a worker has had, and its places then."""
        total, places = min((self.team.best(k) for k in range(WORKERS)), key=lambda best: best[0])
        return total, self.outwards(places)


@dataclass(slots=True)
class Window:
    """Some sheets of a standing: their numbers, the rows of the copies on them."""

    bins: list[int]
    rows: Ints


def standing(board: Board, plan: Plan) -> Standing:
    """What a board holds, its sheets renumbered so that empty ones are left out."""
    places = board.places()
    items = [i for i in range(len(places)) if places[i, 4] >= 0]
    used = sorted({int(places[i, 4]) for i in items})
    places = places[items]
    places[:, 4] = np.searchsorted(used, places[:, 4])
    return Standing(items, [board.open[b].sheet for b in used], places, plan)


class Improving:
    """The part of a run after the first full layout. `now` may be no better than the best plan told, on the way."""

    def __init__(self, problem: Problem, catalog: Catalog, best: Standing, why: dict[int, str], seed: int) -> None:
        self.problem = problem
        self.catalog = catalog
        self.now = best
        self.told = best.plan.cost
        self.why = why
        self.random = np.random.default_rng(np.random.SeedSequence(seed).spawn(1)[0])
        self.map_step = MAP_STEP * catalog.mean_diameter(range(len(problem.parts)))
        is_small = len(catalog.shapes.spans) <= MANY_SHAPES
        self.pairs = PairTables(catalog, map_step=self.map_step) if is_small else None
        self.rounds = self.prepared = 0  # stretches of work so far, tables built ahead
        self.items = Board(problem, catalog).items
        self.area = np.array([catalog.areas[part] for part, _ in self.items])
        self.capacity = np.array([capacity(catalog, kind) for kind in range(len(problem.sheets))])
        self.fits = np.array(fit_table(catalog))
        self.placeable = [i for i, (part, _) in enumerate(self.items) if self.fits[part].any()]
        self.is_free = cycle((False, True))  # of tries: some jobs lie best at right angles, others slantwise
        self.times: dict[tuple[tuple[int, ...], tuple[int, ...]], int] = {}
        self.settler = Settler(problem, catalog)
        self.grounds: dict[int, Ground] = {}
        self.overlaps: deque[float] = deque(maxlen=RECENT)  # left by the latest failures

    def steps(self) -> Iterator[Step]:
        """Alternate between the ways of improving, with equal effort."""
        spent = STRETCH
        while True:
            ways = [self._emptier(spent), self._cheaper(), self._longer_strip(spent)]
            most = 0
            for way in ways:
                done = 0
                for step in way:
                    done += step.round_done
                    self.rounds += step.round_done
                    yield step
                most = max(most, done)
            spent = max(STRETCH, min(most, 8 * STRETCH))
            if most == 0:
                yield ROUND  # nothing to be done in any way; a stop that counts rounds is still obeyed

    # ---- windows -----------------------------------------------------------------------------------------------------

    def _window(self, bins: Sequence[int]) -> Window:
        return Window(list(bins), np.flatnonzero(np.isin(self.now.places[:, 4], bins)))

    def _by_fill(self) -> Ints:
        """Sheets, the emptiest first."""
        return np.argsort(self._taken() / self.capacity[self.now.kinds], kind="stable")

    def _taken(self) -> Floats:
        """Area of the grown parts on each sheet, mm²."""
        bins = self.now.places[:, 4].astype(np.int64)
        return np.bincount(bins, self.area[self.now.items], len(self.now.kinds)).astype(np.float64)

    def _windows(self) -> Iterator[Window]:
        """All sheets where that is little; else the emptiest alone, and with a few others."""
        count = len(self.now.kinds)
        if len(self.now.items) <= WINDOW:
            yield self._window(range(count))
            return
        emptiest = int(self._by_fill()[min(int(abs(self.random.normal(0.0, 0.7))), count - 1)])
        yield self._window([emptiest])
        bins, copies = [emptiest], np.bincount(self.now.places[:, 4].astype(np.int64), minlength=count)
        for b in self.random.permutation(count):
            if b != emptiest and int(copies[bins].sum() + copies[b]) <= WINDOW and len(bins) < 4:
                bins.append(int(b))
        if len(bins) > 1:
            yield self._window(sorted(bins))

    @contextmanager
    def _team(self, items: Sequence[int], kinds: Sequence[int]) -> Iterator[Crew]:
        parts = [self.items[i][0] for i in items]
        seed = int(self.random.integers(2**62))
        if self.pairs is not None:
            crew = Crew(Team(self.catalog, parts, self.pairs, seed=seed))
        else:
            some = excerpt(self.catalog, parts)
            back = {part: k for k, part in enumerate(some.parts)}
            pairs = PairTables(some.catalog, map_step=self.map_step)
            team = Team(some.catalog, [back[part] for part in parts], pairs, seed=seed)
            crew = Crew(team, some)
        try:
            crew.team.use(kinds)
            yield crew
        finally:
            crew.team.close()

    def _prepared(self, crew: Crew) -> Iterator[Step]:
        """Build the tables a crew needs, once as much effort has gone into searching."""
        if crew.some is not None:
            return  # they would not be there the next time
        missing = crew.team.unprepared(PREPARED_FIRST + PREPARED_A_ROUND * self.rounds - self.prepared)
        self.prepared += len(missing)
        for _ in crew.team.prepare(missing):
            yield Step("improving", None)

    def _separated(
        self, crew: Crew, items: list[int], kinds: Sequence[int], start: Floats, effort: Effort, most: int
    ) -> Iterator[Floats | None]:
        """Remove overlaps; what fails by little is parted all at once. None after each round, places at the end."""
        for places in crew.separated(start, freely(effort) if next(self.is_free) else effort, most):
            yield places
            if places is not None:
                return
        overlap, places = crew.nearly()
        share = np.mean([overlap < other for other in self.overlaps]) if self.overlaps else 1.0
        self.overlaps.append(overlap)
        if share < 1.0 - PROMISING:
            return
        for b, kind in enumerate(kinds):
            rows = np.flatnonzero(places[:, 4] == b)
            if not len(rows):
                continue
            parts, ground = [self.items[items[r]][0] for r in rows], self._ground(kind)
            for part in set(parts):
                for grown in (True, False) if ground.fixed else (True,):
                    self.settler.prepare(part, grown=grown)
                    yield None
            parted: Floats | None = None
            for parted in self.settler.parted(parts, places[rows], ground):
                if parted is None:
                    yield None
            if parted is None:
                return
            places[rows] = parted
        if crew.is_clean(places):
            yield places

    def _ground(self, kind: int) -> Ground:
        if kind not in self.grounds:
            room = self.catalog.rooms[kind]
            rings = [shape_rings(self.catalog.shapes, shape) for shape in room.obstacles]
            fixed = [flat(convex_pieces(shapely.Polygon(outer, holes))) for outer, *holes in rings]
            self.grounds[kind] = Ground(room.box, tuple(fixed))
        return self.grounds[kind]

    def _taken_over(self, window: Window, items: Sequence[int], kinds: Sequence[int], places: Floats) -> Step:
        """Put a window's new layout, free of overlap, in place of its old one; the plan comes out when it is better."""
        now = self.now
        rest = np.setdiff1d(np.arange(len(now.items)), window.rows)
        left = [b for b in range(len(now.kinds)) if b not in window.bins]
        kept = now.places[rest]
        kept[:, 4] = np.searchsorted(left, kept[:, 4])
        moved = places.copy()
        moved[:, 4] += len(left)
        board = self._board(
            [now.items[r] for r in rest] + list(items),
            [now.kinds[b] for b in left] + list(kinds),
            np.concatenate((kept, moved)),
        )
        return self._stand_on(board)

    def _stand_on(self, board: Board) -> Step:
        plan = board.plan(self.why)
        self.now = standing(board, plan)
        if plan.cost < self.told:
            self.told = plan.cost
            return Step("improving", None, plan, round_done=True)
        return ROUND

    def _board(self, items: Sequence[int], kinds: Sequence[int], places: Floats) -> Board:
        board = Board(self.problem, self.catalog)
        for b, kind in enumerate(kinds):
            board.open_sheet(kind, list(kinds[:b]).count(kind), with_field=False)
        for i, (x, y, angle, code, b) in zip(items, places, strict=True):
            board.stand(i, int(b), int(code), float(angle), float(x), float(y))
        return board

    # ---- cheaper sets of sheets --------------------------------------------------------------------------------------

    def _cheaper(self) -> Iterator[Step]:
        """Fit the copies of a window on a set of sheets that costs less, or one more copy on all the stock there is."""
        missing = sorted(set(self.placeable) - set(self.now.items), key=self._importance)
        if missing:
            # Stock is short: everything at hand is in use; squeeze in one more, the most important first.
            window = self._window(range(len(self.now.kinds)))
            if len(self.now.items) <= WINDOW:
                kinds = tuple(sorted(self._all_stock()))
                options = [(sorted([*self.now.items, i]), kinds) for i in missing[:4]]
                yield from self._refit(window, *self._least_tried(options))
            return
        for window in self._windows():
            items = [self.now.items[r] for r in window.rows]
            sets = self._cheaper_sets(items, window)
            if sets:
                before = self.now
                yield from self._refit(window, *self._least_tried([(items, kinds) for kinds in sets]))
                if self.now is not before:
                    return

    def _cheaper_sets(self, items: Sequence[int], window: Window) -> list[tuple[int, ...]]:
        parts = [self.items[i][0] for i in items]
        elsewhere = [kind for b, kind in enumerate(self.now.kinds) if b not in window.bins]
        return cheaper_sets(self.problem, self.catalog, parts, [self.now.kinds[b] for b in window.bins], elsewhere)

    def _least_tried(self, options: list[tuple[list[int], tuple[int, ...]]]) -> tuple[list[int], tuple[int, ...]]:
        times = [self.times.get((tuple(items), kinds), 0) for items, kinds in options]
        return options[times.index(min(times))]

    def _importance(self, i: int) -> tuple[float, float, int]:
        return -self.problem.parts[self.items[i][0]].priority, -float(self.area[i]), i

    def _all_stock(self) -> list[int]:
        kinds = list(self.now.kinds)
        for k, sheet in enumerate(self.problem.sheets):
            if sheet.quantity is not None:
                kinds += [k] * (sheet.quantity - kinds.count(k))
        return kinds

    def _refit(self, window: Window, items: list[int], kinds: tuple[int, ...]) -> Iterator[Step]:
        """Try to place these copies on exactly these sheets, harder each time."""
        times = self.times.get((tuple(items), kinds), 0)
        self.times[tuple(items), kinds] = times + 1
        board = Board(self.problem, self.catalog)
        order = self._order(items, shuffled=times > 0)
        for _ in build(board, order, sheets=sorted(kinds, key=lambda k: (-self.catalog.rooms[k].area, k))):
            yield Step("improving", None)
        placed = board.places()[items]
        if np.all(placed[:, 4] >= 0):
            used = sorted({int(b) for b in placed[:, 4]})
            placed[:, 4] = np.searchsorted(used, placed[:, 4])
            yield self._taken_over(window, items, [board.open[b].sheet for b in used], placed)
            return
        with self._team(items, kinds) as crew:
            yield Step("improving", None)  # much memory has been laid out
            yield from self._prepared(crew)
            start = self._filled_up(board, items, kinds)
            effort = PATIENT._replace(patience=FIRST_PATIENCE * 2 ** min(times, 6), strikes=1 + min(times, 2))
            for places in self._separated(crew, items, kinds, start, effort, REFIT_ROUNDS * 2 ** min(times, 6)):
                if places is None:
                    yield ROUND
                else:
                    yield self._taken_over(window, items, kinds, places)

    def _order(self, items: list[int], *, shuffled: bool) -> list[int]:
        weight = {i: self.catalog.sizes[self.items[i][0]] for i in items}
        if shuffled:
            weight = {i: size * self.random.uniform(0.6, 1.6) for i, size in weight.items()}
        return sorted(items, key=lambda i: (-weight[i], i))

    def _filled_up(self, board: Board, items: list[int], kinds: Sequence[int]) -> Floats:
        """The board's places on the sheets of `kinds`, and random ones for copies it had no room for."""
        numbers: dict[int, list[int]] = {}
        for b, kind in enumerate(kinds):
            numbers.setdefault(kind, []).append(b)
        new_bin = [numbers[sheet.sheet].pop(0) for sheet in board.open]
        places = board.places()[items]
        for row, i in enumerate(items):
            if places[row, 4] >= 0:
                places[row, 4] = new_bin[int(places[row, 4])]
            else:
                able = [b for b, kind in enumerate(kinds) if self.fits[self.items[i][0], kind]]
                b = able[int(self.random.integers(len(able)))]
                places[row] = self._somewhere(i, kinds[b], b)
        return places

    def _somewhere(self, i: int, kind: int, b: int) -> tuple[float, float, float, float, float]:
        """A random place of a copy on a sheet it fits."""
        x0, y0, x1, y1 = self.catalog.rooms[kind].rect
        shapes = [way.shape for way in self.catalog.attitudes[self.items[i][0]]]
        boxes = self.catalog.shapes.bare[shapes]
        size = boxes[:, 2:] - boxes[:, :2]
        good = np.flatnonzero((size[:, 0] <= x1 - x0) & (size[:, 1] <= y1 - y0))
        k = int(good[self.random.integers(len(good))])
        low = np.array((x0, y0)) - boxes[k, :2]
        x, y = low + self.random.random(2) * (np.array((x1, y1)) - boxes[k, 2:] - low)
        return float(x), float(y), 0.0, float(shapes[k]), float(b)

    # ---- emptying sheets ---------------------------------------------------------------------------------------------

    def _emptier(self, limit: int) -> Iterator[Step]:
        """For about `limit` rounds push copies from the emptiest sheets into fuller ones; first what is missing."""
        spent = idle = 0
        changed = False
        count = len(self.now.kinds)
        while spent < limit and idle < 50:
            move = self._exchange()
            if move is None:
                idle += 1
                continue
            idle = 0
            before = self.now
            for step in self._pushed(*move):
                spent += step.round_done
                yield step
            changed = changed or self.now is not before
            if len(self.now.kinds) < count:
                break
        if changed:
            yield from self._tidied(int(self._by_fill()[0]))

    def _exchange(self) -> tuple[int, int, int, list[int]] | None:
        """What to push where: sheet to empty (-1: what is missing), copy, sheet to fill, copies that make way."""
        now, random = self.now, self.random
        missing = [i for i in self.placeable if i not in set(now.items)]
        taken, room = self._taken(), FULLEST * self.capacity[now.kinds]
        count = len(now.kinds)
        if missing:
            giver = -1
            i = missing[int(random.integers(len(missing)))]
        elif count < 2:
            return None
        else:
            giver = int(self._by_fill()[min(int(abs(random.normal(0.0, 0.5))), count - 1)])
            rows = np.flatnonzero(now.places[:, 4] == giver)
            i = now.items[int(rows[random.integers(len(rows))])]
        part = self.items[i][0]
        able = [b for b in range(count) if b != giver and self.fits[part, now.kinds[b]]]
        if giver >= 0:
            able = [
                b for b in able if taken[b] / room[b] >= taken[giver] / room[giver] or taken[giver] < 0.1 * room[giver]
            ]
        if not able:
            return None
        free = np.maximum(room[able] - taken[able], 0.0) + 0.02 * room[able]
        taker = int(random.choice(able, p=free / free.sum()))
        if taken[taker] + self.area[i] <= room[taker] and (giver < 0 or random.random() < 0.6):
            return giver, i, taker, []
        if giver < 0:
            return None
        # Smaller ones make way and go to the emptier sheet instead.
        rows = np.flatnonzero(now.places[:, 4] == taker)
        out: list[int] = []
        left = 0.9 * self.area[i]
        for r in random.permutation(rows):
            j = now.items[int(r)]
            if self.area[j] <= left and self.fits[self.items[j][0], now.kinds[giver]]:
                out.append(j)
                left -= self.area[j]
                if len(out) == 2 or random.random() < 0.6:
                    break
        gone = float(self.area[out].sum())
        if not out or taken[taker] + self.area[i] - gone > room[taker]:
            return None
        return giver, i, taker, out

    def _pushed(self, giver: int, i: int, taker: int, out: list[int]) -> Iterator[Step]:
        """Try one exchange."""
        now = self.now
        bins = [b for b in (giver, taker) if b >= 0]
        window = self._window(bins)
        layouts: dict[int, tuple[list[int], Floats]] = {}
        for b, coming, going in ((taker, [i], out), (giver, out, [i])):
            if b < 0:
                continue
            rows = [int(r) for r in window.rows if now.places[r, 4] == b and now.items[int(r)] not in going]
            items = [now.items[r] for r in rows]
            places = now.places[rows]
            places[:, 4] = 0.0
            if coming:
                spots = [self._near(j, now.kinds[b], going if b == taker else []) for j in coming]
                places = np.concatenate((places, np.array(spots)))
                items = items + coming
                found: Floats | None = None
                with self._team(items, [now.kinds[b]]) as crew:
                    yield from self._prepared(crew)
                    for result in self._separated(crew, items, [now.kinds[b]], places, HASTY, PUSH_ROUNDS):
                        found = result
                        if result is None:
                            yield ROUND
                if found is None:
                    return
                places = found
            layouts[b] = (items, places)
        kept = [b for b in bins if layouts[b][0]]
        for k, b in enumerate(kept):
            layouts[b][1][:, 4] = k
        yield self._taken_over(
            window,
            [j for b in kept for j in layouts[b][0]],
            [now.kinds[b] for b in kept],
            np.concatenate([layouts[b][1] for b in kept]),
        )

    def _near(self, i: int, kind: int, going: list[int]) -> tuple[float, float, float, float, float]:
        """A place for a copy on a sheet: where the largest of those that make way was, else anywhere."""
        x, y, _, shape, _ = self._somewhere(i, kind, 0)
        if going:
            largest = max(going, key=lambda j: float(self.area[j]))
            x, y = self.now.places[self.now.items.index(largest), :2]
            box, rect = self.catalog.shapes.bare[int(shape)], self.catalog.rooms[kind].rect
            x = min(max(x, rect[0] - box[0]), rect[2] - box[2])
            y = min(max(y, rect[1] - box[1]), rect[3] - box[3])
        return x, y, 0.0, shape, 0.0

    def _tidied(self, b: int) -> Iterator[Step]:
        """Build the layout of a sheet anew; keep it where that leaves a larger strip."""
        window = self._window([b])
        items = [self.now.items[r] for r in window.rows]
        board = Board(self.problem, self.catalog)
        for _ in build(board, self._order(items, shuffled=False), sheets=[self.now.kinds[b]]):
            yield Step("improving", None)
        places = board.places()[items]
        if np.all(places[:, 4] >= 0):
            old = self._board(
                items, [self.now.kinds[b]], np.column_stack((self.now.places[window.rows, :4], 0.0 * places[:, 4]))
            )
            if board.cost() < old.cost():
                yield self._taken_over(window, items, [self.now.kinds[b]], places)

    # ---- a larger strip ----------------------------------------------------------------------------------------------

    def _longer_strip(self, limit: int) -> Iterator[Step]:
        """For `limit` rounds shorten the layout of the sheet that has the largest free strip already."""
        b, axis = self._roomiest()
        count = len(self.now.kinds)
        window = self._window(range(count) if len(self.now.items) <= WINDOW else [b])
        items = [self.now.items[r] for r in window.rows]
        kinds = [self.now.kinds[k] for k in window.bins]
        places = self.now.places[window.rows]
        places[:, 4] = np.searchsorted(window.bins, places[:, 4])
        with self._team(items, kinds) as crew:
            yield from self._prepared(crew)
            shrinker = Shrinker(
                crew.team,
                crew.inwards(places),
                window.bins.index(b),
                axis,
                seed=int(self.random.integers(2**62)),
                is_free=next(self.is_free),
            )
            for _ in range(limit):
                if shrinker.step():
                    yield self._taken_over(window, items, kinds, crew.outwards(shrinker.places))
                    window = self._window(range(count - len(kinds), count))
                    if len(self.now.kinds) < count:
                        return
                else:
                    yield ROUND
                if shrinker.done:
                    return

    def _roomiest(self) -> tuple[int, int]:
        """Sheet and axis with the largest free strip at the high end."""
        now = self.now
        rect = np.array([self.catalog.rooms[kind].rect for kind in now.kinds])
        high = np.full((len(rect), 2), -np.inf)
        for place in now.places:
            b = int(place[4])
            high[b] = np.maximum(high[b], place[:2] + self.catalog.box(int(place[3]), float(place[2]))[2:])
        free = np.maximum(rect[:, 2:] - high, 0.0) * (rect[:, 2:] - rect[:, :2])[:, ::-1]
        b, axis = divmod(int(np.argmax(free)), 2)
        if free.max() <= 0.0:
            b = int(np.argmin(np.bincount(now.places[:, 4].astype(np.int64), minlength=len(rect))))
            axis = int(np.argmax(rect[b, 2:] - rect[b, :2]))
        return b, axis
