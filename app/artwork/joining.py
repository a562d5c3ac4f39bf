"""Overlapping shapes united into one, on request: script letters that run into each other, strokes of one sign."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from app.artwork.drawing import Shape
from app.artwork.notes import Code, Notes
from app.artwork.overlaps import rough_polygon
from geometry.contour import FillRule, Region
from geometry.findings import Severity
from geometry.groups import Groups
from geometry.measure import region_bounds
from geometry.regions import regions_from_contours


def united(shapes: tuple[Shape, ...], notes: Notes) -> tuple[Shape, ...]:
    """Shapes with those that overlap made one, by the nonzero rule after each shape's own; curves stay curves.

    A counter drawn as a shape of its own would be filled, so this is done only when asked for. Open contours are kept
    as they are. The united shape takes the source of its first member; of characters it has
    all in its name.
    """
    regions: list[tuple[int, Region]] = []
    for index, shape in enumerate(shapes):
        closed = tuple(contour for contour in shape.contours if contour.is_closed)
        found, _said = regions_from_contours(closed, shape.rule)
        regions += [(index, region) for region in found]
    groups = _groups(len(shapes), regions)
    out: list[Shape] = []
    for members in groups:
        if len(members) == 1:
            out.append(shapes[members[0]])
            continue
        mine = set(members)
        contours = [c for index, region in regions if index in mine for c in (region.outer, *region.holes)]
        contours += [c for index in members for c in shapes[index].contours if not c.is_closed]
        first = shapes[members[0]]
        source = first.source
        if all(shapes[index].is_character for index in members):
            source = replace(source, object_id="".join(shapes[index].source.object_id for index in members))
        out.append(Shape(tuple(contours), FillRule.NONZERO, source, first.is_character))
        box = region_bounds(next(region for index, region in regions if index in mine))
        notes.add(
            Code.SHAPES_UNITED,
            Severity.NOTE,
            f"{len(members)} overlapping shapes made one",
            where=box.centre,
            fixed=True,
        )
    return tuple(out)


def _groups(count: int, regions: list[tuple[int, Region]]) -> list[list[int]]:
    groups = Groups(count)
    if regions:
        polygons = np.array([rough_polygon(region) for _, region in regions])
        first, second = shapely.STRtree(polygons).query(polygons, predicate="intersects")
        for a, b in zip(first.tolist(), second.tolist(), strict=True):
            if a < b:
                groups.merge(regions[a][0], regions[b][0])
    return groups.members()
