"""Looking for free places for parts moved by hand; done off the window's thread, so nothing here knows a widget."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from app.job.kept import Key
from app.planning.job_plan import PlacedPart, PlannedSheet
from nesting.plan import Placement

if TYPE_CHECKING:
    from app.planning.kept_plan import KeptPlans
    from nesting.nearest import FreePlaces


@dataclass(frozen=True, slots=True)
class Found:
    """Where parts can go on the sheet asked about, or why nowhere."""

    placements: tuple[Placement, ...] | None
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class Room:
    """The sheet on which room is wanted, as it is when the looking begins.

    Fields
    ------
    material, stock : str
    fixed : tuple of Placement
        What lies there and stays.
    name : str
        For a person: "sheet 3".
    """

    material: str
    stock: str
    fixed: tuple[Placement, ...]
    name: str

    @classmethod
    def beside(cls, sheet: PlannedSheet, moving: Collection[Key]) -> Room:
        """A sheet of the plan, without the parts that are moved."""
        fixed = tuple(one.placement for one in sheet.placed if one.key not in moving)
        return cls(sheet.material.id, sheet.stock.id, fixed, f"sheet {sheet.number}")

    def free(self, plans: KeptPlans, more: Sequence[Placement] = ()) -> FreePlaces:
        """The free places, with more parts put there."""
        from nesting.nearest import FreePlaces

        problem, shapes = plans.problems[self.material].problem, plans.shapes[self.material]
        return FreePlaces(problem, self.stock, (*self.fixed, *more), shapes)


def nearest(plans: KeptPlans, room: Room, placements: Sequence[Placement], most: float) -> Found:
    """The nearest place for parts as they lie to each other, no farther off than `most`, mm."""
    by = room.free(plans).shift(placements, most=most)
    if by is None:
        return Found(None, f"there is no free place for it as it lies on {room.name}; turn it or take parts away")
    return Found(_shifted(placements, by))


def places(plans: KeptPlans, room: Room, chosen: Sequence[PlacedPart]) -> Found:
    """Room for parts on another sheet: as they lie to each other, or else one by one, turned by quarters if need be."""
    from app.planning.by_hand import may_stand_at, turned

    one_material = plans.problems[room.material]
    if not any(sheet.id == room.stock for sheet in one_material.problem.sheets):
        return Found(None, f"there is no {room.name} in this job's stock")
    lying = [one.placement for one in chosen]
    together = room.free(plans).shift(lying)
    if together is not None:
        return Found(_shifted(lying, together))
    placed: list[Placement] = []
    for one in sorted(chosen, key=lambda one: -one_material.part_areas[one.part.id]):
        free = room.free(plans, placed)
        for quarter in (0.0, 90.0, 180.0, 270.0):
            if not may_stand_at(one.part, one.placement.rotation + quarter):
                continue
            stood = turned([one], quarter) if quarter else (one.placement,)
            by = free.shift(stood)
            if by is not None:
                placed += _shifted(stood, by)
                break
        else:
            return Found(None, f"{one.part.id} · {one.placement.copy + 1} finds no free place on {room.name}")
    return Found(tuple(placed))


def _shifted(placements: Sequence[Placement], by: tuple[float, float]) -> tuple[Placement, ...]:
    return tuple(replace(one, x=one.x + by[0], y=one.y + by[1]) for one in placements)
