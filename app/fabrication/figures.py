"""Figures made of straight strokes, for marking a number on a part: seven strokes, as on a counter."""

from __future__ import annotations

from typing import Final

from geometry.build import open_chain
from geometry.contour import Contour
from geometry.curve import Line, Point

_STROKES: Final[dict[str, tuple[Point, Point]]] = {
    "a": ((0.0, 2.0), (1.0, 2.0)),
    "b": ((1.0, 2.0), (1.0, 1.0)),
    "c": ((1.0, 1.0), (1.0, 0.0)),
    "d": ((0.0, 0.0), (1.0, 0.0)),
    "e": ((0.0, 1.0), (0.0, 0.0)),
    "f": ((0.0, 2.0), (0.0, 1.0)),
    "g": ((0.0, 1.0), (1.0, 1.0)),
}
_FIGURES: Final = ("abcdef", "bc", "abged", "abgcd", "fgbc", "afgcd", "afgedc", "abc", "abcdefg", "gfabcd")
_ADVANCE: Final = 1.6  # of half the height


def figures(number: int, at: Point, height: float) -> tuple[Contour, ...]:
    """Strokes of a whole number, 0 or more, `height` mm high, its middle at a point, upright."""
    half = 0.5 * height
    text = str(number)
    left = at[0] - 0.5 * half * (1.0 + _ADVANCE * (len(text) - 1))
    found = []
    for place, sign in enumerate(text):
        x0, y0 = left + place * _ADVANCE * half, at[1] - half
        for stroke in _FIGURES[int(sign)]:
            start, end = (((x0 + half * x), (y0 + half * y)) for x, y in _STROKES[stroke])
            found.append(open_chain([Line(start, end)]))
    return tuple(found)


def figures_width(number: int, height: float) -> float:
    """How wide the number is, mm."""
    return 0.5 * height * (1.0 + _ADVANCE * (len(str(number)) - 1))
