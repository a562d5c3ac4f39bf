"""Cubics to circular arcs: pairs of arcs that meet with one tangent, as few as the tolerance allows.

Each cubic is cut where it stops turning one way. A biarc over arc length h is off by about |dκ/ds| h³ / 324, so cuts
are placed at even steps of the integral of |dκ/ds|^(1/3), their number found by trial, and every biarc is measured
against its piece of curve. All cubics of a region are worked on together.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from geometry.cubics import derivatives, evaluate, inflections
from geometry.curve import Arc, Cubic, Line, Segment

_Floats = NDArray[np.float64]

_ERROR = 1.0 / 324.0  # of a biarc, times |dκ/ds| h³
_MOST_TURN = math.radians(90.0)  # of one biarc: keeps its two arcs and the curve one above the other
_SAMPLES = np.arange(1, 16) / 16.0  # where a biarc is measured
_MARGIN = 0.98  # for what lies between the samples
_TRIALS = 6  # numbers of even cuts tried before the bad pieces are halved
_HALVINGS = 30
_SAME_LEAN = 5e-4  # radians between the two ends' angles to the chord that still count as one circular arc
_CIRCLE_ERROR = 3e-4  # radial, of the customary cubic quarter circle, as a share of the radius; falls with angle^6
_FLAT = 1e-3  # arcs rising less than this share of the tolerance above their chord are lines,
_STRAIGHT = 2.5e-4  # when their bulge is below this, too: half a thousandth radian between tangent and chord


def fit_cubics(cubics: Sequence[Cubic], tolerance: float) -> list[list[Segment]]:
    """Lines and arcs for each cubic, no further than `tolerance` (mm) from it either way, with its end tangents.

    A cubic that is the customary stand-in for a circular arc (symmetric handles of 4/3 tan(θ/4) radii) becomes that
    arc, though on large radii the stand-in itself is further off than the tolerance: 0.027 % of the radius.
    """
    if not cubics:
        return []
    control = np.array([(c.start, c.control1, c.control2, c.end) for c in cubics])
    result: list[list[Segment]] = [[] for _ in cubics]
    bent = np.ones(len(cubics), dtype=bool)
    for i in np.flatnonzero(_is_straight(control, tolerance)).tolist():
        result[i] = _straight(control[i])
        bent[i] = False
    if not bent.any():
        return result
    which = np.flatnonzero(bent)
    control = control[which]
    arcs, single = _single_arcs(control, tolerance)
    for k in np.flatnonzero(single).tolist():
        cubic = cubics[int(which[k])]
        result[int(which[k])] = [Arc(cubic.start, cubic.end, float(arcs[k]))]
    which, control = which[~single], control[~single]
    if len(which) == 0:
        return result
    index, t0, t1 = _spans(control, tolerance)
    joints, bulges = _biarcs(*_ends(control[index], t0, t1))
    points = evaluate(control[index], t0)
    edges = np.searchsorted(index, np.arange(len(which) + 1))
    for i in range(len(which)):
        mine = np.arange(edges[i], edges[i + 1])
        cubic = cubics[int(which[i])]
        stops = [cubic.start]
        for k in mine.tolist():
            if len(stops) > 1:
                stops.append((float(points[k, 0]), float(points[k, 1])))
            stops.append((float(joints[k, 0]), float(joints[k, 1])))
        stops.append(cubic.end)
        flat = _FLAT * tolerance
        for start, end, bulge in zip(stops, stops[1:], bulges[mine].ravel().tolist(), strict=False):
            chord = math.dist(start, end)
            if chord == 0.0:
                continue
            is_line = 0.5 * chord * abs(bulge) < flat and abs(bulge) < _STRAIGHT
            result[int(which[i])].append(Line(start, end) if is_line else Arc(start, end, bulge))
    return result


def _is_straight(control: _Floats, tolerance: float) -> NDArray[np.bool_]:
    """Cubics that stay on one line, within a small share of the tolerance."""
    chord = control[:, 3] - control[:, 0]
    handles = np.stack([control[:, 1] - control[:, 0], control[:, 2] - control[:, 0], chord], axis=1)
    sizes = np.hypot(handles[..., 0], handles[..., 1])
    along = np.take_along_axis(handles, sizes.argmax(axis=1)[:, None, None], axis=1)[:, 0]
    size = sizes.max(axis=1)
    rise = np.abs(handles[..., 0] * along[:, None, 1] - handles[..., 1] * along[:, None, 0])
    straight: NDArray[np.bool_] = rise.max(axis=1) <= _FLAT * tolerance * size
    return straight


def _straight(control: _Floats) -> list[Segment]:
    """Lines along a straight cubic, to and fro where it turns back."""
    ts = [0.0, 1.0]
    d0, d1, d2 = np.diff(control, axis=0)
    along = max((d0 + d1 + d2, d0, d1, d2), key=lambda d: float(np.hypot(*d)))
    a, b, c = (float(d @ along) for d in (d0, d1, d2))
    roots = np.roots([a - 2.0 * b + c, 2.0 * (b - a), a])
    ts[1:1] = sorted(float(r.real) for r in roots if abs(r.imag) < 1e-12 and 0.0 < r.real < 1.0)
    points = [tuple(p) for p in evaluate(np.broadcast_to(control, (len(ts), 4, 2)), np.array(ts)).tolist()]
    points[0], points[-1] = tuple(control[0].tolist()), tuple(control[3].tolist())
    return [Line(p, q) for p, q in pairwise(points) if p != q]


def _single_arcs(control: _Floats, tolerance: float) -> tuple[_Floats, NDArray[np.bool_]]:
    """Bulge of the arc with each cubic's ends, and whether the cubic is that arc."""
    zero, one = np.zeros(len(control)), np.ones(len(control))
    start, end, d0, d1 = _ends(control, zero, one)
    chord = end - start
    lean0 = np.arctan2(_cross(d0, chord), _dot(d0, chord))
    lean1 = np.arctan2(_cross(chord, d1), _dot(chord, d1))
    lean = 0.5 * (lean0 + lean1)
    size = np.hypot(chord[:, 0], chord[:, 1])
    alike = (
        (np.abs(lean0 - lean1) <= _SAME_LEAN)
        & (np.abs(lean) > 0.0)
        & (np.abs(lean) < math.radians(75.0))
        & (size > 0.0)
    )
    safe = np.where(alike, lean, 1.0)
    curvature = np.where(alike, 2.0 * np.sin(safe) / np.where(alike, size, 1.0), 0.0)
    cosine, sine = np.cos(safe), np.sin(safe)
    unit = chord / np.where(size > 0.0, size, 1.0)[:, None]
    tangent = np.stack([cosine * unit[:, 0] + sine * unit[:, 1], cosine * unit[:, 1] - sine * unit[:, 0]], axis=1)
    points = _samples(control, zero, one)
    off = np.abs(_circle_distance(points, start[:, None], tangent[:, None], curvature[:, None])).max(axis=1)
    radius = 1.0 / np.where(alike, np.abs(curvature), 1.0)
    customary = _CIRCLE_ERROR * radius * (np.abs(2.0 * lean) / (0.5 * math.pi)) ** 6
    forward = _dot(np.diff(points, axis=1), chord[:, None]).min(axis=1) > 0.0
    return np.tan(0.5 * lean), alike & forward & (off <= np.maximum(_MARGIN * tolerance, customary))


