"""Large retainer rings in sectors: taken where they need strictly cheaper sheets, and nowhere else.

The rings are of a sheet of their own, so that what they take can be told by hand. Sheets, less 3/8 in of margin all
round: the square one of 62 x 62 in holds a ring of 60 in. The narrow one of 48 x 62 in does not, but it holds both
halves, of 60 x 30 in: ends 1 1/2 in wide are 3/8 in clear of the half below when that is 10.5 in away, which is
sqrt(30.375^2 - 28.5^2), so both take 60 x 40.5 in. Common practice: rings are 1 1/2 in wide and parts 3/8 in apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
import shapely

from app.fabrication.fabricate import fabricate
from app.fabrication.part import CutPart, Fabrication, Role
from app.fabrication.remarks import FabricationCode
from app.fabrication.rooms import fits, rooms_of
from app.fabrication.seam_desk import seam_desk
from app.fabrication.sectors import MOST_RINGS
from app.job.document import Job, LetterSeams, Seam
from app.job.kept import lock_sheet
from app.job.kinds import FACE_LIT_WITH_RETAINER, KINDS
from app.planning.kept_plan import kept_of
from app.planning.plan_job import PlanRun, plan_job
from app.planning.prepare import Prepared
from app.planning.problems import material_problems
from app.stock.book import StockSheet
from app.stock.defaults import shipped
from geometry.arcs import circle
from geometry.build import rectangle, region
from geometry.contour import Region
from geometry.findings import Finding, Severity
from geometry.measure import region_bounds
from nesting.referee import violations
from nesting.solve import AfterRounds, solve
from tests.app.fabrication.letters import IN, job, lettering, polygon_of

RINGS = "alu-0.080"
SQUARE = StockSheet("square", RINGS, "62 x 62", 62.0 * IN, 62.0 * IN, price=20000)
NARROW = StockSheet("narrow", RINGS, "48 x 62", 48.0 * IN, 62.0 * IN, price=9000)
ABOVE = "try retainers in sectors above"


def disc(diameter: float) -> Region:
    return Region(circle((diameter / 2.0 * IN, diameter / 2.0 * IN), diameter / 2.0 * IN))


def letter_o(outer: float, inner: float) -> Region:
    middle = (outer / 2.0 * IN, outer / 2.0 * IN)
    return region(circle(middle, outer / 2.0 * IN), [circle(middle, inner / 2.0 * IN)])


def job_of(*stock: StockSheet, settings: Sequence[tuple[str, float]] = (), sets: int = 1) -> Job:
    """A job whose retainers are of a material of their own, to be had in these sizes."""
    asked, book = job(settings=settings, sets=sets), shipped()
    (build,) = asked.builds
    roles = tuple((role, RINGS if role == "retainer" else name) for role, name in build.materials)
    return replace(
        asked,
        builds=(replace(build, materials=roles),),
        materials=(*asked.materials, book.materials[RINGS]),
        stock=(*asked.stock, *stock),
    )


def rings_of(found: Fabrication, letter: str = "line1-01") -> list[CutPart]:
    return [part for part in found.parts if part.role is Role.RETAINER and part.letter == letter]


def tried(found: Fabrication) -> list[Finding]:
    return [one for one in found.findings if one.code == FabricationCode.SECTORS_TRIED]


def cost_of_rings(asked: Job, found: Fabrication) -> int:
    """What the sheets of the rings cost, nested afresh and passed by the referee."""
    prepared = Prepared(asked, (), found.parts, ())
    (problem,) = [one.problem for one in material_problems(prepared) if one.material.id == RINGS]
    plan = solve(problem, AfterRounds(0)).plan
    assert not plan.unplaced
    assert not violations(problem, plan)
    return plan.cost[1]


def test_a_ring_goes_in_halves_where_the_cheap_sheet_holds_no_whole_one():
    asked, lines = job_of(SQUARE, NARROW), lettering(disc(60.0))
    found = fabricate(asked, (lines,))
    assert len(rings_of(found)) == 2
    assert cost_of_rings(asked, found) == 9000
    whole = fabricate(job_of(SQUARE, NARROW, settings=[(ABOVE, 0.0)]), (lines,))
    assert cost_of_rings(asked, whole) == 20000
    (said,) = tried(found)
    assert said.severity is Severity.NOTE
    assert said.subject == "line1-01"
    assert 'the retainer of 60" x 60" is cut in 2 sectors' in said.message
    assert "200.00 USD with the large rings whole" in said.message
    assert "90.00 USD with them in sectors" in said.message
    about = [one for one in found.findings if "seam of the retainer," in one.message]
    assert [(one.code, one.severity) for one in about] == [(FabricationCode.PART_DIVIDED, Severity.NOTE)]
    assert "butt joint, welded" in about[0].message


def test_two_rings_share_a_sheet_only_in_sectors():
    """Two whole rings of 60 in take two square sheets; in sectors both lie on one."""
    asked, lines = job_of(SQUARE), lettering(disc(60.0), disc(60.0))
    found = fabricate(asked, (lines,))
    counts = [len(rings_of(found, letter)) for letter in ("line1-01", "line1-02")]
    assert counts[0] == counts[1] >= 2  # equal letters yield equal parts
    assert cost_of_rings(asked, found) == 20000
    assert cost_of_rings(asked, fabricate(job_of(SQUARE, settings=[(ABOVE, 0.0)]), (lines,))) == 40000
    # The same where it is one letter cut twice.
    twice = job_of(SQUARE, sets=2)
    found = fabricate(twice, (lettering(disc(60.0)),))
    assert len(rings_of(found)) == counts[0]
    assert cost_of_rings(twice, found) == 20000


def test_a_ring_stays_whole_where_others_lie_in_it():
    """A ring of 47 1/2 in needs the square sheet anyway and lies in the hole of 57 in, so sectors save nothing."""
    asked = job_of(SQUARE, NARROW)
    found = fabricate(asked, (lettering(disc(60.0), disc(47.5)),))
    assert len(rings_of(found)) == len(rings_of(found, "line1-02")) == 1
    assert cost_of_rings(asked, found) == 20000
    (said,) = tried(found)
    assert "stays whole" in said.message
    assert said.message.count("200.00 USD") == 2


def test_a_ring_stays_whole_round_its_own_counter_retainer():
    """V20, four times as large: the counter's ring of 58 in lies in the main ring's drop of 86 in."""
    wide = StockSheet("wide", RINGS, "98 x 98", 98.0 * IN, 98.0 * IN, price=20000)
    asked = job_of(wide, settings=[("retainer flange", 5.0 * IN)])
    found = fabricate(asked, (lettering(letter_o(96.0, 48.0)),))
    (ring,) = rings_of(found)
    (counter,) = [part for part in found.parts if part.role is Role.COUNTER_RETAINER]
    assert region_bounds(counter.region).width / IN == pytest.approx(58.0)
    assert region_bounds(Region(ring.region.holes[0])).width / IN == pytest.approx(86.0)
    assert cost_of_rings(asked, found) == 20000
    assert "stays whole" in tried(found)[0].message


def test_at_equal_cost_the_ring_stays_whole():
    found = fabricate(job_of(SQUARE), (lettering(disc(60.0)),))
    assert len(rings_of(found)) == 1
    assert not [one for one in found.seams if one.role is Role.RETAINER]
    (said,) = tried(found)
    assert said.message.count("200.00 USD") == 2


def test_without_prices_the_area_decides():
    asked = job_of(replace(SQUARE, price=None), NARROW)
    found = fabricate(asked, (lettering(disc(60.0)),))
    assert len(rings_of(found)) == 2
    (said,) = tried(found)
    assert "take 3844 in² of sheets with the large rings whole, 2976 in² of sheets with them" in said.message


def test_no_more_rings_are_cut_than_save():
    """Of two rings as large as the sheet one must be cut to lie in the other, and no more than one."""
    asked = job_of(SQUARE)
    found = fabricate(asked, (lettering(disc(60.0), disc(59.5)),))
    assert len(rings_of(found)) > 1
    assert len(rings_of(found, "line1-02")) == 1
    assert cost_of_rings(asked, found) == 20000
    assert sum("as sectors of others save as much" in one.message for one in tried(found)) == 1


@pytest.mark.parametrize(("above", "diameter"), [(0.0, 60.0), (60.0, 60.0), (48.0, 47.0)])
def test_rings_that_are_not_large_are_not_tried(above, diameter):
    found = fabricate(job_of(SQUARE, NARROW, settings=[(ABOVE, above * IN)]), (lettering(disc(diameter)),))
    assert len(rings_of(found)) == 1
    assert not tried(found)


def test_what_is_on_hand_only_once_is_promised_to_no_ring():
    offcut = replace(NARROW, id="offcut", count=1, price=0)
    found = fabricate(job_of(SQUARE, offcut), (lettering(disc(60.0)),))
    assert len(rings_of(found)) == 1


@pytest.mark.parametrize(
    "shape",
    [
        disc(60.0),
        Region(rectangle(60.0 * IN, 50.0 * IN)),
        region(rectangle(60.0 * IN, 60.0 * IN), [rectangle(20.0 * IN, 20.0 * IN, at=(20.0 * IN, 20.0 * IN))]),
    ],
)
def test_sectors_together_are_the_ring(shape):
    lines = lettering(shape)
    found = fabricate(job_of(SQUARE, NARROW), (lines,))
    whole = fabricate(job_of(SQUARE, NARROW, settings=[(ABOVE, 0.0)]), (lines,))
    (ring,) = map(polygon_of, rings_of(whole))
    sectors = [polygon_of(part) for part in rings_of(found)]
    assert len(sectors) >= 2
    assert sum(one.area for one in sectors) == pytest.approx(ring.area, abs=0.001 * IN**2)
    # Curves are flattened afresh in each sector; 0.01 mm along the edges.
    assert shapely.union_all(sectors).symmetric_difference(ring).area < 0.01 * ring.length
    rooms = rooms_of(shipped().materials[RINGS], (SQUARE, NARROW))
    assert all(fits(part.region, rooms) for part in rings_of(found))
    # All else is as it was.
    others = [[part.id for part in one.parts if part.role is not Role.RETAINER] for one in (found, whole)]
    assert others[0] == others[1]


def test_own_seams_win():
    lines = lettering(disc(60.0))
    none = replace(job_of(SQUARE, NARROW), seams=(LetterSeams("line1-01", "retainer", ()),))
    found = fabricate(none, (lines,))
    assert len(rings_of(found)) == 1
    assert not tried(found)
    seam = Seam((20.0 * IN, -IN), (20.0 * IN, 61.0 * IN))
    found = fabricate(replace(none, seams=(LetterSeams("line1-01", "retainer", (seam,)),)), (lines,))
    assert [region_bounds(part.region).width / IN for part in rings_of(found)] == pytest.approx([20.0, 40.0])
    assert [one.seam for one in found.seams if one.role is Role.RETAINER] == [seam]
    assert not tried(found)


def test_the_desk_judges_sectors_as_they_were_made():
    asked, lines = job_of(SQUARE, NARROW), lettering(disc(60.0))
    found = fabricate(asked, (lines,))
    desk = seam_desk(asked, lines.letters[0], Role.RETAINER, found.seams)
    made = [one for one in found.seams if one.role is Role.RETAINER]
    checked = desk.check(desk.now)
    assert desk.now == tuple(one.seam for one in made)
    assert [one.sentence for one in checked.seams] == [one.reason for one in made]
    assert checked.is_sound
    assert len(checked.pieces) == 2
    # Seams taken over as the user's own yield the same parts.
    own = replace(asked, seams=(LetterSeams("line1-01", "retainer", desk.now),))
    again = fabricate(own, (lines,))
    assert [polygon_of(part).area for part in rings_of(again)] == pytest.approx(
        [polygon_of(part).area for part in rings_of(found)]
    )


@pytest.mark.parametrize("shapes", [(disc(60.0),), (disc(60.0), disc(47.5))])
def test_once_something_is_locked_rings_stay_as_they_lie(shapes):
    """Alone the ring is in halves, beside one of 47 1/2 in it is whole; a lock anywhere keeps it as it is."""
    other = (disc(60.0), disc(47.5)) if len(shapes) == 1 else (disc(60.0),)
    asked, before = job_of(SQUARE, NARROW), lettering(*shapes)
    found = fabricate(asked, (before,))
    plan = plan_job(Prepared(asked, (before,), found.parts, ()), PlanRun(rounds=0))
    kept = kept_of(plan)
    free = fabricate(replace(asked, plan=kept), (lettering(*other),))
    assert len(rings_of(free)) != len(rings_of(found))
    for number in range(len(plan.sheets)):
        locked = fabricate(replace(asked, plan=lock_sheet(kept, number, True)), (lettering(*other),))
        assert [part.id for part in rings_of(locked)] == [part.id for part in rings_of(found)]
        assert [part.region for part in rings_of(locked)] == [part.region for part in rings_of(found)]
        assert "as it lies in the kept plan" in tried(locked)[0].message
    # A ring of another size than the one that lies there is tried as ever.
    larger = fabricate(replace(asked, plan=lock_sheet(kept, 0, True)), (lettering(disc(61.0)),))
    assert len(rings_of(larger)) >= 2
    assert "with them in sectors" in tried(larger)[0].message


def test_many_rings_are_tried_in_batches():
    """Thirty sets of one ring, and more letters apart in size than are nested at a time."""
    found = fabricate(job_of(SQUARE, NARROW, sets=30), (lettering(disc(60.0)),))
    assert len(rings_of(found)) >= 2
    assert {part.quantity for part in rings_of(found)} == {30}
    lines = lettering(*(disc(50.0 + 0.25 * number) for number in range(MOST_RINGS + 2)))
    asked = job_of(SQUARE, NARROW)
    found = fabricate(asked, (lines,))
    assert [one.subject for one in tried(found)] == [letter.id for letter in lines.letters]
    assert len({one.message.split(":")[2] for one in tried(found)}) == 2  # what was tried together
    whole = fabricate(job_of(SQUARE, NARROW, settings=[(ABOVE, 0.0)]), (lines,))
    assert cost_of_rings(asked, found) < cost_of_rings(asked, whole)


def test_only_builds_with_a_retainer_have_the_setting():
    assert [kind.name for kind in KINDS.values() if ABOVE in kind.settings] == [FACE_LIT_WITH_RETAINER.name]
