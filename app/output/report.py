"""`report.pdf`: one page for the shop lead, a page per sheet for the operator, then the lists."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, NextPageTemplate, PageBreak, PageTemplate, Paragraph

from app.job.cutting import Page
from app.job.document import DisplayUnits
from app.output.cut_sheet import CutSheet
from app.output.report_lead import lead_pages
from app.output.report_lists import buy_list, findings, parts_by_letter, settings_used
from app.output.report_seams import seams
from app.output.report_sheet import sheet_pages
from app.output.report_strips import strips_and_letters
from app.output.report_style import CAUTION_TEXT, FOOTER, PAGE_MARGIN
from app.output.typeface import BODY, fitted, printable, register
from app.output.words import CAUTION, counted
from app.planning.job_plan import JobPlan

_LEAD, _UPRIGHT, _LYING, _LIST = "lead", "sheet upright", "sheet lying", "list"
_PAGE_TOTAL: Final = "PageTotal"  # a PDF name: no spaces


def page_size_for(units: DisplayUnits, page: Page = Page.BY_UNITS) -> tuple[float, float]:
    """The paper chosen, or by the units: Letter for jobs in inches, A4 for jobs in millimetres; points, upright."""
    is_letter = units is DisplayUnits.INCHES if page is Page.BY_UNITS else page is Page.LETTER
    width, height = LETTER if is_letter else A4
    return width, height


def write_report(
    plan: JobPlan,
    sheets: Sequence[CutSheet],
    path: Path,
    *,
    when: datetime,
    page_size: tuple[float, float] | None = None,
) -> None:
    """Write the report. `page_size` is upright, points; by default what suits the job's units."""
    register()
    size = page_size or page_size_for(plan.job.units, plan.job.cutting.page)
    document = _document(plan, path, when, size)
    document.build(list(_story(plan, sheets, when, size)))


def _document(plan: JobPlan, path: Path, when: datetime, size: tuple[float, float]) -> Any:
    width, height = size
    lying = (height, width)
    caution = Paragraph(f"<b>CAUTION.</b> {escape(CAUTION)}", CAUTION_TEXT)
    _, caution_height = caution.wrap(width - 2 * PAGE_MARGIN - 8, height)
    name = printable(plan.job.name)

    def footer(canvas: Any, document: Any) -> None:
        page_width = document.pageTemplate.pagesize[0]
        canvas.saveState()
        canvas.setFillGray(0.0)
        text, fit = fitted(f"{name}, {when:%Y-%m-%d %H:%M}", page_width * 0.6, 7.0)
        canvas.setFont(BODY, fit)
        canvas.drawString(PAGE_MARGIN, PAGE_MARGIN - 6, text)
        canvas.setFont(BODY, 7.0)
        canvas.drawRightString(page_width - PAGE_MARGIN - 14, PAGE_MARGIN - 6, f"page {canvas.getPageNumber()} of ")
        # How many pages there are is known at the end only; the form is filled in then.
        canvas.translate(page_width - PAGE_MARGIN - 13, PAGE_MARGIN - 6)
        canvas.doForm(_PAGE_TOTAL)
        canvas.restoreState()

    def lead(canvas: Any, document: Any) -> None:
        canvas.saveState()
        canvas.setLineWidth(0.8)
        canvas.rect(PAGE_MARGIN, PAGE_MARGIN + FOOTER, width - 2 * PAGE_MARGIN, caution_height + 8)
        caution.drawOn(canvas, PAGE_MARGIN + 4, PAGE_MARGIN + FOOTER + 3)
        canvas.restoreState()
        footer(canvas, document)

    def frame(page: tuple[float, float], bottom: float = 0.0) -> Any:
        return Frame(
            PAGE_MARGIN,
            PAGE_MARGIN + FOOTER + bottom,
            page[0] - 2 * PAGE_MARGIN,
            page[1] - 2 * PAGE_MARGIN - FOOTER - bottom,
            leftPadding=0,
            rightPadding=0,
            topPadding=0,
            bottomPadding=0,
        )

    document: Any = BaseDocTemplate(
        str(path),
        pagesize=size,
        title=f"{name}: cutting plan",
        author="Letterbed",
        subject=f"{counted(len(plan.sheets), 'sheet')}, {when:%Y-%m-%d}",
        pageTemplates=[
            PageTemplate(_LEAD, [frame(size, caution_height + 14)], onPageEnd=lead, pagesize=size),
            PageTemplate(_UPRIGHT, [frame(size)], onPageEnd=footer, pagesize=size),
            PageTemplate(_LYING, [frame(lying)], onPageEnd=footer, pagesize=lying),
            PageTemplate(_LIST, [frame(size)], onPageEnd=footer, pagesize=size),
        ],
    )
    return document


def _story(plan: JobPlan, sheets: Sequence[CutSheet], when: datetime, size: tuple[float, float]) -> Iterator[Any]:
    width = size[0] - 2 * PAGE_MARGIN
    yield _Bookmark("overview", "Overview")
    yield from lead_pages(plan, sheets, when, width)
    for cut in sheets:
        for number, (is_lying, page) in enumerate(sheet_pages(cut, plan.job, len(sheets), size)):
            yield NextPageTemplate(_LYING if is_lying else _UPRIGHT)
            yield PageBreak()
            if number == 0 and cut is sheets[0]:
                yield _Bookmark("sheets", "Sheets")
            yield page
    yield NextPageTemplate(_LIST)
    yield PageBreak()
    yield _Bookmark("parts", "Parts by letter")
    yield from parts_by_letter(plan, sheets, width)
    if plan.seams:
        yield _Bookmark("seams", "Seams")
        yield from seams(plan, width)
    yield PageBreak()
    yield _Bookmark("strips", "Strips and letters")
    yield from strips_and_letters(plan, width)
    yield _Bookmark("buy", "Buy list")
    yield from buy_list(plan, width)
    yield PageBreak()
    yield _Bookmark("settings", "Settings used")
    yield from settings_used(plan, width)
    rest = list(findings(plan, width))
    if rest:
        yield _Bookmark("findings", "Findings")
        yield from rest
    yield _PageTotal()


class _Bookmark(Flowable):  # type: ignore[misc]
    """An entry in the PDF's outline; takes no room."""

    def __init__(self, key: str, title: str) -> None:
        super().__init__()
        self._key = key
        self._title = title

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """No size."""
        return 0.0, 0.0

    def draw(self) -> None:
        """Set the mark."""
        self.canv.bookmarkPage(self._key)
        self.canv.addOutlineEntry(self._title, self._key, level=0)


class _PageTotal(Flowable):  # type: ignore[misc]
    """Fills in the number of pages; must come last."""

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """No size."""
        return 0.0, 0.0

    def draw(self) -> None:
        """Define the form that every page's footer shows."""
        total = self.canv.getPageNumber()
        self.canv.beginForm(_PAGE_TOTAL)
        self.canv.setFont(BODY, 7.0)
        self.canv.drawString(0, 0, str(total))
        self.canv.endForm()
