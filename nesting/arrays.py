"""Shapes on their way into the kernels' flat arrays."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from geometry.angles import cos_sin
from nesting.kernels.prepare import stood
from nesting.kernels.shapes import CHAIN, Shapes

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Figure(NamedTuple):
    """Rings as edges in chains, with circles inside."""

    edges: Floats  # (m, 4)
    chains: Ints  # (c, 2): first edge, one past the last
    circles: Floats  # (k, 3)


def figure(rings: list[Floats], circles: Floats) -> Figure:
    """A figure from its rings, outer edge first."""
    chains: list[tuple[int, int]] = []
    first = 0
    for ring in rings:
        chains += [(first + k, first + min(k + CHAIN, len(ring))) for k in range(0, len(ring), CHAIN)]
        first += len(ring)
    edges = np.concatenate([np.column_stack((ring, np.concatenate((ring[1:], ring[:1])))) for ring in rings])
    return Figure(edges, np.array(chains, np.int64), circles)


@dataclass(frozen=True, slots=True)
class Form:
    """A part in its own attitude, its centre at zero: what every attitude is turned from."""

    grown: Figure  # grown and simplified
    hull: Floats  # of the part itself
    weight: float  # square root of the linear size of the hull
    reach: float  # diameter of the hull
    own: Figure | None = None  # the part itself, where obstacles ask for it


@dataclass(slots=True)
class Builder:
    """Lists that become the arrays of `Shapes`."""

    edges: list[Floats] = field(default_factory=list)
    chains: list[Floats] = field(default_factory=list)
    chain_edges: list[Ints] = field(default_factory=list)
    circles: list[Floats] = field(default_factory=list)
    spans: list[tuple[int, ...]] = field(default_factory=list)
    box: list[Floats] = field(default_factory=list)
    bare: list[Floats] = field(default_factory=list)
    number: list[tuple[float, ...]] = field(default_factory=list)
    bare_shape: list[int] = field(default_factory=list)
    hulls: list[Floats] = field(default_factory=list)
    hull_span: list[tuple[int, int]] = field(default_factory=list)
    edge_count: int = 0
    chain_count: int = 0
    circle_count: int = 0
    hull_count: int = 0

    def stand(self, form: Form, angle: float = 0.0, *, mirrored: bool = False) -> int:
        """Append a form mirrored in x where asked, then turned, degrees; returns the number of its shape."""
        bare = -1 if form.own is None else self._add(form, form.own, angle, mirrored, -1)
        return self._add(form, form.grown, angle, mirrored, bare)

    def _add(self, form: Form, shown: Figure, angle: float, mirrored: bool, bare_shape: int) -> int:
        edges, chains, circles, hull, box, bare = stood(
            shown.edges, shown.chains, shown.circles, form.hull, -1.0 if mirrored else 1.0, *cos_sin(angle)
        )
        counts = (len(edges), len(chains), len(circles))
        firsts = (self.edge_count, self.chain_count, self.circle_count)
        self.spans.append(tuple(v for first, n in zip(firsts, counts, strict=True) for v in (first, first + n)))
        self.hull_span.append((self.hull_count, self.hull_count + len(hull)))
        self.chain_edges.append(shown.chains + self.edge_count)
        self.edge_count, self.chain_count, self.circle_count = (f + n for f, n in zip(firsts, counts, strict=True))
        self.hull_count += len(hull)
        self.edges.append(edges)
        self.chains.append(chains)
        self.circles.append(circles)
        self.hulls.append(hull)
        self.box.append(box)
        self.bare.append(bare)
        self.number.append((form.weight, form.reach))
        self.bare_shape.append(bare_shape)
        return len(self.spans) - 1

    def build(self) -> Shapes:
        """All shapes added so far."""
        return Shapes(
            np.concatenate(self.edges),
            np.concatenate(self.chains),
            np.concatenate(self.chain_edges),
            np.concatenate(self.circles),
            np.array(self.spans, dtype=np.int64),
            np.array(self.box),
            np.array(self.bare),
            np.array(self.number),
            np.array(self.bare_shape, dtype=np.int64),
            np.concatenate(self.hulls),
            np.array(self.hull_span, dtype=np.int64),
        )


def turn(points: Floats, angle: float) -> Floats:
    """Points turned about zero, degrees anticlockwise; exact at quarter turns."""
    c, s = cos_sin(angle)
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