def _spans(control: _Floats, tolerance: float) -> tuple[NDArray[np.intp], _Floats, _Floats]:
    """Parameter intervals over which one biarc is close enough: cubic, from, to, in order."""
    owner, low, high = [], [], []
    for i, turns in enumerate(inflections(control)):
        stops = [0.0, *turns.tolist(), 1.0]
        owner += [i] * (len(stops) - 1)
        low += stops[:-1]
        high += stops[1:]
    piece_of, t_low, t_high = np.array(owner), np.array(low), np.array(high)
    grid, total = _effort(control[piece_of], t_low, t_high, tolerance)
    counts = np.maximum(np.ceil(0.8 * total[:, -1]), 1.0).astype(np.intp)
    todo = np.arange(len(piece_of))
    done: list[tuple[NDArray[np.intp], _Floats, _Floats]] = []
    for trial in range(_TRIALS):
        piece, t0, t1 = _even_cuts(grid[todo], total[todo], counts[todo])
        piece = todo[piece]
        off = _deviation(control[piece_of[piece]], t0, t1)
        worst = np.zeros(len(piece_of))
        np.maximum.at(worst, piece, off)
        bad = worst > _MARGIN * tolerance
        if trial == _TRIALS - 1:
            bad[:] = False
        settled = ~bad[piece]
        done.append((piece_of[piece[settled]], t0[settled], t1[settled]))
        todo = todo[bad[todo]]
        if len(todo) == 0:
            break
        share = np.minimum(np.cbrt(worst[todo] / tolerance), 2.0)
        counts[todo] = np.maximum(counts[todo] + 1, np.ceil(0.9 * counts[todo] * share).astype(np.intp))
    index = np.concatenate([part[0] for part in done])
    t0, t1 = np.concatenate([part[1] for part in done]), np.concatenate([part[2] for part in done])
    return _halved(control, index, t0, t1, tolerance)


