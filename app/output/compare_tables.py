"""A comparison of stock as a table, as text, and as JSON for other programs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from app.job.document import DisplayUnits, Job
from app.output.tables import Cell, Column, Kind, Table
from app.output.text_table import text_table
from app.output.words import DEFINITIONS, area_text, weight_text
from app.planning.compare import Effort, Outcome
from app.planning.cut_time import BASIS
from app.planning.recommend import Recommendation, recommend, unbeaten
from app.stock.book import Material
from app.stock.money import format_price
from app.stock.weights import KG_PER_LB
from geometry.units import MM_PER

VERSION: Final = 1

UNBEATEN: Final = (
    "unbeaten: places every part, if any choice does, and no other choice is at least as good in cost, scrap, time "
    "and kept offcuts, and better in one of them"
)
GAP: Final = "gap: cost above the least that any plan on this stock can come to (a bound from areas, which may be low)"


@dataclass(frozen=True, slots=True)
class Compared:
    """The outcomes of one material with what is said about them."""

    material: Material
    outcomes: tuple[Outcome, ...]
    unbeaten: tuple[bool, ...]
    advice: Recommendation


def compared(job: Job, outcomes: Sequence[Outcome]) -> tuple[Compared, ...]:
    """Outcomes by material, in the job's order, each with its recommendation."""

    def money(minor: int) -> str:
        return f"{format_price(minor, job.currency)} {job.currency}"

    def area(mm2: float) -> str:
        return area_text(mm2, job.units)

    def heavy(kg: float) -> str:
        return weight_text(kg, job.units)

    made = []
    for material in job.materials:
        mine = tuple(one for one in outcomes if one.choice.material.id == material.id)
        if mine:
            made.append(Compared(material, mine, unbeaten(mine), recommend(mine, money=money, area=area, weight=heavy)))
    return tuple(made)


def compare_table(job: Job, all_compared: Sequence[Compared]) -> Table:
    """One row per choice of every material."""
    rows: list[tuple[Cell, ...]] = []
    for one in all_compared:
        for index, (outcome, on_front) in enumerate(zip(one.outcomes, one.unbeaten, strict=True)):
            choice = outcome.choice
            rows.append(
                (
                    one.material.name,
                    choice.name,
                    choice.cutter.diameter,
                    choice.spacing,
                    choice.material.margin,
                    outcome.sheet_count,
                    sheets_in_words(outcome),
                    outcome.unplaced,
                    None if outcome.cost is None else Decimal(format_price(outcome.cost, job.currency)),
                    _ratio(outcome.net_yield),
                    _ratio(outcome.credited_yield),
                    _ratio(outcome.waste_factor) if outcome.part_area else None,
                    outcome.part_area,
                    outcome.sheet_area,
                    outcome.offcut_area,
                    outcome.scrap_kg,
                    Decimal(f"{outcome.minutes:.1f}"),
                    outcome.least_sheets,
                    None if outcome.least_cost is None else Decimal(format_price(outcome.least_cost, job.currency)),
                    None if outcome.gap is None else _ratio(outcome.gap),
                    "yes" if on_front else "no",
                    "yes" if index == one.advice.index else "",
                    outcome.fault,
                )
            )
    columns = (
        Column("material"),
        Column("choice"),
        Column("cutter mm", Kind.MM),
        Column("spacing mm", Kind.MM),
        Column("margin mm", Kind.MM),
        Column("sheets", Kind.COUNT),
        Column("of which"),
        Column("copies without a place", Kind.COUNT),
        Column(f"cost {job.currency}", Kind.MONEY),
        Column("net yield", Kind.MONEY),
        Column("credited yield", Kind.MONEY),
        Column("waste factor", Kind.MONEY),
        Column("part area mm2", Kind.AREA),
        Column("sheet area mm2", Kind.AREA),
        Column("kept offcuts mm2", Kind.AREA),
        Column("scrap kg", Kind.WEIGHT),
        Column("cutting time min", Kind.MONEY),
        Column("fewest possible sheets", Kind.COUNT),
        Column(f"least possible cost {job.currency}", Kind.MONEY),
        Column("gap", Kind.MONEY),
        Column("unbeaten"),
        Column("recommended"),
        Column("fault"),
    )
    return Table("Comparison", columns, tuple(rows), "There is nothing to compare.")


def compare_text(job: Job, all_compared: Sequence[Compared]) -> str:
    """What the compare command prints: a table per material, and what is recommended."""
    blocks = []
    for one in all_compared:
        rows = [
            row_in_words(job, outcome, on_front=on_front, recommended=index == one.advice.index)
            for index, (outcome, on_front) in enumerate(zip(one.outcomes, one.unbeaten, strict=True))
        ]
        table = text_table(headings(job), rows, right=RIGHT)
        faults = [f"  {outcome.choice.name}: {outcome.fault}" for outcome in one.outcomes if outcome.fault]
        blocks.append("\n".join([one.material.name, table, *faults, f"Recommended: {one.advice.why}"]))
    notes = [
        f"net yield: {DEFINITIONS['net yield']}",
        f"credited yield: {DEFINITIONS['credited yield']}",
        f"waste factor: {DEFINITIONS['waste factor']}",
        BASIS,
        GAP,
        f"* {UNBEATEN}",
    ]
    return "\n\n".join([*blocks, "\n".join(notes)])


