"""Whole problems through the one door; every plan passes the referee."""

from __future__ import annotations

import math
import pickle
import subprocess
import sys
import time
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.outline import Outline
from nesting.plan import Plan
from nesting.problem import Part, Problem, Rules, Sheet, net_area
from nesting.referee import violations
from nesting.solve import AfterRounds, AfterSeconds, Ended, Progress, solve
from tests.nesting.letters import letter_pieces, ring_outline
from tests.nesting.shapes import ELL, FRAME, INCH, disc, problem, rectangle


def solved(one: Problem, rounds: int = 0, **rest: object) -> Plan:
    result = solve(one, AfterRounds(rounds), **rest)  # type: ignore[arg-type]
    assert violations(one, result.plan) == ()
    return result.plan


def letters(text: str, height: float = 200.0, **rest: object) -> tuple[Part, ...]:
    pieces = [piece for character in text for piece in letter_pieces(character, height)]
    return tuple(Part(f"{k}", piece, **rest) for k, piece in enumerate(pieces))  # type: ignore[arg-type]


# V24-V26: grid counts floor((W - 2m + s) / (p + s)) of 12 x 12 in squares, margin 0.5 in, gap 0.375 in.
@pytest.mark.parametrize(
    ("width", "height", "count"), [(48, 96, 21), (60, 120, 36), (48, 120, 27), (51, 100, 32), (75, 100, 48)]
)
def test_squares_reach_the_grid_count(width: float, height: float, count: int) -> None:
    part = Part("square", rectangle(12 * INCH, 12 * INCH), count)
    sheet = Sheet("s", rectangle(width * INCH, height * INCH), 1, 1)
    plan = solved(Problem((part,), (sheet,), Rules(0.375 * INCH, 0.5 * INCH)))
    assert plan.unplaced == ()


@pytest.mark.parametrize("spacing", [0.0, 0.25 * INCH])
def test_parts_that_fit_exactly_are_placed(spacing: float) -> None:
    side = 12 * INCH
    sheet = Sheet("s", rectangle(4 * side + 3 * spacing, 8 * side + 7 * spacing), 1, 1)
    plan = solved(Problem((Part("square", rectangle(side, side), 32),), (sheet,), Rules(spacing, 0.0)))
    assert plan.unplaced == ()


def test_counter_retainer_nests_in_the_main_ring() -> None:
    # V20: a ring of 14.5 in outside fits in the 21.5 in hole of the main ring, at 0.5 in cut and 0.375 in gap.
    main = Part("main", disc(12 * INCH, hole=10.75 * INCH))
    counter = Part("counter", disc(7.25 * INCH, hole=6 * INCH))
    dot = Part("dot", disc(3 * INCH))
    sheet = Sheet("s", rectangle(25.5 * INCH, 25.5 * INCH), None, 1)
    plan = solved(Problem((dot, counter, main), (sheet,), Rules(0.375 * INCH, 0.5 * INCH)))
    assert len(plan.layouts) == 1  # ring in ring in ring: recursively
    plan = solved(Problem((dot, counter, main), (sheet,), Rules(0.375 * INCH, 0.5 * INCH, may_nest_in_holes=False)))
    assert len(plan.layouts) == 2


def test_letters_of_any_angle_and_rings_are_placed() -> None:
    faces = letters("SIGNO", rotations=None, may_mirror=True)
    rings = [ring_outline(part.outline, 12.0) for part in faces]
    parts = faces + tuple(Part(f"ring{k}", ring) for k, ring in enumerate(rings) if ring is not None)
    plan = solved(problem(*parts, sheet=(1200, 900)))
    assert plan.unplaced == ()


