"""Curves of DXF entities: arcs, polylines with bulges and widths, ellipses, splines, seen from both sides."""

from __future__ import annotations

import itertools
import math

import pytest

from app.artwork.notes import Code
from geometry.arcs import arc_radius, arc_sweep
from geometry.curve import Arc, Cubic
from geometry.measure import contour_area, contour_length, region_area
from tests.app.artwork.dxf_sheet import Sheet, box, codes, lettered


@pytest.mark.parametrize(
    ("angle", "bulge"),
    # V35: bulge = tan(angle / 4).
    [(30, 0.131652), (60, 0.267949), (90, 0.414214), (180, 1.0), (270, 2.414214)],
)
def test_arcs_have_the_bulges_of_the_handbook(sheet: Sheet, angle: float, bulge: float) -> None:
    sheet.space.add_arc((5, 5), 10, 20, 20 + angle)
    (contour,) = sheet.contours()
    (arc,) = contour.segments
    assert isinstance(arc, Arc)
    assert arc.bulge == pytest.approx(bulge, abs=1e-6)
    assert arc_radius(arc) == pytest.approx(10)


def test_bulge_of_a_polyline(sheet: Sheet) -> None:
    # V36: bulge 0.5 from (0,0) to (10,0): radius 6.25, sagitta 2.5 below the chord, arc 11.59119, segment 17.47247.
    sheet.space.add_lwpolyline([(0, 0, 0.5), (10, 0, 0)], format="xyb", close=True)
    (contour,) = sheet.contours()
    arc = contour.segments[0]
    assert isinstance(arc, Arc)
    assert arc_radius(arc) == pytest.approx(6.25)
    assert box(contour) == pytest.approx((0, -2.5, 10, 0))
    assert contour_area(contour) == pytest.approx(17.47247, abs=1e-4)
    assert contour_length(contour) == pytest.approx(11.59119 + 10, abs=1e-4)


def test_old_polyline_with_bulges(sheet: Sheet) -> None:
    sheet.space.add_polyline2d([(0, 0, 1), (10, 0, 1)], format="xyb", close=True)
    (contour,) = sheet.contours()
    assert contour_area(contour) == pytest.approx(math.pi * 25)


def test_very_wide_bulge_is_cut_in_two(sheet: Sheet) -> None:
    sheet.space.add_lwpolyline([(0, 0, 10), (1, 0, 0)], format="xyb", close=True)
    (contour,) = sheet.contours()
    arcs = [segment for segment in contour.segments if isinstance(segment, Arc)]
    assert len(arcs) == 2
    assert sum(map(arc_sweep, arcs)) == pytest.approx(math.degrees(4 * math.atan(10)))
    assert [arc_radius(arc) for arc in arcs] == pytest.approx([101 / 40] * 2)


def test_extrusion_of_minus_z_mirrors(sheet: Sheet) -> None:
    # The arbitrary axis algorithm of the DXF reference: for (0, 0, -1) the object's x axis is -X.
    below = {"extrusion": (0, 0, -1)}
    sheet.space.add_circle((10, 5), 2, dxfattribs=below)
    sheet.space.add_lwpolyline([(20, 0, 0), (30, 0, 0.5), (30, 10, 0)], format="xyb", close=True, dxfattribs=below)
    circle, polyline = sheet.contours()
    assert box(circle) == pytest.approx((-12, 3, -8, 7))
    assert box(polyline) == pytest.approx((-32.5, 0, -20, 10))


def test_arc_seen_from_below(sheet: Sheet) -> None:
    sheet.space.add_arc((10, 0), 5, 0, 90, dxfattribs={"extrusion": (0, 0, -1)})
    (contour,) = sheet.contours()
    assert box(contour) == pytest.approx((-15, 0, -10, 5))


@pytest.mark.parametrize("extrusion", [(0, 0, 1), (0, 0, -1)])
def test_ellipse_arcs_match_ezdxf_points(sheet: Sheet, extrusion: tuple[int, int, int]) -> None:
    ellipse = sheet.space.add_ellipse(
        (3, 4), (10, 5), 0.4, math.radians(20), math.radians(200), dxfattribs={"extrusion": extrusion}
    )
    ends = sorted((p.x, p.y) for p in (ellipse.start_point, ellipse.end_point))
    (middle,) = ellipse.vertices([math.radians(110)])
    (contour,) = sheet.contours()
    found = sorted((contour.segments[0].start, contour.segments[-1].end))
    assert found[0] == pytest.approx(ends[0], abs=1e-6)
    assert found[1] == pytest.approx(ends[1], abs=1e-6)
    points = [s.start for s in contour.segments] + [contour.segments[-1].end]
    assert min(math.dist(point, (middle.x, middle.y)) for point in points) < 1e-6


