"""From letters to parts: every region of every letter yields its parts, or a finding that says why not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from app.artwork.drawing import Letter, Lettering
from app.errors import JobError
from app.fabrication.divide import MadeSeam, OwnSeams, divide, together
from app.fabrication.film import film_of
from app.fabrication.part import CutPart, Drill, Fabrication, MarkText, PartSeam, Role, Strip
from app.fabrication.part_numbers import NumberPlace, about_unnumbered, number_height, place_for
from app.fabrication.remarks import Remark
from app.fabrication.sectors import Sizes, Work, in_sectors, kept_rings
from app.fabrication.shipping import about_load
from app.fabrication.strips import strip_at
from app.fabrication.stroke_text import mark_text
from app.fabrication.subject import Piece, Terms
from app.fabrication.whole import about_height, about_letter_builds, about_missed_seams, about_own_seams
from app.fabrication.workshop import Workshop, undivided, workshop_of
from app.job.document import Artwork, Job, Seam
from geometry.contour import Region
from geometry.curve import Arc, Cubic, Point
from geometry.findings import Finding
from geometry.measure import region_bounds
from geometry.outline import Outline
from geometry.transform import transform_contour, transform_region, translation

WITH_GRAIN: Final = (0.0, 180.0)
"""Angles at which the grain still runs along the letter."""

_SAME_WITHIN: Final = 1e-4
"""Regions whose points agree within this, mm, are the same shape."""

_SHORT: Final = {Role.COUNTER_RETAINER: "counter", Role.SPLICE_PLATE: "splice"}


@dataclass(frozen=True, slots=True, eq=False)
class _Shape:
    """What becomes of a region wherever it stands: pieces each in its own frame with its place, seams, remarks; and
    where a number of so many signs is marked on a piece, as far as that was asked.
    """

    pieces: tuple[tuple[Piece, Point], ...]
    seams: tuple[MadeSeam, ...]
    remarks: tuple[Remark, ...]
    strips: tuple[Strip, ...]
    number_places: dict[tuple[int, int], NumberPlace | None] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class _Stand:
    """A region of a letter where it stands.

    Fields
    ------
    region : Region
    suffix : str
        What tells it in ids from the letter's other regions.
    corner : Point
        Lower left of its bounds, artwork's frame.
    own : seams of the user's own by role, in its own frame
    kept_ring : sizes of the pieces of its retainer in a kept plan with locks
    key : tuple
        The same for all regions that become the same.
    """

    region: Region
    suffix: str
    corner: Point
    own: OwnSeams
    kept_ring: Sizes
    key: tuple[object, ...]


def fabricate(job: Job, lettering: tuple[Lettering, ...]) -> Fabrication:
    """Parts of all letters, with findings.

    Parameters
    ----------
    job : Job
        A job that passes `app.job.check.check_job`.
    lettering : tuple of Lettering
        Of artwork in the job, at true size.

    Raises
    ------
    JobError
        When lettering names artwork that is not in the job, or a build's kind is not known.
    """
    artwork = {one.id: one for one in job.artwork}
    own = {(one.letter, one.part): one.seams for one in job.seams}
    shops, stands = _stood(job, lettering, own)
    shapes = _shapes(lettering, artwork, shops, stands)
    parts: list[CutPart] = []
    seams: list[PartSeam] = []
    strips: list[Strip] = []
    findings: list[Finding] = [*about_own_seams(job, lettering), *about_letter_builds(job, lettering)]
    unnumbered: list[CutPart] = []
    for lines in lettering:
        made_for = artwork[lines.artwork]
        for letter in lines.letters:
            shop = shops[made_for.build_of(letter.id)]
            findings += about_height(letter, shop.terms) if shop.making.is_lit else []
            corner = corner_of(letter)
            before, parts_before = len(seams), len(parts)
            chosen = _own_of(letter, own, shop)
            for stand in stands[letter.id]:
                made = _letter_region(letter, stand, corner, made_for, shop, shapes[stand.key])
                parts += made.parts
                seams += made.seams
                strips += made.strips
                findings += made.findings
            unnumbered += [
                part
                for part in parts[parts_before:]
                if number_height(part.role, shop.terms) > 0.0 and not any(text.text == part.id for text in part.texts)
            ]
            if shop.making.has_film:
                faces = [part for part in parts[parts_before:] if part.role is Role.FACE]
                divided = [seam for seam in seams[before:] if seam.role is Role.FACE]
                film, said = film_of(letter, faces, divided, shop.terms)
                strips += [strip_at(strip, letter.id, corner, made_for.sets) for strip in film]
                findings += said
            findings += about_missed_seams(letter, chosen, seams[before:], corner, shop.terms)
            backers = [part.region for part in parts[parts_before:] if part.role is shop.making.carries]
            findings += about_load(letter, backers, shop.making.depth(shop.terms.values), shop.terms)
    findings += about_unnumbered(unnumbered)
    return Fabrication(tuple(parts), tuple(findings), tuple(seams), tuple(strips))


def _stood(
    job: Job, lettering: tuple[Lettering, ...], own: Mapping[tuple[str, str], tuple[Seam, ...]]
) -> tuple[dict[str, Workshop], dict[str, list[_Stand]]]:
    """The builds in use by id, and the regions of each letter by its id."""
    artwork = {one.id: one for one in job.artwork}
    builds = {one.id: one for one in job.builds}
    kept = kept_rings(job.plan)
    shops: dict[str, Workshop] = {}
    stands: dict[str, list[_Stand]] = {}
    for lines in lettering:
        if lines.artwork not in artwork:
            raise JobError(f"letters of artwork '{lines.artwork}' have no such artwork in the job; read it again")
        for letter in lines.letters:
            build = artwork[lines.artwork].build_of(letter.id)
            if build not in shops:
                shops[build] = workshop_of(job, builds[build])
            seams, (x, y) = _own_of(letter, own, shops[build]), corner_of(letter)
            stands[letter.id] = []
            for index, region in enumerate(letter.regions):
                suffix = f"-{_piece_letter(index)}" if len(letter.regions) > 1 else ""
                bounds, ring = region_bounds(region), kept.get(f"{letter.id}{suffix}", ())
                corner = (bounds.min_x, bounds.min_y)
                mine = {
                    role: tuple(_moved(seam, x - corner[0], y - corner[1]) for seam in of_role)
                    for role, of_role in seams.items()
                }
                key = (build, _key(region, corner), tuple(mine.items()), ring)
                stands[letter.id].append(_Stand(region, suffix, corner, mine, ring, key))
    return shops, stands


def _shapes(
    lettering: tuple[Lettering, ...],
    artwork: Mapping[str, Artwork],
    shops: Mapping[str, Workshop],
    stands: Mapping[str, Sequence[_Stand]],
) -> dict[object, _Shape]:
    """What becomes of the regions by their keys: worked out once for all that become the same."""
    works: dict[object, Work] = {}
    for lines in lettering:
        made_for = artwork[lines.artwork]
        for letter in lines.letters:
            for stand in stands[letter.id]:
                begun = works.get(stand.key) or _begun(stand, shops[made_for.build_of(letter.id)])
                works[stand.key] = replace(begun, copies=begun.copies + made_for.sets)
    return dict(zip(works, map(_finished, in_sectors(list(works.values()))), strict=True))


def _own_of(letter: Letter, own: Mapping[tuple[str, str], tuple[Seam, ...]], shop: Workshop) -> OwnSeams:
    """A letter's own seams by role, in its frame."""
    return {role: own[letter.id, role.value] for role in shop.materials if (letter.id, role.value) in own}


