"""Where to divide a part that no sheet holds: good sets of straight seams, best first.

Seams of one direction are chosen together by dynamic programming over close-set places: each strip must fit some
sheet, or be divisible across, and the sum of the seams' costs, slivers and unequal widths is least, for every sensible
number of strips. What still does not fit is divided again in the same way. Upright and level seams are tried, and
those along the sides of the least rectangle round the part.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely

from app.fabrication.rooms import Room, polygon_fits
from app.fabrication.seam_costs import (
    SLIVER,
    STAGGER,
    STROKE,
    UNEQUAL,
    Floats,
    Place,
    Rims,
    SeamLimits,
    place_at,
    polygon_of,
    rims_of,
    turn_point,
)
from app.fabrication.seam_cuts import cut_polygons, line_of
from app.job.document import Seam
from geometry.contour import Region
from geometry.curve import Point
from geometry.cut import CutLine

STEP: Final = 12.7
"""Places for seams are this far apart, mm, or further on parts with more than `MOST_PLACES` of them."""

MOST_PLACES: Final = 160
_MOST_STRIPS: Final = 16
_EVEN_STRIPS: Final = 8
_MORE_STRIPS: Final = 2  # how many strips more than the fewest are tried
_DEPTH: Final = 4
_FAR, _FAR_MORE = 2.0, 1500.0
PAD: Final = 5.0
"""How far a seam is drawn past the material, mm."""
_PARALLEL_DEG: Final = 30.0
_OFF_AXIS_DEG: Final = 4.0
_TILTS: Final = (0.0, -24.0, -16.0, -12.0, -8.0, -4.0, 4.0, 8.0, 12.0, 16.0, 24.0)
_SHIFTS: Final = tuple(0.5 * k for k in range(-16, 17))  # steps
_WORKED_OUT: Final = 40
_GAIN: Final = 0.8  # of the cost, at most, for a seam to leave its place


@dataclass(frozen=True, slots=True)
class Division:
    """Seams in the order they are cut, in the region's frame, and what they cost (mm of seam, see `seam_costs`)."""

    seams: tuple[Seam, ...]
    cost: float


@dataclass(frozen=True, slots=True)
class Judged:
    """A seam with what it crosses: total length, strokes, the narrowest of them, nearest corner or tip; mm."""

    length: float
    strokes: int
    narrowest: float
    nearest: float
    cost: float


def divisions(
    region: Region, rooms: Sequence[Room], limits: SeamLimits, *, beside: Sequence[Seam] = (), most: int = 6
) -> tuple[Division, ...]:
    """Good ways to divide a region so that every piece fits some room, best first; empty when none is found.

    Parameters
    ----------
    region : Region
    rooms : sequence of Room
    limits : SeamLimits
    beside : sequence of Seam
        Seams of other layers of the same letter, to stay away from.
    most : int
        How many divisions at most.
    """
    if not rooms:
        return ()
    polygon = polygon_of(region)
    found = sorted(_ways(polygon, rooms, limits, beside, _DEPTH), key=lambda one: (one.cost, len(one.seams)))
    unlike: list[Division] = []
    for one in found:
        if all(one.seams != other.seams for other in unlike):
            unlike.append(one)
    refined = [_refined(polygon, one, rooms, limits, beside) or one for one in unlike[:most]]
    return tuple(sorted(refined, key=lambda one: (one.cost, len(one.seams))))


def equal_division(region: Region, rooms: Sequence[Room], limits: SeamLimits, angle: float) -> Division | None:
    """The part in equal strips, as few as fit, wherever the seams then fall; None when strips alone cannot do."""
    return _in_equal_strips(polygon_of(region), rooms, limits, (), angle)


