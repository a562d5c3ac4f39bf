"""Polygons as convex pieces: what sums of shapes are made from."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def convex_pieces(shape: Any) -> list[Floats]:
    """Convex polygons, anticlockwise, that cover a polygon exactly: its triangles, merged while they stay convex."""
    rings = [np.asarray(ring.coords)[:-1] for ring in (shape.exterior, *shape.interiors)]
    if len(rings) == 1 and abs(shape.convex_hull.area - shape.area) <= 1e-12 * shape.area:
        return [rings[0] if shape.exterior.is_ccw else rings[0][::-1]]
    points = [tuple(point) for ring in rings for point in ring]
    number = {point: k for k, point in enumerate(points)}
    faces: dict[int, list[int]] = {}
    owner: dict[tuple[int, int], int] = {}
    for f, triangle in enumerate(shapely.get_parts(shapely.constrained_delaunay_triangles(shape))):
        corners = [number[tuple(point)] for point in np.asarray(triangle.exterior.coords)[:-1]]
        if not triangle.exterior.is_ccw:
            corners.reverse()
        faces[f] = corners
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
            owner[a, b] = f
    inner = sorted((a, b) for (a, b) in owner if a < b and (b, a) in owner)
    inner.sort(key=lambda e: -math.dist(points[e[0]], points[e[1]]))
    for a, b in inner:
        f, g = owner[a, b], owner[b, a]
        if f == g:
            continue
        merged = _merged(faces[f], faces[g], a, b)
        if _stays_convex(merged, (a, b), points):
            faces[f] = merged
            del faces[g]
            for u, v in zip(merged, merged[1:] + merged[:1], strict=True):
                owner[u, v] = f
    return [np.array([points[k] for k in corners]) for corners in faces.values()]


def _merged(first: list[int], second: list[int], a: int, b: int) -> list[int]:
    """Two faces joined along the edge a-b of the first (b-a of the second)."""
    i, j = first.index(b), second.index(a)
    return first[i:] + first[:i] + (second[j:] + second[:j])[1:-1]


def _stays_convex(corners: list[int], joints: tuple[int, int], points: list[tuple[float, float]]) -> bool:
    """Whether two convex faces that were joined at these corners are convex together: only there it can end."""
    if len(set(corners)) < len(corners):
        return False
    for joint in joints:
        k = corners.index(joint)
        p, q, r = points[corners[k - 1]], points[joint], points[corners[(k + 1) % len(corners)]]
        if (q[0] - p[0]) * (r[1] - q[1]) - (q[1] - p[1]) * (r[0] - q[0]) < 0.0:
            return False
    return True
