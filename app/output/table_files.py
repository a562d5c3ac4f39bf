"""Tables as files: CSV for any program, XLSX for the purchaser.

Text from the outside is never run as a formula: in CSV a text that begins like one gets an apostrophe before it (as
the OWASP advice on CSV injection has it), in XLSX it is stored as text.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any, Final

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter

from app.output.tables import Cell, Column, Kind, Table
from app.output.words import one_line

_FORMULA_SIGNS: Final = ("=", "+", "-", "@", "\t", "\r")
_CSV_DECIMALS: Final = {Kind.MM: 3, Kind.INCH: 4, Kind.AREA: 1, Kind.WEIGHT: 3}
_NUMBER_FORMATS: Final = {
    Kind.TEXT: "@",
    Kind.COUNT: "0",
    Kind.MM: "#,##0.00",
    Kind.INCH: "0.000",
    Kind.AREA: "#,##0",
    Kind.WEIGHT: "#,##0.00",
}
_WIDEST: Final = 60  # characters; longer texts wrap
_NARROWEST: Final = 8


def write_csv(table: Table, path: Path) -> None:
    """Write a table as CSV (RFC 4180), UTF-8 with a byte order mark, by which spreadsheets know it."""
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        writer = csv.writer(file)
        writer.writerow([column.heading for column in table.columns])
        for row in table.rows:
            writer.writerow([_csv_cell(cell, column) for cell, column in zip(row, table.columns, strict=True)])


def _csv_cell(cell: Cell, column: Column) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        text = one_line(cell)
        return f"'{text}" if text.startswith(_FORMULA_SIGNS) else text
    if isinstance(cell, float):
        return f"{cell:.{_CSV_DECIMALS[column.kind]}f}"
    return str(cell)


def write_xlsx(tables: Sequence[Table], path: Path, *, title: str, when: datetime) -> None:
    """Write tables as one workbook, a sheet each: headings stay in view, columns fit, figures are numbers."""
    book: Any = Workbook()
    book.remove(book.active)
    book.properties.creator = "Letterbed"
    book.properties.title = one_line(title)
    book.properties.created = book.properties.modified = when.replace(microsecond=0, tzinfo=None)
    for table in tables:
        _fill(book.create_sheet(table.name), table, title)
    book.save(path)


def _fill(page: Any, table: Table, title: str) -> None:
    line = Side(style="thin", color="808080")
    for number, column in enumerate(table.columns, start=1):
        cell = page.cell(1, number, column.heading)
        cell.font = Font(bold=True)
        cell.fill = PatternFill("solid", start_color="E4E4E4")
        cell.border = Border(bottom=line)
        cell.alignment = Alignment(
            horizontal="left" if column.kind is Kind.TEXT else "right", vertical="bottom", wrap_text=True
        )
    for place, row in enumerate(table.rows, start=2):
        for number, (value, column) in enumerate(zip(row, table.columns, strict=True), start=1):
            _put(page.cell(place, number), value, column)
    if not table.rows:
        page.cell(2, 1, table.when_empty).font = Font(italic=True)
    for number, column in enumerate(table.columns, start=1):
        page.column_dimensions[get_column_letter(number)].width = _width(table, number - 1, column)
    page.freeze_panes = "B2"
    page.auto_filter.ref = f"A1:{get_column_letter(len(table.columns))}{max(len(table.rows) + 1, 1)}"
    page.print_title_rows = "1:1"
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToWidth, page.page_setup.fitToHeight = 1, 0
    page.sheet_properties.pageSetUpPr.fitToPage = True
    # An ampersand is a code in headers and footers; two of them print one.
    page.oddHeader.left.text = one_line(f"{title}: {table.name.lower()}").replace("&", "&&")
    page.oddFooter.right.text = "&P / &N"


def _put(cell: Any, value: Cell, column: Column) -> None:
    if value is None:
        return
    if isinstance(value, str):
        cell.value = one_line(value)
        cell.data_type = "s"  # a text that begins with an equals sign stays a text
        cell.alignment = Alignment(vertical="top", wrap_text=True)
    else:
        # What inches leave behind the tenth decimal is rounding, and a spreadsheet would show it.
        cell.value = round(value, 9) if isinstance(value, float) else value
        cell.alignment = Alignment(vertical="top")
    cell.number_format = _number_format(value, column)


def _number_format(value: Cell, column: Column) -> str:
    if column.kind is Kind.MONEY and isinstance(value, Decimal):
        digits = -int(value.as_tuple().exponent)
        return "#,##0" + ("." + "0" * digits if digits > 0 else "")
    return _NUMBER_FORMATS[column.kind]


def _width(table: Table, index: int, column: Column) -> float:
    longest = max((len(word) for word in column.heading.split()), default=0)
    for row in table.rows:
        value = row[index]
        if isinstance(value, str):
            longest = max(longest, len(value))
        elif value is not None:
            longest = max(longest, len(f"{value:,.2f}"))
    return float(min(max(longest + 2, _NARROWEST), _WIDEST))