def judge(polygon: Any, seam: Seam, limits: SeamLimits, *, beside: Sequence[Seam] = ()) -> Judged:
    """What a seam crosses in a polygon (of `polygon_of`) and how sound that is."""
    line = line_of(seam)
    rims = rims_of(polygon, line.angle, limits.holes)
    (x, low), (_, high) = (turn_point(point, rims.turn) for point in (seam.start, seam.end))
    place = place_at(rims, x, limits, within=(low, high))
    spans = place.spans
    return Judged(
        length=float((spans[:, 1] - spans[:, 0]).sum()),
        strokes=len(spans),
        narrowest=place.narrowest,
        nearest=place.nearest,
        cost=place.cost + _stagger_cost(rims, place, beside, limits),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Lattice:
    """Places for upright seams in a turned frame: positions with both ends of the part, cost of a seam at each, and
    the height of the part between any two.
    """

    rims: Rims
    places: Floats
    seams: tuple[Place, ...]
    costs: Floats
    heights: Floats


def _ways(
    polygon: Any, rooms: Sequence[Room], limits: SeamLimits, beside: Sequence[Seam], depth: int
) -> Iterator[Division]:
    least = math.inf
    for angle in _angles(polygon, rooms):
        lattice = _lattice(polygon, limits, beside, angle)
        strips = _strip_costs(lattice, rooms, limits)
        tried = 0
        for count in range(2, _MOST_STRIPS + 1):
            found = _cheapest(lattice, strips, count)
            if found is None:
                continue
            picked, promised = found
            tried += 1
            # What promises to cost far more than the best so far is not worth working out.
            if promised <= _FAR * least + _FAR_MORE:
                chosen = [lattice.seams[k] for k in picked]
                made = _division(polygon, chosen, lattice.rims, rooms, limits, beside, depth)
                if made is not None:
                    least = min(least, made.cost)
                    yield made
                    if depth < _DEPTH:
                        break
            if tried > _MORE_STRIPS:
                break
        if depth == _DEPTH:
            equal = _in_equal_strips(polygon, rooms, limits, beside, angle)
            if equal is not None:
                yield equal


def _in_equal_strips(
    polygon: Any, rooms: Sequence[Room], limits: SeamLimits, beside: Sequence[Seam], angle: float
) -> Division | None:
    rims = rims_of(polygon, angle, limits.holes)
    low, high = float(rims.starts[:, 0].min()), float(rims.starts[:, 0].max())
    for count in range(2, _MOST_STRIPS + 1):
        places = [place_at(rims, low + (high - low) * k / count, limits) for k in range(1, count)]
        made = _division(polygon, places, rims, rooms, limits, beside, 0)
        if made is not None:
            return made
    return None


def _angles(polygon: Any, rooms: Sequence[Room]) -> list[float]:
    found = [90.0, 0.0]
    if any(room.is_turnable for room in rooms):
        corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(polygon))
        (x0, y0), (x1, y1) = corners[0], corners[1]
        lean = math.degrees(math.atan2(y1 - y0, x1 - x0)) % 90.0
        if _OFF_AXIS_DEG < lean < 90.0 - _OFF_AXIS_DEG:
            found += [lean, lean + 90.0]
    return found


def _lattice(polygon: Any, limits: SeamLimits, beside: Sequence[Seam], angle: float) -> _Lattice:
    rims = rims_of(polygon, angle, limits.holes)
    xs = rims.starts[:, 0]
    low, high = float(xs.min()), float(xs.max())
    count = max(2, min(MOST_PLACES, math.ceil((high - low) / STEP)))
    even = [k / n for n in range(2, _EVEN_STRIPS + 1) for k in range(1, n)]  # so that equal strips can come out equal
    shares = np.unique(np.round(np.concatenate([np.linspace(0.0, 1.0, count + 1), even]), 9))
    places = np.unique(np.clip(np.round((low + (high - low) * shares) / limits.step) * limits.step, low, high))
    places = np.concatenate([[low], places[(places > low) & (places < high)], [high]])
    count = len(places) - 1
    seams = tuple(place_at(rims, float(x), limits) for x in places[1:-1])
    nowhere = Place(0.0, np.empty((0, 2)), math.inf, 0.0, 0.0)
    seams = (nowhere, *seams, nowhere)
    costs = np.array([one.cost + _stagger_cost(rims, one, beside, limits) for one in seams])
    slab = np.clip(np.searchsorted(places, xs, side="right") - 1, 0, count - 1)
    bottom, top = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(bottom, slab, rims.starts[:, 1])
    np.maximum.at(top, slab, rims.starts[:, 1])
    for k, one in enumerate(seams):
        if len(one.spans):
            for side in (k - 1, k):
                bottom[side] = min(bottom[side], one.spans[0, 0])
                top[side] = max(top[side], one.spans[-1, 1])
    heights = np.zeros((count + 1, count + 1))
    for i in range(count):
        heights[i, i + 1 :] = np.maximum.accumulate(top[i:]) - np.minimum.accumulate(bottom[i:])
    return _Lattice(rims, places, seams, costs, heights)


