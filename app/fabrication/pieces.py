"""Rules that turn a region of a letter into flat pieces: an inset plate, and retainer rings with their openings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import shapely

from app.fabrication.part import Role
from app.fabrication.remarks import FabricationCode, Remark
from app.fabrication.subject import Made, Piece, Subject, Terms
from geometry.assemble import regions_from_boundaries
from geometry.build import reversed_contour
from geometry.contour import Region
from geometry.findings import Severity
from geometry.flatten import flatten_region
from geometry.measure import region_area, region_bounds, region_perimeter
from geometry.offset import offset_region

SLIVER: Final = 100.0
"""A piece smaller than this, mm², is no part: nothing holds it while it is cut."""


class PieceRule(Protocol):
    """Makes the pieces of one or more roles from a region."""

    def make(self, subject: Subject, terms: Terms) -> Made:
        """The pieces, with remarks about all that did not come out as drawn."""
        ...


@dataclass(frozen=True, slots=True)
class Inset:
    """A plate of the letter's own shape, smaller all round by the sum of some settings, or larger.

    Fields
    ------
    role : Role
    settings : tuple of str
        Names of the lengths that are taken off each edge; counters grow by as much.
    grown : tuple of str
        Names of the lengths by which each edge stands out; counters shrink by as much.
    """

    role: Role
    settings: tuple[str, ...]
    grown: tuple[str, ...] = ()

    def make(self, subject: Subject, terms: Terms) -> Made:
        """The plate; in several pieces where the inset parts it."""
        inset = sum(terms[name] for name in self.settings) - sum(terms[name] for name in self.grown)
        regions = offset_region(subject.region, -inset) if inset != 0.0 else (subject.region,)
        taken = f"{terms.say(inset)} off each edge ({' + '.join(self.settings)})"
        if inset < 0.0:
            taken = f"a growth of {terms.say(-inset)} on each edge ({' + '.join(self.grown)})"
        whole, remarks = _without_slivers(regions, self.role, subject, terms)
        if not whole:
            vanished = Remark(
                FabricationCode.PART_VANISHED,
                Severity.ERROR,
                f"no {self.role} is left after taking {taken}; every stroke is narrower than {terms.say(2.0 * inset)}: "
                "enlarge the letter",
                subject.middle,
            )
            return Made((), (vanished,))
        if len(whole) > 1:
            remarks.append(
                Remark(
                    FabricationCode.PART_SPLIT,
                    Severity.WARNING,
                    f"the {self.role} falls into {len(whole)} pieces after taking {taken}, as a stroke is narrower "
                    f"than {terms.say(2.0 * inset)}{_narrowest(subject, terms, 2.0 * inset)}: enlarge the letter",
                    subject.middle,
                )
            )
        lost = len(subject.region.holes) - sum(len(region.holes) for region in whole)
        if lost > 0:
            remarks.append(
                Remark(
                    FabricationCode.COUNTER_LOST,
                    Severity.WARNING,
                    f"{lost} of {len(subject.region.holes)} counters of the {self.role} run into its edge or each "
                    f"other after taking {taken}, as the stroke between is narrower than "
                    f"{terms.say(2.0 * inset)}: enlarge the letter",
                    subject.middle,
                )
            )
        return Made(tuple(Piece.of(self.role, region) for region in whole), tuple(remarks))


@dataclass(frozen=True, slots=True)
class Rings:
    """Flat retainers over the edge of the face: one ring along the outline, one round each counter.

    All of them together are the letter, grown by the fit, minus the openings; an opening is what lies at least the
    flange's width from every edge. Where two flanges meet, rings join into one plate.

    Fields
    ------
    flange, fit : str
        Names of the settings; the flange is measured from the ring's outer edge, the fit from the artwork outwards.
    """

    flange: str
    fit: str

    def make(self, subject: Subject, terms: Terms) -> Made:
        """The rings; none, with an error, where no opening would be left."""
        flange, fit = terms[self.flange], terms[self.fit]
        openings, remarks = self._openings(subject, terms)
        if not openings:
            closed = Remark(
                FabricationCode.NO_LIGHT,
                Severity.ERROR,
                f"no light comes through: retainer flanges of {terms.say(flange)} from both sides cover every stroke, "
                f"which must be wider than {terms.say(2.0 * (flange - fit))}"
                f"{_narrowest(subject, terms, 2.0 * (flange - fit))}; no retainer is made: "
                "choose a narrower flange or enlarge the letter",
                subject.middle,
            )
            return Made((), (*remarks, closed))
        plates = offset_region(subject.region, fit) if fit > 0.0 else (subject.region,)
        lost = len(subject.region.holes) - sum(len(plate.holes) for plate in plates)
        if lost > 0:
            remarks.append(
                Remark(
                    FabricationCode.COUNTER_LOST,
                    Severity.ERROR,
                    f"{lost} of {len(subject.region.holes)} counters close up in the retainer, as they are narrower "
                    f"than twice the retainer fit of {terms.say(fit)}: choose a smaller fit",
                    subject.middle,
                )
            )
        outlines = [plate.outer for plate in plates]
        counters = [hole for plate in plates for hole in plate.holes]
        inner = [reversed_contour(edge) for opening in openings for edge in (opening.outer, *opening.holes)]
        rings = regions_from_boundaries([*outlines, *counters, *inner])
        main = [ring for ring in rings if ring.outer in outlines]
        round_counters = [ring for ring in rings if ring.outer not in outlines]
        remarks += self._joined(main, round_counters, counters, len(openings), subject, terms)
        pieces = [Piece.of(Role.RETAINER, ring) for ring in main]
        pieces += [Piece.of(Role.COUNTER_RETAINER, ring) for ring in round_counters]
        return Made(tuple(pieces), tuple(remarks))

    def _openings(self, subject: Subject, terms: Terms) -> tuple[list[Region], list[Remark]]:
        """Openings the cutter can make, and remarks about those it cannot."""
        cutter = terms.cutters[Role.RETAINER]
        kept, remarks = [], []
        for opening in offset_region(subject.region, terms[self.fit] - terms[self.flange]):
            if _lets_in(opening, cutter):
                reached = _without_tails(opening, cutter / 2.0)
                if reached is not None:
                    remarks.append(_tails_closed(reached, opening, cutter, terms))
                kept += [opening] if reached is None else reached
                continue
            bounds = region_bounds(opening)
            remarks.append(
                Remark(
                    FabricationCode.OPENING_LOST,
                    Severity.WARNING,
                    f"an opening of {terms.say(bounds.width)} x {terms.say(bounds.height)} in the retainer is too "
                    f"narrow for the {terms.say(cutter)} cutter and stays closed: choose a narrower flange or a "
                    "smaller cutter",
                    bounds.centre,
                )
            )
        return kept, remarks

    def _joined(
        self,
        main: Sequence[Region],
        round_counters: Sequence[Region],
        counters: Sequence[object],
        openings: int,
        subject: Subject,
        terms: Terms,
    ) -> list[Remark]:
        """Remarks about rings that became one plate, and about an opening that became several."""
        both = 2.0 * (terms[self.flange] - terms[self.fit])
        narrowest = _narrowest(subject, terms, both)
        cure = "choose a narrower flange if that is not wanted"
        remarks = []
        joined = sum(hole in counters for ring in main for hole in ring.holes)
        joined += sum(len(ring.holes) for ring in round_counters if len(ring.holes) > 1)
        if joined:
            remarks.append(
                Remark(
                    FabricationCode.FLANGES_MEET,
                    Severity.WARNING,
                    f"{joined} of {len(counters)} counter retainers are one piece with the next ring, as the stroke "
                    f"between is narrower than two flanges ({terms.say(both)}){narrowest}; no light comes through "
                    f"there: {cure}",
                    subject.middle,
                )
            )
        if openings > 1:
            remarks.append(
                Remark(
                    FabricationCode.OPENING_SPLIT,
                    Severity.WARNING,
                    f"the retainer has {openings} openings instead of one, as the stroke between them is narrower than "
                    f"two flanges ({terms.say(both)}){narrowest}: {cure}",
                    subject.middle,
                )
            )
        return remarks


def _without_slivers(
    regions: Sequence[Region], role: Role, subject: Subject, terms: Terms
) -> tuple[list[Region], list[Remark]]:
    kept = [region for region in regions if region_area(region) >= SLIVER]
    if len(kept) == len(regions) or not kept:
        return kept, []
    lost = [region_bounds(region) for region in regions if region_area(region) < SLIVER]
    largest = max(lost, key=lambda bounds: bounds.width * bounds.height)
    said = Remark(
        FabricationCode.SLIVER_LEFT_OUT,
        Severity.WARNING,
        f"{len(lost)} slivers of the {role} were left out, the largest {terms.say(largest.width)} x "
        f"{terms.say(largest.height)}: smooth the artwork there if they matter",
        largest.centre,
    )
    return kept, [said]


def _lets_in(opening: Region, cutter: float) -> bool:
    """Whether a cutter of that diameter fits in somewhere."""
    if region_area(opening) >= cutter / 2.0 * region_perimeter(opening):
        return True  # every shape holds a circle of radius area / perimeter
    outline = flatten_region(opening, 0.05)
    return not shapely.Polygon(outline.outer, outline.holes).buffer(-cutter / 2.0).is_empty


def _without_tails(opening: Region, radius: float) -> list[Region] | None:
    """What a cutter of that radius reaches of an opening, where hairline tails run out of it; None where none do.

    An opening without tails keeps its corners as drawn: how far they stay uncut is told elsewhere.
    """
    outline = flatten_region(opening, 0.1)
    drawn = shapely.Polygon(outline.outer, outline.holes)
    reached = drawn.buffer(-radius, quad_segs=6).buffer(radius, quad_segs=6)
    # A corner of 45 degrees leaves 1.6 radii uncut; what lies further off than three is no corner but a tail.
    if drawn.difference(reached.buffer(3.0 * radius, quad_segs=6)).area < 0.01:
        return None
    # A hair more, so that the corners left are not tighter than the cutter by rounding.
    wide = 1.0005 * radius
    made = [grown for core in offset_region(opening, -wide) for grown in offset_region(core, wide)]
    flat = [flatten_region(one, 0.05) for one in made]
    polygons = [shapely.Polygon(one.outer, one.holes) for one in flat]
    total = sum(polygon.area for polygon in polygons)
    if not made or total - shapely.union_all(polygons).area > 0.01:
        return None  # halves meet again in a neck only just too narrow: it stays, and is told as a slot
    return made


def _tails_closed(reached: Sequence[Region], opening: Region, cutter: float, terms: Terms) -> Remark:
    closed = region_area(opening) - sum(map(region_area, reached))
    return Remark(
        FabricationCode.OPENING_TAILS,
        Severity.WARNING,
        f"an opening of the retainer runs out into slots that the {terms.say(cutter)} cutter does not pass; "
        f"{terms.say_area(closed)} of them stay closed: choose a narrower flange, or a bolder face",
        region_bounds(opening).centre,
    )


def _narrowest(subject: Subject, terms: Terms, limit: float) -> str:
    """Words about the narrowest stroke below a limit, for a bracket; empty when none was measured."""
    found = subject.strokes.below(limit)
    return "" if found is None else f", {terms.say(found[0])} at its narrowest"