def _halved(
    control: _Floats, index: NDArray[np.intp], t0: _Floats, t1: _Floats, tolerance: float
) -> tuple[NDArray[np.intp], _Floats, _Floats]:
    """The intervals, those still too far off cut in half until they are not; in order."""
    for _ in range(_HALVINGS):
        bad = _deviation(control[index], t0, t1) > _MARGIN * tolerance
        if not bad.any():
            break
        middle = 0.5 * (t0[bad] + t1[bad])
        index = np.concatenate([index[~bad], index[bad], index[bad]])
        t0, t1 = np.concatenate([t0[~bad], t0[bad], middle]), np.concatenate([t1[~bad], middle, t1[bad]])
    order = np.lexsort((t0, index))
    return index[order], t0[order], t1[order]


def _effort(control: _Floats, low: _Floats, high: _Floats, tolerance: float) -> tuple[_Floats, _Floats]:
    """For each piece a grid of parameters and, up to each, how many biarcs the way there should take."""
    even = np.linspace(0.0, 1.0, 33)
    grid = low[:, None] + (high - low)[:, None] * even
    rows = np.repeat(control, len(even), axis=0)
    first, second = derivatives(rows, grid.ravel())
    speed = np.hypot(first[:, 0], first[:, 1])
    floor = 1e-6 * np.repeat(np.abs(control - control[:, :1]).max(axis=(1, 2)), len(even)) + 1e-300
    speed = np.maximum(speed, floor)
    curvature = (_cross(first, second) / speed**3).reshape(grid.shape)
    speed = speed.reshape(grid.shape)
    step = np.diff(grid, axis=1)
    length = 0.5 * (speed[:, 1:] + speed[:, :-1]) * step
    change = np.abs(np.diff(curvature, axis=1))
    by_error = np.cbrt(change * length * length * (_ERROR / tolerance))
    by_turn = 0.5 * np.abs(curvature[:, 1:] + curvature[:, :-1]) * length / _MOST_TURN
    total = np.zeros_like(grid)
    np.cumsum(np.maximum(np.maximum(by_error, by_turn), 1e-9), axis=1, out=total[:, 1:])
    return grid, total


def _even_cuts(grid: _Floats, total: _Floats, counts: NDArray[np.intp]) -> tuple[NDArray[np.intp], _Floats, _Floats]:
    """Intervals of equal effort: piece, from, to."""
    piece, t0, t1 = [], [], []
    for i, count in enumerate(counts.tolist()):
        cuts = np.interp(np.arange(count + 1) * (total[i, -1] / count), total[i], grid[i])
        cuts[0], cuts[-1] = grid[i, 0], grid[i, -1]
        piece.append(np.full(count, i))
        t0.append(cuts[:-1])
        t1.append(cuts[1:])
    return np.concatenate(piece), np.concatenate(t0), np.concatenate(t1)


def _ends(control: _Floats, t0: _Floats, t1: _Floats) -> tuple[_Floats, _Floats, _Floats, _Floats]:
    """Points and unit tangents at both ends of each interval."""
    return evaluate(control, t0), evaluate(control, t1), _tangents(control, t0, t1), _tangents(control, t1, t0)


def _tangents(control: _Floats, at: _Floats, other: _Floats) -> _Floats:
    """Unit tangents; where the derivative vanishes, the limit from the side of `other`."""
    first, second = derivatives(control, at)
    scale = np.abs(control - control[:, :1]).max(axis=(1, 2))
    still = np.hypot(first[:, 0], first[:, 1]) <= 1e-8 * scale
    if still.any():
        first = np.where(still[:, None], second * np.sign(other - at)[:, None], first)
        still = np.hypot(first[:, 0], first[:, 1]) <= 1e-8 * scale
        first = np.where(still[:, None], control[:, 3] - control[:, 0], first)
    size = np.hypot(first[:, 0], first[:, 1])
    result: _Floats = first / np.where(size > 0.0, size, 1.0)[:, None]
    return result


