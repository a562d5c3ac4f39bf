"""Shapes on their way into the kernels' flat arrays."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.kernels.shapes import CHAIN, Shapes

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Form:
    """A part in its own attitude, its centre at zero: what every attitude is turned from."""

    rings: list[Floats]  # grown and simplified
    circles: Floats
    hull: Floats  # of the part itself
    weight: float  # square root of the linear size of the hull
    own: list[Floats]  # rings of the part itself; empty where no obstacle asks for them
    own_circles: Floats


@dataclass(slots=True)
class Builder:
    """Lists that become the arrays of `Shapes`."""

    edges: list[Floats] = field(default_factory=list)
    chains: list[Floats] = field(default_factory=list)
    chain_edges: list[tuple[int, int]] = field(default_factory=list)
    circles: list[Floats] = field(default_factory=list)
    spans: list[tuple[int, ...]] = field(default_factory=list)
    box: list[Floats] = field(default_factory=list)
    bare: list[Floats] = field(default_factory=list)
    number: list[tuple[float, ...]] = field(default_factory=list)
    bare_shape: list[int] = field(default_factory=list)
    hulls: list[Floats] = field(default_factory=list)
    hull_span: list[tuple[int, int]] = field(default_factory=list)
    edge_count: int = 0
    circle_count: int = 0
    hull_count: int = 0

    def add(self, rings: list[Floats], circles: Floats, hull: Floats, weight: float, bare_shape: int) -> int:
        """Append a shape given by its rings, circles and bare hull; returns its number."""
        first_edge, first_chain = self.edge_count, len(self.chain_edges)
        for ring in rings:
            edges = np.column_stack((ring, np.roll(ring, -1, axis=0)))
            for start in range(0, len(edges), CHAIN):
                part = edges[start : start + CHAIN]
                xs, ys = part[:, 0::2], part[:, 1::2]
                self.chains.append(np.array((xs.min(), ys.min(), xs.max(), ys.max())))
                self.chain_edges.append((self.edge_count + start, self.edge_count + start + len(part)))
            self.edges.append(edges)
            self.edge_count += len(edges)
        self.circles.append(circles)
        self.hulls.append(hull)
        span = (first_edge, self.edge_count, first_chain, len(self.chain_edges))
        self.spans.append((*span, self.circle_count, self.circle_count + len(circles)))
        self.circle_count += len(circles)
        self.hull_span.append((self.hull_count, self.hull_count + len(hull)))
        self.hull_count += len(hull)
        outer = np.concatenate(rings)
        self.box.append(np.concatenate((outer.min(axis=0), outer.max(axis=0))))
        self.bare.append(np.concatenate((hull.min(axis=0), hull.max(axis=0))))
        self.number.append((weight, diameter(hull)))
        self.bare_shape.append(bare_shape)
        return len(self.spans) - 1

    def build(self) -> Shapes:
        """All shapes added so far."""
        return Shapes(
            np.concatenate(self.edges),
            np.array(self.chains),
            np.array(self.chain_edges, dtype=np.int64),
            np.concatenate(self.circles),
            np.array(self.spans, dtype=np.int64),
            np.array(self.box),
            np.array(self.bare),
            np.array(self.number),
            np.array(self.bare_shape, dtype=np.int64),
            np.concatenate(self.hulls),
            np.array(self.hull_span, dtype=np.int64),
        )


@dataclass(frozen=True, slots=True)
class _Turned:
    sign: Floats
    angle: float

    def ring(self, points: Floats) -> Floats:
        return turn(points * self.sign, self.angle)

    def circles(self, circles: Floats) -> Floats:
        return np.column_stack((self.ring(circles[:, :2]), circles[:, 2]))


def stand(builder: Builder, form: Form, angle: float, mirrored: bool) -> int:
    """Add a form mirrored in x where asked, then turned; returns the number of its shape."""
    way = _Turned(np.array((-1.0 if mirrored else 1.0, 1.0)), angle)
    hull = way.ring(form.hull)
    bare = -1
    if form.own:
        bare = builder.add([way.ring(ring) for ring in form.own], way.circles(form.own_circles), hull, form.weight, -1)
    return builder.add([way.ring(ring) for ring in form.rings], way.circles(form.circles), hull, form.weight, bare)


def turn(points: Floats, angle: float) -> Floats:
    """Points turned about zero, degrees anticlockwise; exact at quarter turns."""
    quarter, rest = divmod(angle, 90.0)
    if rest == 0.0:
        c, s = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    else:
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return np.column_stack((c * points[:, 0] - s * points[:, 1], s * points[:, 0] + c * points[:, 1]))


def diameter(points: Floats) -> float:
    """Largest distance between two of the points, mm."""
    span = points[:, None, :] - points[None, :, :]
    return float(np.sqrt((span**2).sum(axis=2).max()))


def with_slots(shapes: Shapes, bases: list[int]) -> tuple[Shapes, NDArray[np.int64]]:
    """A private copy of all shapes with two empty slots more for each entry of `bases` that is not -1.

    Returns the shapes and the slots (n, 2), -1 where there are none. A slot has room for its base shape at any angle.
    """
    slots = np.full((len(bases), 2), -1, np.int64)
    spans: list[tuple[int, ...]] = []
    bare: list[int] = []
    edges, chains, circles = len(shapes.edges), len(shapes.chains), len(shapes.circles)
    count = len(shapes.spans)

    def reserve(base: int, bare_slot: int) -> int:
        nonlocal edges, chains, circles
        span = shapes.spans[base]
        spans.append((edges, edges, chains, chains, circles, circles))
        edges += int(span[1] - span[0])
        chains += int(span[3] - span[2])
        circles += int(span[5] - span[4])
        bare.append(bare_slot)
        return count + len(spans) - 1

    for i, base in enumerate(bases):
        if base >= 0:
            for k in range(2):
                own = int(shapes.bare_shape[base])
                slots[i, k] = reserve(base, reserve(own, -1) if own >= 0 else -1)
    more = len(spans)
    if not more:
        return shapes, slots

    def longer(array: NDArray[Any], rows: int) -> NDArray[Any]:
        return np.concatenate((array, np.zeros((rows, *array.shape[1:]), array.dtype)))

    return (
        Shapes(
            longer(shapes.edges, edges - len(shapes.edges)),
            longer(shapes.chains, chains - len(shapes.chains)),
            longer(shapes.chain_edges, chains - len(shapes.chains)),
            longer(shapes.circles, circles - len(shapes.circles)),
            np.concatenate((shapes.spans, np.array(spans, np.int64))),
            longer(shapes.box, more),
            longer(shapes.bare, more),
            longer(shapes.number, more),
            np.concatenate((shapes.bare_shape, np.array(bare, np.int64))),
            shapes.hulls,
            longer(shapes.hull_span, more),
        ),
        slots,
    )
