"""Glyph outlines from fontTools as contours."""

from __future__ import annotations

from typing import Any

from fontTools.pens.basePen import BasePen

from app.artwork.svg_path import raised
from geometry.build import has_no_length
from geometry.contour import Contour
from geometry.curve import Cubic, Line, Point, Segment


class OutlinePen(BasePen):  # type: ignore[misc]  # fontTools carries no types
    """fontTools pen that collects contours; quadratics are raised to cubics, exactly."""

    def __init__(self, glyphs: Any) -> None:
        super().__init__(glyphs)
        self._contours: list[Contour] = []
        self._segments: list[Segment] = []
        self._start: Point = (0.0, 0.0)
        self._at: Point = (0.0, 0.0)

    def finish(self) -> tuple[Contour, ...]:
        """Contours drawn so far, all closed."""
        self._closePath()
        return tuple(self._contours)

    def _add(self, segment: Segment) -> None:
        self._at = segment.end
        if not has_no_length(segment):
            self._segments.append(segment)

    def _moveTo(self, point: Point) -> None:
        self._closePath()
        self._start = self._at = _floats(point)

    def _lineTo(self, point: Point) -> None:
        self._add(Line(self._at, _floats(point)))

    def _curveToOne(self, first: Point, second: Point, end: Point) -> None:
        self._add(Cubic(self._at, _floats(first), _floats(second), _floats(end)))

    def _qCurveToOne(self, control: Point, end: Point) -> None:
        self._add(raised(self._at, _floats(control), _floats(end)))

    def _closePath(self) -> None:
        if self._segments:
            if self._at != self._start:
                self._segments.append(Line(self._at, self._start))
            self._contours.append(Contour(tuple(self._segments)))
            self._segments = []
        self._at = self._start

    def _endPath(self) -> None:
        self._closePath()


def _floats(point: Point) -> Point:
    return (float(point[0]), float(point[1]))
