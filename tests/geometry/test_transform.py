"""Affine maps of curves."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.arcs import arc_radius, circle, point_at
from geometry.build import closed, rectangle, region
from geometry.curve import Arc, Cubic, Line
from geometry.errors import GeometryError
from geometry.measure import contour_area, contour_bounds, contour_length, region_area, region_perimeter
from geometry.transform import (
    IDENTITY,
    Affine,
    mirror_x,
    rotation,
    scaling,
    transform_contour,
    transform_region,
    translation,
)

numbers = st.floats(-3, 3)
shape = closed([Line((0, 0), (40, 0)), Arc((40, 0), (40, 30), 0.6), Cubic((40, 30), (20, 60), (5, 10), (0, 0))])


def test_the_order_of_numbers_is_that_of_svg_matrices() -> None:
    """W3C SVG 1.1, section 7.4: x' = a x + c y + e, y' = b x + d y + f."""
    assert Affine(2, 3, 5, 7, 11, 13).apply((1, 10)) == (2 + 50 + 11, 3 + 70 + 13)
    assert Affine(2, 3, 5, 7, 11, 13).apply_array([(1, 10), (0, 0)]).tolist() == [[63, 86], [11, 13]]


def test_then_applies_the_first_first() -> None:
    assert translation(1, 0).then(rotation(90)).apply((0, 0)) == (0, 1)
    assert rotation(90).then(translation(1, 0)).apply((0, 0)) == (1, 0)


@pytest.mark.parametrize(
    ("degrees", "image"), [(0, (1, 0)), (90, (0, 1)), (180, (-1, 0)), (270, (0, -1)), (-90, (0, -1))]
)
def test_quarter_turns_are_exact(degrees: float, image: tuple[float, float]) -> None:
    assert rotation(degrees).apply((1, 0)) == image


@given(numbers, numbers, numbers, numbers, numbers, numbers)
def test_the_inverse_undoes(a: float, b: float, c: float, d: float, e: float, f: float) -> None:
    affine = Affine(a, b, c, d, e, f)
    if abs(affine.determinant) > 1e-2:
        assert affine.then(affine.inverse()).apply((3, -4)) == pytest.approx((3, -4), abs=1e-6)


def test_flattening_maps_have_no_inverse() -> None:
    with pytest.raises(GeometryError, match="line"):
        Affine(1, 1, 1, 1, 0, 0).inverse()


@pytest.mark.parametrize(
    ("affine", "similar"),
    [
        (IDENTITY, True), (rotation(33), True), (mirror_x(), True), (scaling(2), True), (scaling(2, -2), True),
        (rotation(12).then(mirror_x()).then(scaling(0.3)), True), (scaling(2, 1), False),
        (Affine(1, 0, 1, 1, 0, 0), False),
    ],
)  # fmt: skip
def test_similarities_are_recognised(affine: Affine, similar: bool) -> None:
    assert affine.is_similarity is similar


@given(st.floats(-720, 720), st.floats(-500, 500), st.floats(-500, 500), st.booleans())
def test_rigid_motion_keeps_area_and_length(degrees: float, dx: float, dy: float, mirrored: bool) -> None:
    affine = rotation(degrees).then(translation(dx, dy))
    moved = transform_contour(shape, mirror_x().then(affine) if mirrored else affine)
    assert contour_area(moved) == pytest.approx((-1 if mirrored else 1) * contour_area(shape), rel=1e-9)
    assert contour_length(moved) == pytest.approx(contour_length(shape), rel=1e-9)
    assert isinstance(moved.segments[1], Arc)


def test_a_mirrored_region_still_runs_the_right_way() -> None:
    ring = region(rectangle(10, 6), [circle((3, 3), 1)])
    mirrored = transform_region(ring, mirror_x())
    assert contour_area(mirrored.outer) == 60
    assert contour_area(mirrored.holes[0]) == pytest.approx(-math.pi)
    assert contour_bounds(mirrored.holes[0]).min_x == pytest.approx(-4)
    assert region_perimeter(mirrored) == pytest.approx(region_perimeter(ring))


@given(st.floats(0.05, 20), st.floats(0.05, 20), st.floats(-180, 180), st.floats(0.05, 400))
def test_stretched_circles_are_ellipses_within_a_ten_thousandth(
    sx: float, sy: float, turn: float, radius: float
) -> None:
    affine = scaling(sx, sy).then(rotation(turn))
    back = affine.inverse()
    image = transform_contour(circle((0, 0), radius), affine)
    for segment in image.segments:
        for i in range(9):
            x, y = back.apply(point_at(segment, i / 8))
            # Off by this much before stretching, so by at most the larger scale times as much after.
            assert abs(math.hypot(x, y) - radius) * min(sx, sy) <= 1.05e-4
    for one, two in zip(image.segments, image.segments[1:] + image.segments[:1], strict=True):
        assert one.end == two.start


def test_a_stretched_arc_keeps_its_ends_and_area() -> None:
    affine = Affine(2, 0, 0.5, 1, 3, 4)
    stretched = transform_region(region(shape), affine)
    assert region_area(stretched) == pytest.approx(2 * contour_area(shape), rel=1e-6)
    assert not any(isinstance(segment, Arc) for segment in stretched.outer.segments)


def test_scaling_an_arc_scales_its_radius() -> None:
    arc = transform_contour(closed([Arc((0, 0), (10, 0), 0.5), Line((10, 0), (0, 0))]), scaling(25.4)).segments[0]
    assert isinstance(arc, Arc)
    assert arc_radius(arc) == pytest.approx(6.25 * 25.4)
