"""Coils and rolls to buy for several jobs: whole pieces after cutting, shared by the jobs, priced by the stock book."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from app.fabrication.part import Goods, Strip
from app.fabrication.strips import flat_width
from app.planning.order_goods import goods_lines
from app.stock.shop_book import shipped_book
from app.stock.supply import CoilOffer, CoilUse, PerLength, RollOffer, ShopBook

IN, FT = 25.4, 304.8
THREE = CoilOffer("c3", "coil 3 in", 3 * IN, 1.016, 2730.0, 100 * FT, Decimal(112), minimum=1, supplier="S")
FIVE = CoilOffer("c5", "coil 5 in", 5 * IN, 1.016, 2730.0, 100 * FT, Decimal(186))
THICK = CoilOffer("c5t", "coil 5 in thick", 5 * IN, 1.6002, 2730.0, 100 * FT, Decimal(100))
FILM_24 = RollOffer("f24", "film 24 in", 24 * IN, 0.25 * IN, 360 * IN, Decimal(96))
FILM_48 = RollOffer("f48", "film 48 in", 48 * IN, 0.25 * IN, 360 * IN, Decimal(186))


def book(*offers: CoilOffer | RollOffer) -> ShopBook:
    return ShopBook(
        "USD",
        coils={one.id: one for one in offers if isinstance(one, CoilOffer)},
        rolls={one.id: one for one in offers if isinstance(one, RollOffer)},
    )


def coil(feet: float, *, width: float = 3 * IN, count: int = 1, thickness: float = 1.016) -> Strip:
    return Strip(
        "a-01", "return", Goods.RETURN, width, feet * FT, feet * FT, count, stock_length=100 * FT, thickness=thickness
    )


def film(width: float, height: float, count: int = 1) -> Strip:
    return Strip("a-01", "film", Goods.FILM, width * IN, height * IN, height * IN, count)


def lines(*jobs, offers, on_hand=None, currency="USD"):
    return goods_lines(jobs, book(*offers), currency=currency, on_hand=on_hand or {})


def test_jobs_share_a_coil_and_lengths_are_never_summed_past_it():
    # V15-like closed form: 40 ft and 60 ft fill a coil of 100 ft; 60 and 60 need two, though 120 / 100 asks for 1.2.
    (one,) = lines(("hall", [coil(40)]), ("café", [coil(60)]), offers=[THREE])
    assert (one.used, one.bought, one.cost, one.supplier) == (1, 1, 11_200, "S")
    assert one.jobs == (("hall", pytest.approx(40 * FT)), ("café", pytest.approx(60 * FT)))
    assert one.is_proven
    (one,) = lines(("hall", [coil(60, count=3)]), offers=[THREE])
    assert (one.used, one.bought, one.cost) == (3, 3, 33_600)


def test_the_coil_is_wide_enough_and_of_the_same_thickness():
    # c5t is cheaper, but not of that thickness; c3 is too narrow.
    (one,) = lines(("hall", [coil(60, width=4 * IN)]), offers=[THREE, FIVE, THICK])
    assert (one.stock, one.cost) == ("c5", 18_600)
    # 5 in × 0.040 in × 100 ft of density 2730 kg/m³: 0.127 m × 0.001016 m × 30.48 m × 2730 kg/m³.
    assert one.weight_kg == pytest.approx(0.127 * 0.001016 * 30.48 * 2730)


def test_strips_of_two_widths_go_on_one_coil_when_that_is_their_cheapest():
    (one,) = lines(("hall", [coil(40, width=4 * IN), coil(60, width=4.5 * IN)]), offers=[FIVE])
    assert (one.used, one.cost) == (1, 18_600)


def test_two_thicknesses_are_two_coils():
    made = lines(("hall", [coil(40), coil(40, thickness=1.6002)]), offers=[THREE, THICK])
    assert {one.stock: one.bought for one in made} == {"c3": 1, "c5t": 1}


def test_on_hand_and_the_smallest_order():
    few = replace(THREE, minimum=4)
    (one,) = lines(("hall", [coil(60, count=3)]), offers=[few], on_hand={"c3": 2})
    assert (one.used, one.from_hand, one.bought, one.cost) == (3, 2, 4, 44_800)
    (one,) = lines(("hall", [coil(60, count=3)]), offers=[few], on_hand={"c3": 9})
    assert (one.from_hand, one.bought, one.cost) == (3, 0, 0)


def test_a_price_by_the_foot():
    (one,) = lines(("hall", [coil(60)]), offers=[replace(THREE, price=Decimal("1.20"), per=PerLength.FOOT)])
    assert (one.price, one.cost) == (12_000, 12_000)


@pytest.mark.parametrize(
    ("strip", "offers", "count"),
    [(coil(60, width=6 * IN, count=2), [THREE, FIVE], 2), (coil(60, thickness=2.0), [THREE], 1)],
)
def test_what_the_book_lacks_is_listed_without_a_price(strip, offers, count):
    (one,) = lines(("hall", [strip]), offers=offers)
    assert (one.stock, one.used, one.bought, one.cost) == ("", count, count, None)
    assert "no coil of that thickness" in one.why_unknown


def test_trim_is_listed_by_length():
    trim = Strip("a-01", "trim edge", Goods.TRIM, 25.4, 2000.0, 2025.4, quantity=3)
    (one,) = lines(("hall", [trim]), offers=[THREE])
    assert (one.goods, one.length, one.needed, one.cost) == (Goods.TRIM, None, pytest.approx(6076.2), None)


def test_prices_of_a_book_in_another_currency_are_not_taken():
    (one,) = lines(("hall", [coil(60)]), offers=[THREE], currency="EUR")
    assert (one.stock, one.used, one.cost) == ("c3", 1, None)
    assert one.why_unknown


def test_film_lies_side_by_side_and_the_cheapest_roll_is_taken():
    # 20 panels of 10 x 60 in: two across a 24 in roll are 10 rows of 60 in, 600 in: two rolls of 360 in (192.00).
    # Four across a 48 in roll are 5 rows, 300 in: one roll (186.00).
    (one,) = lines(("hall", [film(10, 60, 12)]), ("café", [film(10, 60, 8)]), offers=[FILM_24, FILM_48])
    assert (one.stock, one.used, one.cost) == ("f48", 1, 18_600)
    assert one.needed == pytest.approx(300 * IN)
    (one,) = lines(("hall", [film(10, 60, 20)]), offers=[FILM_24])
    assert (one.used, one.cost) == (2, 19_200)


def test_film_wider_than_every_roll_is_said():
    (one,) = lines(("hall", [film(50, 60)]), offers=[FILM_24, FILM_48])
    assert (one.stock, one.cost) == ("", None)
    assert "no roll" in one.why_unknown


def test_the_shipped_book_has_coil_for_the_return_every_job_starts_with():
    # trade.md section 3: 5 in deep with a lip of 1/2 in, of 0.040 in: 5.43 in of coil, textbook bend allowance.
    width = flat_width(5 * IN, 0.5 * IN, 1.016)
    assert width == pytest.approx(5.43 * IN, abs=0.2)
    (one,) = goods_lines([("hall", [coil(60, width=width)])], shipped_book(), currency="USD", on_hand={})
    assert one.stock == "coil-0.040-6"
    assert one.cost is not None


def test_trim_of_its_own_width_has_a_price_and_is_never_slit():
    trim = Strip("a-01", "trim edge", Goods.TRIM, 1 * IN, 30 * FT, 30 * FT, quantity=4)
    one_inch = CoilOffer("t1", "trim 1 in", 1 * IN, 0.0, 0.0, 100 * FT, Decimal(66), use=CoilUse.TRIM)
    wider = replace(one_inch, id="t2", width=2 * IN, price=Decimal(1))
    # Three lengths of 30 ft from 100 ft: four need two coils.
    (one,) = lines(("hall", [trim]), offers=[THREE, wider, one_inch])
    assert (one.stock, one.used, one.cost, one.weight_kg) == ("t1", 2, 13_200, None)
    (none,) = lines(("hall", [trim]), offers=[THREE, wider])
    assert (none.stock, none.cost) == ("", None)


def test_the_shipped_book_has_trim_of_the_usual_widths():
    # trade.md section 1: 3/4 in and 1 in.
    for width in (0.75 * IN, 1.0 * IN):
        trim = Strip("a-01", "trim edge", Goods.TRIM, width, 900.0, 925.4)
        (one,) = goods_lines([("hall", [trim])], shipped_book(), currency="USD", on_hand={})
        assert one.cost is not None
