"""The operator's page of a sheet: a large drawing, the list of its parts, what the machine must be set to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final
from xml.sax.saxutils import escape

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, Paragraph

from app.cutting.operations import SMALL_AREA, SMALL_WIDTH, is_small
from app.job.document import DisplayUnits, Job
from app.output.canvas import paint
from app.output.cut_sheet import CutSheet, Piece
from app.output.drawing import CUT, HATCH, TAB, draw_sheet, scale_to_fit
from app.output.operator_notes import cautions, holding, how_to_cut, minutes_text
from app.output.report_lead import format_long, format_short
from app.output.report_part_list import DENSE, ROOMY, Density, paint_list
from app.output.report_style import CAUTION_TEXT, FOOTER, PAGE_MARGIN
from app.output.typeface import BODY, BOLD, fitted, printable, text_width
from app.output.words import CAUTION, DEFINITIONS, stock_size, thickness_text
from geometry.units import MM_PER

_HEAD: Final = 78.0
_KEY: Final = 16.0
_GAP: Final = 10.0
_LEAST_DRAWING: Final = 100.0
_WORTH_IT: Final = 0.8
"""The list stays on the drawing's page unless it makes the drawing smaller than this share of what it could be."""
_AS_LARGE: Final = 0.97
"""A roomy list is taken when the drawing beside it is at least this share of the one beside a dense list."""
_CAUTION: Final = ParagraphStyle("sheet caution", parent=CAUTION_TEXT)
_NOTES: Final = ParagraphStyle("operator notes", fontName=BODY, fontSize=6.6, leading=8.2)


@dataclass(frozen=True, slots=True)
class _Arrangement:
    """Where drawing and list go: the drawing's room, and the list's columns (0 when it has a page of its own)."""

    is_landscape: bool
    width: float
    height: float
    density: Density
    list_columns: int
    list_is_beside: bool
    scale: float


def sheet_pages(
    cut: CutSheet, job: Job, sheet_count: int, page_size: tuple[float, float]
) -> Iterator[tuple[bool, Flowable]]:
    """The pages of one sheet, each with whether it lies on its side; `page_size` is upright, points."""
    arrangement = _arrange(cut, page_size, job.units)
    yield arrangement.is_landscape, _SheetPage(cut, job, sheet_count, arrangement)
    if arrangement.list_columns == 0:
        per_page = _rows_per_page(page_size, arrangement.is_landscape)
        for first in range(0, len(cut.pieces), per_page):
            yield arrangement.is_landscape, _ListPage(cut, job, sheet_count, cut.pieces[first : first + per_page])


def _inner(page_size: tuple[float, float], is_landscape: bool) -> tuple[float, float]:
    width, height = (page_size[1], page_size[0]) if is_landscape else page_size
    return width - 2 * PAGE_MARGIN, height - 2 * PAGE_MARGIN - FOOTER


@lru_cache(maxsize=16)
def _caution_height(width: float) -> float:
    _, height = _caution(width).wrap(width - 8, 1000)
    return float(height) + 8.0


def _caution(width: float) -> Any:
    return Paragraph(f"<b>CAUTION.</b> {escape(CAUTION)}", _CAUTION)


def _notes(cut: CutSheet, units: DisplayUnits) -> Any:
    return Paragraph(_notes_markup(cut, units), _NOTES)


@lru_cache(maxsize=4)
def _notes_markup(cut: CutSheet, units: DisplayUnits) -> str:
    """How to cut, what to hold, what to watch."""
    parts = [f"<b>How.</b> {escape(printable(how_to_cut(cut)))}"]
    held = holding(cut, units)
    if held:
        parts.append(f"<b>Hold.</b> {escape(printable(held[:1].upper() + held[1:]))}.")
    watched = cautions(cut, units)
    if watched:
        parts.append(f"<b>Watch.</b> {escape(printable('. '.join(watched)))}.")
    return " ".join(parts)


