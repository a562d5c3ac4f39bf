"""Fill rules, nesting, crossings and what cannot be a region."""

import math

import numpy as np
import pytest
import shapely

from geometry.arcs import circle, ellipse_arc
from geometry.build import closed, open_chain, polygon, rectangle, reversed_contour
from geometry.contour import Contour, FillRule, Region
from geometry.curve import Arc, Cubic, Line
from geometry.findings import Finding, Severity
from geometry.flatten import flatten_contour
from geometry.measure import contour_area, region_area, region_perimeter
from geometry.regions import RegionCode, regions_from_contours
from geometry.transform import Affine, scaling, transform_contour, translation
from tests.geometry.curved import fine_polygon

PENTAGRAM = polygon(
    [(10 * math.cos(math.radians(90 + 144 * i)), 10 * math.sin(math.radians(90 + 144 * i))) for i in range(5)]
)
# A ring that runs over itself: an L of 180 whose corner of 36 is covered twice.
SELF_CROSSING = polygon([(0, 0), (18, 0), (18, 6), (6, 6), (6, 18), (0, 18), (0, 0.0), (6, 0), (6, 6), (0, 6)])
BOW_TIE = polygon([(0, 0), (10, 10), (10, 0), (0, 10)])


def total(regions: tuple[Region, ...]) -> float:
    return math.fsum(map(region_area, regions))


def codes(findings: tuple[Finding, ...]) -> list[str]:
    return [finding.code for finding in findings]


def assert_sound(regions: tuple[Region, ...]) -> None:
    polygons = [fine_polygon(shape, 100) for shape in regions]
    for shape, filled in zip(regions, polygons, strict=True):
        assert filled.is_valid, shapely.is_valid_reason(filled)
        assert contour_area(shape.outer) > 0
        assert all(contour_area(hole) < 0 for hole in shape.holes)
        for contour in (shape.outer, *shape.holes):
            for one, two in zip(contour.segments, contour.segments[1:] + contour.segments[:1], strict=True):
                assert one.end == two.start
    for i, one in enumerate(polygons):
        for two in polygons[i + 1 :]:
            assert shapely.area(shapely.intersection(one, two)) < 1e-6


@pytest.mark.parametrize(
    ("contours", "even_odd", "nonzero"),
    [
        ([BOW_TIE], 50, 50),
        ([Contour(rectangle(10, 10).segments * 2)], 0, 100),
        ([rectangle(10, 10), rectangle(10, 10)], 0, 100),
        ([PENTAGRAM], 77.5677, 112.2570),
        ([SELF_CROSSING], 144, 180),
    ],
    ids=["bow-tie", "traced twice", "drawn twice", "pentagram", "crossing itself"],
)
def test_crossing_rings_follow_the_rule(contours: list[Contour], even_odd: float, nonzero: float) -> None:
    """True areas by the W3C rules, as two clipping libraries give them (reader notes, section 3.5)."""
    for rule, area in ((FillRule.EVEN_ODD, even_odd), (FillRule.NONZERO, nonzero)):
        regions, findings = regions_from_contours(contours, rule)
        assert total(regions) == pytest.approx(area, abs=1e-4)
        assert codes(findings) == [RegionCode.CROSSING]
        assert findings[0].fixed
        assert_sound(regions)


def test_a_bow_tie_falls_apart_at_its_knot() -> None:
    regions, findings = regions_from_contours([BOW_TIE], FillRule.EVEN_ODD)
    assert [region_area(shape) for shape in regions] == [25, 25]
    assert findings[0].where == pytest.approx((5, 5))


def test_counters_are_holes_under_either_rule() -> None:
    outer, inner = circle((0, 0), 10), circle((0, 0), 4)
    ring, findings = regions_from_contours([outer, inner], FillRule.EVEN_ODD)
    assert not findings
    assert total(ring) == pytest.approx(math.pi * 84)
    again, findings = regions_from_contours([reversed_contour(outer), inner], FillRule.NONZERO)
    assert not findings
    assert total(again) == pytest.approx(math.pi * 84)
    assert_sound(ring)
    assert_sound(again)


