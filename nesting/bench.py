"""Benchmark instances, one row for each seed: `python -m nesting.bench FILE... --seconds S --seed N --out rows.jsonl`.

The budget is wall time (`--seconds`) or, for a machine that others load, the computing time of this process
(`--cpu-seconds`): on two free cores a run of S seconds spends up to 2 S. The mean over the seeds follows an instance's
rows. Each row says what it took: wall and computing time, cores, versions, peak memory of the process so far.

Lengths in the rows are in the instance's own units. Inside, a strip is scaled to 10 mm high and a bin's longest side to
1000 mm: the engine's allowance of 0.0001 mm is then at most 0.001 % of the strip, and plans that settle are exact.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import sys
import time
from collections.abc import Callable, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

from geometry.outline import Outline
from nesting.bounds import lower_bound
from nesting.plan import Placement
from nesting.problem import Part, Problem, Rules, Sheet, net_area
from nesting.solve import AfterSeconds, solve
from nesting.strips import solve_strip
from nesting.warm import warming

STRIP_HEIGHT = 10.0
BIN_SIDE = 1000.0
LIBRARIES = ("numba", "numpy", "scipy")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the instances and write or print their rows."""
    parser = argparse.ArgumentParser(
        prog="python -m nesting.bench", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE")
    budget = parser.add_mutually_exclusive_group()
    budget.add_argument("--seconds", type=float, default=60.0, help="wall time of a run (60)")
    budget.add_argument("--cpu-seconds", type=float, help="computing time of a run, all threads together")
    parser.add_argument("--seed", type=int, nargs="+", default=[0], metavar="N", help="one run for each (0)")
    parser.add_argument("--out", type=Path, help="append the rows here instead of printing them whole")
    chosen = parser.parse_args(arguments)
    by_cpu = chosen.cpu_seconds is not None
    seconds: float = chosen.cpu_seconds if by_cpu else chosen.seconds
    for path in chosen.files:
        rows = []
        try:
            instance = json.loads(path.read_text(encoding="utf-8"))
            for seed in chosen.seed:
                rows.append(run(instance, seconds=seconds, seed=seed, by_cpu=by_cpu))
                _hand_out(rows[-1], chosen.out)
        except (OSError, ValueError, KeyError) as error:
            print(f"{path}: cannot be run: {error}", file=sys.stderr)
            return 1
        if len(rows) > 1:
            mean = round(float(np.mean([row["density_pct"] for row in rows])), 4)
            print(
                json.dumps({"instance": rows[0]["instance"], "mean_density_pct": mean, "runs": len(rows)}), flush=True
            )
    return 0


def _hand_out(row: dict[str, Any], out: Path | None) -> None:
    if out is None:
        print(json.dumps(row), flush=True)
        return
    with out.open("a", encoding="utf-8") as rows:
        rows.write(json.dumps(row) + "\n")
    print(json.dumps({key: value for key, value in row.items() if key != "placements"}), flush=True)


def run(instance: dict[str, Any], *, seconds: float, seed: int, by_cpu: bool = False) -> dict[str, Any]:
    """Solve one instance; its row. `seconds` are wall time or, with `by_cpu`, computing time of this process."""
    for _ in warming():
        pass  # compiling the kernels is no part of a run
    clock = time.process_time if by_cpu else time.perf_counter
    wall, cpu = time.perf_counter(), time.process_time()
    row = (_strip if "strip_height" in instance else _bins)(instance, seconds, seed, clock)
    placements = row.pop("placements")
    return {
        **row,
        "budget": "cpu" if by_cpu else "wall",
        "wall_s": round(time.perf_counter() - wall, 2),
        "cpu_s": round(time.process_time() - cpu, 2),
        "cores": os.cpu_count(),
        "peak_memory_mb": _peak_memory(),
        "versions": {
            "python": platform.python_version(),
            **{name: version(name) for name in LIBRARIES},
        },
        "placements": placements,
    }


def _peak_memory() -> int | None:
    """Largest memory this process has had so far, MB; None where the system does not tell."""
    try:
        import resource
    except ImportError:
        return None
    size = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return round(size / (1e6 if sys.platform == "darwin" else 1e3 / 1.024))


def _parts(instance: dict[str, Any], scale: float) -> tuple[Part, ...]:
    allowed = instance.get("allowed_rotations_deg")
    rotations = None if allowed is None else tuple(float(angle) for angle in allowed)
    return tuple(
        Part(str(entry["id"]), _outline(entry, scale), int(entry["demand"]), rotations) for entry in instance["parts"]
    )


def _outline(entry: dict[str, Any], scale: float) -> Outline:
    holes = [np.array(hole, float) * scale for hole in entry.get("holes", [])]
    return Outline.from_points(np.array(entry["outline"], float) * scale, holes)


def _place(one: Placement, sheet: str | int, scale: float) -> dict[str, Any]:
    return {
        "part": one.part,
        "copy": one.copy,
        "sheet": sheet,
        "x": one.x / scale,
        "y": one.y / scale,
        "rotation": one.rotation,
        "mirrored": one.mirrored,
    }


def _strip(instance: dict[str, Any], seconds: float, seed: int, clock: Callable[[], float]) -> dict[str, Any]:
    height = float(instance["strip_height"])
    scale = STRIP_HEIGHT / height
    parts = _parts(instance, scale)
    plan = solve_strip(parts, STRIP_HEIGHT, Rules(0.0, 0.0), AfterSeconds(seconds), seed=seed, clock=clock)
    area = sum(net_area(part.outline) * part.quantity for part in parts) / scale**2
    length = plan.length / scale
    return {
        "instance": instance["name"],
        "seconds": seconds,
        "seed": seed,
        "density_pct": round(100.0 * area / (height * length), 4),
        "length": length,
        "lower_bound": area / height,
        "is_exact": plan.is_exact,
        "placements": [_place(one, 0, scale) for one in plan.placements],
    }


def _bins(instance: dict[str, Any], seconds: float, seed: int, clock: Callable[[], float]) -> dict[str, Any]:
    side = max(float(np.ptp(np.array(entry["outline"], float), axis=0).max()) for entry in instance["bins"])
    scale = BIN_SIDE / side
    sheets = tuple(
        Sheet(str(entry["id"]), _outline(entry, scale), entry.get("stock"), int(entry["cost"]))
        for entry in instance["bins"]
    )
    problem = Problem(_parts(instance, scale), sheets, Rules(0.0, 0.0))
    result = solve(problem, AfterSeconds(seconds), seed=seed, clock=clock)
    area = {sheet.id: net_area(sheet.outline) for sheet in sheets}
    used = sum(area[layout.sheet] for layout in result.plan.layouts)
    missing = {(one.part, one.copy) for one in result.plan.unplaced}
    placed = sum(
        net_area(part.outline) * sum((part.id, copy) not in missing for copy in range(part.quantity))
        for part in problem.parts
    )
    bound = lower_bound(problem)
    return {
        "instance": instance["name"],
        "seconds": seconds,
        "seed": seed,
        "density_pct": round(100.0 * placed / used, 4) if used else 0.0,
        "sheets_used": len(result.plan.layouts),
        "cost": result.plan.cost[1],
        "unplaced": len(result.plan.unplaced),
        "lower_bound": bound.cost,
        "lower_bound_sheets": bound.sheets,
        "placements": [
            _place(one, f"{layout.sheet}#{layout.copy}", scale)
            for layout in result.plan.layouts
            for one in layout.placements
        ],
    }


if __name__ == "__main__":
    raise SystemExit(main())
