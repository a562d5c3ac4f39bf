"""A drawing of a sheet on paper, in terms any canvas knows: shapes of points, and words.

Made for black and white: parts are light grey, keep-outs and offcuts are told apart by their hatching, the margin by
its dashes, and nothing by colour. Sizes are points (1/72 in) on paper, y up, lower left of the drawing at 0,0.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from app.cutting.operations import Work
from app.cutting.placed import placed_drills
from app.output.cut_sheet import DRAWN_TOLERANCE, CutSheet, Piece
from app.output.label_place import place_label
from app.output.words import offcut_name
from geometry.curve import Point
from geometry.flatten import flatten_contour
from geometry.units import format_length

_Points = NDArray[np.float64]
Measure = Callable[[str, float], float]
"""Width of a text at a size, points."""

_LEFT, _BOTTOM, _RIGHT, _TOP = 26.0, 26.0, 8.0, 8.0  # room round the sheet for sizes and callouts
_NUMBER_SIZES: Final = (16.0, 13.0, 10.5, 8.5, 7.0, 6.0, 5.0)
_SMALLEST: Final = _NUMBER_SIZES[-1]
_WELL_READ: Final = 8.5
_CAP_HEIGHT: Final = 0.73  # of the size, in the faces used
_CALLOUT_REACH: Final = (9.0, 14.0, 20.0, 28.0, 38.0, 50.0)
_CALLOUT_TURNS: Final = 16


@dataclass(frozen=True, slots=True)
class Pen:
    """Width and dashes of a line, points."""

    width: float
    dashes: tuple[float, ...] = ()


EDGE: Final = Pen(1.1)
CUT: Final = Pen(0.55)
THIN: Final = Pen(0.25)
MARGIN: Final = Pen(0.35, (3.0, 2.0))
OFFCUT: Final = Pen(0.9, (6.0, 2.0, 1.0, 2.0))
HATCH: Final = Pen(0.2)
TAB: Final = Pen(2.4)


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """Lines through points; filled (even-odd) when it has a shade, 0 black to 1 white."""

    rings: tuple[_Points, ...]
    pen: Pen | None
    shade: float | None = None
    is_closed: bool = True


@dataclass(frozen=True, slots=True)
class Words:
    """Text centred on a point; on a white ground when `has_ground`."""

    text: str
    middle: Point
    size: float
    angle: float = 0.0
    is_bold: bool = False
    has_ground: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class SheetDrawing:
    """The drawing: `width` x `height` points, `scale` points per mm, items in painting order."""

    width: float
    height: float
    scale: float
    items: tuple[Shape | Words, ...]


def scale_to_fit(cut: CutSheet, width: float, height: float) -> float:
    """Points per mm at which the sheet with its surroundings fills a box of points."""
    stock = cut.planned.stock
    return min((width - _LEFT - _RIGHT) / stock.width, (height - _BOTTOM - _TOP) / stock.height)


def draw_sheet(cut: CutSheet, width: float, height: float, *, units: str, measure: Measure) -> SheetDrawing:
    """The sheet as large as fits `width` x `height` points; lengths in `units` ("in" or "mm").

    `measure` tells how wide bold text is at a size.
    """
    scale = scale_to_fit(cut, width, height)
    stock = cut.planned.stock
    board = _Board(cut, scale, measure)
    items: list[Shape | Words] = [
        Shape((board.points(np.array(stock.edge)),), None, 1.0),
        *_offcuts(board, units),
        *_keep_outs(board),
        *_parts(board),
        *_offcut_lines(board),
        *_tabs(board),
        Shape((board.points(np.array(stock.edge)),), EDGE),
        *_zero_corner(board),
        *_sizes(board, units),
        *_offcut_names(board, units),
        *_numbers(board),
    ]
    return SheetDrawing(
        stock.width * scale + _LEFT + _RIGHT, stock.height * scale + _BOTTOM + _TOP, scale, tuple(items)
    )


class _Board:
    """The sheet on paper: mm to points, and the places already taken by words."""

    def __init__(self, cut: CutSheet, scale: float, measure: Measure) -> None:
        self.cut = cut
        self.scale = scale
        self.measure = measure
        self.taken: list[shapely.Polygon] = []
        self.materials = [self.on_paper(piece) for piece in cut.pieces]
        self.tree = shapely.STRtree(self.materials)

    def points(self, points: _Points) -> _Points:
        moved: _Points = points * self.scale + np.array([_LEFT, _BOTTOM])
        return moved

    def point(self, x: float, y: float) -> Point:
        return x * self.scale + _LEFT, y * self.scale + _BOTTOM

    def box(self, x: float, y: float, width: float, height: float) -> _Points:
        return self.points(np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], dtype=float))

    def on_paper(self, piece: Piece) -> shapely.Polygon:
        rings = [piece.material.exterior, *piece.material.interiors]
        outer, *holes = [self.points(shapely.get_coordinates(ring)) for ring in rings]
        return shapely.Polygon(outer, holes)

    def ground(self, piece: Piece, shape: shapely.Polygon) -> shapely.Polygon:
        """Where words may stand in a part: not on its drilled holes."""
        if piece.label_ground is piece.material:
            return shape
        return shapely.transform(piece.label_ground, self.points)

    def is_free(self, box: shapely.Polygon, owner: Piece) -> bool:
        """Whether no other part and no word lies in a box."""
        others = [index for index in self.tree.query(box, "intersects") if self.cut.pieces[index] is not owner]
        return not others and not any(box.intersects(words) for words in self.taken)

    @property
    def sheet_box(self) -> tuple[float, float, float, float]:
        stock = self.cut.planned.stock
        return (*self.point(0, 0), *self.point(stock.width, stock.height))


def _parts(board: _Board) -> Iterator[Shape]:
    for shape in board.materials:
        rings = tuple(shapely.get_coordinates(ring) for ring in (shape.exterior, *shape.interiors))
        yield Shape(rings, CUT, 0.86)
    for one in board.cut.operations:
        if one.work is Work.MARK:
            yield Shape(
                (board.points(flatten_contour(one.contour, DRAWN_TOLERANCE)),), THIN, None, one.contour.is_closed
            )
    for placed in board.cut.planned.placed:
        for drill in placed_drills(placed):
            x, y = board.point(*drill.centre)
            # Never smaller than can be seen.
            turn = np.linspace(0, 2 * math.pi, 17)[:-1]
            radius = max(drill.diameter / 2 * board.scale, 0.9)
            yield Shape((np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn)], axis=1),), THIN, 1.0)


def _keep_outs(board: _Board) -> Iterator[Shape | Words]:
    sheet = board.cut.planned
    width, height, margin = sheet.stock.width, sheet.stock.height, sheet.margin
    if sheet.stock.outline is not None:
        inner = shapely.Polygon(sheet.stock.outline).buffer(-margin) if margin > 0 else shapely.Polygon()
        for part in shapely.get_parts(inner):
            if not part.is_empty:
                yield Shape((board.points(shapely.get_coordinates(part.exterior)[:-1]),), MARGIN)
    elif margin > 0 and min(width, height) > 2 * margin:
        yield Shape((board.box(margin, margin, width - 2 * margin, height - 2 * margin),), MARGIN)
    for zone in sheet.stock.keep_outs:
        ring = board.box(zone.x, zone.y, zone.width, zone.height)
        yield Shape((ring,), CUT, 1.0)
        for rising in (True, False):
            yield from _hatching(ring, pitch=3.0, rising=rising)


def _offcuts(board: _Board, units: str) -> Iterator[Shape]:
    for offcut in board.cut.planned.offcuts:
        yield from _hatching(board.box(offcut.x, offcut.y, offcut.width, offcut.height), pitch=7.0, rising=True)


def _offcut_lines(board: _Board) -> Iterator[Shape]:
    for one in board.cut.operations:
        if one.work is Work.OFFCUT:
            points = flatten_contour(one.contour, DRAWN_TOLERANCE)
            yield Shape((board.points(points),), OFFCUT, None, one.contour.is_closed)


def _tabs(board: _Board) -> Iterator[Shape]:
    """Black bars where the cutter is up for a tab."""
    for one in board.cut.operations:
        for way in one.ways:
            for tab in way.tabs:
                yield Shape((board.points(flatten_contour(tab, DRAWN_TOLERANCE)),), TAB, None, is_closed=False)


def _offcut_names(board: _Board, units: str) -> Iterator[Words]:
    sheet = board.cut.planned
    for number, offcut in enumerate(sheet.offcuts):
        middle = board.point(offcut.x + offcut.width / 2, offcut.y + offcut.height / 2)
        size = f"{format_length(offcut.width, units)} × {format_length(offcut.height, units)}"
        lines = [f"offcut {offcut_name(sheet.number, number)}", size]
        wide, high = offcut.width * board.scale, offcut.height * board.scale
        angle = 90.0 if high > 1.5 * wide else 0.0
        along, across = (high, wide) if angle else (wide, high)
        length = max(board.measure(line, 1.0) for line in lines)
        text_size = max(min(10.0, 0.9 * along / length, 0.32 * across), _SMALLEST)
        for index, line in enumerate(lines):
            shift = (0.5 - index) * 1.35 * text_size
            at = (middle[0] - shift, middle[1]) if angle else (middle[0], middle[1] + shift)
            board.taken.append(_text_box(board.measure(line, text_size), text_size, at, angle))
            yield Words(line, at, text_size, angle, is_bold=True, has_ground=True)


def _hatching(ring: _Points, *, pitch: float, rising: bool) -> Iterator[Shape]:
    """Lines at 45 degrees across a rectangle, `pitch` points apart."""
    (left, bottom), (right, top) = ring.min(axis=0), ring.max(axis=0)
    wide, high = right - left, top - bottom
    step = pitch * math.sqrt(2.0)
    lines = []
    for number in range(1, int((wide + high) / step) + 1):
        reach = number * step
        # From the lower right to the upper left of the corner triangle that `reach` cuts off at the upper left.
        x0, y0 = (0.0, high - reach) if reach <= high else (reach - high, 0.0)
        x1, y1 = (reach, high) if reach <= wide else (wide, high - (reach - wide))
        if not rising:
            x0, x1 = wide - x0, wide - x1
        lines.append(np.array([(left + x0, bottom + y0), (left + x1, bottom + y1)]))
    if lines:
        yield Shape(tuple(lines), HATCH, None, is_closed=False)


def _zero_corner(board: _Board) -> Iterator[Shape | Words]:
    """A datum mark on the machine's zero: a circle, two of its quarters black."""
    x, y = board.point(0, 0)
    radius = 5.0
    quarter = np.linspace(0, math.pi / 2, 9)
    around = np.linspace(0, 2 * math.pi, 33)[:-1]
    yield Shape((np.stack([x + radius * np.cos(around), y + radius * np.sin(around)], axis=1),), CUT, 1.0)
    for begin in (0.0, math.pi):
        arc = np.stack([x + radius * np.cos(quarter + begin), y + radius * np.sin(quarter + begin)], axis=1)
        yield Shape((np.vstack([[(x, y)], arc]),), CUT, 0.0)
    yield Words("0,0", (x - 13.0, y - 11.0), 7.0, is_bold=True)


