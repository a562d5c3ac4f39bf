"""Labels for the pieces on the rack: what it is, how large, where from, with a code a phone can read."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from reportlab.lib.units import inch
from reportlab.pdfgen.canvas import Canvas

from app.job.document import DisplayUnits
from app.output.labels import LabelGrid, grid_for
from app.output.qr import draw_code
from app.output.typeface import BODY, BOLD, fitted, printable, register
from app.output.words import thickness_text
from app.stock.rack_items import RackOffcut
from geometry.units import format_length


def rack_code(piece: RackOffcut) -> str:
    """What the code on a label says: "offcut 12"."""
    return f"offcut {piece.id}"


def write_rack_labels(
    pieces: Sequence[RackOffcut],
    path: Path,
    *,
    units: DisplayUnits,
    names: dict[str, str],
    grid: LabelGrid | None = None,
) -> None:
    """Write one label per piece.

    Parameters
    ----------
    pieces : sequence of RackOffcut
    path : Path
    units : DisplayUnits
        Of the sizes, and by them the grid when none is given.
    names : dict
        Names of materials by id; a material that is not there is called by its id.
    grid : LabelGrid, optional
    """
    register()
    grid = grid or grid_for(units)
    canvas: Any = Canvas(str(path), pagesize=grid.page)
    canvas.setTitle(f"Rack labels ({grid.name})")
    canvas.setAuthor("Letterbed")
    for index, piece in enumerate(pieces):
        place = index % grid.per_page
        if index and place == 0:
            canvas.showPage()
        _draw(canvas, grid, place, piece, units, names.get(piece.material, piece.material))
    if not pieces:
        canvas.setFont(BODY, 10)
        canvas.drawString(inch, grid.page[1] - inch, "No piece is named, so there is nothing to label.")
    canvas.save()


def label_lines(piece: RackOffcut, units: DisplayUnits, material: str) -> list[str]:
    """The label's words, most important first."""
    width, height = (format_length(side, units.value) for side in (piece.width, piece.height))
    found = piece.measured.thickness if piece.measured else None
    thickness = f"{thickness_text(found or piece.thickness)} thick{', measured' if found else ''}"
    measured = "size measured" if piece.measured else "size as planned: measure it"
    origin = f"from {piece.job}, " if piece.job else ""
    return [
        f"OFFCUT {piece.id}" + (f"   {piece.slot}" if piece.slot else ""),
        f"{width} × {height}",
        material,
        thickness,
        f"{f'lot {piece.lot}' if piece.lot else 'lot not known'}, {measured}",
        f"{origin}{piece.kept_at:%Y-%m-%d}",
    ]


def _draw(canvas: Any, grid: LabelGrid, place: int, piece: RackOffcut, units: DisplayUnits, material: str) -> None:
    (x, y), pad = grid.corner(place), 4.0
    side = min(grid.height - 2 * pad, 0.36 * grid.width)
    draw_code(canvas, rack_code(piece), x + grid.width - pad - side, y + (grid.height - side) / 2, side)
    room = grid.width - 2.5 * pad - side
    lines = label_lines(piece, units, material)
    pitch = (grid.height - 2 * pad) / (len(lines) + 0.35)
    canvas.setFillGray(0.0)
    for index, words in enumerate(lines):
        face = BOLD if index < 2 else BODY
        shown, fit = fitted(printable(words), room, min(11.0 if index < 2 else 7.0, pitch), face=face, smallest=4.5)
        canvas.setFont(face, fit)
        canvas.drawString(x + pad, y + grid.height - pad - (index + 0.95) * pitch, shown)
