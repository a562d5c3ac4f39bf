"""Strip goods against the handbook values of the trade notes (V21, V22) and closed forms."""

from __future__ import annotations

import math

import pytest

from app.fabrication.part import Goods
from app.fabrication.strips import Side, flat_width, joint_place, loop_length
from geometry.arcs import circle
from geometry.build import polygon, rectangle, region
from geometry.contour import Region
from tests.app.fabrication.letters import IN, made


def test_lengths_round_a_disc_and_inside_a_hole():
    """V21: outside a 24 in disc, 0.040 in coil, 75.524 in. V22: inside a 12 in hole, 37.573 in."""
    assert loop_length(math.pi * 24.0, 0.04, Side.OUTSIDE) == pytest.approx(75.524, abs=0.001)
    assert loop_length(math.pi * 12.0, 0.04, Side.INSIDE) == pytest.approx(37.573, abs=0.001)


def test_width_of_coil():
    """A 5 in return with a 1/2 in flange in 0.040 in coil: 5.43 in (textbook bend deduction 0.073 in)."""
    assert flat_width(5.0 * IN, 0.5 * IN, 0.04 * IN) / IN == pytest.approx(5.427, abs=0.003)
    assert flat_width(5.0 * IN, 0.0, 0.04 * IN) == 5.0 * IN


def test_returns_of_an_o():
    """The strip lies between the artwork's edge and 0.040 in further in: pi (24 - 0.04) and pi (12 + 0.04)."""
    middle = (12.0 * IN, 12.0 * IN)
    letter = region(circle(middle, 12.0 * IN), [circle(middle, 6.0 * IN)])
    outer, counter = [one for one in made(letter, sets=2).strips if one.goods is Goods.RETURN]
    assert outer.length / IN == pytest.approx(math.pi * 23.96, abs=0.001)
    assert counter.length / IN == pytest.approx(math.pi * 12.04, abs=0.001)
    # 3 % for notching and 1 in of lap: common practice.
    assert outer.cut_length / IN == pytest.approx(1.03 * math.pi * 23.96 + 1.0, abs=0.001)
    assert (outer.quantity, outer.letter) == (2, "line1-01")
    assert outer.joint == pytest.approx((12.0 * IN, 24.0 * IN), abs=8.0)
    # 0.099 lb/in3 is 2740 kg/m3; the table's 2730 governs.
    assert outer.weight_kg == pytest.approx(outer.length * outer.width * 0.04 * IN * 2730e-9, rel=1e-9)


def test_a_loop_longer_than_the_coil_is_joined():
    found = made(Region(rectangle(60.0 * IN, 40.0 * IN)), settings=[("coil length", 120.0 * IN)]).strips
    loops = [one for one in found if one.goods is Goods.RETURN]
    assert len(loops) == 2
    assert sum(one.length for one in loops) / IN == pytest.approx(200.0 - math.pi * 0.04, abs=1e-6)
    assert all(one.cut_length <= 120.0 * IN for one in loops)


def test_joints_are_at_the_highest_corner():
    house = polygon([(0, 0), (10, 0), (10, 10), (5, 15), (0, 10)])
    assert joint_place(house) == (5.0, 15.0)
