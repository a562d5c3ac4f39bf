"""DXF files written here with ezdxf or by hand; the right answers are worked out beside them."""

from __future__ import annotations

import itertools
import math
import time
from pathlib import Path

import ezdxf
import pytest
import reportlab
from ezdxf.math import Vec3

from app.artwork.drawing import Drawing
from app.artwork.dxf import read_dxf
from app.artwork.letters import letter_drawing
from app.artwork.notes import Code
from app.artwork.options import ReadOptions
from app.artwork.read import read_here
from app.errors import AppError, DamagedFile, ReadError
from app.job.document import Artwork
from geometry.arcs import arc_radius, arc_sweep
from geometry.contour import Contour
from geometry.curve import Arc, Cubic
from geometry.measure import contour_area, contour_bounds, contour_length, region_area


class Sheet:
    """A DXF being drawn, saved and read back."""

    def __init__(self, folder: Path, *, insunits: int | None = 4, measurement: int = 1) -> None:
        self.path = folder / "test.dxf"
        self.document = ezdxf.new("R2010")
        self.document.header["$MEASUREMENT"] = measurement
        if insunits is None:
            del self.document.header["$INSUNITS"]
        else:
            self.document.header["$INSUNITS"] = insunits
        self.space = self.document.modelspace()

    def read(self, **options: object) -> Drawing:
        self.document.saveas(self.path)
        return read_dxf(str(self.path), self.path.name, options=ReadOptions(**options))

    def contours(self, **options: object) -> list[Contour]:
        return [contour for shape in self.read(**options).shapes for contour in shape.contours]


@pytest.fixture
def sheet(tmp_path: Path) -> Sheet:
    return Sheet(tmp_path)


def codes(drawing: Drawing) -> set[str]:
    return {finding.code for finding in drawing.findings}


def box(contour: Contour) -> tuple[float, float, float, float]:
    bounds = contour_bounds(contour)
    return (bounds.min_x, bounds.min_y, bounds.max_x, bounds.max_y)


def lettered(drawing: Drawing):
    return letter_drawing(drawing, Artwork("a", "a", "b"))


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


@pytest.mark.parametrize(
    ("angle", "bulge"),
    # V35: bulge = tan(angle / 4).
    [(30, 0.131652), (60, 0.267949), (90, 0.414214), (180, 1.0), (270, 2.414214)],
)
def test_arcs_have_the_bulges_of_the_handbook(sheet: Sheet, angle: float, bulge: float) -> None:
    sheet.space.add_arc((5, 5), 10, 20, 20 + angle)
    (contour,) = sheet.contours()
    (arc,) = contour.segments
    assert isinstance(arc, Arc)
    assert arc.bulge == pytest.approx(bulge, abs=1e-6)
    assert arc_radius(arc) == pytest.approx(10)


def test_bulge_of_a_polyline(sheet: Sheet) -> None:
    # V36: bulge 0.5 from (0,0) to (10,0): radius 6.25, sagitta 2.5 below the chord, arc 11.59119, segment 17.47247.
    sheet.space.add_lwpolyline([(0, 0, 0.5), (10, 0, 0)], format="xyb", close=True)
    (contour,) = sheet.contours()
    arc = contour.segments[0]
    assert isinstance(arc, Arc)
    assert arc_radius(arc) == pytest.approx(6.25)
    assert box(contour) == pytest.approx((0, -2.5, 10, 0))
    assert contour_area(contour) == pytest.approx(17.47247, abs=1e-4)
    assert contour_length(contour) == pytest.approx(11.59119 + 10, abs=1e-4)


def test_old_polyline_with_bulges(sheet: Sheet) -> None:
    sheet.space.add_polyline2d([(0, 0, 1), (10, 0, 1)], format="xyb", close=True)
    (contour,) = sheet.contours()
    assert contour_area(contour) == pytest.approx(math.pi * 25)


def test_very_wide_bulge_is_cut_in_two(sheet: Sheet) -> None:
    sheet.space.add_lwpolyline([(0, 0, 10), (1, 0, 0)], format="xyb", close=True)
    (contour,) = sheet.contours()
    arcs = [segment for segment in contour.segments if isinstance(segment, Arc)]
    assert len(arcs) == 2
    assert sum(map(arc_sweep, arcs)) == pytest.approx(math.degrees(4 * math.atan(10)))
    assert [arc_radius(arc) for arc in arcs] == pytest.approx([101 / 40] * 2)


