"""Contours as drawn to regions of material, by a fill rule; what does not work out becomes a finding."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.arrangement import is_even_odd, is_nonzero, resolve
from geometry.assemble import regions_from_boundaries
from geometry.build import JOIN_SNAP, has_no_length, is_finite, reversed_contour
from geometry.contour import Contour, FillRule, Region
from geometry.curve import Line, Point, Segment
from geometry.findings import Finding, Severity
from geometry.flatten import flatten_contour
from geometry.groups import Groups
from geometry.measure import bounds_of_each, contour_area, contour_length
from geometry.outline import Ring
from geometry.refit import refit_ring

_CHORD = 1e-5  # chords of the crossing tests stay this close to the curves, as a share of the drawing's size
_FURTHEST = 1e9  # mm; a thousand kilometres
_NO_AREA = 1e-9  # least area of a contour, as a share of the drawing's size squared
_TEST: dict[FillRule, Callable[[int], bool]] = {FillRule.EVEN_ODD: is_even_odd, FillRule.NONZERO: is_nonzero}


class RegionCode(StrEnum):
    """Codes of the findings about contours."""

    OPEN = "open-contour"
    GAP_CLOSED = "gap-closed"
    NO_AREA = "contour-without-area"
    NOT_FINITE = "contour-not-finite"
    CROSSING = "crossing-contours"
    REFITTED = "curves-refitted"
    REDUNDANT = "contour-without-effect"


@dataclass(frozen=True, slots=True, eq=False)
class _Drawn:
    """A closed contour and its polygon."""

    contour: Contour
    ring: Ring
    line: shapely.Geometry


def regions_from_contours(
    contours: Iterable[Contour], rule: FillRule, *, gap: float = 0.0
) -> tuple[tuple[Region, ...], tuple[Finding, ...]]:
    """Regions of material bounded by the contours under the fill rule, with findings about the rest.

    Contours that cross nothing keep their segments exactly. Where contours cross or touch, segments are cut at the
    crossings and the pieces along the edge of the material kept, still on their true curves; should that not agree
    with a polygon computation, the polygon is taken, fitted with lines and arcs. Either is reported.

    Parameters
    ----------
    contours : iterable of Contour
        In one coordinate system; a size of 1 mm to 10 m is expected, but tolerances follow the size.
    rule : FillRule
    gap : float
        An open contour whose ends are this close (mm) is closed with a line; a wider one is left out and reported.
    """
    findings: list[Finding] = []
    closed = _closed(contours, gap, findings)
    if not closed:
        return (), tuple(findings)
    size = _size(closed)
    drawn = _with_area(closed, size, findings)
    if not drawn:
        return (), tuple(findings)
    windings = _Windings([d.ring for d in drawn])
    boundaries: list[Contour] = []
    for members in _touching_sets(drawn):
        # Nothing else meets these contours, so one place tells what winding number surrounds them all.
        base = windings.around(drawn[members[0]].ring[0], without=members)
        if len(members) == 1 and shapely.is_simple(drawn[members[0]].line):
            boundaries += _plain(drawn[members[0]].contour, base, rule, findings)
        else:
            boundaries += _crossed([drawn[i] for i in members], base, rule, size, findings)
    return regions_from_boundaries(boundaries), tuple(findings)


def _closed(contours: Iterable[Contour], gap: float, findings: list[Finding]) -> list[Contour]:
    """The contours whose segments are numbers and join up, or can be made to."""
    result = []
    for contour in contours:
        if not contour.segments or not all(map(_is_usable, contour.segments)):
            findings.append(
                Finding(
                    RegionCode.NOT_FINITE,
                    Severity.ERROR,
                    f"a contour has a coordinate that is not a number up to {_FURTHEST:g} mm; "
                    "it was left out, draw it again",
                )
            )
            continue
        gaps = _gaps(contour)
        if not gaps and contour.is_closed:
            result.append(contour)
            continue
        opening, place = max(gaps, default=(0.0, contour.segments[-1].end))
        if opening > max(gap, JOIN_SNAP):
            findings.append(
                Finding(
                    RegionCode.OPEN,
                    Severity.ERROR,
                    f"a contour is open by {opening:.3f} mm, more than the {gap:.3f} mm allowed; "
                    "it was left out, join its ends or allow a wider gap",
                    place,
                )
            )
            continue
        if opening > JOIN_SNAP:
            findings.append(
                Finding(
                    RegionCode.GAP_CLOSED,
                    Severity.WARNING,
                    f"a contour was open by {opening:.3f} mm, within the {gap:.3f} mm allowed; a line now closes it",
                    place,
                    fixed=True,
                )
            )
        if (joined := _joined(contour)).segments:
            result.append(joined)
        else:
            findings.append(_without_area(contour))
    return result


def _is_usable(segment: Segment) -> bool:
    points = (segment.start, segment.end)
    return is_finite(segment) and max(abs(value) for point in points for value in point) <= _FURTHEST


def _gaps(contour: Contour) -> list[tuple[float, Point]]:
    """Every gap between neighbours and between the ends, with its place; a point among the segments is one of 0."""
    following = (*contour.segments[1:], contour.segments[0])
    return [
        (math.dist(one.end, two.start), one.end)
        for one, two in zip(contour.segments, following, strict=True)
        if one.end != two.start or has_no_length(one)
    ]


def _joined(contour: Contour) -> Contour:
    """The contour closed: small gaps by moving an end, wider ones by a line; points left out."""
    chain: list[Segment] = []
    for segment in contour.segments:
        if has_no_length(segment):
            continue
        if chain and chain[-1].end != segment.start:
            if math.dist(chain[-1].end, segment.start) <= JOIN_SNAP:
                segment = replace(segment, start=chain[-1].end)
            else:
                chain.append(Line(chain[-1].end, segment.start))
        chain.append(segment)
    if chain and chain[-1].end != chain[0].start:
        if math.dist(chain[-1].end, chain[0].start) <= JOIN_SNAP:
            chain[-1] = replace(chain[-1], end=chain[0].start)
        else:
            chain.append(Line(chain[-1].end, chain[0].start))
    return Contour(tuple(chain))


def _size(contours: Sequence[Contour]) -> float:
    bounds = bounds_of_each(contours)
    return max(float((bounds[:, 2:].max(axis=0) - bounds[:, :2].min(axis=0)).max()), 1e-9)


def _with_area(contours: Sequence[Contour], size: float, findings: list[Finding]) -> list[_Drawn]:
    """The contours with their polygons, less those that only run to and fro."""
    result = []
    for contour in contours:
        ring = flatten_contour(contour, _CHORD * size)
        moved = np.empty(len(ring), dtype=bool)
        moved[0], moved[1:] = (ring[0] != ring[-1]).any(), (ring[1:] != ring[:-1]).any(axis=1)
        distinct = ring[moved]
        if len(distinct) > 2 and abs(contour_area(contour)) > _NO_AREA * size * size:
            result.append(_Drawn(contour, distinct, shapely.LinearRing(distinct)))
            continue
        if len(distinct) > 2:  # no net area: a figure of eight, or nothing
            line = shapely.LinearRing(distinct)
            if sum(map(shapely.area, _faces([line]))) > _NO_AREA * size * size:
                result.append(_Drawn(contour, distinct, line))
                continue
        findings.append(_without_area(contour))
    return result


def _without_area(contour: Contour) -> Finding:
    return Finding(
        RegionCode.NO_AREA,
        Severity.WARNING,
        f"a contour of length {contour_length(contour):.2f} mm encloses no area; "
        "it was left out, draw it as a closed shape if it should be cut",
        contour.segments[0].start,
    )


def _touching_sets(drawn: Sequence[_Drawn]) -> list[list[int]]:
    """Indices of the contours in sets that touch or cross each other; in order of their first members."""
    if len(drawn) == 1:
        return [[0]]
    lines = np.array([d.line for d in drawn])
    first, second = shapely.STRtree(lines).query(lines)
    ahead = first < second
    first, second = first[ahead], second[ahead]
    meet = shapely.intersects(lines[first], lines[second])
    groups = Groups(len(drawn))
    for i, k in zip(first[meet].tolist(), second[meet].tolist(), strict=True):
        groups.merge(i, k)
    return groups.members()


def _plain(contour: Contour, base: int, rule: FillRule, findings: list[Finding]) -> list[Contour]:
    """The contour with the material on its left, when material and empty space part there."""
    is_material = _TEST[rule]
    sign = 1 if contour_area(contour) > 0.0 else -1
    inside, outside = is_material(base + sign), is_material(base)
    if inside == outside:
        what = "material" if inside else "empty space"
        findings.append(
            Finding(
                RegionCode.REDUNDANT,
                Severity.NOTE,
                f"a contour has {what} on both sides under the {rule.value} fill rule and was left out; "
                "check its direction if it should be cut",
                contour.segments[0].start,
            )
        )
        return []
    return [contour if inside == (sign > 0) else reversed_contour(contour)]


def _crossed(drawn: Sequence[_Drawn], base: int, rule: FillRule, size: float, findings: list[Finding]) -> list[Contour]:
    """Boundaries of contours that cross or touch each other or themselves."""
    is_material = _TEST[rule]
    rings = [d.ring for d in drawn]
    faces = _faces([d.line for d in drawn])
    around = _Windings(rings)
    spots = shapely.get_coordinates(shapely.point_on_surface(faces))
    covered = [is_material(base + around.around(spot)) for spot in spots]
    # Contours that cut out of the material round them: then the empty faces are the shapes.
    filled_around = is_material(base)
    kept = [face for face, material in zip(faces, covered, strict=True) if material != filled_around]
    expected = shapely.union_all(kept) if kept else shapely.Polygon()
    exact = resolve([d.contour for d in drawn], is_material, base=base, size=size)
    where = drawn[0].contour.segments[0].start
    if exact is not None and _agree(exact, expected, filled_around, size):
        corners = {segment.start for d in drawn for segment in d.contour.segments}
        new = [segment.start for contour in exact for segment in contour.segments if segment.start not in corners]
        wide = [contour for contour in exact if abs(contour_area(contour)) > _CHORD * size * contour_length(contour)]
        slivers = len(exact) - len(wide)
        left_out = f"; {slivers} pieces narrower than {2.0 * _CHORD * size:.3f} mm were left out" if slivers else ""
        findings.append(
            Finding(
                RegionCode.CROSSING,
                Severity.NOTE if rule is FillRule.NONZERO else Severity.WARNING,
                f"{_count(drawn)} or touching was resolved by the {rule.value} fill rule, keeping its curves{left_out}",
                new[0] if new else where,
                fixed=True,
            )
        )
        return wide
    findings.append(
        Finding(
            RegionCode.REFITTED,
            Severity.WARNING,
            f"{_count(drawn)} was resolved by the {rule.value} fill rule on polygons, "
            f"fitted again within {2.0 * _CHORD * size:.3f} mm; look at it before cutting",
            where,
            fixed=True,
        )
    )
    result = []
    for part in shapely.get_parts(expected):
        if shapely.area(part) <= _CHORD * size * shapely.length(part):
            continue
        part = shapely.orient_polygons(part, exterior_cw=filled_around)
        for ring in (part.exterior, *part.interiors):
            result.append(refit_ring(shapely.get_coordinates(ring)[:-1], 2.0 * _CHORD * size))
    return result


def _count(drawn: Sequence[_Drawn]) -> str:
    return "a contour crossing itself" if len(drawn) == 1 else f"a group of {len(drawn)} contours crossing each other"


def _agree(exact: Sequence[Contour], expected: shapely.Geometry, filled_around: bool, size: float) -> bool:
    """Whether the boundaries enclose what the polygon computation says, but for the chords' rounding."""
    outward = [reversed_contour(contour) for contour in exact] if filled_around else list(exact)
    area = math.fsum(map(contour_area, outward))
    room = 1e-4 * shapely.area(expected) + 2.0 * _CHORD * size * shapely.length(expected)
    if abs(area - shapely.area(expected)) > room:
        return False
    polygons = []
    for part in regions_from_boundaries(outward):
        rings = [flatten_contour(contour, _CHORD * size) for contour in (part.outer, *part.holes)]
        polygons.append(shapely.make_valid(shapely.Polygon(rings[0], rings[1:]), method="structure"))
    found = shapely.union_all(polygons) if polygons else shapely.Polygon()
    return bool(shapely.area(shapely.symmetric_difference(found, expected)) <= room)


