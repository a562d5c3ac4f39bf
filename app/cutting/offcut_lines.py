"""The lines along which an offcut is freed from the sheet."""

from __future__ import annotations

from typing import Final

from app.planning.job_plan import Offcut, PlannedSheet
from geometry.build import rectangle
from geometry.contour import Contour
from geometry.curve import Line, Point

_AT_EDGE: Final = 0.01
"""mm; an offcut's side this near the sheet's edge or its margin is not cut."""


def offcut_lines(offcut: Offcut, sheet: PlannedSheet) -> tuple[Contour, ...]:
    """Straight lines from edge to edge of the sheet that free a strip; else the offcut's rectangle.

    Lines are the finished edge of the offcut, mm in the sheet's frame: the cutter runs on the parts' side of them.
    """
    width, height, margin = sheet.stock.width, sheet.stock.height, sheet.margin + _AT_EDGE
    left, bottom = offcut.x, offcut.y
    right, top = offcut.x + offcut.width, offcut.y + offcut.height
    if offcut.is_strip:
        across = left <= margin and right >= width - margin
        along = bottom <= margin and top >= height - margin
        # A strip that fills the sheet both ways is a sheet with nothing on it: there is nothing to cut.
        if across and not along:
            return tuple(_line((0.0, y), (width, y)) for y in (bottom, top) if margin < y < height - margin)
        if along and not across:
            return tuple(_line((x, 0.0), (x, height)) for x in (left, right) if margin < x < width - margin)
        if across and along:
            return ()
    return (rectangle(offcut.width, offcut.height, at=(left, bottom)),)


def _line(start: Point, end: Point) -> Contour:
    return Contour((Line(start, end),), is_closed=False)
