"""Parts larger than any sheet: nothing is lost, every piece fits, and seams keep to the limits.

Limits: 2 in from corners and holes (a state traffic-sign specification), no piece under 18 in (a state highway
specification), seams of the layers 6 in apart, plates 3 1/2 in wide with rivets 3 1/2 in apart (common practice).
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from app.fabrication.fabricate import fabricate
from app.fabrication.part import Role
from app.fabrication.remarks import FabricationCode
from app.fabrication.rooms import Room, fits, rooms_of
from app.fabrication.seam_choice import Bench, best_division, stock_taken
from app.fabrication.seam_costs import SeamLimits
from app.fabrication.seam_costs import polygon_of as polygon_for
from app.fabrication.seam_cuts import cut_along
from app.fabrication.seam_search import divisions, equal_division, judge
from app.job.document import LetterSeams, Seam
from app.stock.book import StockSheet
from app.stock.defaults import shipped
from geometry.arcs import circle, point_at
from geometry.build import closed, polygon, rectangle, region
from geometry.contour import Region
from geometry.curve import Arc, Line
from geometry.findings import Severity
from geometry.measure import contour_length, point_in_region, region_area, region_bounds
from geometry.transform import rotation, transform_region
from tests.app.fabrication.letters import IN, by_id, job, lettering, polygon_of

LIMITS = SeamLimits(2.0 * IN, 3.0 * IN, 18.0 * IN, 6.0 * IN)
SHEET = StockSheet("48x120", "m", "48 x 120", 48.0 * IN, 120.0 * IN)
ROOM = Room(47.25 * IN, 119.25 * IN, True, SHEET)


def letter_o(outer: float, inner: float) -> Region:
    middle = (outer / 2.0 * IN, outer / 2.0 * IN)
    return region(circle(middle, outer / 2.0 * IN), [circle(middle, inner / 2.0 * IN)])


def letter_e(width: float, height: float, stroke: float) -> Region:
    points = [(0, 0), (width, 0), (width, stroke), (stroke, stroke)]
    middle = (height - stroke) / 2.0
    points += [(stroke, middle), (width * 0.8, middle), (width * 0.8, middle + stroke), (stroke, middle + stroke)]
    points += [(stroke, height - stroke), (width, height - stroke), (width, height), (0, height)]
    return Region(polygon([(x * IN, y * IN) for x, y in points]))


def stadium(length: float, height: float) -> Region:
    r, x = height / 2.0 * IN, (length - height / 2.0) * IN
    return Region(
        closed(
            [
                Line((r, 0), (x, 0)),
                Arc((x, 0), (x, 2 * r), 1.0),
                Line((x, 2 * r), (r, 2 * r)),
                Arc((r, 2 * r), (r, 0), 1.0),
            ]
        )
    )


OVERSIZE = {
    "panel 8 ft x 36 ft": Region(rectangle(432.0 * IN, 96.0 * IN)),
    "O of 140 in": letter_o(140.0, 80.0),
    "E of 130 x 150 in": letter_e(130.0, 150.0, 26.0),
    "stadium of 200 x 60 in": stadium(200.0, 60.0),
    "wave of 180 in": Region(
        polygon(
            [(x * IN, 20.0 * IN * math.sin(x / 25.0)) for x in range(181)]
            + [(x * IN, (40.0 + 20.0 * math.sin(x / 25.0)) * IN) for x in range(180, -1, -1)]
        )
    ),
}


@pytest.mark.parametrize("name", OVERSIZE)
def test_divisions_fit_lose_nothing_and_keep_their_distance(name):
    shape = OVERSIZE[name]
    found = divisions(shape, (ROOM,), LIMITS)
    assert found
    assert [one.cost for one in found] == sorted(one.cost for one in found)
    for one in found:
        pieces = [shape]
        for seam in one.seams:
            pieces, has_cut = cut_along(pieces, seam)
            assert has_cut
        assert all(fits(piece, (ROOM,)) for piece in pieces)
        # 0.001 in2, as asked for the union of pieces.
        assert sum(map(region_area, pieces)) == pytest.approx(region_area(shape), abs=0.001 * IN**2)
    best = found[0]
    for seam in best.seams:
        judged = judge(polygon_for(shape), seam, LIMITS)
        assert judged.nearest >= LIMITS.clearance - 0.3, seam
        assert judged.narrowest >= LIMITS.least_stroke


@pytest.mark.parametrize("name", OVERSIZE)
def test_searched_seams_take_no_more_stock_than_equal_strips(name):
    shape, bench = OVERSIZE[name], job().stock
    bench = Bench(shipped().materials["alu-0.125"], tuple(bench), 9.525, True)
    chosen = best_division(shape, bench, LIMITS, ())
    equal = [equal_division(shape, bench.rooms, LIMITS, angle) for angle in (90.0, 0.0)]
    equal = [stock_taken(pieces_of(shape, one.seams), bench) for one in equal if one is not None]
    taken = stock_taken(pieces_of(shape, chosen.seams), bench)
    assert taken[0] == 0
    assert all(taken[:2] <= other[:2] for other in equal), (taken, equal)


def pieces_of(shape, seams):
    pieces = [shape]
    for seam in seams:
        pieces, _ = cut_along(pieces, seam)
    return pieces


def test_a_panel_is_divided_equally_with_as_few_seams_as_fit():
    """V17: butt pieces for L = 238 with U = 119 are 2, for 240 they are 3; equal pieces, not full ones and a sliver."""
    for length, count in ((230.0, 2), (240.0, 3)):
        best = divisions(Region(rectangle(length * IN, 40.0 * IN)), (ROOM,), LIMITS)[0]
        places = sorted(seam.start[0] / IN for seam in best.seams)
        assert len(places) == count - 1
        assert places == pytest.approx([length * k / count for k in range(1, count)], abs=1e-6)


def test_seams_stay_clear_of_counters_corners_and_narrow_places():
    """A bar with a notch that leaves 2 in where equal strips would be cut, and a hole beside it."""
    points = [(0, 0), (108, 0), (108, 38), (112, 38), (112, 0), (220, 0), (220, 40), (0, 40)]
    shape = region(polygon([(x * IN, y * IN) for x, y in points]), [circle((118.0 * IN, 20.0 * IN), 2.0 * IN)])
    best = divisions(shape, (ROOM,), LIMITS)[0]
    (seam,) = best.seams
    assert not 106.0 <= seam.start[0] / IN <= 122.0
    assert judge(polygon_for(shape), seam, LIMITS).nearest >= LIMITS.clearance - 0.3


def test_a_seam_that_ends_at_another_is_judged_by_the_strokes_it_crosses():
    """A frame 100 x 60 in with strokes of 10 in, parted level half way up: a seam from there up the left stroke runs
    through 30 in of material, one through the top stroke through 10 in.
    """
    frame = region(rectangle(100.0 * IN, 60.0 * IN), [rectangle(80.0 * IN, 40.0 * IN, at=(10.0 * IN, 10.0 * IN))])
    for x, length in ((5.0, 30.0), (50.0, 10.0)):
        up = Seam((x * IN, 30.0 * IN), (x * IN, 60.2 * IN))
        judged = judge(polygon_for(frame), up, LIMITS)
        assert (judged.length / IN, judged.strokes) == (pytest.approx(length, abs=0.01), 1)


@pytest.mark.parametrize("lean", [12.0, 30.0, 45.0, 77.0, 110.0])
def test_seams_run_square_across_a_bar_that_leans(lean):
    """220 x 30 in on 119.25 in of room: one seam, square across the bar, as short as the bar is wide."""
    bar = transform_region(Region(rectangle(220.0 * IN, 30.0 * IN)), rotation(lean))
    best = divisions(bar, (ROOM,), LIMITS)[0]
    (seam,) = best.seams
    (x0, y0), (x1, y1) = seam.start, seam.end
    angle = math.degrees(math.atan2(y1 - y0, x1 - x0))
    assert abs((angle - lean) % 180.0 - 90.0) < 0.1
    assert judge(polygon_for(bar), seam, LIMITS).length == pytest.approx(30.0 * IN, rel=1e-4)
    pieces, _ = cut_along([bar], seam)
    assert [region_area(one) / IN**2 for one in pieces] == pytest.approx([3300.0, 3300.0], rel=0.01)


def test_a_seam_leans_over_where_upright_it_would_run_into_holes():
    """Two rows of holes, shifted against each other: no upright line is clear of both, a leaning one is."""
    holes = [circle(((96.0 + 8.0 * k) * IN, 8.0 * IN), 1.5 * IN) for k in range(-4, 5)]
    holes += [circle(((100.0 + 8.0 * k) * IN, 32.0 * IN), 1.5 * IN) for k in range(-4, 5)]
    shape = region(rectangle(196.0 * IN, 40.0 * IN), holes)
    close = replace(LIMITS, clearance=2.0 * IN, least_stroke=2.0 * IN)
    best = divisions(shape, (Room(119.25 * IN, 119.25 * IN, True, SHEET),), close)[0]
    (seam,) = best.seams
    assert abs(seam.end[0] - seam.start[0]) > 1.0 * IN
    assert judge(polygon_for(shape), seam, close).nearest >= 1.9 * IN


def test_no_sheet_no_division():
    assert divisions(OVERSIZE["O of 140 in"], (), LIMITS) == ()


def test_grain_stays_along_the_letter():
    """Without turning, a panel 60 in high is cut into rows however long they are."""
    upright = Room(47.25 * IN, 119.25 * IN, False, SHEET)
    best = divisions(Region(rectangle(90.0 * IN, 60.0 * IN)), (upright,), LIMITS)[0]
    pieces = [Region(rectangle(90.0 * IN, 60.0 * IN))]
    for seam in best.seams:
        pieces, _ = cut_along(pieces, seam)
    for piece in pieces:
        assert region_bounds(piece).width <= 47.25 * IN
    assert not fits(Region(rectangle(90.0 * IN, 40.0 * IN)), (upright,))
    assert fits(Region(rectangle(90.0 * IN, 40.0 * IN)), (ROOM,))


@settings(max_examples=15, deadline=None)
@given(width=st.floats(50, 400), height=st.floats(20, 150), hole=st.floats(0.1, 0.8))
def test_any_frame_is_divided(width, height, hole):
    outer = rectangle(width * IN, height * IN)
    inset = hole * min(width, height) / 2.0 * IN
    inner = rectangle(width * IN - 2.0 * inset, height * IN - 2.0 * inset, at=(inset, inset))
    shape = region(outer, [inner])
    if fits(shape, (ROOM,)):
        return
    for one in divisions(shape, (ROOM,), replace(LIMITS, least_stroke=0.0))[:2]:
        pieces = [shape]
        for seam in one.seams:
            pieces, _ = cut_along(pieces, seam)
        assert all(fits(piece, (ROOM,)) for piece in pieces)
        assert sum(map(region_area, pieces)) == pytest.approx(region_area(shape), rel=1e-9)


@pytest.fixture(scope="module")
def panel():
    """A letter 260 x 40 in, plain: backer, face and retainer are all too long for any sheet."""
    return fabricate(job(), (lettering(Region(rectangle(260.0 * IN, 40.0 * IN))),))


def test_a_long_letter_in_all_its_layers(panel):
    parts = by_id(panel)
    roles = {role: [part for part in parts.values() if part.role is role] for role in Role}
    assert [len(roles[role]) for role in (Role.BACKER, Role.FACE, Role.SPLICE_PLATE)] == [2, 3, 1]
    assert not [one for one in panel.findings if one.severity is Severity.ERROR]
    backer = shapely.union_all([polygon_of(part) for part in roles[Role.BACKER]])
    assert backer.area == pytest.approx((260.0 - 0.12) * (40.0 - 0.12) * IN**2, abs=0.001 * IN**2)
    stock = job().stock
    materials = {one.id: one for one in job().materials}
    for part in parts.values():
        assert fits(part.region, rooms_of(materials[part.material], stock)), part.id


def test_layers_are_staggered(panel):
    places = {role: [one.start[0] for one in panel.seams if one.role is role] for role in Role}
    for one in places[Role.FACE]:
        assert min(abs(one - other) for other in places[Role.BACKER]) >= 6.0 * IN - 0.01
    for one in places[Role.RETAINER]:
        assert min(abs(one - other) for other in places[Role.FACE]) >= 6.0 * IN - 0.01
    assert not any(one.code == FabricationCode.SEAM_UNSOUND for one in panel.findings)


def test_face_pieces_leave_room_to_grow(panel):
    """Two neighbours grow 4.0e-5 /F x 92 F x their length towards each other; the gap holds that, in sixteenths."""
    faces = sorted((polygon_of(part) for part in panel.parts if part.role is Role.FACE), key=lambda one: one.bounds[0])
    for one, other in pairwise(faces):
        gap = other.bounds[0] - one.bounds[2]
        longest = max(face.bounds[2] - face.bounds[0] for face in faces)
        assert gap >= 4.0e-5 * 92.0 * 0.99 * longest
        assert (gap / IN * 16.0) == pytest.approx(round(gap / IN * 16.0), abs=1e-6)


def test_the_splice_plate_is_clear_of_the_return_and_shares_its_rivets(panel):
    (plate,) = [part for part in panel.parts if part.role is Role.SPLICE_PLATE]
    bounds = region_bounds(plate.region)
    assert bounds.width / IN == pytest.approx(3.5)
    # Backer 40 - 2 x 0.06 in, less the flange's lip of 1/2 in and 1/8 in of room at each end.
    assert bounds.height / IN == pytest.approx(39.88 - 2.0 * 0.625, abs=1e-3)
    seam = next(one for one in panel.seams if one.role is Role.BACKER)
    assert plate.origin[0] + bounds.width / 2.0 == pytest.approx(seam.start[0], abs=1e-6)
    holes = {
        (round(x + plate.origin[0], 3), round(y + plate.origin[1], 3)) for x, y in (d.centre for d in plate.drills)
    }
    drilled = [
        (round(x + part.origin[0], 3), round(y + part.origin[1], 3))
        for part in panel.parts
        if part.role is Role.BACKER
        for x, y in (drill.centre for drill in part.drills if drill.diameter < 4.0)  # rivets only
    ]
    assert holes == set(drilled)
    assert len(drilled) == len(plate.drills)
    rows = {}
    for x, y in sorted(holes):
        rows.setdefault(x, []).append(y)
    assert len(rows) == 2
    first, second = rows.values()
    for row in (first, second):
        assert max(b - a for a, b in pairwise(sorted(row))) <= 3.5 * IN + 1e-6
    assert not set(first) & set(second)  # staggered
    assert [drill.diameter / IN for drill in plate.drills] == pytest.approx([0.129] * len(plate.drills))


def test_ticks_meet_across_a_seam(panel):
    seam = next(one for one in panel.seams if one.role is Role.BACKER)
    ticks = {}
    for part in panel.parts:
        if part.role is Role.BACKER:
            for mark in part.marks:
                (x, y), end = mark.segments[0].start, mark.segments[0].end
                if abs(y - end[1]) > 1e-9 or abs(abs(x + part.origin[0] - seam.start[0]) - 1.0) > 1e-6:
                    continue  # a stroke of the seam's number
                assert contour_length(mark) == pytest.approx(IN - 1.0, abs=1e-6)
                ticks.setdefault(part.id, set()).add(round(y + part.origin[1], 3))
    assert [len(places) for places in ticks.values()] == [2, 2]
    assert len(set(map(frozenset, ticks.values()))) == 1


def test_a_seam_is_numbered_on_both_sides_of_the_backer_and_never_on_the_face(panel):
    backers = [part for part in panel.parts if part.role is Role.BACKER]
    assert [[text.text for text in part.texts if text.text != part.id] for part in backers] == [["1"], ["1"]]
    assert [len(part.marks) for part in backers] == [2, 2]  # ticks
    for part in panel.parts:
        for mark in part.marks_when(mirrored=False):
            middle = point_at(mark.segments[0], 0.5)
            assert point_in_region(middle, part.region)
            if part.role is Role.FACE:  # a tick, hidden under the retainer: within 1/4 in of the upper or lower edge
                height = region_bounds(part.region).height
                assert min(middle[1], height - middle[1]) == pytest.approx(0.25 * IN, abs=1e-6)


def test_a_lap_adds_what_lies_over():
    found = fabricate(job(settings=[("backer lap", 1.0 * IN)]), (lettering(Region(rectangle(200.0 * IN, 40.0 * IN))),))
    backers = [polygon_of(part) for part in found.parts if part.role is Role.BACKER]
    whole = shapely.union_all(backers)
    assert whole.area == pytest.approx((200.0 - 0.12) * (40.0 - 0.12) * IN**2, abs=0.001 * IN**2)
    assert sum(one.area for one in backers) - whole.area == pytest.approx(1.0 * 39.88 * IN**2, rel=1e-6)
    assert not any(part.role is Role.SPLICE_PLATE for part in found.parts)
    holes = [drill for part in found.parts if part.role is Role.BACKER for drill in part.drills if drill.diameter < 4.0]
    assert len(holes) >= 2 * 39 / 3.5  # one row, through both pieces


def test_own_seams_are_cut_instead():
    asked = job()
    own = (Seam((70.0 * IN, -IN), (70.0 * IN, 41.0 * IN)), Seam((150.0 * IN, -IN), (150.0 * IN, 41.0 * IN)))
    asked = replace(asked, seams=(LetterSeams("line1-01", "backer", own),))
    found = fabricate(asked, (lettering(Region(rectangle(200.0 * IN, 40.0 * IN))),))
    backers = [part for part in found.parts if part.role is Role.BACKER]
    assert [region_bounds(part.region).width / IN for part in backers] == pytest.approx([69.94, 80.0, 49.94])
    mine = [one for one in found.seams if one.role is Role.BACKER]
    assert [one.seam for one in mine] == list(own)
    assert all(one.is_own for one in mine)
    assert not any(one.is_own for one in found.seams if one.role is Role.FACE)


def test_found_seams_can_be_made_ones_own(panel):
    chosen = tuple(one.seam for one in panel.seams if one.role is Role.FACE)
    asked = replace(job(), seams=(LetterSeams("line1-01", "face", chosen),))
    again = fabricate(asked, (lettering(Region(rectangle(260.0 * IN, 40.0 * IN))),))
    for role in (Role.FACE, Role.BACKER):
        before = [region_area(part.region) for part in panel.parts if part.role is role]
        assert [region_area(part.region) for part in again.parts if part.role is role] == pytest.approx(before)


@pytest.mark.parametrize(
    ("seams", "code", "said"),
    [
        ((), FabricationCode.NO_DIVISION, "still fits no sheet"),
        ((Seam((70.0 * IN, -IN), (70.0 * IN, 20.0 * IN)),), FabricationCode.SEAM_MISSES, "does not run right through"),
        ((Seam((100.0 * IN, -IN), (100.0 * IN, 41.0 * IN)), Seam((199.0 * IN, -IN), (199.0 * IN, 41.0 * IN))),
         FabricationCode.SEAM_UNSOUND, "from a corner, tip or hole"),
    ],
)  # fmt: skip
def test_own_seams_are_checked(seams, code, said):
    asked = replace(job(), seams=(LetterSeams("line1-01", "backer", seams),))
    found = fabricate(asked, (lettering(Region(rectangle(200.0 * IN, 40.0 * IN))),))
    assert any(one.code == code and said in one.message for one in found.findings)


def test_own_seams_of_a_letter_that_is_not_there():
    asked = replace(job(), seams=(LetterSeams("line9-01", "face", ()),))
    found = fabricate(asked, (lettering(Region(rectangle(20.0 * IN, 40.0 * IN))),))
    assert any("line9-01" in one.message for one in found.findings)


def test_pieces_with_a_lap_fit_the_sheet_lap_and_all():
    """Two butt pieces of 119 in would do for 238 in on 120 in sheets; a lap of 1 in on one of them asks for three."""
    stock = tuple(sheet for sheet in job().stock if sheet.height <= 121.0 * IN)
    asked = replace(job(settings=[("backer lap", 1.0 * IN)]), stock=stock)
    found = fabricate(asked, (lettering(Region(rectangle(238.3 * IN, 40.0 * IN))),))
    backers = [part for part in found.parts if part.role is Role.BACKER]
    assert len(backers) == 3
    assert all(region_bounds(part.region).width <= 119.25 * IN for part in backers)
    assert not any(one.code == FabricationCode.NO_DIVISION for one in found.findings)
