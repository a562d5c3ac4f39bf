"""The road a run takes: prepare, build a first full layout, improve. Knows no clock and no stop."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from nesting.board import Board
from nesting.catalog import Catalog, preparing
from nesting.construct import build, default_order, reasons
from nesting.plan import Plan
from nesting.problem import Problem


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a run. `plan` is set when it is better than all before."""

    stage: str
    fraction: float | None
    plan: Plan | None = None
    round_done: bool = False
    complete: bool = False  # a first full layout exists


def steps(problem: Problem, *, seed: int, start: Plan | None = None) -> Iterator[Step]:
    """Walk the road; ends only when nothing better can exist or nothing is left to try."""
    making = preparing(problem)
    while True:
        try:
            done = next(making)
        except StopIteration as made:
            shapes: Catalog = made.value
            break
        yield Step("preparing", done / (2 * len(problem.parts)))
    why = reasons(problem, shapes)
    order = default_order(problem, shapes)
    board = Board(problem, shapes)
    keep = max(1, len(order) // 8)
    for tried in build(board, order):
        partial = board.plan(why) if tried % keep == 0 else None  # so that a cancelled run has something to show
        yield Step(f"placing {tried} of {len(order)}", tried / len(order), partial)
    best = board.plan(why)
    yield Step("improving", None, best, complete=True)
    generator = np.random.default_rng(seed)
    while True:
        weight = {i: board.catalog.sizes[board.items[i][0]] * generator.uniform(0.6, 1.6) for i in range(len(order))}
        shuffled = sorted(order, key=lambda i: (-problem.parts[board.items[i][0]].priority, -weight[i], i))
        board = Board(problem, shapes)
        for _ in build(board, shuffled):
            yield Step("improving", None)
        plan = board.plan(why)
        if plan.cost < best.cost:
            best = plan
            yield Step("improving", None, plan, round_done=True)
        else:
            yield Step("improving", None, round_done=True)
