"""The independent check of a plan, on shapely alone: shares no code with the engine."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely

from geometry.outline import Outline
from nesting.errors import PlanRejected
from nesting.plan import Layout, Placement, Plan
from nesting.problem import Part, Problem, Rules, Sheet


def check(problem: Problem, plan: Plan, *, tolerance: float = 0.001) -> None:
    """Pass a plan silently.

    Raises
    ------
    PlanRejected
        With one sentence per violation.
    """
    found = violations(problem, plan, tolerance=tolerance)
    if found:
        raise PlanRejected(found)


def violations(problem: Problem, plan: Plan, *, tolerance: float = 0.001) -> tuple[str, ...]:
    """Everything wrong with a plan, one sentence each; empty when it can be cut.

    Checked: every copy exactly once, placed or unplaced; sheet counts; allowed rotations and mirroring; inside the
    sheet by the margin; outside keep-outs and flaws; no overlap; spacing kept; no part in a hole when forbidden.
    `tolerance` is in mm: a distance may fall short by so much, and an overlap may be so wide.
    """
    found = [*_copies(problem, plan), *_sheet_counts(problem, plan)]
    parts = {part.id: part for part in problem.parts}
    sheets = {sheet.id: sheet for sheet in problem.sheets}
    for layout in plan.layouts:
        sheet = sheets.get(layout.sheet)
        if sheet is None:
            continue  # said by _sheet_counts
        placed = [one for one in layout.placements if one.part in parts]
        found += _turned_as_allowed(layout, placed, parts)
        fit = [one for one in placed if all(map(math.isfinite, (one.x, one.y, one.rotation)))]
        shapes = [_put(parts[one.part].outline, one) for one in fit]
        found += _within_sheet(layout, sheet, fit, shapes, problem.rules.margin, tolerance)
        found += _apart(layout, fit, shapes, problem.rules, tolerance)
    return tuple(found)


def _copies(problem: Problem, plan: Plan) -> Iterator[str]:
    seen = Counter((one.part, one.copy) for layout in plan.layouts for one in layout.placements)
    seen.update((one.part, one.copy) for one in plan.unplaced)
    wanted = {(part.id, copy) for part in problem.parts for copy in range(part.quantity)}
    for part, copy in sorted(wanted - set(seen)):
        yield f"part {part!r} copy {copy} is missing from the plan"
    for (part, copy), count in sorted(seen.items()):
        if (part, copy) not in wanted:
            yield f"part {part!r} copy {copy} is in the plan but not in the problem"
        elif count > 1:
            yield f"part {part!r} copy {copy} appears {count} times in the plan"


def _sheet_counts(problem: Problem, plan: Plan) -> Iterator[str]:
    sheets = {sheet.id: sheet for sheet in problem.sheets}
    used: Counter[tuple[str, int]] = Counter()
    for layout in plan.layouts:
        used[layout.sheet, layout.copy] += 1
        if layout.sheet not in sheets:
            yield f"sheet {layout.sheet!r} is in the plan but not in the problem"
        elif not layout.placements:
            yield f"sheet {layout.sheet!r} copy {layout.copy} is used but holds nothing"
    for (name, copy), count in sorted(used.items()):
        if count > 1:
            yield f"sheet {name!r} copy {copy} is used by {count} layouts"
        if copy < 0:
            yield f"sheet {name!r} copy {copy} does not exist; copies count from 0"
        limit = sheets[name].quantity if name in sheets else None
        if limit is not None and copy >= limit:
            yield f"sheet {name!r} copy {copy} is used, but there are {limit}"


def _turned_as_allowed(layout: Layout, placed: list[Placement], parts: dict[str, Part]) -> Iterator[str]:
    for one in placed:
        part = parts[one.part]
        if not all(map(math.isfinite, (one.x, one.y, one.rotation))):
            yield f"{_name(one)} on {_sheet(layout)} has a position that is not a finite number"
            continue
        if part.rotations is not None and not any(
            abs((one.rotation - angle + 180.0) % 360.0 - 180.0) <= 1e-6 for angle in part.rotations
        ):
            allowed = ", ".join(f"{angle:g}" for angle in part.rotations)
            yield f"{_name(one)} on {_sheet(layout)} is turned by {one.rotation:g}°; allowed: {allowed}"
        if one.mirrored and not part.may_mirror:
            yield f"{_name(one)} on {_sheet(layout)} is mirrored, which is not allowed"


def _within_sheet(
    layout: Layout, sheet: Sheet, placed: list[Placement], shapes: list[Any], margin: float, tolerance: float
) -> Iterator[str]:
    stock = shapely.Polygon(sheet.outline.outer, sheet.outline.holes)
    rim = stock.boundary
    zones = [shapely.Polygon(zone.outer, zone.holes) for zone in sheet.keep_outs]
    shapely.prepare(stock)
    shapely.prepare(rim)
    for one, shape in zip(placed, shapes, strict=True):
        if not stock.covers(shape) and _is_wider(shape.difference(stock), tolerance):
            yield f"{_name(one)} on {_sheet(layout)} reaches beyond the sheet's edge or over a flaw"
        elif margin > tolerance and not stock.contains_properly(shape):
            yield f"{_name(one)} on {_sheet(layout)} touches the sheet's edge; the margin is {margin:g} mm"
        elif margin > tolerance and shapely.dwithin(rim, shape, margin - tolerance):
            gap = rim.distance(shape)
            yield f"{_name(one)} on {_sheet(layout)} is {gap:.4f} mm from the sheet's edge; the margin is {margin:g} mm"
        for number, zone in enumerate(zones, start=1):
            if zone.intersects(shape) and _is_wider(zone.intersection(shape), tolerance):
                yield f"{_name(one)} on {_sheet(layout)} lies in keep-out {number}"


def _apart(layout: Layout, placed: list[Placement], shapes: list[Any], rules: Rules, tolerance: float) -> Iterator[str]:
    if len(shapes) < 2:
        return
    tree = shapely.STRtree(shapes)
    reach = max(rules.spacing - tolerance, 0.0)
    first, second = tree.query(shapes, predicate="dwithin", distance=reach)
    for i, j in sorted((int(i), int(j)) for i, j in zip(first, second, strict=True) if i < j):
        names = f"{_name(placed[i])} and {_name(placed[j])} on {_sheet(layout)}"
        if shapes[i].intersects(shapes[j]):
            if _is_wider(shapes[i].intersection(shapes[j]), tolerance):
                yield f"{names} overlap"
            elif rules.spacing > tolerance:
                yield f"{names} touch; the spacing is {rules.spacing:g} mm"
        elif rules.spacing > tolerance:
            gap = shapes[i].distance(shapes[j])
            yield f"{names} are {gap:.4f} mm apart; the spacing is {rules.spacing:g} mm"
    if rules.may_nest_in_holes:
        return
    for i, host in enumerate(shapes):
        for ring in host.interiors:
            hole = shapely.Polygon(ring)
            for j in sorted(int(j) for j in tree.query(hole, predicate="intersects")):
                if j != i and hole.covers(shapes[j].representative_point()):
                    yield f"{_name(placed[j])} lies in a hole of {_name(placed[i])} on {_sheet(layout)}: not allowed"


def _is_wider(shape: Any, tolerance: float) -> bool:
    """Whether a disc of diameter `tolerance` fits in the shape: slivers of touching edges do not count."""
    return shape.area > 0.0 and not shape.buffer(-tolerance / 2).is_empty


def _put(outline: Outline, one: Placement) -> Any:
    """The placed outline. Written out here, so that a slip in the engine's transform cannot hide in both."""
    quarter, rest = divmod(one.rotation, 90.0)
    if rest == 0.0:
        cosine, sine = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    else:
        cosine, sine = math.cos(math.radians(one.rotation)), math.sin(math.radians(one.rotation))
    sign = -1.0 if one.mirrored else 1.0

    def moved(ring: Any) -> Any:
        x, y = sign * ring[:, 0], ring[:, 1]
        return np.column_stack((cosine * x - sine * y + one.x, sine * x + cosine * y + one.y))

    return shapely.Polygon(moved(outline.outer), [moved(hole) for hole in outline.holes])


def _name(one: Placement) -> str:
    return f"part {one.part!r} copy {one.copy}"


def _sheet(layout: Layout) -> str:
    return f"sheet {layout.sheet!r} copy {layout.copy}"
