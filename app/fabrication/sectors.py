"""Large retainer rings whole, in halves or in quarters: whichever takes the least stock.

A whole ring wastes little when other parts lie in it and much when none do, so it cannot be judged by itself, and what
its letter's own parts save is too coarse a measure in whole sheets. The rings of one sheet material are tried on the
engine together, with the other parts of their letters and what more of the job is cut from it. They are welded where
they are cut, so they stay whole unless sectors take strictly cheaper sheets, and as many as can stay whole then do.

Whether a ring comes in sectors depends on its neighbours, then. Once something of the kept plan is locked, as all is
that was cut, rings stay as they lie in it. Rings with seams of the user's own, who may ask for none, are not tried.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from app.fabrication.divide import Divided, OwnSeams, cut_piece, limits_for, seams_below
from app.fabrication.part import Role
from app.fabrication.remarks import FabricationCode, Remark
from app.fabrication.rooms import fits
from app.fabrication.seam_choice import Bench, sectors, stock_taken
from app.fabrication.subject import Piece, Subject, Terms
from app.fabrication.workshop import Workshop
from app.job.kept import KeptPlan, shapes_of
from geometry.contour import Region
from geometry.curve import Point
from geometry.findings import Severity
from geometry.measure import region_bounds

MOST_RINGS, MOST_TRIED = 8, 24
"""Rings, and parts in all, nested at a time, counted before any ring is cut; more of them are tried in batches."""

Sizes = tuple[tuple[float, float], ...]
"""Width and height of pieces, mm."""

_SAME_SIZE: Final = 0.05  # mm; sizes are written down in hundredths
_SIZE: Final = re.compile(r"([0-9]+[.]?[0-9]*) x ([0-9]+[.]?[0-9]*) mm")


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """A region of a letter under way: its pieces fit the stock, parts are not made of them yet.

    Fields
    ------
    shop : Workshop
    subject : Subject
    pieces : tuple of Piece
        As if no sheet were too small.
    remarks : tuple of Remark
        What their rules had to say.
    own : seams of the user's own by role
    kept_ring : sizes of the pieces of its retainer in a kept plan with locks
    done : what became of each piece
    copies : int
        How often the job has the region.
    """

    shop: Workshop
    subject: Subject
    pieces: tuple[Piece, ...]
    remarks: tuple[Remark, ...]
    own: OwnSeams
    kept_ring: Sizes
    done: Mapping[Piece, Divided]
    copies: int


@dataclass(frozen=True, slots=True, eq=False)
class _Ring:
    """A ring that may be cut in sectors.

    Fields
    ------
    piece : Piece
    bench : Bench
        What it is tried on.
    terms : Terms
    ways : tuple of Divided
        Whole first, then halves, then quarters; sound ones only, one at least.
    longest : float
        Side of its bounds, mm.
    """

    piece: Piece
    bench: Bench
    terms: Terms
    ways: tuple[Divided, ...]
    longest: float

    def cut(self, way: int) -> Divided:
        """The ring cut that way, or as far as it goes."""
        return self.ways[min(way, len(self.ways) - 1)]


def in_sectors(works: Sequence[Work]) -> list[Work]:
    """The same with their large rings in sectors, where that takes strictly cheaper sheets or they lie so."""
    rings: dict[Piece, _Ring] = {}
    chosen: dict[Piece, Divided] = {}
    for work in works:
        for ring in _rings(work):
            way = _way_kept(ring, work.kept_ring)
            if way is None:
                rings[ring.piece] = ring
            else:
                chosen[ring.piece] = way
    works = _with(works, chosen)
    for bench in dict.fromkeys(ring.bench for ring in rings.values()):
        ours = {piece: ring for piece, ring in rings.items() if ring.bench == bench}
        for batch in _batches(works, ours, bench):
            mine = [ours[piece] for work in batch for piece in work.pieces if piece in ours]
            chosen |= _cheapest(mine, batch, bench)
    return _with(works, chosen)


def _with(works: Sequence[Work], chosen: Mapping[Piece, Divided]) -> list[Work]:
    return [replace(work, done={piece: chosen.get(piece, one) for piece, one in work.done.items()}) for work in works]


def kept_rings(plan: KeptPlan | None) -> dict[str, Sizes]:
    """Sizes of the pieces of each retainer in a plan, by the id of letter and region; none without any lock.

    All of them and not the locked ones alone: else a lock on one would change how the others are cut.
    """
    if plan is None or not plan.has_locks:
        return {}
    shapes = shapes_of(plan)
    pieces: dict[str, set[str]] = defaultdict(set)
    for sheet in plan.sheets:
        for part in sheet.parts:
            name, role, number = part.placement.part.rpartition("-retainer")
            if role and (not number or number[1:].isdecimal()):
                pieces[name].add(part.placement.part)
    return {name: tuple(_size_of(shapes.get(part, "")) for part in sorted(parts)) for name, parts in pieces.items()}


def _size_of(text: str) -> tuple[float, float]:
    """Size of a piece from what a kept plan says of its shape; (0, 0) where it says nothing."""
    found = _SIZE.match(text)
    return (float(found[1]), float(found[2])) if found else (0.0, 0.0)


def _way_kept(ring: _Ring, sizes: Sizes) -> Divided | None:
    """The ring cut as its pieces lie in the kept plan; None when it does not lie there, or was another one."""
    for way in ring.ways if sizes else ():
        bounds = [region_bounds(piece.region) for piece in _sectors_of(way)]
        made = [(one.width, one.height) for one in bounds]
        if all(any(math.dist(one, other) <= _SAME_SIZE for other in made) for one in sizes):
            said = f"{_name_of(ring)} {_done(way)}, as it lies in the kept plan, of which something is locked"
            remark = Remark(FabricationCode.SECTORS_TRIED, Severity.NOTE, said, _middle_of(ring))
            return replace(way, remarks=(remark, *way.remarks))
    return None


def _rings(work: Work) -> Iterator[_Ring]:
    terms, role = work.shop.terms, Role.RETAINER
    above = terms["try retainers in sectors above"]
    if above <= 0.0 or role in work.own:
        return
    for piece, one in work.done.items():
        bounds = region_bounds(piece.region)
        longest = max(bounds.width, bounds.height)
        if piece.role is not role or one.pieces != (piece,) or longest <= above:
            continue
        bench = _for_trial(work.shop.benches[role])
        if not fits(piece.region, bench.rooms):
            continue
        beside = seams_below(role, work.done)
        found = sectors(piece.region, bench, limits_for(piece, terms, bench), beside)
        cut = [cut_piece(piece, seams, terms, bench, beside) for seams in found]
        sound = [way for way in cut if all(remark.severity is Severity.NOTE for remark in way.remarks)]
        if sound:
            yield _Ring(piece, bench, terms, (one, *sound), longest)


def _for_trial(bench: Bench) -> Bench:
    """With what can be had in any number, if anything can: else all rings would be promised the same offcut."""
    endless = tuple(sheet for sheet in bench.stock if sheet.count is None)
    return replace(bench, stock=endless) if endless else bench


def _batches(works: Sequence[Work], rings: Mapping[Piece, _Ring], bench: Bench) -> Iterator[list[Work]]:
    """Works with the rings, in order and as many as are tried at a time; the last with what else fills it up."""
    batch: list[Work] = []
    room = (MOST_RINGS, MOST_TRIED)
    for with_rings in (True, False):
        for work in works:
            each = len(_on_the_sheet(work, work.done, bench))
            large = sum(piece in rings for piece in work.pieces)
            if not each or bool(large) is not with_rings:
                continue
            copies = max(1, min(work.copies, MOST_TRIED // each, MOST_RINGS // large if large else work.copies))
            if batch and (copies * large > room[0] or copies * each > room[1]):
                if not with_rings:
                    continue
                yield batch
                batch, room = [], (MOST_RINGS, MOST_TRIED)
            batch.append(replace(work, copies=copies))
            room = (room[0] - copies * large, room[1] - copies * each)
    if batch:
        yield batch


def _on_the_sheet(work: Work, done: Mapping[Piece, Divided], bench: Bench) -> list[Region]:
    """What one copy of a region puts on sheets of the bench's material."""
    benches = work.shop.benches
    return [
        made.region
        for piece in work.pieces
        for made in done[piece].pieces
        if benches[made.role].material == bench.material and benches[made.role].spacing == bench.spacing
    ]


