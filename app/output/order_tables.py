"""The buy list of several jobs as tables and as text."""

from __future__ import annotations

from decimal import Decimal

from app.output.tables import Cell, Column, Kind, Table
from app.output.text_table import text_table
from app.planning.order import Order, OrderLine
from app.planning.order_goods import GoodsLine
from app.stock.money import format_price
from app.stock.weights import KG_PER_LB
from geometry.units import MM_PER, format_both


def order_table(order: Order) -> Table:
    """One row per sheet size, coil, roll and sort bought by length: what is used, what is there, what to buy."""
    rows = tuple(_row(order, line) for line in order.lines) + tuple(_goods_row(order, line) for line in order.goods)
    columns = (
        Column("material"),
        Column("thickness mm", Kind.MM),
        Column("size"),
        Column("stock"),
        Column("width mm", Kind.MM),
        Column("height or length mm", Kind.MM),
        Column("width in", Kind.INCH),
        Column("height or length in", Kind.INCH),
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
    """One row per material, coil and roll, and one for everything, or for everything that has a price."""
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
    rows += [
        (
            line.name,
            None if line.length is None else line.bought,
            _money(line.cost, order.currency),
            line.weight_kg,
            None if line.weight_kg is None else line.weight_kg / KG_PER_LB,
        )
        for line in order.goods
    ]
    weight = _weight(order)
    bought = sum(total.bought for total in order.totals) + sum(line.bought for line in order.goods)
    everything = "everything" if order.cost is not None else "everything; cost of what has a price"
    rows.append((everything, bought, _money(order.known_cost, order.currency), weight, weight / KG_PER_LB))
    columns = (
        Column("material"),
        Column("to buy", Kind.COUNT),
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
    blocks = [text_table(headings, rows, right=(2, 3, 4, 5, 6, 7)) if rows else "No sheet has to be bought."]
    if order.goods:
        goods = [
            [
                line.name,
                length_each(line),
                "" if line.length is None else str(line.bought),
                "" if line.length is None else str(line.used),
                "" if line.length is None else str(line.from_hand),
                length_needed(line),
                "not known" if line.cost is None else format_price(line.cost, order.currency),
                line.supplier,
                goods_remark(line),
            ]
            for line in order.goods
        ]
        headings = ["strip", "each", "buy", "used", "on hand", "to cut", f"cost {order.currency}", "supplier", ""]
        blocks.append(text_table(headings, goods, right=(2, 3, 4, 5, 6)))
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
    for line in order.goods:
        count = f"{length_needed(line)} to buy" if line.length is None else f"{line.bought} to buy"
        lines.append(f"{line.name}: {count}, {_cost(line.cost, order.currency)}")
    weight = _weight(order)
    cost = _cost(order.known_cost, order.currency)
    if order.cost is None:
        cost = f"{cost} for what has a price; some prices are missing" if order.known_cost else _cost(None, "")
    lines.append(f"everything: {cost}, {weight:.1f} kg ({weight / KG_PER_LB:.1f} lb)")
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


def length_needed(line: GoodsLine) -> str:
    """What is cut of a sort of strip, in feet and metres."""
    return f"{line.needed / MM_PER['ft']:,.1f} ft ({line.needed / 1000.0:,.1f} m)"


def length_each(line: GoodsLine) -> str:
    """Width and length of a coil or roll; the width alone of what is bought by length."""
    across = format_both(line.width)
    if line.length is None:
        return f"{across} wide"
    return f"{across} × {line.length / MM_PER['ft']:,.0f} ft ({line.length / 1000.0:,.1f} m)"


def goods_remark(line: GoodsLine) -> str:
    """What is special about coils, rolls or lengths to buy; empty when nothing is."""
    said = []
    if line.from_hand + line.bought > line.used:
        said.append(f"{line.from_hand + line.bought - line.used} more than needed: fewest per order is {line.minimum}")
    if line.used > 1 and not line.is_proven:
        said.append("fewer might do")
    if line.why_unknown:
        said.append(line.why_unknown)
    return "; ".join(said)


def _goods_row(order: Order, line: GoodsLine) -> tuple[Cell, ...]:
    by_length = line.length is None
    used, hand, bought, minimum = (line.used, line.from_hand, line.bought, line.minimum)
    counts: tuple[Cell, ...] = (None,) * 5 if by_length else (used, 0, hand, bought, minimum)
    return (
        line.goods.value,
        line.thickness or None,
        line.name,
        line.stock,
        line.width,
        line.length,
        line.width / MM_PER["in"],
        None if line.length is None else line.length / MM_PER["in"],
        line.supplier,
        *counts,
        _money(line.price, order.currency),
        _money(line.cost, order.currency),
        line.weight_kg,
        None if line.weight_kg is None else line.weight_kg / KG_PER_LB,
        ", ".join(f"{job}: {length / MM_PER['ft']:.1f} ft" for job, length in line.jobs),
        "; ".join(part for part in (f"{length_needed(line)} to cut", goods_remark(line)) if part),
    )


def _weight(order: Order) -> float:
    """Of everything bought whose weight is known, kg."""
    sheets = sum(total.weight_kg for total in order.totals)
    return sheets + sum(line.weight_kg for line in order.goods if line.weight_kg is not None)


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
