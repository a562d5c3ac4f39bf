"""Jobs of rectangles only: a first layout on sheets by rectpack, and a tree search that finds near-perfect strips."""

from __future__ import annotations

import math
from collections.abc import Generator, Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import rectpack
from numpy.typing import NDArray

from nesting.board import Board
from nesting.catalog import Catalog
from nesting.kernels import skyline
from nesting.problem import Part, Problem

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
NODES: Final = 100_000
"""Per step of work: 10 to 50 ms."""


def is_rectangle(part: Part) -> bool:
    """Whether a part is an upright rectangle that may stand as it is or turned by quarters."""
    ring = part.outline.outer
    low, high = ring.min(axis=0), ring.max(axis=0)
    if part.outline.holes or len(ring) != 4 or not np.all((ring == low) | (ring == high)):
        return False
    return part.rotations is None or all(angle % 90.0 == 0.0 for angle in part.rotations)


_WAYS: Final = tuple(
    (choice, order)
    for choice in (rectpack.MaxRectsBssf, rectpack.MaxRectsBl, rectpack.MaxRectsBaf)
    for order in (rectpack.SORT_AREA, rectpack.SORT_LSIDE)
)
UNIT: Final = 1e-3
"""mm. rectpack counts in whole micrometres; what is rounded is rounded to be safe."""


@dataclass(frozen=True, slots=True)
class _Packed:
    """One sheet: its kind, and of each copy on it: number, lower left corner of its grown box, turned or not."""

    kind: int
    copies: tuple[tuple[int, float, float, bool], ...]


def rectangle_board(problem: Problem, catalog: Catalog) -> Generator[None, None, Board | None]:
    """All copies on sheets as the best of a few ways of rectpack has them; None where it cannot place them all.

    None too where a part is no upright rectangle or a sheet is not a plain one. Tried are each kind of sheet alone,
    and sheet by sheet the kind that costs least for what it takes. Yields between the ways.
    """
    if any(room.obstacles for room in catalog.rooms) or not all(is_rectangle(part) for part in problem.parts):
        return None
    board = Board(problem, catalog)
    ways = [{round(way.angle / 90.0) % 2 for way in catalog.attitudes[part]} for part, _ in board.items]
    boxes = [
        np.ptp(problem.parts[part].outline.outer, axis=0)[:: 1 if 0 in way else -1] + problem.rules.spacing
        for (part, _), way in zip(board.items, ways, strict=True)
    ]
    sizes = np.ceil(np.array(boxes) / UNIT - 1e-3).astype(int)
    may_turn = all(len(way) == 2 or size[0] == size[1] for way, size in zip(ways, sizes, strict=True))
    rooms = [
        tuple(int((room.rect[k + 2] - room.rect[k] + problem.rules.spacing) / UNIT) for k in (0, 1))
        for room in catalog.rooms
    ]
    best: list[_Packed] | None = None
    least = (math.inf, math.inf)
    for way in _WAYS:
        yield
        plans = [
            _pack(sizes, range(len(sizes)), kind, room, problem.sheets[kind].quantity, way, turn=may_turn)
            for kind, room in enumerate(rooms)
        ]
        if len(rooms) > 1 and len(sizes) <= MOST_MIXED:
            plans.append(_sheet_by_sheet(problem, sizes, rooms, way, turn=may_turn))
        for plan in plans:
            cost = sum(problem.sheets[sheet.kind].cost for sheet in plan)
            area = sum(catalog.rooms[sheet.kind].area for sheet in plan)
            if sum(len(sheet.copies) for sheet in plan) == len(sizes) and (cost, area) < least:
                best, least = plan, (cost, area)
    if best is None:
        return None
    for number, sheet in enumerate(best):
        b = board.open_sheet(sheet.kind, sum(other.kind == sheet.kind for other in best[:number]), with_field=False)
        rect = catalog.rooms[sheet.kind].rect
        for i, x, y, turned in sheet.copies:
            on_side = turned == (0 in ways[i])
            shape = next(
                way.shape for way in catalog.attitudes[board.items[i][0]] if round(way.angle / 90.0) % 2 == on_side
            )
            box = catalog.shapes.bare[shape]
            board.put(i, b, shape, rect[0] + x - box[0], rect[1] + y - box[1])
    return board


MOST_MIXED: Final = 300
"""Copies up to which sheets are chosen one by one."""


def _pack(
    sizes: Ints, copies: Iterable[int], kind: int, room: tuple[int, ...], count: int | None, way: Any, *, turn: bool
) -> list[_Packed]:
    """Copies on sheets of one kind, at most `count` of them."""
    packer = rectpack.newPacker(
        mode=rectpack.PackingMode.Offline,
        bin_algo=rectpack.PackingBin.BFF,
        pack_algo=way[0],
        sort_algo=way[1],
        rotation=turn,
    )
    for i in copies:
        packer.add_rect(int(sizes[i, 0]), int(sizes[i, 1]), i)
    packer.add_bin(*room, count=float("inf") if count is None else count)
    packer.pack()
    sheets = []
    for sheet in packer:
        on_it = [
            (one.rid, one.x * UNIT, one.y * UNIT, (one.width, one.height) != tuple(sizes[one.rid].tolist()))
            for one in sheet
        ]
        sheets.append(_Packed(kind, tuple(on_it)))
    return sheets


