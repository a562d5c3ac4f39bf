"""Arcs and curves at a parameter.

Bulge relations as in DXF and common practice: bulge = tan(θ/4), R = c (1 + b²) / 4b.
"""

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from geometry.arcs import (
    arc_centre,
    arc_from_centre,
    arc_radius,
    arc_sweep,
    circle,
    ellipse_arc,
    point_at,
    split_segment,
    tangent_at,
)
from geometry.curve import Arc, Cubic, Line
from geometry.errors import InvalidContour

coordinates = st.floats(-1000, 1000)
points = st.tuples(coordinates, coordinates)
bulges = st.floats(-8, 8).filter(lambda b: abs(b) > 1e-4)


@st.composite
def segments(draw: st.DrawFn) -> Line | Arc | Cubic:
    start, end = draw(points), draw(points)
    assume(math.dist(start, end) > 0.1)
    kind = draw(st.sampled_from(["line", "arc", "cubic"]))
    if kind == "line":
        return Line(start, end)
    if kind == "arc":
        return Arc(start, end, draw(bulges))
    return Cubic(start, draw(points), draw(points), end)


@pytest.mark.parametrize(
    ("degrees", "bulge"), [(30, 0.131652), (60, 0.267949), (90, 0.414214), (180, 1.0), (270, 2.414214)]
)
def test_bulge_of_common_sweeps(degrees: float, bulge: float) -> None:
    """Trade check V35."""
    arc = arc_from_centre((3, 4), 7, 20, degrees)
    assert isinstance(arc, Arc)
    assert arc.bulge == pytest.approx(bulge, abs=1e-6)
    assert arc_sweep(arc) == pytest.approx(degrees, abs=1e-9)
    assert arc_centre(arc) == pytest.approx((3, 4), abs=1e-9)
    assert arc_radius(arc) == pytest.approx(7, abs=1e-9)


def test_radius_and_apex_of_bulge_a_half() -> None:
    """Trade check V36: R 6.25, apex at (5, -2.5) below an anticlockwise arc drawn left to right."""
    arc = Arc((0, 0), (10, 0), 0.5)
    assert arc_radius(arc) == pytest.approx(6.25)
    assert point_at(arc, 0.5) == pytest.approx((5, -2.5))
    assert arc_centre(arc) == pytest.approx((5, 3.75))
    assert tangent_at(arc, 0.5) == pytest.approx((1, 0))


def test_arcs_start_and_end_exactly_on_the_axes() -> None:
    arc = arc_from_centre((0, 0), 5, 90, 180)
    assert (arc.start, arc.end) == ((0, 5), (0, -5))
    assert circle((1, 2), 3).segments == (Arc((4, 2), (-2, 2), 1.0), Arc((-2, 2), (4, 2), 1.0))


def test_a_full_turn_is_two_half_circles_either_way() -> None:
    for sweep in (360.0, -360.0):
        first, second = arc_from_centre((0, 0), 2, 30, sweep)
        assert first.end == second.start
        assert second.end == first.start
        assert arc_sweep(first) == arc_sweep(second) == pytest.approx(sweep / 2)


@pytest.mark.parametrize(("radius", "sweep"), [(0, 90), (-1, 90), (math.nan, 90), (1, 0), (1, 361), (1, math.nan)])
def test_impossible_arcs_are_refused(radius: float, sweep: float) -> None:
    with pytest.raises(InvalidContour):
        arc_from_centre((0, 0), radius, 0, sweep)
    with pytest.raises(InvalidContour):
        ellipse_arc((0, 0), radius, 1, 0, 0, sweep)


@given(
    st.floats(0.1, 500),
    st.floats(0.1, 500),
    st.floats(-360, 360),
    st.floats(-360, 360),
    st.floats(1, 360),
    st.booleans(),
)
def test_ellipse_cubics_stay_within_tolerance(
    rx: float, ry: float, turn: float, start: float, sweep: float, backwards: bool
) -> None:
    cubics = ellipse_arc((1, 2), rx, ry, turn, start, -sweep if backwards else sweep, tolerance=1e-3)
    cosine, sine = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    for cubic in cubics:
        for i in range(11):
            x, y = point_at(cubic, i / 10)
            u, v = cosine * (x - 1) + sine * (y - 2), -sine * (x - 1) + cosine * (y - 2)
            # |implicit| / |gradient| is the distance to first order.
            value = (u / rx) ** 2 + (v / ry) ** 2 - 1
            gradient = 2 * math.hypot(u / rx**2, v / ry**2)
            assert abs(value) / gradient <= 1.01e-3
    for one, two in pairwise(cubics):
        assert one.end == two.start
    if sweep == 360:
        assert cubics[0].start == cubics[-1].end


@given(segments(), st.floats(0.01, 0.99), st.floats(0, 1))
def test_halves_of_a_split_run_along_the_whole(segment: Line | Arc | Cubic, t: float, u: float) -> None:
    first, second = split_segment(segment, t)
    assert first.start == segment.start
    assert first.end == second.start
    assert second.end == segment.end
    assert point_at(first, u) == pytest.approx(point_at(segment, t * u), abs=1e-6)
    assert point_at(second, u) == pytest.approx(point_at(segment, t + (1 - t) * u), abs=1e-6)


@given(segments(), st.floats(0.05, 0.95))
def test_tangents_point_along_the_curve(segment: Line | Arc | Cubic, t: float) -> None:
    step = 1e-5
    (x0, y0), (x1, y1) = point_at(segment, t - step), point_at(segment, t + step)
    size = math.hypot(x1 - x0, y1 - y0)
    assume(size > 1e-4)  # near a cusp a difference says little
    tx, ty = tangent_at(segment, t)
    assert (tx * (x1 - x0) + ty * (y1 - y0)) / size == pytest.approx(1, abs=1e-3)
    assert math.hypot(tx, ty) == pytest.approx(1)


def test_tangents_where_the_derivative_vanishes() -> None:
    doubled = Cubic((0, 0), (0, 0), (1, 1), (2, 1))
    assert tangent_at(doubled, 0) == pytest.approx((math.sqrt(0.5), math.sqrt(0.5)))
    assert tangent_at(Cubic((0, 0), (0, 1), (2, 1), (2, 1)), 1) == pytest.approx((1, 0))
    assert tangent_at(Cubic((0, 0), (0, 0), (3, 4), (3, 4)), 0.0) == pytest.approx((0.6, 0.8))
    assert tangent_at(Cubic((1, 1), (1, 1), (1, 1), (1, 1)), 0.3) == (0, 0)


@pytest.mark.parametrize("t", [0, 1, -0.1, 1.1, math.nan])
def test_splitting_at_an_end_is_refused(t: float) -> None:
    with pytest.raises(ValueError):
        split_segment(Line((0, 0), (1, 0)), t)


def test_flat_arcs_keep_their_digits() -> None:
    arc = Arc((0, 0), (1000, 0), 1e-9)  # radius 2.5e11 mm
    assert point_at(arc, 0.5) == pytest.approx((500, -5e-7), abs=1e-9)
