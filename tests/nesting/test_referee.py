"""The referee passes what is right and names everything that is wrong."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.outline import Outline
from nesting.errors import PlanRejected
from nesting.plan import Layout, Placement, Plan, Unplaced
from nesting.problem import Part, Problem, Rules, Sheet
from nesting.referee import check, violations
from tests.nesting.shapes import ELL, FRAME, rectangle

# C1 P1 of Hopper & Turton 2001 (EJOR 128:34-57) as a perfect layout (x, y, width, height) on 20 x 20: V32.
PERFECT = (
    (18, 0, 2, 12), (0, 0, 7, 12), (7, 0, 8, 6), (0, 12, 3, 6), (12, 13, 3, 5), (7, 13, 5, 5), (15, 0, 3, 12),
    (12, 6, 3, 7), (7, 6, 5, 7), (15, 12, 2, 6), (17, 16, 3, 2), (3, 16, 4, 2), (17, 12, 3, 4), (3, 12, 4, 4),
    (11, 18, 9, 2), (0, 18, 11, 2),
)  # fmt: skip


def perfect() -> tuple[Problem, Plan]:
    parts = tuple(Part(f"r{k}", rectangle(w, h)) for k, (_, _, w, h) in enumerate(PERFECT))
    placed = tuple(Placement(f"r{k}", 0, x, y) for k, (x, y, _, _) in enumerate(PERFECT))
    problem = Problem(parts, (Sheet("s", rectangle(20, 20), 1, 1),), Rules(0.0, 0.0))
    return problem, Plan((Layout("s", 0, placed),), (), (0, 1))


def row(gap: float = 6.0, **rules: object) -> tuple[Problem, Plan]:
    """Two ells and a frame side by side, `gap` apart, 10 mm from the edges."""
    parts = (Part("ell", ELL, 2, (0.0, 180.0)), Part("frame", FRAME, 1))
    sheet = Sheet("plate", rectangle(600, 400), 2, 1, (rectangle(40, 40, 500, 300),))
    problem = Problem(parts, (sheet,), Rules(6.0, 10.0, **rules))  # type: ignore[arg-type]
    placed = (
        Placement("ell", 0, 10, 10),
        Placement("ell", 1, 10 + 120 + gap, 10),
        Placement("frame", 0, 10 + 240 + 2 * gap, 10),
    )
    return problem, Plan((Layout("plate", 0, placed),), (), (0, 1))


def moved(plan: Plan, index: int, **changes: object) -> Plan:
    layout = plan.layouts[0]
    placed = list(layout.placements)
    placed[index] = replace(placed[index], **changes)  # type: ignore[arg-type]
    return replace(plan, layouts=(replace(layout, placements=tuple(placed)),))


def test_perfect_rectangle_layout_is_accepted() -> None:
    assert violations(*perfect()) == ()  # V32: touching is allowed when the spacing is 0


def test_perfect_layout_with_one_rectangle_shifted_is_not() -> None:
    problem, plan = perfect()
    found = violations(problem, moved(plan, 0, x=18.01))
    assert any("beyond the sheet's edge" in one for one in found)
    assert any("overlap" in one for one in violations(problem, moved(plan, 0, x=17.99)))


def test_good_row_is_accepted_and_check_is_silent() -> None:
    problem, plan = row()
    assert violations(problem, plan) == ()
    check(problem, plan)


def test_check_raises_with_the_violations() -> None:
    problem, plan = row(gap=5.0)
    with pytest.raises(PlanRejected) as caught:
        check(problem, plan)
    assert len(caught.value.violations) == 2
    assert "5.0000 mm apart; the spacing is 6 mm" in str(caught.value)


@given(short=st.floats(0.0015, 5.9))
@settings(max_examples=15, deadline=None)
def test_any_short_gap_is_caught(short: float) -> None:
    assert len([one for one in violations(*row(gap=6.0 - short)) if "spacing" in one]) == 2


@given(short=st.floats(0.0, 0.0009))
@settings(max_examples=10, deadline=None)
def test_gap_within_tolerance_passes(short: float) -> None:
    assert violations(*row(gap=6.0 - short)) == ()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"x": 9.9}, "from the sheet's edge; the margin is 10 mm"),
        ({"x": 0.0}, "touches the sheet's edge"),
        ({"x": -5.0}, "beyond the sheet's edge"),
        ({"x": 60.0}, "overlap"),
        ({"x": 16.0}, "the spacing is 6 mm"),
        ({"rotation": 90.0, "x": 300.0, "y": 220.0}, "turned by 90°; allowed: 0, 180"),
        ({"mirrored": True, "x": 130.0}, "mirrored, which is not allowed"),
        ({"x": 470.0, "y": 210.0}, "lies in keep-out 1"),
        ({"x": float("nan")}, "not a finite number"),
        ({"part": "nobody"}, "in the plan but not in the problem"),
        ({"copy": 1}, "appears 2 times"),
        ({"copy": 7}, "copy 7 is in the plan but not in the problem"),
    ],
)
def test_planted_violation_is_caught(change: dict[str, object], words: str) -> None:
    problem, plan = row()
    assert any(words in one for one in violations(problem, moved(plan, 0, **change)))


def test_missing_copy_is_caught() -> None:
    problem, plan = row()
    layout = replace(plan.layouts[0], placements=plan.layouts[0].placements[1:])
    assert violations(problem, replace(plan, layouts=(layout,))) == ("part 'ell' copy 0 is missing from the plan",)
    told = replace(plan, layouts=(layout,), unplaced=(Unplaced("ell", 0, "no room"),))
    assert violations(problem, told) == ()


@pytest.mark.parametrize(
    ("sheet", "copy", "words"),
    [("plate", 2, "there are 2"), ("plate", -1, "does not exist"), ("other", 0, "not in the problem")],
)
def test_sheet_that_does_not_exist_is_caught(sheet: str, copy: int, words: str) -> None:
    problem, plan = row()
    wrong = replace(plan, layouts=(replace(plan.layouts[0], sheet=sheet, copy=copy),))
    assert any(words in one for one in violations(problem, wrong))


def test_sheet_used_twice_and_empty_sheet_are_caught() -> None:
    problem, plan = row()
    twice = replace(plan, layouts=(plan.layouts[0], Layout("plate", 0, ())))
    found = violations(problem, twice)
    assert any("used by 2 layouts" in one for one in found)
    assert any("holds nothing" in one for one in found)


def test_part_in_a_hole_is_allowed_only_when_the_rules_say_so() -> None:
    inner = Part("inner", rectangle(60, 50))
    for may in (True, False):
        problem = Problem((Part("frame", FRAME), inner), (Sheet("plate", rectangle(600, 400)),), Rules(6, 10, may))
        placed = (Placement("frame", 0, 10, 10), Placement("inner", 0, 80, 80))
        found = violations(problem, Plan((Layout("plate", 0, placed),), (), (0, 0)))
        assert bool(found) is not may
        assert all("lies in a hole of part 'frame'" in one for one in found)


def test_flaw_in_the_sheet_is_an_edge() -> None:
    flawed = Outline.from_points([(0, 0), (600, 0), (600, 400), (0, 400)], [[(300, 200), (310, 200), (310, 210)]])
    problem = Problem((Part("a", rectangle(100, 100)),), (Sheet("plate", flawed),), Rules(0, 10))
    assert any("over a flaw" in one for one in violations(problem, one_at(problem, 250, 150)))
    assert any("from the sheet's edge" in one for one in violations(problem, one_at(problem, 195, 150)))
    assert violations(problem, one_at(problem, 190, 150)) == ()


def one_at(problem: Problem, x: float, y: float) -> Plan:
    return Plan((Layout("plate", 0, (Placement("a", 0, x, y),)),), (), (0, 0))


@pytest.mark.parametrize(
    ("rotation", "mirrored", "x", "y", "size"),
    [(90.0, False, 160, 0, (160, 120)), (90.0, True, 160, 120, (160, 120)), (180.0, True, 0, 160, (120, 160))],
)
def test_mirror_comes_before_turning(
    rotation: float, mirrored: bool, x: float, y: float, size: tuple[float, float]
) -> None:
    # Worked by hand: ELL spans (0,0)-(120,160); mirrored (-120,0)-(0,160); turned by 90°, (x,y) -> (-y,x).
    part = Part("ell", ELL, 1, (rotation,), mirrored)
    problem = Problem((part,), (Sheet("plate", rectangle(*size)),), Rules(0, 0))
    at = Placement("ell", 0, x, y, rotation, mirrored)
    assert violations(problem, Plan((Layout("plate", 0, (at,)),), (), (0, 0))) == ()
