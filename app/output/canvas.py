"""Paints a sheet's drawing on a page of a PDF."""

from __future__ import annotations

from typing import Any, Final

from app.output.drawing import Shape, SheetDrawing, Words
from app.output.typeface import BODY, BOLD, printable, register, text_width

_CAP_HEIGHT: Final = 0.73
_ROUND: Final = 1


def paint(canvas: Any, drawing: SheetDrawing, x: float, y: float) -> None:
    """Paint the drawing with its lower left corner at (x, y) points on a reportlab canvas."""
    register()
    canvas.saveState()
    canvas.translate(x, y)
    canvas.setLineJoin(_ROUND)
    for item in drawing.items:
        if isinstance(item, Shape):
            _paint_shape(canvas, item)
        else:
            _paint_words(canvas, item)
    canvas.restoreState()


def _paint_shape(canvas: Any, shape: Shape) -> None:
    path = canvas.beginPath()
    for ring in shape.rings:
        (first_x, first_y), *rest = ring.round(2).tolist()
        path.moveTo(first_x, first_y)
        for point in rest:
            path.lineTo(*point)
        if shape.is_closed:
            path.close()
    if shape.shade is not None:
        canvas.setFillGray(shape.shade)
    if shape.pen is not None:
        canvas.setStrokeGray(0.0)
        canvas.setLineWidth(shape.pen.width)
        canvas.setDash(list(shape.pen.dashes))
    even_odd = 0
    canvas.drawPath(path, stroke=int(shape.pen is not None), fill=int(shape.shade is not None), fillMode=even_odd)


def _paint_words(canvas: Any, words: Words) -> None:
    face = BOLD if words.is_bold else BODY
    text = printable(words.text)
    width, height = text_width(text, words.size, face=face), words.size * _CAP_HEIGHT
    canvas.saveState()
    canvas.translate(*words.middle)
    canvas.rotate(words.angle)
    if words.has_ground:
        canvas.setFillGray(1.0)
        canvas.rect(-width / 2 - 1.2, -height / 2 - 1.2, width + 2.4, height + 2.4, stroke=0, fill=1)
    canvas.setFillGray(0.0)
    canvas.setFont(face, words.size)
    canvas.drawString(-width / 2, -height / 2, text)
    canvas.restoreState()
