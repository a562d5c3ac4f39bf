"""Fourth place: planning, and the sheets that come of it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QFrame, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from app.job import edits
from app.job.document import Job
from app.planning.job_plan import JobPlan, PlannedSheet
from app.stock.money import format_price
from app.window.facts import FactList, Legend, ProgressBar, Section, button, clear, set_look, words
from app.window.fields import Seconds, WholeNumber
from app.window.forms import field_grid
from app.window.not_made import NotMade, missing_in_words
from app.window.place import Place
from app.window.session import Session
from app.window.sheet_hands import SheetHands
from app.window.sheet_picture import net_yield, sheet_facts, sheet_picture
from app.window.theme import Theme
from app.window.thumbnail import THUMB_LIMIT, thumbnail
from app.window.unplaced import UnplacedList
from app.window.walk import Mark, Standing
from app.window.wording import count, share, size, weight

LIST_WIDTH = 214
STATE_WORDS = {
    "not started": "Not planned yet",
    "running": "Planning…",
    "paused": "Paused; the best plan so far is shown",
    "stopping": "Stopping, keeping the best plan…",
    "finished": "Planned",
    "cancelled": "Stopped early; the best plan is kept",
    "failed": "Planning failed",
    "crashed": "Planning ended unexpectedly",
}


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """A sheet in the list, whether parts of it lie where they may not, and whether it is booked as cut."""

    sheet: PlannedSheet
    is_bad: bool
    is_cut: bool

    def looks_like(self, other: Row | None) -> bool:
        """Whether nothing of it would look different."""
        return (
            other is not None
            and (self.is_bad, self.is_cut) == (other.is_bad, other.is_cut)
            and same_sheet(self.sheet, other.sheet)
        )


class SheetsPlace(Place):
    """The sheets of the plan: a list, the one chosen as a drawing, and how the run stands."""

    def __init__(self, session: Session, theme: Theme) -> None:
        super().__init__("Sheets", session, theme, can_turn=True)
        self._drawn: PlannedSheet | None = None
        self._turned_by_hand = False
        self.strip.turn.clicked.connect(self._turn_by_hand)
        self.list = QListWidget()
        self.list.setObjectName("plain")
        self.list.setAccessibleName("Sheets of the plan")
        self.list.setIconSize(THUMB_LIMIT)
        self.list.setSpacing(2)
        self.list.setVerticalScrollMode(QListWidget.ScrollMode.ScrollPerPixel)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.currentRowChanged.connect(self._show_other_sheet)
        self.list_heading = words("Sheets", "section")
        self.side = side = QFrame()
        side.setObjectName("sheetList")
        side.setFixedWidth(LIST_WIDTH + 10)
        column = QVBoxLayout(side)
        column.setContentsMargins(12, 14, 2, 6)
        column.addWidget(self.list_heading)
        column.addWidget(self.list, 1)
        self.row.insertWidget(0, side)
        side.hide()

        self.state = words("", "heading")
        self.stage = words("", "muted")
        self.bar = ProgressBar("Progress of planning")
        self.figures = FactList()
        self.again = button("Plan again", tip="Plan with the time and seed below; what is locked stays  (F5)")
        self.again.clicked.connect(session.plan)
        self.hold = button("Pause", tip="Hold the planning, or let it go on; the time is not counted  (P)")
        self.hold.clicked.connect(session.planning.pause)
        self.fit_to_job = button("Keep what fits", tip="Keep the places of all parts that have not changed")
        self.fit_to_job.clicked.connect(session.hand.fit_to_job)
        self.seconds = Seconds("Planning time")
        self.seconds.setToolTip("How long to look for a better plan; the first full plan is made whatever the time")
        self.seconds.valueChanged.connect(self._set_seconds)
        self.seed = WholeNumber("Seed", 0, 2_147_483_647)
        self.seed.setToolTip("Another seed tries another road; the same seed goes the same road again")
        self.seed.valueChanged.connect(self._set_seed)
        fields = field_grid(("Time", self.seconds), ("Seed", self.seed), columns=2)
        run = QWidget()
        box = QVBoxLayout(run)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(8)
        for widget in (self.state, self.bar, self.stage, self.hold, self.figures, fields, self.fit_to_job, self.again):
            box.addWidget(widget)
        self.unplaced = UnplacedList()
        self.unplaced_section = Section("Not placed", self.unplaced)
        set_look(self.unplaced_section.heading, "bad")
        self.not_made = NotMade()
        self.materials = QWidget()
        self._materials_box = QVBoxLayout(self.materials)
        self._materials_box.setContentsMargins(0, 0, 0, 0)
        self._materials_box.setSpacing(12)
        self.sheet_facts = FactList()
        self.legend = Legend(theme, has_boxes=False)
        self.sheet_section = Section("This sheet", self.legend, self.sheet_facts)
        self.hands = SheetHands(session, theme, self.view, self.list)
        self.hands.said.connect(self.said)
        self.hands.sheet_wanted.connect(self._show_sheet_number)
        self.unplaced.place_wanted.connect(self.hands.bring_back)
        self.hands.faults.chosen.connect(self.hands.show_fault)
        self.strip.layout().insertWidget(2, self.hands.measure)
        self.sheet_section.box.addWidget(self.hands.lock)
        self.body.addWidget(self.hands.told)
        self.body.addWidget(self.hands.hint)
        self.body.addWidget(self.hands.panel)
        self.body.addWidget(self.hands.faults)
        self.body.addWidget(run)
        self.body.addWidget(self.not_made)
        self.body.addWidget(self.unplaced_section)
        self.body.addWidget(self.selected)
        self.body.addWidget(self.sheet_section)
        self.body.addWidget(self.materials)
        self.body.addStretch(1)

        planning = session.planning
        planning.plan_changed.connect(self._show_plan)
        planning.state_changed.connect(self.refresh)
        planning.progressed.connect(self._show_run)
        planning.stop_offered.connect(self._show_run)
        session.preparation.changed.connect(self.refresh)
        session.preparation.busy_changed.connect(self.refresh)
        session.document.changed.connect(self.refresh)
        session.rack.changed.connect(self._show_plan)
        theme.changed.connect(self._repaint_thumbs)

    def standing(self) -> Standing:
        """How the run stands and what it has given."""
        planning, job = self.session.planning, self.job
        if job is None:
            return Standing()
        if planning.is_running:
            progress = planning.progress
            at = f" {progress.fraction * 100:.0f} %" if progress is not None and progress.fraction is not None else ""
            doing = {"stopping": "stopping", "paused": "paused at"}.get(planning.state, "planning")
            return Standing(Mark.BUSY, doing + at)
        plan = planning.plan
        if plan is None:
            if planning.state in ("failed", "crashed"):
                return Standing(Mark.FAULT, "planning " + planning.state)
            return Standing(Mark.OPEN, "not planned yet")
        if not planning.fits(job):
            return Standing(Mark.LOOK, "job changed since")
        if plan.faults:
            return Standing(Mark.FAULT, f"{count(len(plan.faults), 'place')} not legal")
        if not plan.is_complete:
            return Standing(Mark.FAULT, missing_in_words(plan))
        return Standing(Mark.DONE, f"{count(len(plan.sheets), 'sheet')}, {share(plan_yield(plan))} net yield")

    def show_job(self, job: Job) -> None:
        """Follow the job and the run."""
        self.seconds.show_value(job.seconds)
        self.seed.show_value(job.seed)
        self._show_run()
        self.hands.refresh()

    def step(self, by: int) -> None:
        """Show the sheet before (-1) or after (1)."""
        if self.list.count():
            self.list.setCurrentRow(min(max(self.list.currentRow() + by, 0), self.list.count() - 1))

    def _show_run(self) -> None:
        session, planning, job = self.session, self.session.planning, self.job
        if job is None:
            return
        progress, plan = planning.progress, planning.plan
        is_stale = plan is not None and not planning.is_running and not planning.fits(job)
        text, look = STATE_WORDS[planning.state], "heading"
        if job.plan is not None and job.plan.is_by_hand and planning.state in ("not started", "finished", "cancelled"):
            text = "Planned, and changed by hand"
        elif plan is not None and planning.state == "not started":
            text = "Planned before, and kept with the job"
        if planning.state in ("failed", "crashed"):
            look = "bad"
        elif is_stale:
            text, look = "Planned, but the job has changed since", "warn"
        elif planning.was_stopped_at_once and not planning.is_running:
            if plan is None:
                text = "Stopped at once, before there was a plan"
            else:
                text, look = "Stopped at once; this is the last plan that came in, without its offcuts", "warn"
            if plan is not None and not plan.is_complete:
                text, look = f"{text}; {missing_in_words(plan)}", "bad"
        elif plan is not None and not planning.is_running and not plan.is_complete:
            missing = [missing_in_words(plan)] if plan.unplaced or plan.not_done else []
            wrong = [f"{count(len(plan.faults), 'place')} not legal"] if plan.faults else []
            text, look = "; ".join((text, *missing, *wrong)), "bad"
        self.state.setText(text)
        set_look(self.state, look)
        running = planning.is_running
        self.hold.setVisible(planning.state in ("running", "paused"))
        self.hold.setText("Go on" if planning.state == "paused" else "Pause")
        self.fit_to_job.setVisible(is_stale and job.plan is not None and not session.preparation.is_busy)
        self.bar.setVisible(running)
        self.stage.setVisible(running)
        if running:
            self.bar.show_share(progress.fraction if progress is not None else None)
            stage = progress.stage if progress is not None else "getting the planner ready"
            elapsed = f"   {progress.elapsed_s:.0f} s" if progress is not None else ""
            self.stage.setText(stage + elapsed)
        facts: list[tuple[str, str]] = []
        if plan is not None:
            facts = [
                ("Sheets", str(len(plan.sheets))),
                ("Net yield", share(plan_yield(plan))),
                ("Pieces placed", f"{placed_count(plan)} of {sum(part.quantity for part in plan.parts)}"),
            ]
            if not running and plan.rounds:
                facts.append(("Took", f"{plan.seconds:.1f} s, {count(plan.rounds, 'round')}"))
        elif running and progress is not None and progress.sheets:
            facts = [("Sheets", str(progress.sheets)), ("Net yield", share(progress.net_yield))]
        elif not running and session.preparation.prepared is not None:
            parts = session.preparation.prepared.parts
            facts = [
                ("To place", count(sum(part.quantity for part in parts), "piece")),
                ("Materials", str(len({part.material for part in parts}))),
            ]
        self.figures.show_facts(facts)
        has_locks = job.plan is not None and job.plan.has_locks
        again = "Plan the rest" if has_locks else "Plan again"
        self.again.setText(again)
        self.again.setAccessibleName(again)
        self.again.setVisible(not running and plan is not None and not is_stale)
        self.again.setEnabled(session.can_plan)
        for field in (self.seconds, self.seed):
            field.setEnabled(not running)
        if running:
            stopping = planning.state == "stopping"
            if planning.may_stop_at_once:
                kept = "keeps the plan shown" if plan is not None else "leaves no plan"
                hint = f"Waiting for every part to have a place. Stopping at once {kept}."
                self.show_next("Stop at once", hint)
            else:
                hint = "Every part gets a place first." if stopping else "Esc does the same."
                self.show_next("Cancel, keep the best plan", hint, is_ready=not stopping)
        elif plan is not None and not is_stale:
            hint = "" if plan.is_complete else "Not all that was asked for is made; see above."
            if plan.faults:
                hint = "Nothing can be written while parts lie where they may not; see above."
            self.show_next("Next: Output", hint)
        else:
            hint = "Press to put every part onto stock."
            if session.preparation.is_busy:
                hint = "Reading the artwork…"
            self.show_next(again if is_stale else "Plan", hint, is_ready=session.can_plan)
        self.next.setProperty("look", "" if running else "primary")
        self.next.style().unpolish(self.next)
        self.next.style().polish(self.next)
        if plan is None:
            self.show_empty("Planning…" if running else "No plan yet.\nPress Plan to put every part onto stock.")
        else:
            self.show_empty("")
        self.standing_changed.emit()

    def go_on(self) -> None:
        """Plan, cancel, or go on to the output: whatever the button says."""
        planning = self.session.planning
        if planning.may_stop_at_once:
            planning.stop_at_once()
        elif planning.is_running:
            planning.cancel()
        elif planning.plan is None or not planning.fits(self.job):
            self.session.plan()
        else:
            self.next_chosen.emit()

    def _show_plan(self) -> None:
        plan, job = self.session.planning.plan, self.job
        sheets = plan.sheets if plan is not None else ()
        cut = self.session.cut_numbers() if not self.session.planning.is_preview else frozenset()
        row = max(self.list.currentRow(), 0)
        self.list.blockSignals(True)
        while self.list.count() > len(sheets):
            self.list.takeItem(self.list.count() - 1)
        for index, sheet in enumerate(sheets):
            if index == self.list.count():
                self.list.addItem(QListWidgetItem())
            item = self.list.item(index)
            is_bad = plan is not None and any(fault.sheet == sheet.number for fault in plan.faults)
            shown = Row(sheet, is_bad, sheet.number in cut)
            before = item.data(Qt.ItemDataRole.UserRole)
            item.setData(Qt.ItemDataRole.UserRole, shown)
            if not shown.looks_like(before):
                self._fill_item(item, shown)
        if sheets:
            self.list.setCurrentRow(min(row, len(sheets) - 1))
        self.list.blockSignals(False)
        self.side.setVisible(bool(sheets))
        self.list_heading.setText(count(len(sheets), "sheet").capitalize() if sheets else "Sheets")
        self._show_unplaced(plan)
        if plan is None or not self.session.planning.is_preview:
            self._show_materials(plan)
        self._show_sheet_facts()
        if self._drawn is None or self._chosen() is None or not same_sheet(self._drawn, self._chosen()):
            self.draw_soon(keep_view=True)
        else:
            self._drawn = self._chosen()
            self.hands.show_sheet(self._drawn)
        if job is not None:
            self._show_run()

    def _fill_item(self, item: QListWidgetItem, row: Row) -> None:
        job, sheet = self.job, row.sheet
        if job is None:
            return
        told = ", cut" if row.is_cut else ", locked" if sheet.is_locked else ""
        text = f"{sheet.number}   {sheet.stock.name}   {share(net_yield(sheet))}{told}\n{sheet.material.name}"
        item.setText("")
        item.setToolTip(
            f"Sheet {sheet.number}: {sheet.material.name}, "
            f"{size(sheet.stock.width, sheet.stock.height, job.units)}, net yield {share(net_yield(sheet))}{told}"
        )
        item.setData(Qt.ItemDataRole.AccessibleTextRole, text)
        ratio = self.devicePixelRatioF()
        look = self.theme.colours, ratio, self.font()
        small = thumbnail(sheet, self.session.paths, *look, is_bad=row.is_bad, is_cut=row.is_cut)
        icon = QIcon(small)
        icon.addPixmap(small, QIcon.Mode.Selected)  # or Qt would tint it
        item.setIcon(icon)
        item.setSizeHint(QSize(LIST_WIDTH - 16, round(small.deviceIndependentSize().height()) + 10))

    def _repaint_thumbs(self) -> None:
        for index in range(self.list.count()):
            item = self.list.item(index)
            self._fill_item(item, item.data(Qt.ItemDataRole.UserRole))

    def _show_other_sheet(self) -> None:
        self._show_sheet_facts()
        self.draw_soon()

    def _show_sheet_number(self, index: int) -> None:
        """Show another sheet, or the same again for what is to be selected on it."""
        if index == self.list.currentRow():
            self.draw_soon(keep_view=True)
        elif 0 <= index < self.list.count():
            self.list.setCurrentRow(index)

    def _chosen(self) -> PlannedSheet | None:
        row = self._row()
        return row.sheet if row is not None else None

    def _row(self) -> Row | None:
        item = self.list.currentItem()
        return item.data(Qt.ItemDataRole.UserRole) if item is not None else None

    def draw(self) -> None:
        """The chosen sheet."""
        job, sheet = self.job, self._chosen()
        if sheet is None or job is None:
            self._drawn = None
            self.view.show_picture(None)
            self.hands.show_sheet(None)
            return
        is_same_stock = self._drawn is not None and self._drawn.stock == sheet.stock
        if not self._turned_by_hand:
            lies_better = (sheet.stock.height > sheet.stock.width) == (self.board_shape > 1.0)
            self.view.turn(lies_better and sheet.stock.height != sheet.stock.width)
        picture = sheet_picture(sheet, job, self.theme, self.session.paths)
        self.view.show_picture(picture, keep_view=self.keeps_view and is_same_stock)
        self._drawn = sheet
        self.hands.show_sheet(sheet)

    def _show_sheet_facts(self) -> None:
        job, row = self.job, self._row()
        self.sheet_section.setVisible(row is not None)
        if row is None or job is None:
            return
        sheet = row.sheet
        self.sheet_section.heading.setText(f"Sheet {sheet.number}" + (", booked as cut" if row.is_cut else ""))
        self.sheet_facts.show_facts(sheet_facts(sheet, job.units)[1:])
        self.legend.show_amounts(Counter(placed.part.role for placed in sheet.placed))

    def _show_unplaced(self, plan: JobPlan | None) -> None:
        # While planning, most of what has no place yet will find one.
        is_final = plan is not None and not self.session.planning.is_preview
        self.not_made.show_plan(plan if is_final else None)
        unplaced = plan.unplaced if plan is not None and is_final else ()
        self.unplaced.show_pieces(unplaced, can_place=self.session.hand.can_edit)
        extra = f", the first 30 of {len(unplaced)}" if len(unplaced) > 30 else f" ({len(unplaced)})"
        self.unplaced_section.heading.setText("Not placed" + extra)
        self.unplaced_section.setVisible(bool(unplaced))

    def _show_materials(self, plan: JobPlan | None) -> None:
        clear(self._materials_box)
        if plan is None:
            return
        names = {material.id: material.name for material in plan.job.materials}
        units = self.job.units if self.job is not None else plan.job.units
        for one in plan.summaries:
            facts = FactList()
            shown = [
                ("Sheets", f"{one.sheet_count}; no plan needs fewer than {one.least_sheets}"),
                ("Net yield", share(one.net_yield)),
                ("With offcuts", share(one.credited_yield)),
            ]
            if one.cost is not None:
                shown.append(("Cost", f"{format_price(one.cost, plan.job.currency)} {plan.job.currency}"))
            shown.append(("Weight", f"{weight(one.weight_kg, units)}, scrap {weight(one.scrap_kg, units)}"))
            facts.show_facts(shown)
            facts.setToolTip(f"Fewest sheets: {one.bound_reason}")
            self._materials_box.addWidget(Section(names.get(one.material, one.material), facts))

    def units_changed(self) -> None:
        """The list and the panel hold lengths too."""
        super().units_changed()
        self._repaint_thumbs()
        self._show_sheet_facts()
        self._show_materials(self.session.planning.plan)

    def _turn_by_hand(self) -> None:
        self._turned_by_hand = True

    def _set_seconds(self, seconds: float) -> None:
        self.edit("change planning time", lambda job: edits.set_seconds(job, seconds), merge=self.seconds.gesture)

    def _set_seed(self, seed: int) -> None:
        self.edit("change seed", lambda job: edits.set_seed(job, seed), merge=self.seed.gesture)


def plan_yield(plan: JobPlan) -> float:
    """Net part area over sheet area, all materials."""
    sheet_area = sum(one.sheet_area for one in plan.summaries)
    return sum(one.part_area for one in plan.summaries) / sheet_area if sheet_area else 0.0


def placed_count(plan: JobPlan) -> int:
    """Pieces that have a place."""
    return sum(len(sheet.placed) for sheet in plan.sheets)


def same_sheet(one: PlannedSheet, other: PlannedSheet) -> bool:
    """Whether two sheets look the same."""
    return (
        one.stock == other.stock
        and one.is_locked == other.is_locked
        and one.number == other.number
        and one.offcuts == other.offcuts
        and one.margin == other.margin
        and len(one.placed) == len(other.placed)
        and all(
            mine.part is theirs.part and mine.placement == theirs.placement and mine.is_locked == theirs.is_locked
            for mine, theirs in zip(one.placed, other.placed, strict=True)
        )
    )
