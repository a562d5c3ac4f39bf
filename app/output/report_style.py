"""The report's own plain style: black on white, few sizes, thin lines, nothing that needs colour."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final
from xml.sax.saxutils import escape

from reportlab.lib.colors import black, white
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import LongTable, Paragraph, TableStyle

from app.output.typeface import BODY, BOLD, printable, text_width

PAGE_MARGIN: Final = 36.0
FOOTER: Final = 22.0
_PAD: Final = 3.0  # left and right in a table's cell

TITLE: Final = ParagraphStyle("title", fontName=BOLD, fontSize=18, leading=22, spaceAfter=2)
HEADING: Final = ParagraphStyle("heading", fontName=BOLD, fontSize=11, leading=14, spaceBefore=12, spaceAfter=4)
BODY_TEXT: Final = ParagraphStyle("body", fontName=BODY, fontSize=8.5, leading=11.5, spaceAfter=3)
SMALL: Final = ParagraphStyle("small", fontName=BODY, fontSize=7, leading=9)
SMALL_BOLD: Final = ParagraphStyle("small bold", parent=SMALL, fontName=BOLD)
SMALL_RIGHT: Final = ParagraphStyle("small right", parent=SMALL, alignment=2)
SMALL_RIGHT_BOLD: Final = ParagraphStyle("small right bold", parent=SMALL_BOLD, alignment=2)
ALERT: Final = ParagraphStyle("alert", fontName=BOLD, fontSize=11, leading=14, textColor=white)
CAUTION_TEXT: Final = ParagraphStyle("caution", fontName=BODY, fontSize=6.4, leading=8)


def text(words: str, style: ParagraphStyle = SMALL) -> Any:
    """A paragraph of text from the outside: nothing in it is markup, and nothing prints as an empty box."""
    return Paragraph(escape(printable(words)), style)


def rich(markup: str, style: ParagraphStyle = BODY_TEXT) -> Any:
    """A paragraph of our own words with markup; what comes from the outside in it must be escaped."""
    return Paragraph(markup, style)


def outside(words: str) -> str:
    """Text from the outside made safe for `rich`."""
    return escape(printable(words))


def table(
    headings: Sequence[str],
    rows: Sequence[Sequence[object]],
    widths: Sequence[float],
    *,
    right: Sequence[int] = (),
    extra: Sequence[tuple[Any, ...]] = (),
) -> Any:
    """A table with a line under its headings and hairlines between rows; headings repeat on every page.

    Texts in `rows` wrap; columns in `right` stand right-aligned.
    """

    def cell(value: object, column: int, *, heading: bool) -> object:
        if not isinstance(value, str):
            return value
        if not heading:
            # A paragraph costs a hundred times what a plain text does, and most texts need no second line.
            plain = printable(value)
            if text_width(plain, SMALL.fontSize) <= widths[column] - 2 * _PAD:
                return plain
        if heading:
            return text(value, SMALL_RIGHT_BOLD if column in right else SMALL_BOLD)
        return text(value, SMALL_RIGHT if column in right else SMALL)

    body = [[cell(value, number, heading=False) for number, value in enumerate(row)] for row in rows]
    head = [cell(value, number, heading=True) for number, value in enumerate(headings)]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("FONT", (0, 0), (-1, -1), SMALL.fontName, SMALL.fontSize, SMALL.leading),
        *(("ALIGN", (column, 0), (column, -1), "RIGHT") for column in right),
        ("LEFTPADDING", (0, 0), (-1, -1), _PAD),
        ("RIGHTPADDING", (0, 0), (-1, -1), _PAD),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
        ("LINEBELOW", (0, 0), (-1, 0), 0.8, black),
        ("LINEBELOW", (0, 1), (-1, -1), 0.2, black),
        *extra,
    ]
    made: Any = LongTable([head, *body], colWidths=list(widths), repeatRows=1, hAlign="LEFT")
    made.setStyle(TableStyle(style))
    return made
