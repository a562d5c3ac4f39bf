"""Areas, lengths and bounds against closed formulas and the trade's check values (V..., lengths in inches there)."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import ellipe

from geometry.arcs import arc_from_centre, circle, ellipse_arc, point_at
from geometry.build import closed, polygon, rectangle, region
from geometry.contour import Contour
from geometry.curve import Arc, Cubic, Line
from geometry.flatten import flatten_contour
from geometry.measure import (
    Bounds,
    bounds_of_each,
    contour_area,
    contour_bounds,
    contour_length,
    point_in_region,
    region_area,
    region_bounds,
    region_perimeter,
    segment_length,
)
from tests.geometry.curved import sampled, star_contours

coordinates = st.floats(-100, 100)
points = st.tuples(coordinates, coordinates)


def test_bulge_a_half_on_a_chord_of_ten() -> None:
    """Trade check V36: arc 11.59119, segment area 17.47247."""
    arc = Arc((0, 0), (10, 0), 0.5)
    assert segment_length(arc) == pytest.approx(11.59119, abs=1e-5)
    assert contour_area(closed([arc, Line((10, 0), (0, 0))])) == pytest.approx(17.47247, abs=1e-5)
    assert contour_bounds(Contour((arc,), is_closed=False)) == Bounds(0, -2.5, 10, 0)


@pytest.mark.parametrize(("a", "b", "perimeter"), [(12, 6, 58.130689), (3, 2, 15.865440), (10, 5, 48.442241)])
def test_ellipse_perimeters(a: float, b: float, perimeter: float) -> None:
    """Trade checks V33 and V34, and 4 a E(e²)."""
    ellipse = closed(ellipse_arc((0, 0), a, b, 30, 10, 360, tolerance=1e-9))
    assert contour_length(ellipse) == pytest.approx(perimeter, abs=1e-5)
    assert contour_length(ellipse) == pytest.approx(4 * a * ellipe(1 - (b / a) ** 2), rel=1e-8)
    assert contour_area(ellipse) == pytest.approx(math.pi * a * b, rel=1e-8)


def test_letter_o_of_24_by_12() -> None:
    """Trade check V23: area 339.292, total edge 113.097."""
    letter = region(circle((0, 0), 12), [circle((0, 0), 6)])
    assert region_area(letter) == pytest.approx(339.292, abs=1e-3)
    assert region_perimeter(letter) == pytest.approx(113.097, abs=1e-3)


def test_retainer_ring_of_24_with_1_25_flange() -> None:
    """Trade check V18: area 89.339."""
    assert region_area(region(circle((5, 5), 12), [circle((5, 5), 10.75)])) == pytest.approx(89.339, abs=1e-3)


def test_textbook_shapes() -> None:
    """Trade notes, section 9, extra shapes."""
    quarter = 0.41421356237309503
    rounded = closed(
        [
            Line((2, 0), (18, 0)), Arc((18, 0), (20, 2), quarter), Line((20, 2), (20, 8)),
            Arc((20, 8), (18, 10), quarter), Line((18, 10), (2, 10)), Arc((2, 10), (0, 8), quarter),
            Line((0, 8), (0, 2)), Arc((0, 2), (2, 0), quarter),
        ]
    )  # fmt: skip
    assert contour_area(rounded) == pytest.approx(196.566, abs=1e-3)
    assert contour_length(rounded) == pytest.approx(56.566, abs=1e-3)
    stadium = closed([Line((0, 0), (10, 0)), Arc((10, 0), (10, 4), 1), Line((10, 4), (0, 4)), Arc((0, 4), (0, 0), 1)])
    assert contour_area(stadium) == pytest.approx(52.566, abs=1e-3)
    assert contour_length(stadium) == pytest.approx(32.566, abs=1e-3)
    hexagon = polygon([(6 * math.cos(math.radians(60 * i)), 6 * math.sin(math.radians(60 * i))) for i in range(6)])
    assert contour_area(hexagon) == pytest.approx(93.531, abs=1e-3)
    assert contour_length(hexagon) == pytest.approx(36)
    letter_d = closed(
        [Line((0, -12), (8, -12)), *ellipse_arc((8, 0), 10, 12, 0, -90, 180, 1e-8), Line((8, 12), (0, 12)),
         Line((0, 12), (0, -12))]
    )  # fmt: skip
    assert contour_area(letter_d) == pytest.approx(380.496, abs=1e-3)


@given(points, points, points, points)
def test_cubics_against_numerical_integration(p0: tuple, p1: tuple, p2: tuple, p3: tuple) -> None:
    control = np.array([p0, p1, p2, p3])

    def curve(t: float) -> tuple[np.ndarray, np.ndarray]:
        u = 1 - t
        point = np.array([u**3, 3 * u * u * t, 3 * u * t * t, t**3]) @ control
        return point, 3 * np.array([u * u, 2 * u * t, t * t]) @ np.diff(control, axis=0)

    def swept(t: float) -> float:
        (x, y), (dx, dy) = curve(t)
        return 0.5 * ((x - p0[0]) * dy - (y - p0[1]) * dx)

    cubic = Cubic(p0, p1, p2, p3)
    area, _ = quad(swept, 0, 1)
    assert contour_area(Contour((cubic,), is_closed=False)) == pytest.approx(area, abs=1e-6)
    # Chords of a very fine polyline: a little short, never long.
    t = np.linspace(0, 1, 20001)[:, None]
    rows = (
        (1 - t) ** 3 * control[0]
        + 3 * (1 - t) ** 2 * t * control[1]
        + 3 * (1 - t) * t**2 * control[2]
        + t**3 * control[3]
    )
    chords = float(np.hypot(*np.diff(rows, axis=0).T).sum())
    assert segment_length(cubic) == pytest.approx(chords, rel=1e-6, abs=1e-9)
    bounds = contour_bounds(Contour((cubic,), is_closed=False))
    assert (bounds.min_x, bounds.min_y) == pytest.approx(rows.min(axis=0), abs=1e-4)
    assert (bounds.max_x, bounds.max_y) == pytest.approx(rows.max(axis=0), abs=1e-4)


@given(points, st.floats(0.01, 1000), st.floats(-720, 720), st.floats(1, 359))
def test_arcs_against_the_circle_formulas(centre: tuple, radius: float, start: float, sweep: float) -> None:
    arc = arc_from_centre(centre, radius, start, sweep)
    assert isinstance(arc, Arc)
    theta = math.radians(sweep)
    assert segment_length(arc) == pytest.approx(radius * theta, rel=1e-9)
    lid = Contour((arc, Line(arc.end, arc.start)))
    assert contour_area(lid) == pytest.approx(radius**2 * (theta - math.sin(theta)) / 2, rel=1e-6, abs=1e-8)
    bounds = contour_bounds(Contour((arc,), is_closed=False))
    dense = np.array([point_at(arc, i / 2000) for i in range(2001)])
    slack = radius * (theta / 4000) ** 2 + 1e-9
    assert (bounds.min_x, bounds.min_y) == pytest.approx(dense.min(axis=0), abs=slack)
    assert (bounds.max_x, bounds.max_y) == pytest.approx(dense.max(axis=0), abs=slack)


def test_flat_arcs_have_the_area_of_the_parabola() -> None:
    """A segment of small rise s over chord c has area 2/3 c s; the formula with θ - sin θ would lose all digits."""
    arc = Arc((0, 0), (1000, 0), 1e-7)
    assert contour_area(closed([arc, Line((1000, 0), (0, 0))])) == pytest.approx(2 / 3 * 1000 * 500 * 1e-7, rel=1e-9)


def test_far_from_the_origin_no_digits_are_lost() -> None:
    square = rectangle(1, 1, at=(1e9, -1e9))
    assert contour_area(square) == 1


def test_a_cusp_has_the_length_of_its_two_halves() -> None:
    """x = 6t(1-t) - ..., y along a semicubical cusp: both halves are equal by symmetry, to the stated accuracy."""
    cusp = Cubic((0, 0), (1, 1), (0, 1), (1, 0))
    t = np.linspace(0, 1, 400001)[:, None]
    c = np.array([cusp.start, cusp.control1, cusp.control2, cusp.end])
    rows = (1 - t) ** 3 * c[0] + 3 * (1 - t) ** 2 * t * c[1] + 3 * (1 - t) * t**2 * c[2] + t**3 * c[3]
    assert segment_length(cusp) == pytest.approx(float(np.hypot(*np.diff(rows, axis=0).T).sum()), rel=1e-8)


def test_bounds_join() -> None:
    both = Bounds(0, 0, 1, 1).union(Bounds(2, -1, 3, 0.5))
    assert both == Bounds(0, -1, 3, 1)
    assert (both.width, both.height, both.centre) == (3, 2, (1.5, 0))
    assert region_bounds(region(circle((1, 1), 2))) == Bounds(-1, -1, 3, 3)


def test_inside_follows_the_true_curve() -> None:
    ring = region(circle((0, 0), 10), [circle((0, 0), 5)])
    assert point_in_region((9.999, 0), ring)
    assert point_in_region((0, -5.001), ring)
    assert not point_in_region((0, 4.999), ring)
    assert not point_in_region((7.1, 7.1), ring)
    assert not point_in_region((100, 0), ring)


def test_inside_agrees_with_polygons_on_glyphs(glyphs: tuple) -> None:
    rng = np.random.default_rng(7)
    for glyph in glyphs[::9]:
        for shape in glyph.regions:
            fine = shapely.Polygon(
                flatten_contour(shape.outer, 1e-3), [flatten_contour(hole, 1e-3) for hole in shape.holes]
            )
            bounds = region_bounds(shape)
            spots = rng.uniform((bounds.min_x, bounds.min_y), (bounds.max_x, bounds.max_y), (60, 2))
            clear = shapely.distance(fine.boundary, shapely.points(spots)) > 2e-3
            assert clear.sum() > 50
            for spot, expected in zip(spots[clear], shapely.contains_xy(fine, spots[clear]), strict=True):
                assert point_in_region(tuple(spot), shape) == expected, glyph.name


@given(st.lists(star_contours(), max_size=4))
def test_bounds_of_many_contours_are_those_of_each(contours: list[Contour]) -> None:
    assert bounds_of_each(contours).shape == (len(contours), 4)
    contours = contours * 20  # enough for working them out together
    boxes = bounds_of_each(contours)
    for contour, box in zip(contours, boxes, strict=True):
        points = sampled(contour)
        assert (box[:2] <= points.min(axis=0) + 1e-9).all()
        assert (points.max(axis=0) - 1e-9 <= box[2:]).all()
        alone = contour_bounds(contour)
        assert box == pytest.approx([alone.min_x, alone.min_y, alone.max_x, alone.max_y], abs=1e-9)
