"""The buy list as rows of a table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from app.job.document import DisplayUnits
from app.stock.money import format_price
from app.window.data_table import Cell, Column, Row, number
from app.window.wording import size, weight
from geometry.units import MM_PER

if TYPE_CHECKING:
    from app.planning.order import Order, OrderLine
    from app.planning.order_goods import GoodsLine

COLUMNS: Final = (
    Column("Buy", "How many to buy", 46, is_number=True),
    Column("What", "Sheet size with its material, coil, roll, or what is bought by length", least=200),
    Column("Real size", "Width × height or length, as it surely comes", 184),
    Column("Each", "Price of one", 70, is_number=True),
    Column("All", "Price of all that is bought", 78, is_number=True),
    Column("Weight", "Of all that is bought", 76, is_number=True),
    Column("Used", "Taken by the plans", 48, is_number=True),
    Column("On hand", "Taken from what is in the shop already", 64, is_number=True),
    Column("Supplier", "As the stock book says", 96),
    Column("For", "Which job takes how many", 120),
    Column("Remark", "Spares, minimum orders, prices that are not known", 150),
)
PIECE_COLUMNS: Final = (
    Column("Offcut", "Number on its label", 60, is_number=True),
    Column("Piece", "As the plan calls it", 190),
    Column("Material"),
    Column("For", "The job that takes it", 200),
)


def order_rows(order: Order, units: DisplayUnits) -> list[Row]:
    """A row for each size, coil, roll and sort of strip."""
    sheets = [_sheet_row(order, line, units) for line in order.lines]
    return sheets + [_goods_row(order, line, index, units) for index, line in enumerate(order.goods)]


def piece_rows(order: Order) -> list[Row]:
    """A row for each piece of the rack that a job takes."""
    return [
        Row(
            str(one.number),
            (number(str(one.number), one.number), Cell(one.name), Cell(one.material.name), Cell(one.job)),
        )
        for one in order.offcuts
    ]


def _sheet_row(order: Order, line: OrderLine, units: DisplayUnits) -> Row:
    from app.output.order_tables import remark

    stock = line.stock
    return Row(
        stock.id,
        (
            number(str(line.bought), line.bought, look="strong" if line.bought else "muted"),
            Cell(f"{stock.name}, {line.material.name}"),
            number(size(stock.width, stock.height, units), stock.area),
            _money(stock.price, order),
            _money(line.cost, order),
            number(weight(line.weight_kg, units), line.weight_kg),
            number(str(line.used), line.used),
            number(str(line.from_hand), line.from_hand),
            Cell(line.supplier),
            Cell(", ".join(f"{job}: {count}" for job, count in line.jobs)),
            Cell(remark(line)),
        ),
    )


def _goods_row(order: Order, line: GoodsLine, index: int, units: DisplayUnits) -> Row:
    from app.output.order_tables import goods_remark, length_each, length_needed

    by_length = line.length is None
    remarks = "; ".join(part for part in (f"{length_needed(line)} to cut", goods_remark(line)) if part)
    return Row(
        f"goods {index}",
        (
            Cell("", float("inf")) if by_length else number(str(line.bought), line.bought, look="strong"),
            Cell(f"{line.name}, {line.goods.value}"),
            number(length_each(line), line.width),
            _money(line.price, order),
            _money(line.cost, order),
            number("" if line.weight_kg is None else weight(line.weight_kg, units), line.weight_kg),
            Cell("", float("inf")) if by_length else number(str(line.used), line.used),
            Cell("", float("inf")) if by_length else number(str(line.from_hand), line.from_hand),
            Cell(line.supplier),
            Cell(", ".join(f"{job}: {length / MM_PER['ft']:.1f} ft" for job, length in line.jobs)),
            Cell(remarks),
        ),
    )


def _money(minor: int | None, order: Order) -> Cell:
    if minor is None:
        return number("not known", None, look="muted")
    text = format_price(minor, order.currency)
    return number(text, minor, tip=f"{text} {order.currency}")
