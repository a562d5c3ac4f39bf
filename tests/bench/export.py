"""How long a large plan takes to be written, read back and checked: 1,000 letter parts on 40 sheets.

`python -m tests.bench.export [--sheets 40] [--parts 1000] [--paths yes] [--alone] [--profile FILE]`. The sheets are
those of the sample job of two hundred letters, each with its first parts only, over and over under new copy numbers.
The plan is kept in the system's folder for temporary files, since planning takes longer than what is measured; delete
it there after a change of what a plan holds.
"""

from __future__ import annotations

import argparse
import cProfile
import os
import pickle
import resource
import tempfile
import time
from collections import Counter
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from app.job.cutting import Cutting
from app.job.file import read_job
from app.output import sheet_files
from app.output.write import write_plan
from app.planning.job_plan import JobPlan, PlacedPart, PlannedSheet

JOB = Path(__file__).resolve().parents[2] / "sample_jobs" / "two_hundred" / "two_hundred.json"
KEPT = Path(tempfile.gettempdir()) / "letterbed_bench_export.pickle"


def planned() -> JobPlan:
    """The sample job's plan, made once."""
    if KEPT.exists() and KEPT.stat().st_mtime > JOB.stat().st_mtime:
        plan: JobPlan = pickle.loads(KEPT.read_bytes())
        return plan
    # Imported here: helper processes import this module and need none of the planning.
    from app.planning.plan_job import PlanRun, plan_job
    from app.planning.prepare import prepare

    plan = plan_job(prepare(read_job(JOB)), PlanRun(rounds=0))
    KEPT.write_bytes(pickle.dumps(plan))
    return plan


def enlarged(plan: JobPlan, sheet_count: int, part_count: int) -> JobPlan:
    """A plan of so many sheets and parts, made of the sheets of another."""
    sheets: list[PlannedSheet] = []
    copies: Counter[str] = Counter()
    for number in range(sheet_count):
        model = plan.sheets[number % len(plan.sheets)]
        wanted = round(part_count * (number + 1) / sheet_count) - sum(len(one.placed) for one in sheets)
        placed = []
        for one in model.placed[:wanted]:
            placed.append(PlacedPart(one.part, replace(one.placement, copy=copies[one.part.id])))
            copies[one.part.id] += 1
        name = f"{number + 1:02d}-{model.file.split('-', 1)[1]}"
        sheets.append(replace(model, number=number + 1, file=name, placed=tuple(placed)))
    parts = {part.id: replace(part, quantity=copies[part.id]) for part in plan.parts if copies[part.id]}
    sheets = [
        replace(sheet, placed=tuple(PlacedPart(parts[one.part.id], one.placement) for one in sheet.placed))
        for sheet in sheets
    ]
    return replace(plan, parts=tuple(parts.values()), sheets=tuple(sheets))


def main() -> None:
    """Write the plan and print what it took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sheets", type=int, default=40)
    parser.add_argument("--parts", type=int, default=1000)
    parser.add_argument("--paths", choices=("yes", "no"), default="no", help="write the PATH layers too")
    parser.add_argument("--alone", action="store_true", help="without helper processes")
    parser.add_argument("--profile", type=Path, help="write a profile of this process (best with --alone)")
    chosen = parser.parse_args()
    plan = enlarged(planned(), chosen.sheets, chosen.parts)
    cutting = replace(plan.job.cutting or Cutting(), paths=chosen.paths == "yes")
    plan = replace(plan, job=replace(plan.job, cutting=cutting))
    if chosen.alone:
        sheet_files.LARGE = 10**9
    count = sum(len(sheet.placed) for sheet in plan.sheets)
    shapes = len({placed.part.region for sheet in plan.sheets for placed in sheet.placed})
    print(f"{count} parts of {shapes} shapes on {len(plan.sheets)} sheets; load {os.getloadavg()[0]:.1f}")
    profile = cProfile.Profile() if chosen.profile else None
    with tempfile.TemporaryDirectory() as folder:
        before = _used()
        begin = time.perf_counter()
        if profile is not None:
            profile.enable()
        write_plan(plan, Path(folder) / "out", when=datetime(2030, 1, 1))
        if profile is not None:
            profile.disable()
            profile.dump_stats(chosen.profile)
        wall = time.perf_counter() - begin
    own, helpers = (now - then for now, then in zip(_used(), before, strict=True))
    print(
        f"{wall:.1f} s; computing {own:.1f} s here and {helpers:.1f} s in helpers, {own + helpers:.1f} s in all; "
        f"load {os.getloadavg()[0]:.1f}"
    )


def _used() -> tuple[float, float]:
    """Computing time of this process and of its ended helpers, s."""
    return tuple(
        usage.ru_utime + usage.ru_stime
        for usage in (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    )


if __name__ == "__main__":
    main()
