"""Contours and regions built and checked."""

import math

import pytest

from geometry.arcs import circle
from geometry.build import closed, open_chain, polygon, rectangle, region, reversed_contour
from geometry.contour import Contour
from geometry.curve import Arc, Cubic, Line
from geometry.errors import InvalidContour, OpenContour
from geometry.measure import contour_area


def test_polygons_drop_repeated_points_and_close() -> None:
    square = polygon([(0, 0), (0, 0), (4, 0), (4, 4), (0, 4), (0, 0)])
    assert len(square.segments) == 4
    assert square.is_closed
    assert contour_area(square) == 16
    assert polygon([[0, 0], [1, 0], [0, 1]]).segments[0] == Line((0.0, 0.0), (1.0, 0.0))


def test_rectangles_are_anticlockwise_from_their_corner() -> None:
    assert [s.start for s in rectangle(3, 2, at=(1, 1)).segments] == [(1, 1), (4, 1), (4, 3), (1, 3)]


@pytest.mark.parametrize(
    "points", [[], [(0, 0)], [(0, 0), (1, 1)], [(0, 0), (1, 0), (0, 0)], [(0, 0), (math.nan, 0), (1, 1)]]
)
def test_polygons_without_three_points_are_refused(points: list[tuple[float, float]]) -> None:
    with pytest.raises(InvalidContour):
        polygon(points)


@pytest.mark.parametrize(("width", "height"), [(0, 1), (1, -1), (math.nan, 1), (math.inf, 1)])
def test_rectangles_without_extent_are_refused(width: float, height: float) -> None:
    with pytest.raises(InvalidContour):
        rectangle(width, height)


def test_ends_within_a_nanometre_are_joined_exactly() -> None:
    contour = closed([Line((0, 0), (1, 0)), Line((1, 1e-9), (1, 1)), Arc((1, 1), (1e-8, 0), 0.3)])
    for one, two in zip(contour.segments, contour.segments[1:] + contour.segments[:1], strict=True):
        assert one.end == two.start


def test_gaps_are_refused_with_their_size_and_place() -> None:
    with pytest.raises(InvalidContour, match=r"0\.5 mm.*\(1\.00, 0\.50\)"):
        closed([Line((0, 0), (1, 0)), Line((1, 0.5), (0, 0))])
    with pytest.raises(OpenContour) as caught:
        closed([Line((0, 0), (1, 0)), Line((1, 0), (0, 0.25))])
    assert (caught.value.gap, caught.value.at) == (0.25, (0, 0.25))


def test_segments_without_length_are_left_out() -> None:
    dot = Cubic((1, 0), (1, 0), (1, 0), (1, 0))
    chain = open_chain([Line((0, 0), (1, 0)), Line((1, 0), (1, 0)), dot, Line((1, 0), (2, 0))])
    assert len(chain.segments) == 2
    assert not chain.is_closed
    with pytest.raises(InvalidContour, match="at least one"):
        open_chain([dot])


def test_a_cubic_loop_is_a_contour_by_itself() -> None:
    loop = closed([Cubic((0, 0), (3, 1), (-3, 1), (0, 0))])
    assert len(loop.segments) == 1


@pytest.mark.parametrize(
    "segment",
    [Line((0, 0), (math.inf, 0)), Arc((0, 0), (1, 0), math.nan), Cubic((0, 0), (math.nan, 0), (1, 1), (1, 0))],
)
def test_values_that_are_no_numbers_are_refused(segment: Line | Arc | Cubic) -> None:
    with pytest.raises(InvalidContour, match="finite"):
        open_chain([segment])


def test_reversing_keeps_the_curve_and_turns_the_area() -> None:
    contour = closed([Arc((0, 0), (4, 0), 0.4), Cubic((4, 0), (5, 2), (1, 3), (0, 2)), Line((0, 2), (0, 0))])
    assert contour_area(reversed_contour(contour)) == pytest.approx(-contour_area(contour))
    assert reversed_contour(reversed_contour(contour)) == contour


def test_regions_orient_their_contours() -> None:
    ring = region(reversed_contour(circle((0, 0), 5)), [circle((0, 0), 2)])
    assert contour_area(ring.outer) > 0
    assert contour_area(ring.holes[0]) < 0


def test_regions_refuse_open_and_flat_contours() -> None:
    with pytest.raises(OpenContour):
        region(Contour((Line((0, 0), (1, 0)), Line((1, 0), (1, 1))), is_closed=False))
    with pytest.raises(InvalidContour, match="no area"):
        region(Contour((Line((0, 0), (1, 0)), Line((1, 0), (0, 0)))))