def _letter_region(
    letter: Letter,
    stand: _Stand,
    letter_corner: Point,
    artwork: Artwork,
    shop: Workshop,
    made: _Shape,
) -> Fabrication:
    corner, suffix = stand.corner, stand.suffix
    inset = (corner[0] - letter_corner[0], corner[1] - letter_corner[1])
    totals = Counter(piece.role for piece, _ in made.pieces)
    counts: Counter[Role] = Counter()
    parts = []
    for index, (piece, offset) in enumerate(made.pieces):
        role = piece.role
        counts[role] += 1
        number = f"-{counts[role]}" if totals[role] > 1 or role is Role.COUNTER_RETAINER else ""
        material = shop.materials[role]
        name = f"{letter.id}{suffix}-{_SHORT.get(role, role.value)}{number}"
        parts.append(
            CutPart(
                id=name,
                role=role,
                letter=letter.id,
                name=f"{letter.name}{suffix.replace('-', ' ')} {role.value}{number.replace('-', ' ')}",
                material=material.id,
                quantity=artwork.sets,
                region=piece.region,
                origin=(corner[0] + offset[0], corner[1] + offset[1]),
                rotations=WITH_GRAIN if material.has_grain else None,
                may_mirror=material.sides_alike,
                drills=piece.drills,
                marks=piece.marks,
                texts=(*piece.texts, *_number(name, index, made, shop.terms)),
            )
        )
    seams = []
    for one in made.seams:
        placed = _moved(one.seam, *corner)
        seams.append(
            PartSeam(
                letter=letter.id,
                role=one.role,
                seam=_moved(one.seam, *inset),
                start=placed.start,
                end=placed.end,
                joint=one.joint.kind.value,
                reason=one.reason,
                is_own=one.is_own,
            )
        )
    findings = [
        Finding(
            code=remark.code,
            severity=remark.severity,
            message=f"letter {letter.name} ({letter.id}{suffix}): {remark.message}",
            where=(corner[0] + remark.where[0], corner[1] + remark.where[1]),
            subject=letter.id,
        )
        for remark in made.remarks
    ]
    strips = [strip_at(strip, letter.id, corner, artwork.sets) for strip in made.strips]
    return Fabrication(tuple(parts), tuple(findings), tuple(seams), tuple(strips))


