"""What can be done by hand on the sheet that is shown: joins the board, the panel and the edits of the kept plan."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QPoint, Signal
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QListWidget

from app.job.kept import Key
from app.planning.job_plan import JobPlan, PlacedPart, PlanFault, PlannedSheet
from app.window.drawing_view import DrawingView
from app.window.facts import button, words
from app.window.fault_list import FaultList
from app.window.hand_panel import HandPanel
from app.window.hand_work import HandWork, gap_in_words
from app.window.measure_hand import Edges, MeasureHand, gap_between
from app.window.part_hand import PartHand
from app.window.session import Session
from app.window.theme import Theme
from geometry.units import format_both

if TYPE_CHECKING:
    from nesting.clearance import Standing


class SheetHands(QObject):
    """The hands of the sheets' place.

    Signals
    -------
    said : str
        A sentence for the banner: why something cannot be done.
    sheet_wanted : int
        Another sheet (its index) is to be shown.
    changed : what can be done, or what is selected, is different now
    """

    said = Signal(str)
    sheet_wanted = Signal(int)
    changed = Signal()

    def __init__(self, session: Session, theme: Theme, view: DrawingView, sheets: QListWidget) -> None:
        super().__init__(view)
        self._session, self._theme, self._view, self._sheets = session, theme, view, sheets
        self.work = HandWork(session, self)
        self.parts = PartHand(view, theme, session.paths, self._gap_in_words)
        self.tape = MeasureHand(view, theme, self.parts)
        self.panel = HandPanel()
        self.faults = FaultList()
        self.measure = button("Measure", "plain", tip="Measure from corner to corner or edge to edge  (D)")
        self.measure.setCheckable(True)
        self.lock = button("Lock this sheet", tip="Leave this sheet as it is when the rest is planned  (Shift+K)")
        self.told = words("", "section")
        self.told.setAccessibleName("Measured")
        self.told.hide()
        hint = (
            "Drag a part to move it, or with Shift a box round several. Click a part for its exact place, to turn or "
            "lock it, or for another sheet."
        )
        self.hint = words(hint, "muted")
        self.hint.hide()
        self._sheet: PlannedSheet | None = None
        self._over_row: int | None = None
        self._wanted: frozenset[Key] = frozenset()
        view.take_up(self.parts)
        self.measure.clicked.connect(self.use_tape)
        self.lock.clicked.connect(self.lock_sheet)
        view.selected.connect(self._selection_changed)
        self.parts.grasped.connect(self._grasped)
        self.parts.dropped.connect(self._dropped)
        self.parts.over.connect(self._show_row_under)
        self.parts.nudged.connect(self._nudge)
        self.parts.refused.connect(self.said)
        self.tape.measured.connect(self._show_measure)
        self.tape.left.connect(lambda: self.use_tape(False))
        self.work.said.connect(self.said)
        self.work.went.connect(self._follow)
        self.work.busy_changed.connect(lambda is_busy: self.panel.say("Looking for a free place…" if is_busy else ""))
        panel = self.panel
        panel.moved_to.connect(lambda x, y: self._with_only(lambda sheet, one: self.work.move_to(sheet, one, x=x, y=y)))
        panel.turned_to.connect(lambda angle: self._with_only(lambda sheet, one: self.work.turn_to(sheet, one, angle)))
        panel.turned.connect(self.turn)
        panel.mirrored.connect(self.mirror)
        panel.snapped.connect(self.snap)
        panel.lock_wanted.connect(self.lock_parts)
        panel.off_wanted.connect(self.take_off)
        panel.sheet_wanted.connect(self.to_sheet)
        panel.new_sheet_wanted.connect(self.to_new_sheet)
        panel.step_changed.connect(self._set_step)
        panel.fine_step_changed.connect(self._set_fine_step)
        panel.snaps_changed.connect(self._set_snaps)
        panel.refused.connect(self.said)
        panel.say("")
        panel.hide()
        session.hand.checked.connect(self.refresh)

    @property
    def plan(self) -> JobPlan | None:
        """The plan as it stands."""
        return self._session.planning.plan

    @property
    def chosen(self) -> list[PlacedPart]:
        """The parts that are selected."""
        return self.parts.chosen

    @property
    def can_change(self) -> bool:
        """Whether parts are selected and may be changed."""
        return self._sheet is not None and self.work.can_edit and bool(self.chosen)

    @property
    def can_edit(self) -> bool:
        """Whether anything of the plan may be changed by hand."""
        return self._sheet is not None and self.work.can_edit

    def close(self) -> None:
        """End the thread that looks for places."""
        self.work.close()

    def deeds(self) -> dict[str, Callable[[], object]]:
        """What the menus do here, by the ids of the actions."""
        return {
            "choose_all": self.choose_all,
            "turn_left": lambda: self.turn(1),
            "turn_right": lambda: self.turn(-1),
            "mirror": self.mirror,
            "snap": self.snap,
            "part_before": lambda: self.to_neighbour(-1),
            "part_after": lambda: self.to_neighbour(1),
            "part_new": self.to_new_sheet,
            "take_off": self.take_off,
            "lock": self.lock_parts,
            "lock_sheet": self.lock_sheet,
            "unlock_all": self.work.unlock_all,
            "measure": lambda: self.use_tape(not self.measure.isChecked()),
        }

    def possible(self) -> dict[str, bool]:
        """Which of the deeds can be done now."""
        job = self._session.document.job
        has_locks = job is not None and job.plan is not None and job.plan.has_locks
        rest = dict.fromkeys(self.deeds(), self.can_change)
        return rest | {
            "choose_all": self.can_edit,
            "lock_sheet": self.can_edit,
            "unlock_all": self.can_edit and has_locks,
            "measure": self._sheet is not None,
        }

    def show_sheet(self, sheet: PlannedSheet | None) -> None:
        """Another sheet, or the same one changed, is on the board."""
        self._sheet = sheet
        placed = {} if sheet is None else {thing_key(one): one for one in sheet.placed}
        self.parts.show_parts(placed, self._kinds(sheet))
        self.parts.is_locked = sheet is not None and sheet.is_locked
        self.tape.edges = Edges(placed, sheet.stock.edge) if sheet is not None else None
        if self._wanted and self._view.picture is not None:
            things = [self._view.picture.thing(name) for name, one in placed.items() if one.key in self._wanted]
            self._wanted = frozenset()
            self._view.select_all([one for one in things if one is not None])
        self.refresh()

    def refresh(self) -> None:
        """Follow the plan, the job and the selection."""
        sheet, plan, job = self._sheet, self.plan, self._session.document.job
        self.parts.may_edit = self.work.can_edit
        self.measure.setEnabled(sheet is not None)
        self.lock.setEnabled(self.can_edit)
        self.lock.setText("Unlock this sheet" if sheet is not None and sheet.is_locked else "Lock this sheet")
        is_final = plan is not None and not self._session.planning.is_preview
        self.faults.show_faults(plan.faults if plan is not None and is_final else ())
        chosen = self.chosen if sheet is not None and is_final else []
        if sheet is None or job is None or not chosen:
            self.panel.hide()
        else:
            work = self.work
            self.panel.show_parts(chosen, sheet, job.units, can_edit=work.can_edit, step=work.step, fine=work.fine_step)
            self._offer_sheets(sheet, chosen)
        self.hint.setVisible(self.can_edit and not chosen and self._view.hand is self.parts)
        self._show_gap(chosen)
        self.changed.emit()

    # Deeds, as buttons and keys ask for them

    def choose_all(self) -> None:
        """Select every part on the sheet."""
        picture = self._view.picture
        if picture is not None and self._sheet is not None:
            keys = {thing_key(one) for one in self._sheet.placed}
            self._view.select_all([one for one in picture.things if one.key in keys])

    def turn(self, way: int) -> None:
        """Turn what is selected by a quarter."""
        self._with_chosen(lambda sheet, chosen: self.work.turn(sheet, chosen, way))

    def mirror(self) -> None:
        """Mirror what is selected."""
        self._with_chosen(self.work.mirror)

    def snap(self) -> None:
        """Bring what is selected to the nearest free place."""
        self._with_chosen(self.work.snap)

    def lock_parts(self) -> None:
        """Lock or unlock what is selected."""
        self._with_chosen(lambda _sheet, chosen: self.work.lock(chosen))

    def lock_sheet(self) -> None:
        """Lock or unlock the sheet."""
        if self._sheet is not None:
            self.work.lock_sheet(self._sheet)
        self.refresh()

    def take_off(self) -> None:
        """Take what is selected off the sheet."""
        self._with_chosen(self.work.take_off)

    def to_sheet(self, index: int) -> None:
        """Move what is selected to another sheet."""
        plan = self.plan
        if plan is not None and 0 <= index < len(plan.sheets):
            target = plan.sheets[index]
            self._with_chosen(lambda sheet, chosen: self.work.to_sheet(chosen, target, sheet))

    def to_neighbour(self, way: int) -> None:
        """Move what is selected to the sheet of the same material before (-1) or after (1)."""
        sheet, plan = self._sheet, self.plan
        if sheet is None or plan is None or not self.chosen:
            return
        same = [one.number for one in plan.sheets if one.material.id == sheet.material.id]
        at = same.index(sheet.number) + way
        if 0 <= at < len(same):
            self.to_sheet(same[at] - 1)
        else:
            which = "before" if way < 0 else "after"
            self.said.emit(f"there is no sheet of {sheet.material.name} {which} sheet {sheet.number}")

    def to_new_sheet(self, stock: str = "") -> None:
        """Move what is selected to a new sheet, of the same stock when none is named."""
        if self._sheet is not None:
            stock = stock or self._sheet.stock.id
            self._with_chosen(lambda sheet, chosen: self.work.to_new_sheet(chosen, stock, sheet))

    def bring_back(self, part: str, copy: int) -> None:
        """Put a piece that is not placed onto the sheet shown, or a sheet of its material."""
        plan = self.plan
        found = next((one for one in plan.parts if one.id == part), None) if plan is not None else None
        if plan is None or found is None:
            return
        sheets = [one for one in plan.sheets if one.material.id == found.material and not one.is_locked]
        if self._sheet is not None and self._sheet in sheets:
            sheets = [self._sheet]
        if sheets:
            self.work.bring_back(found, copy, sheets[0])
            return
        from nesting.plan import Placement

        stock = next((one for one in plan.job.stock if one.material == found.material), None)
        if stock is not None:
            angle = found.rotations[0] if found.rotations else 0.0
            self.work.to_new_sheet([PlacedPart(found, Placement(part, copy, 0.0, 0.0, angle))], stock.id, None)

    def use_tape(self, is_wanted: bool) -> None:
        """Measure, or go back to moving parts."""
        self._view.take_up(self.tape if is_wanted else self.parts)
        self.measure.setChecked(is_wanted)
        self._show_measure(None)
        self.told.setVisible(is_wanted)
        self._view.setFocus()
        self.refresh()

    def show_fault(self, fault: PlanFault) -> None:
        """Show the parts of a fault on their sheet."""
        self._wanted = frozenset(fault.parts)
        self.sheet_wanted.emit(fault.sheet - 1)

    # What it follows

    def _selection_changed(self) -> None:
        self.refresh()

    def _grasped(self) -> None:
        if self._sheet is not None:
            self.parts.judge = self.work.judge_of(self._sheet, self.parts.held)

    def _dropped(self, placements: object, at: QPoint) -> None:
        sheet = self._sheet
        if sheet is None:
            return
        row = self._row_under(at)
        if row is not None and row != sheet.number - 1:
            self.parts.show_parts({thing_key(one): one for one in sheet.placed}, self.parts.faults)
            self._put_back(sheet)
            self.to_sheet(row)
        elif row is None and not self._is_over_board(at):
            self._put_back(sheet)
        else:
            self.work.drop(sheet, placements, text="turn" if _is_turned(sheet, placements) else "move")

    def _put_back(self, sheet: PlannedSheet) -> None:
        from app.window.paths import placement_transform

        picture = self._view.picture
        for one in sheet.placed:
            thing = picture.thing(thing_key(one)) if picture is not None else None
            if thing is not None:
                thing.setTransform(placement_transform(one.placement))

    def _nudge(self, dx: float, dy: float, is_fine: bool) -> None:
        self._with_chosen(lambda sheet, chosen: self.work.nudge(sheet, chosen, dx, dy, is_fine=is_fine))

    def _follow(self, index: int, keys: object) -> None:
        self._wanted = frozenset(keys)
        self.sheet_wanted.emit(index)

    def _show_row_under(self, at: QPoint | None) -> None:
        row = self._row_under(at) if at is not None else None
        if row == self._over_row:
            return
        colour = QColor(self._theme.colours.accent_wash)
        for index, shade in ((self._over_row, QColor(0, 0, 0, 0)), (row, colour)):
            item = self._sheets.item(index) if index is not None else None
            if item is not None:
                item.setBackground(shade)
        self._over_row = row

    def _row_under(self, at: QPoint) -> int | None:
        viewport = self._sheets.viewport()
        here = viewport.mapFromGlobal(at)
        item = self._sheets.itemAt(here) if viewport.rect().contains(here) else None
        return self._sheets.row(item) if item is not None else None

    def _is_over_board(self, at: QPoint) -> bool:
        viewport = self._view.viewport()
        return viewport.rect().contains(viewport.mapFromGlobal(at))

    def _show_measure(self, length: float | None) -> None:
        hint = "Click a corner, an edge or any place of the sheet, then another."
        self.told.setText(hint if length is None else f"Measured {format_both(length)}")

    def _show_gap(self, chosen: list[PlacedPart]) -> None:
        self.parts.gap = None
        if len(chosen) == 2:
            gap, start, end = gap_between(*chosen)
            self.parts.gap = (start, end, f"clearance {format_both(gap)}" if gap > 0.0 else "they overlap")
        self.parts.refresh()

    def _set_step(self, step: float) -> None:
        self.work.step = step
        self.refresh()

    def _set_fine_step(self, step: float) -> None:
        self.work.fine_step = step
        self.refresh()

    def _set_snaps(self, snaps: bool) -> None:
        self.work.snaps = snaps

    # What they lean on

    def _with_chosen(self, deed: Callable[[PlannedSheet, list[PlacedPart]], object]) -> None:
        if self._sheet is not None and self.chosen:
            deed(self._sheet, self.chosen)

    def _with_only(self, deed: Callable[[PlannedSheet, PlacedPart], object]) -> None:
        if self._sheet is not None and len(self.chosen) == 1:
            deed(self._sheet, self.chosen[0])
        self.refresh()

    def _kinds(self, sheet: PlannedSheet | None) -> dict[str, str]:
        plan = self.plan
        if plan is None or sheet is None:
            return {}
        found = {}
        for fault in plan.faults:
            if fault.sheet == sheet.number:
                for part, copy in fault.parts:
                    found.setdefault(f"{part}#{copy}", fault.kind)
        return found

    def _offer_sheets(self, sheet: PlannedSheet, chosen: list[PlacedPart]) -> None:
        plan = self.plan
        if plan is None:
            return
        same = [one for one in plan.sheets if one.material.id == sheet.material.id and one is not sheet]
        stock = [one for one in plan.job.stock if one.material == sheet.material.id and one.count != 0]
        self.panel.offer_sheets(
            [(one.number - 1, f"Sheet {one.number}   {one.stock.name}") for one in same],
            [(one.id, one.name) for one in stock],
        )

    def _gap_in_words(self, stand: Standing) -> str:
        sheet, job = self._sheet, self._session.document.job
        if sheet is None or job is None:
            return ""
        return gap_in_words(stand, job.units.value, sheet.spacing, sheet.margin)


def thing_key(one: PlacedPart) -> str:
    """Key of the thing that stands for a part on the picture of its sheet."""
    return f"{one.part.id}#{one.placement.copy}"


def _is_turned(sheet: PlannedSheet, placements: object) -> bool:
    was = {one.key: one.placement.rotation for one in sheet.placed}
    return any(was.get((one.part, one.copy)) != one.rotation for one in placements)