def test_whole_ellipse_and_round_one(sheet: Sheet) -> None:
    sheet.space.add_ellipse((0, 0), (12, 0), 0.5)
    sheet.space.add_ellipse((100, 0), (7, 0), 1.0)
    ellipse, circle = sheet.contours()
    assert contour_length(ellipse) == pytest.approx(58.130689, abs=1e-4)  # V33: a = 12, b = 6
    assert contour_area(ellipse) == pytest.approx(72 * math.pi, rel=1e-6)
    assert all(isinstance(segment, Arc) for segment in circle.segments)


def test_clamped_cubic_spline_is_exact(sheet: Sheet) -> None:
    sheet.space.add_spline(dxfattribs={}).control_points = [(0, 0), (10, 30), (30, -20), (40, 10), (60, 0)]
    spline = sheet.space.query("SPLINE").first
    spline.knots = [0, 0, 0, 0, 0.4, 1, 1, 1, 1]
    spline.dxf.degree = 3
    (contour,) = sheet.contours()
    assert all(isinstance(segment, Cubic) for segment in contour.segments)
    assert len(contour.segments) == 2
    # de Boor by hand is ezdxf's own evaluation here; it is right on clamped knots.
    tool = spline.construction_tool()
    joint = tool.point(0.4)
    assert contour.segments[0].end == pytest.approx((joint.x, joint.y), abs=1e-12)
    assert contour.segments[0].start == (0, 0)
    assert contour.segments[-1].end == (60, 0)


def test_unclamped_spline_lives_on_its_valid_range(sheet: Sheet) -> None:
    # Uniform cubic B-spline: the curve starts at (p0 + 4 p1 + p2) / 6 and ends at (p2 + 4 p3 + p4) / 6.
    points = [(0, 0), (6, 12), (12, 0), (18, 12), (24, 0)]
    spline = sheet.space.add_spline()
    spline.control_points = points
    spline.knots = list(range(9))
    spline.dxf.degree = 3
    (contour,) = sheet.contours()
    assert contour.segments[0].start == pytest.approx((6, 8))
    assert contour.segments[-1].end == pytest.approx((18, 8))


def test_periodic_spline_closes(sheet: Sheet) -> None:
    square = [(0, 0), (6, 0), (6, 6), (0, 6)]
    spline = sheet.space.add_spline()
    spline.control_points = [*square, *square[:3]]
    spline.knots = list(range(11))
    spline.dxf.degree = 3
    drawing = sheet.read()
    (letter,) = lettered(drawing).letters
    assert region_area(letter.regions[0]) > 10


def test_rational_circle_is_within_a_ten_thousandth(sheet: Sheet) -> None:
    # The nine-point NURBS circle (Piegl and Tiller, 7.5): weights 1 and sqrt(2)/2.
    w = math.sqrt(0.5)
    corners = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    spline = sheet.space.add_spline()
    spline.control_points = [(100 * x, 100 * y) for x, y in corners]
    spline.weights = [1, w, 1, w, 1, w, 1, w, 1]
    spline.knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
    spline.dxf.degree = 2
    drawing = sheet.read()
    (contour,) = (contour for shape in drawing.shapes for contour in shape.contours)
    assert contour_area(contour) == pytest.approx(math.pi * 1e4, rel=2e-6)
    assert box(contour) == pytest.approx((-100, -100, 100, 100), abs=1e-4)
    assert Code.CURVE_FITTED in codes(drawing)


@pytest.mark.parametrize("degree", [1, 2, 4, 5])
def test_other_degrees(sheet: Sheet, degree: int) -> None:
    points = [(0, 0), (10, 40), (20, -30), (30, 50), (40, 0), (55, 5), (60, 30)]
    spline = sheet.space.add_spline()
    spline.control_points = points
    inner = [(i + 1) / (len(points) - degree) for i in range(len(points) - degree - 1)]
    spline.knots = [0.0] * (degree + 1) + inner + [1.0] * (degree + 1)
    spline.dxf.degree = degree
    (contour,) = sheet.contours()
    if degree == 1:
        length = sum(math.dist(a, b) for a, b in itertools.pairwise(points))
    else:
        length = sum(a.distance(b) for a, b in itertools.pairwise(spline.construction_tool().approximate(4000)))
    assert contour_length(contour) == pytest.approx(length, rel=2e-6)


