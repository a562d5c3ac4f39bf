"""Writes the buy list of several jobs: CSV, XLSX and PDF."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterator
from datetime import datetime
from os import PathLike
from pathlib import Path
from typing import Any, Final

from reportlab.lib.colors import black
from reportlab.lib.pagesizes import landscape
from reportlab.platypus import Table, TableStyle

from app.errors import ExportError
from app.job.document import DisplayUnits
from app.output.order_tables import (
    cut_from_table,
    goods_remark,
    length_each,
    length_needed,
    order_table,
    remark,
    taken_table,
    total_lines,
    totals_table,
    warnings,
)
from app.output.plain_pages import text_room, write_pages
from app.output.report import page_size_for
from app.output.report_style import ALERT, HEADING, TITLE, rich, table, text
from app.output.table_files import write_csv, write_xlsx
from app.planning.order import Order
from app.stock.money import format_price
from geometry.units import format_both

TITLE_WORDS: Final = "Buy list"


def write_order(
    order: Order, folder: str | PathLike[str], *, when: datetime, units: DisplayUnits = DisplayUnits.INCHES
) -> tuple[Path, ...]:
    """Write order.csv, order.xlsx and order.pdf into a folder; each file is the old one or the new one, never half.

    Raises
    ------
    ExportError
        When a file cannot be written.
    """
    where = Path(folder)
    tables = (order_table(order), totals_table(order), taken_table(order), cut_from_table(order))
    writers: dict[str, Callable[[Path], None]] = {
        "order.csv": lambda path: write_csv(tables[0], path),
        "order.xlsx": lambda path: write_xlsx(tables, path, title=TITLE_WORDS, when=when),
        "order.pdf": lambda path: write_order_pdf(order, path, when=when, units=units),
    }
    written = []
    try:
        where.mkdir(parents=True, exist_ok=True)
        for name, write in writers.items():
            replace_file(where / name, write)
            written.append(where / name)
    except OSError as error:
        raise ExportError(f"'{folder}' could not be written: {error.strerror or error}") from error
    return tuple(written)


def replace_file(path: Path, write: Callable[[Path], None]) -> None:
    """Have a file written beside its place and then put there."""
    draft = path.with_name(f".{secrets.token_hex(4)}{path.suffix}")
    try:
        write(draft)
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)


def write_order_pdf(order: Order, path: Path, *, when: datetime, units: DisplayUnits) -> None:
    """Write the purchaser's pages."""
    size = landscape(page_size_for(units))
    write_pages(path, TITLE_WORDS, _story(order, when, text_room(size)), when=when, size=size)


def _story(order: Order, when: datetime, width: float) -> Iterator[Any]:
    yield text(TITLE_WORDS, TITLE)
    jobs = ", ".join(plan.job.name for plan in order.plans)
    yield rich(f"{when.day} {when:%B %Y}, for")
    yield text(jobs)
    for words in warnings(order):
        yield _alert(words, width)
    rows: list[list[object]] = [
        [
            str(line.bought),
            line.material.name,
            line.stock.name,
            f"{format_both(line.stock.width)} × {format_both(line.stock.height)}",
            line.supplier,
            "not known" if line.stock.price is None else format_price(line.stock.price, order.currency),
            "not known" if line.cost is None else format_price(line.cost, order.currency),
            f"{line.weight_kg:,.1f}",
            str(line.used),
            str(line.from_hand),
            remark(line),
        ]
        for line in order.lines
    ]
    fixed = [32.0, 0.0, 0.0, 128.0, 80.0, 52.0, 58.0, 44.0, 34.0, 42.0, 86.0]
    spare = width - sum(fixed)
    fixed[1], fixed[2] = spare * 0.62, spare * 0.38
    headings = [
        "buy", "material", "size", "real width × height", "supplier", f"each {order.currency}", f"all {order.currency}",
        "kg", "used", "on hand", "remark",
    ]  # fmt: skip
    yield rich("Sheets", HEADING)
    if rows:
        yield table(headings, rows, fixed, right=(0, 5, 6, 7, 8, 9))
    else:
        yield rich("No sheet has to be bought.")
    if order.goods:
        yield rich("Coils, rolls and strip", HEADING)
        yield _goods(order, width)
    yield rich("Totals", HEADING)
    for words in total_lines(order):
        yield text(words)
    if order.offcuts:
        yield rich("From the rack", HEADING)
        yield table(
            ["offcut", "piece", "material", "job"],
            [[str(one.number), one.name, one.material.name, one.job] for one in order.offcuts],
            [44.0, width * 0.3, width * 0.3, width * 0.4 - 44.0],
        )
    yield rich("Cut from", HEADING)
    yield table(["job", "material", "cut from"], [list(one) for one in order.choices], [width / 3] * 3)


def _goods(order: Order, width: float) -> Any:
    rows: list[list[object]] = [
        [
            "" if line.length is None else str(line.bought),
            line.name,
            length_each(line),
            line.supplier,
            "not known" if line.price is None else format_price(line.price, order.currency),
            "not known" if line.cost is None else format_price(line.cost, order.currency),
            length_needed(line),
            "" if line.length is None else str(line.used),
            "" if line.length is None else str(line.from_hand),
            goods_remark(line),
        ]
        for line in order.goods
    ]
    fixed = [32.0, 0.0, 128.0, 80.0, 52.0, 58.0, 84.0, 34.0, 42.0, 110.0]
    fixed[1] = width - sum(fixed)
    headings = [
        "buy", "what", "width × length", "supplier", f"each {order.currency}", f"all {order.currency}", "to cut",
        "used", "on hand", "remark",
    ]  # fmt: skip
    return table(headings, rows, fixed, right=(0, 4, 5, 6, 7, 8))


def _alert(words: str, width: float) -> Any:
    made: Any = Table([[text(words, ALERT)]], colWidths=[width], hAlign="LEFT")
    made.setStyle(TableStyle([("BACKGROUND", (0, 0), (-1, -1), black), ("BOTTOMPADDING", (0, 0), (-1, -1), 6)]))
    return made
