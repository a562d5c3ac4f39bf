"""The re-reading finds every way in which a cut file could be wrong, and passes what is right."""

from __future__ import annotations

from dataclasses import replace

import ezdxf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.errors import ExportError
from app.job.document import DisplayUnits
from app.output.cut_sheet import cut_sheet
from app.output.dxf import write_dxf
from app.output.reread import check_cut_file
from app.planning.job_plan import Offcut
from geometry.arcs import circle
from tests.app.output.plans import (
    ALUMINIUM,
    INCH,
    QUARTER,
    SHEET_48_96,
    block,
    disc,
    letter_d,
    letter_e,
    many_plan,
    part,
    put,
    put_centred,
    ring,
    sheet,
    sign_plan,
)


def write(path, planned, units=DisplayUnits.INCHES):
    write_dxf(cut_sheet(planned), sign_plan(units).job, path, sheet_count=1)
    return path


@pytest.mark.parametrize("units", list(DisplayUnits))
def test_what_is_written_right_passes(tmp_path, units):
    plan = sign_plan(units)
    for planned in plan.sheets:
        check_cut_file(write(tmp_path / planned.file, planned, units), planned, units)


def test_sixty_parts_pass(tmp_path):
    (planned,) = many_plan(60).sheets
    check_cut_file(write(tmp_path / "m.dxf", planned), planned, DisplayUnits.INCHES)


@settings(max_examples=15, deadline=None)
@given(
    st.floats(0, 360, exclude_max=True),
    st.booleans(),
    st.floats(400, 1500),
    st.floats(400, 700),
    st.sampled_from([ring(300, 200), letter_d(300, 70), disc(20)]),
)
def test_any_placement_passes(tmp_path_factory, rotation, mirrored, x, y, region):
    planned = sheet(
        1, ALUMINIUM, QUARTER, SHEET_48_96, [put(part("a-1", region), x, y, rotation=rotation, mirrored=mirrored)]
    )
    path = tmp_path_factory.mktemp("any") / "a.dxf"
    check_cut_file(write(path, planned), planned, DisplayUnits.INCHES)


def edges(document, layer):
    return list(document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]'))


def move_vertex(document):
    # 0.003 mm to the side: three times the tolerance.
    edge = edges(document, "OUTSIDE")[-1]
    points = list(edge.get_points("xyb"))
    points[0] = (points[0][0] + 0.003 / INCH, points[0][1] + 0.003 / INCH, points[0][2])
    edge.set_points(points, format="xyb")


def shift_edge(document):
    edges(document, "INSIDE")[0].translate(0.01, 0.0, 0.0)


def flatten_an_arc(document):
    edge = next(edge for edge in edges(document, "OUTSIDE") if any(b for _, _, b in edge.get_points("xyb")))
    edge.set_points([(x, y, b * 0.999) for x, y, b in edge.get_points("xyb")], format="xyb")


def delete_edge(document):
    document.modelspace().delete_entity(edges(document, "OUTSIDE")[0])


def cut_twice(document):
    document.modelspace().add_entity(edges(document, "OUTSIDE")[0].copy())


def swap_layer(document):
    edges(document, "INSIDE")[0].dxf.layer = "OUTSIDE"


def open_edge(document):
    edges(document, "INSIDE")[0].closed = False


def other_units(document):
    document.header["$INSUNITS"] = 4


def no_units(document):
    document.header["$INSUNITS"] = 0


def lose_a_drill(document):
    document.modelspace().delete_entity(document.modelspace().query("CIRCLE")[0])


def widen_a_drill(document):
    document.modelspace().query("CIRCLE")[0].dxf.radius *= 1.01


def lose_a_mark(document):
    document.modelspace().delete_entity(edges(document, "MARK")[0])


def move_a_mark(document):
    edges(document, "MARK")[0].translate(0.0, 0.01, 0.0)


def text_among_the_cuts(document):
    document.modelspace().query("TEXT")[0].dxf.layer = "OUTSIDE"


def stray_line(document):
    document.modelspace().add_line((0, 0), (1, 1), dxfattribs={"layer": "OUTSIDE"})


def cut_in_the_notes(document):
    edges(document, "OUTSIDE")[0].dxf.layer = "NOTE"


def flip_over(document):
    edges(document, "OUTSIDE")[0].dxf.extrusion = (0, 0, -1)


