"""Cutting coil for returns: every length is cut once, no coil is overfilled, few coils, proven where they can be."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest

from app.fabrication.part import Goods, Strip
from app.planning.strip_lists import strip_lists

IN = 25.4


def strips(lengths: list[float], *, coil: float = 1200.0) -> list[Strip]:
    return [
        Strip(f"a-{n:02d}", "return", Goods.RETURN, 138.0, one * IN, one * IN, stock_length=coil * IN)
        for n, one in enumerate(lengths)
    ]


def test_v15_four_lengths_of_24_from_96():
    """V15 (closed form): strips of 24 in from 96 in without kerf: 4 from each."""
    (found,) = strip_lists(strips([24.0] * 9, coil=96.0))
    assert (found.coil_count, found.is_proven) == (3, True)
    assert found.total == pytest.approx(9 * 24.0 * IN)


def test_where_longest_first_fails_the_exact_cutting_is_taken():
    """Longest first needs 3 bars of 10 for 5, 4, 4, 3, 2, 2 only if misled; 20 in all fit two."""
    lengths = [5.0, 4.0, 4.0, 3.0, 2.0, 2.0]
    (found,) = strip_lists(strips(lengths, coil=10.0))
    assert (found.coil_count, found.is_proven) == (2, True)


def test_many_lengths_are_all_cut_once_and_fast():
    lengths = np.random.default_rng(3).uniform(20.0, 400.0, 300).tolist()
    mine = strips(lengths)
    (found,) = strip_lists(mine)
    cut = Counter(name for count, names, _ in found.coils for name in names for _ in range(count))
    assert cut == Counter(f"{one.letter} {one.name}" for one in mine)
    assert all(left >= -1e-6 for _, _, left in found.coils)
    assert found.coil_count <= math.ceil(sum(lengths) / 1200.0) + 1


def test_what_is_bought_by_length_is_summed():
    trim = Strip("a-01", "trim edge", Goods.TRIM, 25.4, 900.0, 925.4, quantity=3)
    (found,) = strip_lists([trim])
    assert (found.total, found.stock_length, found.coil_count) == (pytest.approx(2776.2), None, 0)
