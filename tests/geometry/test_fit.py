"""Arc fitting, judged by dense samples of the source."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from geometry.arcs import arc_centre, arc_radius, circle, ellipse_arc, tangent_at
from geometry.build import closed, open_chain, polygon, rectangle, region
from geometry.contour import Contour, Region
from geometry.curve import Arc, Cubic, Line, Point
from geometry.fit import fit_arcs, fit_region, fit_regions
from geometry.flatten import flatten_contour
from geometry.measure import contour_area, contour_length
from geometry.refit import refit_ring
from tests.geometry.curved import sampled, star_contours
from tests.geometry.test_flatten import CURVES

KAPPA = 0.5522847498  # 4/3 (√2 - 1), the customary handle of a quarter circle


def circle_of_cubics(radius: float, handle: float = KAPPA, at: Point = (0.0, 0.0)) -> Contour:
    cubics = []
    for i in range(4):
        (c, s), (c1, s1) = ((round(math.cos(a)), round(math.sin(a))) for a in (math.pi / 2 * i, math.pi / 2 * (i + 1)))
        corners = [(c, s), (c - handle * s, s + handle * c), (c1 + handle * s1, s1 - handle * c1), (c1, s1)]
        cubics.append(Cubic(*((at[0] + radius * x, at[1] + radius * y) for x, y in corners)))
    return closed(cubics)


def hausdorff(one: Contour, two: Contour, chord: float) -> float:
    """Largest distance between two contours either way, to within the chord error."""
    lines = []
    for contour in (one, two):
        points = flatten_contour(contour, chord)
        lines.append(shapely.LineString(np.vstack([points, points[:1]]) if contour.is_closed else points))
    shapely.prepare(lines)
    spots = [shapely.points(shapely.get_coordinates(shapely.segmentize(line, line.length / 800))) for line in lines]
    return float(max(shapely.distance(spots[0], lines[1]).max(), shapely.distance(spots[1], lines[0]).max()))


def joints(contour: Contour) -> list[tuple[Point, float]]:
    """Each joint with the angle turned there, radians."""
    chain = [*contour.segments, contour.segments[0]] if contour.is_closed else [*contour.segments]
    result = []
    for one, two in pairwise(chain):
        (ax, ay), (bx, by) = tangent_at(one, 1.0), tangent_at(two, 0.0)
        result.append((two.start, abs(math.atan2(ax * by - ay * bx, ax * bx + ay * by))))
    return result


@pytest.mark.parametrize("tolerance", [0.5, 0.0508, 0.005])
@pytest.mark.parametrize("name", sorted(CURVES.keys() - {"quarter"}))  # that one is meant as an arc; see below
def test_curves_of_every_kind_stay_within_tolerance(name: str, tolerance: float) -> None:
    curve = CURVES[name]
    source = open_chain([curve])
    fitted = fit_arcs(source, tolerance)
    assert all(isinstance(segment, Line | Arc) for segment in fitted.segments)
    assert (fitted.segments[0].start, fitted.segments[-1].end) == (curve.start, curve.end)
    assert hausdorff(source, fitted, tolerance / 100) <= tolerance * 1.02
    assert contour_length(fitted) == pytest.approx(contour_length(source), rel=0.01)
    for one, two in pairwise(fitted.segments):
        assert one.end == two.start


@given(star_contours(), st.sampled_from([0.5, 0.0508, 0.01]))
def test_random_contours_stay_within_tolerance_and_tangent(source: Contour, tolerance: float) -> None:
    fitted = fit_arcs(source, tolerance)
    assert fitted.is_closed
    assert hausdorff(source, fitted, tolerance / 100) <= tolerance * 1.02
    corners = {segment.start for segment in source.segments}
    for place, turn in joints(fitted):
        if place not in corners:
            assert turn <= 2e-3 or turn > 3.1, place  # a half turn is a cusp of the source
    sharp = [place for place, turn in joints(source) if turn > 0.01]
    assert set(sharp) <= {segment.start for segment in fitted.segments}


def test_letters_take_far_fewer_arcs_than_chords(glyphs: tuple) -> None:
    """Chords for the same tolerance; the trade notes count 902 arcs against 2651 chords for eleven letters."""
    arcs = chords = 0
    for glyph in glyphs[::5]:
        for contour in glyph.contours:
            fitted = fit_arcs(contour, 0.0508)
            assert hausdorff(contour, fitted, 1e-3) <= 0.0508 + 1e-3, glyph.name
            arcs += len(fitted.segments)
            chords += len(flatten_contour(contour, 0.0508))
    assert arcs < 0.4 * chords


@pytest.mark.parametrize("radius", [3.0, 100.0, 600.0])
@pytest.mark.parametrize("handle", [KAPPA, 0.5523, 0.551915])
def test_four_cubics_meant_as_a_circle_are_one(radius: float, handle: float) -> None:
    fitted = fit_arcs(circle_of_cubics(radius, handle, at=(10, -7)))
    assert len(fitted.segments) == 2
    for half in fitted.segments:
        assert isinstance(half, Arc)
        assert abs(half.bulge) == pytest.approx(1, abs=1e-9)
        assert arc_centre(half) == pytest.approx((10, -7), abs=1e-6 * radius)
        assert arc_radius(half) == pytest.approx(radius, rel=1e-6)


def test_an_ellipse_is_not_a_circle() -> None:
    nearly = closed(ellipse_arc((0, 0), 100, 99, 0, 0, 360))
    fitted = fit_arcs(nearly, 0.05)
    assert len(fitted.segments) >= 8
    assert hausdorff(nearly, fitted, 1e-3) <= 0.051


def test_a_rounded_rectangle_of_cubics_gets_its_corners_back() -> None:
    def corner(x: float, y: float, c: float, s: float) -> Cubic:
        k = 1 - KAPPA
        p = [(x + 5 * c, y + 5 * s), (x + 5 * (c - KAPPA * s), y + 5 * (s + KAPPA * c))]
        q = [(x + 5 * (-s + KAPPA * c), y + 5 * (c + KAPPA * s)), (x - 5 * s, y + 5 * c)]
        assert k > 0
        return Cubic(*p, *q)

    arcs = [corner(40, 20, 1, 0), corner(0, 20, 0, 1), corner(0, 0, -1, 0), corner(40, 0, 0, -1)]
    segments = []
    for arc, following in zip(arcs, arcs[1:] + arcs[:1], strict=True):
        segments += [arc, Line(arc.end, following.start)]
    fitted = fit_arcs(closed(segments))
    assert [type(segment) for segment in fitted.segments].count(Arc) == 4
    assert len(fitted.segments) == 8
    assert {round(arc_radius(s), 6) for s in fitted.segments if isinstance(s, Arc)} == {5.0}
    assert contour_area(fitted) == pytest.approx(50 * 30 - (4 - math.pi) * 25, rel=1e-9)


def test_lines_and_arcs_are_kept_and_neighbours_joined() -> None:
    assert fit_arcs(rectangle(10, 5)) == rectangle(10, 5)
    assert fit_arcs(circle((1, 2), 3)) == circle((1, 2), 3)
    stepped = polygon([(0, 0), (3, 0), (7, 0), (10, 0), (10, 5), (0, 5), (0, 2)])
    assert len(fit_arcs(stepped).segments) == 4
    quarter = math.tan(math.pi / 16)
    ring = [(5 * math.cos(math.tau * i / 8), 5 * math.sin(math.tau * i / 8)) for i in range(8)]
    octet = closed(Arc(p, q, quarter) for p, q in zip(ring, ring[1:] + ring[:1], strict=True))
    assert len(fit_arcs(octet).segments) == 2


def test_straight_cubics_are_lines_and_spikes_survive() -> None:
    assert fit_arcs(open_chain([Cubic((0, 0), (1, 1), (2, 2), (9, 9))])).segments == (Line((0, 0), (9, 9)),)
    there_and_back = fit_arcs(open_chain([Cubic((0, 0), (40, 0), (40, 0), (0, 0))]))
    assert [s.end for s in there_and_back.segments] == [pytest.approx((30, 0)), (0, 0)]


def test_a_dot_amid_the_contour_does_no_harm() -> None:
    dotted = Contour(
        (*rectangle(4, 4).segments[:2], Cubic((4, 4), (4, 4), (4, 4), (4, 4)), *rectangle(4, 4).segments[2:])
    )
    assert fit_arcs(dotted) == rectangle(4, 4)


def test_regions_are_fitted_whole(glyphs: tuple) -> None:
    shape = next(s for glyph in glyphs for s in glyph.regions if len(s.holes) == 2)
    fitted = fit_region(shape, 0.02)
    assert contour_area(fitted.outer) == pytest.approx(contour_area(shape.outer), rel=1e-4)
    assert len(fitted.holes) == 2
    assert fitted.outer == fit_arcs(shape.outer, 0.02)


def test_many_regions_at_once_are_as_one_by_one(glyphs: tuple, monkeypatch: pytest.MonkeyPatch) -> None:
    shapes = [shape for glyph in glyphs[::9] for shape in glyph.regions] + [region(circle((3, 4), 5))]
    monkeypatch.setattr("geometry.fit._BATCH", 37)  # so that a batch ends within a region
    assert fit_regions(shapes, 0.05) == [
        Region(fit_arcs(shape.outer, 0.05), tuple(fit_arcs(hole, 0.05) for hole in shape.holes)) for shape in shapes
    ]
    assert fit_regions([]) == []


@pytest.mark.parametrize("tolerance", [0, -1, math.nan])
def test_tolerances_that_are_none_are_refused(tolerance: float) -> None:
    with pytest.raises(ValueError, match="more than 0"):
        fit_arcs(rectangle(1, 1), tolerance)


def test_a_polygon_of_many_sides_gets_its_arcs_back() -> None:
    source = closed([Line((0, 0), (60, 0)), Arc((60, 0), (60, 30), 1), Line((60, 30), (0, 30)), Line((0, 30), (0, 0))])
    ring = flatten_contour(source, 0.002)
    fitted = refit_ring(ring, 0.01)
    assert len(ring) > 60
    assert len(fitted.segments) <= 6
    assert {(0, 0), (0, 30)} <= {segment.start for segment in fitted.segments}
    assert hausdorff(source, fitted, 1e-4) <= 0.0125


@given(star_contours())
def test_polygons_refit_within_tolerance(source: Contour) -> None:
    ring = flatten_contour(source, 0.01)
    fitted = refit_ring(ring, 0.05)
    assert len(fitted.segments) <= len(ring)
    line = shapely.LinearRing(ring)
    assert shapely.distance(shapely.points(sampled(fitted, 60)), line).max() <= 0.05 + 0.011


def test_region_of_one_contour_has_no_holes() -> None:
    assert fit_region(region(rectangle(2, 2))).holes == ()