def _sizes(board: _Board, units: str) -> Iterator[Shape | Words]:
    """The sheet's width below and its height on the left, with dimension lines."""
    left, bottom, right, top = board.sheet_box
    stock = board.cut.planned.stock
    y, x, tick = bottom - 13.0, left - 13.0, 3.0
    yield Shape(
        (
            np.array([(left, y), (right, y)]),
            np.array([(left, y - tick), (left, y + tick)]),
            np.array([(right, y - tick), (right, y + tick)]),
            np.array([(x, bottom), (x, top)]),
            np.array([(x - tick, bottom), (x + tick, bottom)]),
            np.array([(x - tick, top), (x + tick, top)]),
        ),
        THIN,
        None,
        is_closed=False,
    )
    yield Words(format_length(stock.width, units), ((left + right) / 2, y), 7.5, has_ground=True)
    yield Words(format_length(stock.height, units), (x, (bottom + top) / 2), 7.5, 90.0, has_ground=True)


def _text_box(width: float, size: float, middle: Point, angle: float = 0.0) -> shapely.Polygon:
    half_x, half_y = width / 2 + 0.6, size * _CAP_HEIGHT / 2 + 0.6
    if angle == 90.0:
        half_x, half_y = half_y, half_x
    return shapely.box(middle[0] - half_x, middle[1] - half_y, middle[0] + half_x, middle[1] + half_y)


