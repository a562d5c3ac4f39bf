"""Time and memory of the main job, run by hand: `python -m tests.bench.ground [--runs 3]`.

Prints one row per measure; rows worth keeping go to DEVELOPERS.md with the machine they were taken on. Wall times are
of fresh processes, with warm kernels (the first run of an installation compiles them and is not counted).
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[2]
SAMPLES = REPOSITORY / "sample_jobs"

FIRST_LAYOUT = """
import sys, time
began = time.perf_counter()
from app.job.file import read_job
from app.planning.plan_job import PlanRun, plan_records
from app.planning.prepare import prepare
prepared = prepare(read_job(sys.argv[1]))
plan_records(prepared, PlanRun(rounds=0))
print(time.perf_counter() - began)
"""

PREPARE = """
import sys, time
began = time.perf_counter()
from app.job.file import read_job
from app.planning.prepare import prepare
prepared = prepare(read_job(sys.argv[1]))
print(time.perf_counter() - began)
print(sum(len(one.letters) for one in prepared.lettering), "letters", len(prepared.parts), "parts", file=sys.stderr)
"""

EXPORT = """
import sys, time, datetime
from app.job.file import read_job
from app.output.write import write_plan
from app.planning.plan_job import PlanRun, plan_job
from app.planning.prepare import prepare
plan = plan_job(prepare(read_job(sys.argv[1])), PlanRun(rounds=0))
began = time.perf_counter()
write_plan(plan, sys.argv[2], when=datetime.datetime(2026, 1, 1))
print(time.perf_counter() - began)
"""


def script(text: str, *arguments: str) -> Callable[[], float]:
    """A fresh interpreter that prints the seconds it measured itself."""

    def measure() -> float:
        done = subprocess.run(
            [sys.executable, "-c", text, *arguments], capture_output=True, text=True, check=True, cwd=REPOSITORY
        )
        return float(done.stdout.split()[-1])

    return measure


def command(*arguments: str) -> Callable[[], float]:
    """Wall time of a whole command."""

    def measure() -> float:
        began = time.perf_counter()
        subprocess.run([sys.executable, "-m", "app", *arguments], capture_output=True, check=False, cwd=REPOSITORY)
        return time.perf_counter() - began

    return measure


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=3)
    runs = parser.parse_args().runs
    hall, two_hundred = (str(SAMPLES / name / f"{name}.json") for name in ("market_hall", "two_hundred"))
    with tempfile.TemporaryDirectory() as folder:
        rows = [
            ("letterbed --help", command("--help")),
            ("read and derive two_hundred", script(PREPARE, two_hundred)),
            ("first checked layout of market_hall, from start", script(FIRST_LAYOUT, hall)),
            ("export market_hall", script(EXPORT, hall, os.path.join(folder, "hall"))),
            ("export two_hundred", script(EXPORT, two_hundred, os.path.join(folder, "two"))),
            (
                "plan market_hall --rounds 0, whole command",
                command("plan", hall, "--out", f"{folder}/all", "--rounds", "0"),
            ),
        ]
        for name, measure in rows:
            measure()  # warms the disk and the kernels
            times = [measure() for _ in range(runs)]
            print(f"{name:52} {statistics.mean(times):6.2f} s  (min {min(times):.2f}, max {max(times):.2f}, n {runs})")
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"{'peak memory of any of these processes':52} {peak:6.0f} MB")


if __name__ == "__main__":
    main()
