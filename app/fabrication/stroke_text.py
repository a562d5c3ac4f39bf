"""Letters and figures of one stroke each, for marking words on parts: our own, drawn on a grid of 4 by 6.

Each sign is one line from start to end, which may run back over itself, so that the tool is lifted once a sign. A word
that is marked on a part which is cut face down, mirrored, is drawn the other way round, so that it reads all the same.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Final

from app.fabrication.part import MarkText
from geometry.angles import cos_sin
from geometry.build import open_chain
from geometry.contour import Contour
from geometry.curve import Line, Point

_SIGNS: Final = {
    "A": "00 26 40 33 13",
    "B": "00 06 36 45 44 33 03 33 42 41 30 00",
    "C": "45 36 16 05 01 10 30 41",
    "D": "00 06 26 44 42 20 00",
    "E": "40 00 03 33 03 06 46",
    "F": "00 03 33 03 06 46",
    "G": "45 36 16 05 01 10 30 41 43 23",
    "H": "00 06 03 43 46 40",
    "I": "10 30 20 26 16 36",
    "J": "46 41 30 10 01",
    "K": "00 06 02 46 13 40",
    "L": "06 00 40",
    "M": "00 06 23 46 40",
    "N": "00 06 40 46",
    "O": "10 01 05 16 36 45 41 30 10",
    "P": "00 06 36 45 44 33 03",
    "Q": "22 40 31 41 45 36 16 05 01 10 30 31",
    "R": "00 06 36 45 44 33 03 23 40",
    "S": "01 10 30 41 42 33 13 04 05 16 36 45",
    "T": "06 46 26 20",
    "U": "06 01 10 30 41 46",
    "V": "06 20 46",
    "W": "06 10 23 30 46",
    "X": "00 46 23 06 40",
    "Y": "06 23 20 23 46",
    "Z": "06 46 00 40",
    "0": "45 36 16 05 01 10 30 41 45 01",
    "1": "05 26 20 00 40",
    "2": "05 16 36 45 44 00 40",
    "3": "05 16 36 45 44 33 13 33 42 41 30 10 01",
    "4": "30 36 02 42",
    "5": "46 06 03 33 42 41 30 10 01",
    "6": "45 36 16 05 01 10 30 41 42 33 13 02",
    "7": "06 46 10",
    "8": "13 04 05 16 36 45 44 33 13 02 01 10 30 41 42 33",
    "9": "01 10 30 41 45 36 16 05 04 13 33 44",
    "-": "13 33",
    "_": "00 40",
    ".": "10 11 21 20 10",
    "/": "00 46",
    "+": "13 33 23 24 22",
    "&": "40 04 05 16 25 24 02 01 10 20 42",
}
_UNKNOWN: Final = "00 06 46 40 00"
_WIDE: Final = 0.75  # of the grid's width: narrow signs find room in narrow strokes
_ADVANCE: Final = 6.0 * _WIDE / 6.0  # of the height


def text_width(text: str, height: float) -> float:
    """How wide a word is, mm."""
    return height * max(0.0, len(text) * _ADVANCE - 2.0 * _WIDE / 6.0)


def mark_text(text: str, middle: Point, height: float, angle: float = 0.0) -> MarkText:
    """A word in capitals with its middle at a point, running at an angle (degrees); signs it has none for are boxes."""
    return MarkText(text, _strokes(text, middle, height, angle, 1.0), _strokes(text, middle, height, angle, -1.0))


def _strokes(text: str, middle: Point, height: float, angle: float, way: float) -> tuple[Contour, ...]:
    cosine, sine = cos_sin(angle)
    unit, left = height / 6.0, -0.5 * text_width(text, height)
    found = []
    for place, sign in enumerate(text.upper()):
        if sign.isspace():
            continue
        points: list[Point] = []
        for point in _SIGNS.get(sign, _UNKNOWN).split():
            along = way * (left + place * _ADVANCE * height + int(point[0]) * _WIDE * unit)
            up = (int(point[1]) - 3) * unit
            points.append((middle[0] + along * cosine - up * sine, middle[1] + along * sine + up * cosine))
        found.append(open_chain([Line(start, end) for start, end in pairwise(points)]))
    return tuple(found)
