"""Film on faces: enough of it everywhere, few panels, overlaps in line, away from the seams of the face.

V16 of the trade notes for the count; half-inch overlap and half an inch all round for trimming (common practice);
seams of face and film 6 in apart (common practice).
"""

from __future__ import annotations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from app.fabrication.fabricate import fabricate
from app.fabrication.film import best_laps, film_panels
from app.fabrication.part import Fabrication, Goods, Role
from app.fabrication.remarks import FabricationCode
from geometry.arcs import circle
from geometry.build import rectangle, region
from geometry.contour import Region
from geometry.findings import Severity
from tests.app.fabrication.letters import IN, job, lettering, made, polygon_of

ROLL = [("film roll width", 48.0 * IN)]  # 47 1/2 in of use
FLUSH = [*ROLL, ("face clearance", 0.0), ("return thickness", 0.0)]


def film(found: Fabrication):
    return [one for one in found.strips if one.goods is Goods.FILM]


@pytest.mark.parametrize(("length", "count"), [(47.5, 1), (94.5, 2), (94.51, 3), (132.0, 3), (141.6, 4)])
def test_panels_of_film(length, count):
    """V16: usable 47.5 in, lap 0.5 in."""
    assert film_panels(length, 47.5, 0.5) == count
    panels = film(made(Region(rectangle(length * IN, 30.0 * IN)), settings=FLUSH))
    assert len(panels) == count or length > 96.0  # longer faces are divided, and overlaps keep away from their seams


def test_two_equal_panels_cover_the_face_with_their_lap():
    """94 1/2 in is as wide as two panels reach: the lap is whole, and nothing is left to stand out at the sides."""
    found = made(Region(rectangle(94.5 * IN, 30.0 * IN)), settings=FLUSH)
    panels = film(found)
    assert [one.width / IN for one in panels] == pytest.approx([47.5, 47.5])
    assert [one.cut_length / IN for one in panels] == pytest.approx([31.0, 31.0], abs=0.02)
    assert [one.length / IN for one in panels] == pytest.approx([30.0, 30.0])
    (said,) = [one for one in found.findings if one.code == FabricationCode.FILM_DIVIDED]
    assert 'stands out by 0" only' in said.message


def test_a_face_narrower_than_the_roll_takes_one_panel_with_the_allowance_all_round():
    letter = region(circle((15.0 * IN, 15.0 * IN), 15.0 * IN), [circle((15.0 * IN, 15.0 * IN), 7.0 * IN)])
    (panel,) = film(made(letter, settings=ROLL, sets=2))
    face = 30.0 - 2.0 * (0.04 + 1.0 / 16.0)
    assert panel.width / IN == pytest.approx(face + 1.0, abs=0.1)
    assert panel.cut_length / IN == pytest.approx(face + 1.0, abs=0.1)
    assert panel.quantity == 2
    assert panel.stock_width / IN == pytest.approx(47.5)
    outline = shapely.Polygon(panel.shape.outer, panel.shape.holes)
    # The counter is cut out too, half an inch smaller all round.
    assert outline.interiors[0].length / IN == pytest.approx(3.1416 * (14.0 + 2 * 0.1025 - 1.0), rel=0.02)


def test_overlaps_keep_away_from_the_seams_of_the_face_and_stand_in_line():
    found = made(Region(rectangle(260.0 * IN, 40.0 * IN)), settings=ROLL)
    seams = [one.start[0] for one in found.seams if one.role is Role.FACE]
    assert seams
    (said,) = [one for one in found.findings if one.code == FabricationCode.FILM_DIVIDED]
    assert said.severity is Severity.NOTE
    widths = [one.width for one in film(found)]
    low = min(part.origin[0] for part in found.parts if part.role is Role.FACE)
    left = low - 0.5 * IN
    for width in widths[:-1]:
        left += width - 0.5 * IN
        assert min(abs(left - seam) for seam in seams) >= 6.0 * IN - 0.01
        assert min(abs(left + 0.5 * IN - seam) for seam in seams) >= 6.0 * IN - 0.01
    assert all(width <= 47.5 * IN + 1e-6 for width in widths)


def test_loose_pieces_of_a_letter_share_their_overlaps():
    """Two bars over each other, 80 in wide: both in two panels, the overlaps in line."""
    low = Region(rectangle(80.0 * IN, 12.0 * IN))
    high = Region(rectangle(80.0 * IN, 12.0 * IN, at=(0.0, 40.0 * IN)))
    panels = film(made((low, high), settings=ROLL))
    assert [one.name for one in panels] == [
        "film panel 1 of 2, piece 1 of 2",
        "film panel 1 of 2, piece 2 of 2",
        "film panel 2 of 2, piece 1 of 2",
        "film panel 2 of 2, piece 2 of 2",
    ]
    assert panels[0].width == pytest.approx(panels[1].width, abs=0.5)


def test_every_part_of_every_face_is_covered_twice_at_most():
    """What all panels cover, laid where they belong, holds the faces; twice only in the overlaps."""
    shapes = (region(rectangle(150.0 * IN, 50.0 * IN), [circle((60.0 * IN, 25.0 * IN), 15.0 * IN)]),)
    found = fabricate(job(settings=ROLL), (lettering(*shapes),))
    faces = shapely.union_all([polygon_of(part) for part in found.parts if part.role is Role.FACE])
    area = sum(shapely.Polygon(one.shape.outer, one.shape.holes).area for one in film(found))
    grown = faces.buffer(0.5 * IN)
    laps = sum(one.cut_length * 0.5 * IN for one in film(found)[1:])
    assert faces.area < area <= grown.area + laps + 0.5 * grown.length  # outlines are simplified by half a mm


def test_a_roll_too_narrow_for_its_own_overlap_is_said():
    found = made(Region(rectangle(30.0 * IN, 30.0 * IN)), settings=[("film roll width", 0.9 * IN)])
    assert not film(found)
    (said,) = [one for one in found.findings if one.code == FabricationCode.FILM_LEFT_OUT]
    assert "choose a wider roll" in said.message
    assert said.severity is Severity.ERROR


@settings(max_examples=60, deadline=None)
@given(
    length=st.floats(10.0, 500.0),
    usable=st.floats(20.0, 60.0),
    lap=st.floats(0.0, 2.0),
    seams=st.lists(st.floats(0.0, 1.0), max_size=4),
    allowance=st.floats(0.0, 1.0),
)
def test_panels_always_cover_the_length_and_are_never_wider_than_the_roll(length, usable, lap, seams, allowance):
    at = [(share * length * IN, share * length * IN) for share in seams]
    laps = best_laps(length * IN, usable * IN, lap * IN, at, 6.0 * IN, allowance * IN, IN / 16.0)
    starts = [-laps.side, *laps.places]
    ends = [*(place + lap * IN for place in laps.places), length * IN + laps.side]
    assert len(starts) - film_panels(length, usable, lap) in (0, 1)
    assert all(end - start <= usable * IN + 1e-4 for start, end in zip(starts, ends, strict=True))
    assert 0.0 <= laps.side + 1e-6 <= allowance * IN + 1e-5
    for place in laps.places:
        apart = min((max(x - place - lap * IN, place - x, 0.0) for x, _ in at), default=float("inf"))
        assert apart >= laps.nearest - 1e-6
