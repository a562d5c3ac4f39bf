"""The last check before anything is cut: every cut file is read back and compared with the plan.

Nothing of the writer is used. The file is read with ezdxf into plain curves (`app.output.dxf_content`), the plan's
finished edges are put in their places by the contract's own words (mirror in x, rotate about the origin, move), and
the two must agree edge by edge. Spacing, margin, keep-outs and order are then measured on the file's curves alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from app.errors import ExportError
from app.job.cutting import USUAL, Cutting
from app.job.document import DisplayUnits
from app.output.dxf_content import FLATTENING, Circle, Content, Polyline, read_content
from app.output.reread_paths import FoundEdge, check_paths
from app.output.words import one_line
from app.planning.job_plan import Offcut, PlacedPart, PlannedSheet
from geometry.contour import Contour
from geometry.flatten import flatten_contour
from geometry.measure import contour_area, contour_length
from nesting.plan import Placement

TOLERANCE: Final = 0.001
"""mm; how far an edge in the file may lie from the plan's, and differ in length. Areas: this times the length."""

_MEASURED: Final = TOLERANCE + 2 * FLATTENING
"""mm; how far a distance measured between flattened curves may fall short of the one asked for."""
_UNITS: Final = {DisplayUnits.INCHES: 25.4, DisplayUnits.MILLIMETRES: 1.0}

_Points = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class _Edge:
    """A finished edge of the plan where it should lie in the file."""

    piece: int  # place of the part in the sheet's list
    layer: str
    what: str  # for messages
    ring: _Points  # closed: last point repeats the first
    knots: _Points
    area: float
    length: float


@dataclass(frozen=True, eq=False)
class _Found:
    """A part as the file has it."""

    what: str
    shape: shapely.Polygon
    outside: Polyline
    holes: tuple[Polyline, ...]


def check_cut_file(path: Path, sheet: PlannedSheet, units: DisplayUnits, cutting: Cutting = USUAL) -> None:
    """Compare a cut file with the sheet it was written for.

    Raises
    ------
    ExportError
        At the first difference: what, where, and by how much.
    """
    content = read_content(path)
    if content.mm_per_unit != _UNITS[units]:
        raise ExportError(f"{path.name} is not in the job's units")
    _check_stock(path.name, content, sheet)
    found = _check_edges(path.name, content, sheet)
    _check_drills(path.name, content, sheet)
    _check_marks(path.name, content, sheet)
    _check_distances(path.name, found, sheet)
    _check_order(path.name, found, content, sheet)
    _check_offcuts(path.name, content, found, sheet)
    check_paths(path.name, content, np.array([one.shape for one in found]), _by_layer(found), sheet, cutting)
    _check_notes(path.name, content, found, sheet)


def _by_layer(found: Sequence[_Found]) -> dict[str, list[FoundEdge]]:
    outside = [FoundEdge(i, one.what, one.outside, shapely.Polygon(one.outside.ring)) for i, one in enumerate(found)]
    inside = [
        FoundEdge(i, f"a hole of {one.what}", hole, shapely.Polygon(hole.ring))
        for i, one in enumerate(found)
        for hole in one.holes
    ]
    return {"OUTSIDE": outside, "INSIDE": inside}


def _placed(points: _Points, placement: Placement) -> _Points:
    """Mirror in x, rotate about the origin, move: the contract's words in numbers."""
    x = -points[:, 0] if placement.mirrored else points[:, 0]
    turn = math.radians(placement.rotation)
    cosine, sine = math.cos(turn), math.sin(turn)
    return np.stack(
        [cosine * x - sine * points[:, 1] + placement.x, sine * x + cosine * points[:, 1] + placement.y], axis=1
    )


def _closed(ring: _Points) -> _Points:
    return np.vstack([ring, ring[:1]])


