"""The plan kept with a job: where every part lies, what of it is locked, and the changes that can be made by hand.

All functions give a new plan; a sheet left without parts leaves the plan.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

from nesting.plan import Placement

Key = tuple[str, int]
"""A copy: part id and copy, 0-based."""


@dataclass(frozen=True, slots=True)
class KeptPart:
    """One copy on a sheet; a locked one stays where it is when the rest is planned."""

    placement: Placement
    is_locked: bool = False

    @property
    def key(self) -> Key:
        """Which copy it is."""
        return self.placement.part, self.placement.copy


@dataclass(frozen=True, slots=True)
class KeptSheet:
    """One sheet: the id of its stock and its parts. To a locked one nothing is done when the rest is planned."""

    stock: str
    parts: tuple[KeptPart, ...]
    is_locked: bool = False


@dataclass(frozen=True, slots=True)
class KeptPlan:
    """The layouts of a job.

    Fields
    ------
    sheets : tuple of KeptSheet
    shapes : tuple of (part id, text)
        Size and area of each part when it was placed, by which a part changed since is told.
    is_by_hand : bool
        Whether anything was moved or locked by hand.
    """

    sheets: tuple[KeptSheet, ...]
    shapes: tuple[tuple[str, str], ...] = ()
    is_by_hand: bool = False

    @property
    def has_locks(self) -> bool:
        """Whether any part or sheet is locked."""
        return any(sheet.is_locked or any(part.is_locked for part in sheet.parts) for sheet in self.sheets)

    def sheet_of(self, key: Key) -> int | None:
        """Index of the sheet a copy is on."""
        return next((at for at, sheet in enumerate(self.sheets) if any(part.key == key for part in sheet.parts)), None)


def move(plan: KeptPlan, placements: Iterable[Placement]) -> KeptPlan:
    """The plan with some copies lying elsewhere on the sheets they are on."""
    new = {(one.part, one.copy): one for one in placements}

    def moved(part: KeptPart) -> KeptPart:
        return replace(part, placement=new[part.key]) if part.key in new else part

    return _with(plan, (replace(sheet, parts=tuple(map(moved, sheet.parts))) for sheet in plan.sheets))


def put(plan: KeptPlan, sheet: int, placements: Iterable[Placement]) -> KeptPlan:
    """The plan with some copies on a sheet (its index), taken off the sheets they were on, if any; not locked."""
    placements = tuple(placements)
    keys = {(one.part, one.copy) for one in placements}
    sheets = _without(plan, keys)
    sheets[sheet] = replace(sheets[sheet], parts=(*sheets[sheet].parts, *map(KeptPart, placements)))
    return _with(plan, sheets)


def put_on_new_sheet(plan: KeptPlan, stock: str, placements: Iterable[Placement], *, after: int) -> KeptPlan:
    """The plan with some copies on one more sheet, which follows the sheet with index `after`."""
    placements = tuple(placements)
    sheets = _without(plan, {(one.part, one.copy) for one in placements})
    sheets.insert(after + 1, KeptSheet(stock, tuple(map(KeptPart, placements))))
    return _with(plan, sheets)


def take_off(plan: KeptPlan, keys: Collection[Key]) -> KeptPlan:
    """The plan without some copies, which are then not placed."""
    return _with(plan, _without(plan, keys))


def lock_parts(plan: KeptPlan, keys: Collection[Key], is_locked: bool) -> KeptPlan:
    """The plan with some copies locked, or not."""
    return _with(
        plan,
        (
            replace(
                sheet,
                parts=tuple(replace(part, is_locked=is_locked) if part.key in keys else part for part in sheet.parts),
            )
            for sheet in plan.sheets
        ),
    )


def lock_sheet(plan: KeptPlan, sheet: int, is_locked: bool) -> KeptPlan:
    """The plan with one sheet (its index) locked, or not."""
    sheets = list(plan.sheets)
    sheets[sheet] = replace(sheets[sheet], is_locked=is_locked)
    return _with(plan, sheets)


def unlock_all(plan: KeptPlan) -> KeptPlan:
    """The plan without any lock."""
    return _with(
        plan,
        (
            replace(sheet, is_locked=False, parts=tuple(replace(part, is_locked=False) for part in sheet.parts))
            for sheet in plan.sheets
        ),
    )


def shapes_of(plan: KeptPlan) -> Mapping[str, str]:
    """Shape of each part when it was placed, by part id."""
    return dict(plan.shapes)


def _without(plan: KeptPlan, keys: Collection[Key]) -> list[KeptSheet]:
    """The sheets less some copies; those that get empty are still there, so that indices hold."""
    return [replace(sheet, parts=tuple(part for part in sheet.parts if part.key not in keys)) for sheet in plan.sheets]


def _with(plan: KeptPlan, sheets: Iterable[KeptSheet]) -> KeptPlan:
    changed = tuple(sheet for sheet in sheets if sheet.parts)
    return plan if changed == plan.sheets else replace(plan, sheets=changed, is_by_hand=True)
