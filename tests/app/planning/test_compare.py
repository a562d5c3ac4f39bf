"""Comparing stock: handbook counts, the three yields, what no other choice beats, and what is recommended."""

from __future__ import annotations

import dataclasses
import json
import os
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from app.errors import JobError, PlanningError
from app.job.kept import KeptPart, KeptPlan, KeptSheet
from app.planning.choices import Choice, adopt, stock_choices, variant, varied
from app.planning.compare import Effort, Outcome, compare, plan_choice
from app.planning.recommend import recommend, unbeaten
from app.stock.book import Cutter, StockSheet
from nesting.plan import Placement
from tests.app.planning.here import HereExecutor
from tests.app.planning.small_jobs import INCH, prepared_squares

REPOSITORY = Path(__file__).resolve().parents[3]
ONCE = Effort(0.0, rounds=0)
SIZES = {
    "48 x 96": (48, 96),
    "60 x 120": (60, 120),
    "48 x 120": (48, 120),
    "51 x 100": (51, 100),
    "75 x 100": (75, 100),
}


def size(name: str, *, price: int | None = None, count: int | None = None) -> StockSheet:
    width, height = SIZES[name]
    return StockSheet(name.replace(" ", ""), "alu", name, width * INCH, height * INCH, count=count, price=price)


def choices(prepared, *sizes: StockSheet, **more) -> tuple[Choice, ...]:
    job = prepared.job
    return stock_choices(job.materials[0], job.cutters[0], sizes, **more)


def words(outcomes):
    return recommend(
        outcomes,
        money=lambda minor: f"${minor / 100:.2f}",
        area=lambda mm2: f"{mm2 / INCH**2:.0f} in2",
        weight=lambda kg: f"{kg:.1f} kg",
    )


@pytest.mark.parametrize(
    ("name", "count", "net_yield"),
    [
        # trade.md V24-V26 (computed there): 12 in squares, margin 1/2 in, gap 3/8 in, as many as a grid holds.
        ("48 x 96", 21, 0.65625),
        ("60 x 120", 36, 0.720),
        ("48 x 120", 27, 0.675),
        ("51 x 100", 32, 0.9035),
        ("75 x 100", 48, 0.9216),
    ],
)
def test_one_sheet_of_each_size_holds_what_the_handbook_counts(name, count, net_yield):
    prepared = prepared_squares(count)
    outcome = plan_choice(*_task(prepared, size(name)), ONCE)
    assert outcome.is_whole
    assert outcome.sheet_count == 1
    assert outcome.net_yield == pytest.approx(net_yield, abs=5e-5)


def _task(prepared, *sizes):
    (choice,) = choices(prepared, *sizes)
    return variant(prepared, choice), choice


def test_the_cheapest_by_area_for_60_squares_is_the_handbooks():
    # trade.md V27 (enumeration there): of 48 x 96, 60 x 120 and 51 x 100, two of 51 x 100 = 10,200 in2 are the least.
    prepared = prepared_squares(60)
    sizes = (size("48 x 96"), size("60 x 120"), size("51 x 100"))
    outcomes = compare(prepared, choices(prepared, *sizes, pairs=False), ONCE, executor=HereExecutor())
    advice = words(outcomes)
    best = outcomes[advice.index]
    assert best.choice.name == "51 x 100 alone"
    assert best.sheets == (("51x100", 2),)
    assert best.sheet_area / INCH**2 == pytest.approx(10_200)
    assert "10200 in2" in advice.why


def test_yield_waste_share_and_waste_factor():
    # trade.md V28: yield 0.72 is a waste share of 0.28 and a waste factor of 0.3889; 6.1: 1200 in2 kept give 0.887.
    prepared = prepared_squares(36)
    outcome = plan_choice(*_task(prepared, size("60 x 120")), ONCE)
    assert 1 - outcome.net_yield == pytest.approx(0.28, abs=1e-4)
    assert outcome.waste_factor == pytest.approx(0.3889, abs=1e-4)
    kept = dataclasses.replace(outcome, offcut_area=1200 * INCH**2)
    assert kept.credited_yield == pytest.approx(0.887, abs=5e-4)


def test_scrap_weight_is_what_is_neither_part_nor_kept():
    # trade.md V1: 5052 at 0.063 in weighs 0.88 lb/ft2 (0.5 % for the rounded density).
    outcome = plan_choice(*_task(prepared_squares(21), size("48 x 96")), ONCE)
    square_feet = (outcome.sheet_area - outcome.part_area - outcome.offcut_area) / (144 * INCH**2)
    assert outcome.scrap_kg / 0.45359237 == pytest.approx(0.88 * square_feet, rel=0.005)


def test_cutting_time_is_worked_by_hand():
    # 21 squares of 48 in edge = 1008 in; 0.063 in in passes of 0.040 in = 2; 50 in/min; 6 min for the sheet.
    outcome = plan_choice(*_task(prepared_squares(21), size("48 x 96")), ONCE)
    assert outcome.minutes == pytest.approx(1008 * 2 / 50 + 6)


