"""A first full layout: large parts first, small ones into holes and gaps, sheets opened as needed."""

from __future__ import annotations

import math
from bisect import insort
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from geometry.outline import signed_ring_area
from nesting.arrays import turn
from nesting.board import Board
from nesting.catalog import Catalog, Room
from nesting.problem import Problem

EXPECTED_DENSITY = 0.7  # of grown parts on a full sheet; only steers which sheet is opened next


@dataclass(slots=True)
class Hole:
    """A usable hole of a placed part: where it is on the sheet, and what is left of it."""

    bin: int
    box: tuple[float, float, float, float]
    area: float
    cells: NDArray[np.int64]  # of the sheet's grid
    room: float  # radius of the largest circle it still takes, by its cells
    failed: set[int] = field(default_factory=set)  # parts: a hole only gets fuller


def default_order(problem: Problem, catalog: Catalog) -> list[int]:
    """Copies by falling size; equal ones keep the problem's order."""
    return _falling(problem, catalog.sizes)


def other_orders(problem: Problem, catalog: Catalog) -> list[list[int]]:
    """Orders that now and then do better than the default one: by area of the hull, by area of the smallest box."""
    hulls = [
        size / float(catalog.shapes.number[ways[0].shape, 1])
        for size, ways in zip(catalog.sizes, catalog.attitudes, strict=True)
    ]
    boxes = []
    for ways in catalog.attitudes:
        box = catalog.shapes.bare[[way.shape for way in ways]]
        boxes.append(float((box[:, 2:] - box[:, :2]).prod(axis=1).min()))
    first = default_order(problem, catalog)
    by_hull, by_box = _falling(problem, hulls), _falling(problem, boxes)
    return [order for order, before in ((by_hull, [first]), (by_box, [first, by_hull])) if order not in before]


def _falling(problem: Problem, sizes: Sequence[float]) -> list[int]:
    items = [p for p, part in enumerate(problem.parts) for _ in range(part.quantity)]
    return sorted(range(len(items)), key=lambda i: (-problem.parts[items[i]].priority, -sizes[items[i]], i))


def build(board: Board, order: Sequence[int], *, sheets: Sequence[int] | None = None) -> Iterator[int]:
    """Place copies in the given order on an empty board; yields after each copy how many were tried.

    `sheets` limits which kinds of stock may be opened (indices in the problem, in order of preference when given);
    otherwise the kind with the least cost per useful area is opened.
    """
    catalog, problem = board.catalog, board.problem
    fits = fit_table(catalog)
    left = [math.inf if sheet.quantity is None else sheet.quantity for sheet in problem.sheets]
    used = [0] * len(problem.sheets)
    failed: set[tuple[int, int]] = set()  # (part, bin): sheets only get fuller
    useless: set[tuple[int, int]] = set()  # (part, kind of sheet): not even on an empty one
    holes: list[Hole] = []
    queue = None if sheets is None else list(sheets)
    remaining = sum(catalog.areas[board.items[i][0]] for i in order)
    for tried, i in enumerate(order, start=1):
        part = board.items[i][0]
        done = _into_hole(board, i, holes)
        for b in range(len(board.open)):
            if done:
                break
            kind = board.open[b].sheet
            if (part, b) in failed or not fits[part][kind] or (part, kind) in useless:
                continue
            spot = board.find(i, b)
            if spot is None:
                failed.add((part, b))
            else:
                _put(board, i, b, spot, holes)
                done = True
        while not done:
            kinds = [k for k in range(len(left)) if left[k] > 0 and fits[part][k] and (part, k) not in useless]
            if queue is not None:
                kinds = [k for k in queue if k in kinds][:1]
            if not kinds:
                break
            kind = kinds[0] if queue is not None else cheapest(problem, catalog.rooms, kinds, remaining)
            b = board.open_sheet(kind, used[kind])
            spot = board.find(i, b, tries=400)
            if spot is None:
                useless.add((part, kind))
                board.close_last()
                continue
            if queue is not None:
                queue.remove(kind)
            used[kind] += 1
            left[kind] -= 1
            _put(board, i, b, spot, holes)
            done = True
        remaining -= catalog.areas[part]
        yield tried


