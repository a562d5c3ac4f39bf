"""Letters that lie over each other: drawn twice, joined by hand, or a counter drawn as a shape of its own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from app.artwork.drawing import Letter
from app.artwork.notes import Code
from geometry.contour import Region
from geometry.findings import Finding, Severity
from geometry.flatten import flatten_region
from geometry.measure import region_bounds

_CHORD = 1e-3  # of a letter's size: enough to tell an overlap from a touch
_SHARE = 1e-3  # of the smaller letter's area; less is a touch
_TOLD = 12


def overlaps(letters: Sequence[Letter], subject: str) -> list[Finding]:
    """A finding for each pair of letters whose material overlaps, with its place; the first dozen one by one."""
    owners = [number for number, letter in enumerate(letters) for _ in letter.regions]
    regions = [region for letter in letters for region in letter.regions]
    bounds = np.array([(b.min_x, b.min_y, b.max_x, b.max_y) for b in map(region_bounds, regions)])
    boxes = shapely.box(*bounds.T)
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    polygons: dict[int, Any] = {}
    found: dict[tuple[int, int], tuple[float, float]] = {}
    for a, b in zip(first.tolist(), second.tolist(), strict=True):
        pair = (owners[a], owners[b])
        if a >= b or pair[0] == pair[1] or pair in found:
            continue
        for index in (a, b):
            if index not in polygons:
                polygons[index] = _polygon(regions[index])
        common = shapely.intersection(polygons[a], polygons[b])
        if common.area > _SHARE * min(polygons[a].area, polygons[b].area):
            place = common.representative_point()
            found[pair] = (place.x, place.y)
    out = [
        Finding(
            Code.LETTERS_OVERLAP,
            Severity.WARNING,
            f"letters '{letters[a].name}' and '{letters[b].name}' lie over each other; join them in the drawing, or "
            "cut the inner one out as a counter",
            where,
            subject=subject,
        )
        for (a, b), where in list(found.items())[:_TOLD]
    ]
    if len(found) > _TOLD:
        message = f"{len(found) - _TOLD:,} more pairs of letters lie over each other"
        out.append(Finding(Code.LETTERS_OVERLAP, Severity.WARNING, message, subject=subject))
    return out


def _polygon(region: Region) -> Any:
    box = region_bounds(region)
    outline = flatten_region(region, _CHORD * max(box.width, box.height))
    return shapely.make_valid(shapely.Polygon(outline.outer, outline.holes))
