"""What makes a problem unfit to be searched: every fault, one sentence each."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

from geometry.outline import Outline

if TYPE_CHECKING:
    from nesting.problem import Part, Problem, Sheet


def faults(problem: Problem) -> tuple[str, ...]:
    """Everything wrong with a problem: part or sheet, value, limit. Empty when it can be searched."""
    found: list[str] = []
    rules = problem.rules
    for name, value in (("spacing", rules.spacing), ("margin", rules.margin)):
        if not math.isfinite(value) or value < 0:
            found.append(f"{name} is {value} mm; it must be 0 mm or more")
    found += _repeated("part", (part.id for part in problem.parts))
    found += _repeated("sheet", (sheet.id for sheet in problem.sheets))
    if not problem.sheets:
        found.append("there is no stock to cut from; add at least one sheet")
    for part in problem.parts:
        found += _part_faults(part)
    for sheet in problem.sheets:
        found += _sheet_faults(sheet, rules.margin)
    return tuple(found)


def polygon(outline: Outline) -> Any:
    """The outline as a shapely polygon."""
    import shapely  # here, so that importing a problem stays light

    return shapely.Polygon(outline.outer, outline.holes)


def _repeated(kind: str, ids: Iterable[str]) -> Iterator[str]:
    seen: set[str] = set()
    told: set[str] = set()
    for name in ids:
        if name in seen and name not in told:
            told.add(name)
            yield f"{kind} id {name!r} is used more than once; ids must be unique"
        seen.add(name)


def _part_faults(part: Part) -> Iterator[str]:
    if isinstance(part.quantity, bool) or not isinstance(part.quantity, int) or part.quantity < 1:
        yield f"part {part.id!r}: quantity is {part.quantity}; it must be a whole number, at least 1"
    if part.rotations is not None:
        if not part.rotations:
            yield f"part {part.id!r}: no rotation is allowed; allow at least one angle"
        for angle in part.rotations:
            if not math.isfinite(angle):
                yield f"part {part.id!r}: rotation {angle} is not a finite number of degrees"
    yield from _outline_faults(f"part {part.id!r}", part.outline)


def _sheet_faults(sheet: Sheet, margin: float) -> Iterator[str]:
    if sheet.quantity is not None and sheet.quantity < 0:
        yield f"sheet {sheet.id!r}: quantity is {sheet.quantity}; it must be 0 or more, or unlimited"
    if sheet.cost < 0:
        yield f"sheet {sheet.id!r}: cost is {sheet.cost}; it must be 0 or more"
    faulty = list(_outline_faults(f"sheet {sheet.id!r}", sheet.outline))
    yield from faulty
    for number, zone in enumerate(sheet.keep_outs, start=1):
        yield from _outline_faults(f"keep-out {number} of sheet {sheet.id!r}", zone)
    if not faulty and math.isfinite(margin) and margin >= 0:
        shape = polygon(sheet.outline)
        if shape.buffer(-margin).is_empty:
            x0, y0, x1, y1 = shape.bounds
            yield (
                f"sheet {sheet.id!r}: a margin of {margin:g} mm leaves no room on {x1 - x0:.1f} × {y1 - y0:.1f} mm; "
                "reduce the margin or take this sheet out"
            )


def _outline_faults(what: str, outline: Outline) -> Iterator[str]:
    import numpy as np
    import shapely

    rings = (outline.outer, *outline.holes)
    for number, ring in enumerate(rings):
        where = "its outer edge" if number == 0 else f"hole {number}"
        if ring.ndim != 2 or ring.shape[1] != 2 or len(ring) < 3:
            yield f"{what}: {where} has shape {ring.shape}; a ring needs at least 3 points"
            return
        if not np.isfinite(ring).all():
            yield f"{what}: {where} has a coordinate that is not a finite number"
            return
    outer = shapely.Polygon(outline.outer)
    if outer.area <= 0.0:
        yield f"{what}: its outer edge encloses no area (0 mm²)"
        return
    if not outer.is_valid:
        yield f"{what}: its outer edge is not simple: {_reason(outer)}; repair the outline"
        return
    for number, hole in enumerate(outline.holes, start=1):
        inner = shapely.Polygon(hole)
        if inner.area <= 0.0:
            yield f"{what}: hole {number} encloses no area (0 mm²)"
            return
        if not inner.is_valid:
            yield f"{what}: hole {number} is not simple: {_reason(inner)}; repair the outline"
            return
        if not outer.covers(inner):
            x, y = inner.centroid.coords[0]
            yield f"{what}: hole {number} near ({x:.2f}, {y:.2f}) mm is not inside the outer edge"
            return
    whole = polygon(outline)
    if not whole.is_valid:
        yield f"{what}: its rings cross or touch each other: {_reason(whole)}; repair the outline"
    elif whole.area <= 0.0:
        yield f"{what}: its holes leave no material (0 mm²)"


def _reason(shape: Any) -> str:
    import shapely

    text = str(shapely.is_valid_reason(shape))
    kind, _, place = text.partition("[")
    at = ", ".join(f"{float(v):.3f}" for v in place.rstrip("]").split()[:2]) if place else ""
    words = {"Self-intersection": "it crosses itself", "Ring Self-intersection": "it touches itself"}
    named = words.get(kind.strip(), kind.strip().lower())
    return f"{named} at ({at}) mm" if at else named
