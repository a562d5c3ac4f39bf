"""DXF files as a whole: units, damaged and odd entities, binary files, time. Right answers stand beside them."""

from __future__ import annotations

import math
import time
from pathlib import Path

import pytest
from ezdxf.math import Vec3

from app.artwork.notes import Code
from app.artwork.read import read_drawing, read_here
from app.errors import AppError
from geometry.curve import Arc
from geometry.measure import region_area
from tests.app.artwork.dxf_sheet import Sheet, codes, lettered


def test_circle_of_304_8_mm_is_24_inches_wide(sheet: Sheet) -> None:
    sheet.space.add_circle((1000, 500), 304.8)
    drawing = sheet.read()
    assert drawing.units == "mm"
    lettering = lettered(drawing)
    assert lettering.width / 25.4 == pytest.approx(24.0, abs=1e-12)
    (contour,) = (contour for shape in drawing.shapes for contour in shape.contours)
    assert all(isinstance(segment, Arc) for segment in contour.segments)


@pytest.mark.parametrize(
    ("code", "mm"),
    # $INSUNITS of the DXF reference, header variables: 1 inches, 2 feet, 4 mm, 5 cm, 6 m, 8 microinches, 9 mils,
    # 10 yards, 13 microns, 14 decimetres.
    [(1, 25.4), (2, 304.8), (4, 1), (5, 10), (6, 1000), (8, 2.54e-5), (9, 0.0254), (10, 914.4), (13, 0.001), (14, 100)],
)
def test_insunits(tmp_path: Path, code: int, mm: float) -> None:
    sheet = Sheet(tmp_path, insunits=code, measurement=0 if code in (1, 2, 8, 9, 10) else 1)
    sheet.space.add_circle((0, 0), 2)
    drawing = sheet.read()
    assert lettered(drawing).width == pytest.approx(4 * mm)
    assert Code.UNIT_DOUBTFUL not in codes(drawing)


@pytest.mark.parametrize("insunits", [None, 0])
def test_no_unit_is_asked_for_with_the_sizes(tmp_path: Path, insunits: int | None) -> None:
    sheet = Sheet(tmp_path, insunits=insunits, measurement=0)
    sheet.space.add_circle((0, 0), 6)
    drawing = sheet.read()
    assert drawing.units is None
    (finding,) = [f for f in drawing.findings if f.code == Code.UNIT_MISSING]
    assert "inches" in finding.message
    with pytest.raises(AppError, match=r'states no unit .*\(in: 12" \(304\.8 mm\) x 12"'):
        lettered(drawing)
    assert lettered(sheet.read(units="in")).width == pytest.approx(304.8)


def test_contradicting_units_are_doubted(tmp_path: Path) -> None:
    sheet = Sheet(tmp_path, insunits=4, measurement=0)
    sheet.space.add_circle((0, 0), 6)
    assert Code.UNIT_DOUBTFUL in codes(sheet.read())


def test_what_bounds_nothing_is_counted(sheet: Sheet) -> None:
    sheet.space.add_circle((0, 0), 5)
    sheet.space.add_text("SIGN")
    sheet.space.add_mtext("SIGN")
    sheet.space.add_point((0, 0))
    sheet.space.add_3dface([(0, 0, 0), (1, 0, 0), (1, 1, 1)])
    sheet.space.add_line((3, 3), (3, 3))
    sheet.space.add_circle((0, 0), 5, dxfattribs={"extrusion": (1, 0, 1)})
    drawing = sheet.read()
    assert {Code.TEXT_NOT_OUTLINES, Code.NOT_GEOMETRY, Code.NOT_FLAT, Code.EMPTY_PIECE} <= codes(drawing)
    (text,) = [f for f in drawing.findings if f.code == Code.TEXT_NOT_OUTLINES]
    assert "1 MTEXT, 1 TEXT" in text.message


