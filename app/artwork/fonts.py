"""Words set in a font: shaped by HarfBuzz, outlined by fontTools, one shape per character."""

from __future__ import annotations

import itertools
import os
import unicodedata
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import uharfbuzz
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont, TTLibError

from app.artwork.drawing import Drawing, Shape, Source
from app.artwork.files import FONT_MARKS, read_bytes
from app.artwork.limits import DEFAULT_LIMITS, Budget, Limits
from app.artwork.notes import Code, Notes
from app.artwork.pens import OutlinePen
from app.errors import DamagedFile, ReadError, UnsupportedFile
from app.job.document import Align, Text
from geometry.contour import Contour, FillRule
from geometry.findings import Severity
from geometry.transform import transform_contour, translation

# What a broken font makes the libraries raise, besides fontTools' own error.
FAILURES = (
    TTLibError,
    ArithmeticError,
    AssertionError,
    AttributeError,
    ImportError,
    LookupError,
    NotImplementedError,
    OSError,
    RuntimeError,
    TypeError,
    ValueError,
)
_FEATURES = {"kern": True, "liga": False, "clig": False, "dlig": False, "hlig": False}
_USE_TYPO_METRICS = 1 << 7  # OS/2 fsSelection, bit 7
_CAPITALS = "HEIXTNZ"  # flat at top and bottom; the first one the font has is measured
_CAPITAL_OFF = 0.02  # beyond this the font's stated capital height is not believed against its H


class _Broken(ValueError):
    """A font that is found to be broken; its words are our own."""


@dataclass(frozen=True, slots=True)
class _Glyph:
    """A shaped glyph: its id, where it stands, and the character (with its marks) it belongs to."""

    glyph: int
    x: float
    y: float
    cluster: int


def set_text(
    text: Text,
    font_path: str | os.PathLike[str],
    *,
    limits: Limits = DEFAULT_LIMITS,
) -> Drawing:
    """Outlines of words in a font.

    Kerned, without ligatures, so that every character stays a letter of its own. Tracking is added between
    characters, then the lines are aligned by their widths; the first baseline is at y = 0. Overlapping strokes inside
    a glyph are left to the fill rule, nonzero.

    Parameters
    ----------
    text : Text
    font_path : path
        TTF, OTF, TTC (its first font), WOFF.
    limits : Limits

    Returns
    -------
    Drawing
        In font units, without a unit; `capital_height` is that of a capital H. One shape per character that has an
        outline, with the character as object id, in reading order.

    Raises
    ------
    ReadError
        If the font cannot be read, or there is nothing to set.
    """
    path = Path(font_path)
    if not text.words.strip():
        raise ReadError(f"there are no characters to set in {path.name}; type the words")
    if len(text.words) > limits.characters:
        raise ReadError(
            f"the text has {len(text.words):,} characters, more than the limit of {limits.characters:,} in the settings"
        )
    data = read_bytes(path, limits)
    if not data.startswith(FONT_MARKS):
        raise UnsupportedFile(f"{path.name} is not a font (TTF, OTF, TTC or WOFF); choose another file")
    try:
        font = _Font(data, path.name, dict(text.axes))
        return _set(text, font, Notes(path.name), limits)
    except FAILURES as error:
        raise DamagedFile(f"{path.name} is a damaged font ({_why(error)}); install or ask for it again") from error


class _Font:
    """One font file, for shaping and for outlines."""

    def __init__(self, data: bytes, name: str, axes: dict[str, float]) -> None:
        self.name = name
        self.tables = TTFont(BytesIO(data), fontNumber=0, lazy=True)
        if self.tables.flavor is not None:  # HarfBuzz takes no packed web font
            unpacked = BytesIO()
            self.tables.flavor = None
            self.tables.save(unpacked)
            data = unpacked.getvalue()
            self.tables = TTFont(BytesIO(data), lazy=True)
        if "head" not in self.tables:
            raise _Broken("its table list is broken")
        if not {"glyf", "CFF ", "CFF2"} & set(self.tables.keys()):
            raise UnsupportedFile(f"{name} has no outlines (a picture font); choose another font")
        self.units_per_em = int(self.tables["head"].unitsPerEm)
        self.order = self.tables.getGlyphOrder()
        self._check_axes(axes)
        self.glyphs = self.tables.getGlyphSet(location=axes or None)
        self.by_character: dict[int, str] = self.tables.getBestCmap() or {}
        face = uharfbuzz.Face(uharfbuzz.Blob(data))
        if face.glyph_count == 0 or self.units_per_em < 16:
            raise _Broken("it holds no glyphs")
        self.shaper = uharfbuzz.Font(face)
        self.shaper.scale = (self.units_per_em, self.units_per_em)
        if axes:
            self.shaper.set_variations(axes)
        self._outlines: dict[int, tuple[Contour, ...]] = {}

    def _check_axes(self, axes: dict[str, float]) -> None:
        known = {axis.axisTag: axis for axis in self.tables["fvar"].axes} if "fvar" in self.tables else {}
        for tag, value in axes.items():
            axis = known.get(tag)
            if axis is None:
                has = ", ".join(sorted(known)) or "none"
                raise ReadError(f"{self.name} has no axis '{tag}'; its axes are: {has}")
            if not axis.minValue <= value <= axis.maxValue:
                raise ReadError(
                    f"{self.name}: {tag} of {value:g} is outside {axis.minValue:g} to {axis.maxValue:g}, its range"
                )

    def outline(self, glyph: int) -> tuple[Contour, ...]:
        """Contours of a glyph at the origin, font units."""
        known = self._outlines.get(glyph)
        if known is None:
            pen = OutlinePen(self.glyphs)
            self.glyphs[self.order[glyph]].draw(pen)
            known = self._outlines[glyph] = pen.finish()
        return known

    def line_height(self) -> float:
        """From baseline to baseline, font units: typographic metrics where the font asks for them, else hhea."""
        os2 = self.tables.get("OS/2")
        if os2 is not None and os2.fsSelection & _USE_TYPO_METRICS:
            return float(os2.sTypoAscender - os2.sTypoDescender + os2.sTypoLineGap)
        hhea = self.tables["hhea"]
        return float(hhea.ascent - hhea.descent + hhea.lineGap)

    def capital_height(self, notes: Notes) -> float | None:
        """Height of a capital, font units: OS/2 sCapHeight unless an H of the font shows otherwise; None if unknown."""
        os2 = self.tables.get("OS/2")
        stated = float(getattr(os2, "sCapHeight", 0) or 0)
        measured = None
        for character in _CAPITALS:
            name = self.by_character.get(ord(character))
            if name is not None:
                pen = BoundsPen(self.glyphs)
                self.glyphs[name].draw(pen)
                if pen.bounds is not None and pen.bounds[3] > 0.0:
                    measured = float(pen.bounds[3])
                    break
        if stated <= 0.0:
            return measured
        if measured is not None and abs(measured - stated) > _CAPITAL_OFF * measured:
            notes.add(
                Code.MEASURED_ON,
                Severity.NOTE,
                f"the font states capitals {stated:g} units high but its {character} has {measured:g}; "
                f"the {character} was used",
            )
            return measured
        return stated