def test_fit_points_alone_are_interpolated(sheet: Sheet) -> None:
    sheet.space.add_spline(fit_points=[(0, 0), (10, 5), (20, 0)])
    drawing = sheet.read()
    assert Code.CURVE_FITTED in codes(drawing)
    (contour,) = (contour for shape in drawing.shapes for contour in shape.contours)
    ends = [segment.start for segment in contour.segments] + [contour.segments[-1].end]
    assert min(math.dist(point, (10, 5)) for point in ends) < 3.0


def test_polylines_with_a_width_are_told_or_outlined(sheet: Sheet) -> None:
    sheet.space.add_lwpolyline([(0, 0), (100, 0), (100, 50)], dxfattribs={"const_width": 10})
    sheet.space.add_polyline2d([(0, 200), (80, 200)], dxfattribs={"default_start_width": 6, "default_end_width": 6})
    assert Code.STROKE_AS_LINE in codes(sheet.read())
    drawing = sheet.read(outline_strokes=True)
    assert Code.STROKE_OUTLINED in codes(drawing)
    assert Code.STROKE_AS_LINE not in codes(drawing)
    # 100 x 10 along the bottom with half a width at the mitred corner, 50 up; 80 x 6 for the other.
    areas = sorted(abs(contour_area(contour)) for shape in drawing.shapes for contour in shape.contours)
    assert areas == pytest.approx([480.0, 1000.0 + 500.0])


def test_a_tapered_polyline_keeps_its_middle_line_and_is_told(sheet: Sheet) -> None:
    sheet.space.add_lwpolyline([(0, 0, 2, 8), (100, 0, 8, 2), (100, 50, 0, 0)], format="xyse")
    drawing = sheet.read(outline_strokes=True)
    assert Code.STROKE_AS_LINE in codes(drawing)
    assert [len(contour.segments) for shape in drawing.shapes for contour in shape.contours] == [2]


@pytest.mark.parametrize("kind", ["SOLID", "TRACE"])
def test_solids_have_their_last_corners_crossed(sheet: Sheet, kind: str) -> None:
    """DXF reference, SOLID: the third corner lies across from the second, not after it."""
    corners = [(0, 0), (40, 0), (0, 20), (40, 20)]
    if kind == "SOLID":
        sheet.space.add_solid(corners)
    else:
        sheet.space.add_trace(corners)
    (contour,) = sheet.contours()
    assert contour.is_closed
    assert abs(contour_area(contour)) == pytest.approx(800)


def test_a_polyline_in_space_bounds_a_shape_where_it_is_flat(sheet: Sheet) -> None:
    sheet.space.add_polyline3d([(0, 0, 7), (30, 0, 7), (0, 20, 7)], close=True)
    sheet.space.add_polyline3d([(0, 0, 7), (30, 0, 7), (0, 20, 8)], close=True)
    drawing = sheet.read()
    (shape,) = drawing.shapes
    assert abs(contour_area(shape.contours[0])) == pytest.approx(300)
    assert Code.NOT_FLAT in codes(drawing)


def test_a_fitted_polyline_is_read_without_its_frame(sheet: Sheet) -> None:
    """DXF reference, VERTEX flag 16: a point of the frame, which the drawn curve does not pass."""
    polyline = sheet.space.add_polyline2d([(0, 0), (10, 0), (10, 10), (0, 10)], close=True)
    polyline.append_vertices([(500, 500)], dxfattribs={"flags": 16})
    (contour,) = sheet.contours()
    assert box(contour) == (0, 0, 10, 10)


def test_a_filled_polygon_with_its_hole(sheet: Sheet) -> None:
    polygon = sheet.space.add_mpolygon()
    polygon.paths.add_polyline_path([(0, 0), (50, 0), (50, 50), (0, 50)], is_closed=True)
    polygon.paths.add_polyline_path([(10, 10), (20, 10), (20, 20), (10, 20)], is_closed=True)
    (letter,) = lettered(sheet.read()).letters
    assert region_area(letter.regions[0]) == pytest.approx(2500 - 100)
