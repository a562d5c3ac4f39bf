"""Where a label fits in a part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from geometry.curve import Point

_FREE: Final = 1.15
"""A label's box is tested this much larger, so that it does not touch the edges."""
_SEARCH: Final = 1.0
"""mm; how exactly the middle of the largest free circle is found."""


@dataclass(frozen=True, slots=True)
class LabelPlace:
    """A box for text: its middle and height, mm, its angle (0 or 90 degrees), and whether it lies in the material."""

    middle: Point
    height: float
    angle: float
    is_inside: bool


def candidates(material: shapely.Polygon) -> tuple[Point, ...]:
    """Points worth trying for a label, best first: the middle of the largest free circle, then of the straight cuts
    through the middle of the part (in a ring those lie where the band runs level or upright).
    """
    circle = shapely.maximum_inscribed_circle(material, _SEARCH)
    found = [tuple(float(value) for value in circle.coords[0])]
    min_x, min_y, max_x, max_y = material.bounds
    middle_x, middle_y = (min_x + max_x) / 2, (min_y + max_y) / 2
    across = shapely.linestrings([[(middle_x, min_y), (middle_x, max_y)], [(min_x, middle_y), (max_x, middle_y)]])
    for cut in shapely.intersection(material, across):
        pieces = [piece for piece in shapely.get_parts(cut) if piece.length > 0]
        for piece in sorted(pieces, key=lambda piece: (-piece.length, piece.bounds)):
            found.append((piece.centroid.x, piece.centroid.y))
    return tuple((point[0], point[1]) for point in found)


def place_label(
    material: shapely.Polygon,
    points: Sequence[Point],
    *,
    heights: Sequence[float],
    widths: Sequence[float],
    may_stand: bool = True,
) -> LabelPlace:
    """The largest label that lies in the material at one of the points, level before upright (where that is allowed).

    Parameters
    ----------
    material : shapely.Polygon
    points : from `candidates`
    heights, widths : mm
        Sizes to try, largest first, in pairs.

    When none fits, the answer is the smallest at the first point, with `is_inside` False.
    """
    shapely.prepare(material)
    spots = np.asarray(points, dtype=np.float64)
    for height, width in zip(heights, widths, strict=True):
        for angle in (0.0, 90.0) if may_stand else (0.0,):
            half_x, half_y = (width, height) if angle == 0.0 else (height, width)
            half_x, half_y = half_x / 2 * _FREE, half_y / 2 * _FREE
            boxes = shapely.box(spots[:, 0] - half_x, spots[:, 1] - half_y, spots[:, 0] + half_x, spots[:, 1] + half_y)
            fits = shapely.contains_properly(material, boxes)
            if fits.any():
                return LabelPlace(points[int(np.argmax(fits))], height, angle, is_inside=True)
    return LabelPlace(points[0], heights[-1], 0.0, is_inside=False)
