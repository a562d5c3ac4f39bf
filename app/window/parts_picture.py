"""The parts to cut: laid out by role, or standing where they belong in the sign."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainterPath, QTransform

from app.fabrication.part import CutPart, Role
from app.job.document import Job
from app.planning.prepare import Prepared
from app.window.paths import PathCache, add_contour
from app.window.picture import Fact, Look, Picture, Thing, Words
from app.window.theme import Theme
from app.window.wording import area, count, size
from geometry.measure import region_area, region_bounds, region_perimeter
from geometry.units import format_both, format_length


class Arrangement(StrEnum):
    """How the parts are shown."""

    BY_ROLE = "By role"
    IN_PLACE = "In place"


DEPTH = (Role.PANEL, Role.BACKER, Role.SPLICE_PLATE, Role.FACE, Role.FILM, Role.RETAINER, Role.COUNTER_RETAINER)
"""From the wall to the viewer: what is painted first when parts stand in place."""

SHELF_SHAPE = 1.9
"""Width to height that a picture laid out by role aims at."""


def parts_picture(
    prepared: Prepared,
    job: Job,
    arrangement: Arrangement,
    roles: Iterable[Role],
    theme: Theme,
    paths: PathCache,
) -> Picture:
    """The parts of the given roles."""
    wanted = set(roles)
    parts = [part for part in prepared.parts if part.role in wanted]
    picture = Picture(theme)
    if arrangement is Arrangement.IN_PLACE:
        _in_place(picture, parts, prepared, job, paths)
    else:
        _by_role(picture, parts, job, paths)
    return picture


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
    part: CutPart, key: str, label: str, job: Job, theme: Theme, paths: PathCache, facts: tuple[Fact, ...] = ()
) -> Thing:
    """A part in its own frame, coloured by role."""
    extra = None
    if part.drills or part.marks:
        extra = QPainterPath()
        for drill in part.drills:
            extra.addEllipse(QPointF(*drill.centre), drill.diameter / 2, drill.diameter / 2)
        for mark in part.marks:
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
        facts=(*facts, *part_facts(part, job)),
        label=label,
        label_at=lambda: paths.spot(region),
        extra=extra,
    )


def _size(part: CutPart) -> tuple[float, float]:
    bounds = region_bounds(part.region)
    return bounds.width, bounds.height


def _in_place(picture: Picture, parts: list[CutPart], prepared: Prepared, job: Job, paths: PathCache) -> None:
    artwork_of = {letter.id: one.artwork for one in prepared.lettering for letter in one.letters}
    frames: dict[str, QTransform] = {}
    gap = 0.22 * max((max(one.height, 0.15 * one.width) for one in prepared.lettering), default=1.0)
    top = 0.0
    for lettering in prepared.lettering:
        frames[lettering.artwork] = QTransform.fromTranslate(0.0, top - lettering.height)
        top -= lettering.height + gap
    bounds = QRectF()
    for part in sorted(parts, key=lambda part: DEPTH.index(part.role)):
        base = frames.get(artwork_of.get(part.letter, ""), QTransform())
        frame = QTransform.fromTranslate(*part.origin) * base
        thing = part_thing(part, part.id, "", job, picture.theme, paths)
        thing.setTransform(frame)
        thing.setOpacity(0.9)
        picture.add(thing)
        picture.frames[part.id] = frame
        bounds = bounds.united(frame.mapRect(thing.boundingRect()))
    picture.frames.update(frames)
    picture.frames.update({letter: frames[artwork] for letter, artwork in artwork_of.items()})
    picture.bounds = bounds if not bounds.isNull() else QRectF(0, 0, 1, 1)


def _by_role(picture: Picture, parts: list[CutPart], job: Job, paths: PathCache) -> None:
    if not parts:
        picture.bounds = QRectF(0, 0, 1, 1)
        return
    sizes = {part.id: _size(part) for part in parts}
    gap = 0.12 * sum(max(size) for size in sizes.values()) / len(sizes)
    boxes = sum((width + gap) * (height + gap) for width, height in sizes.values())
    shelf = max((boxes * SHELF_SHAPE) ** 0.5, *(width for width, _height in sizes.values()))
    heading = 1.1 * gap + 0.035 * shelf / SHELF_SHAPE
    y = 0.0
    for role in Role:
        of_role = [part for part in parts if part.role is role]
        if not of_role:
            continue
        copies = sum(part.quantity for part in of_role)
        y -= heading
        title = f"{role.value.capitalize()}   {count(copies, 'piece')}"
        picture.add(
            Words(
                picture.theme,
                title,
                QPointF(0.0, y + 0.45 * heading),
                align=Qt.AlignmentFlag.AlignLeft,
                px=13,
                bold=True,
                is_muted=False,
            )
        )
        x = row = 0.0
        for part in of_role:
            width, height = sizes[part.id]
            if x > 0.0 and x + width > shelf:
                y -= row + gap
                x = row = 0.0
            thing = part_thing(
                part,
                part.id,
                part.name + (f" ×{part.quantity}" if part.quantity > 1 else ""),
                job,
                picture.theme,
                paths,
            )
            frame = QTransform.fromTranslate(x, y - height)
            thing.setTransform(frame)
            picture.add(thing)
            picture.frames[part.id] = frame
            x += width + gap
            row = max(row, height)
        y -= row + gap
    picture.bounds = QRectF(0.0, y + gap, shelf, -(y + gap))
