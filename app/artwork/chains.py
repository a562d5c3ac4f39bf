"""Loose lines and arcs joined into closed contours.

Words: an *end* is where an open contour starts or stops; ends closer than the gap make one *node*; a node of two
ends is passed through, a node of one is a *loose end*, a node of three or more is a *junction*.
"""

from __future__ import annotations

import math
from collections import defaultdict, deque
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from app.artwork.notes import Code, Notes
from geometry.arcs import point_at, tangent_at
from geometry.build import reversed_contour
from geometry.contour import Contour
from geometry.curve import Arc, Cubic, Line, Point, Segment
from geometry.findings import Severity
from geometry.groups import Groups
from geometry.measure import contour_area

_EXACT = 1e-6  # ends closer than this are the same point and not worth a word


@dataclass(frozen=True, slots=True)
class Chained:
    """Result of joining: closed contours, what stayed open, and for each the indices of the pieces it was made of."""

    closed: tuple[tuple[Contour, tuple[int, ...]], ...]
    loose: tuple[tuple[Contour, tuple[int, ...]], ...]


def join_ends(pieces: list[Contour], gap: float, notes: Notes, *, unit: str = "") -> Chained:
    """Join open contours at ends that lie within `gap` of each other.

    Ends that meet are moved to their common middle; every join wider than 1e-6 is a finding with place and size. At
    junctions the smallest faces are taken, so that touching shapes come out as neighbours, and a finding says so.

    Parameters
    ----------
    pieces : list of Contour
        Open contours, without duplicates.
    gap : float
        In the pieces' unit; chains of near ends never span more than twice this.
    notes : Notes
    unit : str
        Written after lengths, such as " mm".
    """
    if not pieces:
        return Chained((), ())
    nodes, places = _nodes(pieces, gap, notes, unit)
    pieces = [
        _with_ends(piece, places[nodes[2 * index]], places[nodes[2 * index + 1]]) for index, piece in enumerate(pieces)
    ]
    vanished = {index for index, piece in enumerate(pieces) if _is_nothing(piece, gap)}
    if vanished:
        notes.count(Code.EMPTY_PIECE, "piece", len(vanished))
    graph = _Graph(pieces, nodes, vanished)
    closed = graph.faces(places, notes)
    return Chained(tuple(closed), tuple(graph.loose_chains()))


def _nodes(pieces: list[Contour], gap: float, notes: Notes, unit: str) -> tuple[list[int], list[Point]]:
    """Node of every end (start of piece 0, end of piece 0, start of piece 1 ...), and the nodes' places."""
    ends = np.array([point for piece in pieces for point in (piece.segments[0].start, piece.segments[-1].end)])
    groups = Groups(len(ends))
    low, high = ends.copy(), ends.copy()
    pairs = cKDTree(ends).query_pairs(gap, output_type="ndarray")
    if len(pairs):
        apart = np.linalg.norm(ends[pairs[:, 0]] - ends[pairs[:, 1]], axis=1)
        # Nearest first; ties in the file's order, so that the answer does not depend on the tree.
        for index in np.lexsort((pairs[:, 1], pairs[:, 0], apart)):
            first, second = groups.of(int(pairs[index, 0])), groups.of(int(pairs[index, 1]))
            if first == second:
                continue
            new_low, new_high = np.minimum(low[first], low[second]), np.maximum(high[first], high[second])
            if float(np.hypot(*(new_high - new_low))) > 2.0 * gap:
                continue
            groups.merge(first, second)
            low[groups.of(first)], high[groups.of(first)] = new_low, new_high
    nodes = [0] * len(ends)
    members = groups.members()
    for node, group in enumerate(members):
        for index in group:
            nodes[index] = node
    return nodes, [_place(ends[group], notes, unit) for group in members]


def _place(points: np.ndarray, notes: Notes, unit: str) -> Point:
    if len(points) == 1:
        return (float(points[0, 0]), float(points[0, 1]))
    low, high = points.min(axis=0), points.max(axis=0)
    width = float(np.hypot(*(high - low)))
    if width <= _EXACT:
        return (float(points[0, 0]), float(points[0, 1]))
    at = (float(low[0] + high[0]) / 2.0, float(low[1] + high[1]) / 2.0)
    notes.add(
        Code.JOINED,
        Severity.NOTE,
        f"{len(points)} ends {width:.4g}{unit} apart, as drawn, joined",
        where=at,
        fixed=True,
    )
    return at


def _is_nothing(piece: Contour, gap: float) -> bool:
    """Whether a piece has shrunk into one node: both ends in one place and nothing of it further than the gap."""
    at = piece.segments[0].start
    if piece.segments[-1].end != at:
        return False
    far = max(math.dist(at, point_at(segment, t)) for segment in piece.segments for t in (0.25, 0.5, 0.75, 1.0))
    return far <= gap


def _with_ends(piece: Contour, start: Point, end: Point) -> Contour:
    segments = list(piece.segments)
    segments[0] = moved_end(segments[0], start=start)
    segments[-1] = moved_end(segments[-1], end=end)
    return Contour(tuple(segments), is_closed=False)


def moved_end(segment: Segment, *, start: Point | None = None, end: Point | None = None) -> Segment:
    """Segment with an end moved a little; a cubic's control point goes along, an arc keeps its bulge."""
    new_start = segment.start if start is None else start
    new_end = segment.end if end is None else end
    if isinstance(segment, Line):
        return Line(new_start, new_end)
    if isinstance(segment, Arc):
        return Arc(new_start, new_end, segment.bulge)
    return Cubic(
        new_start,
        _along(segment.control1, segment.start, new_start),
        _along(segment.control2, segment.end, new_end),
        new_end,
    )