def _number(name: str, index: int, made: _Shape, terms: Terms) -> tuple[MarkText, ...]:
    """The part's number as it is marked on a piece, if it is and finds room."""
    piece, key = made.pieces[index][0], (index, len(name))
    height = number_height(piece.role, terms)
    if height <= 0.0:
        return ()
    if key not in made.number_places:
        made.number_places[key] = place_for(piece, len(name), height)
    place = made.number_places[key]
    return () if place is None else (mark_text(name, place.middle, place.height, place.angle),)


def _begun(stand: _Stand, shop: Workshop) -> Work:
    """What becomes of a region with its lower left moved to (0, 0), before large rings are looked at."""
    subject, whole = undivided(stand.region, stand.corner, shop)
    done = divide(whole.pieces, shop.terms, shop.benches, stand.own)
    return Work(shop, subject, whole.pieces, whole.remarks, stand.own, stand.kept_ring, done, copies=0)


def _finished(work: Work) -> _Shape:
    shop, terms = work.shop, work.shop.terms
    divided = together(work.pieces, work.done)
    remarks = list(work.remarks)
    for check in shop.making.checks:
        remarks += check(work.subject, divided.pieces, terms)
    strips = [strip for rule in shop.making.strips for strip in rule(work.subject, divided.pieces, terms)]
    return _Shape(
        tuple(_in_own_frame(piece) for piece in divided.pieces),
        divided.seams,
        (*remarks, *divided.remarks),
        (*strips, *divided.strips),
    )


def _in_own_frame(piece: Piece) -> tuple[Piece, Point]:
    bounds = region_bounds(piece.region)
    x, y = bounds.min_x, bounds.min_y
    moved = translation(-x, -y)
    shape = replace(
        piece,
        region=transform_region(piece.region, moved),
        outline=Outline.from_points(piece.outline.outer - (x, y), [hole - (x, y) for hole in piece.outline.holes]),
        drills=tuple(Drill(moved.apply(drill.centre), drill.diameter) for drill in piece.drills),
        marks=tuple(transform_contour(mark, moved) for mark in piece.marks),
        texts=tuple(
            MarkText(
                text.text,
                tuple(transform_contour(stroke, moved) for stroke in text.strokes),
                tuple(transform_contour(stroke, moved) for stroke in text.flipped),
            )
            for text in piece.texts
        ),
    )
    return shape, (x, y)


def _moved(seam: Seam, dx: float, dy: float) -> Seam:
    return Seam((seam.start[0] + dx, seam.start[1] + dy), (seam.end[0] + dx, seam.end[1] + dy))


def corner_of(letter: Letter) -> Point:
    """Lower left of a letter's bounds, artwork's frame, mm."""
    boxes = [region_bounds(region) for region in letter.regions]
    return min(box.min_x for box in boxes), min(box.min_y for box in boxes)


def _key(region: Region, corner: Point) -> tuple[object, ...]:
    """The same for regions that differ only by where they stand."""
    key: list[object] = []
    for contour in (region.outer, *region.holes):
        key.append(len(contour.segments))
        for segment in contour.segments:
            key.append(type(segment).__name__)
            key.append(_step(segment.start, corner))
            if isinstance(segment, Arc):
                key.append(round(segment.bulge, 9))
            elif isinstance(segment, Cubic):
                key.append(_step(segment.control1, corner))
                key.append(_step(segment.control2, corner))
    return tuple(key)


def _step(point: Point, corner: Point) -> tuple[int, int]:
    return round((point[0] - corner[0]) / _SAME_WITHIN), round((point[1] - corner[1]) / _SAME_WITHIN)


def _piece_letter(index: int) -> str:
    """a, b, ... z, then a1, b1, ..."""
    turn, place = divmod(index, 26)
    return f"{chr(ord('a') + place)}{turn or ''}"
