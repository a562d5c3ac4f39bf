"""A part of a catalog, its shapes numbered anew: so that work on a few sheets costs no more in a large job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.catalog import Catalog
from nesting.kernels.shapes import Shapes

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Excerpt:
    """Some parts of a catalog.

    Fields
    ------
    catalog : Catalog
        The same rooms; of the parts only those asked for, in the order of `parts`.
    parts : tuple of int
        Parts in the whole catalog.
    numbers : array of int
        By shape: its number in the whole catalog.
    """

    catalog: Catalog
    parts: tuple[int, ...]
    numbers: Ints

    def inwards(self, places: Floats) -> Floats:
        """Places (n, 5 as in `separate.snapshot`) with the shapes as they are numbered here."""
        back = np.full(int(self.numbers.max()) + 1, -1, np.int64)
        back[self.numbers] = np.arange(len(self.numbers))
        return _renumbered(places, back)

    def outwards(self, places: Floats) -> Floats:
        """Places with the shapes as they are numbered in the whole catalog."""
        return _renumbered(places, self.numbers)


def excerpt(whole: Catalog, parts: Sequence[int]) -> Excerpt:
    """The catalog of some parts; about 20 ms per hundred parts of any angle."""
    chosen = tuple(sorted(set(parts)))
    wanted = [shape for room in whole.rooms for shape in room.obstacles]
    for part in chosen:
        for shape in [*(way.shape for way in whole.attitudes[part]), *whole.bases[part]]:
            own = int(whole.shapes.bare_shape[shape])
            wanted += [own, shape] if own >= 0 else [shape]
    wanted = list(dict.fromkeys(wanted))  # parts that look the same have the same shapes
    numbers = np.array(wanted, np.int64)
    back = {shape: k for k, shape in enumerate(wanted)}
    catalog = replace(
        whole,
        shapes=_shapes(whole.shapes, numbers),
        attitudes=tuple(tuple(replace(way, shape=back[way.shape]) for way in whole.attitudes[part]) for part in chosen),
        bases=tuple(tuple(back[base] for base in whole.bases[part]) for part in chosen),
        centres=tuple(whole.centres[part] for part in chosen),
        areas=tuple(whole.areas[part] for part in chosen),
        sizes=tuple(whole.sizes[part] for part in chosen),
        holes=tuple(whole.holes[part] for part in chosen),
        rooms=tuple(replace(room, obstacles=tuple(back[shape] for shape in room.obstacles)) for room in whole.rooms),
    )
    return Excerpt(catalog, chosen, numbers)


def _renumbered(places: Floats, numbers: Ints) -> Floats:
    out = places.copy()
    codes = places[:, 3].astype(np.int64)
    out[:, 3] = np.where(codes >= 0, numbers[np.maximum(codes, 0)], -1 - numbers[np.maximum(-1 - codes, 0)])
    return out


def _shapes(whole: Shapes, numbers: Ints) -> Shapes:
    spans = whole.spans[numbers]
    edges, edge_spans = _gathered(whole.edges, spans[:, 0:2])
    chains, chain_spans = _gathered(whole.chains, spans[:, 2:4])
    circles, circle_spans = _gathered(whole.circles, spans[:, 4:6])
    hulls, hull_span = _gathered(whole.hulls, whole.hull_span[numbers])
    chain_edges, _ = _gathered(whole.chain_edges, spans[:, 2:4])
    moved = np.repeat(edge_spans[:, 0] - spans[:, 0], chain_spans[:, 1] - chain_spans[:, 0])
    back = np.full(len(whole.spans) + 1, -1, np.int64)  # the last entry answers for -1
    back[numbers] = np.arange(len(numbers))
    return Shapes(
        edges,
        chains,
        chain_edges + moved[:, None],
        circles,
        np.column_stack((edge_spans, chain_spans, circle_spans)),
        whole.box[numbers],
        whole.bare[numbers],
        whole.number[numbers],
        back[whole.bare_shape[numbers]],
        hulls,
        hull_span,
    )


def _gathered(rows: NDArray[Any], spans: Ints) -> tuple[NDArray[Any], Ints]:
    """Some stretches of an array one after the other, and where each lies then."""
    lengths = spans[:, 1] - spans[:, 0]
    ends = np.cumsum(lengths)
    starts = ends - lengths
    index = np.arange(int(ends[-1]) if len(ends) else 0) + np.repeat(spans[:, 0] - starts, lengths)
    return rows[index], np.column_stack((starts, ends)).astype(np.int64)
