"""One buy list for several jobs: sheets after nesting, less what is there, with minimum orders and spares."""

from __future__ import annotations

import dataclasses
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from app.errors import PlanningError
from app.planning.compare import Effort
from app.planning.mix import SpareRule
from app.planning.order import Order, OrderStock, plan_order
from app.planning.prepare import Prepared
from app.stock.book import StockSheet
from app.stock.rack_items import Box, OffcutStatus, RackOffcut, box_outline
from app.stock.shop_book import shipped_book
from app.stock.supply import BookMaterial, SheetOffer, ShopBook
from tests.app.planning.small_jobs import INCH, prepared_squares

ONCE = Effort(0.0, rounds=0)
SMALL = StockSheet("small", "alu", "48 x 96", 48 * INCH, 96 * INCH, price=10_000)
LARGE = StockSheet("large", "alu", "60 x 120", 60 * INCH, 120 * INCH, price=15_000)
EMPTY = ShopBook("USD")


def job(name: str, squares: int, *stock: StockSheet, **changes) -> Prepared:
    prepared = prepared_squares(squares)
    return dataclasses.replace(
        prepared, job=dataclasses.replace(prepared.job, name=name, stock=stock or (SMALL, LARGE), **changes)
    )


def order(*jobs: Prepared, book: ShopBook = EMPTY, on_hand=None, offcuts=None, **more) -> Order:
    with ThreadPoolExecutor(1) as pool:
        return plan_order(jobs, OrderStock(book, on_hand or {}, offcuts or {}), ONCE, executor=pool, **more)


def bought(made: Order) -> dict[str, int]:
    return {line.stock.id: line.bought for line in made.lines}


def offcut(number: int, width: float, height: float) -> RackOffcut:
    at = datetime(2026, 1, 1, tzinfo=UTC)
    return RackOffcut(
        number, "alu", 0.063 * INCH, box_outline(width, height), Box(0, 0, width, height), "", "B2", "", "", None,
        OffcutStatus.KEPT, "", None, at, at,
    )  # fmt: skip


def test_sheets_are_counted_after_nesting_never_by_area():
    # trade.md V24: a 48 x 96 holds 21 squares of 12 in. By area 28 would need 1 sheet (32 ft2); nested they need 2.
    made = order(job("hall", 28, SMALL))
    assert bought(made) == {"small": 2}
    assert made.cost == 20_000
    # trade.md V1: 28.16 lb a sheet (0.5 % for the rounded density).
    assert made.totals[0].weight_kg / 0.45359237 == pytest.approx(2 * 28.16, rel=0.005)


def test_each_job_gets_the_cheapest_of_its_choices():
    # 36 squares (V25) fill one 60 x 120 at 150.00; on 48 x 96 they would take two, 200.00.
    made = order(job("hall", 36), job("café", 21))
    assert bought(made) == {"small": 1, "large": 1}
    assert made.cost == 25_000
    assert {line.stock.id: line.jobs for line in made.lines} == {"small": (("café", 1),), "large": (("hall", 1),)}
    assert [plan.job.name for plan in made.plans] == ["hall", "café"]
    assert [len(plan.sheets) for plan in made.plans] == [1, 1]
    assert sum(len(sheet.placed) for plan in made.plans for sheet in plan.sheets) == 57


def test_what_is_on_hand_changes_the_choice():
    made = order(job("hall", 36), on_hand={"small": 2})
    assert made.cost == 0
    (line,) = made.lines
    assert (line.stock.id, line.used, line.from_hand, line.bought) == ("small", 2, 2, 0)


def test_the_minimum_order_of_the_stock_book_changes_the_choice():
    prepared = job("hall", 36)
    material = BookMaterial(prepared.job.materials[0], 0.0, 0.0, "")
    offer = SheetOffer(
        "large", "alu", "60 x 120", LARGE.width, LARGE.height, price=Decimal(150), minimum=5, supplier="S"
    )
    book = ShopBook("USD", materials={"alu": material}, sheets={"large": offer})
    made = order(prepared, book=book)
    assert (bought(made), made.cost) == ({"small": 2}, 20_000)
    alone = order(job("hall", 36, LARGE), book=book)
    assert bought(alone) == {"large": 5}
    assert (alone.lines[0].minimum, alone.lines[0].supplier, alone.lines[0].used) == (5, "S", 1)


