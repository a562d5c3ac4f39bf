"""Cut files read by another library altogether: GDAL's DXF reader (through pyogrio), measured with shapely.

GDAL gives arcs as chords; with steps of a tenth of a degree a chord lies within r (1 - cos 0.05°) = 4e-7 r of its arc.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import pytest
import shapely

from app.cutting.placed import placed_region
from app.job.cutting import Cutting, Direction, DxfVersion, Lead
from app.job.document import DisplayUnits
from app.output.cut_sheet import cut_sheet
from app.output.dxf import write_dxf
from geometry.measure import contour_length, region_area
from tests.app.output.plans import INCH, many_plan, sign_plan

pyogrio = pytest.importorskip("pyogrio")


def layers_of(path):
    """Lines, points and polygons of a DXF by layer, in the file's units."""
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": 0.1})
    meta, _, shapes, fields = pyogrio.raw.read(path)
    names = fields[list(meta["fields"]).index("Layer")]
    found = defaultdict(list)
    for name, shape in zip(names, shapely.from_wkb(shapes), strict=True):
        found[name].append(shapely.force_2d(shape))
    return found


def written(tmp_path, plan, number, cutting):
    job = replace(plan.job, cutting=cutting)
    path = tmp_path / "a.dxf"
    cut = cut_sheet(plan.sheets[number], cutting)
    write_dxf(cut, job, path, sheet_count=len(plan.sheets))
    return layers_of(path), cut


CUTTINGS = [
    Cutting(paths=True),
    Cutting(paths=True, direction=Direction.CONVENTIONAL, lead=Lead.RAMP),
    Cutting(paths=True, dxf_version=DxfVersion.R12),
]
PLANS = [sign_plan(DisplayUnits.MILLIMETRES), many_plan(20)]


@pytest.mark.parametrize("cutting", CUTTINGS, ids=["climb", "conventional", "R12"])
@pytest.mark.parametrize("plan", PLANS, ids=["sign", "many"])
def test_finished_edges_have_the_areas_and_lengths_of_the_plan(tmp_path, plan, cutting):
    found, cut = written(tmp_path, plan, 0, cutting)
    outside = [shapely.Polygon(edge) for edge in found["OUTSIDE"]]
    inside = [shapely.Polygon(edge) for edge in found["INSIDE"]]
    assert all(edge.is_closed for edge in (*found["OUTSIDE"], *found["INSIDE"], *found["STOCK"]))
    parts = [placed.part for placed in cut.planned.placed]
    net = sum(edge.area for edge in outside) - sum(edge.area for edge in inside)
    assert len(outside) == len(parts)
    assert len(inside) == sum(len(part.region.holes) for part in parts)
    assert net == pytest.approx(sum(region_area(part.region) for part in parts), rel=1e-5)
    lengths = sum(contour_length(part.region.outer) for part in parts)
    assert sum(edge.length for edge in found["OUTSIDE"]) == pytest.approx(lengths, rel=1e-5)
    # Where each part lies.
    for placed in cut.planned.placed:
        x, y = placed_region(placed).outer.segments[0].start
        assert min(shapely.distance(found["OUTSIDE"], shapely.Point(x, y))) < 1e-4
    assert len(found["DRILL"]) == sum(len(part.drills) for part in parts)


@pytest.mark.parametrize("cutting", CUTTINGS, ids=["climb", "conventional", "R12"])
@pytest.mark.parametrize(("plan", "number"), [(PLANS[0], 0), (PLANS[0], 1), (PLANS[1], 0)], ids=["1", "2", "many"])
def test_the_cutter_on_its_paths_touches_no_part_and_frees_each(tmp_path, plan, number, cutting):
    found, cut = written(tmp_path, plan, number, cutting)
    radius = cut.planned.cutter.diameter / 2
    holes = [shapely.Polygon(edge) for edge in found["INSIDE"]]
    parts = []
    for edge in found["OUTSIDE"]:
        outer = shapely.Polygon(edge)
        # Of the holes in an edge, those of guests lie in another hole: the part is what is left.
        inner = shapely.union_all([hole for hole in holes if outer.contains(hole)])
        parts.append(outer.difference(inner))
    paths = [path for layer in ("PATH_INSIDE", "PATH_OUTSIDE", "PATH_OFFCUT") for path in found[layer]]
    assert len(found["PATH_OUTSIDE"]) == len(parts)
    assert len(found["PATH_INSIDE"]) == len(holes)
    swept = shapely.union_all(shapely.buffer(paths, radius - 0.012, quad_segs=32))
    for part in parts:
        assert swept.intersection(part).area == pytest.approx(0.0, abs=1e-9)
    stock = shapely.Polygon(found["STOCK"][0])
    pieces = shapely.get_parts(stock.difference(swept))
    homes = [[index for index, piece in enumerate(pieces) if piece.intersects(part)] for part in parts]
    assert all(len(home) == 1 for home in homes)
    assert len({home[0] for home in homes}) == len(parts)
    # A holding tab lies on a path.
    for tab in found["HOLD"]:
        assert min(shapely.distance(paths, tab.centroid)) < 0.2


def test_inches_are_inches_to_gdal_too(tmp_path):
    plan = sign_plan(DisplayUnits.INCHES)
    found, _ = written(tmp_path, plan, 0, Cutting())
    assert found["STOCK"][0].bounds == pytest.approx((0, 0, 96, 48))
    widths = [edge.bounds[2] - edge.bounds[0] for edge in found["OUTSIDE"]]
    assert max(widths) == pytest.approx(24.0, abs=1e-6)
    assert max(widths) * INCH == pytest.approx(609.6, abs=1e-4)
