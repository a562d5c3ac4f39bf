"""Whether a letter can be carried: the narrowest box round it, frame and packing added, against the load that needs no
permit.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import shapely

from app.artwork.drawing import Letter
from app.fabrication.remarks import FabricationCode
from app.fabrication.subject import MEASURING, Terms
from geometry.contour import Region
from geometry.findings import Finding, Severity
from geometry.flatten import flatten_region
from geometry.measure import region_bounds

_SLACK: Final = 1e-6


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


def may_be_carried(width: float, length: float, depth: float, terms: Terms) -> bool:
    """Whether a load of that size, packing added, needs no permit: lying, or standing on any of its sides."""
    packed = sorted(size + 2.0 * terms["packing"] for size in (width, length, depth))
    limits = sorted((terms["load width"], terms["load height"], terms["load length"]))
    return all(size <= limit + _SLACK for size, limit in zip(packed, limits, strict=True))


def about_load(letter: Letter, backers: Sequence[Region], depth: float, terms: Terms) -> list[Finding]:
    """Whether a letter of that depth fits the load whole; if not, whether its backer's pieces are sections that do.

    Parameters
    ----------
    letter : Letter
    backers : sequence of Region
        Pieces of its backer, or of what stands in for one.
    depth : float
        Of its return, mm; the frame's is added.
    terms : Terms
    """
    depth += terms["frame depth"]
    width, length = shipping_box(letter.regions)
    if may_be_carried(width, length, depth, terms):
        return []
    around = 2.0 * terms["packing"]
    packed = [terms.say(size + around) for size in (width, length, depth)]
    limits = [terms.say(terms[name]) for name in ("load width", "load length", "load height")]
    size = (
        f"letter {letter.name} ({letter.id}) is {packed[0]} x {packed[1]} x {packed[2]} deep at its narrowest, packed, "
        f"more than the load of {limits[0]} x {limits[1]} x {limits[2]} high"
    )
    # A section is as much larger than its piece of backer as the letter is larger than its backer.
    rim = 2.0 * (terms["return thickness"] + terms["backer fit"])
    boxes = [(across + rim, along + rim) for across, along in (shipping_box([region]) for region in backers)]
    too_large = [box for box in boxes if not may_be_carried(*box, depth, terms)]
    severity = Severity.WARNING
    if len(boxes) < 2:
        message = f"{size}, and no seam divides its backer: add seams, or ask for a permit"
    elif too_large:
        worst = max(too_large)
        message = (
            f"{size}, and so are {len(too_large)} of its {len(boxes)} sections along the seams of its backer, the "
            f"largest {terms.say(worst[0] + around)} x {terms.say(worst[1] + around)}: add seams, or ask for a permit"
        )
    else:
        severity = Severity.NOTE
        message = (
            f"{size}: ship it in sections, at most {len(boxes)} along the seams of its backer, and divide the returns "
            "there"
        )
    box = region_bounds(letter.regions[0])
    return [Finding(FabricationCode.WIDE_LOAD, severity, message, box.centre, subject=letter.id)]
