"""Real glyph outlines as test shapes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import pytest
from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTFont

from geometry.build import closed
from geometry.contour import Contour, FillRule, Region
from geometry.curve import Cubic, Line, Point
from geometry.regions import regions_from_contours

FONTS = Path(__file__).parents[2] / "sample_jobs" / "fonts"
CHARACTERS = "ABGOQRSWXYae8&g"


@dataclass(frozen=True)
class Glyph:
    name: str
    contours: tuple[Contour, ...]
    regions: tuple[Region, ...]


class _ContourPen(BasePen):
    def __init__(self, glyph_set: object, scale: float) -> None:
        super().__init__(glyph_set)
        self.scale, self.contours, self._segments = scale, [], []
        self._first = self._at = (0.0, 0.0)

    def _scaled(self, point: Point) -> Point:
        return (point[0] * self.scale, point[1] * self.scale)

    def _moveTo(self, point: Point) -> None:
        self._first = self._at = self._scaled(point)
        self._segments = []

    def _lineTo(self, point: Point) -> None:
        end = self._scaled(point)
        self._segments.append(Line(self._at, end))
        self._at = end

    def _curveToOne(self, one: Point, two: Point, three: Point) -> None:
        end = self._scaled(three)
        self._segments.append(Cubic(self._at, self._scaled(one), self._scaled(two), end))
        self._at = end

    def _closePath(self) -> None:
        if math.dist(self._at, self._first) > 0.0:
            self._segments.append(Line(self._at, self._first))
        if self._segments:
            self.contours.append(closed(self._segments))


def glyph_contours(font: TTFont, character: str, capital_height: float) -> tuple[Contour, ...]:
    capital = getattr(font["OS/2"], "sCapHeight", 0) or 0.7 * font["head"].unitsPerEm
    pen = _ContourPen(font.getGlyphSet(), capital_height / capital)
    font.getGlyphSet()[font.getBestCmap()[ord(character)]].draw(pen)
    return tuple(pen.contours)


@pytest.fixture(scope="session")
def glyphs() -> tuple[Glyph, ...]:
    """Ninety letters of six fonts, capitals 610 mm high."""
    found = []
    for path in sorted(FONTS.glob("*.[ot]tf")):
        font = TTFont(path)
        for character in CHARACTERS:
            contours = glyph_contours(font, character, 610.0)
            regions, _ = regions_from_contours(contours, FillRule.NONZERO)
            found.append(Glyph(f"{path.name} {character}", contours, regions))
    assert len(found) == 90
    return tuple(found)
