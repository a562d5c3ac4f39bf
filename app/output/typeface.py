"""The type our PDF files are set in: the Vera faces that come with reportlab, embedded."""

from __future__ import annotations

import unicodedata
from functools import cache
from typing import Any, Final

from reportlab.lib.fonts import addMapping
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from app.output.words import one_line

BODY: Final = "LetterbedBody"
BOLD: Final = "LetterbedBold"
_FILES: Final = {BODY: "Vera.ttf", BOLD: "VeraBd.ttf"}
_NAMED: Final = 2
"""Up to so many missing characters are described by name, more by their Unicode numbers."""


@cache
def _glyphs() -> frozenset[int]:
    """Characters both faces have; registers them with reportlab on the way."""
    sets = []
    for name, file in _FILES.items():
        font: Any = TTFont(name, file)
        pdfmetrics.registerFont(font)
        sets.append(frozenset(font.face.charToGlyph))
    for bold, italic in ((0, 0), (0, 1), (1, 0), (1, 1)):
        addMapping(BODY, bold, italic, BOLD if bold else BODY)
    return sets[0] & sets[1]


def register() -> None:
    """Make the faces known to reportlab; harmless when done before."""
    _glyphs()


def text_width(text: str, size: float, *, face: str = BODY) -> float:
    """Width of printable text, points."""
    register()
    return float(pdfmetrics.stringWidth(text, face, size))


def printable(text: str) -> str:
    """The text on one line, with every character that the faces lack described in square brackets.

    So nothing prints as an empty box: a letter named by a Chinese sign comes out as its Unicode name or number.
    """
    plain = one_line(text)
    missing = [sign for sign in plain if ord(sign) not in _glyphs()]
    if not missing:
        return plain
    by_name = len(missing) <= _NAMED
    done = []
    for sign in plain:
        if ord(sign) in _glyphs():
            done.append(sign)
        elif by_name:
            done.append(f"[{unicodedata.name(sign, f'U+{ord(sign):04X}').lower()}]")
        else:
            done.append(f"[U+{ord(sign):04X}]")
    return "".join(done).replace("][", " ")


def fitted(text: str, width: float, size: float, *, face: str = BODY, smallest: float = 5.0) -> tuple[str, float]:
    """Text and a size at which it is no wider than `width` points; its middle left out where no size will do.

    Ids differ at either end, so both ends are kept.
    """
    full = text_width(text, size, face=face)
    if full <= width:
        return text, size
    shrunk = size * width / full
    if shrunk >= smallest:
        return text, shrunk
    for kept in range(len(text) - 1, -1, -1):
        short = text[: (kept + 1) // 2] + "…" + text[len(text) - kept // 2 :]
        if text_width(short, smallest, face=face) <= width:
            return short, smallest
    return "…", smallest
