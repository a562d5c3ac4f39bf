"""Circular arcs written as cubics become arcs; curves that only look round do not."""

from __future__ import annotations

import math

import pytest

from app.artwork.drawing import Shape, Source
from app.artwork.joining import united
from app.artwork.notes import Code, Notes
from app.artwork.roundness import with_arcs
from geometry.arcs import arc_centre, arc_radius, arc_sweep, circle, ellipse_arc
from geometry.contour import Contour, FillRule
from geometry.curve import Arc, Cubic, Line
from geometry.measure import region_area
from geometry.regions import regions_from_contours


def quarter(kappa: float, radius: float = 100.0) -> Cubic:
    handle = kappa * radius
    return Cubic((radius, 0), (radius, handle), (handle, radius), (0, radius))


@pytest.mark.parametrize("kappa", [0.5523, 0.552285, 0.5519150244935106, 0.55228474983, 0.5522])
def test_quarters_as_programs_write_them(kappa: float) -> None:
    # 4/3 (sqrt 2 - 1) = 0.552285 touches the circle in the middle; 0.551915 is the value of least error.
    contour, count = with_arcs(Contour((quarter(kappa), Line((0, 100), (100, 0)))))
    assert count == 1
    arc = contour.segments[0]
    assert isinstance(arc, Arc)
    assert arc_centre(arc) == pytest.approx((0, 0), abs=1e-9)
    assert (arc_radius(arc), arc_sweep(arc)) == pytest.approx((100, 90))


@pytest.mark.parametrize("sweep", [7.0, 30.0, -60.0, 90.0, -80.0])
def test_other_sweeps_and_directions(sweep: float) -> None:
    (cubic,) = ellipse_arc((20, -5), 40, 40, 0, 33, sweep, tolerance=1.0)
    contour, _ = with_arcs(Contour((cubic,), is_closed=False))
    (arc,) = contour.segments
    assert isinstance(arc, Arc)
    assert arc_sweep(arc) == pytest.approx(sweep, abs=1e-6)
    assert (arc.start, arc.end) == (cubic.start, cubic.end)


@pytest.mark.parametrize(
    "cubic",
    [
        quarter(0.56),
        quarter(0.54),
        Cubic((100, 0), (100, 55.23), (55.23, 101), (0, 101)),
        Cubic((0, 0), (0, 0), (100, 100), (100, 100)),
        Cubic((0, 0), (10, 0), (20, 0), (30, 0)),
        Cubic((0, 0), (30, 20), (-10, 20), (20, 0)),
        ellipse_arc((0, 0), 40, 39.5, 0, 0, 90, tolerance=1.0)[0],
    ],
)
def test_what_is_no_arc_stays_a_curve(cubic: Cubic) -> None:
    contour = Contour((cubic,), is_closed=False)
    assert with_arcs(contour) == (contour, 0)


def test_overlapping_shapes_are_united_on_request_and_stay_round() -> None:
    def shape(*contours: Contour) -> Shape:
        return Shape(contours, FillRule.EVEN_ODD, Source("a.svg"))

    notes = Notes("a.svg")
    ring = shape(circle((0, 0), 10), circle((0, 0), 4))
    out = united((ring, shape(circle((12, 0), 5)), shape(circle((100, 0), 5))), notes)
    assert len(out) == 2
    assert [finding.code for finding in notes.findings()] == [Code.SHAPES_UNITED]
    regions, _ = regions_from_contours(out[0].contours, out[0].rule)
    (region,) = regions
    assert all(isinstance(segment, Arc) for segment in region.outer.segments)

    def lens(r: float, s: float, d: float) -> float:
        # Area common to two circles, by the chord's two segments (from memory, plane geometry).
        a = r * r * math.acos((d * d + r * r - s * s) / (2 * d * r))
        b = s * s * math.acos((d * d + s * s - r * r) / (2 * d * s))
        root = math.sqrt((-d + r + s) * (d + r - s) * (d - r + s) * (d + r + s))
        return a + b - root / 2

    assert region_area(region) == pytest.approx(math.pi * (100 - 16 + 25) - lens(10, 5, 12), rel=1e-9)
