"""The fallback for damaged DXF: on whole files it agrees with the library, of broken ones it saves the rest."""

from __future__ import annotations

import io
import math
from pathlib import Path

import ezdxf
import pytest
from ezdxf.enums import TextEntityAlignment

from app.artwork import dxf_library
from app.artwork.dxf import read_dxf
from app.artwork.dxf_model import Contents, Drawn, Left, Placed, Words
from app.artwork.dxf_tags import NotTags, read_tags
from app.artwork.limits import DEFAULT_LIMITS
from app.artwork.notes import Code, Notes
from geometry.measure import contour_area


def sample() -> ezdxf.document.Drawing:
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 4
    document.header["$MEASUREMENT"] = 1
    document.layers.add("Cut").freeze()
    dot = document.blocks.new("dot", base_point=(1, 2))
    dot.add_circle((1, 2), 3)
    space = document.modelspace()
    space.add_line((0, 0), (10, 5), dxfattribs={"layer": "Cut"})
    space.add_arc((5, 5), 3, 30, 290)
    space.add_arc((5, 5), 3, 30, 290, dxfattribs={"extrusion": (0, 0, -1)})
    space.add_circle((50, 0), 7.5)
    space.add_ellipse((0, 0), (12, 5), 0.5, 0.3, 4.0, dxfattribs={"extrusion": (0, 0, -1)})
    space.add_lwpolyline([(0, 0, 0.5), (10, 0, 0), (10, 10, -1)], format="xyb", close=True)
    space.add_polyline2d([(0, 0, 1), (10, 0, 1)], format="xyb", close=True)
    spline = space.add_spline()
    spline.control_points = [(0, 0), (10, 30), (30, -20), (40, 10), (60, 0)]
    spline.knots = [0, 0, 0, 0, 0.4, 1, 1, 1, 1]
    spline.dxf.degree = 3
    space.add_solid([(0, 0), (5, 0), (0, 5), (5, 5)])
    places = {"xscale": -2, "yscale": 3, "rotation": 30, "column_count": 2, "column_spacing": 9}
    space.add_blockref("dot", (100, 100), dxfattribs=places)
    document.styles.new("sign", dxfattribs={"font": "VeraBd.ttf"})
    text = space.add_text("%%uSIGN", height=7, rotation=20, dxfattribs={"style": "sign", "width": 0.8})
    text.set_placement((3, 4), align=TextEntityAlignment.TOP_RIGHT)
    hatch = space.add_hatch()
    hatch.paths.add_polyline_path([(0, 0, 0.5), (10, 0), (10, 10)], is_closed=True)
    edges = hatch.paths.add_edge_path()
    edges.add_line((0, 0), (40, 0))
    edges.add_arc((50, 0), 10, 180, 300, ccw=True)
    edges.add_arc((50, 0), 10, 20, 100, ccw=False)
    edges.add_ellipse((0, 50), (12, 5), 0.5, 30, 200, ccw=True)
    edges.add_ellipse((0, 50), (12, 5), 0.5, 30, 200, ccw=False)
    waves = [(0, 0), (5, 9), (9, 3), (12, 0)]
    spans = [0, 0, 0, 0, 1, 1, 1, 1]
    with_splines = hatch.paths.add_edge_path()
    with_splines.add_spline(control_points=waves, degree=3, knot_values=spans)
    with_splines.add_line((12, 0), (0, 0))
    with_splines.add_spline(control_points=waves, degree=3, knot_values=spans, weights=[1, 2, 1, 1])
    hatch.paths.add_edge_path().add_spline(
        fit_points=[(0, 0), (12, 0)],
        control_points=waves,
        degree=3,
        knot_values=spans,
        start_tangent=(1, 0),
        end_tangent=(0, 1),
    )
    space.add_spline([(0, 0), (10, 20), (30, -5), (45, 3)])
    through = space.add_spline([(0, 0), (10, 20), (30, -5), (45, 3)])
    through.dxf.start_tangent, through.dxf.end_tangent = (1, 1), (1, -1)
    space.add_point((0, 0))
    return document


