"""Where everything went: placements, layouts, plans."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Placement:
    """One copy of a part on a sheet: mirror in x (x -> -x), rotate about the part's origin, then move, in that order.

    Fields
    ------
    part : str
        Part id.
    copy : int
        0-based.
    x, y : float
        Where the part's origin goes, mm in the sheet's frame.
    rotation : float
        Degrees anticlockwise, 0 <= rotation < 360.
    mirrored : bool
    """

    part: str
    copy: int
    x: float
    y: float
    rotation: float = 0.0
    mirrored: bool = False


@dataclass(frozen=True, slots=True)
class Layout:
    """The placements on one physical sheet: the `copy`-th (0-based) of the stock `sheet`."""

    sheet: str
    copy: int
    placements: tuple[Placement, ...]


@dataclass(frozen=True, slots=True)
class Unplaced:
    """A copy that found no place, and why."""

    part: str
    copy: int
    reason: str


@dataclass(frozen=True, slots=True)
class Plan:
    """All layouts of a problem. Every copy of every part is either in a layout or in `unplaced`.

    Fields
    ------
    layouts : tuple of Layout
        Only sheets that hold something.
    unplaced : tuple of Unplaced
    cost : tuple of int
        Smaller is better, compared from the left: area not placed (mm², rounded up), stock cost, then what the engine
        adds for tidiness (documented in `nesting.solve`).
    """

    layouts: tuple[Layout, ...]
    unplaced: tuple[Unplaced, ...]
    cost: tuple[int, ...]
