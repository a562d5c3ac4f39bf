"""The buy list of several jobs as tables and as text."""

from __future__ import annotations

from decimal import Decimal

from app.output.tables import Cell, Column, Kind, Table
from app.output.text_table import text_table
from app.planning.order import Order, OrderLine
from app.stock.money import format_price
from app.stock.weights import KG_PER_LB
from geometry.units import MM_PER


def order_table(order: Order) -> Table:
    """One row per sheet size: what is used, what is there, what to buy."""
    rows = tuple(_row(order, line) for line in order.lines)
    columns = (
        Column("material"),
        Column("thickness mm", Kind.MM),
        Column("size"),
        Column("stock"),
        Column("width mm", Kind.MM),
        Column("height mm", Kind.MM),
        Column("width in", Kind.INCH),
        Column("height in", Kind.INCH),
        Column("supplier"),
        Column("used", Kind.COUNT),
        Column("spare", Kind.COUNT),
        Column("from hand", Kind.COUNT),
        Column("buy", Kind.COUNT),
        Column("fewest per order", Kind.COUNT),
        Column(f"price each {order.currency}", Kind.MONEY),
        Column(f"price all {order.currency}", Kind.MONEY),
        Column("weight kg", Kind.WEIGHT),
        Column("weight lb", Kind.WEIGHT),
        Column("for"),
        Column("remark"),
    )
    return Table("Buy list", columns, rows, "Nothing has to be bought.")


def totals_table(order: Order) -> Table:
    """One row per material, and one for everything."""
    rows: list[tuple[Cell, ...]] = [
        (
            total.material.name,
            total.bought,
            _money(total.cost, order.currency),
            total.weight_kg,
            total.weight_kg / KG_PER_LB,
        )
        for total in order.totals
    ]
    weight = sum(total.weight_kg for total in order.totals)
    bought = sum(total.bought for total in order.totals)
    rows.append(("everything", bought, _money(order.cost, order.currency), weight, weight / KG_PER_LB))
    columns = (
        Column("material"),
        Column("sheets to buy", Kind.COUNT),
        Column(f"cost {order.currency}", Kind.MONEY),
        Column("weight kg", Kind.WEIGHT),
        Column("weight lb", Kind.WEIGHT),
    )
    return Table("Totals", columns, tuple(rows))


def taken_table(order: Order) -> Table:
    """One row per piece of the rack that a job takes."""
    rows = tuple((one.number, one.name, one.material.name, one.job) for one in order.offcuts)
    columns = (Column("offcut", Kind.COUNT), Column("piece"), Column("material"), Column("job"))
    return Table("From the rack", columns, rows, "No piece of the rack is used.")


def cut_from_table(order: Order) -> Table:
    """One row per material of a job: what its plan is cut from."""
    columns = (Column("job"), Column("material"), Column("cut from"))
    return Table("Cut from", columns, order.choices, "No job has parts.")


def order_text(order: Order) -> str:
    """What the order command prints."""
    rows = [
        [
            line.material.name,
            line.stock.name,
            str(line.bought),
            str(line.used),
            str(line.spare),
            str(line.from_hand),
            "not known" if line.cost is None else format_price(line.cost, order.currency),
            f"{line.weight_kg:.1f}",
            line.supplier,
            remark(line),
        ]
        for line in order.lines
    ]
    headings = ["material", "size", "buy", "used", "spare", "on hand", f"cost {order.currency}", "kg", "supplier", ""]
    blocks = [text_table(headings, rows, right=(2, 3, 4, 5, 6, 7)) if rows else "Nothing has to be bought."]
    blocks.append("\n".join(total_lines(order)))
    if order.offcuts:
        blocks.append("\n".join(f"from the rack: {one.name}, for {one.job}" for one in order.offcuts))
    blocks.append("\n".join(f"{job}: {material} is cut from {choice}" for job, material, choice in order.choices))
    watch = warnings(order)
    if watch:
        blocks.append("\n".join(watch))
    return "\n\n".join(blocks)


def total_lines(order: Order) -> list[str]:
    """Sums by material and over all, one sentence each."""
    lines = [
        f"{total.material.name}: {total.bought} to buy, {_cost(total.cost, order.currency)}, "
        f"{total.weight_kg:.1f} kg ({total.weight_kg / KG_PER_LB:.1f} lb)"
        for total in order.totals
    ]
    weight = sum(total.weight_kg for total in order.totals)
    lines.append(f"everything: {_cost(order.cost, order.currency)}, {weight:.1f} kg ({weight / KG_PER_LB:.1f} lb)")
    return lines


def warnings(order: Order) -> list[str]:
    """What the purchaser must know before ordering, one sentence each."""
    said = []
    if order.unplaced:
        jobs = list(dict.fromkeys(job for job, _ in order.unplaced))
        said.append(
            f"NOT PLACED: {len(order.unplaced)} pieces of {', '.join(jobs)} fit no sheet listed; this order does not "
            "cover them"
        )
    if order.lacks_spare:
        said.append("A spare sheet was due by the rule but cannot be had; it is left out.")
    return said


def remark(line: OrderLine) -> str:
    """What is special about a line; empty when nothing is."""
    said = []
    needed = line.used + line.spare - line.from_hand
    if line.bought > needed:
        said.append(f"{line.bought - needed} more than needed: fewest per order is {line.minimum}")
    if line.spare:
        said.append(f"{line.spare} spare")
    return "; ".join(said)


def _row(order: Order, line: OrderLine) -> tuple[Cell, ...]:
    size = line.stock
    return (
        line.material.name,
        line.material.thickness,
        size.name,
        size.id,
        size.width,
        size.height,
        size.width / MM_PER["in"],
        size.height / MM_PER["in"],
        line.supplier,
        line.used,
        line.spare,
        line.from_hand,
        line.bought,
        line.minimum,
        _money(size.price, order.currency),
        _money(line.cost, order.currency),
        line.weight_kg,
        line.weight_kg / KG_PER_LB,
        ", ".join(f"{job}: {count}" for job, count in line.jobs),
        remark(line),
    )


def _money(minor: int | None, currency: str) -> Decimal | None:
    return None if minor is None else Decimal(format_price(minor, currency))


def _cost(minor: int | None, currency: str) -> str:
    return "cost not known, a price is missing" if minor is None else f"{format_price(minor, currency)} {currency}"
