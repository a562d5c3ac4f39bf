"""Contours that cross, resolved on their true curves.

Every segment is cut where it meets another, every piece gets the winding numbers of its two sides, and the pieces that
part material from empty space are chained again. Lines, arcs and cubics stay what they are.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from geometry.arcs import arc_radius, arc_sweep, point_at, split_segment, tangent_at
from geometry.build import reversed_segment
from geometry.chain import closed_chains
from geometry.contour import Contour
from geometry.curve import Arc, Cubic, Line, Point, Segment
from geometry.groups import Groups
from geometry.measure import contour_area, segment_length
from geometry.merge import merged

_Floats = NDArray[np.float64]
_ALONG = 0.05  # radians; chords of curves that touch lie within this of each other
_BLUR = 1e4  # times the snapping distance: how far off the place of a touch may be, with room
_TANGENT = 3e-5  # radians; curves meeting at less only touch
_SAME_CUT = 1e-3  # of the parameter; cuts at one place further apart are two
_CHUNK = 2_000_000  # most numbers in one temporary array of the winding sums


@dataclass(frozen=True, slots=True)
class _Chords:
    """Chords of all segments: owner and parameter of each end."""

    owner: NDArray[np.intp]
    t0: _Floats
    t1: _Floats
    start: _Floats
    end: _Floats


@dataclass(frozen=True, slots=True)
class _Group:
    """Pieces lying on each other: one of them, its polyline, and how often it is run forwards less backwards."""

    piece: Segment
    members: tuple[int, ...]
    net: int
    count: int


def resolve(
    contours: Sequence[Contour], is_material: Callable[[int], bool], *, base: int, size: float
) -> list[Contour] | None:
    """Boundary contours (material on the left) of closed contours that may cross, or None when that cannot be settled.

    Parameters
    ----------
    contours : sequence of Contour
        Closed.
    is_material : callable
        Whether a place with this winding number is material.
    base : int
        Winding number around all the contours.
    size : float
        Extent of the drawing, mm; tolerances follow it.
    """
    snap = 1e-8 * size
    pieces = _cut(contours, size, snap)
    groups = _grouped(pieces, snap)
    left = _left_windings(pieces, groups, base, 1e-5 * size)
    if left is None:
        return None
    kept: list[Segment] = []
    for group, winding in zip(groups, left, strict=True):
        on_left, on_right = is_material(winding), is_material(winding - group.net)
        if on_left != on_right:
            kept.append(group.piece if on_left else reversed_segment(group.piece))
    numbers: dict[Point, int] = {}
    starts = [numbers.setdefault(piece.start, len(numbers)) for piece in kept]
    ends = [numbers.setdefault(piece.end, len(numbers)) for piece in kept]
    chains = closed_chains(starts, ends, kept)
    if sum(map(len, chains)) != len(kept):
        return None
    touching = {point for point, times in Counter(piece.start for piece in kept).items() if times > 1}
    loops = [merged([kept[i] for i in chain], snap, is_closed=True, fixed=touching) for chain in chains]
    result = [Contour(tuple(loop)) for loop in loops]
    return [contour for contour in result if abs(contour_area(contour)) > (10.0 * snap) * size]


def is_even_odd(winding: int) -> bool:
    """Material by the even-odd rule."""
    return winding % 2 != 0


def is_nonzero(winding: int) -> bool:
    """Material by the nonzero rule."""
    return winding != 0


def _cut(contours: Sequence[Contour], size: float, snap: float) -> list[Segment]:
    """All segments, cut at their meeting points, with ends that are one point made equal bit for bit."""
    segments = [segment for contour in contours for segment in contour.segments]
    chords = _chords(segments, 1e-5 * size)
    cuts: dict[int, list[float]] = defaultdict(list)
    _cut_at_crossings(segments, chords, 2e-5 * size, snap, cuts)
    _cut_at_ends(segments, chords, 2e-5 * size, snap, cuts)
    pieces: list[Segment] = []
    for i, segment in enumerate(segments):
        pieces += _split_at(segment, sorted(cuts[i]), snap)
    ends = np.array([point for piece in pieces for point in (piece.start, piece.end)])
    groups = Groups(len(ends))
    for i, k in cKDTree(ends).query_pairs(4.0 * snap):
        groups.merge(i, k)
    labels = [groups.of(i) for i in range(len(ends))]
    # The first segment end in a cluster names its place; cut points move onto it.
    originals = {segment.start for segment in segments}
    place: dict[int, Point] = {}
    for label, (x, y) in zip(labels, ends.tolist(), strict=True):
        if label not in place or ((x, y) in originals and place[label] not in originals):
            place[label] = (x, y)
    moved = []
    for i, piece in enumerate(pieces):
        start, end = place[labels[2 * i]], place[labels[2 * i + 1]]
        if start == end and segment_length(piece) < 100.0 * snap:
            continue
        moved.append(replace(piece, start=start, end=end))
    return moved


def _chords(segments: Sequence[Segment], tolerance: float) -> _Chords:
    owner, t0, t1, start, end = [], [], [], [], []
    for i, segment in enumerate(segments):
        ts = parameters(segment, tolerance)
        points = [point_at(segment, t) for t in ts]
        owner += [i] * (len(ts) - 1)
        t0 += ts[:-1]
        t1 += ts[1:]
        start += points[:-1]
        end += points[1:]
    return _Chords(np.array(owner), np.array(t0), np.array(t1), np.array(start), np.array(end))


def parameters(segment: Segment, tolerance: float) -> list[float]:
    """Even parameters, 0 and 1 included, whose chords stay within the tolerance (mm)."""
    match segment:
        case Line():
            return [0.0, 1.0]
        case Arc():
            step = 4.0 * math.asin(math.sqrt(min(0.5 * tolerance / arc_radius(segment), 0.1)))
            count = max(2, math.ceil(abs(math.radians(arc_sweep(segment))) / step))
        case Cubic(start=p0, control1=p1, control2=p2, end=p3):
            bend = max(
                math.hypot(p0[0] - 2.0 * p1[0] + p2[0], p0[1] - 2.0 * p1[1] + p2[1]),
                math.hypot(p1[0] - 2.0 * p2[0] + p3[0], p1[1] - 2.0 * p2[1] + p3[1]),
            )
            count = max(4, math.ceil(math.sqrt(0.75 * bend / tolerance)))
    return [i / count for i in range(count)] + [1.0]


def _cut_at_crossings(
    segments: Sequence[Segment], chords: _Chords, reach: float, snap: float, cuts: dict[int, list[float]]
) -> None:
    lines = shapely.linestrings(np.stack([chords.start, chords.end], axis=1))
    first, second = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=reach)
    keep = first < second
    first, second = first[keep], second[keep]
    length = np.hypot(*(chords.end - chords.start).T)
    along = (chords.end - chords.start) / np.maximum(length, 1e-300)[:, None]
    aslant = along[first, 0] * along[second, 1] - along[first, 1] * along[second, 0]
    for a, b, sine in zip(first.tolist(), second.tolist(), aslant.tolist(), strict=True):
        i, k = int(chords.owner[a]), int(chords.owner[b])
        if i == k and b - a < 2:
            continue
        window = (float(chords.t0[a]), float(chords.t1[a])), (float(chords.t0[b]), float(chords.t1[b]))
        found = _crossing(segments[i], segments[k], *window, snap)
        if found is None and abs(sine) < _ALONG:
            # From the one with the shorter chord, along which the distance is a parabola.
            if length[a] <= length[b]:
                found = _touch(segments[i], segments[k], *window, snap)
            elif (back := _touch(segments[k], segments[i], window[1], window[0], snap)) is not None:
                found = back[1], back[0]
        if found is None:
            continue
        t, u = found
        if i == k and abs(t - u) < 1e-6:
            continue
        cuts[i].append(t)
        cuts[k].append(u)


def _crossing(
    one: Segment, two: Segment, near_t: tuple[float, float], near_u: tuple[float, float], snap: float
) -> tuple[float, float] | None:
    """Parameters where two segments cross, near two intervals of them, by Newton's method."""
    (low_t, high_t), (low_u, high_u) = near_t, near_u
    wide_t, wide_u = high_t - low_t, high_u - low_u
    t, u = 0.5 * (low_t + high_t), 0.5 * (low_u + high_u)
    for _ in range(12):
        (x0, y0), (x1, y1) = point_at(one, t), point_at(two, u)
        dx0, dy0 = _velocity(one, t)
        dx1, dy1 = _velocity(two, u)
        gap_x, gap_y = x1 - x0, y1 - y0
        det = dx1 * dy0 - dx0 * dy1
        if abs(det) <= _TANGENT * math.hypot(dx0, dy0) * math.hypot(dx1, dy1):
            return None  # running alongside
        step_t, step_u = (dx1 * gap_y - dy1 * gap_x) / det, (dx0 * gap_y - dy0 * gap_x) / det
        t = min(max(t + step_t, low_t - wide_t, 0.0), high_t + wide_t, 1.0)
        u = min(max(u + step_u, low_u - wide_u, 0.0), high_u + wide_u, 1.0)
        if abs(step_t) < 1e-14 and abs(step_u) < 1e-14:
            break
    return (t, u) if math.dist(point_at(one, t), point_at(two, u)) <= 0.1 * snap else None


