"""The market hall's emblem, larger than any sheet: its pieces are the emblem again, joined, explained and carried.

0.001 in² for the union of pieces is what the shop asks for; laps and gaps are taken off or added where they are.
"""

from __future__ import annotations

import pytest
import shapely

from app.fabrication.fabricate import fabricate
from app.fabrication.part import Role
from app.fabrication.remarks import FabricationCode
from app.fabrication.rooms import fits, rooms_of
from app.fabrication.seam_cuts import cut_along
from app.fabrication.shipping import shipping_box
from app.fabrication.workshop import undivided, workshop_of
from geometry.findings import Severity
from geometry.measure import region_area, region_bounds
from geometry.transform import transform_region, translation
from tests.app.fabrication.emblem import emblem
from tests.app.fabrication.letters import IN, polygon_of


@pytest.fixture(scope="module")
def made():
    asked, lines = emblem()
    return asked, lines, fabricate(asked, (lines,))


@pytest.fixture(scope="module")
def whole(made):
    """The parts before they are divided, and where their frame stands."""
    asked, lines, _ = made
    ((region,),) = (letter.regions for letter in lines.letters)
    bounds = region_bounds(region)
    corner = (bounds.min_x, bounds.min_y)
    return corner, undivided(region, corner, workshop_of(asked, asked.builds[0]))[1].pieces


@pytest.mark.parametrize("role", [Role.BACKER, Role.RETAINER])
def test_the_pieces_are_the_emblem_again(made, whole, role):
    """Plates lie under the backer's seams and rings are welded: no lap, no gap."""
    _, _, found = made
    corner, pieces = whole
    (drawn,) = [piece for piece in pieces if piece.role is role]
    parts = [part for part in found.parts if part.role is role]
    assert len(parts) > 1
    assert sum(region_area(part.region) for part in parts) == pytest.approx(
        region_area(drawn.region), abs=0.001 * IN**2
    )
    # In the same place: what is cut from the drawn shape along the seams is, piece by piece, what was made.
    cut = [transform_region(drawn.region, translation(*corner))]
    for seam in found.seams:
        if seam.role is role:
            cut, has_cut = cut_along(cut, type(seam.seam)(seam.start, seam.end))
            assert has_cut
    ours = sorted(round(region_bounds(one).min_x, 3) for one in cut)
    assert ours == pytest.approx(sorted(round(part.origin[0], 3) for part in parts), abs=0.01)
    assert sorted(map(region_area, cut)) == pytest.approx(sorted(region_area(part.region) for part in parts), abs=0.1)


def test_the_pieces_of_the_face_leave_their_gaps_and_nothing_else(made, whole):
    _, _, found = made
    _, pieces = whole
    (drawn,) = [piece for piece in pieces if piece.role is Role.FACE]
    faces = [polygon_of(part) for part in found.parts if part.role is Role.FACE]
    together = shapely.union_all(faces)
    assert together.area == pytest.approx(sum(face.area for face in faces), abs=1e-3)  # none lies over another
    said = [
        one.message for one in found.findings if one.code == FabricationCode.PART_DIVIDED and "the face" in one.message
    ]
    assert len(said) == sum(one.role is Role.FACE for one in found.seams)
    missing = region_area(drawn.region) - sum(
        region_area(part.region) for part in found.parts if part.role is Role.FACE
    )
    seams = sum(shapely.LineString([one.start, one.end]).length for one in found.seams if one.role is Role.FACE)
    assert 0.0 < missing < 0.75 * IN * seams


def test_every_piece_fits_a_sheet_and_every_seam_of_the_backer_has_its_plates(made):
    asked, _, found = made
    materials = {one.id: one for one in asked.materials}
    assert all(fits(part.region, rooms_of(materials[part.material], asked.stock)) for part in found.parts)
    plates = [polygon_of(part) for part in found.parts if part.role is Role.SPLICE_PLATE]
    for seam in found.seams:
        if seam.role is Role.BACKER:
            line = shapely.LineString([seam.start, seam.end])
            assert any(plate.buffer(-1.0).intersects(line) for plate in plates)
    backers = shapely.union_all([polygon_of(part) for part in found.parts if part.role is Role.BACKER])
    assert all(plate.difference(backers.buffer(0.01)).area < 1.0 for plate in plates)


def test_seams_are_sound_staggered_and_explained_and_the_sections_are_carried(made):
    _, _, found = made
    codes = [one.code for one in found.findings]
    assert codes.count(FabricationCode.PART_DIVIDED) == len(found.seams)
    assert FabricationCode.SEAM_UNSOUND not in codes
    assert not [one for one in found.findings if one.severity is Severity.ERROR]
    assert all("crosses" in one.reason and "no corner" in one.reason for one in found.seams)
    for part in found.parts:
        if part.role is Role.BACKER:
            assert shipping_box([part.region])[0] <= 102.0 * IN  # 23 CFR 658.15
