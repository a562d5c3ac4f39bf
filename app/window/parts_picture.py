"""The parts to cut: laid out by role, or standing where they belong in the sign."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import Final

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QPainterPath, QTransform

from app.fabrication.part import CutPart, Role
from app.job.document import Job
from app.planning.prepare import Prepared
from app.window.artwork_picture import artwork_frames
from app.window.finding_marks import mark_findings
from app.window.flow import Size, flow_with_words
from app.window.paths import PathCache, add_contour
from app.window.picture import FIT_MARGIN_PX, Fact, Look, Picture, Thing, Words, heading
from app.window.seam_lines import SeamLine
from app.window.theme import Theme
from app.window.wording import area, count, size
from geometry.findings import Finding
from geometry.measure import region_area, region_bounds, region_perimeter
from geometry.units import format_both, format_length


class Arrangement(StrEnum):
    """How the parts are shown."""

    BY_ROLE = "By role"
    BY_MATERIAL = "By material"
    BY_LETTER = "By letter"
    IN_PLACE = "In place"


HEAD_PX: Final = 30.0
"""Height of a role's heading."""
NAME_PX: Final = 18.0
"""Height kept free under each part for its name."""
MOST_NAMED: Final = 120
"""Of more parts than this the names are told by pointing at them: they would take more room than the parts."""
DEPTH: Final = (Role.PANEL, Role.BACKER, Role.SPLICE_PLATE, Role.FACE, Role.FILM, Role.RETAINER, Role.COUNTER_RETAINER)
"""From the wall to the viewer: what is painted first when parts stand in place."""


def parts_picture(
    prepared: Prepared,
    job: Job,
    arrangement: Arrangement,
    roles: Iterable[Role],
    theme: Theme,
    paths: PathCache,
    board_px: Size,
    findings: Iterable[Finding] = (),
    changing: tuple[str, Role] | None = None,
) -> Picture:
    """The parts of the given roles, laid out for a board of this size, with what is said of them at its place.

    While the seams of one letter and role are changed only its parts are shown; who changes them draws the seams.
    """
    wanted = set(roles)
    parts = [
        part for part in prepared.parts if part.role in wanted and (changing is None or part.letter == changing[0])
    ]
    picture = Picture(theme)
    if arrangement is Arrangement.IN_PLACE:
        _in_place(picture, parts, prepared, job, paths, board_px)
        if changing is None:
            _seams(picture, prepared, wanted)
    else:
        _in_groups(picture, _groups(parts, arrangement, job, prepared), job, paths, board_px)
    mark_findings(picture, findings)
    return picture


def _groups(
    parts: list[CutPart], arrangement: Arrangement, job: Job, prepared: Prepared
) -> list[tuple[str, list[CutPart]]]:
    """Headings with the parts under each."""
    if arrangement is Arrangement.BY_MATERIAL:
        heads = [(one.name, one.id) for one in job.materials]
        found = [(name, [part for part in parts if part.material == material]) for name, material in heads]
    elif arrangement is Arrangement.BY_LETTER:
        letters = [letter for one in prepared.lettering for letter in one.letters]
        found = [(letter.name, [part for part in parts if part.letter == letter.id]) for letter in letters]
    else:
        found = [(role.value.capitalize(), [part for part in parts if part.role is role]) for role in Role]
    return [(name, of_group) for name, of_group in found if of_group]


def part_facts(part: CutPart, job: Job) -> tuple[Fact, ...]:
    """What is known of a part."""
    material = next((one.name for one in job.materials if one.id == part.material), part.material)
    width, height = _size(part)
    turns = "any angle" if part.rotations is None else ", ".join(f"{angle:g}°" for angle in part.rotations)
    facts = [
        ("Part", part.name),
        ("Id", part.id),
        ("Role", part.role.value),
        ("Material", material),
        ("Quantity", str(part.quantity)),
        ("Width", format_both(width)),
        ("Height", format_both(height)),
        ("Net area", area(region_area(part.region), job.units)),
        ("Cut length", format_length(region_perimeter(part.region), job.units)),
        ("May turn", turns),
    ]
    if part.drills:
        sizes = sorted({drill.diameter for drill in part.drills})
        facts.append(
            ("Drilled", f"{len(part.drills)} × ⌀ " + ", ".join(format_length(one, job.units) for one in sizes))
        )
    if part.may_mirror:
        facts.append(("May be cut", "mirrored"))
    return tuple(facts)


