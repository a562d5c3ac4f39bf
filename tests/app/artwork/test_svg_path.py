"""Path data against the grammar and the worked definitions of W3C SVG 1.1."""

from __future__ import annotations

import math

import pytest

from app.artwork.svg_path import arc_segments, centre_arc, parse_path
from geometry.arcs import arc_centre, arc_radius, arc_sweep, point_at
from geometry.curve import Arc, Cubic, Line


def only(data: str):
    contours, error = parse_path(data)
    assert error is None
    assert len(contours) == 1
    return contours[0]


def test_the_triangle_of_the_specification() -> None:
    # SVG 1.1, 8.3.3, example triangle01: "M 100 100 L 300 100 L 200 300 z".
    contour = only("M 100 100 L 300 100 L 200 300 z")
    assert contour.is_closed
    assert [segment.start for segment in contour.segments] == [(100, 100), (300, 100), (200, 300)]
    assert contour.segments[-1].end == (100, 100)


@pytest.mark.parametrize(
    "data",
    ["M100-200L300,4e1", "M 100 -200 300 40", "m100-200 200 240", "M100-200l200 240", "  M1e2-2E2L300.0,40."],
)
def test_numbers_need_no_separators(data: str) -> None:
    assert only(data).segments == (Line((100, -200), (300, 40)),)


def test_points_run_together() -> None:
    # SVG 1.1, 8.3.9: "M 0.6.5" is two numbers, 0.6 and 0.5.
    assert only("M.6.5L1.5.5").segments == (Line((0.6, 0.5), (1.5, 0.5)),)


def test_arc_flags_need_no_separators() -> None:
    spaced, packed = only("M0 0 A 5 5 0 1 1 6 8"), only("M0 0a5 5 0 116 8")
    assert spaced == packed


def test_moveto_after_close_starts_from_the_first_point() -> None:
    contours, error = parse_path("M10 10h5v5z m20 0 h5 v5 z l0 9 l5 0")
    assert error is None
    assert [contour.segments[0].start for contour in contours] == [(10, 10), (30, 10), (30, 10)]
    assert not contours[2].is_closed


def test_smooth_commands_reflect_only_their_own_kind() -> None:
    # SVG 1.1, 8.3.6: S after anything but C or S takes the current point; 8.3.7 the same for T.
    contour = only("M0 0 C 0 10 10 10 10 0 S 20 -10 20 0 T 30 0")
    second = contour.segments[1]
    assert isinstance(second, Cubic)
    assert second.control1 == (10, -10)
    third = contour.segments[2]
    assert isinstance(third, Cubic)
    assert third.control1 == (20, 0)


def test_quadratic_is_raised_exactly() -> None:
    (cubic,) = only("M0 0 Q 50 100 100 0").segments
    for t in (0.1, 0.5, 0.9):
        x, y = point_at(cubic, t)
        assert (x, y) == pytest.approx((2 * t * (1 - t) * 50 + t * t * 100, 2 * t * (1 - t) * 100), abs=1e-12)


@pytest.mark.parametrize(
    ("large", "sweep", "centre", "turn"),
    [
        # The four arcs of SVG 1.1, 8.3.8 (figure arcs02) on a circle: r 100, from (0, 0) to (100, 100); the two
        # circles through both have their centres at (100, 0) and (0, 100).
        (False, True, (0.0, 100.0), 90.0),
        (True, False, (0.0, 100.0), -270.0),
        (False, False, (100.0, 0.0), -90.0),
        (True, True, (100.0, 0.0), 270.0),
    ],
)
def test_arc_flags_choose_the_arc(large: bool, sweep: bool, centre: tuple[float, float], turn: float) -> None:
    segments = arc_segments((0, 0), (100, 100), 100, 100, 0, large, sweep)
    assert all(isinstance(segment, Arc) for segment in segments)
    assert sum(arc_sweep(segment) for segment in segments) == pytest.approx(turn, abs=1e-9)
    for segment in segments:
        assert arc_centre(segment) == pytest.approx(centre, abs=1e-9)
        assert arc_radius(segment) == pytest.approx(100, abs=1e-9)
    assert segments[-1].end == (100, 100)


