"""Cutter-centre paths, leads, holding, the swept-cutter check: handbook values, and shapely on layouts made by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from app.cutting.centre_paths import centre_paths
from app.cutting.feeds import feed_rate, sheet_feed
from app.cutting.leads import Entry
from app.cutting.operations import Work, operations
from app.cutting.placed import placed_region
from app.cutting.swept import check_swept, covered, placed_remains
from app.cutting.times import run_time, sheet_time
from app.cutting.vacuum import holding_force, usual_vacuum
from app.job.cutting import Cutting, Direction, Hold, Lead, MaterialFeed
from app.planning.job_plan import Offcut
from geometry.build import rectangle, region
from geometry.contour import Region
from geometry.curve import Arc
from geometry.flatten import flatten_contour
from geometry.measure import contour_area, contour_length
from geometry.offset import Join, offset_region
from tests.app.output.plans import (
    ACRYLIC,
    ALUMINIUM,
    INCH,
    QUARTER,
    SHEET_48_96,
    SIX,
    block,
    disc,
    letter_d,
    letter_e,
    letter_l,
    many_plan,
    part,
    put,
    put_centred,
    ring,
    sheet,
    sign_plan,
)

RADIUS = 0.125 * INCH


def one(shape, x=300.0, y=300.0, *, stock=SHEET_48_96, **placing):
    return sheet(1, ALUMINIUM, QUARTER, stock, [put(part("a-1", shape), x, y, **placing)])


def line(contour):
    points = flatten_contour(contour, 0.001)
    return shapely.LineString(np.vstack([points, points[:1]]) if contour.is_closed else points)


def test_the_path_round_a_square_has_the_handbook_length():
    # trade.md V13: round a 12 x 12 in square, 1/4 in cutter, round corners: 48.7854 in; V14: mitred corners 49.0 in.
    square = Region(rectangle(12 * INCH, 12 * INCH))
    (loop,) = centre_paths(square, RADIUS).outside.loops
    assert contour_length(loop) / INCH == pytest.approx(48.7854, abs=0.001)
    assert sum(isinstance(segment, Arc) for segment in loop.segments) == 4
    (mitred,) = offset_region(square, RADIUS, join=Join.MITRE)
    assert contour_length(mitred.outer) / INCH == pytest.approx(49.0, abs=1e-6)


def test_a_quarter_inch_cutter_leaves_the_handbook_corner():
    # trade.md V12: 1/4 in tool in a 90 degree corner: 0.003353 in² left, gap 0.05178 in.
    shape = region(rectangle(12 * INCH, 12 * INCH), [rectangle(6 * INCH, 6 * INCH, at=(3 * INCH, 3 * INCH))])
    paths = centre_paths(shape, RADIUS)
    (hole,) = paths.holes
    assert not paths.outside.remains
    assert len(hole.remains) == 4
    for remain in hole.remains:
        assert remain.gap / INCH == pytest.approx(0.05178, abs=1e-5)
        assert [abs(value / INCH - 6.0) for value in remain.at] == pytest.approx([3.0, 3.0])
    assert hole.remain_area / INCH**2 / 4 == pytest.approx(0.003353, abs=1e-5)
    assert hole.leaves_drop


def test_a_retainer_and_the_drop_of_its_hole():
    # trade.md V19: a ring's 12 in hole leaves a drop of 11.5 in when cut with a 1/4 in tool.
    paths = centre_paths(ring(14.5 * INCH, 12 * INCH), RADIUS)
    (loop,) = paths.holes[0].loops
    drop = shapely.Polygon(flatten_contour(loop, 0.001)).buffer(-RADIUS)
    assert (drop.bounds[2] - drop.bounds[0]) / INCH == pytest.approx(11.5, abs=1e-3)


def test_a_hole_narrower_than_the_cutter_has_no_path_and_says_so():
    shape = region(rectangle(200.0, 100.0), [rectangle(100.0, 6.0, at=(50.0, 47.0))])
    (hole,) = centre_paths(shape, RADIUS).holes
    assert hole.loops == ()
    assert hole.remains[0].gap == pytest.approx(3.0, abs=0.02)
    (found,) = placed_remains(one(shape))
    assert (found.part, len(found.remains)) == ("a-1", 1)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("rotation", [0.0, 33.0, 180.0])
@pytest.mark.parametrize("direction", list(Direction))
def test_cutting_goes_the_way_that_was_chosen(mirrored, rotation, direction):
    # trade.md 3.2: climb with a clockwise spindle (M3) is G41: clockwise round the outside, anticlockwise in holes.
    planned = one(letter_d(300.0, 70.0), 700.0, 500.0, rotation=rotation, mirrored=mirrored)
    turns = {}
    for done in operations(planned, Cutting(direction=direction)):
        (way,) = done.ways
        turns[done.work] = contour_area(way.loop) > 0
        assert (contour_area(done.contour) > 0) == turns[done.work]
        # Scrap, where the leads lie, is to the left of the cutter when climb cutting, to the right otherwise.
        if way.entry is Entry.ARC:
            assert (way.contour.segments[0].bulge > 0) == (direction is Direction.CLIMB)
    is_climb = direction is Direction.CLIMB
    assert turns == {Work.OUTSIDE: not is_climb, Work.INSIDE: is_climb}


@pytest.mark.parametrize(
    "shape", [letter_d(300.0, 70.0), Region(letter_e(300.0, 60.0)), ring(200.0, 150.0), disc(90.0)]
)
def test_an_arc_lead_meets_its_path_smoothly_from_the_scrap_side_and_clears_the_part(shape):
    planned = one(shape)
    material = shapely.Polygon(
        flatten_contour(placed_region(planned.placed[0]).outer, 0.001),
        [flatten_contour(hole, 0.001) for hole in placed_region(planned.placed[0]).holes],
    )
    for done in operations(planned):
        (way,) = done.ways
        assert way.entry is Entry.ARC
        first, last = way.contour.segments[0], way.contour.segments[-1]
        for lead in (first, last):
            # A quarter circle (bulge tan 22.5 degrees) of at least the cutter's radius.
            assert abs(lead.bulge) == pytest.approx(math.tan(math.pi / 8))
            radius = math.dist(lead.start, lead.end) / math.sqrt(2)
            assert radius >= RADIUS - 1e-9
            assert line(type(way.contour)((lead,), is_closed=False)).distance(material) >= RADIUS - 0.005
        # The start is farther from the part than the path is.
        assert shapely.Point(first.start).distance(material) > RADIUS + 1.0
        # No bend: the lead's last direction is the path's first one.
        tail, head = line(type(way.contour)((first,), is_closed=False)).coords, line(way.loop).coords
        into = np.subtract(tail[-1], tail[-2]) / math.dist(tail[-1], tail[-2])
        onward = np.subtract(head[1], head[0]) / math.dist(head[1], head[0])
        assert float(into @ onward) > math.cos(math.radians(3))


def test_a_lead_starts_on_a_straight_run_away_from_corners():
    for done in operations(one(Region(letter_l(300.0, 60.0)))):
        (way,) = done.ways
        start = way.loop.segments[0].start
        corners = [segment.start for segment in done.contour.segments[1:]]
        assert min(math.dist(start, corner) for corner in corners) > 2 * RADIUS
        # The finished edge begins beside it, for controls that compensate.
        assert math.dist(start, done.contour.segments[0].start) == pytest.approx(RADIUS, abs=1e-6)


def test_a_lead_keeps_out_of_neighbours_offcuts_clamps_and_margin():
    """A part boxed in on three sides: by the margin, a neighbour and an offcut; the fourth is free."""
    margin, gap = ALUMINIUM.margin, QUARTER.diameter + 3.0
    stock = replace(SHEET_48_96, keep_outs=())
    middle = put(part("a-1", block(300.0, 200.0)), margin, 300.0)
    above = put(part("b-1", block(300.0, 100.0)), margin, 500.0 + gap)
    offcut = Offcut(margin, 0.0, 300.0, 300.0 - gap, is_strip=False)
    planned = sheet(1, ALUMINIUM, QUARTER, stock, [middle, above], [offcut])
    done = next(done for done in operations(planned) if done.part == "a-1")
    (way,) = done.ways
    assert way.entry is Entry.ARC
    assert way.contour.segments[0].start[0] > margin + 300.0 + RADIUS
    # Closed in on the fourth side too, no arc fits: the cutter ramps in along its path, from a straight run.
    right = put(part("c-1", block(100.0, 200.0)), margin + 300.0 + gap, 300.0)
    closed = replace(planned, placed=(middle, above, right))
    (way,) = next(done for done in operations(closed) if done.part == "a-1").ways
    assert way.entry is Entry.RAMP
    assert contour_length(way.contour) > contour_length(way.loop)
    assert line(way.contour).difference(line(way.loop).buffer(0.01)).is_empty
    assert check_swept(closed, operations(closed)).is_clean


def test_a_ramp_is_as_long_as_its_depth_asks_for():
    # 4.5 mm in one pass at 4 degrees: 4.5 / tan(4) = 64.35 mm.
    planned = sheet(1, ACRYLIC, SIX, replace(SHEET_48_96, keep_outs=()), [put(part("a-1", block(400, 300)), 100, 100)])
    (done,) = operations(planned, Cutting(lead=Lead.RAMP))
    (way,) = done.ways
    assert contour_length(way.contour) - contour_length(way.loop) == pytest.approx(64.35, abs=0.01)


def test_tabs_hold_small_parts_and_drops():
    # trade.md 3.2: two tabs at least, three for what is round, 1/8 to 1/4 in wide; drops need holding too.
    wide = 0.25 * INCH + QUARTER.diameter
    small = [put(part("a-1", block(100.0, 60.0)), 100.0, 100.0), put(part("b-1", disc(80.0)), 400.0, 100.0)]
    large = [put(part("c-1", letter_d(500.0, 90.0)), 700.0, 100.0)]
    ways = {
        (done.part, done.work): done.ways[0]
        for done in operations(sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [*small, *large]))
    }
    assert len(ways["a-1", Work.OUTSIDE].tabs) == 2
    assert len(ways["b-1", Work.OUTSIDE].tabs) == 3
    assert ways["c-1", Work.OUTSIDE].tabs == ()
    assert ways["c-1", Work.OUTSIDE].hold is Hold.NONE
    assert len(ways["c-1", Work.INSIDE].tabs) >= 2
    for way in ways.values():
        for tab in way.tabs:
            assert contour_length(tab) == pytest.approx(wide)
            assert line(tab).difference(line(way.loop).buffer(0.01)).is_empty
            assert math.dist(tab.segments[0].start, way.loop.segments[0].start) > wide / 2
    for tab in ways["a-1", Work.OUTSIDE].tabs:
        (side,) = tab.segments
        assert not isinstance(side, Arc)


def test_tabs_lie_away_from_neighbours():
    """A block with a neighbour close by on its left and right has its tabs above and below."""
    gap = QUARTER.diameter + 3.0
    placed = [put(part(f"{name}-1", block(80.0, 80.0)), 300 + i * (80 + gap), 300) for i, name in enumerate("abc")]
    middle = next(done for done in operations(sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, placed)) if done.part == "b-1")
    for tab in middle.ways[0].tabs:
        heights = [y for _, y in line(tab).coords]
        assert max(heights) - min(heights) < 1e-6


def test_what_is_too_small_for_tabs_gets_a_skin_and_skin_can_be_chosen():
    tiny, small = put(part("a-1", disc(12.0)), 100, 100), put(part("b-1", block(60.0, 60.0)), 300, 100)
    planned = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [tiny, small])
    ways = {done.part: done.ways[0] for done in operations(planned)}
    assert (ways["a-1"].hold, ways["a-1"].is_crowded) == (Hold.SKIN, True)
    assert (ways["b-1"].hold, ways["b-1"].is_crowded) == (Hold.TABS, False)
    for hold in (Hold.SKIN, Hold.NONE):
        for done in operations(planned, Cutting(hold=hold)):
            assert (done.ways[0].hold, done.ways[0].tabs, done.ways[0].is_crowded) == (hold, (), False)


@settings(max_examples=12, deadline=None)
@given(st.floats(0, 360), st.booleans(), st.sampled_from(list(Direction)), st.sampled_from(list(Lead)))
def test_the_cutter_never_touches_a_part_and_frees_every_one(rotation, mirrored, direction, lead):
    """By shapely alone, at any angle: guests in a ring, a letter beside it."""
    o, guest, d = ring(400.0, 330.0), block(120.0, 60.0), letter_d(260.0, 60.0)
    placed = [
        put_centred(part("o-1", o), 300.0, 300.0),
        put(part("g-1", guest), 300.0, 300.0, rotation=rotation, mirrored=mirrored),
        put(part("d-1", d), 1000.0, 500.0, rotation=rotation, mirrored=mirrored),
    ]
    planned = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, placed)
    ordered = operations(planned, Cutting(direction=direction, lead=lead))
    assert check_swept(planned, ordered).is_clean
    swept = shapely.union_all(covered(ordered, RADIUS - 0.01))
    stock = shapely.box(0, 0, SHEET_48_96.width, SHEET_48_96.height)
    pieces = shapely.get_parts(shapely.difference(stock, swept))
    for one_placed in placed:
        true = placed_region(one_placed)
        material = shapely.Polygon(
            flatten_contour(true.outer, 0.001), [flatten_contour(hole, 0.001) for hole in true.holes]
        )
        assert swept.intersection(material).area < 1e-6
        (home,) = [piece for piece in pieces if piece.contains(material.representative_point())]
        # Free, with no more on it than what the check reports as left in its corners.
        remains = {found.part: found.area for found in placed_remains(planned)}
        rim = 0.011 * (material.length + 1)
        assert material.area <= home.area + 1e-6 <= material.area + remains.get(one_placed.part.id, 0.0) + 2 * rim


def test_the_check_finds_a_gouge_a_clamp_and_a_part_that_stays_fast():
    near = [put(part("a-1", block(100, 100)), 300, 300), put(part("b-1", block(100, 100)), 405, 300)]
    tight = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, near)
    found = check_swept(tight, operations(tight))
    assert {round(gouge.depth, 2) for gouge in found.gouges} == {1.35}  # 6.35 mm of cutter in a gap of 5
    assert not found.is_clean
    clamp = SHEET_48_96.keep_outs[0]
    beside = one(block(100.0, 100.0), clamp.x + clamp.width + 1.0, clamp.y)
    (hit,) = check_swept(beside, operations(beside)).clamp_hits
    assert hit.depth == pytest.approx(QUARTER.diameter - 1.0, abs=0.01)
    alone = one(block(100.0, 100.0))
    assert check_swept(alone, ()).still_fast == (0,)
    cut = operations(alone)
    half = replace(cut[0].ways[0], contour=type(cut[0].contour)(cut[0].ways[0].loop.segments[:3], is_closed=False))
    assert check_swept(alone, (replace(cut[0], ways=(half,)),)).still_fast == (0,)


@pytest.mark.parametrize("plan", [sign_plan(), many_plan(40)], ids=["sign", "many"])
def test_hand_made_plans_are_clean(plan):
    for planned in plan.sheets:
        assert check_swept(planned, operations(planned)).is_clean


def test_a_straight_cut_is_shared_only_when_asked_for():
    d = QUARTER.diameter
    block_part = part("b", block(200.0, 100.0), quantity=6)
    placed = [
        put(block_part, 40 + i * (200 + d), 40 + j * (100 + d), copy=3 * j + i) for i in range(3) for j in range(2)
    ]
    grid = replace(sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, placed), spacing=d)

    def cut(cutting):
        ordered = operations(grid, cutting)
        assert check_swept(grid, ordered).is_clean
        return sum(contour_length(way.loop) for done in ordered for way in done.ways)

    alone, shared = cut(Cutting()), cut(Cutting(shares_cuts=True))
    assert alone == pytest.approx(6 * (600.0 + 2 * math.pi * RADIUS))
    # Seven inner sides of the grid are cut once instead of twice: four of 100 mm and three of 200 mm.
    assert alone - shared == pytest.approx(4 * 100.0 + 3 * 200.0, abs=0.1)
    # A hair more than a cutter apart, nothing is shared.
    wider = [put(block_part, 40 + i * (200 + d + 0.2), 40.0, copy=i) for i in range(3)]
    for done in operations(replace(grid, placed=tuple(wider)), Cutting(shares_cuts=True)):
        assert done.ways[0].loop.is_closed


def test_an_offcut_line_is_cut_on_the_parts_side_from_beyond_the_edge():
    offcut = Offcut(60 * INCH, 0.0, 36 * INCH, 48 * INCH, is_strip=True)
    planned = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [put(part("a-1", block(300, 300)), 100, 100)], [offcut])
    (way,) = operations(planned)[-1].ways
    assert way.entry is Entry.EDGE
    (cut,) = way.contour.segments
    assert cut.start[0] == cut.end[0] == pytest.approx(60 * INCH - RADIUS)
    assert sorted((cut.start[1], cut.end[1])) == pytest.approx([-RADIUS - 1.0, 48 * INCH + RADIUS + 1.0])


def test_feeds_are_the_handbook_values():
    # trade.md V10: 18,000 rpm, 1 flute, 0.006 in: 108 in/min; V11: 2 flutes, 0.1 mm: 3600 mm/min.
    assert feed_rate(18_000, 1, 0.006) == pytest.approx(108.0)
    assert feed_rate(18_000, 2, 0.1) == pytest.approx(3600.0)
    own = sheet_feed(ALUMINIUM, QUARTER, Cutting(feeds=(MaterialFeed(ALUMINIUM.id, 1800.0, 0.4),)))
    assert (own.feed, own.passes, own.mark) == (1800.0, 5, "set in this job")  # 1.6 mm in steps of 0.4 at most
    assert feed_rate(18_000, 1, own.chip) == pytest.approx(1800.0)


def test_time_grows_with_speed_and_rest():
    # From rest to rest over 100 mm at 50 mm/s and 1000 mm/s²: 100 / 50 + 50 / 1000 s; 1 mm never reaches the speed.
    assert run_time(np.array([100.0]), 50.0, 1000.0) == pytest.approx(2.05)
    assert run_time(np.array([1.0]), 50.0, 1000.0) == pytest.approx(2 * math.sqrt(1 / 1000))
    planned = one(block(200.0, 100.0))
    cutting = Cutting(feeds=(MaterialFeed(ALUMINIUM.id, 600.0, 10.0),), lead=Lead.RAMP, hold=Hold.NONE)
    time = sheet_time(planned, operations(planned, cutting), cutting)
    assert time.feed.passes == 1
    assert time.lengths[Work.OUTSIDE] == pytest.approx(600 + 2 * math.pi * RADIUS + 1.6002 / math.tan(math.radians(4)))
    # 10 mm/s, one smooth way: length / speed + speed / acceleration.
    assert time.cutting_s == pytest.approx(time.lengths[Work.OUTSIDE] / 10 + 0.01, rel=1e-6)


def test_vacuum_holds_what_the_handbook_says():
    # trade.md V39: 20 inHg on 144 in² holds 1414.5 lbf, on 9 in² 88.4 lbf; 3.2: sideways 0.3 of it, 26.5 lbf.
    newtons = 4.4482216
    assert holding_force(144 * INCH**2, usual_vacuum())[0] / newtons == pytest.approx(1414.5, rel=0.01)
    down, aside = holding_force(9 * INCH**2, usual_vacuum())
    assert (down / newtons, aside / newtons) == pytest.approx((88.4, 26.5), rel=0.01)
