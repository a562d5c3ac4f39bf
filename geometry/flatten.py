"""Curves to polygons, with a stated side: near the curve, wholly outside the material, or wholly inside it.

On the outside of a bulge the polygon runs along tangents, on the inside along chords; both touch the curve, neither
crosses it. That makes OUTSIDE and INSIDE exact containments, not approximations by a margin.
"""

from __future__ import annotations

import math
from enum import StrEnum

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.contour import Contour, Region
from geometry.cubics import derivatives, evaluate, inflections
from geometry.curve import Arc, Cubic
from geometry.errors import InvalidOutline
from geometry.outline import Outline, Ring

_SHARPEST = math.radians(60.0)  # most turning between two tangents of a sided cubic
_ROUNDS = 24  # halvings of a sided cubic; leaves 6e-8 of its parameter
_RETRIES = 4

_Floats = NDArray[np.float64]


class Side(StrEnum):
    """Where the polygon lies."""

    NEAR = "near"  # vertices on the curve
    OUTSIDE = "outside"  # the polygon contains the material
    INSIDE = "inside"  # the material contains the polygon


def flatten_contour(contour: Contour, tolerance: float, side: Side = Side.NEAR) -> Ring:
    """Vertices (n, 2) of a polygon no further than `tolerance` from the curve; of an open contour, a polyline.

    The first vertex is not repeated at the end when the contour is closed. Material lies to the left of travel, so on
    a clockwise contour (a hole) OUTSIDE stays within the hole. A circle gets ceil(π / acos(1 - tolerance / r)) chords.

    Parameters
    ----------
    contour : Contour
    tolerance : float
        mm, more than 0.
    side : Side
    """
    if not (tolerance > 0.0 and math.isfinite(tolerance)):
        raise ValueError(f"the flattening tolerance must be more than 0 mm, got {tolerance}")
    segments = contour.segments
    starts = np.array([segment.start for segment in segments])
    arcs = [i for i, segment in enumerate(segments) if isinstance(segment, Arc)]
    cubics = [i for i, segment in enumerate(segments) if isinstance(segment, Cubic)]
    inner: list[tuple[list[int], NDArray[np.intp], _Floats]] = []  # owners, how many points inside each, the points
    if arcs:
        ends = np.array([segments[i].end for i in arcs])
        bulges = np.array([segment.bulge for segment in segments if isinstance(segment, Arc)])
        if contour.is_closed and len(arcs) == len(segments):
            circle = _whole_circle(starts, ends, bulges, tolerance, side)
            if circle is not None:
                return circle
        inner.append((arcs, *_inside_arcs(starts[arcs], ends, bulges, tolerance, side)))
    if cubics:
        control = np.array([(s.start, s.control1, s.control2, s.end) for s in segments if isinstance(s, Cubic)])
        if side is Side.NEAR:
            inner.append((cubics, *_inside_cubics_near(control, tolerance)))
        else:
            inner.append((cubics, *_inside_cubics_sided(control, tolerance, side)))
    counts = np.ones(len(segments), dtype=np.intp)
    for owners, inside, _ in inner:
        counts[owners] += inside
    first = np.cumsum(counts) - counts
    points = np.empty((int(counts.sum()), 2))
    points[first] = starts
    for owners, inside, within in inner:
        points[np.repeat(first[owners] + 1, inside) + _ordinals(inside)] = within
    return points if contour.is_closed else np.concatenate([points, [segments[-1].end]])


def _ordinals(counts: NDArray[np.intp]) -> NDArray[np.intp]:
    """0, 1, ... for each count in turn."""
    edges = np.cumsum(counts)
    return np.arange(int(edges[-1])) - np.repeat(edges - counts, counts)


