"""The stock book as tables of texts: for a spreadsheet, whose files `app.stock.book_folder` reads and writes.

One table each for cutters, materials, sheets, coils and rolls. Every length, density and price per carries its unit.
A column that may be left out has a default. Text that a spreadsheet would take for a formula or a date gets an
apostrophe on the way out, which the way in takes off again.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from enum import StrEnum
from typing import Final, TypeVar

from app.errors import AppError
from app.stock.book import Cutter, Material, MaterialKind
from app.stock.money import format_price, minor_digits, parse_price
from app.stock.supply import (
    BookCutter,
    BookMaterial,
    CoilOffer,
    CoilUse,
    Per,
    PerLength,
    RollOffer,
    SheetOffer,
    ShopBook,
)
from app.stock.weights import parse_density
from geometry.errors import GeometryError
from geometry.units import parse_length

CUTTERS: Final = ("id", "name", "diameter", "mark")
MATERIALS: Final = (
    "id", "name", "kind", "thickness", "thickness_minus", "thickness_plus", "density", "cutter", "web", "margin",
    "has_grain", "sides_alike", "mark",
)  # fmt: skip
SHEETS: Final = (
    "id", "material", "name", "width", "height", "width_over", "height_over", "width_minus", "height_minus", "price",
    "currency", "per", "minimum", "supplier", "mark",
)  # fmt: skip
COILS: Final = (
    "id", "name", "use", "width", "thickness", "density", "length", "price", "currency", "per", "minimum", "supplier",
    "mark",
)  # fmt: skip
ROLLS: Final = (
    "id", "name", "width", "edge", "length", "price", "currency", "per", "minimum", "supplier", "mark",
)  # fmt: skip
TABLES: Final[dict[str, tuple[str, ...]]] = {
    "cutters": CUTTERS,
    "materials": MATERIALS,
    "sheets": SHEETS,
    "coils": COILS,
    "rolls": ROLLS,
}
"""Columns by table; the file is the table's name with ".csv"."""

ENTRIES: Final = {
    "cutters": "cutter",
    "materials": "material",
    "sheets": "sheet size",
    "coils": "coil",
    "rolls": "roll",
}
"""What one row of a table is called."""

_OPTIONAL: Final = {
    "mark", "thickness_minus", "thickness_plus", "has_grain", "sides_alike", "width_over", "height_over",
    "width_minus", "height_minus", "price", "currency", "per", "minimum", "supplier", "edge", "use",
}  # fmt: skip
_FORMULA_SIGNS: Final = ("=", "+", "-", "@", "\t", "\r")
_LIKE_A_DATE: Final = re.compile(r"\d{1,4}[/-]\d{1,4}([/-]\d{1,4})?")
"""What a spreadsheet turns into a date on its own: the cutter id "1/8" among them."""

Choice = TypeVar("Choice", bound=StrEnum)
Entry = TypeVar("Entry")


class BookError(AppError):
    """A stock book that cannot be read or written."""


def parse_book(texts: Mapping[str, str], *, currency: str = "USD") -> ShopBook:
    """The stock book of the tables' texts, by table name."""
    return _book({table: _rows(table, texts.get(table, "")) for table in TABLES}, currency)


def book_of_rows(rows: Mapping[str, Sequence[Mapping[str, str]]], *, currency: str) -> ShopBook:
    """The stock book of the tables' rows, each a text by column, as `book_rows` gives them; errors name the entry."""
    return _book(
        {
            table: [
                _Row(
                    f"{ENTRIES[table]} '{values.get('id', '')}'", {name: _plain(text) for name, text in values.items()}
                )
                for values in rows.get(table, ())
            ]
            for table in TABLES
        },
        currency,
    )


def _book(rows: Mapping[str, Sequence[_Row]], currency: str) -> ShopBook:
    currencies = {row.text("currency") or currency for table in rows.values() for row in table if row.has("price")}
    if len(currencies) > 1:
        raise BookError(f"prices are in {' and '.join(sorted(currencies))}; a stock book counts in one currency")
    unit = currencies.pop() if currencies else currency
    if not (len(unit) == 3 and unit.isascii() and unit.isalpha() and unit.isupper()):
        raise BookError(f"currency '{unit}' is not a code of three capitals; write it like \"USD\"")
    cutters = _by_id(rows["cutters"], _cutter)
    materials = _by_id(rows["materials"], lambda row: _material(row, cutters))
    return ShopBook(
        currency=unit,
        cutters=cutters,
        materials=materials,
        sheets=_by_id(rows["sheets"], lambda row: _sheet(row, materials, unit)),
        coils=_by_id(rows["coils"], lambda row: _coil(row, unit)),
        rolls=_by_id(rows["rolls"], lambda row: _roll(row, unit)),
    )


