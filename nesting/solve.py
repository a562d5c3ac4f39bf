"""The one door: `solve(problem, stop, ...)`.

The cost of a plan, compared from the left:

0. area of parts without a place, mm², each rounded up;
1. cost of the sheets used;
2. usable area of the sheets used, mm²;
3. minus the largest strip left free from edge to edge of a sheet, mm²;
4. how far the layouts reach along the long sides of their sheets, mm, summed.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from enum import StrEnum

from nesting.plan import Plan, Unplaced
from nesting.problem import Problem, net_area
from nesting.stop import AfterRounds, AfterSeconds, AnyOf, NoGainFor, Progress, Stop

__all__ = [
    "AfterRounds",
    "AfterSeconds",
    "AnyOf",
    "Ended",
    "NoGainFor",
    "Progress",
    "Result",
    "Stop",
    "solve",
]


class Ended(StrEnum):
    """Why a run ended."""

    STOPPED = "stopped"
    CANCELLED = "cancelled"
    EXHAUSTED = "exhausted"  # nothing better can exist, or nothing is left to try


@dataclass(frozen=True, slots=True)
class Result:
    """The best plan of a run and how it came about."""

    plan: Plan
    progress: Progress
    ended: Ended
    seed: int


def solve(
    problem: Problem,
    stop: Stop,
    *,
    seed: int = 0,
    start: Plan | None = None,
    on_gain: Callable[[Plan], None] | None = None,
    on_progress: Callable[[Progress], None] | None = None,
    cancelled: Callable[[], bool] = lambda: False,
    clock: Callable[[], float] = time.perf_counter,
) -> Result:
    """Nest until `stop` or cancel. The result always holds a valid plan, at worst one with every part unplaced.

    `on_gain` gets every better plan, `on_progress` a reading after every step; `cancelled` and `stop` are asked every
    step. Same problem, seed, start and rounds give the same plan, byte for byte. A first full layout is built before
    `stop` is obeyed, so that a short limit still places every part that fits; only `cancelled` interrupts it.
    """
    began = clock()
    best = _nothing_placed(problem)
    at = Progress(0, 0, 0.0, best.cost, "preparing", None)
    if on_progress is not None:
        on_progress(at)
    if not problem.parts:
        return Result(best, at, Ended.EXHAUSTED, seed)
    from nesting.search import steps  # loads the compiled kernels: only when something is to be solved

    complete = False
    rounds = since_gain = 0
    with closing(steps(problem, seed=seed, start=start)) as road:
        for step in road:
            rounds += step.round_done
            since_gain += step.round_done
            complete = complete or step.complete
            gained = step.plan is not None and step.plan.cost < best.cost
            if step.plan is not None and gained:
                best, since_gain = step.plan, 0
            elif step.complete and step.plan is not None and not best.layouts:
                best = step.plan  # nothing has a place, and now it says why
            at = Progress(rounds, since_gain, clock() - began, best.cost, step.stage, step.fraction)
            if gained and on_gain is not None:
                on_gain(best)
            if on_progress is not None:
                on_progress(at)
            if cancelled():
                return Result(best, at, Ended.CANCELLED, seed)
            if complete and stop.reached(at):
                return Result(best, at, Ended.STOPPED, seed)
    return Result(best, at, Ended.EXHAUSTED, seed)


def _nothing_placed(problem: Problem) -> Plan:
    missing = tuple(Unplaced(part.id, copy, "not tried") for part in problem.parts for copy in range(part.quantity))
    return Plan((), missing, unplaced_cost(problem))


def unplaced_cost(problem: Problem) -> tuple[int, ...]:
    """Cost of a plan that places nothing."""
    return (sum(math.ceil(net_area(part.outline)) * part.quantity for part in problem.parts), 0, 0, 0, 0)