def flatten_region(region: Region, tolerance: float, side: Side = Side.NEAR) -> Outline:
    """Outline no further than `tolerance` (mm) from the region's edges.

    OUTSIDE contains the true region (its holes lie within the true holes), INSIDE is contained in it. Where the
    polygon of a valid region would cross itself (a gap narrower than the tolerance), the tolerance is cut until it
    does not.

    Raises
    ------
    InvalidOutline
        If the region has no extent to speak of.
    """
    for attempt in range(_RETRIES + 1):
        finer = tolerance / 8.0**attempt
        outer = flatten_contour(region.outer, finer, side)
        holes = [flatten_contour(hole, finer, side) for hole in region.holes]
        holes = [hole for hole in holes if len(hole) > 2]
        polygon = shapely.Polygon(outer, holes) if len(outer) > 2 else shapely.Polygon()
        if len(outer) > 2 and shapely.is_valid(polygon):
            return Outline.from_points(outer, holes)
    if len(outer) < 3:
        at = region.outer.segments[0].start
        raise InvalidOutline(f"the region at ({at[0]:.2f}, {at[1]:.2f}) is too thin for an outline")
    # The region itself touches or crosses. Parts that hang together by a point are joined by a little material.
    whole = shapely.make_valid(polygon, method="structure", keep_collapsed=False)
    if side is not Side.INSIDE:
        whole = shapely.buffer(whole, 0.5 * tolerance, quad_segs=4)
    whole = max(shapely.get_parts(whole), key=shapely.area)
    return Outline.from_points(
        shapely.get_coordinates(whole.exterior), [shapely.get_coordinates(hole) for hole in whole.interiors]
    )


def _whole_circle(starts: _Floats, ends: _Floats, bulges: _Floats, tolerance: float, side: Side) -> _Floats | None:
    """Ring of a contour that is one circle, or None; its arcs' joints need not be vertices."""
    share = (1.0 - bulges**2) / (4.0 * bulges)
    chords = ends - starts
    centres = 0.5 * (starts + ends) + share[:, None] * np.stack([-chords[:, 1], chords[:, 0]], axis=1)
    radii = np.hypot(*(starts - centres).T)
    radius = float(radii[0])
    turn = 4.0 * float(np.arctan(bulges).sum())
    if (
        abs(abs(turn) - 2.0 * math.pi) > 1e-9
        or np.abs(centres - centres[0]).max() + np.abs(radii - radius).max() > 1e-9 * radius
    ):
        return None
    tangents = (turn > 0.0) == (side is Side.OUTSIDE) and side is not Side.NEAR
    n = max(3, math.ceil(2.0 * math.pi / _widest_step(radius, tolerance, tangents) - 1e-9))
    first = math.atan2(starts[0, 1] - centres[0, 1], starts[0, 0] - centres[0, 0])
    angles = first + np.arange(n) * (turn / n)
    if tangents:
        angles += 0.5 * turn / n
        radius /= math.cos(math.pi / n)
    ring: _Floats = centres[0] + radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    return ring


def _widest_step(radius: float, tolerance: float, tangents: bool) -> float:
    """Largest angle (radians) a chord or a pair of half tangents may span; never more than a right angle."""
    rise = tolerance / (radius + tolerance) if tangents else tolerance / radius
    return min(4.0 * math.asin(math.sqrt(min(0.5 * rise, 1.0))), 0.5 * math.pi)


