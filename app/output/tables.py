"""The lists of a plan as plain tables: parts, offcuts, what to buy, what is not placed.

A table knows its columns' kinds and nothing of files; `app.output.table_files` writes it.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import StrEnum
from typing import Final

from app.fabrication.shipping import shipping_box
from app.output.cut_sheet import CutSheet
from app.output.words import offcut_name
from app.planning.job_plan import JobPlan
from app.planning.strip_lists import strip_lists
from app.stock.money import format_price
from app.stock.weights import KG_PER_LB, weight
from geometry.measure import region_area, region_bounds, region_perimeter
from geometry.units import MM_PER

Cell = str | int | float | Decimal | None

SPARE_FROM: Final = 5
"""More sheets of one material than this, and a spare one is worth a thought (common practice)."""


class Kind(StrEnum):
    """What a column holds; decides alignment and number format."""

    TEXT = "text"
    COUNT = "count"
    MM = "mm"
    INCH = "in"
    AREA = "area"
    WEIGHT = "weight"
    MONEY = "money"


@dataclass(frozen=True, slots=True)
class Column:
    """A heading, with its unit, and a kind."""

    heading: str
    kind: Kind = Kind.TEXT


@dataclass(frozen=True, slots=True)
class Table:
    """A named table; every row has a cell per column, None where nothing is known."""

    name: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    when_empty: str = ""


def parts_table(plan: JobPlan, sheets: Sequence[CutSheet]) -> Table:
    """One row per part: what it is, how many, how large, and where its copies lie."""
    characters = {letter.id: letter.name for lettering in plan.lettering for letter in lettering.letters}
    materials = {material.id: material for material in plan.job.materials}
    places: dict[str, list[str]] = {}
    for sheet in sheets:
        for piece in sheet.pieces:
            places.setdefault(piece.part.id, []).append(f"{sheet.planned.number} no. {piece.number}")
    rows: list[tuple[Cell, ...]] = []
    for part in plan.parts:
        bounds, area = region_bounds(part.region), region_area(part.region)
        material = materials[part.material]
        there = places.get(part.id, [])
        rows.append(
            (
                part.id,
                part.name,
                characters.get(part.letter, ""),
                part.letter,
                part.role.value,
                material.name,
                part.quantity,
                len(there),
                bounds.width,
                bounds.height,
                bounds.width / MM_PER["in"],
                bounds.height / MM_PER["in"],
                area,
                region_perimeter(part.region),
                weight(area, material.density, material.thickness),
                "; ".join(there),
            )
        )
    columns = (
        Column("part"),
        Column("name"),
        Column("character"),
        Column("letter"),
        Column("role"),
        Column("material"),
        Column("quantity", Kind.COUNT),
        Column("placed", Kind.COUNT),
        Column("width mm", Kind.MM),
        Column("height mm", Kind.MM),
        Column("width in", Kind.INCH),
        Column("height in", Kind.INCH),
        Column("net area mm2", Kind.AREA),
        Column("cut length mm", Kind.MM),
        Column("weight each kg", Kind.WEIGHT),
        Column("sheet and number"),
    )
    return Table("Parts", columns, tuple(rows))


def offcuts_table(plan: JobPlan, when: datetime) -> Table:
    """One row per offcut to keep, with what its label needs. Sizes are planned: measure after cutting."""
    rows: list[tuple[Cell, ...]] = []
    for sheet in plan.sheets:
        for number, offcut in enumerate(sheet.offcuts):
            rows.append(
                (
                    offcut_name(sheet.number, number),
                    sheet.number,
                    sheet.material.name,
                    sheet.material.thickness,
                    sheet.stock.name,
                    offcut.width,
                    offcut.height,
                    offcut.width / MM_PER["in"],
                    offcut.height / MM_PER["in"],
                    offcut.x,
                    offcut.y,
                    offcut.width * offcut.height,
                    weight(offcut.width * offcut.height, sheet.material.density, sheet.material.thickness),
                    plan.job.name,
                    f"{when:%Y-%m-%d}",
                    "",
                    "",
                )
            )
    columns = (
        Column("offcut"),
        Column("sheet", Kind.COUNT),
        Column("material"),
        Column("thickness mm", Kind.MM),
        Column("from stock"),
        Column("width mm", Kind.MM),
        Column("height mm", Kind.MM),
        Column("width in", Kind.INCH),
        Column("height in", Kind.INCH),
        Column("left mm", Kind.MM),
        Column("bottom mm", Kind.MM),
        Column("area mm2", Kind.AREA),
        Column("weight kg", Kind.WEIGHT),
        Column("job"),
        Column("planned on"),
        Column("measured size"),
        Column("rack place"),
    )
    return Table("Offcuts", columns, tuple(rows), "No offcut is large enough to keep.")


def buy_table(plan: JobPlan) -> Table:
    """One row per stock size: how many sheets the plan uses, with price and weight."""
    currency = plan.job.currency
    used = Counter(sheet.stock.id for sheet in plan.sheets)
    of_material = Counter(sheet.material.id for sheet in plan.sheets)
    materials = {material.id: material for material in plan.job.materials}
    rows: list[tuple[Cell, ...]] = []
    for stock in plan.job.stock:
        count = used[stock.id]
        if not count:
            continue
        material = materials[stock.material]
        each_kg = weight(stock.area, material.density, material.thickness)
        rows.append(
            (
                material.name,
                material.thickness,
                stock.name,
                stock.width,
                stock.height,
                stock.width / MM_PER["in"],
                stock.height / MM_PER["in"],
                count,
                stock.count,
                None if stock.price is None else Decimal(format_price(stock.price, currency)),
                None if stock.price is None else Decimal(format_price(stock.price * count, currency)),
                each_kg,
                each_kg * count,
                each_kg * count / KG_PER_LB,
                "a spare sheet is worth a thought" if of_material[material.id] > SPARE_FROM else "",
            )
        )
    columns = (
        Column("material"),
        Column("thickness mm", Kind.MM),
        Column("stock"),
        Column("width mm", Kind.MM),
        Column("height mm", Kind.MM),
        Column("width in", Kind.INCH),
        Column("height in", Kind.INCH),
        Column("sheets", Kind.COUNT),
        Column("most to be had", Kind.COUNT),
        Column(f"price each {currency}", Kind.MONEY),
        Column(f"price all {currency}", Kind.MONEY),
        Column("weight each kg", Kind.WEIGHT),
        Column("weight all kg", Kind.WEIGHT),
        Column("weight all lb", Kind.WEIGHT),
        Column("remark"),
    )
    return Table("Buy list", columns, tuple(rows), "No sheet is used.")


def strips_table(plan: JobPlan) -> Table:
    """One row per strip: returns, trim edge, film, backing strips, the length to cut and where a loop is joined."""
    rows: list[tuple[Cell, ...]] = []
    for strip in plan.strips:
        rows.append(
            (
                strip.goods.value,
                strip.letter,
                strip.name,
                strip.quantity,
                strip.width,
                strip.length,
                strip.cut_length,
                strip.width / MM_PER["in"],
                strip.length / MM_PER["in"],
                strip.cut_length / MM_PER["in"],
                None if strip.joint is None else strip.joint[0],
                None if strip.joint is None else strip.joint[1],
                strip.weight_kg or None,
            )
        )
    columns = (
        Column("goods"),
        Column("letter"),
        Column("strip"),
        Column("quantity", Kind.COUNT),
        Column("width mm", Kind.MM),
        Column("fitted length mm", Kind.MM),
        Column("cut length mm", Kind.MM),
        Column("width in", Kind.INCH),
        Column("fitted length in", Kind.INCH),
        Column("cut length in", Kind.INCH),
        Column("joint at x mm", Kind.MM),
        Column("joint at y mm", Kind.MM),
        Column("weight each kg", Kind.WEIGHT),
    )
    return Table("Strips", columns, tuple(rows), "No strip goods are needed.")


def coils_table(plan: JobPlan) -> Table:
    """One row per way a coil is cut, and one for each sort of strip that is bought by length."""
    rows: list[tuple[Cell, ...]] = []
    for one in strip_lists(plan.strips):
        name = f"{one.goods.value}, {one.width / MM_PER['in']:.3f} in wide"
        for roll in one.rolls:
            there = "; ".join(f"{place.letter} {place.name}" for place in roll.places)
            share = f"{100.0 * roll.density:.1f} % of what is used of the roll is laid"
            rows.append((name, 1, None, roll.length, roll.length / MM_PER["ft"], None, there, share))
        if one.rolls:
            continue
        if one.stock_length is None:
            rows.append((name, None, None, one.total, one.total / MM_PER["ft"], None, "", ""))
            continue
        proof = "no fewer coils can do" if one.is_proven else ""
        for count, pieces, left_over in one.coils:
            used = one.stock_length - left_over
            rows.append((name, count, one.stock_length, used, used / MM_PER["ft"], left_over, "; ".join(pieces), proof))
    columns = (
        Column("goods"),
        Column("coils", Kind.COUNT),
        Column("coil length mm", Kind.MM),
        Column("used of each mm", Kind.MM),
        Column("used of each ft", Kind.INCH),
        Column("left of each mm", Kind.MM),
        Column("cut from each"),
        Column("remark"),
    )
    return Table("Coils", columns, tuple(rows), "No strip goods are needed.")


def letters_table(plan: JobPlan) -> Table:
    """One row per letter: size, the box it ships in, weight of its flat parts and returns; then the whole package."""
    materials = {material.id: material for material in plan.job.materials}
    artwork = {one.id: one for one in plan.job.artwork}
    flat: dict[str, float] = defaultdict(float)
    bent: dict[str, float] = defaultdict(float)
    for part in plan.parts:
        material = materials[part.material]
        flat[part.letter] += weight(region_area(part.region), material.density, material.thickness)
    for strip in plan.strips:
        bent[strip.letter] += strip.weight_kg
    rows: list[tuple[Cell, ...]] = []
    total = 0.0
    for letter in (letter for lettering in plan.lettering for letter in lettering.letters):
        boxes = [region_bounds(region) for region in letter.regions]
        width = max(box.max_x for box in boxes) - min(box.min_x for box in boxes)
        height = max(box.max_y for box in boxes) - min(box.min_y for box in boxes)
        across, along = shipping_box(letter.regions)
        sets = artwork[letter.artwork].sets if letter.artwork in artwork else 1
        each = flat[letter.id] + bent[letter.id]
        total += each * sets
        rows.append(
            (
                letter.id,
                letter.name,
                sets,
                width / MM_PER["in"],
                height / MM_PER["in"],
                across / MM_PER["in"],
                along / MM_PER["in"],
                flat[letter.id],
                bent[letter.id],
                each,
                each / KG_PER_LB,
            )
        )
    if rows:
        rows.append(("", "all letters", None, None, None, None, None, None, None, total, total / KG_PER_LB))
    columns = (
        Column("letter"),
        Column("name"),
        Column("quantity", Kind.COUNT),
        Column("width in", Kind.INCH),
        Column("height in", Kind.INCH),
        Column("ships at width in", Kind.INCH),
        Column("ships at length in", Kind.INCH),
        Column("flat parts each kg", Kind.WEIGHT),
        Column("returns each kg", Kind.WEIGHT),
        Column("weight each kg", Kind.WEIGHT),
        Column("weight each lb", Kind.WEIGHT),
    )
    return Table("Letters", columns, tuple(rows), "There are no letters.")


def findings_table(plan: JobPlan) -> Table:
    """One row per finding, as found; the report tells only some of those that are alike."""
    rows: list[tuple[Cell, ...]] = []
    for finding in plan.findings:
        x, y = finding.where if finding.where is not None else (None, None)
        done = "put right" if finding.fixed else ""
        rows.append((finding.severity.value, finding.code, finding.subject, finding.message, done, x, y))
    columns = (
        Column("severity"),
        Column("kind"),
        Column("where"),
        Column("what, and the way out"),
        Column("done"),
        Column("at x mm", Kind.MM),
        Column("at y mm", Kind.MM),
    )
    return Table("Findings", columns, tuple(rows), "Nothing was found that needs a look.")


def unplaced_table(plan: JobPlan) -> Table:
    """One row per copy that lies on no sheet, with the reason."""
    names = {part.id: part.name for part in plan.parts}
    rows = tuple((left.part, names.get(left.part, ""), left.copy + 1, left.reason) for left in plan.unplaced)
    columns = (Column("part"), Column("name"), Column("copy", Kind.COUNT), Column("reason"))
    return Table("Unplaced", columns, rows, "Every part is placed.")