def test_extrusion_of_minus_z_mirrors(sheet: Sheet) -> None:
    # The arbitrary axis algorithm of the DXF reference: for (0, 0, -1) the object's x axis is -X.
    below = {"extrusion": (0, 0, -1)}
    sheet.space.add_circle((10, 5), 2, dxfattribs=below)
    sheet.space.add_lwpolyline([(20, 0, 0), (30, 0, 0.5), (30, 10, 0)], format="xyb", close=True, dxfattribs=below)
    circle, polyline = sheet.contours()
    assert box(circle) == pytest.approx((-12, 3, -8, 7))
    assert box(polyline) == pytest.approx((-32.5, 0, -20, 10))


def test_arc_seen_from_below(sheet: Sheet) -> None:
    sheet.space.add_arc((10, 0), 5, 0, 90, dxfattribs={"extrusion": (0, 0, -1)})
    (contour,) = sheet.contours()
    assert box(contour) == pytest.approx((-15, 0, -10, 5))


@pytest.mark.parametrize("extrusion", [(0, 0, 1), (0, 0, -1)])
def test_ellipse_arcs_match_ezdxf_points(sheet: Sheet, extrusion: tuple[int, int, int]) -> None:
    ellipse = sheet.space.add_ellipse(
        (3, 4), (10, 5), 0.4, math.radians(20), math.radians(200), dxfattribs={"extrusion": extrusion}
    )
    ends = sorted((p.x, p.y) for p in (ellipse.start_point, ellipse.end_point))
    (middle,) = ellipse.vertices([math.radians(110)])
    (contour,) = sheet.contours()
    found = sorted((contour.segments[0].start, contour.segments[-1].end))
    assert found[0] == pytest.approx(ends[0], abs=1e-6)
    assert found[1] == pytest.approx(ends[1], abs=1e-6)
    points = [s.start for s in contour.segments] + [contour.segments[-1].end]
    assert min(math.dist(point, (middle.x, middle.y)) for point in points) < 1e-6


def test_whole_ellipse_and_round_one(sheet: Sheet) -> None:
    sheet.space.add_ellipse((0, 0), (12, 0), 0.5)
    sheet.space.add_ellipse((100, 0), (7, 0), 1.0)
    ellipse, circle = sheet.contours()
    assert contour_length(ellipse) == pytest.approx(58.130689, abs=1e-4)  # V33: a = 12, b = 6
    assert contour_area(ellipse) == pytest.approx(72 * math.pi, rel=1e-6)
    assert all(isinstance(segment, Arc) for segment in circle.segments)


def test_clamped_cubic_spline_is_exact(sheet: Sheet) -> None:
    sheet.space.add_spline(dxfattribs={}).control_points = [(0, 0), (10, 30), (30, -20), (40, 10), (60, 0)]
    spline = sheet.space.query("SPLINE").first
    spline.knots = [0, 0, 0, 0, 0.4, 1, 1, 1, 1]
    spline.dxf.degree = 3
    (contour,) = sheet.contours()
    assert all(isinstance(segment, Cubic) for segment in contour.segments)
    assert len(contour.segments) == 2
    # de Boor by hand is ezdxf's own evaluation here; it is right on clamped knots.
    tool = spline.construction_tool()
    joint = tool.point(0.4)
    assert contour.segments[0].end == pytest.approx((joint.x, joint.y), abs=1e-12)
    assert contour.segments[0].start == (0, 0)
    assert contour.segments[-1].end == (60, 0)


def test_unclamped_spline_lives_on_its_valid_range(sheet: Sheet) -> None:
    # Uniform cubic B-spline: the curve starts at (p0 + 4 p1 + p2) / 6 and ends at (p2 + 4 p3 + p4) / 6.
    points = [(0, 0), (6, 12), (12, 0), (18, 12), (24, 0)]
    spline = sheet.space.add_spline()
    spline.control_points = points
    spline.knots = list(range(9))
    spline.dxf.degree = 3
    (contour,) = sheet.contours()
    assert contour.segments[0].start == pytest.approx((6, 8))
    assert contour.segments[-1].end == pytest.approx((18, 8))


def test_periodic_spline_closes(sheet: Sheet) -> None:
    square = [(0, 0), (6, 0), (6, 6), (0, 6)]
    spline = sheet.space.add_spline()
    spline.control_points = [*square, *square[:3]]
    spline.knots = list(range(11))
    spline.dxf.degree = 3
    drawing = sheet.read()
    (letter,) = lettered(drawing).letters
    assert region_area(letter.regions[0]) > 10


