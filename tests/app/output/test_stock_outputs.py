"""Comparison, buy list and rack on paper and in files, read back with other libraries."""

from __future__ import annotations

import csv
import dataclasses
import json
import xml.etree.ElementTree as ElementTree
from datetime import UTC, datetime
from decimal import Decimal

import openpyxl
import pypdfium2
import pytest

from app.errors import ExportError
from app.fabrication.part import Goods, Strip
from app.job.document import DisplayUnits
from app.output.compare_pages import write_compare_pdf, write_compare_svg
from app.output.compare_tables import compare_json, compare_table, compare_text, compared
from app.output.order_files import write_order
from app.output.order_tables import order_text
from app.output.plan_folder import PlanFolderError, cut_from_folder
from app.output.rack_labels import label_lines, rack_code, write_rack_labels
from app.output.rack_list import rack_json, rack_text
from app.output.table_files import write_csv
from app.output.text_table import text_table
from app.planning.choices import stock_choices, varied
from app.planning.compare import Effort, compare
from app.planning.order import OrderStock, plan_order
from app.stock.book import StockSheet
from app.stock.cut_sheets import JobKey
from app.stock.rack_items import Box, Measured, OffcutStatus, RackOffcut, box_outline
from app.stock.supply import CoilOffer, ShopBook
from tests.app.planning.here import HereExecutor
from tests.app.planning.small_jobs import INCH, prepared_squares

WHEN = datetime(2026, 3, 1, 9, 30)
ONCE = Effort(0.0, rounds=0)
SMALL = StockSheet("small", "alu", "48 x 96", 48 * INCH, 96 * INCH, price=10_000)
LARGE = StockSheet("large", "alu", "60 x 120", 60 * INCH, 120 * INCH, price=15_000)


@pytest.fixture(scope="module")
def comparison():
    prepared = prepared_squares(36)
    job = dataclasses.replace(prepared.job, name="Café & Söhne <hall>")
    stock = stock_choices(job.materials[0], job.cutters[0], (SMALL, LARGE))
    choices = (*stock, *varied(stock[0], margins=(40 * INCH,)))
    return job, compared(job, compare(prepared, choices, ONCE, executor=HereExecutor()))


def csv_rows(path) -> list[dict[str, str]]:
    return list(csv.DictReader(path.read_text(encoding="utf-8-sig").splitlines()))


def pdf_text(path) -> str:
    document = pypdfium2.PdfDocument(path)
    try:
        return "\n".join(page.get_textpage().get_text_bounded() for page in document)
    finally:
        document.close()


def test_the_comparison_as_text_says_what_to_take_and_what_each_figure_means(comparison):
    job, found = comparison
    text = compare_text(job, found)
    # trade.md V25: 36 squares of 12 in fill one 60 x 120 at a yield of 0.720, a waste factor of 0.3889 (V28).
    line = next(line for line in text.splitlines() if "60 x 120 alone" in line and line.startswith("->"))
    assert line.split()[4:] == ["alone", "1", "150.00", "72.0%", line.split()[8], "0.39", *line.split()[10:]]
    assert "Recommended: 60 x 120 alone" in text
    for word in ("net yield:", "credited yield:", "waste factor:", "cutting time:", "gap:"):
        assert word in text
    assert "margin" in text  # the choice that cannot be planned is told with its reason


def test_the_comparison_as_csv_and_json(comparison, tmp_path):
    job, found = comparison
    write_csv(compare_table(job, found), tmp_path / "c.csv")
    rows = csv_rows(tmp_path / "c.csv")
    assert [row["choice"] for row in rows[:3]] == ["48 x 96 alone", "60 x 120 alone", "all sizes"]
    assert (rows[1]["net yield"], rows[1]["waste factor"], rows[1]["cost USD"]) == ("0.7200", "0.3889", "150.00")
    assert [row["recommended"] for row in rows].count("yes") == 1
    whole = json.loads(json.dumps(compare_json(job, found, ONCE), allow_nan=False))
    (material,) = whole["materials"]
    assert material["recommended"] == "60 x 120 alone"
    assert material["choices"][1]["sheets"] == {"large": 1}
    assert material["choices"][3]["fault"]
    assert whole["effort"] == {"seconds_each": None, "rounds_each": 0, "seed": 0}


