"""Random shapes with all three curves, and the fine polygons they are judged by."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import assume
from hypothesis import strategies as st

from geometry.arcs import point_at, tangent_at
from geometry.build import closed, region
from geometry.contour import Contour, Region
from geometry.curve import Arc, Cubic, Line, Segment


def sampled(contour: Contour, count: int = 250) -> np.ndarray:
    """Points on the true curve, by nothing but `point_at`: (n, 2)."""
    return np.array([point_at(segment, i / count) for segment in contour.segments for i in range(count)])


def fine_polygon(shape: Region, count: int = 250) -> shapely.Polygon:
    return shapely.Polygon(sampled(shape.outer, count), [sampled(hole, count) for hole in shape.holes])


@st.composite
def star_contours(draw: st.DrawFn) -> Contour:
    """Closed anticlockwise contours round the origin, 20 to 100 mm from it, that do not cross themselves."""
    count = draw(st.integers(3, 7))
    angles = [math.tau * (i + draw(st.floats(0, 0.7))) / count for i in range(count)]
    radii = [draw(st.floats(20, 100)) for _ in range(count)]
    corners = [(r * math.cos(a), r * math.sin(a)) for r, a in zip(radii, angles, strict=True)]
    segments: list[Segment] = []
    for start, end in zip(corners, corners[1:] + corners[:1], strict=True):
        kind = draw(st.sampled_from(["line", "arc", "cubic", "cubic"]))
        if kind == "line":
            segments.append(Line(start, end))
        elif kind == "arc":
            segments.append(Arc(start, end, draw(st.floats(0.01, 1.2)) * draw(st.sampled_from([-0.5, 1]))))
        else:
            pull = [(draw(st.floats(-40, 40)), draw(st.floats(-40, 40))) for _ in range(2)]
            (x0, y0), (x1, y1) = start, end
            segments.append(
                Cubic(
                    start,
                    (x0 + (x1 - x0) / 3 + pull[0][0], y0 + (y1 - y0) / 3 + pull[0][1]),
                    (x0 + (x1 - x0) / 1.5 + pull[1][0], y0 + (y1 - y0) / 1.5 + pull[1][1]),
                    end,
                )
            )
    contour = closed(segments)
    polygon = shapely.Polygon(sampled(contour))
    assume(polygon.exterior.is_ccw and polygon.is_valid and polygon.area > 100)
    # Samples pass over curves that cross right beside a hairpin.
    for one, two in zip(segments, segments[1:] + segments[:1], strict=True):
        (ax, ay), (bx, by) = tangent_at(one, 1.0), tangent_at(two, 0.0)
        assume(ax * bx + ay * by > -0.98)
    # Touching itself within a hair is valid and not worth judging by samples.
    assume(shapely.get_parts(shapely.buffer(polygon, -0.2)).size == 1)
    return contour


@st.composite
def star_regions(draw: st.DrawFn) -> Region:
    """One star, sometimes with a small round or square hole."""
    outer = draw(star_contours())
    kind = draw(st.sampled_from(["none", "round", "square"]))
    if kind == "none":
        return region(outer)
    inside = shapely.Polygon(sampled(outer, 60))
    assume(shapely.distance(inside.boundary, shapely.Point(0, 0)) > 12 and inside.contains(shapely.Point(0, 0)))
    size = draw(st.floats(2, 8))
    hole = (
        closed([Arc((size, 0), (-size, 0), 1), Arc((-size, 0), (size, 0), 1)])
        if kind == "round"
        else closed(
            [Line((0, -size), (size, 0)), Line((size, 0), (0, size)), Line((0, size), (-size, 0)),
             Line((-size, 0), (0, -size))]
        )
    )  # fmt: skip
    return region(outer, [hole])
