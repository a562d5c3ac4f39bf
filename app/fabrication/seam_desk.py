"""One sort of part of one letter laid out for drawing its seams by hand: quick checks of where they may run.

The same limits, words and pieces as when the letter is made (`app.fabrication.divide`), worked out on polygons; only
the gap between the pieces of a face is left out, so a piece may be told a hair larger than it is cut. All points are in
the letter's frame: mm from the lower left of its bounds, as own seams of a job are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely

from app.artwork.drawing import Letter
from app.errors import JobError
from app.fabrication.divide import lies_on, limits_of
from app.fabrication.fabricate import corner_of
from app.fabrication.joints import joint_of
from app.fabrication.part import PartSeam, Role
from app.fabrication.rooms import Room, polygon_fits
from app.fabrication.seam_costs import SeamLimits, polygon_of
from app.fabrication.seam_cuts import cut_polygons, line_of, polygon_spans, sides_of
from app.fabrication.seam_remarks import fault_of, misses, reason_of, too_large
from app.fabrication.seam_search import PAD, Judged, judge
from app.fabrication.subject import Terms
from app.fabrication.workshop import undivided, workshop_of
from app.job.document import Job, Seam
from app.job.kinds import KINDS
from geometry.curve import Point
from geometry.cut import CutLine
from geometry.measure import Bounds, region_bounds
from geometry.outline import Outline

_PLACES: Final = 600
"""How many places are looked at for where a seam may be moved to."""

_FINE: Final = 12.7 / 4.0  # mm; no closer than this


@dataclass(frozen=True, slots=True)
class SeamVerdict:
    """A seam as it is drawn.

    Fields
    ------
    seam : Seam
    is_cut : bool
        Whether it runs right through any piece.
    is_sound : bool
    sentence : str
        What it crosses; empty when it cuts nothing.
    fault : str
        What is wrong, with limit and way out; empty when it is sound.
    """

    seam: Seam
    is_cut: bool
    is_sound: bool
    sentence: str
    fault: str


@dataclass(frozen=True, slots=True, eq=False)
class PieceVerdict:
    """A piece the seams leave.

    Fields
    ------
    outline : Outline
        Letter's frame, mm.
    width, height : float
        Of its bounds, mm.
    fits : bool
        Whether some sheet holds it.
    fault : str
        Empty when it fits.
    """

    outline: Outline
    width: float
    height: float
    fits: bool
    fault: str


@dataclass(frozen=True, slots=True)
class SeamCheck:
    """What a set of seams is worth; verdicts in the order of the seams."""

    seams: tuple[SeamVerdict, ...]
    pieces: tuple[PieceVerdict, ...]

    @property
    def is_sound(self) -> bool:
        """Whether every seam is sound and every piece fits a sheet."""
        return all(one.is_sound for one in self.seams) and all(one.fits for one in self.pieces)


@dataclass(frozen=True, slots=True, eq=False)
class SeamDesk:
    """Parts of one role of a letter before they are divided, and what their seams must keep to.

    Fields
    ------
    letter : str
    role : Role
    origin : Point
        Lower left of the letter's bounds in the artwork's frame, mm.
    limits : SeamLimits
    now : tuple of Seam
        By what the parts are divided now, in the order they are cut.
    beside : tuple of Seam
        Seams of other layers, to stay away from.
    outlines : tuple of Outline
        The undivided parts.
    rooms : tuple of Room
    terms : Terms
    polygons : tuple of shapely polygons
        The same as `outlines`.
    """

    letter: str
    role: Role
    origin: Point
    limits: SeamLimits
    now: tuple[Seam, ...]
    beside: tuple[Seam, ...]
    outlines: tuple[Outline, ...]
    rooms: tuple[Room, ...]
    terms: Terms
    polygons: tuple[Any, ...]

    def check(self, seams: Sequence[Seam]) -> SeamCheck:
        """Verdicts on the seams, cut in this order, and on the pieces they leave."""
        pieces: list[Any] = list(self.polygons)
        verdicts = []
        for seam in seams:
            pieces, has_cut = cut_polygons(pieces, seam, lap=self.limits.lap)
            verdicts.append(self._verdict(seam) if has_cut else self._missing(seam))
        return SeamCheck(tuple(verdicts), tuple(self._piece(piece) for piece in pieces))

    def through(self, at: Point, angle: float, others: Sequence[Seam] = ()) -> Seam | None:
        """The seam through a point, from edge to edge of the piece there as other seams leave it.

        Parameters
        ----------
        at : Point
            The nearest piece counts where it lies beside the material. Upright and level seams go through the nearest
            place that can be measured out (`limits.step`).
        angle : float
            Degrees; 90 is upright.
        others : sequence of Seam

        Returns
        -------
        Seam or None
            None when a line at that angle through the point meets no material.
        """
        lean, step = angle % 180.0, self.limits.step
        x = round(at[0] / step) * step if abs(lean - 90.0) < 1e-6 else at[0]
        y = round(at[1] / step) * step if min(lean, 180.0 - lean) < 1e-6 else at[1]
        line = CutLine((x, y), angle)
        pieces = self._cut(others)
        for piece in sorted(pieces, key=lambda one: float(shapely.distance(one, shapely.Point(at)))):
            there = _across([piece], line)
            if there is not None:
                return there
        return None

    def allowed(self, seams: Sequence[Seam], number: int) -> tuple[tuple[float, float], ...]:
        """Stretches by which seam `number` (0-based) may be moved sideways, mm: sound there, and the pieces beside it
        fit a sheet. To its left, seen from start to end, is positive. The others are taken as cut before it.
        """
        line, cut = line_of(seams[number]), self._cut_by(seams, number)
        if not cut:
            return ()
        reach = [line.left_of(_point(corner)) for piece in cut for corner in shapely.get_coordinates(piece.exterior)]
        low = self._furthest(cut, line, min(reach), max(reach), side=-1)
        high = self._furthest(cut, line, min(reach), max(reach), side=1)
        step = max((high - low) / _PLACES, _FINE)
        found: list[tuple[float, float]] = []
        is_open = False
        for shift in map(float, np.arange(low, high + 1e-9, step)):
            there = _across(cut, line.moved_left(shift))
            is_sound = there is not None and self._is_sound(there)
            if is_sound:
                found.append((found.pop()[0] if is_open else shift, shift))
            is_open = is_sound
        return tuple(found)

    def moved(self, seams: Sequence[Seam], number: int, by: float) -> tuple[Seam, ...]:
        """All seams with one of them moved sideways, to its left where that is positive, and run from edge to edge."""
        there = _across(self._cut_by(seams, number), line_of(seams[number]).moved_left(by))
        return (*seams[:number], seams[number] if there is None else there, *seams[number + 1 :])

    def _cut(self, seams: Sequence[Seam]) -> list[Any]:
        pieces: list[Any] = list(self.polygons)
        for seam in seams:
            pieces, _ = cut_polygons(pieces, seam, lap=self.limits.lap)
        return pieces

    def _cut_by(self, seams: Sequence[Seam], number: int) -> list[Any]:
        """The pieces that one of the seams runs right through once the others are cut."""
        pieces = self._cut((*seams[:number], *seams[number + 1 :]))
        return [piece for piece in pieces if cut_polygons([piece], seams[number])[1]]

    def _furthest(self, cut: Sequence[Any], line: CutLine, low: float, high: float, *, side: int) -> float:
        """How far a line may be moved so that what lies right of it (side 1) or left of it (side -1) fits: the larger
        the one, the smaller the other, so halving finds it.
        """

        def fits(shift: float) -> bool:
            moved = line.moved_left(shift)
            for piece in cut:
                left, right = sides_of(piece, moved if side > 0 else moved.moved_left(-self.limits.lap))
                if not all(polygon_fits(one, self.rooms) for one in (right if side > 0 else left)):
                    return False
            return True

        good, bad = (low, high) if side > 0 else (high, low)
        if fits(bad):
            return bad
        while abs(bad - good) > _FINE / 2.0:
            middle = 0.5 * (good + bad)
            good, bad = (middle, bad) if fits(middle) else (good, middle)
        return good

    def _judged(self, seam: Seam) -> Judged:
        """What a seam crosses in all the parts it meets."""
        line = shapely.LineString([seam.start, seam.end])
        met = [
            judge(one, seam, self.limits, beside=self.beside)
            for one in self.polygons
            if len(self.polygons) == 1 or shapely.intersects(one, line)
        ]
        return Judged(
            length=sum(one.length for one in met),
            strokes=sum(one.strokes for one in met),
            narrowest=min((one.narrowest for one in met), default=math.inf),
            nearest=min((one.nearest for one in met), default=self.limits.clearance),
            cost=sum(one.cost for one in met),
        )

    def _is_sound(self, seam: Seam) -> bool:
        judged = self._judged(seam)
        return not fault_of(seam, judged, self.limits, self.beside, self.terms, is_own=True)

    def _verdict(self, seam: Seam) -> SeamVerdict:
        judged = self._judged(seam)
        fault = fault_of(seam, judged, self.limits, self.beside, self.terms, is_own=True)
        return SeamVerdict(seam, True, not fault, reason_of(judged, self.limits, self.terms), fault)

    def _missing(self, seam: Seam) -> SeamVerdict:
        return SeamVerdict(seam, False, False, "", misses(self.role, seam, self.terms))

    def _piece(self, piece: Any) -> PieceVerdict:
        bounds = Bounds(*piece.bounds)
        fits = not self.rooms or polygon_fits(piece, self.rooms)
        fault = "" if fits else too_large(self.role, bounds, self.terms)
        return PieceVerdict(_outline(piece), bounds.width, bounds.height, fits, fault)


def seam_desk(job: Job, letter: Letter, role: Role, made: Sequence[PartSeam]) -> SeamDesk:
    """The desk for one role of a letter.

    Parameters
    ----------
    job : Job
    letter : Letter
        At true size.
    role : Role
    made : sequence of PartSeam
        The job's seams as they are now, of all letters.

    Raises
    ------
    JobError
        When the letter's build does not divide parts of that role.
    """
    artwork = next((one for one in job.artwork if one.id == letter.artwork), None)
    if artwork is None:
        raise JobError(f"letter '{letter.id}' is of artwork '{letter.artwork}', which is not in the job; read it again")
    build = next(one for one in job.builds if one.id == artwork.build_of(letter.id))
    shop = workshop_of(job, build)
    roles = KINDS[build.kind].divisible
    if role.value not in roles:
        raise JobError(
            f"letter '{letter.id}': a {build.kind} letter has no {role} that seams divide; "
            f"there are: {', '.join(roles)}"
        )
    bench, terms = shop.benches[role], shop.terms
    joint = joint_of(role, bench.material.kind, terms, 0.0)
    x, y = corner_of(letter)
    polygons, holes = [], []
    for region in letter.regions:
        bounds = region_bounds(region)
        dx, dy = bounds.min_x - x, bounds.min_y - y
        for piece in undivided(region, (bounds.min_x, bounds.min_y), shop)[1].pieces:
            if piece.role is role:
                polygons.append(shapely.affinity.translate(polygon_of(piece.region), dx, dy))
                holes += [(drill.centre[0] + dx, drill.centre[1] + dy) for drill in piece.drills]
    mine = [one for one in made if one.letter == letter.id]
    below = lies_on(role)
    return SeamDesk(
        letter=letter.id,
        role=role,
        origin=(x, y),
        limits=limits_of(role, terms, holes, joint),
        now=tuple(one.seam for one in mine if one.role is role),
        # Seams that the program found for a layer above give way; the user's own do not.
        beside=tuple(one.seam for one in mine if one.role in below or (one.is_own and role in lies_on(one.role))),
        outlines=tuple(map(_outline, polygons)),
        rooms=bench.rooms,
        terms=terms,
        polygons=tuple(polygons),
    )


def _outline(polygon: Any) -> Outline:
    rings = [shapely.get_coordinates(ring)[:-1] for ring in (polygon.exterior, *polygon.interiors)]
    return Outline.from_points(rings[0], rings[1:])


def _across(pieces: Sequence[Any], line: CutLine) -> Seam | None:
    """The seam along a line from the first to the last edge of pieces it meets; None when it meets none."""
    whole = Seam(line.point(0.0), line.point(1.0))
    spans = [span for piece in pieces for span in polygon_spans(piece, whole)]
    if not spans:
        return None
    return Seam(line.point(min(low for low, _ in spans) - PAD), line.point(max(high for _, high in spans) + PAD))


def _point(corner: Any) -> Point:
    return float(corner[0]), float(corner[1])