def test_gap_to_the_bound():
    priced = size("48 x 96", price=10_000)
    one = plan_choice(*_task(prepared_squares(21), priced), ONCE)
    assert (one.cost, one.least_cost, one.gap) == (10_000, 10_000, 0.0)
    more = plan_choice(*_task(prepared_squares(22), priced), ONCE)
    assert more.cost == 20_000
    assert more.gap == pytest.approx(more.cost / more.least_cost - 1)


def test_choices_are_each_alone_pairs_all_and_again_with_the_rack():
    prepared = prepared_squares(1)
    rack = StockSheet("rack:7", "alu", "offcut 7", 500.0, 500.0, count=1, price=0)
    made = choices(prepared, size("48 x 96"), size("60 x 120"), size("51 x 100"), offcuts=(rack,))
    names = [one.name for one in made]
    assert len(names) == len(set(names)) == 14
    assert "48 x 96 + 60 x 120" in names
    assert "all sizes, with the rack" in names
    assert all((rack in one.stock) is one.uses_rack for one in made)
    assert [one.name for one in choices(prepared, size("48 x 96"), size("60 x 120", count=0))] == ["48 x 96 alone"]


def test_the_rack_saves_a_sheet():
    prepared = prepared_squares(22)
    rack = StockSheet("rack:7", "alu", "offcut 7", 400.0, 400.0, count=1, price=0)
    sizes = (size("48 x 96", price=10_000),)
    without, with_it = compare(prepared, choices(prepared, *sizes, offcuts=(rack,)), ONCE, executor=HereExecutor())
    assert (without.cost, with_it.cost) == (20_000, 10_000)
    assert dict(with_it.sheets) == {"48x96": 1, "rack:7": 1}
    advice = words((without, with_it))
    assert advice.index == 1
    assert "with the rack: 2 sheets, $100.00" in advice.why
    assert "100% more" in advice.why


def test_spacing_margin_and_cutter_can_be_varied():
    prepared = prepared_squares(21)
    (base,) = choices(prepared, size("48 x 96"))
    eighth = Cutter("eighth", "1/8 in", 0.125 * INCH)
    tight, wide, rim, small = varied(
        base, spacings=(0.3 * INCH, 2 * INCH), margins=(0.0,), cutters=(eighth,), units="in"
    )
    assert tight.spacing == pytest.approx(0.3 * INCH)
    assert wide.name == '48 x 96 alone, spacing 2"'
    assert rim.material.margin == 0.0
    assert small.spacing == pytest.approx(0.25 * INCH)  # the web stays, the cutter is thinner
    outcomes = compare(prepared, (base, tight, wide, rim, small), ONCE, executor=HereExecutor())
    counts = [one.sheet_count for one in outcomes]
    assert counts[0] == counts[1] == counts[3] == counts[4] == 1
    assert counts[2] > 1  # 12 in squares two inches apart: three across need 40 in, seven along need 96 in + margins
    with pytest.raises(JobError, match="less than cutter 'quarter' is wide"):
        varied(base, spacings=(1.0,))
    with pytest.raises(JobError, match="below 0"):
        varied(base, margins=(-1.0,))


def test_a_choice_that_cannot_be_planned_is_told_and_does_not_stop_the_others():
    prepared = prepared_squares(3)
    (good,) = choices(prepared, size("48 x 96"))
    (bad,) = varied(good, margins=(30 * INCH,))
    outcomes = compare(prepared, (bad, good), ONCE, executor=HereExecutor())
    assert outcomes[0].fault
    assert not outcomes[0].is_whole
    assert outcomes[0].unplaced == 3
    assert outcomes[1].is_whole
    assert words(outcomes).index == 1


def test_parts_larger_than_every_size_are_never_recommended_away():
    prepared = prepared_squares(2, side=70 * INCH)
    outcomes = compare(prepared, choices(prepared, size("48 x 96"), size("60 x 120")), ONCE, executor=HereExecutor())
    advice = words(outcomes)
    assert advice.index is None
    assert "No choice places every part" in advice.why
    assert words(()).index is None


def made(prepared, cost, scrap, **more) -> Outcome:
    (choice,) = choices(prepared, size("48 x 96", price=1))
    return Outcome(choice, sheets=(("48x96", 1),), cost=cost, scrap_kg=scrap, sheet_area=1.0, part_area=0.5, **more)


def test_what_no_other_beats():
    prepared = prepared_squares(1)
    cheap, clean = made(prepared, 100, 9.0), made(prepared, 200, 1.0)
    worse, same = made(prepared, 200, 9.0), made(prepared, 100, 9.0)
    broken = dataclasses.replace(cheap, cost=0, fault="no")
    assert unbeaten((cheap, clean, worse, same, broken)) == (True, True, False, True, False)
    short = dataclasses.replace(cheap, cost=10, scrap_kg=0.5, unplaced=3)
    assert unbeaten((cheap, short)) == (True, False)  # it is cheap only because it does not do the job
    assert unbeaten((short, dataclasses.replace(short, unplaced=5))) == (True, False)


