"""Film on the roll: every panel once, none turned, none wider than the roll, no longer a roll than side by side."""

from __future__ import annotations

import math
from collections import Counter

import pytest

from app.errors import PlanningError
from app.fabrication.part import Goods, Strip
from app.planning.film_rolls import film_rolls
from app.planning.strip_lists import strip_lists
from geometry.outline import Outline

IN = 25.4


def panel(name: str, width: float, length: float, quantity: int = 1) -> Strip:
    w, long = width * IN, length * IN
    return Strip("a-01", name, Goods.FILM, w, long, long, quantity, stock_width=47.5 * IN)


def test_rectangles_that_fill_the_roll_take_no_more_than_their_area():
    """Closed form: 4 panels of 23.75 x 30 in lie two across 47.5 in: 60 in of roll, all of it used."""
    (roll,) = film_rolls([panel("one", 23.75, 30.0, 4)], 47.5 * IN)
    assert roll.length / IN == pytest.approx(60.0, abs=0.01)
    assert roll.density == pytest.approx(1.0, abs=1e-3)
    assert Counter((one.letter, one.name, one.copy) for one in roll.places) == Counter(
        ("a-01", "one", copy) for copy in range(4)
    )
    assert [one.along for one in roll.places] == sorted(one.along for one in roll.places)


def test_shapes_lie_into_each_other():
    """Right triangles of 30 x 40 in, one turned by half, are one rectangle; film is not turned: two alike take more."""
    low = Outline.from_points([(0, 0), (40 * IN, 0), (0, 30 * IN)])
    high = Outline.from_points([(40 * IN, 30 * IN), (0, 30 * IN), (40 * IN, 0)])
    both = [
        Strip("a-01", name, Goods.FILM, 30 * IN, 40 * IN, 40 * IN, stock_width=30 * IN, shape=shape)
        for name, shape in (("low", low), ("high", high))
    ]
    (roll,) = film_rolls(both, 30.0 * IN)
    assert roll.length / IN == pytest.approx(40.0, abs=0.05)
    (alike,) = film_rolls([both[0], Strip("a-02", "low", Goods.FILM, 30 * IN, 40 * IN, 40 * IN, shape=low)], 30.0 * IN)
    assert alike.length / IN > 55.0


def test_panels_longer_together_than_a_roll_take_several():
    """20 panels of 10 x 60 in, two across 23 1/2 in: 10 rows of 60 in from rolls of 360 in are 2 rolls."""
    rolls = film_rolls([panel("one", 10.0, 60.0, 20)], 23.5 * IN, 360.0 * IN)
    assert len(rolls) == 2
    assert sum(len(roll.places) for roll in rolls) == 20
    assert all(roll.length <= 360.0 * IN + 1e-6 for roll in rolls)


def test_the_list_of_strips_tells_the_roll():
    (found,) = strip_lists([panel("one", 20.0, 30.0, 3), panel("two", 25.0, 40.0)])
    assert found.width / IN == pytest.approx(47.5)
    assert found.stock_length is None
    (roll,) = found.rolls
    assert found.total == pytest.approx(roll.length)
    assert len(roll.places) == 4
    assert found.total / IN <= 70.0 + 0.01  # as rows: 40 in with one of 30 in beside, then two of 30 in
    assert found.total >= math.fsum(one.length * one.width for one in roll.places) / (47.5 * IN) - 1e-6


def test_a_panel_wider_than_the_roll_is_said():
    with pytest.raises(PlanningError, match="choose a wider roll"):
        film_rolls([panel("one", 50.0, 30.0)], 47.5 * IN)
