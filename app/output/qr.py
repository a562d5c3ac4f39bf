"""QR codes drawn on a PDF page."""

from __future__ import annotations

from typing import Any, Final

import segno

QUIET: Final = 4
"""Modules of white round a code (ISO/IEC 18004)."""


def draw_code(canvas: Any, words: str, x: float, y: float, side: float) -> None:
    """Draw a code with its quiet zone into a square with this lower left corner and side, points.

    Level M puts up with some dust.
    """
    matrix = segno.make_qr(words, error="m", boost_error=False).matrix
    module = side / (len(matrix) + 2 * QUIET)
    path = canvas.beginPath()
    for row, line in enumerate(matrix):
        start = None
        for column, dark in enumerate((*line, 0)):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                top = y + side - (QUIET + row + 1) * module
                path.rect(x + (QUIET + start) * module, top, (column - start) * module, module)
                start = None
    canvas.setFillGray(0.0)
    canvas.drawPath(path, stroke=0, fill=1)
