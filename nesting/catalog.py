"""From a problem to what the kernels pack: grown shapes in every allowed attitude, and the room on every sheet.

Each part is grown by half the spacing, so that parts stand at the spacing where grown shapes touch; the part's own
box is held inside the sheet less its margin. Simplifying only adds material. `ALLOWANCE` is taken off again, which lets
parts stand exactly at the spacing although the kernels count touching as collision.
"""

from __future__ import annotations

import math
from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, cast

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.polygon import orient

from nesting.arrays import Builder, Form, diameter, figure, turn
from nesting.kernels.prepare import inscribed_circles, simplify_outwards
from nesting.kernels.shapes import Shapes
from nesting.problem import Part, Problem, Sheet

ALLOWANCE: Final = 1e-4
"""mm. Parts may come nearer than the spacing by twice this and ARC_ERROR: a third of the referee's tolerance."""
ARC_ERROR: Final = 5e-5
SLACK: Final = 1e-6
"""mm by which a sheet is taken larger, so that a part exactly as long as the sheet lies on it."""
SIMPLIFY_SHARE: Final = 0.04
"""Of the spacing: how far a simplified grown shape may stand out."""
SAME: Final = 1e-5
"""mm by which two outlines may differ and still be the same."""
FLUSH: Final = 1.0
"""Degrees by which a side may miss the direction of an edge and still lie along it."""
LITTLE: Final = 0.05
MUCH: Final = 0.2
"""Of a part's outline lying along the sheet: less than the one as drawn and more than the other where it is turned."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Attitude:
    """One way a part may stand.

    Fields
    ------
    shape : int
        Its shape in the kernels' arrays.
    angle : float
        Degrees.
    mirrored : bool
    is_slanted : bool
        Of a part that may stand at any angle: not at right angles to how it is drawn.
    """

    shape: int
    angle: float
    mirrored: bool
    is_slanted: bool = False


@dataclass(frozen=True, slots=True)
class Room:
    """Where parts may lie on one kind of sheet, in the sheet's frame."""

    rect: tuple[float, float, float, float]  # box of the usable region, larger by SLACK
    area: float  # of the usable region, mm²
    obstacles: tuple[int, ...]  # shapes

    @property
    def box(self) -> Floats:
        """Box of the usable region itself: min x, min y, max x, max y, mm."""
        return np.array(self.rect) + SLACK * np.array((1.0, 1.0, -1.0, -1.0))


@dataclass(frozen=True, slots=True)
class Catalog:
    """Everything the kernels need to know about a problem, ready to pack."""

    shapes: Shapes
    attitudes: tuple[tuple[Attitude, ...], ...]  # by part; those tried when building up
    bases: tuple[tuple[int, ...], ...]  # by part; unturned shape, then its mirror image; only parts of any angle
    centres: tuple[tuple[float, float], ...]  # by part; the point of the part that is zero in its shapes
    areas: tuple[float, ...]  # by part; grown, without the holes that something could use
    sizes: tuple[float, ...]  # by part; hull area times diameter, for ordering
    holes: tuple[tuple[Floats, ...], ...]  # by part; usable holes of the grown shape, in the shape's frame
    rooms: tuple[Room, ...]  # by sheet
    reach: float  # how far a grown shape stands out from its part, mm

    def way_of(self, part: int, code: int, angle: float) -> Attitude:
        """The attitude behind a search's shape code: a shape, or -1 - base where turned freely by `angle`."""
        if code < 0:
            return Attitude(-1 - code, angle, self.bases[part].index(-1 - code) == 1)
        return next(way for way in self.attitudes[part] if way.shape == code)

    def box(self, code: int, angle: float) -> Floats:
        """Box of a part itself about its shape's zero, for a search's shape code and angle."""
        if code >= 0:
            return np.array(self.shapes.bare[code])
        first, last = self.shapes.hull_span[-1 - code]
        hull = turn(self.shapes.hulls[first:last], angle)
        return np.concatenate((hull.min(axis=0), hull.max(axis=0)))

    def mean_diameter(self, parts: Sequence[int]) -> float:
        """Mean over copies, given by their parts, mm."""
        return float(self.shapes.number[[self.attitudes[part][0].shape for part in parts], 1].mean())

    def placed_at(self, part: int, attitude: Attitude, x: float, y: float) -> tuple[float, float]:
        """Where the part's own zero is when its shape stands at (x, y)."""
        cx, cy = self.centres[part]
        turned = turn(np.array([[-cx if attitude.mirrored else cx, cy]]), attitude.angle)[0]
        return x - float(turned[0]), y - float(turned[1])

    def shape_at(self, part: int, attitude: Attitude, x: float, y: float) -> tuple[float, float]:
        """Where the shape stands when the part's own zero is at (x, y)."""
        cx, cy = self.centres[part]
        turned = turn(np.array([[-cx if attitude.mirrored else cx, cy]]), attitude.angle)[0]
        return x + float(turned[0]), y + float(turned[1])