def text_of(document: ezdxf.document.Drawing) -> str:
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


def rounded(contents: Contents) -> list[object]:
    out: list[object] = []
    for item in contents.model.items:
        if isinstance(item, Drawn):
            points = [
                tuple(round(value, 6) for point in (segment.start, segment.end) for value in point)
                for contour in item.contours
                for segment in contour.segments
            ]
            out.append((item.kind, item.layer, points))
        elif isinstance(item, Placed):
            matrix = item.matrix
            numbers = (matrix.a, matrix.b, matrix.c, matrix.d, matrix.e, matrix.f, *item.column_step)
            out.append((item.block, item.columns, item.rows, [round(number, 9) for number in numbers]))
        elif isinstance(item, Left):
            out.append((item.kind, item.code))
        elif isinstance(item, Words):
            matrix = item.matrix
            numbers = (matrix.a, matrix.b, matrix.c, matrix.d, matrix.e, matrix.f)
            out.append((item.text, item.font, item.align, item.upright, [round(number, 9) for number in numbers]))
    return out


def test_whole_file_reads_like_the_library(tmp_path: Path) -> None:
    document = sample()
    data = text_of(document).encode()
    contents, mended = read_tags(data, DEFAULT_LIMITS)
    expected = dxf_library.contents(document, Notes("a"), DEFAULT_LIMITS, lambda _: 1.0)
    assert mended == []
    assert rounded(contents) == rounded(expected)
    assert (contents.insunits, contents.measurement) == (4, 1)
    assert contents.layers["Cut"] is False
    assert contents.blocks["dot"].base == (1, 2)


def test_file_cut_in_the_middle_keeps_what_is_whole(tmp_path: Path) -> None:
    text = text_of(sample())
    cut = text[: text.index("AcDbSpline")]
    path = tmp_path / "cut.dxf"
    path.write_text(cut)
    drawing = read_dxf(str(path), "cut.dxf", options=dxf_options("Cut", "0"))
    (finding,) = [finding for finding in drawing.findings if finding.code == Code.RECOVERED]
    assert "the end of the file is missing" in finding.message
    areas = sorted(abs(contour_area(c)) for shape in drawing.shapes for c in shape.contours if c.is_closed)
    assert areas[-1] == pytest.approx(math.pi * 7.5**2)


def dxf_options(*layers: str):
    from app.artwork.options import ReadOptions

    return ReadOptions(layers=layers)


def test_broken_numbers_cost_one_entity(tmp_path: Path) -> None:
    entities = "".join(
        f"0\nCIRCLE\n8\n0\n10\n{x}\n20\n0\n40\n{radius}\n"
        for x, radius in ((0, "5"), (20, "1,5"), (40, "nan"), (60, "abc"), (80, "6"), (100, ""))
    )
    path = tmp_path / "a.dxf"
    path.write_text(f"0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n")
    drawing = read_dxf(str(path), "a.dxf")
    areas = sorted(abs(contour_area(c)) for shape in drawing.shapes for c in shape.contours)
    assert areas == pytest.approx([25 * math.pi, 36 * math.pi])
    messages = [finding.message for finding in drawing.findings if finding.code == Code.BAD_VALUE]
    assert len(messages) == 4
    assert any("'1,5' is no number" in message for message in messages)


def test_lost_line_is_found_again() -> None:
    good = "0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n5\n"
    data = good + "stray words\n0\nCIRCLE\n8\n0\n10\n50\n20\n0\n40\n5\n0\nENDSEC\n0\nEOF\n"
    contents, mended = read_tags(data.encode(), DEFAULT_LIMITS)
    assert len([item for item in contents.model.items if isinstance(item, Drawn)]) == 2
    assert mended == ["1 lines that are no group codes skipped"]


def test_nothing_to_read() -> None:
    with pytest.raises(NotTags):
        read_tags(b"no tags at all\nnone\n", DEFAULT_LIMITS)