def cheapest(problem: Problem, rooms: Sequence[Room], kinds: Sequence[int], remaining: float) -> int:
    """The kind of sheet that costs least for the area it can take of what remains; a larger one where equal."""

    def price(kind: int) -> tuple[float, float, float]:
        useful = max(min(rooms[kind].area * EXPECTED_DENSITY, remaining), 1e-9)
        return problem.sheets[kind].cost / useful, rooms[kind].area / useful, -rooms[kind].area

    return min(kinds, key=price)


def fit_table(catalog: Catalog) -> list[list[bool]]:
    """Whether a part's box fits a kind of sheet in some attitude that is tried: [part][sheet]."""
    table = []
    for ways in catalog.attitudes:
        box = catalog.shapes.bare[[way.shape for way in ways]]
        size = box[:, 2:] - box[:, :2]
        row = []
        for room in catalog.rooms:
            width, height = room.rect[2] - room.rect[0], room.rect[3] - room.rect[1]
            row.append(bool(np.any((size[:, 0] <= width) & (size[:, 1] <= height))))
        table.append(row)
    return table


def reasons(problem: Problem, catalog: Catalog) -> dict[int, str]:
    """By part: why a copy of it would be without a place."""
    told = {}
    for part, row in enumerate(fit_table(catalog)):
        box = catalog.shapes.bare[[way.shape for way in catalog.attitudes[part]]]
        size = box[:, 2:] - box[:, :2]
        width, height = size[int(np.argmin(size.max(axis=1)))]
        if any(row):
            count = sum(sheet.quantity or 0 for sheet in problem.sheets)
            told[part] = (
                f"no room left for its {width:.1f} × {height:.1f} mm on the stock at hand "
                f"({count} sheet{'s' if count != 1 else ''})"
                if all(sheet.quantity is not None for sheet in problem.sheets)
                else f"found no place for its {width:.1f} × {height:.1f} mm on any sheet, clear of flaws and keep-outs"
            )
        else:
            room = max(catalog.rooms, key=lambda room: (room.rect[2] - room.rect[0]) * (room.rect[3] - room.rect[1]))
            told[part] = (
                f"needs {width:.1f} × {height:.1f} mm in its best allowed position; the largest usable sheet area is "
                f"{room.rect[2] - room.rect[0]:.1f} × {room.rect[3] - room.rect[1]:.1f} mm"
            )
    return told


def _into_hole(board: Board, i: int, holes: list[Hole]) -> bool:
    """Place a copy in the smallest hole that takes it."""
    part = board.items[i][0]
    area = board.catalog.areas[part]
    shapes = board.catalog.shapes
    radius = float(shapes.circles[shapes.spans[board.variants[part][0], 4], 2]) - 1e-6
    for hole in holes:
        if area > hole.area or radius > hole.room or part in hole.failed:
            continue
        size = (hole.box[2] - hole.box[0], hole.box[3] - hole.box[1])
        spot = board.find(i, hole.bin, cells=hole.cells, box=size, tries=60)
        if spot is None:
            hole.failed.add(part)
        else:
            _put(board, i, hole.bin, spot, holes)
            return True
    return False


def _put(board: Board, i: int, b: int, spot: tuple[int, float, float, float], holes: list[Hole]) -> None:
    """Place a copy; its own holes are listed, smallest first, and the ones it lies in have less room."""
    shape, x, y, _ = spot
    board.put(i, b, shape, x, y)
    grid = board.open[b].grid
    way = board.attitude[i]
    box = board.state.box[i]
    for hole in holes:
        if (
            hole.bin == b
            and hole.box[0] < box[2]
            and hole.box[2] > box[0]
            and hole.box[1] < box[3]
            and hole.box[3] > box[1]
        ):
            hole.room = float(grid.flat[hole.cells].max())
    for ring in board.catalog.holes[board.items[i][0]]:
        points = turn(ring * (-1.0 if way.mirrored else 1.0, 1.0), way.angle) + np.array((x, y))
        (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
        cells = board.cells_inside(b, points)
        if len(cells):
            area = abs(signed_ring_area(points))
            hole = Hole(b, (x0, y0, x1, y1), area, cells, float(grid.flat[cells].max()))
            insort(holes, hole, key=lambda one: one.area)