@lru_cache(maxsize=16)
def _notes_height(cut: CutSheet, units: DisplayUnits, width: float) -> float:
    _, height = _notes(cut, units).wrap(width, 1000)
    return float(height) + 4.0


def _arrange(cut: CutSheet, page_size: tuple[float, float], units: DisplayUnits) -> _Arrangement:
    alone = max(
        (
            _Arrangement(lying, width, height, ROOMY, 0, False, scale_to_fit(cut, width, height))
            for lying, width, height in _rooms(cut, page_size, units)
        ),
        key=lambda one: one.scale,
    )
    roomy, dense = (_best_with_list(cut, page_size, units, density) for density in (ROOMY, DENSE))
    best = dense
    if roomy is not None and (dense is None or roomy.scale >= _AS_LARGE * dense.scale):
        best = roomy
    return best if best is not None and best.scale >= _WORTH_IT * alone.scale else alone


def _rooms(cut: CutSheet, page_size: tuple[float, float], units: DisplayUnits) -> Iterator[tuple[bool, float, float]]:
    """What drawing and list may take, upright and lying, points."""
    for is_landscape in (False, True):
        width, height = _inner(page_size, is_landscape)
        below = _KEY + _caution_height(width) + _notes_height(cut, units, width)
        yield is_landscape, width, height - _HEAD - below - _GAP


