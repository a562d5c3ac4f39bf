"""Cutter paths and SVG drawings read back: what is right passes, every damage is found."""

from __future__ import annotations

from dataclasses import replace

import ezdxf
import pytest
from lxml import etree

from app.errors import ExportError
from app.job.cutting import Cutting, Direction, DxfVersion, Hold, Lead
from app.job.document import DisplayUnits
from app.output.cut_sheet import cut_sheet
from app.output.dxf import write_dxf
from app.output.reread import check_cut_file
from app.output.svg import check_svg, write_svg
from geometry.contour import Region
from tests.app.output.plans import (
    ALUMINIUM,
    INCH,
    QUARTER,
    SHEET_48_96,
    letter_e,
    many_plan,
    part,
    put,
    sheet,
    sign_plan,
)

PATHS = Cutting(paths=True)


def write(path, planned, cutting=PATHS, units=DisplayUnits.INCHES):
    job = replace(sign_plan(units).job, cutting=cutting)
    write_dxf(cut_sheet(planned, cutting), job, path, sheet_count=1)
    return path


@pytest.mark.parametrize(
    "cutting",
    [
        PATHS,
        Cutting(paths=True, direction=Direction.CONVENTIONAL),
        Cutting(paths=True, lead=Lead.RAMP, hold=Hold.SKIN),
        Cutting(paths=True, dxf_version=DxfVersion.R12),
        Cutting(dxf_version=DxfVersion.R12),
        Cutting(paths=True, lead_radius=2.0),
    ],
    ids=["climb", "conventional", "ramps and skin", "R12", "R12 without paths", "wide leads"],
)
@pytest.mark.parametrize("units", list(DisplayUnits))
def test_what_is_written_right_passes(tmp_path, cutting, units):
    for planned in (*sign_plan().sheets, *many_plan(12).sheets):
        path = write(tmp_path / planned.file, planned, cutting, units)
        check_cut_file(path, planned, units, cutting)
        audit = ezdxf.readfile(path).audit()
        assert not audit.errors
        assert not audit.fixes


def test_r12_is_r12_with_polylines_and_its_units_in_the_notes(tmp_path):
    # Published DXF reference: AC1009 is R12, which has no LWPOLYLINE and no $INSUNITS.
    planned = sign_plan().sheets[0]
    document = ezdxf.readfile(write(tmp_path / "a.dxf", planned, Cutting(paths=True, dxf_version=DxfVersion.R12)))
    assert document.dxfversion == "AC1009"
    kinds = {entity.dxftype() for entity in document.modelspace()}
    assert kinds == {"POLYLINE", "CIRCLE", "TEXT"}
    assert "$INSUNITS" not in (tmp_path / "a.dxf").read_text(encoding="cp1252")
    assert any("Units of this file: inches." in text.dxf.text for text in document.modelspace().query("TEXT"))
    with pytest.raises(ExportError, match="not in the job's units"):
        check_cut_file(tmp_path / "a.dxf", planned, DisplayUnits.MILLIMETRES, PATHS)


def test_path_layers_are_there_only_when_asked_for(tmp_path):
    planned = sign_plan().sheets[0]
    plain = ezdxf.readfile(write(tmp_path / "a.dxf", planned, Cutting()))
    assert not [layer.dxf.name for layer in plain.layers if layer.dxf.name.startswith(("PATH", "HOLD"))]
    with pytest.raises(ExportError, match="not asked for"):
        check_cut_file(write(tmp_path / "b.dxf", planned), planned, DisplayUnits.INCHES, Cutting())


def lines(document, layer):
    return list(document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]'))


def shift_a_path(document):
    lines(document, "PATH_OUTSIDE")[0].translate(0.002, 0.0, 0.0)


def lose_a_path(document):
    document.modelspace().delete_entity(lines(document, "PATH_OUTSIDE")[1])


def turn_a_path(document):
    _reverse(lines(document, "PATH_INSIDE")[0])


def _reverse(entity):
    points = list(entity.get_points("xyb"))
    bulges = [-bulge for _, _, bulge in points]
    turned = points[::-1]
    entity.set_points([(x, y, b) for (x, y, _), b in zip(turned, [*bulges[:-1][::-1], 0.0], strict=True)], format="xyb")