def test_rational_circle_is_within_a_ten_thousandth(sheet: Sheet) -> None:
    # The nine-point NURBS circle (Piegl and Tiller, 7.5): weights 1 and sqrt(2)/2.
    w = math.sqrt(0.5)
    corners = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    spline = sheet.space.add_spline()
    spline.control_points = [(100 * x, 100 * y) for x, y in corners]
    spline.weights = [1, w, 1, w, 1, w, 1, w, 1]
    spline.knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
    spline.dxf.degree = 2
    drawing = sheet.read()
    (contour,) = (contour for shape in drawing.shapes for contour in shape.contours)
    assert contour_area(contour) == pytest.approx(math.pi * 1e4, rel=2e-6)
    assert box(contour) == pytest.approx((-100, -100, 100, 100), abs=1e-4)
    assert Code.CURVE_FITTED in codes(drawing)


@pytest.mark.parametrize("degree", [1, 2, 4, 5])
def test_other_degrees(sheet: Sheet, degree: int) -> None:
    points = [(0, 0), (10, 40), (20, -30), (30, 50), (40, 0), (55, 5), (60, 30)]
    spline = sheet.space.add_spline()
    spline.control_points = points
    inner = [(i + 1) / (len(points) - degree) for i in range(len(points) - degree - 1)]
    spline.knots = [0.0] * (degree + 1) + inner + [1.0] * (degree + 1)
    spline.dxf.degree = degree
    (contour,) = sheet.contours()
    if degree == 1:
        length = sum(math.dist(a, b) for a, b in itertools.pairwise(points))
    else:
        length = sum(a.distance(b) for a, b in itertools.pairwise(spline.construction_tool().approximate(4000)))
    assert contour_length(contour) == pytest.approx(length, rel=2e-6)


def test_fit_points_alone_are_interpolated(sheet: Sheet) -> None:
    sheet.space.add_spline(fit_points=[(0, 0), (10, 5), (20, 0)])
    drawing = sheet.read()
    assert Code.CURVE_FITTED in codes(drawing)
    (contour,) = (contour for shape in drawing.shapes for contour in shape.contours)
    ends = [segment.start for segment in contour.segments] + [contour.segments[-1].end]
    assert min(math.dist(point, (10, 5)) for point in ends) < 3.0


def test_blocks_nested_scaled_mirrored_and_in_arrays(sheet: Sheet) -> None:
    inner = sheet.document.blocks.new("inner", base_point=(1, 1))
    inner.add_lwpolyline([(1, 1), (3, 1), (3, 2), (1, 2)], close=True)
    outer = sheet.document.blocks.new("outer")
    outer.add_blockref("inner", (10, 0), dxfattribs={"xscale": 2, "yscale": 2, "rotation": 90})
    sheet.space.add_blockref("outer", (100, 0), dxfattribs={"xscale": -1})
    sheet.space.add_blockref(
        "inner",
        (0, 200),
        dxfattribs={"column_count": 3, "row_count": 2, "column_spacing": 10, "row_spacing": 20, "rotation": 90},
    )
    boxes = sorted(box(contour) for contour in sheet.contours())
    # inner from its base: (0,0)-(2,1); doubled and turned: (-2,0)-(0,4), moved: (8,0)-(10,4); mirrored at x = 100.
    assert boxes[-1] == pytest.approx((90, 0, 92, 4))
    # The array turns as a whole: columns run up, rows to the left.
    wanted = sorted((-1 - 20 * row, 200 + 10 * column) for row in range(2) for column in range(3))
    assert [b[:2] for b in boxes[:-1]] == [pytest.approx(w) for w in wanted]


def test_stretched_block_turns_a_circle_into_an_ellipse(sheet: Sheet) -> None:
    sheet.document.blocks.new("dot").add_circle((0, 0), 5)
    sheet.space.add_blockref("dot", (0, 0), dxfattribs={"xscale": 3, "yscale": 1})
    (contour,) = sheet.contours()
    assert abs(contour_area(contour)) == pytest.approx(75 * math.pi, rel=1e-5)