def _touch(
    one: Segment, two: Segment, near_t: tuple[float, float], near_u: tuple[float, float], snap: float
) -> tuple[float, float] | None:
    """Parameters where two segments touch at one point without crossing, or None; also where they run on each other.

    The distance from one to the other is a parabola near such a point; its lowest place is taken twice, the second
    time from closer by.
    """
    t, half = 0.5 * (near_t[0] + near_t[1]), 0.5 * (near_t[1] - near_t[0])
    u = 0.5 * (near_u[0] + near_u[1])
    low, high = max(near_t[0] - half, 0.0), min(near_t[1] + half, 1.0)
    for reach in (half, 0.1 * half):
        first, gap, last = (_aside(two, point_at(one, v), u)[0] for v in (t - reach, t, t + reach))
        bend = first - 2.0 * gap + last
        if abs(bend) > 8.0 * snap:
            t = min(max(t + 0.5 * reach * (first - last) / bend, low), high)
        elif reach == half:
            return None  # no bend to be seen: they run on each other, if they meet
    place = point_at(one, t)
    u = _foot(two, place, u)
    if math.dist(place, point_at(two, u)) > snap:
        return None
    ends = (one.start, one.end, two.start, two.end)
    # Beside an end the place is too blurred to be of use; ends on the other segment are found exactly elsewhere.
    return (t, u) if min(math.dist(place, end) for end in ends) > _BLUR * snap else None


