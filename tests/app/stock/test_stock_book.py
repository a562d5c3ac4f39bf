"""The stock book: real sizes, prices by area and weight, tables out and in again, and what is wrong in them."""

from __future__ import annotations

import dataclasses
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.stock.book import Cutter, Material, MaterialKind
from app.stock.book_folder import read_book, write_book
from app.stock.book_tables import BookError, book_of_rows, book_rows, book_texts, parse_book
from app.stock.defaults import shipped
from app.stock.shop_book import (
    PLACE_VARIABLE,
    drop_own_book,
    has_own_book,
    import_book,
    save_book,
    shipped_book,
    shop_book,
)
from app.stock.supply import BookCutter, BookMaterial, CoilOffer, Per, PerLength, RollOffer, SheetOffer, ShopBook
from app.stock.tolerances import SizeStandard, acrylic_thickness_tolerance, least_size

INCH = 25.4
ALU = Material("alu", "5052", MaterialKind.ALUMINIUM, 0.063 * INCH, 0.097 * 0.45359237 / (0.0254**3), "q", 3.175, 9.525)


def offer(**changes) -> SheetOffer:
    return dataclasses.replace(SheetOffer("s", "alu", "48 x 96", 48 * INCH, 96 * INCH), **changes)


def test_real_size_is_nominal_plus_oversize_minus_tolerance():
    # trade.md V9: worst case of a 48 x 96 aluminium sheet is 47.875 x 95.875 (1/8 in below nominal, ANSI H35.2 tables).
    alu = offer(width_minus=INCH / 8, height_minus=INCH / 8)
    assert (alu.real_width / INCH, alu.real_height / INCH) == pytest.approx((47.875, 95.875), abs=1e-9)
    over = offer(width_over=3 * INCH, height_over=4 * INCH).sheet(ALU, "USD")
    assert (over.width / INCH, over.height / INCH) == pytest.approx((51, 100), abs=1e-9)


def test_prices_by_area_and_weight():
    # trade.md V1: 5052 at 0.063 in weighs 0.87998 lb/ft2, so 32 ft2 weigh 28.16 lb; 48 x 96 in are 32 ft2 exactly.
    assert offer(price=Decimal("2.50"), per=Per.SQUARE_FOOT).sheet_price(ALU, "USD") == 8000
    assert offer(price=Decimal("3.125"), per=Per.POUND).sheet_price(ALU, "USD") == pytest.approx(312.5 * 28.16, abs=1.5)
    assert offer(price=Decimal("10"), per=Per.SQUARE_METRE).sheet_price(ALU, "USD") == 2973  # 2.97290 m2
    by_kg = offer(price=Decimal("10"), per=Per.KILOGRAM).sheet_price(ALU, "USD")
    by_lb = offer(price=Decimal("4.5359237"), per=Per.POUND).sheet_price(ALU, "USD")
    assert by_kg == by_lb
    assert offer(price=Decimal("187.50")).sheet_price(ALU, "USD") == 18750
    assert offer(price=Decimal("18750")).sheet_price(ALU, "JPY") == 18750  # the yen has no minor unit (ISO 4217)
    assert offer().sheet_price(ALU, "USD") is None


def test_coils_and_rolls():
    coil = CoilOffer("c", "coil", 5 * INCH, 0.04 * INCH, 2730, 100 * 12 * INCH, Decimal("1.20"), PerLength.FOOT)
    assert coil.piece_price("USD") == 12000
    # trade.md V16: a 48 in roll has 47.5 in to use with 1/4 in lost at each edge.
    roll = RollOffer("r", "film", 48 * INCH, INCH / 4, 10_000.0, Decimal("2"), PerLength.METRE)
    assert roll.usable_width / INCH == pytest.approx(47.5)
    assert roll.piece_price("USD") == 2000


def test_a_thickness_is_judged_by_its_tolerance():
    # ISO 7823-1 (trade.md V8): cast acrylic of 4.5 mm may differ by 0.85 mm.
    acrylic = BookMaterial(dataclasses.replace(ALU, thickness=4.5), 0.85, 0.85, "")
    assert acrylic.within(3.65)
    assert acrylic.within(5.35)
    assert not acrylic.within(3.6)


def test_the_shipped_book_has_everything_the_jobs_can_name():
    book, plain = shipped_book(), shipped()
    assert {one.material.id: one.material for one in book.materials.values()} == dict(plain.materials)
    assert {one.cutter.id: one.cutter for one in book.cutters.values()} == dict(plain.cutters)
    assert {one.id: one for name in book.materials for one in book.sizes_of(name)} == dict(plain.stock)
    assert book.coils
    assert book.rolls
    entries = (book.cutters, book.materials, book.sheets, book.coils, book.rolls)
    assert all(entry.mark for table in entries for entry in table.values()), "every number says where it comes from"


