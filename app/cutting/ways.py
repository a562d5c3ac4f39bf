"""What the middle of the cutter follows on a sheet: paths begun at their leads, with the stretches that hold."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from app.cutting.centre_paths import EdgePaths, centre_paths
from app.cutting.contours import begun_at
from app.cutting.feeds import sheet_feed
from app.cutting.ground import Ground
from app.cutting.holding import tabs
from app.cutting.leads import Entry, LeadRules, Start, starts, with_lead
from app.cutting.placed import placing
from app.cutting.shared import without_shared
from app.job.cutting import Cutting, Direction, Hold, Lead
from app.planning.job_plan import Offcut, PlacedPart, PlannedSheet
from geometry.arcs import point_at, tangent_at
from geometry.build import reversed_contour
from geometry.contour import Contour, Region
from geometry.curve import Line, Segment
from geometry.offset import offset_region
from geometry.transform import transform_contour

_BEYOND: Final = 1.0
"""mm; a cut across the whole sheet begins and ends with the cutter this far clear of its edges."""

_Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Way:
    """One way of the cutter's middle, mm in the sheet's frame.

    Fields
    ------
    contour : Contour
        All that is followed, leads included.
    loop : Contour
        The path alone, begun where the cutter comes to it; open for a cut across the sheet.
    entry : Entry
    hold : Hold
        What keeps the piece this way frees: tabs, a skin, or nothing since it needs nothing.
    tabs : tuple of Contour
        Stretches of the loop on which the cutter is up by the thickness of a tab.
    is_crowded : bool
        Whether tabs were asked for and did not fit, so that a skin takes their place.
    """

    contour: Contour
    loop: Contour
    entry: Entry
    hold: Hold = Hold.NONE
    tabs: tuple[Contour, ...] = ()
    is_crowded: bool = False


@dataclass(frozen=True, eq=False)
class Loops:
    """The paths along one finished edge, in the sheet's frame and the direction of cutting.

    Fields
    ------
    owner : int
        Place of the part in the sheet's list; beyond the parts come the offcuts.
    contours : tuple of Contour
    starts : tuple of tuples of Start
        Where each may be begun; the first of each is what is chosen now.
    needs_hold, is_outside : bool
    arc_radius : float, mm
    scrap_is_left : bool
    """

    owner: int
    contours: tuple[Contour, ...]
    starts: tuple[tuple[Start, ...], ...]
    needs_hold: bool
    is_outside: bool
    arc_radius: float
    scrap_is_left: bool

    def ends(self) -> tuple[_Points, _Points]:
        """Where the cutter may come in to the first path, (n, 2) mm, and where it then leaves the last."""
        if not self.contours[0].is_closed:
            segments = self.contours[0].segments
            return np.array([segments[0].start]), np.array([segments[-1].end])
        begins, ends = self._choices
        if len(self.contours) > 1:
            ends = np.repeat(np.array([point_at(*_spot(self.contours[-1], self.starts[-1][0]))]), len(begins), axis=0)
        return begins, ends

    @cached_property
    def _choices(self) -> tuple[_Points, _Points]:
        begins, ends = [], []
        for start in self.starts[0]:
            segment, t = _spot(self.contours[0], start)
            x, y = point_at(segment, t)
            if start.entry is not Entry.ARC:
                begins.append((x, y))
                ends.append((x, y))
                continue
            hx, hy = tangent_at(segment, t)
            side = self.arc_radius if self.scrap_is_left else -self.arc_radius
            along = self.arc_radius
            x, y = x - side * hy, y + side * hx
            begins.append((x - along * hx, y - along * hy))
            ends.append((x + along * hx, y + along * hy))
        return np.array(begins), np.array(ends)

    def begun_at(self, pick: int) -> Loops:
        """The same with another place of entry chosen for the first path."""
        first = self.starts[0]
        return replace(self, starts=((first[pick], *first[:pick], *first[pick + 1 :]), *self.starts[1:]))

    def turned(self) -> Loops:
        """A cut across the sheet, run from its other end."""
        return replace(self, contours=tuple(reversed_contour(one) for one in reversed(self.contours)))


def _spot(contour: Contour, start: Start) -> tuple[Segment, float]:
    return contour.segments[start.segment], start.t


def lead_rules(sheet: PlannedSheet, cutting: Cutting) -> LeadRules:
    """How leads are made on a sheet."""
    radius = sheet.cutter.diameter / 2
    depth = sheet_feed(sheet.material, sheet.cutter, cutting).depth
    return LeadRules(
        cutter_radius=radius,
        arc_radius=radius * max(cutting.lead_radius, 1.0),
        ramp_length=depth / math.tan(math.radians(cutting.ramp_angle)),
        wants_arc=cutting.lead is Lead.ARC,
        scrap_is_left=cutting.direction is Direction.CLIMB,
    )


def loops_of_part(
    placed: PlacedPart, owner: int, cutting: Cutting, rules: LeadRules, *, is_small: bool
) -> tuple[Loops, ...]:
    """The paths round a placed part and along its holes, in the order of its region."""
    paths = centre_paths(placed.part.region, rules.cutter_radius)
    move = placing(placed.placement)
    is_climb = cutting.direction is Direction.CLIMB

    def loops(edge: EdgePaths, *, clockwise: bool, needs_hold: bool, is_outside: bool) -> Loops:
        # In the part's frame loops run anticlockwise; mirroring turns them.
        turn = clockwise != placed.placement.mirrored
        moved = [transform_contour(loop, move) for loop in edge.loops]
        contours = tuple(reversed_contour(loop) if turn else loop for loop in moved)
        return Loops(owner, contours, (), needs_hold, is_outside, rules.arc_radius, rules.scrap_is_left)

    return (
        loops(paths.outside, clockwise=is_climb, needs_hold=is_small, is_outside=True),
        *(loops(edge, clockwise=not is_climb, needs_hold=edge.leaves_drop, is_outside=False) for edge in paths.holes),
    )


def loops_of_offcuts(offcut: Offcut, line: Contour, owner: int, rules: LeadRules) -> Loops:
    """The path along a line that frees an offcut, on the parts' side of it."""
    radius = rules.cutter_radius
    if line.is_closed:
        loop = offset_region(Region(line), radius)[0].outer
        turned = reversed_contour(loop) if rules.scrap_is_left else loop
        return Loops(owner, (turned,), (), False, False, rules.arc_radius, rules.scrap_is_left)
    (x0, y0), (x1, y1) = line.segments[0].start, line.segments[-1].end
    reach = radius + _BEYOND
    if x0 == x1:
        x = x0 - radius if abs(x0 - offcut.x) < abs(x0 - offcut.x - offcut.width) else x0 + radius
        across = Line((x, min(y0, y1) - reach), (x, max(y0, y1) + reach))
    else:
        y = y0 - radius if abs(y0 - offcut.y) < abs(y0 - offcut.y - offcut.height) else y0 + radius
        across = Line((min(x0, x1) - reach, y), (max(x0, x1) + reach, y))
    return Loops(owner, (Contour((across,), is_closed=False),), (), False, False, rules.arc_radius, rules.scrap_is_left)