def catalog(problem: Problem) -> Catalog:
    """Make the shapes of a problem. Deterministic; about 5 ms per part."""
    making = preparing(problem)
    while True:
        try:
            next(making)
        except StopIteration as done:
            return cast("Catalog", done.value)


def preparing(problem: Problem) -> Generator[int, None, Catalog]:
    """Make the shapes of a problem step by step; yields how many halves of parts are done."""
    spacing = problem.rules.spacing
    builder = Builder()
    obstacles = [_obstacles(sheet, problem.rules.margin) for sheet in problem.sheets]
    rooms = []
    for rect, area, shapes in obstacles:
        rooms.append(Room(rect, area, tuple(_add_obstacle(builder, shape) for shape in shapes)))
    any_obstacle = any(room.obstacles for room in rooms)
    simple: list[Any] = []
    rounds: list[Floats] = []
    twins = list(_twins(problem.parts))
    for part, twin in zip(problem.parts, twins, strict=True):
        simple.append(grown_part(part, spacing) if twin is None else simple[twin])
        rounds.append(_circles(simple[-1], 20, 0.9) if twin is None else rounds[twin])
        yield len(simple)
    smallest = min((float(found[0, 2]) for found in rounds), default=0.0)
    if not problem.rules.may_nest_in_holes:
        smallest = math.inf
    attitudes: list[tuple[Attitude, ...]] = []
    bases: list[tuple[int, ...]] = []
    centres: list[tuple[float, float]] = []
    areas: list[float] = []
    sizes: list[float] = []
    holes: list[tuple[Floats, ...]] = []
    many = sum(part.quantity for part in problem.parts) > 150
    for part, shape, found, twin in zip(problem.parts, simple, rounds, twins, strict=True):
        if twin is not None:
            attitudes.append(attitudes[twin])
            bases.append(bases[twin])
            areas.append(areas[twin])
            sizes.append(sizes[twin])
            holes.append(holes[twin])
            shift = part.outline.outer.min(axis=0) - problem.parts[twin].outline.outer.min(axis=0)
            centres.append((centres[twin][0] + float(shift[0]), centres[twin][1] + float(shift[1])))
            yield len(simple) + len(holes)
            continue
        packed = _without_useless_holes(shape, smallest)
        cx, cy = _centre(packed)
        rings = [ring - (cx, cy) for ring in _rings(packed)]
        own = [ring - (cx, cy) for ring in _rings(_polygon(part))]
        hull = np.asarray(shapely.convex_hull(shapely.MultiPoint(own[0])).exterior.coords)[:-1]
        solid = packed.area / packed.convex_hull.area
        circles = found if packed is shape else _circles(packed, 20, 0.9)
        circles = _far_first(circles[: 10 if solid > 0.6 else 20]) - (cx, cy, 0.0)
        own_circles = _circles(_polygon(part), 10, 0.9) - (cx, cy, 0.0) if any_obstacle else circles
        weight, reach = packed.convex_hull.area**0.25, diameter(hull)
        bare = figure(own, own_circles) if any_obstacle else None
        form = Form(figure(rings, circles), hull, weight, reach, bare)
        base: list[int] = []
        ways = _ways(part, hull, rooms, few=many)
        made = tuple(
            Attitude(builder.stand(form, angle, mirrored=mirrored), angle, mirrored)
            for angle, mirrored in _different(own, ways, may_mirror=part.may_mirror)
        )
        if part.rotations is None:
            base = [builder.stand(form, mirrored=mirrored) for mirrored in (False, True)[: 1 + part.may_mirror]]
        attitudes.append(made if part.rotations is not None else _slanted(made, own, hull, rooms))
        bases.append(tuple(base))
        centres.append((cx, cy))
        areas.append(float(packed.area))
        sizes.append(float(packed.convex_hull.area) * reach)
        holes.append(tuple(rings[1:]))
        yield len(simple) + len(holes)
    if not builder.spans:
        raise ValueError("a problem without parts needs no shapes")
    return Catalog(
        builder.build(),
        tuple(attitudes),
        tuple(bases),
        tuple(centres),
        tuple(areas),
        tuple(sizes),
        tuple(holes),
        tuple(rooms),
        max(spacing / 2, 0.0),
    )


