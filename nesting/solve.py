"""The one door: `solve(problem, stop, ...)`."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from nesting.plan import Plan
from nesting.problem import Problem


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a run has come."""

    rounds: int
    since_gain: int  # rounds
    elapsed_s: float
    best_cost: tuple[int, ...]
    stage: str  # words for a person: "preparing", "placing 120 of 300", "improving"
    fraction: float | None  # 0..1 where the amount of work is known, else None


class Stop(Protocol):
    """When to end a run. Holds no clock and no counter, so one object serves many runs."""

    def reached(self, at: Progress) -> bool:
        """Whether to stop here."""
        ...


@dataclass(frozen=True, slots=True)
class AfterSeconds:
    """Stop when the run has taken this long."""

    seconds: float

    def reached(self, at: Progress) -> bool:
        """Whether the time is up."""
        return at.elapsed_s >= self.seconds


@dataclass(frozen=True, slots=True)
class AfterRounds:
    """Stop after so many rounds: the reproducible budget."""

    rounds: int

    def reached(self, at: Progress) -> bool:
        """Whether the rounds are used up."""
        return at.rounds >= self.rounds


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
    step. Same problem, seed, start and rounds give the same plan, byte for byte. A first full layout is built before `stop` is obeyed,
    so that a short limit still places every part that fits; only `cancelled` interrupts it.
    """
    raise NotImplementedError
