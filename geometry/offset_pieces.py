"""The pieces an offset is made of: moved edges and joins, cut where they cross, kept where they are far enough.

For points outside a shape, the nearest edge or corner decides the distance; where it changes from one to another, both
are equally near. So the offset's edge is made of pieces of moved edges and of arcs about corners, and passes from one
to the next only where two of them cross: cutting all of them at all crossings and asking each remaining piece whether
anything is nearer than the distance finds it exactly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import chain, pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from geometry.chain import closed_chains
from geometry.contour import Contour, Region
from geometry.linearcs import Floats, Indices, LineArcs
from geometry.merge import merged

MITRE_LIMIT = 4.0
"""Mitres reaching further than this many distances from their corner are rounded instead (corners under 29 degrees)."""

_SLACK = 1e-8  # mm; rounding in the comparison of distances
_SMOOTH = 2e-3  # mm; neighbours that would be cut or stretched by no more than this meet in one point, without a join
_SLIVER = 1e-4  # mm; what is left narrower than this on average is nothing
_MERGE = 1e-5  # mm; how far joining neighbours on one line or circle may move them


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """A region ready for offsetting.

    Fields
    ------
    region : Region
        Of lines and arcs.
    edges : LineArcs
        The same in bulk.
    starts : tuple of int
        Where each contour starts among the edges; their number at the end.
    polygon : shapely polygon or multipolygon
    chord_error : float
        How far the polygon may be from the edges, mm.
    """

    region: Region
    edges: LineArcs
    starts: tuple[int, ...]
    polygon: shapely.Geometry
    chord_error: float


@dataclass(frozen=True, slots=True, eq=False)
class Boundary:
    """A contour of the result with its signed area, mm², and length, mm."""

    contour: Contour
    area: float
    length: float


def boundaries(source: Source, distance: float, *, mitred: bool, snap: float) -> list[Boundary] | None:
    """Contours of the offset, material on their left, or None when the pieces do not close.

    Parameters
    ----------
    source : Source
    distance : float
        mm, not 0; positive to the right of the edges, away from the material.
    mitred : bool
        Whether corners get mitres instead of arcs.
    snap : float
        Ends this close (mm) are one point.
    """
    raw = raw_pieces(source, distance, mitred=mitred)
    if len(raw.pieces) == 0:
        return []
    pieces, owner = _cut(raw.pieces, snap)
    probes = _onto(raw.carriers.take(owner), pieces.middle())
    keep = _far_enough(probes, source.edges, abs(distance))
    if len(raw.tips):
        keep &= ~_in_kites(probes, raw.tips)
    if abs(distance) > 2.0 * source.chord_error:
        # Mitres, and pieces beside a place where the source touches itself, may come out on its other side.
        keep &= shapely.contains_xy(source.polygon, probes) == (distance < 0.0)
    pieces = pieces.take(keep)
    pieces, starts, ends = _snapped(pieces, snap)
    segments = pieces.segments()
    chains = closed_chains(starts.tolist(), ends.tolist(), segments)
    if float(pieces.length.sum() - pieces.length[list(chain.from_iterable(chains))].sum()) > 10.0 * snap * len(pieces):
        return None
    under = pieces.area_under()
    following = np.arange(len(pieces))
    for indices in chains:
        following[indices] = np.roll(indices, -1)
    runs_on = pieces.runs_on(following)
    places, times = np.unique(starts, return_counts=True)
    runs_on &= ~np.isin(starts[following], places[times > 1])  # where chains touch, the point stays
    result = []
    for indices in chains:
        area, length = float(under[indices].sum()), float(pieces.length[indices].sum())
        if abs(area) > _SLIVER * length:
            contour = [segments[i] for i in indices]
            if runs_on[indices].any():
                contour = merged(contour, _MERGE, is_closed=True)
            result.append(Boundary(Contour(tuple(contour)), area, length))
    return result


@dataclass(frozen=True, slots=True, eq=False)
class Raw:
    """Edges moved and joins, before they are cut.

    Fields
    ------
    pieces : LineArcs
        Neighbours that are nearly tangent already end in one point.
    carriers : LineArcs
        The same before that, exactly at the distance.
    tips : (k, 4, 2) float64
        Kites covered by mitres: corner, end, tip, start.
    """

    pieces: LineArcs
    carriers: LineArcs
    tips: Floats


def raw_pieces(source: Source, distance: float, *, mitred: bool) -> Raw:
    """Every edge moved to its right by the distance, and the joins."""
    edges = source.edges
    following = np.arange(1, len(edges) + 1)
    for first, last in pairwise(source.starts):
        following[last - 1] = first
    before, after = edges.tangents
    moved_start = edges.start + distance * _right_of(before)
    moved_end = edges.end + distance * _right_of(after)
    radius = edges.radius + distance * np.sign(edges.bulge)
    kept = ~edges.is_arc | (radius > 1e-6)  # an arc moved past its centre is nowhere the nearest edge
    room = np.where(edges.is_arc, np.maximum(radius, 0.0) * np.minimum(np.abs(edges.sweep), 1.0), edges.chord_length)

    # Joints: between each edge and the one after it.
    onward = before[following]
    turn = np.arctan2(
        after[:, 0] * onward[:, 1] - after[:, 1] * onward[:, 0], after[:, 0] * onward[:, 0] + after[:, 1] * onward[:, 1]
    )
    sharp = np.abs(turn) > math.pi - 1e-3
    if sharp.any():
        turn[sharp] = _cusp_turns(edges, np.flatnonzero(sharp), following, turn[sharp])
    slip = abs(distance) * np.tan(0.5 * np.minimum(np.abs(turn), 3.0))  # along each neighbour to where they meet
    both = kept & kept[following]
    smooth = both & (slip <= _SMOOTH) & (slip <= 0.1 * np.minimum(room, room[following]))
    away = turn * distance > 0.0  # a gap opens, else the neighbours overlap
    capped = away & ~smooth

    meeting = _right_of(after) + _right_of(onward)
    size = np.hypot(meeting[:, 0], meeting[:, 1])
    reach = distance / np.cos(0.5 * turn) / np.where(size > 0.0, size, 1.0)
    corner = edges.end + reach[:, None] * meeting

    start, end = moved_start.copy(), moved_end.copy()
    end[smooth] = corner[smooth]
    start[following[smooth]] = corner[smooth]
    longer = np.where(smooth, np.where(away, slip, -slip), 0.0)
    stretch = longer.copy()
    stretch[following] += longer
    sweep = edges.sweep + np.sign(edges.bulge) * stretch / np.where(kept & edges.is_arc, radius, 1.0)
    bulge = np.where(edges.is_arc, np.tan(0.25 * sweep), 0.0)
    moved = LineArcs(start[kept], end[kept], bulge[kept])
    exact = LineArcs(moved_start[kept], moved_end[kept], edges.bulge[kept])

    joins = []
    tips = np.zeros((0, 4, 2))
    pointed = np.zeros_like(capped)
    if mitred:
        pointed = capped & (np.cos(0.5 * turn) >= 1.0 / MITRE_LIMIT)
        tips = np.stack([edges.end, moved_end, corner, moved_start[following]], axis=1)[pointed]
        straight = np.zeros(len(tips))
        joins.append(LineArcs(tips[:, 1], tips[:, 2], straight))
        joins.append(LineArcs(tips[:, 2], tips[:, 3], straight))
    rounded = capped & ~pointed
    joins.append(LineArcs(moved_end[rounded], moved_start[following[rounded]], np.tan(0.25 * turn[rounded])))
    return Raw(LineArcs.joined([moved, *joins]), LineArcs.joined([exact, *joins]), tips)


def _onto(carriers: LineArcs, points: Floats) -> Floats:
    """The foot of each point on the line or circle beside it."""
    before = carriers.tangents[0]
    along = ((points - carriers.start) * before).sum(axis=1)
    out = points - carriers.centre
    size = np.hypot(out[:, 0], out[:, 1])
    on_circle = carriers.centre + out * (carriers.radius / np.where(size > 0.0, size, 1.0))[:, None]
    return np.where(carriers.is_arc[:, None], on_circle, carriers.start + along[:, None] * before)


def _right_of(vectors: Floats) -> Floats:
    return np.stack([vectors[:, 1], -vectors[:, 0]], axis=1)


def _cusp_turns(edges: LineArcs, joints: Indices, following: Indices, turn: Floats) -> Floats:
    """Turns of about half a circle, where an edge runs back along the one before, made left or right.

    Which it is shows a little way off the joint; rounding there decides nothing.
    """
    coming, going = edges.take(joints), edges.take(following[joints])
    reach = 0.1 * np.minimum(coming.length, going.length)
    first = _along(coming, 1.0 - reach / coming.length) - coming.end
    second = _along(going, reach / going.length) - going.start
    side = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    # Coming from `first` and leaving to its left as seen from the joint means having turned right.
    sign = np.where(side > 0.0, -1.0, 1.0)
    return np.where(turn * sign > 0.0, turn, turn + sign * math.tau)


def _along(pieces: LineArcs, t: Floats) -> Floats:
    """Points at a share t of each piece's length."""
    half = 0.5 * pieces.sweep
    scale = np.where(half != 0.0, np.sin(t * half) / np.where(half != 0.0, np.sin(half), 1.0), t)
    lean = (1.0 - t) * half
    cosine, sine = np.cos(lean) * scale, np.sin(lean) * scale
    dx, dy = pieces.chord[:, 0], pieces.chord[:, 1]
    return pieces.start + np.stack([cosine * dx + sine * dy, cosine * dy - sine * dx], axis=1)