def test_mixed_stock_with_limits_flaws_and_keep_outs() -> None:
    rim, flaw = [(0, 0), (700, 0), (700, 300), (300, 600), (0, 600)], [(350, 150), (380, 150), (365, 180)]
    offcut = Sheet("offcut", Outline.from_points(rim, [flaw]), 1, 0)
    clamped = Sheet("clamped", rectangle(500, 500), 2, 700, (rectangle(60, 60), rectangle(60, 60, 440, 440)))
    parts = letters("OPENDAILY", 180.0)
    plan = solved(Problem(parts, (offcut, clamped), Rules(6.0, 12.0)))
    assert plan.unplaced == ()
    assert plan.layouts[0].sheet == "offcut"  # what costs nothing is used first
    assert plan.cost[1] == 700 * (len(plan.layouts) - 1)


def test_stock_that_runs_short_leaves_the_low_priority_out() -> None:
    parts = (Part("low", rectangle(300, 300)), Part("high", rectangle(280, 280), priority=1))
    plan = solved(Problem(parts, (Sheet("s", rectangle(400, 400), 1, 5),), Rules(6.0, 10.0)))
    assert [one.part for one in plan.unplaced] == ["low"]
    assert "1 sheet" in plan.unplaced[0].reason
    assert plan.cost[0] == 300 * 300


def test_part_too_large_is_reported_with_sizes() -> None:
    plan = solved(problem(Part("long", rectangle(900, 50)), Part("fits", ELL)))
    assert [one.part for one in plan.unplaced] == ["long"]
    assert "900.0 × 50.0 mm" in plan.unplaced[0].reason
    assert "580.0 × 380.0 mm" in plan.unplaced[0].reason


def test_parts_too_large_are_told_at_once_and_not_searched_for() -> None:
    too_large = problem(Part("long", rectangle(900, 50)), Part("wide", rectangle(800, 700), rotations=None))
    result = solve(too_large, AfterRounds(1000))
    assert (result.ended, result.progress.rounds) == (Ended.EXHAUSTED, 0)
    assert [one.part for one in result.plan.unplaced] == ["long", "wide"]
    assert all("the largest usable sheet area is 580.0 × 380.0 mm" in one.reason for one in result.plan.unplaced)


def test_reason_comes_with_the_first_plan_though_other_parts_fit() -> None:
    plans: list[Plan] = []
    solve(problem(Part("long", rectangle(900, 50)), Part("fits", ELL)), AfterRounds(5), on_gain=plans.append)
    assert "the largest usable sheet area" in plans[0].unplaced[0].reason


def test_long_part_of_any_angle_goes_across_the_diagonal() -> None:
    # 680 mm does not fit 580 x 380 mm along a side; the diagonal is 693 mm.
    assert solved(problem(Part("long", rectangle(680, 4), rotations=None))).unplaced == ()


def test_grain_is_kept() -> None:
    plan = solved(problem(Part("tall", rectangle(50, 300), 6, (0.0, 180.0))))
    assert {one.rotation for layout in plan.layouts for one in layout.placements} <= {0.0, 180.0}


def test_same_seed_and_rounds_give_the_same_bytes() -> None:
    one = problem(*letters("SAMEBYTES", 130.0), sheet=(500, 500))
    first, second = (pickle.dumps(solved(one, 3, seed=5)) for _ in range(2))
    assert first == second


def test_gains_only_get_better_and_progress_is_told() -> None:
    one = problem(*letters("PROGRESS"), sheet=(700, 500))
    gains: list[Plan] = []
    readings: list[Progress] = []
    result = solve(one, AfterRounds(3), on_gain=gains.append, on_progress=readings.append)
    costs = [plan.cost for plan in gains]
    assert costs == sorted(costs, reverse=True)
    assert gains[-1] == result.plan
    assert result.ended is Ended.STOPPED
    assert result.progress.rounds == 3
    stages = [reading.stage for reading in readings]
    assert stages[0] == "preparing"
    assert f"placing 4 of {len(one.parts)}" in stages
    assert all(violations(one, plan) == () for plan in gains)


def test_short_limit_still_places_everything() -> None:
    one = problem(*letters("SHORT"), sheet=(700, 500))
    assert solve(one, AfterSeconds(0.0)).plan.unplaced == ()


