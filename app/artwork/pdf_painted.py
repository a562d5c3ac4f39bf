"""What the interpreter of PDF content hands over: one painting operation at a time."""

from __future__ import annotations

from dataclasses import dataclass

from geometry.contour import Contour, FillRule
from geometry.transform import Affine


@dataclass(frozen=True, slots=True)
class Pen:
    """How strokes are drawn: width in user space, cap and join by the numbers of the PDF, miter limit, dashes."""

    width: float = 1.0
    cap: int = 0
    join: int = 0
    miter: float = 10.0
    is_dashed: bool = False


PLAIN_PEN = Pen()


@dataclass(frozen=True, slots=True)
class Painted:
    """One painting operation.

    Fields
    ------
    contours : tuple of Contour
        In the sink's space, as drawn: open ones are not closed.
    rule : FillRule or None
        None when only stroked.
    is_stroked : bool
    layer : str
    character : str
        Text of a glyph, "?" when unknown; empty for paths.
    is_white : bool
        True when the fill is plain white.
    pen : Pen
    matrix : Affine
        From user space, in which the pen's width is given, to the sink's.
    """

    contours: tuple[Contour, ...]
    rule: FillRule | None
    is_stroked: bool
    layer: str
    character: str
    is_white: bool
    pen: Pen
    matrix: Affine
