"""Pieces that were spoiled or lost, planned again by themselves, from the rack first, with cut files of their own."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QLineEdit

from app.fabrication.part import CutPart
from app.job.document import Job
from app.planning.job_plan import total_yield
from app.window.background import Report
from app.window.data_table import Cell, Column, DataTable, Edit, Row, number
from app.window.facts import FactList, ProgressSection, Section, button, set_look, words
from app.window.fields import CheckBox, Choice, Seconds
from app.window.files_place import open_path
from app.window.forms import field_grid
from app.window.place import Place, shared
from app.window.preparation import what_matters
from app.window.session import Session
from app.window.settings import WindowSettings
from app.window.sheet_picture import sheets_picture
from app.window.theme import Theme
from app.window.walk import Mark, Standing
from app.window.wording import as_folder_name, count, sentence, share, size
from geometry.measure import region_bounds

if TYPE_CHECKING:
    from app.output.recut_files import WrittenRecut
    from app.planning.job_plan import JobPlan
    from app.stock.cut_sheets import JobKey, Recut

USUAL_SECONDS: Final = 5.0
COLUMNS: Final = (
    Column("Part", "Id, as on its label and in the lists", 150),
    Column("Again", "How many to cut again: type a number", 58, is_number=True, is_editable=True),
    Column("In the job", "How many pieces the job has", 70, is_number=True),
    Column("Cut", "How many good pieces are booked as cut", 46, is_number=True),
    Column("Name", least=100),
    Column("Material", least=110),
    Column("Size", "Width × height of the part", 140),
)
SPOILED, LOST = "spoiled", "lost"


class RecutPlace(Place):
    """Type how many of a part to cut again, plan these alone, write their files."""

    only_when_seen = True

    def __init__(self, session: Session, theme: Theme, settings: WindowSettings) -> None:
        super().__init__("Cut again", session, theme)
        self._settings = settings
        self.counts: dict[str, int] = {}
        self._planned: tuple[Job, dict[str, int]] | None = None
        self._written: WrittenRecut | None = None
        self.table = DataTable("Parts to cut again", COLUMNS, theme)
        self.table.setMinimumHeight(130)
        self.table.edited.connect(self._typed)
        self.find = QLineEdit()
        self.find.setPlaceholderText("Find a part or letter")
        self.find.setAccessibleName("Find a part")
        self.find.setClearButtonEnabled(True)
        self.find.textChanged.connect(self.refresh)
        self.board.addWidget(shared(Qt.Orientation.Vertical, (self.table, 340), (self.drawing, 340)), 1)

        self.asked = FactList()
        self.clear_button = button("Clear", tip="Cut nothing again")
        self.clear_button.clicked.connect(self.clear)
        self.fate = Choice("What became of the pieces")
        self.fate.offer(((SPOILED, SPOILED), (LOST, LOST)), SPOILED)
        self.fate.setToolTip("Written down with the pieces that are booked as cut")
        self.note = QLineEdit()
        self.note.setAccessibleName("What happened")
        self.note.setToolTip("Written down with the recut")
        self.seconds = Seconds("Time to plan")
        self.seconds.show_value(USUAL_SECONDS)
        self.seconds.setToolTip("How long to look for a better plan, seconds")
        self.rack = CheckBox("Offcuts of the rack first")
        self.rack.setToolTip("Offcuts cost nothing; those used are reserved for this job when the files are written")
        self.rack.setChecked(True)
        fields = field_grid(("They are", self.fate), ("Note", self.note), ("Time", self.seconds))
        self.progress = ProgressSection("Working", "Progress of the recut")
        self.figures = FactList()
        self.plan_section = Section("Planned", self.figures)
        self.warning = words("", "warn")
        self.done = words("")
        self.open = button("Open folder", tip="Show the written files in the file browser")
        self.open.clicked.connect(lambda: open_path(str(self._written.written.folder)) if self._written else None)
        self.done_section = Section("Written", self.done, self.open)
        self.history = words("", "muted")
        self.history_section = Section("Cut again before", self.history)
        self.body.addWidget(Section("Find", self.find))
        for widget in (self.progress, self.done_section):
            self.body.addWidget(widget)
        self.body.addWidget(Section("To cut again", self.asked, self.clear_button))
        self.body.addWidget(Section("How", fields, self.rack))
        for widget in (self.plan_section, self.warning, self.history_section):
            self.body.addWidget(widget)
        self.body.addStretch(1)
        self.selected.hide()
        run = session.recutting
        run.plan_changed.connect(self._plan_changed)
        run.state_changed.connect(self.refresh)
        run.progressed.connect(lambda _progress: self.refresh())
        run.failed.connect(lambda text, _trace: self.said.emit(text))
        session.writing_recut.done.connect(self._take_written)
        session.writing_recut.busy_changed.connect(self.refresh)
        session.writing_recut.progressed.connect(self.progress.show_share)
        self.rack.toggled.connect(lambda _on: self.refresh())
        session.preparation.changed.connect(self.refresh)
        session.document.opened.connect(self._other_job)
        session.document.changed.connect(self.refresh)
        session.document.title_changed.connect(self.refresh)
        session.rack.changed.connect(self.refresh)

    @property
    def plan(self) -> JobPlan | None:
        """The recut's plan, when it is final and of what is asked for now."""
        run, job = self.session.recutting, self.job
        if run.is_running or run.is_preview or run.plan is None or self._planned is None or job is None:
            return None
        is_of_job = what_matters(self._planned[0]) == what_matters(replace(job, folder=self._planned[0].folder))
        return run.plan if is_of_job and self._planned[1] == self.counts else None

    def standing(self) -> Standing:
        """How the recut stands, while one is under way."""
        if self.session.recutting.is_running or self.session.writing_recut.is_busy:
            return Standing(Mark.BUSY, "cutting again")
        return Standing()

    def show_job(self, job: Job) -> None:
        """Show the parts, what is asked for and the next step."""
        parts = self._parts()
        good = self._good()
        self.table.fill(self._rows(job, parts, good))
        known = {part.id for part in parts}
        pieces = sum(self.counts.values())
        self.asked.show_facts([(part, count(self.counts[part], "piece")) for part in self.counts if part in known])
        self.clear_button.setVisible(bool(self.counts))
        run, writing = self.session.recutting, self.session.writing_recut.is_busy
        self.progress.setVisible(run.is_running or writing)
        if run.is_running and run.progress is not None:
            self.progress.show_share(run.progress.fraction, run.progress.stage)
        elif run.is_running:
            self.progress.show_share(None, "getting the planner ready")
        plan = self.plan
        self.plan_section.setVisible(plan is not None)
        if plan is not None:
            self._show_plan(plan)
        self._show_warning()
        self._show_history()
        self.done_section.setVisible(self._written is not None)
        for widget in (self.fate, self.note, self.seconds, self.rack):
            widget.setEnabled(not run.is_running and not writing)
        self._show_next_step(pieces, plan, writing)
        if not run.is_running and plan is None:
            self.show_empty(
                "Nothing is planned again yet.\nType under Again how many pieces of a part to cut,\n"
                "or choose parts on a sheet and take Sheet, Cut again."
                if not self.counts
                else "Plan to see where these pieces are cut from."
            )

    def go_on(self) -> None:
        """Plan, cancel or write, whatever the button says."""
        if self.session.recutting.is_running:
            self.session.recutting.cancel()
        elif self.plan is None:
            self.start()
        else:
            self.ask_where_to_write()

    def draw(self) -> None:
        """The sheets of the recut."""
        plan, job = self.session.recutting.plan, self.job
        if plan is None or job is None or not plan.sheets:
            self.view.show_picture(None)
            return
        self.show_empty("")
        self.view.show_picture(sheets_picture(plan.sheets, job, self.theme, self.session.paths, self.board_px))

    # Deeds

    def ask_for(self, counts: dict[str, int]) -> None:
        """Cut so many pieces of each part again; 0 for none."""
        limits = {part.id: part.quantity for part in self._parts()}
        for part, pieces in counts.items():
            if pieces > limits[part]:
                self.said.emit(f"part '{part}': {pieces} pieces asked for, but the job has {limits[part]}")
                self.table.refuse()
                return
        self.counts = {part: pieces for part, pieces in (self.counts | counts).items() if pieces}
        self._written = None
        self.refresh()

    def clear(self) -> None:
        """Cut nothing again."""
        self.counts, self._written, self._planned = {}, None, None
        self.session.recutting.clear()
        self.refresh()

    def start(self) -> None:
        """Plan the pieces asked for, and nothing else."""
        from app.planning.recut import only

        prepared, job = self.session.preparation.prepared, self.job
        if not self._is_ready() or prepared is None or job is None:
            return
        self._planned, self._written = (job, dict(self.counts)), None
        stocked = self.session.with_pieces(job, takes_reserved=False) if self.rack.isChecked() else job
        title = replace(stocked, name=f"{job.name}, recut", plan=None, seconds=self.seconds.value())
        self.session.recutting.start(only(replace(prepared, job=title), self.counts), title)

    def ask_where_to_write(self) -> None:
        """Write the recut's files into a new folder that is asked for."""
        job = self.job
        if job is None or self.session.job_key() is None:
            self.said.emit("save the job first: what is cut again is written down with its file")
            return
        start = self._settings.folder("output") or job.folder
        chosen = QFileDialog.getExistingDirectory(self, "Folder for the recut's files", start)
        if chosen:
            self.write(self._own_folder(chosen))

    def write(self, folder: str) -> None:
        """Write cut files, hold the offcuts, mark the pieces and link the recut to its job."""
        plan, key = self.plan, self.session.job_key()
        if plan is None or key is None:
            return
        counts, note, fate = dict(self.counts), self.note.text().strip(), self.fate.currentData()
        self._settings.remember_folder("output", os.path.dirname(folder))
        self.session.writing_recut.start(lambda report: _write(key, plan, folder, counts, note, fate, report))
        self.refresh()

    # Showing

    def _rows(self, job: Job, parts: Sequence[CutPart], good: Counter[str]) -> list[Row]:
        names = {material.id: material.name for material in job.materials}
        wanted = self.find.text().casefold().split()
        rows = []
        for part in parts:
            text = f"{part.id} {part.name} {part.letter} {names.get(part.material, '')}".casefold()
            if not all(word in text for word in wanted):
                continue
            bounds = region_bounds(part.region)
            again = self.counts.get(part.id, 0)
            rows.append(
                Row(
                    part.id,
                    (
                        Cell(part.id),
                        number(str(again) if again else "", again, look="strong"),
                        number(str(part.quantity), part.quantity),
                        number(str(good[part.id]) if good[part.id] else "", good[part.id]),
                        Cell(part.name),
                        Cell(names.get(part.material, part.material)),
                        number(size(bounds.width, bounds.height, job.units), bounds.width * bounds.height),
                    ),
                )
            )
        return rows

    def _show_plan(self, plan: JobPlan) -> None:
        facts = [("Sheets", ", ".join(f"{sheet.number}: {sheet.stock.name}" for sheet in plan.sheets) or "none")]
        facts.append(("Net yield", share(total_yield(plan.summaries))))
        facts.append(("Not placed", count(len(plan.unplaced), "piece") if plan.unplaced else "nothing"))
        self.figures.show_facts(facts)

    def _show_warning(self) -> None:
        from app.planning.recut import planned_twice
        from app.stock.cut_sheets import waiting_recuts

        key = self.session.job_key()
        found = ()
        if key is not None and self.counts and self._written is None:
            waiting = self.session.rack.read(lambda rack: waiting_recuts(rack, key), ())
            found = planned_twice(self.counts, waiting, "")
        self.warning.setText("\n".join(sentence(one.message) for one in found))
        self.warning.setVisible(bool(found))

    def _show_history(self) -> None:
        lines = [
            f"{one.at.astimezone():%Y-%m-%d %H:%M}  {os.path.basename(one.folder)}: "
            + ", ".join(f"{part} × {pieces}" for part, pieces in one.parts)
            + (f" ({one.note})" if one.note else "")
            for one in self._recuts()
            if one.at is not None
        ]
        self.history.setText("\n".join(lines[-6:]))
        self.history_section.setVisible(bool(lines))

    def _show_next_step(self, pieces: int, plan: JobPlan | None, writing: bool) -> None:
        run = self.session.recutting
        if run.is_running:
            self.show_next("Cancel, keep the best plan", is_ready=run.state != "stopping")
        elif writing:
            self.show_next("Writing…", is_ready=False)
        elif plan is not None and self._written is None:
            hint = "Into a new folder; the pieces are marked and the rack's offcuts held."
            if self.session.job_key() is None:
                hint = "Save the job first: what is cut again is written down with its file."
            is_ready = self.session.job_key() is not None and bool(plan.sheets)
            self.show_next("Write the recut's files…", hint, is_ready=is_ready)
        elif self._written is not None:
            self.show_next("Written", "Book its sheets as cut on the page before when they are.", is_ready=False)
        else:
            hint = "Only these, from the rack first." if pieces else "Type under Again how many to cut."
            text = f"Plan {count(pieces, 'piece')} again" if pieces else "Plan again"
            self.show_next(text, hint, is_ready=bool(pieces) and self._is_ready())
        set_look(self.next, "" if run.is_running else "primary")

    # What comes in

    def _typed(self, edits: list[Edit]) -> None:
        counts = {}
        for part, _column, text in edits:
            if text and not (text.isascii() and text.isdigit() and len(text) <= 6):
                self.said.emit(f"part '{part}': '{text}' is no number of pieces; give 0 or more")
                self.table.refuse()
                return
            counts[part] = int(text or 0)
        self.ask_for(counts)

    def _plan_changed(self) -> None:
        self.draw_soon()
        self.refresh()

    def _take_written(self, made: WrittenRecut) -> None:
        self._written = made
        pieces = sum(self.counts.values())
        said = [f"{count(len(made.written.files), 'file')} in {made.written.folder}."]
        said.append(f"{made.marked} of {count(pieces, 'piece')} marked as {self.fate.currentData()}.")
        if made.marked < pieces:
            said.append(f"{pieces - made.marked} come from sheets that were never booked as cut.")
        if made.offcuts:
            said.append(f"Reserved on the rack: {', '.join(f'offcut {one}' for one in made.offcuts)}.")
        self.done.setText(" ".join(said))
        self.session.rack.look()
        self.refresh()

    def _other_job(self) -> None:
        self.counts, self._planned, self._written = {}, None, None
        self.refresh()

    # What there is

    def _parts(self) -> tuple[CutPart, ...]:
        prepared = self.session.preparation.prepared
        return prepared.parts if prepared is not None else ()

    def _good(self) -> Counter[str]:
        from app.stock.cut_sheets import good_pieces

        key = self.session.job_key()
        return Counter() if key is None else self.session.rack.read(lambda rack: good_pieces(rack, key), Counter())

    def _recuts(self) -> tuple[Recut, ...]:
        from app.stock.cut_sheets import recuts

        key = self.session.job_key()
        return () if key is None else self.session.rack.read(lambda rack: recuts(rack, key), ())

    def _is_ready(self) -> bool:
        session = self.session
        is_there = session.preparation.prepared is not None and not session.preparation.is_busy
        return is_there and not session.recutting.is_running and not session.writing_recut.is_busy

    def _own_folder(self, chosen: str) -> str:
        """The folder itself when it is empty, else a new one in it."""
        if not any(Path(chosen).iterdir()):
            return chosen
        name = as_folder_name(self.job.name)
        at = len(self._recuts()) + 1
        while (folder := Path(chosen) / f"{name} - recut {at}").exists():
            at += 1
        return str(folder)


def _write(
    key: JobKey, plan: JobPlan, folder: str, counts: dict[str, int], note: str, fate: str, report: Report
) -> WrittenRecut:
    from app.output.recut_files import write_recut
    from app.stock.cut_sheets import PieceStatus
    from app.stock.rack import Rack

    with Rack() as rack:
        status = PieceStatus(fate)
        when = datetime.now().astimezone()
        return write_recut(rack, key, plan, folder, counts, when=when, status=status, note=note, on_progress=report)
