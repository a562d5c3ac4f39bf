"""Small outlines and problems the nesting tests share."""

from __future__ import annotations

import math

from geometry.outline import Outline
from nesting.problem import Part, Problem, Rules, Sheet

INCH = 25.4


def rectangle(width: float, height: float, x: float = 0.0, y: float = 0.0) -> Outline:
    return Outline.from_points([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def disc(radius: float, corners: int = 64, hole: float = 0.0) -> Outline:
    """A circle's circumscribed polygon; the hole is inscribed, so the ring contains the true one."""
    angles = [2 * math.pi * k / corners for k in range(corners)]
    outer = radius / math.cos(math.pi / corners)
    inner = [[(hole * math.cos(a), hole * math.sin(a)) for a in angles]] if hole else []
    return Outline.from_points([(outer * math.cos(a), outer * math.sin(a)) for a in angles], inner)


def problem(
    *parts: Part,
    sheet: tuple[float, float] = (600.0, 400.0),
    spacing: float = 6.0,
    margin: float = 10.0,
    holes: bool = True,
) -> Problem:
    """Parts on plenty of one kind of sheet."""
    return Problem(parts, (Sheet("plate", rectangle(*sheet), None, 1000),), Rules(spacing, margin, holes))


ELL = Outline.from_points([(0, 0), (120, 0), (120, 40), (40, 40), (40, 160), (0, 160)])
FRAME = Outline.from_points([(0, 0), (200, 0), (200, 180), (0, 180)], [[(20, 20), (20, 160), (180, 160), (180, 20)]])
