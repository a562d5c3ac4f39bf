"""Building the pair tables: where one shape would collide with another, as a border, then as grids."""

from __future__ import annotations

import math
from collections.abc import Iterator
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from geometry.outline import signed_ring_area
from nesting.catalog import Catalog
from nesting.kernels.convolution import convolve, table
from nesting.kernels.scan import rasters
from nesting.kernels.shapes import Shapes
from nesting.kernels.tables import LEAST, MOST, Tables

CELLS: Final = 72 * 72
"""Per table. More cells need the border less often but fall out of the processor's cache."""
MANY: Final = 300
"""Where there are more shapes, tables are built by the thousand: coarser ones, each at once for all it can answer."""
FEWER_CELLS: Final = 40 * 40

MAP_STEP: Final = 0.04
"""Step of the maps, as a share of the parts' mean diameter."""
MOST_BYTES: Final = 250_000_000

Floats = NDArray[np.float64]
Key = tuple[int, int, float, float, bool]
"""Parts, angles of both where the first is turned by less than a quarter and not mirrored, whether the second is."""


def shape_rings(shapes: Shapes, s: int) -> list[Floats]:
    """Rings of a shape as the kernels hold it, in order: outer edge, then holes."""
    first, last = shapes.spans[s, 0], shapes.spans[s, 1]
    edges = shapes.edges[first:last]
    ends = np.flatnonzero(np.any(edges[:-1, 2:] != edges[1:, :2], axis=1)) + 1
    return [edges[a:b, :2] for a, b in zip([0, *ends], [*ends, len(edges)], strict=True)]


@dataclass(frozen=True, slots=True)
class Rings:
    """A shape's outlines without repeated points: anticlockwise outside, clockwise holes."""

    outer: Floats
    holes: list[Floats]
    area: float  # of the outside
    hole_areas: list[float]

    @classmethod
    def of(cls, shapes: Shapes, s: int) -> Rings:
        """Of shape s, whose rings run the other way round where it is mirrored."""
        rings = [ring[np.any(ring != np.roll(ring, 1, axis=0), axis=1)] for ring in shape_rings(shapes, s)]
        areas = [signed_ring_area(ring) for ring in rings]
        if areas[0] < 0.0:
            rings = [ring[::-1].copy() for ring in rings]
        return cls(rings[0], rings[1:], abs(areas[0]), [abs(area) for area in areas[1:]])


def collision_border(a: Rings, b: Rings) -> Floats:
    """Directed edges that wind around those displacements of b, and no others, at which it meets a. -> (k, 4)."""
    edges = [convolve(a.outer, -b.outer)]
    for hole, area in zip(a.holes, a.hole_areas, strict=True):
        if _may_hold(hole, area, b):
            edges.append(convolve(hole, -b.outer))
    for hole, area in zip(b.holes, b.hole_areas, strict=True):
        if _may_hold(hole, area, a):
            edges.append(convolve(a.outer, -hole))
    return np.concatenate(edges)


def _may_hold(hole: Floats, area: float, guest: Rings) -> bool:
    """Whether a shape might lie in a hole, by its area and box; what does cannot surround the hole."""
    return area > guest.area and bool(np.all(np.ptp(hole, axis=0) > np.ptp(guest.outer, axis=0)))


def flat(pieces: list[Floats]) -> tuple[Floats, NDArray[np.int64]]:
    """Pieces one after the other, and where each starts."""
    ends = np.cumsum([0, *(len(piece) for piece in pieces)])
    return np.concatenate(pieces), ends.astype(np.int64)


