"""Sheets that were cut: booked out of the stock, their pieces written down, their offcuts put on the rack."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit, QMessageBox

from app.errors import AppError
from app.job.document import DisplayUnits, Job
from app.job.kept import lock_sheet
from app.planning.rack_stock import offcut_of
from app.stock.rack_items import Measured, RackError
from app.window.data_table import Cell, Column, DataTable, Edit, Row, number
from app.window.facts import FactList, Section, set_look, words
from app.window.fields import Choice
from app.window.forms import field_grid
from app.window.picture import Thing
from app.window.place import Place, shared
from app.window.session import Session
from app.window.sheet_picture import sheets_picture
from app.window.theme import Theme
from app.window.walk import Standing
from app.window.wording import count, sentence, size
from geometry.errors import InvalidLength
from geometry.units import format_length, parse_length

if TYPE_CHECKING:
    from app.planning.job_plan import JobPlan
    from app.stock.cut_sheets import Booked, SheetCut

THIS_PLAN: Final = ""
SHEET_COLUMNS: Final = (
    Column("Sheet", "Number, as in its cut file", 52, is_number=True),
    Column("Cut from", "Stock, or an offcut of the rack", 150),
    Column("Material"),
    Column("Pieces", "", 60, is_number=True),
    Column("Offcuts", "How many go onto the rack", 64, is_number=True),
    Column("State", "Whether it is booked as cut", 170),
)
OFFCUT_COLUMNS: Final = (
    Column("Offcut", "Name, as on its label", 56),
    Column("Width", 'As measured after cutting: 24", 610 mm; empty when not measured', 62, is_editable=True),
    Column("Height", "As measured after cutting; empty when not measured", 72, is_editable=True),
    Column("Place", "Where it stands on the rack", 0, is_editable=True),
)

PLACE: Final = 3
"""Column of an offcut's place."""


@dataclass(frozen=True, slots=True)
class Line:
    """A sheet of a plan, and when it was booked as cut."""

    cut: SheetCut
    stock: str
    material: str
    cut_at: datetime | None