def test_block_on_layer_0_takes_the_layer_of_its_reference(sheet: Sheet) -> None:
    sheet.document.layers.add("Letters")
    sheet.document.blocks.new("dot").add_circle((0, 0), 5)
    sheet.space.add_blockref("dot", (0, 0), dxfattribs={"layer": "Letters"})
    (shape,) = sheet.read().shapes
    assert shape.source.layer == "Letters"
    assert shape.source.object_id == "dot"


def test_loose_lines_and_arcs_are_chained(sheet: Sheet) -> None:
    # A stadium of two lines and two half circles, drawn in disorder and in both directions.
    sheet.space.add_arc((0, 0), 5, 90, 270)
    sheet.space.add_line((20, 5), (0, 5))
    sheet.space.add_arc((20, 0), 5, 270, 90)
    sheet.space.add_line((20, -5), (0, -5))
    (contour,) = sheet.contours()
    assert contour.is_closed
    assert abs(contour_area(contour)) == pytest.approx(200 + 25 * math.pi)


def test_gap_is_joined_and_told(sheet: Sheet) -> None:
    for a, b in [((0, 0), (50, 0)), ((50, 0.06), (50, 50)), ((50, 50), (0, 50)), ((0, 50), (0, 0))]:
        sheet.space.add_line(a, b)
    drawing = sheet.read()
    (joined,) = [f for f in drawing.findings if f.code == Code.JOINED]
    assert joined.where == pytest.approx((50, 0.03))
    assert "0.06" in joined.message
    assert joined.fixed
    (letter,) = lettered(drawing).letters
    assert region_area(letter.regions[0]) == pytest.approx(2500, abs=2)


def test_gap_wider_than_the_limit_stays_open_and_is_told(sheet: Sheet) -> None:
    for a, b in [((0, 0), (50, 0)), ((50, 0.5), (50, 50)), ((50, 50), (0, 50)), ((0, 50), (0, 0))]:
        sheet.space.add_line(a, b)
    sheet.space.add_circle((100, 100), 5)
    drawing = sheet.read()
    lettering = lettered(drawing)
    assert len(lettering.letters) == 1
    (open_,) = [f for f in lettering.findings if "open" in f.code]
    assert '0.02" (0.5 mm)' in open_.message


def test_duplicates_are_dropped(sheet: Sheet) -> None:
    sheet.space.add_circle((0, 0), 5)
    sheet.space.add_circle((0, 0), 5)
    sheet.space.add_lwpolyline([(20, 0), (30, 0), (30, 10)], close=True)
    sheet.space.add_lwpolyline([(30, 10), (20, 0), (30, 0)], close=True)
    for a, b in [((50, 0), (60, 0)), ((60, 0), (60, 10)), ((60, 10), (50, 0)), ((50, 0), (60, 10))]:
        sheet.space.add_line(a, b)
    drawing = sheet.read()
    assert len(lettered(drawing).letters) == 3
    (finding,) = [f for f in drawing.findings if f.code == Code.DUPLICATE]
    assert finding.message.startswith("3 pieces dropped")


def test_shapes_that_share_an_edge(sheet: Sheet) -> None:
    for a, b in [((0, 0), (10, 0)), ((10, 0), (20, 0)), ((20, 0), (20, 10)), ((20, 10), (10, 10)), ((10, 10), (0, 10)),
                 ((0, 10), (0, 0)), ((10, 0), (10, 10))]:  # fmt: skip
        sheet.space.add_line(a, b)
    drawing = sheet.read()
    assert Code.JUNCTION in codes(drawing)
    areas = sorted(contour_area(contour) for shape in drawing.shapes for contour in shape.contours)
    assert areas == pytest.approx([100, 100])


def test_loops_joined_by_a_line_stay_two_loops(sheet: Sheet) -> None:
    for x in (0, 30):
        for a, b in [((0, 0), (10, 0)), ((10, 0), (10, 10)), ((10, 10), (0, 10)), ((0, 10), (0, 0))]:
            sheet.space.add_line((a[0] + x, a[1]), (b[0] + x, b[1]))
    sheet.space.add_line((10, 10), (30, 10))
    drawing = sheet.read()
    closed = [c for shape in drawing.shapes for c in shape.contours if c.is_closed]
    loose = [c for shape in drawing.shapes for c in shape.contours if not c.is_closed]
    assert sorted(map(contour_area, closed)) == pytest.approx([100, 100])
    assert [contour_length(c) for c in loose] == pytest.approx([20])


