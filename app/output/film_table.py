"""The list of film: every panel on its roll, in the order it comes off."""

from __future__ import annotations

from app.output.tables import Cell, Column, Kind, Table
from app.planning.job_plan import JobPlan
from app.planning.strip_lists import strip_lists
from geometry.units import MM_PER


def film_table(plan: JobPlan) -> Table:
    """One row per panel: which roll, how far along it and across it the panel begins, and its size.

    Along the roll is up the letter; all panels keep that direction. Across is from the edge of what is of use.
    """
    inch = MM_PER["in"]
    rolls = [roll for one in strip_lists(plan.strips) for roll in one.rolls]
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            number,
            place.letter,
            place.name,
            place.copy + 1,
            *(value / inch for value in (place.along, place.across, place.length, place.width)),
            *(place.along, place.across, place.length, place.width),
        )
        for number, roll in enumerate(rolls, start=1)
        for place in roll.places
    )
    names = ("along", "across", "length", "width")
    columns = (
        Column("roll", Kind.COUNT),
        Column("letter"),
        Column("panel"),
        Column("copy", Kind.COUNT),
        *(Column(f"{name} in", Kind.INCH) for name in names),
        *(Column(f"{name} mm", Kind.MM) for name in names),
    )
    return Table("Film", columns, rows, "No film is laid.")
