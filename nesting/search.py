"""The road a run takes: prepare, build a first full layout, improve. Knows no clock and no stop."""

from __future__ import annotations

from collections.abc import Generator

from nesting.board import Board
from nesting.catalog import Catalog, preparing
from nesting.construct import build, default_order, other_orders, reasons
from nesting.improve import Improving, Step, standing
from nesting.plan import Plan
from nesting.problem import Problem
from nesting.rectangles import rectangle_board
from nesting.warm import warming


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
    packing = rectangle_board(problem, catalog)
    while True:
        try:
            next(packing)
        except StopIteration as done_packing:
            packed: Board | None = done_packing.value
            break
        yield Step("placing", None)
    board = Board(problem, catalog) if packed is None else packed
    if packed is None:
        order = default_order(problem, catalog)
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
    if packed is None:
        for order in other_orders(problem, catalog):
            board = Board(problem, catalog)
            for tried in build(board, order):
                yield Step("improving", tried / len(order))
            if board.cost() < best.plan.cost:
                best = standing(board, board.plan(why))
                yield Step("improving", None, best.plan)
    yield from Improving(problem, catalog, best, why, seed).steps()


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
