"""The basic shapes of SVG (W3C SVG 1.1, chapter 9) as contours, in the element's own user space."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from typing import Any

from app.artwork.svg_document import local_name
from app.artwork.svg_path import parse_path
from app.artwork.svg_values import BadValue, parse_numbers
from geometry.arcs import circle, ellipse_arc
from geometry.contour import Contour
from geometry.curve import Arc, Cubic, Line, Point, Segment

SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})

# The measure of one attribute in user units: name, what 100 % stands for ("x", "y" or "d"), value when absent.
Measure = Callable[[str, str, float | None], float | None]


def shape_contours(
    element: Any, measure: Measure, tolerance: float, most: float = math.inf
) -> tuple[tuple[Contour, ...], str]:
    """Contours of one shape element and what was wrong with it (empty when nothing was).

    Parameters
    ----------
    element : lxml element
        One of `SHAPES`.
    measure : callable
        Reads a length attribute in user units.
    tolerance : float
        How far cubics may depart from an elliptical arc, user units.
    most : float
        Most pieces a path may have.

    Raises
    ------
    BadValue
        If SVG says that an element with such values is in error and not drawn.
    TooManyPieces
        If a path has more than `most`.
    """
    name = local_name(element)
    if name == "path":
        contours, error = parse_path(element.get("d", ""), tolerance=tolerance, most=most)
        return contours, "" if error is None else f"path data ends at character {error.position + 1}: {error.why}"
    if name == "rect":
        return _rect(measure, tolerance), ""
    if name in ("circle", "ellipse"):
        return _round(name, measure, tolerance), ""
    if name == "line":
        start = (measure("x1", "x", 0.0) or 0.0, measure("y1", "y", 0.0) or 0.0)
        end = (measure("x2", "x", 0.0) or 0.0, measure("y2", "y", 0.0) or 0.0)
        return ((Contour((Line(start, end),), is_closed=False),) if start != end else ()), ""
    return _points(element.get("points", ""), is_closed=name == "polygon")


def _points(text: str, *, is_closed: bool) -> tuple[tuple[Contour, ...], str]:
    values = parse_numbers(text)
    wrong = "a point list with an odd count of numbers" if len(values) % 2 else ""
    points: list[Point] = []
    for x, y in zip(values[0::2], values[1::2], strict=False):
        if not points or points[-1] != (x, y):
            points.append((x, y))
    if is_closed and len(points) > 1 and points[0] != points[-1]:
        points.append(points[0])
    if len(points) < 2:
        return (), wrong
    segments = tuple(Line(a, b) for a, b in itertools.pairwise(points))
    return (Contour(segments, is_closed=points[0] == points[-1]),), wrong


def _rect(measure: Measure, tolerance: float) -> tuple[Contour, ...]:
    x, y = measure("x", "x", 0.0) or 0.0, measure("y", "y", 0.0) or 0.0
    width, height = measure("width", "x", 0.0) or 0.0, measure("height", "y", 0.0) or 0.0
    if width < 0.0 or height < 0.0:
        raise BadValue("a rectangle with a negative size")
    if width == 0.0 or height == 0.0:
        return ()
    rx, ry = measure("rx", "x", None), measure("ry", "y", None)
    rx = None if rx is not None and rx < 0.0 else rx
    ry = None if ry is not None and ry < 0.0 else ry
    radius_x = rx if rx is not None else ry if ry is not None else 0.0
    radius_y = ry if ry is not None else radius_x
    radius_x, radius_y = min(radius_x, width / 2.0), min(radius_y, height / 2.0)
    right, bottom = x + width, y + height
    if radius_x == 0.0 or radius_y == 0.0:
        corners = [(x, y), (right, y), (right, bottom), (x, bottom), (x, y)]
        return (Contour(tuple(Line(a, b) for a, b in itertools.pairwise(corners))),)
    # Corner by corner in the order of SVG 1.1, 9.2: along the top, then with increasing angle.
    ends: list[tuple[Point, Point, Point, float]] = [
        ((right - radius_x, y), (right, y + radius_y), (right - radius_x, y + radius_y), -90.0),
        ((right, bottom - radius_y), (right - radius_x, bottom), (right - radius_x, bottom - radius_y), 0.0),
        ((x + radius_x, bottom), (x, bottom - radius_y), (x + radius_x, bottom - radius_y), 90.0),
        ((x, y + radius_y), (x + radius_x, y), (x + radius_x, y + radius_y), 180.0),
    ]
    segments: list[Segment] = []
    at: Point = (x + radius_x, y)
    for start, end, centre, angle in ends:
        if at != start:
            segments.append(Line(at, start))
        if radius_x == radius_y:
            segments.append(Arc(start, end, math.tan(math.pi / 8.0)))
        else:
            segments.extend(
                _with_ends(ellipse_arc(centre, radius_x, radius_y, 0.0, angle, 90.0, tolerance=tolerance), start, end)
            )
        at = end
    return (Contour(tuple(segments)),)


def _with_ends(cubics: tuple[Cubic, ...], start: Point, end: Point) -> list[Cubic]:
    """The same cubics with exactly these ends, so that neighbours join bit for bit."""
    out = list(cubics)
    out[0] = Cubic(start, out[0].control1, out[0].control2, out[0].end)
    out[-1] = Cubic(out[-1].start, out[-1].control1, out[-1].control2, end)
    return out


def _round(name: str, measure: Measure, tolerance: float) -> tuple[Contour, ...]:
    centre = (measure("cx", "x", 0.0) or 0.0, measure("cy", "y", 0.0) or 0.0)
    if name == "circle":
        rx = ry = measure("r", "d", 0.0) or 0.0
    else:
        given_x, given_y = measure("rx", "x", None), measure("ry", "y", None)
        rx = given_x if given_x is not None else given_y if given_y is not None else 0.0
        ry = given_y if given_y is not None else rx
    if rx < 0.0 or ry < 0.0:
        raise BadValue(f"a {name} with a negative radius")
    if rx == 0.0 or ry == 0.0:
        return ()
    if rx == ry:
        return (circle(centre, rx),)
    start = (centre[0] + rx, centre[1])
    return (
        Contour(tuple(_with_ends(ellipse_arc(centre, rx, ry, 0.0, 0.0, 360.0, tolerance=tolerance), start, start))),
    )
