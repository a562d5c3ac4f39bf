"""The list of parts beside a sheet's drawing, roomy or dense, painted by hand so that it fills its columns."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from app.cutting.operations import is_small
from app.output.cut_sheet import Piece
from app.output.typeface import BODY, BOLD, fitted, printable, text_width
from geometry.measure import region_bounds
from geometry.units import format_length

_NUMBER: Final = 20.0  # points for the number before each entry
_BETWEEN: Final = 8.0  # points between columns
_HOLD: Final = "hold"


@dataclass(frozen=True, slots=True)
class Density:
    """How much room an entry takes, points: with its name on a second line, or all on one."""

    row: float
    column: float
    has_name: bool

    def columns_for(self, count: int, height: float) -> int:
        """Columns that `count` entries need in a given height."""
        return max(math.ceil(count / max(int(height // self.row), 1)), 1)

    def height_for(self, count: int, width: float) -> float:
        """Height that `count` entries take in as many columns as fit a given width."""
        return math.ceil(count / max(int(width // self.column), 1)) * self.row


ROOMY: Final = Density(17.5, 152.0, has_name=True)
DENSE: Final = Density(10.0, 186.0, has_name=False)


def paint_list(
    canvas: Any,
    pieces: Sequence[Piece],
    density: Density,
    *,
    at: tuple[float, float],
    columns: int,
    column_width: float,
    units: str,
) -> None:
    """Paint entries down one column after the other; `at` is the upper left corner, points."""
    rows = math.ceil(len(pieces) / columns)
    entry = _roomy if density.has_name else _dense
    for index, piece in enumerate(pieces):
        column, row = divmod(index, rows)
        x, top, width = at[0] + column * column_width, at[1] - row * density.row, column_width - _BETWEEN
        canvas.setFillGray(0.0)
        entry(canvas, piece, x, top, width, units)
        canvas.setLineWidth(0.15)
        canvas.line(x, top - density.row + 0.8, x + width, top - density.row + 0.8)


def _size(piece: Piece, units: str) -> str:
    bounds = region_bounds(piece.part.region)
    return f"{format_length(bounds.width, units)} × {format_length(bounds.height, units)}"


def _title(piece: Piece) -> str:
    return printable(f"{piece.part.id} copy {piece.copy + 1}")


def _roomy(canvas: Any, piece: Piece, x: float, top: float, width: float, units: str) -> None:
    canvas.setFont(BOLD, 8)
    canvas.drawRightString(x + _NUMBER - 4, top - 8, str(piece.number))
    hold = is_small(piece.part)
    room = width - _NUMBER - (text_width(_HOLD, 6.5, face=BOLD) + 4 if hold else 0)
    title, size = fitted(_title(piece), room, 7.0, face=BOLD, smallest=5.5)
    canvas.setFont(BOLD, size)
    canvas.drawString(x + _NUMBER, top - 7.5, title)
    if hold:
        canvas.setFont(BOLD, 6.5)
        canvas.drawRightString(x + width, top - 7.5, _HOLD)
    measures = _size(piece, units)
    room = width - _NUMBER - 4 - text_width(measures, 6.2)
    name, size = fitted(printable(piece.part.name), room, 6.2, smallest=5.2)
    canvas.setFont(BODY, size)
    canvas.drawString(x + _NUMBER, top - 14.3, name)
    canvas.setFont(BODY, 6.2)
    canvas.drawRightString(x + width, top - 14.3, measures)


def _dense(canvas: Any, piece: Piece, x: float, top: float, width: float, units: str) -> None:
    y = top - 7.2
    canvas.setFont(BOLD, 7)
    canvas.drawRightString(x + _NUMBER - 4, y, str(piece.number))
    measures, hold_room = _size(piece, units), text_width(_HOLD, 6.0, face=BOLD) + 4
    canvas.setFont(BODY, 6.0)
    canvas.drawRightString(x + width, y, measures)
    room = width - _NUMBER - 4 - text_width(measures, 6.0)
    if is_small(piece.part):
        room -= hold_room
        canvas.setFont(BOLD, 6.0)
        canvas.drawRightString(x + width - text_width(measures, 6.0) - 4, y, _HOLD)
    title, size = fitted(_title(piece), room, 6.6, face=BOLD, smallest=5.2)
    canvas.setFont(BOLD, size)
    canvas.drawString(x + _NUMBER, y, title)
