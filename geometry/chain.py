"""Loose directed segments joined into closed chains, material to the left."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence

from geometry.arcs import point_at
from geometry.curve import Segment
from geometry.measure import segment_length

_PROBE = 0.05  # share of the shorter segment at which directions are compared where several leave one point


def closed_chains(starts: Sequence[int], ends: Sequence[int], segments: Sequence[Segment]) -> list[list[int]]:
    """Closed chains of segments, as indices, each segment used at most once and no chain passing a point twice.

    Where several segments leave a point the walk takes the first one clockwise from where it came, which goes round
    one connected piece of material; what it closes on the way is taken off as a chain of its own. So material
    touching itself at a point comes out as two outer chains or as an outer and a hole, whichever it is. Segments that
    lead nowhere are left out.

    Parameters
    ----------
    starts, ends : sequence of int
        Number of the point each segment starts and ends at.
    segments : sequence of Line, Arc or Cubic
        Only looked at where chains meet.
    """
    only = {point: i for i, point in enumerate(starts)}
    if len(only) == len(starts) and only.keys() == set(ends):
        return _cycles(only, starts, ends)
    leaving: dict[int, list[int]] = defaultdict(list)
    for i, point in enumerate(starts):
        leaving[point].append(i)
    _drop_dead_ends(starts, ends, leaving)
    chains: list[list[int]] = []
    for first in range(len(starts)):
        if first not in leaving[starts[first]]:
            continue  # used, or leads nowhere
        walk: list[int] = []
        seen = {starts[first]: 0}
        at = first
        while True:
            leaving[starts[at]].remove(at)
            walk.append(at)
            point = ends[at]
            if (since := seen.get(point)) is not None:
                chains.append(walk[since:])
                for i in walk[since + 1 :]:
                    del seen[starts[i]]
                del walk[since:]
            else:
                seen[point] = len(walk)
            onward = leaving[point]
            if not walk or not onward:
                break
            at = onward[0] if len(onward) == 1 else _first_clockwise(segments, at, onward)
    return chains


def _cycles(only: dict[int, int], starts: Sequence[int], ends: Sequence[int]) -> list[list[int]]:
    """The chains where every point has one segment coming and one going."""
    chains = []
    used = [False] * len(starts)
    for first in range(len(starts)):
        if used[first]:
            continue
        walk, at = [], first
        while not used[at]:
            used[at] = True
            walk.append(at)
            at = only[ends[at]]
        chains.append(walk)
    return chains


def _drop_dead_ends(starts: Sequence[int], ends: Sequence[int], leaving: dict[int, list[int]]) -> None:
    arriving: dict[int, list[int]] = defaultdict(list)
    for i, point in enumerate(ends):
        arriving[point].append(i)
    todo = [i for i in range(len(starts)) if ends[i] not in leaving or starts[i] not in arriving]
    while todo:
        i = todo.pop()
        if i not in leaving[starts[i]]:
            continue
        leaving[starts[i]].remove(i)
        arriving[ends[i]].remove(i)
        if not leaving[starts[i]]:
            todo += arriving[starts[i]]
        if not arriving[ends[i]]:
            todo += leaving[ends[i]]


def _first_clockwise(segments: Sequence[Segment], came: int, onward: list[int]) -> int:
    reach = _PROBE * min(segment_length(segments[i]) for i in (came, *onward))
    back = _heading(segments[came], reach, from_end=True)

    def turn(i: int) -> float:
        # Clockwise angle from the way back to the way on; going straight back is the last choice.
        angle = (back - _heading(segments[i], reach, from_end=False)) % math.tau
        return angle if angle > 1e-9 else math.tau

    return min(onward, key=turn)


def _heading(segment: Segment, reach: float, *, from_end: bool) -> float:
    share = min(1.0, reach / max(segment_length(segment), 1e-300))
    x, y = point_at(segment, 1.0 - share if from_end else share)
    x0, y0 = segment.end if from_end else segment.start
    return math.atan2(y - y0, x - x0)
