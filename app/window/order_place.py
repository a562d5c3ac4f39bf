"""Fifth place: one buy list for this job, or for several together."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QFileDialog,
    QFrame,
    QListWidget,
    QListWidgetItem,
    QVBoxLayout,
)

from app.errors import AppError
from app.job.document import Job
from app.stock.money import format_price
from app.window.data_table import DataTable
from app.window.facts import FactList, ProgressSection, Section, button, set_look, words
from app.window.files_place import open_path
from app.window.order_options import OrderOptions
from app.window.order_rows import COLUMNS, PIECE_COLUMNS, order_rows, piece_rows
from app.window.order_work import Wanted, make_order
from app.window.place import Place, shared, stacked
from app.window.preparation import what_matters
from app.window.session import Session
from app.window.settings import WindowSettings
from app.window.sheet_picture import sheets_picture
from app.window.theme import Theme
from app.window.walk import Mark, Standing
from app.window.wording import count, weight

if TYPE_CHECKING:
    from app.planning.order import Order


class OrderPlace(Place):
    """Every job nested on its sizes, what is there taken off, the cheapest order put together."""

    only_when_seen = True

    def __init__(self, session: Session, theme: Theme, settings: WindowSettings) -> None:
        super().__init__("Order", session, theme)
        self._settings = settings
        self.order: Order | None = None
        self._of: tuple[Job, Wanted] | None = None
        self._done = (0, 0)
        self._written: tuple[Path, ...] = ()
        self._lay_out(theme)
        self._lay_out_panel()
        trial = session.ordering
        trial.found.connect(self._show_progress)
        trial.done.connect(self._take)
        trial.failed.connect(self._failed)
        trial.changed.connect(self.refresh)
        session.preparation.changed.connect(self.refresh)
        session.document.opened.connect(self._other_job)
        session.document.changed.connect(self.refresh)
        session.rack.busy_changed.connect(self.refresh)

    @property
    def is_stale(self) -> bool:
        """Whether the list is of the job as it was, or was asked for otherwise."""
        job = self.job
        if self._of is None or job is None:
            return False
        return _kernel(self._of[0]) != _kernel(job) or self._of[1] != self.options.wanted

    def standing(self) -> Standing:
        """Whether there is a buy list, and of what cost."""
        if self.session.ordering.is_running:
            done, of = self._done
            return Standing(Mark.BUSY, f"nesting, {done} of {of}" if of else "reading…")
        if self.order is None:
            return Standing(Mark.OPEN, "no buy list yet" if self.job is not None else "")
        if self.is_stale:
            return Standing(Mark.LOOK, "job changed since")
        if self.order.unplaced:
            return Standing(Mark.FAULT, f"{count(len(self.order.unplaced), 'piece')} not covered")
        return Standing(Mark.DONE, self._total())

    def show_job(self, job: Job) -> None:
        """Show the list and the next step."""
        running, order = self.session.ordering.is_running, self.order
        self.options.show_job(job, is_running=running)
        self.progress.setVisible(running)
        done, of = self._done
        if of:
            self.progress.show_share(done / of, f"{done} of {count(of, 'choice')} nested")
        else:
            self.progress.show_share(None, "Reading the jobs…")
        self.lists.setVisible(order is not None)
        self.blank.setVisible(order is None)
        self.total_section.setVisible(order is not None)
        self.again.setVisible(order is not None and not running)
        self.again.setEnabled(self._is_ready())
        self.take_over.setVisible(order is not None and not running)
        self.take_over.setEnabled(not self.is_stale and not self._is_taken_over())
        self.reserve.setVisible(order is not None and bool(order.offcuts) and not running)
        self.reserve.setEnabled(not self.is_stale and not self.session.rack.is_busy)
        self.written_section.setVisible(bool(self._written) and not running)
        if order is not None:
            self._show_order(order, job)
        self._show_next_step(running)

    def go_on(self) -> None:
        """Make the list, stop, save it or go on, whatever the button says."""
        if self.session.ordering.is_running:
            self.session.ordering.stop()
        elif self.order is None or self.is_stale:
            self.make()
        elif not self._written:
            self.ask_where_to_save()
        else:
            self.next_chosen.emit()

    def draw(self) -> None:
        """What is cut from the sheets bought: all of them, or those of the size one is at."""
        order, job = self.order, self.job
        if order is None or job is None:
            self.view.show_picture(None)
            return
        sizes = {line.stock.id for line in order.lines}
        wanted = {self.table.key} & sizes or sizes
        sheets = [sheet for plan in order.plans for sheet in plan.sheets if sheet.stock.id in wanted or not sizes]
        self.show_empty("" if sheets else "Nothing is cut from it.")
        self.view.show_picture(sheets_picture(sheets, job, self.theme, self.session.paths, self.board_px))

    # Deeds

    def make(self) -> None:
        """Nest every job on its choices, on a thread and in processes of their own."""
        prepared, job = self.session.preparation.prepared, self.job
        if not self._is_ready() or prepared is None or job is None:
            return
        wanted = self.options.wanted
        own, services = replace(prepared, job=job), self.session.services

        def work(found, stopped):
            return make_order(own, wanted, services, lambda done, of: found(done, of), stopped)

        self._of, self._done, self._written = (job, wanted), (0, 0), ()
        self.session.ordering.start(work)

    def ask_where_to_save(self) -> None:
        """Save the lists in a folder that is asked for."""
        if self.order is None:
            return
        start = self._settings.folder("order") or (self.job.folder if self.job is not None else "")
        folder = QFileDialog.getExistingDirectory(self, "Folder for the buy list", start)
        if folder:
            self.save(folder)

    def save(self, folder: str) -> None:
        """Write order.csv, order.xlsx and order.pdf into a folder."""
        from app.output.order_files import write_order

        if self.order is None or self.job is None:
            return
        try:
            self._written = write_order(self.order, folder, when=datetime.now(), units=self.job.units)
        except AppError as error:
            self.said.emit(str(error))
            return
        self._settings.remember_folder("order", folder)
        self.files.clear()
        for path in self._written:
            item = QListWidgetItem(path.name)
            item.setData(Qt.ItemDataRole.UserRole, str(path))
            item.setToolTip(str(path))
            self.files.addItem(item)
        self.refresh()

    def take_over_plan(self) -> None:
        """Keep the plan that this job's part of the list was made from as the job's own, as one undo step."""
        from app.job.edits import set_plan
        from app.planning.kept_plan import kept_of
        from app.planning.rack_stock import without_rack

        if self.order is None or self.is_stale:
            return
        plan = self.order.plans[0]
        kept, stock = kept_of(plan), without_rack(plan.job).stock
        self.edit("cut as ordered", lambda job: set_plan(replace(job, stock=stock), kept))
        self._of = (self.job, self._of[1]) if self._of is not None and self.job is not None else self._of
        self.refresh()

    def _is_taken_over(self) -> bool:
        from app.planning.kept_plan import kept_of

        return self.order is not None and self.job is not None and self.job.plan == kept_of(self.order.plans[0])

    def reserve_pieces(self) -> None:
        """Keep the rack's pieces that the plans use for their jobs."""
        if self.order is not None:
            jobs = {one.number: one.job for one in self.order.offcuts}
            self.session.rack.act(lambda rack: rack.reserve_for(jobs), lambda _none: self._reserved(len(jobs)))

    # Showing

    def _lay_out(self, theme: Theme) -> None:
        self.alarm = QFrame()
        self.alarm.setObjectName("alarm")
        self.alarm_words = words("", "bad")
        alarm_box = QVBoxLayout(self.alarm)
        alarm_box.setContentsMargins(12, 8, 12, 8)
        alarm_box.addWidget(self.alarm_words)
        self.table = DataTable("Buy list", COLUMNS, theme)
        self.table.setMinimumHeight(140)
        self.pieces_heading = words("From the rack", "section")
        self.pieces_heading.setContentsMargins(12, 12, 12, 6)
        self.pieces = DataTable("Pieces of the rack that are taken", PIECE_COLUMNS, theme)
        self.pieces.setMaximumHeight(130)
        self.table.chosen.connect(lambda _key: self.draw_soon())
        lower = stacked((self.pieces_heading, 0), (self.pieces, 0), (self.drawing, 1))
        split = shared(Qt.Orientation.Vertical, (self.table, 260), (lower, 460))
        self.lists = stacked((self.alarm, 0), (split, 1))
        self.blank = words(
            "There is no buy list yet.\n\nEvery job is nested on its sizes; what is on hand and what the rack can give "
            "is taken off, minimum orders are kept, and the cheapest order is put together. Add other jobs to buy for "
            "them at once.",
            "muted",
        )
        self.blank.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.blank.setFixedWidth(460)
        self.board.addWidget(self.lists, 1)
        self.board.addWidget(self.blank, 1, Qt.AlignmentFlag.AlignCenter)

    def _lay_out_panel(self) -> None:
        self.progress = ProgressSection("Working", "Progress of the order")
        self.totals = FactList(wide_keys=True)
        self.total_section = Section("To buy", self.totals)
        self.options = OrderOptions(self.session, self._settings)
        self.options.changed.connect(self.refresh)
        self.options.refused.connect(self.said)
        self.again = button("Make it anew", tip="Nest every job again and put the order together anew")
        self.again.clicked.connect(self.make)
        self.reserve = button("Reserve the rack's pieces", tip="Keep the pieces listed for their jobs")
        self.reserve.clicked.connect(self.reserve_pieces)
        self.take_over = button(
            "Cut this job as ordered", tip="Make the plan the list was made from this job's own plan"
        )
        self.take_over.clicked.connect(self.take_over_plan)
        self.save_button = button("Save lists…", tip="order.csv, order.xlsx and order.pdf into a folder")
        self.save_button.clicked.connect(self.ask_where_to_save)
        self.files = QListWidget()
        self.files.setAccessibleName("Lists written")
        self.files.setToolTip("Double-click or press Enter to open a file")
        self.files.setFixedHeight(92)
        self.files.itemActivated.connect(lambda item: open_path(item.data(Qt.ItemDataRole.UserRole)))
        self.written_section = Section("Written", self.files, self.save_button)
        self.body.addWidget(self.progress)
        self.body.addWidget(self.total_section)
        self.body.addWidget(self.reserve)
        self.body.addWidget(self.take_over)
        self.body.addWidget(self.written_section)
        self.body.addWidget(self.options)
        self.body.addWidget(self.again)
        self.body.addStretch(1)
        self.selected.hide()

    def _show_order(self, order: Order, job: Job) -> None:
        from app.output.order_tables import warnings

        self.table.fill(order_rows(order, job.units))
        self.pieces.fill(piece_rows(order))
        self.pieces.setVisible(bool(order.offcuts))
        self.pieces_heading.setVisible(bool(order.offcuts))
        said = warnings(order)
        self.alarm.setVisible(bool(said))
        self.alarm_words.setText("\n".join(said))
        facts = [
            (one.material.name, f"{one.bought}, {_price(one.cost, order)}, {weight(one.weight_kg, job.units)}")
            for one in order.totals
        ]
        facts += [(one.name, _price(one.cost, order)) for one in order.goods]
        facts.append(("Everything", self._total()))
        self.totals.show_facts(facts)

    def _show_next_step(self, running: bool) -> None:
        if running:
            stopping = self.session.ordering.is_stopping
            self.show_next("Stop", "Nothing is kept of an order that is stopped.", is_ready=not stopping)
        elif self.order is None or self.is_stale:
            hint = "Nests each job on its sizes; what is there is taken off."
            if self.is_stale:
                hint = "The job or what is asked for has changed since."
            if self.session.preparation.is_busy:
                hint = "Reading the artwork…"
            text = "Make the buy list anew" if self.order is not None else "Make the buy list"
            self.show_next(text, hint, is_ready=self._is_ready())
        elif not self._written:
            self.show_next("Save lists…", "As CSV, XLSX and PDF into a folder.")
        else:
            self.show_next("Next: Output", "The lists are written.")
        set_look(self.next, "" if running else "primary")

    def _total(self) -> str:
        order = self.order
        if order is None:
            return ""
        if order.cost is None:
            return f"{_price(order.known_cost, order)}, some prices missing"
        return _price(order.cost, order)

    # What there is and what comes in

    def _is_ready(self) -> bool:
        return self.session.preparation.is_ready and not self.session.ordering.is_running

    def _show_progress(self, done: int, of: object) -> None:
        self._done = (done, int(of))
        self.refresh()

    def _take(self, order: Order) -> None:
        self.order = order
        self.reserve.setText("Reserve the rack's pieces")
        self.refresh()
        self.draw_soon()

    def _failed(self, _error: BaseException) -> None:
        if self.order is None:
            self._of = None
        self.refresh()

    def _reserved(self, number: int) -> None:
        self.reserve.setText(f"{count(number, 'piece')} reserved")
        self.refresh()

    def _other_job(self) -> None:
        self.order, self._of, self._written = None, None, ()
        self.options.forget_jobs()
        self.refresh()


def _price(minor: int | None, order: Order) -> str:
    return "price not known" if minor is None else f"{format_price(minor, order.currency)} {order.currency}"


def _kernel(job: Job) -> Job:
    """What of a job an order depends on."""
    return replace(what_matters(job), name=job.name, currency=job.currency, seed=job.seed, folder="", plan=None)
