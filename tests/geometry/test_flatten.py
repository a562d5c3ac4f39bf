"""Flattening, judged by dense samples of the true curve."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from geometry.arcs import circle, point_at
from geometry.build import closed, open_chain, polygon, rectangle, region, reversed_contour
from geometry.contour import Contour, Region
from geometry.curve import Arc, Cubic, Line
from geometry.errors import InvalidOutline
from geometry.flatten import Side, flatten_contour, flatten_region
from tests.geometry.curved import sampled, star_contours, star_regions

ROUNDING = 1e-9  # mm

CURVES = {
    "s": Cubic((0, 0), (100, 0), (-30, 50), (70, 50)),
    "cusp": Cubic((0, 0), (100, 100), (0, 100), (100, 0)),
    "loop": Cubic((0, 0), (150, 100), (-50, 100), (100, 0)),
    "nearly a cusp": Cubic((0, 0), (99.9, 100), (0, 100), (100, 0)),
    "doubled handle": Cubic((0, 0), (0, 0), (60, 40), (100, 0)),
    "both doubled": Cubic((0, 0), (0, 0), (100, 0), (100, 0)),
    "straight": Cubic((0, 0), (30, 0), (60, 0), (100, 0)),
    "flat": Cubic((0, 0), (30, 1e-9), (60, -1e-9), (100, 0)),
    "hairpin": Cubic((0, 0), (300, 1), (300, -1), (0, 0.5)),
    "quarter": Cubic((100, 0), (100, 55.22847), (55.22847, 100), (0, 100)),
}


def polyline_error(points: np.ndarray, curve: np.ndarray) -> float:
    """Hausdorff distance of a polyline and a densely sampled curve."""
    line, dense = shapely.LineString(points), shapely.LineString(curve)
    shapely.prepare([line, dense])
    there = shapely.distance(shapely.points(curve), line).max()
    along = shapely.get_coordinates(shapely.segmentize(line, line.length / 1000))
    return float(max(there, shapely.distance(shapely.points(along), dense).max()))


def test_a_circle_of_12_within_five_thousandths_has_109_chords() -> None:
    """Trade check V38: 109 chords, polygon perimeter 75.3878."""
    ring = flatten_contour(circle((0, 0), 12), 0.005)
    assert len(ring) == 109
    assert shapely.LinearRing(ring).length == pytest.approx(75.3878, abs=1e-4)
    assert np.hypot(*ring.T) == pytest.approx(12)


def test_four_quarter_circles_count_as_one_circle() -> None:
    quarter = math.tan(math.pi / 8)
    ends = [(12, 0), (0, 12), (-12, 0), (0, -12)]
    contour = closed(Arc(p, q, quarter) for p, q in zip(ends, ends[1:] + ends[:1], strict=True))
    assert len(flatten_contour(contour, 0.005)) == 109
    assert len(flatten_contour(reversed_contour(contour), 0.005)) == 109


@pytest.mark.parametrize("side", Side)
@pytest.mark.parametrize("tolerance", [1.0, 0.05, 0.002])
@pytest.mark.parametrize("curve", CURVES.values(), ids=CURVES.keys())
@pytest.mark.parametrize("backwards", [False, True])
def test_no_further_than_the_tolerance(curve: Cubic, backwards: bool, tolerance: float, side: Side) -> None:
    contour = open_chain([curve])
    if backwards:
        contour = reversed_contour(contour)
    points = flatten_contour(contour, tolerance, side)
    assert tuple(points[0]) == contour.segments[0].start
    assert tuple(points[-1]) == contour.segments[0].end
    dense = np.array([point_at(contour.segments[0], i / 2000) for i in range(2001)])
    assert polyline_error(points, dense) <= tolerance * 1.0001 + 1e-4
    assert len(points) < 60 * math.sqrt(1 / tolerance) + 40


@given(star_contours(), st.sampled_from([2.0, 0.1, 0.01]))
def test_outside_contains_and_inside_is_contained(contour: Contour, tolerance: float) -> None:
    dense = sampled(contour, 150)
    spots = shapely.points(dense)
    outside = shapely.Polygon(flatten_contour(contour, tolerance, Side.OUTSIDE))
    inside = shapely.Polygon(flatten_contour(contour, tolerance, Side.INSIDE))
    if outside.is_valid:
        assert shapely.distance(spots, outside).max() <= ROUNDING
    if inside.is_valid:
        strictly = shapely.contains_properly(inside, spots)
        depth = shapely.distance(spots[strictly], inside.boundary)
        assert depth.max(initial=0) <= ROUNDING
    for side in Side:
        ring = flatten_contour(contour, tolerance, side)
        looped, curve = np.vstack([ring, ring[:1]]), np.vstack([dense, dense[:1]])
        assert polyline_error(looped, curve) <= tolerance * 1.0001 + 5e-3


@given(star_regions(), st.sampled_from([1.0, 0.05]))
def test_regions_hold_or_are_held_with_their_holes(shape: Region, tolerance: float) -> None:
    spots = shapely.points(np.vstack([sampled(shape.outer), *(sampled(hole) for hole in shape.holes)]))
    for side in (Side.OUTSIDE, Side.INSIDE):
        outline = flatten_region(shape, tolerance, side)
        polygon = shapely.Polygon(outline.outer, outline.holes)
        assert polygon.is_valid
        if side is Side.OUTSIDE:
            assert shapely.distance(spots, polygon).max() <= ROUNDING
        else:
            strictly = shapely.contains_properly(polygon, spots)
            assert shapely.distance(spots[strictly], polygon.boundary).max(initial=0) <= ROUNDING


def test_holes_of_an_outside_outline_lie_within_the_true_holes() -> None:
    ring = flatten_region(region(circle((0, 0), 10), [circle((0, 0), 5)]), 0.1, Side.OUTSIDE)
    (hole,) = ring.holes
    assert np.hypot(*hole.T).max() <= 5 + 1e-12
    assert np.hypot(*ring.outer.T).min() >= 10
    apothem = shapely.distance(shapely.LinearRing(ring.outer), shapely.Point(0, 0))
    assert apothem == pytest.approx(10, abs=1e-9)


def test_sided_polygons_need_hardly_more_vertices(glyphs: tuple) -> None:
    for glyph in glyphs[::11]:
        for shape in glyph.regions:
            near, out = (len(flatten_contour(shape.outer, 0.1, side)) for side in (Side.NEAR, Side.OUTSIDE))
            assert out <= 1.1 * near + 4 * len(shape.outer.segments), glyph.name


def test_letters_are_contained_with_a_twentieth_to_spare(glyphs: tuple) -> None:
    for glyph in glyphs[::7]:
        for shape in glyph.regions:
            outline = flatten_region(shape, 0.05, Side.OUTSIDE)
            polygon = shapely.Polygon(outline.outer, outline.holes)
            assert polygon.is_valid
            spots = shapely.points(np.vstack([sampled(c, 40) for c in (shape.outer, *shape.holes)]))
            assert shapely.distance(spots, polygon).max() <= ROUNDING, glyph.name
            assert shapely.distance(spots, polygon.boundary).max() <= 0.05 + ROUNDING, glyph.name


def test_a_slit_narrower_than_the_tolerance_still_gives_a_valid_outline() -> None:
    bulging = closed(
        [
            Line((0, 0), (20, 0)), Line((20, 0), (20, 10)), Line((20, 10), (10.01, 10)),
            Arc((10.01, 10), (10.01, 2), -0.2), Line((10.01, 2), (10, 2)), Arc((10, 2), (10, 10), -0.2),
            Line((10, 10), (0, 10)), Line((0, 10), (0, 0)),
        ]
    )  # fmt: skip
    for side in Side:
        outline = flatten_region(region(bulging), 2.0, side)
        assert shapely.Polygon(outline.outer, outline.holes).is_valid


def test_a_thin_lens_gets_a_finer_outline_and_a_hair_none() -> None:
    def lens(bulge: float) -> Region:
        return region(closed([Arc((0, 0), (10, 0), bulge), Arc((10, 0), (0, 0), bulge)]))

    outline = flatten_region(lens(0.01), 1.0)
    assert shapely.Polygon(outline.outer).area > 0
    with pytest.raises(InvalidOutline, match="too thin"):
        flatten_region(lens(1e-9), 1.0)


def test_parts_hanging_together_by_a_point_stay_one_outline() -> None:
    knotted = Region(polygon([(0, 0), (10, 0), (5, 5), (10, 10), (0, 10), (5, 5)]))
    outline = flatten_region(knotted, 0.1, Side.OUTSIDE)
    whole = shapely.Polygon(outline.outer, outline.holes)
    assert whole.is_valid
    assert whole.contains(shapely.Point(5, 1))
    assert whole.contains(shapely.Point(5, 9))
    assert whole.area == pytest.approx(50, abs=3)


def test_lines_are_left_alone() -> None:
    for side in Side:
        assert flatten_contour(rectangle(3, 2), 0.1, side).tolist() == [[0, 0], [3, 0], [3, 2], [0, 2]]


@pytest.mark.parametrize("tolerance", [0, -1, math.nan, math.inf])
def test_tolerances_that_are_none_are_refused(tolerance: float) -> None:
    with pytest.raises(ValueError, match="more than 0"):
        flatten_contour(rectangle(1, 1), tolerance)
