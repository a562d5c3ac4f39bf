"""Fonts inside a PDF as glyph outlines (ISO 32000-1, 9.6 to 9.10), by glyph id where the file tells it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from io import BytesIO
from typing import Any

import pikepdf
from fontTools.agl import AGL2UV, UV2AGL
from fontTools.cffLib import CFFFontSet
from fontTools.encodings.MacRoman import MacRoman
from fontTools.encodings.StandardEncoding import StandardEncoding
from fontTools.t1Lib import T1Error, T1Font
from fontTools.ttLib import TTFont, TTLibError

from app.artwork.limits import Limits
from app.artwork.pdf_streams import check_unpacked_size
from app.artwork.pens import OutlinePen
from app.errors import ReadError
from geometry.contour import Contour
from geometry.transform import Affine, scaling, transform_contour

_FAILURES = (
    TTLibError,
    T1Error,
    ArithmeticError,
    AssertionError,
    AttributeError,
    LookupError,
    NotImplementedError,
    OSError,
    RuntimeError,
    TypeError,
    ValueError,
    pikepdf.PdfError,
    ReadError,
)
_SYMBOLIC = 4  # font descriptor flag, table 123
_HEX = re.compile(rb"<([0-9A-Fa-f\s]*)>")
_BFCHAR = re.compile(rb"beginbfchar(.*?)endbfchar", re.DOTALL)
_BFRANGE = re.compile(rb"beginbfrange(.*?)endbfrange", re.DOTALL)
_RANGE = re.compile(rb"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>")
_UNI_NAME = re.compile(r"(?:uni|u)([0-9A-F]{4})")
_WIN_EXTRA = dict(zip(range(0x80, 0xA0), bytes(range(0x80, 0xA0)).decode("cp1252", errors="replace"), strict=True))


@dataclass(frozen=True, slots=True)
class Glyph:
    """One shown glyph: outline and advance for a font size of 1."""

    contours: tuple[Contour, ...]
    width: float
    text: str
    is_space: bool
    is_missing: bool


@dataclass(frozen=True, slots=True)
class TextState:
    """Text part of the graphics state (table 104)."""

    font: PageFont | None = None
    size: float = 0.0
    character_spacing: float = 0.0
    word_spacing: float = 0.0
    stretch: float = 1.0
    leading: float = 0.0
    rise: float = 0.0
    mode: int = 0

    def with_number(self, name: str, value: float) -> TextState:
        """The state with one of its numbers changed."""
        numbers = {
            "size": self.size,
            "character_spacing": self.character_spacing,
            "word_spacing": self.word_spacing,
            "stretch": self.stretch,
            "leading": self.leading,
            "rise": self.rise,
        }
        if name == "mode":
            return replace(self, mode=int(value))
        numbers[name] = value
        return TextState(self.font, mode=self.mode, **numbers)


PLAIN_TEXT = TextState()


class Fonts:
    """Fonts of a document, each built once."""

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._known: dict[Any, PageFont] = {}

    def get(self, dictionary: Any) -> PageFont | None:
        """Font of a font dictionary; None when there is no such dictionary."""
        if not isinstance(dictionary, pikepdf.Dictionary):
            return None
        key = dictionary.objgen if dictionary.objgen != (0, 0) else id(dictionary)
        if key not in self._known:
            self._known[key] = PageFont(dictionary, self._limits)
        return self._known[key]


class PageFont:
    """A font as the page shows it: codes in, glyphs out. Without an embedded font file it has no outlines."""

    def __init__(self, dictionary: Any, limits: Limits) -> None:
        self._glyphs: dict[int, Glyph] = {}
        self._draw: Callable[[int], tuple[Contour, ...] | None] | None = None
        self.is_wide = str(dictionary.get("/Subtype")) == "/Type0"
        self._texts: dict[int, str] = {}
        self._widths: dict[int, float] = {}
        self._width = 0.0
        try:
            self._texts = _to_unicode(dictionary.get("/ToUnicode"), limits)
            if self.is_wide:
                self._load_wide(dictionary, limits)
            else:
                self._load_simple(dictionary, limits)
        except _FAILURES:
            self._draw = None  # told by whoever shows text with it

    @property
    def has_outlines(self) -> bool:
        """Whether glyph outlines are at hand."""
        return self._draw is not None

    def glyphs(self, codes: bytes) -> Iterator[Glyph]:
        """Glyphs of a string, code by code."""
        step = 2 if self.is_wide else 1
        for index in range(0, len(codes) - step + 1, step):
            code = int.from_bytes(codes[index : index + step], "big")
            known = self._glyphs.get(code)
            if known is None:
                known = self._glyphs[code] = self._glyph(code)
            yield known

    def _glyph(self, code: int) -> Glyph:
        contours: tuple[Contour, ...] | None = None
        if self._draw is not None:
            try:
                contours = self._draw(code)
            except _FAILURES:
                contours = None
        width = self._widths.get(code, self._width)
        is_space = code == 32 and not self.is_wide
        return Glyph(contours or (), width / 1000.0, self._texts.get(code, ""), is_space, contours is None)

    # Composite fonts (9.7).

    def _load_wide(self, dictionary: Any, limits: Limits) -> None:
        descendant = dictionary["/DescendantFonts"][0]
        self._width = float(descendant.get("/DW", 1000))
        self._widths = _wide_widths(descendant.get("/W"))
        if str(dictionary.get("/Encoding")) not in ("/Identity-H", "/Identity-V"):
            return
        descriptor = descendant["/FontDescriptor"]
        if "/FontFile2" in descriptor:
            outlines = _Outlines.from_sfnt(_bytes(descriptor["/FontFile2"], limits))
            table = descendant.get("/CIDToGIDMap")
            data = _bytes(table, limits) if isinstance(table, pikepdf.Stream) else None

            def glyph_id(cid: int) -> int:
                return cid if data is None else int.from_bytes(data[2 * cid : 2 * cid + 2], "big")

            self._draw = lambda cid: outlines.by_id(glyph_id(cid))
        elif "/FontFile3" in descriptor:
            stream = descriptor["/FontFile3"]
            content = _bytes(stream, limits)
            outlines = _Outlines.from_sfnt(content) if content[:4] == b"OTTO" else _Outlines.from_cff(content)
            if outlines.is_cid:
                self._draw = lambda cid: outlines.by_name(f"cid{cid:05d}" if cid else ".notdef")
            else:
                self._draw = outlines.by_id

    # Simple fonts (9.6).

    def _load_simple(self, dictionary: Any, limits: Limits) -> None:
        first = int(dictionary.get("/FirstChar", 0))
        self._widths = {first + i: float(width) for i, width in enumerate(dictionary.get("/Widths", []))}
        base, differences = _encoding(dictionary.get("/Encoding"))
        for code, name in enumerate(_names(base or StandardEncoding, differences)):
            self._texts.setdefault(code, _text_of(name))
        descriptor = dictionary.get("/FontDescriptor")
        if not isinstance(descriptor, pikepdf.Dictionary):
            return
        self._width = float(descriptor.get("/MissingWidth", 0))
        is_symbolic = bool(int(descriptor.get("/Flags", 0)) & _SYMBOLIC)
        if "/FontFile2" in descriptor:
            outlines = _Outlines.from_sfnt(_bytes(descriptor["/FontFile2"], limits))
            by_name = None if is_symbolic and not differences else _names(base or StandardEncoding, differences)
            self._draw = lambda code: outlines.by_code(code, by_name)
        elif "/FontFile3" in descriptor:
            content = _bytes(descriptor["/FontFile3"], limits)
            outlines = _Outlines.from_sfnt(content) if content[:4] == b"OTTO" else _Outlines.from_cff(content)
            names = _names(base or outlines.encoding or StandardEncoding, differences)
            self._draw = lambda code: outlines.by_name(names[code])
        elif "/FontFile" in descriptor:
            outlines = _Outlines.from_type1(_bytes(descriptor["/FontFile"], limits))
            names = _names(base or outlines.encoding or StandardEncoding, differences)
            self._draw = lambda code: outlines.by_name(names[code])


class _Outlines:
    """Glyphs of an embedded font file, for a font size of 1."""

    def __init__(self, glyphs: Any, order: list[str], scale: Affine) -> None:
        self._glyphs, self._order, self._scale = glyphs, order, scale
        self.is_cid = False
        self.encoding: list[str] | None = None
        self._tables: list[tuple[int, int, dict[int, str]]] = []

    @classmethod
    def from_sfnt(cls, data: bytes) -> _Outlines:
        font = TTFont(BytesIO(data), lazy=True)
        if "CFF " in font:
            return cls.from_cff(font.getTableData("CFF "))
        made = cls(font.getGlyphSet(), font.getGlyphOrder(), scaling(1.0 / int(font["head"].unitsPerEm)))
        if "cmap" in font:
            made._tables = [(table.platformID, table.platEncID, table.cmap) for table in font["cmap"].tables]
        return made

    @classmethod
    def from_cff(cls, data: bytes) -> _Outlines:
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
    def from_type1(cls, data: bytes) -> _Outlines:
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
        return self.by_name(self._order[glyph]) if 0 < glyph < len(self._order) else None

    def by_name(self, name: str) -> tuple[Contour, ...] | None:
        if name == ".notdef" or name not in self._glyphs:
            return None
        pen = OutlinePen(self._glyphs)
        self._glyphs[name].draw(pen)
        return tuple(transform_contour(contour, self._scale) for contour in pen.finish())

    def by_code(self, code: int, names: list[str] | None) -> tuple[Contour, ...] | None:
        """Glyph of a one-byte code in a TrueType font (9.6.6.4), through its names when it is not symbolic."""
        if names is not None:
            name = names[code]
            text = _text_of(name)
            for platform, encoding, table in self._tables:
                if (platform, encoding) in ((3, 1), (0, 3), (0, 4)) and text and ord(text[0]) in table:
                    return self.by_name(table[ord(text[0])])
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


def _text_of(name: str) -> str:
    """Character of a glyph name by the glyph list, or by a name like uni0041."""
    base = name.partition(".")[0]
    if base in AGL2UV:
        return chr(AGL2UV[base])
    found = _UNI_NAME.fullmatch(base)
    return chr(int(found.group(1), 16)) if found else ""


def _bytes(stream: Any, limits: Limits) -> bytes:
    check_unpacked_size(stream, "an embedded font", limits)
    return bytes(stream.read_bytes())


def _encoding(value: Any) -> tuple[list[str] | None, dict[int, str]]:
    """Base encoding, None for the font's own, and the differences from it."""
    base, differences = value, {}
    if isinstance(value, pikepdf.Dictionary):
        base = value.get("/BaseEncoding")
        code = 0
        for item in value.get("/Differences", []):
            if isinstance(item, pikepdf.Name):
                differences[code] = str(item)[1:]
                code += 1
            else:
                code = int(item)
    return _BASE_ENCODINGS.get(str(base)), differences