def with_starts(listed: Sequence[Loops], ground: Ground, rules: LeadRules) -> list[Loops]:
    """All paths of a sheet with the places where each may be begun."""
    closed = [(number, loop) for number, one in enumerate(listed) for loop in one.contours if loop.is_closed]
    found = starts([loop for _, loop in closed], [listed[number].owner for number, _ in closed], ground, rules)
    per: list[list[tuple[Start, ...]]] = [[] for _ in listed]
    for (number, _), mine in zip(closed, found, strict=True):
        per[number].append(mine)
    return [replace(one, starts=tuple(mine)) for one, mine in zip(listed, per, strict=True)]


def finish_ways(
    listed: Sequence[Loops], sheet: PlannedSheet, cutting: Cutting, ground: Ground, rules: LeadRules
) -> list[tuple[Way, ...]]:
    """The ways of every edge, begun where they were chosen to, with leads and holding."""
    flat: list[tuple[int, Contour, Entry]] = []
    for number, one in enumerate(listed):
        if one.contours and not one.contours[0].is_closed:
            flat += [(number, loop, Entry.EDGE) for loop in one.contours]
            continue
        for loop, mine in zip(one.contours, one.starts, strict=True):
            flat.append((number, begun_at(loop, mine[0].segment, mine[0].t), mine[0].entry))
    if cutting.shares_cuts:
        flat = _sharing(flat, listed, sheet.cutter.diameter)
    held = [index for index, (number, _, _) in enumerate(flat) if listed[number].needs_hold]
    tabbed: dict[int, tuple[Contour, ...]] = {}
    if cutting.hold is Hold.TABS:
        found = tabs(
            [flat[index][1] for index in held],
            [listed[flat[index][0]].owner for index in held],
            ground,
            cutter_diameter=sheet.cutter.diameter,
            width=cutting.tab_width,
        )
        tabbed = dict(zip(held, found, strict=True))
    has_tabs = {flat[index][0] for index, mine in tabbed.items() if mine}
    ways: list[list[Way]] = [[] for _ in listed]
    for index, (number, loop, entry) in enumerate(flat):
        contour = with_lead(loop, entry, rules)
        rest_of_shared = not loop.is_closed and number in has_tabs and not tabbed.get(index)
        if not listed[number].needs_hold or cutting.hold is Hold.NONE or rest_of_shared:
            way = Way(contour, loop, entry)
        elif tabbed.get(index):
            way = Way(contour, loop, entry, Hold.TABS, tabbed[index])
        else:
            way = Way(contour, loop, entry, Hold.SKIN, is_crowded=cutting.hold is Hold.TABS)
        ways[number].append(way)
    return [tuple(mine) for mine in ways]


def _sharing(
    flat: Sequence[tuple[int, Contour, Entry]], listed: Sequence[Loops], diameter: float
) -> list[tuple[int, Contour, Entry]]:
    """The same paths with what is cut already left out of the later ones; those begin in the cut already made."""
    outside = [index for index, (number, _, _) in enumerate(flat) if listed[number].is_outside]
    left = dict(zip(outside, without_shared([flat[index][1] for index in outside], diameter), strict=True))
    found: list[tuple[int, Contour, Entry]] = []
    for index, (number, loop, entry) in enumerate(flat):
        if index not in left:
            found.append((number, loop, entry))
            continue
        found += [(number, one, entry if one.is_closed else Entry.EDGE) for one in left[index]]
    return found