def _twins(parts: Sequence[Part]) -> Iterator[int | None]:
    """For each part an earlier one that may do the same and only lies elsewhere as drawn, such as the same letter."""
    known: dict[tuple[object, ...], int] = {}
    for p, part in enumerate(parts):
        low = part.outline.outer.min(axis=0)
        rings = [np.round((np.asarray(ring) - low) / SAME) + 0.0 for ring in (part.outline.outer, *part.outline.holes)]
        key = (part.rotations, part.may_mirror, *(ring.tobytes() for ring in rings))
        first = known.setdefault(key, p)
        yield None if first == p else first


def grown_part(part: Part, spacing: float) -> Any:
    """A part grown by half the spacing, less `ALLOWANCE`, with few points but no less material."""
    return _simplified(grow(_polygon(part), spacing), spacing)


def grow(shape: Any, spacing: float) -> Any:
    """The polygon grown by half the spacing with round corners, less `ALLOWANCE`."""
    radius = spacing / 2 - ALLOWANCE
    if radius > 0.0:
        segments = max(4, math.ceil(math.pi / 4 / math.sqrt(2.0 * ARC_ERROR / radius)))
        grown = shape.buffer(radius, quad_segs=segments)
    else:
        grown = shape.buffer(radius, join_style="mitre", mitre_limit=20.0)
    return grown if isinstance(grown, shapely.Polygon) and not grown.is_empty else shape


def _simplified(grown: Any, spacing: float) -> Any:
    """Fewer points, never less material; anticlockwise with clockwise holes."""
    grown = orient(grown)
    tolerance = max(SIMPLIFY_SHARE * spacing, 1e-9)
    for _ in range(4):
        rings = [simplify_outwards(ring, tolerance) for ring in _rings(grown)]
        simple = shapely.Polygon(rings[0], rings[1:])
        if simple.is_valid and simple.buffer(1e-7).covers(grown):
            return simple
        tolerance /= 4.0
    return grown


def _without_useless_holes(shape: Any, smallest: float) -> Any:
    """Without the holes that cannot take a circle of radius `smallest`: nothing fits in those."""
    holes = []
    for ring in shape.interiors:
        hole = shapely.Polygon(ring)
        if hole.area > math.pi * smallest**2 and float(_circles(orient(hole), 1, 1.0)[0, 2]) >= smallest:
            holes.append(ring)
    return shape if len(holes) == len(shape.interiors) else shapely.Polygon(shape.exterior, holes)


