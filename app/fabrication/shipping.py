"""Whether a letter can be carried: the narrowest rectangle round it against the load that needs no permit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from app.artwork.drawing import Letter
from app.fabrication.part import PartSeam, Role
from app.fabrication.remarks import FabricationCode
from app.fabrication.subject import MEASURING, Terms
from geometry.contour import Region
from geometry.findings import Finding, Severity
from geometry.flatten import flatten_region
from geometry.measure import region_bounds


def shipping_box(regions: Sequence[Region]) -> tuple[float, float]:
    """Width and length of the narrowest rectangle round regions, turned as it likes, mm.

    The narrowest strip round a convex polygon has one of its sides along an edge of it.
    """
    rings = [flatten_region(Region(region.outer), MEASURING).outer for region in regions]
    hull: Any = shapely.convex_hull(shapely.MultiPoint(np.concatenate(rings)))
    corners = shapely.get_coordinates(hull)[:-1]
    sides = np.roll(corners, -1, axis=0) - corners
    along = sides / np.hypot(sides[:, 0], sides[:, 1])[:, None]
    across = np.column_stack((-along[:, 1], along[:, 0]))
    widths = np.ptp(across @ corners.T, axis=1)
    best = int(np.argmin(widths))
    return float(widths[best]), float(np.ptp(along[best] @ corners.T))


def may_be_carried(width: float, length: float, terms: Terms) -> bool:
    """Whether a load of that size needs no permit for its size."""
    slack = 1e-6
    return width <= terms["load width"] + slack and length <= terms["load length"] + slack


def about_load(letter: Letter, seams: Sequence[PartSeam], terms: Terms) -> list[Finding]:
    """Whether a letter fits the load whole; if not, whether its backer's seams make sections that do."""
    width, length = shipping_box(letter.regions)
    if may_be_carried(width, length, terms):
        return []
    limits = f"the load of {terms.say(terms['load width'])} x {terms.say(terms['load length'])}"
    size = f"letter {letter.name} ({letter.id}) is {terms.say(width)} x {terms.say(length)} at its narrowest"
    count = 1 + sum(seam.role is Role.BACKER for seam in seams)
    if count > 1:
        message = (
            f"{size}, more than {limits}: ship it in sections, at most {count} along the seams of its backer, and "
            "divide the returns there"
        )
        severity = Severity.NOTE
    else:
        message = f"{size}, more than {limits}, and no seam divides its backer: add seams, or ask for a permit"
        severity = Severity.WARNING
    box = region_bounds(letter.regions[0])
    return [Finding(FabricationCode.WIDE_LOAD, severity, message, box.centre, subject=letter.id)]