def _faces(lines: Sequence[shapely.Geometry]) -> list[shapely.Geometry]:
    """The bounded faces that the lines cut the plane into."""
    noded = shapely.node(
        shapely.multilinestrings([shapely.linestrings(shapely.get_coordinates(line)) for line in lines])
    )
    return [face for face in shapely.get_parts(shapely.polygonize(shapely.get_parts(noded))) if face.area > 0.0]


class _Windings:
    """Winding numbers of several rings round points; only rings whose box holds the point are looked at."""

    def __init__(self, rings: Sequence[Ring]) -> None:
        self._closed = [np.concatenate([ring, ring[:1]]) for ring in rings]
        self._low = np.array([ring.min(axis=0) for ring in rings])
        self._high = np.array([ring.max(axis=0) for ring in rings])

    def around(self, point: NDArray[np.float64], without: Sequence[int] = ()) -> int:
        """Winding number round one point (2,), leaving some of the rings out."""
        held = np.flatnonzero(((self._low <= point) & (point <= self._high)).all(axis=1)).tolist()
        return sum(_winding(self._closed[i], point) for i in held if i not in without)


def _winding(closed: Ring, point: NDArray[np.float64]) -> int:
    (x0, y0), (x1, y1), (x, y) = closed[:-1].T, closed[1:].T, point
    left = (x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)
    up, down = (y0 <= y) & (y1 > y) & (left > 0.0), (y0 > y) & (y1 <= y) & (left < 0.0)
    return int(np.count_nonzero(up)) - int(np.count_nonzero(down))
