"""Regions grown and shrunk by a distance, arcs staying arcs.

Every edge is moved out, convex corners get a join, all pieces are cut where they cross, and those stay that are no
nearer to the source's edge than the distance. The result is compared with the buffer of a polygon before it is given
out; should the two disagree, the buffer, fitted with arcs, is the answer.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from itertools import chain

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from geometry.assemble import regions_from_boundaries
from geometry.chain import closed_chains
from geometry.contour import Contour, Region
from geometry.fit import fit_region
from geometry.flatten import flatten_contour
from geometry.linearcs import Floats, Indices, LineArcs
from geometry.merge import merged
from geometry.refit import refit_ring

MITRE_LIMIT = 4.0
"""Mitres reaching further than this many distances from their corner are rounded instead (corners under 29 degrees)."""

_SLACK = 1e-8  # mm; rounding in the comparison of distances
_SMOOTH = 2e-3  # mm; neighbours that would be cut or stretched by no more than this meet in one point, without a join
_SLIVER = 1e-4  # mm; what is left narrower than this on average is nothing
_MERGE = 1e-5  # mm; how far joining neighbours on one line or circle may move them
_ATTEMPTS = ((0.0, 1e-5), (0.0, 1e-4), (2e-5, 1e-5), (1e-3, 1e-4), (-1e-3, 1e-4))
"""What is tried in turn: mm added to the distance's size, mm between ends that count as one point."""


class Join(StrEnum):
    """What is put round a corner that points away from the source."""

    ROUND = "round"
    MITRE = "mitre"


@dataclass(frozen=True, slots=True, eq=False)
class _Source:
    """A region ready for offsetting: its edges as lines and arcs, where each contour starts, and its polygon."""

    edges: LineArcs
    starts: tuple[int, ...]
    polygon: shapely.Geometry
    chord_error: float


@dataclass(frozen=True, slots=True, eq=False)
class _Boundary:
    """A contour of the result with its signed area, mm², and length, mm."""

    contour: Contour
    area: float
    length: float


def offset_region(
    region: Region, distance: float, *, join: Join = Join.ROUND, tolerance: float = 0.01
) -> tuple[Region, ...]:
    """Regions of all points within `distance` of the region, or, when negative, at least that far inside it.

    Growing makes holes smaller; shrinking may split the region or leave nothing, and then the answer is ``()``. Lines
    stay lines and arcs stay arcs; cubics are fitted with arcs first. Corners pointing away get an arc about the
    corner, or with ``Join.MITRE`` are sharp up to four distances long.

    Parameters
    ----------
    region : Region
    distance : float
        mm; positive grows.
    join : Join
    tolerance : float
        Largest error, mm: half goes to the fitting of cubics, the rest covers joints smoothed and corrected.
    """
    if not math.isfinite(distance):
        raise ValueError(f"an offset distance must be a finite number of mm, got {distance}")
    if distance == 0.0:
        return (fit_region(region, 0.5 * tolerance),)
    source = _source(region, 0.5 * tolerance)
    expected = _polygon_offset(source, distance, join)
    touching: tuple[Region, ...] | None = None
    for attempt, (extra, snap) in enumerate(_ATTEMPTS):
        thorough = attempt > 0 or join is Join.MITRE
        moved = distance + math.copysign(extra, distance)
        boundaries = _boundaries(source, moved, join, snap, thorough=thorough)
        if boundaries is not None and _agree(boundaries, expected, distance, source.chord_error):
            regions = regions_from_boundaries([b.contour for b in boundaries], [b.area for b in boundaries])
            if all(_is_clean(part, source.chord_error) for part in regions):
                return regions
            touching = touching or regions
    if touching is not None:
        return touching
    return _fitted_buffer(source, distance, join, tolerance)


@lru_cache(maxsize=256)
def _source(region: Region, tolerance: float) -> _Source:
    fitted = fit_region(region, tolerance)
    contours = (fitted.outer, *fitted.holes)
    edges = LineArcs.of(segment for contour in contours for segment in contour.segments)
    # Arcs that hardly rise above their chord are lines: circles of enormous radius would cost digits.
    flat = 0.5 * np.abs(edges.bulge) * edges.chord_length < 0.1 * tolerance
    edges = LineArcs(edges.start, edges.end, np.where(flat, 0.0, edges.bulge))
    counts = np.cumsum([len(contour.segments) for contour in contours])
    polygon = _valid_polygon(fitted, 2.0 * tolerance)
    return _Source(edges, (0, *counts.tolist()), polygon, 2.0 * tolerance)


