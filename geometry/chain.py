"""Loose directed segments joined into closed contours, material to the left."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence

from geometry.arcs import point_at
from geometry.contour import Contour
from geometry.curve import Point, Segment
from geometry.measure import segment_length

_PROBE = 0.05  # share of the shorter segment at which directions are compared where several leave one point


def closed_chains(segments: Sequence[Segment]) -> list[Contour]:
    """Closed contours made of the segments, each used at most once.

    Segments must already share end points bit for bit. Where several leave a point the walk takes the first one
    clockwise from where it came, so that contours touching at a point come out apart. Segments that lead nowhere are
    left out.
    """
    leaving: dict[Point, list[int]] = defaultdict(list)
    arriving: dict[Point, int] = defaultdict(int)
    for i, segment in enumerate(segments):
        leaving[segment.start].append(i)
        arriving[segment.end] += 1
    _drop_dead_ends(segments, leaving, arriving)
    alive = [i for ids in leaving.values() for i in ids]
    alive.sort()
    used: set[int] = set()
    contours = []
    for first in alive:
        if first in used:
            continue
        walk: list[int] = []
        at = first
        while at not in used:
            used.add(at)
            walk.append(at)
            onward = [i for i in leaving[segments[at].end] if i not in used or i == first]
            if not onward:
                break
            at = onward[0] if len(onward) == 1 else _first_clockwise(segments, at, onward)
        if segments[walk[-1]].end == segments[first].start:
            contours.append(Contour(tuple(segments[i] for i in walk)))
    return contours


def _drop_dead_ends(segments: Sequence[Segment], leaving: dict[Point, list[int]], arriving: dict[Point, int]) -> None:
    ending: dict[Point, list[int]] = defaultdict(list)
    for i, segment in enumerate(segments):
        ending[segment.end].append(i)
    gone: set[int] = set()
    todo = [i for i, s in enumerate(segments) if not leaving.get(s.end) or not arriving.get(s.start)]
    while todo:
        i = todo.pop()
        if i in gone:
            continue
        gone.add(i)
        start, end = segments[i].start, segments[i].end
        leaving[start].remove(i)
        arriving[end] -= 1
        if not leaving[start]:
            todo += [k for k in ending[start] if k not in gone]
        if not arriving[end]:
            todo += [k for k in leaving.get(end, ()) if k not in gone]


def _first_clockwise(segments: Sequence[Segment], came: int, onward: list[int]) -> int:
    reach = _PROBE * min(segment_length(segments[i]) for i in (came, *onward))
    vertex = segments[came].end
    back = _heading(vertex, segments[came], reach, from_end=True)

    def turn(i: int) -> float:
        # Clockwise angle from the way back to the way on; going straight back is the last choice.
        angle = (back - _heading(vertex, segments[i], reach, from_end=False)) % math.tau
        return angle if angle > 1e-9 else math.tau

    return min(onward, key=turn)


def _heading(vertex: Point, segment: Segment, reach: float, *, from_end: bool) -> float:
    share = min(1.0, reach / max(segment_length(segment), 1e-300))
    x, y = point_at(segment, 1.0 - share if from_end else share)
    return math.atan2(y - vertex[1], x - vertex[0])
