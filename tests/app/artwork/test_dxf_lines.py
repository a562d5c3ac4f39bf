"""Shapes from the bare lines and hatches of DXF files: joined, without repeats, nested by containment."""

from __future__ import annotations

import math

import pytest

from app.artwork.notes import Code
from geometry.measure import contour_area, contour_length, region_area
from geometry.regions import RegionCode
from tests.app.artwork.dxf_sheet import Sheet, codes, lettered


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


def test_a_polyline_that_runs_on_past_its_start_bounds_a_shape(sheet: Sheet) -> None:
    sheet.space.add_lwpolyline([(0, 0), (50, 0), (50, 40), (0, 40), (0, 0), (50, 0)])
    drawing = sheet.read()
    (shape,) = drawing.shapes
    assert shape.contours[0].is_closed
    assert abs(contour_area(shape.contours[0])) == pytest.approx(2000)
    assert codes(drawing) == {Code.DUPLICATE}


def test_a_polyline_with_a_tail_bounds_what_it_encloses(sheet: Sheet) -> None:
    sheet.space.add_lwpolyline([(-20, 0), (0, 0), (50, 0), (50, 40), (0, 40), (0, 0)])
    drawing = sheet.read()
    closed = [contour for shape in drawing.shapes for contour in shape.contours if contour.is_closed]
    assert [abs(contour_area(contour)) for contour in closed] == [pytest.approx(2000)]
    assert RegionCode.OPEN in {finding.code for finding in lettered(drawing).findings}
