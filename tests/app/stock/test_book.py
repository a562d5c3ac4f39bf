"""The shipped stock book, weights, tolerances and prices, against handbook values."""

from __future__ import annotations

from decimal import Decimal

import pytest

from app.job.check import check_job
from app.job.document import Job
from app.stock.book import MaterialKind
from app.stock.defaults import CURRENCY, shipped
from app.stock.money import format_price, minor_digits, parse_price
from app.stock.tolerances import SizeStandard, acrylic_thickness_tolerance, least_size
from app.stock.weights import areal_weight, areal_weight_lb_ft2, parse_density, weight

IN = 25.4
FT2 = (12.0 * IN) ** 2


def test_every_entry_agrees_with_every_other():
    book = shipped()
    job = Job("all", (), (), tuple(book.materials.values()), tuple(book.cutters.values()), tuple(book.stock.values()))
    assert check_job(job) is job
    assert {sheet.material for sheet in book.stock.values()} == set(book.materials)
    assert all(book.marks[one] for one in (*book.cutters, *book.materials, *book.stock))
    assert all("price invented" in book.marks[one] for one in book.stock)
    assert all(book.holds(one) for one in (*book.cutters.values(), *book.materials.values(), *book.stock.values()))


def test_metric_sheets_have_their_own_size():
    # 1220 x 2440 mm is 48.03 x 96.06 in, not 48 x 96 (common practice; computed).
    metric, inch = shipped().stock["acrylic-white-3mm-1220x2440"], shipped().stock["acrylic-white-1/8-48x96"]
    assert (metric.width, metric.height) == (1220.0, 2440.0)
    assert (inch.width, inch.height) == (1219.2, 2438.4)
    assert metric.width / IN == pytest.approx(48.03, abs=0.005)


def test_shipped_prices_stay_out_of_other_currencies():
    assert CURRENCY == "USD"
    assert all(sheet.price for sheet in shipped().stock_in("USD").values())
    assert all(sheet.price is None for sheet in shipped().stock_in("EUR").values())


def test_weight_of_aluminium_sheet():
    # V1: 0.097 lb/in3 x 0.063 in x 144 = 0.87998 lb/ft2 (aluminium structures handbook's density).
    aluminium = shipped().materials["alu-0.063"]
    per_ft2 = areal_weight_lb_ft2(aluminium.density, aluminium.thickness)
    assert per_ft2 == pytest.approx(0.87998, abs=0.0005)
    # V2: the 48 x 120 in sheet, 40 ft2, weighs 35.20 lb.
    kilograms = weight(40.0 * FT2, aluminium.density, aluminium.thickness)
    assert kilograms / 0.45359237 == pytest.approx(35.20, abs=0.02)


def test_weight_of_cast_acrylic_sheet():
    # V3: specific gravity 1.19 (Unified Facilities Guide Specification), 0.177 in: 1.0958 lb/ft2.
    acrylic = shipped().materials["acrylic-white-3/16"]
    assert areal_weight_lb_ft2(acrylic.density, acrylic.thickness) == pytest.approx(1.0958, abs=0.001)
    # V4: a sheet of 51 x 100 in weighs 38.81 lb.
    sheet = shipped().stock["acrylic-white-3/16-51x100"]
    pounds = weight(sheet.width * sheet.height, acrylic.density, acrylic.thickness) / 0.45359237
    assert pounds == pytest.approx(38.81, abs=0.05)


def test_mass_per_square_metre():
    # Aluminium standards data, table 7.4: 2.70 g/cm3 at 3.0 mm is 8.10 kg/m2. Composite: 3 mm 3.8, 4 mm 5.5 kg/m2
    # (a panel supplier's weight table; cores vary by 10 %).
    assert areal_weight(2700.0, 3.0) == pytest.approx(8.10)
    for name, expected in (("composite-white-3mm", 3.8), ("composite-white-4mm", 5.5)):
        material = shipped().materials[name]
        assert areal_weight(material.density, material.thickness) == pytest.approx(expected, rel=0.1)


def test_densities_are_read_in_either_unit():
    assert parse_density("2680 kg/m3") == 2680.0
    assert parse_density("2.68 g/cm³") == pytest.approx(2680.0)
    assert parse_density("0.097 lb/in3") == pytest.approx(2684.95, abs=0.01)
    assert parse_density("62.428 lb/ft3") == pytest.approx(1000.0, abs=0.01)
    for text in ("2680", "kg/m3", "2680 kg", "-1 kg/m3", "nan kg/m3"):
        with pytest.raises(ValueError, match="is not a density"):
            parse_density(text)


@pytest.mark.parametrize(
    ("width", "length", "thickness", "expected"),
    [
        (48.0, 96.0, 0.063, (47.875, 95.875)),  # V9
        (48.0, 120.0, 0.063, (47.875, 119.875)),
        (24.0, 96.0, 0.063, (24.0 - 3 / 32, 95.875)),
        (60.0, 144.0, 0.063, (59.875, 144.0 - 5 / 32)),
        (72.0, 120.0, 0.125, (72.0 - 5 / 32, 119.875)),
        (72.0, 120.0, 0.080, (71.875, 119.875)),
    ],
)
def test_least_size_of_american_aluminium_sheet(width, length, thickness, expected):
    # Tables based on ANSI H35.2, as reprinted for mill products.
    found = least_size(width * IN, length * IN, thickness * IN, SizeStandard.US)
    assert (found[0] / IN, found[1] / IN) == pytest.approx(expected)


def test_european_sheet_is_never_short_and_the_table_ends_somewhere():
    assert least_size(1250.0, 2500.0, 2.0, SizeStandard.EUROPE) == (1250.0, 2500.0)  # EN 485: minus zero
    with pytest.raises(ValueError, match="ends at 132 in wide"):
        least_size(140.0 * IN, 144.0 * IN, 0.063 * IN, SizeStandard.US)


def test_thickness_tolerance_of_acrylic():
    # V8 and its neighbours: ISO 7823-1, 0.4 + 0.1 t; ISO 7823-2, 10 % below 3 mm and 5 % from there.
    assert acrylic_thickness_tolerance(4.5) == pytest.approx(0.85)
    assert acrylic_thickness_tolerance(3.0) == pytest.approx(0.70)
    assert acrylic_thickness_tolerance(6.0) == pytest.approx(1.00)
    assert acrylic_thickness_tolerance(2.0, is_cast=False) == pytest.approx(0.2)
    assert acrylic_thickness_tolerance(3.0, is_cast=False) == pytest.approx(0.15)


def test_kinds_of_material_are_all_there():
    assert {material.kind for material in shipped().materials.values()} == set(MaterialKind)


def test_prices_to_and_fro():
    assert [minor_digits(code) for code in ("USD", "EUR", "JPY", "KWD")] == [2, 2, 0, 3]  # ISO 4217, from memory
    for amount, currency, minor in (("187.50", "USD", 18750), ("0", "USD", 0), ("1875", "JPY", 1875)):
        assert parse_price(amount, currency) == minor
        assert format_price(minor, currency) in (amount, "0.00")
    assert parse_price(Decimal("0.29"), "USD") == 29
    for amount in ("", "1,50", "nan", "inf", "-1", "1.234", "1e99"):
        with pytest.raises(ValueError):
            parse_price(amount, "USD")
