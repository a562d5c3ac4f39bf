"""From parts to nesting problems: one per material, since a cutter, a spacing and a sheet belong to one material."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from app.errors import JobError
from app.fabrication.part import CutPart
from app.job.document import Job
from app.planning.prepare import BegunSheet, Prepared
from app.stock.book import Cutter, KeepOut, Material, StockSheet, spacing_of
from geometry.flatten import Side, flatten_region
from geometry.measure import region_area
from geometry.outline import Outline
from nesting.bounds import LowerBound, lower_bound
from nesting.clearance import placed_polygon
from nesting.errors import InvalidProblem
from nesting.nearest import widened
from nesting.problem import Part, Problem, Rules, Sheet

OUTLINE_TOLERANCE: Final = 0.1
"""How far the outline that is nested may lie outside the true curve, mm. A tenth of a millimetre is a fiftieth of the
usual spacing, and keeps a letter at a hundred points or so."""


@dataclass(frozen=True, slots=True, eq=False)
class MaterialProblem:
    """What is to be nested on one material, beside the entries of the stock book it came from. Not to be changed."""

    material: Material
    cutter: Cutter
    stock: tuple[StockSheet, ...]
    parts: tuple[CutPart, ...]
    problem: Problem
    part_areas: dict[str, float]  # true net area of one copy by part id, mm²
    bound: LowerBound
    has_prices: bool


def material_problems(prepared: Prepared) -> tuple[MaterialProblem, ...]:
    """One problem for each material that any part is made of, in the job's order of materials.

    Raises
    ------
    JobError
        When a material has no stock, or its rules leave no room.
    """
    job = prepared.job
    cutters = {cutter.id: cutter for cutter in job.cutters}
    problems = []
    for material in job.materials:
        parts = tuple(part for part in prepared.parts if part.material == material.id)
        if not parts:
            continue
        begun = tuple(one for one in prepared.begun if one.stock.material == material.id)
        # What a begun sheet costs is spent.
        stock = tuple(replace(one.stock, id=one.id, count=1, price=0) for one in begun)
        stock += tuple(sheet for sheet in job.stock if sheet.material == material.id and sheet.count != 0)
        if not stock:
            raise JobError(
                f"material '{material.id}' has {len(parts)} parts but no stock to cut them from; "
                "add a sheet size for it to the job's stock"
            )
        held = {one.id: _held(one, spacing_of(material, cutters[material.cutter])) for one in begun}
        problems.append(_material_problem(job, material, cutters[material.cutter], stock, parts, held))
    return tuple(problems)


def rectangle_outline(width: float, height: float, *, x: float = 0.0, y: float = 0.0) -> Outline:
    """A rectangle with its lower left corner at (x, y); mm."""
    return Outline.from_points([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def _material_problem(
    job: Job,
    material: Material,
    cutter: Cutter,
    stock: tuple[StockSheet, ...],
    parts: tuple[CutPart, ...],
    held: Mapping[str, tuple[Outline, ...]],
) -> MaterialProblem:
    has_prices = all(sheet.price is not None for sheet in stock)
    try:
        problem = Problem(
            parts=tuple(_engine_part(part) for part in parts),
            sheets=tuple(_engine_sheet(sheet, held.get(sheet.id, ()), by_price=has_prices) for sheet in stock),
            rules=Rules(
                spacing=spacing_of(material, cutter),
                margin=material.margin,
                may_nest_in_holes=job.may_nest_in_holes,
            ),
        )
    except InvalidProblem as error:
        raise JobError(f"material '{material.id}' cannot be planned: {error}") from error
    areas = {part.id: region_area(part.region) for part in parts}
    return MaterialProblem(material, cutter, stock, parts, problem, areas, lower_bound(problem), has_prices)


def _engine_part(part: CutPart) -> Part:
    return Part(
        id=part.id,
        outline=flatten_region(part.region, OUTLINE_TOLERANCE, Side.OUTSIDE),
        quantity=part.quantity,
        rotations=part.rotations,
        may_mirror=part.may_mirror,
    )


def _held(begun: BegunSheet, spacing: float) -> tuple[Outline, ...]:
    """What the parts on a begun sheet keep others out of: themselves and the spacing round them."""
    outlines = []
    for part, at in begun.held:
        shape = placed_polygon(flatten_region(part.region, OUTLINE_TOLERANCE, Side.OUTSIDE), at)
        for one in shapely.get_parts(widened(shape, spacing) if spacing > 0.0 else shape):
            rings = [np.asarray(ring.coords)[:-1] for ring in (one.exterior, *one.interiors)]
            outlines.append(Outline.from_points(rings[0], rings[1:]))
    return tuple(outlines)


def _engine_sheet(sheet: StockSheet, held: tuple[Outline, ...], *, by_price: bool) -> Sheet:
    # Where a price is missing, area stands in for it: least cost then means least sheet area.
    # What costs nothing, like an offcut of the rack, costs nothing either way.
    cost = sheet.price if sheet.price is not None and (by_price or sheet.price == 0) else round(sheet.area / 100.0)
    return Sheet(
        id=sheet.id,
        outline=Outline.from_points(sheet.edge),
        quantity=sheet.count,
        cost=cost,
        keep_outs=(*(_keep_out(zone) for zone in sheet.keep_outs), *held),
    )


def _keep_out(zone: KeepOut) -> Outline:
    return rectangle_outline(zone.width, zone.height, x=zone.x, y=zone.y)
