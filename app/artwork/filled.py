"""Filled shapes in the order they are painted: what repeats, what is page background, what is white."""

from __future__ import annotations

from app.artwork.drawing import Shape
from app.artwork.notes import Code, Notes
from geometry.arcs import point_at
from geometry.contour import Contour
from geometry.curve import Line, Point
from geometry.measure import contour_bounds

SAME = 5e-3  # mm; pieces whose ends and middles agree this closely are the same piece drawn twice


class Filled:
    """Collects filled shapes; those that show nothing of their own are told and left out.

    Parameters
    ----------
    notes : Notes
    page : (width, height) or None
        From (0, 0), in the drawing's unit; None when the file gives none.
    same : float
        Shapes that agree this closely are the same shape painted twice, in the drawing's unit.
    """

    def __init__(self, notes: Notes, page: tuple[float, float] | None, same: float = SAME) -> None:
        self.shapes: list[Shape] = []
        self._notes, self._page, self._same = notes, page, same
        self._seen: set[tuple[object, ...]] = set()
        self._white: list[tuple[str, Point]] = []

    def add(self, shape: Shape, what: str, *, is_white: bool) -> None:
        """Take one filled shape; `what` is what to call it when it is left out."""
        where = shape.contours[0].segments[0].start
        if is_white and self._page is not None and is_page(shape.contours, *self._page):
            if self.shapes:
                self._notes.count(Code.COVERED, "object", len(self.shapes), where=where)
            self._notes.count(Code.BACKGROUND, what, where=where)
            return
        key = (shape.rule, is_white, frozenset(contour_key(contour, self._same) for contour in shape.contours))
        if key in self._seen:
            self._notes.count(Code.DUPLICATE, what, where=where)
            return
        self._seen.add(key)
        if is_white:
            self._white.append((what, where))
        self.shapes.append(shape)

    def finished(self) -> list[Shape]:
        """The shapes; white ones among others are told, since viewers show them as openings or not at all."""
        if len(self._white) < len(self.shapes):
            for what, where in self._white:
                self._notes.count(Code.WHITE_FILL, what, where=where)
        return self.shapes


def contour_key(contour: Contour, same: float) -> tuple[object, ...]:
    """Equal for contours that run the same way or the other, or start elsewhere when closed, within about `same`."""

    def rounded(point: Point) -> Point:
        return (round(point[0] / same), round(point[1] / same))

    middles = frozenset(rounded(point_at(segment, 0.5)) for segment in contour.segments)
    if contour.is_closed:
        corners = frozenset(rounded(segment.start) for segment in contour.segments)
        return ("closed", len(contour.segments), corners, middles)
    ends = tuple(sorted((rounded(contour.segments[0].start), rounded(contour.segments[-1].end))))
    return ("open", len(contour.segments), ends, middles)


def is_page(contours: tuple[Contour, ...], width: float, height: float) -> bool:
    """Whether contours are one upright rectangle that covers a page of this size at (0, 0)."""
    if len(contours) != 1:
        return False
    sides = [segment for segment in contours[0].segments if segment.start != segment.end]
    if len(sides) != 4 or not all(isinstance(side, Line) for side in sides):
        return False
    box = contour_bounds(contours[0])
    slack = 1e-3 * max(width, height)
    is_upright = all(min(abs(a - b) for a, b in zip(side.start, side.end, strict=True)) <= slack for side in sides)
    return (
        is_upright
        and box.min_x <= slack
        and box.min_y <= slack
        and box.max_x >= width - slack
        and box.max_y >= height - slack
    )