def _boundaries(source: _Source, distance: float, join: Join, snap: float, *, thorough: bool) -> list[_Boundary] | None:
    """Contours of the offset, or None when the pieces do not close."""
    raw = _raw_pieces(source, distance, join)
    if len(raw.pieces) == 0:
        return []
    pieces, owner = _cut(raw.pieces, snap, at_ends=thorough)
    probes = _onto(raw.carriers.take(owner), pieces.middle())
    pieces = pieces.take(_far_enough(probes, source.edges, abs(distance), raw.tips))
    pieces, starts, ends = _snapped(pieces, snap)
    segments = pieces.segments()
    chains = closed_chains(starts.tolist(), ends.tolist(), segments)
    if float(pieces.length.sum() - pieces.length[list(chain.from_iterable(chains))].sum()) > 10.0 * snap * len(pieces):
        return None
    under = pieces.area_under()
    result = []
    for indices in chains:
        area, length = float(under[indices].sum()), float(pieces.length[indices].sum())
        if abs(area) > _SLIVER * length:
            contour = [segments[i] for i in indices]
            if pieces.take(np.array(indices)).might_merge():
                contour = merged(contour, _MERGE, is_closed=True)
            result.append(_Boundary(Contour(tuple(contour)), area, length))
    return result


@dataclass(frozen=True, slots=True, eq=False)
class _Raw:
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


def _raw_pieces(source: _Source, distance: float, join: Join) -> _Raw:
    """Every edge moved to its right by the distance, and the joins."""
    edges = source.edges
    following = np.arange(1, len(edges) + 1)
    for first, last in zip(source.starts, source.starts[1:], strict=False):
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
        turn[sharp] = _cusp_turns(edges, np.flatnonzero(sharp), following)
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
    mitred = np.zeros_like(capped)
    if join is Join.MITRE:
        mitred = capped & (np.cos(0.5 * turn) >= 1.0 / MITRE_LIMIT)
        tips = np.stack([edges.end, moved_end, corner, moved_start[following]], axis=1)[mitred]
        straight = np.zeros(len(tips))
        joins.append(LineArcs(tips[:, 1], tips[:, 2], straight))
        joins.append(LineArcs(tips[:, 2], tips[:, 3], straight))
    rounded = capped & ~mitred
    joins.append(LineArcs(moved_end[rounded], moved_start[following[rounded]], np.tan(0.25 * turn[rounded])))
    return _Raw(LineArcs.joined([moved, *joins]), LineArcs.joined([exact, *joins]), tips)


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


def _cusp_turns(edges: LineArcs, joints: Indices, following: Indices) -> Floats:
    """Half turns where an edge runs back along the one before: left or right, as seen a little way off the joint."""
    coming, going = edges.take(joints), edges.take(following[joints])
    reach = 0.1 * np.minimum(coming.length, going.length)
    first = _along(coming, 1.0 - reach / coming.length) - coming.end
    second = _along(going, reach / going.length) - going.start
    side = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    # Coming from `first` and leaving to its left as seen from the joint means having turned right.
    return np.where(side > 0.0, -math.pi, math.pi)


def _along(pieces: LineArcs, t: Floats) -> Floats:
    """Points at a share t of each piece's length."""
    half = 0.5 * pieces.sweep
    scale = np.where(half != 0.0, np.sin(t * half) / np.where(half != 0.0, np.sin(half), 1.0), t)
    lean = (1.0 - t) * half
    cosine, sine = np.cos(lean) * scale, np.sin(lean) * scale
    dx, dy = pieces.chord[:, 0], pieces.chord[:, 1]
    return pieces.start + np.stack([cosine * dx + sine * dy, cosine * dy - sine * dx], axis=1)


def _cut(raw: LineArcs, snap: float, *, at_ends: bool) -> tuple[LineArcs, Indices]:
    """The pieces cut wherever two cross, or only touch with an end, and what each was cut from."""
    one, two, points = raw.crossings()
    owner, place = np.concatenate([one, two]), np.concatenate([points, points])
    if at_ends:
        ends = np.concatenate([raw.start, raw.end])
        point, piece = raw.near(ends, snap)
        on = raw.distance(ends[point], piece) <= snap
        owner, place = np.concatenate([owner, piece[on]]), np.concatenate([place, ends[point[on]]])
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


def _far_enough(middle: Floats, edges: LineArcs, distance: float, tips: Floats) -> NDArray[np.bool_]:
    """Points no nearer to any edge than the distance, and in no mitre."""
    point, edge = edges.near(middle, distance)
    close = edges.distance(middle[point], edge) < distance - _SLACK
    far = np.ones(len(middle), dtype=bool)
    far[point[close]] = False
    if len(tips):
        signs = np.sign(_cross(tips[:, 1] - tips[:, 0], tips[:, 2] - tips[:, 0]))
        inside = np.ones((len(middle), len(tips)), dtype=bool)
        for i in range(4):
            side = tips[:, (i + 1) % 4] - tips[:, i]
            size = np.hypot(side[:, 0], side[:, 1])
            off = middle[:, None] - tips[None, :, i]
            inside &= (side[:, 0] * off[..., 1] - side[:, 1] * off[..., 0]) * signs > 1e-7 * size
        far &= ~np.asarray(inside.any(axis=1))
    return far


def _cross(p: Floats, q: Floats) -> Floats:
    result: Floats = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    return result