def _sheet_by_sheet(
    problem: Problem, sizes: Ints, rooms: list[tuple[int, ...]], way: Any, *, turn: bool
) -> list[_Packed]:
    """Always the sheet that costs least for the area of what it takes."""
    left = set(range(len(sizes)))
    area = sizes.prod(axis=1).astype(float)
    used: list[_Packed] = []
    while left:
        best: tuple[float, _Packed] | None = None
        for kind, room in enumerate(rooms):
            quantity = problem.sheets[kind].quantity
            if quantity is not None and sum(sheet.kind == kind for sheet in used) >= quantity:
                continue
            for sheet in _pack(sizes, sorted(left), kind, room, 1, way, turn=turn):
                taken = float(area[[one[0] for one in sheet.copies]].sum())
                if best is None or problem.sheets[kind].cost / taken < best[0]:
                    best = (problem.sheets[kind].cost / taken, sheet)
        if best is None:
            break
        used.append(best[1])
        left -= {one[0] for one in best[1].copies}
    return used


class RectangleStrip:
    """Tree search for rectangles on a strip; `best` is the shortest length known, `places` how to reach it."""

    def __init__(
        self, problem: Problem, catalog: Catalog, parts: list[int], rect: Floats, best: float, *, seed: int
    ) -> None:
        self.catalog = catalog
        self.parts = parts
        self.rect = rect
        self.spacing = problem.rules.spacing
        self.height = float(rect[3] - rect[1]) + self.spacing
        self.best = best
        self.places: Floats | None = None
        self.random = np.random.default_rng(seed)
        self.types = sorted(set(parts))
        boxes = [problem.parts[t].outline.outer for t in self.types]
        self.sizes = np.array([np.ptp(ring, axis=0) for ring in boxes])
        self.counts = np.array([parts.count(t) for t in self.types], np.int64)
        ways = [{round(way.angle / 90.0) % 2 for way in catalog.attitudes[t]} for t in self.types]
        self.upright = np.array([0 in way for way in ways])
        # Types that may only stand on their side are entered with their sides exchanged.
        self.sizes[~self.upright] = self.sizes[~self.upright][:, ::-1]
        self.sizes = self.sizes + self.spacing
        oblong = self.sizes[:, 0] != self.sizes[:, 1]
        self.may_turn = (np.array([len(way) == 2 for way in ways]) & oblong).astype(np.int64)
        self.area = float((self.sizes.prod(axis=1) * self.counts).sum())
        self.unit = _unit(self.sizes)
        depth = 3 * len(parts) + 2
        self.work = (
            np.zeros((depth, len(parts) + 3)),
            np.zeros((depth, len(parts) + 3)),
            np.zeros((depth, 4), np.int64),
            np.zeros(depth),
            np.zeros((depth, 4)),
        )
        self.round = 0

    def step(self) -> bool:
        """One limited walk with a fresh order and target; True when a shorter strip was found."""
        least = self.area / self.height
        now = self.best + self.spacing
        share = (0.0, 0.5, 0.8, 0.95)[self.round % 4]
        target = least + share * (now - least)
        if self.unit > 0.0:
            # All lengths are whole multiples of the unit: the next one up from the bound, or the last below the best.
            target = max(np.floor(target / self.unit + 1e-6), np.ceil(least / self.unit - 1e-6)) * self.unit
        if target >= now - 1e-7 * now:
            return False
        noise = self.random.uniform(0.6, 1.5, len(self.types)) if self.round >= 4 else np.ones(len(self.types))
        power = (1.0, 0.5, 0.0)[self.round % 3]  # by area, by something between, by the longer side
        key = self.sizes.prod(axis=1) ** power * self.sizes.max(axis=1) ** (1.0 - power)
        order = np.argsort(-key * noise, kind="stable").astype(np.int64)
        self.round += 1
        target += 1e-9 * now
        limit = self.height * target - self.area
        nodes = NODES * (1 + self.round // 64)
        found = skyline.fill(
            self.height, target, self.sizes, self.counts, self.may_turn, order, max(limit, 0.0), nodes, *self.work
        )
        if found != skyline.FOUND:
            return False
        self._take()
        return True

    def _take(self) -> None:
        """Turn the walk's steps into places of the copies."""
        meta, placed = self.work[2], self.work[4]
        copies = {t: [i for i, part in enumerate(self.parts) if part == t] for t in self.types}
        places = np.zeros((len(self.parts), 5))
        reach = 0.0
        for along, across, kind, turned in placed[: meta[0, 1]]:
            if kind < 0:
                continue
            t = self.types[int(kind)]
            self.counts[int(kind)] += 1
            on_side = bool(turned) == bool(self.upright[int(kind)])
            way = next(way for way in self.catalog.attitudes[t] if round(way.angle / 90.0) % 2 == on_side)
            box = self.catalog.shapes.bare[way.shape]
            x, y = self.rect[0] + along - box[0], self.rect[1] + across - box[1]
            places[copies[t].pop(0)] = (x, y, 0.0, way.shape, 0)
            reach = max(reach, along + float(box[2] - box[0]))
        self.places, self.best = places, reach


def _unit(sizes: Floats) -> float:
    """Largest length of which all sizes are whole multiples, mm; 0 where that is too small to be of use."""
    whole = np.round(sizes.ravel() / 1e-6).astype(np.int64)
    unit = int(np.gcd.reduce(whole))
    return unit * 1e-6 if unit * 1e-6 > 1e-3 * float(sizes.max()) else 0.0
