"""Contours (chains of segments) and regions (one piece of material: an outer contour minus its counters)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from geometry.curve import Segment


class FillRule(StrEnum):
    """Which side of a set of contours is material (the two rules of the W3C SVG specification, fill-rule)."""

    NONZERO = "nonzero"
    EVEN_ODD = "evenodd"


@dataclass(frozen=True, slots=True)
class Contour:
    """A chain of segments, each starting where the one before ends.

    Fields
    ------
    segments : tuple of Line, Arc or Cubic
        At least one. Neighbours share end points exactly.
    is_closed : bool
        True when the last segment ends exactly where the first starts.
    """

    segments: tuple[Segment, ...]
    is_closed: bool = True


@dataclass(frozen=True, slots=True)
class Region:
    """One connected piece of material with true curves.

    Fields
    ------
    outer : Contour
        Closed, anticlockwise.
    holes : tuple of Contour
        Closed, clockwise; inside the outer contour, apart from each other.
    """

    outer: Contour
    holes: tuple[Contour, ...] = ()
