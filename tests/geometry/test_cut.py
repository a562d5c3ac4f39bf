"""Cutting along a line: nothing is lost, curves stay true, and shapely agrees."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.arcs import arc_centre, arc_radius, circle, ellipse_arc
from geometry.build import closed, polygon, rectangle, region
from geometry.contour import Region
from geometry.curve import Arc, Cubic, Line
from geometry.cut import CutLine, cut_region, spans_in
from geometry.flatten import flatten_region
from geometry.measure import region_area, region_bounds
from geometry.offset import offset_region


def shaped(one: Region, tolerance: float = 1e-3) -> shapely.Polygon:
    outline = flatten_region(one, tolerance)
    return shapely.Polygon(outline.outer, outline.holes)


def half_plane(line: CutLine, reach: float = 1e5) -> shapely.Polygon:
    (x, y), (c, s) = line.at, line.direction
    corners = [(-reach, 0.0), (reach, 0.0), (reach, reach), (-reach, reach)]
    return shapely.Polygon([(x + c * u - s * v, y + s * u + c * v) for u, v in corners])


def flower() -> Region:
    """An ellipse of cubics with a round and a square hole: all three curves."""
    return region(
        closed(ellipse_arc((0.0, 0.0), 300.0, 180.0, 20.0, 0.0, 360.0)),
        [circle((80.0, 20.0), 60.0), rectangle(70.0, 90.0, at=(-140.0, -50.0))],
    )


def test_a_rectangle_by_hand():
    left, right = cut_region(Region(rectangle(10.0, 4.0)), CutLine((3.0, 0.0), 90.0))
    assert [region_area(one) for one in (*left, *right)] == pytest.approx([12.0, 28.0], abs=1e-12)
    assert region_bounds(right[0]).min_x == 3.0


def test_a_disc_cut_off_centre_is_two_circular_segments():
    """Area of a circular segment: R^2 (theta - sin theta) / 2, textbook."""
    disc = Region(circle((0.0, 0.0), 12.0))
    left, right = cut_region(disc, CutLine((5.0, 0.0), 90.0))
    theta = 2.0 * math.acos(5.0 / 12.0)
    cap = 144.0 * (theta - math.sin(theta)) / 2.0
    assert region_area(right[0]) == pytest.approx(cap, rel=1e-12)
    assert region_area(left[0]) == pytest.approx(math.pi * 144.0 - cap, rel=1e-12)
    for one in (*left, *right):
        for segment in one.outer.segments:
            if isinstance(segment, Arc):
                assert arc_radius(segment) == pytest.approx(12.0, rel=1e-12)
                assert math.hypot(*arc_centre(segment)) < 1e-9
    assert sum(isinstance(segment, Line) for segment in right[0].outer.segments) == 1


def test_through_a_hole_a_ring_falls_into_two_and_a_hole_missed_stays_whole():
    ring = region(circle((0.0, 0.0), 12.0), [circle((0.0, 0.0), 6.0)])
    left, right = cut_region(ring, CutLine((0.0, 0.0), 30.0))
    assert [len(left), len(right)] == [1, 1]
    assert left[0].holes == right[0].holes == ()
    assert region_area(left[0]) == pytest.approx(54.0 * math.pi, rel=1e-12)
    left, right = cut_region(ring, CutLine((8.0, 0.0), 90.0))
    assert [len(one.holes) for one in (*left, *right)] == [1, 0]


def test_a_comb_falls_into_its_teeth():
    comb = Region(
        polygon([(0, 0), (50, 0), (50, 30), (40, 30), (40, 10), (30, 10), (30, 30), (20, 30), (20, 10), (0, 10)])
    )
    left, right = cut_region(comb, CutLine((0.0, 20.0), 0.0))
    assert sorted(region_area(one) for one in left) == pytest.approx([100.0, 100.0])
    assert sum(map(region_area, right)) == pytest.approx(region_area(comb) - 200.0)
    assert len(right) == 1
    assert spans_in(comb, CutLine((0.0, 20.0), 0.0)) == ((20.0, 30.0), (40.0, 50.0))


@pytest.mark.parametrize("x", [0.0, 10.0, 20.0, 30.0])
def test_lines_along_edges_and_through_corners(x):
    """A stair of three squares: the line lies on edges and passes through corners."""
    stair = Region(polygon([(0, 0), (30, 0), (30, 30), (20, 30), (20, 20), (10, 20), (10, 10), (0, 10)]))
    left, right = cut_region(stair, CutLine((x, 0.0), 90.0))
    areas = {0.0: (0.0, 600.0), 10.0: (100.0, 500.0), 20.0: (300.0, 300.0), 30.0: (600.0, 0.0)}
    assert (sum(map(region_area, left)), sum(map(region_area, right))) == pytest.approx(areas[x], abs=1e-9)


def test_touching_is_not_cutting():
    disc = Region(circle((0.0, 0.0), 5.0))
    for x, side in ((5.0, 0), (-5.0, 1)):
        both = cut_region(disc, CutLine((x, 0.0), 90.0))
        assert sum(map(region_area, both[side])) == pytest.approx(25.0 * math.pi, rel=1e-9)
        assert sum(map(region_area, both[1 - side])) == pytest.approx(0.0, abs=1e-4)
        assert sum(high - low for low, high in spans_in(disc, CutLine((x, 0.0), 90.0))) < 1e-3


@settings(max_examples=120, deadline=None)
@given(x=st.floats(-320, 320), y=st.floats(-200, 200), angle=st.floats(-360, 360), shrunk=st.sampled_from([0.0, 7.0]))
def test_both_sides_are_the_whole(x, y, angle, shrunk):
    (whole,) = offset_region(flower(), -shrunk) if shrunk else (flower(),)
    line = CutLine((x, y), angle)
    left, right = cut_region(whole, line)
    assert sum(map(region_area, (*left, *right))) == pytest.approx(region_area(whole), rel=1e-6)
    expected = shaped(whole).intersection(half_plane(line))
    assert shapely.union_all([shaped(one) for one in left]).symmetric_difference(expected).area < 3.0
    chord = shapely.LineString([line.point(-1e4), line.point(1e4)]).intersection(shaped(whole)).length
    assert sum(high - low for low, high in spans_in(whole, line)) == pytest.approx(chord, abs=1.0)
    for one in (*left, *right):
        for contour in (one.outer, *one.holes):
            ends = [segment.end for segment in contour.segments]
            assert [segment.start for segment in contour.segments] == [ends[-1], *ends[:-1]]


@settings(max_examples=40, deadline=None)
@given(angle=st.floats(0, 180), shift=st.floats(-100, 100))
def test_a_cubic_keeps_its_course(angle, shift):
    whole = flower()
    line = CutLine((shift, shift / 3.0), angle)
    for one in (piece for side in cut_region(whole, line) for piece in side):
        for contour in (one.outer, *one.holes):
            for segment in contour.segments:
                if isinstance(segment, Cubic):
                    assert _on_ellipse(segment.start)
                    assert _on_ellipse(segment.end)


def _on_ellipse(point: tuple[float, float]) -> bool:
    c, s = math.cos(math.radians(20.0)), math.sin(math.radians(20.0))
    u, v = c * point[0] + s * point[1], -s * point[0] + c * point[1]
    return abs(math.hypot(u / 300.0, v / 180.0) - 1.0) < 1e-5
