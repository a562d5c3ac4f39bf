"""Lines and arcs in bulk: boxes, distances and crossings of many at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.curve import Arc, Line, Segment

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class LineArcs:
    """Lines (bulge 0) and arcs as arrays.

    Fields
    ------
    start, end : (n, 2) float64, mm
    bulge : (n,) float64
    """

    start: Floats
    end: Floats
    bulge: Floats

    @classmethod
    def of(cls, segments: Iterable[Segment]) -> LineArcs:
        """From lines and arcs; cubics must be fitted first."""
        rows = []
        for segment in segments:
            if not isinstance(segment, Line | Arc):
                raise TypeError(f"only lines and arcs are held in bulk, not {type(segment).__name__}")
            rows.append((*segment.start, *segment.end, segment.bulge if isinstance(segment, Arc) else 0.0))
        table = np.array(rows, dtype=np.float64).reshape(-1, 5)
        return cls(table[:, 0:2], table[:, 2:4], table[:, 4])

    @classmethod
    def joined(cls, parts: Sequence[LineArcs]) -> LineArcs:
        """Several in one."""
        return cls(
            np.concatenate([part.start for part in parts]),
            np.concatenate([part.end for part in parts]),
            np.concatenate([part.bulge for part in parts]),
        )

    def __len__(self) -> int:
        return len(self.bulge)

    def take(self, index: Indices | NDArray[np.bool_]) -> LineArcs:
        """Some of them."""
        return LineArcs(self.start[index], self.end[index], self.bulge[index])

    def segments(self) -> list[Segment]:
        """As single segments."""
        return [
            Line((x0, y0), (x1, y1)) if bulge == 0.0 else Arc((x0, y0), (x1, y1), bulge)
            for (x0, y0), (x1, y1), bulge in zip(
                self.start.tolist(), self.end.tolist(), self.bulge.tolist(), strict=True
            )
        ]

    @cached_property
    def is_arc(self) -> NDArray[np.bool_]:
        """Which are arcs."""
        arcs: NDArray[np.bool_] = self.bulge != 0.0
        return arcs

    @cached_property
    def chord(self) -> Floats:
        """End less start, (n, 2)."""
        return self.end - self.start

    @cached_property
    def chord_length(self) -> Floats:
        """Distance of the ends, mm."""
        return np.hypot(self.chord[:, 0], self.chord[:, 1])

    @cached_property
    def sweep(self) -> Floats:
        """Radians, positive anticlockwise; 0 for lines."""
        return 4.0 * np.arctan(self.bulge)

    @cached_property
    def radius(self) -> Floats:
        """Radius, mm; 0 for lines."""
        b = np.where(self.is_arc, self.bulge, 1.0)
        return np.where(self.is_arc, self.chord_length * (1.0 + b * b) / (4.0 * np.abs(b)), 0.0)

    @cached_property
    def length(self) -> Floats:
        """Length along the curve, mm."""
        return np.where(self.is_arc, self.radius * np.abs(self.sweep), self.chord_length)

    @cached_property
    def centre(self) -> Floats:
        """Centres, (n, 2); of no meaning for lines."""
        b = np.where(self.is_arc, self.bulge, 1.0)
        share = ((1.0 - b * b) / (4.0 * b))[:, None]
        return 0.5 * (self.start + self.end) + share * np.stack([-self.chord[:, 1], self.chord[:, 0]], axis=1)

    @cached_property
    def tangents(self) -> tuple[Floats, Floats]:
        """Unit tangents at start and end, (n, 2) each."""
        size = np.where(self.chord_length > 0.0, self.chord_length, 1.0)
        ux, uy = self.chord[:, 0] / size, self.chord[:, 1] / size
        b2 = self.bulge * self.bulge
        cosine, sine = (1.0 - b2) / (1.0 + b2), 2.0 * self.bulge / (1.0 + b2)
        return (
            np.stack([cosine * ux + sine * uy, cosine * uy - sine * ux], axis=1),
            np.stack([cosine * ux - sine * uy, cosine * uy + sine * ux], axis=1),
        )

    @cached_property
    def boxes(self) -> Floats:
        """Exact bounds, (n, 4): min x, min y, max x, max y."""
        low, high = np.minimum(self.start, self.end), np.maximum(self.start, self.end)
        if self.is_arc.any():
            arc = self.is_arc
            centre, radius, sign = self.centre[arc], self.radius[arc], np.sign(self.bulge[arc])
            start, chord = self.start[arc], self.chord[arc]
            for axis in (0, 1):
                for side in (-1.0, 1.0):
                    away = centre - start
                    away[:, axis] += side * radius
                    passed = (chord[:, 0] * away[:, 1] - chord[:, 1] * away[:, 0]) * sign < 0.0
                    reach = centre[:, axis] + side * radius
                    if side < 0.0:
                        low[arc, axis] = np.where(passed, np.minimum(low[arc, axis], reach), low[arc, axis])
                    else:
                        high[arc, axis] = np.where(passed, np.maximum(high[arc, axis], reach), high[arc, axis])
        return np.concatenate([low, high], axis=1)

    @cached_property
    def tree(self) -> shapely.STRtree:
        """Search tree over the boxes."""
        return shapely.STRtree(shapely.box(*self.boxes.T))

    def middle(self) -> Floats:
        """Points halfway along, (n, 2)."""
        sagitta = 0.5 * self.bulge[:, None] * np.stack([self.chord[:, 1], -self.chord[:, 0]], axis=1)
        return 0.5 * (self.start + self.end) + sagitta

    def area_under(self) -> Floats:
        """Half the integral of x dy - y dx along each, mm²; summed over a closed chain, its signed area."""
        (x0, y0), (x1, y1) = (self.start - self.start[:1]).T, (self.end - self.start[:1]).T
        sweep = self.sweep
        # Circular segment R² (θ - sin θ) / 2; the difference by series where it would cancel.
        rest = np.where(np.abs(sweep) < 0.05, sweep**3 * (1.0 / 6.0 - sweep**2 / 120.0), sweep - np.sin(sweep))
        result: Floats = 0.5 * (x0 * y1 - y0 * x1 + self.radius**2 * rest)
        return result

    def runs_on(self, following: Indices) -> NDArray[np.bool_]:
        """Which of them, by direction and curvature, seem to go on along one line or circle in the following one."""
        straight = np.abs(_cross(self.tangents[1], self.tangents[0][following])) < 1e-4
        curvature = np.where(self.is_arc, np.sign(self.bulge) / np.where(self.is_arc, self.radius, 1.0), 0.0)
        alike = np.abs(curvature - curvature[following]) <= 1e-4 * np.abs(curvature)
        both: NDArray[np.bool_] = straight & alike
        return both

    def near(self, points: Floats, reach: float) -> tuple[Indices, Indices]:
        """Pairs (point, line or arc) whose boxes come within `reach` (mm), a superset of those that do."""
        x, y = points[:, 0], points[:, 1]
        found = self.tree.query(shapely.box(x - reach, y - reach, x + reach, y + reach))
        return found[0], found[1]

    def distance(self, points: Floats, which: Indices) -> Floats:
        """Distance, mm, of each point (m, 2) from the line or arc named beside it."""
        start, chord, bulge = self.start[which], self.chord[which], self.bulge[which]
        away = points - start
        square = chord[:, 0] ** 2 + chord[:, 1] ** 2
        t = (away[:, 0] * chord[:, 0] + away[:, 1] * chord[:, 1]) / np.where(square > 0.0, square, 1.0)
        t = np.clip(t, 0.0, 1.0)
        result: Floats = np.hypot(away[:, 0] - t * chord[:, 0], away[:, 1] - t * chord[:, 1])
        arc = np.flatnonzero(bulge != 0.0)
        if len(arc) == 0:
            return result
        which, start, chord, sign = which[arc], start[arc], chord[arc], np.sign(bulge[arc])
        centre, radius = self.centre[which], self.radius[which]
        point = points[arc]
        out = point - centre
        size = np.hypot(out[:, 0], out[:, 1])
        # The foot on the circle is on the arc when it lies on the arc's side of the chord.
        foot = centre + out * (radius / np.where(size > 0.0, size, 1.0))[:, None] - start
        on_arc = (chord[:, 0] * foot[:, 1] - chord[:, 1] * foot[:, 0]) * sign <= 0.0
        ends = np.minimum(np.hypot(*(point - start).T), np.hypot(*(point - start - chord).T))
        result[arc] = np.where(on_arc, np.abs(size - radius), ends)
        return result

    def parameter(self, points: Floats, which: Indices) -> Floats:
        """Where along the line or arc named beside it each point lies: 0 at the start, 1 at the end."""
        away, chord = points - self.start[which], self.chord[which]
        square = chord[:, 0] ** 2 + chord[:, 1] ** 2
        t: Floats = (away[:, 0] * chord[:, 0] + away[:, 1] * chord[:, 1]) / np.where(square > 0.0, square, 1.0)
        arc = np.flatnonzero(self.is_arc[which])
        if len(arc):
            which = which[arc]
            centre, sweep = self.centre[which], self.sweep[which]
            first, second = self.start[which] - centre, points[arc] - centre
            turn = np.arctan2(
                first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0],
                first[:, 0] * second[:, 0] + first[:, 1] * second[:, 1],
            )
            # Of all angles a full turn apart, the one nearest the arc's middle.
            turn -= 2.0 * np.pi * np.rint((turn - 0.5 * sweep) / (2.0 * np.pi))
            t[arc] = turn / sweep
        return t

    def crossings(self) -> tuple[Indices, Indices, Floats]:
        """All points where two of them cross: indices i < k and the points (m, 2), overlaps along a length left out."""
        first, second = self.tree.query(shapely.box(*self.boxes.T))
        keep = first < second
        first, second = first[keep], second[keep]
        swap = self.is_arc[first] & ~self.is_arc[second]  # the line first, where there is one
        one, two = np.where(swap, second, first), np.where(swap, first, second)
        kinds = self.is_arc[one].astype(np.intp) + self.is_arc[two]
        found: list[tuple[Indices, Indices, Floats]] = []
        for kind, meet in enumerate((self._lines_meet, self._line_meets_arc, self._arcs_meet)):
            mine = kinds == kind
            if mine.any():
                found += meet(one[mine], two[mine])
        if not found:
            return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp), np.zeros((0, 2))
        a, b = np.concatenate([f[0] for f in found]), np.concatenate([f[1] for f in found])
        points = np.concatenate([f[2] for f in found])
        return np.minimum(a, b), np.maximum(a, b), points

    def _lines_meet(self, one: Indices, two: Indices) -> list[tuple[Indices, Indices, Floats]]:
        p, r, q, s = self.start[one], self.chord[one], self.start[two], self.chord[two]
        cross = _cross(r, s)
        ok = np.abs(cross) > 1e-12 * self.chord_length[one] * self.chord_length[two]
        one, two, p, r, q, s, cross = one[ok], two[ok], p[ok], r[ok], q[ok], s[ok], cross[ok]
        t = ((q[:, 0] - p[:, 0]) * s[:, 1] - (q[:, 1] - p[:, 1]) * s[:, 0]) / cross
        points = p + t[:, None] * r
        return [self._within(one, two, points)]

    def _line_meets_arc(self, line: Indices, arc: Indices) -> list[tuple[Indices, Indices, Floats]]:
        length = self.chord_length[line]
        ok = length > 0.0
        line, arc, length = line[ok], arc[ok], length[ok]
        unit = self.chord[line] / length[:, None]
        out = self.centre[arc] - self.start[line]
        along = out[:, 0] * unit[:, 0] + out[:, 1] * unit[:, 1]
        aside = out[:, 0] * unit[:, 1] - out[:, 1] * unit[:, 0]
        radius = self.radius[arc]
        square = (radius - aside) * (radius + aside)
        ok = square > 0.0
        line, arc, unit, along, half = line[ok], arc[ok], unit[ok], along[ok], np.sqrt(square[ok])
        origin = self.start[line]
        return [self._within(line, arc, origin + (along + side * half)[:, None] * unit) for side in (-1.0, 1.0)]

    def _arcs_meet(self, one: Indices, two: Indices) -> list[tuple[Indices, Indices, Floats]]:
        between = self.centre[two] - self.centre[one]
        gap = np.hypot(between[:, 0], between[:, 1])
        r1, r2 = self.radius[one], self.radius[two]
        ok = gap > 1e-12 * (r1 + r2)
        one, two, between, gap, r1, r2 = one[ok], two[ok], between[ok], gap[ok], r1[ok], r2[ok]
        along = 0.5 * (gap + (r1 - r2) * (r1 + r2) / gap)
        square = (r1 - along) * (r1 + along)
        ok = square > 0.0
        one, two, gap, along, half = one[ok], two[ok], gap[ok], along[ok], np.sqrt(square[ok])
        unit = between[ok] / gap[:, None]
        base = self.centre[one] + along[:, None] * unit
        side = half[:, None] * np.stack([-unit[:, 1], unit[:, 0]], axis=1)
        return [self._within(one, two, base + side), self._within(one, two, base - side)]

    def _within(self, one: Indices, two: Indices, points: Floats) -> tuple[Indices, Indices, Floats]:
        """Those points that lie on both, ends included with a little room."""
        room = 1e-6
        t, u = self.parameter(points, one), self.parameter(points, two)
        room_t, room_u = room / np.maximum(self.length[one], room), room / np.maximum(self.length[two], room)
        ok = (t >= -room_t) & (t <= 1.0 + room_t) & (u >= -room_u) & (u <= 1.0 + room_u)
        return one[ok], two[ok], points[ok]


def _cross(p: Floats, q: Floats) -> Floats:
    result: Floats = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    return result