def part_thing(
    part: CutPart,
    key: str,
    labels: tuple[str, ...],
    job: Job,
    theme: Theme,
    paths: PathCache,
    facts: tuple[Fact, ...] = (),
) -> Thing:
    """A part in its own frame, coloured by role."""
    extra = None
    marks = part.marks_when(mirrored=False)
    if part.drills or marks:
        extra = QPainterPath()
        for drill in part.drills:
            extra.addEllipse(QPointF(*drill.centre), drill.diameter / 2, drill.diameter / 2)
        for mark in marks:
            add_contour(extra, mark)
    role = part.role
    width, height = _size(part)
    tip = f"{part.name}   {size(width, height, job.units)}"
    if part.quantity > 1:
        tip += f"   ×{part.quantity}"
    region = part.region
    return Thing(
        theme,
        key,
        paths.of(region),
        Look(fill=lambda colours: colours.role_fill(role), edge=lambda colours: colours.role_edge(role)),
        tip=tip,
        facts=(*part_facts(part, job), *facts),
        labels=labels,
        label_spot=lambda: paths.spot(region),
        extra=extra,
    )


def _size(part: CutPart) -> tuple[float, float]:
    bounds = region_bounds(part.region)
    return bounds.width, bounds.height


def short_name(part: CutPart) -> str:
    """The letter's name, with the number of the piece where there are several, for where there is no room for more."""
    words = part.name.split()
    if not words:
        return part.id
    return f"{words[0]} {words[-1]}" if len(words) > 2 and words[-1].isdigit() else words[0]


def _in_place(
    picture: Picture, parts: list[CutPart], prepared: Prepared, job: Job, paths: PathCache, board_px: Size
) -> None:
    artwork_of = {letter.id: one.artwork for one in prepared.lettering for letter in one.letters}
    placed = artwork_frames(prepared, board_px)
    for part in sorted(parts, key=lambda part: DEPTH.index(part.role)):
        base = placed.frames.get(artwork_of.get(part.letter, ""), QTransform())
        frame = QTransform.fromTranslate(*part.origin) * base
        thing = part_thing(part, part.id, (), job, picture.theme, paths)
        thing.setTransform(frame)
        thing.setOpacity(0.92)
        picture.add(thing)
        picture.frames[part.id] = frame
    picture.frames.update(placed.frames)
    picture.frames.update({letter: placed.frames[artwork] for letter, artwork in artwork_of.items()})
    picture.bounds = placed.bounds


def _seams(picture: Picture, prepared: Prepared, roles: set[Role]) -> None:
    for seam in prepared.seams:
        frame = picture.frames.get(seam.letter)
        if seam.role in roles and frame is not None:
            line = SeamLine(picture.theme, seam)
            line.setTransform(frame)
            picture.add(line)


def _in_groups(
    picture: Picture, groups: list[tuple[str, list[CutPart]]], job: Job, paths: PathCache, board_px: Size
) -> None:
    if not groups:
        picture.bounds = QRectF(0, 0, 1, 1)
        return
    parts = [part for _name, of_group in groups for part in of_group]
    sizes = {part.id: _size(part) for part in parts}
    boxes = [[sizes[part.id] for part in of_group] for _name, of_group in groups]
    has_names = len(parts) <= MOST_NAMED
    gap_px = (7.0, NAME_PX if has_names else 7.0)
    laid, mm_per_px = flow_with_words(boxes, gap_px=gap_px, head_px=HEAD_PX, edge_px=FIT_MARGIN_PX, board_px=board_px)
    head = HEAD_PX * mm_per_px
    for (name, of_group), corners, top in zip(groups, laid.corners, laid.heads, strict=True):
        title = f"{name}   {count(sum(part.quantity for part in of_group), 'piece')}"
        at = QPointF(0.0, top - head)
        picture.add(heading(picture.theme, title, at, lift_px=10))
        for part, (x, y) in zip(of_group, corners, strict=True):
            times = f" ×{part.quantity}" if part.quantity > 1 else ""
            thing = part_thing(part, part.id, (), job, picture.theme, paths)
            frame = QTransform.fromTranslate(x, y - sizes[part.id][1])
            thing.setTransform(frame)
            picture.add(thing)
            if has_names:
                named = short_name(part) + times  # the role is in its colour
                picture.add(
                    Words(
                        picture.theme,
                        f"{named}   {size(*sizes[part.id], job.units)}",
                        QPointF(x + sizes[part.id][0] / 2, y - sizes[part.id][1]),
                        shift_px=(0, 9),
                        px=11,
                        room=sizes[part.id][0] + 2.0 * mm_per_px,
                        shorter=(named,),
                        rank=3,
                        is_beside=True,
                    )
                )
            picture.frames[part.id] = frame
            # What is said of a letter is shown on its first part; places are told in the artwork's frame.
            picture.frames.setdefault(part.letter, QTransform.fromTranslate(-part.origin[0], -part.origin[1]) * frame)
    picture.bounds = QRectF(0.0, -laid.height, laid.width, laid.height)