def test_the_chart_has_a_bar_per_choice_as_long_as_its_sheets(comparison, tmp_path):
    job, found = comparison
    write_compare_svg(job, found, tmp_path / "c.svg")
    root = ElementTree.parse(tmp_path / "c.svg").getroot()
    texts = [node.text for node in root.iter("{http://www.w3.org/2000/svg}text")]
    assert any("60 x 120 alone" in text for text in texts)
    assert "LetterbedBody" not in (tmp_path / "c.svg").read_text(encoding="utf-8")
    ends = {}
    for rect in root.iter("{http://www.w3.org/2000/svg}rect"):
        if rect.get("height") == "10.0":
            y = round(float(rect.get("y")))
            ends[y] = max(ends.get(y, 0.0), float(rect.get("x")) + float(rect.get("width")))
    left = 640.0 * 0.34
    small, large = (ends[y] - left for y in sorted(ends, reverse=True)[:2])
    assert small / large == pytest.approx(2 * 48 * 96 / (60 * 120), rel=1e-6)


def test_the_comparison_as_pdf(comparison, tmp_path):
    job, found = comparison
    write_compare_pdf(job, found, ONCE, tmp_path / "c.pdf", when=WHEN)
    text = pdf_text(tmp_path / "c.pdf")
    for words in ("Café & Söhne <hall>: stock compared", "Recommended: 60 x 120 alone", "48 x 96 alone", "0 rounds"):
        assert words in text


@pytest.fixture(scope="module")
def order():
    jobs = [
        dataclasses.replace(one, job=dataclasses.replace(one.job, name=name, stock=(SMALL, LARGE)))
        for name, one in (("hall", prepared_squares(36)), ("café", prepared_squares(22)))
    ]
    stock = OrderStock(ShopBook("USD"), {"small": 1}, {"café": (offcut(),)})
    return plan_order(jobs, stock, ONCE, executor=HereExecutor())


def offcut(**changes) -> RackOffcut:
    at = datetime(2026, 1, 1, tzinfo=UTC)
    whole = RackOffcut(
        id=7, material="alu", thickness=0.063 * INCH, outline=box_outline(400.0, 400.0), usable=Box(0, 0, 400.0, 400.0),
        lot="L7", slot="B2", job="old job", note="", measured=None, status=OffcutStatus.KEPT, reserved_for="",
        parent=None, kept_at=at, changed_at=at,
    )  # fmt: skip
    return dataclasses.replace(whole, **changes)


def test_the_order_as_csv_xlsx_and_pdf(order, tmp_path):
    # 36 squares fill one 60 x 120 (150.00); 22 fill the 48 x 96 on hand and the offcut.
    files = write_order(order, tmp_path / "order", when=WHEN)
    assert [path.name for path in files] == ["order.csv", "order.xlsx", "order.pdf"]
    rows = csv_rows(files[0])
    assert [(row["size"], row["buy"], row["from hand"]) for row in rows] == [
        ("48 x 96", "0", "1"),
        ("60 x 120", "1", "0"),
    ]
    assert rows[1]["price all USD"] == "150.00"
    book = openpyxl.load_workbook(files[1])
    assert book.sheetnames == ["Buy list", "Totals", "From the rack", "Cut from"]
    totals = list(book["Totals"].values)
    assert totals[-1][:3] == ("everything", 1, 150)
    assert next(iter(list(book["From the rack"].values)[1:]))[0] == 7
    text = pdf_text(files[2])
    for words in ("Buy list", "60 x 120", "150.00", "offcut 7", "café"):
        assert words in text
    assert sorted(path.name for path in (tmp_path / "order").iterdir()) == ["order.csv", "order.pdf", "order.xlsx"]


def test_coils_rolls_and_lengths_stand_in_every_output_of_the_order(tmp_path):
    prepared = prepared_squares(36)
    coil = Strip(
        "a-01", "return", Goods.RETURN, 70.0, 9000.0, 9000.0, 4, stock_length=100 * 12 * INCH, thickness=0.04 * INCH
    )
    strips = (coil, Strip("a-01", "trim edge", Goods.TRIM, 25.4, 900.0, 1000.0, 2))
    one = dataclasses.replace(
        prepared, job=dataclasses.replace(prepared.job, name="hall", stock=(LARGE,)), strips=strips
    )
    book = ShopBook(
        "USD",
        coils={"c3": CoilOffer("c3", "coil, 3 in", 3 * INCH, 0.04 * INCH, 2730.0, 100 * 12 * INCH, Decimal(112))},
    )
    made = plan_order([one], OrderStock(book, {}, {}), ONCE, executor=HereExecutor())
    # 36 m from coils of 30.48 m that hold three of 9 m each: two coils, 224.00; the sheet is 150.00.
    assert (made.cost, made.known_cost) == (None, 37_400)
    said = order_text(made)
    assert "coil, 3 in: 2 to buy, 224.00 USD" in said
    assert "trim edge: 6.6 ft (2.0 m) to buy, cost not known" in said
    assert "everything: 374.00 USD for what has a price; some prices are missing" in said
    files = write_order(made, tmp_path, when=WHEN)
    rows = csv_rows(files[0])
    assert [(row["material"], row["size"], row["buy"], row["price all USD"]) for row in rows[1:]] == [
        ("return coil", "coil, 3 in", "2", "224.00"),
        ("trim edge", "trim edge", "", ""),
    ]
    assert rows[1]["height or length mm"] == "30480.000"
    totals = list(openpyxl.load_workbook(files[1])["Totals"].values)
    assert ("coil, 3 in", 2, 224) in [row[:3] for row in totals]
    assert totals[-1][:3] == ("everything; cost of what has a price", 3, 374)
    text = " ".join(pdf_text(files[2]).split())
    for words in (
        "Coils, rolls and strip",
        "coil, 3 in",
        "224.00",
        "6.6 ft (2.0 m)",
        "the stock book lists none that fits",
    ):
        assert words in text


