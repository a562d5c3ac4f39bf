"""Building the pair tables: where one shape would collide with another, as polygons, then as grids."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.catalog import Catalog
from nesting.kernels.convex import convex_sums
from nesting.kernels.scan import raster
from nesting.kernels.shapes import Shapes
from nesting.kernels.tables import FREE, FULL, LEAST, MOST, Tables, corner_sides, corner_sizes, trace_border
from nesting.pieces import convex_pieces

CELLS: Final = 72 * 72
"""Per table. More cells need the border less often but fall out of the processor's cache."""

MOST_BYTES: Final = 400_000_000

Floats = NDArray[np.float64]


def shape_rings(shapes: Shapes, s: int) -> list[Floats]:
    """Rings of a shape as the kernels hold it, in order: outer edge, then holes."""
    first, last = shapes.spans[s, 0], shapes.spans[s, 1]
    edges = shapes.edges[first:last]
    ends = np.flatnonzero(np.any(edges[:-1, 2:] != edges[1:, :2], axis=1)) + 1
    return [edges[a:b, :2] for a, b in zip([0, *ends], [*ends, len(edges)], strict=True)]


@dataclass(frozen=True, slots=True)
class Solid:
    """A shape as convex pieces of its outside, with its holes kept apart."""

    pieces: list[Floats]
    points: Floats  # outer ring
    holes: list[Any]  # polygons


def solid(rings: list[Floats]) -> Solid:
    """A shape from its rings, outer edge first."""
    return Solid(convex_pieces(shapely.Polygon(rings[0])), rings[0], [shapely.Polygon(ring) for ring in rings[1:]])


def collision_region(a: Solid, b: Solid) -> Any:
    """Displacements of b at which it overlaps a, as a shapely polygon or multipolygon.

    That is the sum of a and minus b, holes filled, less where one of the two lies in a hole of the other.
    """
    region = _sum(a.pieces, b.pieces)
    for hole in a.holes:
        region = region.difference(_inside_hole(hole, b))
    for hole in b.holes:
        region = region.difference(shapely.affinity.scale(_inside_hole(hole, a), -1.0, -1.0, origin=(0.0, 0.0)))
    return region


def _sum(pieces_a: list[Floats], pieces_b: list[Floats]) -> Any:
    """Union of the sums of every piece of a with every piece of minus b."""
    flat_a, span_a = flat(pieces_a)
    flat_b, span_b = flat([-piece for piece in pieces_b])
    points, ring_of = convex_sums(flat_a, span_a, flat_b, span_b)
    rings = shapely.linearrings(points, indices=ring_of)
    return shapely.union_all(shapely.polygons(rings))


