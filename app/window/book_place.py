"""The stock book: materials, sheet sizes, coils, rolls, cutters and what is on hand, as tables to edit."""

from __future__ import annotations

import os
from typing import Final

from PySide6.QtWidgets import (
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QMessageBox,
    QStackedWidget,
    QWidget,
)

from app.errors import AppError
from app.job import edits
from app.job.document import Job
from app.stock.book_tables import ENTRIES, TABLES
from app.window.book_desk import BookDesk
from app.window.book_tables import NAMES, SHOWN, book_columns, book_rows_shown
from app.window.data_table import Cell, Column, DataTable, Edit, Row, number
from app.window.facts import Section, button, set_look, words
from app.window.pages import TitleRow
from app.window.place import Place
from app.window.session import Session
from app.window.settings import WindowSettings
from app.window.theme import Theme
from app.window.walk import Standing
from app.window.wording import count

HAND: Final = "hand"
HAND_COLUMNS: Final = (
    Column("Id", "Of the stock book", 190),
    Column("What", "Sheet size with its material, coil or roll"),
    Column(
        "On hand", "How many are in the shop; empty when they are not counted", 100, is_number=True, is_editable=True
    ),
)


class BookPlace(Place):
    """One table at a time; every cell that is left is checked and written."""

    only_when_seen = True

    def __init__(self, session: Session, theme: Theme, settings: WindowSettings) -> None:
        super().__init__("Stock book", session, theme)
        self._settings = settings
        self.drawing.hide()
        self.desk = BookDesk(self)
        self.desk.refused.connect(self._refused)
        self.desk.changed.connect(self.refresh)
        names = {**NAMES, HAND: "On hand"}
        self._titles = TitleRow("Table", list(names.values()), "plain")
        self._titles.line.setContentsMargins(12, 6, 12, 6)
        self._titles.chosen.connect(lambda index: self.show_table(list(self.tables)[index]))
        self._stack = QStackedWidget()
        self.tables: dict[str, DataTable] = {}
        for key, name in names.items():
            table = DataTable(name, HAND_COLUMNS if key == HAND else book_columns(key), theme)
            table.edited.connect(lambda changes, key=key: self._edited(key, changes))
            table.undo_wanted.connect(self.desk.undo)
            table.itemSelectionChanged.connect(self._show_deeds)
            self.tables[key] = table
            self._stack.addWidget(table)
        self.find = QLineEdit()
        self.find.setPlaceholderText("Find")
        self.find.setAccessibleName("Find in the table")
        self.find.setToolTip("Shows only rows that hold all of these words, for example: 5052 48 x 96")
        self.find.setClearButtonEnabled(True)
        self.find.setFixedWidth(190)
        self.find.textChanged.connect(self.refresh)
        self._titles.line.addWidget(self.find)
        self.board.addWidget(self._titles)
        self.board.addWidget(self._stack, 1)

        self.state = words("")
        self.back = button("Back to the shipped book…", tip="Drop every edit of the shop's own")
        self.back.clicked.connect(self.ask_to_go_back)
        self.add = button("Add a row", tip="One more row like the chosen one, to be edited")
        self.add.clicked.connect(self.add_row)
        self.remove = button("Remove", tip="Take the chosen rows out of the book")
        self.remove.clicked.connect(self.remove_rows)
        self.undo = button("Undo", tip="Take back the last change of the book (Ctrl+Z in the table)")
        self.undo.clicked.connect(self.desk.undo)
        self.importing = button("Import…", tip="Make the tables of a folder (CSV) the shop's own stock book")
        self.importing.clicked.connect(self.ask_what_to_import)
        self.exporting = button("Export…", tip="Write the tables into a new folder as CSV, for a spreadsheet")
        self.exporting.clicked.connect(self.ask_where_to_export)
        deeds = QWidget()
        grid = QGridLayout(deeds)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setSpacing(8)
        for index, made in enumerate((self.add, self.remove, self.undo)):
            grid.addWidget(made, index // 2, index % 2)
        files = QWidget()
        line = QHBoxLayout(files)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(8)
        line.addWidget(self.importing)
        line.addWidget(self.exporting)
        self.note = words("", "muted")
        self.body.addWidget(Section("The shop's stock book", self.state))
        self.body.addWidget(Section("Rows", self.note, deeds))
        self.body.addWidget(Section("Tables as files", files, self.back))
        self.body.addStretch(1)
        self.selected.hide()
        session.document.changed.connect(self._show_deeds)
        session.rack.changed.connect(self._rack_changed)

    @property
    def key(self) -> str:
        """Name of the table shown."""
        return list(self.tables)[self._stack.currentIndex()]

    @property
    def table(self) -> DataTable:
        """The table shown."""
        return self.tables[self.key]

    def standing(self) -> Standing:
        """Nothing of its own: the book is no step of a job."""
        return Standing()

    def show_table(self, key: str, find: str = "") -> None:
        """Go to a table, and show only what holds some words."""
        index = list(self.tables).index(key)
        self._stack.setCurrentIndex(index)
        self._titles.show_chosen(index)
        self.find.setText(find)
        self.refresh()

    def refresh(self) -> None:
        """Show the table as the book has it now."""
        if self.job is not None:
            self.show_units(self.job.units)
        if not self.isVisible():
            return
        rows, shipped = self.desk.rows(), self.desk.shipped_rows()
        if self.key == HAND:
            self.tables[HAND].fill(self._hand_rows(rows))
        else:
            self.table.fill(
                book_rows_shown(self.key, rows.get(self.key, ()), shipped[self.key], self.find.text().strip())
            )
        self._show_state(rows, shipped)
        self._show_deeds()

    def go_on(self) -> None:
        """Use the chosen sizes in the job, or add a row."""
        if self.key == "sheets":
            self.use_in_job()
        else:
            self.add_row()

    def draw(self) -> None:
        """There is no drawing here."""

    # Deeds

    def add_row(self) -> None:
        """One more row like the one chosen; the cursor goes to its name."""
        new = self.desk.add_like(self.key, self.table.key)
        if new:
            self.find.clear()
            self.refresh()
            self.table.choose(new, 0)
            self.table.setFocus()

    def remove_rows(self) -> None:
        """Take the chosen rows out; it can be undone."""
        self.desk.remove(self.key, self.table.keys)

    def use_in_job(self) -> None:
        """Put the chosen sheet sizes among the job's own."""
        from app.stock.shop_book import shop_book

        job = self.job
        if job is None:
            return
        try:
            book = shop_book()
        except AppError as error:
            self.said.emit(str(error))
            return
        wanted = [book.sheets[key] for key in self.table.keys if key in book.sheets]
        materials = {one.id: one for one in job.materials}
        strange = [one for one in wanted if one.material not in materials]
        if strange:
            self.said.emit(
                f"material '{strange[0].material}' of {strange[0].name} is not in this job; choose it in a build first"
            )
            return
        there = {size.id for size in job.stock}
        sizes = [one.sheet(materials[one.material], book.currency) for one in wanted if one.id not in there]
        priced = book.currency == job.currency

        def used(job: Job) -> Job:
            for size in sizes:
                job = edits.add_stock(job, size)
                if not priced:
                    job = edits.set_price(job, size.id, None)
            return job

        self.edit(f"add {count(len(sizes), 'sheet size')}", used)
        self._show_deeds()

    def ask_to_go_back(self) -> None:
        """Drop the shop's own book, after asking."""
        answer = QMessageBox.question(
            self,
            "Back to the shipped book?",
            "Every edit of the shop's own stock book is dropped. Undo brings it back as long as this window is open.",
            QMessageBox.StandardButton.Discard | QMessageBox.StandardButton.Cancel,
            QMessageBox.StandardButton.Cancel,
        )
        if answer == QMessageBox.StandardButton.Discard:
            self.desk.back_to_shipped()

    def ask_what_to_import(self) -> None:
        """Import a folder of tables."""
        folder = QFileDialog.getExistingDirectory(self, "Folder of tables", self._settings.folder("book"))
        if folder and self.desk.import_folder(folder):
            self._settings.remember_folder("book", folder)

    def ask_where_to_export(self) -> None:
        """Write the tables into a new folder."""
        start = os.path.join(self._settings.folder("book") or os.path.expanduser("~"), "stock book")
        folder, _kind = QFileDialog.getSaveFileName(self, "New folder for the tables", start)
        if folder and self.desk.export_folder(folder):
            self._settings.remember_folder("book", os.path.dirname(folder))
            self.note.setText(f"{len(TABLES)} tables are in {folder}")

    # Showing

    def _show_state(self, rows: dict, shipped: dict) -> None:
        self.back.setVisible(self.desk.is_own)
        if not self.desk.is_own:
            self.state.setText(
                "As shipped: sizes and weights are common ones, prices are invented examples. Edit any cell and the "
                "book becomes the shop's own."
            )
            return
        differ = sum(row not in shipped[table] for table in rows for row in rows[table])
        self.state.setText(
            f"The shop's own. What differs from the shipped book stands out in colour ({count(differ, 'row')}); point "
            "at a cell to see what is shipped."
        )

    def _show_deeds(self) -> None:
        job, keys, is_book = self.job, self.table.keys, self.key != HAND
        entry = ENTRIES.get(self.key, "")
        self.add.setEnabled(is_book)
        self.remove.setEnabled(is_book and bool(keys))
        self.undo.setEnabled(bool(self.desk.undo_text))
        self.undo.setText("Undo")
        self.undo.setAccessibleName(f"Undo {self.desk.undo_text}".strip())
        self.undo.setToolTip(f"Undo {self.desk.undo_text} (Ctrl+Z in the table)" if self.desk.undo_text else "")
        if is_book:
            self.note.setText("Type in a cell, or copy and paste with a spreadsheet. Each cell is checked when left.")
        else:
            self.note.setText(
                "Counts of whole sheets, coils and rolls. Orders take them off; a sheet cut takes one off."
            )
        if self.key == "sheets":
            there = {size.id for size in job.stock} if job is not None else set()
            new = [key for key in keys if key not in there]
            hint = "Choose a sheet size to add it to this job."
            if keys:
                hint = "Can be undone." if new else "The job has this size already."
            self.show_next("Use in this job", hint, is_ready=bool(new) and job is not None)
        elif is_book:
            self.show_next(f"Add a {entry}", "Like the chosen row; then type over it.")
        else:
            self.show_next("Type counts in the table", is_ready=False)
        set_look(self.next, "primary")

    def _hand_rows(self, rows: dict) -> list[Row]:
        from app.stock.on_hand import on_hand

        counts = self.session.rack.read(on_hand, {})
        names = {row["id"]: row["name"] for row in rows.get("materials", ())}
        made = []
        for table in ("sheets", "coils", "rolls"):
            for row in rows.get(table, ()):
                what = (
                    f"{row['name']}, {names.get(row['material'], row['material'])}"
                    if table == "sheets"
                    else row["name"]
                )
                wanted = self.find.text().casefold().split()
                if all(word in f"{row['id']} {what}".casefold() for word in wanted):
                    there = counts.get(row["id"])
                    made.append(Row(row["id"], (Cell(row["id"]), Cell(what), number(_text(there), there))))
        return made

    # What is typed

    def _edited(self, key: str, changes: list[Edit]) -> None:
        if key == HAND:
            self._count(changes)
        elif not self.desk.edit(key, [(row, SHOWN[key][column], text) for row, column, text in changes]):
            self.tables[key].refuse()

    def _count(self, changes: list[Edit]) -> None:
        from app.stock.on_hand import set_on_hand

        rows = self.desk.rows()
        materials = {row["id"]: row["material"] for row in rows.get("sheets", ())}
        counts = {}
        for key, _column, text in changes:
            if not (text.isascii() and text.isdigit() and len(text) <= 6):
                self._refused(f"stock '{key}': '{text}' is not a whole number of pieces; give 0 or more")
                self.tables[HAND].refuse()
                return
            counts[key] = int(text)
        known = {key: materials.get(key, "") for key in counts}
        if not self.session.rack.act(
            lambda rack: set_on_hand(rack, counts, materials=known), lambda _none: self.refresh()
        ):
            self.tables[HAND].refuse()

    def _refused(self, why: str) -> None:
        self.said.emit(why)

    def _rack_changed(self) -> None:
        if self.key == HAND:
            self.refresh()


def _text(there: int | None) -> str:
    return "" if there is None else str(there)
