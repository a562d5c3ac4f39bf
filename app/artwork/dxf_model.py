"""What a DXF file holds that concerns cutting, free of the library that parsed it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from app.artwork.notes import Code
from app.artwork.splines import spline_segments
from app.artwork.svg_path import STRAIGHT_BULGE
from geometry.arcs import arc_from_centre, circle, ellipse_arc
from geometry.contour import Contour
from geometry.curve import Arc, Cubic, Line, Point, Segment
from geometry.transform import Affine

_WIDEST_BULGE = 2.5  # just above 270 degrees; wider arcs are cut in two so that their centre stays well defined


class BadEntity(ValueError):
    """An entity whose numbers make no curve."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """Curves of one entity, in its block's coordinates.

    Fields
    ------
    width : float
        Of the line that is drawn along them, 0 for a hairline; nan when it is not the same all along.
    """

    layer: str
    kind: str
    contours: tuple[Contour, ...]
    is_hatch: bool = False
    width: float = 0.0


@dataclass(frozen=True, slots=True)
class Placed:
    """A block reference, perhaps an array of them.

    Fields
    ------
    matrix : Affine
        From the block's coordinates (its base point at 0,0) to the parent's.
    columns, rows : int
    column_step, row_step : tuple of float
        From one copy to the next, in the parent's coordinates.
    """

    layer: str
    block: str
    matrix: Affine
    columns: int = 1
    rows: int = 1
    column_step: Point = (0.0, 0.0)
    row_step: Point = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Left:
    """An entity that is not read, and under which code it is told."""

    layer: str
    kind: str
    code: Code
    message: str = ""
    where: Point | None = None


@dataclass(frozen=True, slots=True)
class Words:
    """Text that may be set as outlines when its font is at hand.

    Fields
    ------
    kind : str
        Entity it came from.
    font : str
        Name of the font file as the text style gives it.
    matrix : Affine
        From text space (the insertion point at 0,0, 1 unit = the height of a capital) to the block's coordinates.
    align : str
        The insertion point is at the "left", "centre" or "right" of the text.
    upright : str
        And on its "baseline", at its "bottom", "middle" or "top".
    column : float
        Width, in heights of a capital, at which the drawing program breaks lines; 0 for none.
    """

    layer: str
    kind: str
    text: str
    font: str
    matrix: Affine
    align: str = "left"
    upright: str = "baseline"
    column: float = 0.0


Item = Drawn | Placed | Left | Words


@dataclass(slots=True)
class Block:
    """Entities under one name."""

    name: str
    base: Point = (0.0, 0.0)
    items: list[Item] = field(default_factory=list)


@dataclass(slots=True)
class Contents:
    """A DXF file."""

    model: Block
    blocks: dict[str, Block]
    layers: dict[str, bool]  # name -> is shown
    insunits: int | None = None
    measurement: int | None = None


def even_width(widths: list[float]) -> float:
    """Width of a line from those at its vertices; nan when they differ."""
    if not widths:
        return 0.0
    return widths[0] if max(widths) == min(widths) else math.nan


def lines(points: list[Point], *, is_closed: bool) -> tuple[Contour, ...]:
    """Straight polyline as a contour; nothing when it has no length."""
    return polyline([(x, y, 0.0) for x, y in points], is_closed=is_closed)


def polyline(vertices: list[tuple[float, float, float]], *, is_closed: bool) -> tuple[Contour, ...]:
    """Polyline with bulges (x, y, bulge) as a contour; pieces without length are left out.

    Raises
    ------
    BadEntity
        If a bulge is not finite or so large that the arc is not defined.
    """
    segments: list[Segment] = []
    following = vertices[1:] + (vertices[:1] if is_closed else [])
    for (x, y, bulge), (x_end, y_end, _) in zip(vertices, following, strict=False):
        start, end = (x, y), (x_end, y_end)
        if start == end:
            continue
        if not math.isfinite(bulge) or abs(bulge) > 1e6:
            raise BadEntity(f"a bulge of {bulge:g} is outside -1e6 to 1e6")
        segments.extend(bulged(start, end, bulge))
    if not segments:
        return ()
    return (Contour(tuple(segments), is_closed=segments[0].start == segments[-1].end),)


def bulged(start: Point, end: Point, bulge: float) -> tuple[Segment, ...]:
    """Line or arc from start to end by its bulge, in two pieces when it turns by more than about 270 degrees."""
    if abs(bulge) < STRAIGHT_BULGE:
        return (Line(start, end),)
    if abs(bulge) <= _WIDEST_BULGE:
        return (Arc(start, end, bulge),)
    dx, dy = end[0] - start[0], end[1] - start[1]
    apex = ((start[0] + end[0] + bulge * dy) / 2.0, (start[1] + end[1] - bulge * dx) / 2.0)
    half = math.tan(math.atan(bulge) / 2.0)
    return (Arc(start, apex, half), Arc(apex, end, half))


def arc(centre: Point, radius: float, start_deg: float, end_deg: float) -> tuple[Contour, ...]:
    """Arc anticlockwise from one angle to the other; equal angles give a whole circle.

    Raises
    ------
    BadEntity
        If the radius is not positive.
    """
    if not radius > 0.0:
        raise BadEntity(f"a radius of {radius:g}")
    sweep = (end_deg - start_deg) % 360.0
    if sweep < 1e-9 or sweep > 360.0 - 1e-9:
        return (circle(centre, radius),)
    pieces = arc_from_centre(centre, radius, start_deg, sweep)
    return (Contour(pieces if isinstance(pieces, tuple) else (pieces,), is_closed=False),)


def ellipse(
    centre: Point, major: Point, ratio: float, start: float, end: float, *, is_mirrored: bool, tolerance: float
) -> tuple[Contour, ...]:
    """Ellipse or elliptical arc of a DXF ELLIPSE; parameters in radians, circular ones as arcs.

    Parameters
    ----------
    major : (x, y)
        From the centre to the end of the major axis.
    ratio : float
        Minor to major axis.
    is_mirrored : bool
        True for an extrusion of (0, 0, -1), which turns the sense of the parameter.

    Raises
    ------
    BadEntity
        If an axis has no length.
    """
    radius = math.hypot(*major)
    if not (radius > 0.0 and abs(ratio) > 0.0):
        raise BadEntity("an ellipse without size")
    if ratio < 0.0:
        ratio, is_mirrored = -ratio, not is_mirrored
    rotation = math.degrees(math.atan2(major[1], major[0]))
    sweep = math.degrees(end - start)
    sweep = 360.0 if abs(abs(sweep) - 360.0) < 1e-6 or abs(sweep) < 1e-9 else sweep % 360.0
    first = -math.degrees(end) if is_mirrored else math.degrees(start)
    if abs(ratio - 1.0) < 1e-12:
        return arc(centre, radius, rotation + first, rotation + first + sweep)
    cubics = list(ellipse_arc(centre, radius, radius * ratio, rotation, first, sweep, tolerance=tolerance))
    if sweep == 360.0:
        last = cubics[-1]
        cubics[-1] = Cubic(last.start, last.control1, last.control2, cubics[0].start)
    return (Contour(tuple(cubics), is_closed=sweep == 360.0),)


def spline(
    degree: int, knots: list[float], points: list[Point], weights: list[float], *, tolerance: float
) -> tuple[tuple[Contour, ...], bool]:
    """B-spline as a contour, and whether it is exact."""
    segments, is_exact = spline_segments(degree, knots, points, weights or None, tolerance=tolerance)
    if not segments:
        return (), True
    start, end = segments[0].start, segments[-1].end
    return (Contour(segments, is_closed=start == end),), is_exact
