"""What stands in a cut file, read with ezdxf alone: nothing here knows how the file was written."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from ezdxf.filemanagement import readfile
from ezdxf.lldxf.const import DXFError
from ezdxf.math import bulge_to_arc
from numpy.typing import NDArray

from app.errors import ExportError

FLATTENING: Final = 0.00025
"""mm; how far the points that stand for an arc's chords may lie from it."""
MM_PER_INSUNITS: Final = {1: 25.4, 4: 1.0}
"""Published DXF reference: $INSUNITS 1 inches, 4 millimetres; a cut file of ours is one of the two."""
_TEXT_LAYER: Final = "NOTE"


@dataclass(frozen=True, eq=False)
class Polyline:
    """An LWPOLYLINE in mm.

    Fields
    ------
    layer : str
    place : int
        Place in the file: the order in which a machine meets it.
    is_closed : bool
    knots : (n, 2) float64
        The polyline's own points, and the middle of each arc.
    ring : (m, 2) float64
        The curve flattened; the last point repeats the first when closed.
    area : float, mm²
        Exact, signed, positive when anticlockwise; 0 when open.
    length : float, mm
        Exact.
    """

    layer: str
    place: int
    is_closed: bool
    knots: NDArray[np.float64]
    ring: NDArray[np.float64]
    area: float
    length: float


@dataclass(frozen=True, slots=True)
class Circle:
    """A CIRCLE; mm."""

    layer: str
    place: int
    centre: tuple[float, float]
    diameter: float


@dataclass(frozen=True, eq=False)
class Content:
    """Everything in the file's model space."""

    mm_per_unit: float
    polylines: tuple[Polyline, ...]
    circles: tuple[Circle, ...]
    texts: tuple[str, ...]

    def on(self, layer: str) -> tuple[Polyline, ...]:
        """Polylines of a layer, in file order."""
        return tuple(polyline for polyline in self.polylines if polyline.layer == layer)


def read_content(path: Path) -> Content:
    """Everything in the model space of a cut file, in mm.

    Raises
    ------
    ExportError
        When the file is not sound by ezdxf's audit, has no unit of ours, or holds what a cut file must not hold.
    """
    try:
        document: Any = readfile(path)
        audit = document.audit()
    except (DXFError, OSError) as error:
        raise ExportError(f"{path.name} cannot be read back ({error})") from error
    for fault in (*audit.errors, *audit.fixes):
        raise ExportError(f"{path.name} is not sound: {fault.message}")
    mm_per_unit = MM_PER_INSUNITS.get(document.header.get("$INSUNITS", 0))
    if mm_per_unit is None:
        raise ExportError(f"{path.name} says neither inches nor millimetres")
    polylines: list[Polyline] = []
    circles: list[Circle] = []
    texts: list[str] = []
    for place, entity in enumerate(document.modelspace()):
        kind, layer = entity.dxftype(), entity.dxf.layer
        if (kind == "TEXT") != (layer == _TEXT_LAYER):
            raise ExportError(f"{path.name} has a {kind} on layer {layer}, where none belongs")
        if kind == "TEXT":
            texts.append(entity.plain_text())
            continue
        if tuple(entity.dxf.extrusion) != (0.0, 0.0, 1.0):
            raise ExportError(f"{path.name} has a {kind} that does not lie flat, on layer {layer}")
        if kind == "LWPOLYLINE":
            polylines.append(_polyline(entity, layer, place, mm_per_unit))
        elif kind == "CIRCLE":
            x, y, _ = entity.dxf.center
            circles.append(
                Circle(layer, place, (x * mm_per_unit, y * mm_per_unit), 2 * entity.dxf.radius * mm_per_unit)
            )
        else:
            raise ExportError(f"{path.name} has a {kind} on layer {layer}; a cut file holds lines, arcs and circles")
    return Content(mm_per_unit, tuple(polylines), tuple(circles), tuple(texts))


def _polyline(entity: Any, layer: str, place: int, mm_per_unit: float) -> Polyline:
    corners = [(x * mm_per_unit, y * mm_per_unit, bulge) for x, y, bulge in entity.get_points("xyb")]
    is_closed = bool(entity.closed)
    following = corners[1:] + corners[:1] if is_closed else corners[1:]
    knots: list[tuple[float, float]] = []
    ring: list[tuple[float, float]] = []
    area = length = 0.0
    for (x0, y0, bulge), (x1, y1, _) in zip(corners, following, strict=False):
        knots.append((x0, y0))
        ring.append((x0, y0))
        area += (x0 * y1 - x1 * y0) / 2
        chord = math.hypot(x1 - x0, y1 - y0)
        if bulge == 0.0:
            length += chord
            continue
        angle = 4 * math.atan(abs(bulge))
        radius = chord * (1 + bulge * bulge) / (4 * abs(bulge))
        length += radius * angle
        area += math.copysign(radius * radius * (angle - math.sin(angle)) / 2, bulge)
        inner = _arc_points((x0, y0), (x1, y1), bulge, radius, angle)
        knots.append(inner[len(inner) // 2])
        ring += inner
    ring.append((corners[0] if is_closed else corners[-1])[:2])
    if not is_closed:
        knots.append(corners[-1][:2])
        area = 0.0
    return Polyline(layer, place, is_closed, np.array(knots), np.array(ring), area, length)


def _arc_points(
    start: tuple[float, float], end: tuple[float, float], bulge: float, radius: float, angle: float
) -> list[tuple[float, float]]:
    """Points on the arc between its ends, so many that the chords stay within `FLATTENING`; at least one."""
    centre, first, last, _ = bulge_to_arc(start, end, bulge)  # angles anticlockwise, whatever the bulge's sign
    steps = max(2, math.ceil(angle / (2 * math.acos(1 - FLATTENING / max(radius, FLATTENING)))))
    if last < first:
        last += 2 * math.pi
    turns = np.linspace(first, last, steps + 1)[1:-1]
    if bulge < 0:
        turns = turns[::-1]
    x, y = centre.x + radius * np.cos(turns), centre.y + radius * np.sin(turns)
    return list(zip(x.tolist(), y.tolist(), strict=True))