def test_segments_of_plain_contours_are_kept_exactly() -> None:
    blob = closed([Cubic((0, 0), (40, -20), (60, 80), (0, 60)), Arc((0, 60), (-30, 20), 0.3), Line((-30, 20), (0, 0))])
    hole = circle((5, 30), 4)
    (shape,), _ = regions_from_contours([hole, blob], FillRule.EVEN_ODD)
    assert shape.outer == blob
    assert shape.holes == (reversed_contour(hole),)


def test_islands_in_counters_are_regions_of_their_own() -> None:
    rings = [circle((0, 0), r) for r in (10, 8, 6, 4, 2)]
    regions, findings = regions_from_contours(rings, FillRule.EVEN_ODD)
    assert not findings
    assert [len(shape.holes) for shape in regions] == [1, 1, 0]
    assert total(regions) == pytest.approx(math.pi * (100 - 64 + 36 - 16 + 4))
    assert_sound(regions)


def test_a_counter_drawn_the_wrong_way_is_filled_and_said_so() -> None:
    regions, findings = regions_from_contours([circle((0, 0), 10), circle((0, 0), 4)], FillRule.NONZERO)
    assert total(regions) == pytest.approx(math.pi * 100)
    assert codes(findings) == [RegionCode.REDUNDANT]
    assert findings[0].where == pytest.approx((4, 0))
    assert "direction" in findings[0].message


def test_holes_find_their_own_outer_among_many() -> None:
    contours = [rectangle(10, 10, at=(20.0 * i, 0)) for i in range(8)]
    contours += [circle((20.0 * i + 5, 5), 1 + 0.3 * i) for i in range(8)]
    regions, _ = regions_from_contours(contours, FillRule.EVEN_ODD)
    assert [region_area(r) for r in regions] == pytest.approx([100 - math.pi * (1 + 0.3 * i) ** 2 for i in range(8)])


def test_overlapping_circles_join_with_their_arcs_kept() -> None:
    """Lens of two circles of radius r at distance r: r² (2π/3 - √3/2) (textbook)."""
    lens = 100 * (2 * math.pi / 3 - math.sqrt(3) / 2)
    pair = [circle((0, 0), 10), circle((10, 0), 10)]
    union, findings = regions_from_contours(pair, FillRule.NONZERO)
    assert total(union) == pytest.approx(200 * math.pi - lens, rel=1e-12)
    assert all(isinstance(segment, Arc) for segment in union[0].outer.segments)
    assert region_perimeter(union[0]) == pytest.approx(2 * 10 * math.radians(240), rel=1e-12)
    assert findings[0].severity is Severity.NOTE
    without, findings = regions_from_contours(pair, FillRule.EVEN_ODD)
    assert total(without) == pytest.approx(200 * math.pi - 2 * lens, rel=1e-12)
    assert len(without) == 2
    assert findings[0].severity is Severity.WARNING
    assert_sound(union)
    assert_sound(without)


def test_touching_circles_stay_apart_and_an_inner_one_is_a_hole() -> None:
    beside, _ = regions_from_contours([circle((0, 0), 10), circle((20, 0), 10)], FillRule.NONZERO)
    assert [region_area(shape) for shape in beside] == pytest.approx([100 * math.pi] * 2)
    crescent, _ = regions_from_contours([circle((0, 0), 10), circle((5, 0), 5)], FillRule.EVEN_ODD)
    assert len(crescent) == 1
    assert total(crescent) == pytest.approx(75 * math.pi, rel=1e-9)


def test_a_cubic_that_crosses_itself_keeps_its_curve() -> None:
    loop = closed([Cubic((0, 0), (150, 100), (-50, 100), (100, 0)), Line((100, 0), (0, 0))])
    for rule in FillRule:
        regions, findings = regions_from_contours([loop], rule)
        assert codes(findings) == [RegionCode.CROSSING]
        assert any(isinstance(segment, Cubic) for shape in regions for segment in shape.outer.segments)
        assert_sound(regions)
    # Under both rules the knot of the loop parts two areas of opposite turning; their difference is the signed area.
    areas = sorted(region_area(shape) for shape in regions)
    assert len(areas) == 2
    assert areas[1] - areas[0] == pytest.approx(abs(contour_area(loop)), rel=1e-9)