def _strip_costs(lattice: _Lattice, rooms: Sequence[Room], limits: SeamLimits) -> Floats:
    """Cost of the strip between any two places, equal widths aside: none where it fits, infinite where nothing does."""
    widths = lattice.places[None, :] - lattice.places[:, None]
    heights = lattice.heights
    upright = abs(lattice.rims.turn) < 1e-9
    best = np.full(widths.shape, np.inf)
    # What lies left of a seam is the piece that reaches over it; the last strip has none to reach over.
    laid = widths + limits.lap
    laid[:, -1] -= limits.lap
    for room in rooms:
        sides = [(room.width, room.height)] if upright or room.is_turnable else []
        if room.is_turnable or not upright:
            sides.append((room.height, room.width))
        for across, along in sides:
            pieces = np.maximum(np.ceil((heights - limits.lap - 1e-6) / max(along - limits.lap, 1.0)), 1.0)
            # A strip that is too tall is divided across: about its own width of seam for each cut, and some trouble.
            cost = (pieces - 1.0) * 1.5 * (widths + STROKE)
            best = np.where((laid <= across + 1e-6) & (widths > 0.0), np.minimum(best, cost), best)
    sliver = SLIVER * np.maximum(0.0, 1.0 - widths / limits.least_piece) if limits.least_piece > 0.0 else 0.0
    return np.asarray(best + sliver)


def _cheapest(lattice: _Lattice, strips: Floats, count: int) -> tuple[list[int], float] | None:
    """Places of the cheapest `count - 1` seams and their cost; None when no such division works."""
    last = len(lattice.places) - 1
    widths = lattice.places[None, :] - lattice.places[:, None]
    mean = float(lattice.places[-1] - lattice.places[0]) / count
    costs = strips + UNEQUAL * ((widths - mean) / mean) ** 2
    best = costs[0] + lattice.costs
    came: list[np.ndarray[Any, np.dtype[np.intp]]] = []
    for step in range(2, count + 1):
        total = best[:, None] + costs
        previous = np.argmin(total, axis=0)
        least = total[previous, np.arange(last + 1)]
        came.append(previous)
        best = least + (lattice.costs if step < count else 0.0)
    if not math.isfinite(best[last]):
        return None
    picked = [last]
    for previous in reversed(came):
        picked.append(int(previous[picked[-1]]))
    return sorted(picked[1:]), float(best[last])


def _division(
    polygon: Any,
    places: Sequence[Place],
    rims: Rims,
    rooms: Sequence[Room],
    limits: SeamLimits,
    beside: Sequence[Seam],
    depth: int,
) -> Division | None:
    """The division with seams at the places, and with what else is needed so that every piece fits; None if nothing
    is found. With no depth left, pieces must fit as they are.
    """
    if any(len(place.spans) == 0 for place in places):
        return None
    seams = [_seam(place, rims) for place in places]
    cost = sum(place.cost + _stagger_cost(rims, place, beside, limits) for place in places)
    for piece in _cut_polygons(polygon, seams, limits.lap):
        cost += _sliver_cost(piece, limits)
        if polygon_fits(piece, rooms):
            continue
        if depth <= 1:
            return None
        further = min(_ways(piece, rooms, limits, beside, depth - 1), key=lambda one: one.cost, default=None)
        if further is None:
            return None
        seams += further.seams
        cost += further.cost
    return Division(tuple(seams), cost)


def _cut_polygons(polygon: Any, seams: Sequence[Seam], lap: float) -> list[Any]:
    """The polygon cut by one seam after the other, each through those pieces that it runs right through."""
    pieces = [polygon]
    for seam in seams:
        pieces, _ = cut_polygons(pieces, seam, lap=lap)
    return pieces


def _sliver_cost(piece: Any, limits: SeamLimits) -> float:
    if limits.least_piece <= 0.0:
        return 0.0
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(piece))
    narrow = min(math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2]))
    return SLIVER * max(0.0, 1.0 - narrow / limits.least_piece)


