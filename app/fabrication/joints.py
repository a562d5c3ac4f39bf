"""How the pieces of a divided part are joined: gap or lap, splice plates with rivets, ticks to align by."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from app.fabrication.part import Drill, MarkText, Role
from app.fabrication.seam_cuts import line_of, runs_through
from app.fabrication.stroke_text import mark_text, text_width
from app.fabrication.subject import Terms
from app.job.document import Seam
from app.stock.book import MaterialKind
from geometry.build import open_chain, polygon
from geometry.contour import Contour, Region
from geometry.curve import Line, Point
from geometry.cut import CutLine, cut_region, spans_in
from geometry.measure import point_in_region
from geometry.offset import offset_region

_PLATE_ROWS: Final = (-0.5, -0.25, 0.0, 0.25, 0.5)  # of the plate's width: lines that must lie in free backer
_HIDDEN: Final = 25.4 / 4.0  # mm from the edge of a face: retainer and trim edge reach further
_TICK_STANDOFF: Final = 1.0  # mm from the seam's edge, so that a tick is drawn on its own piece only


class JointKind(StrEnum):
    """How two pieces meet."""

    PLATE = "butt joint on splice plates"
    LAP = "lap joint"
    STRIP = "butt joint with a gap, clear strip glued behind one half"
    WELD = "butt joint, welded"


@dataclass(frozen=True, slots=True)
class Joint:
    """A joint: its kind, the gap between the pieces, and how far one lies over the other; mm."""

    kind: JointKind
    gap: float = 0.0
    lap: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Plate:
    """A splice plate in the frame of the part it joins, and the rivet holes it shares with it."""

    region: Region
    rivets: tuple[Drill, ...]


def joint_of(role: Role, kind: MaterialKind, terms: Terms, gap: float) -> Joint:
    """The joint for a role in a material: plates or a lap behind sheet metal, a strip behind faces, weld on rings."""
    if role in (Role.RETAINER, Role.COUNTER_RETAINER):
        return Joint(JointKind.WELD)
    if kind in (MaterialKind.ACRYLIC, MaterialKind.POLYCARBONATE, MaterialKind.PVC):
        return Joint(JointKind.STRIP, gap=gap)
    if terms["backer lap"] > 0.0:
        return Joint(JointKind.LAP, lap=terms["backer lap"])
    return Joint(JointKind.PLATE)


def plates_of(whole: Region, seams: Sequence[Seam], terms: Terms) -> list[list[Plate]]:
    """Splice plates of each seam: as long as the stroke allows, clear of the return, its flange and each other.

    A stroke that leaves less than the plate's width of length gets none.
    """
    width = terms["splice plate width"]
    clear = terms["return flange lip"] + terms["splice plate fit"]
    free: list[Region] = list(offset_region(whole, -clear))
    found = []
    for seam in seams:
        line = line_of(seam)
        length = math.dist(seam.start, seam.end)
        plates: list[Plate] = []
        onward: list[Region] = []
        for region in free:
            spans = [
                [
                    span
                    for span in spans_in(region, line.moved_left(share * width))
                    if span[1] > 0.0 and span[0] < length
                ]
                for share in _PLATE_ROWS
            ]
            for low, high in _shared(spans):
                if high - low >= width:
                    plates.append(_plate(line, low, high, terms))
            if runs_through(region, seam):
                apart = 0.5 * width + terms["splice plate fit"]
                onward += cut_region(region, line.moved_left(apart))[0]
                onward += cut_region(region, line.moved_left(-apart))[1]
            else:
                onward.append(region)
        free = onward
        found.append(plates)
    return found


def lap_rivets(whole: Region, seam: Seam, joint: Joint, terms: Terms) -> list[Drill]:
    """One row of rivet holes along the middle of a lap, clear of the return's flange."""
    line = line_of(seam)
    clear = terms["return flange lip"] + terms["splice plate fit"]
    row = line.moved_left(-0.5 * joint.lap)
    length, drills = math.dist(seam.start, seam.end), []
    for region in offset_region(whole, -clear):
        for low, high in spans_in(region, row):
            if high > 0.0 and low < length:
                drills += [Drill(row.point(place), terms["rivet hole"]) for place in _places(low, high, 0.0, terms)]
    return drills