def _cheapest(rings: Sequence[_Ring], batch: Sequence[Work], bench: Bench) -> dict[Piece, Divided]:
    """The rings of a batch as they are cut, with the cost of the sheets of both in a remark.

    One trial with all rings whole and one for each way to cut them all; where one is cheaper, halving finds how few
    of them, the largest first, save as much.
    """
    by_size = sorted(rings, key=lambda ring: -ring.longest)

    def taken(count: int, way: int) -> tuple[int, ...]:
        """Area without a place and cost of the sheets with that many rings cut."""
        cut = {ring.piece: ring.cut(way) for ring in by_size[:count]}
        regions = [
            region
            for work in batch
            for region in _on_the_sheet(work, {**work.done, **{p: cut[p] for p in work.pieces if p in cut}}, bench)
            for _ in range(work.copies)
        ]
        return stock_taken(regions, bench)[:2]

    whole = taken(0, 0)
    ways = range(1, max(len(ring.ways) for ring in rings))
    costs = {way: taken(len(by_size), way) for way in ways}
    way = min(ways, key=lambda one: costs[one])
    too_few, count = 0, len(by_size) if costs[way] < whole else 0
    while count - too_few > 1:
        fewer = (too_few + count) // 2
        if taken(fewer, way) <= costs[way]:
            count = fewer
        else:
            too_few = fewer
    tried = sum(work.copies * len(_on_the_sheet(work, work.done, bench)) for work in batch)
    chosen = {}
    for number, ring in enumerate(by_size):
        one = ring.cut(way if number < count else 0)
        said = _in_words(ring, one, tried, whole, costs[way], saves=count > 0)
        remark = Remark(FabricationCode.SECTORS_TRIED, Severity.NOTE, said, _middle_of(ring))
        chosen[ring.piece] = replace(one, remarks=(remark, *one.remarks))
    return chosen


