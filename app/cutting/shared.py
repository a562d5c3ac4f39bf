"""Straight cuts shared by two parts that lie one cutter's width apart: cut once, with the part that comes first.

Only when asked for, and only where both paths run along the same line: then the later part's path leaves the stretch
out. What is left of it begins and ends in the cut already made.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from app.cutting.contours import stretch
from geometry.contour import Contour
from geometry.linearcs import LineArcs

SAME_LINE: Final = 0.05
"""mm; paths that run no farther apart than this are one. The later part comes out larger there by no more than that."""
_LEAST: Final = 2.0
"""Stretches shorter than this many cutter diameters are not worth the two ends."""

_Floats = NDArray[np.float64]


def without_shared(loops: Sequence[Contour], diameter: float) -> list[tuple[Contour, ...]]:
    """What is left to cut of each closed path, run in one direction round its part, once those before it are cut.

    The closed path itself where it shares nothing; else open stretches; none when all of it is shared.
    """
    done: list[LineArcs] = []
    left: list[tuple[Contour, ...]] = []
    for loop in loops:
        lines = LineArcs.of(loop.segments)
        shared = _shared(lines, done, _LEAST * diameter)
        left.append((loop,) if not shared else _rest(loop, shared, float(lines.length.sum())))
        done.append(lines)
    return left


def _shared(lines: LineArcs, done: Sequence[LineArcs], least: float) -> list[tuple[float, float]]:
    """Stretches (from, to), mm along the path, that lie on a straight cut already made, merged and in order."""
    if not done:
        return []
    before = LineArcs.joined([one.take(~one.is_arc) for one in done])
    ends = np.cumsum(lines.length)
    found: list[tuple[float, float]] = []
    for index in np.flatnonzero(~lines.is_arc & (lines.length >= least)).tolist():
        start, length = lines.start[index], float(lines.length[index])
        ahead = lines.chord[index] / length
        aside = np.array([-ahead[1], ahead[0]])
        near = np.abs((before.start - start) @ aside) <= SAME_LINE
        near &= np.abs((before.end - start) @ aside) <= SAME_LINE
        # Run round their parts the same way, two neighbours pass each other in opposite directions.
        begins, stops = (before.end[near] - start) @ ahead, (before.start[near] - start) @ ahead
        low, high = np.maximum(begins, 0.0), np.minimum(stops, length)
        offset = float(ends[index]) - length
        found += [(offset + a, offset + b) for a, b in zip(low.tolist(), high.tolist(), strict=True) if b - a >= least]
    merged: list[tuple[float, float]] = []
    for a, b in sorted(found):
        if merged and a <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(b, merged[-1][1]))
        else:
            merged.append((a, b))
    return merged


def _rest(loop: Contour, shared: Sequence[tuple[float, float]], total: float) -> tuple[Contour, ...]:
    """The stretches between the shared ones, round the path."""
    found = []
    for (_, begin), (end, _) in zip(shared, (*shared[1:], shared[0]), strict=True):
        if end > begin:
            segments = stretch(loop, begin, end)
        else:
            segments = (*stretch(loop, begin, total), *stretch(loop, 0.0, end))
        if segments:
            found.append(Contour(segments, is_closed=False))
    return tuple(found)
