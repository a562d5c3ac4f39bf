"""Changing the plan by hand: what the window's buttons, keys and the dragging hand do to the kept plan."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject, Signal

from app.job import kept
from app.job.kept import KeptPlan
from app.planning.job_plan import JobPlan, PlacedPart, PlannedSheet
from app.window.background import Background
from app.window.free_places import Found, Room, nearest, places
from app.window.session import Session
from nesting.plan import Placement

if TYPE_CHECKING:
    from app.fabrication.part import CutPart
    from app.planning.kept_plan import KeptPlans
    from nesting.clearance import Standing

SNAP_REACH: Final = 6 * 25.4
"""mm; a part let go in a bad place goes to a good one no farther off than this, or stays and is shown as not legal."""


class HandWork(QObject):
    """Edits of the kept plan, each one undo step. Looking for free places is done off the window's thread.

    Signals
    -------
    said : str
        A sentence: why something cannot be done, or what has been done that cannot be seen.
    went : int, object
        Parts have gone to another sheet (its index): their keys.
    busy_changed : bool
        Whether a place is being looked for.
    """

    said = Signal(str)
    went = Signal(int, object)
    busy_changed = Signal(bool)

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._search = Background("letterbed-places", self)
        self._search.done.connect(self._take)
        self._search.failed.connect(session.fault)
        self._search.busy_changed.connect(self.busy_changed)
        self._then: Callable[[Found], None] | None = None
        self._gesture = 0
        self.snaps = True
        self.step = 25.4 / 4.0
        self.fine_step = 25.4 / 16.0

    @property
    def can_edit(self) -> bool:
        """Whether anything may be changed by hand now."""
        return self._session.hand.can_edit

    @property
    def plan(self) -> JobPlan | None:
        """The plan as it stands."""
        return self._session.planning.plan

    def close(self) -> None:
        """End the thread."""
        self._search.close()

    # How parts would stand

    def judge_of(self, sheet: PlannedSheet, moving: Sequence[PlacedPart]) -> Callable[[Sequence[Placement]], object]:
        """What says how some parts of a sheet would stand if moved; None for all until outlines are ready."""
        from nesting.clearance import Standings

        plans = self._session.hand.plans
        if plans is None or sheet.material.id not in plans.problems:
            return lambda _placements: ()
        keys = {one.key for one in moving}
        rest = [one.placement for one in sheet.placed if one.key not in keys]
        one = plans.problems[sheet.material.id]
        stays = Standings(one.problem, sheet.stock.id, rest, plans.shapes[sheet.material.id])
        return lambda placements: stays.of(placements, reach=25.4)

    # Changes on one sheet

    def drop(self, sheet: PlannedSheet, placements: Sequence[Placement], *, text: str = "move") -> None:
        """Parts of a sheet are let go somewhere; from where they may not lie they go to a place near by, if any."""
        if not self.can_edit or not placements:
            return
        self._gesture += 1
        merge = f"hand-{self._gesture}"
        self._edit(text, placements, merge=merge)
        if self.snaps:
            self._to_nearest(sheet, tuple(placements), SNAP_REACH, merge, text, is_asked=False)

    def snap(self, sheet: PlannedSheet, chosen: Sequence[PlacedPart]) -> None:
        """Bring parts, together, to the nearest place where all of them may lie."""
        if self._may_move(sheet, chosen):
            self._gesture += 1
            placements = tuple(one.placement for one in chosen)
            text = "bring to the nearest place"
            self._to_nearest(sheet, placements, float("inf"), f"hand-{self._gesture}", text, is_asked=True)

    def nudge(self, sheet: PlannedSheet, chosen: Sequence[PlacedPart], dx: float, dy: float, *, is_fine: bool) -> None:
        """Move parts by one step."""
        from app.planning.by_hand import moved

        if self._may_move(sheet, chosen):
            step = self.fine_step if is_fine else self.step
            placements = moved(chosen, dx * step, dy * step)
            # Steps that follow each other with the same parts are one step back.
            merge = "nudge-" + "-".join(f"{one.part}#{one.copy}" for one in placements)
            self._edit("nudge", placements, merge=merge)

    def move_to(self, sheet: PlannedSheet, one: PlacedPart, *, x: float | None = None, y: float | None = None) -> None:
        """Put a part so that the lower left of its box is at x or y, mm."""
        from app.planning.by_hand import box_on_sheet

        if self._may_move(sheet, [one]):
            box = box_on_sheet(one)
            at = one.placement
            dx = 0.0 if x is None else x - box.min_x
            dy = 0.0 if y is None else y - box.min_y
            self._edit("move", [replace(at, x=at.x + dx, y=at.y + dy)])

    def turn(self, sheet: PlannedSheet, chosen: Sequence[PlacedPart], way: int) -> None:
        """Turn parts together by a quarter, or by two where one is not allowed; anticlockwise for way 1."""
        from app.planning.by_hand import angle_refused, quarter_step, turned

        if not self._may_move(sheet, chosen):
            return
        by = quarter_step(chosen, way)
        if by is None:
            bound = next(one.part for one in chosen if one.part.rotations is not None)
            self.said.emit(angle_refused(bound))
            return
        self._edit("turn", turned(chosen, by))

    def turn_to(self, sheet: PlannedSheet, one: PlacedPart, angle: float) -> None:
        """Turn a part to an angle, degrees."""
        from app.planning.by_hand import angle_refused, may_stand_at, turned

        if self._may_move(sheet, [one]):
            if may_stand_at(one.part, angle):
                self._edit("turn", turned([one], angle - one.placement.rotation))
            else:
                self.said.emit(angle_refused(one.part))

    def mirror(self, sheet: PlannedSheet, chosen: Sequence[PlacedPart]) -> None:
        """Mirror each part left to right about its own middle."""
        from app.planning.by_hand import mirror_refused, mirrored

        if self._may_move(sheet, chosen):
            barred = next((one.part for one in chosen if not one.part.may_mirror), None)
            if barred is not None:
                self.said.emit(mirror_refused(barred))
            else:
                self._edit("mirror", [mirrored(one) for one in chosen])

    # Locks

    def lock(self, chosen: Sequence[PlacedPart]) -> None:
        """Lock parts, or unlock them when all are locked."""
        keys = {one.key for one in chosen}
        if keys and self.can_edit:
            is_locked = not all(one.is_locked for one in chosen)
            text = f"{'lock' if is_locked else 'unlock'} {_parts(len(keys))}"
            self._session.hand.edit(text, lambda plan: kept.lock_parts(plan, keys, is_locked))

    def lock_sheet(self, sheet: PlannedSheet) -> None:
        """Lock a sheet, or unlock it."""
        if self.can_edit:
            text = f"{'unlock' if sheet.is_locked else 'lock'} sheet {sheet.number}"
            at = sheet.number - 1
            self._session.hand.edit(text, lambda plan: kept.lock_sheet(plan, at, not sheet.is_locked))

    def unlock_all(self) -> None:
        """Take off every lock."""
        if self.can_edit:
            self._session.hand.edit("unlock everything", kept.unlock_all)

    # From sheet to sheet

    def take_off(self, sheet: PlannedSheet, chosen: Sequence[PlacedPart]) -> None:
        """Take parts off their sheet; they are not placed then."""
        if self._may_move(sheet, chosen):
            keys = {one.key for one in chosen}
            text = f"take {_parts(len(keys))} off sheet {sheet.number}"
            self._session.hand.edit(text, lambda plan: kept.take_off(plan, keys))

    def to_sheet(self, chosen: Sequence[PlacedPart], target: PlannedSheet, source: PlannedSheet | None) -> None:
        """Move parts to another sheet, to the free place nearest to where they lay."""
        if not chosen or (source is not None and not self._may_move(source, chosen)) or not self.can_edit:
            return
        wrong = next((one.part for one in chosen if one.part.material != target.material.id), None)
        if wrong is not None:
            self.said.emit(
                f"{wrong.id} is not made of {target.material.name}, so it cannot go onto sheet {target.number}"
            )
            return
        if target.is_locked:
            self.said.emit(f"sheet {target.number} is locked; unlock it first (Shift+K)")
            return
        keys = {one.key for one in chosen}
        at = target.number - 1
        # A sheet left without parts leaves the plan, and those after it move up.
        emptied = source is not None and source is not target and len(source.placed) == len(keys)
        arrived = at - 1 if emptied and source.number < target.number else at
        text = f"move {_parts(len(keys))} to sheet {target.number}"

        def found(placements: tuple[Placement, ...]) -> None:
            self._session.hand.edit(text, lambda plan: kept.put(plan, at, placements))
            self.went.emit(arrived, keys)

        self._find(Room.beside(target, keys), chosen, found)

    def to_new_sheet(self, chosen: Sequence[PlacedPart], stock: str, source: PlannedSheet | None) -> None:
        """Move parts to a new sheet of a stock."""
        plan = self.plan
        if plan is None or not chosen or (source is not None and not self._may_move(source, chosen)):
            return
        material = chosen[0].part.material
        if source is not None:
            after = source.number - 1
        else:  # sheets are in the job's order of materials
            order = [one.id for one in plan.job.materials]
            before = [one for one in plan.sheets if order.index(one.material.id) <= order.index(material)]
            after = len(before) - 1
        keys = {one.key for one in chosen}
        emptied = source is not None and len(source.placed) == len(keys)
        name = next((sheet.name for sheet in plan.job.stock if sheet.id == stock), stock)

        def found(placements: tuple[Placement, ...]) -> None:
            self._session.hand.edit(
                f"move {_parts(len(keys))} to a new sheet",
                lambda kept_plan: kept.put_on_new_sheet(kept_plan, stock, placements, after=after),
            )
            self.went.emit(after if emptied else after + 1, keys)

        self._find(Room(material, stock, (), f"a new sheet {name}"), chosen, found)

    def bring_back(self, part: CutPart, copy: int, target: PlannedSheet) -> None:
        """Put a piece that is not placed onto a sheet."""
        angle = part.rotations[0] if part.rotations else 0.0
        self.to_sheet([PlacedPart(part, Placement(part.id, copy, 0.0, 0.0, angle))], target, None)

    # What they lean on

    def _may_move(self, sheet: PlannedSheet, chosen: Sequence[PlacedPart]) -> bool:
        if not self.can_edit or not chosen:
            return False
        locked = next((one for one in chosen if one.is_locked), None)
        if sheet.is_locked:
            self.said.emit(f"sheet {sheet.number} is locked; unlock it first (Shift+K)")
        elif locked is not None:
            self.said.emit(f"{locked.part.id} is locked; unlock it first (K)")
        return not sheet.is_locked and locked is None

    def _edit(self, text: str, placements: Sequence[Placement], *, merge: str = "") -> None:
        self._session.hand.edit(self._named(text, placements), lambda plan: kept.move(plan, placements), merge=merge)

    def _named(self, text: str, placements: Sequence[Placement]) -> str:
        return f"{text} {placements[0].part}" if len(placements) == 1 else f"{text} {_parts(len(placements))}"

    def _to_nearest(
        self,
        sheet: PlannedSheet,
        placements: tuple[Placement, ...],
        most: float,
        merge: str,
        text: str,
        *,
        is_asked: bool,
    ) -> None:
        room = Room.beside(sheet, {(one.part, one.copy) for one in placements})

        def done(found: Found) -> None:
            new = found.placements
            if new is None:
                if is_asked:
                    self.said.emit(found.why_not)
            elif new != placements:
                self._edit(text, new, merge=merge)

        self._look(lambda plans: nearest(plans, room, placements, most), done, is_asked=is_asked)

    def _find(self, room: Room, chosen: Sequence[PlacedPart], then: Callable[[tuple[Placement, ...]], None]) -> None:
        def done(found: Found) -> None:
            if found.placements is None:
                self.said.emit(found.why_not)
            else:
                then(found.placements)

        parts = tuple(chosen)
        self._look(lambda plans: places(plans, room, parts), done)

    def _look(
        self, search: Callable[[KeptPlans], Found], then: Callable[[Found], None], *, is_asked: bool = True
    ) -> None:
        """Look for places off the window's thread; nobody is told that it came to nothing who has not asked for it."""
        plans = self._session.hand.plans
        if plans is None:
            if is_asked:
                self.said.emit("the outlines are not ready yet; try again in a moment")
            return
        asked = self._kept

        def done(found: Found) -> None:
            if self._kept is asked:  # else indices may mean other sheets
                then(found)
            elif is_asked:
                self.said.emit("the plan has changed meanwhile, so nothing was moved; try again")

        self._then = done
        self._search.start(lambda _report: search(plans))

    @property
    def _kept(self) -> KeptPlan | None:
        job = self._session.document.job
        return job.plan if job is not None else None

    def _take(self, found: object) -> None:
        then, self._then = self._then, None
        if then is not None and isinstance(found, Found) and self.can_edit:
            then(found)


def _parts(count: int) -> str:
    return "a part" if count == 1 else f"{count} parts"


def gap_in_words(stand: Standing, units: str, spacing: float, margin: float) -> str:
    """How a part stands, for the plate beside it."""
    from geometry.units import format_length

    other = f"{stand.other[0]} · {stand.other[1] + 1}" if stand.other is not None else "the sheet's edge"
    match stand.verdict.value:
        case "overlaps":
            return f"overlaps {other}"
        case "outside" if stand.what == "keep-out":
            return "in a keep-out"
        case "outside" if stand.gap == 0.0:
            return "beyond the edge"
        case "outside":
            return f"too close to the edge: {format_length(stand.gap, units)} of {format_length(margin, units)}"
        case "too close":
            return f"too close: {format_length(stand.gap, units)} of {format_length(spacing, units)} from {other}"
        case "in a hole":
            return f"in a hole of {other}"
    if stand.other is None:
        return "free"
    return f"free, {format_length(stand.gap, units)} from {other}"
