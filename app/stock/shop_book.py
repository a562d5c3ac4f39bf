"""The stock book in force: the shop's own where one was imported, else the shipped one."""

from __future__ import annotations

import os
from dataclasses import replace
from functools import cache
from importlib import resources
from typing import Final

from app.stock.book import StockSheet
from app.stock.book_folder import read_book, remove_book, write_book
from app.stock.book_tables import TABLES, parse_book
from app.stock.defaults import CURRENCY, shipped
from app.stock.rack_items import RackOffcut
from app.stock.supply import ShopBook
from geometry.units import format_both

PLACE_VARIABLE: Final = "LETTERBED_BOOK"
"""Environment variable that names the folder of the shop's own stock book."""


def book_place() -> str:
    """Folder of the shop's own stock book: as the environment variable says, else in the user's data folder."""
    given = os.environ.get(PLACE_VARIABLE)
    if given:
        return os.path.abspath(given)
    from platformdirs import user_data_dir

    return os.path.join(user_data_dir("letterbed", appauthor=False), "stock_book")


@cache
def shipped_book() -> ShopBook:
    """The stock book that comes with the program, with everything about buying. Prices are invented examples."""
    folder = resources.files("app.stock")
    texts = {table: folder.joinpath(f"shipped_{table}.csv").read_text(encoding="utf-8") for table in TABLES}
    return parse_book(texts, currency=CURRENCY)


def has_own_book() -> bool:
    """Whether the shop has imported a stock book of its own."""
    return os.path.isdir(book_place())


def shop_book() -> ShopBook:
    """The shop's own stock book when there is one, else the shipped one.

    Raises
    ------
    BookError
        When the shop's own cannot be read.
    """
    return read_book(book_place()) if has_own_book() else shipped_book()


def import_book(folder: str | os.PathLike[str]) -> ShopBook:
    """Make the tables of a folder the shop's own stock book, after checking every line of them."""
    book = read_book(folder)
    save_book(book)
    return book


def save_book(book: ShopBook) -> None:
    """Make a book the shop's own."""
    write_book(book, book_place())


def drop_own_book() -> None:
    """Go back to the shipped book: the shop's own is removed.

    Raises
    ------
    BookError
        When it cannot be, or its folder holds other things.
    """
    if has_own_book():
        remove_book(book_place())


def thickness_doubt(piece: RackOffcut) -> str:
    """A sentence when a piece was measured outside what its material may be; empty when not."""
    entry = shop_book().materials.get(piece.material)
    found = piece.measured.thickness if piece.measured else None
    if entry is None or found is None or entry.within(found):
        return ""
    thinnest, thickest = entry.material.thickness - entry.minus, entry.material.thickness + entry.plus
    return (
        f"look again: {format_both(found)} is outside what {entry.material.name} may have "
        f"({format_both(thinnest)} to {format_both(thickest)})"
    )


def in_force(stock: StockSheet, book: ShopBook, currency: str) -> StockSheet:
    """A size of a job as the shop's book has it today.

    A job that names a size by its id alone means the book's, so size and price follow the shop's own book; what the
    job itself wrote out stays as it is, and so do its count and keep-outs.
    """
    offer = book.sheets.get(stock.id)
    named = shipped().stock_in(currency).get(stock.id)
    if offer is None or named is None or offer.material != stock.material:
        return stock
    if replace(stock, count=named.count, keep_outs=named.keep_outs) != named:
        return stock
    own = offer.sheet(book.materials[offer.material].material, book.currency)
    price = own.price if book.currency == currency else None
    return replace(own, price=price, count=stock.count, keep_outs=stock.keep_outs)
