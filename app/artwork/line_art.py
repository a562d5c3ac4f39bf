"""Shapes from bare lines: what is drawn twice dropped, loose ends joined, closed contours grouped.

All of a DXF is line art, and what SVG and PDF only stroke: the middle of such a line is the edge to cut.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from app.artwork.chains import join_ends
from app.artwork.drawing import Shape, Source
from app.artwork.filled import SAME, contour_key
from app.artwork.limits import Limits
from app.artwork.merging import merge_overlapping
from app.artwork.notes import Code, Notes
from app.artwork.options import ReadOptions
from geometry.contour import Contour, FillRule
from geometry.findings import Severity
from geometry.groups import Groups
from geometry.measure import bounds_of_each


@dataclass(frozen=True, slots=True)
class Piece:
    """One contour with the layer and the name of the object it comes from."""

    contour: Contour
    layer: str
    name: str


def gap_to_join(options: ReadOptions, limits: Limits, stated: str | None, notes: Notes) -> float | None:
    """Widest gap that is joined, mm: the one chosen, else the usual; None in a file that states no unit."""
    if stated is not None:
        return limits.join_gap if options.join_gap is None else options.join_gap
    if options.join_gap is not None:
        notes.add(
            Code.UNIT_MISSING,
            Severity.WARNING,
            f"the gap of {options.join_gap:g} mm to be closed was not used, since the file states no unit; name one",
        )
    return None


def line_art(pieces: list[Piece], name: str, notes: Notes, *, gap: float | None) -> list[Shape]:
    """Shapes of line art: closed contours together bound material by even-odd containment, whatever layer they are on.

    Parameters
    ----------
    pieces : list of Piece
        In mm, or the file's own numbers when `gap` is None.
    name : str
        What to call the file.
    notes : Notes
    gap : float or None
        Loose ends closer than this are joined, mm; None joins what is closer than 1e-5 of the whole.
    """
    if not pieces:
        return []
    bounds = bounds_of_each([piece.contour for piece in pieces])
    extent = float((bounds[:, 2:].max(axis=0) - bounds[:, :2].min(axis=0)).max())
    pieces = _without_duplicates(pieces, SAME if gap is not None else 1e-6 * extent, notes)
    closed = [piece for piece in pieces if piece.contour.is_closed]
    open_ = [piece for piece in pieces if not piece.contour.is_closed]
    chained = join_ends(
        [piece.contour for piece in open_],
        1e-5 * extent if gap is None else gap,
        notes,
        unit="" if gap is None else " mm",
    )
    for contour, made_of in chained.closed:
        first = open_[made_of[0]]
        closed.append(Piece(contour, first.layer, first.name))
    shapes = []
    boxes = bounds_of_each([piece.contour for piece in closed])
    areas = (boxes[:, 2:] - boxes[:, :2]).prod(axis=1)
    for group in _overlapping(boxes):
        largest = closed[max(group, key=areas.__getitem__)]
        source = Source(name, largest.layer, largest.name)
        shapes.append(Shape(tuple(closed[index].contour for index in group), FillRule.EVEN_ODD, source))
    for contour, made_of in chained.loose:
        first = open_[made_of[0]]
        shapes.append(Shape((contour,), FillRule.EVEN_ODD, Source(name, first.layer, first.name)))
    return shapes


def _without_duplicates(pieces: list[Piece], same: float, notes: Notes) -> list[Piece]:
    """Pieces without what is drawn twice: whole pieces alike in either direction, and lines and arcs alike in part."""
    if same <= 0.0:
        return pieces
    seen: set[tuple[object, ...]] = set()
    out: list[Piece] = []
    for piece in (part for whole in pieces for part in _parted(whole, same)):
        key = contour_key(piece.contour, same)
        if key in seen:
            notes.count(Code.DUPLICATE, "piece", where=piece.contour.segments[0].start)
            continue
        seen.add(key)
        out.append(piece)
    merged = merge_overlapping([piece.contour for piece in out], same)
    for what, number in (("line", merged.lines), ("arc", merged.arcs)):
        if number:
            notes.count(Code.OVERLAPPING, what, number, where=merged.where)
    return [replace(out[index], contour=contour) for contour, index in merged.pieces]


def _parted(piece: Piece, same: float) -> list[Piece]:
    """An open piece parted where it comes back to a corner of its own, as one that runs on past its start does."""
    segments = piece.contour.segments
    if piece.contour.is_closed or len(segments) < 3:
        return [piece]
    corners = [(round(x / same), round(y / same)) for x, y in (*(one.start for one in segments), segments[-1].end)]
    times = Counter(corners)
    stops = [0, *(i for i in range(1, len(segments)) if times[corners[i]] > 1), len(segments)]
    if len(stops) == 2:
        return [piece]
    return [replace(piece, contour=Contour(segments[low:high], is_closed=False)) for low, high in pairwise(stops)]


def _overlapping(bounds: NDArray[np.float64]) -> list[list[int]]:
    """Numbers of boxes in groups that hang together; even-odd within a group is even-odd of the whole."""
    boxes = shapely.box(*bounds.T)
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    groups = Groups(len(bounds))
    for a, b in zip(first.tolist(), second.tolist(), strict=True):
        groups.merge(a, b)
    return groups.members()
