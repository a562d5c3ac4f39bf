"""Reading order of letters: line by line from the top, left to right."""

from __future__ import annotations

import statistics
from collections.abc import Sequence

from geometry.measure import Bounds

_SHARE = 0.5  # of the lower of two heights that must overlap for letters to stand on one line
_EMBLEM = 2.2  # times the middle height: taller shapes are emblems with a place of their own


def reading_order(boxes: Sequence[Bounds]) -> list[int]:
    """Indices of the boxes in reading order.

    Two boxes are on one line when half of the lower one's height lies within the other's. A shape much taller than
    the rest makes a line of its own, before the line at its top.
    """
    if not boxes:
        return []
    middle = statistics.median(box.height for box in boxes)
    lines: list[list[int]] = []
    for index in sorted(range(len(boxes)), key=lambda i: (-boxes[i].height, boxes[i].min_x, i)):
        box = boxes[index]
        home = None
        if box.height <= _EMBLEM * middle:
            home = next((line for line in lines if _shares_line(box, boxes[line[0]], middle)), None)
        if home is None:
            lines.append([index])
        else:
            home.append(index)
    lines.sort(key=lambda line: (-_top(line, boxes, middle), min(boxes[index].min_x for index in line)))
    return [index for line in lines for index in sorted(line, key=lambda i: (boxes[i].min_x, -boxes[i].max_y, i))]


def _top(line: list[int], boxes: Sequence[Bounds], middle: float) -> float:
    """Where a line stands in the order; an emblem beside several lines comes before the first of them."""
    top = max(boxes[index].max_y for index in line)
    return top + middle if boxes[line[0]].height > _EMBLEM * middle else top


def _shares_line(box: Bounds, first: Bounds, middle: float) -> bool:
    if first.height > _EMBLEM * middle:
        return False
    overlap = min(box.max_y, first.max_y) - max(box.min_y, first.min_y)
    return overlap >= _SHARE * min(box.height, first.height)
