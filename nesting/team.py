"""Two workers that remove overlaps side by side, each on its own copy of everything that changes.

Both are given the same start and different random numbers; after each stretch of equal effort the first in order that
succeeded wins. Nothing depends on which thread was faster, so a run can be repeated exactly.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.arrays import with_slots
from nesting.catalog import Catalog
from nesting.kernels import separate
from nesting.kernels.place import Bins, State
from nesting.kernels.score import Effort, Search
from nesting.kernels.shapes import Shapes
from nesting.kernels.tables import Tables
from nesting.pairs import PairTables

Floats = NDArray[np.float64]
WORKERS = 2


Status = int
BUILD_AT_ONCE = 8  # tables per stretch: building must not keep a person who cancels waiting
BUILD_MOST = 400_000  # pairs of edges per stretch, for the same reason; a pair with more never has a table
FEW_AT_ONCE = 3  # the same where tables never end: half of the time is for searching
PREPARED_AT_ONCE = 32  # tables built at once when that is all that is being done
WORTH_A_TABLE = 100  # questions about a pair before its table is built: maps need those of all pairs
MOST_WANTED = 1000  # pairs that may become worth a table in one stretch; more wait for the next


@dataclass(slots=True)
class Worker:
    """One searcher: shapes (its own where some turn freely), state, memory, questions about pairs without tables."""

    shapes: Shapes
    state: State
    search: Search
    asked: NDArray[np.int32]
    wanted: NDArray[np.int32]


class Team:
    """Copies with places (`n`, 5: x, y, angle, shape, sheet; see `separate.snapshot`) and two workers to move them."""

    def __init__(self, catalog: Catalog, parts: Sequence[int], pairs: PairTables, *, seed: int) -> None:
        self.catalog = catalog
        self.parts = list(parts)
        self.pairs = pairs
        self.bins = Bins(np.zeros((0, 4)), np.zeros((0, 2), np.int64), np.zeros(0, np.int64), np.zeros((0, 2)))
        seeds = np.random.SeedSequence(seed).generate_state(WORKERS, np.uint64)
        self.randoms = [np.array(seeds[k : k + 1], dtype=np.uint64) for k in range(WORKERS)]
        self.workers: list[Worker] = []
        self.pool = ThreadPoolExecutor(WORKERS, thread_name_prefix="nesting") if WORKERS > 1 else None
        self.edges = np.diff(catalog.shapes.spans[:, :2], axis=1)[:, 0]
        self.enough = np.array([WORTH_A_TABLE // WORKERS])  # what is worth one has had that from one worker at least
        self.wanted = np.zeros((0, 2), np.int32)

    def close(self) -> None:
        """End the threads."""
        if self.pool is not None:
            self.pool.shutdown()

    def use(self, kinds: Sequence[int]) -> None:
        """Work on these sheets from now on (kinds of stock, one entry per sheet); places must be loaded anew."""
        rooms = [self.catalog.rooms[kind] for kind in kinds]
        ends = np.cumsum([0, *(len(room.obstacles) for room in rooms)])
        self.bins = Bins(
            np.array([room.rect for room in rooms]),
            np.column_stack((ends[:-1], ends[1:])).astype(np.int64),
            np.array([shape for room in rooms for shape in room.obstacles], np.int64),
            np.zeros((int(ends[-1]), 2)),
        )
        self.workers = [self._worker(random) for random in self.randoms]
        self.wanted = self.wanted[:0]

    def _worker(self, random: NDArray[np.uint64]) -> Worker:
        catalog, bins = self.catalog, self.bins
        n, count = len(self.parts), len(self.bins.rect)
        ways: list[int] = []
        span = np.zeros((n, 3), np.int64)
        bases = np.full((n, 2), -1, np.int64)
        for i, part in enumerate(self.parts):
            span[i, 0] = len(ways)
            ways += [way.shape for way in catalog.attitudes[part] if not way.is_slanted]
            span[i, 1] = len(ways)
            ways += [way.shape for way in catalog.attitudes[part] if way.is_slanted]
            span[i, 2] = len(ways)
            bases[i, : len(catalog.bases[part])] = catalog.bases[part]
        shapes, slots = with_slots(catalog.shapes, [int(base) for base in bases[:, 0]])
        fixed = [(b, o) for b in range(count) for o in range(*bins.obstacle_span[b])]
        m = n + len(fixed)
        state = State(
            np.zeros(m),
            np.zeros(m),
            np.zeros(m),
            np.zeros(m, np.int64),
            np.zeros(m, np.int64),
            np.full(m, -1, np.int64),
            np.zeros((m, 4)),
            np.zeros((count, m), np.int32),
            np.zeros(count, np.int64),
        )
        for k, (b, o) in enumerate(fixed, start=n):
            state.shape[k] = bins.obstacle_shape[o]
            state.x[k], state.y[k] = bins.obstacle_at[o]
            state.bin[k] = b
            state.box[k] = shapes.box[state.shape[k]] + np.tile(bins.obstacle_at[o], 2)
            state.members[b, state.filled[b]] = k
            state.filled[b] += 1
        state.bin[:n] = 0
        state.members[0, state.filled[0] : state.filled[0] + n] = np.arange(n)
        state.filled[0] += n
        way_base = np.zeros(len(catalog.shapes.spans), np.int64)
        way_angle = np.zeros(len(catalog.shapes.spans))
        for way in (way for attitudes in catalog.attitudes for way in attitudes):
            way_base[way.shape] = way.mirrored
            way_angle[way.shape] = way.angle
        area = (bins.rect[:, 2] - bins.rect[:, 0]) * (bins.rect[:, 3] - bins.rect[:, 1])
        share = np.cumsum(area) / area.sum()
        share[-1] = 2.0
        search = Search(
            np.array(ways, np.int64),
            span,
            bases,
            slots,
            np.ones((m, m)),
            np.zeros((m, m)),
            random,
            np.zeros((n, 5)),
            np.zeros(8),
            way_base,
            way_angle,
            np.zeros(1),
            np.zeros(n, np.int64),
            np.zeros(2, np.int64),
            np.zeros((3, 5)),
            np.zeros(m + 1, np.int32),
            np.zeros(m + 1, np.int32),
            share,
            self._field(),
            np.zeros((3, 3)),
        )
        s = len(catalog.shapes.spans)
        return Worker(shapes, state, search, np.zeros((s, s), np.int32), np.zeros((MOST_WANTED + 1, 2), np.int32))

    def right_angles(self, i: int) -> NDArray[np.int64]:
        """Shapes copy i may take at right angles."""
        search = self.workers[0].search
        return search.ways[search.way_span[i, 0] : search.way_span[i, 1]]

    def _field(self) -> NDArray[np.float32]:
        step, rect = float(self.pairs.tables.map_step[0]), self.bins.rect
        if step <= 0.0:
            return np.zeros((1, 1), np.float32)
        nx, ny = (np.ceil((rect[:, 2:] - rect[:, :2]).max(axis=0) / step) + 2).astype(int)
        return np.zeros((int(ny), int(nx)), np.float32)

    def box(self, code: int, angle: float) -> Floats:
        """Box of the part itself about its shape's zero, for a shape code and angle of a snapshot."""
        return self.catalog.box(code, angle)

    def load(self, k: int, places: Floats) -> None:
        """Give worker k these places; sizes are not yet noted."""
        worker = self.workers[k]
        separate.restore(worker.shapes, worker.state, worker.search, places)

    def places(self, k: int) -> Floats:
        """Where worker k has the copies now."""
        worker = self.workers[k]
        kept = np.zeros((len(self.parts), 5))
        separate.snapshot(worker.state, worker.search, kept)
        return kept

    def best(self, k: int) -> tuple[float, Floats]:
        """The least total size worker k had since it began, and the places of that moment."""
        search = self.workers[k].search
        return float(search.memory[0]), search.best.copy()

    def begin(self, k: int, *, even: bool) -> float:
        """Note all sizes of worker k and clear its memory; returns the total size."""
        worker = self.workers[k]
        return float(separate.begin(worker.shapes, self._tables(worker), worker.state, worker.search, even))

    def run(self, effort: Effort, budget: int, active: Sequence[int]) -> dict[int, Status]:
        """Let the active workers search side by side for about `budget` places each; how each one stands."""
        self._build_tables()
        if self.pool is None or len(active) == 1:
            return {k: self._run_one(k, effort, budget) for k in active}
        waiting = {k: self.pool.submit(self._run_one, k, effort, budget) for k in active}
        return {k: future.result() for k, future in waiting.items()}

    def is_clean(self, k: int) -> bool:
        """Whether worker k's places are free of overlap by the exact test, without any table."""
        worker = self.workers[k]
        return bool(separate.is_clean(worker.shapes, self.bins, worker.state, len(self.parts), 1e-6))

    def _run_one(self, k: int, effort: Effort, budget: int) -> Status:
        worker = self.workers[k]
        tables = self._tables(worker)
        return int(separate.run(worker.shapes, tables, self.bins, worker.state, worker.search, effort, budget))

    def _tables(self, worker: Worker) -> Tables:
        return self.pairs.tables._replace(asked=worker.asked, wanted=worker.wanted, enough=self.enough)

    def unprepared(self, most: int) -> list[tuple[int, int]]:
        """Pairs of shapes at right angles without a table, one of those alike, where it is better to build them first.

        As long as tables are missing a move takes ten times as long, and no copy can look at a map. Nothing in small
        jobs, whose tables soon come by themselves, and where there are more than `most`.
        """
        ways = sorted({tuple(self.right_angles(i).tolist()) for i in range(len(self.parts))})
        shapes = np.array([shape for some in ways for shape in some])
        if not self.pairs.are_many or len(ways) * len(shapes) > 2 * most:
            return []
        missing = np.argwhere(np.triu(self.pairs.tables.which[np.ix_(shapes, shapes)] < 0))
        unlike = {self.pairs.key(a, b)[0]: (a, b) for a, b in shapes[missing].tolist()}
        return list(unlike.values()) if len(unlike) <= most else []

    def prepare(self, pairs: list[tuple[int, int]]) -> Iterator[None]:
        """Build the tables of some pairs, a few at a time."""
        for k in range(0, len(pairs), PREPARED_AT_ONCE):
            self.pairs.add(pairs[k : k + PREPARED_AT_ONCE], self.pool)
            yield None

    def _build_tables(self) -> None:
        """Build the tables most asked for. Every worker counts for itself, so the choice does not depend on timing."""
        for worker in self.workers:
            self.wanted = np.concatenate((self.wanted, worker.wanted[: worker.wanted[-1, 0]]))
            worker.wanted[-1, 0] = 0
        rows, columns = self.wanted.T
        asked = np.sum([worker.asked[rows, columns] for worker in self.workers], axis=0)
        is_due = asked >= WORTH_A_TABLE
        if not is_due.any():
            return
        order = np.unique(np.column_stack((-asked, self.wanted))[is_due], axis=0)[:, 1:].tolist()
        edges, left, chosen = self.edges, BUILD_MOST, []
        for a, b in order[: FEW_AT_ONCE if self.pairs.are_many else BUILD_AT_ONCE]:
            effort = int(edges[a] * edges[b])
            if left < effort <= BUILD_MOST:
                break  # its turn comes with the next stretch
            for worker in self.workers:
                worker.asked[a, b] = worker.asked[b, a] = 0
            if effort <= left:
                left -= effort
                chosen.append((a, b))
        if chosen:
            self.pairs.add(chosen, self.pool)
            which = self.pairs.tables.which
            asked = np.sum([worker.asked[rows, columns] for worker in self.workers], axis=0)
            self.wanted = self.wanted[(which[rows, columns] < 0) & (asked > 0)]
