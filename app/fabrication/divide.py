"""Parts larger than any sheet, divided by seams found or the user's own: pieces, splice plates, remarks."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from app.fabrication.joints import (
    Joint,
    JointKind,
    Plate,
    cut_joint,
    joint_of,
    lap_rivets,
    numbers_of,
    plates_of,
    ticks_of,
)
from app.fabrication.movement import Movement
from app.fabrication.part import Drill, Role, Strip
from app.fabrication.remarks import FabricationCode, Remark
from app.fabrication.rooms import fits
from app.fabrication.seam_choice import Bench, best_division
from app.fabrication.seam_costs import SeamLimits
from app.fabrication.seam_search import Judged, judge, line_of
from app.fabrication.strips import backing_of
from app.fabrication.subject import Piece, Terms
from app.job.document import DisplayUnits, Seam
from app.stock.book import MaterialKind
from geometry.contour import Contour, Region
from geometry.curve import Point
from geometry.cut import spans_in
from geometry.findings import Severity
from geometry.measure import point_in_region, region_bounds

ORDER: Final = (Role.BACKER, Role.PANEL, Role.FACE, Role.RETAINER, Role.COUNTER_RETAINER)
"""Roles in the order their seams are chosen; each keeps away from those of the layer it lies on."""

_LIES_ON: Final = {
    Role.FACE: (Role.BACKER, Role.PANEL),
    Role.RETAINER: (Role.FACE,),
    Role.COUNTER_RETAINER: (Role.FACE,),
}
_RINGS: Final = (Role.RETAINER, Role.COUNTER_RETAINER)

OwnSeams = Mapping[Role, tuple[Seam, ...]]
"""The user's seams by role, in the region's frame; a role that is not in it has its seams found."""


@dataclass(frozen=True, slots=True)
class MadeSeam:
    """A seam of one role in the region's frame, how it is joined and why it is there."""

    role: Role
    seam: Seam
    joint: Joint
    reason: str
    is_own: bool


@dataclass(frozen=True, slots=True, eq=False)
class Divided:
    """Pieces that fit the stock, plates among them, with the seams and remarks."""

    pieces: tuple[Piece, ...]
    seams: tuple[MadeSeam, ...]
    remarks: tuple[Remark, ...]
    strips: tuple[Strip, ...] = ()


def divide(pieces: Sequence[Piece], terms: Terms, benches: Mapping[Role, Bench], own: OwnSeams) -> Divided:
    """Pieces of one region of a letter, those too large for any sheet divided; the rest as they are."""
    by_role = {
        role: [piece for piece in pieces if piece.role is role] for role in dict.fromkeys(p.role for p in pieces)
    }
    made: dict[Role, list[Piece]] = {}
    plates: list[Piece] = []
    seams: list[MadeSeam] = []
    remarks: list[Remark] = []
    strips: list[Strip] = []
    for role in (*ORDER, *(role for role in by_role if role not in ORDER)):
        made[role] = []
        for piece in by_role.get(role, ()):
            beside = tuple(one.seam for one in seams if one.role in _LIES_ON.get(role, ()))
            one = _divide_piece(piece, terms, benches[role], own.get(role), beside)
            made[role] += [found for found in one.pieces if found.role is role]
            plates += [found for found in one.pieces if found.role is not role]
            seams += one.seams
            remarks += one.remarks
            strips += one.strips
    whole = tuple(piece for role in by_role for piece in made[role])
    return Divided((*whole, *plates), tuple(seams), tuple(remarks), tuple(strips))


def limits_of(role: Role, terms: Terms) -> SeamLimits:
    """What seams of a role keep to. A ring is narrow by nature: only corners and other seams matter to it."""
    step = 25.4 / 16.0 if terms.units is DisplayUnits.INCHES else 1.0
    if role in _RINGS:
        return SeamLimits(0.5 * terms["seam clearance"], 0.0, 0.0, terms["seam stagger"], step)
    return SeamLimits(
        terms["seam clearance"], terms["least seamed stroke"], terms["least piece width"], terms["seam stagger"], step
    )


