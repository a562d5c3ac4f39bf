"""Widths of strokes and gaps, on shapes whose widths are known."""

from __future__ import annotations

import math

import pytest

from app.fabrication.walls import Across, Walls
from app.fabrication.walls import opposed_walls as of_outline
from geometry.arcs import circle
from geometry.build import polygon, rectangle, region
from geometry.contour import Region
from geometry.flatten import flatten_region
from geometry.transform import rotation, transform_region


def opposed_walls(shape: Region, across: Across, *, up_to: float) -> Walls:
    return of_outline(flatten_region(shape, 0.1), across, up_to=up_to)


def test_a_bar_is_as_wide_as_it_is():
    walls = opposed_walls(Region(rectangle(400.0, 30.0)), Across.MATERIAL, up_to=100.0)
    assert walls.total == pytest.approx(860.0)
    width, where, length = walls.below(50.0)
    assert width == pytest.approx(30.0)
    assert where[1] == pytest.approx(15.0)
    assert length == pytest.approx(800.0)
    assert walls.below(30.0) is None


@pytest.mark.parametrize("turn", [0.0, 17.0, 45.0, 90.0])
def test_an_o_is_as_wide_all_round(turn):
    ring = transform_region(region(circle((0.0, 0.0), 304.8), [circle((0.0, 0.0), 152.4)]), rotation(turn))
    walls = opposed_walls(ring, Across.MATERIAL, up_to=200.0)
    width, _, length = walls.below(160.0)
    assert width == pytest.approx(152.4, abs=0.3)
    assert length == pytest.approx(2.0 * math.pi * (304.8 + 152.4), rel=0.01)
    gap = opposed_walls(ring, Across.GAP, up_to=310.0).below(306.0)
    assert gap[0] == pytest.approx(304.8, abs=0.3)
    assert gap[2] == pytest.approx(2.0 * math.pi * 152.4, rel=0.01)


def test_the_narrow_place_is_found_and_measured():
    # A bar 60 wide with a waist 20 wide and 80 long.
    below = [(0, 0), (200, 0), (200, 20), (280, 20), (280, 0), (480, 0)]
    waist = polygon([*below, *((x, 60 - y) for x, y in reversed(below))])
    width, where, length = opposed_walls(Region(waist), Across.MATERIAL, up_to=100.0).below(38.1)
    assert width == pytest.approx(20.0)
    assert 200.0 <= where[0] <= 280.0
    assert where[1] == pytest.approx(30.0)
    assert length == pytest.approx(160.0)


def test_corners_are_no_strokes():
    wedge = polygon([(0, 0), (300, 0), (150, 300)])  # 53 degrees at the tip
    assert opposed_walls(Region(wedge), Across.MATERIAL, up_to=50.0).below(50.0) is None
    nick = polygon([(0, 0), (100, 0), (100, 100), (55, 100), (55, 90), (45, 90), (45, 100), (0, 100)])
    slot = opposed_walls(Region(nick), Across.GAP, up_to=15.0)
    assert slot.below(11.0)[0] == pytest.approx(10.0)
    assert slot.below(10.0) is None


def test_the_first_wall_met_is_the_opposite_one():
    # Two bars joined at one end: across the first bar is its own far side, not the second bar's.
    fork = polygon([(0, 0), (300, 0), (300, 40), (60, 40), (60, 80), (300, 80), (300, 140), (0, 140)])
    width, _, _ = opposed_walls(Region(fork), Across.MATERIAL, up_to=200.0).below(100.0)
    assert width == pytest.approx(40.0)
    assert opposed_walls(Region(fork), Across.GAP, up_to=200.0).below(100.0)[0] == pytest.approx(40.0)