def _aside(segment: Segment, point: Point, t: float) -> tuple[float, float]:
    """Signed distance of a point from a segment, positive to its left, and the parameter of its foot."""
    t = _foot(segment, point, t)
    (x, y), (dx, dy) = point_at(segment, t), tangent_at(segment, t)
    return dx * (point[1] - y) - dy * (point[0] - x), t


def _foot(segment: Segment, point: Point, t: float) -> float:
    """Parameter of the foot of a point on a segment, by Newton's method from a near one."""
    for _ in range(12):
        (x, y), (dx, dy) = point_at(segment, t), _velocity(segment, t)
        speed = dx * dx + dy * dy
        if speed == 0.0:
            break
        step = ((point[0] - x) * dx + (point[1] - y) * dy) / speed
        t = min(max(t + step, 0.0), 1.0)
        if abs(step) < 1e-14:
            break
    return t


def _velocity(segment: Segment, t: float) -> Point:
    match segment:
        case Line(start=(x0, y0), end=(x1, y1)):
            return (x1 - x0, y1 - y0)
        case Arc():
            length = segment_length(segment)
            dx, dy = tangent_at(segment, t)
            return (length * dx, length * dy)
        case Cubic(start=(x0, y0), control1=(xa, ya), control2=(xb, yb), end=(x1, y1)):
            u = 1.0 - t
            a, b, c = 3.0 * u * u, 6.0 * u * t, 3.0 * t * t
            return (a * (xa - x0) + b * (xb - xa) + c * (x1 - xb), a * (ya - y0) + b * (yb - ya) + c * (y1 - yb))


def _cut_at_ends(
    segments: Sequence[Segment], chords: _Chords, reach: float, snap: float, cuts: dict[int, list[float]]
) -> None:
    """Cut segments where another one's end lies on them."""
    corners = list(dict.fromkeys(segment.start for segment in segments))
    lines = shapely.linestrings(np.stack([chords.start, chords.end], axis=1))
    which, chord = shapely.STRtree(lines).query(shapely.points(corners), predicate="dwithin", distance=reach)
    for p, c in zip(which.tolist(), chord.tolist(), strict=True):
        point, segment = corners[p], segments[int(chords.owner[c])]
        if point in (segment.start, segment.end):
            continue
        t = _foot(segment, point, 0.5 * float(chords.t0[c] + chords.t1[c]))
        if math.dist(point_at(segment, t), point) <= snap:
            cuts[int(chords.owner[c])].append(t)