def _divide_piece(
    piece: Piece, terms: Terms, bench: Bench, own: tuple[Seam, ...] | None, beside: tuple[Seam, ...]
) -> Divided:
    role, rooms = piece.role, bench.rooms
    limits = replace(limits_of(role, terms), holes=tuple(drill.centre for drill in piece.drills))
    most = terms["divide retainers above"] if role is Role.RETAINER else 0.0
    if own is None:
        if most > 0.0:
            bench = replace(bench, longest=most)
            rooms = bench.rooms
        if not rooms or fits(piece.region, rooms):
            return Divided((piece,), (), ())
        division = best_division(piece.region, bench, limits, beside)
        if division is None:
            return Divided((piece,), (), (_no_division(piece, terms),))
        seams = division.seams
    else:
        seams = own
    joint = joint_of(role, bench.material.kind, terms, 0.0)
    if joint.kind is JointKind.STRIP:
        joint = replace(joint, gap=_gap(piece.region, seams, bench.material.kind, terms))
    regions, remarks, used = [piece.region], [], []
    for seam in seams:
        regions, has_cut = cut_joint(regions, seam, joint)
        if has_cut:
            used.append(seam)
        else:
            remarks.append(_misses(piece, seam, terms))
    judged = [judge(piece.region, seam, limits, beside=beside) for seam in used]
    made = tuple(
        MadeSeam(role, seam, joint, _reason(found, limits, terms), own is not None)
        for seam, found in zip(used, judged, strict=True)
    )
    for one, found in zip(made, judged, strict=True):
        remarks += _about_seam(one, found, limits, beside, terms)
    for region in regions:
        if rooms and not fits(region, rooms):
            remarks.append(_still_too_large(role, region, terms))
    pieces, plates, more = _joined(piece, regions, used, joint, terms)
    strips = _backing(piece.role, piece.region, used, terms) if joint.kind is JointKind.STRIP else []
    return Divided((*pieces, *plates), made, (*remarks, *more), tuple(strips))


def _joined(
    piece: Piece, regions: Sequence[Region], seams: Sequence[Seam], joint: Joint, terms: Terms
) -> tuple[list[Piece], list[Piece], list[Remark]]:
    """Pieces with their rivet holes and ticks, splice plates, and remarks about plates that found no room."""
    drills: list[list[Drill]] = [list(piece.drills) if len(regions) == 1 else [] for _ in regions]
    marks: list[list[Contour]] = [[] for _ in regions]
    plates: list[Plate] = []
    remarks: list[Remark] = []
    shared: list[Drill] = list(piece.drills) if len(regions) > 1 else []
    if joint.kind is JointKind.PLATE:
        for seam, found in zip(seams, plates_of(piece.region, seams, terms), strict=True):
            plates += found
            if not found:
                remarks.append(_no_plate(piece.role, seam, terms))
        shared += [rivet for plate in plates for rivet in plate.rivets]
    if joint.kind is JointKind.LAP:
        for seam in seams:
            shared += lap_rivets(piece.region, seam, joint, terms)
    for drill in shared:
        for number, region in enumerate(regions):
            if point_in_region(drill.centre, region):
                drills[number].append(drill)  # in both pieces of a lap
    # Nothing is marked on what stays in view: panels, and faces whose seam no strip covers.
    is_seen = piece.role is Role.PANEL or (piece.role is Role.FACE and joint.kind is not JointKind.STRIP)
    for count, seam in enumerate(seams, start=1):
        made = [] if is_seen else ticks_of(piece.region, seam, joint, terms)
        if piece.role is Role.BACKER:
            made += numbers_of(piece.region, seam, count, joint, terms)
        for tick, inside in made:
            for number, region in enumerate(regions):
                if point_in_region(inside, region):
                    marks[number].append(tick)
                    break
    order = sorted(range(len(regions)), key=lambda i: _reading_order(regions[i]))
    pieces = [Piece.of(piece.role, regions[i], drills=tuple(drills[i]), marks=(*piece.marks, *marks[i])) for i in order]
    return pieces, [Piece.of(Role.SPLICE_PLATE, one.region, drills=one.rivets) for one in plates], remarks


def _backing(role: Role, region: Region, seams: Sequence[Seam], terms: Terms) -> list[Strip]:
    stretches = []
    for number, seam in enumerate(seams, start=1):
        length = math.dist(seam.start, seam.end)
        for low, high in spans_in(region, line_of(seam)):
            if high > 0.0 and low < length:
                stretches.append((f"behind {role} seam {number}", high - low))
    return backing_of(stretches, terms)


def _gap(region: Region, seams: Sequence[Seam], kind: MaterialKind, terms: Terms) -> float:
    """Gap between pieces of plastic: what two neighbours grow towards each other when hottest, in whole steps."""
    pieces = [region]
    for seam in seams:
        pieces, _ = cut_joint(pieces, seam, Joint(JointKind.STRIP))
    longest = 0.0
    for seam in seams:
        line = line_of(seam)
        for piece in pieces:
            reach = [line.left_of(segment.start) for segment in piece.outer.segments]
            longest = max(longest, max(reach) - min(reach))
    moves = Movement.of(kind, terms.values).hot * longest
    step = terms["clearance step"]
    return max(terms["least face seam gap"], math.ceil(moves / step - 1e-9) * step)


def _reading_order(region: Region) -> tuple[float, float]:
    bounds = region_bounds(region)
    return round(bounds.min_x), -round(bounds.max_y)


def _middle(seam: Seam) -> Point:
    return 0.5 * (seam.start[0] + seam.end[0]), 0.5 * (seam.start[1] + seam.end[1])