def _inside_hole(hole: Any, guest: Solid) -> Any:
    """Displacements at which the guest lies wholly in the hole."""
    x0, y0, x1, y1 = hole.bounds
    low, high = guest.points.min(axis=0), guest.points.max(axis=0)
    box = np.array((x0, y0, x1, y1)) - np.concatenate((low, high))
    if box[0] >= box[2] or box[1] >= box[3]:
        return shapely.Polygon()
    frame = shapely.box(x0 - 1.0, y0 - 1.0, x1 + 1.0, y1 + 1.0).difference(hole)
    pieces = [piece for part in shapely.get_parts(frame) for piece in convex_pieces(part)]
    return shapely.box(*box).difference(_sum(pieces, guest.pieces))


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
        self.solids: dict[int, Solid] = {}
        self.known: dict[tuple[int, int, float, float, bool, bool], int] = {}
        self.identity = {
            way.shape: (part, way.angle, way.mirrored) for part, ways in enumerate(catalog.attitudes) for way in ways
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
            np.zeros(0, np.bool_),
            np.zeros((0, 4)),
            np.zeros((count, count), np.int32),
            np.array([map_step]),
            np.full((count, count) if map_step > 0.0 else (1, 1), -1, np.int32),
            np.zeros((0, 5), np.int64),
            np.zeros(0),
            np.zeros(0, np.uint8),
        )

    def add(self, pairs: list[tuple[int, int]]) -> None:
        """Build the tables of some ordered pairs of shapes (both attitudes of parts) unless they exist."""
        new: list[tuple[Any, ...]] = []
        made: list[tuple[int, int]] = []
        count = self.count
        for a, b in pairs:
            if self.tables.which[a, b] >= 0 or a not in self.identity or b not in self.identity:
                continue
            if self.used_bytes() > MOST_BYTES:
                break
            (part_a, angle_a, mirror_a), (part_b, angle_b, mirror_b) = self.identity[a], self.identity[b]
            # Turning both shapes turns the region; swapping them turns it by half a circle.
            quarter = int(angle_a // 90.0) % 4
            key = (part_a, part_b, angle_a - 90.0 * quarter, (angle_b - 90.0 * quarter) % 360.0, mirror_a, mirror_b)
            if key in self.known:
                table = self.known[key]
            else:
                table = count + len(new)
                self.known[key] = table
                new.append(self._grid(a, b, quarter))
            self.tables.which[a, b] = table
            self.tables.turns[a, b] = quarter
            self.tables.which[b, a] = table
            self.tables.turns[b, a] = (quarter + 2) % 4
            made.append((a, b))
        if new:
            self._append(new)
        if self.tables.map_step[0] > 0.0:
            for a, b in made:
                self._rasterise(a, b)
                if a != b:
                    self._rasterise(b, a)

    def _solid(self, s: int) -> Solid:
        if s not in self.solids:
            self.solids[s] = solid(shape_rings(self.catalog.shapes, s))
        return self.solids[s]

    def _grid(self, a: int, b: int, quarter: int) -> tuple[Any, ...]:
        region = collision_region(self._solid(a), self._solid(b))
        edges = np.concatenate(
            [
                np.column_stack((ring[:-1], ring[1:]))
                for polygon in shapely.get_parts(region)
                for ring in (np.asarray(r.coords) for r in (polygon.exterior, *polygon.interiors))
            ]
        )
        back = ((1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (0.0, 1.0))[quarter]
        c, s = back
        edges = np.column_stack(
            (c * edges[:, 0] - s * edges[:, 1], s * edges[:, 0] + c * edges[:, 1],
             c * edges[:, 2] - s * edges[:, 3], s * edges[:, 2] + c * edges[:, 3])
        )  # fmt: skip
        low = edges.reshape(-1, 2).min(axis=0)
        high = edges.reshape(-1, 2).max(axis=0)
        step = math.sqrt(float(np.prod(high - low)) / CELLS)
        # An odd shift keeps grid lines off the many edges that lie on round numbers.
        x0, y0 = (low - step * np.array((0.3819, 0.4271))).tolist()
        nx, ny = (np.floor((high - (x0, y0)) / step).astype(int) + 1).tolist()
        cells, starts, listed = trace_border(edges, x0, y0, step, nx, ny)
        sides = corner_sides(edges, x0, y0, step, nx, ny)
        code = np.where(sides[:-1, :-1], FULL, FREE).astype(np.int32)
        code.flat[cells] = np.arange(1, len(cells) + 1)
        busy = code != FREE
        near = np.zeros((ny + 1, nx + 1), np.bool_)
        for dj in (0, 1):
            for di in (0, 1):
                near[dj : ny + dj, di : nx + di] |= busy
        shapes = self.catalog.shapes
        if quarter:
            sizes = self._turned_sizes(a, b, quarter, near, x0, y0, step)
        else:
            sizes = corner_sizes(shapes, a, b, near, x0, y0, step)
        inside = sides[:-1, :-1].ravel()[cells]
        unit = float(sizes.max()) / MOST
        packed = np.pad(code << 16, ((0, 1), (0, 1))) + np.round(sizes / unit).astype(np.int32)
        return (x0, y0, step, packed, unit, starts, inside, edges[listed])

    def _turned_sizes(
        self, a: int, b: int, quarter: int, near: NDArray[np.bool_], x0: float, y0: float, step: float
    ) -> NDArray[np.float32]:
        """Sizes on a grid that is turned back from the shapes' own frame."""
        shapes = self.catalog.shapes
        turned = shapes.circles.copy()
        c, s = ((1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (0.0, 1.0))[quarter]
        for shape in {a, b}:
            first, last = shapes.spans[shape, 4], shapes.spans[shape, 5]
            x, y = shapes.circles[first:last, 0], shapes.circles[first:last, 1]
            turned[first:last, 0], turned[first:last, 1] = c * x - s * y, s * x + c * y
        return corner_sizes(shapes._replace(circles=turned), a, b, near, x0, y0, step)

    def _rasterise(self, a: int, b: int) -> None:
        """Make the raster of an ordered pair that has a table: where a may be, seen from b."""
        box, step = self.catalog.shapes.box, float(self.tables.map_step[0])
        low = np.floor((box[b, :2] - box[a, 2:]) / step).astype(int)
        count = np.ceil((box[b, 2:] - box[a, :2]) / step).astype(int) - low + 1
        u0, v0, nu, nv = (int(n) for n in (*low, *count))
        values = raster(self.tables, int(self.tables.which[a, b]), int(self.tables.turns[a, b]), step, u0, v0, nu, nv)
        r = self._room("map_span", self.map_count, 1)
        self._room("map_unit", self.map_count, 1)
        first = self._room("map_values", self.value_count, len(values))
        # Rounded upwards, so that no collision is worth nothing.
        unit = max(float(values.max(initial=0.0)) / 255.0, 1e-300)
        self.tables.map_values[first : first + len(values)] = np.minimum(np.ceil(values / unit), 255.0)
        self.tables.map_unit[r] = unit
        self.tables.map_span[r] = (u0, v0, nu, nv, first)
        self.tables.map_which[a, b] = r
        self.map_count += 1
        self.value_count += len(values)

    def used_bytes(self) -> int:
        """Memory of the filled part of the tables."""
        return 4 * self.cell_count + 32 * self.edge_count + self.value_count

    def _append(self, new: list[tuple[Any, ...]]) -> None:
        for x0, y0, step, packed, unit, starts, sides, listed in new:
            t = self._room("origin", self.count, 1)
            for name in ("scale", "size", "least", "unit"):
                self._room(name, self.count, 1)
            self._room("cells", self.cell_count, packed.size)
            self._room("border", self.border_count + 1, len(sides))
            self._room("inside", self.border_count, len(sides))
            self._room("edges", self.edge_count, len(listed))
            tables, first = self.tables, self.border_count
            tables.origin[t] = (x0, y0)
            tables.scale[t] = 1.0 / step
            tables.size[t] = (packed.shape[1], packed.shape[0], self.cell_count, first)
            tables.least[t] = LEAST * MOST * unit
            tables.unit[t] = unit
            tables.cells[self.cell_count : self.cell_count + packed.size] = packed.ravel()
            tables.border[first + 1 : first + 1 + len(sides)] = starts[1:] + self.edge_count
            tables.inside[first : first + len(sides)] = sides
            tables.edges[self.edge_count : self.edge_count + len(listed)] = listed
            self.count += 1
            self.cell_count += packed.size
            self.border_count += len(sides)
            self.edge_count += len(listed)

    def _room(self, name: str, used: int, more: int) -> int:
        """Make sure an array takes `more` rows beyond `used`; it doubles when it must grow."""
        array = getattr(self.tables, name)
        if used + more > len(array):
            longer = np.zeros((max(2 * len(array), used + more), *array.shape[1:]), array.dtype)
            longer[:used] = array[:used]
            self.tables = self.tables._replace(**{name: longer})
        return used
