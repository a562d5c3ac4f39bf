"""Which attitudes of a part that may stand at any angle are at right angles to the sheet, and which are slanted."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon
from shapely.affinity import rotate

from geometry.outline import Outline
from nesting.catalog import Attitude, catalog
from nesting.problem import ANY_ANGLE, Part, Problem, Rules, Sheet
from tests.nesting.letters import letter_pieces
from tests.nesting.shapes import rectangle

BOARD = Sheet("board", rectangle(2400, 1200))


def attitudes(part: Part, sheet: Sheet = BOARD) -> tuple[Attitude, ...]:
    return catalog(Problem((part,), (sheet,), Rules(6.0, 8.0))).attitudes[0]


def turned(outline: Outline, angle: float) -> Outline:
    shape = rotate(Polygon(outline.outer, outline.holes), angle, origin=(0.0, 0.0))
    return Outline.from_points(
        np.asarray(shape.exterior.coords)[:-1], [np.asarray(r.coords)[:-1] for r in shape.interiors]
    )


@pytest.mark.parametrize("letter", "AEFHKLMNRTVWZ")
def test_an_upright_letter_counts_as_upright_whatever_slants_it_has(letter: str) -> None:
    ways = attitudes(Part(letter, letter_pieces(letter, 400.0)[0], rotations=ANY_ANGLE))
    assert {way.angle % 90.0 for way in ways if not way.is_slanted} == {0.0}
    if letter in "AKVWZ":
        assert any(way.is_slanted for way in ways)


@given(lean=st.floats(5.0, 85.0), letter=st.sampled_from("EFHLT"))
def test_a_letter_set_slantwise_stands_upright_where_its_stems_lie_along_the_sheet(lean: float, letter: str) -> None:
    slanting = turned(letter_pieces(letter, 400.0, "LeagueSpartan-Bold.otf", 6)[0], lean)
    upright = [way.angle for way in attitudes(Part(letter, slanting, rotations=ANY_ANGLE)) if not way.is_slanted]
    assert len(upright) in (2, 4)  # two where the letter looks the same upside down
    assert all(abs((angle + lean + 45.0) % 90.0 - 45.0) < 1.0 for angle in upright)


def test_a_bar_that_only_fits_across_the_sheet_may_stand_at_every_angle_that_fits() -> None:
    square = Sheet("square", rectangle(1000, 1000))
    ways = attitudes(Part("bar", rectangle(1200, 60), rotations=ANY_ANGLE), square)
    assert len(ways) > 4
    assert not any(way.is_slanted for way in ways)


def test_angles_that_are_told_are_never_slanted() -> None:
    assert not any(way.is_slanted for way in attitudes(Part("a", rectangle(300, 80), rotations=(0.0, 30.0, 45.0))))