def _where(seam: Seam, terms: Terms) -> str:
    """Words for a seam's place: upright at x, level at y, or from point to point."""
    (x0, y0), (x1, y1) = seam.start, seam.end
    if abs(x0 - x1) < 0.01:
        return f"upright {terms.say(x0)} from the left"
    if abs(y0 - y1) < 0.01:
        return f"level {terms.say(y0)} from the bottom"
    return f"from ({terms.say(x0)}, {terms.say(y0)}) to ({terms.say(x1)}, {terms.say(y1)})"


def _reason(judged: Judged, limits: SeamLimits, terms: Terms) -> str:
    strokes = "1 stroke" if judged.strokes == 1 else f"{judged.strokes} strokes"
    crossed = f"crosses {strokes}, {terms.say(judged.length)} of seam"
    if judged.strokes > 1:
        crossed += f", the narrowest {terms.say(judged.narrowest)}"
    if judged.nearest >= limits.clearance:
        return f"{crossed}; no corner or tip within {terms.say(limits.clearance)}"
    return f"{crossed}; a corner or tip is {terms.say(judged.nearest)} away"


def _about_seam(
    one: MadeSeam, judged: Judged, limits: SeamLimits, beside: Sequence[Seam], terms: Terms
) -> list[Remark]:
    joint = one.joint.kind.value
    if one.joint.gap:
        joint = joint.replace("a gap", f"a gap of {terms.say(one.joint.gap)}")
    if one.joint.lap:
        joint += f" of {terms.say(one.joint.lap)}"
    chosen = "own seam" if one.is_own else "seam"
    said = [
        Remark(
            FabricationCode.PART_DIVIDED,
            Severity.NOTE,
            f"{chosen} of the {one.role}, {_where(one.seam, terms)}: {one.reason}; {joint}",
            _middle(one.seam),
        )
    ]
    faults = []
    if judged.nearest < limits.clearance:
        faults.append(f"{terms.say(judged.nearest)} from a corner or tip, less than {terms.say(limits.clearance)}")
    if judged.narrowest < limits.least_stroke:
        faults.append(f"across a stroke of {terms.say(judged.narrowest)}, less than {terms.say(limits.least_stroke)}")
    apart = min((_apart(one.seam, other) for other in beside), default=math.inf)
    if apart < limits.stagger - 0.01:
        faults.append(f"{terms.say(apart)} from a seam of the layer it lies on, less than {terms.say(limits.stagger)}")
    if faults:
        cure = (
            "move it, or leave it out and let the program look" if one.is_own else "no better place was found: move it"
        )
        said.append(
            Remark(
                FabricationCode.SEAM_UNSOUND,
                Severity.WARNING,
                f"{chosen} of the {one.role}, {_where(one.seam, terms)}, runs {'; and '.join(faults)}; {cure}",
                _middle(one.seam),
            )
        )
    return said


def _apart(seam: Seam, other: Seam) -> float:
    """Distance between two seams that run alongside, mm; infinite when they cross at a wide angle or lie end to end."""
    line, crossing = line_of(seam), line_of(other)
    lean = abs((line.angle - crossing.angle + 90.0) % 180.0 - 90.0)
    ends = sorted((line.along(other.start), line.along(other.end)))
    if lean > 30.0 or ends[1] < 0.0 or ends[0] > math.dist(seam.start, seam.end):
        return math.inf
    return min(abs(line.left_of(point)) for point in (other.start, other.end, _middle(other)))


def _misses(piece: Piece, seam: Seam, terms: Terms) -> Remark:
    return Remark(
        FabricationCode.SEAM_MISSES,
        Severity.WARNING,
        f"seam of the {piece.role}, {_where(seam, terms)}, does not run right through any piece and is not cut: "
        "draw it from edge to edge, or remove it",
        _middle(seam),
    )


def _still_too_large(role: Role, region: Region, terms: Terms) -> Remark:
    bounds = region_bounds(region)
    return Remark(
        FabricationCode.NO_DIVISION,
        Severity.ERROR,
        f"a piece of the {role} of {terms.say(bounds.width)} x {terms.say(bounds.height)} still fits no sheet: "
        "add a seam or a larger sheet size",
        bounds.centre,
    )


def _no_division(piece: Piece, terms: Terms) -> Remark:
    bounds = region_bounds(piece.region)
    return Remark(
        FabricationCode.NO_DIVISION,
        Severity.ERROR,
        f"the {piece.role} of {terms.say(bounds.width)} x {terms.say(bounds.height)} fits no sheet and no straight "
        "seams were found that divide it: add a larger sheet size, or draw seams",
        bounds.centre,
    )


def _no_plate(role: Role, seam: Seam, terms: Terms) -> Remark:
    return Remark(
        FabricationCode.PLATE_LEFT_OUT,
        Severity.WARNING,
        f"seam of the {role}, {_where(seam, terms)}, has no room for a splice plate "
        f"{terms.say(terms['splice plate width'])} wide beside the return's flange: "
        "weld it, or choose a narrower plate",
        _middle(seam),
    )
