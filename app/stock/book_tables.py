"""The stock book as a folder of CSV tables, for a spreadsheet: `read_book` and `write_book`.

One table each for cutters, materials, sheets, coils and rolls. Every length, density and price per carries its unit.
A column that may be left out has a default. Text that a spreadsheet would take for a formula or a date gets an
apostrophe on the way out, which the way in takes off again.
"""

from __future__ import annotations

import csv
import io
import os
import re
import shutil
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from enum import StrEnum
from pathlib import Path
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

_OPTIONAL: Final = {
    "mark", "thickness_minus", "thickness_plus", "has_grain", "sides_alike", "width_over", "height_over",
    "width_minus", "height_minus", "price", "currency", "per", "minimum", "supplier", "edge", "use",
}  # fmt: skip
_FORMULA_SIGNS: Final = ("=", "+", "-", "@", "\t", "\r")
_LIKE_A_DATE: Final = re.compile(r"\d{1,4}[/-]\d{1,4}([/-]\d{1,4})?")
"""What a spreadsheet turns into a date on its own: the cutter id "1/8" among them."""
_LARGEST: Final = 20_000_000  # bytes; no stock book is larger

Choice = TypeVar("Choice", bound=StrEnum)
Entry = TypeVar("Entry")


class BookError(AppError):
    """A stock book that cannot be read or written."""


def read_book(folder: str | os.PathLike[str], *, currency: str = "USD") -> ShopBook:
    """The stock book of a folder of tables; coils and rolls may be missing.

    Parameters
    ----------
    folder : str or path
    currency : str
        For prices whose row names none.

    Raises
    ------
    BookError
        One sentence: table, line, column, value, what to write instead.
    """
    where = Path(folder)
    if not where.is_dir():
        raise BookError(
            f"{where} is not a folder; a stock book is a folder of tables (cutters.csv, materials.csv, ...)"
        )
    texts = {}
    for table in TABLES:
        path = where / f"{table}.csv"
        if path.exists():
            texts[table] = _text(path)
        elif table not in ("coils", "rolls"):
            raise BookError(f"{where} has no {table}.csv; 'letterbed stock export' writes all tables")
    return parse_book(texts, currency=currency)


def parse_book(texts: Mapping[str, str], *, currency: str = "USD") -> ShopBook:
    """The stock book of the tables' texts, by table name."""
    rows = {table: _rows(table, texts.get(table, "")) for table in TABLES}
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


def write_book(book: ShopBook, folder: str | os.PathLike[str]) -> None:
    """Write the tables into a folder, which is made or, when it holds nothing but such tables, replaced as a whole.

    Raises
    ------
    BookError
        When the folder holds other things or cannot be written; it is then as it was.
    """
    where = Path(folder).absolute()
    ours = {f"{table}.csv" for table in TABLES}
    try:
        if where.exists():
            others = sorted({entry.name for entry in where.iterdir()} - ours)
            if others:
                raise BookError(f"{where} holds other things ({others[0]}); name a new folder for the stock book")
        where.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=f".{where.name}-", dir=where.parent))
        try:
            for table, text in book_texts(book).items():
                (fresh / f"{table}.csv").write_text(text, encoding="utf-8-sig", newline="")
            fresh.chmod(0o755)
            _swap(fresh, where)
        finally:
            shutil.rmtree(fresh, ignore_errors=True)
    except OSError as error:
        raise BookError(f"{where} could not be written: {error.strerror or error}") from error


def book_texts(book: ShopBook) -> dict[str, str]:
    """The tables' texts by name; reading them gives an equal book."""
    money = book.currency
    return {
        "cutters": _table(CUTTERS, (_cutter_row(one) for one in book.cutters.values())),
        "materials": _table(MATERIALS, (_material_row(one) for one in book.materials.values())),
        "sheets": _table(SHEETS, (_sheet_row(one, money) for one in book.sheets.values())),
        "coils": _table(COILS, (_coil_row(one, money) for one in book.coils.values())),
        "rolls": _table(ROLLS, (_roll_row(one, money) for one in book.rolls.values())),
    }


class _Row:
    """One line of a table; every fault names table, line and column."""

    def __init__(self, table: str, line: int, values: Mapping[str, str]) -> None:
        self._where, self._values = f"{table}.csv, line {line}", values

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


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > _LARGEST:
            raise BookError(f"{path.name} is larger than {_LARGEST // 1_000_000} MB; that is no stock book")
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise BookError(f'{path.name} is not UTF-8 text; save it as "CSV UTF-8"') from error
    except OSError as error:
        raise BookError(f"{path.name} cannot be read: {error.strerror or error}") from error


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
            rows.append(_Row(table, lines.line_num, values))
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


def _swap(fresh: Path, where: Path) -> None:
    """Put the fresh folder in the place of the old one; at no moment is a half-written table in place."""
    if not where.exists():
        fresh.rename(where)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{where.name}-", dir=where.parent))
    where.rename(old / "old")
    try:
        fresh.rename(where)
    except OSError:
        (old / "old").rename(where)
        raise
    finally:
        shutil.rmtree(old, ignore_errors=True)
