"""`labels.pdf`: a label for every part cut, with a code a phone can read.

Grids are told by measurement only; any sheet of labels with the same measures fits.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import inch, mm
from reportlab.pdfgen.canvas import Canvas

from app.job.cutting import Page
from app.job.document import DisplayUnits
from app.output.cut_sheet import CutSheet, Piece
from app.output.qr import draw_code
from app.output.typeface import BODY, BOLD, fitted, printable, register
from app.output.words import piece_text
from app.planning.job_plan import JobPlan
from geometry.measure import region_bounds
from geometry.units import format_length


@dataclass(frozen=True, slots=True)
class LabelGrid:
    """Labels on a page, points: `left` and `top` are the page's edges to the first label, gaps lie between labels.

    `pad` is left free inside a label: more where labels reach the page's edge, which printers cannot.
    """

    name: str
    page: tuple[float, float]
    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    column_gap: float = 0.0
    row_gap: float = 0.0
    pad: float = 5.0

    @property
    def per_page(self) -> int:
        """Labels on a page."""
        return self.columns * self.rows

    def corner(self, index: int) -> tuple[float, float]:
        """Lower left corner of the index-th label (0-based, row by row from the top), points."""
        row, column = divmod(index, self.columns)
        x = self.left + column * (self.width + self.column_gap)
        y = self.page[1] - self.top - (row + 1) * self.height - row * self.row_gap
        return x, y


LETTER_30: Final = LabelGrid(
    "30 per Letter page, 2 5/8 x 1 in",
    LETTER,
    3,
    10,
    2.625 * inch,
    1.0 * inch,
    0.1875 * inch,
    0.5 * inch,
    column_gap=0.125 * inch,
)
A4_24: Final = LabelGrid("24 per A4 page, 70 x 37 mm", A4, 3, 8, 70 * mm, 37 * mm, 0.0, 0.5 * mm, pad=5 * mm)


def grid_for(units: DisplayUnits, page: Page = Page.BY_UNITS) -> LabelGrid:
    """The paper chosen, or by the units: Letter for jobs in inches, A4 for jobs in millimetres."""
    is_letter = units is DisplayUnits.INCHES if page is Page.BY_UNITS else page is Page.LETTER
    return LETTER_30 if is_letter else A4_24


def write_labels(plan: JobPlan, sheets: Sequence[CutSheet], path: Path, *, grid: LabelGrid | None = None) -> None:
    """Write a label per part cut, sheet by sheet in the order in which the parts come free."""
    register()
    grid = grid or grid_for(plan.job.units, plan.job.cutting.page)
    canvas: Any = Canvas(str(path), pagesize=grid.page)
    canvas.setTitle(f"{printable(plan.job.name)}: labels ({grid.name})")
    canvas.setAuthor("Letterbed")
    letters = {letter.id: letter.name for lettering in plan.lettering for letter in lettering.letters}
    wanted = list(_labels(sheets))
    for number, (cut, piece) in enumerate(wanted):
        place = number % grid.per_page
        if number and place == 0:
            canvas.showPage()
        _draw(canvas, grid, place, plan, cut, piece, letters.get(piece.part.letter, ""))
    if not wanted:
        canvas.setFont(BODY, 10)
        canvas.drawString(inch, grid.page[1] - inch, "No part is placed, so there is nothing to label.")
    canvas.save()


def code_text(piece: Piece) -> str:
    """What the code on a label says: "part line1-03-face copy 1"."""
    return piece_text(piece.part.id, piece.copy)


def _labels(sheets: Sequence[CutSheet]) -> Iterator[tuple[CutSheet, Piece]]:
    for cut in sheets:
        for piece in cut.pieces:
            yield cut, piece


def _draw(canvas: Any, grid: LabelGrid, place: int, plan: JobPlan, cut: CutSheet, piece: Piece, letter: str) -> None:
    (x, y), pad = grid.corner(place), grid.pad
    side = min(grid.height - 2 * pad, 0.36 * grid.width)
    draw_code(canvas, code_text(piece), x + grid.width - pad - side, y + (grid.height - side) / 2, side)
    room = grid.width - 2.5 * pad - side
    bounds, units = region_bounds(piece.part.region), plan.job.units.value
    size = f"{format_length(bounds.width, units)} × {format_length(bounds.height, units)}"
    lines = [
        (f"{letter}  {piece.part.role.value}" if letter else piece.part.name, BOLD, 11.0),
        (piece.part.id, BOLD, 7.0),
        (size, BODY, 7.0),
        (cut.planned.material.name, BODY, 7.0),
        (
            f"sheet {cut.planned.number}  no. {piece.number}  copy {piece.copy + 1} of {piece.part.quantity}",
            BOLD,
            7.5,
        ),
        (plan.job.name, BODY, 6.0),
    ]
    pitch = (grid.height - 2 * pad) / (len(lines) + 0.35)
    canvas.setFillGray(0.0)
    for index, (words, face, wanted) in enumerate(lines):
        text, fit = fitted(printable(words), room, min(wanted, pitch), face=face, smallest=4.5)
        canvas.setFont(face, fit)
        canvas.drawString(x + pad, y + grid.height - pad - (index + 0.95) * pitch, text)
