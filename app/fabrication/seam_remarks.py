"""What is said about seams: where one stands, why there, what is wrong with it, and pieces that still fit no sheet."""

from __future__ import annotations

import math
from collections.abc import Sequence

from app.fabrication.part import Role
from app.fabrication.seam_costs import SeamLimits
from app.fabrication.seam_cuts import line_of
from app.fabrication.seam_search import Judged
from app.fabrication.subject import Terms
from app.job.document import Seam
from geometry.curve import Point
from geometry.measure import Bounds


def middle_of(seam: Seam) -> Point:
    """The point half way along a seam, mm."""
    return 0.5 * (seam.start[0] + seam.end[0]), 0.5 * (seam.start[1] + seam.end[1])


def where_of(seam: Seam, terms: Terms) -> str:
    """Words for a seam's place: upright at x, level at y, or from point to point."""
    (x0, y0), (x1, y1) = seam.start, seam.end
    if abs(x0 - x1) < 0.01:
        return f"upright {terms.say(x0)} from the left"
    if abs(y0 - y1) < 0.01:
        return f"level {terms.say(y0)} from the bottom"
    return f"from ({terms.say(x0)}, {terms.say(y0)}) to ({terms.say(x1)}, {terms.say(y1)})"


def reason_of(judged: Judged, limits: SeamLimits, terms: Terms) -> str:
    """What a seam crosses, and how near a corner is."""
    strokes = "1 stroke" if judged.strokes == 1 else f"{judged.strokes} strokes"
    crossed = f"crosses {strokes}, {terms.say(judged.length)} of seam"
    if judged.strokes > 1:
        crossed += f", the narrowest {terms.say(judged.narrowest)}"
    if judged.nearest >= limits.clearance:
        return f"{crossed}; no corner, tip or hole within {terms.say(limits.clearance)}"
    return f"{crossed}; a corner, tip or hole is {terms.say(judged.nearest)} away"


def fault_of(
    seam: Seam, judged: Judged, limits: SeamLimits, beside: Sequence[Seam], terms: Terms, *, is_own: bool
) -> str:
    """What is wrong with a seam's place, with limit and way out; empty when it is sound."""
    faults = []
    if judged.nearest < limits.clearance:
        faults.append(
            f"{terms.say(judged.nearest)} from a corner, tip or hole, less than {terms.say(limits.clearance)}"
        )
    if judged.narrowest < limits.least_stroke:
        faults.append(f"across a stroke of {terms.say(judged.narrowest)}, less than {terms.say(limits.least_stroke)}")
    apart = min((_apart(seam, other) for other in beside), default=math.inf)
    if apart < limits.stagger - 0.01:
        faults.append(f"{terms.say(apart)} from a seam of the layer beside it, less than {terms.say(limits.stagger)}")
    if not faults:
        return ""
    cure = "move it, or leave it out and let the program look" if is_own else "no better place was found: move it"
    return f"runs {'; and '.join(faults)}; {cure}"


def misses(role: Role, seam: Seam, terms: Terms) -> str:
    """Words for a seam that cuts nothing."""
    return (
        f"seam of the {role}, {where_of(seam, terms)}, does not run right through any piece and is not cut: "
        "draw it from edge to edge, or remove it"
    )


def too_large(role: Role, bounds: Bounds, terms: Terms) -> str:
    """Words for a piece that fits no sheet although it was divided."""
    return (
        f"a piece of the {role} of {terms.say(bounds.width)} x {terms.say(bounds.height)} still fits no sheet: "
        "add a seam or a larger sheet size"
    )


def _apart(seam: Seam, other: Seam) -> float:
    """Distance between two seams that run alongside, mm; infinite when they cross at a wide angle or lie end to end."""
    line, crossing = line_of(seam), line_of(other)
    lean = abs((line.angle - crossing.angle + 90.0) % 180.0 - 90.0)
    ends = sorted((line.along(other.start), line.along(other.end)))
    if lean > 30.0 or ends[1] < 0.0 or ends[0] > math.dist(seam.start, seam.end):
        return math.inf
    return min(abs(line.left_of(point)) for point in (other.start, other.end, middle_of(other)))