@pytest.mark.parametrize("after", [0, 3, 12, 40])
def test_cancel_keeps_the_best_and_answers_fast(after: int) -> None:
    one = problem(*letters("CANCEL", 150.0), *[Part(f"x{k}", FRAME) for k in range(4)], sheet=(900, 700))
    solve(one, AfterRounds(0))  # kernels are warm from here on
    asked: list[float] = []

    def cancelled() -> bool:
        asked.append(time.perf_counter())
        return len(asked) > after

    result = solve(one, AfterSeconds(60.0), cancelled=cancelled)
    assert result.ended is Ended.CANCELLED
    assert violations(one, result.plan) == ()
    gaps = [b - a for a, b in pairwise(asked)]
    assert max(gaps, default=0.0) < 0.2


def test_nothing_to_place_is_a_finished_run() -> None:
    result = solve(problem(), AfterSeconds(5.0))
    assert result.ended is Ended.EXHAUSTED
    assert result.plan == Plan((), (), (0, 0, 0, 0, 0))


def test_importing_the_door_is_light() -> None:
    code = "import sys, nesting.solve; print(any(name in sys.modules for name in ('numba', 'scipy', 'shapely')))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


@st.composite
def blobs(draw: st.DrawFn) -> Outline:
    """Star-shaped outlines, some with a hole."""
    count = draw(st.integers(3, 9))
    radii = draw(st.lists(st.floats(15, 90), min_size=count, max_size=count))
    points = [
        (r * math.cos(2 * math.pi * k / count), r * math.sin(2 * math.pi * k / count)) for k, r in enumerate(radii)
    ]
    if not draw(st.booleans()):
        return Outline.from_points(points)
    shrink = draw(st.floats(0.2, 0.8))
    return Outline.from_points(points, [[(x * shrink, y * shrink) for x, y in points]])


ROTATIONS = [(0.0,), (0.0, 180.0), (0.0, 90.0, 180.0, 270.0), None, (17.0, 133.3)]


@given(
    outlines=st.lists(blobs(), min_size=1, max_size=6),
    quantity=st.integers(1, 3),
    rotations=st.sampled_from(ROTATIONS),
    mirror=st.booleans(),
    spacing=st.sampled_from([0.0, 0.5, 3.2, 9.5]),
    margin=st.sampled_from([0.0, 5.0, 12.7]),
    holes=st.booleans(),
)
@settings(max_examples=25, deadline=None)
def test_any_small_problem_gives_a_plan_the_referee_passes(
    outlines: list[Outline],
    quantity: int,
    rotations: tuple[float, ...] | None,
    mirror: bool,
    spacing: float,
    margin: float,
    holes: bool,
) -> None:
    parts = tuple(Part(f"{k}", outline, quantity, rotations, mirror) for k, outline in enumerate(outlines))
    sheets = (
        Sheet(
            "rack", Outline.from_points([(0, 0), (400, 0), (300, 260), (0, 300)]), 1, 0, (rectangle(30, 30, 100, 100),)
        ),
        Sheet("plate", rectangle(500, 300), None, 100),
    )
    one = Problem(parts, sheets, Rules(spacing, margin, holes))
    plan = solved(one, 1)
    assert plan.cost[0] == sum(math.ceil(net_area(parts[int(u.part)].outline)) for u in plan.unplaced)


def test_rectangles_start_from_a_packing_that_places_them_all() -> None:
    panels = tuple(Part(f"{k}", rectangle(400.0 + 7 * k, 900.0 - 11 * k), 2, (0.0, 90.0)) for k in range(20))
    one = Problem(panels, (Sheet("s", rectangle(48 * INCH, 96 * INCH), None, 5),), Rules(6.35, 9.525))
    plan = solved(one)
    assert plan.unplaced == ()
    grained = tuple(replace(part, rotations=(90.0,)) for part in panels)
    plan = solved(replace(one, parts=grained))
    assert {placed.rotation for layout in plan.layouts for placed in layout.placements} == {90.0}
    one = replace(one, sheets=(replace(one.sheets[0], quantity=2),))
    assert len(solved(one).layouts) == 2  # what is short is filled all the same