def _ways(part: Part, hull: Floats, rooms: list[Room], *, few: bool) -> tuple[float, ...]:
    """Angles tried when building up: the allowed ones, or for any angle those that lay a long side flush."""
    if part.rotations is not None:
        return tuple(dict.fromkeys(angle % 360.0 for angle in part.rotations))
    sides = np.roll(hull, -1, axis=0) - hull
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    leans = np.degrees(np.arctan2(sides[:, 1], sides[:, 0])) % 90.0
    c, s = np.cos(np.radians(leans))[:, None], np.sin(np.radians(leans))[:, None]
    boxes = np.ptp(c * hull[:, 0] + s * hull[:, 1], axis=1) * np.ptp(c * hull[:, 1] - s * hull[:, 0], axis=1)
    wanted = [0.0, float(leans[int(np.argmin(boxes))])]
    for k in np.argsort(-lengths, kind="stable"):
        if len(wanted) >= (3 if few else 5):
            break
        lean = float(leans[k])
        if all(min(abs(lean - w), 90.0 - abs(lean - w)) > 1.0 for w in wanted):
            wanted.append(lean)
    ways = [(quarter - lean) % 360.0 for lean in wanted for quarter in (0.0, 90.0, 180.0, 270.0)]
    if not any(_fits(turn(hull, way), room) for way in ways for room in rooms):
        # Only slantwise: a long part across the diagonal.
        ways += [float(way) for way in range(360) if any(_fits(turn(hull, float(way)), room) for room in rooms)][:12]
    return tuple(dict.fromkeys(ways))


def _slanted(made: tuple[Attitude, ...], rings: list[Floats], hull: Floats, rooms: list[Room]) -> tuple[Attitude, ...]:
    """The attitudes of a part of any angle, told which are slanted: not at right angles to the part as drawn.

    Where next to nothing of its outline lies along the sheet as drawn but much does at another lean, as with letters of
    a line set slantwise, it is that lean. Where the part as drawn fits nowhere, nothing counts as slanted.
    """
    leans: dict[float, list[Attitude]] = {}
    for way in made:
        leans.setdefault(round(-way.angle % 90.0, 6) % 90.0, []).append(way)
    both = (hull, hull * (-1.0, 1.0))
    fitting = {
        lean
        for lean, ways in leans.items()
        if any(_fits(turn(both[way.mirrored], way.angle), room) for way in ways for room in rooms)
    }
    if 0.0 not in fitting:
        return made
    sides = np.concatenate([np.roll(ring, -1, axis=0) - ring for ring in rings])
    lengths, slopes = np.hypot(*sides.T), np.degrees(np.arctan2(sides[:, 1], sides[:, 0]))
    off = {lean: np.abs((slopes - lean + 45.0) % 90.0 - 45.0) for lean in fitting}
    along = {lean: float(lengths[off[lean] < FLUSH].sum() / lengths.sum()) for lean in fitting}
    best = max(sorted(fitting), key=along.__getitem__)
    lean = best if along[0.0] < LITTLE and along[best] > MUCH else 0.0
    return tuple(replace(way, is_slanted=way not in leans[lean]) for way in made)


def _fits(hull: Floats, room: Room) -> bool:
    width, height = np.ptp(hull, axis=0)
    return bool(width <= room.rect[2] - room.rect[0] and height <= room.rect[3] - room.rect[1])


def _different(rings: list[Floats], angles: Sequence[float], *, may_mirror: bool) -> Iterator[tuple[float, bool]]:
    """Angles and mirroring without those that look like an earlier one: symmetric parts need fewer of them."""
    points = np.concatenate(rings)
    size = float(np.ptp(points, axis=0).max())
    looks: dict[tuple[int, ...], set[bytes]] = {}
    first: dict[tuple[int, ...], tuple[float, bool]] = {}
    for mirrored in (False, True)[: 1 + may_mirror]:
        for angle in angles:
            turned = turn(points * (-1.0 if mirrored else 1.0, 1.0), angle)
            low = turned.min(axis=0)
            # Size and centre of gravity tell most attitudes apart; only where they agree all points are compared.
            numbers = np.concatenate((turned.max(axis=0) - low, turned.mean(axis=0) - low))
            glance = tuple(np.round(numbers / (1e-6 * size)).astype(int).tolist())
            if glance not in first:
                first[glance] = (angle, mirrored)
                yield angle, mirrored
                continue
            seen = looks.setdefault(glance, {_looks(rings, *first[glance])})
            key = _looks(rings, angle, mirrored)
            if key not in seen:
                seen.add(key)
                yield angle, mirrored


