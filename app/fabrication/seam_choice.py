"""Which of the good divisions to take: the one that nests on least stock, by trying each on the engine."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

from app.fabrication.rooms import Room, rooms_of
from app.fabrication.seam_costs import SeamLimits
from app.fabrication.seam_cuts import cut_along
from app.fabrication.seam_search import Division, divisions
from app.job.document import Seam
from app.stock.book import Material, StockSheet
from geometry.contour import Region
from geometry.flatten import Side, flatten_region
from geometry.outline import Outline

TRIED: Final = 4
"""How many divisions are tried on the engine."""

_AS_GOOD: Final = (1.5, 1500.0)  # a division this many times as costly, plus so much, is still among the good ones
_FLATTENED: Final = 0.5  # mm; the trial needs no more


@dataclass(frozen=True, slots=True)
class Trial:
    """A division and what its pieces alone would take: area left over (mm²), cost of the sheets, area of the sheets."""

    division: Division
    stock: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Bench:
    """What pieces of one material are cut from and how far apart, for trials.

    Fields
    ------
    material : Material
    stock : tuple of StockSheet
    spacing : float, mm
    may_nest_in_holes : bool
    longest : float
        No piece is to be longer than this, mm, whatever the sheets hold.
    """

    material: Material
    stock: tuple[StockSheet, ...]
    spacing: float
    may_nest_in_holes: bool
    longest: float = math.inf

    @property
    def rooms(self) -> tuple[Room, ...]:
        """The usable rectangles, none of a side longer than `longest`."""
        return tuple(
            replace(room, width=min(room.width, self.longest), height=min(room.height, self.longest))
            for room in rooms_of(self.material, self.stock)
        )


@lru_cache(maxsize=64)
def best_division(region: Region, bench: Bench, limits: SeamLimits, beside: tuple[Seam, ...]) -> Division | None:
    """The division to take, or None when none is found. Remembered, since a job is prepared again after every edit."""
    found = trials(region, bench, limits, beside)
    return min(found, key=lambda one: (one.stock, one.division.cost)).division if found else None


def trials(region: Region, bench: Bench, limits: SeamLimits, beside: Sequence[Seam] = ()) -> tuple[Trial, ...]:
    """The good divisions of a region with what each takes from the stock; cheapest seams first."""
    found = divisions(region, bench.rooms, limits, beside=beside)
    if not found:
        return ()
    times, more = _AS_GOOD
    good = [one for one in found if one.cost <= times * found[0].cost + more][:TRIED]
    if len(good) == 1:
        return (Trial(good[0], ()),)
    return tuple(Trial(one, stock_taken(_pieces(region, one, limits.lap), bench)) for one in good)


def stock_taken(pieces: Sequence[Region], bench: Bench) -> tuple[int, ...]:
    """Area without a place, cost and usable area of the sheets that these pieces alone would take."""
    from nesting.problem import Part, Problem, Rules, Sheet
    from nesting.solve import AfterRounds, solve

    rotations = (0.0, 180.0) if bench.material.has_grain else None
    sheets = [sheet for sheet in bench.stock if sheet.material == bench.material.id and sheet.count != 0]
    priced = all(sheet.price is not None for sheet in sheets)
    problem = Problem(
        parts=tuple(
            Part(str(number), flatten_region(piece, _FLATTENED, Side.OUTSIDE), 1, rotations)
            for number, piece in enumerate(pieces)
        ),
        sheets=tuple(
            Sheet(
                sheet.id,
                Outline.from_points([(0, 0), (sheet.width, 0), (sheet.width, sheet.height), (0, sheet.height)]),
                sheet.count,
                sheet.price if priced and sheet.price is not None else round(sheet.width * sheet.height / 100.0),
            )
            for sheet in sheets
        ),
        rules=Rules(bench.spacing, bench.material.margin, bench.may_nest_in_holes),
    )
    return solve(problem, AfterRounds(0)).plan.cost[:3]


def _pieces(region: Region, division: Division, lap: float) -> list[Region]:
    pieces = [region]
    for seam in division.seams:
        pieces, _ = cut_along(pieces, seam, lap=lap)
    return pieces
