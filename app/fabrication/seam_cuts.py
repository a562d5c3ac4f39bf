"""Cutting along seams: regions on their true curves, polygons for the search; both with the joint's gap or lap.

A seam divides what it runs right through. With a gap both pieces end half the gap before it; with a lap, what lies left
of the seam reaches over it by the lap, left as seen from the seam's start to its end.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import shapely

from app.job.document import Seam
from geometry.contour import Region
from geometry.cut import CutLine, cut_region, spans_in

_CRUMB: Final = 1.0  # mm²; what a polygon leaves beside a cut and is smaller is rounding


def line_of(seam: Seam) -> CutLine:
    """The endless line along a seam."""
    (x0, y0), (x1, y1) = seam.start, seam.end
    return CutLine(seam.start, math.degrees(math.atan2(y1 - y0, x1 - x0)))


def cut_along(pieces: Sequence[Region], seam: Seam, *, gap: float = 0.0, lap: float = 0.0) -> tuple[list[Region], bool]:
    """Pieces cut by a seam, and whether it cut any: only those it runs right through."""
    line, has_cut = line_of(seam), False
    found: list[Region] = []
    for piece in pieces:
        if runs_through(piece, seam):
            found += cut_region(piece, line.moved_left(0.5 * gap - lap))[0]
            found += cut_region(piece, line.moved_left(-0.5 * gap))[1]
            has_cut = True
        else:
            found.append(piece)
    return found, has_cut


def runs_through(piece: Region, seam: Seam) -> bool:
    """Whether a seam crosses a piece from edge to edge wherever its line does."""
    return _reaches(spans_in(piece, line_of(seam)), seam)


def cut_polygons(pieces: Sequence[Any], seam: Seam, *, lap: float = 0.0) -> tuple[list[Any], bool]:
    """The same for shapely polygons, quickly."""
    found: list[Any] = []
    has_cut = False
    for piece in pieces:
        if _reaches(polygon_spans(piece, seam), seam):
            left, right = sides_of(piece, line_of(seam))
            found += [*(sides_of(piece, line_of(seam).moved_left(-lap))[0] if lap else left), *right]
            has_cut = True
        else:
            found.append(piece)
    return found, has_cut


def polygon_spans(piece: Any, seam: Seam) -> tuple[tuple[float, float], ...]:
    """From where to where the line of a seam runs within a polygon, counters between included; from the seam's start,
    mm. Nothing when it does not touch it.
    """
    line = line_of(seam)
    reach = _reach(piece, line)
    chord = shapely.LineString([line.point(-reach), line.point(reach)])
    crossed = shapely.get_coordinates(shapely.intersection(piece, chord))
    along = sorted(line.along((float(x), float(y))) for x, y in crossed)
    return ((along[0], along[-1]),) if len(along) >= 2 else ()


def sides_of(piece: Any, line: CutLine) -> tuple[list[Any], list[Any]]:
    """What of a polygon lies left and what lies right of a line."""
    reach = _reach(piece, line)
    beyond = line.moved_left(reach)
    left = shapely.Polygon([line.point(-reach), line.point(reach), beyond.point(reach), beyond.point(-reach)])
    parts = shapely.get_parts(shapely.intersection(piece, left)), shapely.get_parts(shapely.difference(piece, left))
    kept = [[part for part in side if part.geom_type == "Polygon" and part.area > _CRUMB] for side in parts]
    return kept[0], kept[1]


def _reach(piece: Any, line: CutLine) -> float:
    low_x, low_y, high_x, high_y = piece.bounds
    away = max(math.dist(line.at, corner) for corner in ((low_x, low_y), (high_x, high_y)))
    return 2.0 * (away + math.dist((low_x, low_y), (high_x, high_y)))


def _reaches(spans: Sequence[tuple[float, float]], seam: Seam) -> bool:
    return bool(spans) and spans[0][0] >= -0.5 and spans[-1][1] <= math.dist(seam.start, seam.end) + 0.5