def _looks(rings: list[Floats], angle: float, mirrored: bool) -> bytes:
    """A key that two attitudes share when they only differ by a shift."""
    turned = [turn(ring * (-1.0 if mirrored else 1.0, 1.0), angle) for ring in rings]
    middles = [(ring + np.roll(ring, -1, axis=0)) / 2 for ring in turned]  # corners do not say how they are joined
    points = np.concatenate(turned + middles)
    points = points - points.min(axis=0)
    points = np.round(points / (1e-6 * max(float(points.max()), 1e-9)))
    return np.unique(points, axis=0).tobytes()


def _obstacles(sheet: Sheet, margin: float) -> tuple[tuple[float, float, float, float], float, list[Any]]:
    outline = shapely.Polygon(sheet.outline.outer, sheet.outline.holes)
    usable = outline.buffer(-margin, quad_segs=64) if margin > 0 else outline
    x0, y0, x1, y1 = usable.bounds
    blocked: list[Any] = []
    if usable.area < (x1 - x0) * (y1 - y0) * (1 - 1e-9):
        pad = 0.1 * max(x1 - x0, y1 - y0)
        blocked.append(shapely.box(x0 - pad, y0 - pad, x1 + pad, y1 + pad).difference(usable))
    zones = [shapely.Polygon(zone.outer, zone.holes) for zone in sheet.keep_outs]
    free = usable
    for zone in zones:
        free = free.difference(zone)
        blocked.append(zone)
    shapes = []
    for block in blocked:
        shrunk = block.buffer(-ALLOWANCE, join_style="mitre", mitre_limit=20.0)
        shapes += [shape for shape in shapely.get_parts(shrunk) if shape.area > 0]
    return (x0 - SLACK, y0 - SLACK, x1 + SLACK, y1 + SLACK), float(free.area), shapes


def _add_obstacle(builder: Builder, shape: Any) -> int:
    rings = _rings(orient(shape))
    hull = np.asarray(shape.convex_hull.exterior.coords)[:-1]
    grown = figure(rings, _circles(shape, 24, 0.95))
    return builder.stand(Form(grown, hull, shape.convex_hull.area**0.25, diameter(hull)))


def _polygon(part: Part) -> Any:
    return shapely.Polygon(part.outline.outer, part.outline.holes)


def _rings(shape: Any) -> list[Floats]:
    return [np.ascontiguousarray(np.asarray(ring.coords)[:-1]) for ring in (shape.exterior, *shape.interiors)]


def _circles(shape: Any, count: int, share: float) -> Floats:
    edges = np.concatenate([np.column_stack((ring, np.roll(ring, -1, axis=0))) for ring in _rings(shape)])
    found = inscribed_circles(edges, count, share)
    if len(found) == 0:
        x, y = shape.representative_point().coords[0]
        found = np.array([[x, y, 1e-6]])
    return np.asarray(found)


def _far_first(circles: Floats) -> Floats:
    """The largest circle, then always the one farthest from those before: what does not fit is found out soon."""
    order = [0]
    away = np.hypot(*(circles[:, :2] - circles[0, :2]).T)
    while len(order) < len(circles):
        order.append(int(np.argmax(away)))
        away = np.minimum(away, np.hypot(*(circles[:, :2] - circles[order[-1], :2]).T))
        away[order] = -1.0
    return circles[order]


def _centre(shape: Any) -> tuple[float, float]:
    x0, y0, x1, y1 = shape.bounds
    return (x0 + x1) / 2, (y0 + y1) / 2