def test_even_odd_by_containment(sheet: Sheet) -> None:
    for radius in (30, 20, 10):
        sheet.space.add_circle((0, 0), radius)
    lettering = lettered(sheet.read())
    areas = sorted(region_area(region) for letter in lettering.letters for region in letter.regions)
    assert areas == pytest.approx([100 * math.pi, 500 * math.pi])


def test_hatch_counts_where_no_line_draws_its_edge(sheet: Sheet) -> None:
    hatch = sheet.space.add_hatch()
    hatch.paths.add_polyline_path([(0, 0, 0), (10, 0, 1), (10, 10, 0), (0, 10, 0)], is_closed=True)
    edges = hatch.paths.add_edge_path()
    edges.add_arc((40, 5), 5, 0, 360)
    loose = hatch.paths.add_edge_path()
    loose.add_line((60, 0), (70, 0))
    loose.add_arc((70, 5), 5, -90, 90)
    loose.add_line((70, 10), (60, 10))
    loose.add_line((60, 10), (60, 0))
    drawing = sheet.read()
    assert Code.HATCH_USED in codes(drawing)
    areas = sorted(abs(contour_area(c)) for shape in drawing.shapes for c in shape.contours)
    assert areas == pytest.approx([25 * math.pi, 100 + 12.5 * math.pi, 100 + 12.5 * math.pi])
    sheet.space.add_circle((90, 0), 3)
    drawing = sheet.read()
    assert sum(len(shape.contours) for shape in drawing.shapes) == 4
    assert Code.HATCH_ALONE in codes(drawing)


def test_hatch_inside_drawn_lines_is_their_filling(sheet: Sheet) -> None:
    """Edge of four lines, filled; a second filling with one edge drawn is told, since it cannot be guessed."""
    corners = [(0, 0), (10, 0), (10, 10), (0, 10)]
    for start, end in zip(corners, [*corners[1:], corners[0]], strict=True):
        sheet.space.add_line(start, end)
    sheet.space.add_hatch().paths.add_polyline_path(corners, is_closed=True)
    drawing = sheet.read()
    assert sum(len(shape.contours) for shape in drawing.shapes) == 1
    assert not {Code.HATCH_ALONE, Code.HATCH_IN_PART} & set(codes(drawing))
    sheet.space.add_hatch().paths.add_polyline_path([(10, 0), (20, 0), (20, 10), (10, 10)], is_closed=True)
    drawing = sheet.read()
    assert sum(len(shape.contours) for shape in drawing.shapes) == 1
    assert Code.HATCH_IN_PART in codes(drawing)


def test_layers_that_are_off_or_frozen(sheet: Sheet) -> None:
    for name in ("Off", "Frozen", "On"):
        layer = sheet.document.layers.add(name)
        sheet.space.add_circle((0, 0), 5, dxfattribs={"layer": name})
        if name == "Off":
            layer.off()
        if name == "Frozen":
            layer.freeze()
    drawing = sheet.read()
    assert [shape.source.layer for shape in drawing.shapes] == ["On"]
    assert sum(f.code == Code.LAYER_SKIPPED for f in drawing.findings) == 2
    assert [shape.source.layer for shape in sheet.read(layers=("Off",)).shapes] == ["Off"]
    with pytest.raises(ReadError, match="no layer 'Nope'"):
        sheet.read(layers=("Nope",))


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


def test_paper_space_is_read_when_the_model_is_empty(sheet: Sheet) -> None:
    sheet.document.layout("Layout1").add_circle((0, 0), 5)
    drawing = sheet.read()
    assert len(drawing.shapes) == 1
    assert Code.PAPER_SPACE in codes(drawing)


def test_bad_entities_leave_the_rest(sheet: Sheet) -> None:
    sheet.space.add_circle((0, 0), 5)
    sheet.space.add_circle((0, 0), 1e300)
    sheet.space.add_circle((50, 0), -1)
    sheet.space.add_line((0, 0), (1e300, 0))
    sheet.space.add_lwpolyline([(0, 0, 1e12), (1, 0, 0)], format="xyb")
    spline = sheet.space.add_spline()
    spline.control_points = [(0, 0), (1, 1), (2, 0), (3, 0)]
    spline.knots = [1.0] * 8
    started = time.perf_counter()
    drawing = sheet.read()
    assert time.perf_counter() - started < 2.0
    assert len(drawing.shapes) == 1
    assert sum(f.code == Code.BAD_VALUE for f in drawing.findings) == 5


