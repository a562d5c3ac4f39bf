"""The published instance of rectangles on sheets of five sizes and costs, through the comparison."""

from __future__ import annotations

import json
import os
from itertools import combinations
from pathlib import Path

import pytest

from app.fabrication.part import CutPart, Role
from app.job.document import Job
from app.planning.choices import stock_choices
from app.planning.compare import Effort, compare
from app.planning.prepare import Prepared
from app.stock.book import Cutter, Material, MaterialKind, StockSheet
from geometry.build import rectangle
from geometry.contour import Region
from tests.app.planning.here import HereExecutor

INSTANCE = Path(__file__).resolve().parents[4] / "shared" / "benchmarks" / "bins" / "vsbpp_MB_C9_23.json"

pytestmark = pytest.mark.skipif(
    not os.path.exists(INSTANCE), reason="the published instances are not beside the project"
)


def sides(outline) -> tuple[float, float]:
    return float(max(x for x, _ in outline)), float(max(y for _, y in outline))


@pytest.fixture(scope="module")
def instance():
    return json.loads(INSTANCE.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def outcomes(instance):
    """On the size of least cost per area that holds everything, alone, and on all sizes; parts as they stand."""
    material = Material("m", "m", MaterialKind.COMPOSITE, 1.0, 1000.0, "c", 0.0, 0.0)
    cutter = Cutter("c", "a line", 1e-9)  # the instance knows no cutter: parts may touch
    sizes = tuple(
        StockSheet(one["id"], "m", one["id"], *sides(one["outline"]), price=one["cost"]) for one in instance["bins"]
    )
    parts = tuple(
        CutPart(
            id=one["id"],
            role=Role.PANEL,
            letter=one["id"],
            name=one["id"],
            material="m",
            quantity=one["demand"],
            region=Region(rectangle(*sides(one["outline"]))),
            origin=(0.0, 0.0),
            rotations=(0.0,),
        )
        for one in instance["parts"]
    )
    prepared = Prepared(Job("bins", (), (), (material,), (cutter,), sizes), (), parts, ())
    choices = [
        one for one in stock_choices(material, cutter, sizes, pairs=False) if one.name in ("s0 alone", "all sizes")
    ]
    return compare(prepared, choices, Effort(0.0, rounds=0), executor=HereExecutor())


def test_the_plan_on_all_sizes_is_within_3_percent_of_the_best_published_cost(instance, outcomes):
    # Pisinger & Sigurd 2005 (Discrete Optimization 2:154-167); best cost 381,891 from the result table of Fontan 2023.
    alone, mixed = outcomes
    assert mixed.is_whole
    assert mixed.cost <= 1.03 * instance["best_known_cost"]
    assert mixed.cost < alone.cost


def test_our_bound_is_below_every_plan_and_below_the_published_cost(instance, outcomes):
    for one in outcomes:
        assert one.least_cost <= one.cost
    assert outcomes[1].least_cost <= instance["best_known_cost"]
    # Whatever the layout, the sheets must hold the parts: least cost per area times the parts' area.
    least = min(one["cost"] / (sides(one["outline"])[0] * sides(one["outline"])[1]) for one in instance["bins"])
    assert outcomes[1].cost >= least * instance["total_area"]


def test_the_plan_holds_when_checked_with_whole_numbers(instance, outcomes):
    parts = {one["id"]: sides(one["outline"]) for one in instance["parts"]}
    sheets = {one["id"]: (sides(one["outline"]), one["cost"]) for one in instance["bins"]}
    seen: list[str] = []
    cost = 0
    for sheet in outcomes[1].record.sheets:
        (width, height), price = sheets[sheet.stock]
        cost += price
        boxes = []
        for one in sheet.placements:
            # The sides are whole numbers, so a layout that is right to a thousandth is right when it is rounded.
            x, y, (w, h) = round(one.x, 2), round(one.y, 2), parts[one.part]
            assert (one.rotation, one.mirrored) == (0.0, False)
            assert x >= 0.0
            assert y >= 0.0
            assert x + w <= width + 0.01
            assert y + h <= height + 0.01
            boxes.append((x, y, x + w, y + h))
            seen.append(one.part)
        for a, b in combinations(boxes, 2):
            overlap = min(min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1]))
            assert overlap <= 0.01
    assert sorted(seen) == sorted(parts)
    assert cost == outcomes[1].cost
