"""Lines and arcs in bulk against the same questions asked of single segments."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from geometry.arcs import circle, point_at, tangent_at
from geometry.contour import Contour
from geometry.curve import Arc, Cubic, Line
from geometry.linearcs import LineArcs
from geometry.measure import contour_area, contour_bounds, segment_length

places = st.tuples(st.floats(-50, 50), st.floats(-50, 50))


@st.composite
def lines_and_arcs(draw: st.DrawFn) -> Line | Arc:
    start, end = draw(places), draw(places.filter(lambda p: True))
    if math.dist(start, end) < 0.5:
        end = (start[0] + 1.0, start[1] + 2.0)
    if draw(st.booleans()):
        return Line(start, end)
    return Arc(start, end, draw(st.floats(0.01, 3)) * draw(st.sampled_from([-1, 1])))


def dense(segment: Line | Arc, count: int = 3000) -> np.ndarray:
    return np.array([point_at(segment, i / count) for i in range(count + 1)])


@given(st.lists(lines_and_arcs(), min_size=1, max_size=4))
def test_measures_agree_with_the_single_segments(segments: list[Line | Arc]) -> None:
    bulk = LineArcs.of(segments)
    assert bulk.segments() == segments
    assert bulk.length == pytest.approx([segment_length(s) for s in segments], rel=1e-12)
    for i, segment in enumerate(segments):
        bounds = contour_bounds(Contour((segment,), is_closed=False))
        assert bulk.boxes[i] == pytest.approx([bounds.min_x, bounds.min_y, bounds.max_x, bounds.max_y], abs=1e-9)
        assert tuple(bulk.middle()[i]) == pytest.approx(point_at(segment, 0.5), abs=1e-9)
        assert tuple(bulk.tangents[0][i]) == pytest.approx(tangent_at(segment, 0.0), abs=1e-12)
        assert tuple(bulk.tangents[1][i]) == pytest.approx(tangent_at(segment, 1.0), abs=1e-12)


@given(lines_and_arcs(), places)
def test_distances_are_those_to_the_dense_curve(segment: Line | Arc, place: tuple[float, float]) -> None:
    bulk = LineArcs.of([segment])
    distance = bulk.distance(np.array([place]), np.array([0]))[0]
    curve = dense(segment)
    step = segment_length(segment) / (len(curve) - 1)
    assert distance == pytest.approx(np.hypot(*(curve - place).T).min(), abs=step)


@given(lines_and_arcs(), st.floats(0, 1))
def test_parameters_come_back(segment: Line | Arc, t: float) -> None:
    bulk = LineArcs.of([segment])
    assert bulk.parameter(np.array([point_at(segment, t)]), np.array([0]))[0] == pytest.approx(t, abs=1e-9)


@given(lines_and_arcs(), lines_and_arcs())
def test_crossings_are_those_of_dense_polylines(one: Line | Arc, two: Line | Arc) -> None:
    first, second, points = LineArcs.of([one, two]).crossings()
    assert all(first == 0)
    assert all(second == 1)
    a, b = shapely.LineString(dense(one)), shapely.LineString(dense(two))
    # Every point found lies on both curves ...
    for point in points:
        assert max(a.distance(shapely.Point(point)), b.distance(shapely.Point(point))) <= 1e-4
    # ... and every clear crossing of the polylines is found.
    for crossing in shapely.get_parts(shapely.intersection(a, b)):
        if crossing.geom_type == "Point" and len(points):
            assert np.hypot(*(points - (crossing.x, crossing.y)).T).min() <= 0.5
    if not len(points):
        assert shapely.intersection(a, b).is_empty or a.distance(b) <= 1e-4


def test_areas_of_closed_chains() -> None:
    for contour in (
        circle((3, 4), 5),
        Contour((Arc((0, 0), (4, 0), 1e-6), Line((4, 0), (2, 3)), Line((2, 3), (0, 0)))),
    ):
        assert LineArcs.of(contour.segments).area_under().sum() == pytest.approx(contour_area(contour), rel=1e-12)


def test_cubics_are_not_taken() -> None:
    with pytest.raises(TypeError, match="Cubic"):
        LineArcs.of([Cubic((0, 0), (1, 0), (1, 1), (0, 1))])


def test_nearby_finds_by_boxes() -> None:
    bulk = LineArcs.of([Line((0, 0), (10, 0)), Line((0, 5), (10, 5)), Arc((0, 20), (10, 20), 1)])
    point, which = bulk.near(np.array([(5.0, 2.0)]), 2.5)
    assert set(zip(point.tolist(), which.tolist(), strict=True)) == {(0, 0)}
