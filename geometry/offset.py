"""Regions grown and shrunk by a distance, arcs staying arcs.

Every edge is moved out, convex corners get a join, all pieces are cut where they cross, and those stay that are no
nearer to the source's edge than the distance. The result is compared with the buffer of a polygon before it is given
out; should the two disagree, the buffer, fitted with arcs, is the answer.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from enum import StrEnum
from functools import lru_cache

import numpy as np
import shapely

from geometry.assemble import regions_from_boundaries
from geometry.contour import Region
from geometry.fit import fit_region
from geometry.flatten import flatten_contour
from geometry.linearcs import LineArcs
from geometry.offset_pieces import Boundary, Source, boundaries, raw_pieces
from geometry.refit import refit_ring

_ATTEMPTS = ((0.0, 1e-5), (2e-5, 1e-5), (1e-3, 1e-4), (-1e-3, 1e-4))
"""What is tried in turn: mm added to the distance's size, mm between ends that count as one point."""


class Join(StrEnum):
    """What is put round a corner that points away from the source."""

    ROUND = "round"
    MITRE = "mitre"


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
    mitred = join is Join.MITRE
    expected = _polygon_offset(source, source.polygon, distance, mitred=mitred)
    touching: tuple[Region, ...] | None = None
    for extra, snap in _ATTEMPTS:
        moved = distance + math.copysign(extra, distance)
        found = boundaries(source, moved, mitred=mitred, snap=snap)
        if found is None or not _agree(found, expected, distance, source.chord_error):
            continue
        regions = regions_from_boundaries([b.contour for b in found], [b.area for b in found])
        if all(_is_clean(part, source.chord_error) for part in regions):
            return regions
        touching = touching or regions
    return touching or _fitted_buffer(source, distance, mitred=mitred, tolerance=tolerance)


@lru_cache(maxsize=256)
def _source(region: Region, tolerance: float) -> Source:
    fitted = fit_region(region, tolerance)
    contours = (fitted.outer, *fitted.holes)
    edges = LineArcs.of(segment for contour in contours for segment in contour.segments)
    # Arcs that hardly rise above their chord are lines: circles of enormous radius would cost digits.
    flat = 0.5 * np.abs(edges.bulge) * edges.chord_length < 0.1 * tolerance
    edges = LineArcs(edges.start, edges.end, np.where(flat, 0.0, edges.bulge))
    counts = np.cumsum([len(contour.segments) for contour in contours])
    polygon = _valid_polygon(fitted, 2.0 * tolerance)
    shapely.prepare(polygon)
    return Source(fitted, edges, (0, *counts.tolist()), polygon, 2.0 * tolerance)


def _polygon_offset(
    source: Source, polygon: shapely.Geometry, distance: float, *, mitred: bool, quarter_chords: int = 16
) -> shapely.Geometry:
    """The offset by the polygon's buffer; mitres are added to the rounded one (or, inside, taken off it)."""
    rounded = shapely.buffer(polygon, distance, quad_segs=quarter_chords)
    if not mitred or len(tips := raw_pieces(source, distance, mitred=True).tips) == 0:
        return rounded
    kites = shapely.union_all(shapely.polygons(tips))
    return shapely.union(rounded, kites) if distance > 0.0 else shapely.difference(rounded, kites)


def _agree(found: Sequence[Boundary], expected: shapely.Geometry, distance: float, chord_error: float) -> bool:
    """Whether the contours enclose what the polygon offset does, within what its chords can tell.

    First contour by contour, by area; where that fails, perhaps because something very thin is there in one and not
    in the other, everything that only one of them covers must be thin.
    """
    width = chord_error + 0.003 * abs(distance)  # the buffer's own chords are within 0.12 % of the distance
    rings = shapely.get_rings(expected)
    areas = shapely.area(shapely.polygons(rings)) * np.where(shapely.is_ccw(rings), -1.0, 1.0)  # outer ones clockwise
    wanted = sorted(zip(areas.tolist(), shapely.length(rings).tolist(), strict=True), reverse=True)
    got = sorted(((b.area, b.length) for b in found), reverse=True)
    room = width * math.fsum(length for _, length in wanted)
    if (
        len(got) == len(wanted)
        and all(abs(a - b) <= width * q for (a, _), (b, q) in zip(got, wanted, strict=True))
        and abs(math.fsum(a for a, _ in got) - math.fsum(a for a, _ in wanted)) <= room
    ):
        return True
    parts = regions_from_boundaries([b.contour for b in found], [b.area for b in found])
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


def _fitted_buffer(source: Source, distance: float, *, mitred: bool, tolerance: float) -> tuple[Region, ...]:
    """The buffer of a fine polygon, its rings fitted with lines and arcs; chords take half of what the fit may not."""
    fine = 0.125 * tolerance
    quarter = math.ceil(0.25 * math.pi / math.acos(max(0.5, 1.0 - fine / abs(distance))))
    polygon = _valid_polygon(source.region, fine)
    result = _polygon_offset(source, polygon, distance, mitred=mitred, quarter_chords=max(16, quarter))
    regions = []
    for part in shapely.get_parts(result):
        if shapely.is_empty(part):
            continue
        part = shapely.orient_polygons(part)
        rings = [shapely.get_coordinates(ring)[:-1] for ring in (part.exterior, *part.interiors)]
        outer, *holes = (refit_ring(ring, 0.25 * tolerance) for ring in rings)
        regions.append(Region(outer, tuple(holes)))
    return tuple(regions)
