"""How far the cutter travels in the air, against the order of the parts list and a bound no order can beat.

`python -m tests.bench.travel [JOB.json ...]`, the sample jobs when none is named. The bound is for the rules and the
places of entry as they are: within each stage of the order (holes, small parts, large parts, offcuts), Held and Karp's
bound for a path through all places of entry (1-trees, subgradient ascent), the way between stages not counted.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
from scipy.sparse.csgraph import minimum_spanning_tree

from app.cutting import operations as ordering
from app.cutting.ground import COARSE, Ground
from app.cutting.operations import Work, operations
from app.cutting.summary import summarise_cutting
from app.cutting.ways import lead_rules
from app.job.cutting import USUAL
from app.job.file import read_job
from app.planning.plan_job import PlanRun, plan_job
from app.planning.prepare import prepare

SAMPLES = Path(__file__).resolve().parents[2] / "sample_jobs"


def path_bound(points: np.ndarray, steps: int = 200) -> float:
    """No path through all points (n, 2) is shorter: a tour with one more node that is near to all, by 1-trees."""
    count = len(points)
    if count < 2:
        return 0.0
    ways = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    prices = np.zeros(count)
    best = 0.0
    for step in range(steps):
        priced = ways + prices[:, None] + prices[None]
        # A spanning tree drops ways of weight 0, so all are raised by the same amount.
        lift = 1.0 - priced.min()
        tree = minimum_spanning_tree(priced + lift).tocoo()
        degree = np.bincount(tree.row, minlength=count) + np.bincount(tree.col, minlength=count)
        # The node added has degree 2 and no cost: its two ways are the cheapest by price alone.
        ends = np.argsort(prices)[:2]
        degree[ends] += 1
        value = tree.data.sum() - lift * (count - 1) + prices[ends].sum() - 2.0 * prices.sum()
        best = max(best, float(value))
        off = degree - 2
        if not off.any():
            break
        prices = prices + ways.mean() / count * 8.0 / (1 + step / 10) * off
    return best


def stage_sizes(sheet) -> list[int]:
    """How many operations each stage of the order has."""
    tasks, pieces = ordering._list(sheet, USUAL, Ground(sheet, COARSE), lead_rules(sheet, USUAL))
    listed = [task.operation for task in tasks]
    stages = ordering._stages(listed, pieces, ordering._rules(listed, pieces))
    return [stages.count(stage) for stage in sorted(set(stages))]


def measure(plan) -> tuple[float, float, float]:
    """Travel as ordered, in the order of the parts list, and the bound, mm."""
    ours = listed = bound = 0.0
    for sheet in plan.sheets:
        ordered = operations(sheet)
        ours += summarise_cutting(ordered).travel
        places = {(placed.part.id, placed.placement.copy): at for at, placed in enumerate(sheet.placed)}
        works = {Work.DRILL: 0, Work.MARK: 1, Work.INSIDE: 2, Work.OUTSIDE: 3}
        naive = sorted(
            ordered,
            key=lambda one: (one.work is Work.OFFCUT, places.get((one.part, one.copy), 0), works.get(one.work, 4)),
        )
        listed += summarise_cutting(naive).travel
        entries = np.array([one.begin for one in ordered])
        for first, size in zip(np.cumsum([0, *stage_sizes(sheet)]), stage_sizes(sheet), strict=False):
            bound += path_bound(entries[first : first + size])
    return ours, listed, bound


def main() -> None:
    """Print a line per job."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("jobs", nargs="*", type=Path)
    chosen = parser.parse_args()
    for path in chosen.jobs or sorted(SAMPLES.glob("*/*.json")):
        ours, listed, bound = measure(plan_job(prepare(read_job(path)), PlanRun(rounds=0)))
        print(
            f"{path.stem}: {ours / 1000:.1f} m; parts-list order {listed / 1000:.1f} m; bound {bound / 1000:.1f} m "
            f"(gap {ours / bound - 1:.0%})"
        )


if __name__ == "__main__":
    main()
