"""Affine maps of points, contours and regions."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.angles import cos_sin
from geometry.arcs import arc_centre, arc_radius, arc_sweep, ellipse_arc, tangent_at
from geometry.build import reversed_contour
from geometry.contour import Contour, Region
from geometry.curve import Arc, Cubic, Line, Point, Segment
from geometry.errors import GeometryError

ELLIPSE_TOLERANCE = 1e-4
"""How far (mm) the cubics standing for a stretched arc may be from the true ellipse."""


@dataclass(frozen=True, slots=True)
class Affine:
    """The map x' = a x + c y + e, y' = b x + d y + f (the order of numbers in SVG's ``matrix``)."""

    a: float
    b: float
    c: float
    d: float
    e: float
    f: float

    def then(self, second: Affine) -> Affine:
        """The map that does this one first and `second` after it."""
        return Affine(
            second.a * self.a + second.c * self.b,
            second.b * self.a + second.d * self.b,
            second.a * self.c + second.c * self.d,
            second.b * self.c + second.d * self.d,
            second.a * self.e + second.c * self.f + second.e,
            second.b * self.e + second.d * self.f + second.f,
        )

    def apply(self, point: Point) -> Point:
        """Image of a point."""
        x, y = point
        return (self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f)

    def apply_array(self, points: ArrayLike) -> NDArray[np.float64]:
        """Images of (n, 2) points."""
        array = np.asarray(points, dtype=np.float64)
        moved: NDArray[np.float64] = array @ np.array([[self.a, self.b], [self.c, self.d]]) + (self.e, self.f)
        return moved

    @property
    def determinant(self) -> float:
        """Factor of areas; negative when the map mirrors."""
        return self.a * self.d - self.b * self.c

    @property
    def is_similarity(self) -> bool:
        """Whether circles stay circles (equal scale in all directions, mirrored or not)."""
        size = max(abs(self.a), abs(self.b), abs(self.c), abs(self.d))
        plain = abs(self.a - self.d) + abs(self.b + self.c)
        mirrored = abs(self.a + self.d) + abs(self.b - self.c)
        return min(plain, mirrored) <= 1e-12 * size

    def inverse(self) -> Affine:
        """The map that undoes this one.

        Raises
        ------
        GeometryError
            If the map flattens everything onto a line.
        """
        det = self.determinant
        if det == 0.0 or not math.isfinite(det):
            raise GeometryError("the transformation flattens everything onto a line and cannot be undone")
        a, b, c, d = self.d / det, -self.b / det, -self.c / det, self.a / det
        return Affine(a, b, c, d, -(a * self.e + c * self.f), -(b * self.e + d * self.f))


IDENTITY = Affine(1.0, 0.0, 0.0, 1.0, 0.0, 0.0)


def translation(dx: float, dy: float) -> Affine:
    """Move by (dx, dy) mm."""
    return Affine(1.0, 0.0, 0.0, 1.0, dx, dy)


def rotation(degrees: float) -> Affine:
    """Turn about the origin, degrees anticlockwise; exact at multiples of 90."""
    cosine, sine = cos_sin(degrees)
    return Affine(cosine, sine, -sine, cosine, 0.0, 0.0)


def scaling(sx: float, sy: float | None = None) -> Affine:
    """Scale about the origin, by `sx` both ways unless `sy` is given."""
    return Affine(sx, 0.0, 0.0, sx if sy is None else sy, 0.0, 0.0)


def mirror_x() -> Affine:
    """Mirror in x: x becomes -x."""
    return Affine(-1.0, 0.0, 0.0, 1.0, 0.0, 0.0)


def transform_contour(contour: Contour, affine: Affine) -> Contour:
    """Image of a contour, run in the same order of its points (so a mirrored one turns the other way round).

    Arcs stay arcs under similarities; otherwise they become cubics within 1e-4 mm of the true ellipse.
    """
    similar, mirrored = affine.is_similarity, affine.determinant < 0.0
    segments: list[Segment] = []
    for segment in contour.segments:
        start, end = affine.apply(segment.start), affine.apply(segment.end)
        match segment:
            case Line():
                segments.append(Line(start, end))
            case Cubic(control1=control1, control2=control2):
                segments.append(Cubic(start, affine.apply(control1), affine.apply(control2), end))
            case Arc(bulge=bulge) if similar:
                segments.append(Arc(start, end, -bulge if mirrored else bulge))
            case Arc():
                segments += _stretched_arc(segment, affine, start, end)
    return Contour(tuple(segments), contour.is_closed)


def transform_region(region: Region, affine: Affine) -> Region:
    """Image of a region; after mirroring the outer contour still runs anticlockwise and the holes clockwise."""
    outer = transform_contour(region.outer, affine)
    holes = tuple(transform_contour(hole, affine) for hole in region.holes)
    if affine.determinant < 0.0:
        return Region(reversed_contour(outer), tuple(map(reversed_contour, holes)))
    return Region(outer, holes)


def _stretched_arc(arc: Arc, affine: Affine, start: Point, end: Point) -> list[Segment]:
    stretch = math.hypot(math.hypot(affine.a, affine.b), math.hypot(affine.c, affine.d))  # never less than the largest
    sagitta = 0.5 * math.dist(arc.start, arc.end) * abs(arc.bulge)
    if sagitta * stretch < 1e-9:
        return [Line(start, end)]
    tx, ty = tangent_at(arc, 0.0)
    start_deg = math.degrees(math.atan2(-tx, ty) if arc.bulge > 0.0 else math.atan2(tx, -ty))
    tolerance = ELLIPSE_TOLERANCE / max(stretch, 1e-12)
    radius = arc_radius(arc)
    pieces = ellipse_arc(arc_centre(arc), radius, radius, start_deg, 0.0, arc_sweep(arc), tolerance)
    cubics: list[Segment] = []
    for i, piece in enumerate(pieces):
        first = start if i == 0 else cubics[-1].end
        last = end if i == len(pieces) - 1 else affine.apply(piece.end)
        cubics.append(Cubic(first, affine.apply(piece.control1), affine.apply(piece.control2), last))
    return cubics
