"""Contours as Qt paths, placements as Qt transforms."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPointF
from PySide6.QtGui import QPainterPath

from app.window.paths import PathCache, add_contour, placement_transform, region_path, spot_inside
from geometry.arcs import arc_centre, point_at
from geometry.build import closed, open_chain, polygon, rectangle, region
from geometry.curve import Arc, Cubic, Line
from geometry.measure import region_area, region_bounds
from geometry.transform import mirror_x, rotation, translation
from nesting.plan import Placement
from tests.app.window.stand_ins import ELL, RING

coordinates = st.floats(-500, 500)


def shoelace(path: QPainterPath) -> float:
    """Area of a path by Qt's own flattening at 100 times the size."""
    from PySide6.QtGui import QTransform

    total = 0.0
    for ring in path.toSubpathPolygons(QTransform.fromScale(100, 100)):
        points = [(point.x() / 100, point.y() / 100) for point in ring]
        total += sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairwise(points)) / 2
    return total


def test_ring_has_its_textbook_area_and_bounds():
    path = region_path(RING)
    # pi (R² - r²) with R = 200, r = 100
    assert shoelace(path) == pytest.approx(math.pi * (200**2 - 100**2), rel=3e-5)
    bounds = path.boundingRect()
    assert (bounds.left(), bounds.top(), bounds.width(), bounds.height()) == pytest.approx((0, 0, 400, 400), abs=0.01)


def test_counter_is_a_hole_and_material_is_not():
    path = region_path(RING)
    assert not path.contains(QPointF(200, 200))
    assert path.contains(QPointF(50, 200))


@pytest.mark.parametrize("bulge", [1.0, -1.0, 0.5, -0.2, 2.4])
def test_arc_bends_to_the_side_its_bulge_says(bulge):
    arc = Arc((10.0, 20.0), (60.0, -5.0), bulge)
    path = QPainterPath()
    add_contour(path, closed([arc, Line((60.0, -5.0), (10.0, 20.0))]))
    middle = point_at(arc, 0.5)
    centre = arc_centre(arc)
    outward = (middle[0] - centre[0], middle[1] - centre[1])
    radius = math.hypot(*outward)

    def on_ray(share: float) -> QPointF:
        return QPointF(centre[0] + outward[0] * share, centre[1] + outward[1] * share)

    assert path.contains(on_ray(1.0 - 0.5 / radius))
    assert not path.contains(on_ray(1.0 + 0.5 / radius))


@pytest.mark.parametrize("bulge", [1e-9, 1e-6, -1e-4, 0.01, 0.3, 1.0, -3.0])
def test_flat_and_round_arcs_alike_start_end_and_bow_where_they_should(bulge):
    """Nearly straight arcs once came out with spikes at their ends, from Qt placing them by angles."""
    path = QPainterPath()
    add_contour(path, open_chain([Arc((100.0, 50.0), (220.0, 10.0), bulge)]))
    length = math.hypot(120, 40)
    drawn = [path.pointAtPercent(share / 20) for share in range(21)]
    assert (drawn[0].x(), drawn[0].y()) == (100.0, 50.0)
    assert (drawn[-1].x(), drawn[-1].y()) == pytest.approx((220.0, 10.0), abs=1e-12)
    # Sagitta of a bulge (the definition in the DXF reference): half the chord times |bulge|, to the right when positive
    aside = [((point.x() - 100) * -40 - (point.y() - 50) * 120) / length for point in drawn]
    bow = max(aside, key=abs)
    assert bow == pytest.approx(length / 2 * bulge, rel=1e-4, abs=1e-9)
    radius = length * (1 + bulge**2) / (4 * abs(bulge))
    if radius < 1e5:
        centre = arc_centre(Arc((100.0, 50.0), (220.0, 10.0), bulge))
        distances = [math.hypot(point.x() - centre[0], point.y() - centre[1]) for point in drawn]
        assert distances == pytest.approx([radius] * len(drawn), rel=1e-5)


def test_cubic_stays_a_cubic():
    path = QPainterPath()
    add_contour(path, closed([Cubic((0, 0), (0, 10), (10, 10), (10, 0)), Line((10, 0), (0, 0))]))
    # Area under this Bézier by hand: 3/20 (…) = 60 mm² (Green's theorem on the control points)
    assert abs(shoelace(path)) == pytest.approx(60.0, rel=1e-3)
    kinds = [path.elementAt(index).type for index in range(path.elementCount())]
    assert QPainterPath.ElementType.CurveToElement in kinds


@given(coordinates, coordinates, st.floats(0, 359.9), st.booleans(), coordinates, coordinates)
def test_placement_goes_where_the_geometry_says(x, y, turn, mirrored, px, py):
    placement = Placement("a", 0, x, y, turn, mirrored)
    ours = rotation(turn).then(translation(x, y))
    ours = mirror_x().then(ours) if mirrored else ours
    drawn = placement_transform(placement).map(QPointF(px, py))
    assert (drawn.x(), drawn.y()) == pytest.approx(ours.apply((px, py)), abs=1e-9 * 1e3)


def test_label_spot_lies_in_the_material_with_its_radius():
    spot = spot_inside(region_path(RING))
    distance = math.hypot(spot.middle.x() - 200, spot.middle.y() - 200)
    assert distance == pytest.approx(150, abs=5)  # midway between the edges
    assert spot.radius == pytest.approx(50, abs=5)
    elbow = spot_inside(region_path(ELL))
    assert region_path(ELL).contains(elbow.middle)
    assert elbow.radius > 45  # the corner has more room than either 90 mm limb


def test_path_is_made_once_for_a_region():
    cache = PathCache()
    shape = region(rectangle(10, 10), [])
    assert cache.of(shape) is cache.of(shape)
    assert cache.of(region(rectangle(10, 10), [])) is not cache.of(shape)


def test_stand_ins_are_the_shapes_they_claim():
    assert region_area(ELL) == 240 * 90 + 90 * 310
    assert region_bounds(RING).width == pytest.approx(400)
    assert region(polygon([(0, 0), (1, 0), (0, 1)]), []).holes == ()
