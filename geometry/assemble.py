"""Boundary contours that do not cross, put together as regions."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from geometry.contour import Contour, Region
from geometry.flatten import flatten_contour
from geometry.measure import contour_area, contour_bounds


def regions_from_boundaries(contours: Sequence[Contour], areas: Sequence[float] | None = None) -> tuple[Region, ...]:
    """Regions bounded by closed contours with the material on their left: each hole goes to the outer round it.

    Contours must not cross; touching is allowed. A hole with no outer round it is left out. Regions keep the order of
    their outer contours. `areas` are the signed areas (mm²), when the caller has them already.
    """
    if areas is None:
        areas = [contour_area(contour) for contour in contours]
    outers = [i for i, area in enumerate(areas) if area > 0.0]
    holes = [i for i, area in enumerate(areas) if area < 0.0]
    if not holes:
        return tuple(Region(contours[i]) for i in outers)
    if len(outers) == 1:
        return (Region(contours[outers[0]], tuple(contours[i] for i in holes)),)
    inside: dict[int, list[Contour]] = {i: [] for i in outers}
    probes = shapely.point_on_surface([_polygon(contours[i]) for i in holes])
    hole, outer = shapely.STRtree([_polygon(contours[i]) for i in outers]).query(probes, predicate="within")
    around: dict[int, int] = {}
    for h, o in zip((holes[k] for k in hole.tolist()), (outers[k] for k in outer.tolist()), strict=True):
        if areas[o] > -areas[h] and (h not in around or areas[o] < areas[around[h]]):
            around[h] = o
    for h in holes:
        if h in around:
            inside[around[h]].append(contours[h])
    return tuple(Region(contours[i], tuple(inside[i])) for i in outers)


def _polygon(contour: Contour) -> shapely.Geometry:
    bounds = contour_bounds(contour)
    ring = flatten_contour(contour, 1e-4 * max(bounds.width, bounds.height))
    polygon = shapely.Polygon(ring)
    return polygon if shapely.is_valid(polygon) else shapely.make_valid(polygon, method="structure")
