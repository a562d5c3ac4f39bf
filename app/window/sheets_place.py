"""Fourth place: planning, and the sheets that come of it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QFrame, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from app.job.document import Job
from app.planning.job_plan import JobPlan, PlannedSheet, total_yield
from app.stock.money import format_price
from app.window.facts import FactList, Legend, Section, clear, set_look, words
from app.window.not_made import NotMade, missing_in_words
from app.window.place import Place
from app.window.run_panel import RunPanel, again_in_words
from app.window.session import Session
from app.window.sheet_hands import SheetHands
from app.window.sheet_picture import net_yield, sheet_facts, sheet_picture
from app.window.theme import Theme
from app.window.thumbnail import THUMB_LIMIT, thumbnail
from app.window.unplaced import UnplacedList
from app.window.walk import Mark, Standing
from app.window.wording import count, share, size, weight

LIST_WIDTH = 214


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

        self.run = RunPanel(session)
        self.run.edited.connect(lambda text, edit, merge: self.edit(text, edit, merge=merge))
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
        self.body.addWidget(self.run)
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
        return Standing(
            Mark.DONE, f"{count(len(plan.sheets), 'sheet')}, {share(total_yield(plan.summaries))} net yield"
        )

    def show_job(self, job: Job) -> None:
        """Follow the job and the run."""
        self._show_run()
        self.hands.refresh()

    def step(self, by: int) -> None:
        """Show the sheet before (-1) or after (1)."""
        if self.list.count():
            self.list.setCurrentRow(min(max(self.list.currentRow() + by, 0), self.list.count() - 1))

    def _show_run(self) -> None:
        planning, job = self.session.planning, self.job
        if job is None:
            return
        self.run.show_job(job)
        self._show_next_step(job)
        set_look(self.next, "" if planning.is_running else "primary")
        if planning.plan is not None:
            self.show_empty("")
        elif planning.is_running:
            self.show_empty("Planning…")
        else:
            self.show_empty("No plan yet.\nPress Plan to put every part onto stock.")
        self.standing_changed.emit()

    def _show_next_step(self, job: Job) -> None:
        planning = self.session.planning
        plan = planning.plan
        if planning.may_stop_at_once:
            kept = "keeps the plan shown" if plan is not None else "leaves no plan"
            hint = f"Waiting for every part to have a place. Stopping at once {kept}."
            self.show_next("Stop at once", hint)
        elif planning.is_running:
            stopping = planning.state == "stopping"
            hint = "Every part gets a place first." if stopping else "Esc does the same."
            self.show_next("Cancel, keep the best plan", hint, is_ready=not stopping)
        elif plan is not None and not self.run.is_stale:
            hint = "" if plan.is_complete else "Not all that was asked for is made; see above."
            if plan.faults:
                hint = "Nothing can be written while parts lie where they may not; see above."
            self.show_next("Next: Output", hint)
        else:
            hint = "Press to put every part onto stock."
            if self.session.preparation.is_busy:
                hint = "Reading the artwork…"
            self.show_next(again_in_words(job) if plan is not None else "Plan", hint, is_ready=self.session.can_plan)

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