def test_the_sentence_is_honest_about_small_differences_and_bounds():
    prepared = prepared_squares(1)
    near = words((made(prepared, 1000, 1.0, least_cost=900), made(prepared, 1010, 1.0)))
    assert "only 1.0% more, which another run may turn round" in near.why
    assert "at most 11% above the least possible" in near.why
    proven = words((made(prepared, 1000, 1.0, least_cost=1000), made(prepared, 1500, 1.0)))
    assert "proven that nothing cheaper exists" in proven.why
    assert "at 50% more" in proven.why
    level = words((made(prepared, 1000, 1.0), made(prepared, 1000, 3.5)))
    assert "costs the same but makes 2.5 kg more scrap" in level.why
    assert "not known" in level.why


def test_adopting_a_choice_changes_the_job_and_leaves_the_rack_alone():
    prepared = prepared_squares(1)
    rack = StockSheet("rack:7", "alu", "offcut 7", 500.0, 500.0, count=1, price=0)
    (base, with_rack) = choices(prepared, size("60 x 120"), offcuts=(rack,))
    thin = Cutter("eighth", "1/8 in", 0.125 * INCH)
    (small,) = varied(with_rack, cutters=(thin,))
    job = adopt(prepared.job, small)
    assert [one.id for one in job.stock] == ["60x120"]
    assert job.materials[0].cutter == "eighth"
    assert thin in job.cutters
    assert adopt(prepared.job, base).cutters == prepared.job.cutters


def test_the_same_effort_gives_the_same_outcomes_in_one_thread_and_in_two():
    prepared = prepared_squares(30)
    some = choices(prepared, size("48 x 96", price=1), size("60 x 120", price=2))
    effort = Effort(0.0, rounds=2, seed=5)
    seen: list[int] = []
    with ThreadPoolExecutor(2) as pool:
        two = compare(prepared, some, effort, executor=pool, on_done=lambda index, outcome: seen.append(index))
    one = compare(prepared, some, effort, executor=HereExecutor())
    assert one == two
    assert sorted(seen) == [0, 1, 2]


def test_cancelling_leaves_out_what_is_not_done():
    prepared = prepared_squares(3)
    some = choices(prepared, size("48 x 96"), size("60 x 120"))
    done: list[int] = []
    with ThreadPoolExecutor(1) as pool:
        compared = compare(
            prepared,
            some,
            ONCE,
            executor=pool,
            on_done=lambda index, _: done.append(index),
            cancelled=lambda: bool(done),
        )
    assert len(compared) == len(done) < len(some)


def test_the_pool_of_processes_works_and_a_dying_process_is_one_sentence(monkeypatch):
    prepared = prepared_squares(21)
    some = choices(prepared, size("48 x 96", price=1), size("60 x 120", price=2), pairs=False)
    outcomes = compare(prepared, some, ONCE)
    assert [one.sheet_count for one in outcomes] == [1, 1, 1]
    monkeypatch.setattr("app.planning.compare.plan_choice", _die)
    with pytest.raises(PlanningError, match="a process that planned one of the choices died"):
        compare(prepared, some, ONCE)


def test_cancelling_the_pool_does_not_wait_for_what_is_under_way():
    prepared = prepared_squares(40)
    some = choices(prepared, size("48 x 96", price=1), size("60 x 120", price=2), size("75 x 100", price=2))
    began = time.monotonic()
    compared = compare(prepared, some, Effort(3600.0), cancelled=lambda: time.monotonic() - began > 2.0)
    assert len(compared) < len(some)
    assert time.monotonic() - began < 120.0  # an hour each was allowed


def _die(*task: object) -> None:
    os._exit(3)


@pytest.mark.slow
def test_a_dask_cluster_can_do_the_work():
    pytest.importorskip("distributed", reason="the extra for clusters is not installed")
    done = subprocess.run(
        [sys.executable, "-m", "tests.app.planning.dask_sweep"],
        capture_output=True,
        text=True,
        cwd=REPOSITORY,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == {
        "workers": 2,
        "outcomes": [["a alone", [["a", 1]], 1], ["b alone", [["b", 1]], 2], ["all sizes", [["a", 1]], 1]],
    }


def test_adopting_keeps_the_sizes_that_locked_sheets_lie_on_but_no_more_of_them():
    prepared = prepared_squares(1)
    (small,) = choices(prepared, size("48 x 96"))
    large = size("60 x 120")
    locked = KeptSheet(large.id, (KeptPart(Placement("square", 0, 20.0, 20.0, 0.0)),), is_locked=True)
    job = dataclasses.replace(prepared.job, stock=(large,), plan=KeptPlan((locked,)))
    assert [(one.id, one.count) for one in adopt(job, small).stock] == [("48x96", None), ("60x120", 1)]
    free = dataclasses.replace(job, plan=KeptPlan((dataclasses.replace(locked, is_locked=False),)))
    assert [one.id for one in adopt(free, small).stock] == ["48x96"]
