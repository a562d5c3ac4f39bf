"""Places near where a part was put: judged by the referee, and against trying many shifts one by one."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from geometry.outline import Outline
from nesting.clearance import Standings, Verdict
from nesting.nearest import FreePlaces
from nesting.plan import Layout, Placement, Plan, Unplaced
from nesting.problem import ANY_ANGLE, Part, Problem, Rules, Sheet
from nesting.referee import violations


def rectangle(width: float, height: float, x: float = 0.0, y: float = 0.0) -> Outline:
    return Outline.from_points([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


ELL = Outline.from_points([(0, 0), (60, 0), (60, 20), (20, 20), (20, 80), (0, 80)])
FRAME = Outline.from_points([(0, 0), (100, 0), (100, 100), (0, 100)], [[(20, 20), (20, 80), (80, 80), (80, 20)]])
ROUND = Outline.from_points([(30 * math.cos(t), 30 * math.sin(t)) for t in np.linspace(0, 2 * math.pi, 41)[:-1]])
SQUARE = rectangle(30, 30)


def problem(*, in_holes: bool = True, keep_outs: tuple[Outline, ...] = (), outline: Outline | None = None) -> Problem:
    return Problem(
        parts=tuple(
            Part(name, shape, 3, ANY_ANGLE, may_mirror=True)
            for name, shape in (("ell", ELL), ("frame", FRAME), ("round", ROUND), ("square", SQUARE))
        ),
        sheets=(Sheet("sheet", outline or rectangle(400, 300), None, 1, keep_outs),),
        rules=Rules(6.0, 10.0, may_nest_in_holes=in_holes),
    )


def referee_says(asked: Problem, placements: list[Placement]) -> tuple[str, ...]:
    placed = {(one.part, one.copy) for one in placements}
    rest = [
        Unplaced(part.id, copy, "")
        for part in asked.parts
        for copy in range(part.quantity)
        if (part.id, copy) not in placed
    ]
    return violations(asked, Plan((Layout("sheet", 0, tuple(placements)),), tuple(rest), ()))


def moved(one: Placement, by: tuple[float, float]) -> Placement:
    return replace(one, x=one.x + by[0], y=one.y + by[1])


def test_square_beside_a_square_is_pushed_out_the_shorter_way():
    asked = problem()
    places = FreePlaces(asked, "sheet", [Placement("square", 0, 100.0, 100.0)])
    # 36 mm from corner to corner is 30 mm of part and 6 mm of spacing; it stands 10 mm and 25 mm off.
    dx, dy = places.shift([Placement("square", 1, 110.0, 125.0)])
    assert (dx, dy) == (pytest.approx(0.0, abs=1e-9), pytest.approx(11.0, abs=0.002))


def test_corner_to_corner_is_round():
    asked = problem()
    places = FreePlaces(asked, "sheet", [Placement("square", 0, 100.0, 100.0)])
    by = places.shift([Placement("square", 1, 132.0, 132.0)])
    # From 2√2 between the corners to 6 along the diagonal.
    assert math.hypot(*by) == pytest.approx(6.0 - 2.0 * math.sqrt(2.0), abs=0.002)


def test_what_lies_well_stays():
    places = FreePlaces(problem(), "sheet", [Placement("square", 0, 100.0, 100.0)])
    assert places.shift([Placement("square", 1, 200.0, 200.0)]) == (0.0, 0.0)


def test_part_outside_comes_to_the_margin():
    places = FreePlaces(problem(), "sheet")
    assert places.shift([Placement("square", 0, -500.0, 50.0)]) == (pytest.approx(510.0, abs=0.001), pytest.approx(0.0))


def test_hole_that_fits_to_the_hair_is_found():
    """The hole is 60 mm wide: 48 mm is left between spacings, and the part takes 48."""
    asked = replace(problem(), parts=(*problem().parts, Part("plug", rectangle(48, 48))))
    places = FreePlaces(asked, "sheet", [Placement("frame", 0, 100.0, 100.0)])
    by = places.shift([Placement("plug", 0, 120.0, 131.0)])
    assert by == (pytest.approx(6.0, abs=0.002), pytest.approx(-5.0, abs=0.002))


def test_holes_are_barred_where_nesting_in_them_is():
    frame, square = Placement("frame", 0, 100.0, 100.0), Placement("square", 0, 135.0, 135.0)
    assert FreePlaces(problem(), "sheet", [frame]).shift([square]) == (0.0, 0.0)
    by = FreePlaces(problem(in_holes=False), "sheet", [frame]).shift([square])
    assert math.hypot(*by) == pytest.approx(71.0, abs=0.01)
    assert Standings(problem(in_holes=False), "sheet", [frame]).of([square])[0].verdict is Verdict.IN_HOLE


def test_no_room_is_none_and_a_limit_is_kept():
    full = problem(outline=rectangle(60, 60))
    assert (
        FreePlaces(full, "sheet", [Placement("square", 0, 15.0, 15.0)]).shift([Placement("square", 1, 20, 20)]) is None
    )
    assert FreePlaces(full, "sheet").shift([Placement("frame", 0, 0.0, 0.0)]) is None
    near = FreePlaces(problem(), "sheet", [Placement("square", 0, 100.0, 100.0)])
    assert near.shift([Placement("square", 1, 110.0, 125.0)], most=10.0) is None


def test_far_away_place_is_found_and_legal():
    asked = problem(outline=rectangle(3000, 140))
    fixed = [Placement("frame", copy, 20.0 + 110.0 * copy, 20.0) for copy in range(3)]
    wide = replace(asked, parts=tuple(replace(part, quantity=30) for part in asked.parts))
    fixed = [Placement("frame", copy, 20.0 + 107.0 * copy, 20.0) for copy in range(12)]
    one = Placement("frame", 20, 60.0, 20.0)
    by = FreePlaces(wide, "sheet", fixed).shift([one])
    assert not referee_says(wide, [*fixed, moved(one, by)])
    assert math.hypot(*by) == pytest.approx(20.0 + 107.0 * 12 - 1.0 - 60.0, abs=3.0)


def test_parts_moved_together_keep_their_distances_to_each_other():
    asked = problem()
    group = [Placement("ell", 0, 90.0, 90.0), Placement("round", 0, 166.0, 146.0)]
    fixed = [Placement("square", 0, 130.0, 170.0), Placement("frame", 0, 150.0, 10.0)]
    by = FreePlaces(asked, "sheet", fixed).shift(group)
    assert not referee_says(asked, [*fixed, *(moved(one, by) for one in group)])


FLAWED = Outline.from_points(
    [(0, 0), (400, 0), (400, 180), (250, 300), (0, 300)], [[(60, 200), (60, 230), (90, 230), (90, 200)]]
)


@settings(max_examples=25, deadline=None)
@given(
    st.floats(-30, 420), st.floats(-30, 320), st.sampled_from(["ell", "frame", "round", "square"]),
    st.sampled_from([0.0, 90.0, 180.0, 33.0]), st.booleans(), st.booleans(),
)  # fmt: skip
@example(3.0, 0.0, "frame", 0.0, False, False)  # round a flaw of the sheet, which is no part in its hole
def test_place_found_passes_the_referee_and_no_tried_shift_is_shorter(x, y, part, angle, mirrored, in_holes):
    asked = problem(in_holes=in_holes, keep_outs=(rectangle(50, 40, 330, 20),), outline=FLAWED)
    fixed = [Placement("frame", 0, 120.0, 60.0), Placement("ell", 0, 260.0, 150.0, 20.0), Placement("round", 0, 60, 60)]
    one = Placement(part, 1, x, y, angle, mirrored)
    by = FreePlaces(asked, "sheet", fixed).shift([one])
    stays = Standings(asked, "sheet", fixed)
    if by is None:
        everywhere = [replace(one, x=float(u), y=float(v)) for u in range(-160, 560, 8) for v in range(-160, 460, 8)]
        assert not any(stand.is_legal for stand in stays.of(everywhere))
        return
    assert not referee_says(asked, [*fixed, moved(one, by)])
    length = math.hypot(*by)
    for share in (0.999, 0.9, 0.7, 0.45, 0.2, 0.0):
        for turn in range(0, 360, 15):
            way = (math.cos(math.radians(turn)), math.sin(math.radians(turn)))
            tried = moved(one, (way[0] * share * length, way[1] * share * length))
            if length - share * length > 0.02:
                assert not stays.of([tried])[0].is_legal


# How parts stand


def test_standing_names_what_is_in_the_way_and_how_near():
    stays = Standings(problem(keep_outs=(rectangle(50, 40, 330, 20),)), "sheet", [Placement("square", 0, 100.0, 100.0)])
    close, over, edge, zone, clear = stays.of(
        [
            Placement("square", 1, 134.0, 100.0),
            Placement("square", 1, 120.0, 100.0),
            Placement("square", 1, 4.0, 50.0),
            Placement("square", 1, 340.0, 30.0),
            Placement("square", 1, 139.0, 100.0),
        ],
        reach=10.0,
    )
    assert (close.verdict, close.other, close.gap) == (Verdict.CLOSE, ("square", 0), pytest.approx(4.0))
    assert (over.verdict, over.gap) == (Verdict.OVERLAPS, 0.0)
    assert (edge.verdict, edge.what, edge.gap) == (Verdict.OUTSIDE, "edge", pytest.approx(4.0))
    assert (zone.verdict, zone.what) == (Verdict.OUTSIDE, "keep-out")
    assert (clear.verdict, clear.gap) == (Verdict.CLEAR, pytest.approx(9.0))


@settings(max_examples=40, deadline=None)
@given(st.floats(-20, 420), st.floats(-20, 320), st.sampled_from([0.0, 90.0, 45.0]), st.booleans())
def test_standing_and_referee_agree(x, y, angle, in_holes):
    asked = problem(in_holes=in_holes, keep_outs=(rectangle(50, 40, 330, 20),), outline=FLAWED)
    placements = [
        Placement("frame", 0, 120.0, 60.0),
        Placement("ell", 0, 260.0, 150.0),
        Placement("square", 0, x, y, angle),
    ]
    assert (not Standings(asked, "sheet", placements).faults()) == (not referee_says(asked, placements))
