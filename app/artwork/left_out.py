"""Lines that bound no letter: open ones, and contours inside material that the fill rule swallows."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from app.artwork.drawing import Drawing
from app.artwork.limits import DEFAULT_LIMITS
from app.job.document import Artwork
from geometry.contour import Contour
from geometry.curve import Point
from geometry.findings import Finding, Severity
from geometry.measure import contour_bounds, contour_length
from geometry.regions import RegionCode
from geometry.transform import Affine
from geometry.units import format_both, format_mm

_TOLD = 24  # open lines told one by one
_JOINABLE = 0.1  # of a line's length: a wider gap is not one that was left by mistake


def left_open(drawing: Drawing, artwork: Artwork, matrix: Affine, scale: float) -> list[Finding]:
    """A finding for each open contour with its gap, the limit and the way out; the first two dozen one by one.

    The gap is told as drawn, since that is what the widest gap to be joined is held against.

    Parameters
    ----------
    drawing : Drawing
    artwork : Artwork
        What was asked for.
    matrix : Affine
        From the drawing to the letters' frame.
    scale : float
        Of `matrix`; that of the file's numbers when it states no unit.
    """
    out: list[Finding] = []
    more = 0
    gaps = iter(_gaps([one for shape in drawing.shapes for one in shape.contours if not one.is_closed]))
    for shape in drawing.shapes:
        for contour in shape.contours:
            if contour.is_closed:
                continue
            gap, middle = next(gaps)
            if len(out) >= _TOLD:
                more += 1
                continue
            name = shape.source.object_id.strip()
            called = f"line '{name}'" if name else "a line"
            is_narrow = gap <= _JOINABLE * contour_length(contour)
            out.append(
                Finding(
                    RegionCode.OPEN,
                    Severity.ERROR,
                    f"{called} is open by {_open_by(drawing, artwork, gap, scale, is_narrow=is_narrow)}",
                    matrix.apply(middle),
                    subject=artwork.id,
                )
            )
    if more:
        message = f"{more:,} more open line{'s were' if more > 1 else ' was'} left out"
        out.append(Finding(RegionCode.OPEN, Severity.ERROR, message, subject=artwork.id))
    return out


def _gaps(contours: Sequence[Contour]) -> list[tuple[float, Point]]:
    """Gap and its middle for each open contour: from the end that is further from any other loose end to that one."""
    if not contours:
        return []
    ends = np.array([point for one in contours for point in (one.segments[0].start, one.segments[-1].end)])
    distances, partners = cKDTree(ends).query(ends, k=2)
    out = []
    for first in range(0, len(ends), 2):
        # Ends that lie in one place are each other's nearest, and the tree may name either first.
        last = max(first, first + 1, key=lambda index: float(distances[index, 1]))
        other = int(partners[last, 1]) if int(partners[last, 1]) != last else int(partners[last, 0])
        gap = float(distances[last, 1])
        if gap == 0.0:  # both ends on those of others
            last, other, gap = first, first + 1, math.dist(ends[first], ends[first + 1])
        x, y = (ends[last] + ends[other]) / 2.0
        out.append((gap, (float(x), float(y))))
    return out


def _open_by(drawing: Drawing, artwork: Artwork, gap: float, scale: float, *, is_narrow: bool) -> str:
    if drawing.units is None:
        way = ", or name the unit of the file and the gap to join (--units, --join-gap)" if is_narrow else ""
        return f"{format_both(gap * scale)} and was left out; join its ends in the drawing if it bounds a letter{way}"
    limit = DEFAULT_LIMITS.join_gap if artwork.join_gap is None else artwork.join_gap
    # Rounded up, so that the gap named does join.
    enough = format_mm(math.ceil(gap * 11.0) / 10.0).replace(" ", "")
    way = f", or join gaps up to {enough} (--join-gap {enough}, join gap of the job)" if is_narrow else ""
    return (
        f"{format_both(gap)} as drawn, more than the {format_both(limit)} that is joined, and was left out; "
        f"join its ends in the drawing if it bounds a letter{way}"
    )


def swallowed(contours: Sequence[Contour], artwork: Artwork, matrix: Affine, scale: float) -> list[Finding]:
    """One warning for all contours that have material on both sides, with their number and the largest one's size."""
    if not contours:
        return []
    largest = max((contour_bounds(contour) for contour in contours), key=lambda box: box.width * box.height)
    size = f"{format_both(scale * largest.width)} x {format_both(scale * largest.height)}"
    if len(contours) == 1:
        said = f"a contour of {size} inside a letter cuts no counter, since it runs the same way round as the letter"
        way = "if it is a counter, reverse it in the drawing or fill it by the even-odd rule"
    else:
        said = (
            f"{len(contours):,} contours inside letters cut no counters, since they run the same way round as the "
            f"letter; the largest is {size}"
        )
        way = "if they are counters, reverse them in the drawing or fill it by the even-odd rule"
    message = f"{said}: {way}"
    return [Finding(RegionCode.REDUNDANT, Severity.WARNING, message, matrix.apply(largest.centre), subject=artwork.id)]