def swap_two_paths(document):
    first, *_, last = lines(document, "PATH_OUTSIDE")
    points = list(first.get_points("xyb"))
    first.set_points(list(last.get_points("xyb")), format="xyb")
    last.set_points(points, format="xyb")


def cut_a_path_short(document):
    path = lines(document, "PATH_OUTSIDE")[0]
    path.set_points(list(path.get_points("xyb"))[:4], format="xyb")


def lengthen_a_tab(document):
    tab = lines(document, "HOLD")[0]
    (x0, y0, b), (x1, y1, _), *_ = tab.get_points("xyb")
    tab.set_points([(x0, y0, b), (x1 + (x1 - x0), y1 + (y1 - y0), 0.0)], format="xyb")


def move_a_tab(document):
    lines(document, "HOLD")[0].translate(0.05, 0.05, 0.0)


def lose_the_offcut(document):
    document.modelspace().delete_entity(lines(document, "PATH_OFFCUT")[0])


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (shift_a_path, "less than the cutter's radius"),
        (lose_a_path, "has 0 paths"),
        (turn_a_path, "does not run for climb cutting"),
        (swap_two_paths, "do not come in the order"),
        (cut_a_path_short, "paths; it needs one|does not go round it|strays"),
        (lengthen_a_tab, "holding tab is"),
        (move_a_tab, "lies on no path"),
        (lose_the_offcut, "an offcut line has no path"),
    ],
    ids=lambda one: getattr(one, "__name__", ""),
)
def test_damage_is_found(tmp_path, damage, words):
    planned = sign_plan().sheets[0]
    path = write(tmp_path / "a.dxf", planned)
    document = ezdxf.readfile(path)
    damage(document)
    document.saveas(path)
    with pytest.raises(ExportError, match=words):
        check_cut_file(path, planned, DisplayUnits.INCHES, PATHS)


def test_an_svg_is_in_millimetres_with_true_arcs_and_reads_back(tmp_path):
    for planned in sign_plan().sheets:
        cut = cut_sheet(planned, PATHS)
        path = tmp_path / "a.svg"
        write_svg(cut, path)
        check_svg(path, cut)
        root = etree.parse(path).getroot()
        assert root.get("width") == f"{planned.stock.width:g}mm"
        groups = {group.get("id") for group in root if group.get("id")}
        assert {"STOCK", "OUTSIDE", "INSIDE", "PATH_OUTSIDE", "NOTE"} <= groups
        assert "A" in etree.tostring(root).decode()
        text = path.read_text(encoding="utf-8")
        # A hundredth of a millimetre is found.
        for wrong in (text.replace(" 0 0 1 ", " 0 0 0 ", 1), _nudged(text)):
            path.write_text(wrong, encoding="utf-8")
            with pytest.raises(ExportError, match="is not the plan's"):
                check_svg(path, cut)


def _nudged(text):
    begin = text.index('d="M', text.index('id="OUTSIDE"')) + 4
    number = text[begin : text.index(" ", begin)]
    return text[:begin] + f"{float(number) + 0.01:.5f}" + text[begin + len(number) :]


def test_an_svg_shows_a_picture_where_the_plan_has_parts(tmp_path):
    """Rendered by another library (resvg): the letter's edge is drawn where it lies, y pointing up."""
    import io

    import resvg_py
    from PIL import Image

    planned = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [put(part("a-1", Region(letter_e(500.0, 90.0))), 200.0, 100.0)])
    write_svg(cut_sheet(planned), tmp_path / "a.svg")
    wide = round(96 * INCH)
    picture = resvg_py.svg_to_bytes(svg_path=str(tmp_path / "a.svg"), width=wide, background="#ffffff", dpi=96.0)
    image = Image.open(io.BytesIO(bytes(picture))).convert("L")
    height = image.size[1]

    def is_dark(x, y):
        return min(image.getpixel((round(x) + i, height - round(y) + j)) for i in (-1, 0, 1) for j in (-1, 0, 1)) < 220

    assert is_dark(200.0, 300.0)
    assert is_dark(350.0, 100.0)
    assert not is_dark(150.0, 300.0)
    assert not is_dark(350.0, 60.0)