def test_shipped_aluminium_is_reckoned_with_at_the_least_size_of_its_tolerance_table():
    # ANSI H35.2 tables as reprinted by mills (trade.md 1.2); EN 485: all plus, minus zero.
    book = shipped_book()
    for offer in book.sheets.values():
        material = book.materials[offer.material].material
        if material.kind is not MaterialKind.ALUMINIUM:
            assert (offer.real_width, offer.real_height) == (offer.width, offer.height)
            continue
        standard = SizeStandard.EUROPE if offer.name.endswith("mm") else SizeStandard.US
        least = least_size(offer.width, offer.height, material.thickness, standard)
        assert (offer.real_width, offer.real_height) == pytest.approx(least, abs=1e-9)
    # trade.md V9: worst case of 48 x 96 in is 47.875 x 95.875 in; this is what a job that names it plans on.
    sheet = shipped().stock["alu-0.063-48x96"]
    assert (sheet.width / INCH, sheet.height / INCH) == pytest.approx((47.875, 95.875), abs=1e-9)


def test_shipped_acrylic_has_the_thickness_tolerance_of_its_standard():
    # ISO 7823-1 for cast, ISO 7823-2 for extruded sheet (trade.md V8).
    for one in shipped_book().materials.values():
        if one.material.kind is MaterialKind.ACRYLIC:
            is_cast = one.material.name.startswith("Cast")
            allowed = acrylic_thickness_tolerance(one.material.thickness, is_cast=is_cast)
            assert (one.minus, one.plus) == pytest.approx((allowed, allowed), abs=1e-3)
        assert one.plus > 0.0


def test_the_shipped_book_goes_out_and_comes_in_unchanged(tmp_path):
    write_book(shipped_book(), tmp_path / "book")
    assert read_book(tmp_path / "book") == shipped_book()
    write_book(shipped_book(), tmp_path / "book")  # over the earlier one
    assert sorted(path.name for path in tmp_path.iterdir()) == ["book"]


lengths = st.one_of(
    st.integers(1, 4000).map(float),
    st.integers(1, 2400).map(lambda sixteenths: sixteenths / 16 * INCH),
    st.floats(20.0, 5000.0),
)
texts = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), max_size=12)


@given(lengths, lengths, st.integers(0, 10**7), texts, texts, st.sampled_from(Per), st.integers(1, 50))
@settings(max_examples=60, deadline=None)
def test_any_book_goes_out_and_comes_in_unchanged(width, height, cents, supplier, name, per, minimum):
    material = dataclasses.replace(ALU, margin=1.0)
    size = {"width": width + 10, "height": height + 10}
    bought = {"price": Decimal(cents).scaleb(-2), "supplier": supplier, "per": per, "minimum": minimum}
    made = offer(name="x" + name, **size, **bought)
    book = ShopBook(
        "USD",
        cutters={"q": BookCutter(Cutter("q", "quarter", 6.35), "")},
        materials={"alu": BookMaterial(material, 0.1, 0.2, "=1+1")},
        sheets={"s": made},
    )
    assert parse_book(book_texts(book)) == book


def test_a_formula_in_a_text_leaves_as_text():
    cutters = {"q": BookCutter(Cutter("q", "quarter", 6.35), "")}
    text = book_texts(ShopBook("USD", cutters=cutters, materials={"alu": BookMaterial(ALU, 0, 0, '=HYPERLINK("x")')}))
    assert ",=HYPERLINK" not in text["materials"]
    assert "'=HYPERLINK" in text["materials"]


def test_a_cutter_called_one_eighth_does_not_become_the_eighth_of_january():
    text = book_texts(shipped_book())["cutters"]
    assert "\n'1/8," in text
    assert ",0.125 in," in text
    rows = book_texts(shipped_book()) | {"cutters": text.replace("'1/8", "1/8")}
    assert parse_book(rows) == shipped_book()


GOOD = {
    "cutters": "id,name,diameter\nq,quarter,1/4 in\n",
    "materials": "id,name,kind,thickness,density,cutter,web,margin\n"
    "alu,5052,aluminium,0.063 in,2680 kg/m3,q,1/8 in,1/2 in\n",
    "sheets": "id,material,name,width,height,price,per\ns,alu,48 x 96,48 in,96 in,2.125,ft2\n",
}