def book_texts(book: ShopBook) -> dict[str, str]:
    """The tables' texts by name; reading them gives an equal book."""
    return {table: _table(TABLES[table], cells) for table, cells in _cells(book).items()}


def book_rows(book: ShopBook) -> dict[str, list[dict[str, str]]]:
    """The tables' rows by name, each a text by column; `book_of_rows` gives an equal book."""
    return {
        table: [dict(zip(TABLES[table], row, strict=True)) for row in cells] for table, cells in _cells(book).items()
    }


def _cells(book: ShopBook) -> dict[str, list[tuple[str, ...]]]:
    money = book.currency
    return {
        "cutters": [_cutter_row(one) for one in book.cutters.values()],
        "materials": [_material_row(one) for one in book.materials.values()],
        "sheets": [_sheet_row(one, money) for one in book.sheets.values()],
        "coils": [_coil_row(one, money) for one in book.coils.values()],
        "rolls": [_roll_row(one, money) for one in book.rolls.values()],
    }


class _Row:
    """One row of a table; every fault names the row and the column."""

    def __init__(self, where: str, values: Mapping[str, str]) -> None:
        self._where, self._values = where, values

    def fault(self, column: str, why: str) -> BookError:
        return BookError(f"{self._where}, {column}: {why}")

    def has(self, column: str) -> bool:
        return bool(self._values.get(column))

    def text(self, column: str) -> str:
        return self._values.get(column, "")

    def needed(self, column: str) -> str:
        value = self.text(column)
        if not value:
            raise self.fault(column, "it is empty")
        return value

    def length(self, column: str, *, default: float | None = None, may_be_zero: bool = False) -> float:
        if default is not None and not self.has(column):
            return default
        try:
            value = parse_length(self.needed(column))
        except GeometryError as error:
            raise self.fault(column, str(error)) from None
        if value < 0.0 or (value == 0.0 and not may_be_zero):
            raise self.fault(column, f"'{self.text(column)}' makes no sense; it must be above 0")
        return value

    def density(self, column: str) -> float:
        try:
            value = parse_density(self.needed(column))
        except ValueError as error:
            raise self.fault(column, str(error)) from None
        if not 0.0 < value < 30_000.0:
            raise self.fault(column, f"'{self.text(column)}' makes no sense; aluminium has 2700 kg/m3")
        return value

    def choice(self, column: str, choices: type[Choice], default: Choice | None = None) -> Choice:
        if default is not None and not self.has(column):
            return default
        try:
            return choices(self.needed(column))
        except ValueError:
            known = ", ".join(one.value for one in choices)
            raise self.fault(column, f"'{self.text(column)}' is not one of: {known}") from None

    def yes_no(self, column: str) -> bool:
        value = self.text(column).lower() or "no"
        if value not in ("yes", "no"):
            raise self.fault(column, f"'{value}' is neither yes nor no")
        return value == "yes"

    def count(self, column: str) -> int:
        value = self.text(column) or "1"
        if not value.isascii() or not value.isdigit() or not 1 <= int(value) <= 100_000:
            raise self.fault(column, f"'{value}' is not a whole number from 1 up")
        return int(value)

    def price(self, currency: str, *, of_one: bool) -> Decimal | None:
        if not self.has("price"):
            return None
        text = self.text("price")
        try:
            if of_one:
                return Decimal(parse_price(text, currency)).scaleb(-minor_digits(currency))
            value = Decimal(text)  # a price by weight or area may have finer decimals than the currency
        except ValueError as error:
            raise self.fault("price", str(error)) from None
        except InvalidOperation:
            raise self.fault("price", f"'{text}' is not a price; write it like \"3.125\"") from None
        if not value.is_finite() or not 0 <= value < 10**9:
            raise self.fault("price", f"{text} makes no sense; a price is 0 or more")
        return value

    def one_of(self, column: str, known: Iterable[str], what: str) -> str:
        value = self.needed(column)
        known = list(known)
        if value not in known:
            near = get_close_matches(value, known, n=1)
            hint = f"; did you mean '{near[0]}'?" if near else ""
            raise self.fault(column, f"'{value}' is not {what}{hint}")
        return value