def _set(text: Text, font: _Font, notes: Notes, limits: Limits) -> Drawing:
    lines = [_cleaned(line) for line in text.words.splitlines()]
    tracking = text.tracking / 1000.0 * font.units_per_em
    shaped = [_shape(font, line, tracking) for line in lines]
    step = font.line_height() * text.line_spacing
    widest = max(width for _, width in shaped)
    budget = Budget(font.name, limits)
    shapes: list[Shape] = []
    missing: dict[str, int] = {}
    for number, (line, (glyphs, width)) in enumerate(zip(lines, shaped, strict=True)):
        shift = {Align.LEFT: 0.0, Align.CENTRE: 0.5, Align.RIGHT: 1.0}[text.align] * (widest - width)
        starts = [*sorted({glyph.cluster for glyph in glyphs}), len(line)]
        until = dict(itertools.pairwise(starts))  # a cluster is one character with the marks set on it
        for cluster, group in itertools.groupby(glyphs, key=lambda glyph: glyph.cluster):
            character = line[cluster : until[cluster]]
            contours: list[Contour] = []
            for glyph in group:
                if glyph.glyph == 0:
                    missing[character] = missing.get(character, 0) + 1
                    continue
                placed = translation(shift + glyph.x, glyph.y - number * step)
                contours += [transform_contour(contour, placed) for contour in font.outline(glyph.glyph)]
            budget.spend_segments(sum(len(contour.segments) for contour in contours))
            if contours:
                source = Source(font.name, f"line {number + 1}" if len(lines) > 1 else "", character)
                shapes.append(Shape(tuple(contours), FillRule.NONZERO, source, is_character=True))
    for character, count in missing.items():
        times = f" ({count} times)" if count > 1 else ""
        notes.add(
            Code.MISSING_GLYPH,
            Severity.ERROR,
            f"the font has no character '{character}' ({_code_points(character)}){times}; it was left out: "
            "choose another font or change the words",
        )
    if not shapes:
        what = "none of these characters" if missing else "no outline for these characters"
        raise ReadError(f"{font.name} has {what}; choose another font or change the words")
    capital = font.capital_height(notes)
    if capital is None:
        notes.add(
            Code.MEASURED_ON,
            Severity.WARNING,
            "the font has no capital letters to measure; set the size by overall width or height",
        )
    return Drawing(tuple(shapes), None, (), capital, notes.findings())


def _cleaned(line: str) -> str:
    """Line without control characters; tabs become spaces, since a font has no tab stops."""
    return "".join(
        " " if character == "\t" else character
        for character in line
        if character == "\t" or unicodedata.category(character) != "Cc"
    )


def _shape(font: _Font, line: str, tracking: float) -> tuple[list[_Glyph], float]:
    """Glyphs of one line from x = 0, and its width, font units."""
    if not line:
        return [], 0.0
    buffer = uharfbuzz.Buffer()
    buffer.add_str(line)
    buffer.guess_segment_properties()
    uharfbuzz.shape(font.shaper, buffer, _FEATURES)
    glyphs: list[_Glyph] = []
    x = y = 0.0
    previous: int | None = None
    for info, position in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        if previous is not None and info.cluster != previous:
            x += tracking
        previous = info.cluster
        glyphs.append(_Glyph(info.codepoint, x + position.x_offset, y + position.y_offset, info.cluster))
        x += position.x_advance
        y += position.y_advance
    return glyphs, x


def _code_points(character: str) -> str:
    return " ".join(f"U+{ord(one):04X}" for one in character)


def _why(error: Exception) -> str:
    """What is wrong, in words of our own: the libraries' speak of their insides."""
    return str(error) if isinstance(error, _Broken) else "its tables are broken or cut short"
