"""Contours of lines and arcs only, within a tolerance: what a router can cut smoothly and a DXF polyline can hold."""

from __future__ import annotations

import math
from collections.abc import Sequence

from geometry.biarcs import fit_cubics
from geometry.contour import Contour, Region
from geometry.curve import Cubic, Segment
from geometry.merge import merged

_MERGE = 0.02  # share of the tolerance that joining neighbours on one line or circle may use up
_BATCH = 4096  # cubics worked on together: more are no quicker, and take memory


def fit_arcs(contour: Contour, tolerance: float = 0.0508) -> Contour:
    """The contour as lines and arcs, no further than `tolerance` (mm) from it either way.

    Corners stay where they are, and where the source is tangent so are the arcs. Lines and arcs of the source are
    kept, but neighbours on one line or one circle become one; a whole circle becomes two half circles. Four cubics
    that stand for a circle become that circle, even where they are further off it than the tolerance (0.027 % of the
    radius: 0.08 mm at 600 mm diameter).
    """
    return _fitted([contour], tolerance)[0]


def fit_region(region: Region, tolerance: float = 0.0508) -> Region:
    """The region with each contour as ``fit_arcs`` makes it."""
    return fit_regions([region], tolerance)[0]


def fit_regions(regions: Sequence[Region], tolerance: float = 0.0508) -> list[Region]:
    """Each region with its contours as ``fit_arcs`` makes them; far quicker than one by one."""
    contours = iter(_fitted([one for region in regions for one in (region.outer, *region.holes)], tolerance))
    return [Region(next(contours), tuple(next(contours) for _ in region.holes)) for region in regions]


def _fitted(contours: Sequence[Contour], tolerance: float) -> list[Contour]:
    if not (tolerance > 0.0 and math.isfinite(tolerance)):
        raise ValueError(f"the fitting tolerance must be more than 0 mm, got {tolerance}")
    cubics = [segment for contour in contours for segment in contour.segments if isinstance(segment, Cubic)]
    batches = (cubics[low : low + _BATCH] for low in range(0, len(cubics), _BATCH))
    pieces = (piece for batch in batches for piece in fit_cubics(batch, tolerance))
    result = []
    for contour in contours:
        chain: list[Segment] = []
        for segment in contour.segments:
            if isinstance(segment, Cubic):
                chain += next(pieces)
            elif segment.start != segment.end:
                chain.append(segment)
        result.append(Contour(tuple(merged(chain, _MERGE * tolerance, is_closed=contour.is_closed)), contour.is_closed))
    return result