def _cut(raw: LineArcs, snap: float) -> tuple[LineArcs, Indices]:
    """The pieces cut wherever two cross, or only touch with an end, and what each was cut from."""
    one, two, points = raw.crossings()
    ends = np.concatenate([raw.start, raw.end])
    point, piece = raw.near(ends, snap)
    on = raw.distance(ends[point], piece) <= snap
    owner, place = np.concatenate([one, two, piece[on]]), np.concatenate([points, points, ends[point[on]]])
    inside = (np.hypot(*(place - raw.start[owner]).T) > snap) & (np.hypot(*(place - raw.end[owner]).T) > snap)
    owner, place = owner[inside], place[inside]
    t = raw.parameter(place, owner)
    everyone = np.arange(len(raw))
    owner = np.concatenate([everyone, owner, everyone])
    t = np.concatenate([np.zeros(len(raw)), t, np.ones(len(raw))])
    place = np.concatenate([raw.start, place, raw.end])
    order = np.lexsort((t, owner))
    owner, t, place = owner[order], t[order], place[order]
    same = owner[1:] == owner[:-1]
    first, second = np.flatnonzero(same), np.flatnonzero(same) + 1
    sweep = raw.sweep[owner[first]] * (t[second] - t[first])
    pieces = LineArcs(place[first], place[second], np.tan(0.25 * sweep))
    real = pieces.chord_length > 0.0
    return pieces.take(real), owner[first][real]