class CutPlace(Place):
    """One sheet at a time is booked, in one transaction, and stays as it is from then on."""

    only_when_seen = True

    def __init__(self, session: Session, theme: Theme) -> None:
        super().__init__("Sheets cut", session, theme)
        self.lines: tuple[Line, ...] = ()
        self._drawn: object = None
        self._measures: dict[tuple[int, int], tuple[str, str, str]] = {}
        self.table = DataTable("Sheets of the plan", SHEET_COLUMNS, theme)
        self.table.setMinimumHeight(110)
        self.table.chosen.connect(self._choose_row)
        self.board.addWidget(shared(Qt.Orientation.Vertical, (self.drawing, 430), (self.table, 250)), 1)
        self.view.selected.connect(self._choose_thing)

        self.plan = Choice("Plan")
        self.plan.setToolTip("The plan in hand, or a recut whose cut files were written")
        self.plan.chosen.connect(lambda _value: self._other_plan())
        self.facts = FactList()
        self.offcuts = DataTable("Offcuts of the sheet", OFFCUT_COLUMNS, theme)
        self.offcuts.setFixedHeight(112)
        self.offcuts.edited.connect(self._measured)
        self.lot = QLineEdit()
        self.lot.setAccessibleName("Lot of the sheet")
        self.lot.setToolTip("Colour or production lot, as on the sheet's label; handed on to its offcuts")
        self.done = words("")
        self.done_section = Section("Done", self.done)
        set_look(self.done_section.heading, "good")
        self.offcut_section = Section("Offcuts that go onto the rack", self.offcuts, field_grid(("Lot", self.lot)))
        self.body.addWidget(self.done_section)
        self.body.addWidget(Section("Plan", self.plan))
        self.sheet_section = Section("Sheet", self.facts)
        self.body.addWidget(self.sheet_section)
        self.body.addWidget(self.offcut_section)
        self.body.addStretch(1)
        self.selected.hide()
        self._say_done("")
        session.planning.plan_changed.connect(self.refresh)
        session.hand.checked.connect(self.refresh)
        session.document.opened.connect(self._other_job)
        session.document.changed.connect(self.refresh)
        session.document.title_changed.connect(self.refresh)
        session.rack.changed.connect(self.refresh)
        session.rack.busy_changed.connect(self.refresh)

    @property
    def chosen(self) -> Line | None:
        """The sheet of the row one is at."""
        return next((line for line in self.lines if str(line.cut.number) == self.table.key), None)

    def standing(self) -> Standing:
        """Nothing of its own."""
        return Standing()

    def show_job(self, job: Job) -> None:
        """Show the sheets and which of them are cut."""
        self._offer_plans()
        self.lines = self._read_lines(job)
        self.table.fill([_row(line) for line in self.lines])
        self.table.setVisible(bool(self.lines))
        if not self.table.key and self.lines:
            first = next((line for line in self.lines if line.cut_at is None), self.lines[0])
            self.table.choose(str(first.cut.number))
        self._show_chosen(job.units)
        self._show_next_step()
        are_cut = tuple(line.cut_at is not None for line in self.lines)
        drawn = (self.plan.currentData(), self._plan(), are_cut, job.units)
        if drawn != self._drawn:
            self._drawn = drawn
            self.draw_soon(keep_view=True)

    def go_on(self) -> None:
        """Book the sheet, or go back to planning when there is none."""
        if self.chosen is None:
            self.next_chosen.emit()
        else:
            self.ask_and_book()

    def draw(self) -> None:
        """All sheets at a glance, those cut told apart."""
        job, plan = self.job, self._plan()
        if job is None or not self.lines or plan is None:
            self.view.show_picture(None)
            text = "No plan yet.\nPlan the sheets first; when one has been cut, book it here."
            self.show_empty("The sheets of a recut are listed below; its report shows them." if self.lines else text)
            return
        self.show_empty("")
        cut = {line.cut.number for line in self.lines if line.cut_at is not None}
        picture = sheets_picture(plan.sheets, job, self.theme, self.session.paths, self.board_px, cut=cut)
        self.view.show_picture(picture)
        self.view.select(picture.thing(f"sheet {self.table.key}"))

    # Booking

    def ask_and_book(self) -> None:
        """Book the chosen sheet as cut, after asking once what that means."""
        line = self.chosen
        if line is None or not self._may_book(line):
            return
        try:
            measured, slots = self._taken_in(line)
        except (AppError, InvalidLength) as error:
            self.said.emit(str(error))
            return
        answer = QMessageBox.question(
            self,
            "Sheet cut?",
            self._what_it_means(line),
            QMessageBox.StandardButton.Yes | QMessageBox.StandardButton.Cancel,
            QMessageBox.StandardButton.Cancel,
        )
        if answer == QMessageBox.StandardButton.Yes:
            self.book(line, measured, slots)

    def book(self, line: Line, measured: dict[int, Measured], slots: dict[int, str]) -> None:
        """Book a sheet as cut, in one transaction; it is locked in the plan when that is done."""
        from app.stock.cut_sheets import book_cut

        job, folder, lot, plan = self.job, self.plan.currentData(), self.lot.text().strip(), self._plan()
        if job is None:
            return
        try:
            cut = self._cut(job, folder, line.cut.number, plan, measured=measured, slots=slots, lot=lot)
        except AppError as error:
            self.said.emit(str(error))
            return

        def done(booked: Booked) -> None:
            self._say_done(" ".join((_done_in_words(cut, booked), *self._surplus(cut))))
            if not folder:
                text = f"lock sheet {cut.number}, which is cut"
                self.session.hand.edit(text, lambda kept: lock_sheet(kept, cut.number - 1, True))
            self.lot.clear()
            self.table.choose("")
            self.refresh()

        self.session.rack.act(lambda rack: book_cut(rack, cut), done)

    def _surplus(self, cut: SheetCut) -> list[str]:
        """What to say when more pieces are cut now than the job asks for."""
        from app.planning.recut import is_cut_elsewhere, surplus
        from app.stock.cut_sheets import pieces_cut

        pieces = self.session.rack.read(lambda rack: pieces_cut(rack, cut.job), ())
        prepared = self.session.preparation.prepared
        if prepared is None or not is_cut_elsewhere(pieces, cut):
            return []
        return [sentence(finding.message) for finding in surplus(prepared, pieces, cut)]

    def _may_book(self, line: Line) -> bool:
        session = self.session
        is_free = line.cut_at is None and not session.rack.is_busy and session.job_key() is not None
        is_of_plan = bool(self.plan.currentData())
        return is_free and (is_of_plan or session.can_export)

    def _what_it_means(self, line: Line) -> str:
        from app.stock.on_hand import on_hand

        cut = line.cut
        if cut.offcut is not None:
            leaves = f"Offcut {cut.offcut} leaves the rack for good."
        else:
            there = self.session.rack.read(on_hand, {}).get(cut.stock)
            counted = "which is not counted" if there is None else f"of which {there} are counted in the shop"
            leaves = f"One {line.stock} of {line.material} leaves the stock, {counted}."
        kept = f"{count(len(cut.offcuts), 'offcut')} put on the rack" if cut.offcuts else "no offcut is kept"
        return (
            f"Book sheet {cut.number} as cut?\n\n{leaves} {count(len(cut.pieces), 'piece')} written down as cut, and "
            f"{kept}. The sheet then stays as it is when the rest is planned anew. This cannot be undone."
        )

    def _taken_in(self, line: Line) -> tuple[dict[int, Measured], dict[int, str]]:
        """What was measured of the sheet's offcuts, and where they stand; an error says what is wrong."""
        units = self.job.units.value if self.job is not None else "in"
        measured, slots = {}, {}
        for index in range(len(line.cut.offcuts)):
            wide, high, slot = self._measures.get((line.cut.number, index), ("", "", ""))
            if bool(wide) != bool(high):
                raise RackError(f"offcut {_name(line, index)}: give both width and height, or neither")
            if wide:
                sides = (parse_length(side, default_unit=units) for side in (wide, high))
                measured[index] = Measured(*sides)
            if slot:
                slots[index] = slot
        return measured, slots

    # Showing

    def _offer_plans(self) -> None:
        from app.stock.cut_sheets import recuts

        key = self.session.job_key()
        made = () if key is None else self.session.rack.read(lambda rack: recuts(rack, key), ())
        folders = [one.folder for one in made]
        there = [folder for folder in dict.fromkeys(folders) if os.path.isdir(folder)]
        entries = [("the plan in hand", THIS_PLAN), *((f"recut in {os.path.basename(one)}", one) for one in there)]
        self.plan.offer(entries, self.plan.currentData() if self.plan.currentData() in there else THIS_PLAN)

    def _read_lines(self, job: Job) -> tuple[Line, ...]:
        from app.planning.recut import booked_as_cut
        from app.stock.cut_sheets import pieces_cut

        key, folder, plan = self.session.job_key(), self.plan.currentData(), self._plan()
        pieces = () if key is None else self.session.rack.read(lambda rack: pieces_cut(rack, key), ())
        names = {material.id: material.name for material in job.materials}
        try:
            numbers = self._numbers(folder, plan)
            cuts = [self._cut(job, folder, at, plan) for at in numbers]
        except AppError as error:
            self.said.emit(str(error))
            return ()
        stock = {one.id: one.name for one in (*job.stock, *(plan.job.stock if plan is not None else ()))}
        return tuple(
            Line(
                cut,
                f"offcut {offcut_of(cut.stock)}" if cut.offcut is not None else stock.get(cut.stock, cut.stock),
                names.get(cut.material, cut.material),
                booked_as_cut(cut, pieces),
            )
            for cut in cuts
        )

    def _numbers(self, folder: str, plan: JobPlan | None) -> Sequence[int]:
        if folder:
            from app.output.plan_folder import sheet_count

            return range(1, sheet_count(folder) + 1)
        return [sheet.number for sheet in plan.sheets] if plan is not None else []

    def _cut(self, job: Job, folder: str, at: int, plan: JobPlan | None, **more) -> SheetCut:
        """What is booked of a sheet: of the plan in hand, or of the recut in a folder."""
        from app.output.plan_folder import cut_from_folder
        from app.planning.recut import sheet_cut
        from app.stock.cut_sheets import JobKey

        key = self.session.job_key() or JobKey("", job.name)
        if folder:
            thickness = {material.id: material.thickness for material in job.materials}
            return cut_from_folder(folder, at, key, thickness=thickness, **more)
        return sheet_cut(plan, at, key, **more)

    def _show_chosen(self, units: DisplayUnits) -> None:
        line = self.chosen
        self.sheet_section.setVisible(line is not None)
        self.offcut_section.setVisible(line is not None and line.cut_at is None and bool(line.cut.offcuts))
        if line is None:
            return
        state = "not cut yet" if line.cut_at is None else f"cut {line.cut_at.astimezone():%Y-%m-%d %H:%M}"
        facts = [
            ("Sheet", str(line.cut.number)),
            ("Cut from", line.stock),
            ("Material", line.material),
            ("Pieces", str(len(line.cut.pieces))),
            ("State", state),
        ]
        rows = []
        for index, piece in enumerate(line.cut.offcuts):
            wide, high, slot = self._measures.get((line.cut.number, index), ("", "", ""))
            planned = size(piece.usable.width, piece.usable.height, units)
            facts.append((_name(line, index), f"{planned}, as planned"))
            rows.append(Row(str(index), (Cell(_name(line, index)), Cell(wide), Cell(high), Cell(slot))))
        self.facts.show_facts(facts)
        self.offcuts.fill(rows)

    def _show_next_step(self) -> None:
        line, session = self.chosen, self.session
        set_look(self.next, "primary")
        if line is None:
            self.show_next("Back to Sheets", "There is no plan yet; plan first.")
        elif line.cut_at is not None:
            self.show_next("Cut", "This sheet is booked as cut and stays as it is.", is_ready=False)
        elif session.job_key() is None:
            hint = "Save the job first: what is cut is booked to its file."
            self.show_next("Book sheet as cut…", hint, is_ready=False)
        elif not self._may_book(line):
            self.show_next("Book sheet as cut…", "The plan is not final, or the job has changed since.", is_ready=False)
        else:
            self.show_next(
                f"Book sheet {line.cut.number} as cut…", "Takes it out of stock; its offcuts go on the rack."
            )

    def _say_done(self, text: str) -> None:
        self.done.setText(text)
        self.done_section.setVisible(bool(text))

    def _choose_row(self, key: str) -> None:
        picture = self.view.picture
        if picture is not None:
            self.view.select(picture.thing(f"sheet {key}") if key else None)
        if self.job is not None:
            self._show_chosen(self.job.units)
            self._show_next_step()

    def _choose_thing(self, thing: Thing | None) -> None:
        self.selected.hide()  # the facts stand under "Sheet" already
        if thing is not None:
            self.table.choose(thing.key.removeprefix("sheet "))

    # What is typed

    def _measured(self, edits: list[Edit]) -> None:
        line, job = self.chosen, self.job
        if line is None or job is None:
            return
        for key, column, text in edits:
            if column < PLACE and text:
                try:
                    text = format_length(parse_length(text, default_unit=job.units.value), job.units.value)
                except InvalidLength as error:
                    self.said.emit(f"offcut {_name(line, int(key))}: {error}")
                    self.offcuts.refuse()
                    return
            at = (line.cut.number, int(key))
            values = list(self._measures.get(at, ("", "", "")))
            values[column - 1] = text
            self._measures[at] = (values[0], values[1], values[2])
        self._show_chosen(job.units)

    # What there is

    def _plan(self) -> JobPlan | None:
        planning = self.session.planning
        is_shown = not self.plan.currentData() and not planning.is_preview and not planning.is_running
        return planning.plan if is_shown and planning.fits(self.job) else None

    def _other_plan(self) -> None:
        self._measures.clear()
        self.table.choose("")
        self.refresh()

    def _other_job(self) -> None:
        self._measures.clear()
        self.lines = ()
        self._say_done("")
        self.refresh()