class PairTables:
    """The tables built so far, and building more of them where they pay."""

    def __init__(self, catalog: Catalog, *, map_step: float = 0.0) -> None:
        """Where `map_step` is not zero, each table also gets rasters of that step, mm."""
        count = len(catalog.shapes.spans)
        self.catalog = catalog
        self.are_many = count > MANY
        self.cells = FEWER_CELLS if self.are_many else CELLS
        self.rings: dict[int, Rings] = {}
        self.rasters: dict[tuple[int, int], int] = {}  # by table and turns
        self.known: dict[Key, int] = {}
        self.identity = {
            way.shape: (part, way.angle, way.mirrored) for part, ways in enumerate(catalog.attitudes) for way in ways
        }
        self.named = {
            (part, round(angle, 6) % 360.0, mirrored): s for s, (part, angle, mirrored) in self.identity.items()
        }
        self.count = self.border_count = self.edge_count = self.cell_count = 0
        self.map_count = self.value_count = 0
        self.tables = Tables(
            np.full((count, count), -1, np.int32),
            np.zeros((count, count), np.int8),
            np.zeros((0, 2)),
            np.zeros(0),
            np.zeros((0, 4), np.int64),
            np.zeros(0),
            np.zeros(0),
            np.zeros(0, np.int32),
            np.zeros(1, np.int64),
            np.zeros(0, np.int32),
            np.zeros((0, 4)),
            np.zeros((1, 1), np.int32),
            np.zeros((1, 2), np.int32),
            np.zeros(1, np.int64),
            np.array([map_step]),
            np.full((count, count) if map_step > 0.0 else (1, 1), -1, np.int32),
            np.zeros((0, 6), np.int64),
            np.zeros(0),
            np.zeros(0, np.uint8),
        )

    def add(self, pairs: list[tuple[int, int]], pool: Executor | None = None) -> None:
        """Build the tables of some ordered pairs of shapes (both attitudes of parts) unless they exist."""
        new: list[tuple[int, int, int, bool]] = []
        made: list[tuple[int, int]] = []
        count = self.count
        for a, b in pairs:
            if self.tables.which[a, b] >= 0 or a not in self.identity or b not in self.identity:
                continue
            if self.used_bytes() > MOST_BYTES:
                break
            key, quarter, mirrored = self.key(a, b)
            if key in self.known:
                t = self.known[key]
            else:
                t = count + len(new)
                self.known[key] = t
                new.append((a, b, quarter, mirrored))
            for c, d, turn in self._alike(key) if self.are_many else ((a, b, quarter + 4 * mirrored),):
                self.tables.which[c, d] = self.tables.which[d, c] = t
                self.tables.turns[c, d] = turn
                self.tables.turns[d, c] = turn ^ 2  # half a circle more
                made += [(c, d), (d, c)] if c != d else [(c, d)]
        if new:
            for shape in {shape for pair in new for shape in pair[:2]}:
                self._rings(shape)
            self._append(list((map if pool is None else pool.map)(self._grid, *zip(*new, strict=True))))
        if made and self.tables.map_step[0] > 0.0:
            self._rasterise(made, pool)

    def key(self, a: int, b: int) -> tuple[Key, int, bool]:
        """What an ordered pair has in common with all that are alike, its quarter turns, whether it is mirrored first.

        Mirroring or turning both shapes does the same to the region; swapping them turns it by half a circle.
        """
        (part_a, angle_a, mirror_a), (part_b, angle_b, mirror_b) = self.identity[a], self.identity[b]
        if mirror_a:
            angle_a, angle_b, mirror_b = -angle_a % 360.0, -angle_b % 360.0, not mirror_b
        quarter = int(angle_a // 90.0) % 4
        turned = (angle_b - 90.0 * quarter) % 360.0
        return (part_a, part_b, angle_a - 90.0 * quarter, turned, mirror_b), quarter, mirror_a

    def _alike(self, key: Key) -> Iterator[tuple[int, int, int]]:
        """All pairs of shapes that a table answers for, with the turns that lead to it."""
        part_a, part_b, angle_a, angle_b, mirror_b = key
        for mirrored in (False, True):
            for quarter in range(4):
                turned = ((angle_a + 90.0 * quarter) % 360.0, (angle_b + 90.0 * quarter) % 360.0)
                if mirrored:
                    turned = (-turned[0] % 360.0, -turned[1] % 360.0)
                c = self.named.get((part_a, round(turned[0], 6) % 360.0, mirrored))
                d = self.named.get((part_b, round(turned[1], 6) % 360.0, mirrored != mirror_b))
                if c is not None and d is not None:
                    yield c, d, quarter + 4 * mirrored

    def _rings(self, s: int) -> Rings:
        if s not in self.rings:
            self.rings[s] = Rings.of(self.catalog.shapes, s)
        return self.rings[s]

    def _grid(self, a: int, b: int, quarter: int, mirrored: bool) -> tuple[Any, ...]:
        c, s = ((1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (0.0, 1.0))[quarter]
        back = np.array(((c, s), (-s, c)))  # for rows, from the shapes' frame to the table's
        edges = collision_border(self._rings(a), self._rings(b))
        if mirrored:
            back *= ((-1.0,), (1.0,))
            edges = edges[:, [2, 3, 0, 1]]
        edges = (edges.reshape(-1, 2) @ back).reshape(-1, 4)
        low = edges.reshape(-1, 2).min(axis=0)
        high = edges.reshape(-1, 2).max(axis=0)
        step = math.sqrt(float(np.prod(high - low)) / self.cells)
        # An odd shift keeps grid lines off the many edges that lie on round numbers.
        x0, y0 = (low - step * np.array((0.3819, 0.4271))).tolist()
        nx, ny = (np.floor((high - (x0, y0)) / step).astype(int) + 1).tolist()
        shapes = self.catalog.shapes
        circles = [shapes.circles[slice(*shapes.spans[shape, 4:])].copy() for shape in (a, b)]
        for some in circles:
            some[:, :2] = some[:, :2] @ back
        eps = 0.01 * float(max(shapes.number[a, 1], shapes.number[b, 1]))
        weight = float(shapes.number[a, 0] * shapes.number[b, 0])
        return x0, y0, step, *table(edges, circles[0], circles[1], weight, eps, x0, y0, step, nx, ny)

    def _rasterise(self, pairs: list[tuple[int, int]], pool: Executor | None) -> None:
        """Make the rasters of ordered pairs that have a table; those alike share one, upside down where that does."""
        box, step, tables = self.catalog.shapes.box, float(self.tables.map_step[0]), self.tables
        due: dict[tuple[int, int], tuple[int, int]] = {}
        for pair in pairs:
            t, turn = int(tables.which[pair]), int(tables.turns[pair])
            if (t, turn) not in self.rasters and (t, turn ^ 6) not in due:
                due.setdefault((t, turn), pair)
        half = (len(due) + 1) // 2
        rows = np.array(list(due.values()), np.int64).reshape(-1, 2)
        halves = [some for some in (rows[:half], rows[half:]) if len(some)]
        keys = iter(due)
        made = (map if pool is None else pool.map)(lambda some: rasters(tables, box, some, step), halves)
        for spans, units, values in list(made):
            start = self._room("map_values", self.value_count, len(values))
            self.tables.map_values[start : start + len(values)] = values
            self.value_count += len(values)
            for (u, v, nu, nv, first, rise), unit in zip(spans.tolist(), units, strict=True):
                t, turn = next(keys)
                self.rasters[t, turn] = self._keep_span((u, v, nu, nv, start + first, rise), unit)
                flipped = (u, 1 - v - nv, nu, nv, start + first + (nv - 1) * rise, -rise)
                self.rasters[t, turn ^ 6] = self._keep_span(flipped, unit)
        for pair in pairs:
            self.tables.map_which[pair] = self.rasters[int(self.tables.which[pair]), int(self.tables.turns[pair])]

    def _keep_span(self, span: tuple[int, ...], unit: float) -> int:
        r = self._room("map_span", self.map_count, 1)
        self._room("map_unit", self.map_count, 1)
        self.tables.map_span[r], self.tables.map_unit[r] = span, unit
        self.map_count += 1
        return r

    def used_bytes(self) -> int:
        """Memory of the filled part of the tables."""
        return 4 * self.cell_count + 32 * self.edge_count + self.value_count

    def _append(self, new: list[tuple[Any, ...]]) -> None:
        for x0, y0, step, packed, unit, starts, around, edges in new:
            t = self._room("origin", self.count, 1)
            for name in ("scale", "size", "least", "unit"):
                self._room(name, self.count, 1)
            self._room("cells", self.cell_count, packed.size)
            self._room("border", self.border_count + 1, len(around))
            self._room("winding", self.border_count, len(around))
            self._room("edges", self.edge_count, len(edges))
            tables, first = self.tables, self.border_count
            tables.origin[t] = (x0, y0)
            tables.scale[t] = 1.0 / step
            tables.size[t] = (packed.shape[1], packed.shape[0], self.cell_count, first)
            tables.least[t] = LEAST * MOST * unit
            tables.unit[t] = unit
            tables.cells[self.cell_count : self.cell_count + packed.size] = packed.ravel()
            tables.border[first + 1 : first + 1 + len(around)] = starts[1:] + self.edge_count
            tables.winding[first : first + len(around)] = around
            tables.edges[self.edge_count : self.edge_count + len(edges)] = edges
            self.count += 1
            self.cell_count += packed.size
            self.border_count += len(around)
            self.edge_count += len(edges)

    def _room(self, name: str, used: int, more: int) -> int:
        """Make sure an array takes `more` rows beyond `used`; it becomes half as long again when it must grow."""
        array = getattr(self.tables, name)
        if used + more > len(array):
            longer = np.zeros((max(3 * len(array) // 2, used + more), *array.shape[1:]), array.dtype)
            longer[:used] = array[:used]
            self.tables = self.tables._replace(**{name: longer})
        return used
