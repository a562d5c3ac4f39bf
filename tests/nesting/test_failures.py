"""The failures a search goes on from: few, good, and no two alike."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.failures import ALIKE, MOST, NEAR, Failures

DIAMETER = 100.0
HAIR = 0.5 * NEAR * DIAMETER


def layout(count: int = 8) -> np.ndarray:
    """Copies in a row, further apart than their diameter; places as a search keeps them."""
    places = np.zeros((count, 5))
    places[:, 0] = 2.0 * DIAMETER * np.arange(count)
    return places


def moved(places: np.ndarray, count: int, by: float) -> np.ndarray:
    """The first copies moved upwards."""
    other = places.copy()
    other[:count, 1] += by
    return other


def kept(failures: Failures) -> list[float]:
    return [one.total for one in failures.kept]


def test_of_layouts_that_are_alike_the_best_is_kept() -> None:
    failures = Failures(range(8), DIAMETER)
    failures.add(5.0, layout())
    failures.add(7.0, moved(layout(), 8, HAIR))
    assert kept(failures) == [5.0]
    failures.add(3.0, moved(layout(), ALIKE - 1, 900.0))
    assert kept(failures) == [3.0]
    assert failures.kept[0].places[0, 1] == 900.0


def test_a_layout_with_enough_copies_elsewhere_is_another_one() -> None:
    failures = Failures(range(8), DIAMETER)
    failures.add(5.0, layout())
    failures.add(7.0, moved(layout(), ALIKE, 900.0))
    assert kept(failures) == [5.0, 7.0]


@pytest.mark.parametrize("column", [2, 3, 4])
def test_a_turned_copy_or_one_on_another_sheet_stands_elsewhere(column: int) -> None:
    failures = Failures(range(8), DIAMETER)
    other = layout()
    other[:ALIKE, column] = 90.0 if column == 2 else 1.0
    assert not failures.are_alike(other, layout())


def test_angles_on_both_sides_of_zero_are_near() -> None:
    one, other = layout(), layout()
    one[:, 2], other[:, 2] = 359.0, 1.0
    assert Failures(range(8), DIAMETER).are_alike(one, other)


def test_copies_of_one_part_may_change_places() -> None:
    one = layout()
    assert Failures([0] * 8, DIAMETER).are_alike(one[::-1].copy(), one)
    assert not Failures(range(8), DIAMETER).are_alike(one[::-1].copy(), one)


@given(st.lists(st.integers(0, 1000), min_size=1, max_size=60), st.integers(0, 2**32 - 1))
def test_the_best_of_many_are_kept_in_order_and_picked(totals: list[int], seed: int) -> None:
    failures = Failures(range(8), DIAMETER)
    for k, total in enumerate(totals):
        failures.add(float(total), moved(layout(), 8, 900.0 * (k + 1)))
    assert kept(failures) == sorted(map(float, totals))[:MOST]
    picked = failures.pick(np.random.default_rng(seed))
    assert any(np.array_equal(picked, one.places) for one in failures.kept)
    picked[:] = -1.0
    assert all((one.places[:, 1] > 0.0).all() for one in failures.kept)


def test_promising_is_what_would_be_among_the_best_quarter() -> None:
    failures = Failures(range(8), DIAMETER)
    for k in range(MOST):
        assert failures.is_promising(1e9)
        failures.add(float(k), moved(layout(), 8, 900.0 * (k + 1)))
    assert failures.is_promising(MOST / 4 - 0.5)
    assert not failures.is_promising(MOST / 4 + 0.5)
    failures.clear()
    assert not failures
    assert failures.is_promising(1e9)