def _edge(index: int, layer: str, what: str, contour: Contour, placement: Placement) -> _Edge:
    ring = flatten_contour(contour, FLATTENING)
    starts = np.array([segment.start for segment in contour.segments])
    return _Edge(
        piece=index,
        layer=layer,
        what=what,
        ring=_placed(_closed(ring), placement),
        knots=_placed(np.vstack([starts, ring[:: max(1, len(ring) // 64)]]), placement),
        area=abs(contour_area(contour)),
        length=contour_length(contour),
    )


def _name(placed: PlacedPart) -> str:
    return f"{placed.part.id} copy {placed.placement.copy + 1}"


def _check_stock(file: str, content: Content, sheet: PlannedSheet) -> None:
    width, height = sheet.stock.width, sheet.stock.height
    stock = content.on("STOCK")
    if sheet.stock.outline is not None:
        _check_outline(file, content, sheet)
        return
    if len(stock) != 1 or not stock[0].is_closed or not _is_box(stock[0], 0.0, 0.0, width, height):
        raise ExportError(f"{file}: the sheet's edge is not one rectangle of {width:g} x {height:g} mm at 0,0")
    wanted = [(zone.x, zone.y, zone.width, zone.height) for zone in sheet.stock.keep_outs]
    margin = sheet.margin
    if margin > 0 and min(width, height) > 2 * margin:
        wanted.append((margin, margin, width - 2 * margin, height - 2 * margin))
    drawn = list(content.on("KEEPOUT"))
    for box in wanted:
        match = next((one for one in drawn if one.is_closed and _is_box(one, *box)), None)
        if match is None:
            raise ExportError(f"{file}: the keep-out of {box[2]:g} x {box[3]:g} mm at {box[0]:g},{box[1]:g} is missing")
        drawn.remove(match)
    if drawn:
        raise ExportError(f"{file}: {len(drawn)} keep-outs more than the sheet has")


def _check_outline(file: str, content: Content, sheet: PlannedSheet) -> None:
    """The edge of an offcut that is no rectangle, its margin and its keep-outs."""
    edge = shapely.Polygon(sheet.stock.edge)
    stock = content.on("STOCK")
    near = TOLERANCE * edge.length
    if (
        len(stock) != 1
        or not stock[0].is_closed
        or shapely.Polygon(stock[0].ring).symmetric_difference(edge).area > near
    ):
        raise ExportError(f"{file}: the sheet's edge is not the outline of {sheet.stock.name}")
    drawn = list(content.on("KEEPOUT"))
    for zone in sheet.stock.keep_outs:
        match = next((one for one in drawn if _is_box(one, zone.x, zone.y, zone.width, zone.height)), None)
        if match is None:
            raise ExportError(f"{file}: the keep-out at {zone.x:g},{zone.y:g} mm is missing")
        drawn.remove(match)
    inner = edge.buffer(-sheet.margin, quad_segs=64) if sheet.margin > 0 else shapely.Polygon()
    lines = shapely.union_all([shapely.Polygon(one.ring) for one in drawn])
    if lines.symmetric_difference(inner).area > near:
        raise ExportError(f"{file}: the line of the margin of {sheet.margin:g} mm is not where it belongs")


def _is_box(polyline: Polyline, x: float, y: float, width: float, height: float) -> bool:
    corners = np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])
    # A side may be broken where the cutter goes in: every corner must be there, and every knot on a side.
    knots = polyline.knots
    away = np.abs(knots[:, None, :] - corners[None, :, :]).max(axis=2)
    has_corners = bool((away.min(axis=0) <= TOLERANCE).all())
    off_sides = np.abs(np.stack([knots[:, 0] - x, knots[:, 0] - x - width, knots[:, 1] - y, knots[:, 1] - y - height]))
    area_off = abs(abs(polyline.area) - width * height)
    on_sides = bool((off_sides.min(axis=0) <= TOLERANCE).all())
    return has_corners and on_sides and area_off <= 2 * TOLERANCE * (width + height)


def _check_edges(file: str, content: Content, sheet: PlannedSheet) -> list[_Found]:
    """Match every edge of the plan with one of the file; answer the parts as the file has them."""
    matched: list[dict[str, list[Polyline]]] = [{"OUTSIDE": [], "INSIDE": []} for _ in sheet.placed]
    for layer in ("OUTSIDE", "INSIDE"):
        wanted = [edge for edge in _edges(sheet) if edge.layer == layer]
        drawn = content.on(layer)
        if len(drawn) != len(wanted):
            raise ExportError(f"{file}: {len(drawn)} edges on layer {layer}, the plan has {len(wanted)}")
        if not wanted:
            continue
        if not all(one.is_closed for one in drawn):
            raise ExportError(f"{file}: an edge on layer {layer} is not closed")
        bounds = np.array([_bounds(one.ring) for one in drawn])
        free = np.ones(len(drawn), dtype=bool)
        for edge in wanted:
            away = np.abs(bounds - _bounds(edge.ring)).max(axis=1)
            away[~free] = np.inf
            nearest = int(np.argmin(away))
            _compare(file, edge, drawn[nearest], float(away[nearest]))
            free[nearest] = False
            matched[edge.piece][layer].append(drawn[nearest])
    return [
        _Found(
            _name(placed),
            shapely.Polygon(edges["OUTSIDE"][0].ring, [hole.ring for hole in edges["INSIDE"]]),
            edges["OUTSIDE"][0],
            tuple(edges["INSIDE"]),
        )
        for placed, edges in zip(sheet.placed, matched, strict=True)
    ]


def _edges(sheet: PlannedSheet) -> list[_Edge]:
    edges = []
    for index, placed in enumerate(sheet.placed):
        region, placement, name = placed.part.region, placed.placement, _name(placed)
        edges.append(_edge(index, "OUTSIDE", f"the outside edge of {name}", region.outer, placement))
        edges += [_edge(index, "INSIDE", f"a hole of {name}", hole, placement) for hole in region.holes]
    return edges


def _bounds(points: _Points) -> _Points:
    return np.concatenate([points.min(axis=0), points.max(axis=0)])


def _compare(file: str, edge: _Edge, drawn: Polyline, away: float) -> None:
    if away > _MEASURED:
        raise ExportError(f"{file}: {edge.what} is not where the plan has it (nearest edge is {away:.4f} mm off)")
    if abs(drawn.length - edge.length) > TOLERANCE:
        raise ExportError(f"{file}: {edge.what} is {drawn.length:.4f} mm long, the plan has {edge.length:.4f} mm")
    if abs(abs(drawn.area) - edge.area) > TOLERANCE * edge.length:
        raise ExportError(f"{file}: {edge.what} encloses {abs(drawn.area):.3f} mm², the plan has {edge.area:.3f} mm²")
    for curve, knots in ((drawn.ring, edge.knots), (edge.ring, drawn.knots)):
        off = _farthest(curve, knots)
        if off > TOLERANCE + FLATTENING:
            raise ExportError(f"{file}: {edge.what} is {off:.4f} mm off the plan's")


def _farthest(curve: _Points, points: _Points) -> float:
    """Distance from the curve of the point that is farthest away; 0 when all are within tolerance."""
    line = shapely.LineString(curve)
    shapely.prepare(line)
    spots = shapely.points(points)
    if bool(shapely.dwithin(line, spots, TOLERANCE + FLATTENING).all()):
        return 0.0
    return float(shapely.distance(line, spots).max())


def _check_drills(file: str, content: Content, sheet: PlannedSheet) -> None:
    wanted = [
        (_name(placed), *_placed(np.array([drill.centre]), placed.placement)[0], drill.diameter)
        for placed in sheet.placed
        for drill in placed.part.drills
    ]
    drawn = list(content.circles)
    if any(circle.layer != "DRILL" for circle in drawn) or content.on("DRILL"):
        raise ExportError(f"{file}: a circle stands where none belongs; only holes to be drilled are circles")
    if len(drawn) != len(wanted):
        raise ExportError(f"{file}: {len(drawn)} holes to drill, the plan has {len(wanted)}")
    for name, x, y, diameter in wanted:

        def fits(circle: Circle, x: float = x, y: float = y, diameter: float = diameter) -> bool:
            return math.dist(circle.centre, (x, y)) <= TOLERANCE and abs(circle.diameter - diameter) <= TOLERANCE

        match = next((circle for circle in drawn if fits(circle)), None)
        if match is None:
            raise ExportError(f"{file}: the hole of {diameter:.3f} mm to drill in {name} at {x:.3f},{y:.3f} is missing")
        drawn.remove(match)


def _check_marks(file: str, content: Content, sheet: PlannedSheet) -> None:
    drawn = list(content.on("MARK"))
    wanted = [
        (placed, mark) for placed in sheet.placed for mark in placed.part.marks_when(mirrored=placed.placement.mirrored)
    ]
    if len(drawn) != len(wanted):
        raise ExportError(f"{file}: {len(drawn)} lines to mark, the plan has {len(wanted)}")
    for placed, mark in wanted:
        ring = flatten_contour(mark, FLATTENING)
        curve = _placed(_closed(ring) if mark.is_closed else ring, placed.placement)
        length = contour_length(mark)
        match = next(
            (
                one
                for one in drawn
                if abs(one.length - length) <= TOLERANCE
                and _farthest(one.ring, curve) == 0.0
                and _farthest(curve, one.knots) == 0.0
            ),
            None,
        )
        if match is None:
            raise ExportError(f"{file}: a line to mark on {_name(placed)} is missing or not where the plan has it")
        drawn.remove(match)


def _check_distances(file: str, found: Sequence[_Found], sheet: PlannedSheet) -> None:
    """Spacing, margin and keep-outs of the file's own curves."""
    if not found:
        return
    shapes = np.array([one.shape for one in found])
    tree = shapely.STRtree(shapes)
    near = tree.query(shapes, predicate="dwithin", distance=sheet.spacing - _MEASURED)
    for one, other in near.T.tolist():
        if one < other:
            gap = shapely.distance(shapes[one], shapes[other])
            raise ExportError(
                f"{file}: {found[one].what} and {found[other].what} are {gap:.4f} mm apart, "
                f"the spacing is {sheet.spacing:.4f} mm"
            )
    low, slack = sheet.margin, _MEASURED
    bounds = shapely.bounds(shapes)
    gaps = np.minimum(bounds[:, :2], np.array([sheet.stock.width, sheet.stock.height]) - bounds[:, 2:]).min(axis=1)
    worst = int(np.argmin(gaps))
    if gaps[worst] < low - slack:
        raise ExportError(
            f"{file}: {found[worst].what} is {gaps[worst]:.4f} mm from the sheet's edge, the margin is {low:.4f} mm"
        )
    if sheet.stock.outline is not None:
        edge = shapely.Polygon(sheet.stock.outline)
        distances = np.where(shapely.contains(edge, shapes), shapely.distance(edge.exterior, shapes), -1.0)
        worst = int(np.argmin(distances))
        if distances[worst] < low - slack:
            raise ExportError(
                f"{file}: {found[worst].what} is not inside the sheet's edge by the margin of {low:.4f} mm"
            )
    for zone in sheet.stock.keep_outs:
        inner = (zone.x + slack, zone.y + slack, zone.x + zone.width - slack, zone.y + zone.height - slack)
        if inner[0] >= inner[2] or inner[1] >= inner[3]:
            continue
        for index in tree.query(shapely.box(*inner), predicate="intersects").tolist():
            raise ExportError(f"{file}: {found[index].what} reaches into the keep-out at {zone.x:g},{zone.y:g} mm")


def _check_order(file: str, found: Sequence[_Found], content: Content, sheet: PlannedSheet) -> None:
    """A part's holes before its outside, and all that lies in a hole before that hole's edge; offcuts last."""
    starts = np.array([one.outside.ring[0] for one in found]).reshape(-1, 2)
    for host in found:
        for hole in host.holes:
            if hole.place > host.outside.place:
                raise ExportError(f"{file}: a hole of {host.what} comes after its outside edge")
            opening = shapely.Polygon(hole.ring)
            shapely.prepare(opening)
            for guest in np.flatnonzero(shapely.contains_xy(opening, starts[:, 0], starts[:, 1])).tolist():
                if found[guest].outside.place > hole.place:
                    raise ExportError(
                        f"{file}: {found[guest].what} lies in a hole of {host.what} that is cut before it"
                    )
    early = [one.place for one in content.circles] + [one.place for one in content.on("MARK")]
    edges = [edge.place for one in found for edge in (one.outside, *one.holes)]
    if early and edges and max(early) > min(edges):
        raise ExportError(f"{file}: a hole is drilled or a line marked after the first edge is cut")
    offcuts = [one.place for one in content.on("OFFCUT")]
    if offcuts and edges and min(offcuts) < max(edges):
        raise ExportError(f"{file}: an offcut is cut off before the last part")


def _check_offcuts(file: str, content: Content, found: Sequence[_Found], sheet: PlannedSheet) -> None:
    """Every offcut has its lines and no line is left over, and the cutter clears the parts beside it."""
    drawn = list(content.on("OFFCUT"))
    for one in drawn:
        line = shapely.LineString(one.ring)
        for part in found:
            gap = part.shape.distance(line)
            if gap < sheet.cutter.diameter - _MEASURED:
                raise ExportError(
                    f"{file}: an offcut line runs {gap:.4f} mm from {part.what}, less than the cutter of "
                    f"{sheet.cutter.diameter:.4f} mm"
                )
    for offcut in sheet.offcuts:
        cuts = _strip_cuts(offcut, sheet) if offcut.is_strip else None
        if cuts is not None:
            matches = [_straight(drawn, *ends) for ends in cuts]
        else:
            box = (offcut.x, offcut.y, offcut.width, offcut.height)
            matches = [next((one for one in drawn if one.is_closed and _is_box(one, *box)), None)]
        for match in matches:
            if match is None:
                raise ExportError(f"{file}: the offcut at {offcut.x:g},{offcut.y:g} mm lacks a line to cut along")
            drawn.remove(match)
    if drawn:
        raise ExportError(f"{file}: a line on layer OFFCUT frees no offcut of the plan")


def _strip_cuts(offcut: Offcut, sheet: PlannedSheet) -> list[tuple[_Points, _Points]] | None:
    """The sides of a strip that lie within the sheet, drawn out from edge to edge of it; None when it is no strip."""
    width, height, near = sheet.stock.width, sheet.stock.height, sheet.margin + 10 * TOLERANCE
    runs_along = offcut.y <= near and offcut.y + offcut.height >= height - near
    runs_across = offcut.x <= near and offcut.x + offcut.width >= width - near
    if not runs_along and not runs_across:
        return None
    cuts = []
    if runs_along:
        for x in (offcut.x, offcut.x + offcut.width):
            if near < x < width - near:
                cuts.append((np.array([x, 0.0]), np.array([x, height])))
    if runs_across:
        for y in (offcut.y, offcut.y + offcut.height):
            if near < y < height - near:
                cuts.append((np.array([0.0, y]), np.array([width, y])))
    return cuts


def _straight(drawn: Sequence[Polyline], start: _Points, end: _Points) -> Polyline | None:
    for one in drawn:
        if not one.is_closed and len(one.ring) == 2:
            for ends in (one.ring, one.ring[::-1]):
                if max(np.abs(ends[0] - start).max(), np.abs(ends[1] - end).max()) <= TOLERANCE:
                    return one
    return None


def _check_notes(file: str, content: Content, found: Sequence[_Found], sheet: PlannedSheet) -> None:
    """Every copy is named with its number, which is its place in the order in which the parts come free."""
    names = {name for text in content.texts for name in text.split("   ")}
    places = np.argsort([one.outside.place for one in found], kind="stable")
    for number, index in enumerate(places.tolist(), start=1):
        placed = sheet.placed[index]
        name = one_line(f"{number}: {placed.part.id} copy {placed.placement.copy + 1}")
        if name not in names:
            raise ExportError(f"{file}: no note names {_name(placed)} as number {number}")
        if str(number) not in content.texts and name not in content.texts:
            raise ExportError(f"{file}: number {number} does not stand on the sheet")
    if "CAUTION" not in content.texts:
        raise ExportError(f"{file}: the caution text is missing")
