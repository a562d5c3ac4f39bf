"""Benchmark instances, one row each: `python -m nesting.bench FILE... --seconds S --seed N --out rows.jsonl`.

Lengths in the rows are in the instance's own units. Inside, a strip is scaled to 10 mm high and a bin's longest side to
1000 mm: the engine's allowance of 0.0001 mm is then at most 0.001 % of the strip, and plans that settle are exact.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from geometry.outline import Outline
from nesting.bounds import lower_bound
from nesting.plan import Placement
from nesting.problem import Part, Problem, Rules, Sheet, net_area
from nesting.solve import AfterSeconds, solve
from nesting.strips import solve_strip

STRIP_HEIGHT = 10.0
BIN_SIDE = 1000.0


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the instances and write or print their rows."""
    parser = argparse.ArgumentParser(prog="python -m nesting.bench", description=__doc__)
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE")
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--out", type=Path, help="append the rows here instead of printing them whole")
    chosen = parser.parse_args(arguments)
    for path in chosen.files:
        try:
            instance = json.loads(path.read_text(encoding="utf-8"))
            row = run(instance, seconds=chosen.seconds, seed=chosen.seed)
        except (OSError, ValueError, KeyError) as error:
            print(f"{path}: cannot be run: {error}", file=sys.stderr)
            return 1
        text = json.dumps(row)
        if chosen.out is None:
            print(text)
        else:
            with chosen.out.open("a", encoding="utf-8") as rows:
                rows.write(text + "\n")
            print(json.dumps({key: value for key, value in row.items() if key != "placements"}), flush=True)
    return 0


def run(instance: dict[str, Any], *, seconds: float, seed: int) -> dict[str, Any]:
    """Solve one instance; its row."""
    return _strip(instance, seconds, seed) if "strip_height" in instance else _bins(instance, seconds, seed)


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


def _strip(instance: dict[str, Any], seconds: float, seed: int) -> dict[str, Any]:
    height = float(instance["strip_height"])
    scale = STRIP_HEIGHT / height
    parts = _parts(instance, scale)
    plan = solve_strip(parts, STRIP_HEIGHT, Rules(0.0, 0.0), AfterSeconds(seconds), seed=seed)
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


def _bins(instance: dict[str, Any], seconds: float, seed: int) -> dict[str, Any]:
    side = max(float(np.ptp(np.array(entry["outline"], float), axis=0).max()) for entry in instance["bins"])
    scale = BIN_SIDE / side
    sheets = tuple(
        Sheet(str(entry["id"]), _outline(entry, scale), entry.get("stock"), int(entry["cost"]))
        for entry in instance["bins"]
    )
    problem = Problem(_parts(instance, scale), sheets, Rules(0.0, 0.0))
    result = solve(problem, AfterSeconds(seconds), seed=seed)
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
