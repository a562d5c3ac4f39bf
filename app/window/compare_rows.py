"""Choices of stock as rows of a table and bars of a chart."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

from app.job.document import Job
from app.stock.money import format_price
from app.window.compare_chart import Bar
from app.window.data_table import Cell, Column, Row, number
from app.window.wording import area, count, share, weight

if TYPE_CHECKING:
    from app.output.compare_tables import Compared
    from app.planning.choices import Choice
    from app.planning.compare import Outcome

COLUMNS: Final = (
    Column("Choice", "What the parts are cut from", least=120),
    Column("Sheets", "How many sheets, offcuts among them", 52, is_number=True),
    Column("Cost", "Of the sheets used; offcuts of the rack cost nothing", 74, is_number=True),
    Column("Net yield", "Net area of the parts, holes removed, over the area of the sheets used", 70, is_number=True),
    Column("Kept", "Area of the offcuts worth keeping", 66, is_number=True),
    Column("Scrap", "Weight of what is neither part nor kept offcut", 68, is_number=True),
    Column("Time", "Estimated cutting time: feed along the edges, handling of the sheets; minutes", 80, is_number=True),
    Column(
        "Gap",
        "Cost above the least that any plan on this stock can come to; the bound may be low, so the true gap may be "
        "smaller",
        46,
        is_number=True,
    ),
    Column("Note", "Recommended; or unbeaten: no other is at least as good in cost, scrap, time and kept offcuts", 116),
)
_FIGURES: Final = len(COLUMNS) - 2


def choice_rows(
    job: Job,
    choices: Mapping[str, Choice],
    outcomes: Mapping[str, Outcome],
    found: Compared | None,
    *,
    is_running: bool,
) -> list[Row]:
    """A row per choice, by its key; those without an outcome wait."""
    rows = []
    for key, choice in choices.items():
        outcome = outcomes.get(key)
        if outcome is None or found is None:
            waits = "planning…" if is_running else "not planned"
            blank = tuple(number("", None) for _ in range(_FIGURES))
            rows.append(Row(key, (Cell(choice.name), *blank, Cell(waits, look="muted"))))
            continue
        place = found.outcomes.index(outcome)
        is_best = place == found.advice.index and not is_running
        look = "strong" if is_best else ""
        note = Cell("recommended" if is_best else "unbeaten" if found.unbeaten[place] else "", look=look)
        if outcome.fault:
            note = Cell("cannot be planned", look="bad", tip=outcome.fault)
        elif outcome.unplaced:
            note = Cell(f"{outcome.unplaced} not placed", look="bad")
        figures = tuple(number("–", None) for _ in range(_FIGURES)) if outcome.fault else _figures(job, outcome, look)
        rows.append(Row(key, (Cell(choice.name, look=look), *figures, note)))
    return rows


def choice_bars(
    job: Job,
    choices: Mapping[str, Choice],
    outcomes: Mapping[str, Outcome],
    found: Compared | None,
    *,
    is_running: bool,
) -> list[Bar]:
    """A bar per choice, in the same order."""
    bars = []
    for key, choice in choices.items():
        outcome = outcomes.get(key)
        if outcome is None or found is None:
            bars.append(Bar(choice.name, is_waiting=True, tip=choice.name))
            continue
        place = found.outcomes.index(outcome)
        words = _in_words(job, outcome)
        bars.append(
            Bar(
                choice.name,
                words,
                f"{choice.name}: {words}, net yield {share(outcome.net_yield)}",
                outcome.part_area,
                outcome.offcut_area,
                max(outcome.sheet_area - outcome.part_area - outcome.offcut_area, 0.0),
                is_best=place == found.advice.index and not is_running,
                is_unbeaten=found.unbeaten[place],
                is_short=bool(outcome.unplaced or outcome.fault),
            )
        )
    return bars


def choice_facts(job: Job, outcome: Outcome) -> list[tuple[str, str]]:
    """What the table has no room for."""
    from app.output.compare_tables import sheets_in_words

    facts = [("Choice", outcome.choice.name)]
    if outcome.fault:
        return [*facts, ("Cannot be planned", outcome.fault)]
    facts += [
        ("Sheets", sheets_in_words(outcome) or "none"),
        ("Credited yield", f"{share(outcome.credited_yield)}, kept offcuts counted in"),
        ("Waste factor", f"{outcome.waste_factor:.2f}" if outcome.part_area else "not known"),
        ("Weight", weight(outcome.weight_kg, job.units)),
    ]
    if outcome.unplaced:
        facts.append(("Not placed", count(outcome.unplaced, "piece")))
    return facts


def _figures(job: Job, outcome: Outcome, look: str) -> tuple[Cell, ...]:
    cost = "not known" if outcome.cost is None else format_price(outcome.cost, job.currency)
    return (
        number(str(outcome.sheet_count), outcome.sheet_count, look=look),
        number(cost, outcome.cost, look=look, tip=f"{cost} {job.currency}"),
        number(share(outcome.net_yield), outcome.net_yield, look=look),
        number(area(outcome.offcut_area, job.units), outcome.offcut_area, look=look),
        number(weight(outcome.scrap_kg, job.units), outcome.scrap_kg, look=look),
        number(f"{outcome.minutes:.0f} min", outcome.minutes, look=look),
        number("–" if outcome.gap is None else f"{outcome.gap * 100:.0f} %", outcome.gap, look=look),
    )


def _in_words(job: Job, outcome: Outcome) -> str:
    if outcome.fault:
        return "cannot be planned"
    if outcome.unplaced:
        return f"{outcome.unplaced} not placed"
    words = count(outcome.sheet_count, "sheet")
    return words if outcome.cost is None else f"{words} · {format_price(outcome.cost, job.currency)} {job.currency}"
