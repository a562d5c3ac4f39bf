"""Arc fitting of glyphs at sign size: measured deviation and number of pieces, against chords at the same tolerance.

`python -m tests.bench.fit [--height-in 24] [--tolerance-in 0.002] [FONT ...]`: twenty characters of each font, capitals
that high; three fonts of the sample jobs when none is named. The deviation is the larger of both ways: points of the
true curve (200 along each cubic, line or arc, by nothing but its own formula) to the fitted contour cut into chords of
a hundredth of the tolerance, and points of the fitted contour to the true curve cut likewise.
"""

from __future__ import annotations

import argparse
import math
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import shapely

from app.artwork.fonts import set_text
from app.job.document import Text
from geometry.arcs import point_at
from geometry.contour import Contour, FillRule, Region
from geometry.curve import Arc, Cubic, Line
from geometry.fit import fit_region
from geometry.flatten import flatten_contour
from geometry.regions import regions_from_contours
from geometry.transform import scaling, transform_contour

FONTS = Path(__file__).resolve().parents[2] / "sample_jobs" / "fonts"
USUAL = ("lobster.otf", "Comfortaa-Bold.ttf", "DejaVuSerif-Bold.ttf")
CHARACTERS = "ABCDGJOQRSaegkst2358"


def glyph(font: Path, character: str, capital_height: float) -> tuple[Region, ...]:
    """Material of one character, capitals so high (mm)."""
    drawing = set_text(Text(character, str(font)), font)
    if drawing.capital_height is None:
        raise ValueError(f"{font.name} has no capital height")
    larger = scaling(capital_height / drawing.capital_height)
    contours = [transform_contour(one, larger) for shape in drawing.shapes for one in shape.contours]
    regions, _said = regions_from_contours(contours, FillRule.NONZERO)
    return regions


def deviation(one: Contour, two: Contour, tolerance: float) -> float:
    """Largest distance between two closed contours either way, mm."""
    return max(_furthest(one, two, tolerance), _furthest(two, one, tolerance))


def _furthest(one: Contour, two: Contour, tolerance: float) -> float:
    points = np.array([point_at(segment, i / 200) for segment in one.segments for i in range(200)])
    chords = shapely.LinearRing(flatten_contour(two, 0.01 * tolerance))
    shapely.prepare(chords)
    return float(shapely.distance(shapely.points(points), chords).max())


def main(arguments: Sequence[str] | None = None) -> None:
    """Print one row per glyph and a sum per font."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("fonts", nargs="*", type=Path)
    parser.add_argument("--height-in", type=float, default=24.0)
    parser.add_argument("--tolerance-in", type=float, default=0.002)
    chosen = parser.parse_args(arguments)
    height, tolerance = 25.4 * chosen.height_in, 25.4 * chosen.tolerance_in
    for font in chosen.fonts or [FONTS / name for name in USUAL]:
        print(f"{font.name}, capitals {chosen.height_in:g} in, tolerance {chosen.tolerance_in:g} in")
        print("      drawn  lines  arcs  pieces  chords  deviation, in")
        total: Counter[str] = Counter()
        worst = 0.0
        for character in CHARACTERS:
            pairs = [(region, fit_region(region, tolerance)) for region in glyph(font, character, height)]
            before = [one for region, _ in pairs for one in (region.outer, *region.holes)]
            after = [one for _, region in pairs for one in (region.outer, *region.holes)]
            kinds = Counter(type(segment) for contour in after for segment in contour.segments)
            row = Counter(
                drawn=sum(len(contour.segments) for contour in before),
                lines=kinds[Line],
                arcs=kinds[Arc],
                pieces=sum(kinds.values()),
                chords=sum(len(flatten_contour(contour, tolerance)) for contour in before),
            )
            off = max(deviation(one, two, tolerance) for one, two in zip(before, after, strict=True))
            if kinds[Cubic] or not off <= tolerance or math.isnan(off):
                raise AssertionError(f"{font.name} {character}: {off / 25.4:.5f} in off, {kinds[Cubic]} cubics left")
            _print(character, row, off)
            total += row
            worst = max(worst, off)
        _print("all", total, worst)
        print(f"      {total['chords'] / total['pieces']:.1f} times fewer pieces than chords\n")


def _print(name: str, row: Counter[str], off: float) -> None:
    print(
        f"{name:<5}{row['drawn']:>6}{row['lines']:>7}{row['arcs']:>6}{row['pieces']:>8}{row['chords']:>8}"
        f"{off / 25.4:>15.5f}"
    )


if __name__ == "__main__":
    main()
