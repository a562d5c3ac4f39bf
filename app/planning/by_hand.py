"""How placements change when parts are moved, turned and mirrored by hand: about their middles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from app.fabrication.part import CutPart
from app.planning.job_plan import PlacedPart
from geometry.angles import cos_sin
from geometry.curve import Point
from geometry.measure import Bounds, region_bounds
from geometry.transform import Affine, transform_region
from nesting.plan import Placement

SAME_ANGLE = 1e-6
"""Degrees within which two angles are the same: the referee's."""


def map_of(at: Placement) -> Affine:
    """Where a placement takes its part: mirror in x, rotate, move."""
    cosine, sine = cos_sin(at.rotation)
    sign = -1.0 if at.mirrored else 1.0
    return Affine(sign * cosine, sign * sine, -sine, cosine, at.x, at.y)


def box_on_sheet(placed: PlacedPart) -> Bounds:
    """Box of a part where it lies on its sheet, mm; of the true curves."""
    return region_bounds(transform_region(placed.part.region, map_of(placed.placement)))


def moved(placed: Sequence[PlacedPart], dx: float, dy: float) -> tuple[Placement, ...]:
    """Parts moved together, mm."""
    return tuple(replace(one.placement, x=one.placement.x + dx, y=one.placement.y + dy) for one in placed)


def middle(placed: Sequence[PlacedPart]) -> Point:
    """What parts are turned about: the middle of the box of all their middles, of one part its own."""
    middles = [map_of(one.placement).apply(_own_middle(one.part)) for one in placed]
    xs, ys = [x for x, _ in middles], [y for _, y in middles]
    return (min(xs) + max(xs)) / 2.0, (min(ys) + max(ys)) / 2.0


def turned(placed: Sequence[PlacedPart], by: float) -> tuple[Placement, ...]:
    """Parts turned together about their middle by so many degrees; whether they may is for `angle_refused`."""
    about = middle(placed)
    cosine, sine = cos_sin(by)
    found = []
    for one in placed:
        x, y = map_of(one.placement).apply(_own_middle(one.part))
        x, y = x - about[0], y - about[1]
        to = (about[0] + cosine * x - sine * y, about[1] + sine * x + cosine * y)
        angle = _tidy(one.placement.rotation + by)
        found.append(_with_middle_at(one.part, replace(one.placement, rotation=angle), to))
    return tuple(found)


def mirrored(one: PlacedPart) -> Placement:
    """A part mirrored left to right as it lies, about its own middle."""
    at = one.placement
    middle_now = map_of(at).apply(_own_middle(one.part))
    angle = _tidy(-at.rotation)
    return _with_middle_at(one.part, replace(at, mirrored=not at.mirrored, rotation=angle), middle_now)


def quarter_step(placed: Sequence[PlacedPart], way: int) -> float | None:
    """Degrees of the smallest turn by quarters, anticlockwise for way 1, that all parts may make; None when none."""
    for quarters in (1, 2, 3):
        by = 90.0 * quarters * way
        if all(may_stand_at(one.part, one.placement.rotation + by) for one in placed):
            return by
    return None


def may_stand_at(part: CutPart, angle: float) -> bool:
    """Whether a part may lie at an angle."""
    return part.rotations is None or any(
        abs((angle - allowed + 180.0) % 360.0 - 180.0) <= SAME_ANGLE for allowed in part.rotations
    )


def angle_refused(part: CutPart) -> str:
    """Why a part may not be turned to just any angle, in one sentence."""
    angles = part.rotations or ()
    listed = " or ".join(f"{angle:g}°" for angle in angles)
    return f"{part.id} may lie at {listed} only, because of the grain of its material"


def mirror_refused(part: CutPart) -> str:
    """Why a part may not be mirrored."""
    return f"{part.id} may not be mirrored: the two sides of its material are not alike"


def _own_middle(part: CutPart) -> Point:
    box = region_bounds(part.region)
    return (box.min_x + box.max_x) / 2.0, (box.min_y + box.max_y) / 2.0


def _with_middle_at(part: CutPart, at: Placement, to: Point) -> Placement:
    x, y = map_of(at).apply(_own_middle(part))
    return replace(at, x=at.x + to[0] - x, y=at.y + to[1] - y)


def _tidy(angle: float) -> float:
    """An angle from 0 up to 360, without the noise of adding."""
    rounded = round(angle, 9) % 360.0
    return rounded if rounded < 360.0 else 0.0
