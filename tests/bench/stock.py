"""Comparing stock, timed by hand: `python -m tests.bench.stock [--seconds 5]`.

Prints the comparison of every sample job with what it recommends and why, then the wall time of a sweep of twenty
choices in one process and on all cores.
"""

from __future__ import annotations

import argparse
import os
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

from app.job.file import read_job
from app.output.compare_tables import compare_text, compared
from app.planning.choices import Choice, stock_choices, varied
from app.planning.compare import Effort, compare
from app.planning.prepare import Prepared, prepare

SAMPLES = Path(__file__).resolve().parents[2] / "sample_jobs"


def choices_of(prepared: Prepared) -> list[Choice]:
    """Every choice of stock for every material that has parts."""
    job = prepared.job
    cutters = {cutter.id: cutter for cutter in job.cutters}
    made: list[Choice] = []
    for material in job.materials:
        if any(part.material == material.id for part in prepared.parts):
            sizes = [size for size in job.stock if size.material == material.id]
            made += stock_choices(material, cutters[material.cutter], sizes)
    return made


def twenty(prepared: Prepared) -> list[Choice]:
    """Twenty choices for the material with most parts: its stock, then ever wider spacings."""
    job = prepared.job
    count = {material.id: 0 for material in job.materials}
    for part in prepared.parts:
        count[part.material] += part.quantity
    busiest = max(count, key=lambda name: count[name])
    base = [one for one in choices_of(prepared) if one.material.id == busiest]
    wider = [base[-1].spacing + 0.5 * step for step in range(1, 21 - len(base))]
    return [*base, *varied(base[-1], spacings=wider)][:20]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=5.0, help="time for each choice")
    parser.add_argument("--rounds", type=int, default=2, help="rounds for each of the twenty choices")
    chosen = parser.parse_args()
    for path in sorted(SAMPLES.glob("*/*.json")):
        prepared = prepare(read_job(path))
        began = time.perf_counter()
        outcomes = compare(prepared, choices_of(prepared), Effort(chosen.seconds))
        print(f"== {prepared.job.name}: {len(outcomes)} choices, {time.perf_counter() - began:.1f} s\n")
        print(compare_text(prepared.job, compared(prepared.job, outcomes)), "\n")
    prepared = prepare(read_job(SAMPLES / "cafe" / "cafe.json"))
    choices = twenty(prepared)
    for workers in (1, os.cpu_count() or 1):
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            began = time.perf_counter()
            outcomes = compare(prepared, choices, Effort(0.0, rounds=chosen.rounds), executor=pool)
            took = time.perf_counter() - began
        print(f"{len(outcomes)} choices, {chosen.rounds} rounds each, {workers} processes: {took:.1f} s")


if __name__ == "__main__":
    main()
