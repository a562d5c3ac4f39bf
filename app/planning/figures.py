"""Figures of a planned material: areas, yields, weight, cost, and how far it can be from the fewest sheets."""

from __future__ import annotations

from collections.abc import Sequence

from app.job.document import DisplayUnits
from app.planning.job_plan import MaterialSummary, Offcut
from app.planning.problems import MaterialProblem
from nesting.plan import Plan


def placed_area(one: MaterialProblem, plan: Plan) -> float:
    """Net area of all placed copies, mm²: true curves, holes removed."""
    return sum(one.part_areas[placement.part] for layout in plan.layouts for placement in layout.placements)


def used_area(one: MaterialProblem, plan: Plan) -> float:
    """Area of the sheets in use, mm²."""
    areas = {sheet.id: sheet.area for sheet in one.stock}
    return sum(areas[layout.sheet] for layout in plan.layouts)


def summarise(
    one: MaterialProblem, plan: Plan, offcuts: Sequence[Sequence[Offcut]], units: DisplayUnits
) -> MaterialSummary:
    """The figures of one material; `offcuts` per layout, in the same order.

    Definitions: net yield = part area / sheet area; credited yield = (part area + kept offcuts) / sheet area; scrap is
    what is neither part nor kept offcut. Weight = area x thickness x density of the stock book.
    """
    part_area, sheet_area = placed_area(one, plan), used_area(one, plan)
    offcut_area = sum(offcut.width * offcut.height for kept in offcuts for offcut in kept)
    kg_per_mm2 = one.material.thickness * one.material.density * 1e-9
    prices = {sheet.id: sheet.price or 0 for sheet in one.stock}
    return MaterialSummary(
        material=one.material.id,
        sheet_count=len(plan.layouts),
        part_area=part_area,
        sheet_area=sheet_area,
        offcut_area=offcut_area,
        net_yield=part_area / sheet_area if sheet_area else 0.0,
        credited_yield=(part_area + offcut_area) / sheet_area if sheet_area else 0.0,
        cost=sum(prices[layout.sheet] for layout in plan.layouts) if one.has_prices else None,
        weight_kg=sheet_area * kg_per_mm2,
        scrap_kg=(sheet_area - part_area - offcut_area) * kg_per_mm2,
        least_sheets=one.bound.sheets or 0,
        bound_reason=_bound_in_words(one, plan, units),
    )


def _bound_in_words(one: MaterialProblem, plan: Plan, units: DisplayUnits) -> str:
    used, least = len(plan.layouts), one.bound.sheets
    need = f"the parts with their spacing take {_area_in_words(one.bound.area, units)}"
    if least is not None and one.bound.apart == least > 1:
        need = f"no two of {least} large parts fit on one sheet"
    if least is None:
        return f"the stock at hand cannot hold all parts: {need}"
    if plan.unplaced:
        return f"not every part is placed; those that fit some sheet need at least {least} ({need})"
    if used == least:
        return f"proven fewest: {need}"
    return f"at least {least} needed, since {need}; whether fewer than {used} can do is not known"


def _area_in_words(area_mm2: float, units: DisplayUnits) -> str:
    return f"{area_mm2 / 304.8**2:.1f} ft²" if units is DisplayUnits.INCHES else f"{area_mm2 / 1e6:.2f} m²"
