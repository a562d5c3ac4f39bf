"""What stands in a cut file, read with ezdxf alone: nothing here knows how the file was written."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from ezdxf.filemanagement import readfile
from ezdxf.lldxf.const import DXFError
from numpy.typing import NDArray

from app.errors import ExportError

FLATTENING: Final = 0.00025
"""mm; how far the points that stand for an arc's chords may lie from it."""
MM_PER_INSUNITS: Final = {1: 25.4, 4: 1.0}
"""Published DXF reference: $INSUNITS 1 inches, 4 millimetres; a cut file of ours is one of the two."""
_TEXT_LAYER: Final = "NOTE"


@dataclass(frozen=True, eq=False)
class Polyline:
    """An LWPOLYLINE, or in R12 a POLYLINE, in mm.

    Fields
    ------
    layer : str
    place : int
        Place in the file: the order in which a machine meets it.
    is_closed : bool
    vertices : (k, 2) float64
        The polyline's own points.
    places : (k,) int
        Where they stand in the ring; for a closed one the ring's last point is the first again.
    knots : (n, 2) float64
        The same, and the middle of each arc.
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
    vertices: NDArray[np.float64]
    places: NDArray[np.intp]
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
    mm_per_unit = _mm_per_unit(document)
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
        if kind == "LWPOLYLINE" or (kind == "POLYLINE" and entity.is_2d_polyline):
            polylines.append(_polyline(entity, layer, place, mm_per_unit))
        elif kind == "CIRCLE":
            x, y, _ = entity.dxf.center
            circles.append(
                Circle(layer, place, (x * mm_per_unit, y * mm_per_unit), 2 * entity.dxf.radius * mm_per_unit)
            )
        else:
            raise ExportError(f"{path.name} has a {kind} on layer {layer}; a cut file holds lines, arcs and circles")
    return Content(mm_per_unit, tuple(polylines), tuple(circles), tuple(texts))


def _mm_per_unit(document: Any) -> float | None:
    """From $INSUNITS; R12 has no such variable, and there the notes say it."""
    if document.dxfversion != "AC1009":
        return MM_PER_INSUNITS.get(document.header.get("$INSUNITS", 0))
    words = " ".join(text.plain_text() for text in document.modelspace().query("TEXT"))
    named = [mm for name, mm in (("inches", 25.4), ("millimetres", 1.0)) if f"Units of this file: {name}." in words]
    return named[0] if len(named) == 1 else None


def _polyline(entity: Any, layer: str, place: int, mm_per_unit: float) -> Polyline:
    if entity.dxftype() == "LWPOLYLINE":
        points, is_closed = entity.get_points("xyb"), bool(entity.closed)
    else:
        is_closed = bool(entity.is_closed)
        points = [(one.dxf.location.x, one.dxf.location.y, one.dxf.get("bulge", 0.0)) for one in entity.vertices]
    corners = np.array(points, dtype=np.float64) * (mm_per_unit, mm_per_unit, 1.0)
    vertices, bulges = corners[:, :2], corners[:, 2]
    following = np.roll(vertices, -1, axis=0)
    if not is_closed:
        vertices, following, bulges = vertices[:-1], following[:-1], bulges[:-1]
    chords = following - vertices
    spans = np.hypot(chords[:, 0], chords[:, 1])
    arcs = np.flatnonzero(bulges != 0.0)
    angles = 4 * np.arctan(bulges[arcs])
    radii = spans[arcs] * (1 + bulges[arcs] ** 2) / (4 * np.abs(bulges[arcs]))
    lengths = spans.copy()
    lengths[arcs] = radii * np.abs(angles)
    area = 0.0
    if is_closed:
        area = float((vertices[:, 0] * following[:, 1] - following[:, 0] * vertices[:, 1]).sum() / 2)
        area += float((radii**2 * (angles - np.sin(angles)) / 2).sum())
    # So many chords for each arc that they stay within `FLATTENING`; at least two.
    steps = np.ones(len(vertices), dtype=np.intp)
    widest = 2 * np.arccos(1 - FLATTENING / np.maximum(radii, FLATTENING))
    steps[arcs] = np.maximum(2, np.ceil(np.abs(angles) / widest).astype(np.intp))
    first = np.concatenate([[0], np.cumsum(steps)])
    segment = np.repeat(np.arange(len(vertices)), steps)
    share = (np.arange(first[-1]) - first[segment]) / steps[segment]
    ring = _along(vertices, chords, bulges, segment, share)
    middles = _along(vertices, chords, bulges, arcs, np.full(len(arcs), 0.5))
    last = corners[:1, :2] if is_closed else corners[-1:, :2]
    knots = np.vstack([corners[:, :2], middles])
    return Polyline(
        layer,
        place,
        is_closed,
        corners[:, :2],
        first[: len(corners)],
        knots,
        np.vstack([ring, last]),
        area,
        float(lengths.sum()),
    )


def _along(
    starts: NDArray[np.float64],
    chords: NDArray[np.float64],
    bulges: NDArray[np.float64],
    segment: NDArray[np.intp],
    share: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Points at a share of each segment named; along an arc the share is one of its angle.

    The chord to such a point is the whole chord turned by half the angle that is left, and sin(s h) / sin(h) of its
    length, h being half the arc's angle (the angle between chord and tangent is half the arc it cuts off).
    """
    half = 2 * np.arctan(bulges[segment])
    is_arc = half != 0.0
    safe = np.where(is_arc, half, 1.0)
    scale = np.where(is_arc, np.sin(share * safe) / np.sin(safe), share)
    turn = (1 - share) * half
    cosine, sine = np.cos(turn) * scale, np.sin(turn) * scale
    dx, dy = chords[segment].T
    points: NDArray[np.float64] = starts[segment] + np.stack([cosine * dx + sine * dy, cosine * dy - sine * dx], axis=1)
    return points
