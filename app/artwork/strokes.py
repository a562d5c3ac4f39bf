"""The outline that a stroke paints: its pieces, to be joined by the nonzero rule.

Each straight or circular piece of the line gives the strip it sweeps, each joint and each end the piece its join or
cap adds. Their union by the nonzero rule is the painted area; lines stay lines and arcs stay arcs. Curves are
first fitted with arcs.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from enum import StrEnum

from geometry.arcs import arc_centre, arc_radius, circle, tangent_at
from geometry.build import reversed_contour, reversed_segment
from geometry.contour import Contour, FillRule
from geometry.curve import Arc, Cubic, Line, Point, Segment
from geometry.findings import Finding, Severity
from geometry.fit import fit_arcs
from geometry.measure import contour_area
from geometry.regions import regions_from_contours

FIT = 0.01  # mm: curves of the line are followed this closely
_SNAP = 1e-7  # mm: ends this close are made one point
_STRAIGHT_ON = math.radians(0.05)  # turns below this leave no gap worth filling


class Cap(StrEnum):
    """How a line ends."""

    BUTT = "butt"
    ROUND = "round"
    SQUARE = "square"


class Corner(StrEnum):
    """How two pieces of a line meet."""

    MITRE = "miter"
    ROUND = "round"
    BEVEL = "bevel"


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line is stroked.

    Fields
    ------
    width : float
        mm, more than 0.
    cap : Cap
        Of open contours.
    corner : Corner
    mitre_limit : float
        Longest mitre, times the width (SVG 1.1, 11.4); sharper corners are bevelled.
    """

    width: float
    cap: Cap = Cap.BUTT
    corner: Corner = Corner.MITRE
    mitre_limit: float = 4.0


def painted(
    contours: tuple[Contour, ...], rule: FillRule | None, stroke: Stroke
) -> tuple[tuple[Contour, ...], tuple[Finding, ...]]:
    """Contours, by the nonzero rule, of what a stroked shape paints, with its fill when it has a rule.

    Findings are those of the union that a user should look at.
    """
    pieces: list[Contour] = []
    findings: list[Finding] = []
    if rule is not None:
        regions, said = regions_from_contours(contours, rule)
        findings += said
        pieces += [contour for region in regions for contour in (region.outer, *region.holes)]
    for contour in contours:
        pieces += stroke_outline(contour, stroke)
    regions, said = regions_from_contours(pieces, FillRule.NONZERO)
    findings += said
    told = tuple(finding for finding in findings if finding.severity is not Severity.NOTE)
    return tuple(contour for region in regions for contour in (region.outer, *region.holes)), told


def stroke_outline(contour: Contour, stroke: Stroke) -> tuple[Contour, ...]:
    """Contours whose nonzero union is the painted stroke.

    Parameters
    ----------
    contour : Contour
        The line, mm.
    stroke : Stroke
    """
    half = stroke.width / 2.0
    segments = [
        piece
        for segment in contour.segments
        for piece in (_as_arcs(segment) if isinstance(segment, Cubic) else (segment,))
    ]
    runs = _smooth_runs(segments, half, is_closed=contour.is_closed)
    if (
        contour.is_closed
        and len(runs) == 1
        and _goes_on(segments[-1], segments[0])
        and not _is_tight(segments[0], half)
    ):
        return _ring(segments, half)
    pieces = [piece for run in runs for piece in _strip(run, half)]
    joints = [(before[-1], after[0]) for before, after in itertools.pairwise(runs)]
    if contour.is_closed:
        joints.append((runs[-1][-1], runs[0][0]))
    for before, after in joints:
        pieces += _joint(before, after, half, stroke.corner, stroke.mitre_limit)
    if not contour.is_closed and stroke.cap is not Cap.BUTT:
        start, end = segments[0], segments[-1]
        x, y = tangent_at(start, 0.0)
        pieces += _cap(start.start, (-x, -y), half, stroke.cap)
        pieces += _cap(end.end, tangent_at(end, 1.0), half, stroke.cap)
    return tuple(pieces)


def _smooth_runs(segments: list[Segment], half: float, *, is_closed: bool) -> list[list[Segment]]:
    """Segments in runs without corners; an arc tighter than half the width is a run of its own."""
    breaks = [
        index
        for index in range(len(segments))
        if (index > 0 or is_closed)
        and (
            not _goes_on(segments[index - 1], segments[index])
            or _is_tight(segments[index - 1], half)
            or _is_tight(segments[index], half)
        )
    ]
    if is_closed and breaks:  # start at a break, so that no run is cut by where the contour happens to start
        first = breaks[0]
        segments = segments[first:] + segments[:first]
        breaks = [index - first for index in breaks]
    starts = sorted({0, *breaks})
    return [segments[start:end] for start, end in itertools.pairwise([*starts, len(segments)])]


def _goes_on(before: Segment, after: Segment) -> bool:
    return abs(_turn(before, after)) < _STRAIGHT_ON


def _turn(before: Segment, after: Segment) -> float:
    """Angle of a joint, radians, positive to the left."""
    (ax, ay), (bx, by) = tangent_at(before, 1.0), tangent_at(after, 0.0)
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)


def _is_tight(segment: Segment, half: float) -> bool:
    return isinstance(segment, Arc) and arc_radius(segment) <= half


