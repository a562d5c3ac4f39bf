"""Fonts that a PDF names without holding them: that very font from folders the user gave, else a free one as wide.

The widths of the fourteen standard fonts (ISO 32000-1, 9.6.2.2) are fixed, and text in them or in their usual twins is
often sent without the font. pdfium carries free fonts made to those widths, so the line comes out as long as it was
set; the letters themselves differ a little, which is told. A glyph that is not as wide as the file says is not used.
"""

from __future__ import annotations

import ctypes
import functools
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fontTools.agl import UV2AGL
from fontTools.ttLib import TTCollection, TTFont, TTLibError

from app.artwork.files import read_bytes
from app.artwork.limits import Limits
from app.artwork.pdf_outlines import Outlines, text_of
from app.errors import ReadError
from geometry.contour import Contour

_SUBSET = re.compile(r"^[A-Z]{6}\+")
_STANDARD = re.compile(
    r"(?P<family>helvetica|arial|times(?:newroman)?|courier(?:new)?)(?:ps)?(?:mt)?(?:regular|roman)?"
    r"(?P<bold>bold)?(?P<slant>italic|oblique)?(?:mt)?"
)
_STYLES = {  # family -> names of regular, bold, slanted, both
    "h": ("Helvetica", "Helvetica-Bold", "Helvetica-Oblique", "Helvetica-BoldOblique"),
    "t": ("Times-Roman", "Times-Bold", "Times-Italic", "Times-BoldItalic"),
    "c": ("Courier", "Courier-Bold", "Courier-Oblique", "Courier-BoldOblique"),
}
_PICTURES = {"symbol": "Symbol", "zapfdingbats": "ZapfDingbats"}
_ENDINGS = (".ttf", ".otf", ".ttc", ".otc")
_MOST_FILES = 5_000  # fonts looked at in a folder
_AS_WIDE = 10.0  # thousandths of the size; a glyph further off the width stated is another font's


@dataclass(frozen=True, slots=True)
class Substitute:
    """Glyphs for a font that is not in the file.

    Fields
    ------
    outlines : Outlines
    file : str
        Name of the font file; empty for a free font in place of a standard one.
    widths : dict
        Glyph name -> thousandths of the size, of a standard font.
    """

    outlines: Outlines
    file: str
    widths: dict[str, float]

    def width(self, name: str) -> float | None:
        """Advance of a glyph, thousandths of the size; None when there is no such glyph."""
        if name in self.widths:
            return self.widths[name]
        own = self._own(name)
        return None if own is None else 1000.0 * self.outlines.advance(own)

    def glyph(self, name: str, stated: float | None) -> tuple[Contour, ...] | None:
        """Outline of a glyph by its usual name; None when there is none as wide as `stated`."""
        own = self._own(name)
        if own is None:
            return None
        wanted = stated if stated is not None else self.width(name)
        if wanted is not None and abs(1000.0 * self.outlines.advance(own) - wanted) > _AS_WIDE:
            return None
        return self.outlines.by_name(own)

    def _own(self, name: str) -> str | None:
        known = self.outlines.name_of(text_of(name))
        return known if known is not None else name if name in self.outlines else None


class Substitutes:
    """Where to look for fonts that a file does not hold."""

    def __init__(self, folders: tuple[str, ...], limits: Limits) -> None:
        self._folders, self._limits = folders, limits
        self._found: dict[str, tuple[Path, int]] | None = None

    def find(self, font: str) -> Substitute | None:
        """Substitute for a font by its PostScript name; None when there is none to trust."""
        if self._found is None:
            self._found = dict(_fonts_in(self._folders))
        known = self._found.get(_plain(font))
        if known is not None:
            path, number = known
            return Substitute(Outlines.from_sfnt(read_bytes(path, self._limits), number), path.name, {})
        name = standard_name(font)
        return None if name is None else _standard(name)


def font_name(base_font: str) -> str:
    """PostScript name of a font dictionary's BaseFont, without the mark of a subset.

    Examples
    --------
    >>> font_name("/ABCDEF+Arial-BoldMT")
    'Arial-BoldMT'
    """
    return _SUBSET.sub("", base_font.removeprefix("/"))


def standard_name(font: str) -> str | None:
    """Which of the fourteen standard fonts has the widths of this one; None when none is known to.

    Examples
    --------
    >>> standard_name("Arial,BoldItalic"), standard_name("TimesNewRomanPSMT"), standard_name("Arial-Black")
    ('Helvetica-BoldOblique', 'Times-Roman', None)
    """
    plain = _plain(font)
    found = _STANDARD.fullmatch(plain)
    if found is None:
        return _PICTURES.get(plain)
    return _STYLES[found["family"][0].replace("a", "h")][(found["bold"] is not None) + 2 * (found["slant"] is not None)]


def name_of_character(character: str) -> str:
    """Usual glyph name of a character."""
    return str(UV2AGL.get(ord(character), ".notdef")) if len(character) == 1 else ".notdef"


def _plain(name: str) -> str:
    return "".join(filter(str.isalnum, name)).lower()


def _fonts_in(folders: tuple[str, ...]) -> Iterator[tuple[str, tuple[Path, int]]]:
    """Plain PostScript and full names of the fonts in folders, later ones first, so that the first one counts."""
    files: list[Path] = []
    for folder in folders:
        try:
            files += sorted(one for one in Path(folder).iterdir() if one.suffix.lower() in _ENDINGS and one.is_file())
        except OSError:
            continue
    for path in reversed(files[:_MOST_FILES]):
        is_many = path.suffix.lower() in (".ttc", ".otc")
        try:
            with path.open("rb") as stream:
                fonts = TTCollection(stream, lazy=True).fonts if is_many else [TTFont(stream, lazy=True)]
                for number, font in enumerate(fonts):
                    names = [font["name"].getDebugName(kind) for kind in (4, 6)]
                    yield from ((_plain(name), (path, number)) for name in names if name)
        except (TTLibError, ArithmeticError, AttributeError, LookupError, OSError, TypeError, ValueError):
            continue  # a font that cannot be opened is as good as none


@functools.cache
def _standard(name: str) -> Substitute:
    """The free font that pdfium has for a standard one; only its bytes are asked for."""
    from reportlab.pdfbase import pdfmetrics

    raw = _pdfium()
    document = raw.FPDF_CreateNewDocument()
    try:
        font = raw.FPDFText_LoadStandardFont(document, name.encode())
        size = ctypes.c_size_t()
        if not font or not raw.FPDFFont_GetFontData(font, None, 0, size):
            raise ReadError(f"there is no free font for {name}")
        data = (ctypes.c_ubyte * size.value)()
        raw.FPDFFont_GetFontData(font, data, size.value, size)
        raw.FPDFFont_Close(font)
    finally:
        raw.FPDF_CloseDocument(document)
    known = pdfmetrics.getFont(name)
    outlines = Outlines.from_cff(bytes(data))
    if name in _PICTURES.values():  # fonts with an encoding of their own
        outlines.encoding = [glyph or ".notdef" for glyph in known.encoding.vector]
    return Substitute(outlines, "", {glyph: float(width) for glyph, width in known.face.glyphWidths.items()})


@functools.cache
def _pdfium() -> Any:
    """pdfium, told that the system has no fonts: by itself it would look through all of them."""
    import pypdfium2_raw as raw

    no_folders = (ctypes.POINTER(ctypes.c_char) * 1)()
    config = raw.FPDF_LIBRARY_CONFIG(version=2, m_pUserFontPaths=no_folders)
    raw.FPDF_InitLibraryWithConfig(config)
    return raw