def test_overlapping_strokes_of_a_variable_font_become_one_letter() -> None:
    """Variable fonts draw a letter as overlapping strokes; here an A of two legs and a bar."""
    leg = closed(
        [Line((0, 0), (20, 0)), Cubic((20, 0), (30, 40), (50, 70), (60, 100)), Line((60, 100), (40, 100)),
         Cubic((40, 100), (30, 70), (10, 40), (0, 0))]
    )  # fmt: skip
    other = reversed_contour(transform_contour(leg, Affine(-1, 0, 0, 1, 100, 0)))
    bar = rectangle(60, 12, at=(20, 30))
    regions, findings = regions_from_contours([leg, other, bar], FillRule.NONZERO)
    assert codes(findings) == [RegionCode.CROSSING]
    assert len(regions) == 1
    assert len(regions[0].holes) == 1
    assert any(isinstance(segment, Cubic) for segment in regions[0].outer.segments)
    union = shapely.union_all([shapely.Polygon(flatten_contour(c, 1e-4)) for c in (leg, other, bar)])
    assert total(regions) == pytest.approx(union.area, rel=1e-6)
    assert_sound(regions)


@pytest.mark.parametrize("rule", FillRule)
@pytest.mark.parametrize("shift", [(0, 0), (40, 0), (0, 65), (33, 21)])
def test_letters_laid_over_each_other(glyphs: tuple, rule: FillRule, shift: tuple[float, float]) -> None:
    """Against shapely's union (nonzero) or symmetric difference (even-odd) of fine polygons."""
    for one, two in zip(glyphs[:40:5], glyphs[45:85:5], strict=True):
        second = [transform_contour(contour, translation(*shift)) for contour in two.contours]
        if ("ttf" in one.name) != ("ttf" in two.name):  # their outer contours run opposite ways
            second = [reversed_contour(contour) for contour in second]
        alone, _ = regions_from_contours(second, FillRule.NONZERO)
        regions, findings = regions_from_contours([*one.contours, *second], FillRule.NONZERO)
        assert RegionCode.REFITTED not in codes(findings), (one.name, two.name)
        a = shapely.union_all([fine_polygon(shape, 60) for shape in one.regions])
        b = shapely.union_all([fine_polygon(shape, 60) for shape in alone])
        if rule is FillRule.EVEN_ODD:
            regions, findings = regions_from_contours([*one.contours, *second], rule)
            assert total(regions) == pytest.approx(shapely.symmetric_difference(a, b).area, rel=2e-4)
        else:
            assert total(regions) == pytest.approx(shapely.union(a, b).area, rel=2e-4), (one.name, two.name)
        assert_sound(regions)


def test_open_contours_are_left_out_with_place_and_gap() -> None:
    broken = open_chain([Line((0, 0), (10, 0)), Line((10, 0), (10, 10)), Line((10, 10), (0, 0.4))])
    regions, findings = regions_from_contours([broken, circle((50, 50), 5)], FillRule.EVEN_ODD)
    assert len(regions) == 1
    (finding,) = findings
    assert (finding.code, finding.severity, finding.where) == (RegionCode.OPEN, Severity.ERROR, (0, 0.4))
    assert "0.400 mm" in finding.message
    closed_up, findings = regions_from_contours([broken], FillRule.EVEN_ODD, gap=0.5)
    assert codes(findings) == [RegionCode.GAP_CLOSED]
    assert findings[0].fixed
    assert total(closed_up) == pytest.approx(52)


def test_what_has_no_area_is_left_out_and_said_so() -> None:
    there_and_back = Contour((Line((3, 4), (9, 4)), Line((9, 4), (3, 4))))
    spike = Contour((Line((0, 0), (5, 5)), Cubic((5, 5), (4, 4), (1, 1), (0, 0))))
    regions, findings = regions_from_contours([there_and_back, spike, rectangle(20, 20)], FillRule.NONZERO)
    assert total(regions) == 400
    assert codes(findings) == [RegionCode.NO_AREA] * 2
    assert findings[0].where == (3, 4)


def test_values_that_are_no_numbers_are_left_out_and_said_so() -> None:
    bad = Contour((Line((0, 0), (math.nan, 0)), Line((math.nan, 0), (0, 0))))
    regions, findings = regions_from_contours([bad, rectangle(2, 2)], FillRule.NONZERO)
    assert total(regions) == 4
    assert codes(findings) == [RegionCode.NOT_FINITE]


