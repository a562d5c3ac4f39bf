"""Glyphs of one font file that a PDF holds or means, for a font size of 1."""

from __future__ import annotations

import re
from io import BytesIO
from typing import Any

from fontTools.agl import AGL2UV
from fontTools.cffLib import CFFFontSet
from fontTools.encodings.MacRoman import MacRoman
from fontTools.pens.basePen import NullPen
from fontTools.t1Lib import T1Font
from fontTools.ttLib import TTFont

from app.artwork.pens import OutlinePen
from geometry.contour import Contour
from geometry.transform import Affine, scaling, transform_contour

_UNICODE = ((3, 10), (3, 1), (0, 4), (0, 3))  # platforms and encodings of character maps by Unicode
_UNI_NAME = re.compile(r"(?:uni|u)([0-9A-F]{4})")


class Outlines:
    """Glyphs by id, name or code.

    Fields
    ------
    is_cid : bool
        Its glyphs are named by character id.
    encoding : list of str or None
        Glyph names of the font's own one-byte encoding.
    """

    def __init__(self, glyphs: Any, order: list[str], scale: Affine) -> None:
        self._glyphs, self._order, self._scale = glyphs, order, scale
        self.is_cid = False
        self.encoding: list[str] | None = None
        self._tables: list[tuple[int, int, dict[int, str]]] = []

    @classmethod
    def from_sfnt(cls, data: bytes, number: int = 0) -> Outlines:
        """Of a TrueType or OpenType file, or of one of several in a collection."""
        font = TTFont(BytesIO(data), fontNumber=number, lazy=True)
        if "CFF " in font:
            made = cls.from_cff(font.getTableData("CFF "))
        else:
            made = cls(font.getGlyphSet(), font.getGlyphOrder(), scaling(1.0 / int(font["head"].unitsPerEm)))
        if "cmap" in font:
            made._tables = [(table.platformID, table.platEncID, table.cmap) for table in font["cmap"].tables]
        return made

    @classmethod
    def from_cff(cls, data: bytes) -> Outlines:
        """Of a bare CFF table."""
        fonts: Any = CFFFontSet()
        fonts.decompile(BytesIO(data), None)
        top = fonts[0]
        matrix = [float(value) for value in getattr(top, "FontMatrix", [0.001, 0, 0, 0.001, 0, 0])]
        made = cls(top.CharStrings, list(top.charset), Affine(*matrix))
        made.is_cid = hasattr(top, "ROS")
        encoding = getattr(top, "Encoding", None)
        made.encoding = encoding if isinstance(encoding, list) else None
        return made

    @classmethod
    def from_type1(cls, data: bytes) -> Outlines:
        """Of a Type 1 program."""
        font = T1Font.__new__(T1Font)
        font.data, font.encoding = data, "ascii"
        font.parse()
        matrix = [float(value) for value in font.font.get("FontMatrix", [0.001, 0, 0, 0.001, 0, 0])]
        glyphs = font.getGlyphSet()
        made = cls(glyphs, list(glyphs), Affine(*matrix))
        encoding = font.font.get("Encoding")
        made.encoding = list(encoding) if isinstance(encoding, list) else None
        return made

    def by_id(self, glyph: int) -> tuple[Contour, ...] | None:
        """Glyph by its number; None when there is none."""
        return self.by_name(self._order[glyph]) if 0 < glyph < len(self._order) else None

    def by_name(self, name: str) -> tuple[Contour, ...] | None:
        """Glyph by its name; None when there is none."""
        if name == ".notdef" or name not in self._glyphs:
            return None
        pen = OutlinePen(self._glyphs)
        self._glyphs[name].draw(pen)
        return tuple(transform_contour(contour, self._scale) for contour in pen.finish())

    def __contains__(self, name: str) -> bool:
        return name in self._glyphs

    def advance(self, name: str) -> float:
        """How far the pen moves on after a glyph."""
        glyph = self._glyphs[name]
        glyph.draw(NullPen())  # a CFF glyph knows its width only when drawn
        return float(glyph.width) * self._scale.a

    def name_of(self, character: str) -> str | None:
        """Name of a character's glyph by the font's Unicode tables."""
        for platform, encoding, table in self._tables:
            if (platform, encoding) in _UNICODE and len(character) == 1 and ord(character) in table:
                return str(table[ord(character)])
        return None

    def by_code(self, code: int, names: list[str] | None) -> tuple[Contour, ...] | None:
        """Glyph of a one-byte code in a TrueType font (9.6.6.4), through its names when it is not symbolic."""
        if names is not None:
            name = names[code]
            text = text_of(name)
            known = self.name_of(text)
            if known is not None:
                return self.by_name(known)
            for platform, _encoding, table in self._tables:
                if platform == 1 and name in MacRoman and MacRoman.index(name) in table:
                    return self.by_name(table[MacRoman.index(name)])
            if name in self._glyphs:
                return self.by_name(name)
        for platform, encoding, table in self._tables:
            for candidate in (code, 0xF000 + code) if (platform, encoding) == (3, 0) else (code,):
                if (platform, encoding) in ((3, 0), (1, 0)) and candidate in table:
                    return self.by_name(table[candidate])
        return self.by_id(code) if not self._tables else None


def text_of(name: str) -> str:
    """Character of a glyph name by the glyph list, or by a name like uni0041."""
    base = name.partition(".")[0]
    if base in AGL2UV:
        return chr(AGL2UV[base])
    found = _UNI_NAME.fullmatch(base)
    return chr(int(found.group(1), 16)) if found else ""
