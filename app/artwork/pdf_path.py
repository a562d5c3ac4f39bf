"""The path under construction in PDF content (ISO 32000-1, 8.5.2), and how it can be painted (8.5.3)."""

from __future__ import annotations

from typing import Final

from app.artwork.limits import Budget, Limits
from geometry.build import has_no_length
from geometry.contour import Contour, FillRule
from geometry.curve import Cubic, Line, Point, Segment

PATH_LENGTHS: Final = {"m": 2, "l": 2, "c": 6, "v": 4, "y": 4, "h": 0, "re": 4}
"""How many numbers each operator that builds a path takes (table 59)."""

PAINTS: Final[dict[str, tuple[FillRule | None, bool, bool]]] = {
    "n": (None, False, False),
    "f": (FillRule.NONZERO, False, False),
    "F": (FillRule.NONZERO, False, False),
    "f*": (FillRule.EVEN_ODD, False, False),
    "S": (None, True, False),
    "s": (None, True, True),
    "B": (FillRule.NONZERO, True, False),
    "B*": (FillRule.EVEN_ODD, True, False),
    "b": (FillRule.NONZERO, True, True),
    "b*": (FillRule.EVEN_ODD, True, True),
}
"""Operators that paint a path (table 60): fill rule, stroked, closed first."""


class PathBuilder:
    """Takes in the operators that build a path; `taken` hands the path over and begins another."""

    def __init__(self, budget: Budget, limits: Limits) -> None:
        self._budget, self._limits = budget, limits
        self._contours: list[Contour] = []
        self._segments: list[Segment] = []
        self._start: Point = (0.0, 0.0)
        self._at: Point | None = None

    def add(self, operator: str, v: list[float]) -> None:
        """Take in one operator with its numbers.

        Raises
        ------
        ValueError
            When it has too few or too many, or a path does not begin with a point.
        """
        if len(v) != PATH_LENGTHS[operator]:
            raise ValueError(operator)
        match operator:
            case "m":
                self._break_off(is_closed=False)
                self._start = self._at = (v[0], v[1])
            case "l":
                self._add(Line(self._here(), (v[0], v[1])))
            case "c":
                self._add(Cubic(self._here(), (v[0], v[1]), (v[2], v[3]), (v[4], v[5])))
            case "v":
                self._add(Cubic(self._here(), self._here(), (v[0], v[1]), (v[2], v[3])))
            case "y":
                self._add(Cubic(self._here(), (v[0], v[1]), (v[2], v[3]), (v[2], v[3])))
            case "h":
                self._break_off(is_closed=True)
            case _:
                x, y, width, height = v
                self._break_off(is_closed=False)
                self._start = self._at = (x, y)
                for corner in ((x + width, y), (x + width, y + height), (x, y + height)):
                    self._add(Line(self._here(), corner))
                self._break_off(is_closed=True)

    def taken(self, *, close: bool) -> tuple[Contour, ...]:
        """The path as it is, its last contour closed where that is asked for; the next one begins with nothing."""
        self._break_off(is_closed=close)
        contours = tuple(self._contours)
        self._contours, self._at = [], None
        return contours

    def _here(self) -> Point:
        if self._at is None:
            raise ValueError("a path must start with m")
        return self._at

    def _add(self, segment: Segment) -> None:
        self._at = segment.end
        if not has_no_length(segment):
            self._segments.append(segment)
            if len(self._segments) > self._limits.segments:
                self._budget.spend_segments(len(self._segments))

    def _break_off(self, *, is_closed: bool) -> None:
        if self._segments:
            end = self._segments[-1].end
            if is_closed and end != self._start:
                self._segments.append(Line(end, self._start))
            self._contours.append(Contour(tuple(self._segments), is_closed=is_closed or end == self._start))
            self._segments = []
        if is_closed:
            self._at = self._start
