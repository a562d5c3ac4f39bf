"""The drawing on paper: every part has its number once, and numbers stay clear of each other."""

from __future__ import annotations

import re

import pytest
import shapely

from app.output.cut_sheet import cut_sheets
from app.output.drawing import Shape, Words, draw_sheet
from app.output.typeface import BOLD, text_width
from tests.app.output.plans import many_plan, sign_plan


def drawn(cut, width=720.0, height=480.0):
    return draw_sheet(cut, width, height, units="mm", measure=lambda text, size: text_width(text, size, face=BOLD))


def numbers(drawing):
    return [item for item in drawing.items if isinstance(item, Words) and re.fullmatch(r"\d+", item.text)]


def box(words):
    half_x, half_y = text_width(words.text, words.size, face=BOLD) / 2, words.size * 0.73 / 2
    x, y = words.middle
    return shapely.box(x - half_x, y - half_y, x + half_x, y + half_y)


@pytest.mark.parametrize("plan", [sign_plan(), many_plan(60), many_plan(120, size=60.0)], ids=["sign", "60", "small"])
def test_every_part_has_its_number_once(plan):
    for cut in cut_sheets(plan):
        assert sorted(int(words.text) for words in numbers(drawn(cut))) == list(range(1, len(cut.pieces) + 1))


@pytest.mark.parametrize("plan", [sign_plan(), many_plan(60)], ids=["sign", "60"])
def test_numbers_do_not_overlap(plan):
    for cut in cut_sheets(plan):
        boxes = [box(words) for words in numbers(drawn(cut))]
        tree = shapely.STRtree(boxes)
        assert all(a == b for a, b in tree.query(boxes, "intersects").T)


def test_a_number_lies_in_its_own_part_or_hole():
    for cut in cut_sheets(many_plan(60)):
        drawing = drawn(cut)
        by_number = {piece.number: piece for piece in cut.pieces}
        for words in numbers(drawing):
            x, y = ((at - 26.0) / drawing.scale for at in words.middle)
            gross = shapely.Polygon(by_number[int(words.text)].material.exterior)
            assert gross.contains(shapely.Point(x, y))


def test_everything_stays_on_the_drawing():
    for plan in (sign_plan(), many_plan(60), many_plan(120, size=22.0)):
        for cut in cut_sheets(plan):
            drawing = drawn(cut)
            assert drawing.width <= 720.0 + 1e-9
            assert drawing.height <= 480.0 + 1e-9
            for item in drawing.items:
                points = (
                    [point for ring in item.rings for point in ring.tolist()]
                    if isinstance(item, Shape)
                    else [item.middle]
                )
                for x, y in points:
                    assert -0.1 <= x <= drawing.width + 0.1
                    assert -0.1 <= y <= drawing.height + 0.1


def test_no_number_is_smaller_than_can_be_read():
    for cut in cut_sheets(many_plan(120, size=22.0)):
        assert min(words.size for words in numbers(drawn(cut))) >= 5.0