def test_nothing_gives_nothing() -> None:
    assert regions_from_contours([], FillRule.NONZERO) == ((), ())


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e4])
def test_size_does_not_matter(scale: float) -> None:
    contours = [
        transform_contour(contour, scaling(scale))
        for contour in (circle((0, 0), 10), closed(ellipse_arc((8, 3), 9, 4, 20, 0, 360)), PENTAGRAM)
    ]
    regions, findings = regions_from_contours(contours, FillRule.NONZERO)
    union = shapely.union_all([shapely.Polygon(flatten_contour(c, 1e-6 * scale)).buffer(0) for c in contours])
    assert RegionCode.REFITTED not in codes(findings)
    assert total(regions) == pytest.approx(union.area, rel=1e-4)


def test_the_polygon_way_is_right_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """When the exact way gives up, the polygon takes over and says so."""
    monkeypatch.setattr("geometry.regions.resolve", lambda *_args, **_kwargs: None)
    pair = [circle((0, 0), 10), circle((10, 0), 10)]
    regions, findings = regions_from_contours(pair, FillRule.NONZERO)
    assert codes(findings) == [RegionCode.REFITTED]
    assert total(regions) == pytest.approx(200 * math.pi - 100 * (2 * math.pi / 3 - math.sqrt(3) / 2), rel=1e-4)
    assert len(regions[0].outer.segments) <= 8
    assert_sound(regions)


def test_many_plain_contours_take_little(glyphs: tuple) -> None:
    spread = [
        transform_contour(contour, translation(1500.0 * (i % 10), 1500.0 * (i // 10)))
        for i, glyph in enumerate(glyphs[:50])
        for contour in glyph.contours
    ]
    regions, findings = regions_from_contours(spread, FillRule.NONZERO)
    assert not findings
    assert len(regions) == sum(len(glyph.regions) for glyph in glyphs[:50])
    assert total(regions) == pytest.approx(math.fsum(total(glyph.regions) for glyph in glyphs[:50]), rel=1e-9)
    assert np.isfinite(total(regions))


def test_gaps_between_neighbours_count_like_open_ends() -> None:
    lines = [Line((0, 0), (10, 0)), Line((10, 0.3), (10, 10)), Line((10, 10), (0, 10)), Line((0, 10), (0, 0))]
    regions, findings = regions_from_contours([Contour(tuple(lines))], FillRule.NONZERO)
    assert (regions, codes(findings)) == ((), [RegionCode.OPEN])
    assert findings[0].where == (10, 0)
    regions, findings = regions_from_contours([Contour(tuple(lines))], FillRule.NONZERO, gap=0.5)
    assert codes(findings) == [RegionCode.GAP_CLOSED]
    assert total(regions) == 100


def test_points_among_the_segments_do_no_harm() -> None:
    square = rectangle(4, 4).segments
    dotted = Contour((square[0], Line((4, 0), (4, 0)), Arc((4, 0), (4, 0), 0.5), *square[1:]))
    regions, findings = regions_from_contours([dotted], FillRule.NONZERO)
    assert not findings
    assert regions == (Region(rectangle(4, 4)),)
    regions, findings = regions_from_contours([Contour((Line((1, 1), (1, 1)),))], FillRule.NONZERO)
    assert (regions, codes(findings)) == ((), [RegionCode.NO_AREA])


def test_coordinates_beyond_all_reason_are_left_out() -> None:
    regions, findings = regions_from_contours([rectangle(1e300, 1e300), rectangle(1, 1)], FillRule.NONZERO)
    assert total(regions) == 1
    assert codes(findings) == [RegionCode.NOT_FINITE]


def test_a_circle_touching_the_edge_from_within_is_cut_there() -> None:
    """The disc touches the top edge at (11, 3) and hangs out below: what is left falls in two."""
    regions, _ = regions_from_contours([rectangle(10, 3, at=(4, 0)), circle((11, 1), 2)], FillRule.EVEN_ODD)
    assert len(regions) == 3
    segment = 4 * (2 * math.pi / 3 - math.sqrt(3) / 2) / 2  # of 120 degrees, below the box: R² (θ - sin θ) / 2
    assert total(regions) == pytest.approx(30 - (4 * math.pi - segment) + segment, rel=1e-9)
    assert_sound(regions)