def _along(point: Point, before: Point, after: Point) -> Point:
    if before == after:
        return point
    return (point[0] + after[0] - before[0], point[1] + after[1] - before[1])


class _Graph:
    """Pieces as edges between nodes. Dart 2i leaves piece i at its start, dart 2i + 1 at its end."""

    def __init__(self, pieces: list[Contour], nodes: list[int], vanished: set[int]) -> None:
        self.pieces, self.nodes = pieces, nodes
        self.at_node: dict[int, list[int]] = defaultdict(list)
        self.alive = set(range(len(pieces))) - vanished
        self.gone: list[int] = []
        for dart, node in enumerate(nodes):
            if dart // 2 in self.alive:
                self.at_node[node].append(dart)
        self._prune(list(self.at_node))

    def _remove(self, piece: int) -> list[int]:
        self.alive.discard(piece)
        self.gone.append(piece)
        for dart in (2 * piece, 2 * piece + 1):
            self.at_node[self.nodes[dart]].remove(dart)
        return [self.nodes[2 * piece], self.nodes[2 * piece + 1]]

    def _prune(self, waiting: list[int]) -> None:
        """Take away pieces that lead to a loose end, until every node has none or at least two."""
        while waiting:
            node = waiting.pop()
            if len(self.at_node[node]) == 1:
                waiting.extend(self._remove(self.at_node[node][0] // 2))

    def faces(self, places: list[Point], notes: Notes) -> list[tuple[Contour, tuple[int, ...]]]:
        """Closed contours: the bounded faces, anticlockwise."""
        while True:
            loops = self._loops()
            # A piece with the same face on both sides is a bridge: it bounds nothing.
            bridges: set[int] = set()
            for loop in loops:
                darts = set(loop)
                bridges.update(dart // 2 for dart in loop if dart % 2 == 0 and dart + 1 in darts)
            if not bridges:
                break
            for piece in sorted(bridges):
                if piece in self.alive:  # taking another bridge away may have taken this one along
                    self._prune(self._remove(piece))
        for node in sorted(self.at_node):
            if len(self.at_node[node]) > 2:
                x, y = places[node]
                notes.add(
                    Code.JUNCTION,
                    Severity.WARNING,
                    f"{len(self.at_node[node])} lines meet at ({x:.2f}, {y:.2f}); read as neighbouring shapes, "
                    "check that this is meant",
                    where=places[node],
                )
        out: list[tuple[Contour, tuple[int, ...]]] = []
        for loop in loops:
            contour = self._contour(loop)
            if contour_area(contour) > 0.0:
                out.append((contour, tuple(dart // 2 for dart in loop)))
        return out

    def _loops(self) -> list[list[int]]:
        """Every face as the darts that run round it with the face on their left."""
        after: dict[int, int] = {}
        for darts in self.at_node.values():
            around = darts if len(darts) < 3 else sorted(darts, key=self._direction)
            for index, dart in enumerate(around):
                # Arriving against `dart`, the next one to the right of it keeps the face on the left.
                after[dart ^ 1] = around[index - 1]
        loops: list[list[int]] = []
        seen: set[int] = set()
        for start in sorted(after):
            if start in seen:
                continue
            loop = []
            dart = start
            while dart not in seen:
                seen.add(dart)
                loop.append(dart)
                dart = after[dart]
            loops.append(loop)
        return loops

    def _direction(self, dart: int) -> tuple[float, float]:
        """Angle in which a dart leaves its node, and how it bends after that, to part tangent ones."""
        piece = self.pieces[dart // 2]
        if dart % 2 == 0:
            x, y = tangent_at(piece.segments[0], 0.0)
            near = point_at(piece.segments[0], 0.2)
            at = piece.segments[0].start
        else:
            back_x, back_y = tangent_at(piece.segments[-1], 1.0)
            x, y = -back_x, -back_y
            near = point_at(piece.segments[-1], 0.8)
            at = piece.segments[-1].end
        angle = math.atan2(y, x)
        bend = math.atan2(near[1] - at[1], near[0] - at[0]) - angle
        bend = (bend + math.pi) % (2.0 * math.pi) - math.pi
        # Rounded angles: two tangent curves must compare equal here, so that the bend decides. -pi and pi are one.
        rounded = round(angle, 7)
        return (rounded if rounded > -3.1415926 else 3.1415927, bend)

    def _contour(self, loop: Iterable[int]) -> Contour:
        segments: list[Segment] = []
        for dart in loop:
            piece = self.pieces[dart // 2]
            segments.extend((piece if dart % 2 == 0 else reversed_contour(piece)).segments)
        return Contour(tuple(segments), is_closed=True)

    def loose_chains(self) -> list[tuple[Contour, tuple[int, ...]]]:
        """What bounds nothing, as chains from loose end or junction to the next."""
        ends: dict[int, list[int]] = defaultdict(list)
        for piece in sorted(self.gone):
            ends[self.nodes[2 * piece]].append(2 * piece)
            ends[self.nodes[2 * piece + 1]].append(2 * piece + 1)
        left = set(self.gone)
        out: list[tuple[Contour, tuple[int, ...]]] = []
        for start in sorted(self.gone):
            if start not in left:
                continue
            left.discard(start)
            chain = deque([2 * start])
            for forward in (True, False):
                while True:
                    tip = chain[-1] ^ 1 if forward else chain[0]
                    node = self.nodes[tip]
                    following = [dart for dart in ends[node] if dart // 2 in left]
                    if len(ends[node]) != 2 or self.at_node[node] or len(following) != 1:
                        break
                    left.discard(following[0] // 2)
                    if forward:
                        chain.append(following[0])
                    else:
                        chain.appendleft(following[0] ^ 1)
            contour = self._contour(chain)
            out.append((Contour(contour.segments, is_closed=False), tuple(dart // 2 for dart in chain)))
        return out
