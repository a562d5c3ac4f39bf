"""Neighbours on one line or one circle made one segment."""

from __future__ import annotations

import math
from collections.abc import Collection
from itertools import pairwise

from geometry.arcs import arc_centre, arc_radius, point_at, tangent_at
from geometry.curve import Arc, Line, Point, Segment

_SAME_DIRECTION = 2e-3  # radians; neighbours that meet at more than this are not one line or circle

_SAME_END = 5e-4  # radians; most that joining may turn the free ends


def merged(chain: list[Segment], tolerance: float, *, is_closed: bool, fixed: Collection[Point] = ()) -> list[Segment]:
    """The chain of lines and arcs with runs of neighbours on one line or circle joined, within `tolerance` (mm).

    A closed chain that is one circle becomes two half circles. Points in `fixed` stay ends, where another contour
    touches this one.
    """
    if fixed and (stops := [i for i, segment in enumerate(chain) if segment.start in fixed]):
        if is_closed:
            chain, stops = chain[stops[0] :] + chain[: stops[0]], [i - stops[0] for i in stops]
        edges = sorted({0, *stops, len(chain)})
        return [s for low, high in pairwise(edges) for s in merged(chain[low:high], tolerance, is_closed=False)]
    if is_closed and len(chain) > 1:
        if (circle := _as_circle(chain, tolerance)) is not None:
            return circle
        # Start at a true break, so that a run is not cut by the place where the contour happens to begin.
        for i in range(len(chain)):
            if not _may_join(chain[i - 1], chain[i], tolerance):
                chain = chain[i:] + chain[:i]
                break
    result: list[Segment] = []
    run: list[Segment] = []
    for segment in chain:
        if (
            run
            and _may_join(run[-1], segment, tolerance)
            and (joined := _joined([*run, segment], tolerance)) is not None
        ):
            result[-1] = joined
            run.append(segment)
        else:
            result.append(segment)
            run = [segment]
    return result


def _may_join(one: Segment, two: Segment, tolerance: float) -> bool:
    """Whether two neighbours look like parts of one line or circle (cheap, before measuring)."""
    match one, two:
        case Line(), Line():
            pass
        case Arc(bulge=first), Arc(bulge=second) if (first > 0.0) == (second > 0.0):
            if abs(arc_radius(one) - arc_radius(two)) > 1e-2 * arc_radius(one) + tolerance:
                return False
        case _:
            return False
    a, b = tangent_at(one, 1.0), tangent_at(two, 0.0)
    return abs(a[0] * b[1] - a[1] * b[0]) <= _SAME_DIRECTION and a[0] * b[0] + a[1] * b[1] > 0.0


def _joined(run: list[Segment], tolerance: float) -> Segment | None:
    """One line or arc for the run, or None when it would leave the run by more than the tolerance."""
    start, end = run[0].start, run[-1].end
    if math.dist(start, end) <= tolerance:
        return None
    if isinstance(run[0], Line):
        line = Line(start, end)
        near = all(_line_distance(segment.end, line) <= tolerance for segment in run[:-1])
        return line if near and _leaves_alike(line, run) else None
    sweep = sum(4.0 * math.atan(segment.bulge) for segment in run if isinstance(segment, Arc))
    if abs(sweep) > 1.5 * math.pi:
        return None  # keeps arcs well away from the full turn, where ends no longer tell the circle
    arc = Arc(start, end, math.tan(sweep / 4.0))
    centre, radius = arc_centre(arc), arc_radius(arc)
    probes = [point_at(segment, t) for segment in run for t in (0.5, 1.0)][:-1]
    near = all(abs(math.dist(probe, centre) - radius) <= tolerance for probe in probes)
    return arc if near and _leaves_alike(arc, run) else None


def _leaves_alike(joined: Segment, run: list[Segment]) -> bool:
    """Whether the direction at both ends stays that of the run: what was tangent to it still is."""
    for t, end in ((0.0, run[0]), (1.0, run[-1])):
        a, b = tangent_at(joined, t), tangent_at(end, t)
        if abs(a[0] * b[1] - a[1] * b[0]) > _SAME_END:
            return False
    return True


def _as_circle(chain: list[Segment], tolerance: float) -> list[Segment] | None:
    """Two half circles for a closed chain that is one circle."""
    arcs = [segment for segment in chain if isinstance(segment, Arc)]
    if len(arcs) != len(chain) or len({arc.bulge > 0.0 for arc in arcs}) != 1:
        return None
    sweep = sum(4.0 * math.atan(arc.bulge) for arc in arcs)
    if abs(abs(sweep) - 2.0 * math.pi) > 1e-3:
        return None
    radii, centres = [arc_radius(arc) for arc in arcs], [arc_centre(arc) for arc in arcs]
    weights = [abs(4.0 * math.atan(arc.bulge)) for arc in arcs]
    total = math.fsum(weights)
    radius = math.fsum(w * r for w, r in zip(weights, radii, strict=True)) / total
    cx = math.fsum(w * c[0] for w, c in zip(weights, centres, strict=True)) / total
    cy = math.fsum(w * c[1] for w, c in zip(weights, centres, strict=True)) / total
    probes = [point_at(arc, t) for arc in arcs for t in (0.5, 1.0)]
    if any(abs(math.dist(probe, (cx, cy)) - radius) > tolerance for probe in probes):
        return None
    start = chain[0].start
    dx, dy = start[0] - cx, start[1] - cy
    scale = radius / math.hypot(dx, dy)
    start = (cx + scale * dx, cy + scale * dy)
    middle = (cx - scale * dx, cy - scale * dy)
    bulge = 1.0 if sweep > 0.0 else -1.0
    return [Arc(start, middle, bulge), Arc(middle, start, bulge)]


def _line_distance(point: Point, line: Line) -> float:
    (x0, y0), (x1, y1) = line.start, line.end
    dx, dy = x1 - x0, y1 - y0
    return abs(dx * (point[1] - y0) - dy * (point[0] - x0)) / math.hypot(dx, dy)
