"""The shop's stock book as the window edits it: each change is checked as a whole, written at once, and can be undone.

The book is the shop's, not the job's, so its undo is its own. Every change is made to the book as it is on disk at that
moment: two windows do not undo each other's work.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject, Signal

from app.errors import AppError

if TYPE_CHECKING:
    from app.stock.supply import ShopBook

Rows = dict[str, list[dict[str, str]]]
"""Texts by column, row by row, by table."""
MOST_UNDONE: Final = 100


@dataclass(frozen=True, slots=True)
class _Step:
    """A change: what it was called, the book before and after, and whether the shop had one of its own before."""

    text: str
    before: ShopBook
    after: ShopBook
    had_own: bool


class BookDesk(QObject):
    """The book in force and its changes.

    Signals
    -------
    changed : the book is different now
    refused : str
        Why a change was not made; nothing is different.
    """

    changed = Signal()
    refused = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._steps: list[_Step] = []

    @property
    def undo_text(self) -> str:
        """What would be undone; empty for nothing."""
        return self._steps[-1].text if self._steps else ""

    @property
    def is_own(self) -> bool:
        """Whether the shop has a book of its own."""
        from app.stock.shop_book import has_own_book

        return has_own_book()

    def rows(self) -> Rows:
        """The tables as they are; none when the book cannot be read, which is told."""
        from app.stock.book_tables import book_rows
        from app.stock.shop_book import shop_book

        try:
            return book_rows(shop_book())
        except AppError as error:
            self.refused.emit(str(error))
            return {}

    def shipped_rows(self) -> Rows:
        """The tables as they come with the program."""
        from app.stock.book_tables import book_rows
        from app.stock.shop_book import shipped_book

        return book_rows(shipped_book())

    def edit(self, table: str, edits: Sequence[tuple[str, str, str]]) -> bool:
        """Change texts of a table, each given as id, column and text; all or none. Whether it was done."""

        def edited(rows: Rows) -> None:
            found = {row["id"]: row for row in rows[table]}
            for key, column, text in edits:
                if key not in found:
                    raise AppError(f"'{key}' is not in the stock book any more; another window removed it")
                found[key][column] = text

        return self._change(f"change {table}", edited)

    def add_like(self, table: str, key: str) -> str:
        """A row more, like the one with this id (or the last), right below it; its id, empty when it was refused."""
        new = ""

        def added(rows: Rows) -> None:
            nonlocal new
            there = [row["id"] for row in rows[table]]
            if not there:
                raise AppError(f"the table of {table} is empty; import one, or go back to the shipped book")
            at = there.index(key) if key in there else len(there) - 1
            new = _free(there[at], there)
            row = rows[table][at] | {"id": new}
            if "mark" in row:
                row["mark"] = "own"
            rows[table].insert(at + 1, row)

        return new if self._change(f"add to {table}", added) else ""

    def remove(self, table: str, keys: Sequence[str]) -> bool:
        """Take rows out. Whether it was done."""

        def removed(rows: Rows) -> None:
            rows[table] = [row for row in rows[table] if row["id"] not in keys]

        return self._change(f"remove from {table}", removed)

    def import_folder(self, folder: str) -> bool:
        """Make the tables of a folder the shop's own book. Whether it was done."""
        from app.stock.shop_book import import_book

        return self._step("import the stock book", lambda _before: import_book(folder))

    def export_folder(self, folder: str) -> bool:
        """Write the tables into a folder. Whether it was done."""
        from app.stock.book_folder import write_book
        from app.stock.shop_book import shop_book

        try:
            write_book(shop_book(), folder)
        except AppError as error:
            self.refused.emit(str(error))
            return False
        return True

    def back_to_shipped(self) -> bool:
        """Drop the shop's own book. Whether it was done."""
        from app.stock.shop_book import drop_own_book, shipped_book

        def dropped(_before: ShopBook) -> ShopBook:
            drop_own_book()
            return shipped_book()

        return self._step("go back to the shipped book", dropped)

    def undo(self) -> None:
        """Take back the last change made here, unless another window changed the book since."""
        from app.stock.shop_book import drop_own_book, save_book, shop_book

        if not self._steps:
            return
        step = self._steps[-1]
        try:
            if shop_book() != step.after:
                self._steps.clear()
                raise AppError("the stock book was changed in another window since; there is nothing to undo here")
            if step.had_own:
                save_book(step.before)
            else:
                drop_own_book()
        except AppError as error:
            self.refused.emit(str(error))
            return
        self._steps.pop()
        self.changed.emit()

    def _change(self, text: str, change: Callable[[Rows], None]) -> bool:
        from app.stock.book_tables import book_of_rows, book_rows
        from app.stock.shop_book import save_book

        def changed(before: ShopBook) -> ShopBook:
            rows = book_rows(before)
            change(rows)
            after = book_of_rows(rows, currency=before.currency)
            if after != before:
                save_book(after)
            return after

        return self._step(text, changed)

    def _step(self, text: str, change: Callable[[ShopBook], ShopBook]) -> bool:
        from app.stock.shop_book import has_own_book, shop_book

        try:
            had_own = has_own_book()
            before = shop_book()
            after = change(before)
        except AppError as error:
            self.refused.emit(str(error))
            return False
        if after != before or had_own != has_own_book():
            self._steps = [*self._steps, _Step(text, before, after, had_own)][-MOST_UNDONE:]
            self.changed.emit()
        return True


def _free(key: str, taken: Sequence[str]) -> str:
    stem = re.sub(r"-\d+$", "", key)
    number = 2
    while f"{stem}-{number}" in taken:
        number += 1
    return f"{stem}-{number}"
