"""What is left of a sheet and worth keeping: strips from edge to edge first, then the largest rectangles."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.plan import Layout, Placement
from nesting.problem import Part, Problem

GRID: Final = 160
"""Cells along the longer side when looking for inner rectangles."""
MOST: Final = 6
"""Rectangles looked for on one sheet."""
SHAVE: Final = 1e-4
"""mm; taken off a grown side so that rounding cannot make an offcut reach into the spacing."""


class Offcut(NamedTuple):
    """A usable rectangle, mm in the sheet's frame; margin and spacing are already taken off."""

    x: float
    y: float
    width: float
    height: float
    is_strip: bool  # reaches across the whole usable sheet: one straight cut frees it


def offcuts(
    problem: Problem, layout: Layout, *, min_sides: Sequence[tuple[float, float]] = ((305.0, 305.0), (152.0, 914.0))
) -> tuple[Offcut, ...]:
    """Usable rectangles left on a sheet: a strip from edge to edge first, then the largest rectangles; none overlap.

    Parameters
    ----------
    problem : Problem
    layout : Layout
        One of the problem's sheets with its placements.
    min_sides : sequence of (float, float)
        A rectangle is kept when its shorter and longer side reach any of these pairs, mm. The default is 12 × 12 in or
        6 × 36 in (common practice).

    Returns
    -------
    tuple of Offcut
        At most one strip and five further rectangles, in the order found. Every point of an offcut is at least the
        margin from the sheet's edge, the spacing from every part and every other offcut, and outside keep-outs.
    """
    parts = {part.id: part for part in problem.parts}
    sheet = next(one for one in problem.sheets if one.id == layout.sheet)
    outline = shapely.Polygon(sheet.outline.outer, sheet.outline.holes)
    usable = outline.buffer(-problem.rules.margin, quad_segs=64) if problem.rules.margin > 0 else outline
    if usable.is_empty:
        return ()
    taken = [_placed(parts[one.part], one).buffer(problem.rules.spacing, quad_segs=32) for one in layout.placements]
    taken += [shapely.Polygon(zone.outer, zone.holes) for zone in sheet.keep_outs]
    frame = shapely.box(*usable.bounds)
    beyond = frame.difference(usable)
    if beyond.area > 1e-6:
        taken += list(shapely.get_parts(beyond))
    x0, y0, x1, y1 = (float(v) for v in usable.bounds)
    found: list[Offcut] = []
    strip = _strip(taken, (x0, y0, x1, y1))
    if strip is not None and _is_kept(strip, min_sides):
        found.append(strip)
        taken.append(_with_room(strip, problem.rules.spacing))
    while len(found) < MOST:
        inner = _largest(taken, (x0, y0, x1, y1), min(min(pair) for pair in min_sides))
        if inner is None or not _is_kept(inner, min_sides):
            break
        found.append(inner)
        taken.append(_with_room(inner, problem.rules.spacing))
    return tuple(found)


def _with_room(one: Offcut, spacing: float) -> Any:
    """An offcut and the room round it that cutting it off takes."""
    return shapely.box(one.x - spacing, one.y - spacing, one.x + one.width + spacing, one.y + one.height + spacing)


def _is_kept(one: Offcut, min_sides: Sequence[tuple[float, float]]) -> bool:
    short, long = sorted((one.width, one.height))
    return any(short >= min(pair) and long >= max(pair) for pair in min_sides)


def _placed(part: Part, one: Placement) -> Any:
    shape = shapely.Polygon(part.outline.outer, part.outline.holes)
    if one.mirrored:
        shape = shapely.affinity.scale(shape, -1.0, 1.0, origin=(0.0, 0.0))
    shape = shapely.affinity.rotate(shape, one.rotation, origin=(0.0, 0.0))
    return shapely.affinity.translate(shape, one.x, one.y)


