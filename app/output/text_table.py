"""A table as aligned text, for the terminal."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

from app.output.words import one_line


def text_table(headings: Sequence[str], rows: Sequence[Sequence[str]], *, right: Sequence[int] = ()) -> str:
    """Columns two spaces apart, those in `right` flush right; one line per row."""
    cells = [[one_line(cell) for cell in row] for row in (headings, *rows)]
    widths = [max(_width(row[column]) for row in cells) for column in range(len(headings))]
    lines = []
    for row in cells:
        padded = [
            " " * (width - _width(cell)) + cell if column in right else cell + " " * (width - _width(cell))
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(padded).rstrip())
    lines.insert(1, "-" * (sum(widths) + 2 * (len(widths) - 1)))
    return "\n".join(lines)


def _width(text: str) -> int:
    """Places a text takes in a terminal: East Asian wide signs take two, combining marks none."""
    return sum(
        0 if unicodedata.combining(sign) else 2 if unicodedata.east_asian_width(sign) in "WF" else 1 for sign in text
    )