def headings(job: Job) -> tuple[str, ...]:
    """Of the columns that `row_in_words` fills, in the job's units."""
    kept, scrap = ("kept ft²", "scrap lb") if job.units is DisplayUnits.INCHES else ("kept m²", "scrap kg")
    return (
        "",
        "choice",
        "sheets",
        "cost",
        "net yield",
        "credited",
        "waste f.",
        kept,
        scrap,
        "min",
        "gap",
        "not placed",
    )


RIGHT: Final = (2, 3, 4, 5, 6, 7, 8, 9, 10, 11)


def row_in_words(job: Job, outcome: Outcome, *, on_front: bool, recommended: bool) -> list[str]:
    """One choice as the cells under `headings`."""
    mark = "->" if recommended else "*" if on_front else ""
    if outcome.fault:
        return [mark, outcome.choice.name, *["-"] * 9, str(outcome.unplaced)]
    square, heavy = (MM_PER["ft"] ** 2, KG_PER_LB) if job.units is DisplayUnits.INCHES else (1e6, 1.0)
    return [
        mark,
        outcome.choice.name,
        str(outcome.sheet_count),
        "not known" if outcome.cost is None else format_price(outcome.cost, job.currency),
        f"{outcome.net_yield:.1%}",
        f"{outcome.credited_yield:.1%}",
        f"{outcome.waste_factor:.2f}" if outcome.part_area else "-",
        f"{outcome.offcut_area / square:.2f}",
        f"{outcome.scrap_kg / heavy:.1f}",
        f"{outcome.minutes:.0f}",
        "-" if outcome.gap is None else f"{outcome.gap:.0%}",
        str(outcome.unplaced),
    ]


def sheets_in_words(outcome: Outcome) -> str:
    """How many of each: "2 of 48 x 96, 1 of offcut 12"."""
    names = {sheet.id: sheet.name for sheet in outcome.choice.stock}
    return ", ".join(f"{count} of {names[stock]}" for stock, count in outcome.sheets)


def compare_json(job: Job, all_compared: Sequence[Compared], effort: Effort) -> dict[str, Any]:
    """The comparison as plain lists, texts and numbers; money in major units as text, lengths mm, areas mm²."""
    return {
        "version": VERSION,
        "job": job.name,
        "currency": job.currency,
        "effort": {"seconds_each": None if effort.rounds is not None else effort.seconds, "rounds_each": effort.rounds,
                   "seed": effort.seed},
        "definitions": {
            **{name: DEFINITIONS[name] for name in ("net yield", "credited yield", "waste factor", "scrap weight")},
            "minutes": BASIS,
            "gap": GAP,
            "unbeaten": UNBEATEN,
        },
        "materials": [
            {
                "material": one.material.id,
                "recommended": None if one.advice.index is None else one.outcomes[one.advice.index].choice.name,
                "why": one.advice.why,
                "choices": [
                    _choice_json(job, outcome, on_front)
                    for outcome, on_front in zip(one.outcomes, one.unbeaten, strict=True)
                ],
            }
            for one in all_compared
        ],
    }  # fmt: skip


def _choice_json(job: Job, outcome: Outcome, on_front: bool) -> dict[str, Any]:
    def price(minor: int | None) -> str | None:
        return None if minor is None else format_price(minor, job.currency)

    return {
        "name": outcome.choice.name,
        "stock": [sheet.id for sheet in outcome.choice.stock],
        "uses_rack": outcome.choice.uses_rack,
        "cutter": outcome.choice.cutter.id,
        "spacing": outcome.choice.spacing,
        "margin": outcome.choice.material.margin,
        "sheets": dict(outcome.sheets),
        "sheet_count": outcome.sheet_count,
        "unplaced": outcome.unplaced,
        "cost": price(outcome.cost),
        "net_yield": outcome.net_yield,
        "credited_yield": outcome.credited_yield,
        "waste_factor": outcome.waste_factor if outcome.part_area else None,
        "part_area": outcome.part_area,
        "sheet_area": outcome.sheet_area,
        "offcut_area": outcome.offcut_area,
        "weight_kg": outcome.weight_kg,
        "scrap_kg": outcome.scrap_kg,
        "minutes": outcome.minutes,
        "least_sheets": outcome.least_sheets,
        "least_cost": price(outcome.least_cost),
        "gap": outcome.gap,
        "rounds": outcome.rounds,
        "unbeaten": on_front,
        "fault": outcome.fault or None,
    }


def _ratio(value: float) -> Decimal:
    return Decimal(f"{value:.4f}")
