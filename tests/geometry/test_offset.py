"""Offsets against closed formulas, against distances to the source, and against shapely's buffer."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from geometry import offset
from geometry.arcs import arc_radius, circle
from geometry.build import closed, polygon, rectangle, region
from geometry.contour import Region
from geometry.curve import Arc, Cubic, Line
from geometry.fit import fit_region
from geometry.flatten import flatten_contour
from geometry.measure import region_area, region_bounds, region_perimeter
from geometry.offset import Join, offset_region
from tests.geometry.curved import star_regions

DUMBBELL = region(
    polygon(
        [(0, 0), (10, 0), (10, 4), (20, 4), (20, 0), (30, 0), (30, 10), (20, 10), (20, 6), (10, 6), (10, 10), (0, 10)]
    )
)
SLOT = region(closed([Line((0, 0), (10, 0)), Arc((10, 0), (10, 4), 1), Line((10, 4), (0, 4)), Arc((0, 4), (0, 0), 1)]))


def fine(shape: Region, chord: float = 1e-3) -> shapely.Polygon:
    filled = shapely.Polygon(
        flatten_contour(shape.outer, chord), [flatten_contour(hole, chord) for hole in shape.holes]
    )
    assert filled.is_valid, shapely.is_valid_reason(filled)
    return filled


def union(shapes: tuple[Region, ...]) -> shapely.Geometry:
    return shapely.union_all([fine(shape) for shape in shapes])


def signed_distances(of: shapely.Geometry, source: shapely.Geometry, step: float) -> np.ndarray:
    """Distances of points along the boundary of one shape from the boundary of another, negative inside it."""
    spots = shapely.points(shapely.get_coordinates(shapely.segmentize(of.boundary, step)))
    edge = source.boundary
    shapely.prepare([edge, source])
    return shapely.distance(spots, edge) * np.where(shapely.contains(source, spots), -1.0, 1.0)


def apart(one: shapely.Geometry, two: shapely.Geometry) -> float:
    """Hausdorff distance of two boundaries, at their vertices."""
    edges = [one.boundary, two.boundary]
    shapely.prepare(edges)
    spots = [shapely.points(shapely.get_coordinates(edge)) for edge in edges]
    return float(max(shapely.distance(spots[0], edges[1]).max(), shapely.distance(spots[1], edges[0]).max()))


def test_a_square_grown_by_one() -> None:
    """Trade check V37 (Steiner formula): area 195.1416, perimeter 54.2832."""
    (grown,) = offset_region(region(rectangle(12, 12)), 1)
    assert region_area(grown) == pytest.approx(195.1416, abs=1e-4)
    assert region_perimeter(grown) == pytest.approx(54.2832, abs=1e-4)
    assert [type(segment) for segment in grown.outer.segments].count(Arc) == 4
    assert len(grown.outer.segments) == 8


def test_tool_paths_round_a_square() -> None:
    """Trade checks V13 and V14: 48.7854 with round corners, 49.0 with mitred ones, for a 1/4 cutter round 12 x 12."""
    square = region(rectangle(12, 12))
    assert region_perimeter(offset_region(square, 0.125)[0]) == pytest.approx(48.7854, abs=1e-4)
    (mitred,) = offset_region(square, 0.125, join=Join.MITRE)
    assert region_perimeter(mitred) == pytest.approx(49.0)
    assert len(mitred.outer.segments) == 4


@pytest.mark.parametrize("distance", [0.5, 3.0, 40.0])
@pytest.mark.parametrize(
    "shape",
    [
        region(circle((3, 4), 7)),
        region(polygon([(0, 0), (9, 1), (4, 8)])),
        SLOT,
        region(
            closed(
                [Line((0, -12), (8, -12)), Arc((8, -12), (8, 12), 1), Line((8, 12), (0, 12)), Line((0, 12), (0, -12))]
            )
        ),
    ],
    ids=["circle", "triangle", "stadium", "D"],
)  # fmt: skip
def test_convex_shapes_follow_steiner(shape: Region, distance: float) -> None:
    """Steiner formula: A + P d + π d² and P + 2 π d."""
    (grown,) = offset_region(shape, distance)
    area, perimeter = region_area(shape), region_perimeter(shape)
    assert region_area(grown) == pytest.approx(area + perimeter * distance + math.pi * distance**2, rel=1e-9)
    assert region_perimeter(grown) == pytest.approx(perimeter + math.tau * distance, rel=1e-9)


def test_a_ring_cut_inwards_from_a_smooth_edge() -> None:
    """Trade notes, section 7: a ring of width f inside a smooth outline of perimeter P has area P f - π f²."""
    (inner,) = offset_region(SLOT, -1.25)
    ring = region_area(SLOT) - region_area(inner)
    assert ring == pytest.approx(region_perimeter(SLOT) * 1.25 - math.pi * 1.25**2, rel=1e-9)
    (drop,) = offset_region(region(circle((0, 0), 12)), -1.25)
    assert math.pi * 144 - region_area(drop) == pytest.approx(89.339, abs=1e-3)  # V18


def test_arcs_stay_arcs_about_the_same_centres() -> None:
    (inner,) = offset_region(SLOT, -0.5)
    assert sorted(type(s).__name__ for s in inner.outer.segments) == ["Arc", "Arc", "Line", "Line"]
    assert [arc_radius(s) for s in inner.outer.segments if isinstance(s, Arc)] == pytest.approx([1.5, 1.5])


def test_holes_shrink_when_the_region_grows() -> None:
    ring = region(circle((0, 0), 12), [circle((0, 0), 6)])
    (grown,) = offset_region(ring, 1)
    assert region_area(grown) == pytest.approx(math.pi * (169 - 25))
    (closed_up,) = offset_region(ring, 6.5)
    assert closed_up.holes == ()
    (thin,) = offset_region(ring, -2.5)
    assert region_area(thin) == pytest.approx(math.pi * (9.5**2 - 8.5**2))
    assert offset_region(ring, -3) == ()
    assert offset_region(ring, -50) == ()


def test_shrinking_splits_a_dumbbell_and_then_leaves_nothing() -> None:
    whole = offset_region(DUMBBELL, -0.5)
    assert len(whole) == 1
    halves = offset_region(DUMBBELL, -1.5)
    assert [region_area(half) for half in halves] == pytest.approx([region_area(halves[0])] * 2)
    left, right = sorted((region_bounds(half) for half in halves), key=lambda bounds: bounds.min_x)
    assert (left.min_x, left.min_y, left.max_y) == (1.5, 1.5, 8.5)
    assert left.max_x == pytest.approx(30 - right.min_x)
    # The inside of the neck is nearer than 1.5 to its corners at (10, 4) and (10, 6) until x = 10 - √(1.5² - 1²).
    assert left.max_x == pytest.approx(10 - math.sqrt(1.25))
    assert offset_region(DUMBBELL, -5.0) == ()


def test_a_neck_exactly_as_wide_as_twice_the_distance_is_gone() -> None:
    halves = offset_region(DUMBBELL, -1.0)
    assert len(halves) == 2
    for half in halves:
        fine(half)
    # Each half is 8 x 8 less the two spandrels the quarter arcs about the neck's corners leave: 2 (1 - π/4).
    assert region_area(halves[0]) == pytest.approx(64 + 2 * (1 - math.pi / 4), abs=1e-4)


def test_growing_closes_a_notch_and_bridges_a_gap() -> None:
    notched = region(polygon([(0, 0), (20, 0), (20, 20), (11, 20), (11, 5), (9, 5), (9, 20), (0, 20)]))
    (grown,) = offset_region(notched, 1.0)
    # The slot of 2 by 15 is filled, and the outside is that of the square; between the two rims' arcs stays a nick.
    nick = 2 * (1 - math.pi / 4)
    assert region_area(grown) == pytest.approx(400 + 80 + math.pi - nick, abs=1e-4)


def test_nothing_asked_gives_the_region_in_arcs(glyphs: tuple) -> None:
    shape = glyphs[0].regions[0]
    assert offset_region(shape, 0) == (fit_region(shape, 0.005),)


@pytest.mark.parametrize("distance", [math.nan, math.inf])
def test_distances_that_are_no_numbers_are_refused(distance: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        offset_region(region(rectangle(1, 1)), distance)


def test_mitres_are_sharp_up_to_four_distances_and_round_beyond() -> None:
    blunt, needle = polygon([(0, 0), (40, 0), (0, 30)]), polygon([(0, 0), (100, 0), (100, 10)])
    (sharp,) = offset_region(region(blunt), 1, join=Join.MITRE)
    assert all(isinstance(segment, Line) for segment in sharp.outer.segments)
    assert len(sharp.outer.segments) == 3
    # A triangle grown with sharp corners is the same triangle with its incircle radius 10 grown to 11.
    assert region_area(sharp) == pytest.approx(600 * 1.1**2)
    (rounded,) = offset_region(region(needle), 1, join=Join.MITRE)
    assert [type(segment) for segment in rounded.outer.segments].count(Arc) == 1
    (inside,) = offset_region(DUMBBELL, -0.5, join=Join.MITRE)
    assert all(isinstance(segment, Line) for segment in inside.outer.segments)
    assert region_area(inside) == pytest.approx(2 * 81 + 11 * 1)


@pytest.mark.parametrize(("first", "distance"), [*enumerate([-10.0, -3.175, -1.016, 1.5875, 3.175, 10.0])])
def test_letters_at_24_inches(glyphs: tuple, first: int, distance: float) -> None:
    """Against shapely's buffer, and every point of the new edge against its distance from the true curve.

    Every letter is seen at one or two of the six distances.
    """
    checked = 0
    for glyph in glyphs[first % 4 :: 4]:
        for shape in glyph.regions:
            fitted = fit_region(shape, 0.005)  # the same curve the offset starts from
            source = fine(fitted, 2e-3)
            buffered = shapely.buffer(source, distance, quad_segs=32)
            results = offset_region(shape, distance)
            ours = shapely.union_all([fine(result, 2e-3) for result in results])
            assert len(results) == shapely.get_num_geometries(buffered), glyph.name
            assert ours.area == pytest.approx(buffered.area, rel=5e-4), glyph.name
            assert apart(ours, buffered) <= 0.02, glyph.name
            assert np.abs(signed_distances(ours, source, 5.0) - distance).max() <= 5e-3, glyph.name
            assert np.abs(signed_distances(ours, fine(shape, 2e-3), 20.0) - distance).max() <= 0.01, glyph.name
            checked += 1
    assert checked >= 22


@given(star_regions(), st.floats(0.2, 15), st.booleans())
def test_the_new_edge_is_at_the_distance(shape: Region, distance: float, inwards: bool) -> None:
    distance = -distance if inwards else distance
    source = fine(fit_region(shape, 0.005), 1e-4)
    results = offset_region(shape, distance)
    if results:
        gaps = signed_distances(union(results), source, 0.5)
        assert np.abs(gaps - distance).max() <= 4e-3
    ours, reference = union(results), shapely.buffer(source, distance, quad_segs=64)
    for part in shapely.get_parts(shapely.symmetric_difference(ours, reference)):
        if part.area > 0.005 * part.length:
            # The buffer of very fine polygons is at times off by several percent of the distance: measure who is right.
            spot = shapely.point_on_surface(part)
            gap = shapely.distance(spot, source.boundary) * (-1 if source.contains(spot) else 1)
            assert ours.contains(spot) == (gap <= distance)


@given(star_regions(), st.floats(0.2, 10))
def test_out_then_in_holds_the_original(shape: Region, distance: float) -> None:
    (grown,) = offset_region(shape, distance)
    back = union(offset_region(grown, -distance))
    outside = shapely.difference(fine(shape), back)
    assert outside.is_empty or shapely.distance(shapely.points(shapely.get_coordinates(outside)), back).max() <= 0.02


@given(star_regions(), st.floats(0.2, 10))
def test_in_then_out_is_held_by_the_original(shape: Region, distance: float) -> None:
    source = fine(shape)
    for part in offset_region(shape, -distance):
        for again in offset_region(part, distance):
            outside = shapely.difference(fine(again), source)
            spots = shapely.points(shapely.get_coordinates(outside))
            assert outside.is_empty or shapely.distance(spots, source).max() <= 0.02


@given(
    st.lists(st.tuples(*[st.integers(1, 8)] * 2, *[st.integers(0, 10)] * 2), min_size=1, max_size=5),
    st.sampled_from([-2.0, -1.0, -0.5, 0.5, 1.0, 1.5, 2.0]),
    st.sampled_from(Join),
)  # fmt: skip
def test_shapes_on_a_grid_where_everything_coincides(boxes: list, distance: float, join: Join) -> None:
    """Offsets that just touch, vanish or run over each other: the cases rounding makes hard."""
    merged = shapely.union_all([shapely.box(x, y, x + w, y + h) for w, h, x, y in boxes])
    for part in shapely.get_parts(merged):
        shape = region(polygon(part.exterior.coords), [polygon(hole.coords) for hole in part.interiors])
        if join is Join.ROUND:
            reference = shapely.buffer(part, distance, quad_segs=256)
        else:
            reference = shapely.buffer(part, distance, join_style="mitre", mitre_limit=4.0)
        ours = union(offset_region(shape, distance, join=join))
        assert shapely.area(shapely.symmetric_difference(ours, reference)) <= 2e-3 * (1 + reference.length)


@pytest.mark.parametrize("capital_height", [76.2, 3048.0])
def test_letters_from_3_to_120_inches(glyphs: tuple, capital_height: float) -> None:
    from geometry.transform import scaling, transform_region

    for glyph in glyphs[::6]:
        for original in glyph.regions:
            shape = transform_region(original, scaling(capital_height / 610.0))
            for distance in (-1.016, 3.175):
                buffered = shapely.buffer(fine(fit_region(shape, 0.005), 2e-3), distance, quad_segs=32)
                assert union(offset_region(shape, distance)).area == pytest.approx(buffered.area, rel=5e-4), glyph.name


def test_when_pieces_do_not_close_the_buffer_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(offset, "boundaries", lambda *_args, **_kwargs: None)
    (grown,) = offset_region(region(rectangle(12, 12), [circle((6, 6), 3)]), 1)
    assert region_area(grown) == pytest.approx(144 + 48 + math.pi - math.pi * 4, rel=1e-3)
    assert len(grown.outer.segments) <= 16
    assert len(grown.holes[0].segments) <= 6
    assert offset_region(region(rectangle(12, 12)), -6) == ()


def test_a_lost_hole_does_not_pass(monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison with the polygon's buffer must notice what is missing."""
    true = offset.boundaries
    monkeypatch.setattr(offset, "boundaries", lambda *args, **kwargs: true(*args, **kwargs)[:1])
    (grown,) = offset_region(region(rectangle(200, 200), [circle((60, 60), 3)]), 1)
    assert len(grown.holes) == 1


