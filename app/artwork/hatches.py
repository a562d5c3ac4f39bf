"""Which hatches of a DXF bound shapes of their own: those whose edge is not drawn by lines as well."""

from __future__ import annotations

import numpy as np
import shapely

from app.artwork.line_art import Piece
from app.artwork.notes import Code, Notes, counted
from geometry.arcs import point_at
from geometry.contour import Contour
from geometry.findings import Severity
from geometry.flatten import flatten_contour

_CHORD = 1e-4  # of the size of all: how closely edges are followed to be compared
_NEAR = 5e-4  # of the size of all: an edge this near a drawn line is that line
_PLACES = (0.1, 0.5, 0.9)  # along each segment, where it is held against the lines
_ALL, _NOTHING = 0.95, 0.05  # shares of an edge that count as all of it and nothing of it


def standing_alone(hatches: list[Piece], curves: list[Piece], notes: Notes) -> list[Piece]:
    """Hatch outlines that no curve draws, with a finding; one that is drawn in part is left out with a finding too."""
    if not hatches:
        return []
    if not curves:
        notes.add(
            Code.HATCH_USED,
            Severity.NOTE,
            f"{counted(len(hatches), 'hatch outline')} read, since nothing else is there",
        )
        return hatches
    points = [_places(piece.contour) for piece in hatches]
    every = np.vstack([*points, *(_places(piece.contour) for piece in curves)])
    size = float(np.max(every.max(axis=0) - every.min(axis=0))) or 1.0
    lines = [_line(piece.contour, _CHORD * size) for piece in curves]
    tree = shapely.STRtree(lines)
    alone: list[Piece] = []
    for piece, places in zip(hatches, points, strict=True):
        found = tree.query(shapely.points(places), predicate="dwithin", distance=_NEAR * size)
        share = len(np.unique(found[0])) / len(places)
        where = piece.contour.segments[0].start
        if share <= _NOTHING:
            alone.append(piece)
            notes.count(Code.HATCH_ALONE, "hatch outline", where=where)
        elif share < _ALL:
            notes.count(Code.HATCH_IN_PART, "hatch outline", where=where)
    return alone


def _places(contour: Contour) -> np.ndarray:
    return np.array([point_at(segment, t) for segment in contour.segments for t in _PLACES])


def _line(contour: Contour, chord: float) -> shapely.Geometry:
    ring = flatten_contour(contour, chord)
    points = np.vstack([ring, ring[:1]]) if contour.is_closed else ring
    return shapely.LineString(points) if len(points) > 1 else shapely.Point(points[0])