def _cutter(row: _Row) -> BookCutter:
    return BookCutter(Cutter(row.needed("id"), row.needed("name"), row.length("diameter")), row.text("mark"))


def _material(row: _Row, cutters: Mapping[str, BookCutter]) -> BookMaterial:
    material = Material(
        id=row.needed("id"),
        name=row.needed("name"),
        kind=row.choice("kind", MaterialKind),
        thickness=row.length("thickness"),
        density=row.density("density"),
        cutter=row.one_of("cutter", cutters, "a cutter of cutters.csv"),
        web=row.length("web", may_be_zero=True),
        margin=row.length("margin", may_be_zero=True),
        has_grain=row.yes_no("has_grain"),
        sides_alike=row.yes_no("sides_alike"),
    )
    minus = row.length("thickness_minus", default=0.0, may_be_zero=True)
    if minus >= material.thickness:
        raise row.fault("thickness_minus", "it takes the whole thickness away")
    return BookMaterial(material, minus, row.length("thickness_plus", default=0.0, may_be_zero=True), row.text("mark"))


def _sheet(row: _Row, materials: Mapping[str, BookMaterial], currency: str) -> SheetOffer:
    per = row.choice("per", Per, Per.SHEET)
    offer = SheetOffer(
        id=row.needed("id"),
        material=row.one_of("material", materials, "a material of materials.csv"),
        name=row.needed("name"),
        width=row.length("width"),
        height=row.length("height"),
        width_over=row.length("width_over", default=0.0, may_be_zero=True),
        height_over=row.length("height_over", default=0.0, may_be_zero=True),
        width_minus=row.length("width_minus", default=0.0, may_be_zero=True),
        height_minus=row.length("height_minus", default=0.0, may_be_zero=True),
        price=row.price(currency, of_one=per is Per.SHEET),
        per=per,
        minimum=row.count("minimum"),
        supplier=row.text("supplier"),
        mark=row.text("mark"),
    )
    margin = materials[offer.material].material.margin
    for column, size in (("width", offer.real_width), ("height", offer.real_height)):
        if size <= 2.0 * margin:
            raise row.fault(column, f"the real size of {size:g} mm leaves no room inside the margin of {margin:g} mm")
    return offer


def _coil(row: _Row, currency: str) -> CoilOffer:
    per = row.choice("per", PerLength, PerLength.PIECE)
    use = row.choice("use", CoilUse, CoilUse.RETURNS)
    is_free = use is not CoilUse.RETURNS  # to leave out what only returns are reckoned with
    return CoilOffer(
        id=row.needed("id"),
        name=row.needed("name"),
        width=row.length("width"),
        thickness=0.0 if is_free and not row.has("thickness") else row.length("thickness"),
        density=0.0 if is_free and not row.has("density") else row.density("density"),
        length=row.length("length"),
        use=use,
        price=row.price(currency, of_one=per is PerLength.PIECE),
        per=per,
        minimum=row.count("minimum"),
        supplier=row.text("supplier"),
        mark=row.text("mark"),
    )


def _roll(row: _Row, currency: str) -> RollOffer:
    per = row.choice("per", PerLength, PerLength.PIECE)
    offer = RollOffer(
        id=row.needed("id"),
        name=row.needed("name"),
        width=row.length("width"),
        edge=row.length("edge", default=0.0, may_be_zero=True),
        length=row.length("length"),
        price=row.price(currency, of_one=per is PerLength.PIECE),
        per=per,
        minimum=row.count("minimum"),
        supplier=row.text("supplier"),
        mark=row.text("mark"),
    )
    if offer.usable_width <= 0.0:
        raise row.fault("edge", "the edges take the whole width")
    return offer


