"""The height of a capital in a drawing that does not state it, measured on flat-topped letters."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from geometry.contour import Region
from geometry.curve import Line
from geometry.measure import Bounds

FLAT_CAPITALS = frozenset("BDEFHIKLMNPRTUVWXYZ")
_LIKE = 0.03  # heights within 3 % are the same height,
_EQUAL = 0.001  # and within 0.1 % equal when the most frequent one is looked for
_FLAT = 0.005  # of the height: a line this close to the top counts as the top
_LONG = 0.04  # of the height: a shorter flat is no flat top


def measured_capital(letters: Sequence[tuple[tuple[Region, ...], Bounds]]) -> tuple[int, float, bool]:
    """Index of the letter measured, its height in the drawing's unit, and whether another letter is as high.

    Round letters overshoot, so flat-topped ones are looked at: the tallest height that at least two of them share
    within 3 %; failing that the tallest flat-topped letter; failing that the tallest letter.
    """
    heights = [bounds.height for _, bounds in letters]
    flat = [index for index, (regions, bounds) in enumerate(letters) if _is_flat_topped(regions, bounds)]
    flat.sort(key=lambda index: (-heights[index], index))
    falling = np.array([heights[index] for index in flat])
    for first, height in enumerate(falling.tolist()):
        last = int(np.searchsorted(-falling, -height * (1.0 - _LIKE), side="right"))
        if last - first >= 2:
            # The most frequent height among the alike; the tallest of equally frequent ones.
            alike = falling[first:last]
            shorter = np.searchsorted(-alike, -alike * (1.0 - _EQUAL), side="left")
            taller = np.searchsorted(-alike, -alike * (1.0 + _EQUAL), side="right")
            exact = flat[first + int(np.argmax(shorter - taller))]
            return exact, heights[exact], True
    if flat:
        return flat[0], heights[flat[0]], False
    tallest = max(range(len(letters)), key=lambda index: heights[index])
    return tallest, heights[tallest], False


def _is_flat_topped(regions: tuple[Region, ...], bounds: Bounds) -> bool:
    if bounds.height <= 0.0:
        return False
    limit = bounds.max_y - _FLAT * bounds.height
    for region in regions:
        for segment in region.outer.segments:
            is_top = isinstance(segment, Line) and segment.start[1] >= limit and segment.end[1] >= limit
            if is_top and abs(segment.end[0] - segment.start[0]) >= _LONG * bounds.height:
                return True
    return False