def sheet_elsewhere(document):
    edges(document, "STOCK")[0].translate(0.5, 0, 0)


def lose_a_clamp(document):
    document.modelspace().delete_entity(edges(document, "KEEPOUT")[-1])


def offcut_elsewhere(document):
    edges(document, "OFFCUT")[0].translate(0, -0.2, 0)


def lose_the_offcut(document):
    document.modelspace().delete_entity(edges(document, "OFFCUT")[0])


def lose_the_caution(document):
    for text in document.modelspace().query("TEXT"):
        if text.dxf.text == "CAUTION":
            document.modelspace().delete_entity(text)


def lose_a_name(document):
    for text in document.modelspace().query("TEXT"):
        text.dxf.text = text.dxf.text.replace("line1-03-backer", "line1-03")


def swap_numbers(document):
    for text in document.modelspace().query("TEXT"):
        text.dxf.text = text.dxf.text.replace("1: ", "0: ")


def last_first(document):
    """The ring's outside edge before everything that lies in it."""
    space = document.modelspace()
    biggest = max(edges(document, "OUTSIDE"), key=lambda edge: sum(abs(b) for _, _, b in edge.get_points("xyb")))
    order = [entity for entity in space if entity is not biggest]
    space.entity_space.entities[:] = [*order[:1], biggest, *order[1:]]


def guest_after_host(document):
    """A plate in the ring's drop is cut after the drop."""
    space = document.modelspace()
    plate = edges(document, "OUTSIDE")[0]
    space.entity_space.entities[:] = [entity for entity in space if entity is not plate] + [plate]


def drill_last(document):
    space = document.modelspace()
    drill = space.query("CIRCLE")[0]
    space.entity_space.entities[:] = [entity for entity in space if entity is not drill] + [drill]


DAMAGE = {
    move_vertex: "long|is not where|off the plan",
    shift_edge: "not where the plan has it",
    flatten_an_arc: "long|not where|off the plan",
    delete_edge: "8 edges on layer OUTSIDE, the plan has 9",
    cut_twice: "10 edges on layer OUTSIDE, the plan has 9",
    swap_layer: "edges on layer OUTSIDE",
    open_edge: "not closed",
    other_units: "not in the job's units",
    no_units: "neither inches nor millimetres",
    lose_a_drill: "1 holes to drill, the plan has 2",
    widen_a_drill: "to drill in line1-02-backer copy 1",
    lose_a_mark: "0 lines to mark",
    move_a_mark: "line to mark on line1-02-backer",
    text_among_the_cuts: "TEXT on layer OUTSIDE",
    stray_line: "LINE on layer OUTSIDE",
    cut_in_the_notes: "LWPOLYLINE on layer NOTE",
    flip_over: "does not lie flat",
    sheet_elsewhere: "sheet's edge",
    lose_a_clamp: "keep-out",
    offcut_elsewhere: "lacks a line|less than the cutter",
    lose_the_offcut: "lacks a line to cut along",
    lose_the_caution: "caution",
    lose_a_name: "no note names line1-03-backer",
    swap_numbers: "no note names .* as number 1",
    last_first: "after|before",
    guest_after_host: "lies in a hole|cut off before",
    drill_last: "drilled",
}


@pytest.mark.parametrize("damage", DAMAGE, ids=lambda damage: damage.__name__)
def test_damage_is_found(tmp_path, damage):
    planned = sign_plan().sheets[0]
    path = write(tmp_path / "a.dxf", planned)
    document = ezdxf.readfile(path)
    damage(document)
    document.saveas(path)
    with pytest.raises(ExportError, match=DAMAGE[damage]):
        check_cut_file(path, planned, DisplayUnits.INCHES)


def test_a_file_that_is_no_dxf_is_told(tmp_path):
    path = tmp_path / "a.dxf"
    path.write_text("not a drawing", encoding="utf-8")
    with pytest.raises(ExportError, match="cannot be read back"):
        check_cut_file(path, sign_plan().sheets[0], DisplayUnits.INCHES)


def test_rounding_below_the_tolerance_passes(tmp_path):
    planned = sign_plan().sheets[0]
    path = write(tmp_path / "a.dxf", planned)
    document = ezdxf.readfile(path)
    edges(document, "OUTSIDE")[0].translate(0.0004 / INCH, 0.0, 0.0)
    document.saveas(path)
    check_cut_file(path, planned, DisplayUnits.INCHES)


