"""Parts where they lie: the true curves of a placed copy in the sheet's frame."""

from __future__ import annotations

from app.fabrication.part import Drill
from app.planning.job_plan import PlacedPart
from geometry.contour import Contour, Region
from geometry.transform import Affine, mirror_x, rotation, transform_contour, transform_region, translation
from nesting.plan import Placement


def placing(placement: Placement) -> Affine:
    """The move from a part's own frame to the sheet's: mirror in x, rotate about the origin, then move."""
    turned = rotation(placement.rotation).then(translation(placement.x, placement.y))
    return mirror_x().then(turned) if placement.mirrored else turned


def placed_region(placed: PlacedPart) -> Region:
    """Finished edges in the sheet's frame, mm; arcs stay arcs, the outer contour anticlockwise."""
    return transform_region(placed.part.region, placing(placed.placement))


def placed_drills(placed: PlacedPart) -> tuple[Drill, ...]:
    """Holes to drill in the sheet's frame, mm."""
    move = placing(placed.placement)
    return tuple(Drill(move.apply(drill.centre), drill.diameter) for drill in placed.part.drills)


def placed_marks(placed: PlacedPart) -> tuple[Contour, ...]:
    """Lines to mark in the sheet's frame, mm; words read there, also on a part that is cut mirrored."""
    move = placing(placed.placement)
    return tuple(transform_contour(mark, move) for mark in placed.part.marks_when(mirrored=placed.placement.mirrored))
