"""The cutter's paths read back from a cut file and measured against the finished edges in the same file.

Nothing of what made the paths is used. Which edge a path belongs to, that it keeps the cutter's radius from it all the
way, that it frees the part, that it turns the way that was asked for and comes in the order of the edges: all this is
told from the curves in the file.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from app.errors import ExportError
from app.job.cutting import Cutting, Direction
from app.output.dxf_content import FLATTENING, Content, Polyline
from app.planning.job_plan import PlannedSheet
from geometry.outline import signed_ring_area

OFF: Final = 0.012
"""mm; how far a path may be from the cutter's radius off its edge: what offsetting may be off by, and chords."""
PATHS: Final = ("PATH_INSIDE", "PATH_OUTSIDE", "PATH_OFFCUT", "HOLD")


_Points = NDArray[np.float64]
_Numbers = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class FoundEdge:
    """A finished edge of the file: of which part, which it is, and what it encloses."""

    part: int
    what: str
    edge: Polyline
    polygon: shapely.Polygon


def check_paths(
    file: str,
    content: Content,
    shapes: NDArray[np.object_],
    edges: dict[str, list[FoundEdge]],
    sheet: PlannedSheet,
    cutting: Cutting,
) -> None:
    """Compare the paths of a file with its finished edges.

    Parameters
    ----------
    file : str
        For messages.
    content : Content
    shapes : array of shapely.Polygon
        The finished parts as the file has them.
    edges : dict
        Finished edges on layers OUTSIDE and INSIDE.
    sheet, cutting
        Where the cutter's diameter, the offcuts, and the direction asked for come from.

    Raises
    ------
    ExportError
        At the first fault.
    """
    drawn = {layer: content.on(layer) for layer in PATHS}
    if not cutting.paths:
        if any(drawn.values()):
            raise ExportError(f"{file}: it holds cutter paths that were not asked for")
        return
    radius = sheet.cutter.diameter / 2
    everything = [path for layer in PATHS[:3] for path in drawn[layer]]
    _check_clearance(file, everything, shapes, radius)
    owners: list[tuple[int, FoundEdge]] = []
    for work in ("OUTSIDE", "INSIDE"):
        paths = drawn[f"PATH_{work}"]
        loops = [_loop(path) for path in paths]
        for path, loop, owner in zip(paths, loops, _owners(file, paths, loops, edges[work], work), strict=True):
            owners.append((path.place, owner))
            if not cutting.shares_cuts:
                _check_run(file, loop, owner, work, radius, cutting)
    if not cutting.shares_cuts:
        _check_each_once(file, edges["OUTSIDE"], [owner for _, owner in owners])
    _check_same_order(file, owners, edges)
    _check_tabs(file, drawn["HOLD"], everything, cutting, sheet)
    if len(drawn["PATH_OFFCUT"]) != len(content.on("OFFCUT")):
        raise ExportError(f"{file}: an offcut line has no path")


def _trimmed(path: Polyline) -> _Points:
    """The path without its leads: an open path begins and ends with one segment that is none of it, or a ramp."""
    if path.is_closed:
        return path.ring
    ring = path.ring
    trimmed: _Points = ring[path.places[1] : path.places[-2] + 1]
    return trimmed


def _loop(path: Polyline) -> _Points:
    """The closed part of a path: all of it, what lies between two lead arcs, or a ramped path once round."""
    if path.is_closed:
        return path.ring
    inner = _trimmed(path)
    if len(inner) > 2 and np.abs(inner[0] - inner[-1]).max() <= OFF:
        return inner
    # A ramp: the path goes on over its own beginning.
    back = np.flatnonzero(np.hypot(*(path.ring[2:] - path.ring[0]).T) <= OFF)
    return path.ring[: int(back[0]) + 3] if len(back) else path.ring


def _check_clearance(file: str, paths: Sequence[Polyline], shapes: NDArray[np.object_], radius: float) -> None:
    if not paths:
        return
    lines = np.array([shapely.LineString(path.ring) for path in paths], dtype=object)
    near = shapely.STRtree(shapes).query(lines, predicate="dwithin", distance=radius - OFF)
    for line, shape in near.T.tolist():
        gap = float(shapely.distance(lines[line], shapes[shape]))
        x, y = paths[line].ring[0].tolist()
        raise ExportError(
            f"{file}: the path that begins at {x:.1f}, {y:.1f} mm comes within {gap:.4f} mm of a finished edge, less "
            f"than the cutter's radius of {radius:.4f} mm"
        )