@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("sweep", [False, True])
@pytest.mark.parametrize("rotation", [0.0, 30.0, -75.0])
def test_centre_by_the_implementation_notes(large: bool, sweep: bool, rotation: float) -> None:
    """The centre form put back through SVG 1.1, F.6.4 (centre to endpoint) gives the ends and the flags again."""
    start, end, rx, ry = (10.0, 20.0), (55.0, -12.0), 60.0, 35.0
    arc = centre_arc(start, end, rx, ry, rotation, large, sweep)
    assert arc is not None
    phi = math.radians(rotation)

    def at(degrees: float) -> tuple[float, float]:
        x, y = arc.rx * math.cos(math.radians(degrees)), arc.ry * math.sin(math.radians(degrees))
        return (
            math.cos(phi) * x - math.sin(phi) * y + arc.centre[0],
            math.sin(phi) * x + math.cos(phi) * y + arc.centre[1],
        )

    assert at(arc.start) == pytest.approx(start, abs=1e-9)
    assert at(arc.start + arc.sweep) == pytest.approx(end, abs=1e-9)
    assert (abs(arc.sweep) > 180.0) == large
    assert (arc.sweep > 0.0) == sweep


def test_elliptical_arc_stays_on_the_ellipse() -> None:
    # SVG 1.1, 8.3.8, example arcs01: "a25,50 -30 0,1 50,-25", here from the origin.
    arc = centre_arc((0, 0), (50, -25), 25, 50, -30, False, True)
    assert arc is not None
    phi = math.radians(-30)
    for segment in arc_segments((0, 0), (50, -25), 25, 50, -30, False, True, tolerance=1e-4):
        for t in (0.0, 0.25, 0.5, 0.75, 1.0):
            x, y = point_at(segment, t)
            dx, dy = x - arc.centre[0], y - arc.centre[1]
            u = (math.cos(phi) * dx + math.sin(phi) * dy) / arc.rx
            v = (-math.sin(phi) * dx + math.cos(phi) * dy) / arc.ry
            assert abs(math.hypot(u, v) - 1.0) * arc.ry < 2e-4


def test_out_of_range_radii_are_mended() -> None:
    # SVG 1.1, F.6.6: no radius is a line; too small ones are scaled up until the ends are just reached.
    assert arc_segments((0, 0), (10, 0), 0, 5, 0, False, True) == (Line((0, 0), (10, 0)),)
    assert arc_segments((0, 0), (0, 0), 5, 5, 0, False, True) == ()
    (half,) = arc_segments((0, 0), (10, 0), -1, 1, 0, False, True)
    assert half == Arc((0, 0), (10, 0), pytest.approx(1.0))
    stretched = centre_arc((0, 0), (10, 0), 1, 2, 0, False, True)
    assert stretched is not None
    assert (stretched.rx, stretched.ry, *stretched.centre) == pytest.approx((5, 10, 5, 0))


@pytest.mark.parametrize(
    ("data", "kept"),
    [
        ("M0 0L10 0 L", 1),
        ("M0 0L10 0 10", 1),
        ("M0 0L10 0 K 5", 1),
        ("M0 0L10 0A5 5 0 2 0 20 0", 1),
        ("M0 0L10 0L1e999 0", 1),
        ("L10 10", 0),
        ("M0 0 l1e308 0 l1e308 0", 1),
    ],
)
def test_error_keeps_what_came_before(data: str, kept: int) -> None:
    # SVG 1.1, F.2: render up to the first error.
    contours, error = parse_path(data)
    assert error is not None
    assert sum(len(contour.segments) for contour in contours) == kept


def test_empty_data_draws_nothing_and_is_no_error() -> None:
    assert parse_path("") == ((), None)
    assert parse_path("M5 5") == ((), None)
    assert parse_path("M5 5z") == ((), None)
