"""Compare choices of stock: the same parts planned on each with equal effort, side by side on as many cores as given.

The work goes through a `concurrent.futures` executor, a pool of processes unless another is handed in (for example
the executor of a Dask cluster's client).
"""

from __future__ import annotations

import math
import multiprocessing
import os
import signal
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, CancelledError, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from typing import Final, Protocol

from app.errors import AppError, PlanningError
from app.planning.choices import Choice, variant
from app.planning.cut_time import cutting_minutes
from app.planning.plan_job import PlanRecord, PlanRun, plan_records
from app.planning.prepare import Prepared
from app.planning.problems import material_problems

ASK_EVERY_S: Final = 0.2
"""How often a comparison asks whether it is to go on."""


@dataclass(frozen=True, slots=True)
class Effort:
    """What each choice is given: seconds, or rounds instead (which repeat exactly), and a seed."""

    seconds: float
    rounds: int | None = None
    seed: int = 0


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a choice comes to.

    Fields
    ------
    choice : Choice
    sheets : tuple of (stock id, count)
        Sheets used, in the order of the choice's stock; only those used.
    unplaced : int
        Copies without a place.
    cost : int or None
        Of the sheets used, minor currency units, offcuts at their book price; None when a price is unknown.
    part_area, sheet_area, offcut_area : float, mm²
    weight_kg, scrap_kg : float
        Of the sheets used; of what is neither part nor kept offcut.
    minutes : float
        Cutting time as `app.planning.cut_time` estimates it.
    least_sheets, least_cost : int or None
        No plan on this stock can do with less; cost None when prices are unknown.
    rounds : int
    fault : str
        Why the choice could not be planned at all; empty otherwise.
    record : PlanRecord or None
        The plan itself, checked by the referee; None when there is none.
    """

    choice: Choice
    sheets: tuple[tuple[str, int], ...] = ()
    unplaced: int = 0
    cost: int | None = None
    part_area: float = 0.0
    sheet_area: float = 0.0
    offcut_area: float = 0.0
    weight_kg: float = 0.0
    scrap_kg: float = 0.0
    minutes: float = 0.0
    least_sheets: int | None = None
    least_cost: int | None = None
    rounds: int = 0
    fault: str = ""
    record: PlanRecord | None = field(default=None, compare=False, repr=False)

    @property
    def is_whole(self) -> bool:
        """Whether every part has its place."""
        return not self.fault and self.unplaced == 0

    @property
    def sheet_count(self) -> int:
        """Sheets used, offcuts among them."""
        return sum(count for _, count in self.sheets)

    @property
    def net_yield(self) -> float:
        """Part area, holes removed / sheet area."""
        return self.part_area / self.sheet_area if self.sheet_area else 0.0

    @property
    def credited_yield(self) -> float:
        """(Part area + kept offcuts) / sheet area."""
        return (self.part_area + self.offcut_area) / self.sheet_area if self.sheet_area else 0.0

    @property
    def waste_factor(self) -> float:
        """Sheet area / part area - 1; infinite when nothing is placed."""
        return self.sheet_area / self.part_area - 1.0 if self.part_area else math.inf

    @property
    def gap(self) -> float | None:
        """(Cost - least cost) / least cost, or the same of sheets where prices are unknown; None without a bound."""
        used, least = (self.cost, self.least_cost) if self.cost is not None else (self.sheet_count, self.least_sheets)
        return used / least - 1.0 if used is not None and least and self.is_whole else None


def compare(
    prepared: Prepared,
    choices: Sequence[Choice],
    effort: Effort,
    *,
    executor: Executor | None = None,
    on_done: Callable[[int, Outcome], None] | None = None,
    cancelled: Callable[[], bool] = lambda: False,
) -> tuple[Outcome, ...]:
    """Plan every choice with the same effort.

    Parameters
    ----------
    prepared : Prepared
    choices : sequence of Choice
        Of any materials.
    effort : Effort
        For each choice.
    executor : Executor, optional
        Where the work is done; a pool of processes, one per core, made for this call when not given.
    on_done : callable, optional
        Gets the index of a choice and its outcome as soon as it is known, in any order.
    cancelled : callable
        Asked several times a second; what is not done by then is left out.

    Returns
    -------
    tuple of Outcome
        In the order of the choices.

    Raises
    ------
    PlanningError
        When a process of the pool died, or the referee rejected a plan.
    """
    tasks = [(prepared, choice) for choice in choices]
    return compare_tasks(tasks, effort, executor=executor, on_done=on_done, cancelled=cancelled)


def compare_tasks(
    tasks: Sequence[tuple[Prepared, Choice]],
    effort: Effort,
    *,
    executor: Executor | None = None,
    on_done: Callable[[int, Outcome], None] | None = None,
    cancelled: Callable[[], bool] = lambda: False,
) -> tuple[Outcome, ...]:
    """As `compare`, for choices of several jobs at once."""
    outcomes: dict[int, Outcome] = {}
    with _executor(executor, len(tasks)) as pool:
        futures: dict[Future[Outcome], int] = {
            pool.submit(plan_choice, variant(prepared, choice), choice, effort): index
            for index, (prepared, choice) in enumerate(tasks)
        }
        try:
            pending = set(futures)
            while pending and not cancelled():
                done, pending = wait(pending, timeout=ASK_EVERY_S, return_when=FIRST_COMPLETED)
                for future in done:
                    outcomes[futures[future]] = future.result()
                    if on_done is not None:
                        on_done(futures[future], outcomes[futures[future]])
        except BrokenProcessPool as error:
            raise PlanningError(
                "a process that planned one of the choices died; compare fewer choices at a time or close other "
                "programs, and try again"
            ) from error
        except CancelledError as error:
            raise PlanningError("the comparison was cancelled where it ran") from error
        finally:
            for future in futures:
                future.cancel()
    return tuple(outcomes[index] for index in sorted(outcomes))


def plan_choice(prepared: Prepared, choice: Choice, effort: Effort) -> Outcome:
    """Outcome of one choice; `prepared` is its `variant`. Runs in whatever process it is sent to."""
    _ready()
    copies = sum(part.quantity for part in prepared.parts)
    try:
        record = plan_records(prepared, PlanRun(effort.seconds, effort.rounds, effort.seed, cancelled=_is_stopped))
        (one,) = material_problems(prepared)
    except PlanningError:
        raise
    except AppError as error:
        return Outcome(choice, unplaced=copies, fault=str(error))
    (figures,) = record.summaries
    used = Counter(sheet.stock for sheet in record.sheets)
    placed = Counter(placement.part for sheet in record.sheets for placement in sheet.placements)
    return Outcome(
        choice=choice,
        sheets=tuple((stock.id, used[stock.id]) for stock in choice.stock if used[stock.id]),
        unplaced=len(record.unplaced),
        cost=figures.cost,
        part_area=figures.part_area,
        sheet_area=figures.sheet_area,
        offcut_area=figures.offcut_area,
        weight_kg=figures.weight_kg,
        scrap_kg=figures.scrap_kg,
        minutes=cutting_minutes(
            choice.material,
            choice.cutter,
            [(part, placed[part.id]) for part in prepared.parts],
            sheet_count=len(record.sheets),
        ),
        least_sheets=one.bound.sheets,
        least_cost=one.bound.cost if one.has_prices else None,
        rounds=record.rounds,
        record=record,
    )


@contextmanager
def _executor(given: Executor | None, tasks: int) -> Iterator[Executor]:
    if given is not None:
        yield given
        return
    # Spawned, not forked: a fork of a process with threads (a window, compiled kernels) can hang.
    context = multiprocessing.get_context("spawn")
    stop = context.Event()
    pool = ProcessPoolExecutor(
        max_workers=max(1, min(tasks, os.cpu_count() or 1)),
        mp_context=context,
        initializer=_begin,
        initargs=(stop,),
    )
    try:
        yield pool
    finally:
        stop.set()  # choices still under way end at once, so that nobody waits for what nobody wants
        pool.shutdown(wait=True, cancel_futures=True)


class _Flag(Protocol):
    def is_set(self) -> bool: ...


class _Process:
    """What a process of our own pool was told at its start."""

    stop: _Flag | None = None


def _begin(stop: _Flag) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's to answer
    _Process.stop = stop


def _is_stopped() -> bool:
    return _Process.stop is not None and _Process.stop.is_set()


@cache
def _ready() -> None:
    """Load the engine's kernels once per process, so that the first choice has as much time as the others."""
    from app.planning.problems import rectangle_outline
    from nesting.problem import Part, Problem, Rules, Sheet
    from nesting.solve import AfterRounds, solve

    square, sheet = rectangle_outline(10.0, 10.0), rectangle_outline(30.0, 30.0)
    problem = Problem((Part("p", square, rotations=(0.0,)),), (Sheet("s", sheet),), Rules(1.0, 1.0))
    solve(problem, AfterRounds(1))
