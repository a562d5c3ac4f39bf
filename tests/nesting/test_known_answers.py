"""Jobs whose answer is known because they were cut from full sheets: the engine finds it, or says how near it came.

Sheets are cut into pieces like letters, with the cut-outs returned as parts; with a spacing each piece loses half of it
on every side, and `play` besides, as if cut with a wider saw. So the count of sheets is known to do; the areas prove
that fewer cannot. Without play such a job is a jigsaw, which is asked of the engine only to within a sheet.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from geometry.outline import Outline
from nesting.bounds import lower_bound
from nesting.problem import ANY_ANGLE, Part, Problem, Rules, Sheet
from nesting.referee import violations
from nesting.solve import AfterRounds, solve
from tests.nesting.shapes import INCH, disc, rectangle

QUARTERS = (0.0, 90.0, 180.0, 270.0)


def letters_of(width: float, height: float, generator: np.random.Generator) -> list[shapely.Polygon]:
    """A box cut into one of five letters and what is cut out of it."""
    stroke = 0.25 * min(width, height)
    box = shapely.box(0, 0, width, height)
    inner = {
        "O": [shapely.box(stroke, stroke, width - stroke, height - stroke)],
        "L": [shapely.box(stroke, stroke, width, height)],
        "U": [shapely.box(stroke, stroke, width - stroke, height)],
        "T": [shapely.box(0, 0, width / 2 - stroke / 2, height - stroke),
              shapely.box(width / 2 + stroke / 2, 0, width, height - stroke)],
        "I": [],
    }  # fmt: skip
    cut_out = inner[str(generator.choice(list(inner)))]
    return [box.difference(shapely.union_all(cut_out)), *cut_out] if cut_out else [box]


def cut_up(x0: float, y0: float, x1: float, y1: float, depth: int, generator: np.random.Generator) -> list[object]:
    """A rectangle cut from edge to edge `depth` times, then into letters."""
    if depth == 0:
        return [shapely.affinity.translate(piece, x0, y0) for piece in letters_of(x1 - x0, y1 - y0, generator)]
    share = generator.uniform(0.4, 0.6)
    if x1 - x0 > y1 - y0:
        middle = x0 + share * (x1 - x0)
        return cut_up(x0, y0, middle, y1, depth - 1, generator) + cut_up(middle, y0, x1, y1, depth - 1, generator)
    middle = y0 + share * (y1 - y0)
    return cut_up(x0, y0, x1, middle, depth - 1, generator) + cut_up(x0, middle, x1, y1, depth - 1, generator)


def known(sheets: int, depth: int, spacing: float, seed: int, play: float = 0.0) -> Problem:
    """Parts that came from so many sheets of 800 x 600 mm, cut to their margins."""
    generator = np.random.default_rng(seed)
    margin, width, height = 10.0, 800.0, 600.0
    parts = []
    for _ in range(sheets):
        half = spacing / 2
        for piece in cut_up(
            margin - half, margin - half, width - margin + half, height - margin + half, depth, generator
        ):
            left = piece.buffer(-half - play, join_style="mitre", mitre_limit=10.0)
            holes = [np.asarray(ring.coords) for ring in left.interiors]
            outline = Outline.from_points(np.asarray(left.exterior.coords), holes)
            parts.append(Part(f"{len(parts)}", outline, 1, QUARTERS))
    return Problem(tuple(parts), (Sheet("sheet", rectangle(width, height), None, 1),), Rules(spacing, margin))


@pytest.mark.parametrize("spacing", [0.0, 6.35])
@pytest.mark.parametrize("seed", range(3))
def test_a_sheet_cut_into_letters_and_their_cut_outs_is_found_again(spacing: float, seed: int) -> None:
    one = known(1, 2, spacing, seed, play=10.0)  # the grown parts take 80 to 84 % of the sheet
    plan = solve(one, AfterRounds(300)).plan
    assert violations(one, plan) == ()
    assert plan.unplaced == ()
    assert len(plan.layouts) == lower_bound(one).sheets == 1


@pytest.mark.parametrize("seed", range(2))
def test_three_sheets_cut_into_letters_are_found_again(seed: int) -> None:
    one = known(3, 3, 6.35, seed, play=10.0)
    plan = solve(one, AfterRounds(200)).plan
    assert violations(one, plan) == ()
    assert plan.unplaced == ()
    assert len(plan.layouts) == lower_bound(one).sheets == 3


@pytest.mark.parametrize("sheets", [1, 3])
def test_a_jigsaw_takes_at_most_one_sheet_more(sheets: int) -> None:
    one = known(sheets, 3, 6.35, 0)
    plan = solve(one, AfterRounds(60)).plan
    assert violations(one, plan) == ()
    assert plan.unplaced == ()
    assert lower_bound(one).sheets == sheets
    assert len(plan.layouts) <= sheets + 1


@pytest.mark.parametrize("rotations", [QUARTERS, ANY_ANGLE])
def test_rings_nested_in_rings(rotations: tuple[float, ...] | None) -> None:
    # V20 widened: a 14.5 in ring lies in the 21.5 in hole of a 24 in ring, since 15.25 <= 21.0, and a 10 in disc in its
    # own 12 in hole. So three sheets that each hold one 24 in ring hold three of everything.
    parts = (
        Part("disc", disc(5 * INCH), 3, rotations),
        Part("counter", disc(7.25 * INCH, hole=6 * INCH), 3, rotations),
        Part("main", disc(12 * INCH, hole=10.75 * INCH), 3, rotations),
    )
    one = Problem(parts, (Sheet("s", rectangle(25.5 * INCH, 25.5 * INCH), None, 1),), Rules(0.375 * INCH, 0.5 * INCH))
    plan = solve(one, AfterRounds(0)).plan
    assert violations(one, plan) == ()
    assert sorted(len(layout.placements) for layout in plan.layouts) == [3, 3, 3]
