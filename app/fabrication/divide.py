"""Parts larger than any sheet, divided by seams found or the user's own: pieces, splice plates, remarks."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from app.fabrication.joints import (
    Joint,
    JointKind,
    Plate,
    joint_of,
    lap_rivets,
    numbers_of,
    plates_of,
    ticks_of,
)
from app.fabrication.movement import Movement
from app.fabrication.part import Drill, MarkText, Role, Strip
from app.fabrication.remarks import FabricationCode, Remark
from app.fabrication.rooms import fits
from app.fabrication.seam_choice import Bench, best_division
from app.fabrication.seam_costs import SeamLimits, polygon_of
from app.fabrication.seam_cuts import cut_along, line_of
from app.fabrication.seam_remarks import fault_of, middle_of, reason_of, too_large, where_of
from app.fabrication.seam_search import judge
from app.fabrication.strips import backing_of
from app.fabrication.subject import Piece, Terms
from app.job.document import Seam
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


def divide(pieces: Sequence[Piece], terms: Terms, benches: Mapping[Role, Bench], own: OwnSeams) -> dict[Piece, Divided]:
    """What becomes of each piece of one region of a letter: divided if it is too large for any sheet, else itself."""
    roles = dict.fromkeys((*ORDER, *(piece.role for piece in pieces)))
    done: dict[Piece, Divided] = {}
    for role in roles:
        for piece in pieces:
            if piece.role is role:
                done[piece] = _divide_piece(piece, terms, benches[role], own.get(role), seams_below(role, done))
    return done


def together(pieces: Sequence[Piece], done: Mapping[Piece, Divided]) -> Divided:
    """All that became of pieces, those of one role together in the order given, plates last."""
    made = [
        one
        for role in dict.fromkeys(piece.role for piece in pieces)
        for piece in pieces
        if piece.role is role
        for one in done[piece].pieces
        if one.role is role
    ]
    plates = [one for piece, divided in done.items() for one in divided.pieces if one.role is not piece.role]
    return Divided(
        (*made, *plates),
        tuple(seam for one in done.values() for seam in one.seams),
        tuple(remark for one in done.values() for remark in one.remarks),
        tuple(strip for one in done.values() for strip in one.strips),
    )


def seams_below(role: Role, done: Mapping[Piece, Divided]) -> tuple[Seam, ...]:
    """The seams that those of a role keep away from."""
    return tuple(made.seam for one in done.values() for made in one.seams if made.role in lies_on(role))


def lies_on(role: Role) -> tuple[Role, ...]:
    """The roles whose seams those of a role keep away from: of the layer it lies on."""
    return _LIES_ON.get(role, ())


def limits_of(role: Role, terms: Terms, holes: Iterable[Point], joint: Joint) -> SeamLimits:
    """What seams of a role keep to. A ring is narrow by nature: only corners and other seams matter to it."""
    is_ring = role in _RINGS
    return SeamLimits(
        clearance=(0.5 if is_ring else 1.0) * terms["seam clearance"],
        least_stroke=0.0 if is_ring else terms["least seamed stroke"],
        least_piece=0.0 if is_ring else terms["least piece width"],
        stagger=terms["seam stagger"],
        step=terms.step,
        holes=tuple(holes),
        lap=joint.lap,
    )


def _divide_piece(
    piece: Piece, terms: Terms, bench: Bench, own: tuple[Seam, ...] | None, beside: tuple[Seam, ...]
) -> Divided:
    if own is not None:
        return cut_piece(piece, own, terms, bench, beside, is_own=True)
    most = terms["divide retainers above"] if piece.role is Role.RETAINER else 0.0
    if most > 0.0:
        bench = replace(bench, longest=most)
    if not bench.rooms or fits(piece.region, bench.rooms):
        return Divided((piece,), (), ())
    division = best_division(piece.region, bench, limits_for(piece, terms, bench), beside)
    if division is None:
        return Divided((piece,), (), (_no_division(piece, terms),))
    return cut_piece(piece, division.seams, terms, bench, beside)


def cut_piece(
    piece: Piece,
    seams: Sequence[Seam],
    terms: Terms,
    bench: Bench,
    beside: tuple[Seam, ...],
    *,
    is_own: bool = False,
) -> Divided:
    """The piece cut along seams, with what joins its pieces, and remarks about seams and what still fits no sheet."""
    role, limits = piece.role, limits_for(piece, terms, bench)
    joint = joint_of(role, bench.material.kind, terms, 0.0)
    if joint.kind is JointKind.STRIP:
        joint = replace(joint, gap=_gap(piece.region, seams, bench.material.kind, terms))
    regions, used = [piece.region], []
    for seam in seams:
        regions, has_cut = cut_along(regions, seam, gap=joint.gap, lap=joint.lap)
        if has_cut:
            used.append(seam)  # seams that cut nothing of the whole letter are told with the letter
    polygon = polygon_of(piece.region)
    made, remarks = [], []
    for seam in used:
        judged = judge(polygon, seam, limits, beside=beside)
        one = MadeSeam(role, seam, joint, reason_of(judged, limits, terms), is_own)
        made.append(one)
        remarks += _about_seam(one, fault_of(seam, judged, limits, beside, terms, is_own=is_own), terms)
    for region in regions:
        if bench.rooms and not fits(region, bench.rooms):
            bounds = region_bounds(region)
            said = too_large(role, bounds, terms)
            remarks.append(Remark(FabricationCode.NO_DIVISION, Severity.ERROR, said, bounds.centre))
    pieces, plates, more = _joined(piece, regions, used, joint, terms)
    strips = _backing(piece.role, piece.region, used, terms) if joint.kind is JointKind.STRIP else []
    return Divided((*pieces, *plates), tuple(made), (*remarks, *more), tuple(strips))


def limits_for(piece: Piece, terms: Terms, bench: Bench) -> SeamLimits:
    """What seams of a piece keep to."""
    joint = joint_of(piece.role, bench.material.kind, terms, 0.0)
    return limits_of(piece.role, terms, (drill.centre for drill in piece.drills), joint)


def _joined(
    piece: Piece, regions: Sequence[Region], seams: Sequence[Seam], joint: Joint, terms: Terms
) -> tuple[list[Piece], list[Piece], list[Remark]]:
    """Pieces with their rivet holes and ticks, splice plates, and remarks about plates that found no room."""
    drills: list[list[Drill]] = [list(piece.drills) if len(regions) == 1 else [] for _ in regions]
    marks: list[list[Contour]] = [[] for _ in regions]
    texts: list[list[MarkText]] = [[] for _ in regions]
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
        for tick, inside in [] if is_seen else ticks_of(piece.region, seam, joint, terms):
            if (holder := _holder(regions, inside)) is not None:
                marks[holder].append(tick)
        for text, inside in numbers_of(piece.region, seam, count, joint, terms) if piece.role is Role.BACKER else ():
            if (holder := _holder(regions, inside)) is not None:
                texts[holder].append(text)
    order = sorted(range(len(regions)), key=lambda i: _reading_order(regions[i]))
    pieces = [
        Piece.of(
            piece.role,
            regions[i],
            drills=tuple(drills[i]),
            marks=(*piece.marks, *marks[i]),
            texts=(*piece.texts, *texts[i]),
        )
        for i in order
    ]
    return pieces, [Piece.of(Role.SPLICE_PLATE, one.region, drills=one.rivets) for one in plates], remarks


def _holder(regions: Sequence[Region], at: Point) -> int | None:
    return next((number for number, region in enumerate(regions) if point_in_region(at, region)), None)


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
        pieces, _ = cut_along(pieces, seam)
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


def _about_seam(one: MadeSeam, fault: str, terms: Terms) -> list[Remark]:
    joint = one.joint.kind.value
    if one.joint.gap:
        joint = joint.replace("a gap", f"a gap of {terms.say(one.joint.gap)}")
    if one.joint.lap:
        joint += f" of {terms.say(one.joint.lap)}"
    name = f"{'own seam' if one.is_own else 'seam'} of the {one.role}, {where_of(one.seam, terms)}"
    at = middle_of(one.seam)
    said = [Remark(FabricationCode.PART_DIVIDED, Severity.NOTE, f"{name}: {one.reason}; {joint}", at)]
    if fault:
        said.append(Remark(FabricationCode.SEAM_UNSOUND, Severity.WARNING, f"{name}, {fault}", at))
    return said


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
        f"seam of the {role}, {where_of(seam, terms)}, has no room for a splice plate "
        f"{terms.say(terms['splice plate width'])} wide beside the return's flange: "
        "weld it, or choose a narrower plate",
        middle_of(seam),
    )
