"""Corners against the handbook's formulas and against shapely's closing of the void."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from app.fabrication.corners import tight_corners
from geometry.arcs import circle
from geometry.build import closed, polygon, rectangle, region
from geometry.contour import Region
from geometry.curve import Arc, Line

IN = 25.4


def test_quarter_inch_cutter_in_a_square_corner():
    # V12: r 0.125 in: r2 (1 - pi/4) = 0.003353 in2 and r (sqrt 2 - 1) = 0.05178 in.
    corners = tight_corners(Region(rectangle(1000.0, 1000.0), (rectangle_hole(),)), 0.125 * IN)
    assert len(corners) == 4
    for corner in corners:
        assert corner.gap / IN == pytest.approx(0.05178, abs=1e-5)
        assert corner.area / IN**2 == pytest.approx(0.003353, abs=1e-6)
        assert corner.radius == 0.0
    assert {corner.at for corner in corners} == {(100.0, 100.0), (300.0, 100.0), (300.0, 250.0), (100.0, 250.0)}


def rectangle_hole():
    return region(rectangle(1000.0, 1000.0), [rectangle(200.0, 150.0, at=(100.0, 100.0))]).holes[0]


def test_outside_corners_and_round_ones_are_free():
    assert tight_corners(Region(rectangle(100.0, 100.0)), 3.0) == ()
    plate = region(rectangle(100.0, 100.0), [circle((50.0, 50.0), 3.1)])
    assert tight_corners(plate, 3.0) == ()


def test_a_hole_smaller_than_the_cutter_cannot_be_followed():
    plate = region(rectangle(100.0, 100.0), [circle((50.0, 50.0), 2.0)])
    found = tight_corners(plate, 3.0)
    assert [corner.radius for corner in found] == pytest.approx([2.0, 2.0])


@given(st.floats(0.5, 2.5), st.floats(20.0, 150.0))
def test_a_rounded_corner_leaves_what_closing_the_void_leaves(radius, turn):
    """A notch with straight sides under any angle, rounded: shapely's closing is the reference."""
    cutter = 3.0
    half = math.radians(180.0 - turn) / 2.0  # half the angle of the void
    depth, side = 60.0, 60.0 * math.tan(half)
    # Tip of the notch at the origin, opening upwards; tangent points of the rounding.
    reach = radius / math.tan(half)
    left = (-reach * math.sin(half), reach * math.cos(half))
    right = (-left[0], left[1])
    bulge = -math.tan(math.radians(turn) / 4.0)
    wide = side + 50.0
    outer = closed(
        [
            Line((-wide, -50.0), (wide, -50.0)),
            Line((wide, -50.0), (wide, depth)),
            Line((wide, depth), (side, depth)),
            Line((side, depth), right),
            Arc(right, left, bulge),
            Line(left, (-side, depth)),
            Line((-side, depth), (-wide, depth)),
            Line((-wide, depth), (-wide, -50.0)),
        ]
    )
    found = tight_corners(Region(outer), cutter, ignore_below=1e-6)
    assert len(found) == 1
    centre = (0.0, radius / math.sin(half))
    bend = math.radians(turn) / 2.0
    arc = [
        (centre[0] + radius * math.sin(t), centre[1] - radius * math.cos(t))
        for t in (bend - 2.0 * bend * k / 400 for k in range(401))
    ]
    solid = shapely.Polygon(
        [(-wide, -50), (wide, -50), (wide, depth), (side, depth), *arc, (-side, depth), (-wide, depth)]
    )
    void = shapely.box(-wide, -49.0, wide, depth + 40.0) - solid
    # The cutter, wider than the rounding, touches the walls only, so the same notch left sharp bounds where it goes. A
    # notch rounded in 400 chords would not do: buffers simplify what they are given by up to 1 % of the distance, which
    # turns the ends of the walls and costs up to 2 % of the area.
    sharp = shapely.Polygon([(side, depth), (0.0, 0.0), (-side, depth)])
    reached = sharp.buffer(-cutter, quad_segs=1024).buffer(cutter, quad_segs=1024)
    near = ((void & sharp) - reached) & shapely.box(-12.0, -12.0, 12.0, 20.0)
    assert found[0].area == pytest.approx(near.area, rel=2e-4)
    assert found[0].at == pytest.approx((0.0, centre[1] - radius), abs=1e-6)
    assert found[0].gap == pytest.approx(shapely.Point(found[0].at).distance(reached), abs=1e-3)


def test_small_bends_are_not_worth_a_word():
    bent = polygon([(0, 0), (100, 0), (100, 100), (50, 99), (0, 100)])
    assert tight_corners(Region(bent), 3.175, ignore_below=0.05) == ()
    assert len(tight_corners(Region(bent), 3.175, ignore_below=0.0)) == 1