def test_block_that_contains_itself(sheet: Sheet) -> None:
    block = sheet.document.blocks.new("snake")
    block.add_circle((0, 0), 1)
    sheet.document.blocks.new("tail").add_blockref("snake", (0, 0))
    block.add_blockref("tail", (0, 0))
    sheet.space.add_blockref("snake", (0, 0))
    with pytest.raises(DamagedFile, match="block 'snake' that contains itself"):
        sheet.read()


def test_expansions_are_counted_before_they_are_made(sheet: Sheet) -> None:
    name = "level0"
    sheet.document.blocks.new(name).add_circle((0, 0), 1)
    for level in range(1, 9):
        block = sheet.document.blocks.new(f"level{level}")
        for x in range(10):
            block.add_blockref(name, (x, 0))
        name = f"level{level}"
    sheet.space.add_blockref(name, (0, 0))
    started = time.perf_counter()
    with pytest.raises(ReadError, match="more than 200,000 objects"):
        sheet.read()
    assert time.perf_counter() - started < 2.0


def test_crowds_are_counted_before_they_are_parsed(tmp_path: Path) -> None:
    line = "0\nLINE\n8\n0\n10\n0\n20\n0\n11\n5\n21\n5\n"
    path = tmp_path / "crowd.dxf"
    path.write_text("0\nSECTION\n2\nENTITIES\n" + line * 1_000_000 + "0\nENDSEC\n0\nEOF\n")
    started = time.perf_counter()
    with pytest.raises(ReadError, match=r"holds 1,000,00\d entities"):
        read_here(path)
    assert time.perf_counter() - started < 5.0


def test_huge_array_is_refused(sheet: Sheet) -> None:
    sheet.document.blocks.new("dot").add_circle((0, 0), 1)
    sheet.space.add_blockref("dot", (0, 0), dxfattribs={"column_count": 30000, "row_count": 30000})
    with pytest.raises(ReadError, match="more than 200,000 objects"):
        sheet.read()


def test_binary_dxf(sheet: Sheet) -> None:
    sheet.space.add_circle((0, 0), 5)
    with sheet.path.open("wb") as stream:
        sheet.document.write(stream, fmt="bin")
    assert len(read_here(sheet.path).shapes) == 1


def test_ten_thousand_entities_in_three_seconds(sheet: Sheet) -> None:
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
    assert seconds < 3.0, f"{seconds:.2f} s"


FONTS = Path(reportlab.__file__).parent / "fonts"


def test_text_becomes_outlines_when_its_font_is_given(sheet: Sheet) -> None:
    sheet.document.styles.new("sign", dxfattribs={"font": "VERABD.TTF"})
    sheet.space.add_text("HI", height=50, rotation=90, dxfattribs={"style": "sign", "insert": (10, 20)})
    drawing = sheet.read(font_folders=(str(FONTS),))
    assert [shape.source.object_id for shape in drawing.shapes] == ["H", "I"]
    assert Code.TEXT_OUTLINED in codes(drawing)
    left, bottom, right, _ = box(drawing.shapes[0].contours[0])
    # Turned by 90 degrees the capital of 50 runs from x = 10 to the left; the H starts a side bearing above y = 20.
    assert (left, right) == pytest.approx((-40, 10))
    assert 20 < bottom < 30
    lettering = lettered(drawing)
    assert [letter.name for letter in lettering.letters] == ["I", "H"]  # as it stands, the I is on top


@pytest.mark.parametrize(
    ("placement", "centre_x", "base"),
    [("CENTER", 100, 10), ("RIGHT", None, 10), ("MIDDLE_CENTER", 100, -15), ("TOP_CENTER", 100, -40)],
)
def test_text_alignment(sheet: Sheet, placement: str, centre_x: float | None, base: float) -> None:
    from ezdxf.enums import TextEntityAlignment

    sheet.document.styles.new("sign", dxfattribs={"font": "VeraBd.ttf"})
    text = sheet.space.add_text("HH", height=50, dxfattribs={"style": "sign"})
    text.set_placement((100, 10), align=TextEntityAlignment[placement])
    drawing = sheet.read(font_folders=(str(FONTS),))
    boxes = [box(contour) for shape in drawing.shapes for contour in shape.contours]
    assert min(b[1] for b in boxes) == pytest.approx(base)
    if centre_x is not None:
        assert (min(b[0] for b in boxes) + max(b[2] for b in boxes)) / 2 == pytest.approx(centre_x, abs=5)
    else:
        assert max(b[2] for b in boxes) == pytest.approx(100)