def _split_at(segment: Segment, cuts: list[float], snap: float) -> list[Segment]:
    """The segment in pieces; cuts closer than `snap` to each other or to an end count once."""
    pieces: list[Segment] = []
    rest, done = segment, 0.0
    for t in cuts:
        share = (t - done) / (1.0 - done) if done < 1.0 else 1.0
        if not 0.0 < share < 1.0:
            continue
        place = point_at(segment, t)
        # Near in the plane is not enough: a loop comes back to the place where it left.
        if (t - done < _SAME_CUT and math.dist(place, rest.start) <= 2.0 * snap) or (
            1.0 - t < _SAME_CUT and math.dist(place, segment.end) <= 2.0 * snap
        ):
            continue
        head, rest = split_segment(rest, share)
        pieces.append(head)
        done = t
    return [*pieces, rest]


def _grouped(pieces: Sequence[Segment], snap: float) -> list[_Group]:
    """Pieces that lie on each other, counted together."""
    by_ends: dict[frozenset[Point], list[int]] = defaultdict(list)
    for i, piece in enumerate(pieces):
        by_ends[frozenset((piece.start, piece.end))].append(i)
    groups = []
    for alike in by_ends.values():
        left = list(alike)
        while left:
            first = left.pop(0)
            mates = [i for i in left if _same_place(pieces[first], pieces[i], 100.0 * snap)]
            left = [i for i in left if i not in mates]
            net = 1 + sum(1 if _same_way(pieces[first], pieces[i]) else -1 for i in mates)
            groups.append(_Group(pieces[first], (first, *mates), net, 1 + len(mates)))
    return groups


def _same_place(one: Segment, two: Segment, reach: float) -> bool:
    line = shapely.LineString([point_at(two, t) for t in parameters(two, reach)])
    middle = [point_at(one, t) for t in (0.25, 0.5, 0.75)]
    return bool((shapely.distance(shapely.points(middle), line) <= 2.0 * reach).all())


def _same_way(one: Segment, two: Segment) -> bool:
    if one.start != one.end:
        return one.start == two.start
    a, b = tangent_at(one, 0.0), tangent_at(two, 0.0)
    return a[0] * b[0] + a[1] * b[1] > 0.0


def _left_windings(
    pieces: Sequence[Segment], groups: Sequence[_Group], base: int, tolerance: float
) -> list[int] | None:
    """Winding number left of each group's piece, from the angles that all chords subtend at a point on it."""
    chords = _chords(pieces, tolerance)
    group_of = np.empty(len(pieces), dtype=np.intp)
    own = np.empty(len(groups), dtype=np.intp)
    longest: dict[int, int] = {}
    lengths = np.hypot(*(chords.end - chords.start).T)
    for c, i in enumerate(chords.owner.tolist()):
        if i not in longest or lengths[c] > lengths[longest[i]]:
            longest[i] = c
    for g, group in enumerate(groups):
        group_of[list(group.members)] = g
        own[g] = longest[group.members[0]]
    probes = 0.5 * (chords.start[own] + chords.end[own])
    first = np.zeros(len(pieces), dtype=bool)
    first[[group.members[0] for group in groups]] = True
    net = np.array([group.net for group in groups])
    # Each group's pieces count as its first one, times how often it is run.
    counted = first[chords.owner]
    start, end = chords.start[counted], chords.end[counted]
    weight = net[group_of[chords.owner[counted]]]
    index = np.flatnonzero(counted)
    total = np.empty(len(groups))
    rows = max(1, _CHUNK // max(len(index), 1))
    for low in range(0, len(groups), rows):
        mine = slice(low, low + rows)
        ax, ay = start[:, 0] - probes[mine, :1], start[:, 1] - probes[mine, 1:]
        bx, by = end[:, 0] - probes[mine, :1], end[:, 1] - probes[mine, 1:]
        angle = np.arctan2(ax * by - ay * bx, ax * bx + ay * by)
        angle[index[None, :] == own[mine, None]] = 0.0  # the probe lies in the middle of this chord
        total[mine] = angle @ weight
    middle = total / (2.0 * math.pi) + 0.5 * net + base
    rounded = np.rint(middle)
    if np.abs(middle - rounded).max(initial=0.0) > 0.05:
        return None
    return [int(w) for w in rounded]
