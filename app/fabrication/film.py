"""Film on the faces of a letter: upright panels in one direction, overlaps in line across it and away from seams.

The film is laid on the finished face and trimmed at its edge, so it is cut larger than the face all round. What a panel
covers of the letter may fall into several pieces, each cut for itself. Lengths run along the roll, up the letter;
nothing is turned, since film shines differently the other way up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from app.artwork.drawing import Letter
from app.fabrication.part import CutPart, Goods, PartSeam, Strip
from app.fabrication.remarks import FabricationCode
from app.fabrication.subject import Terms
from geometry.curve import Point
from geometry.findings import Finding, Severity
from geometry.flatten import flatten_region
from geometry.outline import Outline

Floats = NDArray[np.float64]

_FLATTENED: Final = 0.5  # mm; the film is cut half an inch larger than the face
_SIMPLER: Final = 0.5  # mm
_GRID: Final = 25.4 / 4.0  # mm; places for overlaps are this far apart
_OFF_STEP: Final = 1e-3  # cost of an overlap that cannot be measured out; more than any rounding to one that can
_LEAN: Final = 0.6  # run over rise above which a seam of the face counts as level
_CRUMB: Final = 645.0  # mm²; a piece of film smaller than a square inch covers nothing but allowance


def film_panels(length: float, usable: float, lap: float) -> int:
    """How many strips of film cover a length when neighbours overlap: ceil((L - o) / (U - o))."""
    return max(1, math.ceil((length - lap) / (usable - lap) - 1e-9))


@dataclass(frozen=True, slots=True)
class Laps:
    """Where panels overlap.

    Fields
    ------
    places : tuple of float
        Left edges of the overlaps, mm from the left of the faces.
    side : float
        How far the first and the last panel stand out past the faces, mm.
    nearest : float
        Least distance between an overlap and a seam of the face, mm; infinite where there is none.
    """

    places: tuple[float, ...]
    side: float
    nearest: float


def film_of(
    letter: Letter, faces: Sequence[CutPart], seams: Sequence[PartSeam], terms: Terms
) -> tuple[list[Strip], list[Finding]]:
    """Film over the faces of one letter, panel by panel.

    Parameters
    ----------
    letter : Letter
    faces : sequence of CutPart
        All faces of the letter, or pieces of them.
    seams : sequence of PartSeam
        That divide the faces.
    terms : Terms
    """
    roll, lap = terms["film roll width"], terms["film lap"]
    if not faces or roll <= 0.0:
        return [], []
    usable = roll - 2.0 * terms["film edge"]
    shape = shapely.union_all([_placed(face) for face in faces])
    low, bottom, high, top = shape.bounds
    if usable <= lap:
        return [], [_too_narrow(letter, usable, lap, ((low + high) / 2.0, (bottom + top) / 2.0), terms)]
    upright = [sorted((seam.start[0] - low, seam.end[0] - low)) for seam in seams if _is_upright(seam)]
    wanted = terms["film allowance"]
    laps = best_laps(high - low, usable, lap, upright, terms["seam stagger"], wanted, terms.step)
    count = len(laps.places) + 1
    starts = [low - laps.side, *(low + place for place in laps.places)]
    ends = [*(start + lap for start in starts[1:]), high + laps.side]
    grown = shapely.simplify(shape.buffer(wanted, quad_segs=6), _SIMPLER) if wanted > 0.0 else shape
    strips = []
    for number, (start, end) in enumerate(zip(starts, ends, strict=True), start=1):
        covered = shapely.intersection(grown, shapely.box(start, bottom - wanted, end, top + wanted))
        pieces = [one for one in shapely.get_parts(covered) if one.geom_type == "Polygon" and one.area > _CRUMB]
        pieces.sort(key=lambda one: (round(one.bounds[0]), round(one.bounds[1])))
        for index, piece in enumerate(pieces, start=1):
            of = f", piece {index} of {len(pieces)}" if len(pieces) > 1 else ""
            strips.append(_strip(f"film panel {number} of {count}{of}", piece, shape, usable))
    return strips, _about_laps(letter, laps, usable, ((low + high) / 2.0, (bottom + top) / 2.0), terms)


def best_laps(
    length: float,
    usable: float,
    lap: float,
    seams: Sequence[Sequence[float]],
    stagger: float,
    allowance: float,
    step: float,
) -> Laps:
    """Overlaps as far from the seams as asked for, panels as equal as can be; one panel more where fewer cannot do.

    Parameters
    ----------
    length : float
        Of the faces together, mm.
    usable : float
        Widest panel, mm.
    lap : float
    seams : sequence of (from, to)
        Where upright seams of the face run, mm from the left.
    stagger : float
        Least distance between an overlap and a seam, mm.
    allowance : float
        What the film is to stand out at both sides, mm; less where it would take a panel more.
    step : float
        Overlaps begin at whole multiples of this, mm, wherever the roll leaves the choice.
    """
    fewest = film_panels(length, usable, lap)
    first = _laps(length, usable, lap, seams, stagger, allowance, step, fewest)
    if first.nearest >= stagger - 1e-6:
        return first
    second = _laps(length, usable, lap, seams, stagger, allowance, step, fewest + 1)
    return second if second.nearest >= stagger - 1e-6 else first


def _laps(
    length: float,
    usable: float,
    lap: float,
    seams: Sequence[Sequence[float]],
    stagger: float,
    allowance: float,
    step: float,
    count: int,
) -> Laps:
    """The best overlaps for that many panels, by dynamic programming over close-set places."""
    reach = count * (usable - lap) + lap
    side = min(allowance, 0.5 * (reach - length))
    if count == 1:
        return Laps((), side, math.inf)
    each = (length + 2.0 * side - lap) / count
    slack = reach - length - 2.0 * side  # by how much all panels together are wider than need be
    middles = [k * each - side for k in range(1, count)]
    steps = np.arange(-math.floor(slack / _GRID), math.floor(slack / _GRID) + 1) * _GRID
    options = []
    for k, middle in enumerate(middles, start=1):
        # As far right as the panels before it reach, as far left as those after it reach back.
        most, least = k * (usable - lap) - side, length + side - lap - (count - k) * (usable - lap)
        even = np.round((middle + steps) / step) * step
        even = np.unique(even[(even >= least) & (even <= most)])
        options.append(np.append(even, middle))  # the middles themselves always fit together
    cost = [_cost(places, middle, each, lap, seams, stagger) for places, middle in zip(options, middles, strict=True)]
    for one in cost:
        one[-1] += _OFF_STEP
    best, came = cost[0], []
    for before, after, more in zip(options, options[1:], cost[1:], strict=False):
        width = after[None, :] - before[:, None] + lap
        total = np.where((width <= usable + 1e-6) & (width > lap), best[:, None], np.inf)
        came.append(np.argmin(total, axis=0))
        best = total[came[-1], np.arange(len(after))] + more
    picked = [int(np.argmin(best))]
    for previous in reversed(came):
        picked.append(int(previous[picked[-1]]))
    places = tuple(float(of[index]) for of, index in zip(options, reversed(picked), strict=True))
    return Laps(places, side, min(_apart(place, lap, seams) for place in places))


def _cost(
    places: Floats, middle: float, each: float, lap: float, seams: Sequence[Sequence[float]], stagger: float
) -> Floats:
    short = np.array([max(0.0, stagger - _apart(float(place), lap, seams)) for place in places])
    return np.asarray(((places - middle) / each) ** 2 + np.where(short > 1e-9, 1000.0 * (1.0 + short), 0.0))


def _apart(place: float, lap: float, seams: Sequence[Sequence[float]]) -> float:
    """Distance between the overlap that begins at a place and the nearest seam, mm."""
    return min((max(0.0, low - place - lap, place - high) for low, high in seams), default=math.inf)


def _strip(name: str, piece: Any, shape: Any, usable: float) -> Strip:
    """A piece of film; its shape lies along the roll: x up the letter, y from right to left, lower left at (0, 0)."""
    left, bottom, right, top = piece.bounds
    rings = [shapely.get_coordinates(ring)[:-1] for ring in (piece.exterior, *piece.interiors)]
    turned = [np.column_stack((ring[:, 1] - bottom, right - ring[:, 0])) for ring in rings]
    covered = shapely.intersection(shape, piece).bounds
    return Strip(
        letter="",
        name=name,
        goods=Goods.FILM,
        width=right - left,
        length=covered[3] - covered[1],
        cut_length=top - bottom,
        stock_width=usable,
        shape=Outline.from_points(turned[0], turned[1:]),
    )


def _placed(face: CutPart) -> Any:
    outline = flatten_region(face.region, _FLATTENED)
    return shapely.affinity.translate(shapely.Polygon(outline.outer, outline.holes), *face.origin)


def _is_upright(seam: PartSeam) -> bool:
    return abs(seam.end[0] - seam.start[0]) <= _LEAN * abs(seam.end[1] - seam.start[1])


def _about_laps(letter: Letter, laps: Laps, usable: float, at: Point, terms: Terms) -> list[Finding]:
    count, stagger = len(laps.places) + 1, terms["seam stagger"]
    is_short = laps.side < terms["film allowance"] - 1e-6
    if count == 1 and not is_short:
        return []
    panels = "1 panel" if count == 1 else f"{count} panels"
    said = f"letter {letter.name} ({letter.id}): film in {panels} from a roll of which {terms.say(usable)} is of use"
    if laps.places:
        where = ", ".join(terms.say(place) for place in laps.places)
        said += f", overlapping by {terms.say(terms['film lap'])} from {where} on, measured from the left of the face"
    if is_short:
        said += f"; at the sides it stands out by {terms.say(laps.side)} only, so lay it with care or take a wider roll"
    severity = Severity.NOTE
    if laps.nearest < stagger - 1e-6:
        severity = Severity.WARNING
        said += (
            f"; an overlap lies {terms.say(laps.nearest)} from a seam of the face, less than {terms.say(stagger)}: "
            "move the seam, or take a roll of another width"
        )
    return [Finding(FabricationCode.FILM_DIVIDED, severity, said, at, subject=letter.id)]


def _too_narrow(letter: Letter, usable: float, lap: float, at: Point, terms: Terms) -> Finding:
    said = (
        f"letter {letter.name} ({letter.id}): no film is laid, as {terms.say(usable)} of the roll's width is of use "
        f"and panels overlap by {terms.say(lap)}: choose a wider roll or a smaller overlap"
    )
    return Finding(FabricationCode.FILM_LEFT_OUT, Severity.ERROR, said, at, subject=letter.id)
