"""Planning a job: figures against worked values, limits, and records that survive the way back."""

from __future__ import annotations

import dataclasses
import pickle

import pytest

from app.errors import JobError
from app.planning.plan_job import PlanRun, assemble, plan_job, plan_records
from tests.app.planning.small_jobs import INCH, prepared_squares


def test_the_21_squares_of_v24_fill_one_sheet_with_the_handbook_yield():
    # trade.md V24 (computed there): 12 x 12 in squares on 48 x 96, margin 0.5, gap 0.375: 21 by grid, yield 0.65625.
    plan = plan_job(prepared_squares(21), PlanRun(rounds=0))
    assert len(plan.sheets) == 1
    assert plan.unplaced == ()
    assert plan.summaries[0].net_yield == pytest.approx(0.65625, abs=1e-9)
    assert plan.summaries[0].cost == 20_000


def test_weight_of_a_sheet_is_the_one_the_density_table_gives():
    # trade.md V1: 5052 at 0.063 in weighs 0.880 lb/ft2; a 4 x 8 ft sheet 28.16 lb (0.5 % for the rounded density).
    plan = plan_job(prepared_squares(1), PlanRun(rounds=0))
    assert plan.summaries[0].weight_kg / 0.45359237 == pytest.approx(28.16, rel=0.005)


def test_areas_add_up():
    summary = plan_job(prepared_squares(30), PlanRun(rounds=0)).summaries[0]
    assert summary.part_area == pytest.approx(30 * (12 * INCH) ** 2)
    assert summary.sheet_area == pytest.approx(summary.sheet_count * 48 * 96 * INCH**2)
    assert summary.credited_yield == pytest.approx((summary.part_area + summary.offcut_area) / summary.sheet_area)
    assert summary.least_sheets <= summary.sheet_count


def test_a_limited_rack_leaves_the_rest_unplaced_with_a_reason():
    plan = plan_job(prepared_squares(30, sheet_count=1), PlanRun(rounds=0))
    placed = sum(len(sheet.placed) for sheet in plan.sheets)
    assert placed >= 21
    assert placed + len(plan.unplaced) == 30
    assert {left.reason for left in plan.unplaced} == {
        'no room left for it (12" x 12") on the one sheet at hand; add sheets to the stock'
    }


def test_a_part_larger_than_every_sheet_is_reported_not_dropped():
    plan = plan_job(prepared_squares(1, side=60 * INCH), PlanRun(rounds=0))
    assert plan.sheets == ()
    assert [left.part for left in plan.unplaced] == ["square"]
    assert '60" x 60" at the least' in plan.unplaced[0].reason
    assert 'leaves 47" x 95" inside its margins' in plan.unplaced[0].reason


def test_a_material_without_stock_is_one_clear_sentence():
    prepared = prepared_squares(1)
    without = dataclasses.replace(prepared, job=dataclasses.replace(prepared.job, stock=()))
    with pytest.raises(JobError, match="no stock to cut them from"):
        plan_job(without, PlanRun(rounds=0))


@pytest.mark.parametrize("limits", [{"seconds": -1.0}, {"seconds": float("nan")}, {"rounds": -1}, {"seed": -1}])
def test_limits_that_make_no_sense_are_refused(limits):
    with pytest.raises(JobError, match=r"no sense|below 0"):
        plan_job(prepared_squares(1), PlanRun(**limits))


def test_the_same_seed_and_rounds_give_the_same_plan():
    prepared = prepared_squares(25)
    first, second = (plan_records(prepared, PlanRun(rounds=3, seed=7)) for _ in range(2))
    assert first.sheets == second.sheets


def test_a_missing_price_leaves_the_cost_unknown():
    assert plan_job(prepared_squares(1, price=None), PlanRun(rounds=0)).summaries[0].cost is None


def test_a_record_survives_the_pipe():
    prepared = prepared_squares(22)
    record = plan_records(prepared, PlanRun(rounds=0))
    back = assemble(prepared, pickle.loads(pickle.dumps(record)))
    assert [sheet.file for sheet in back.sheets] == ["01-alu.dxf", "02-alu.dxf"]
    assert sum(len(sheet.placed) for sheet in back.sheets) == 22


def test_cancelling_before_the_first_sheet_leaves_everything_accounted_for():
    plan = plan_job(prepared_squares(30), PlanRun(seconds=5.0, cancelled=lambda: True))
    assert sum(len(sheet.placed) for sheet in plan.sheets) + len(plan.unplaced) == 30