def _biarcs(start: _Floats, end: _Floats, d0: _Floats, d1: _Floats) -> tuple[_Floats, _Floats]:
    """Joint of each biarc whose two handles are equally long, and the bulges of its two arcs (m, 2)."""
    chord, both, apart = end - start, d0 + d1, d0 - d1
    along = _dot(chord, both)
    square = _dot(chord, chord)
    # Handle length d solves |v|² = 2 d v·(t0 + t1) + d² |t0 - t1|²; this form of the root does not cancel.
    root = np.sqrt(along * along + _dot(apart, apart) * square)
    handle = square / np.maximum(along + root, 1e-300)
    joint = 0.5 * (start + end + handle[:, None] * apart)
    return joint, np.stack([_half_lean(d0, joint - start), _half_lean(end - joint, d1)], axis=1)


def _half_lean(one: _Floats, two: _Floats) -> _Floats:
    """Tangent of half the angle from one vector to the other: the bulge, when one is tangent and the other chord."""
    size = np.hypot(one[:, 0], one[:, 1]) * np.hypot(two[:, 0], two[:, 1])
    below = size + _dot(one, two)
    result: _Floats = _cross(one, two) / np.where(below > 1e-12 * size, below, np.inf)
    return result


def _deviation(control: _Floats, t0: _Floats, t1: _Floats) -> _Floats:
    """Largest distance of each piece of curve from its biarc, at samples; infinite where the two run apart."""
    start, end, d0, d1 = _ends(control, t0, t1)
    joint, bulges = _biarcs(start, end, d0, d1)
    points = _samples(control, t0, t1)
    handles = end - start - _handle_sum(start, end, joint, d0, d1)
    on_first = _dot(points - joint[:, None], handles[:, None]) < 0.0
    curvature = [_curvature(joint - start, bulges[:, 0]), _curvature(end - joint, bulges[:, 1])]
    one = _circle_distance(points, start[:, None], d0[:, None], curvature[0][:, None])
    two = _circle_distance(points, end[:, None], d1[:, None], curvature[1][:, None])
    off = np.abs(np.where(on_first, one, two)).max(axis=1)
    apart = np.abs(np.arctan(bulges)).max(axis=1) > 0.5 * _MOST_TURN  # an arc of more than twice the allowed turn
    tiny = np.abs(end - start).max(axis=1) == 0.0
    result: _Floats = np.where(tiny, np.abs(points - start[:, None]).max(axis=(1, 2)), np.where(apart, np.inf, off))
    return result


def _handle_sum(start: _Floats, end: _Floats, joint: _Floats, d0: _Floats, d1: _Floats) -> _Floats:
    """Both handles of the biarc added: what lies between them is the direction at the joint."""
    apart = d0 - d1
    square = _dot(apart, apart)
    reach = _dot(2.0 * joint - start - end, apart) / np.where(square > 0.0, square, 1.0)
    reach = np.where(square > 1e-18, reach, 0.25 * np.hypot(*(end - start).T))
    result: _Floats = reach[:, None] * (d0 + d1)
    return result


def _curvature(chord: _Floats, bulge: _Floats) -> _Floats:
    """Signed curvature, 1/mm: 4 b / ((1 + b²) c)."""
    size = np.hypot(chord[:, 0], chord[:, 1])
    result: _Floats = 4.0 * bulge / ((1.0 + bulge * bulge) * np.where(size > 0.0, size, np.inf))
    return result


def _circle_distance(points: _Floats, on: _Floats, tangent: _Floats, curvature: _Floats) -> _Floats:
    """Signed distance from the circle (or line) through `on` with this tangent and signed curvature."""
    away = points - on
    # |away - n / κ| - 1 / |κ| without the cancellation that flat circles would bring.
    bulk = curvature * (away * away).sum(axis=-1) - 2.0 * (
        tangent[..., 0] * away[..., 1] - tangent[..., 1] * away[..., 0]
    )
    result: _Floats = bulk / (1.0 + np.sqrt(np.maximum(1.0 + curvature * bulk, 0.0)))
    return result


def _samples(control: _Floats, t0: _Floats, t1: _Floats) -> _Floats:
    t = t0[:, None] + (t1 - t0)[:, None] * _SAMPLES
    rows = np.repeat(control, len(_SAMPLES), axis=0)
    return evaluate(rows, t.ravel()).reshape(len(control), len(_SAMPLES), 2)


def _cross(p: _Floats, q: _Floats) -> _Floats:
    result: _Floats = p[..., 0] * q[..., 1] - p[..., 1] * q[..., 0]
    return result


def _dot(p: _Floats, q: _Floats) -> _Floats:
    result: _Floats = p[..., 0] * q[..., 0] + p[..., 1] * q[..., 1]
    return result
