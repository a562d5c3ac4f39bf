"""Segments joined into chains."""

from itertools import pairwise

import pytest

from geometry.assemble import regions_from_boundaries
from geometry.build import rectangle, reversed_contour
from geometry.chain import closed_chains
from geometry.curve import Line, Segment
from geometry.measure import contour_area, region_area


def numbered(segments: list[Segment]) -> tuple[list[int], list[int]]:
    numbers: dict[tuple[float, float], int] = {}
    starts = [numbers.setdefault(s.start, len(numbers)) for s in segments]
    return starts, [numbers.setdefault(s.end, len(numbers)) for s in segments]


def path(*points: tuple[float, float]) -> list[Segment]:
    return [Line(p, q) for p, q in pairwise(points)]


def test_shuffled_rings_are_found_again() -> None:
    square, triangle = path((0, 0), (4, 0), (4, 4), (0, 4), (0, 0)), path((9, 9), (12, 9), (9, 12), (9, 9))
    mixed = [square[2], triangle[1], square[0], triangle[0], square[3], square[1], triangle[2]]
    chains = closed_chains(*numbered(mixed), mixed)
    assert sorted(sorted(chain) for chain in chains) == [[0, 2, 4, 5], [1, 3, 6]]
    for chain in chains:
        for one, two in zip(chain, chain[1:] + chain[:1], strict=True):
            assert mixed[one].end == mixed[two].start


def test_squares_touching_at_a_corner_come_apart() -> None:
    both = path((0, 0), (2, 0), (2, 2), (4, 2), (4, 4), (2, 4), (2, 2), (0, 2), (0, 0))
    chains = closed_chains(*numbered(both), both)
    assert sorted(len(chain) for chain in chains) == [4, 4]
    for chain in chains:
        xs = [both[i].start[0] for i in chain]
        assert max(xs) - min(xs) == 2


def test_a_hole_touching_the_edge_is_a_chain_of_its_own() -> None:
    outer_and_hole = path((0, 0), (6, 0), (6, 6), (0, 6), (0, 0)) + path((0, 0), (1, 3), (3, 1), (0, 0))
    chains = closed_chains(*numbered(outer_and_hole), outer_and_hole)
    assert sorted(len(chain) for chain in chains) == [3, 4]


def test_dead_ends_are_left_out() -> None:
    square = path((0, 0), (4, 0), (4, 4), (0, 4), (0, 0))
    loose = path((4, 4), (7, 7), (8, 8)) + path((-3, 0), (-1, 0), (0, 0))
    assert [sorted(chain) for chain in closed_chains(*numbered(square + loose), square + loose)] == [[0, 1, 2, 3]]
    assert closed_chains(*numbered(loose), loose) == []
    assert closed_chains([], [], []) == []


@pytest.mark.parametrize("count", [1, 2])
def test_boundaries_become_regions(count: int) -> None:
    outers = [rectangle(20, 20, at=(30.0 * i, 0)) for i in range(count)]
    holes = [reversed_contour(rectangle(2, 2, at=(30.0 * i + 3, 3))) for i in range(count)]
    stray = reversed_contour(rectangle(2, 2, at=(500, 500)))
    regions = regions_from_boundaries([*holes, *outers] if count == 1 else [*holes, stray, *outers])
    assert [region_area(region) for region in regions] == [396.0] * count
    assert all(contour_area(region.outer) == 400 for region in regions)