def _numbers(board: _Board) -> Iterator[Shape | Words]:
    """Every part's number: in the part, over it where it is small and alone, else beside it with a line to it."""
    left_over: list[tuple[Piece, shapely.Polygon, Point]] = []
    for piece, shape in zip(board.cut.pieces, board.materials, strict=True):
        text = str(piece.number)
        points = [board.point(*point) for point in piece.label_points]
        place = place_label(
            board.ground(piece, shape),
            points,
            heights=[size * _CAP_HEIGHT for size in _NUMBER_SIZES],
            widths=[board.measure(text, size) for size in _NUMBER_SIZES],
            may_stand=False,
        )
        size = place.height / _CAP_HEIGHT
        hole = None if place.is_inside and size >= _WELL_READ else _hole_number(board, piece, shape)
        if hole is not None and (not place.is_inside or hole.size > size):
            board.taken.append(_text_box(board.measure(text, hole.size), hole.size, hole.middle))
            yield hole
        elif place.is_inside:
            board.taken.append(_text_box(board.measure(text, size), size, place.middle))
            yield Words(text, place.middle, size, is_bold=True)
        else:
            left_over.append((piece, shape, points[0]))
    for piece, shape, point in left_over:
        yield from _small_number(board, piece, shape, point)


def _hole_number(board: _Board, piece: Piece, shape: shapely.Polygon) -> Words | None:
    """The number in the middle of a hole of its part that nothing else lies in, no larger than is well read."""
    text = str(piece.number)
    for size in (size for size in _NUMBER_SIZES if size <= _WELL_READ):
        for hole in shape.interiors:
            middle = (hole.centroid.x, hole.centroid.y)
            box = _text_box(board.measure(text, size), size, middle)
            if shapely.contains_properly(shapely.Polygon(hole), box) and board.is_free(box, piece):
                return Words(text, middle, size, is_bold=True)
    return None