def _inside_arcs(
    starts: _Floats, ends: _Floats, bulges: _Floats, tolerance: float, side: Side
) -> tuple[NDArray[np.intp], _Floats]:
    """Vertices strictly between the ends of each arc: how many for each, and all of them."""
    chords = ends - starts
    sweeps = 4.0 * np.arctan(bulges)
    radii = np.hypot(chords[:, 0], chords[:, 1]) * (1.0 + bulges**2) / (4.0 * np.abs(bulges))
    tangents = np.zeros(len(bulges), dtype=bool) if side is Side.NEAR else (bulges > 0.0) == (side is Side.OUTSIDE)
    rise = np.where(tangents, tolerance / (radii + tolerance), tolerance / radii)
    widest = np.minimum(4.0 * np.arcsin(np.sqrt(np.minimum(0.5 * rise, 1.0))), 0.5 * math.pi)
    steps = np.maximum(np.ceil(np.abs(sweeps) / widest - 1e-9), 1.0).astype(np.intp)
    counts = np.where(tangents, steps, steps - 1)
    which = np.repeat(np.arange(len(counts)), counts)
    t = (_ordinals(counts) + np.where(tangents, 0.5, 1.0)[which]) / steps[which]
    # Chord to the point, turned and scaled from the whole chord: exact for flat arcs, whose centre is far away.
    half = 0.5 * sweeps[which]
    scale = np.sin(t * half) / np.sin(half)
    turn = (1.0 - t) * half
    dx, dy = chords[which, 0], chords[which, 1]
    cosine, sine = np.cos(turn), np.sin(turn)
    x = starts[which, 0] + scale * (cosine * dx + sine * dy)
    y = starts[which, 1] + scale * (cosine * dy - sine * dx)
    if tangents.any():
        step = np.abs(sweeps / steps)
        lift = np.where(tangents, radii * 2.0 * np.sin(0.25 * step) ** 2 / np.cos(0.5 * step), 0.0)[which]
        # Away from the centre: to the right of travel on anticlockwise arcs.
        lift *= np.sign(bulges)[which] / np.hypot(dx, dy)
        lean = 2.0 * t * half - half
        cosine, sine = np.cos(lean), np.sin(lean)
        x += lift * (sine * dx + cosine * dy)
        y += lift * (sine * dy - cosine * dx)
    return counts, np.stack([x, y], axis=1)


def _inside_cubics_near(control: _Floats, tolerance: float) -> tuple[NDArray[np.intp], _Floats]:
    """Points on each cubic, at even steps of its parameter, close enough for chords within the tolerance."""
    second = control[:, :-2] - 2.0 * control[:, 1:-1] + control[:, 2:]
    bend = np.hypot(second[..., 0], second[..., 1]).max(axis=1)
    steps = np.maximum(np.ceil(np.sqrt(0.75 * bend / tolerance) - 1e-9), 1.0).astype(np.intp)
    counts = steps - 1
    which = np.repeat(np.arange(len(counts)), counts)
    return counts, evaluate(control[which], (_ordinals(counts) + 1) / steps[which])


def _inside_cubics_sided(control: _Floats, tolerance: float, side: Side) -> tuple[NDArray[np.intp], _Floats]:
    """Vertices of chords where the cubic bulges to the side away from the polygon, of tangents where it bulges to it.

    Pieces between inflections turn one way, and for those the tangents at any points, cut where they meet, enclose
    the curve. Pieces are halved until the meeting points are close enough.
    """
    cubic, t0, t1 = _one_way_pieces(control, tolerance)
    done: list[tuple[NDArray[np.intp], _Floats, _Floats, _Floats]] = []
    for attempt in range(_ROUNDS):
        ctrl = control[cubic]
        middle = 0.5 * (t0 + t1)
        first, second = derivatives(ctrl, middle)
        leftward = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
        tangents = (leftward > 0.0) == (side is Side.OUTSIDE)
        apex, fits = _meeting_points(ctrl, t0, t1, tolerance)
        fits |= ~tangents | (attempt == _ROUNDS - 1)
        apex = np.where((tangents & (leftward != 0.0))[:, None], apex, np.nan)
        done.append((cubic[fits], t0[fits], t1[fits], apex[fits]))
        if fits.all():
            break
        cubic, t0, t1, middle = cubic[~fits], t0[~fits], t1[~fits], middle[~fits]
        cubic, t0, t1 = np.tile(cubic, 2), np.concatenate([t0, middle]), np.concatenate([middle, t1])
    index = np.concatenate([part[0] for part in done])
    begin = np.concatenate([part[1] for part in done])
    order = np.lexsort((begin, index))
    index, begin = index[order], begin[order]
    apexes = np.concatenate([part[3] for part in done])[order]
    points = evaluate(control[index], begin)
    # A point between two meeting points of one cubic lies on the straight line through them: leave it out.
    met = ~np.isnan(apexes[:, 0])
    points[1:][met[1:] & met[:-1] & (index[1:] == index[:-1])] = np.nan
    points[begin == 0.0] = np.nan  # the cubic's own start is not inside
    rows = np.stack([points, apexes], axis=1).reshape(-1, 2)
    real = ~np.isnan(rows[:, 0])
    return np.bincount(np.repeat(index, 2)[real], minlength=len(control)), rows[real]