def _as_arcs(segment: Cubic) -> tuple[Segment, ...]:
    return fit_arcs(Contour((segment,), is_closed=segment.start == segment.end), FIT).segments


def _strip(run: list[Segment], half: float) -> list[Contour]:
    """Area swept along a smooth run, as wide as the stroke."""
    first = run[0]
    if isinstance(first, Arc) and _is_tight(first, half):
        return _tight_strip(first, half)
    left, right = _beside(run, half), _beside(run, -half)
    back = [reversed_segment(segment) for segment in reversed(left)]
    return [
        Contour((*right, Line(right[-1].end, back[0].start), *back, Line(back[-1].end, right[0].start)), is_closed=True)
    ]


def _ring(segments: list[Segment], half: float) -> tuple[Contour, ...]:
    """Outer and inner edge of the stroke of a smooth closed line."""
    sides = [Contour(tuple(_beside(segments, side, is_closed=True))) for side in (half, -half)]
    sides.sort(key=lambda side: abs(contour_area(side)), reverse=True)
    outer, inner = sides
    outer = outer if contour_area(outer) > 0.0 else reversed_contour(outer)
    return outer, inner if contour_area(inner) < 0.0 else reversed_contour(inner)


def _beside(run: list[Segment], distance: float, *, is_closed: bool = False) -> list[Segment]:
    """The run moved to its left by `distance`, or to its right when negative; tiny turns are bridged."""
    moved: list[Segment] = []
    for segment in run:
        start = _aside(segment.start, tangent_at(segment, 0.0), distance)
        end = _aside(segment.end, tangent_at(segment, 1.0), distance)
        if moved:
            start = _bridged(moved, start)
        if isinstance(segment, Arc):
            moved.append(Arc(start, end, segment.bulge))
        else:
            moved.append(Line(start, end))
    if is_closed:
        last, start = moved[-1], moved[0].start
        if math.dist(last.end, start) > _SNAP:
            moved.append(Line(last.end, start))
        else:
            moved[-1] = Arc(last.start, start, last.bulge) if isinstance(last, Arc) else Line(last.start, start)
    return moved


def _bridged(moved: list[Segment], start: Point) -> Point:
    end = moved[-1].end
    if math.dist(end, start) <= _SNAP:
        return end
    moved.append(Line(end, start))
    return start


def _aside(point: Point, tangent: Point, distance: float) -> Point:
    x, y = _normal(tangent, distance)
    return (point[0] + x, point[1] + y)


def _tight_strip(arc: Arc, half: float) -> list[Contour]:
    """Area swept along an arc whose centre lies within the stroke: the sector, and what has passed the centre."""
    centre, radius = arc_centre(arc), arc_radius(arc)
    pieces = []
    for distance in (radius + half, radius - half):
        if distance != 0.0:
            start, end = (_from_centre(centre, point, distance, radius) for point in (arc.start, arc.end))
            pieces.append(_oriented((Arc(start, end, arc.bulge), Line(end, centre), Line(centre, start))))
    return pieces


def _joint(before: Segment, after: Segment, half: float, corner: Corner, mitre_limit: float) -> list[Contour]:
    turn = _turn(before, after)
    if abs(turn) < _STRAIGHT_ON:
        return []
    at = before.end
    if corner is Corner.ROUND:
        return [circle(at, half)]
    side = -1.0 if turn > 0.0 else 1.0  # the gap opens on the outside of the turn
    ax, ay = _normal(tangent_at(before, 1.0), side * half)
    bx, by = _normal(tangent_at(after, 0.0), side * half)
    a, b = (at[0] + ax, at[1] + ay), (at[0] + bx, at[1] + by)
    sine = math.sin((math.pi - abs(turn)) / 2.0)
    points = [at, a, b]
    if corner is Corner.MITRE and sine > 0.0 and 1.0 / sine <= mitre_limit:
        reach = half / sine
        middle = math.hypot(ax + bx, ay + by)
        points.insert(2, (at[0] + (ax + bx) / middle * reach, at[1] + (ay + by) / middle * reach))
    wedge = _oriented(tuple(Line(p, q) for p, q in itertools.pairwise([*points, at])))
    return [wedge] if contour_area(wedge) > 0.0 else []


def _cap(at: Point, direction: Point, half: float, cap: Cap) -> list[Contour]:
    if cap is Cap.ROUND:
        return [circle(at, half)]
    nx, ny = _normal(direction, half)
    dx, dy = direction[0] * half, direction[1] * half
    x, y = at
    corners = [
        (x - nx, y - ny),
        (x - nx + dx, y - ny + dy),
        (x + nx + dx, y + ny + dy),
        (x + nx, y + ny),
        (x - nx, y - ny),
    ]
    return [_oriented(tuple(Line(p, q) for p, q in itertools.pairwise(corners)))]


def _normal(tangent: Point, length: float) -> Point:
    """Vector to the left of the direction of travel."""
    return (-tangent[1] * length, tangent[0] * length)


def _from_centre(centre: Point, point: Point, distance: float, radius: float) -> Point:
    share = distance / radius
    return (centre[0] + (point[0] - centre[0]) * share, centre[1] + (point[1] - centre[1]) * share)


def _oriented(segments: tuple[Segment, ...]) -> Contour:
    contour = Contour(segments)
    return contour if contour_area(contour) > 0.0 else reversed_contour(contour)
