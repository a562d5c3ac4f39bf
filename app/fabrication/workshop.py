"""A build with everything looked up, and the pieces it makes of a region before any is divided."""

from __future__ import annotations

from dataclasses import dataclass

from app.errors import JobError
from app.fabrication.holes import with_holes
from app.fabrication.kinds import MAKING, Making
from app.fabrication.part import Role
from app.fabrication.remarks import Remark
from app.fabrication.seam_choice import Bench
from app.fabrication.settings import values_of
from app.fabrication.subject import MEASURING, Made, Piece, Subject, Terms
from app.fabrication.walls import Across, opposed_walls
from app.job.document import Build, Job
from app.job.kinds import KINDS
from app.stock.book import Material, spacing_of
from geometry.contour import Region
from geometry.curve import Point
from geometry.fit import fit_region
from geometry.flatten import flatten_region
from geometry.measure import region_bounds
from geometry.transform import transform_region, translation


@dataclass(frozen=True, slots=True, eq=False)
class Workshop:
    """What is needed to make letters of one build."""

    making: Making
    terms: Terms
    materials: dict[Role, Material]
    benches: dict[Role, Bench]


def workshop_of(job: Job, build: Build) -> Workshop:
    """A build of a job with everything looked up.

    Raises
    ------
    JobError
        When nothing is known about its kind.
    """
    making, kind = MAKING.get(build.kind), KINDS.get(build.kind)
    if making is None or kind is None:
        raise JobError(
            f"build '{build.id}': nothing is known about making '{build.kind}'; there are: {', '.join(MAKING)}"
        )
    materials = {one.id: one for one in job.materials}
    cutters = {one.id: one for one in job.cutters}
    named = dict(build.materials)
    for role, stand_in in kind.own_materials:
        named.setdefault(role, named[stand_in])
    by_role = {Role(role): materials[name] for role, name in named.items()}
    face = by_role.get(Role.FACE)
    terms = Terms(
        values=values_of(build),
        cutters={role: cutters[material.cutter].diameter for role, material in by_role.items()},
        face_kind=face.kind if face else None,
        units=job.units,
        currency=job.currency,
    )
    benches = {
        role: Bench(
            material,
            tuple(sheet for sheet in job.stock if sheet.material == material.id),
            spacing_of(material, cutters[material.cutter]),
            job.may_nest_in_holes,
        )
        for role, material in by_role.items()
    }
    return Workshop(making, terms, by_role, benches)


def undivided(region: Region, corner: Point, shop: Workshop) -> tuple[Subject, Made]:
    """A region with its lower left, `corner`, moved to (0, 0), and its pieces with their holes, as if no sheet were
    too small.
    """
    terms = shop.terms
    fitted = fit_region(transform_region(region, translation(-corner[0], -corner[1])), terms["arc tolerance"])
    reach = max(shop.making.stroke_reach(terms.values), 1.0)
    strokes = opposed_walls(flatten_region(fitted, MEASURING), Across.MATERIAL, up_to=reach)
    subject = Subject(region=fitted, bounds=region_bounds(fitted), strokes=strokes)
    pieces: list[Piece] = []
    remarks: list[Remark] = []
    for rule in shop.making.rules:
        made = rule.make(subject, terms)
        remarks += made.remarks
        for piece in made.pieces:
            drilled, said = with_holes(piece, terms) if piece.role in shop.making.drilled else (piece, [])
            pieces.append(drilled)
            remarks += said
    return subject, Made(tuple(pieces), tuple(remarks))