def _rows(table: str, text: str) -> list[_Row]:
    text = text.removeprefix("\ufeff")
    if not text.strip():
        return []
    head = text.splitlines()[0]
    # Spreadsheets in countries with a decimal comma write semicolons.
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=";" if head.count(";") > head.count(",") else ",")
    columns = [name.strip() for name in next(lines)]
    known = TABLES[table]
    for name in columns:
        if name not in known:
            near = get_close_matches(name, known, n=1)
            hint = f"; did you mean '{near[0]}'?" if near else ""
            raise BookError(f"{table}.csv: '{name}' is not a column known here{hint}")
    if len(set(columns)) < len(columns):
        raise BookError(f"{table}.csv: a column stands there twice")
    for name in known:
        if name not in columns and name not in _OPTIONAL:
            raise BookError(f"{table}.csv: the column '{name}' is missing")
    rows = []
    try:
        for cells in lines:
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) > len(columns):
                raise BookError(f"{table}.csv, line {lines.line_num}: more cells than columns")
            values = {name: _plain(cell) for name, cell in zip(columns, cells, strict=False)}
            rows.append(_Row(f"{table}.csv, line {lines.line_num}", values))
    except csv.Error as error:
        raise BookError(f"{table}.csv, line {lines.line_num}: {error}") from error
    return rows


def _by_id(rows: Sequence[_Row], make: Callable[[_Row], Entry]) -> dict[str, Entry]:
    entries: dict[str, Entry] = {}
    for row in rows:
        entry, number = make(row), row.needed("id")
        if number in entries:
            raise row.fault("id", f"'{number}' is used twice; give each its own")
        if len(number) > 60 or not number.isprintable():
            raise row.fault("id", "an id has 1 to 60 printable characters")
        entries[number] = entry
    return entries


def _plain(cell: str) -> str:
    cell = cell.strip()
    return cell[1:] if cell.startswith("'") and _is_guarded(cell[1:]) else cell


def _is_guarded(cell: str) -> bool:
    return cell.startswith(_FORMULA_SIGNS) or _LIKE_A_DATE.fullmatch(cell) is not None


def _table(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream)
    writer.writerow(columns)
    for row in rows:
        writer.writerow([f"'{cell}" if _is_guarded(cell) else cell for cell in row])
    return stream.getvalue()


def _cutter_row(one: BookCutter) -> tuple[str, ...]:
    return (one.cutter.id, one.cutter.name, _mm(one.cutter.diameter), one.mark)


def _material_row(one: BookMaterial) -> tuple[str, ...]:
    m = one.material
    yes_no = {True: "yes", False: "no"}
    return (
        m.id, m.name, m.kind.value, _mm(m.thickness), _mm(one.minus), _mm(one.plus), f"{m.density!r} kg/m3", m.cutter,
        _mm(m.web), _mm(m.margin), yes_no[m.has_grain], yes_no[m.sides_alike], one.mark,
    )  # fmt: skip


def _sheet_row(one: SheetOffer, currency: str) -> tuple[str, ...]:
    return (
        one.id, one.material, one.name, _mm(one.width), _mm(one.height), _mm(one.width_over), _mm(one.height_over),
        _mm(one.width_minus), _mm(one.height_minus), *_bought(one, currency),
    )  # fmt: skip


def _coil_row(one: CoilOffer, currency: str) -> tuple[str, ...]:
    density = f"{one.density!r} kg/m3" if one.density else ""
    thickness = _mm(one.thickness) if one.thickness else ""
    return (
        one.id, one.name, one.use.value, _mm(one.width), thickness, density, _mm(one.length), *_bought(one, currency),
    )  # fmt: skip


def _roll_row(one: RollOffer, currency: str) -> tuple[str, ...]:
    return (one.id, one.name, _mm(one.width), _mm(one.edge), _mm(one.length), *_bought(one, currency))


def _bought(one: SheetOffer | CoilOffer | RollOffer, currency: str) -> tuple[str, ...]:
    price = ""
    if one.price is not None:
        of_one = one.per in (Per.SHEET, PerLength.PIECE)
        price = format_price(int(one.price.scaleb(minor_digits(currency))), currency) if of_one else str(one.price)
    return (price, currency if price else "", one.per.value, str(one.minimum), one.supplier, one.mark)


def _mm(mm: float) -> str:
    """A length as text that reads back as the very same number, in inches where those are shorter."""
    if mm == 0.0:
        return "0 mm"
    for decimals in range(5):
        text = f"{mm / 25.4:.{decimals}f} in"
        if parse_length(text) == mm:
            return text
    return f"{int(mm)} mm" if mm == int(mm) else f"{mm!r} mm"
