"""Scale from one known dimension: two points of the artwork and how far apart they are in truth."""

from __future__ import annotations

import math

from app.artwork.drawing import Lettering
from app.errors import JobError
from app.job.document import Scale, ScaleBy
from geometry.curve import Point


def scale_by_dimension(lettering: Lettering, first: Point, second: Point, length: float) -> Scale:
    """Scale that makes the distance between two points `length`.

    The answer is given as an overall width, or height where the artwork has no width, so it holds without the points.

    Parameters
    ----------
    lettering : Lettering
        The artwork at any scale.
    first, second : Point
        In the lettering's frame, mm.
    length : float
        mm, more than 0.

    Raises
    ------
    JobError
        If the points coincide or the length is not a positive number.

    Examples
    --------
    Points 100 mm apart in an artwork 400 mm wide that are to be 250 mm apart make it 1000 mm wide.
    """
    apart = math.dist(first, second)
    if not (math.isfinite(length) and length > 0.0):
        raise JobError(f"a dimension of {length:g} mm is not possible; give more than 0")
    if not apart > 1e-9 * max(lettering.width, lettering.height):
        raise JobError("the two points of the dimension are in the same place; choose points further apart")
    if lettering.width > 0.0:
        return Scale(ScaleBy.OVERALL_WIDTH, lettering.width * length / apart)
    return Scale(ScaleBy.OVERALL_HEIGHT, lettering.height * length / apart)