def _snapped(pieces: LineArcs, snap: float) -> tuple[LineArcs, Indices, Indices]:
    """The pieces with ends closer than `snap` made one point, less what shrinks to nothing or runs to and fro.

    Also the number of the point each starts and ends at.
    """
    count = len(pieces)
    ends = np.concatenate([pieces.start, pieces.end])
    pairs = cKDTree(ends).query_pairs(snap, output_type="ndarray")
    links = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(2 * count, 2 * count))
    labels = connected_components(links, directed=False)[1]
    first = np.full(2 * count, -1)
    order = np.arange(2 * count)[::-1]
    first[labels[order]] = order  # the lowest index of each cluster names its place
    place = ends[first[labels]]
    start, end = labels[:count], labels[count:]
    result = LineArcs(place[:count], place[count:], pieces.bulge)
    keep = (start != end) | (pieces.length > 10.0 * snap)
    keep &= ~_superfluous(start, end, result.middle(), max(10.0 * snap, 1e-4))
    keep &= result.chord_length > 0.0
    return result.take(keep), start[keep], end[keep]


def _superfluous(start: Indices, end: Indices, middle: Floats, reach: float) -> NDArray[np.bool_]:
    """Pieces lying on another: of two running alike one, of two running against each other both.

    The latter are the two sides of a stroke, or a gap, that has just vanished.
    """
    gone = np.zeros(len(start), dtype=bool)
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


def _polygon_offset(source: _Source, distance: float, join: Join, quarter_chords: int = 16) -> shapely.Geometry:
    """The offset by the polygon's buffer; mitres are added to the rounded one (or, inside, taken off it)."""
    rounded = shapely.buffer(source.polygon, distance, quad_segs=quarter_chords)
    if join is Join.ROUND or len(tips := _raw_pieces(source, distance, join).tips) == 0:
        return rounded
    kites = shapely.union_all(shapely.polygons(tips))
    return shapely.union(rounded, kites) if distance > 0.0 else shapely.difference(rounded, kites)


def _agree(boundaries: Sequence[_Boundary], expected: shapely.Geometry, distance: float, chord_error: float) -> bool:
    """Whether the contours enclose what the polygon offset does, within what its chords can tell.

    First contour by contour, by area; where that fails, perhaps because something very thin is there in one and not
    in the other, everything that only one of them covers must be thin.
    """
    width = chord_error + 0.003 * abs(distance)  # the buffer's own chords are within 0.12 % of the distance
    rings = shapely.get_rings(expected)
    areas = shapely.area(shapely.polygons(rings)) * np.where(shapely.is_ccw(rings), -1.0, 1.0)  # outer ones clockwise
    wanted = sorted(zip(areas.tolist(), shapely.length(rings).tolist(), strict=True), reverse=True)
    found = sorted(((b.area, b.length) for b in boundaries), reverse=True)
    room = width * math.fsum(length for _, length in wanted)
    if (
        len(found) == len(wanted)
        and all(abs(a - b) <= width * q for (a, _), (b, q) in zip(found, wanted, strict=True))
        and abs(math.fsum(a for a, _ in found) - math.fsum(a for a, _ in wanted)) <= room
    ):
        return True
    parts = regions_from_boundaries([b.contour for b in boundaries], [b.area for b in boundaries])
    covered = [_valid_polygon(part, chord_error) for part in parts]
    difference = shapely.get_parts(shapely.symmetric_difference(shapely.union_all(covered), expected))
    return bool((shapely.area(difference) <= width * shapely.length(difference)).all())


def _polygon(region: Region, chord_error: float) -> shapely.Geometry:
    rings = [flatten_contour(contour, chord_error) for contour in (region.outer, *region.holes)]
    if len(rings[0]) < 3:
        return shapely.Polygon()
    return shapely.Polygon(rings[0], [ring for ring in rings[1:] if len(ring) > 2])


def _valid_polygon(region: Region, chord_error: float) -> shapely.Geometry:
    polygon = _polygon(region, chord_error)
    if shapely.is_valid(polygon):
        return polygon
    return shapely.make_valid(polygon, method="structure", keep_collapsed=False)


def _is_clean(region: Region, chord_error: float) -> bool:
    """Whether no contour touches another or itself."""
    return any(shapely.is_valid(_polygon(region, error)) for error in (chord_error, 0.01 * chord_error))


def _fitted_buffer(source: _Source, distance: float, join: Join, tolerance: float) -> tuple[Region, ...]:
    """The buffer of the polygon, its rings fitted with lines and arcs."""
    # Chords of the corner arcs stay within a quarter of the tolerance.
    quarter = math.ceil(0.25 * math.pi / math.acos(max(0.5, 1.0 - 0.25 * tolerance / abs(distance))))
    result = _polygon_offset(source, distance, join, max(16, quarter))
    regions = []
    for part in shapely.get_parts(result):
        part = shapely.orient_polygons(part)
        rings = [
            refit_ring(shapely.get_coordinates(ring)[:-1], 0.5 * tolerance) for ring in (part.exterior, *part.interiors)
        ]
        regions.append(Region(rings[0], tuple(rings[1:])))
    return tuple(regions)
