"""What is left of a sheet, and what no layout can beat."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.outline import Outline
from nesting.bounds import lower_bound
from nesting.offcuts import offcuts
from nesting.plan import Layout, Placement
from nesting.problem import Part, Problem, Rules, Sheet
from nesting.solve import AfterRounds, solve
from tests.nesting.letters import letter_pieces
from tests.nesting.shapes import FRAME, INCH, disc, problem, rectangle

SMALL = ((60.0, 60.0), (20.0, 200.0))


def test_strip_has_margin_and_spacing_taken_off() -> None:
    one = problem(Part("a", rectangle(200, 380)), sheet=(600, 400))
    found = offcuts(one, Layout("plate", 0, (Placement("a", 0, 10, 10),)), min_sides=SMALL)
    assert len(found) == 1
    assert found[0].is_strip
    assert tuple(found[0])[:4] == pytest.approx((216, 10, 374, 380), abs=1e-3)


def test_inner_rectangle_grows_to_what_limits_it() -> None:
    one = problem(Part("frame", FRAME), sheet=(222, 202))
    found = offcuts(one, Layout("plate", 0, (Placement("frame", 0, 10, 10),)), min_sides=SMALL)
    # The frame's hole is 160 x 140 and loses 6 mm on every side.
    assert [tuple(single)[:4] for single in found] == [pytest.approx((36, 36, 148, 128), abs=2e-3)]
    assert not found[0].is_strip


def test_too_small_is_not_kept_and_an_empty_sheet_is_one_strip() -> None:
    one = problem(Part("a", rectangle(200, 380)), sheet=(600, 400))
    layout = Layout("plate", 0, (Placement("a", 0, 10, 10),))
    assert offcuts(one, layout, min_sides=((380.1, 380.1),)) == ()
    assert tuple(offcuts(one, Layout("plate", 0, ()))[0]) == pytest.approx((10, 10, 580, 380, True))


@given(text=st.text("AOCSLTX8", min_size=1, max_size=5), height=st.floats(60, 150), cut=st.booleans())
@settings(max_examples=12, deadline=None)
def test_every_offcut_is_clear_of_everything(text: str, height: float, cut: bool) -> None:
    pieces = [piece for character in text for piece in letter_pieces(character, height)]
    corner = [(0, 0), (700, 0), (700, 300), (500, 500), (0, 500)]
    outline = Outline.from_points(corner) if cut else rectangle(700, 500)
    sheet = Sheet("plate", outline, None, 1, (rectangle(40, 60),))
    one = Problem(tuple(Part(f"{k}", piece) for k, piece in enumerate(pieces)), (sheet,), Rules(6.0, 10.0))
    layout = solve(one, AfterRounds(0)).plan.layouts[0]
    found = offcuts(one, layout, min_sides=SMALL)
    stock = shapely.Polygon(outline.outer)
    boxes = [shapely.box(x, y, x + width, y + height) for x, y, width, height, _ in found]
    parts = {part.id: part for part in one.parts}
    for k, box in enumerate(boxes):
        assert stock.contains(box)
        assert stock.boundary.distance(box) >= 10.0 - 1e-3
        assert box.intersection(shapely.box(0, 0, 40, 60)).area < 1e-6
        for at in layout.placements:
            shape = shapely.Polygon(parts[at.part].outline.outer, parts[at.part].outline.holes)
            shape = shapely.affinity.rotate(shape, at.rotation, origin=(0, 0))
            assert shapely.affinity.translate(shape, at.x, at.y).distance(box) >= 6.0 - 1e-3
        for other in boxes[:k]:
            assert box.distance(other) >= 6.0 - 1e-3  # the cutter runs between them


def squares(count: int, sheet: tuple[float, float] = (48, 96), limit: int | None = None) -> Problem:
    return Problem(
        (Part("square", rectangle(12 * INCH, 12 * INCH), count),),
        (Sheet("s", rectangle(sheet[0] * INCH, sheet[1] * INCH), limit, 40),),
        Rules(0.375 * INCH, 0.5 * INCH),
    )


def test_area_bound_of_squares() -> None:
    # By hand: a grown square covers 12.375² less its rounded corners; 47.375 x 95.375 in holds at most 29 of them.
    assert lower_bound(squares(29)).sheets == 1
    assert lower_bound(squares(30)).sheets == 2
    assert lower_bound(squares(60)).cost == 120


def test_stock_too_small_for_all_parts_has_no_bound() -> None:
    assert lower_bound(squares(60, limit=2)).sheets is None


def test_hole_that_nothing_fits_counts_as_filled() -> None:
    ring = Part("ring", disc(100, hole=80))
    alone = lower_bound(problem(ring, spacing=0.0)).area
    assert alone == pytest.approx(3.1416 * 100**2, rel=2e-3)
    guest = Part("guest", rectangle(50, 50))
    assert lower_bound(problem(ring, guest, spacing=0.0)).area == pytest.approx(
        alone, rel=1e-6
    )  # the guest fills some of it
    assert lower_bound(problem(ring, guest, spacing=0.0, holes=False)).area == pytest.approx(alone + 2500, rel=1e-6)


def test_cheapest_mix_is_found_and_large_parts_need_their_sheet() -> None:
    parts = (Part("long", rectangle(900, 50)), Part("small", rectangle(90, 90), 30))
    sheets = (Sheet("small", rectangle(500, 500), None, 10), Sheet("large", rectangle(1000, 500), None, 35))
    bound = lower_bound(Problem(parts, sheets, Rules(0.0, 0.0)))
    # 288,000 mm² in all: one large sheet alone is enough area, but two small ones cannot take the long part.
    assert (bound.sheets, bound.cost) == (1, 35)


@pytest.mark.parametrize(
    ("parts", "sheets"),
    [
        # By hand: circles of radius 100 and 90 need a square of (r + q)(1 + 1/sqrt 2) = 324.3 mm; 320 mm is too small.
        ((Part("a", disc(100), 3), Part("b", disc(90), 2)), 4),  # two of 90 need 307.3 mm and may share
        ((Part("a", disc(100, hole=60), 3),), 1),  # in a ring's material only small circles lie: areas alone count
        ((Part("a", rectangle(170, 170), 5), Part("b", rectangle(155, 10), 4)), 5),  # beside each other 340 mm
        ((Part("a", rectangle(170, 170), 3), Part("b", rectangle(140, 40), 4)), 3),
    ],
)
def test_parts_too_large_to_share_a_sheet_need_one_each(parts: tuple[Part, ...], sheets: int) -> None:
    assert lower_bound(problem(*parts, sheet=(320, 320), spacing=0.0, margin=0.0)).sheets == sheets


def test_large_parts_count_with_margin_and_spacing() -> None:
    # 150 + 150 + 5 = 305 mm beside each other: a margin of 8 mm leaves 304, one of 7 mm leaves 306.
    panels = Part("panel", rectangle(150, 150), 4)
    assert lower_bound(problem(panels, sheet=(320, 320), spacing=5.0, margin=8.0)).sheets == 4
    assert lower_bound(problem(panels, sheet=(320, 320), spacing=5.0, margin=7.0)).sheets == 1


@given(
    sizes=st.lists(st.tuples(st.floats(20, 200), st.floats(20, 200)), min_size=1, max_size=8),
    spacing=st.floats(0, 10),
)
@settings(max_examples=15, deadline=None)
def test_bound_never_exceeds_what_was_found(sizes: list[tuple[float, float]], spacing: float) -> None:
    one = problem(
        *(Part(f"{k}", rectangle(w, h), 2) for k, (w, h) in enumerate(sizes)), sheet=(300, 300), spacing=spacing
    )
    plan = solve(one, AfterRounds(0)).plan
    bound = lower_bound(one)
    assert bound.sheets is not None
    assert bound.sheets <= len(plan.layouts)
    assert bound.cost is not None
    assert bound.cost <= plan.cost[1]
