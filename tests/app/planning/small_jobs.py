"""Small prepared jobs, made without artwork, for the tests of planning."""

from __future__ import annotations

from app.fabrication.part import CutPart, Role
from app.job.document import Build, Job
from app.planning.prepare import Prepared
from app.stock.book import Cutter, Material, MaterialKind, StockSheet
from geometry.build import rectangle
from geometry.contour import Region

INCH = 25.4


def prepared_squares(
    count: int,
    *,
    side: float = 12 * INCH,
    sheet: tuple[float, float] = (48 * INCH, 96 * INCH),
    sheet_count: int | None = None,
    price: int | None = 20_000,
) -> Prepared:
    """`count` squares of aluminium on one sheet size, quarter-inch cutter, 3/8 in spacing, 1/2 in margin."""
    material = Material(
        id="alu",
        name="aluminium 0.063 in",
        kind=MaterialKind.ALUMINIUM,
        thickness=0.063 * INCH,
        density=2680.0,
        cutter="quarter",
        web=0.125 * INCH,
        margin=0.5 * INCH,
    )
    job = Job(
        name="squares",
        artwork=(),
        builds=(Build("plain", "plain", "none", (("panel", "alu"),)),),
        materials=(material,),
        cutters=(Cutter("quarter", "1/4 in single flute", 0.25 * INCH),),
        stock=(StockSheet("s", "alu", "48 x 96", *sheet, count=sheet_count, price=price),),
    )
    part = CutPart(
        id="square",
        role=Role.PANEL,
        letter="square",
        name="square",
        material="alu",
        quantity=count,
        region=Region(rectangle(side, side)),
        origin=(0.0, 0.0),
        rotations=(0.0, 90.0),
    )
    return Prepared(job, (), (part,), ())