def _best_with_list(
    cut: CutSheet, page_size: tuple[float, float], units: DisplayUnits, density: Density
) -> _Arrangement | None:
    choices = []
    count = len(cut.pieces)
    for lying, width, height in _rooms(cut, page_size, units):
        columns = density.columns_for(count, height)
        beside = width - columns * density.column - _GAP
        if beside > _LEAST_DRAWING:
            scale = scale_to_fit(cut, beside, height)
            choices.append(_Arrangement(lying, beside, height, density, columns, True, scale))
        below = height - density.height_for(count, width) - _GAP
        if below > _LEAST_DRAWING:
            scale = scale_to_fit(cut, width, below)
            choices.append(_Arrangement(lying, width, below, density, int(width // density.column), False, scale))
    return max(choices, key=lambda one: one.scale, default=None)


def _rows_per_page(page_size: tuple[float, float], is_landscape: bool) -> int:
    width, height = _inner(page_size, is_landscape)
    return int(width // ROOMY.column) * int((height - _HEAD - _KEY) // ROOMY.row)


class _Page(Flowable):  # type: ignore[misc]
    """A flowable that fills its page and paints itself by hand, from the top down."""

    def __init__(self, cut: CutSheet, job: Job, sheet_count: int) -> None:
        super().__init__()
        self._cut = cut
        self._job = job
        self._sheet_count = sheet_count

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Take all the room there is."""
        self.width, self.height = width, height
        return width, height

    def _head(self, title: str, *, with_figures: bool) -> None:
        canvas, sheet = self.canv, self._cut.planned
        units = self._job.units
        top = self.height
        canvas.setFillGray(0.0)
        name, size = fitted(printable(self._job.name), self.width * 0.5, 10.0, face=BODY)
        canvas.setFont(BOLD, 18)
        canvas.drawString(0, top - 16, title)
        canvas.setFont(BOLD, 10)
        canvas.drawRightString(self.width, top - 10, printable(sheet.file))
        canvas.setFont(BODY, size)
        canvas.drawRightString(self.width, top - 22, name)
        material = (
            f"{sheet.material.name}, {thickness_text(sheet.material.thickness)} thick; "
            f"stock {sheet.stock.name}: {stock_size(sheet.stock, units.value)}"
        )
        line, size = fitted(printable(material), self.width, 9.0, smallest=6.0)
        canvas.setFont(BODY, size)
        canvas.drawString(0, top - 34, line)
        canvas.setLineWidth(0.8)
        canvas.line(0, top - 40, self.width, top - 40)
        if with_figures:
            self._figures(top - 40)

    def _figures(self, top: float) -> None:
        canvas, cut, sheet, units = self.canv, self._cut, self._cut.planned, self._job.units
        cells = [
            ("cutter", sheet.cutter.name),
            ("diameter", format_short(sheet.cutter.diameter, units)),
            ("spacing", format_short(sheet.spacing, units)),
            ("margin", format_short(sheet.margin, units)),
            ("zero", "lower left corner"),
            ("file units", "inches" if units is DisplayUnits.INCHES else "millimetres"),
            ("parts", str(len(cut.pieces))),
            ("cut length", format_long(cut.summary.cut_length, units)),
            ("pierces", str(cut.summary.pierce_count)),
            ("about", minutes_text(cut.time.total_s)),
            ("net yield *", f"{cut.net_yield:.1%}"),
        ]
        cells[0] = (cells[0][0], fitted(printable(cells[0][1]), self.width * 0.2, 8.5, face=BOLD, smallest=8.5)[0])

        def widths(size: float) -> list[float]:
            return [max(text_width(name, 6.2), text_width(value, size, face=BOLD)) for name, value in cells]

        least_gap = 5.0
        size = 8.5
        while size > 5.5 and sum(widths(size)) + least_gap * (len(cells) - 1) > self.width:
            size -= 0.1
        gap = (self.width - sum(widths(size))) / (len(cells) - 1)
        x = 0.0
        for (name, value), wide in zip(cells, widths(size), strict=True):
            canvas.setFont(BODY, 6.2)
            canvas.drawString(x, top - 9, name)
            canvas.setFont(BOLD, size)
            canvas.drawString(x, top - 19, value)
            x += wide + gap
        canvas.setLineWidth(0.25)
        canvas.line(0, top - 25, self.width, top - 25)
        canvas.setFont(BODY, 6.0)
        canvas.drawString(
            0,
            top - 33,
            f"* {DEFINITIONS['net yield']}. Numbers: order in which the parts come free; the same in the cut file.",
        )

    def _key(self, y: float) -> None:
        """What the marks in drawing and list mean, on one line."""
        canvas, units = self.canv, self._job.units
        x = 0.0
        canvas.setFont(BODY, 6.2)
        sheet = self._cut.planned
        marks = [
            (self._key_part, "part", True),
            (self._key_margin, "margin", sheet.margin > 0),
            (self._key_keep_out, "keep out: clamp or flaw", bool(sheet.stock.keep_outs)),
            (self._key_offcut, "offcut to keep, cut last", bool(sheet.offcuts)),
            (self._key_tab, "tab", any(way.tabs for one in self._cut.operations for way in one.ways)),
        ]
        for draw, words in [(draw, words) for draw, words, is_there in marks if is_there]:
            canvas.saveState()
            draw(x, y)
            canvas.restoreState()
            canvas.drawString(x + 21, y + 1.5, words)
            x += 21 + text_width(words, 6.2) + 12
        if any(is_small(piece.part) for piece in self._cut.pieces):
            limit = format_short(SMALL_WIDTH, units)
            area = (
                f"{SMALL_AREA / MM_PER['in'] ** 2:.0f} in²"
                if units is DisplayUnits.INCHES
                else f"{SMALL_AREA / 100:.0f} cm²"
            )
            words = f"hold: below {area} or narrower than {limit}, may come loose"
            line, size = fitted(words, self.width - x, 6.2)
            canvas.setFont(BODY, size)
            canvas.drawString(x, y + 1.5, line)

    def _key_part(self, x: float, y: float) -> None:
        self.canv.setFillGray(0.86)
        self.canv.setLineWidth(0.55)
        self.canv.rect(x, y, 17, 7.5, fill=1)

    def _key_margin(self, x: float, y: float) -> None:
        self.canv.setDash([3, 2])
        self.canv.setLineWidth(0.35)
        self.canv.line(x, y + 3.75, x + 17, y + 3.75)

    def _key_keep_out(self, x: float, y: float) -> None:
        self._key_hatched(x, y, (-1, 1))

    def _key_offcut(self, x: float, y: float) -> None:
        self._key_hatched(x, y, (1,))

    def _key_tab(self, x: float, y: float) -> None:
        self.canv.setLineWidth(CUT.width)
        self.canv.line(x, y + 3.75, x + 17, y + 3.75)
        self.canv.setLineWidth(TAB.width)
        self.canv.line(x + 5, y + 3.75, x + 12, y + 3.75)

    def _key_hatched(self, x: float, y: float, leans: tuple[int, ...]) -> None:
        self.canv.setLineWidth(0.4)
        self.canv.rect(x, y, 17, 7.5)
        path = self.canv.beginPath()
        path.rect(x, y, 17, 7.5)
        self.canv.clipPath(path, stroke=0, fill=0)
        self.canv.setLineWidth(HATCH.width)
        for lean in leans:
            for step in range(-8, 26, 4):
                self.canv.line(x + step, y if lean > 0 else y + 7.5, x + step + 7.5, y + 7.5 if lean > 0 else y)

    def _caution(self) -> None:
        height = _caution_height(self.width)
        self.canv.setLineWidth(0.8)
        self.canv.rect(0, 0, self.width, height, fill=0)
        block = _caution(self.width)
        block.wrap(self.width - 8, height)
        block.drawOn(self.canv, 4, 3)


class _SheetPage(_Page):
    """Drawing, list and caution of a sheet."""

    def __init__(self, cut: CutSheet, job: Job, sheet_count: int, arrangement: _Arrangement) -> None:
        super().__init__(cut, job, sheet_count)
        self._arrangement = arrangement

    def draw(self) -> None:
        """Paint the page."""
        at, number = self._arrangement, self._cut.planned.number
        key = f"sheet-{number}"
        self.canv.bookmarkPage(key)
        self.canv.addOutlineEntry(f"Sheet {number}", key, level=1)
        self._head(f"Sheet {number} of {self._sheet_count}", with_figures=True)
        top = self.height - _HEAD
        drawing = draw_sheet(
            self._cut,
            at.width,
            at.height,
            units=self._job.units.value,
            measure=lambda words, size: text_width(words, size, face=BOLD),
        )
        is_beside = at.list_columns > 0 and at.list_is_beside
        paint(self.canv, drawing, 0.0 if is_beside else (at.width - drawing.width) / 2, top - drawing.height)
        if at.list_columns:
            # Beside, the list moves up to the drawing where that is narrower than its room.
            left = drawing.width + _GAP if is_beside else 0.0
            paint_list(
                self.canv,
                self._cut.pieces,
                at.density,
                at=(left, top if is_beside else top - drawing.height - _GAP),
                columns=at.list_columns,
                column_width=min((self.width - left) / at.list_columns, 1.5 * at.density.column),
                units=self._job.units.value,
            )
        notes = _notes(self._cut, self._job.units)
        _, height = notes.wrap(self.width, 1000)
        notes.drawOn(self.canv, 0, _caution_height(self.width) + 3.0)
        self._key(_caution_height(self.width) + height + 7.0)
        self._caution()


class _ListPage(_Page):
    """Parts of a sheet that found no room beside its drawing."""

    def __init__(self, cut: CutSheet, job: Job, sheet_count: int, pieces: Sequence[Piece]) -> None:
        super().__init__(cut, job, sheet_count)
        self._pieces = pieces

    def draw(self) -> None:
        """Paint the page."""
        self._head(f"Sheet {self._cut.planned.number} of {self._sheet_count}: list of parts", with_figures=False)
        columns = int(self.width // ROOMY.column)
        paint_list(
            self.canv,
            self._pieces,
            ROOMY,
            at=(0.0, self.height - 50.0),
            columns=columns,
            column_width=self.width / columns,
            units=self._job.units.value,
        )
        self._key(0.0)
