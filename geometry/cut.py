"""A region cut along a straight line: both sides with their true curves, and where the line runs through material.

Every edge that crosses the line is split there, and the line itself becomes the new edge of both sides, end points
shared bit for bit. What only touches the line is not cut by it: points on the line count as lying left of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from geometry.angles import cos_sin
from geometry.arcs import arc_sweep, point_at, split_segment
from geometry.assemble import regions_from_boundaries
from geometry.chain import closed_chains
from geometry.contour import Contour, Region
from geometry.curve import Arc, Cubic, Line, Point, Segment
from geometry.measure import contour_area, quadratic_roots

_ON: Final = 1e-9  # mm; nearer to the line than this is on it
_NO_AREA: Final = 1e-6  # mm²; sides smaller than this are rounding, not material


@dataclass(frozen=True, slots=True)
class CutLine:
    """A straight line without ends: a point on it (mm) and its direction, degrees anticlockwise from x."""

    at: Point
    angle: float

    @property
    def direction(self) -> Point:
        """Unit vector along the line."""
        return cos_sin(self.angle)

    def moved_left(self, distance: float) -> CutLine:
        """The parallel line that far to the left of it, mm; negative moves right."""
        cosine, sine = self.direction
        return CutLine((self.at[0] - distance * sine, self.at[1] + distance * cosine), self.angle)

    def along(self, point: Point) -> float:
        """How far along the line a point lies, from `at`, mm."""
        cosine, sine = self.direction
        return (point[0] - self.at[0]) * cosine + (point[1] - self.at[1]) * sine

    def left_of(self, point: Point) -> float:
        """How far left of the line a point lies, mm; negative to the right."""
        cosine, sine = self.direction
        return (point[1] - self.at[1]) * cosine - (point[0] - self.at[0]) * sine

    def point(self, along: float) -> Point:
        """The point of the line that far along it, mm."""
        cosine, sine = self.direction
        return (self.at[0] + along * cosine, self.at[1] + along * sine)


def cut_region(region: Region, line: CutLine) -> tuple[tuple[Region, ...], tuple[Region, ...]]:
    """What lies left and what lies right of a line, each in as many regions as it falls into.

    Arcs stay arcs and cubics cubics. Areas of both sides add up to the region's.

    Examples
    --------
    >>> left, right = cut_region(Region(rectangle(10, 4)), CutLine((3, 0), 90.0))
    >>> [region_area(one) for one in (*left, *right)]
    [12.0, 28.0]
    """
    sides: tuple[list[Contour], list[Contour]] = ([], [])
    chains: tuple[list[tuple[Segment, ...]], list[tuple[Segment, ...]]] = ([], [])
    for contour in (region.outer, *region.holes):
        runs = _runs(contour, line)
        if len(runs) == 1:
            sides[runs[0][0]].append(contour)
            continue
        for side, segments in runs:
            chains[side].append(segments)
    made = []
    for side in (0, 1):
        contours = sides[side] + _closed_along(chains[side], line)
        areas = [contour_area(contour) for contour in contours]
        kept = [i for i, area in enumerate(areas) if abs(area) > _NO_AREA]
        made.append(regions_from_boundaries([contours[i] for i in kept], [areas[i] for i in kept]))
    return made[0], made[1]


def spans_in(region: Region, line: CutLine) -> tuple[tuple[float, float], ...]:
    """Stretches of the line within the material: where each begins and ends along the line, mm, in order."""
    places = []
    for contour in (region.outer, *region.holes):
        runs = _runs(contour, line)
        if len(runs) > 1:
            places += [line.along(segments[0].start) for _, segments in runs]
    places.sort()
    return tuple((low, high) for low, high in zip(places[::2], places[1::2], strict=True) if high - low > _ON)


def _runs(contour: Contour, line: CutLine) -> list[tuple[int, tuple[Segment, ...]]]:
    """The contour in stretches that lie left (0) or right (1) of the line; one stretch when it is not crossed."""
    found: list[tuple[int, list[Segment]]] = []
    for segment in contour.segments:
        clear = _clear_side(segment, line)
        for piece in _split(segment, line) if clear is None else (segment,):
            side = _side(piece, line) if clear is None else clear
            if found and found[-1][0] == side:
                found[-1][1].append(piece)
            else:
                found.append((side, [piece]))
    if len(found) > 1 and found[0][0] == found[-1][0]:
        side, last = found.pop()
        found[0] = (side, last + found[0][1])
    return [(side, tuple(segments)) for side, segments in found]


def _clear_side(segment: Segment, line: CutLine) -> int | None:
    """Side of a segment that is well clear of the line, told without looking along it; None for all others."""
    heights = [line.left_of(segment.start), line.left_of(segment.end)]
    reach = _ON
    match segment:
        case Arc(bulge=bulge):
            # No further from its chord than the sagitta, or than the circle is wide.
            size = abs(bulge) if abs(bulge) <= 1.0 else (1.0 + bulge * bulge) / abs(bulge)
            reach += 0.5 * math.dist(segment.start, segment.end) * size
        case Cubic():
            heights += [line.left_of(segment.control1), line.left_of(segment.control2)]
        case Line():
            pass
    if min(heights) > reach:
        return 0
    return 1 if max(heights) < -reach else None


def _side(piece: Segment, line: CutLine) -> int:
    """0 when the piece lies left of the line or on it, 1 when it lies right."""
    reach = min((line.left_of(point_at(piece, t)) for t in (0.25, 0.5, 0.75)), default=0.0)
    return 1 if reach < -_ON else 0


def _split(segment: Segment, line: CutLine) -> list[Segment]:
    """The segment cut where it crosses the line."""
    stops = [0.0, *_turning(segment, line), 1.0]
    heights = [line.left_of(point_at(segment, t)) for t in stops]
    cuts = []
    for (t0, t1), (h0, h1) in zip(pairwise(stops), pairwise(heights), strict=True):
        if (h0 > _ON and h1 < -_ON) or (h0 < -_ON and h1 > _ON):
            if isinstance(segment, Line):
                cuts.append(h0 / (h0 - h1))
            else:
                from scipy.optimize import brentq  # a quarter of a second to import, for what is seldom cut

                cuts.append(brentq(lambda t: line.left_of(point_at(segment, t)), t0, t1, xtol=1e-15, rtol=1e-14))
        elif abs(h1) <= _ON and 0.0 < t1 < 1.0:
            cuts.append(t1)
    pieces: list[Segment] = []
    rest, done = segment, 0.0
    for t in cuts:
        share = (t - done) / (1.0 - done)
        if not 0.0 < share < 1.0:
            continue
        head, rest = split_segment(rest, share)
        pieces.append(head)
        done = t
    return [*pieces, rest]


def _turning(segment: Segment, line: CutLine) -> list[float]:
    """Parameters inside the segment where it runs parallel to the line."""
    match segment:
        case Line():
            return []
        case Arc(start=(x0, y0), end=(x1, y1)):
            sweep = arc_sweep(segment)
            first = math.degrees(math.atan2(y1 - y0, x1 - x0)) - 0.5 * sweep - line.angle
            low, high = sorted((first, first + sweep))
            halves = range(math.floor(low / 180.0) + 1, math.ceil(high / 180.0))
            return sorted(t for k in halves if 0.0 < (t := (180.0 * k - first) / sweep) < 1.0)
        case Cubic():
            p0, p1, p2, p3 = (
                line.left_of(point) for point in (segment.start, segment.control1, segment.control2, segment.end)
            )
            roots = quadratic_roots(p3 - p0 + 3.0 * (p1 - p2), 2.0 * (p0 - 2.0 * p1 + p2), p1 - p0)
            return sorted(t for t in roots if 0.0 < t < 1.0)


def _closed_along(chains: Sequence[tuple[Segment, ...]], line: CutLine) -> list[Contour]:
    """Chains whose ends lie on the line, closed by stretches of it.

    Along the line, ends and starts of the chains of one side take turns: the first end is joined to the first start.
    """
    ends = sorted((chain[-1].end for chain in chains), key=line.along)
    starts = sorted((chain[0].start for chain in chains), key=line.along)
    joints: list[Segment] = [Line(end, start) for end, start in zip(ends, starts, strict=True) if end != start]
    edges = [segment for chain in chains for segment in chain] + joints
    numbers: dict[Point, int] = {}
    begins = [numbers.setdefault(edge.start, len(numbers)) for edge in edges]
    stops = [numbers.setdefault(edge.end, len(numbers)) for edge in edges]
    return [Contour(tuple(edges[i] for i in loop)) for loop in closed_chains(begins, stops, edges)]
