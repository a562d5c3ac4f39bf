"""Outlines: polygons with holes, as the nesting engine and the referee see a part."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.errors import InvalidOutline

Ring = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """One connected region of material: an outer ring minus its holes.

    Fields
    ------
    outer : (n, 2) float64, mm, anticlockwise, first point not repeated, read-only
    holes : tuple of (k, 2) float64, mm, clockwise, read-only

    Build with ``from_points``, which copies, orients, freezes and checks. Simplicity (no self-crossing) and the
    holes being inside are not checked here; see ``nesting.problem``.
    """

    outer: Ring
    holes: tuple[Ring, ...] = ()

    @classmethod
    def from_points(cls, outer: ArrayLike, holes: Iterable[ArrayLike] = ()) -> Outline:
        """Outline from any point lists, closed or not, of either orientation.

        Raises
        ------
        InvalidOutline
            If a ring has fewer than three distinct points, a value that is not finite, or no area.
        """
        return cls(_ring(outer, anticlockwise=True), tuple(_ring(hole, anticlockwise=False) for hole in holes))

    def __reduce__(self) -> tuple[object, tuple[Ring, tuple[Ring, ...]]]:
        # A slotted frozen dataclass unpickles its arrays writable; going through from_points freezes them again.
        return Outline.from_points, (self.outer, self.holes)


def signed_ring_area(ring: ArrayLike) -> float:
    """Area by the shoelace formula, mm², positive when anticlockwise."""
    points = np.asarray(ring, dtype=np.float64)
    x, y = points[:, 0] - points[0, 0], points[:, 1] - points[0, 1]
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _ring(points: ArrayLike, *, anticlockwise: bool) -> Ring:
    ring = np.array(points, dtype=np.float64)
    if ring.ndim != 2 or ring.shape[1] != 2:
        raise InvalidOutline(f"a ring needs (n, 2) points, got shape {ring.shape}")
    if not np.isfinite(ring).all():
        raise InvalidOutline("a ring has a coordinate that is not a finite number")
    if len(ring) > 1:
        keep = np.any(ring != np.roll(ring, 1, axis=0), axis=1)
        ring = ring[keep]
    if len(ring) < 3:
        raise InvalidOutline(f"a ring needs three distinct points, got {len(ring)}")
    area = signed_ring_area(ring)
    if area == 0.0:
        raise InvalidOutline("a ring encloses no area")
    if (area > 0) != anticlockwise:
        ring = ring[::-1]
    ring = np.ascontiguousarray(ring)
    ring.setflags(write=False)
    return ring
