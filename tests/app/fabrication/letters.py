"""Letters and jobs to fabricate, without any artwork reader."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from app.artwork.drawing import Letter, Lettering, Source
from app.fabrication.fabricate import fabricate
from app.fabrication.part import CutPart, Fabrication
from app.job.document import Artwork, Build, Job
from app.stock.defaults import shipped
from geometry.contour import Region
from geometry.flatten import flatten_region

IN = 25.4
KIND = "face-lit with retainer"


def job(*, sets: int = 1, settings: Sequence[tuple[str, float]] = (), face: str = "acrylic-white-3/16") -> Job:
    """A job of one artwork, "line1", with 1/8 in aluminium (1/4 in cutter) and an acrylic face."""
    book = shipped()
    names = ("alu-0.125", face)
    materials = tuple(book.materials[name] for name in names)
    roles = (("backer", "alu-0.125"), ("face", face), ("retainer", "alu-0.125"))
    return Job(
        name="test",
        artwork=(Artwork("line1", "Line 1", "letters", file="line1.svg", sets=sets),),
        builds=(Build("letters", "Letters", KIND, roles, tuple(settings)),),
        materials=materials,
        cutters=tuple(book.cutters[name] for name in dict.fromkeys(one.cutter for one in materials)),
        stock=tuple(sheet for sheet in book.stock.values() if sheet.material in names),
    )


def lettering(*letters: Sequence[Region] | Region) -> Lettering:
    """Letters of line1, one for each region or group of regions."""
    groups = [(one,) if isinstance(one, Region) else tuple(one) for one in letters]
    return Lettering(
        artwork="line1",
        letters=tuple(
            Letter(f"line1-{number:02d}", chr(64 + number), "line1", group, Source("line1.svg"))
            for number, group in enumerate(groups, start=1)
        ),
        width=0.0,
        height=0.0,
        capital_height=None,
        scale=1.0,
        findings=(),
    )


def made(*letters: Sequence[Region] | Region, **terms: object) -> Fabrication:
    """What becomes of the letters under a build with the given settings."""
    return fabricate(job(**terms), (lettering(*letters),))


def by_id(found: Fabrication) -> dict[str, CutPart]:
    parts = {part.id: part for part in found.parts}
    assert len(parts) == len(found.parts)
    return parts


def polygon_of(part: CutPart, tolerance: float = 0.01) -> shapely.Polygon:
    """The part where it stands in the artwork, as a shapely polygon near its true curves."""
    outline = flatten_region(part.region, tolerance)
    shape = shapely.Polygon(outline.outer, outline.holes)
    return shapely.affinity.translate(shape, *part.origin)