def test_the_order_as_text(order):
    text = order_text(order)
    assert "everything: 150.00 USD" in text
    assert "from the rack: offcut 7, rack place B2, for café" in text
    assert "hall: aluminium 0.063 in is cut from 60 x 120 alone" in text


def test_an_order_that_leaves_parts_out_says_so_on_every_output(tmp_path):
    prepared = prepared_squares(2, side=70 * INCH)
    made = plan_order([prepared], OrderStock(ShopBook("USD"), {}, {}), ONCE, executor=HereExecutor())
    assert "NOT PLACED: 2 pieces of squares" in order_text(made)
    files = write_order(made, tmp_path, when=WHEN, units=DisplayUnits.MILLIMETRES)
    assert "NOT PLACED: 2 pieces of squares" in " ".join(pdf_text(files[2]).split())


def test_a_folder_that_cannot_be_written_is_one_sentence(order, tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(ExportError, match="could not be written"):
        write_order(order, tmp_path / "file" / "order", when=WHEN)


def test_rack_labels_say_what_the_trade_asks_for_and_their_code_names_the_piece(tmp_path):
    # trade.md 6.2: id, material, thickness measured, lot, usable size, job of origin, date, rack slot.
    piece = offcut(measured=Measured(390.0, 395.0, 1.58))
    lines = label_lines(piece, DisplayUnits.MILLIMETRES, "Aluminium 5052")
    said = "\n".join(lines)
    for words in (
        "OFFCUT 7",
        "B2",
        "390 mm × 395 mm",
        "Aluminium 5052",
        "0.062 in (1.58 mm) thick, measured",
        "size measured",
        "L7",
        "old job",
        "2026-01-01",
    ):
        assert words in said
    assert "size as planned: measure it" in "\n".join(label_lines(offcut(), DisplayUnits.INCHES, "alu"))
    write_rack_labels([piece] * 31, tmp_path / "l.pdf", units=DisplayUnits.INCHES, names={})
    document = pypdfium2.PdfDocument(tmp_path / "l.pdf")
    assert len(document) == 2  # thirty labels to a page
    text = document[0].get_textpage().get_text_bounded()
    assert text.count("OFFCUT 7") == 30
    document.close()
    assert rack_code(piece) == "offcut 7"


def test_the_rack_as_text_and_json():
    now = datetime(2026, 4, 5, tzinfo=UTC)
    pieces = (offcut(), offcut(id=8, status=OffcutStatus.RESERVED, reserved_for="hall", kept_at=now))
    text = rack_text(pieces, now)
    assert "reserved for hall" in text
    assert "1 there for 90 days or more; use them up or throw them out: 7" in text
    assert rack_text((), now) == "nothing on the rack"
    whole = json.loads(json.dumps(rack_json(pieces, now)))
    assert [one["age_days"] for one in whole["offcuts"]] == [94, 0]


def test_columns_stand_under_each_other():
    assert text_table(["a", "number"], [["é", "1"], ["wide", "12"]], right=(1,)).splitlines() == [
        "a     number",
        "------------",
        "é          1",
        "wide      12",
    ]


@pytest.mark.parametrize("content", [None, "{", "[]", '{"version": 9, "sheets": []}', '{"version": 1, "sheets": [{}]}'])
def test_a_folder_without_a_usable_plan_is_one_sentence(tmp_path, content):
    if content is not None:
        (tmp_path / "plan.json").write_text(content, encoding="utf-8")
    with pytest.raises(PlanFolderError):
        cut_from_folder(tmp_path, 1, JobKey("/j", "j"), thickness={})
