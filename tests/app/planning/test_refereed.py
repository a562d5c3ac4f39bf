"""No plan reaches anyone without the referee, and one bad plan of the engine does not cost the good ones."""

from __future__ import annotations

import dataclasses

import pytest

from app.errors import PlanningError
from app.planning.problems import material_problems
from app.planning.refereed import LOOK_EVERY_S, Refereed
from nesting.plan import Plan
from nesting.solve import AfterRounds, solve
from tests.app.planning.small_jobs import prepared_squares


@pytest.fixture
def one():
    return material_problems(prepared_squares(4))[0]


def overlapping(plan: Plan) -> Plan:
    """All parts on top of each other."""
    layout = plan.layouts[0]
    first = layout.placements[0]
    heap = tuple(dataclasses.replace(first, copy=placed.copy) for placed in layout.placements)
    return dataclasses.replace(plan, layouts=(dataclasses.replace(layout, placements=heap), *plan.layouts[1:]))


def test_a_layout_that_overlaps_is_not_shown_and_the_last_good_one_is_kept(one):
    good = solve(one.problem, AfterRounds(0)).plan
    now = [0.0]
    shown: list[Plan] = []
    refereed = Refereed(one, shown.append, clock=lambda: now[0])
    refereed.gained(good)
    now[0] += 1.0
    refereed.gained(overlapping(good))
    assert shown == [good]
    assert refereed.last(overlapping(good)) is good
    assert [finding.code for finding in refereed.findings] == ["layout-rejected"]
    assert "overlap" in refereed.findings[0].message


def test_with_no_good_layout_at_all_nothing_is_used(one):
    bad = overlapping(solve(one.problem, AfterRounds(0)).plan)
    with pytest.raises(PlanningError, match="failed its own check"):
        Refereed(one, lambda plan: None).last(bad)


def test_of_a_burst_of_gains_the_newest_is_shown(one):
    good = solve(one.problem, AfterRounds(0)).plan
    later = dataclasses.replace(good, cost=(0, 0, 0, 0, 0))
    now = [0.0]
    shown: list[Plan] = []
    refereed = Refereed(one, shown.append, clock=lambda: now[0])
    for plan in (good, good, later):
        refereed.gained(plan)
    assert shown == [good]
    now[0] += LOOK_EVERY_S
    refereed.look()
    assert shown == [good, later]
