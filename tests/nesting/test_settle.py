"""Settling: parts of a layout moved together by linear programs, against layouts worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from nesting.catalog import Catalog, catalog
from nesting.pairs import flat
from nesting.pieces import convex_pieces
from nesting.problem import Part, Problem
from nesting.settle import Ground, Settler
from tests.nesting.letters import letter_pieces
from tests.nesting.shapes import problem, rectangle

Floats = NDArray[np.float64]
STRIP = np.array((0.0, 0.0, 1000.0, 100.0))


@pytest.fixture(scope="module")
def squares() -> tuple[Problem, Catalog]:
    """Three squares of 100 mm for a strip 100 mm high."""
    one = problem(Part("square", rectangle(100, 100), 3), sheet=(1000, 100), spacing=0.0, margin=0.0)
    return one, catalog(one)


def standing(made: Catalog, middles: list[tuple[float, float]]) -> Floats:
    shape = made.attitudes[0][0].shape
    return np.array([(x, y, 0.0, shape, 0.0) for x, y in middles])


def test_gaps_close_exactly(squares: tuple[Problem, Catalog]) -> None:
    # Worked by hand: with gaps of 7 mm they settle to 300 mm.
    places = standing(squares[1], [(50.0 + 107.0 * k, 50.0) for k in range(3)])
    settled = Settler(*squares).shortest([0, 0, 0], places, STRIP, 0, np.inf)
    assert settled is not None
    assert settled[:, 0] == pytest.approx([50, 150, 250], abs=1e-8)


def test_overlapping_parts_are_parted_within_the_most_length(squares: tuple[Problem, Catalog]) -> None:
    # The second lies 8 mm in the first; a program moves a part by 5 mm at most, so one is not enough.
    places = standing(squares[1], [(50.0, 50.0), (142.0, 50.0), (250.0, 50.0)])
    settled = Settler(*squares).shortest([0, 0, 0], places, STRIP, 0, 300.0)
    assert settled is not None
    assert settled[:, 0] == pytest.approx([50, 150, 250], abs=1e-8)


def test_what_does_not_fit_the_most_length_is_not_settled(squares: tuple[Problem, Catalog]) -> None:
    places = standing(squares[1], [(50.0, 50.0), (148.0, 50.0), (249.0, 50.0)])
    assert Settler(*squares).shortest([0, 0, 0], places, STRIP, 0, 299.9) is None


def test_copies_are_parted_on_a_sheet_off_its_flaw(squares: tuple[Problem, Catalog]) -> None:
    # 100 mm squares on 300 x 100 mm with a flaw from x = 100 to 101: one left of it, one right of it.
    flaw = flat(convex_pieces(shapely.box(100, 20, 101, 80)))
    places = standing(squares[1], [(52.0, 50.0), (149.0, 50.0)])
    found = list(Settler(*squares).parted([0, 0], places, Ground(np.array((0.0, 0.0, 201.0, 100.0)), (flaw,))))[-1]
    assert found is not None
    assert found[:, 0] == pytest.approx([50, 151], abs=1e-8)
    too_small = Ground(np.array((0.0, 0.0, 200.9, 100.0)), (flaw,))
    assert all(one is None for one in Settler(*squares).parted([0, 0], places, too_small))


def test_parted_letters_keep_their_spacing() -> None:
    pieces = letter_pieces("S", 200.0) + letter_pieces("C", 200.0)
    one = problem(*(Part(f"{k}", piece) for k, piece in enumerate(pieces)), sheet=(1000, 400), spacing=6.0, margin=5.0)
    made = catalog(one)
    shapes = [ways[0].shape for ways in made.attitudes]
    x = 5.0 - made.shapes.bare[shapes[0], 0]
    touching = x + made.shapes.bare[shapes[0], 2] - made.shapes.bare[shapes[1], 0]
    places = np.array([(x, 200.0, 0.0, shapes[0], 0.0), (touching + 1.0, 200.0, 0.0, shapes[1], 0.0)])
    found = list(Settler(one, made).parted([0, 1], places, Ground(np.array((5.0, 5.0, 995.0, 395.0)))))[-1]
    assert found is not None
    before, after = (
        [
            shapely.Polygon(one.parts[part].outline.outer - made.centres[part] + place[:2])
            for part, place in enumerate(some)
        ]
        for some in (places, found)
    )
    assert before[0].distance(before[1]) < 6.0 - 1.0
    assert after[0].distance(after[1]) >= 6.0 - 1e-6
