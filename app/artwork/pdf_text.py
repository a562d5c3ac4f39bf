"""Fonts inside a PDF as glyph outlines (ISO 32000-1, 9.6 to 9.10), by glyph id where the file tells it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import pikepdf
from fontTools.agl import UV2AGL
from fontTools.encodings.MacRoman import MacRoman
from fontTools.encodings.StandardEncoding import StandardEncoding
from fontTools.t1Lib import T1Error
from fontTools.ttLib import TTLibError

from app.artwork.limits import Limits
from app.artwork.notes import Code, Notes
from app.artwork.pdf_outlines import Outlines, text_of
from app.artwork.pdf_streams import check_unpacked_size
from app.artwork.pdf_substitutes import Substitute, Substitutes, font_name, name_of_character
from app.errors import ReadError
from geometry.contour import Contour
from geometry.curve import Point
from geometry.findings import Severity

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
_SAID = 40  # characters of a text told
_SYMBOLIC = 4  # font descriptor flag, table 123
_HEX = re.compile(rb"<([0-9A-Fa-f\s]*)>")
_BFCHAR = re.compile(rb"beginbfchar(.*?)endbfchar", re.DOTALL)
_BFRANGE = re.compile(rb"beginbfrange(.*?)endbfrange", re.DOTALL)
_RANGE = re.compile(rb"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>")
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

    def __init__(self, limits: Limits, folders: tuple[str, ...] = ()) -> None:
        self._limits = limits
        self._substitutes = Substitutes(folders, limits)
        self._known: dict[Any, PageFont] = {}
        self._absent: dict[str, _Absent] = {}

    def get(self, dictionary: Any) -> PageFont | None:
        """Font of a font dictionary; None when there is no such dictionary."""
        if not isinstance(dictionary, pikepdf.Dictionary):
            return None
        key = dictionary.objgen if dictionary.objgen != (0, 0) else id(dictionary)
        if key not in self._known:
            self._known[key] = PageFont(dictionary, self._limits, self._substitutes)
        return self._known[key]

    def note(self, font: PageFont, codes: bytes, where: Point) -> None:
        """Keep what is shown in a font that is not in the file, to be told by `tell`."""
        if font.name:
            absent = self._absent.setdefault(font.name, _Absent(font, where))
            absent.texts.append("".join(glyph.text for glyph in font.glyphs(codes)))

    def tell(self, notes: Notes) -> None:
        """One finding for each font that is not in the file: its name, the text, and the way out."""
        for name, absent in self._absent.items():
            said = " ".join(" ".join(absent.texts).split())
            said = f"'{said[:_SAID]}{'...' if len(said) > _SAID else ''}'" if said else "text"
            lead = f"the font {name} is not in the file: {said}"
            substitute = absent.font.substitute
            if substitute is None:
                message = (
                    f"{lead} not read; ask for the text as curves or the file with its fonts in it, or name a folder "
                    "that has the font (--font-folder, font folders of the job)"
                )
                notes.add(Code.TEXT_NOT_OUTLINES, Severity.ERROR, message, where=absent.where)
            elif substitute.file:
                message = f"{lead} set in {substitute.file} of the folders given, which has the same name"
                notes.add(Code.FONT_REPLACED, Severity.NOTE, message, where=absent.where)
            else:
                message = (
                    f"{lead} set in a free font of the same widths, whose letters differ a little; ask for the text "
                    "as curves, or name a folder that has the font (--font-folder, font folders of the job)"
                )
                notes.add(Code.FONT_REPLACED, Severity.WARNING, message, where=absent.where)


@dataclass(slots=True)
class _Absent:
    """What is shown in a font that is not in the file."""

    font: PageFont
    where: Point
    texts: list[str] = field(default_factory=list)


class PageFont:
    """A font as the page shows it: codes in, glyphs out.

    Fields
    ------
    name : str
        PostScript name; empty when the font has none, or is in the file.
    substitute : Substitute or None
        What is used in place of a font that is not in the file.
    """

    def __init__(self, dictionary: Any, limits: Limits, substitutes: Substitutes) -> None:
        self.name = ""
        self.substitute: Substitute | None = None
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
        if self.has_outlines:
            return
        try:
            if not _has_file(dictionary):
                self.name = font_name(str(dictionary.get("/BaseFont", "")))
                self.substitute = substitutes.find(self.name)
                if self.substitute is not None:
                    self._draw = self._substituted(dictionary, self.substitute)
        except _FAILURES:
            self.substitute = None

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

    def _substituted(self, dictionary: Any, found: Substitute) -> Callable[[int], tuple[Contour, ...] | None]:
        """Glyphs of a font that is not in the file, by name; also widths, which standard fonts may leave out (9.6.2.2).

        The glyph ids of a composite font are those of a font nobody has here, so its characters are what counts.
        """
        if self.is_wide:
            return lambda code: found.glyph(name_of_character(self._texts.get(code, "")), self._widths.get(code))
        base, differences = _encoding(dictionary.get("/Encoding"))
        names = _names(base or found.outlines.encoding or StandardEncoding, differences)
        if found.outlines.encoding is not None:
            self._texts |= {code: text_of(name) for code, name in enumerate(names)}
        if "/Widths" not in dictionary:
            own = {code: found.width(name) for code, name in enumerate(names)}
            self._widths = {code: width for code, width in own.items() if width is not None}
        return lambda code: found.glyph(names[code], self._widths.get(code))

    # Composite fonts (9.7).

    def _load_wide(self, dictionary: Any, limits: Limits) -> None:
        descendant = dictionary["/DescendantFonts"][0]
        self._width = float(descendant.get("/DW", 1000))
        self._widths = _wide_widths(descendant.get("/W"))
        if str(dictionary.get("/Encoding")) not in ("/Identity-H", "/Identity-V"):
            return
        descriptor = descendant["/FontDescriptor"]
        if "/FontFile2" in descriptor:
            outlines = Outlines.from_sfnt(_bytes(descriptor["/FontFile2"], limits))
            table = descendant.get("/CIDToGIDMap")
            data = _bytes(table, limits) if isinstance(table, pikepdf.Stream) else None

            def glyph_id(cid: int) -> int:
                return cid if data is None else int.from_bytes(data[2 * cid : 2 * cid + 2], "big")

            self._draw = lambda cid: outlines.by_id(glyph_id(cid))
        elif "/FontFile3" in descriptor:
            stream = descriptor["/FontFile3"]
            content = _bytes(stream, limits)
            outlines = Outlines.from_sfnt(content) if content[:4] == b"OTTO" else Outlines.from_cff(content)
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
            self._texts.setdefault(code, text_of(name))
        descriptor = dictionary.get("/FontDescriptor")
        if not isinstance(descriptor, pikepdf.Dictionary):
            return
        self._width = float(descriptor.get("/MissingWidth", 0))
        is_symbolic = bool(int(descriptor.get("/Flags", 0)) & _SYMBOLIC)
        if "/FontFile2" in descriptor:
            outlines = Outlines.from_sfnt(_bytes(descriptor["/FontFile2"], limits))
            by_name = None if is_symbolic and not differences else _names(base or StandardEncoding, differences)
            self._draw = lambda code: outlines.by_code(code, by_name)
        elif "/FontFile3" in descriptor:
            content = _bytes(descriptor["/FontFile3"], limits)
            outlines = Outlines.from_sfnt(content) if content[:4] == b"OTTO" else Outlines.from_cff(content)
            names = _names(base or outlines.encoding or StandardEncoding, differences)
            self._draw = lambda code: outlines.by_name(names[code])
        elif "/FontFile" in descriptor:
            outlines = Outlines.from_type1(_bytes(descriptor["/FontFile"], limits))
            names = _names(base or outlines.encoding or StandardEncoding, differences)
            self._draw = lambda code: outlines.by_name(names[code])


def _has_file(dictionary: Any) -> bool:
    """Whether a font brings its outlines along, in a font file or as drawings (Type 3)."""
    owner = dictionary
    if "/DescendantFonts" in dictionary:
        owner = dictionary["/DescendantFonts"][0]
    descriptor = owner.get("/FontDescriptor")
    has_file = isinstance(descriptor, pikepdf.Dictionary) and any(
        key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3")
    )
    return has_file or str(dictionary.get("/Subtype")) == "/Type3"


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
