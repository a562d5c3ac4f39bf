"""The search's own pieces: pair tables against the exact test, settling, cheaper sets of sheets, repeatability."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.outline import Outline, signed_ring_area
from nesting.catalog import catalog
from nesting.kernels.convolution import convolve, corner_windings
from nesting.kernels.scan import add_raster, lowest
from nesting.kernels.shapes import collide
from nesting.kernels.tables import look_up
from nesting.mix import cheaper_sets
from nesting.pairs import PairTables, Rings
from nesting.pieces import convex_pieces
from nesting.plan import Plan
from nesting.problem import Part, Problem, Rules, Sheet
from nesting.rectangles import RectangleStrip, is_rectangle
from nesting.referee import violations
from nesting.solve import AfterRounds, solve
from nesting.team import Team
from tests.nesting.letters import letter_pieces, ring_outline
from tests.nesting.shapes import ELL, FRAME, disc, problem, rectangle
from tests.nesting.test_referee import PERFECT

RING = ring_outline(letter_pieces("O", 400.0)[0], 30.0)
assert RING is not None
OUTLINES = [ELL, FRAME, RING, *(piece for character in "SA8&" for piece in letter_pieces(character, 150.0))]
TEXT = problem(*(Part(f"{k}", outline, may_mirror=k == 0) for k, outline in enumerate(OUTLINES)), sheet=(1500, 1500))
CATALOG = catalog(TEXT)
MANY_CATALOG = catalog(
    problem(
        *(
            Part(f"{k}", piece, 1, None, may_mirror=True)
            for k, piece in enumerate(
                piece for character in "RSBKG4N&PQ5ea" for piece in letter_pieces(character, 150.0)
            )
        ),
        sheet=(1500, 1500),
    )
)
SHAPES = [way.shape for ways in CATALOG.attitudes for way in ways]


@pytest.fixture(scope="module")
def tables() -> PairTables:
    return PairTables(CATALOG)


@given(pair=st.tuples(st.sampled_from(SHAPES), st.sampled_from(SHAPES)), seed=st.integers(0, 10**6))
@settings(max_examples=40, deadline=None)
def test_tables_agree_with_the_exact_test(tables: PairTables, pair: tuple[int, int], seed: int) -> None:
    a, b = pair
    tables.add([(a, b)])
    built = tables.tables
    box_a, box_b = CATALOG.shapes.box[a], CATALOG.shapes.box[b]
    low, high = box_a[:2] - box_b[2:], box_a[2:] - box_b[:2]
    for x, y in low + np.random.default_rng(seed).random((200, 2)) * (high - low):
        size = look_up(built, int(built.which[a, b]), int(built.turns[a, b]), x, y)
        assert (size > 0.0) == collide(CATALOG.shapes, a, b, x, y)
        back = look_up(built, int(built.which[b, a]), int(built.turns[b, a]), -x, -y)
        assert (back > 0.0) == (size > 0.0)


def as_edges(rings: list[np.ndarray]) -> np.ndarray:
    return np.concatenate([np.column_stack((ring, np.roll(ring, -1, axis=0))) for ring in rings])


@given(pair=st.tuples(st.sampled_from(SHAPES), st.sampled_from(SHAPES)))
@settings(max_examples=40, deadline=None)
def test_border_winds_around_the_sum_of_two_outlines(pair: tuple[int, int]) -> None:
    # Against GEOS: the union of the sums of all triangles of one outside with all those of the other, turned about.
    a, b = (Rings.of(CATALOG.shapes, s) for s in pair)
    edges = convolve(a.outer, -b.outer)
    sums = [
        shapely.MultiPoint((np.asarray(p)[:, None] + np.asarray(q)[None]).reshape(-1, 2)).convex_hull
        for p in convex_pieces(shapely.Polygon(a.outer))
        for q in convex_pieces(shapely.Polygon(-b.outer))
    ]
    region = shapely.union_all(sums)
    low, high = edges.reshape(-1, 2).min(axis=0), edges.reshape(-1, 2).max(axis=0)
    assert np.concatenate((low, high)) == pytest.approx(region.bounds, abs=1e-9)
    step, n = float((high - low).max()) / 37.3, 39
    winding = corner_windings(edges, low[0] - 0.3, low[1] - 0.4, step, n, n)
    x, y = np.meshgrid(low[0] - 0.3 + np.arange(n + 1) * step, low[1] - 0.4 + np.arange(n + 1) * step)
    clear = shapely.distance(shapely.points(x, y), region.boundary) > 1e-6
    assert winding.min() == 0
    assert np.array_equal((winding > 0)[clear], shapely.contains_xy(region, x, y)[clear])


def test_border_counts_the_pieces_in_common() -> None:
    # By hand: two bars across the prongs of a fork meet it in two or three places.
    base, prongs = shapely.box(0, 0, 50, 10), [shapely.box(x, 0, x + 10, 40) for x in (0, 20, 40)]
    fork = np.asarray(shapely.union_all([base, *prongs]).exterior.coords)[:-1]
    fork = fork if signed_ring_area(fork) > 0.0 else fork[::-1].copy()
    bar = np.array([(0, 0), (35, 0), (35, 4), (0, 4)], float)
    edges = convolve(fork, -bar)
    for dx, dy, common in (
        (-20.0, 20.0, 1),
        (-2.0, 20.0, 2),
        (7.0, 20.0, 3),
        (7.0, 3.0, 1),
        (7.0, 41.0, 0),
        (-36.0, 20.0, 0),
    ):
        assert corner_windings(edges, dx, dy, 1.0, 1, 1)[0, 0] == common


@given(seed=st.integers(0, 10**6))
@settings(max_examples=20, deadline=None)
def test_one_table_answers_for_all_quarter_turns_and_mirror_images(seed: int) -> None:
    # Against the exact test, in a job of so many shapes that tables are shared; and rasters upside down against tables.
    random = np.random.default_rng(seed)
    mapped = PairTables(MANY_CATALOG, map_step=9.7)
    assert mapped.are_many
    p, q = (MANY_CATALOG.attitudes[k] for k in random.integers(len(MANY_CATALOG.attitudes), size=2))
    mapped.add([(p[int(random.integers(len(p)))].shape, q[int(random.integers(len(q)))].shape)])
    assert mapped.count == 1
    known = np.argwhere(mapped.tables.which >= 0)
    assert len(known) >= 4
    shapes, tables = MANY_CATALOG.shapes, mapped.tables
    for a, b in known:
        low, high = shapes.box[a, :2] - shapes.box[b, 2:], shapes.box[a, 2:] - shapes.box[b, :2]
        for x, y in low + random.random((30, 2)) * (high - low):
            size = look_up(tables, int(tables.which[a, b]), int(tables.turns[a, b]), x, y)
            assert (size > 0.0) == collide(shapes, int(a), int(b), x, y)
        raster = raster_of(mapped, int(a), int(b))
        r = int(tables.map_which[a, b])
        for v, u in random.integers((0, 0), raster.shape, size=(30, 2)):
            dx, dy = -(tables.map_span[r, :2] + (u, v)) * 9.7
            size = look_up(tables, int(tables.which[a, b]), int(tables.turns[a, b]), dx, dy)
            assert raster[v, u] * tables.map_unit[r] == pytest.approx(size, abs=1.001 * tables.map_unit[r])


def test_same_letters_share_shapes_wherever_they_were_drawn() -> None:
    here = letter_pieces("S", 150.0)[0]
    there = Outline.from_points(np.add(here.outer, (1234.5, -67.8)))
    other = Outline.from_points(here.outer * (1.0, 1.0001))
    parts = (Part("here", here), Part("other", other), Part("there", there), Part("mirrored", there, may_mirror=True))
    one = problem(*parts, sheet=(700, 500))
    made = catalog(one)
    assert made.attitudes[2] == made.attitudes[0]
    assert len({ways[0].shape for ways in made.attitudes}) == 3
    assert np.subtract(made.centres[2], made.centres[0]) == pytest.approx((1234.5, -67.8))
    plan = solve(one, AfterRounds(20), seed=0).plan
    assert violations(one, plan) == ()
    assert plan.unplaced == ()


def test_what_is_not_prepared_is_told_until_it_is() -> None:
    team = Team(MANY_CATALOG, range(len(MANY_CATALOG.attitudes)), PairTables(MANY_CATALOG, map_step=9.7), seed=0)
    try:
        team.use([0])
        missing = team.unprepared(2000)
        assert team.unprepared(len(missing) // 2) == []
        for _ in team.prepare(missing):
            pass
        assert 0 < team.pairs.count <= len(missing)
        assert team.unprepared(2000) == []
        forms = len(MANY_CATALOG.attitudes)
        right = [int(s) for i in range(forms) for s in team.right_angles(i)]
        assert (team.pairs.tables.which[np.ix_(right, right)] >= 0).all()
        assert (team.pairs.tables.map_which[np.ix_(right, right)] >= 0).all()
    finally:
        team.close()


def test_ring_takes_a_letter_by_its_table(tables: PairTables) -> None:
    ring, letter = CATALOG.attitudes[2][0].shape, CATALOG.attitudes[4][0].shape
    tables.add([(ring, letter)])
    built = tables.tables
    assert look_up(built, int(built.which[ring, letter]), int(built.turns[ring, letter]), 0.0, 0.0) == 0.0
    assert not collide(CATALOG.shapes, ring, letter, 0.0, 0.0)


@pytest.mark.parametrize("outline", OUTLINES)
def test_convex_pieces_cover_a_shape_exactly(outline: object) -> None:
    shape = shapely.Polygon(outline.outer, outline.holes)  # type: ignore[attr-defined]
    pieces = [shapely.Polygon(piece) for piece in convex_pieces(shape)]
    assert sum(piece.area for piece in pieces) == pytest.approx(shape.area, rel=1e-9)
    assert shapely.union_all(pieces).symmetric_difference(shape).area < 1e-6 * shape.area
    assert all(piece.convex_hull.area == pytest.approx(piece.area, rel=1e-9) for piece in pieces)


def test_cheaper_sets_are_cheaper_and_have_the_area() -> None:
    sheets = (Sheet("small", rectangle(500, 500), None, 30), Sheet("large", rectangle(1000, 1000), 2, 100))
    one = Problem((Part("square", rectangle(240, 240), 15),), sheets, Rules(5.0, 5.0))
    sets = cheaper_sets(one, catalog(one), [0] * 15, [1, 1])
    assert sets
    for chosen in sets:
        assert sum((30, 100)[kind] for kind in chosen) < 200
        assert chosen.count(1) <= 2
        assert sum((250_000, 1_000_000)[kind] for kind in chosen) >= 15 * 240 * 240


def test_more_rounds_are_never_worse() -> None:
    quarter = [(0.0, 0.0), *((240 * np.cos(a), 240 * np.sin(a)) for a in np.linspace(0, np.pi / 2, 17))]
    part = Part("quarter", Outline.from_points(quarter), 20)
    one = Problem((part,), (Sheet("s", rectangle(1220, 1220), None, 10),), Rules(4.0, 5.0))
    first = solve(one, AfterRounds(0)).plan
    later = solve(one, AfterRounds(150), seed=1).plan
    assert violations(one, later) == ()
    assert later.unplaced == ()
    assert later.cost <= first.cost


def test_same_seed_and_rounds_repeat_the_search_of_turning_parts_with_flaws() -> None:
    pieces = [piece for character in "TRY" for piece in letter_pieces(character, 160.0)]
    parts = tuple(Part(f"{k}", piece, 2, None) for k, piece in enumerate(pieces))
    sheet = Sheet("s", rectangle(700, 420), None, 5, (rectangle(50, 50, 300, 200),))
    one = Problem(parts, (sheet,), Rules(5.0, 8.0))
    plans: list[Plan] = []
    for _ in range(2):
        result = solve(one, AfterRounds(60), seed=3)
        assert violations(one, result.plan) == ()
        plans.append(result.plan)
    assert pickle.dumps(plans[0]) == pickle.dumps(plans[1])


def test_start_is_never_made_worse() -> None:
    one = problem(*(Part(f"{k}", piece) for k, piece in enumerate(letter_pieces("W", 150.0) * 4)), sheet=(420, 400))
    better = solve(one, AfterRounds(120), seed=1).plan
    again = solve(one, AfterRounds(0), seed=2, start=better).plan
    assert again.cost <= better.cost


def test_tree_search_finds_a_perfect_strip() -> None:
    # C1 P1 of Hopper & Turton 2001 (EJOR 128:34-57): 16 rectangles that fill 20 x 20.
    sizes = [(w, h) for _, _, w, h in PERFECT]
    parts = tuple(Part(f"{k}", rectangle(w, h), 1, (0.0, 90.0)) for k, (w, h) in enumerate(sizes))
    assert all(is_rectangle(part) for part in parts)
    height = 20.0
    area = sum(w * h for w, h in sizes)
    one = problem(*parts, sheet=(60, height), spacing=0.0, margin=0.0)
    made = catalog(one)
    tree = RectangleStrip(one, made, list(range(len(parts))), np.array([0, 0, 60.0, height]), 60.0, seed=0)
    for _ in range(400):
        tree.step()
        if tree.best <= 20.0:
            break
    assert area == 400
    assert tree.best == pytest.approx(20.0)
    assert tree.places is not None


@pytest.mark.parametrize(
    ("part", "answer"),
    [(Part("a", ELL), False), (Part("a", disc(5, 4)), False), (Part("a", rectangle(3, 4)), True)],
)
def test_rectangles_are_told_from_others(part: Part, answer: bool) -> None:
    assert is_rectangle(part) is answer


def raster_of(mapped: PairTables, a: int, b: int) -> np.ndarray:
    _, _, nu, nv, first, rise = mapped.tables.map_span[mapped.tables.map_which[a, b]].tolist()
    rows = [mapped.tables.map_values[first + v * rise : first + v * rise + nu] for v in range(nv)]
    return np.array(rows)


def test_map_of_a_neighbour_tells_where_it_collides(tables: PairTables) -> None:
    # Against the exact test: the raster of a pair, at its own steps, is positive just where the two collide.
    a, b = CATALOG.attitudes[0][0].shape, CATALOG.attitudes[3][0].shape
    mapped = PairTables(CATALOG, map_step=7.3)
    mapped.add([(a, b)])
    for one, other in ((a, b), (b, a)):
        values = raster_of(mapped, one, other)
        u0, v0, nu, nv = mapped.tables.map_span[mapped.tables.map_which[one, other], :4].tolist()
        for v in range(nv):
            for u in range(nu):
                meets = collide(CATALOG.shapes, one, other, -(u0 + u) * 7.3, -(v0 + v) * 7.3)
                assert (values[v, u] > 0.0) == meets
        assert values[0].max() == values[-1].max() == values[:, 0].max() == values[:, -1].max() == 0.0


@given(seed=st.integers(0, 10**6))
@settings(max_examples=30, deadline=None)
def test_lowest_cells_of_a_map_are_the_lowest_and_stand_apart(seed: int) -> None:
    random = np.random.default_rng(seed)
    field = random.random((17, 23)).astype(np.float32)
    found = np.zeros((3, 3))
    count = lowest(field, 20, 15, 4, found)
    used = field[:15, :20]
    assert count == 3
    assert found[0, 0] == used.min()
    assert all(used[int(y), int(x)] == value for value, x, y in found)
    assert found[0, 0] <= found[1, 0] <= found[2, 0]
    apart = np.abs(found[:, None, 1:] - found[None, :, 1:]).sum(axis=2)
    assert apart[np.triu_indices(3, 1)].min() >= 4


def test_rasters_are_added_where_they_lie_on_the_field() -> None:
    values = np.arange(1, 13, dtype=np.float32)
    raster = values.reshape(3, 4)
    for x, y in ((2, 1), (-2, -1), (6, 5), (-9, 0), (0, 99)):
        field = np.zeros((7, 8), np.float32)
        add_raster(field, 8, 7, values, 0, 4, 4, 3, x, y, 2.0)
        wide = np.zeros((250, 250), np.float32)
        wide[100 + y : 103 + y, 100 + x : 104 + x] = 2.0 * raster
        assert np.array_equal(field, wide[100:107, 100:108])
