"""Closed contours begun elsewhere, and stretches of contours."""

from __future__ import annotations

from itertools import accumulate
from typing import Final

import numpy as np

from geometry.arcs import split_segment
from geometry.contour import Contour
from geometry.curve import Point, Segment
from geometry.linearcs import LineArcs
from geometry.measure import segment_length

_AT_END: Final = 1e-6
"""Share of a segment; nearer to its end than this, its end is meant."""


def begun_at(contour: Contour, segment: int, t: float) -> Contour:
    """A closed contour begun at parameter t of one of its segments, which is split there unless t is its end."""
    segments = contour.segments
    if t <= _AT_END:
        turned = segments[segment:] + segments[:segment]
    elif t >= 1.0 - _AT_END:
        turned = segments[segment + 1 :] + segments[: segment + 1]
    else:
        before, after = split_segment(segments[segment], t)
        turned = (after, *segments[segment + 1 :], *segments[:segment], before)
    return Contour(turned, is_closed=True)


def begun_near(contour: Contour, point: Point) -> Contour:
    """A closed contour of lines and arcs begun where it is nearest to a point (mm)."""
    lines = LineArcs.of(contour.segments)
    everywhere = np.arange(len(lines))
    spots = np.tile(np.array(point), (len(lines), 1))
    nearest = int(np.argmin(lines.distance(spots, everywhere)))
    one = np.array([nearest])
    t = float(np.clip(lines.parameter(spots[:1], one), 0.0, 1.0)[0])
    return begun_at(contour, nearest, t)


def stretch(contour: Contour, begin: float, end: float) -> tuple[Segment, ...]:
    """The segments of a contour from one distance along it to another, mm; both within its length, begin < end."""
    found: list[Segment] = []
    lengths = [segment_length(segment) for segment in contour.segments]
    for segment, length, reached in zip(contour.segments, lengths, accumulate(lengths), strict=True):
        low, high = max(begin - (reached - length), 0.0), min(end - (reached - length), length)
        if high - low <= _AT_END * length:
            continue
        piece = segment
        if high < length * (1.0 - _AT_END):
            piece, _ = split_segment(piece, high / length)
            length = high
        if low > length * _AT_END:
            _, piece = split_segment(piece, low / length)
        found.append(piece)
    return tuple(found)