def test_text_without_its_font_is_told(sheet: Sheet) -> None:
    sheet.space.add_circle((0, 0), 5)
    sheet.document.styles.new("sign", dxfattribs={"font": "elsewhere/../secret.ttf"})
    sheet.space.add_text("HI", height=50, dxfattribs={"style": "sign"})
    sheet.space.add_mtext("HI", dxfattribs={"style": "sign"})
    drawing = sheet.read(font_folders=(str(FONTS),))
    assert len(drawing.shapes) == 1
    assert {Code.TEXT_NOT_OUTLINES, Code.FONT_MISSING} <= codes(drawing)


def test_mtext_lines(sheet: Sheet) -> None:
    sheet.document.styles.new("sign", dxfattribs={"font": "VeraBd.ttf"})
    sheet.space.add_mtext("HO\\PX", dxfattribs={"style": "sign", "char_height": 30, "insert": (0, 100)})
    drawing = sheet.read(font_folders=(str(FONTS),))
    assert [shape.source.object_id for shape in drawing.shapes] == ["H", "O", "X"]
    assert box(drawing.shapes[0].contours[0])[3] == pytest.approx(100)


def test_mtext_that_its_column_would_break_is_told(sheet: Sheet) -> None:
    sheet.document.styles.new("sign", dxfattribs={"font": "VeraBd.ttf"})
    text = sheet.space.add_mtext("HO HO HO", dxfattribs={"style": "sign", "char_height": 30, "width": 1000})
    assert Code.TEXT_NOT_WRAPPED not in codes(sheet.read(font_folders=(str(FONTS),)))
    text.dxf.width = 100
    assert Code.TEXT_NOT_WRAPPED in codes(sheet.read(font_folders=(str(FONTS),)))


def test_polylines_with_a_width_are_told_or_outlined(sheet: Sheet) -> None:
    sheet.space.add_lwpolyline([(0, 0), (100, 0), (100, 50)], dxfattribs={"const_width": 10})
    sheet.space.add_polyline2d([(0, 200), (80, 200)], dxfattribs={"default_start_width": 6, "default_end_width": 6})
    assert Code.STROKE_AS_LINE in codes(sheet.read())
    drawing = sheet.read(outline_strokes=True)
    assert Code.STROKE_OUTLINED in codes(drawing)
    assert Code.STROKE_AS_LINE not in codes(drawing)
    # 100 x 10 along the bottom with half a width at the mitred corner, 50 up; 80 x 6 for the other.
    areas = sorted(abs(contour_area(contour)) for shape in drawing.shapes for contour in shape.contours)
    assert areas == pytest.approx([480.0, 1000.0 + 500.0])


def test_a_tapered_polyline_keeps_its_middle_line_and_is_told(sheet: Sheet) -> None:
    sheet.space.add_lwpolyline([(0, 0, 2, 8), (100, 0, 8, 2), (100, 50, 0, 0)], format="xyse")
    drawing = sheet.read(outline_strokes=True)
    assert Code.STROKE_AS_LINE in codes(drawing)
    assert [len(contour.segments) for shape in drawing.shapes for contour in shape.contours] == [2]


def test_sides_drawn_over_each_other_in_part_still_bound_a_shape(sheet: Sheet) -> None:
    for start, end in (
        ((0, 0), (70, 0)),
        ((120, 0), (40, 0)),
        ((120, 0), (120, 50)),
        ((120, 50), (0, 50)),
        ((0, 50), (0, 0)),
    ):
        sheet.space.add_line(start, end)
    sheet.space.add_arc((300, 0), 40, 0, 200)
    sheet.space.add_arc((300, 0), 40, 170, 10)
    drawing = sheet.read()
    assert Code.OVERLAPPING in codes(drawing)
    assert sorted(region_area(letter.regions[0]) for letter in lettered(drawing).letters) == pytest.approx(
        [math.pi * 1600, 6000.0]
    )


def test_the_gap_to_close_is_chosen(sheet: Sheet) -> None:
    sheet.space.add_lwpolyline([(0, 0), (100, 0), (100, 50), (0.6, 0)])
    assert not any(contour.is_closed for contour in sheet.contours())
    assert all(contour.is_closed for contour in sheet.contours(join_gap=1.0))
