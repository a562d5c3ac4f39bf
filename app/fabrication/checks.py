"""Checks of a letter and its pieces against the limits of the build, the cutter and the weather."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence

import shapely

from app.fabrication.corners import tight_corners
from app.fabrication.movement import Movement, least_bite
from app.fabrication.part import Role
from app.fabrication.remarks import FabricationCode, Remark
from app.fabrication.subject import Piece, Subject, Terms
from app.fabrication.walls import Across, opposed_walls
from geometry.findings import Severity
from geometry.measure import contour_area, region_area, region_bounds

Check = Callable[[Subject, Sequence[Piece], Terms], list[Remark]]
"""Remarks about one region of a letter and the pieces made from it."""


def stroke_takes_lamps(subject: Subject, pieces: Sequence[Piece], terms: Terms) -> list[Remark]:
    """Strokes too narrow for a row of lamps."""
    limit = terms["least stroke"]
    found = subject.strokes.below(limit)
    if found is None:
        return []
    width, where, length = found
    return [
        Remark(
            FabricationCode.NARROW_STROKE,
            Severity.WARNING,
            f"stroke of {terms.say(width)} is narrower than {terms.say(limit)}, the least that takes a row of lamps, "
            f"along {_share(length, subject)} of its edge: enlarge the letter or choose a bolder face",
            where,
        )
    ]


def lit_stroke_between_rings(subject: Subject, pieces: Sequence[Piece], terms: Terms) -> list[Remark]:
    """Lit bands between the retainers that are too narrow to be seen."""
    if not any(piece.role is Role.RETAINER for piece in pieces):
        return []  # said already: no light at all
    covered = 2.0 * (terms["retainer flange"] - terms["retainer fit"])
    return _lit_stroke(subject, covered, "retainers cover", "choose a narrower flange or enlarge the letter", terms)


def lit_stroke_within_trim(subject: Subject, pieces: Sequence[Piece], terms: Terms) -> list[Remark]:
    """Lit bands within the lip of the trim edge that are too narrow to be seen."""
    covered = 2.0 * (terms["trim edge lip"] - terms["trim edge face"])
    cure = "choose a trim edge with a smaller lip, a bolder face, or enlarge the letter"
    return _lit_stroke(subject, covered, "the lip of the trim edge covers", cure, terms)


def _lit_stroke(subject: Subject, covered: float, by: str, cure: str, terms: Terms) -> list[Remark]:
    limit = terms["least lit stroke"]
    found = subject.strokes.below(covered + limit)
    if found is None:
        return []
    width, where, length = found
    lit = width - covered
    what = (
        f"lit stroke of {terms.say(lit)} is narrower than {terms.say(limit)}" if lit > 0.0 else "no light comes through"
    )
    return [
        Remark(
            FabricationCode.NARROW_LIGHT,
            Severity.WARNING,
            f"{what} where the stroke is {terms.say(width)} and {by} {terms.say(covered)} of it; the stroke is below "
            f"{terms.say(covered + limit)} along {_share(length, subject)} of its edge: {cure}",
            where,
        )
    ]


def cutter_reaches_corners(subject: Subject, pieces: Sequence[Piece], terms: Terms) -> list[Remark]:
    """Inside corners tighter than the cutter, counted by role."""
    counts: Counter[Role] = Counter()
    worst, worst_at, worst_area = 0.0, subject.middle, 0.0
    diameters = set()
    for piece in pieces:
        for corner in tight_corners(piece.region, terms.cutters[piece.role] / 2.0, ignore_below=terms["arc tolerance"]):
            counts[piece.role] += 1
            diameters.add(terms.cutters[piece.role])
            if corner.gap > worst:
                worst, worst_at, worst_area = corner.gap, corner.at, corner.area
    if not counts:
        return []
    listed = ", ".join(f"{role} {count}" for role, count in counts.items())
    return [
        Remark(
            FabricationCode.TIGHT_CORNER,
            Severity.NOTE,
            f"inside corners tighter than the {' or '.join(terms.say(one) for one in sorted(diameters))} cutter: "
            f"{listed}; up to {terms.say(worst)} stays uncut in a corner ({terms.say_area(worst_area)}): "
            "file them, or choose a smaller cutter",
            worst_at,
        )
    ]


def cutter_passes_slots(subject: Subject, pieces: Sequence[Piece], terms: Terms) -> list[Remark]:
    """Gaps of a piece that the cutter does not pass through."""
    remarks = []
    for piece in pieces:
        cutter = terms.cutters[piece.role]
        found = opposed_walls(piece.outline, Across.GAP, up_to=cutter).below(cutter)
        if found is None:
            continue
        width, where, length = found
        remarks.append(
            Remark(
                FabricationCode.NARROW_SLOT,
                Severity.WARNING,
                f"{piece.role} has a gap of {terms.say(width)} that the {terms.say(cutter)} cutter does not pass, over "
                f"{terms.say(length / 2.0)}: choose a smaller cutter, a narrower flange or a bolder face",
                where,
            )
        )
    return remarks


def part_can_be_held(subject: Subject, pieces: Sequence[Piece], terms: Terms) -> list[Remark]:
    """Pieces so small or narrow that they need tabs or a skin while they are cut."""
    small = [
        piece
        for piece in pieces
        if region_area(piece.region) < terms["small part area"] or _is_narrower(piece, terms["small part width"])
    ]
    if not small:
        return []
    counts = Counter(piece.role for piece in small)
    listed = ", ".join(f"{role} {count}" for role, count in counts.items())
    narrowest = terms.say(min(map(_least_width, small)))
    limits = f"{terms.say_area(terms['small part area'])} and {terms.say(terms['small part width'])}"
    return [
        Remark(
            FabricationCode.SMALL_PART,
            Severity.NOTE,
            f"small parts need tabs or a skin while they are cut: {listed} (narrowest {narrowest}; limits {limits})",
            subject.middle,
        )
    ]


def face_may_move(subject: Subject, pieces: Sequence[Piece], terms: Terms) -> list[Remark]:
    """Faces that bind when hot, slip out from under the retainer when cold, or drop out of it.

    Each piece of a divided face moves about its own middle, so the longest piece counts, not the whole letter.
    """
    if terms.face_kind is None or not any(piece.role is Role.FACE for piece in pieces):
        return []
    clearance, wall = terms["face clearance"], terms["return thickness"]
    # The flange's width is measured from the ring's outer edge; what counts here starts at the inside of the wall.
    flange = terms["retainer flange"] - terms["retainer fit"] - wall
    moves = Movement.of(terms.face_kind, terms.values)
    bite = least_bite(subject.bounds.height, terms.values)
    faces = [region_bounds(piece.region) for piece in pieces if piece.role is Role.FACE]
    opening = max(subject.bounds.width, subject.bounds.height) - 2.0 * wall
    if len(faces) > 1:
        opening = max(max(box.width, box.height) for box in faces) + 2.0 * clearance
    face = opening - 2.0 * clearance
    standing = subject.bounds.height - 2.0 * (wall + clearance)
    least = moves.least_clearance(opening, flange, bite, terms["clearance step"])
    cure = (
        f"a face clearance of {terms.say(least)} passes"
        if least is not None
        else "no clearance passes with this flange: choose a wider flange or divide the face"
    )
    remarks = []

    def say(code: FabricationCode, message: str) -> None:
        remarks.append(Remark(code, Severity.WARNING, message, subject.middle))

    gap = moves.hot_gap(face, clearance)
    if gap < 0.0:
        say(
            FabricationCode.FACE_BINDS,
            f"the face, {terms.say(face)} long, grows {terms.say(moves.hot * face)} when hottest and binds: it lacks "
            f"{terms.say(-gap)} on each side at a clearance of {terms.say(clearance)}; {cure}",
        )
    cold = moves.cold_bite(face, clearance, flange)
    if cold < bite:
        say(
            FabricationCode.FACE_SLIPS_OUT,
            f"the face, {terms.say(face)} long, shrinks {terms.say(moves.cold * face)} when coldest and the retainer "
            f"covers {terms.say(cold)} of its edge, less than {terms.say(bite)}; {cure}",
        )
    dropped = moves.dropped_bite(standing, clearance, flange)
    if cold >= bite and dropped < bite:
        say(
            FabricationCode.FACE_DROPS_OUT,
            f"a face standing on its lower edge leaves {terms.say(dropped)} under the retainer at the top when "
            f"coldest, less than {terms.say(bite)}: hang it from the top or centre it on spacers",
        )
    return remarks


def _share(length: float, subject: Subject) -> str:
    share = 100.0 * length / subject.strokes.total
    return f"{max(1.0, share):.0f} %"


def _is_narrower(piece: Piece, limit: float) -> bool:
    """Whether a piece fits between two parallel lines that far apart, mm."""
    bounds = region_bounds(piece.region)
    # A shape of width w and longest reach d has an area of at most w d: most pieces need no closer look.
    if contour_area(piece.region.outer) >= limit * math.hypot(bounds.width, bounds.height):
        return False
    return _least_width(piece) < limit


def _least_width(piece: Piece) -> float:
    """Shorter side of the least rectangle round a piece, in any direction, mm."""
    box = shapely.minimum_rotated_rectangle(shapely.Polygon(piece.outline.outer))
    corners = shapely.get_coordinates(box)
    return min(math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2]))
