"""Sheet area the sample jobs take, against simpler ways, run by hand: `python -m tests.bench.yields [--seconds 60]`.

For each material: the packing of the parts' upright boxes by rectpack at the same spacing and margin, the engine's
own first layout, the layout after the given time, and what no layout can beat. The area is that of the sheets used,
less the largest strip left free from edge to edge where that is said. Spacing, margin, holes and turning are as the
jobs have them.
"""

from __future__ import annotations

import argparse
import math
import resource
import time
from itertools import pairwise
from pathlib import Path

import numpy as np
import rectpack

from app.job.file import read_job
from app.planning.prepare import prepare
from app.planning.problems import material_problems
from nesting.bounds import lower_bound
from nesting.problem import Problem
from nesting.referee import violations
from nesting.solve import AfterRounds, AfterSeconds, solve

SAMPLES = Path(__file__).resolve().parents[2] / "sample_jobs"


def boxes_cost(problem: Problem) -> tuple[int, int, float]:
    """Cost, count and area in m² of the cheapest packing of upright boxes on one kind of sheet, turned or not."""
    spacing, margin = problem.rules.spacing, problem.rules.margin
    found = []
    for sheet in problem.sheets:
        size = np.ptp(sheet.outline.outer, axis=0)
        packer = rectpack.newPacker(rotation=True)
        for part in problem.parts:
            width, height = np.ptp(part.outline.outer, axis=0) + spacing
            for _ in range(part.quantity):
                packer.add_rect(math.ceil(width * 1e3), math.ceil(height * 1e3))
        packer.add_bin(*(int((side - 2 * margin + spacing) * 1e3) for side in size.tolist()), count=float("inf"))
        packer.pack()
        if sum(len(one) for one in packer) == sum(part.quantity for part in problem.parts):
            found.append((sheet.cost * len(packer), len(packer), len(packer) * float(size.prod()) / 1e6))
    return min(found) if found else (0, 0, math.inf)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    seconds = parser.parse_args().seconds
    for path in sorted(SAMPLES.glob("*/*.json")):
        for one in material_problems(prepare(read_job(path))):
            problem = one.problem
            bound = lower_bound(problem)
            first = solve(problem, AfterRounds(0)).plan
            asked: list[float] = []
            began = time.process_time()
            last = solve(
                problem, AfterSeconds(seconds), on_progress=lambda _, asked=asked: asked.append(time.perf_counter())
            ).plan
            spent = time.process_time() - began
            assert violations(problem, first) == violations(problem, last) == ()
            boxes = boxes_cost(problem)
            longest = max((b - a for a, b in pairwise(asked)), default=0.0)
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(
                f"{path.stem} {one.material.id}, {sum(part.quantity for part in problem.parts)} parts: "
                f"boxes {boxes[1]} sheets, {boxes[2]:.2f} m², cost {boxes[0]}; "
                f"first {len(first.layouts)}, {first.cost[2] / 1e6:.2f} m², cost {first.cost[1]}; "
                f"after {seconds:g} s ({spent:.0f} s CPU) {len(last.layouts)}, {last.cost[2] / 1e6:.2f} m², "
                f"{(last.cost[2] + last.cost[3]) / 1e6:.2f} m² without the free strip, cost {last.cost[1]}; "
                f"bound {bound.sheets}, {bound.area / 1e6:.2f} m², cost {bound.cost}; "
                f"longest step {longest:.2f} s, {peak:.0f} MB",
                flush=True,
            )


if __name__ == "__main__":
    main()
