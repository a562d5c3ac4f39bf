"""Openings of retainers are written as the cutter makes them: no hairline tails in a cut file."""

from __future__ import annotations

import math

import pytest

from app.fabrication.pieces import _without_tails
from geometry.build import polygon, rectangle
from geometry.contour import Region
from geometry.measure import region_area

RADIUS = 3.175


def opening_with_tail(width: float) -> Region:
    """A 100 x 60 mm window with a slot of the given width and 50 mm length running out of its right side."""
    half = width / 2.0
    return Region(
        polygon(
            [
                (0, 0),
                (100, 0),
                (100, 30 - half),
                (150, 30 - half),
                (150, 30 + half),
                (100, 30 + half),
                (100, 60),
                (0, 60),
            ]
        )
    )


@pytest.mark.parametrize("width", [0.05, 1.0, 5.0])
def test_a_slot_the_cutter_cannot_enter_is_closed_and_the_rest_keeps_its_size(width):
    reached = _without_tails(opening_with_tail(width), RADIUS)
    assert reached is not None
    # What is left is the window with four corners rounded to the cutter: L W - (4 - pi) r^2 (textbook), and where the
    # slot was, the cutter dips a little into its mouth: never more than the slot's own width deep.
    area = sum(map(region_area, reached))
    whole = 100 * 60 - (4 - math.pi) * RADIUS**2
    assert whole - 0.1 <= area <= whole + width * RADIUS


def test_a_slot_the_cutter_passes_stays():
    assert _without_tails(opening_with_tail(7.0), RADIUS) is None


def test_sharp_corners_are_no_tails():
    assert _without_tails(Region(rectangle(100, 60)), RADIUS) is None
    assert _without_tails(Region(polygon([(0, 0), (100, 0), (0, 100)])), RADIUS) is None  # two corners of 45 degrees