def close_pair(gap):
    placed = [put(part("a-1", disc(100.0)), 100.0, 100.0), put(part("b-1", disc(100.0)), 200.0 + gap, 100.0)]
    return sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, placed)


def test_spacing_is_measured_on_the_true_curves(tmp_path):
    spacing = QUARTER.diameter + ALUMINIUM.web
    exact = close_pair(spacing)
    check_cut_file(write(tmp_path / "a.dxf", exact), exact, DisplayUnits.INCHES)
    tight = close_pair(spacing - 0.01)
    with pytest.raises(ExportError, match=r"9.515\d mm apart, the spacing is 9.5250 mm"):
        check_cut_file(write(tmp_path / "b.dxf", tight), tight, DisplayUnits.INCHES)


def test_overlap_and_a_guest_too_near_its_host_are_found(tmp_path):
    overlap = close_pair(-10.0)
    with pytest.raises(ExportError, match=r"0.0000 mm apart"):
        check_cut_file(write(tmp_path / "a.dxf", overlap), overlap, DisplayUnits.INCHES)
    host = put_centred(part("a-1", ring(300.0, 200.0)), 300.0, 300.0)
    guest = put_centred(part("b-1", disc(200.0 - 2 * 9.0)), 300.0, 300.0)
    nested = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [host, guest])
    with pytest.raises(ExportError, match=r"(8.999|9.000)\d mm apart"):
        check_cut_file(write(tmp_path / "b.dxf", nested), nested, DisplayUnits.INCHES)


def test_margin_and_keep_outs_are_measured(tmp_path):
    margin = ALUMINIUM.margin
    near = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [put(part("a-1", block(50.0, 50.0)), margin - 0.01, 100.0)])
    with pytest.raises(ExportError, match="from the sheet's edge"):
        check_cut_file(write(tmp_path / "a.dxf", near), near, DisplayUnits.INCHES)
    clamp = SHEET_48_96.keep_outs[0]
    touching = [put(part("a-1", block(50.0, 50.0)), clamp.x + clamp.width, clamp.y)]
    beside = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, touching)
    check_cut_file(write(tmp_path / "b.dxf", beside), beside, DisplayUnits.INCHES)
    inside = sheet(
        1, ALUMINIUM, QUARTER, SHEET_48_96, [put(part("a-1", block(50.0, 50.0)), clamp.x + clamp.width - 0.01, clamp.y)]
    )
    with pytest.raises(ExportError, match="reaches into the keep-out"):
        check_cut_file(write(tmp_path / "c.dxf", inside), inside, DisplayUnits.INCHES)


def test_an_offcut_line_too_near_a_part_is_found(tmp_path):
    placed = [put(part("a-1", block(300.0, 300.0)), 100.0, 100.0)]
    offcut = Offcut(100.0, 400.0 + 3.0, 500.0, 500.0, is_strip=False)
    planned = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, placed, [offcut])
    with pytest.raises(ExportError, match="less than the cutter"):
        check_cut_file(write(tmp_path / "a.dxf", planned), planned, DisplayUnits.INCHES)


def test_another_part_of_the_same_size_is_not_taken_for_the_right_one(tmp_path):
    """Two shapes with the same bounds: the file holds one, the plan the other."""
    e = part("a-1", letter_e(200.0, 40.0))
    bounds = block(0.6 * 200.0, 200.0)
    planned = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [put(e, 100.0, 100.0)])
    other = replace(planned, placed=(put(part("a-1", bounds), 100.0, 100.0),))
    with pytest.raises(ExportError, match="is 6"):
        check_cut_file(write(tmp_path / "a.dxf", other), planned, DisplayUnits.INCHES)


def test_a_circle_begun_elsewhere_is_the_same_edge(tmp_path):
    planned = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [put(part("a-1", disc(100.0)), 100.0, 100.0)])
    path = write(tmp_path / "a.dxf", planned)
    document = ezdxf.readfile(path)
    edge = edges(document, "OUTSIDE")[0]
    a = 150.0 / INCH
    edge.set_points([(a, a + 50.0 / INCH, 1.0), (a, a - 50.0 / INCH, 1.0)], format="xyb")
    document.saveas(path)
    check_cut_file(path, planned, DisplayUnits.INCHES)
    assert circle((0.0, 0.0), 50.0).is_closed
