"""Lists read back with the standard library and with openpyxl."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import datetime

import openpyxl
import pytest

from app.output.cut_sheet import cut_sheets
from app.output.table_files import write_csv, write_xlsx
from app.output.tables import buy_table, offcuts_table, parts_table, unplaced_table
from app.planning.job_plan import JobPlan
from tests.app.output.plans import ACRYLIC, ALUMINIUM, INCH, many_plan, sign_plan

WHEN = datetime(2026, 3, 5, 14, 5)


def rows_of(table, tmp_path):
    path = tmp_path / "t.csv"
    write_csv(table, path)
    assert path.read_bytes().startswith(b"\xef\xbb\xbf")  # by which spreadsheets know UTF-8
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_parts_have_sizes_in_both_units_and_places(tmp_path):
    plan = sign_plan()
    rows = {row["part"]: row for row in rows_of(parts_table(plan, cut_sheets(plan)), tmp_path)}
    assert len(rows) == len(plan.parts)
    retainer = rows["line1-01-retainer"]
    assert float(retainer["width mm"]) == pytest.approx(609.6)
    assert float(retainer["width in"]) == pytest.approx(24.0)
    # trade.md V18: 89.339 in².
    assert float(retainer["net area mm2"]) / INCH**2 == pytest.approx(89.339, abs=0.01)
    assert retainer["character"] == "O"
    assert retainer["role"] == "retainer"
    plate = rows["line1-01-plate"]
    assert (plate["quantity"], plate["placed"]) == ("4", "4")
    assert plate["sheet and number"] == "1 no. 1; 1 no. 2; 1 no. 3; 1 no. 4"


def test_the_buy_list_counts_sheets_prices_and_weights(tmp_path):
    rows = rows_of(buy_table(sign_plan()), tmp_path)
    assert [row["stock"] for row in rows] == ["96 x 48", "2050 x 1500"]
    assert rows[0]["sheets"] == "1"
    assert rows[0]["price each USD"] == rows[0]["price all USD"] == "98.50"
    assert rows[1]["most to be had"] == "3"
    # 3003 at 0.063 in on 4 x 8 ft: 0.099 lb/in³ x 0.063 x 4608 in² = 28.7 lb (trade.md 1.3, 0.5 % for rounding).
    assert float(rows[0]["weight all lb"]) == pytest.approx(0.099 * 0.063 * 48 * 96, rel=0.005)


def test_more_than_five_sheets_of_a_material_bring_a_spare_to_mind():
    # trade.md 6.1, common practice: a spare for more than 5 sheets.
    plan = many_plan(6 * 9 * 10, size=300.0)
    assert len(plan.sheets) > 5
    plan = replace(plan, job=replace(plan.job, stock=(plan.sheets[0].stock,)))
    (row,) = buy_table(plan).rows
    assert "spare" in str(row[-1])


def test_a_missing_price_stays_empty(tmp_path):
    plan = sign_plan()
    stock = tuple(replace(one, price=None) for one in plan.job.stock)
    rows = rows_of(buy_table(replace(plan, job=replace(plan.job, stock=stock))), tmp_path)
    assert [row["price all USD"] for row in rows] == ["", ""]


def test_offcuts_have_what_a_label_needs(tmp_path):
    rows = rows_of(offcuts_table(sign_plan(), WHEN), tmp_path)
    assert [row["offcut"] for row in rows] == ["S01-A", "S02-A"]
    assert rows[0]["width in"] == "76.0000"
    assert rows[1]["height mm"] == "1500.000"
    assert rows[0]["planned on"] == "2026-03-05"
    assert rows[0]["job"] == "Lamp house canopy"
    assert rows[0]["measured size"] == ""


def test_no_offcuts_is_an_empty_list_with_headings(tmp_path):
    assert rows_of(offcuts_table(many_plan(5), WHEN), tmp_path) == []


HOSTILE = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", '=HYPERLINK("x")']


def hostile_plan(name: str) -> JobPlan:
    plan = sign_plan()
    parts = tuple(replace(part, name=name) for part in plan.parts)
    return replace(plan, parts=parts)


@pytest.mark.parametrize("name", HOSTILE)
def test_no_text_becomes_a_formula_in_csv(tmp_path, name):
    plan = hostile_plan(name)
    for row in rows_of(parts_table(plan, cut_sheets(plan)), tmp_path):
        assert row["name"] == f"'{name.strip()}"


@pytest.mark.parametrize("name", HOSTILE)
def test_no_text_becomes_a_formula_in_xlsx(tmp_path, name):
    plan = hostile_plan(name)
    path = tmp_path / "o.xlsx"
    write_xlsx((parts_table(plan, cut_sheets(plan)),), path, title="x", when=WHEN)
    page = openpyxl.load_workbook(path)["Parts"]
    assert page["B2"].data_type == "s"
    assert page["B2"].value == name.strip()


def test_commas_quotes_and_line_breaks_survive(tmp_path):
    plan = hostile_plan('a "quoted", name\nwith a break — and ü')
    row = rows_of(parts_table(plan, cut_sheets(plan)), tmp_path)[0]
    assert row["name"] == 'a "quoted", name with a break — and ü'


@pytest.fixture(scope="module")
def order(tmp_path_factory):
    plan = sign_plan()
    path = tmp_path_factory.mktemp("x") / "order.xlsx"
    tables = (
        buy_table(plan),
        parts_table(plan, cut_sheets(plan)),
        offcuts_table(plan, WHEN),
        unplaced_table(plan),
    )
    write_xlsx(tables, path, title=plan.job.name, when=WHEN)
    return openpyxl.load_workbook(path)


def test_the_order_has_its_four_lists_with_headings_in_view(order):
    assert order.sheetnames == ["Buy list", "Parts", "Offcuts", "Unplaced"]
    for page in order:
        assert page.freeze_panes == "B2"
        assert page.print_title_rows == "$1:$1"
        assert page["A1"].font.bold
        assert page.page_setup.orientation == "landscape"
    assert order.properties.created == WHEN


def test_figures_in_the_order_are_numbers_with_a_format(order):
    page = order["Buy list"]
    headings = {cell.value: cell.column for cell in page[1]}
    price = page.cell(2, headings["price all USD"])
    assert price.value == pytest.approx(98.5)
    assert price.number_format == "#,##0.00"
    width = page.cell(2, headings["width mm"])
    assert width.value == pytest.approx(2438.4)
    assert page.cell(2, headings["sheets"]).value == 1
    assert page["A2"].value == ALUMINIUM.name
    assert page["A3"].value == ACRYLIC.name


def test_columns_are_wide_enough_for_what_they_hold(order):
    for page in order:
        for column in page.columns:
            wide = page.column_dimensions[column[0].column_letter].width
            for cell in column[1:]:
                if isinstance(cell.value, str) and len(cell.value) < 58:
                    assert wide >= len(cell.value), (page.title, cell.value)


def test_unplaced_parts_are_listed_or_said_to_be_none(order, tmp_path):
    assert [cell.value for cell in order["Unplaced"][2]][:3] == ["line1-05-face", None, 1]
    path = tmp_path / "o.xlsx"
    write_xlsx((unplaced_table(many_plan(3)),), path, title="x", when=WHEN)
    assert openpyxl.load_workbook(path)["Unplaced"]["A2"].value == "Every part is placed."


@pytest.mark.parametrize(("currency", "text"), [("JPY", "9850"), ("KWD", "9.850")])
def test_currencies_have_their_own_decimals(tmp_path, currency, text):
    plan = sign_plan()
    rows = rows_of(buy_table(replace(plan, job=replace(plan.job, currency=currency))), tmp_path)
    assert rows[0][f"price all {currency}"] == text
