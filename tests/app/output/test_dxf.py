"""Cut files: format facts from the published DXF reference (trade.md 3.3), read with ezdxf's own reader and audit."""

from __future__ import annotations

import itertools
import math

import ezdxf
import numpy as np
import pytest
from ezdxf import bbox

from app.errors import ExportError
from app.job.document import DisplayUnits
from app.output.cut_sheet import cut_sheet
from app.output.dxf import LAYERS, PATH_LAYERS, write_dxf
from app.output.words import CAUTION
from geometry.build import closed
from geometry.contour import Region
from geometry.curve import Arc, Cubic, Line
from tests.app.output.plans import (
    ALUMINIUM,
    INCH,
    QUARTER,
    SHEET_48_96,
    block,
    part,
    put,
    sheet,
    sign_plan,
)


def written(tmp_path, planned, units=DisplayUnits.INCHES):
    path = tmp_path / planned.file
    write_dxf(cut_sheet(planned), sign_plan(units).job, path, sheet_count=1)
    return path


def one_part(region, *, x=100.0, y=100.0, **more):
    return sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [put(part("a-1", region, **more), x, y)])


@pytest.fixture(params=[DisplayUnits.INCHES, DisplayUnits.MILLIMETRES], ids=["inches", "mm"])
def sign_file(request, tmp_path):
    plan = sign_plan(request.param)
    return written(tmp_path, plan.sheets[0], request.param), request.param, plan.sheets[0]


def test_the_file_passes_the_audit_without_a_single_fix(sign_file):
    document = ezdxf.readfile(sign_file[0])
    audit = document.audit()
    assert not audit.errors
    assert not audit.fixes


def test_version_units_and_layers_are_those_of_the_contract(sign_file):
    path, units, _ = sign_file
    document = ezdxf.readfile(path)
    # $ACADVER AC1024 is R2010; $INSUNITS 1 is inches, 4 is mm (published DXF reference).
    assert document.header["$ACADVER"] == "AC1024"
    assert document.header["$INSUNITS"] == {DisplayUnits.INCHES: 1, DisplayUnits.MILLIMETRES: 4}[units]
    names = {layer.dxf.name for layer in document.layers} - {"0", "Defpoints"}
    assert names == {"STOCK", "KEEPOUT", "OUTSIDE", "INSIDE", "DRILL", "MARK", "NOTE", "OFFCUT"}
    assert {entity.dxf.layer for entity in document.modelspace()} == names


def test_every_edge_is_one_closed_polyline(sign_file):
    path, _, planned = sign_file
    space = ezdxf.readfile(path).modelspace()
    outside = space.query('*[layer=="OUTSIDE"]')
    inside = space.query('*[layer=="INSIDE"]')
    assert len(outside) == len(planned.placed) == 9
    assert len(inside) == 3
    for entity in [*outside, *inside]:
        assert entity.dxftype() == "LWPOLYLINE"
        assert entity.closed


def test_the_sheet_lies_at_zero_and_the_extents_hold_everything(sign_file):
    path, units, _ = sign_file
    document = ezdxf.readfile(path)
    space = document.modelspace()
    scale = 1.0 if units is DisplayUnits.INCHES else INCH
    (stock,) = space.query('*[layer=="STOCK"]')
    box = bbox.extents([stock])
    assert tuple(box.extmin)[:2] == pytest.approx((0.0, 0.0))
    assert tuple(box.extmax)[:2] == pytest.approx((96 * scale, 48 * scale))
    low, high = document.header["$EXTMIN"], document.header["$EXTMAX"]
    assert tuple(low)[:2] == (0.0, 0.0)
    everything = bbox.extents(space)
    assert everything.extmin.x >= -1e-9
    assert everything.extmin.y >= -1e-9
    assert everything.extmax.x <= high[0] + 1e-6
    assert everything.extmax.y <= high[1] + 1e-6


def test_a_24_inch_ring_measures_24_units_in_inches_and_609_6_in_mm(sign_file):
    path, units, _ = sign_file
    space = ezdxf.readfile(path).modelspace()
    widths = [bbox.extents([edge]).size.x for edge in space.query('LWPOLYLINE[layer=="OUTSIDE"]')]
    wanted = 24.0 if units is DisplayUnits.INCHES else 609.6
    assert any(width == pytest.approx(wanted, abs=1e-6) for width in widths)


