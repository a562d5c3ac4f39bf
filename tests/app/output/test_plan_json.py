"""`plan.json` against its contract, read and placed as another program would."""

from __future__ import annotations

import json
import math

import pytest
import shapely
from shapely import affinity

from app.output.plan_json import OUTLINE_TOLERANCE, write_plan_json
from geometry.flatten import flatten_region
from geometry.measure import region_area
from tests.app.output.plans import INCH, sign_plan


@pytest.fixture(scope="module")
def content(tmp_path_factory):
    path = tmp_path_factory.mktemp("json") / "plan.json"
    write_plan_json(sign_plan(), path)
    return json.loads(path.read_text(encoding="utf-8"))


def test_the_keys_are_those_of_the_contract(content):
    assert set(content) == {"version", "units", "sheets", "parts", "unplaced", "bounds", "yield"}
    assert content["version"] == 1
    assert content["units"] == "mm"
    sheet_keys = {"file", "material", "stock", "width", "height", "spacing", "margin", "placements"}
    assert all(set(sheet) == sheet_keys for sheet in content["sheets"])
    placement_keys = {"part", "copy", "x", "y", "rotation", "mirrored"}
    assert all(set(one) == placement_keys for sheet in content["sheets"] for one in sheet["placements"])
    part_keys = {"id", "role", "letter", "material", "quantity", "outer", "holes"}
    assert all(set(part) == part_keys for part in content["parts"])
    assert content["unplaced"] == [
        {"part": "line1-05-face", "copy": 0, "reason": "larger than any sheet of its material: 130 x 90 in"}
    ]


def test_sheets_name_their_files_and_true_sizes(content):
    first, second = content["sheets"]
    assert first["file"] == "sheets/01-al-3003-0-063.dxf"
    assert (first["width"], first["height"]) == pytest.approx((96 * INCH, 48 * INCH))
    assert (first["spacing"], first["margin"]) == pytest.approx((0.375 * INCH, 0.5 * INCH))
    assert second["material"] == "acrylic-4.5"
    assert second["stock"] == "ac-2050x1500"


def placed(content, sheet):
    parts = {part["id"]: shapely.Polygon(part["outer"], part["holes"]) for part in content["parts"]}
    for one in sheet["placements"]:
        shape = parts[one["part"]]
        if one["mirrored"]:
            shape = affinity.scale(shape, -1, 1, origin=(0, 0))
        shape = affinity.rotate(shape, one["rotation"], origin=(0, 0))
        yield affinity.translate(shape, one["x"], one["y"])


def test_parts_placed_by_the_contracts_words_keep_spacing_and_margin(content):
    for sheet in content["sheets"]:
        shapes = list(placed(content, sheet))
        for index, shape in enumerate(shapes):
            min_x, min_y, max_x, max_y = shape.bounds
            assert min(min_x, min_y, sheet["width"] - max_x, sheet["height"] - max_y) >= sheet["margin"] - 1e-6
            for other in shapes[index + 1 :]:
                assert shape.distance(other) >= sheet["spacing"] - 1e-6


def test_outlines_lie_inside_the_true_parts_by_no_more_than_the_tolerance_told(content):
    plan = sign_plan()
    for part, written in zip(plan.parts, content["parts"], strict=True):
        outline = flatten_region(part.region, 1e-4)
        true = shapely.Polygon(outline.outer, outline.holes)
        mine = shapely.Polygon(written["outer"], written["holes"])
        assert mine.is_valid
        assert mine.difference(true.buffer(2e-4)).is_empty
        assert mine.buffer(OUTLINE_TOLERANCE + 2e-4).contains(true)
        assert mine.area == pytest.approx(region_area(part.region), rel=1e-3)
        assert shapely.is_ccw(shapely.LinearRing(written["outer"]))
        assert not any(shapely.is_ccw(shapely.LinearRing(hole)) for hole in written["holes"])
        assert written["outer"][0] != written["outer"][-1]
    assert str(OUTLINE_TOLERANCE) in content["yield"]["areas"]


def test_a_ring_has_the_handbook_area(content):
    # trade.md V18: ring of 24 in outside, flange 1.25 in: 89.339 in².
    ring = next(part for part in content["parts"] if part["id"] == "line1-01-retainer")
    area = shapely.Polygon(ring["outer"], ring["holes"]).area / INCH**2
    # The outline lies inside the ring by at most the tolerance, along both edges.
    edges = 2 * math.pi * (12 + 10.75)
    assert 0 <= 89.339 + 0.0005 - area <= edges * OUTLINE_TOLERANCE / INCH + 0.001


def test_yields_follow_their_definitions(content):
    figures = content["yield"]
    assert figures["definitions"]["net"] == "part area, holes removed / area of the sheets used"
    parts = sheets = 0.0
    for sheet in content["sheets"]:
        parts += sum(shape.area for shape in placed(content, sheet))
        sheets += sheet["width"] * sheet["height"]
    assert figures["net"] == pytest.approx(parts / sheets, rel=1e-4)
    offcuts = 76 * 20.5 * INCH**2 + 650 * 1500
    assert figures["credited"] == pytest.approx((parts + offcuts) / sheets, rel=1e-4)
    assert set(figures["materials"]) == {"al-3003-0.063", "acrylic-4.5"}


def test_bounds_tell_where_they_come_from(content):
    bound = content["bounds"]["materials"]["al-3003-0.063"]
    assert bound == {"sheets_used": 1, "least_sheets": 1, "reason": "proven fewest: the parts need more than no sheet"}
    assert content["bounds"]["definition"]
