"""The kept plan put together again and judged, and planning around what is locked in it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest

from app.errors import ExportError, JobError
from app.job.kept import KeptPart, KeptPlan, KeptSheet, lock_parts, lock_sheet, move, put, put_on_new_sheet, take_off
from app.output.write import write_plan
from app.planning.job_plan import JobPlan
from app.planning.kept_plan import KeptPlans, kept_of
from app.planning.plan_job import PlanRun, plan_job
from app.planning.prepare import Prepared
from app.planning.problems import material_problems
from nesting.plan import Layout, Placement, Plan, Unplaced
from nesting.referee import violations
from tests.app.planning.small_jobs import INCH, prepared_squares


@pytest.fixture(scope="module")
def squares() -> Prepared:
    return prepared_squares(40)  # 21 on a sheet of 48 x 96 in, so two sheets


@pytest.fixture(scope="module")
def planned(squares) -> JobPlan:
    return plan_job(squares, PlanRun(seconds=0.0))


@pytest.fixture(scope="module")
def plans(squares) -> KeptPlans:
    return KeptPlans(squares)


def places(plan: JobPlan) -> list[list[Placement]]:
    return [[one.placement for one in sheet.placed] for sheet in plan.sheets]


def with_plan(prepared: Prepared, kept: KeptPlan) -> Prepared:
    return replace(prepared, job=replace(prepared.job, plan=kept))


def referee_says(plan: JobPlan, prepared: Prepared) -> tuple[str, ...]:
    """The referee asked by the test itself, about the whole plan."""
    (one,) = material_problems(prepared)
    layouts = tuple(
        Layout(sheet.stock.id, at, tuple(each))
        for at, (sheet, each) in enumerate(zip(plan.sheets, places(plan), strict=True))
    )
    left = tuple(Unplaced(each.part, each.copy, "") for each in plan.unplaced)
    return violations(one.problem, Plan(layouts, left, ()))


def test_plan_kept_and_put_together_again_is_the_same(planned, plans):
    again = plans.plan(kept_of(planned))
    assert places(again) == places(planned)
    assert again.summaries == planned.summaries
    assert [sheet.offcuts for sheet in again.sheets] == [sheet.offcuts for sheet in planned.sheets]
    assert [sheet.file for sheet in again.sheets] == [sheet.file for sheet in planned.sheets]
    assert not again.faults
    assert again.is_complete


def test_part_moved_onto_another_is_a_fault_with_both_names_and_nothing_can_be_written(planned, plans, tmp_path):
    kept = kept_of(planned)
    first, second = (part.placement for part in kept.sheets[0].parts[:2])
    bad = plans.plan(move(kept, [replace(first, x=second.x + 20.0, y=second.y)]), planned)
    (fault,) = [one for one in bad.faults if {key[1] for key in one.parts} == {first.copy, second.copy}]
    assert (fault.sheet, fault.message) == (1, f"square · {first.copy + 1} overlaps square · {second.copy + 1}")
    assert not bad.is_complete
    with pytest.raises(ExportError, match="overlaps"):
        write_plan(bad, tmp_path / "out", when=datetime(2026, 1, 1))
    assert not (tmp_path / "out").exists()


def test_too_close_and_too_near_the_edge_are_said_in_the_jobs_units(squares, plans):
    kept = KeptPlan(
        (
            KeptSheet(
                "s",
                (
                    KeptPart(Placement("square", 0, 3 / 16 * INCH, 100.0)),
                    KeptPart(Placement("square", 1, 5.0 + 12.25 * INCH, 500.0)),
                ),
            ),
        )
    )
    alone = plans.plan(kept)
    assert [one.message for one in alone.faults] == ['square · 1 is 3/16" from the sheet\'s edge; the margin is 1/2"']
    beside = move(kept, [Placement("square", 0, 100.0, 100.0), Placement("square", 1, 100.0 + 12.25 * INCH, 100.0)])
    assert [one.message for one in plans.plan(beside).faults] == [
        'square · 1 is 1/4" from square · 2; the spacing is 3/8"'
    ]


def test_angle_that_is_not_allowed_is_a_fault_though_no_distance_is_wrong(plans):
    kept = KeptPlan((KeptSheet("s", (KeptPart(Placement("square", 0, 500.0, 500.0, 45.0)),)),))
    (fault,) = plans.plan(kept).faults
    assert "turned by 45" in fault.message


def test_more_sheets_than_there_are_is_a_fault():
    few = prepared_squares(4, sheet_count=1)
    kept = kept_of(plan_job(few, PlanRun(seconds=0.0)))
    parts = kept.sheets[0].parts
    spread = put_on_new_sheet(kept, "s", [parts[0].placement], after=0)
    (fault,) = KeptPlans(few).plan(spread).faults
    assert "there are 1" in fault.message


def test_figures_follow_what_is_taken_off(planned, plans):
    kept = kept_of(planned)
    keys = [part.key for part in kept.sheets[1].parts]
    less = plans.plan(take_off(kept, keys), planned)
    assert len(less.sheets) == 1
    (figures,), (before,) = less.summaries, planned.summaries
    assert figures.part_area == pytest.approx(21 * (12 * INCH) ** 2)
    assert (figures.sheet_area, figures.cost) == (pytest.approx(before.sheet_area / 2), before.cost // 2)
    assert {(one.part, one.copy) for one in less.unplaced} == set(keys)
    assert {one.reason for one in less.unplaced} == {"taken off its sheet by hand"}
    assert not less.is_complete
    back = plans.plan(put(take_off(kept, keys), 0, []), less)
    assert {one.reason for one in back.unplaced} == {"taken off its sheet by hand"}


def test_parts_changed_since_are_left_out_and_told(planned):
    kept = kept_of(planned)
    smaller = KeptPlans(prepared_squares(40, side=11 * INCH)).plan(kept)
    assert not smaller.sheets
    assert len(smaller.unplaced) == 40
    assert any("another size" in one.message for one in smaller.findings)
    fewer = KeptPlans(prepared_squares(30)).plan(kept)
    assert sum(len(sheet.placed) for sheet in fewer.sheets) == 30
    other = prepared_squares(40)
    gone = KeptPlans(replace(other, job=replace(other.job, stock=(replace(other.job.stock[0], id="t"),)))).plan(kept)
    assert not gone.sheets
    assert any("not among the job's stock" in one.message for one in gone.findings)


# Planning around locks


def test_locked_part_stays_and_the_others_are_planned_round_it(squares, planned):
    kept = kept_of(planned)
    lone = replace(kept.sheets[0].parts[3].placement, x=400.0, y=1000.0)
    kept = lock_parts(put(take_off(kept, [(lone.part, lone.copy)]), 0, [lone]), [(lone.part, lone.copy)], True)
    rest = plan_job(with_plan(squares, kept), PlanRun(seconds=0.0))
    assert lone in places(rest)[0]
    assert [one.placement for one in rest.sheets[0].placed if one.is_locked] == [lone]
    assert len(rest.sheets[0].placed) > 15
    assert rest.is_complete
    assert not referee_says(rest, squares)


def test_locked_sheet_is_left_as_it_is(squares, planned):
    kept = lock_sheet(kept_of(planned), 1, True)
    before = places(planned)[1]
    rest = plan_job(with_plan(squares, kept), PlanRun(seconds=0.0, seed=5))
    locked = [sheet for sheet in rest.sheets if sheet.is_locked]
    assert [[one.placement for one in sheet.placed] for sheet in locked] == [before]
    assert rest.is_complete
    assert not referee_says(rest, squares)


def test_locked_sheets_count_as_used_where_stock_is_short():
    few = prepared_squares(40, sheet_count=2)
    kept = lock_sheet(kept_of(plan_job(few, PlanRun(seconds=0.0))), 0, True)
    less = replace(kept, sheets=(replace(kept.sheets[0], parts=kept.sheets[0].parts[:5]),))
    rest = plan_job(with_plan(few, less), PlanRun(seconds=0.0))
    assert [len(sheet.placed) for sheet in rest.sheets] == [5, 21]
    assert len(rest.unplaced) == 14
    copies = {one.placement.copy for sheet in rest.sheets for one in sheet.placed} | {one.copy for one in rest.unplaced}
    assert copies == set(range(40))


def test_nothing_left_to_plan_is_said(squares, planned):
    kept = kept_of(planned)
    for at in range(len(kept.sheets)):
        kept = lock_sheet(kept, at, True)
    with pytest.raises(JobError, match="every part is locked"):
        plan_job(with_plan(squares, kept), PlanRun(seconds=0.0))


def test_without_locks_a_kept_plan_changes_nothing(squares, planned):
    again = plan_job(with_plan(squares, kept_of(planned)), PlanRun(seconds=0.0))
    assert places(again) == places(planned)