def test_tiny_and_major_arcs() -> None:
    keyhole = region(
        closed(
            [Arc((-1, 0), (1, 0), -4.0), Line((1, 0), (1, -20)), Line((1, -20), (-1, -20)), Line((-1, -20), (-1, 0))]
        )
    )
    source = fine(keyhole, 1e-4)
    for distance in (-0.9, -0.3, 0.5, 5.0):
        gaps = signed_distances(union(offset_region(keyhole, distance)), source, 0.1)
        assert np.abs(gaps - distance).max() <= 2e-3
    nibbled = region(
        closed([Line((0, 0), (10, 0)), Arc((10, 0), (10.0005, 0.0005), 0.4), Line((10.0005, 0.0005), (10, 10)),
                Line((10, 10), (0, 10)), Line((0, 10), (0, 0))])
    )  # fmt: skip
    for distance in (-1.0, 1.0):
        (result,) = offset_region(nibbled, distance)
        assert region_area(result) == pytest.approx(fine(nibbled).buffer(distance, quad_segs=256).area, abs=1e-2)


def test_a_cubic_loop_and_a_cusp_are_offset() -> None:
    drop = region(closed([Cubic((0, 0), (40, 60), (-40, 60), (0, 0))]))
    cusped = region(
        closed([Cubic((0, 0), (100, 100), (0, 100), (100, 0)), Line((100, 0), (100, -50)), Line((100, -50), (0, -50)),
                Line((0, -50), (0, 0))])
    )  # fmt: skip
    for shape in (drop, cusped):
        source = fine(fit_region(shape, 0.005), 1e-4)
        for distance in (-4.0, -1.0, 1.0, 6.0):
            gaps = signed_distances(union(offset_region(shape, distance)), source, 0.2)
            assert np.abs(gaps - distance).max() <= 4e-3
