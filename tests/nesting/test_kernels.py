"""Kernels against shapely."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry.polygon import orient

from geometry.outline import Outline
from nesting.catalog import catalog, grow
from nesting.kernels.prepare import inscribed_circles, simplify_outwards
from nesting.kernels.shapes import collide, travel
from nesting.problem import Part
from tests.nesting.letters import letter_pieces
from tests.nesting.shapes import ELL, FRAME, problem, rectangle

PIECES = [ELL, FRAME, *(piece for character in "SO8&i" for piece in letter_pieces(character, 150.0))]
TEXT = problem(*(Part(f"{k}", outline) for k, outline in enumerate(PIECES)), spacing=0.0)
CATALOG = catalog(TEXT)


def exact(part: int, angle: float) -> shapely.Polygon:
    outline = PIECES[part]
    cx, cy = CATALOG.centres[part]
    shape = shapely.Polygon(outline.outer - (cx, cy), [hole - (cx, cy) for hole in outline.holes])
    return shapely.affinity.rotate(shape, angle, origin=(0, 0))


def attitudes() -> st.SearchStrategy[tuple[int, int]]:
    return st.integers(0, len(PIECES) - 1).flatmap(
        lambda p: st.tuples(st.just(p), st.integers(0, len(CATALOG.attitudes[p]) - 1))
    )


@given(a=attitudes(), b=attitudes(), dx=st.floats(-220, 220), dy=st.floats(-220, 220))
@settings(max_examples=150, deadline=None)
def test_collision_agrees_with_shapely(a: tuple[int, int], b: tuple[int, int], dx: float, dy: float) -> None:
    way_a, way_b = CATALOG.attitudes[a[0]][a[1]], CATALOG.attitudes[b[0]][b[1]]
    first = exact(a[0], way_a.angle)
    second = shapely.affinity.translate(exact(b[0], way_b.angle), dx, dy)
    hit = collide(CATALOG.shapes, way_a.shape, way_b.shape, dx, dy)
    if first.distance(second) > 1e-3:
        # A hole that nothing fits in counts as material.
        assert not hit or any(
            shapely.Polygon(r).covers(o) for s, o in ((first, second), (second, first)) for r in s.interiors
        )
    elif first.intersection(second).area > 0.1:
        assert hit


@given(a=attitudes(), b=attitudes(), dx=st.floats(-400, -150), dy=st.floats(-150, 150), axis=st.integers(0, 1))
@settings(max_examples=80, deadline=None)
def test_travel_ends_in_contact(a: tuple[int, int], b: tuple[int, int], dx: float, dy: float, axis: int) -> None:
    shape_a, shape_b = CATALOG.attitudes[a[0]][a[1]].shape, CATALOG.attitudes[b[0]][b[1]].shape
    if axis == 1:
        dx, dy = dy, dx
    if collide(CATALOG.shapes, shape_a, shape_b, dx, dy):
        return
    far = travel(CATALOG.shapes, shape_a, shape_b, dx, dy, axis)
    if math.isinf(far):
        return
    step = np.array((1.0, 0.0)) if axis == 0 else np.array((0.0, 1.0))
    before = (dx, dy) + step * (far - 1e-5)
    beyond = (dx, dy) + step * (far + 1e-5)
    assert not collide(CATALOG.shapes, shape_a, shape_b, float(before[0]), float(before[1]))
    assert collide(CATALOG.shapes, shape_a, shape_b, float(beyond[0]), float(beyond[1]))


@given(part=st.integers(0, len(PIECES) - 1), spacing=st.floats(0.5, 20), tolerance=st.floats(0.01, 2))
@settings(max_examples=40, deadline=None)
def test_simplifying_only_adds_material_within_tolerance(part: int, spacing: float, tolerance: float) -> None:
    grown = orient(grow(shapely.Polygon(PIECES[part].outer, PIECES[part].holes), spacing))
    for number, ring in enumerate((grown.exterior, *grown.interiors)):
        points = np.asarray(ring.coords)[:-1]
        out = simplify_outwards(points, tolerance)
        assert len(out) <= len(points)
        before, after = shapely.Polygon(points), shapely.Polygon(out)
        inner, outer = (before, after) if number == 0 else (after, before)
        assert outer.buffer(1e-6).covers(inner)
        assert inner.buffer(tolerance + 1e-6).covers(outer) or before.hausdorff_distance(after) <= 2 * tolerance


def test_simplified_shapes_have_far_fewer_points() -> None:
    grown = orient(grow(shapely.Polygon(PIECES[2].outer), 9.5))
    ring = np.asarray(grown.exterior.coords)[:-1]
    assert len(simplify_outwards(ring, 0.38)) < 0.35 * len(ring)


def test_circles_lie_inside_and_do_not_overlap() -> None:
    for outline in PIECES:
        shape = orient(shapely.Polygon(outline.outer, outline.holes))
        rings = [np.asarray(ring.coords)[:-1] for ring in (shape.exterior, *shape.interiors)]
        edges = np.concatenate([np.column_stack((ring, np.roll(ring, -1, axis=0))) for ring in rings])
        found = inscribed_circles(edges, 20, 0.9)
        discs = [shapely.Point(x, y).buffer(r * 0.999) for x, y, r in found]
        assert all(shape.covers(disc) for disc in discs)
        assert shapely.union_all(discs).area > 0.4 * shape.area
        assert all(p.intersection(q).area < 1e-6 for k, p in enumerate(discs) for q in discs[:k])
        # The first is the pole of inaccessibility, up to the grid.
        best = shapely.maximum_inscribed_circle(shape, tolerance=0.01).length
        assert found[0, 2] >= 0.97 * best


@given(
    shift=st.floats(-0.9, 0.9),
    noise=st.floats(-1e-12, 1e-12),
    narrow=st.floats(0.1, 1.0),
)
@settings(max_examples=150, deadline=None)
def test_overlap_with_flush_edges_is_seen_through_rounding(shift: float, noise: float, narrow: float) -> None:
    # A plate standing on the same line as a larger part, rounding between them: once told apart by a corner on an edge.
    width = 1000.0
    flat = catalog(
        problem(
            Part("wide", rectangle(width, 700.0), rotations=(0.0,)),
            Part("plate", rectangle(width * narrow, 700.0), rotations=(0.0,)),
            spacing=0.0,
        )
    )
    wide, plate = flat.attitudes[0][0].shape, flat.attitudes[1][0].shape
    reach = width * (1 + narrow) / 2
    assert collide(flat.shapes, wide, plate, shift * reach, noise)
    assert collide(flat.shapes, plate, wide, -shift * reach, -noise)


def test_a_part_over_the_hole_of_another_is_seen() -> None:
    # Its edges meet nothing, and its middle lies in the hole; its own edge is in the other's material all the same.
    window = [(450.0, 450.0), (550.0, 450.0), (550.0, 550.0), (450.0, 550.0)]
    frame = Outline.from_points([(0.0, 0.0), (1000.0, 0.0), (1000.0, 1000.0), (0.0, 1000.0)], [window])
    guest = Part("guest", rectangle(20.0, 20.0))  # fits the hole, which is therefore kept open
    over = catalog(problem(Part("frame", frame), Part("lid", rectangle(300.0, 300.0)), guest, spacing=0.0))
    first, lid = over.attitudes[0][0].shape, over.attitudes[1][0].shape
    assert over.shapes.spans[first, 1] - over.shapes.spans[first, 0] == 8
    assert collide(over.shapes, first, lid, 0.0, 0.0)
    assert collide(over.shapes, lid, first, 0.0, 0.0)
    assert not collide(over.shapes, first, over.attitudes[2][0].shape, 0.0, 0.0)