def _owners(
    file: str, paths: Sequence[Polyline], loops: Sequence[_Points], edges: Sequence[FoundEdge], work: str
) -> list[FoundEdge]:
    """Outside, the largest part a path goes round; inside, the smallest hole it lies in."""
    if not paths or not edges:
        return [_nothing(file, work, loop) for loop in loops]
    polygons = np.array([one.polygon for one in edges], dtype=object)
    areas = shapely.area(polygons)
    tree = shapely.STRtree(polygons)
    if work == "INSIDE":
        starts = np.array([loop[0] for loop in loops])
        path, hole = tree.query(shapely.points(starts), predicate="within")
        best = _least(path, hole, areas, len(paths))
        return [edges[one] if one >= 0 else _nothing(file, work, loop) for one, loop in zip(best, loops, strict=True)]
    rounds = np.array([shapely.Polygon(loop) for loop in loops], dtype=object)
    shapely.prepare(rounds)
    path, part = tree.query(rounds, predicate="contains")
    best = _least(path, part, -areas, len(paths))
    # A part that shares a cut has an open path; it belongs to the edge it runs along.
    lines = [shapely.LineString(path.ring) for path in paths]
    return [
        edges[one] if one >= 0 else edges[int(np.argmin(shapely.distance(polygons, line)))]
        for one, line in zip(best, lines, strict=True)
    ]


def _least(path: _Numbers, edge: _Numbers, weights: _Points, count: int) -> list[int]:
    """For each path the edge of least weight it is paired with; -1 where it is paired with none."""
    best = np.full(count, -1)
    order = np.argsort(-weights[edge], kind="stable")
    best[path[order]] = edge[order]
    found: list[int] = best.tolist()
    return found


def _nothing(file: str, work: str, loop: _Points) -> FoundEdge:
    raise ExportError(f"{file}: a path on PATH_{work} at {loop[0][0]:.1f}, {loop[0][1]:.1f} mm belongs to no edge")


def _check_run(file: str, ring: _Points, owner: FoundEdge, work: str, radius: float, cutting: Cutting) -> None:
    edge = shapely.LineString(owner.edge.ring)
    shapely.prepare(edge)
    if not shapely.dwithin(edge, shapely.points(ring), radius + OFF + FLATTENING).all():
        raise ExportError(f"{file}: the path of {owner.what} strays from its edge by more than the cutter's radius")
    if work == "OUTSIDE" and not shapely.contains(shapely.Polygon(ring), owner.polygon):
        raise ExportError(f"{file}: the path of {owner.what} does not go round it, so that it would not come free")
    is_clockwise = signed_ring_area(ring[:-1]) < 0
    if is_clockwise != ((cutting.direction is Direction.CLIMB) == (work == "OUTSIDE")):
        raise ExportError(f"{file}: the path of {owner.what} does not run for {cutting.direction.value} cutting")


def _check_each_once(file: str, outside: Sequence[FoundEdge], owners: Sequence[FoundEdge]) -> None:
    counts = Counter(id(owner) for owner in owners)
    for one in outside:
        count = counts[id(one)]
        if count != 1:
            raise ExportError(f"{file}: {one.what} has {count} paths; it needs one")


def _check_same_order(file: str, owners: list[tuple[int, FoundEdge]], edges: dict[str, list[FoundEdge]]) -> None:
    """Paths come in the order of the finished edges; a narrow hole may have several, one too narrow has none."""
    by_path = [owner for owner, _ in groupby(owner for _, owner in sorted(owners, key=lambda one: one[0]))]
    followed = {id(owner) for owner in by_path}
    every = sorted((one for found in edges.values() for one in found), key=lambda one: one.edge.place)
    by_edge = [one for one in every if id(one) in followed]
    if [id(one) for one in by_path] != [id(one) for one in by_edge]:
        raise ExportError(f"{file}: the paths do not come in the order of the finished edges")


def _check_tabs(
    file: str, tabs: Sequence[Polyline], paths: Sequence[Polyline], cutting: Cutting, sheet: PlannedSheet
) -> None:
    if not tabs:
        return
    lines = np.array([shapely.LineString(path.ring) for path in paths], dtype=object)
    tree = shapely.STRtree(lines)
    for tab in tabs:
        if abs(tab.length - cutting.tab_width - sheet.cutter.diameter) > OFF:
            raise ExportError(f"{file}: a holding tab is {tab.length:.3f} mm long with the cutter, not as asked for")
        middle = shapely.Point(tab.knots[len(tab.knots) // 2])
        if len(tree.query(middle, predicate="dwithin", distance=OFF)) == 0:
            raise ExportError(f"{file}: a holding tab lies on no path")
