"""Which of the good divisions to take: the one that nests on least stock, by trying each on the engine; and the ways
to cut a ring in sectors, should that take less stock than the whole ring.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import shapely

from app.fabrication.rooms import Room, rooms_of
from app.fabrication.seam_costs import SeamLimits, polygon_of
from app.fabrication.seam_cuts import cut_along, line_of
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
_HALF: Final = 0.6  # of a ring's longest side, at most, is one side of each half
_UPRIGHT: Final = 45.0  # degrees from upright, at most; the other seams are level


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

    @property
    def sheets(self) -> tuple[StockSheet, ...]:
        """The sizes of the material that can be had."""
        return tuple(sheet for sheet in self.stock if sheet.material == self.material.id and sheet.count != 0)

    @property
    def has_prices(self) -> bool:
        """Whether each of them has a price."""
        return all(sheet.price is not None for sheet in self.sheets)

    def cost_of(self, sheet: StockSheet) -> int:
        """What a trial counts for a sheet: its price, or 1 for each cm² where one of the prices is not known."""
        if self.has_prices and sheet.price is not None:
            return sheet.price
        return round(sheet.width * sheet.height / 100.0)


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


@lru_cache(maxsize=64)
def sectors(ring: Region, bench: Bench, limits: SeamLimits, beside: tuple[Seam, ...]) -> tuple[tuple[Seam, ...], ...]:
    """Ways to cut a ring that a sheet holds, soundest first: halves of either direction, and both at once in quarters;
    only what was found. Remembered.
    """
    bounds = polygon_of(ring).bounds
    longest = max(bounds[2] - bounds[0], bounds[3] - bounds[1])
    sheet = bench.rooms[0]
    rooms = (
        replace(sheet, width=_HALF * longest, height=longest),
        replace(sheet, width=longest, height=_HALF * longest),
    )
    halves: dict[bool, Seam] = {}
    for found in divisions(ring, rooms, limits, beside=beside):
        if len(found.seams) == 1:
            halves.setdefault(_is_upright(found.seams[0]), found.seams[0])
    quarters = (pair for pair in itertools.combinations(halves.values(), 2) if _cross_clear(ring, pair, limits))
    return (*((seam,) for seam in halves.values()), *quarters)


def _is_upright(seam: Seam) -> bool:
    return abs(line_of(seam).angle % 180.0 - 90.0) <= _UPRIGHT


def _cross_clear(ring: Region, pair: Sequence[Seam], limits: SeamLimits) -> bool:
    """Whether two seams cross away from the material: four pieces that meet at a point cannot be welded well."""
    first, second = (shapely.LineString([seam.start, seam.end]) for seam in pair)
    crossing = shapely.intersection(first, second)
    return bool(crossing.is_empty or shapely.distance(crossing, polygon_of(ring)) >= limits.clearance)


def stock_taken(pieces: Sequence[Region], bench: Bench) -> tuple[int, ...]:
    """Area without a place, cost and usable area of the sheets that these pieces alone would take. Remembered."""
    return _stock_taken(tuple(pieces), bench)


@lru_cache(maxsize=256)
def _stock_taken(pieces: tuple[Region, ...], bench: Bench) -> tuple[int, ...]:
    from nesting.problem import Part, Problem, Rules, Sheet
    from nesting.solve import AfterRounds, solve

    rotations = (0.0, 180.0) if bench.material.has_grain else None
    problem = Problem(
        parts=tuple(
            Part(str(number), flatten_region(piece, _FLATTENED, Side.OUTSIDE), count, rotations)
            for number, (piece, count) in enumerate(Counter(pieces).items())
        ),
        sheets=tuple(
            Sheet(
                sheet.id,
                Outline.from_points([(0, 0), (sheet.width, 0), (sheet.width, sheet.height), (0, sheet.height)]),
                sheet.count,
                bench.cost_of(sheet),
            )
            for sheet in bench.sheets
        ),
        rules=Rules(bench.spacing, bench.material.margin, bench.may_nest_in_holes),
    )
    return solve(problem, AfterRounds(0)).plan.cost[:3]


def _pieces(region: Region, division: Division, lap: float) -> list[Region]:
    pieces = [region]
    for seam in division.seams:
        pieces, _ = cut_along(pieces, seam, lap=lap)
    return pieces
