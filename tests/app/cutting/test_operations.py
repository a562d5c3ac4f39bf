"""The order of cuts: rules that never bend, over layouts made at random and by hand."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from app.cutting.offcut_lines import offcut_lines
from app.cutting.operations import Operation, Work, is_small, operations
from app.cutting.placed import placed_region
from app.cutting.summary import summarise_cutting
from app.fabrication.part import Drill
from app.planning.job_plan import Offcut, PlacedPart
from geometry.build import open_chain
from geometry.contour import Region
from geometry.curve import Arc, Line
from geometry.flatten import flatten_contour
from geometry.measure import contour_area, contour_length, region_area, region_bounds
from tests.app.output.plans import (
    ALUMINIUM,
    INCH,
    QUARTER,
    SHEET_48_96,
    block,
    disc,
    letter_d,
    part,
    put,
    put_centred,
    ring,
    sheet,
    sign_plan,
)


@st.composite
def layouts(draw):
    """A sheet of a grid of cells, each with a plain part, or a ring with rings or discs in its drop, some drilled."""
    placed: list[PlacedPart] = []
    pitch = 260.0
    for column in range(draw(st.integers(1, 5))):
        for row in range(draw(st.integers(1, 3))):
            middle = (20 + pitch * (column + 0.5), 20 + pitch * (row + 0.5))
            name = f"p{column}{row}"
            kind = draw(st.sampled_from(["block", "rings", "disc", "two in a ring"]))
            if kind == "block":
                size = draw(st.sampled_from([40.0, 80.0, 220.0]))
                one = part(f"{name}-b", block(size, size), drills=[Drill((size / 2, size / 2), 6.0)])
                placed.append(put_centred(one, *middle))
            elif kind == "disc":
                placed.append(put_centred(part(f"{name}-d", disc(draw(st.sampled_from([60.0, 240.0])))), *middle))
            elif kind == "rings":
                outer = 240.0
                for depth in range(draw(st.integers(1, 4))):
                    placed.append(put_centred(part(f"{name}-r{depth}", ring(outer, outer - 20)), *middle))
                    outer -= 20 + 2 * 12
                placed.append(put_centred(part(f"{name}-m", disc(20.0), drills=[Drill((10.0, 10.0), 3.0)]), *middle))
            else:
                placed.append(put_centred(part(f"{name}-o", ring(240.0, 220.0)), *middle))
                guest = part(f"{name}-g", ring(80.0, 60.0), quantity=2)
                placed.append(put_centred(guest, middle[0] - 50, middle[1], copy=0))
                placed.append(put_centred(guest, middle[0] + 50, middle[1], copy=1))
    order = draw(st.permutations(placed))
    offcuts = [Offcut(20.0, 900.0, 2000.0, 300.0, is_strip=False)]
    return sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, order, offcuts)


def key(one: Operation) -> tuple[str, int]:
    return one.part, one.copy


def polygon_of(one: Operation) -> shapely.Polygon:
    return shapely.Polygon(flatten_contour(one.contour, 0.05))


@settings(max_examples=30, deadline=None)
@given(layouts())
def test_the_rules_hold_on_any_layout(planned):
    ordered = operations(planned)
    place = {id(one): at for at, one in enumerate(ordered)}
    outside = {key(one): one for one in ordered if one.work is Work.OUTSIDE}
    inside = [one for one in ordered if one.work is Work.INSIDE]

    # Everything exactly once.
    wanted = Counter()
    for placed in planned.placed:
        mine = (placed.part.id, placed.placement.copy)
        wanted[(Work.OUTSIDE, *mine)] += 1
        wanted[(Work.INSIDE, *mine)] += len(placed.part.region.holes)
        wanted[(Work.DRILL, *mine)] += len(placed.part.drills)
    assert Counter((one.work, *key(one)) for one in ordered if one.work is not Work.OFFCUT) == +wanted

    # Drilling first, offcuts last.
    works = [one.work for one in ordered]
    edges = [at for at, work in enumerate(works) if work in (Work.INSIDE, Work.OUTSIDE)]
    assert all(at < min(edges) for at, work in enumerate(works) if work is Work.DRILL)
    assert works[-1] is Work.OFFCUT

    hosts_guests = set()
    for hole in inside:
        # A part's holes before its outside.
        assert place[id(hole)] < place[id(outside[key(hole)])]
        # What lies in a hole (by shapely, not by the code under test) before that hole's edge.
        opening = polygon_of(hole)
        for mine, edge in outside.items():
            if mine != key(hole) and opening.contains(polygon_of(edge)):
                assert place[id(edge)] < place[id(hole)]
                hosts_guests |= {mine, key(hole)}

    # Small before large among parts that neither hold nor are guests.
    parts = {(placed.part.id, placed.placement.copy): placed.part for placed in planned.placed}
    free = [one for one in ordered if one.work is Work.OUTSIDE and key(one) not in hosts_guests]
    sizes = [is_small(parts[key(one)]) for one in free]
    assert sizes == sorted(sizes, reverse=True)
    # Inside edges of holes with nothing in them come before every outside edge.
    first_outside = min(place[id(edge)] for edge in outside.values())
    for hole in inside:
        if key(hole) not in hosts_guests:
            assert place[id(hole)] < first_outside

    # The same sheet, the same order.
    assert operations(planned) == ordered


@settings(max_examples=15, deadline=None)
@given(layouts())
def test_the_order_chosen_travels_no_further_than_the_order_of_the_list(planned):
    ordered = operations(planned)
    stage = {Work.DRILL: 0, Work.MARK: 1, Work.INSIDE: 2, Work.OUTSIDE: 3, Work.OFFCUT: 4}
    parts = {(placed.part.id, placed.placement.copy): n for n, placed in enumerate(planned.placed)}
    naive = sorted(ordered, key=lambda one: (stage[one.work], parts.get(key(one), 0)))
    # The naive order breaks rules, which makes it shorter at times; rules cost at most two ways across a nest.
    assert summarise_cutting(ordered).travel <= summarise_cutting(naive).travel + 2 * 240 * len(planned.placed)


def test_the_sign_is_cut_in_the_order_a_person_would():
    ordered = operations(sign_plan().sheets[0])
    names = [(one.work.value, one.part.removeprefix("line1-")) for one in ordered]
    at = {name: names.index(name) for name in names}
    assert names[:3] == [("drill", "02-backer"), ("drill", "02-backer"), ("mark", "02-backer")]
    assert names[-1] == ("offcut", "")
    # Plates lie in the counter ring, which lies in the large ring.
    plates = [place for place, name in enumerate(names) if name == ("outside", "01-plate")]
    assert min(plates) < at["inside", "01-counter"] < at["outside", "01-counter"]
    assert at["outside", "01-counter"] < at["inside", "01-retainer"] < at["outside", "01-retainer"]
    assert at["inside", "04-backer"] < at["outside", "04-backer"]


def test_a_part_is_small_below_36_square_inches_or_3_inches_wide():
    # trade.md 3.2, common practice: area < 36 in² or width < 3 in.
    assert is_small(part("a", block(5.9 * INCH, 6 * INCH)))
    assert not is_small(part("b", block(6.1 * INCH, 6 * INCH)))
    assert is_small(part("c", block(2.9 * INCH, 60 * INCH)))
    assert not is_small(part("d", block(3.1 * INCH, 60 * INCH)))


@pytest.mark.parametrize("rotation", [0.0, 37.5, 90.0, 180.0, 271.3])
@pytest.mark.parametrize("mirrored", [False, True])
def test_arcs_stay_arcs_and_edges_keep_their_turn_wherever_a_part_lies(rotation, mirrored):
    d = letter_d(300.0, 60.0)
    one = put(part("d", d), 500.0, 400.0, rotation=rotation, mirrored=mirrored)
    ordered = operations(sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [one]))
    inside = next(edge for edge in ordered if edge.work is Work.INSIDE)
    outside = next(edge for edge in ordered if edge.work is Work.OUTSIDE)
    assert [sum(isinstance(segment, Arc) for segment in edge.contour.segments) for edge in (inside, outside)] == [1, 1]
    assert abs(contour_area(outside.contour)) == pytest.approx(contour_area(d.outer))
    assert abs(contour_area(inside.contour)) == pytest.approx(-contour_area(d.holes[0]))
    # trade.md 3.2: climb with a clockwise spindle is G41: clockwise round the outside, anticlockwise inside holes.
    assert contour_area(outside.contour) < 0 < contour_area(inside.contour)


def test_a_placement_mirrors_then_rotates_then_moves():
    # The contract's words by hand: (3, 1) mirrors to (-3, 1), turns by 90 degrees to (-1, -3), moves by (10, 20).
    corner = Region(block(3.0, 1.0).outer)
    bounds = region_bounds(placed_region(put(part("c", corner), 10.0, 20.0, rotation=90.0, mirrored=True)))
    assert (bounds.min_x, bounds.min_y, bounds.max_x, bounds.max_y) == pytest.approx((9.0, 17.0, 10.0, 20.0))


def test_figures_of_the_letter_o():
    # trade.md V23: letter O (24/12 in): total edge 113.097 in.
    o = put(part("o", ring(24 * INCH, 12 * INCH)), 1 * INCH, 1 * INCH)
    figures = summarise_cutting(operations(sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [o])))
    assert figures.cut_length / INCH == pytest.approx(113.097, abs=0.001)
    assert figures.pierce_count == 2
    assert figures.counts[Work.INSIDE] == figures.counts[Work.OUTSIDE] == 1
    assert figures.travel > 0


def test_travel_goes_from_the_zero_corner_through_every_entry():
    disc_part = part("a", disc(100.0), drills=[Drill((30.0, 40.0), 5.0)])
    ordered = operations(sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [put(disc_part, 0.0, 0.0)]))
    assert ordered[0].begin == pytest.approx((30.0, 40.0))
    expected = 50.0 + math.dist((30.0, 40.0), ordered[1].begin)
    assert summarise_cutting(ordered).travel == pytest.approx(expected)


def test_marks_are_cut_from_the_near_end():
    mark = open_chain([Line((200.0, 10.0), (20.0, 10.0))])
    one = part("m", block(300.0, 300.0), marks=[mark])
    first = operations(sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [put(one, 0.0, 0.0)]))[0]
    assert first.begin == (20.0, 10.0)
    assert first.end == (200.0, 10.0)


def test_an_empty_sheet_has_nothing_to_do():
    empty = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [])
    assert operations(empty) == ()
    assert summarise_cutting(()).cut_length == 0.0


@pytest.mark.parametrize(
    ("offcut", "lines"),
    [
        # A strip on the right, with and without the margin taken off: one line up the whole sheet.
        (Offcut(60 * INCH, 0.0, 36 * INCH, 48 * INCH, True), [((60 * INCH, 0), (60 * INCH, 48 * INCH))]),
        (Offcut(60 * INCH, 0.5 * INCH, 35.5 * INCH, 47 * INCH, True), [((60 * INCH, 0), (60 * INCH, 48 * INCH))]),
        # A strip along the top.
        (Offcut(0.5 * INCH, 30 * INCH, 95 * INCH, 17.5 * INCH, True), [((0, 30 * INCH), (96 * INCH, 30 * INCH))]),
        # The whole sheet: nothing to cut.
        (Offcut(0.5 * INCH, 0.5 * INCH, 95 * INCH, 47 * INCH, True), []),
    ],
)
def test_one_straight_line_frees_a_strip(offcut, lines):
    found = offcut_lines(offcut, sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [], [offcut]))
    ends = [(line.segments[0].start, line.segments[-1].end) for line in found]
    assert ends == [(pytest.approx(a), pytest.approx(b)) for a, b in lines]


def test_a_rectangle_frees_any_other_offcut():
    offcut = Offcut(300.0, 200.0, 400.0, 500.0, False)
    (line,) = offcut_lines(offcut, sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [], [offcut]))
    assert line.is_closed
    assert contour_length(line) == pytest.approx(1800.0)
    assert region_area(Region(line)) == pytest.approx(200_000.0)


def test_copies_of_one_part_are_told_apart():
    one = part("a", disc(100.0), quantity=3)
    planned = sheet(1, ALUMINIUM, QUARTER, SHEET_48_96, [put(one, 20.0 + 150 * n, 20.0, copy=n) for n in range(3)])
    assert sorted(edge.copy for edge in operations(planned)) == [0, 1, 2]
    assert operations(replace(planned, placed=planned.placed[::-1]))[0].copy == operations(planned)[0].copy
