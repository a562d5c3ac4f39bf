"""Part numbers marked on parts: inside, clear of edges, holes and other marks, readable also on mirrored parts."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from app.cutting.placed import placed_marks
from app.fabrication.part import CutPart, Role
from app.fabrication.remarks import FabricationCode
from app.fabrication.stroke_text import mark_text, text_width
from app.planning.job_plan import PlacedPart
from geometry.arcs import circle
from geometry.build import rectangle, region
from geometry.contour import Region
from geometry.flatten import flatten_contour
from nesting.plan import Placement
from tests.app.fabrication.letters import IN, by_id, made, polygon_of

ALL = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_./+&"


def ends(strokes):
    return np.array([end for mark in strokes for one in mark.segments for end in (one.start, one.end)])


def number_of(part: CutPart):
    return next((text for text in part.texts if text.text == part.id), None)


def test_every_sign_is_one_line_of_the_height_asked_for_and_unlike_all_others():
    words = {sign: mark_text(sign, (0.0, 0.0), 6.0) for sign in ALL}
    assert all(len(word.strokes) == 1 for word in words.values())
    assert len({tuple(map(tuple, ends(word.strokes))) for word in words.values()}) == len(ALL)
    for sign in "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789":
        assert np.ptp(ends(words[sign].strokes)[:, 1]) == pytest.approx(6.0), sign
    assert len(mark_text("ä ?", (0.0, 0.0), 6.0).strokes) == 2  # boxes; a space is left free


def test_a_word_has_its_middle_where_it_is_put_and_keeps_to_its_width():
    for angle in (0.0, 90.0, 30.0):
        points = ends(mark_text("HEN-08", (100.0, 50.0), 12.0, angle).strokes) - (100.0, 50.0)
        c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        along, up = points @ (c, s), points @ (-s, c)
        assert (along.min(), along.max()) == pytest.approx(
            (-text_width("HEN-08", 12.0) / 2, text_width("HEN-08", 12.0) / 2)
        )
        assert (up.min(), up.max()) == pytest.approx((-6.0, 6.0))


def test_backers_carry_their_number_clear_of_everything_and_what_is_seen_does_not():
    middle = (15.0 * IN, 15.0 * IN)
    found = made(
        region(circle(middle, 15.0 * IN), [circle(middle, 10.0 * IN)]), Region(rectangle(200.0 * IN, 40.0 * IN))
    )
    marked = [part for part in found.parts if number_of(part)]
    assert {part.role for part in marked} == {Role.BACKER, Role.SPLICE_PLATE}
    assert len(marked) == sum(part.role in (Role.BACKER, Role.SPLICE_PLATE) for part in found.parts)
    for part in marked:
        text = number_of(part)
        shape = shapely.affinity.translate(polygon_of(part), -part.origin[0], -part.origin[1])
        strokes = shapely.MultiLineString([flatten_contour(stroke, 0.01) for stroke in text.strokes])
        assert strokes.within(shape.buffer(-0.2 * IN))  # half of the height of 1/2 in, less rounding
        for drill in part.drills:
            assert strokes.distance(shapely.Point(drill.centre)) >= drill.diameter / 2.0 + 0.2 * IN
        others = [one for one in part.texts if one is not text]
        for mark in (*part.marks, *(stroke for one in others for stroke in one.strokes)):
            assert strokes.distance(shapely.LineString(flatten_contour(mark, 0.01))) >= 0.2 * IN


def test_numbers_are_read_from_the_part_cut_mirrored_too():
    part = by_id(made(Region(rectangle(30.0 * IN, 20.0 * IN))))["line1-01-backer"]
    straight = placed_marks(PlacedPart(part, Placement(part.id, 0, 0.0, 0.0)))
    turned = placed_marks(PlacedPart(part, Placement(part.id, 0, 0.0, 0.0, 0.0, mirrored=True)))
    shift = ends(straight).min(axis=0) - ends(turned).min(axis=0)
    assert ends(turned) + shift == pytest.approx(ends(straight), abs=1e-6)  # the same word, not its mirror image


def test_numbers_are_left_out_when_not_wanted_and_told_when_there_is_no_room():
    panel = Region(rectangle(30.0 * IN, 20.0 * IN))
    none = made(panel, settings=[("part number height", 0.0)])
    assert not any(part.texts for part in none.parts)
    everywhere = made(panel, settings=[("part number height in view", 0.5 * IN)])
    assert number_of(by_id(everywhere)["line1-01-face"])
    small = made(Region(rectangle(2.0 * IN, 2.0 * IN)))
    (said,) = [one for one in small.findings if one.code == FabricationCode.NUMBER_LEFT_OUT]
    assert "line1-01-backer" in said.message


def test_a_number_is_smaller_where_room_is_short():
    found = by_id(made(Region(rectangle(20.0 * IN, 1.1 * IN))))
    text = number_of(found["line1-01-backer"])
    high = np.ptp(ends(text.strokes)[:, 1])
    assert 0.25 * IN - 1e-6 <= high < 0.5 * IN