def ticks_of(whole: Region, seam: Seam, joint: Joint, terms: Terms) -> list[tuple[Contour, Point]]:
    """Marks square to a seam on both its sides, in line with each other, with the point each piece is known by.

    On a face they stand at its very edge, where retainer or trim edge hides them.
    """
    tick, line = terms["alignment tick"], line_of(seam)
    if tick <= 0.0:
        return []
    length, found = math.dist(seam.start, seam.end), []
    for low, high in spans_in(whole, line):
        if not (high > 0.0 and low < length):
            continue
        span = high - low
        places = [low + 0.25 * span, low + 0.75 * span] if span > 6.0 * tick else [low + 0.5 * span]
        if joint.kind is JointKind.STRIP:
            places = [low + _HIDDEN, high - _HIDDEN] if span > 4.0 * _HIDDEN else []
        for place in places:
            for side, edge in ((1.0, 0.5 * joint.gap - joint.lap), (-1.0, 0.5 * joint.gap)):
                near, far = edge + _TICK_STANDOFF, edge + tick
                start, end = (line.moved_left(side * reach).point(place) for reach in (near, far))
                if point_in_region(start, whole) and point_in_region(end, whole):
                    found.append((open_chain([Line(start, end)]), end))
    return found


def numbers_of(whole: Region, seam: Seam, number: int, joint: Joint, terms: Terms) -> list[tuple[MarkText, Point]]:
    """The seam's number on both sides of it, beside a tick, with the point each piece is known by.

    Only on what is not seen: pieces on splice plates or with a lap.
    """
    height, tick = terms["seam number height"], terms["alignment tick"]
    if height <= 0.0 or joint.kind not in (JointKind.PLATE, JointKind.LAP):
        return []
    line, length = line_of(seam), math.dist(seam.start, seam.end)
    spans = [span for span in spans_in(whole, line) if span[1] > 0.0 and span[0] < length]
    if not spans:
        return []
    low, high = max(spans, key=lambda span: span[1] - span[0])
    found = []
    beyond = max(tick, 0.5 * terms["splice plate width"]) + 0.5 * max(text_width(str(number), height), height)
    for side, edge in ((1.0, 0.5 * joint.gap - joint.lap), (-1.0, 0.5 * joint.gap)):
        middle = line.moved_left(side * (edge + beyond)).point(0.5 * (low + high))
        text = mark_text(str(number), middle, height)
        ends = [end for stroke in text.strokes for one in stroke.segments for end in (one.start, one.end)]
        if all(point_in_region(end, whole) for end in ends):
            found.append((text, middle))
    return found


def _shared(rows: Sequence[Sequence[tuple[float, float]]]) -> list[tuple[float, float]]:
    """Stretches that lie in some stretch of every row."""
    shared = list(rows[0])
    for row in rows[1:]:
        shared = [
            (max(low, other_low), min(high, other_high))
            for low, high in shared
            for other_low, other_high in row
            if min(high, other_high) > max(low, other_low)
        ]
    return shared


def _plate(line: CutLine, low: float, high: float, terms: Terms) -> Plate:
    half = 0.5 * terms["splice plate width"]
    right, left = line.moved_left(-half), line.moved_left(half)
    corners = (right.point(low), right.point(high), left.point(high), left.point(low))
    rivets = []
    for side, shift in ((0.5, 0.0), (-0.5, 0.5)):
        row = line.moved_left(side * half)
        rivets += [Drill(row.point(place), terms["rivet hole"]) for place in _places(low, high, shift, terms)]
    return Plate(Region(polygon(corners)), tuple(rivets))


def _places(low: float, high: float, shift: float, terms: Terms) -> list[float]:
    """Where rivets stand along a row: at the pitch or closer, the second row between those of the first."""
    first, last = low + terms["rivet edge distance"], high - terms["rivet edge distance"]
    if last < first:
        return [0.5 * (low + high)]
    count = max(1, math.ceil((last - first) / terms["rivet pitch"] - 1e-9))
    pitch = (last - first) / count
    if shift:
        return [first + (k + shift) * pitch for k in range(count)]
    return [first + k * pitch for k in range(count + 1)]