def _row(line: Line) -> Row:
    cut = line.cut
    state = Cell("not cut yet", look="muted")
    if line.cut_at is not None:
        state = Cell(f"cut {line.cut_at.astimezone():%Y-%m-%d %H:%M}", look="own")
    return Row(
        str(cut.number),
        (
            number(str(cut.number), cut.number),
            Cell(line.stock),
            Cell(line.material),
            number(str(len(cut.pieces)), len(cut.pieces)),
            number(str(len(cut.offcuts)), len(cut.offcuts)),
            state,
        ),
    )


def _name(line: Line, index: int) -> str:
    from app.output.words import offcut_name

    return offcut_name(line.cut.number, index)


def _done_in_words(cut: SheetCut, booked: Booked) -> str:
    from app.output.words import offcut_name

    said = [f"Sheet {cut.number} is booked as cut: {count(len(cut.pieces), 'piece')} written down."]
    if cut.offcut is not None:
        said.append(f"Offcut {cut.offcut} has left the rack.")
    elif booked.left_on_hand is not None:
        said.append(f"{booked.left_on_hand} of this size are left on hand.")
    for index, one in enumerate(booked.offcuts):
        said.append(f"{offcut_name(cut.number, index)} is offcut {one} on the rack.")
    return " ".join(said)
