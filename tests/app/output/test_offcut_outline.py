"""A sheet that is no rectangle: nested on, written, read back and refused when the file is another."""

from __future__ import annotations

import dataclasses
from datetime import datetime

import ezdxf
import pytest
import shapely

from app.errors import ExportError
from app.output.reread import check_cut_file
from app.output.write import write_plan
from app.planning.plan_job import PlanRun, plan_job
from app.planning.rack_stock import with_rack
from app.stock.rack import Rack
from app.stock.rack_items import Box, NewOffcut
from tests.app.planning.small_jobs import INCH, prepared_squares

L_SHAPE = ((0.0, 0.0), (1400.0, 0.0), (1400.0, 500.0), (600.0, 500.0), (600.0, 1500.0), (0.0, 1500.0))


@pytest.fixture(scope="module")
def plan():
    with Rack(":memory:") as rack:
        rack.keep([NewOffcut("alu", 0.063 * INCH, L_SHAPE, Box(0.0, 0.0, 1400.0, 500.0))])
        prepared = prepared_squares(5)
        return plan_job(dataclasses.replace(prepared, job=with_rack(prepared.job, rack)), PlanRun(rounds=0))


def polygons(path, layer):
    entities = ezdxf.readfile(path).modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    return [shapely.Polygon([(x * INCH, y * INCH) for x, y, *_ in entity.get_points()]) for entity in entities]


def test_parts_lie_on_the_true_outline_and_figures_count_its_area(plan):
    (sheet,) = plan.sheets
    assert sheet.stock.id == "rack:1"
    edge = shapely.Polygon(L_SHAPE)
    assert sheet.stock.area == edge.area
    assert plan.summaries[0].sheet_area == pytest.approx(edge.area)
    assert plan.summaries[0].cost == 0
    inside = edge.buffer(-sheet.margin + 1e-3, join_style="mitre")
    side = 12 * INCH
    for one in sheet.placed:
        square = shapely.affinity.rotate(shapely.box(0, 0, side, side), one.placement.rotation, origin=(0, 0))
        assert inside.covers(shapely.affinity.translate(square, one.placement.x, one.placement.y))
    for offcut in sheet.offcuts:
        box = shapely.box(offcut.x, offcut.y, offcut.x + offcut.width, offcut.y + offcut.height)
        assert inside.covers(box)


def test_the_cut_file_shows_the_outline_and_its_margin(plan, tmp_path):
    written = write_plan(plan, tmp_path / "cut", when=datetime(2026, 1, 1))
    (path,) = (file for file in written.files if file.suffix == ".dxf")
    (stock,) = polygons(path, "STOCK")
    assert stock.symmetric_difference(shapely.Polygon(L_SHAPE)).area < 1.0
    (inner,) = polygons(path, "KEEPOUT")
    expected = shapely.Polygon(L_SHAPE).buffer(-plan.sheets[0].margin)
    assert inner.symmetric_difference(expected).area < 0.001 * expected.area


def test_a_file_of_another_outline_is_refused(plan, tmp_path):
    written = write_plan(plan, tmp_path / "cut", when=datetime(2026, 1, 1))
    (path,) = (file for file in written.files if file.suffix == ".dxf")
    (sheet,) = plan.sheets
    other = tuple((x, y + 20.0 if y == 500.0 else y) for x, y in L_SHAPE)
    changed = dataclasses.replace(sheet, stock=dataclasses.replace(sheet.stock, outline=other))
    check_cut_file(path, sheet, plan.job.units)
    with pytest.raises(ExportError, match="not the outline of offcut 1"):
        check_cut_file(path, changed, plan.job.units)