def test_an_offcut_of_the_rack_saves_a_sheet_for_one_job_only():
    pieces = (offcut(7, 400.0, 400.0),)
    both = {"hall": pieces, "café": pieces}
    made = order(job("hall", 22, SMALL), job("café", 22, SMALL), offcuts=both)
    assert bought(made) == {"small": 3}
    (taken,) = made.offcuts
    assert taken.number == 7
    plans = {plan.job.name: plan for plan in made.plans}
    stocks = {sheet.stock.id for sheet in plans[taken.job].sheets}
    assert stocks == {"small", "rack:7"}


def test_spares_come_by_rule():
    made = order(job("hall", 21 * 6, SMALL))
    assert bought(made) == {"small": 7}
    assert made.lines[0].spare == 1
    assert order(job("hall", 21, SMALL), spare=SpareRule(lot_matched=frozenset({"alu"}))).lines[0].spare == 1
    few = order(job("hall", 21 * 6, dataclasses.replace(SMALL, count=6)))
    assert few.lacks_spare
    assert bought(few) == {"small": 6}


def test_without_prices_the_least_area_is_ordered():
    # trade.md V27: of 48 x 96, 60 x 120 and 51 x 100, two of 51 x 100 hold 60 squares on the least area.
    sizes = [StockSheet(n, "alu", n, w * INCH, h * INCH) for n, w, h in (("a", 48, 96), ("b", 60, 120), ("c", 51, 100))]
    made = order(job("hall", 60, *sizes))
    assert bought(made) == {"c": 2}
    assert made.cost is None
    assert made.totals[0].cost is None


def test_parts_without_a_place_are_listed_not_dropped():
    prepared = prepared_squares(2, side=70 * INCH)
    made = order(dataclasses.replace(prepared, job=dataclasses.replace(prepared.job, stock=(SMALL,))))
    assert [(name, left.part) for name, left in made.unplaced] == [("squares", "square")] * 2
    assert made.lines == ()


@pytest.mark.parametrize(
    ("jobs", "words"),
    [
        (lambda: (job("hall", 1), job("hall", 2)), "two jobs are called 'hall'"),
        (lambda: (job("hall", 1), job("café", 1, currency="EUR")), "EUR and USD"),
        (lambda: (job("hall", 1), job("café", 1, dataclasses.replace(SMALL, width=1000.0))), "not the same sheet"),
    ],
)
def test_jobs_that_do_not_go_together_are_one_sentence(jobs, words):
    with pytest.raises(PlanningError, match=words):
        order(*jobs())


def test_sizes_named_by_id_follow_the_shops_own_book():
    shipped = shipped_book()
    sheet = shipped.sizes_of("alu-0.063")[0]
    material = dataclasses.replace(prepared_squares(1).job.materials[0], id="alu-0.063", cutter="quarter")
    prepared = prepared_squares(1)
    prepared = dataclasses.replace(
        prepared,
        job=dataclasses.replace(prepared.job, materials=(material,), stock=(sheet,)),
        parts=tuple(dataclasses.replace(part, material=material.id) for part in prepared.parts),
    )
    dearer = dataclasses.replace(shipped.sheets[sheet.id], price=Decimal("500.00"), supplier="the shop's supplier")
    own = dataclasses.replace(shipped, sheets={**shipped.sheets, sheet.id: dearer})
    (line,) = order(prepared, book=own).lines
    assert (line.cost, line.supplier) == (50_000, "the shop's supplier")
    mine = dataclasses.replace(sheet, price=123)  # a price the job wrote out itself stays
    prepared = dataclasses.replace(prepared, job=dataclasses.replace(prepared.job, stock=(mine,)))
    assert order(prepared, book=own).lines[0].cost == 123
