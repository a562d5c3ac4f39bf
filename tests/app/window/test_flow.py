"""Boxes in rows."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.window.flow import flow, flow_with_words

boxes = st.lists(st.tuples(st.floats(1, 500), st.floats(1, 500)), min_size=1, max_size=12)


@given(st.lists(boxes, min_size=1, max_size=4), st.floats(0.2, 5.0))
def test_no_two_boxes_overlap_and_all_lie_within(groups, shape):
    laid = flow(groups, gap=(3.0, 5.0), head=10.0, shape=shape)
    placed = [
        (x, y - height, x + width, y)
        for group, corners in zip(groups, laid.corners, strict=True)
        for (width, height), (x, y) in zip(group, corners, strict=True)
    ]
    for index, (left, bottom, right, top) in enumerate(placed):
        assert left >= 0
        assert top <= 1e-9
        assert right <= laid.width + 1e-6
        assert bottom >= -laid.height - 1e-6
        for other in placed[:index]:
            assert right <= other[0] or other[2] <= left or top <= other[1] + 1e-9 or other[3] <= bottom + 1e-9


def test_rows_are_as_long_as_the_room_suits():
    wide = flow([[(10.0, 10.0)] * 8], gap=(0, 0), head=0, shape=8.0)
    tall = flow([[(10.0, 10.0)] * 8], gap=(0, 0), head=0, shape=1 / 8)
    assert (wide.width, wide.height) == (80.0, 10.0)
    assert (tall.width, tall.height) == (10.0, 80.0)


def test_gaps_for_words_are_pixels_at_the_scale_the_layout_ends_up_with():
    laid, mm_per_px = flow_with_words(
        [[(1000.0, 300.0)] * 3], gap_px=(0.0, 60.0), head_px=0.0, edge_px=0.0, board_px=(400.0, 900.0)
    )
    (_, first), (_, second), _ = laid.corners[0]
    assert (first - second - 300.0) / mm_per_px == pytest.approx(60.0, rel=0.1)