@pytest.mark.parametrize(
    ("angle", "bulge"), [(30, 0.131652), (60, 0.267949), (90, 0.414214), (180, 1.0), (270, 2.414214)]
)
def test_bulges_are_the_handbook_values(tmp_path, angle, bulge):
    # trade.md V35 (computed there): tan(theta / 4), tolerance 1e-6.
    turn = math.radians(angle)
    radius = 100.0
    start, end = (radius, 0.0), (radius * math.cos(turn), radius * math.sin(turn))
    pie = closed([Line((0.0, 0.0), start), Arc(start, end, math.tan(turn / 4)), Line(end, (0.0, 0.0))])
    path = written(tmp_path, one_part(Region(pie), x=400.0, y=400.0))
    (edge,) = ezdxf.readfile(path).modelspace().query('LWPOLYLINE[layer=="OUTSIDE"]')
    # Climb cutting runs clockwise round the outside (trade.md 3.2), and a bulge is negative when clockwise.
    assert [value for _, _, value in edge.get_points("xyb") if value] == pytest.approx([-bulge], abs=1e-6)


def test_bulge_and_chord_give_the_handbook_arc(tmp_path):
    # trade.md V36: bulge 0.5 on a chord of 10: R 6.25, apex 2.5 to the right of travel.
    shape = closed([Arc((0.0, 0.0), (10.0, 0.0), 0.5), Line((10.0, 0.0), (5.0, 8.0)), Line((5.0, 8.0), (0.0, 0.0))])
    path = written(tmp_path, one_part(Region(shape), x=50.0, y=50.0), DisplayUnits.MILLIMETRES)
    (edge,) = ezdxf.readfile(path).modelspace().query('LWPOLYLINE[layer=="OUTSIDE"]')
    arcs = [one for one in edge.virtual_entities() if one.dxftype() == "ARC"]
    assert [one.dxf.radius for one in arcs] == pytest.approx([6.25], abs=1e-4)
    assert bbox.extents([edge]).extmin.y == pytest.approx(50.0 - 2.5, abs=1e-4)


def test_a_mirrored_arc_is_mirrored_in_the_file(tmp_path):
    # A slice with its arc at the upper right; mirrored, the arc must bulge to the upper left.
    r = 100.0
    pie = closed(
        [Line((0.0, 0.0), (r, 0.0)), Arc((r, 0.0), (0.0, r), math.tan(math.pi / 8)), Line((0.0, r), (0.0, 0.0))]
    )
    planned = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [put(part("a-1", Region(pie)), 300.0, 300.0, mirrored=True)])
    path = written(tmp_path, planned, DisplayUnits.MILLIMETRES)
    (edge,) = ezdxf.readfile(path).modelspace().query('LWPOLYLINE[layer=="OUTSIDE"]')
    (arc,) = [one for one in edge.virtual_entities() if one.dxftype() == "ARC"]
    assert tuple(arc.dxf.center)[:2] == pytest.approx((300.0, 300.0))
    middle = math.radians((arc.dxf.start_angle + arc.dxf.end_angle) / 2)
    assert math.cos(middle) < 0 < math.sin(middle)


def test_notes_hold_part_ids_units_job_cutter_and_the_whole_caution(sign_file):
    path, units, planned = sign_file
    space = ezdxf.readfile(path).modelspace()
    notes = [entity.plain_text() for entity in space.query("TEXT")]
    for placed in planned.placed:
        copy = placed.placement.copy + 1
        assert any(name.endswith(f": {placed.part.id} copy {copy}") for note in notes for name in note.split("   "))
    whole = " ".join(notes)
    assert {entity.dxf.layer for entity in space.query("TEXT")} == {"NOTE"}
    assert ("inches" if units is DisplayUnits.INCHES else "millimetres") in whole
    for words in ("Lamp house canopy", "aluminium 3003-H14 0.063 in", "96 x 48", "1/4 in single flute"):
        assert words in whole
    # Wrapped to the sheet's width, line by line from the top.
    assert CAUTION in " ".join(_lines_from_the_top(space))


def _lines_from_the_top(space):
    texts = sorted(space.query("TEXT"), key=lambda text: -text.get_placement()[1].y)
    return [text.plain_text() for text in texts]


def test_no_text_but_part_names_lies_on_the_sheet(sign_file):
    path, units, _ = sign_file
    space = ezdxf.readfile(path).modelspace()
    top = 48.0 if units is DisplayUnits.INCHES else 48 * INCH
    for text in space.query("TEXT"):
        is_list = "   " in text.dxf.text
        if is_list or not (" copy " in text.dxf.text or text.dxf.text.isdecimal()):
            assert text.get_placement()[1].y > top


def test_a_part_name_lies_in_its_part(tmp_path):
    planned = one_part(block(400.0, 60.0), x=200.0, y=300.0)
    space = ezdxf.readfile(written(tmp_path, planned, DisplayUnits.MILLIMETRES)).modelspace()
    (name,) = [text for text in space.query("TEXT") if "a-1 copy" in text.dxf.text]
    box = bbox.extents([name])
    assert box.extmin.x > 200
    assert box.extmax.x < 600
    assert box.extmin.y > 300
    assert box.extmax.y < 360