def _small_number(board: _Board, piece: Piece, shape: shapely.Polygon, point: Point) -> Iterator[Shape | Words]:
    text = str(piece.number)
    width = board.measure(text, _SMALLEST)
    over = _text_box(width, _SMALLEST, point)
    min_x, min_y, max_x, max_y = shape.bounds
    if max_x - min_x > width and max_y - min_y > 1.5 * _SMALLEST and board.is_free(over, piece):
        board.taken.append(over)
        yield Words(text, point, _SMALLEST, is_bold=True, has_ground=True)
        return
    size = 6.0
    at, box = _callout(board, point, board.measure(text, size), size)
    board.taken.append(box)
    yield Shape((np.array([point, at]),), THIN, None, is_closed=False)
    turn = np.linspace(0, 2 * math.pi, 13)[:-1]
    yield Shape((np.stack([point[0] + 0.9 * np.cos(turn), point[1] + 0.9 * np.sin(turn)], axis=1),), None, 0.0)
    yield Words(text, at, size, is_bold=True, has_ground=True)


def _callout(board: _Board, point: Point, width: float, size: float) -> tuple[Point, shapely.Polygon]:
    """The best free place near a point for a small number: clear of words, then of parts, then near."""
    left, bottom, right, top = board.sheet_box
    best: tuple[float, Point, shapely.Polygon] | None = None
    for reach in _CALLOUT_REACH:
        for turn in range(_CALLOUT_TURNS):
            angle = 2 * math.pi * turn / _CALLOUT_TURNS + math.pi / 4
            at = (point[0] + reach * math.cos(angle), point[1] + reach * math.sin(angle))
            box = _text_box(width, size, at)
            min_x, min_y, max_x, max_y = box.bounds
            if min_x < left or min_y < bottom or max_x > right or max_y > top:
                continue
            cost = reach + 1000.0 * sum(box.intersection(other).area for other in board.taken if box.intersects(other))
            covered = sum(board.materials[index].intersection(box).area for index in board.tree.query(box))
            cost += 40.0 * covered / box.area
            if best is None or cost < best[0] - 1e-9:
                best = (cost, at, box)
    if best is None:
        return point, _text_box(width, size, point)
    return best[1], best[2]
