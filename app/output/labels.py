"""`labels.pdf`: a label for every part cut, with a code a phone can read.

Grids are told by measurement only; any sheet of labels with the same measures fits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import inch, mm
from reportlab.pdfgen.canvas import Canvas

from app.job.cutting import Page
from app.job.document import DisplayUnits, Job
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


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on one label, from the top down, and what its code says; little enough to hand to another process."""

    lines: tuple[str, ...]
    code: str


_TYPE: Final = ((BOLD, 11.0), (BOLD, 7.0), (BODY, 7.0), (BODY, 7.0), (BOLD, 7.5), (BODY, 6.0))
"""Face and largest size of each line, points."""


def write_labels(plan: JobPlan, sheets: Sequence[CutSheet], path: Path, *, grid: LabelGrid | None = None) -> None:
    """Write a label per part cut, sheet by sheet in the order in which the parts come free."""
    paint_labels(labels_of(plan, sheets), plan.job, path, grid=grid)


def labels_of(plan: JobPlan, sheets: Sequence[CutSheet]) -> tuple[Label, ...]:
    """The label of every part cut, in the order of the sheets and their numbers."""
    letters = {letter.id: letter.name for lettering in plan.lettering for letter in lettering.letters}
    return tuple(
        _label(plan.job, cut, piece, letters.get(piece.part.letter, "")) for cut in sheets for piece in cut.pieces
    )


def paint_labels(labels: Sequence[Label], job: Job, path: Path, *, grid: LabelGrid | None = None) -> None:
    """Write labels already worded."""
    register()
    grid = grid or grid_for(job.units, job.cutting.page)
    canvas: Any = Canvas(str(path), pagesize=grid.page)
    canvas.setTitle(f"{printable(job.name)}: labels ({grid.name})")
    canvas.setAuthor("Letterbed")
    for number, label in enumerate(labels):
        place = number % grid.per_page
        if number and place == 0:
            canvas.showPage()
        _draw(canvas, grid, place, label)
    if not labels:
        canvas.setFont(BODY, 10)
        canvas.drawString(inch, grid.page[1] - inch, "No part is placed, so there is nothing to label.")
    canvas.save()


def code_text(piece: Piece) -> str:
    """What the code on a label says: "part line1-03-face copy 1"."""
    return piece_text(piece.part.id, piece.copy)


def _label(job: Job, cut: CutSheet, piece: Piece, letter: str) -> Label:
    bounds, units = region_bounds(piece.part.region), job.units.value
    return Label(
        (
            f"{letter}  {piece.part.role.value}" if letter else piece.part.name,
            piece.part.id,
            f"{format_length(bounds.width, units)} × {format_length(bounds.height, units)}",
            cut.planned.material.name,
            f"sheet {cut.planned.number}  no. {piece.number}  copy {piece.copy + 1} of {piece.part.quantity}",
            job.name,
        ),
        code_text(piece),
    )


def _draw(canvas: Any, grid: LabelGrid, place: int, label: Label) -> None:
    (x, y), pad = grid.corner(place), grid.pad
    side = min(grid.height - 2 * pad, 0.36 * grid.width)
    draw_code(canvas, label.code, x + grid.width - pad - side, y + (grid.height - side) / 2, side)
    room = grid.width - 2.5 * pad - side
    pitch = (grid.height - 2 * pad) / (len(_TYPE) + 0.35)
    canvas.setFillGray(0.0)
    for index, (words, (face, wanted)) in enumerate(zip(label.lines, _TYPE, strict=True)):
        text, fit = fitted(printable(words), room, min(wanted, pitch), face=face, smallest=4.5)
        canvas.setFont(face, fit)
        canvas.drawString(x + pad, y + grid.height - pad - (index + 0.95) * pitch, text)