def _win_names() -> list[str]:
    names = []
    for code in range(256):
        text = _WIN_EXTRA.get(code, chr(code))
        names.append(UV2AGL.get(ord(text), ".notdef"))
    return names


_BASE_ENCODINGS: dict[str, list[str]] = {
    "/WinAnsiEncoding": _win_names(),
    "/MacRomanEncoding": list(MacRoman),
    "/StandardEncoding": list(StandardEncoding),
}


def _names(base: list[str], differences: dict[int, str]) -> list[str]:
    names = [*base, *([".notdef"] * (256 - len(base)))]
    for code, name in differences.items():
        if 0 <= code < 256:
            names[code] = name
    return names


def _wide_widths(value: Any) -> dict[int, float]:
    widths: dict[int, float] = {}
    items = list(value) if isinstance(value, pikepdf.Array) else []
    index = 0
    while index + 1 < len(items):
        first = int(items[index])
        if isinstance(items[index + 1], pikepdf.Array):
            widths.update({first + i: float(width) for i, width in enumerate(items[index + 1])})
            index += 2
        elif index + 2 < len(items):
            last = min(int(items[index + 1]), 0xFFFF)
            widths.update(dict.fromkeys(range(first, last + 1), float(items[index + 2])))
            index += 3
        else:
            break
    return widths


def _to_unicode(stream: Any, limits: Limits) -> dict[int, str]:
    """Texts of codes by a ToUnicode map (9.10.3), used for names only."""
    if not isinstance(stream, pikepdf.Stream):
        return {}
    data = _bytes(stream, limits)
    texts: dict[int, str] = {}
    for block in _BFCHAR.findall(data):
        values = [found.replace(b" ", b"") for found in _HEX.findall(block)]
        for code, text in zip(values[0::2], values[1::2], strict=False):
            texts[int(code or b"0", 16)] = _utf16(text)
    for block in _BFRANGE.findall(data):
        for first, last, text in _RANGE.findall(block):
            start, base = int(first, 16), _utf16(text)
            if len(base) == 1:
                for offset in range(min(int(last, 16) - start, 0xFFFF) + 1):
                    texts[start + offset] = chr(min(ord(base) + offset, 0x10FFFF))
    return texts


def _utf16(text: bytes) -> str:
    return bytes.fromhex(text.decode()).decode("utf-16-be", errors="ignore")