def test_bad_entities_leave_the_rest(sheet: Sheet) -> None:
    sheet.space.add_circle((0, 0), 5)
    sheet.space.add_circle((0, 0), 1e300)
    sheet.space.add_circle((50, 0), -1)
    sheet.space.add_line((0, 0), (1e300, 0))
    sheet.space.add_lwpolyline([(0, 0, 1e12), (1, 0, 0)], format="xyb")
    spline = sheet.space.add_spline()
    spline.control_points = [(0, 0), (1, 1), (2, 0), (3, 0)]
    spline.knots = [1.0] * 8
    started = time.process_time()
    drawing = sheet.read()
    assert time.process_time() - started < 8.0
    assert len(drawing.shapes) == 1
    assert sum(f.code == Code.BAD_VALUE for f in drawing.findings) == 5


def test_binary_dxf(sheet: Sheet) -> None:
    sheet.space.add_circle((0, 0), 5)
    with sheet.path.open("wb") as stream:
        sheet.document.write(stream, fmt="bin")
    assert len(read_here(sheet.path).shapes) == 1


def test_ten_thousand_entities_take_seconds(sheet: Sheet) -> None:
    for index in range(2500):
        x, y = 20.0 * (index % 50), 20.0 * (index // 50)
        corners = [Vec3(x, y), Vec3(x + 10, y), Vec3(x + 10, y + 10), Vec3(x, y + 10)]
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
            sheet.space.add_line(a, b)
    sheet.document.saveas(sheet.path)
    started = time.process_time()  # of this process alone: other work on the machine must not fail the test
    drawing = read_here(sheet.path)
    seconds = time.process_time() - started
    assert len(drawing.shapes) == 2500
    assert seconds < 12.0, f"{seconds:.2f} s"


def test_a_drawing_far_from_the_origin_is_moved_there(tmp_path: Path) -> None:
    """A site plan in feet of a state plane grid: its numbers are good to a thousandth of a millimetre."""
    far = Sheet(tmp_path, insunits=2)
    x, y = 2_100_000.0, 6_500_000.0
    far.space.add_lwpolyline([(x, y), (x + 2, y), (x + 2, y + 2), (x, y + 2)], close=True)
    far.space.add_circle((x + 1, y + 1), 0.5)
    far.space.add_line((0, 0), (1, 0))  # a stray at the old origin
    drawing = far.read()
    assert {Code.MOVED_NEAR, Code.FAR_OUT} <= codes(drawing)
    (region,) = lettered(drawing).letters[0].regions
    assert region_area(region) == pytest.approx((4 - math.pi / 4) * 304.8**2, rel=1e-9)


def test_what_must_be_exploded_is_told(sheet: Sheet) -> None:
    sheet.space.add_circle((0, 0), 5)
    sheet.space.add_mline([(0, 0), (100, 0)])
    (said,) = [finding for finding in sheet.read().findings if finding.code == Code.TO_EXPLODE]
    assert said.message.startswith("1 MLINE not read: not made of plain lines and arcs; explode it")
    entities = "0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n5\n0\nREGION\n8\n0\n70\n1\n1\nnmn\n"
    sheet.path.write_text(f"0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n")
    (said,) = [finding for finding in read_here(sheet.path).findings if finding.code == Code.TO_EXPLODE]
    assert said.message.startswith("1 REGION not read")


def test_the_file_is_left_as_it_is(sheet: Sheet) -> None:
    sheet.space.add_line((0, 0), (50, 0))
    sheet.space.add_line((50, 0.05), (0, 50))
    sheet.space.add_line((0, 50), (0, 0))
    sheet.document.saveas(sheet.path)
    sheet.path.chmod(0o444)
    before = (sheet.path.read_bytes(), sheet.path.stat().st_mtime_ns)
    read_drawing(sheet.path)
    assert (sheet.path.read_bytes(), sheet.path.stat().st_mtime_ns) == before
    assert [path.name for path in sheet.path.parent.iterdir()] == [sheet.path.name]
