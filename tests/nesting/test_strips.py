"""Strips, settling and the bench on published instances."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import shapely

from nesting.bench import main, run
from nesting.plan import Layout, Plan
from nesting.problem import ANY_ANGLE, Part, Problem, Rules, Sheet
from nesting.referee import violations
from nesting.solve import AfterRounds
from nesting.strips import StripPlan, solve_strip
from tests.nesting.letters import letter_pieces
from tests.nesting.shapes import rectangle

BENCHMARKS = Path(__file__).resolve().parents[3] / "shared" / "benchmarks"


def instance(name: str) -> dict[str, object]:
    path = BENCHMARKS / f"{name}.json"
    if not path.exists():
        pytest.skip(f"benchmark {name} is not beside the repository")
    loaded: dict[str, object] = json.loads(path.read_text(encoding="utf-8"))
    return loaded


def checked(parts: tuple[Part, ...], height: float, rules: Rules, rounds: int, seed: int = 1) -> StripPlan:
    plan = solve_strip(parts, height, rules, AfterRounds(rounds), seed=seed)
    strip = Problem(parts, (Sheet("strip", rectangle(plan.length, height), 1),), rules)
    layouts = (Layout("strip", 0, plan.placements),) if plan.placements else ()
    assert violations(strip, Plan(layouts, plan.unplaced, (0, 0))) == ()
    return plan


def test_letters_on_a_roll_keep_spacing_and_margin() -> None:
    parts = tuple(Part(f"{k}", piece) for k, piece in enumerate(p for c in "FILM" for p in letter_pieces(c, 120.0)))
    first = checked(parts, 300.0, Rules(4.0, 5.0), 0)
    later = checked(parts, 300.0, Rules(4.0, 5.0), 60)
    assert later.length <= first.length
    assert later.unplaced == ()
    assert later.is_exact


def test_part_higher_than_the_strip_is_told() -> None:
    plan = checked((Part("tall", rectangle(400, 310)), Part("a", rectangle(50, 60))), 300.0, Rules(0.0, 0.0), 0)
    assert [one.part for one in plan.unplaced] == ["tall"]
    assert "300.0 mm" in plan.unplaced[0].reason


def test_letters_free_to_turn_lie_about_as_close_as_at_quarter_turns() -> None:
    """Any angle has all quarter turns in it; trying to turn at every move must not keep the search from them."""
    text = Counter("THELETTERHALLFILLET")
    density = {}
    for rotations in (ANY_ANGLE, (0.0, 90.0, 180.0, 270.0)):
        parts = tuple(
            Part(letter, letter_pieces(letter, 120.0, "LeagueSpartan-Bold.otf", 6)[0], count, rotations)
            for letter, count in text.items()
        )
        density[rotations] = np.mean([checked(parts, 300.0, Rules(4.0, 5.0), 600, seed).density for seed in range(2)])
    assert density[ANY_ANGLE] > 0.97 * density[0.0, 90.0, 180.0, 270.0]


@pytest.mark.parametrize("after", [0, 40])
def test_a_cancel_keeps_the_best_layout(after: int) -> None:
    parts = tuple(Part(f"{k}", piece) for k, piece in enumerate(p for c in "SLOW" for p in letter_pieces(c, 120.0)))
    steps, gains = [0], []
    plan = solve_strip(
        parts,
        300.0,
        Rules(4.0, 5.0),
        AfterRounds(10_000),
        on_gain=gains.append,
        on_progress=lambda at: steps.append(at.rounds),
        cancelled=lambda: bool(gains) and steps[-1] >= after,
    )
    assert plan == gains[-1]
    assert plan.unplaced == ()
    assert steps[-1] <= after + 1


def test_a_cancel_is_asked_for_while_a_step_still_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("nesting.strips.ASK_EVERY", 1e-4)
    parts = tuple(Part(f"{k}", piece) for k, piece in enumerate(p for c in "SLOW" for p in letter_pieces(c, 120.0)))
    asked, steps = [0], [0]

    def cancelled() -> bool:
        asked[0] += 1
        return False

    def counted(_: object) -> None:
        steps[0] += 1

    solve_strip(parts, 300.0, Rules(4.0, 5.0), AfterRounds(60), on_progress=counted, cancelled=cancelled)
    assert asked[0] > 2 * steps[0]


def test_a_strip_cancelled_at_once_says_that_nothing_was_tried() -> None:
    plan = solve_strip(
        (Part("a", rectangle(50, 60), 2),), 300.0, Rules(4.0, 5.0), AfterRounds(5), cancelled=lambda: True
    )
    assert [one.reason for one in plan.unplaced] == ["not tried", "not tried"]


def test_same_seed_and_rounds_give_the_same_strip() -> None:
    parts = tuple(Part(f"{k}", piece) for k, piece in enumerate(p for c in "TWIN" for p in letter_pieces(c, 120.0)))
    assert checked(parts, 260.0, Rules(4.0, 5.0), 40) == checked(parts, 260.0, Rules(4.0, 5.0), 40)


# Published best densities (see the benchmarks' own notes): 92.41 for fu, 89.09 for jakobs1 on the exact height.
@pytest.mark.parametrize(("name", "at_least", "best"), [("strip/fu", 80.0, 92.5), ("strip/jakobs1", 75.0, 89.1)])
def test_published_instance_is_packed_exactly(name: str, at_least: float, best: float) -> None:
    data = instance(name)
    row = run(data, seconds=0.5, seed=0)
    assert at_least <= row["density_pct"] <= best
    parts = {str(part["id"]): part for part in data["parts"]}  # type: ignore[attr-defined]
    placed = [
        shapely.affinity.translate(
            shapely.affinity.rotate(shapely.Polygon(parts[one["part"]]["outline"]), one["rotation"], origin=(0, 0)),
            one["x"],
            one["y"],
        )
        for one in row["placements"]
    ]
    assert Counter(one["part"] for one in row["placements"]) == {k: part["demand"] for k, part in parts.items()}
    x0, y0, x1, y1 = shapely.total_bounds(placed)
    assert min(x0, y0) >= -1e-9
    assert x1 <= row["length"] + 1e-9
    assert y1 <= data["strip_height"] + 1e-9  # type: ignore[operator]
    overlap = sum(a.intersection(b).area for k, a in enumerate(placed) for b in placed[:k])
    assert overlap <= 1e-9 * float(data["total_area"])  # type: ignore[arg-type]
    assert row["is_exact"]


def test_bench_writes_one_row_per_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    instance("strip/fu")
    out = tmp_path / "rows.jsonl"
    files = [str(BENCHMARKS / "strip" / "fu.json"), str(BENCHMARKS / "bins" / "vsbpp_MB_C9_23.json")]
    assert main([*files, "--seconds", "0.2", "--seed", "3", "--out", str(out)]) == 0
    rows = [json.loads(line) for line in out.read_text(encoding="utf-8").splitlines()]
    assert [row["instance"] for row in rows] == ["fu", "MB_C9_23"]
    assert rows[0]["seed"] == 3
    assert rows[1]["unplaced"] == 0
    assert rows[1]["cost"] >= rows[1]["lower_bound"] > 0
    assert main(["nowhere.json"]) == 1
    assert "nowhere.json" in capsys.readouterr().err


def test_bench_by_computing_time_tells_the_mean_over_seeds(capsys: pytest.CaptureFixture[str]) -> None:
    instance("strip/jakobs1")
    file = str(BENCHMARKS / "strip" / "jakobs1.json")
    assert main([file, "--cpu-seconds", "1.0", "--seed", "1", "2"]) == 0
    first, second, mean = (json.loads(line) for line in capsys.readouterr().out.splitlines())
    assert (first["seed"], second["seed"]) == (1, 2)
    assert mean["mean_density_pct"] == pytest.approx((first["density_pct"] + second["density_pct"]) / 2, abs=1e-4)
    assert first["budget"] == "cpu"
    assert 1.0 <= first["cpu_s"] < 3.0  # a stretch under way is finished
    assert first["cores"] > 0
    assert first["peak_memory_mb"] is None or 50 < first["peak_memory_mb"] < 1500
    assert {"python", "numba"} <= set(first["versions"])
