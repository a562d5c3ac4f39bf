"""Real letter outlines from the open fonts of the sample jobs, as nesting parts."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import shapely
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.ttLib import TTFont

from geometry.outline import Outline

FONTS = Path(__file__).resolve().parents[2] / "sample_jobs" / "fonts"


@cache
def _font(name: str) -> TTFont:
    return TTFont(FONTS / name)


@cache
def letter_pieces(
    character: str, height: float, font: str = "DejaVuSans-Bold.ttf", steps: int = 18
) -> tuple[Outline, ...]:
    """Connected pieces of a letter whose capitals are `height` mm tall; curves in `steps` chords."""
    face = _font(font)
    glyphs = face.getGlyphSet()
    pen = DecomposingRecordingPen(glyphs)
    glyphs[face.getBestCmap()[ord(character)]].draw(pen)
    scale = height / (getattr(face["OS/2"], "sCapHeight", 0) or 0.729 * face["head"].unitsPerEm)
    along = np.linspace(0, 1, steps + 1)[1:, None]
    rings: list[list[np.ndarray]] = []
    for operator, points in pen.value:
        at = [np.array(point, dtype=float) for point in points]
        if operator == "moveTo":
            rings.append(at)
        elif operator == "lineTo":
            rings[-1] += at
        elif operator == "qCurveTo":
            for k, control in enumerate(at[:-1]):
                start, end = rings[-1][-1], at[-1] if k == len(at) - 2 else (control + at[k + 1]) / 2
                rings[-1] += list((1 - along) ** 2 * start + 2 * along * (1 - along) * control + along**2 * end)
        elif operator == "curveTo":
            a, (b, c, d), u = rings[-1][-1], at, 1 - along
            rings[-1] += list(u**3 * a + 3 * u * u * along * b + 3 * u * along**2 * c + along**3 * d)
    shape = shapely.Polygon()
    for ring in rings:
        shape = shape.symmetric_difference(shapely.Polygon(np.array(ring) * scale).buffer(0))
    return tuple(
        Outline.from_points(np.asarray(one.exterior.coords), [np.asarray(ring.coords) for ring in one.interiors])
        for one in shapely.get_parts(shape)
        if one.area > 1.0
    )


def ring_outline(outer: Outline, width: float) -> Outline | None:
    """A retainer-like ring along the outer edge of an outline."""
    whole = shapely.Polygon(outer.outer)
    inner = whole.buffer(-width)
    if inner.is_empty or inner.geom_type != "Polygon":
        return None
    return Outline.from_points(outer.outer, [np.asarray(inner.exterior.coords)])
