"""Parts of letters whose sizes can be worked out by hand, and findings for all that does not come out."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from app.errors import JobError
from app.fabrication.fabricate import fabricate
from app.fabrication.kinds import MAKING
from app.fabrication.part import Role
from app.fabrication.remarks import FabricationCode
from app.job.kinds import KINDS
from geometry.arcs import circle
from geometry.build import polygon, rectangle, region
from geometry.contour import Region
from geometry.curve import Arc, Line
from geometry.findings import Severity
from geometry.measure import region_area, region_bounds, region_perimeter
from geometry.transform import transform_region, translation
from tests.app.fabrication.letters import IN, by_id, job, lettering, made, polygon_of

FLANGE = ("retainer flange", 1.25 * IN)


def letter_o(outer: float = 24.0, inner: float = 12.0) -> Region:
    """An O by its two diameters, inches."""
    middle = (outer / 2.0 * IN, outer / 2.0 * IN)
    return region(circle(middle, outer / 2.0 * IN), [circle(middle, inner / 2.0 * IN)])


def codes(found) -> set[str]:
    return {finding.code for finding in found.findings}


def test_parts_of_a_plain_bar():
    """An I of 6 x 24 in: return 0.040, backer fit 0.020, face clearance 1/16, flange 1 1/2 in (common practice)."""
    parts = by_id(made(Region(rectangle(6.0 * IN, 24.0 * IN))))
    sizes = {
        name: (region_bounds(part.region).width / IN, region_bounds(part.region).height / IN)
        for name, part in parts.items()
    }
    assert sizes["line1-01-backer"] == pytest.approx((5.88, 23.88), abs=1e-6)
    assert sizes["line1-01-face"] == pytest.approx((5.795, 23.795), abs=1e-6)
    assert sizes["line1-01-retainer"] == pytest.approx((6.0, 24.0), abs=1e-6)
    assert set(parts) == {"line1-01-backer", "line1-01-face", "line1-01-retainer"}
    ring = parts["line1-01-retainer"].region
    assert region_area(ring) / IN**2 == pytest.approx(6.0 * 24.0 - 3.0 * 21.0, abs=1e-6)
    assert region_bounds(Region(ring.holes[0])).width / IN == pytest.approx(3.0, abs=1e-6)
    assert parts["line1-01-backer"].origin == pytest.approx((0.06 * IN, 0.06 * IN))
    assert parts["line1-01-retainer"].origin == pytest.approx((0.0, 0.0))
    for part in parts.values():
        bounds = region_bounds(part.region)
        assert (bounds.min_x, bounds.min_y) == pytest.approx((0.0, 0.0))


def test_areas_and_edges_of_an_o():
    """V23: a 24/12 in O has a face of 339.292 in2 and 113.097 in of edge when nothing is taken off."""
    nothing = [("return thickness", 0.0), ("face clearance", 0.0), ("backer fit", 0.0)]
    parts = by_id(made(letter_o(), settings=nothing))
    face = parts["line1-01-face"].region
    assert region_area(face) / IN**2 == pytest.approx(339.292, abs=0.01)
    assert region_perimeter(face) / IN == pytest.approx(113.097, abs=0.01)
    parts = by_id(made(letter_o()))
    inset = 0.04 + 1.0 / 16.0
    assert region_area(parts["line1-01-face"].region) / IN**2 == pytest.approx(
        math.pi * ((12.0 - inset) ** 2 - (6.0 + inset) ** 2), abs=0.01
    )
    assert region_area(parts["line1-01-backer"].region) / IN**2 == pytest.approx(
        math.pi * (11.94**2 - 6.06**2), abs=0.01
    )


def test_rings_of_an_o():
    """V18: the ring of 24 in outside with a flange of 1.25 in has pi (12^2 - 10.75^2) = 89.339 in2."""
    parts = by_id(made(letter_o(), settings=[FLANGE]))
    assert set(parts) == {"line1-01-backer", "line1-01-face", "line1-01-retainer", "line1-01-counter-1"}
    main, counter = parts["line1-01-retainer"], parts["line1-01-counter-1"]
    assert (main.role, counter.role) == (Role.RETAINER, Role.COUNTER_RETAINER)
    assert region_area(main.region) / IN**2 == pytest.approx(89.339, abs=0.01)
    # The counter's ring stands round the 12 in hole, its flange outwards: 14.5 in outside.
    assert region_bounds(counter.region).width / IN == pytest.approx(14.5, abs=1e-6)
    assert region_area(counter.region) / IN**2 == pytest.approx(math.pi * (7.25**2 - 6.0**2), abs=0.01)
    # V20: it nests in the main ring's drop of 21.5 in, cut with a 1/4 in tool and 3/8 in apart: 15.25 <= 21.0.
    drop = region_bounds(Region(main.region.holes[0])).width / IN - 2.0 * 0.25
    assert drop == pytest.approx(21.0, abs=1e-6)
    assert region_bounds(counter.region).width / IN + 2.0 * 0.375 <= drop
    # The visible band is the stroke less two flanges.
    assert shapely.distance(polygon_of(main), polygon_of(counter)) / IN == pytest.approx(6.0 - 2.5, abs=0.001)


def test_retainer_fit_moves_both_rings_over_the_wall():
    fit = 1.0 / 16.0
    parts = by_id(made(letter_o(), settings=[FLANGE, ("retainer fit", fit * IN)]))
    main, counter = parts["line1-01-retainer"], parts["line1-01-counter-1"]
    assert region_bounds(main.region).width / IN == pytest.approx(24.0 + 2.0 * fit, abs=1e-6)
    assert region_area(main.region) / IN**2 == pytest.approx(
        math.pi * ((12.0 + fit) ** 2 - (10.75 + fit) ** 2), abs=0.01
    )
    assert region_area(counter.region) / IN**2 == pytest.approx(
        math.pi * ((7.25 - fit) ** 2 - (6.0 - fit) ** 2), abs=0.01
    )


def test_edges_stay_lines_and_arcs():
    for part in made(letter_o(), Region(rectangle(200.0, 600.0))).parts:
        for contour in (part.region.outer, *part.region.holes):
            assert all(isinstance(segment, Line | Arc) for segment in contour.segments)
    circles = by_id(made(letter_o()))["line1-01-backer"].region
    assert all(isinstance(segment, Arc) for segment in circles.outer.segments)


def test_rings_that_meet_become_one_plate():
    """A counter too near the edge: the two flanges overlap there, and one plate with a C-shaped opening is left."""
    off_centre = region(rectangle(500.0, 500.0), [rectangle(150.0, 150.0, at=(30.0, 175.0))])
    found = made(off_centre, settings=[("retainer flange", 38.1)])
    parts = by_id(found)
    assert set(parts) == {"line1-01-backer", "line1-01-face", "line1-01-retainer"}
    plate = parts["line1-01-retainer"]
    assert len(plate.region.holes) == 2  # the counter and the opening
    finding = next(one for one in found.findings if one.code == FabricationCode.FLANGES_MEET)
    assert finding.severity is Severity.WARNING
    assert "1 of 1 counter retainers" in finding.message
    assert '3"' in finding.message
    assert '1.181" at its narrowest' in finding.message
    # By shapely: the letter less its erosion by the flange.
    letter = polygon_of(parts["line1-01-retainer"]).envelope - shapely.box(30.0, 175.0, 180.0, 325.0)
    expected = letter - letter.buffer(-38.1, quad_segs=64)
    assert polygon_of(plate).symmetric_difference(expected).area < 1.0


def test_two_counters_close_together_share_a_retainer():
    eight = region(
        rectangle(400.0, 700.0),
        [rectangle(120.0, 200.0, at=(140.0, 130.0)), rectangle(120.0, 200.0, at=(140.0, 370.0))],
    )
    found = made(eight)
    parts = by_id(found)
    assert "line1-01-counter-1" in parts
    assert "line1-01-counter-2" not in parts
    assert len(parts["line1-01-counter-1"].region.holes) == 2
    assert FabricationCode.FLANGES_MEET in codes(found)


def test_a_waist_splits_the_opening():
    below = [(0, 0), (200, 0), (200, 40), (280, 40), (280, 0), (480, 0)]
    waist = polygon([*below, *((x, 140 - y) for x, y in reversed(below))])
    found = made(Region(waist))
    parts = by_id(found)
    assert len(parts["line1-01-retainer"].region.holes) == 2
    assert FabricationCode.OPENING_SPLIT in codes(found)
    light = next(one for one in found.findings if one.code == FabricationCode.NARROW_LIGHT)
    assert 'no light comes through where the stroke is 2.362"' in light.message
    assert 200.0 <= light.where[0] <= 280.0


def test_no_light_is_an_error_and_the_rest_is_still_made():
    found = made(Region(rectangle(70.0, 600.0)))
    assert set(by_id(found)) == {"line1-01-backer", "line1-01-face"}
    finding = next(one for one in found.findings if one.code == FabricationCode.NO_LIGHT)
    assert finding.severity is Severity.ERROR
    assert finding.subject == "line1-01"
    assert 'must be wider than 3"' in finding.message
    assert '2.756" at its narrowest' in finding.message


def test_an_opening_too_narrow_for_the_cutter_stays_closed():
    found = made(Region(rectangle(2 * 38.1 + 5.0, 600.0)))  # 5 mm left for the 6.35 mm cutter
    assert {FabricationCode.OPENING_LOST, FabricationCode.NO_LIGHT} <= codes(found)
    assert "line1-01-retainer" not in by_id(found)


def test_what_vanishes_is_reported_by_role():
    sliver = Region(rectangle(2.0, 600.0))
    found = made(sliver)
    assert found.parts == ()
    gone = [one for one in found.findings if one.code == FabricationCode.PART_VANISHED]
    assert [one.severity for one in gone] == [Severity.ERROR, Severity.ERROR]
    assert 'no backer is left after taking 0.06" off each edge (return thickness + backer fit)' in gone[0].message
    assert "no face is left after taking" in gone[1].message
    assert FabricationCode.NO_LIGHT in codes(found)


def test_a_hairline_splits_the_backer():
    below = [(0, 0), (200, 0), (200, 99), (300, 99), (300, 0), (500, 0)]
    bell = polygon([*below, *((x, 200 - y) for x, y in reversed(below))])
    found = made(Region(bell))
    parts = by_id(found)
    assert {"line1-01-backer-1", "line1-01-backer-2", "line1-01-face-1", "line1-01-face-2"} <= set(parts)
    split = [one.message for one in found.findings if one.code == FabricationCode.PART_SPLIT]
    assert len(split) == 2
    assert "the backer falls into 2 pieces" in split[0]


def test_counters_that_run_together_are_reported():
    thin_bridge = region(
        rectangle(600.0, 400.0),
        [rectangle(150.0, 200.0, at=(100.0, 100.0)), rectangle(150.0, 200.0, at=(252.0, 100.0))],
    )
    found = made(thin_bridge)
    lost = [one.message for one in found.findings if one.code == FabricationCode.COUNTER_LOST]
    assert "1 of 2 counters of the backer run into its edge or each other" in lost[0]


def test_counters_smaller_than_the_retainer_fit_are_reported():
    dotted = region(rectangle(300.0, 300.0), [circle((150.0, 150.0), 1.0)])
    found = made(dotted, settings=[("retainer fit", 1.5)])
    lost = [one for one in found.findings if one.code == FabricationCode.COUNTER_LOST]
    assert "close up in the retainer" in lost[0].message
    assert lost[0].severity is Severity.ERROR


def test_letter_heights():
    low = made(Region(rectangle(150.0, 200.0)))
    assert FabricationCode.LOW_LETTER in codes(low)
    assert 'is 7.874" high, below 8"' in low.findings[0].message
    assert FabricationCode.LOW_LETTER not in codes(made(Region(rectangle(150.0, 8.0 * IN))))
    tall = made(Region(rectangle(500.0, 73.0 * IN)))
    assert FabricationCode.TALL_LETTER in codes(tall)
    # The dot of an i belongs to its letter: the letter counts, not the dot.
    i = (Region(rectangle(100.0, 500.0)), Region(rectangle(100.0, 100.0, at=(0.0, 600.0))))
    assert FabricationCode.LOW_LETTER not in codes(made(i))


def test_lamps_need_a_stroke():
    found = made(Region(rectangle(36.0, 600.0)), settings=[("retainer flange", 5.0)])
    narrow = next(one for one in found.findings if one.code == FabricationCode.NARROW_STROKE)
    assert 'stroke of 1.417" is narrower than 1 1/2"' in narrow.message
    wide = made(Region(rectangle(38.1, 600.0)), settings=[("retainer flange", 5.0)])
    assert FabricationCode.NARROW_STROKE not in codes(wide)


def test_tight_corners_and_slots_are_counted():
    comb = polygon([(0, 0), (400, 0), (400, 300), (203, 300), (203, 150), (198, 150), (198, 300), (0, 300)])
    found = made(Region(comb))
    tight = next(one for one in found.findings if one.code == FabricationCode.TIGHT_CORNER)
    assert "retainer" in tight.message
    slots = [one.message for one in found.findings if one.code == FabricationCode.NARROW_SLOT]
    assert any('retainer has a gap of 0.197" that the 1/4" cutter does not pass' in one for one in slots)


def test_small_parts_need_holding():
    small = made(Region(rectangle(140.0, 140.0)), settings=[("retainer flange", 25.4)])
    assert FabricationCode.SMALL_PART in codes(small)
    narrow = made(Region(rectangle(70.0, 900.0)), settings=[("retainer flange", 12.7)])
    assert "narrowest" in next(one.message for one in narrow.findings if one.code == FabricationCode.SMALL_PART)
    assert FabricationCode.SMALL_PART not in codes(made(Region(rectangle(300.0, 300.0))))


def test_long_faces_bind_and_the_cure_is_named():
    wide = Region(rectangle(96.08 * IN, 20.0 * IN))  # 96 in between the walls
    found = made(wide, settings=[("face clearance", 0.125 * IN), ("retainer flange", 2.0 * IN)])
    binds = next(one for one in found.findings if one.code == FabricationCode.FACE_BINDS)
    assert 'lacks 0.051" on each side' in binds.message
    assert 'a face clearance of 3/16" passes' in binds.message
    assert FabricationCode.FACE_BINDS not in codes(made(wide, settings=[("face clearance", 3.0 / 16.0 * IN)]))


def test_every_loose_piece_of_a_letter_gets_its_own_parts():
    i = (Region(rectangle(150.0, 500.0)), Region(rectangle(160.0, 150.0, at=(0.0, 600.0))))
    parts = by_id(made(i, sets=3))
    assert {"line1-01-a-backer", "line1-01-b-backer", "line1-01-a-retainer", "line1-01-b-retainer"} <= set(parts)
    assert {part.quantity for part in parts.values()} == {3}
    assert parts["line1-01-b-backer"].origin == pytest.approx((0.06 * IN, 600.0 + 0.06 * IN))
    assert parts["line1-01-b-backer"].name == "A b backer"


def test_grain_and_sides_rule_how_a_part_may_lie():
    parts = by_id(made(letter_o()))
    assert (parts["line1-01-backer"].rotations, parts["line1-01-backer"].may_mirror) == (None, True)
    assert (parts["line1-01-face"].rotations, parts["line1-01-face"].may_mirror) == (None, False)
    grained = by_id(made(letter_o(), face="composite-white-3mm"))
    assert grained["line1-01-face"].rotations == (0.0, 180.0)


def test_equal_letters_give_equal_parts_wherever_they_stand():
    o = letter_o()
    moved = transform_region(o, translation(1234.5, -77.7))
    parts = by_id(made(o, moved, letter_o(22.0)))
    first, second, other = (parts[f"line1-0{n}-face"] for n in (1, 2, 3))
    assert first.region is second.region
    assert other.region != first.region
    assert second.origin == pytest.approx((first.origin[0] + 1234.5, first.origin[1] - 77.7))


def test_letters_of_unknown_artwork_are_refused():
    with pytest.raises(JobError, match="'line1' have no such artwork"):
        fabricate(replace(job(), artwork=()), (lettering(letter_o()),))


def test_every_kind_of_build_can_be_made():
    assert set(MAKING) == set(KINDS)
