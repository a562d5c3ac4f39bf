"""Loose lines and arcs that lie over each other in part: each stretch is kept once.

Words: pieces on the same straight line or the same circle share a *carrier*; where each lies on it is its *span*
(mm along the line from the longest piece's start, or degrees anticlockwise round the circle).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from geometry.arcs import arc_centre, arc_radius, arc_sweep
from geometry.contour import Contour
from geometry.curve import Arc, Line, Point, Segment
from geometry.groups import Groups
from geometry.measure import bounds_of_each

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Merged:
    """What is left of the pieces, each with the number of the piece it comes from, and where something was merged.

    Fields
    ------
    pieces : tuple of (Contour, int)
    lines, arcs : int
        Pieces that lay over others.
    where : Point or None
        Place of the first of them.
    """

    pieces: tuple[tuple[Contour, int], ...]
    lines: int = 0
    arcs: int = 0
    where: Point | None = None


@dataclass(frozen=True, slots=True)
class _Part:
    """One segment of a piece: numbers of the piece and of the segment in it."""

    piece: int
    number: int
    segment: Line | Arc
    is_loose: bool


def merge_overlapping(pieces: Sequence[Contour], same: float) -> Merged:
    """Open pieces without the stretches that others already hold.

    Open pieces on one carrier whose spans overlap become one, parted where other pieces end on it, so that shapes
    which share part of an edge keep their corners. An open piece that lies wholly on a closed contour is dropped.
    Closed contours stay as they are.

    Parameters
    ----------
    pieces : sequence of Contour
        In any order; no two alike.
    same : float
        Pieces this close lie on the same carrier; shorter overlaps are touches.
    """
    parts = [
        _Part(index, number, segment, not piece.is_closed)
        for index, piece in enumerate(pieces)
        for number, segment in enumerate(piece.segments)
        if isinstance(segment, Line | Arc)
    ]
    groups = _groups(parts, same)
    if not groups:
        return Merged(tuple((piece, index) for index, piece in enumerate(pieces)))
    ends = _Ends(pieces)
    gone: set[tuple[int, int]] = set()
    new: list[tuple[Contour, int]] = []
    lines = arcs = 0
    where: Point | None = None
    for members in groups:
        removed, made = _merge([parts[index] for index in members], ends, same)
        if not removed:
            continue
        gone.update((part.piece, part.number) for part in removed)
        new += [(Contour((segment,), is_closed=False), removed[0].piece) for segment in made]
        over = len(removed) - bool(made)
        if isinstance(removed[0].segment, Line):
            lines += over
        else:
            arcs += over
        where = where or removed[0].segment.start
    out: list[tuple[Contour, int]] = []
    touched = {piece for piece, _ in gone}
    for index, piece in enumerate(pieces):
        out += [(piece, index)] if index not in touched else [(one, index) for one in _rest(piece, index, gone)]
    return Merged((*out, *new), lines, arcs, where)


def _rest(piece: Contour, index: int, gone: set[tuple[int, int]]) -> list[Contour]:
    """Runs of a piece between the segments that are gone."""
    runs: list[list[Segment]] = [[]]
    for number, segment in enumerate(piece.segments):
        if (index, number) in gone:
            runs.append([])
        else:
            runs[-1].append(segment)
    return [Contour(tuple(run), is_closed=False) for run in runs if run]


class _Ends:
    """Ends of all segments of open pieces, to tell where something ends on a carrier."""

    def __init__(self, pieces: Sequence[Contour]) -> None:
        self.owners: list[tuple[int, int]] = []
        self.points: list[Point] = []
        for index, piece in enumerate(pieces):
            if not piece.is_closed:
                for number, segment in enumerate(piece.segments):
                    self.owners += [(index, number)] * 2
                    self.points += [segment.start, segment.end]
        self._tree = cKDTree(np.array(self.points))

    def near(self, middle: Point, reach: float, own: set[tuple[int, int]]) -> list[Point]:
        """Ends within `reach` of a point, of segments other than `own`."""
        found = self._tree.query_ball_point(middle, reach)
        return [self.points[index] for index in sorted(found) if self.owners[index] not in own]


# Finding what shares a carrier.


def _groups(parts: list[_Part], same: float) -> list[list[int]]:
    """Parts that overlap on a carrier, at least one of them loose, in groups."""
    loose = [index for index, part in enumerate(parts) if part.is_loose]
    if not loose or len(parts) < 2:
        return []
    bounds = bounds_of_each([Contour((part.segment,), is_closed=False) for part in parts])
    boxes = shapely.box(*np.add(bounds, (-same, -same, same, same)).T)
    first, second = shapely.STRtree(boxes).query(boxes[loose], predicate="intersects")
    first = np.array(loose)[first]
    is_arc = np.array([isinstance(part.segment, Arc) for part in parts])
    kept = (first != second) & (is_arc[first] == is_arc[second])
    pairs = np.unique(np.sort(np.column_stack((first[kept], second[kept])), axis=1), axis=0)
    groups = Groups(len(parts))
    found: set[int] = set()
    on_line = ~is_arc[pairs[:, 0]]
    alike = np.zeros(len(pairs), dtype=bool)
    alike[on_line] = _collinear(parts, pairs[on_line], same)
    alike[~on_line] = _cocircular(parts, pairs[~on_line], same)
    for a, b in pairs[alike].tolist():
        if parts[a].piece != parts[b].piece and _overlap(parts[a].segment, parts[b].segment, same):
            groups.merge(a, b)
            found.update((a, b))
    return [members for members in groups.members() if members[0] in found]


def _collinear(parts: list[_Part], pairs: NDArray[np.int64], same: float) -> NDArray[np.bool_]:
    if not len(pairs):
        return np.zeros(0, dtype=bool)
    ends = np.array([(*parts[i].segment.start, *parts[i].segment.end) for i in pairs.ravel().tolist()])
    a, b = ends[0::2], ends[1::2]
    length_a, length_b = (np.hypot(one[:, 2] - one[:, 0], one[:, 3] - one[:, 1]) for one in (a, b))
    is_longer = (length_a >= length_b)[:, None]
    long, short = np.where(is_longer, a, b), np.where(is_longer, b, a)
    length = np.maximum(length_a, length_b)
    x, y = (long[:, 2] - long[:, 0]) / length, (long[:, 3] - long[:, 1]) / length
    off = [np.abs((short[:, k] - long[:, 0]) * y - (short[:, k + 1] - long[:, 1]) * x) for k in (0, 2)]
    return np.asarray(np.maximum(*off) <= same)


def _cocircular(parts: list[_Part], pairs: NDArray[np.int64], same: float) -> NDArray[np.bool_]:
    if not len(pairs):
        return np.zeros(0, dtype=bool)
    circles = np.array(
        [
            (*arc_centre(segment), arc_radius(segment))
            for segment in (parts[i].segment for i in pairs.ravel().tolist())
            if isinstance(segment, Arc)
        ]
    )
    return np.asarray(np.abs(circles[0::2] - circles[1::2]).max(axis=1) <= same)


def _overlap(a: Line | Arc, b: Line | Arc, same: float) -> bool:
    """Whether two segments on one carrier share more than a touch."""
    base = max((a, b), key=_size)
    own, other = _span(base, a), _span(base, b)
    slack = 2.0 * same if isinstance(base, Line) else math.degrees(2.0 * same / arc_radius(base))
    if isinstance(base, Line):
        return min(own[1], other[1]) - max(own[0], other[0]) > slack
    return any(min(own[1], other[1] + turn) - max(own[0], other[0] + turn) > slack for turn in (-360.0, 0.0, 360.0))


def _size(segment: Line | Arc) -> float:
    if isinstance(segment, Line):
        return math.dist(segment.start, segment.end)
    return abs(arc_sweep(segment)) * arc_radius(segment)


def _span(base: Line | Arc, segment: Line | Arc) -> Span:
    """Where a segment lies on the carrier of `base`; circles start at -180 to 180."""
    if isinstance(base, Line):
        length = math.dist(base.start, base.end)
        x, y = (base.end[0] - base.start[0]) / length, (base.end[1] - base.start[1]) / length
        places = [
            (point[0] - base.start[0]) * x + (point[1] - base.start[1]) * y for point in (segment.start, segment.end)
        ]
        return (min(places), max(places))
    if isinstance(segment, Line):
        raise TypeError("a line has no span on a circle")
    centre = arc_centre(base)
    sweep = arc_sweep(segment)
    first = segment.start if sweep > 0.0 else segment.end
    start = math.degrees(math.atan2(first[1] - centre[1], first[0] - centre[0]))
    return (start, start + abs(sweep))


# Merging one group.


def _merge(members: list[_Part], ends: _Ends, same: float) -> tuple[list[_Part], list[Segment]]:
    """Loose parts that go, and what takes their place."""
    base = max((part.segment for part in members), key=_size)
    unit = 1.0 if isinstance(base, Line) else math.degrees(1.0 / arc_radius(base))
    slack = same * unit
    spans = {index: _span(base, part.segment) for index, part in enumerate(members)}
    covers = [spans[index] for index, part in enumerate(members) if not part.is_loose]
    removed = [
        index for index, part in enumerate(members) if part.is_loose and _is_covered(spans[index], covers, base, slack)
    ]
    left = [index for index, part in enumerate(members) if part.is_loose and index not in removed]
    made: list[Segment] = []
    for cluster in _clusters([spans[index] for index in left], base, slack):
        if len(cluster) > 1:
            numbers = [left[one] for one, _ in cluster]
            shifted = [(spans[left[one]][0] + turn, spans[left[one]][1] + turn) for one, turn in cluster]
            removed += numbers
            made += _once(base, [members[one] for one in numbers], shifted, ends, same)
    return [members[index] for index in removed], made


def _is_covered(span: Span, covers: list[Span], base: Line | Arc, slack: float) -> bool:
    turns = (0.0,) if isinstance(base, Line) else (-360.0, 0.0, 360.0)
    at = span[0]
    for low, high in sorted((low + turn, high + turn) for low, high in covers for turn in turns):
        if low <= at + slack:
            at = max(at, high)
    return at >= span[1] - slack


def _clusters(spans: list[Span], base: Line | Arc, slack: float) -> list[list[tuple[int, float]]]:
    """Spans that hang together, each with the whole turns to be added so that they follow each other."""
    order = sorted(range(len(spans)), key=lambda index: spans[index])
    clusters: list[list[tuple[int, float]]] = []
    high = -math.inf
    for index in order:
        if clusters and spans[index][0] < high - slack:
            clusters[-1].append((index, 0.0))
        else:
            clusters.append([(index, 0.0)])
            high = -math.inf
        high = max(high, spans[index][1])
    while isinstance(base, Arc) and len(clusters) > 1:
        reach = max(spans[index][1] + turn for index, turn in clusters[-1])
        if spans[clusters[0][0][0]][0] + 360.0 >= reach - slack:
            break
        clusters[-1] += [(index, 360.0) for index, _ in clusters.pop(0)]  # the last runs on into the first
    return clusters


def _once(base: Line | Arc, parts: list[_Part], spans: list[Span], ends: _Ends, same: float) -> list[Segment]:
    """The stretch that parts cover together, parted where other pieces end on it."""
    lowest, highest = min(spans), max(spans, key=lambda span: span[1])
    low, high = lowest[0], highest[1]
    # The outermost ends as drawn, so that what joined there still does.
    start = _end_at(parts[spans.index(lowest)].segment, is_first=True, base=base)
    end = _end_at(parts[spans.index(highest)].segment, is_first=False, base=base)
    slack = same if isinstance(base, Line) else math.degrees(same / arc_radius(base))
    own = {(part.piece, part.number) for part in parts}
    cuts: dict[Point, float] = {}
    for point in ends.near(_middle(base, low, high), _reach(base, low, high) + same, own):
        place = _place(base, point, low, same)
        if place is not None and low + slack < place < high - slack:
            cuts[point] = place
    if isinstance(base, Arc) and high - low >= 360.0 - slack:
        high, end = low + 360.0, start
        cuts[_on_circle(base, low + 180.0)] = low + 180.0
    out: list[Segment] = []
    at, from_ = start, low
    for point, place in [*sorted(cuts.items(), key=lambda cut: cut[1]), (end, high)]:
        if place - from_ <= slack:
            continue
        out.append(Line(at, point) if isinstance(base, Line) else _arc(at, point, place - from_))
        at, from_ = point, place
    return out


def _arc(start: Point, end: Point, sweep: float) -> Arc:
    return Arc(start, end, math.tan(math.radians(sweep) / 4.0))


def _end_at(segment: Line | Arc, *, is_first: bool, base: Line | Arc) -> Point:
    """End of a segment that comes first or last along the carrier."""
    if isinstance(base, Line):
        x, y = base.end[0] - base.start[0], base.end[1] - base.start[1]
        is_along = (segment.end[0] - segment.start[0]) * x + (segment.end[1] - segment.start[1]) * y > 0.0
    else:
        is_along = isinstance(segment, Arc) and segment.bulge > 0.0
    return segment.start if is_along is is_first else segment.end


def _place(base: Line | Arc, point: Point, low: float, same: float) -> float | None:
    """Where a point is on the carrier, from `low` on; None when it is off it."""
    if isinstance(base, Line):
        length = math.dist(base.start, base.end)
        x, y = (base.end[0] - base.start[0]) / length, (base.end[1] - base.start[1]) / length
        dx, dy = point[0] - base.start[0], point[1] - base.start[1]
        return dx * x + dy * y if abs(dx * y - dy * x) <= same else None
    centre = arc_centre(base)
    dx, dy = point[0] - centre[0], point[1] - centre[1]
    if abs(math.hypot(dx, dy) - arc_radius(base)) > same:
        return None
    return low + (math.degrees(math.atan2(dy, dx)) - low) % 360.0


def _on_circle(base: Arc, angle: float) -> Point:
    (x, y), radius = arc_centre(base), arc_radius(base)
    return (x + radius * math.cos(math.radians(angle)), y + radius * math.sin(math.radians(angle)))


def _middle(base: Line | Arc, low: float, high: float) -> Point:
    if isinstance(base, Arc):
        return arc_centre(base)
    length = math.dist(base.start, base.end)
    share = (low + high) / 2.0 / length
    return (
        base.start[0] + share * (base.end[0] - base.start[0]),
        base.start[1] + share * (base.end[1] - base.start[1]),
    )


def _reach(base: Line | Arc, low: float, high: float) -> float:
    return arc_radius(base) if isinstance(base, Arc) else (high - low) / 2.0
