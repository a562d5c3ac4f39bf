"""Lines and arcs drawn over each other in part: each stretch once, corners of neighbours kept."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.artwork.chains import join_ends
from app.artwork.merging import merge_overlapping
from app.artwork.notes import Notes
from geometry.arcs import arc_from_centre, circle
from geometry.contour import Contour
from geometry.curve import Arc, Line, Point, Segment
from geometry.measure import contour_area, contour_length

SAME = 5e-3


def loose(*segments: Segment) -> Contour:
    return Contour(tuple(segments), is_closed=False)


def line(start: Point, end: Point) -> Contour:
    return loose(Line(start, end))


def arc(start: float, sweep: float, radius: float = 10.0) -> Contour:
    made = arc_from_centre((3.0, 4.0), radius, start, sweep)
    return loose(*(made if isinstance(made, tuple) else (made,)))


def length(pieces) -> float:
    return sum(contour_length(piece) for piece, _ in pieces)


def closed_areas(pieces) -> list[float]:
    chained = join_ends([piece for piece, _ in pieces], 0.1, Notes("a"))
    assert not chained.loose
    return sorted(abs(contour_area(contour)) for contour, _ in chained.closed)


def test_a_side_of_two_overlapping_lines_becomes_one_line() -> None:
    square = [line((0, 0), (7, 0)), line((12, 0), (4, 0)), line((12, 0), (12, 5)), line((12, 5), (0, 5)),
              line((0, 5), (0, 0))]  # fmt: skip
    merged = merge_overlapping(square, SAME)
    assert (merged.lines, merged.arcs) == (1, 0)
    assert merged.where is not None
    assert len(merged.pieces) == 4
    assert length(merged.pieces) == pytest.approx(34.0)
    assert closed_areas(merged.pieces) == [pytest.approx(60.0)]


def test_neighbours_that_share_part_of_an_edge_keep_their_corners() -> None:
    """Two rectangles, 0 to 10 above and 5 to 15 below the x axis, drawn line by line."""
    above = [line((0, 0), (10, 0)), line((10, 0), (10, 3)), line((10, 3), (0, 3)), line((0, 3), (0, 0))]
    below = [line((5, 0), (15, 0)), line((15, 0), (15, -2)), line((15, -2), (5, -2)), line((5, -2), (5, 0))]
    assert closed_areas(merge_overlapping(above + below, SAME).pieces) == [pytest.approx(20.0), pytest.approx(30.0)]


def test_a_shorter_line_within_a_longer_one() -> None:
    merged = merge_overlapping([line((0, 0), (30, 40)), line((6, 8), (12, 16))], SAME)
    assert merged.lines == 1
    assert [piece.segments for piece, _ in merged.pieces] == [(Line((0, 0), (30, 40)),)]


def test_arcs_of_one_circle_across_the_seam_of_angles() -> None:
    merged = merge_overlapping([arc(150.0, 60.0), arc(-170.0, 90.0)], SAME)
    assert (merged.lines, merged.arcs) == (0, 1)
    assert length(merged.pieces) == pytest.approx(10.0 * math.radians(130.0))


def test_arcs_that_go_all_the_way_round_are_a_circle() -> None:
    merged = merge_overlapping([arc(0.0, 200.0), arc(170.0, 120.0), arc(280.0, 100.0)], SAME)
    assert closed_areas(merged.pieces) == [pytest.approx(100.0 * math.pi)]


def test_what_lies_on_a_closed_contour_is_dropped() -> None:
    whole = circle((3.0, 4.0), 10.0)
    merged = merge_overlapping([whole, arc(170.0, 20.0), line((0, 0), (50, 0))], SAME)
    assert merged.arcs == 1
    assert [piece for piece, _ in merged.pieces] == [whole, line((0, 0), (50, 0))]


def test_touches_crossings_and_neighbours_stay() -> None:
    pieces = [
        line((0, 0), (5, 0)),
        line((5, 0), (9, 0)),
        line((2, -1), (2, 1)),
        line((0, 0.02), (5, 0.02)),
        arc(0.0, 90.0),
        arc(90.0, 90.0),
        arc(0.0, 90.0, 10.02),
    ]
    merged = merge_overlapping(pieces, SAME)
    assert [piece for piece, _ in merged.pieces] == pieces
    assert (merged.lines, merged.arcs) == (0, 0)


def test_an_open_polyline_keeps_the_rest_of_itself() -> None:
    polyline = loose(Line((0, 9), (0, 0)), Line((0, 0), (10, 0)), Line((10, 0), (10, 9)))
    merged = merge_overlapping([polyline, line((4, 0), (16, 0))], SAME)
    assert merged.lines == 1
    assert length(merged.pieces) == pytest.approx(9 + 9 + 16)
    assert {origin for _, origin in merged.pieces} == {0}


@settings(max_examples=60, deadline=None)
@given(
    spans=st.lists(st.tuples(st.integers(0, 40), st.integers(1, 15)), min_size=1, max_size=8, unique=True),
    turn=st.floats(0.0, 6.2),
)
def test_the_length_is_that_of_the_union(spans: list[tuple[int, int]], turn: float) -> None:
    """Against the union of whole-number intervals, counted unit by unit."""
    x, y = math.cos(turn), math.sin(turn)
    pieces = [line((x * at, y * at), (x * (at + long), y * (at + long))) for at, long in spans]
    covered = {at + step for at, long in spans for step in range(long)}
    merged = merge_overlapping(pieces, SAME)
    assert length(merged.pieces) == pytest.approx(len(covered))
    degrees = [arc(8.0 * at, 8.0 * long) for at, long in spans]
    on_circle = {(at + step) % 45 for at, long in spans for step in range(long)}
    merged = merge_overlapping(degrees, SAME)
    assert length(merged.pieces) == pytest.approx(10.0 * math.radians(8.0 * len(on_circle)), rel=1e-6)
    assert all(isinstance(segment, Arc) for piece, _ in merged.pieces for segment in piece.segments)