def _strip(taken: list[Any], rect: tuple[float, float, float, float]) -> Offcut | None:
    """The largest strip along one of the four sides."""
    x0, y0, x1, y1 = rect
    if not taken:
        return Offcut(x0, y0, x1 - x0, y1 - y0, True)
    bounds = shapely.bounds(np.array(taken, dtype=object))
    left, low = bounds[:, 0].min() - x0 - SHAVE, bounds[:, 1].min() - y0 - SHAVE
    right, high = x1 - bounds[:, 2].max() - SHAVE, y1 - bounds[:, 3].max() - SHAVE
    strips = [
        Offcut(x1 - float(right), y0, float(right), y1 - y0, True),
        Offcut(x0, y1 - float(high), x1 - x0, float(high), True),
        Offcut(x0, y0, float(left), y1 - y0, True),
        Offcut(x0, y0, x1 - x0, float(low), True),
    ]
    best = max(strips, key=lambda one: one.width * one.height if min(one.width, one.height) > 0 else -1.0)
    return best if min(best.width, best.height) > 0 else None


def _largest(taken: list[Any], rect: tuple[float, float, float, float], least: float) -> Offcut | None:
    """The largest free rectangle on a grid, its sides then pushed out to what really limits them."""
    x0, y0, x1, y1 = rect
    step = max(max(x1 - x0, y1 - y0) / GRID, 1e-9)
    if math.isfinite(least) and least > 0:
        step = min(step, least / 4)  # nothing worth keeping hides between the cells
        step = max(step, max(x1 - x0, y1 - y0) / 600)
    nx, ny = max(1, math.ceil((x1 - x0) / step)), max(1, math.ceil((y1 - y0) / step))
    xs, ys = np.linspace(x0, x1, nx + 1), np.linspace(y0, y1, ny + 1)
    left, low = np.meshgrid(xs[:-1], ys[:-1])
    right, high = np.meshgrid(xs[1:], ys[1:])
    free = np.ones((ny, nx), dtype=bool)
    if taken:
        tree = shapely.STRtree(shapely.box(left.ravel(), low.ravel(), right.ravel(), high.ravel()))
        hit = tree.query(np.array(taken, dtype=object), predicate="intersects")[1]
        free.ravel()[hit] = False
    best = _largest_run(free)
    if best is None:
        return None
    row0, row1, col0, col1 = best
    sides = [float(xs[col0]), float(ys[row0]), float(xs[col1]), float(ys[row1])]
    if taken:
        blocked = shapely.union_all(taken)
        shapely.prepare(blocked)
        for side, limit in ((2, x1), (3, y1), (0, x0), (1, y0)):
            sides[side] = _pushed(sides, side, limit, step, blocked)
    return Offcut(sides[0], sides[1], sides[2] - sides[0], sides[3] - sides[1], False)


def _pushed(sides: list[float], side: int, limit: float, step: float, blocked: Any) -> float:
    """How far one side can be moved outwards, at most one and a half cells."""
    sign = 1.0 if side >= 2 else -1.0
    most = min(abs(limit - sides[side]), 1.5 * step)

    def free(move: float) -> bool:
        moved = list(sides)
        moved[side] += sign * move
        return not bool(blocked.intersects(shapely.box(*moved)))

    if most <= 0:
        return sides[side]
    if free(most):
        return sides[side] + sign * most
    good, bad = 0.0, most
    while bad - good > SHAVE / 2:
        middle = (good + bad) / 2
        good, bad = (middle, bad) if free(middle) else (good, middle)
    return sides[side] + sign * max(good - SHAVE, 0.0)


def _largest_run(free: NDArray[np.bool_]) -> tuple[int, int, int, int] | None:
    """Rows and columns (from, to) of the largest all-true rectangle: the histogram method, O(cells)."""
    rows, columns = free.shape
    height = np.zeros(columns + 1, dtype=np.int64)
    best, where = 0, None
    for row in range(rows):
        height[:-1] = np.where(free[row], height[:-1] + 1, 0)
        stack: list[int] = []
        tall = height.tolist()
        for column in range(columns + 1):
            while stack and tall[stack[-1]] >= tall[column]:
                top = tall[stack.pop()]
                start = stack[-1] + 1 if stack else 0
                if top * (column - start) > best:
                    best = top * (column - start)
                    where = (row - top + 1, row + 1, start, column)
            stack.append(column)
    return where
