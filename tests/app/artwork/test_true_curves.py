"""Words at 24 in capital height, fitted with arcs: deviation measured both ways, pieces counted against flattening."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import reportlab
import shapely

from app.artwork.drawing import Letter
from app.artwork.fonts import set_text
from app.artwork.letters import letter_drawing
from app.artwork.report import FIT_TOLERANCE
from app.job.document import Artwork, Scale, ScaleBy, Text
from geometry.contour import Contour
from geometry.curve import Arc, Line
from geometry.fit import fit_region
from geometry.flatten import flatten_contour

FONTS = Path(reportlab.__file__).parent / "fonts"
GLYPHS = "ABCDGJOPQRSUaegs2358"
TRUE = 1e-3  # mm: how far the polylines that stand for the curves in this measurement may be from them


def letters(font: str) -> tuple[Letter, ...]:
    drawing = set_text(Text(GLYPHS, font), FONTS / font)
    artwork = Artwork("a", "a", "b", scale=Scale(ScaleBy.CAPITAL_HEIGHT, 24 * 25.4))
    return letter_drawing(drawing, artwork).letters


def contours(letter: Letter, *, fitted: bool) -> list[Contour]:
    regions = [fit_region(region, FIT_TOLERANCE) if fitted else region for region in letter.regions]
    return [contour for region in regions for contour in (region.outer, *region.holes)]


def farthest(one: Contour, other: Contour) -> float:
    """Largest distance from points of one contour to the other, mm."""
    points = flatten_contour(one, TRUE)
    ring = flatten_contour(other, TRUE)
    line = shapely.LineString(np.vstack((ring, ring[:1])))
    return float(shapely.distance(shapely.points(points), line).max())


@pytest.mark.parametrize("font", ["Vera.ttf", "VeraBd.ttf", "VeraIt.ttf"])
def test_fitted_letters_stay_within_two_thousandths_of_an_inch(font: str) -> None:
    arcs = chords = 0
    for letter in letters(font):
        for source, fitted in zip(contours(letter, fitted=False), contours(letter, fitted=True), strict=True):
            assert all(isinstance(segment, Line | Arc) for segment in fitted.segments)
            assert farthest(source, fitted) <= FIT_TOLERANCE + 2 * TRUE
            assert farthest(fitted, source) <= FIT_TOLERANCE + 2 * TRUE
            arcs += len(fitted.segments)
            chords += len(flatten_contour(source, FIT_TOLERANCE))
    assert len(letters(font)) == 20
    assert arcs < 0.5 * chords, f"{arcs} lines and arcs against {chords} chords"
