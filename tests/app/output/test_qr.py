"""A code on a page is the code: every module of it is looked at, as a scanner would."""

from __future__ import annotations

import numpy as np
import pypdfium2
import segno
from reportlab.pdfgen.canvas import Canvas

from app.output.qr import QUIET, draw_code


def test_every_module_is_printed_dark_or_light_as_the_standard_has_it(tmp_path):
    path = tmp_path / "code.pdf"
    canvas = Canvas(str(path), pagesize=(200, 200))
    draw_code(canvas, "offcut 12", 20.0, 30.0, 150.0)
    canvas.save()
    document = pypdfium2.PdfDocument(path)
    picture = np.asarray(document[0].render(scale=4).to_pil().convert("L"))
    document.close()
    matrix = np.array([list(row) for row in segno.make_qr("offcut 12", error="m", boost_error=False).matrix])
    bordered = np.pad(matrix, QUIET)
    module = 150.0 / len(bordered)
    for row, column in np.ndindex(bordered.shape):
        x, y = 20.0 + (column + 0.5) * module, 200.0 - (30.0 + 150.0) + (row + 0.5) * module
        assert (picture[int(y * 4), int(x * 4)] < 128) == bool(bordered[row, column])
