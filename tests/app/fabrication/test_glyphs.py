"""Glyphs of real fonts at many sizes: nothing is lost, and shapely agrees with every part."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from app.artwork.fonts import set_text
from app.artwork.letters import letter_drawing
from app.fabrication.fabricate import fabricate
from app.fabrication.part import Role
from app.fabrication.remarks import FabricationCode
from app.fabrication.settings import values_of
from app.job.document import Artwork, Scale, ScaleBy, Text
from geometry.curve import Cubic
from geometry.findings import Severity
from geometry.flatten import flatten_region
from tests.app.fabrication.letters import IN, job, polygon_of

FONTS = sorted((Path(__file__).parents[3] / "sample_jobs" / "fonts").glob("*.[ot]tf"))
GLYPHS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789&@é?%"
GONE = {
    Role.BACKER: FabricationCode.PART_VANISHED,
    Role.FACE: FabricationCode.PART_VANISHED,
    Role.RETAINER: FabricationCode.NO_LIGHT,
}


def cases() -> list[tuple[str, str, float, float]]:
    """Fifty glyphs with their font, capital height and flange, drawn once and for all by a fixed seed."""
    random = np.random.default_rng(20)
    found = []
    for _ in range(50):
        font = FONTS[random.integers(len(FONTS))]
        glyph = GLYPHS[random.integers(len(GLYPHS))]
        found.append((font.name, glyph, float(random.uniform(10.0, 60.0)), float(random.choice([0.5, 1.0, 1.5]))))
    return found


@pytest.mark.parametrize(("font", "glyph", "height", "flange"), cases())
def test_every_region_yields_parts_or_findings(font, glyph, height, flange):
    text = Text(glyph, str(FONTS[0].parent / font))
    artwork = Artwork("line1", "x", "letters", text=text, scale=Scale(ScaleBy.CAPITAL_HEIGHT, height * IN))
    lettering = letter_drawing(set_text(text, text.font), artwork)
    settings = [("retainer flange", flange * IN)]
    asked = job(settings=settings)
    found = fabricate(asked, (lettering,))
    values = values_of(asked.builds[0])
    assert lettering.letters

    for letter in lettering.letters:
        said = [one for one in found.findings if one.subject == letter.id]
        for index, region in enumerate(letter.regions):
            suffix = f"-{'abcdefgh'[index]}" if len(letter.regions) > 1 else ""
            parts = [part for part in found.parts if part.id.startswith(f"{letter.id}{suffix}-")]
            shapes = {part.id: polygon_of(part) for part in parts}
            for part in parts:
                assert shapes[part.id].is_valid
                assert not any(
                    isinstance(segment, Cubic)
                    for contour in (part.region.outer, *part.region.holes)
                    for segment in contour.segments
                )
            for role, code in GONE.items():
                if not any(part.role is role for part in parts):
                    assert any(one.code == code and one.severity is Severity.ERROR for one in said), role

            drawn = flatten_region(region, 0.01)
            whole = shapely.Polygon(drawn.outer, drawn.holes)
            slack = values["arc tolerance"] + 0.05
            of_role = {
                role: shapely.union_all([shapes[part.id] for part in parts if part.role is role]) for role in Role
            }
            assert of_role[Role.BACKER].within(whole.buffer(slack))
            assert of_role[Role.FACE].within(of_role[Role.BACKER].buffer(slack))
            for role, inset in (
                (Role.BACKER, values["return thickness"] + values["backer fit"]),
                (Role.FACE, values["return thickness"] + values["face clearance"]),
            ):
                assert _agree(of_role[role], whole.buffer(-inset, quad_segs=64), 2.0 * slack), role

            rings = [shapes[part.id] for part in parts if part.role in (Role.RETAINER, Role.COUNTER_RETAINER)]
            if rings:
                together = shapely.union_all(rings)
                assert together.area == pytest.approx(sum(ring.area for ring in rings), rel=1e-6)  # none overlap
                opening = whole.buffer(values["retainer fit"] - flange * IN, quad_segs=64)
                codes = {one.code for one in said}
                if FabricationCode.OPENING_TAILS in codes:
                    material = dict(asked.builds[0].materials)["retainer"]
                    cutter = next(one.cutter for one in asked.materials if one.id == material)
                    diameter = next(one.diameter for one in asked.cutters if one.id == cutter)
                    # Closed only where the cutter cannot go: between the opening as drawn and what it reaches of it.
                    radius = diameter / 2.0
                    reached = opening.buffer(-radius, quad_segs=64).buffer(radius, quad_segs=64)
                    assert whole.difference(opening).buffer(-2.0 * slack).difference(together).area <= 100.0
                    assert reached.buffer(-2.0 * slack).intersection(together).area <= 100.0
                elif FabricationCode.OPENING_LOST not in codes:
                    assert _agree(together, whole.difference(opening), 2.0 * slack)


def _agree(found: shapely.Geometry, expected: shapely.Geometry, by: float) -> bool:
    """Whether two shapes differ by no more than a band of that width along their edges, and slivers left out."""
    difference = found.symmetric_difference(expected).buffer(-by / 2.0)
    return difference.area <= 100.0
