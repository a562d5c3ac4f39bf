"""What may be carried without a permit: 102 in wide (23 CFR 658.15), on the narrowest rectangle round a letter."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from app.fabrication.fabricate import fabricate
from app.fabrication.part import Role
from app.fabrication.remarks import FabricationCode
from app.fabrication.shipping import shipping_box
from app.job.document import LetterSeams, Seam
from geometry.build import polygon, rectangle
from geometry.contour import Region
from geometry.findings import Severity
from geometry.measure import region_bounds
from geometry.transform import rotation, transform_region
from tests.app.fabrication.letters import IN, job, lettering, made


@pytest.mark.parametrize("turn", [0.0, 17.0, 45.0, 90.0, 133.0])
def test_the_narrowest_rectangle_does_not_depend_on_how_a_letter_stands(turn):
    panel = transform_region(Region(rectangle(80.0 * IN, 200.0 * IN)), rotation(turn))
    assert shipping_box([panel]) == pytest.approx((80.0 * IN, 200.0 * IN), rel=1e-9)


def test_a_triangle_ships_along_its_longest_side():
    """Height over the longest side of a 30-40-50 triangle is 24."""
    assert shipping_box([Region(polygon([(0, 0), (30, 0), (0, 40)]))]) == pytest.approx((24.0, 50.0), rel=1e-6)


@pytest.mark.parametrize(
    ("width", "packing", "passes"), [(101.9, 0.0, True), (102.1, 0.0, False), (101.1, 0.5, False), (100.9, 0.5, True)]
)
def test_v40_the_load_width(width, packing, passes):
    """V40: 101.9 in passes, 102.1 in fails; half an inch of packing on every side makes it 101 in, as makers plan."""
    found = made(Region(rectangle(width * IN, 110.0 * IN)), settings=[("packing", packing * IN)])
    assert any(one.code == FabricationCode.WIDE_LOAD for one in found.findings) is not passes


def test_a_deep_frame_counts():
    """5 in of return, 96 in of frame and an inch of packing are 102 in; more is too much, lying or standing."""
    letter = Region(rectangle(103.0 * IN, 103.0 * IN))
    short = [("load length", 104.0 * IN), ("load width", 104.0 * IN), ("load height", 102.0 * IN)]
    for frame, passes in ((96.0, True), (96.1, False)):
        found = made(letter, settings=[*short, ("frame depth", frame * IN)])
        assert any(one.code == FabricationCode.WIDE_LOAD for one in found.findings) is not passes


def test_a_wide_low_letter_may_stand_on_its_edge():
    """110 x 90 in: the load is 80 in wide here, but the letter, 6 in deep, stands on its longer side."""
    letter = Region(rectangle(110.0 * IN, 90.0 * IN))
    found = made(letter, settings=[("load width", 80.0 * IN)])
    assert not any(one.code == FabricationCode.WIDE_LOAD for one in found.findings)


def test_sections_that_are_still_too_large_are_told():
    """Own seams that leave 110 in across are not enough, though the pieces would fit the load's length."""
    asked = job()
    panel = Region(rectangle(260.0 * IN, 110.0 * IN))
    own = (Seam((130.0 * IN, -IN), (130.0 * IN, 111.0 * IN)),)
    asked = replace(asked, seams=(LetterSeams("line1-01", "backer", own),))
    found = fabricate(asked, (lettering(panel),))
    (said,) = [one for one in found.findings if one.code == FabricationCode.WIDE_LOAD]
    assert said.severity is Severity.WARNING
    assert "2 of its 2 sections" in said.message


def test_a_letter_too_wide_for_the_load_ships_in_sections_of_its_backer():
    found = made(Region(rectangle(120.0 * IN, 130.0 * IN)))
    (said,) = [one for one in found.findings if one.code == FabricationCode.WIDE_LOAD]
    assert said.severity is Severity.NOTE
    assert "sections" in said.message
    for part in found.parts:
        if part.role is Role.BACKER:
            assert shipping_box([part.region])[0] <= 102.0 * IN


def test_faces_in_pieces_move_piece_by_piece():
    """A 200 in face in one piece would need 0.37 in on each side when hot; in pieces of 67 in, 1/8 in is enough."""
    panel = Region(rectangle(200.0 * IN, 40.0 * IN))
    clearance = [("face clearance", 3.0 / 16.0 * IN)]
    found = fabricate(job(settings=clearance), (lettering(panel),))
    longest = max(
        max(region_bounds(part.region).width, region_bounds(part.region).height)
        for part in found.parts
        if part.role is Role.FACE
    )
    binds = 4.0e-5 * 92.0 * longest / 2.0 > 3.0 / 16.0 * IN
    assert any(one.code == FabricationCode.FACE_BINDS for one in found.findings) is binds
    assert math.isclose(4.0e-5 * 92.0 * 200.0 / 2.0, 0.368)


def test_large_rings_are_cut_in_sectors_when_asked():
    panel = Region(rectangle(100.0 * IN, 40.0 * IN))
    whole = made(panel, settings=[("try retainers in sectors above", 0.0)])
    assert sum(part.role is Role.RETAINER for part in whole.parts) == 1
    sectors = made(panel, settings=[("divide retainers above", 60.0 * IN)])
    rings = [part for part in sectors.parts if part.role is Role.RETAINER]
    assert len(rings) >= 2
    for part in rings:
        assert min(region_bounds(part.region).width, 60.0 * IN) == region_bounds(part.region).width
    assert sum(part.role is Role.BACKER for part in sectors.parts) == 1