def test_semicolons_blank_lines_and_missing_columns_are_fine():
    texts = {name: text.replace(",", ";") + ";;\n\n" for name, text in GOOD.items()}
    book = parse_book(texts)
    assert book.sizes_of("alu")[0].price == 6800
    assert book == parse_book(GOOD)


@pytest.mark.parametrize(
    ("table", "old", "new", "words"),
    [
        ("sheets", "48 in", "48", r"sheets.csv, line 2, width: .*unit"),
        ("sheets", "48 in", "0.9 in", "no room inside the margin"),
        ("sheets", "alu,48", "aluu,48", "did you mean 'alu'"),
        ("sheets", ",ft2", ",gallon", "'gallon' is not one of: sheet, ft2"),
        ("sheets", "2.125", "dear", "'dear' is not a price"),
        ("sheets", "2.125,ft2", "2.125,sheet", "more than 2 decimals"),
        ("sheets", "2.125", "-1", "0 or more"),
        ("sheets", "height", "hight", "did you mean 'height'"),
        ("sheets", "price,per", "price,price", "twice"),
        ("sheets", "s,alu", ",alu", "line 2, id: it is empty"),
        ("sheets", "ft2\n", "ft2,too,many\n", "more cells than columns"),
        ("cutters", "1/4 in", "x", "cutters.csv, line 2, diameter"),
        ("materials", "aluminium", "cheese", "'cheese' is not one of"),
        ("materials", "2680 kg/m3", "2680", "not a density"),
        ("materials", ",q,", ",z,", "'z' is not a cutter"),
        ("materials", ",margin", "", "'margin' is missing"),
        ("cutters", "1/4 in", "-1 in", "above 0"),
        ("cutters", "1/4 in\n", "1/4 in\nq,again,1 in\n", "'q' is used twice"),
    ],
)
def test_a_fault_is_one_sentence_with_its_place(table, old, new, words):
    texts = dict(GOOD)
    texts[table] = texts[table].replace(old, new)
    assert texts != GOOD
    with pytest.raises(BookError, match=words) as caught:
        parse_book(texts)
    assert "\n" not in str(caught.value)


def test_two_currencies_in_one_book_are_refused():
    sheets = "id,material,name,width,height,price,currency\na,alu,a,48 in,96 in,1,USD\nb,alu,b,48 in,96 in,1,EUR\n"
    with pytest.raises(BookError, match="EUR and USD"):
        parse_book({**GOOD, "sheets": sheets})


def test_a_folder_with_other_things_is_left_alone(tmp_path):
    (tmp_path / "letter.txt").write_text("precious")
    with pytest.raises(BookError, match=r"letter\.txt"):
        write_book(shipped_book(), tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_an_imported_book_is_the_shops_own_and_a_bad_one_changes_nothing(monkeypatch, tmp_path):
    monkeypatch.setenv(PLACE_VARIABLE, str(tmp_path / "own"))
    assert shop_book() is shipped_book()
    edited = tmp_path / "edited"
    write_book(shipped_book(), edited)
    text = (edited / "sheets.csv").read_text(encoding="utf-8-sig")
    (edited / "sheets.csv").write_text(text.replace(",75.00,", ",99.00,"), encoding="utf-8")
    import_book(edited)
    assert {one.price for one in shop_book().sizes_of("alu-0.063")} >= {9900}
    before = shop_book()
    (edited / "sheets.csv").write_text(text.replace(",75.00,", ",lots,"), encoding="utf-8")
    with pytest.raises(BookError, match="'lots' is not a price"):
        import_book(edited)
    assert shop_book() == before
    with pytest.raises(BookError, match="not a folder"):
        import_book(tmp_path / "nowhere")


def test_rows_of_a_book_give_an_equal_book_and_faults_name_the_entry():
    book = shipped_book()
    rows = book_rows(book)
    assert book_of_rows(rows, currency=book.currency) == book
    first = rows["sheets"][0]
    first["width"] = "many"
    with pytest.raises(BookError, match=rf"sheet size '{first['id']}', width: .*many"):
        book_of_rows(rows, currency=book.currency)


def test_own_book_can_be_dropped_but_a_folder_with_other_things_stays(tmp_path, monkeypatch):
    place = tmp_path / "book"
    monkeypatch.setenv("LETTERBED_BOOK", str(place))
    save_book(shipped_book())
    assert has_own_book()
    (place / "letter.txt").write_text("not ours")
    with pytest.raises(BookError, match=r"letter\.txt"):
        drop_own_book()
    assert (place / "letter.txt").exists()
    (place / "letter.txt").unlink()
    drop_own_book()
    assert not has_own_book()
    assert shop_book() == shipped_book()