def _one_way_pieces(control: _Floats, tolerance: float) -> tuple[NDArray[np.intp], _Floats, _Floats]:
    """Parameter intervals that hold no inflection and whose chords are within the tolerance: cubic, from, to."""
    second = control[:, :-2] - 2.0 * control[:, 1:-1] + control[:, 2:]
    bend = np.hypot(second[..., 0], second[..., 1]).max(axis=1)
    steps = np.maximum(np.ceil(np.sqrt(0.75 * bend / tolerance)), 1.0).astype(np.intp)
    turns = inflections(control)
    cubic, t0, t1 = [], [], []
    for i, n in enumerate(steps):
        ts = np.arange(n + 1) / n
        if len(turns[i]):
            ts = np.unique(np.concatenate([ts, turns[i]]))
        cubic.append(np.full(len(ts) - 1, i))
        t0.append(ts[:-1])
        t1.append(ts[1:])
    return np.concatenate(cubic), np.concatenate(t0), np.concatenate(t1)


def _meeting_points(control: _Floats, t0: _Floats, t1: _Floats, tolerance: float) -> tuple[_Floats, NDArray[np.bool_]]:
    """Where the end tangents of each interval meet (NaN when they are parallel), and whether that is near enough."""
    p0, p1 = evaluate(control, t0), evaluate(control, t1)
    d0, d1 = _directions(control, t0, t1, 0.0), _directions(control, t0, t1, 1.0)
    chord = p1 - p0
    cross = d0[:, 0] * d1[:, 1] - d0[:, 1] * d1[:, 0]
    dot = d0[:, 0] * d1[:, 0] + d0[:, 1] * d1[:, 1]
    straight = np.abs(cross) < 1e-10
    safe = np.where(straight, 1.0, cross)
    along0 = (chord[:, 0] * d1[:, 1] - chord[:, 1] * d1[:, 0]) / safe
    along1 = (d0[:, 0] * chord[:, 1] - d0[:, 1] * chord[:, 0]) / safe
    apex = p0 + along0[:, None] * d0
    t = 0.5 * (t0 + t1)
    for _ in range(3):  # towards the nearest point of the curve; any point of it bounds the distance from above
        first, second = derivatives(control, t)
        away = evaluate(control, t) - apex
        slope = (away * first).sum(axis=1)
        bend = (first * first).sum(axis=1) + (away * second).sum(axis=1)
        t = np.clip(t - np.divide(slope, bend, out=np.zeros_like(slope), where=bend > 0.0), t0, t1)
    away = evaluate(control, t) - apex
    near = np.hypot(away[:, 0], away[:, 1]) <= tolerance
    fits = near & (along0 > 0.0) & (along1 > 0.0) & (dot > math.cos(_SHARPEST))
    apex[straight] = np.nan
    return apex, fits | (straight & (dot > 0.0))


def _directions(control: _Floats, t0: _Floats, t1: _Floats, end: float) -> _Floats:
    """Unit tangents at one end of each interval; towards the inside where the derivative vanishes."""
    t = t0 if end == 0.0 else t1
    first, second = derivatives(control, t)
    size = np.hypot(first[:, 0], first[:, 1])
    scale = np.abs(control - control[:, :1]).max(axis=(1, 2))
    still = size <= 1e-9 * scale
    if still.any():
        first = np.where(still[:, None], second * (1.0 if end == 0.0 else -1.0), first)
        size = np.hypot(first[:, 0], first[:, 1])
        still = size <= 1e-9 * scale
        first = np.where(still[:, None], control[:, 3] - control[:, 0], first)
        size = np.hypot(first[:, 0], first[:, 1])
    result: _Floats = first / np.where(size == 0.0, 1.0, size)[:, None]
    return result
