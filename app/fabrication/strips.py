"""Strip goods of letters: returns bent from coil, trim edge, clear strip behind face seams. Film is in `film`.

A strip of thickness t bent along an edge of length P is P - π t long when it lies inside the edge, on the side its
curve closes round, and P + π t when it is wrapped round the outside: exact for every simple closed smooth edge, whose
direction turns once about. Lap and waste are added for the cut.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum
from typing import Final

import numpy as np

from app.fabrication.part import Goods, Role, Strip
from app.fabrication.subject import Piece, Subject, Terms
from app.stock.weights import weight
from geometry.contour import Contour
from geometry.curve import Point
from geometry.flatten import flatten_contour
from geometry.measure import contour_length

COIL_DENSITY: Final = 2730.0
"""Density of return coil, kg/m³: aluminium 3003 (aluminium structures handbook)."""

_CORNER: Final = math.radians(30.0)


class Side(StrEnum):
    """Which side of an edge a strip lies on."""

    INSIDE = "inside"  # the side the edge closes round
    OUTSIDE = "outside"


def loop_length(edge: float, thickness: float, side: Side) -> float:
    """Length of a strip bent along a closed edge, at the middle of its thickness, mm."""
    return edge + math.pi * thickness * (1.0 if side is Side.OUTSIDE else -1.0)


def flat_width(depth: float, lip: float, thickness: float) -> float:
    """Width of coil for a return of that depth with a flange bent square, mm.

    The bend takes less than its two legs: with an inside radius of 1/32 in and the neutral line at 0.33 of the
    thickness, the deduction is 2 (r + t) - π/2 (r + 0.33 t). Textbook formula.
    """
    if lip == 0.0:
        return depth
    radius = 25.4 / 32.0
    return depth + lip - (2.0 * (radius + thickness) - 0.5 * math.pi * (radius + 0.33 * thickness))


def returns_of(subject: Subject, pieces: Sequence[Piece], terms: Terms) -> list[Strip]:
    """The returns of one region: a loop inside its outline, and one round each counter."""
    thickness, lip = terms["return thickness"], terms["return flange lip"]
    if thickness <= 0.0 or terms["return depth"] <= 0.0:
        return []
    width = flat_width(terms["return depth"], lip, thickness)
    loops = [("return", subject.region.outer, Side.INSIDE)]
    loops += [(f"return of counter {n}", hole, Side.OUTSIDE) for n, hole in enumerate(subject.region.holes, start=1)]
    found = []
    for name, edge, side in loops:
        length = loop_length(contour_length(edge), thickness, side)
        cut = length * (1.0 + terms["return waste"]) + terms["return lap"]
        most = terms["coil length"]
        count = max(1, math.ceil((cut - terms["return lap"]) / (most - terms["return lap"]) - 1e-9))
        each = length * (1.0 + terms["return waste"]) / count + terms["return lap"]
        for part in range(1, count + 1):
            found.append(
                Strip(
                    letter="",
                    name=name if count == 1 else f"{name}, length {part} of {count}",
                    goods=Goods.RETURN,
                    width=width,
                    length=length / count,
                    cut_length=each,
                    joint=joint_place(edge),
                    weight_kg=weight(length / count * width, COIL_DENSITY, thickness),
                    stock_length=most,
                    thickness=thickness,
                )
            )
    return found


def trim_of(subject: Subject, pieces: Sequence[Piece], terms: Terms) -> list[Strip]:
    """Trim edge round the face and its counters, joined out of sight."""
    found = []
    for piece in pieces:
        if piece.role is not Role.FACE:
            continue
        for number, edge in enumerate((piece.region.outer, *piece.region.holes)):
            length = contour_length(edge)
            found.append(
                Strip(
                    letter="",
                    name="trim edge" if number == 0 else f"trim edge of counter {number}",
                    goods=Goods.TRIM,
                    width=terms["trim edge width"],
                    length=length,
                    cut_length=length + terms["return lap"],
                    joint=joint_place(edge),
                )
            )
    return found


def backing_of(seams: Sequence[tuple[str, float]], terms: Terms) -> list[Strip]:
    """Clear strip behind each stretch of a face seam, cut short at both ends to clear the retainer.

    `seams` are a name and the length of each stretch, mm.
    """
    short = 2.0 * (terms["retainer flange"] + 25.4 / 8.0)
    return [
        Strip("", name, Goods.BACKING, terms["backing strip width"], length - short, length - short)
        for name, length in seams
        if length > short
    ]


def joint_place(edge: Contour) -> Point:
    """Where a loop is joined out of sight: the highest corner, or the highest point of an edge without corners."""
    ring = flatten_contour(edge, 0.02)
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    corners = ring[np.abs(np.arctan2(cross, (before * after).sum(axis=1))) > _CORNER]
    places = corners if len(corners) else ring
    x, y = places[int(np.argmax(places[:, 1]))]
    return float(x), float(y)


def strip_at(strip: Strip, letter: str, corner: Point, quantity: int) -> Strip:
    """A strip of a letter that stands at `corner` in the artwork, as often as the artwork is made."""
    joint = None if strip.joint is None else (strip.joint[0] + corner[0], strip.joint[1] + corner[1])
    return replace(strip, letter=letter, quantity=quantity, joint=joint)
