"""The sheets in use and every copy's place on them, as the kernels see it; plans in and out."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.arrays import turn
from nesting.catalog import Attitude, Catalog
from nesting.kernels import place
from nesting.kernels.place import Bins, Field, State
from nesting.plan import Layout, Placement, Plan, Unplaced
from nesting.problem import Problem, net_area

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
CELLS = 60_000  # per sheet, of the free-room field


@dataclass(slots=True)
class Open:
    """A sheet in use: which kind, which copy of it, its free-room field, the way it is filled (0 = x, 1 = y)."""

    sheet: int
    copy: int
    field: Field
    axis: int

    @property
    def grid(self) -> Floats:
        """The room of the cells, counted along the way the sheet is filled first."""
        return self.field.room.T if self.axis == 0 else self.field.room


class Board:
    """Copies on open sheets. Copies count over all parts in the problem's order; `bin` b is the b-th opened sheet."""

    def __init__(self, problem: Problem, catalog: Catalog) -> None:
        self.problem = problem
        self.catalog = catalog
        self.items = [(p, copy) for p, part in enumerate(problem.parts) for copy in range(part.quantity)]
        self.open: list[Open] = []
        self.attitude: dict[int, Attitude] = {}
        self.variants = [np.array([way.shape for way in ways], np.int64) for ways in catalog.attitudes]
        self.by_shape = {way.shape: way for ways in catalog.attitudes for way in ways}
        first = [catalog.shapes.circles[catalog.shapes.spans[ways[0].shape, 4], 2] for ways in catalog.attitudes]
        self.largest = float(max(first, default=0.0))
        n = len(self.items)
        self.bare = np.zeros((n, 4))
        self.state = State(
            np.zeros(n),
            np.zeros(n),
            np.zeros(n),
            np.zeros(n, np.int64),
            np.zeros(n, np.int64),
            np.full(n, -1, np.int64),
            np.zeros((n, 4)),
            np.zeros((4, n), np.int32),
            np.zeros(4, np.int64),
        )
        self.bins = Bins(np.zeros((4, 4)), np.zeros((4, 2), np.int64), np.zeros(1, np.int64), np.zeros((1, 2)))

    def open_sheet(self, sheet: int, copy: int, *, with_field: bool = True) -> int:
        """Take one more sheet into use; returns its bin."""
        b = len(self.open)
        if b == len(self.bins.rect):
            self._grow()
        room = self.catalog.rooms[sheet]
        x0, y0, x1, y1 = room.rect
        self.bins.rect[b] = room.rect
        old = len(self.bins.obstacle_shape)
        self.bins = self.bins._replace(
            obstacle_shape=np.concatenate((self.bins.obstacle_shape, np.array(room.obstacles, np.int64))),
            obstacle_at=np.concatenate((self.bins.obstacle_at, np.zeros((len(room.obstacles), 2)))),
        )
        self.bins.obstacle_span[b] = (old, old + len(room.obstacles))
        step = math.sqrt((x1 - x0) * (y1 - y0) / CELLS)
        size = (max(1, math.ceil((y1 - y0) / step)), max(1, math.ceil((x1 - x0) / step))) if with_field else (0, 0)
        axis = 0 if x1 - x0 >= y1 - y0 else 1
        most = int(np.ptp(self.catalog.shapes.spans[:, 4:], axis=1).max())
        field = Field(np.zeros(size), x0, y0, step, np.zeros(most, np.int64), np.zeros(most))
        self.open.append(Open(sheet, copy, field, axis))
        if with_field:
            place.clear_field(self.catalog.shapes, self.bins, field, b, self.catalog.reach)
        return b

    def close_last(self) -> None:
        """Give back the sheet opened last, which must be empty."""
        self.open.pop()

    def find(
        self, i: int, b: int, *, cells: Ints | None = None, box: tuple[float, float] | None = None, tries: int = 40
    ) -> tuple[int, float, float, float] | None:
        """Best free place of copy i on an open sheet: shape, x, y, score (lower is better).

        `cells` of the sheet's grid limit where the largest circle may lie, `box` the grown shape's width and height.
        """
        sheet = self.open[b]
        part = self.items[i][0]
        shapes = self.catalog.shapes
        variants = self.variants[part]
        least = shapes.circles[shapes.spans[variants[0], 4], 2] - 1e-6
        if box is not None:
            size = shapes.box[variants, 2:] - shapes.box[variants, :2]
            variants = variants[(size[:, 0] <= box[0]) & (size[:, 1] <= box[1])]
        roomy = np.flatnonzero(sheet.grid >= least) if cells is None else cells[sheet.grid.flat[cells] >= least]
        if not len(variants) or (cells is not None and not len(roomy)):
            return None
        out = np.zeros(4)
        found = place.find_place(
            shapes, self.bins, self.state, i, b, variants, sheet.field, roomy, sheet.axis, tries, cells is None, out
        )
        return (int(out[0]), float(out[1]), float(out[2]), float(out[3])) if found else None

    def cells_inside(self, b: int, ring: Floats) -> Ints:
        """Cells of a sheet's grid whose centres lie in a ring, in order."""
        sheet = self.open[b]
        field = sheet.field
        low = np.maximum((ring.min(axis=0) - (field.x0, field.y0)) / field.step - 0.5, 0.0).astype(int)
        high = np.ceil((ring.max(axis=0) - (field.x0, field.y0)) / field.step).astype(int)
        ny, nx = field.room.shape
        columns, rows = np.arange(low[0], min(high[0], nx)), np.arange(low[1], min(high[1], ny))
        x, y = np.meshgrid(field.x0 + (columns + 0.5) * field.step, field.y0 + (rows + 0.5) * field.step)
        row, column = np.nonzero(shapely.contains_xy(shapely.Polygon(ring), x, y))
        if sheet.axis == 0:
            return np.sort((column + low[0]) * ny + row + low[1])
        return np.sort((row + low[1]) * nx + column + low[0])

    def put(self, i: int, b: int, shape: int, x: float, y: float) -> None:
        """Place a copy; the place must be free."""
        place.put(self.catalog.shapes, self.state, i, shape, b, x, y)
        self.attitude[i] = self.by_shape[shape]
        self.bare[i] = self.catalog.shapes.bare[shape]
        sheet = self.open[b]
        if sheet.field.room.size:
            place.block_field(self.catalog.shapes, sheet.field, shape, x, y, self.largest, 0.0)

    def stand(self, i: int, b: int, code: int, angle: float, x: float, y: float) -> None:
        """Place a copy as a search left it: `code` is a shape, or -1 - base where it was turned freely by `angle`."""
        part = self.items[i][0]
        if code >= 0:
            self.put(i, b, code, x, y)
            return
        mirrored = self.catalog.bases[part].index(-1 - code) == 1
        self.put(i, b, self.catalog.attitudes[part][0].shape, x, y)
        self.attitude[i] = Attitude(-1 - code, angle, mirrored)
        shapes = self.catalog.shapes
        first, last = shapes.hull_span[-1 - code]
        hull = turn(shapes.hulls[first:last], angle)
        self.bare[i] = np.concatenate((hull.min(axis=0), hull.max(axis=0)))

    def adopt(self, i: int, b: int, at: Placement) -> bool:
        """Place a copy as a placement says; False when its part may not stand so here."""
        part = self.items[i][0]
        mirrored = at.mirrored
        way = Attitude(-1, at.rotation % 360.0, mirrored)
        x, y = self.catalog.shape_at(part, way, at.x, at.y)
        for known in self.catalog.attitudes[part]:
            if known.mirrored == mirrored and abs((known.angle - way.angle + 180.0) % 360.0 - 180.0) < 1e-9:
                self.put(i, b, known.shape, x, y)
                return True
        if len(self.catalog.bases[part]) <= int(mirrored):
            return False  # an attitude that looks like another one was left out of the catalog
        self.stand(i, b, -1 - self.catalog.bases[part][int(mirrored)], way.angle, x, y)
        return True

    def places(self) -> Floats:
        """Where the copies are, for a search: (n, 5) x, y, angle, shape code, sheet; sheet -1 where there is none."""
        out = np.zeros((len(self.items), 5))
        out[:, 0], out[:, 1], out[:, 3], out[:, 4] = self.state.x, self.state.y, self.state.shape, self.state.bin
        for i, way in self.attitude.items():
            if way.shape not in self.by_shape:
                out[i, 2], out[i, 3] = way.angle, -1 - way.shape
        return out

    def _grow(self) -> None:
        more = len(self.bins.rect)
        n = len(self.items)
        self.bins = self.bins._replace(
            rect=np.concatenate((self.bins.rect, np.zeros((more, 4)))),
            obstacle_span=np.concatenate((self.bins.obstacle_span, np.zeros((more, 2), np.int64))),
        )
        self.state = self.state._replace(
            members=np.concatenate((self.state.members, np.zeros((more, n), np.int32))),
            filled=np.concatenate((self.state.filled, np.zeros(more, np.int64))),
        )

    def plan(self, reasons: dict[int, str] | None = None) -> Plan:
        """What is on the board as a plan; `reasons` by part for copies without a place."""
        layouts = []
        for b, sheet in enumerate(self.open):
            members = sorted(int(i) for i in self.state.members[b, : self.state.filled[b]])
            if members:
                placements = tuple(self._placement(i) for i in members)
                layouts.append(Layout(self.problem.sheets[sheet.sheet].id, sheet.copy, placements))
        unplaced = tuple(
            Unplaced(self.problem.parts[part].id, copy, (reasons or {}).get(part, "not tried yet"))
            for i, (part, copy) in enumerate(self.items)
            if self.state.bin[i] < 0
        )
        return Plan(tuple(layouts), unplaced, self.cost())

    def _placement(self, i: int) -> Placement:
        part, copy = self.items[i]
        way = self.attitude[i]
        x, y = self.catalog.placed_at(part, way, float(self.state.x[i]), float(self.state.y[i]))
        return Placement(self.problem.parts[part].id, copy, x, y, way.angle, way.mirrored)

    def cost(self) -> tuple[int, ...]:
        """See `nesting.solve` for what the numbers mean."""
        missing = 0
        for i, (part, _) in enumerate(self.items):
            if self.state.bin[i] < 0:
                missing += math.ceil(net_area(self.problem.parts[part].outline))
        stock, area, tidy, best = 0, 0.0, 0.0, 0.0
        for b, sheet in enumerate(self.open):
            members = self.state.members[b, : self.state.filled[b]]
            if len(members):
                room = self.catalog.rooms[sheet.sheet]
                stock += self.problem.sheets[sheet.sheet].cost
                area += room.area
                strip, extent = self._free_strip(members, room.rect)
                best = max(best, strip)
                tidy += extent
        return (missing, stock, round(area), -round(best), round(tidy))

    def _free_strip(self, members: NDArray[np.int32], rect: tuple[float, float, float, float]) -> tuple[float, float]:
        """Area of the largest strip free from edge to edge, and how far the layout reaches along the long side."""
        state, box = self.state, self.bare[members]
        x0 = float((state.x[members] + box[:, 0]).min())
        y0 = float((state.y[members] + box[:, 1]).min())
        x1 = float((state.x[members] + box[:, 2]).max())
        y1 = float((state.y[members] + box[:, 3]).max())
        spacing = self.problem.rules.spacing
        width, height = rect[2] - rect[0], rect[3] - rect[1]
        free_x = max(rect[2] - x1, x0 - rect[0]) - spacing
        free_y = max(rect[3] - y1, y0 - rect[1]) - spacing
        strip = max(free_x * height, free_y * width, 0.0)
        return strip, x1 - rect[0] if width >= height else y1 - rect[1]
