"""Where a part's number is marked: in a free place, clear of edges, holes and other marks, on what nobody sees.

Numbers go on backers and splice plates, which nobody sees once the sign hangs. Faces, panels and rings stay in view and
get none unless the shop asks for it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from app.fabrication.part import CutPart, Role
from app.fabrication.remarks import FabricationCode
from app.fabrication.stroke_text import text_width
from app.fabrication.subject import Piece, Terms
from geometry.angles import cos_sin
from geometry.contour import Contour
from geometry.curve import Point
from geometry.findings import Finding, Severity

Floats = NDArray[np.float64]

_HIDDEN: Final = (Role.BACKER, Role.SPLICE_PLATE)
_CLEAR: Final = 0.5  # of the height, from edges, holes and other marks
_SHARES: Final = (1.0, 0.7, 0.5)  # of the height asked for
_EDGES: Final = 6
_UNLIKE: Final = 8.0  # degrees
_LISTED: Final = 6
_GRIDS: Final = (9, 33)  # places looked at from side to side: a few first, many where a few find nothing


def number_height(role: Role, terms: Terms) -> float:
    """How high numbers are on parts of a role, mm; 0 for none."""
    return terms["part number height" if role in _HIDDEN else "part number height in view"]


@dataclass(frozen=True, slots=True)
class NumberPlace:
    """Where a number stands on a part: its middle, its direction in degrees, its height in mm."""

    middle: Point
    angle: float
    height: float


def place_for(piece: Piece, sign_count: int, height: float) -> NumberPlace | None:
    """Where a number of so many signs finds room: level or upright, else along a long edge, as near the middle of the
    part as it may be; smaller where the height asked for has no room. None where it finds none.
    """
    outer = piece.outline.outer
    polygon: Any = shapely.Polygon(outer, piece.outline.holes)
    taken: Any = shapely.union_all(
        [shapely.Point(drill.centre).buffer(drill.diameter / 2.0) for drill in piece.drills]
        + [shapely.LineString([one.start, one.end]) for mark in _lines_of(piece) for one in mark.segments]
    )
    shapely.prepare(polygon)
    shapely.prepare(taken)
    for share in _SHARES:
        size = share * height
        half = 0.5 * np.array((text_width("0" * sign_count, size), size)) + _CLEAR * size
        if polygon.area < 4.0 * half[0] * half[1]:
            continue
        for count in _GRIDS:
            for angle in (0.0, 90.0, *_leans(outer)):
                middle = _free(polygon, taken, half, angle, count)
                if middle is not None:
                    return NumberPlace(middle, angle, size)
    return None


def _free(polygon: Any, taken: Any, half: Floats, angle: float, count: int) -> Point | None:
    """Middle of a free box of those half sizes, turned by the angle, near the middle of a part; of a grid of places."""
    c, s = cos_sin(angle)
    corners = np.array([(-half[0], -half[1]), (half[0], -half[1]), half, (-half[0], half[1])])
    corners = corners @ np.array(((c, s), (-s, c)))
    reach = np.abs(corners).max(axis=0)
    bounds = np.array(polygon.bounds)
    low, high = bounds[:2] + reach, bounds[2:] - reach
    if np.any(low > high):
        return None
    grid = np.meshgrid(np.linspace(low[0], high[0], count), np.linspace(low[1], high[1], count))
    middles = np.stack(grid, axis=-1).reshape(-1, 2)
    boxes = shapely.polygons(middles[:, None, :] + corners[None, :, :])
    free = shapely.contains(polygon, boxes)
    free[free] = ~shapely.intersects(taken, boxes[free])
    if not free.any():
        return None
    found = middles[free]
    best = found[int(np.argmin(np.hypot(*(found - 0.5 * (bounds[:2] + bounds[2:])).T)))]
    return float(best[0]), float(best[1])


def _leans(outer: Floats) -> list[float]:
    """Directions of the longest edges that run neither level nor upright, degrees, from -90 to 90."""
    along = np.roll(outer, -1, axis=0) - outer
    found: list[float] = []
    for edge in np.argsort(-np.hypot(along[:, 0], along[:, 1]), kind="stable")[:_EDGES]:
        lean = math.degrees(math.atan2(along[edge, 1], along[edge, 0])) % 180.0
        lean = lean - 180.0 if lean > 90.0 else lean
        if all(abs((lean - other + 90.0) % 180.0 - 90.0) > _UNLIKE for other in (0.0, 90.0, *found)):
            found.append(lean)
    return found


def about_unnumbered(parts: Sequence[CutPart]) -> list[Finding]:
    """One note about all parts that have no room for their number."""
    if not parts:
        return []
    listed = ", ".join(part.id for part in parts[:_LISTED])
    more = f" and {len(parts) - _LISTED} more" if len(parts) > _LISTED else ""
    said = (
        f"no room to mark the part number on {listed}{more}: label them as they come off the machine, or choose lower "
        "part numbers"
    )
    return [Finding(FabricationCode.NUMBER_LEFT_OUT, Severity.NOTE, said, subject=parts[0].letter)]


def _lines_of(piece: Piece) -> tuple[Contour, ...]:
    return (*piece.marks, *(stroke for text in piece.texts for stroke in text.strokes))