def _in_words(
    ring: _Ring, one: Divided, tried: int, whole: Sequence[int], in_sectors: Sequence[int], *, saves: bool
) -> str:
    terms, bench = ring.terms, ring.bench
    done = _done(one)
    if saves and len(_sectors_of(one)) == 1:
        done += ", as sectors of others save as much"
    costs = [_stock_in_words(taken, bench, terms) for taken in (whole, in_sectors)]
    return (
        f"{_name_of(ring)} {done}: {tried} parts of {bench.material.name} tried together take {costs[0]} with the "
        f"large rings whole, {costs[1]} with them in sectors"
    )


def _done(way: Divided) -> str:
    count = len(_sectors_of(way))
    return f"is cut in {count} sectors" if count > 1 else "stays whole"


def _sectors_of(one: Divided) -> list[Piece]:
    return [piece for piece in one.pieces if piece.role is Role.RETAINER]


def _name_of(ring: _Ring) -> str:
    bounds = region_bounds(ring.piece.region)
    return f"the retainer of {ring.terms.say(bounds.width)} x {ring.terms.say(bounds.height)}"


def _middle_of(ring: _Ring) -> Point:
    return region_bounds(ring.piece.region).centre


def _stock_in_words(taken: Sequence[int], bench: Bench, terms: Terms) -> str:
    left_over, cost = taken
    words = f"sheets for {terms.say_price(cost)}" if bench.has_prices else f"{terms.say_area(100.0 * cost)} of sheets"
    return f"{words} and leave {terms.say_area(left_over)} without a place" if left_over else words
