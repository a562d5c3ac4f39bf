"""A plain PDF of headings, sentences and tables, with a footer on every page: for what is not a plan's report."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from reportlab.platypus import SimpleDocTemplate

from app.output.report_style import FOOTER, PAGE_MARGIN
from app.output.typeface import BODY, fitted, printable, register

_FRAME_PAD: Final = 6.0
"""What the document class leaves free inside its margins, points."""


def text_room(size: tuple[float, float]) -> float:
    """Width for text on a page of that size, points."""
    return size[0] - 2 * PAGE_MARGIN


def write_pages(path: Path, title: str, story: Iterable[Any], *, when: datetime, size: tuple[float, float]) -> None:
    """Write a PDF; `size` is the page's in points, `title` stands in its footer with the date."""
    register()
    shown = printable(title)

    def footer(canvas: Any, document: Any) -> None:
        canvas.saveState()
        words, fit = fitted(f"{shown}, {when:%Y-%m-%d %H:%M}", size[0] * 0.7, 7.0)
        canvas.setFont(BODY, fit)
        canvas.drawString(PAGE_MARGIN, PAGE_MARGIN - 6, words)
        canvas.setFont(BODY, 7.0)
        canvas.drawRightString(size[0] - PAGE_MARGIN, PAGE_MARGIN - 6, f"page {canvas.getPageNumber()}")
        canvas.restoreState()

    document: Any = SimpleDocTemplate(
        str(path),
        pagesize=size,
        title=shown,
        author="Letterbed",
        leftMargin=PAGE_MARGIN - _FRAME_PAD,
        rightMargin=PAGE_MARGIN - _FRAME_PAD,
        topMargin=PAGE_MARGIN,
        bottomMargin=PAGE_MARGIN + FOOTER,
    )
    document.build(list(story), onFirstPage=footer, onLaterPages=footer)