def _far_enough(points: Floats, edges: LineArcs, distance: float) -> NDArray[np.bool_]:
    """Points no nearer to any edge than the distance."""
    point, edge = edges.near(points, distance)
    close = edges.distance(points[point], edge) < distance - _SLACK
    far = np.ones(len(points), dtype=bool)
    far[point[close]] = False
    return far


def _in_kites(points: Floats, kites: Floats) -> NDArray[np.bool_]:
    """Points strictly inside any of the kites (k, 4, 2)."""
    signs = np.sign(_cross(kites[:, 1] - kites[:, 0], kites[:, 2] - kites[:, 0]))
    inside = np.ones((len(points), len(kites)), dtype=bool)
    for i in range(4):
        side = kites[:, (i + 1) % 4] - kites[:, i]
        size = np.hypot(side[:, 0], side[:, 1])
        off = points[:, None] - kites[None, :, i]
        inside &= (side[:, 0] * off[..., 1] - side[:, 1] * off[..., 0]) * signs > 1e-7 * size
    return np.asarray(inside.any(axis=1))


def _cross(p: Floats, q: Floats) -> Floats:
    result: Floats = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    return result


def _snapped(pieces: LineArcs, snap: float) -> tuple[LineArcs, Indices, Indices]:
    """The pieces with ends closer than `snap` made one point, less what shrinks to nothing or runs to and fro.

    Also the number of the point each starts and ends at.
    """
    count = len(pieces)
    ends = np.concatenate([pieces.start, pieces.end])
    labels = _clusters(2 * count, cKDTree(ends).query_pairs(snap, output_type="ndarray"))
    place = ends[labels]
    start, end = labels[:count], labels[count:]
    result = LineArcs(place[:count], place[count:], pieces.bulge)
    keep = (start != end) | (pieces.length > 10.0 * snap)
    keep &= ~_superfluous(start, end, result.middle(), max(10.0 * snap, 1e-4))
    keep &= result.chord_length > 0.0
    return result.take(keep), start[keep], end[keep]


def _clusters(count: int, pairs: Indices) -> Indices:
    """For each of so many points the lowest number among those linked to it, step by step, by the pairs."""
    labels = np.arange(count)
    while True:
        low = np.minimum(labels[pairs[:, 0]], labels[pairs[:, 1]])
        before = labels.copy()
        np.minimum.at(labels, pairs.ravel(), np.repeat(low, 2))
        if (labels == before).all():
            return labels


def _superfluous(start: Indices, end: Indices, middle: Floats, reach: float) -> NDArray[np.bool_]:
    """Pieces lying on another: of two running alike one, of two running against each other both.

    The latter are the two sides of a stroke, or a gap, that has just vanished.
    """
    gone = np.zeros(len(start), dtype=bool)
    pairs = np.minimum(start, end) * (2 * len(start)) + np.maximum(start, end)  # one number for each pair of points
    if len(np.unique(pairs)) == len(pairs):
        return gone
    seen: dict[tuple[int, int], list[int]] = {}
    for i, (p, q) in enumerate(zip(start.tolist(), end.tolist(), strict=True)):
        alike = [k for k in seen.get((p, q), ()) if math.dist(middle[i], middle[k]) <= reach]
        against = [k for k in seen.get((q, p), ()) if math.dist(middle[i], middle[k]) <= reach]
        if alike:
            gone[i] = True
        elif against:
            gone[i] = gone[against[0]] = True
            seen[q, p].remove(against[0])
        else:
            seen.setdefault((p, q), []).append(i)
    return gone
