"""What the search for seams is worth, by hand: `python -m tests.bench.seams`.

Divides the emblem at 36 ft, nests every piece and plate, and compares the stock that five oversize shapes take with
seams that were searched and with equal straight division; with the time of each, CPU seconds.
"""

from __future__ import annotations

import time
from collections import Counter

from app.fabrication.fabricate import fabricate
from app.fabrication.part import Role
from app.fabrication.remarks import FabricationCode
from app.fabrication.seam_choice import Bench, best_division, stock_taken
from app.fabrication.seam_desk import seam_desk
from app.fabrication.seam_search import equal_division
from app.planning.prepare import Prepared
from app.planning.problems import material_problems
from app.stock.defaults import shipped
from geometry.findings import Severity
from geometry.measure import region_area, region_bounds
from nesting.referee import violations
from nesting.solve import AfterRounds, solve
from tests.app.fabrication.emblem import emblem
from tests.app.fabrication.letters import IN, job
from tests.app.fabrication.test_seams import LIMITS, OVERSIZE, pieces_of


def main() -> None:
    asked, lines = emblem(36.0 * 12.0)
    bounds = region_bounds(lines.letters[0].regions[0])
    print(f"emblem {bounds.width / IN / 12:.1f} x {bounds.height / IN / 12:.1f} ft")
    began = time.process_time()
    found = fabricate(asked, (lines,))
    print(f"  divided in {time.process_time() - began:.1f} s: {len(found.seams)} seams")
    for role, count in Counter(part.role for part in found.parts).items():
        print(f"    {count} x {role}")
    for code in (FabricationCode.SEAM_UNSOUND, FabricationCode.PLATE_LEFT_OUT, FabricationCode.WIDE_LOAD):
        for one in found.findings:
            if one.code == code:
                print(f"    {one.severity}: {one.message}")
    errors = [one for one in found.findings if one.severity is Severity.ERROR]
    print(f"    errors: {[one.message for one in errors] or 'none'}")
    for one in material_problems(Prepared(asked, (lines,), found.parts, found.findings, found.seams, found.strips)):
        began = time.process_time()
        plan = solve(one.problem, AfterRounds(0)).plan
        faults = violations(one.problem, plan)
        placed = sum(len(layout.placements) for layout in plan.layouts)
        print(
            f"  {one.material.name}: {placed} of {sum(part.quantity for part in one.parts)} pieces placed on "
            f"{len(plan.layouts)} sheets, referee: {'passed' if not faults else faults[0]} "
            f"({time.process_time() - began:.1f} s)"
        )
    desk = seam_desk(asked, lines.letters[0], Role.BACKER, found.seams)
    began = time.process_time()
    for by in range(20):
        desk.check(desk.moved(desk.now, 0, 5.0 * by))
    print(f"  one check of its backer's seams while one is dragged: {(time.process_time() - began) / 20 * 1e3:.0f} ms")
    print("shape: stock taken by searched seams | by equal strips (area left, cost, area in2) and pieces")
    bench = Bench(shipped().materials["alu-0.125"], tuple(job().stock), 9.525, True)
    for name, shape in OVERSIZE.items():
        began = time.process_time()
        chosen = best_division(shape, bench, LIMITS, ())
        took = time.process_time() - began
        lines_of = [("searched", chosen)]
        lines_of += [(f"equal {angle:.0f}", equal_division(shape, bench.rooms, LIMITS, angle)) for angle in (90.0, 0.0)]
        told = []
        for label, one in lines_of:
            if one is None:
                told.append(f"{label}: cannot")
                continue
            pieces = pieces_of(shape, one.seams)
            lost = region_area(shape) - sum(map(region_area, pieces))
            left, cost, area = stock_taken(pieces, bench)
            told.append(
                f"{label}: {left} {cost} {area / IN**2:.0f} in2, {len(pieces)} pieces, lost {lost / IN**2:.1e} in2"
            )
        print(f"  {name} ({took:.1f} s): {' | '.join(told)}")


if __name__ == "__main__":
    main()