def test_a_name_too_small_to_read_gives_way_to_a_large_number_with_the_name_above_the_sheet(tmp_path):
    planned = one_part(block(60.0, 40.0), x=200.0, y=300.0)
    space = ezdxf.readfile(written(tmp_path, planned, DisplayUnits.MILLIMETRES)).modelspace()
    (number,) = [text for text in space.query("TEXT") if text.dxf.text == "1"]
    assert number.dxf.height >= 20.0
    box = bbox.extents([number])
    assert 200 < box.extmin.x < box.extmax.x < 260
    assert 300 < box.extmin.y < box.extmax.y < 340
    (name,) = [text for text in space.query("TEXT") if "1: a-1 copy 1" in text.dxf.text]
    assert name.get_placement()[1].y > planned.stock.height


def test_cuts_stand_in_cutting_order(sign_file):
    path, _, _ = sign_file
    layers = [entity.dxf.layer for entity in ezdxf.readfile(path).modelspace() if entity.dxftype() != "TEXT"]
    runs = [layer for layer, _ in itertools.groupby(layers)]
    assert runs[:4] == ["STOCK", "KEEPOUT", "DRILL", "MARK"]
    assert runs[-1] == "OFFCUT"
    assert runs.count("DRILL") == runs.count("MARK") == 1


def test_drilled_holes_are_circles_of_their_size(sign_file):
    path, units, _ = sign_file
    circles = ezdxf.readfile(path).modelspace().query("CIRCLE")
    assert {circle.dxf.layer for circle in circles} == {"DRILL"}
    scale = 1.0 if units is DisplayUnits.INCHES else INCH
    assert [circle.dxf.radius for circle in circles] == pytest.approx([0.125 * scale] * 2)
    centres = sorted((circle.dxf.center.x / scale, circle.dxf.center.y / scale) for circle in circles)
    assert centres == [pytest.approx((29.5, 3.5)), pytest.approx((29.5, 22.0))]


def test_names_with_codes_and_odd_characters_come_back_as_they_were(tmp_path):
    planned = one_part(block(300.0, 100.0))
    plan = sign_plan()
    from dataclasses import replace

    job = replace(plan.job, name='Bistro ^J "Ünder" 100%%c\nsecond line 字')
    path = tmp_path / "odd.dxf"
    write_dxf(cut_sheet(planned), job, path, sheet_count=1)
    document = ezdxf.readfile(path)
    assert not document.audit().fixes
    whole = " ".join(text.plain_text() for text in document.modelspace().query("TEXT"))
    assert 'Bistro ^J "Ünder" 100% %c second line 字' in whole


def test_a_curve_that_is_no_arc_is_refused(tmp_path):
    shape = closed([Cubic((0.0, 0.0), (30.0, -40.0), (70.0, -40.0), (100.0, 0.0)), Line((100.0, 0.0), (0.0, 0.0))])
    with pytest.raises(ExportError, match="neither line nor arc"):
        written(tmp_path, one_part(Region(shape)))


# Colour-blindness matrices of Machado, Oliveira and Fernandes (2009), severity 1, for linear RGB; from memory.
SEEN_BY = {
    "full sight": np.eye(3),
    "no red": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no green": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]]
    ),
    "no blue": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.3039]]
    ),
}


def lab(rgb, seen=SEEN_BY["full sight"]):
    """CIE L*a*b* (D65) of an sRGB colour (IEC 61966-2-1), as seen by an eye."""
    value = np.asarray(rgb) / 255
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    linear = np.clip(seen @ linear, 0, 1)
    matrix = np.array(
        [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.072175], [0.0193339, 0.119192, 0.9503041]]
    )
    xyz = matrix @ linear / np.array([0.95047, 1.0, 1.08883])
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_layer_colours_differ_in_grey():
    lightness = sorted(lab(layer.rgb)[0] for layer in (*LAYERS, *PATH_LAYERS))
    assert min(np.diff(lightness)) >= 5.0


@pytest.mark.parametrize("eye", SEEN_BY)
def test_layer_colours_differ_for_every_eye(eye):
    seen = [lab(layer.rgb, SEEN_BY[eye]) for layer in (*LAYERS, *PATH_LAYERS)]
    # A difference of 2.3 is just noticeable (CIE 1976 difference, from memory); six times that is plain.
    assert min(np.linalg.norm(a - b) for a, b in itertools.combinations(seen, 2)) > 6 * 2.2
