"""What a part may be cut from: the usable rectangles of a material's sheets, and whether a piece fits one."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from app.stock.book import Material, StockSheet
from geometry.contour import Region
from geometry.flatten import Side, flatten_region

FLATTENED: Final = 0.1
"""Fit is judged on polygons that contain the true shape within this, mm; the same as what is nested."""

_SLACK: Final = 1e-6
_TURNS: Final = 24
"""Evenly spread angles tried beside those that lay a straight side flush."""


@dataclass(frozen=True, slots=True)
class Room:
    """A rectangle a part may lie in on some sheet, margin taken off, mm. A turned part is a question of `is_turnable`.

    Fields
    ------
    width, height : float
        mm
    is_turnable : bool
        False where the grain must run along the letter.
    sheet : StockSheet
    """

    width: float
    height: float
    is_turnable: bool
    sheet: StockSheet


def rooms_of(material: Material, stock: Iterable[StockSheet]) -> tuple[Room, ...]:
    """Usable rectangles of every sheet size of a material that can be had; keep-outs are left to the nesting."""
    return tuple(
        Room(
            sheet.width - 2.0 * material.margin,
            sheet.height - 2.0 * material.margin,
            not material.has_grain,
            sheet,
        )
        for sheet in stock
        if sheet.material == material.id and sheet.count != 0
    )


def fits(region: Region, rooms: Sequence[Room]) -> bool:
    """Whether a piece lies in some room at an allowed angle; a few dozen angles are tried where any is allowed."""
    outline = flatten_region(Region(region.outer), FLATTENED, Side.OUTSIDE)
    return polygon_fits(shapely.Polygon(outline.outer), rooms)


def polygon_fits(polygon: Any, rooms: Sequence[Room]) -> bool:
    """The same for a shapely polygon."""
    hull = np.asarray(shapely.get_coordinates(shapely.convex_hull(polygon))[:-1])
    if any(_fits_upright(hull, room) for room in rooms):
        return True
    turnable = [room for room in rooms if room.is_turnable]
    if not turnable:
        return False
    sides = np.roll(hull, -1, axis=0) - hull
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    longest = np.argsort(-lengths, kind="stable")[:40]
    leans = np.arctan2(sides[longest, 1], sides[longest, 0])
    angles = np.concatenate([-leans, np.arange(_TURNS) * (math.pi / 2.0 / _TURNS)])
    for angle in angles:
        c, s = math.cos(angle), math.sin(angle)
        width = float(np.ptp(c * hull[:, 0] - s * hull[:, 1]))
        height = float(np.ptp(s * hull[:, 0] + c * hull[:, 1]))
        for room in turnable:
            if holds(room, width, height):
                return True
    return False


def holds(room: Room, width: float, height: float) -> bool:
    """Whether a rectangle lies in the room, upright or, where it may be turned, on its side."""
    if width <= room.width + _SLACK and height <= room.height + _SLACK:
        return True
    return room.is_turnable and height <= room.width + _SLACK and width <= room.height + _SLACK


def _fits_upright(hull: NDArray[np.float64], room: Room) -> bool:
    return holds(room, float(np.ptp(hull[:, 0])), float(np.ptp(hull[:, 1])))
