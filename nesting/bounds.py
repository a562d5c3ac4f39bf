"""How few sheets could do, and how cheap: what no layout can beat."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from scipy.optimize import Bounds as Limits
from scipy.optimize import LinearConstraint, milp

from nesting.problem import Part, Problem, Sheet


@dataclass(frozen=True, slots=True)
class LowerBound:
    """What every plan that places all placeable copies needs at least.

    Fields
    ------
    sheets : int or None
        Fewest sheets; None when the stock cannot hold the parts at all.
    cost : int or None
        Least cost of sheets, in the problem's integers; None likewise.
    area : float
        Area the parts take with their spacing and the holes nothing fits in, mm².
    apart : int
        Copies found of which no two can share a sheet: so many sheets are needed, whatever their areas.
    """

    sheets: int | None
    cost: int | None
    area: float
    apart: int = 0


def lower_bound(problem: Problem) -> LowerBound:
    """Bound on sheets and cost by areas and by parts too large to share, with integer programs solved exactly.

    Every part is grown by half the spacing; grown parts do not overlap and stay within the usable sheet grown by as
    much, so their areas add up to no more than the sheets'. The part of a hole that no other part can fill counts as
    filled. Parts that fit only some kinds of sheet need their area from those. Copies that fit no sheet are left out.
    """
    spacing = problem.rules.spacing
    grown = [_grown(_polygon(part), spacing / 2) for part in problem.parts]
    areas = _areas(problem, grown)
    room = [_room(sheet, problem.rules.margin, spacing) for sheet in problem.sheets]
    fits = [
        frozenset(k for k, sheet in enumerate(problem.sheets) if may_fit(part, sheet, problem))
        for part in problem.parts
    ]
    need: dict[frozenset[int], float] = {}
    for kinds, area in zip(fits, areas, strict=True):
        if kinds:
            need[kinds] = need.get(kinds, 0.0) + area
    total = sum(need.values())
    if not need:
        return LowerBound(0, 0, 0.0)
    rows = []
    for kinds in {*need, frozenset().union(*need)}:
        # A hair less, so that rounding can never make the bound too high.
        wanted = sum(area for sub, area in need.items() if sub <= kinds) * (1 - 1e-9)
        rows.append([room[k] / wanted if k in kinds else 0.0 for k in range(len(room))])
        rows.append([1.0 if k in kinds else 0.0 for k in range(len(room))])
    apart = _apart(problem, areas, grown, room, fits)
    kinds = frozenset().union(*(fits[p] for p in apart))
    rows.append([1.0 / max(len(apart), 1) if k in kinds else 0.0 for k in range(len(room))])
    prices = np.array([sheet.cost for sheet in problem.sheets], dtype=float)
    return LowerBound(_least(np.ones(len(room)), rows, problem), _least(prices, rows, problem), total, len(apart))


def _apart(
    problem: Problem, areas: list[float], grown: list[Any], room: list[float], fits: list[frozenset[int]]
) -> list[int]:
    """Parts, one entry per copy, of which no two can lie on one sheet; the largest first. Not always the most of them.

    Two cannot share when their areas are too much, when circles in their material are, or when both are rectangles that
    stand upright and fit neither beside nor above each other.
    """
    spacing, margin = problem.rules.spacing, problem.rules.margin
    each = [area / part.quantity for part, area in zip(problem.parts, areas, strict=True)]
    boxes = [shapely.Polygon(sheet.outline.outer).bounds for sheet in problem.sheets]
    sides = [(x1 - x0 - 2 * margin + spacing + 1e-3, y1 - y0 - 2 * margin + spacing + 1e-3) for x0, y0, x1, y1 in boxes]
    # Circles of radii r and q fit W x H only if (W - r - q)² + (H - r - q)² >= (r + q)².
    largest = max(w + h - math.sqrt(2 * w * h) for w, h in sides if min(w, h) > 0)
    widths = [smallest_width(np.asarray(shape.convex_hull.exterior.coords)[:-1]) / 2 for shape in grown]
    radius = [0.0] * len(grown)
    for p, shape in enumerate(grown):
        if widths[p] + max(widths) > largest:
            radius[p] = float(shapely.maximum_inscribed_circle(shape, tolerance=0.01 * widths[p]).length) - 1e-6
    upright = [_upright(part) for part in problem.parts]

    def share(p: int, q: int) -> bool:
        for k in fits[p] & fits[q]:
            w, h = sides[k]
            if each[p] + each[q] > room[k] or radius[p] + radius[q] > w + h - math.sqrt(2 * w * h):
                continue
            mine, other = upright[p], upright[q]
            if mine and other and not _beside(mine, other, w - spacing, h - spacing, spacing):
                continue
            return True
        return False

    chosen: list[int] = []
    for p in sorted((p for p in range(len(grown)) if fits[p]), key=lambda p: (-each[p], p)):
        if not any(share(p, q) for q in chosen):
            chosen += [p] * (1 if share(p, p) else problem.parts[p].quantity)
    return chosen


def _upright(part: Part) -> tuple[tuple[float, float], ...]:
    """Width and height of a rectangle in each of its upright attitudes; none if it is no rectangle or may lean."""
    width, height = np.ptp(part.outline.outer, axis=0).tolist()
    solid = shapely.Polygon(part.outline.outer)
    if part.rotations is None or abs(solid.area - width * height) > 1e-9 * width * height:
        return ()
    if any(angle % 90.0 for angle in part.rotations):
        return ()
    return tuple((height, width) if angle % 180.0 else (width, height) for angle in part.rotations)


def _beside(mine: Any, other: Any, width: float, height: float, spacing: float) -> bool:
    """Whether two upright rectangles fit a room one beside or above the other."""
    return any(
        (a + c + spacing <= width and max(b, d) <= height) or (b + d + spacing <= height and max(a, c) <= width)
        for a, b in mine
        for c, d in other
    )


def may_fit(part: Part, sheet: Sheet, problem: Problem) -> bool:
    """Whether a part could fit on an empty sheet, judged by boxes only: never false for one that does."""
    x0, y0, x1, y1 = shapely.Polygon(sheet.outline.outer).bounds
    width = x1 - x0 - 2 * problem.rules.margin + 1e-3
    height = y1 - y0 - 2 * problem.rules.margin + 1e-3
    hull = np.asarray(shapely.MultiPoint(part.outline.outer).convex_hull.exterior.coords)[:-1]
    if part.rotations is None:
        return smallest_width(hull) <= min(width, height) and _longest(hull) <= math.hypot(width, height)
    for angle in part.rotations:
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        if np.ptp(c * hull[:, 0] - s * hull[:, 1]) <= width and np.ptp(s * hull[:, 0] + c * hull[:, 1]) <= height:
            return True
    return False


def smallest_width(hull: Any) -> float:
    """Least distance between two parallel lines that hold a convex polygon between them, mm."""
    sides = np.roll(hull, -1, axis=0) - hull
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    normals = np.column_stack((-sides[:, 1], sides[:, 0]))[lengths > 0] / lengths[lengths > 0, None]
    return float(np.ptp(normals @ hull.T, axis=1).min())


def _longest(hull: Any) -> float:
    span = hull[:, None, :] - hull[None, :, :]
    return float(np.sqrt((span**2).sum(axis=2).max()))


def _areas(problem: Problem, grown: list[Any]) -> list[float]:
    """Area of all copies of each part, with what can never be filled of their holes, mm²."""
    widths = [smallest_width(np.asarray(shape.convex_hull.exterior.coords)[:-1]) for shape in grown]
    out = []
    for part, shape in zip(problem.parts, grown, strict=True):
        area = shape.area
        for ring in shape.interiors:
            hole = shapely.Polygon(ring)
            across = smallest_width(np.asarray(hole.convex_hull.exterior.coords)[:-1])
            usable = 0.0
            if problem.rules.may_nest_in_holes:
                usable = sum(
                    other.area * guest.quantity
                    for guest, other, width in zip(problem.parts, grown, widths, strict=True)
                    if other.area <= hole.area and width <= across
                )
            area += hole.area - min(hole.area, usable)
        out.append(area * part.quantity)
    return out


def _room(sheet: Sheet, margin: float, spacing: float) -> float:
    """Area that grown parts can share on one sheet, mm²; never too small."""
    free = shapely.Polygon(sheet.outline.outer, sheet.outline.holes)
    free = free.buffer(-margin, quad_segs=4) if margin > 0 else free
    for zone in sheet.keep_outs:
        free = free.difference(shapely.Polygon(zone.outer, zone.holes))
    return float(free.buffer(max(spacing / 2, 1e-6), join_style="mitre", mitre_limit=100.0).area)


def _least(price: Any, rows: list[list[float]], problem: Problem) -> int | None:
    limit = [np.inf if sheet.quantity is None else sheet.quantity for sheet in problem.sheets]
    answer = milp(
        price,
        constraints=LinearConstraint(np.array(rows), 1.0, np.inf),
        integrality=np.ones(len(limit)),
        bounds=Limits(0, limit),
        options={"mip_rel_gap": 0.0},
    )
    return round(answer.fun) if answer.success else None


def _grown(shape: Any, radius: float) -> Any:
    # Chords of the round corners lie inside the arc: the area is never too large.
    return shape.buffer(radius, quad_segs=8) if radius > 1e-6 else shape


def _polygon(part: Part) -> Any:
    return shapely.Polygon(part.outline.outer, part.outline.holes)
