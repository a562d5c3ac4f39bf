"""A part of a catalog says of its shapes what the whole one says."""

from __future__ import annotations

import numpy as np
import pytest

from nesting.catalog import catalog
from nesting.excerpt import excerpt
from nesting.kernels.shapes import collide, overlap_size
from nesting.problem import Part, Problem, Rules, Sheet
from tests.nesting.letters import letter_pieces
from tests.nesting.shapes import ELL, FRAME, rectangle


def test_shapes_of_an_excerpt_are_the_same() -> None:
    outlines = (ELL, FRAME, letter_pieces("S", 120.0)[0], rectangle(60, 30))
    parts = tuple(Part(f"{k}", one, rotations=None, may_mirror=k == 2) for k, one in enumerate(outlines))
    clamped = Sheet("s", rectangle(800, 600), None, 1, (rectangle(50, 50),))
    whole = catalog(Problem(parts, (clamped,), Rules(5.0, 8.0)))
    some = excerpt(whole, [2, 0, 2])
    assert some.parts == (0, 2)
    ways = [(way.shape, other.shape) for way, other in zip(some.catalog.attitudes[1], whole.attitudes[2], strict=True)]
    ell, whole_ell = some.catalog.attitudes[0][0].shape, whole.attitudes[0][0].shape
    for here, there in ways:
        for dx, dy in ((10.0, 20.0), (90.0, -40.0), (150.0, 150.0)):
            assert collide(some.catalog.shapes, ell, here, dx, dy) == collide(whole.shapes, whole_ell, there, dx, dy)
        size = overlap_size(some.catalog.shapes, ell, here, 5.0, 5.0)
        assert size == pytest.approx(overlap_size(whole.shapes, whole_ell, there, 5.0, 5.0), rel=1e-12)
        own, whole_own = int(some.catalog.shapes.bare_shape[here]), int(whole.shapes.bare_shape[there])
        assert np.array_equal(some.catalog.shapes.box[own], whole.shapes.box[whole_own])
    for room, whole_room in zip(some.catalog.rooms, whole.rooms, strict=True):
        boxes = some.catalog.shapes.box[list(room.obstacles)], whole.shapes.box[list(whole_room.obstacles)]
        assert np.array_equal(*boxes)
    codes = np.array([[1.0, 2.0, 0.0, ways[0][1], 0.0], [3.0, 4.0, 30.0, -1.0 - whole.bases[2][1], 1.0]])
    assert np.array_equal(some.outwards(some.inwards(codes)), codes)
    assert some.inwards(codes)[0, 3] == ways[0][0]
