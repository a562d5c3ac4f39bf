"""The report's section on strip goods, and on letters as they are carried: weights and shipping sizes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reportlab.platypus import Spacer

from app.job.document import DisplayUnits
from app.output.report_style import HEADING, SMALL_BOLD, rich, table, text
from app.output.tables import letters_table, strips_table
from app.output.words import counted
from app.planning.job_plan import JobPlan
from app.planning.strip_lists import strip_lists
from geometry.units import MM_PER, format_both


def strips_and_letters(plan: JobPlan, width: float) -> Iterator[Any]:
    """What strip is needed and from how many coils, every strip's length, and what each letter weighs and measures."""
    if plan.strips:
        yield rich("Returns and other strips", HEADING)
        for one in strip_lists(plan.strips):
            need = f"{one.total / MM_PER['ft']:,.1f} ft ({one.total / 1000.0:,.1f} m)"
            need += "" if one.rolls else " to cut"
            if one.stock_length is not None:
                proof = ", proven fewest" if one.is_proven else ""
                need += f", from {counted(one.coil_count, 'coil')} of {one.stock_length / MM_PER['ft']:,.0f} ft{proof}"
            if one.rolls:
                density = sum(roll.density * roll.length for roll in one.rolls) / one.total
                need += (
                    f" from the roll as its panels are laid in film.csv, {100.0 * density:.1f} % of it used; lay all "
                    "panels in one direction, from rolls of one lot"
                )
            yield rich(f"<b>{one.goods.value}, {format_both(one.width)} wide:</b> {need}.")
        yield rich(
            "Cut length: along the middle of the strip's thickness, with lap and waste as set. Loops are joined at "
            "the highest corner, out of sight.",
        )
        yield _strips(plan, width)
        yield Spacer(1, 6)
    if plan.lettering:
        yield rich("Letters: weight and shipping size", HEADING)
        yield rich("Flat parts and returns only; lamps, wiring, frame and packing come on top.")
        yield _letters(plan, width)


def _strips(plan: JobPlan, width: float) -> Any:
    rows: list[list[object]] = []
    for goods, letter, name, quantity, across_mm, _, cut_mm, across_in, _, cut_in, *_ in strips_table(plan).rows:
        if plan.job.units is DisplayUnits.INCHES:
            sizes = [f"{across_in:.3f} in", f"{cut_in:.2f} in"]
        else:
            sizes = [f"{across_mm:.1f} mm", f"{cut_mm:.0f} mm"]
        rows.append([str(goods), str(letter), str(name), str(quantity), *sizes])
    widths = [width * share for share in (0.18, 0.2, 0.3, 0.08, 0.12, 0.12)]
    return table(["strip", "letter", "what for", "qty", "width", "cut length"], rows, widths, right=(3, 4, 5))


def _letters(plan: JobPlan, width: float) -> Any:
    rows: list[list[object]] = []
    for letter, name, sets, _, _, across, along, _, _, kg, lb in letters_table(plan).rows:
        size = "" if across is None else f"{across:.1f} × {along:.1f} in"
        heading: object = text(str(name), SMALL_BOLD) if not letter else f"{name} ({letter})"
        rows.append([heading, "" if sets is None else str(sets), size, f"{kg:,.1f} kg", f"{lb:,.1f} lb"])
    widths = [width * share for share in (0.4, 0.08, 0.24, 0.14, 0.14)]
    return table(["letter", "qty", "ships at", "each", "each"], rows, widths, right=(1, 2, 3, 4))