def _stagger_cost(rims: Rims, place: Place, beside: Sequence[Seam], limits: SeamLimits) -> float:
    if not beside or limits.stagger <= 0.0 or len(place.spans) == 0:
        return 0.0
    low, high, cost = float(place.spans[0, 0]), float(place.spans[-1, 1]), 0.0
    for seam in beside:
        (x0, y0), (x1, y1) = (turn_point(point, rims.turn) for point in (seam.start, seam.end))
        lean = abs(math.degrees(math.atan2(y1 - y0, x1 - x0)) % 180.0 - 90.0)
        if lean > _PARALLEL_DEG or max(y0, y1) < low or min(y0, y1) > high:
            continue
        apart = min(abs(x0 - place.x), abs(x1 - place.x), abs(0.5 * (x0 + x1) - place.x))
        cost += STAGGER * max(0.0, 1.0 - apart / limits.stagger)
        if apart < limits.stagger:
            cost += STAGGER
    return cost


def _seam(place: Place, rims: Rims) -> Seam:
    low, high = float(place.spans[0, 0]) - PAD, float(place.spans[-1, 1]) + PAD
    return Seam(_back((place.x, low), rims), _back((place.x, high), rims))


def _back(point: Point, rims: Rims) -> Point:
    return turn_point(point, -rims.turn)


def _refined(
    polygon: Any, division: Division, rooms: Sequence[Room], limits: SeamLimits, beside: Sequence[Seam]
) -> Division | None:
    """The division with seams that are in trouble, or leave slivers, shifted or leaned over; None when nothing gains.

    Each seam is looked at with the others standing, within the piece it cuts.
    """
    seams, gained = list(division.seams), 0.0
    for index, seam in enumerate(division.seams):
        pieces = _cut_polygons(polygon, [*seams[:index], *seams[index + 1 :]], limits.lap)
        cut = [piece for piece in pieces if cut_polygons([piece], seam)[1]]
        body = shapely.union_all(cut)  # pieces that other seams part, too
        if body.geom_type != "Polygon":
            continue
        line = line_of(seam)
        rims = rims_of(body, line.angle, limits.holes)
        before = place_at(rims, turn_point(seam.start, rims.turn)[0], limits)
        least = float((before.spans[:, 1] - before.spans[:, 0]).sum()) + STROKE * len(before.spans)
        slivers = sum(_sliver_cost(piece, limits) for piece in cut_polygons(cut, seam, lap=limits.lap)[0])
        cost = before.cost + _stagger_cost(rims, before, beside, limits) + slivers
        if cost <= least + 1.0:
            continue  # nothing wrong with it
        better = _better(body, cut, line, _GAIN * cost, rooms, limits, beside)
        if better is not None:
            seams[index], gained = better[0], gained + cost - better[1]
    return Division(tuple(seams), division.cost - gained) if gained > 0.0 else None


def _better(
    body: Any,
    cut: Sequence[Any],
    line: CutLine,
    most: float,
    rooms: Sequence[Room],
    limits: SeamLimits,
    beside: Sequence[Seam],
) -> tuple[Seam, float] | None:
    """The cheapest seam near a line through pieces (`body` is all of them) that costs less than `most`, and its cost;
    None if none does.
    """
    low, high = np.array(body.bounds[:2]), np.array(body.bounds[2:])
    reach = float(np.hypot(*(high - low)))
    spans = shapely.bounds(shapely.intersection(body, shapely.LineString([line.point(-reach), line.point(reach)])))
    middle = (0.5 * float(spans[0] + spans[2]), 0.5 * float(spans[1] + spans[3]))
    near: list[tuple[float, Seam]] = []
    for tilt in _TILTS:
        rims = rims_of(body, line.angle + tilt, limits.holes)
        x = turn_point(middle, rims.turn)[0]
        for shift in _SHIFTS:
            place = place_at(rims, x + shift * STEP, limits)
            if len(place.spans):
                cost = place.cost + _stagger_cost(rims, place, beside, limits)
                near.append((cost, _seam(place, rims)))
    best: tuple[Seam, float] | None = None
    for cost, seam in sorted((one for one in near if one[0] < most), key=lambda one: one[0])[:_WORKED_OUT]:
        if cost >= most:
            break
        pieces, has_cut = cut_polygons(cut, seam, lap=limits.lap)
        total = cost + sum(_sliver_cost(piece, limits) for piece in pieces)
        if total < most and has_cut and all(polygon_fits(piece, rooms) for piece in pieces):
            best, most = (seam, total), total
    return best
