"""What is to be nested: parts, sheets, rules. Checked once when built, immutable afterwards."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from geometry.outline import Outline, signed_ring_area
from nesting.checks import faults
from nesting.errors import InvalidProblem

ANY_ANGLE: Final = None
"""Value of `Part.rotations` when a part may stand at any angle."""


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One shape to cut, `quantity` times.

    Fields
    ------
    id : str
        Stable, unique in the problem.
    outline : Outline
        Material in the part's own frame, mm. It contains the true curve, so distances are never less than asked.
    quantity : int
        At least 1; copies are numbered from 0.
    rotations : tuple of float or ANY_ANGLE
        Allowed angles, degrees anticlockwise.
    may_mirror : bool
    priority : int
        Higher is placed first when stock runs short.
    """

    id: str
    outline: Outline
    quantity: int = 1
    rotations: tuple[float, ...] | None = (0.0, 90.0, 180.0, 270.0)
    may_mirror: bool = False
    priority: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One kind of stock.

    Fields
    ------
    id : str
        Stable, unique in the problem.
    outline : Outline
        Rectangle (lower left at 0,0) or any offcut, mm; its holes are flaws no part may touch.
    quantity : int or None
        How many there are; None means as many as wanted.
    cost : int
        Price of one, minor currency units or any other integer; the engine minimises its sum.
    keep_outs : tuple of Outline
        Clamp zones and flaws, mm, in the sheet's frame; parts may come up to them but not into them.
    """

    id: str
    outline: Outline
    quantity: int | None = None
    cost: int = 0
    keep_outs: tuple[Outline, ...] = ()


@dataclass(frozen=True, slots=True)
class Rules:
    """Distances that hold on every sheet.

    Fields
    ------
    spacing : float
        Least distance between the material of two parts, mm (cutter diameter plus web).
    margin : float
        Least distance from a part to the sheet's edge, mm. A keep-out is already the zone itself: a part may come
        up to it but not into it.
    may_nest_in_holes : bool
        Whether a part may lie in the hole of another.
    """

    spacing: float
    margin: float
    may_nest_in_holes: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """Parts to place on stock under rules. `dataclasses.replace` makes variants; every construction is checked.

    Raises
    ------
    InvalidProblem
        With one finding per fault: part, value, limit.
    """

    parts: tuple[Part, ...]
    sheets: tuple[Sheet, ...]
    rules: Rules

    def __post_init__(self) -> None:
        found = faults(self)
        if found:
            raise InvalidProblem(found)


def net_area(outline: Outline) -> float:
    """Material of an outline, holes removed, mm²."""
    return signed_ring_area(outline.outer) + sum(signed_ring_area(hole) for hole in outline.holes)
