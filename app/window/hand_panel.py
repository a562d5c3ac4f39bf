"""What can be done by hand with the parts selected on a sheet: exact place, turning, locks, other sheets."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QMenu, QVBoxLayout, QWidget

from app.job.document import DisplayUnits
from app.planning.job_plan import PlacedPart, PlannedSheet
from app.window.facts import button, words
from app.window.fields import Angle, CheckBox, LengthField
from app.window.forms import field_grid
from app.window.wording import count

FARTHEST = 1e6
"""mm; a part may be put anywhere, even where it is not legal."""


class HandPanel(QWidget):
    """Fields and buttons for the selected parts.

    Signals
    -------
    moved_to : float or None, float or None
        Lower left of the part's box, mm.
    turned_to : float
    turned, mirrored, snapped, lock_wanted, off_wanted : a button was pressed
    sheet_wanted : int
        Index of the sheet to move to.
    new_sheet_wanted : str
        Stock id of a new sheet to move to.
    step_changed, fine_step_changed : float, mm
    snaps_changed : bool
    refused : str
    """

    moved_to = Signal(object, object)
    turned_to = Signal(float)
    turned = Signal(int)
    mirrored = Signal()
    snapped = Signal()
    lock_wanted = Signal()
    off_wanted = Signal()
    sheet_wanted = Signal(int)
    new_sheet_wanted = Signal(str)
    step_changed = Signal(float)
    fine_step_changed = Signal(float)
    snaps_changed = Signal(bool)
    refused = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.heading = words("", "section")
        self.x = LengthField("Left edge of the part", least=-FARTHEST, may_be_least=True)
        self.y = LengthField("Lower edge of the part", least=-FARTHEST, may_be_least=True)
        for field, side in ((self.x, "left"), (self.y, "lower")):
            field.setToolTip(f"From the sheet's {side} edge to the part's, in inches with fractions or in mm")
            field.refused.connect(self.refused)
        self.x.committed.connect(lambda value: self.moved_to.emit(value, None))
        self.y.committed.connect(lambda value: self.moved_to.emit(None, value))
        self.angle = Angle("Angle of the part")
        self.angle.setToolTip("Degrees anticlockwise from how the part is drawn; turning is about its middle")
        self.angle.committed.connect(self.turned_to)
        self.step = LengthField("Step of the arrow keys")
        self.step.setToolTip("How far an arrow key moves the selected parts, in inches with fractions or in mm")
        self.step.committed.connect(self.step_changed)
        self.fine = LengthField("Fine step of the arrow keys")
        self.fine.setToolTip("How far an arrow key moves them with Shift held, in inches with fractions or in mm")
        self.fine.committed.connect(self.fine_step_changed)
        for field in (self.step, self.fine):
            field.refused.connect(self.refused)
        self.place = field_grid(("Left", self.x), ("Lower", self.y), ("Angle", self.angle), columns=2)
        self.steps = field_grid(("Step", self.step), ("Fine", self.fine), columns=2)
        self.left = button("Turn left", tip="Turn a quarter anticlockwise, or as far as the grain allows  ([)")
        self.right = button("Turn right", tip="Turn a quarter clockwise, or as far as the grain allows  (])")
        self.mirror = button("Mirror", tip="Mirror left to right, where the two sides of the material are alike  (M)")
        self.snap = button("Nearest place", tip="Bring to the nearest place where it may lie  (N)")
        self.lock = button("Lock", tip="Keep in its place while the rest is planned  (K)")
        self.off = button("Take off", tip="Take off this sheet; it is not placed then  (Del)")
        self.move = button("Move to…", tip="Move to another sheet of the same material  (Ctrl+PgUp, Ctrl+PgDown)")
        self.menu = QMenu(self)
        self.move.setMenu(self.menu)
        self.left.clicked.connect(lambda: self.turned.emit(1))
        self.right.clicked.connect(lambda: self.turned.emit(-1))
        self.mirror.clicked.connect(self.mirrored)
        self.snap.clicked.connect(self.snapped)
        self.lock.clicked.connect(self.lock_wanted)
        self.off.clicked.connect(self.off_wanted)
        self.snaps = CheckBox("Dropped parts go to a legal place")
        self.snaps.setToolTip("A part let go where it may not lie goes to the nearest place within 6 in (152 mm)")
        self.snaps.setChecked(True)
        self.snaps.toggled.connect(self.snaps_changed)
        self.told = words("", "muted")
        self.told.setAccessibleName("What came of the last change by hand")
        buttons = QGridLayout()
        buttons.setHorizontalSpacing(6)
        buttons.setVerticalSpacing(6)
        for at, one in enumerate((self.left, self.right, self.mirror, self.snap, self.lock, self.off)):
            buttons.addWidget(one, at // 3, at % 3)
        buttons.addWidget(self.move, 2, 0, 1, 3)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(8)
        for widget in (self.heading, self.place):
            box.addWidget(widget)
        box.addLayout(buttons)
        for widget in (self.steps, self.snaps, self.told):
            box.addWidget(widget)

    def show_parts(
        self,
        chosen: Sequence[PlacedPart],
        sheet: PlannedSheet,
        units: DisplayUnits,
        *,
        can_edit: bool,
        step: float,
        fine: float,
    ) -> None:
        """Show the parts selected on a sheet."""
        self.setVisible(bool(chosen))
        if not chosen:
            return
        only = chosen[0] if len(chosen) == 1 else None
        name = f"{only.part.id} · {only.placement.copy + 1}" if only is not None else count(len(chosen), "part")
        is_locked = all(one.is_locked for one in chosen)
        self.heading.setText(name + (", locked" if is_locked else ""))
        self.place.setVisible(only is not None)
        free = can_edit and not sheet.is_locked and not any(one.is_locked for one in chosen)
        if only is not None:
            from app.planning.by_hand import box_on_sheet

            box = box_on_sheet(only)
            self.x.show_length(box.min_x, units)
            self.y.show_length(box.min_y, units)
            self.angle.show_value(only.placement.rotation)
        self.step.show_length(step, units)
        self.fine.show_length(fine, units)
        for widget in (self.place, self.left, self.right, self.snap, self.off, self.move):
            widget.setEnabled(free)
        self.mirror.setEnabled(free and all(one.part.may_mirror for one in chosen))
        self.lock.setEnabled(can_edit and not sheet.is_locked)
        self.lock.setText("Unlock" if is_locked else "Lock")

    def offer_sheets(self, sheets: Sequence[tuple[int, str]], stock: Sequence[tuple[str, str]]) -> None:
        """Offer sheets (index, name) and new sheets (stock id, name) to move to."""
        self.menu.clear()
        for index, name in sheets:
            self.menu.addAction(name).triggered.connect(lambda _on=False, index=index: self.sheet_wanted.emit(index))
        if sheets and stock:
            self.menu.addSeparator()
        for id_, name in stock:
            action = self.menu.addAction(f"New sheet {name}")
            action.triggered.connect(lambda _on=False, id_=id_: self.new_sheet_wanted.emit(id_))

    def say(self, text: str) -> None:
        """Say what came of something."""
        self.told.setText(text)
        self.told.setVisible(bool(text))
