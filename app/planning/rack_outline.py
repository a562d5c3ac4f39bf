"""The true outline of an offcut from a drawing of it, and the largest rectangle in any outline."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import Final

import numpy as np

from app.artwork.read import read_drawing
from app.stock.rack_items import Box, Point, RackError
from geometry.flatten import Side, flatten_region
from geometry.measure import region_area
from geometry.outline import Outline
from geometry.regions import regions_from_contours
from nesting.offcuts import offcuts
from nesting.plan import Layout
from nesting.problem import Problem, Rules, Sheet

TOLERANCE: Final = 0.1
"""mm; how far the kept outline may lie inside the drawn curve. It is never outside it."""

_LEAST: Final = ((10.0, 10.0),)  # mm; no rectangle of interest is smaller


def outline_of_file(path: str | os.PathLike[str]) -> tuple[tuple[Point, ...], Box]:
    """Outline (mm, lower left at 0, 0) and usable rectangle of the largest closed shape in an SVG or DXF file.

    Raises
    ------
    RackError
        When the file does not say its unit, holds no closed shape, or the shape has holes.
    ReadError
        When the file cannot be read.
    """
    name = os.path.basename(os.fspath(path))
    drawing = read_drawing(path)
    if drawing.units is None:
        raise RackError(f"{name} does not say in which unit it is drawn; save it with its unit")
    regions = [region for shape in drawing.shapes for region in regions_from_contours(shape.contours, shape.rule)[0]]
    if not regions:
        raise RackError(f"{name} holds no closed shape; draw the offcut's edge as one closed line")
    largest = max(regions, key=region_area)
    if largest.holes:
        raise RackError(f"{name}: the outline has {len(largest.holes)} holes; draw the outer edge only")
    ring = flatten_region(largest, TOLERANCE, Side.INSIDE).outer
    moved = ring - ring.min(axis=0)
    outline = tuple((float(x), float(y)) for x, y in moved)
    return outline, usable_rectangle(outline)


def usable_rectangle(outline: Sequence[Point]) -> Box:
    """The largest rectangle with sides along x and y that fits an outline; found on a grid, then grown to its edges.

    Raises
    ------
    RackError
        When there is none of a hundred square millimetres.
    """
    sheet = Sheet("offcut", Outline.from_points(np.asarray(outline)))
    problem = Problem((), (sheet,), Rules(0.0, 0.0))
    found = offcuts(problem, Layout("offcut", 0, ()), min_sides=_LEAST)
    if not found:
        raise RackError("there is no usable rectangle in the outline; it is too narrow to keep")
    best = max(found, key=lambda one: one.width * one.height)
    return Box(best.x, best.y, best.width, best.height)
