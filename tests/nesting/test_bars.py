"""1-D cutting against textbook data: lengths here are plain numbers, the unit does not matter."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.bars import Bar, BarPlan, Piece, cut_bars
from nesting.errors import InvalidProblem


def pieces(text: str) -> list[Piece]:
    pairs = [entry.split("x") for entry in text.split()]
    return [Piece(length, float(length), int(count)) for length, count in pairs]


def valid(plan: BarPlan, wanted: list[Piece], bars: list[Bar], kerf: float) -> None:
    """Every piece exactly once, every bar long enough: sum(p + k) <= L + k."""
    lengths = {piece.id: piece.length for piece in wanted}
    stock = {bar.id: bar for bar in bars}
    made: Counter[str] = Counter()
    used: Counter[str] = Counter()
    for cut in plan.cuts:
        total = sum(lengths[name] + kerf for name in cut.pieces)
        assert total <= stock[cut.bar].length + kerf + 1e-6
        assert cut.left_over == pytest.approx(max(stock[cut.bar].length - total, 0.0), abs=1e-3)
        used[cut.bar] += cut.count
        for name in cut.pieces:
            made[name] += cut.count
    for name, count, _ in plan.unplaced:
        made[name] += count
    assert made == Counter({piece.id: piece.quantity for piece in wanted})
    assert plan.cost == sum(stock[name].cost * count for name, count in used.items())
    for name, count in used.items():
        limit = stock[name].quantity
        assert limit is None or count <= limit


ENCYCLOPEDIC = pieces(
    "1380x22 1520x25 1560x12 1710x14 1820x18 1880x18 1930x20 2000x10 2050x12 2100x14 2140x16 2150x18 2200x20"
)


def test_published_paper_roll_example() -> None:
    # V29, instance 1D-A (published encyclopedic example): 73 rolls, waste 0.401 %, relaxation 72.917.
    plan = cut_bars(ENCYCLOPEDIC, [Bar("roll", 5600.0)])
    valid(plan, ENCYCLOPEDIC, [Bar("roll", 5600.0)], 0.0)
    assert (plan.bars, plan.is_proven) == (73, True)
    waste = 1 - sum(piece.length * piece.quantity for piece in ENCYCLOPEDIC) / (73 * 5600)
    assert 100 * waste == pytest.approx(0.401, abs=0.001)
    assert plan.relaxed == pytest.approx(72.917, abs=0.001)


def test_textbook_example() -> None:
    # V30, instance 1D-B (Chvatal, Linear Programming, ch. 13): relaxation 452.25, integer 453.
    wanted = pieces("45x97 36x610 31x395 14x211")
    plan = cut_bars(wanted, [Bar("raw", 100.0)])
    valid(plan, wanted, [Bar("raw", 100.0)], 0.0)
    assert plan.relaxed == pytest.approx(452.25, abs=1e-6)
    assert (plan.bars, plan.is_proven) == (453, True)


@pytest.mark.parametrize(
    ("text", "stock", "kerf", "bars"),
    [
        ("60x4 40x6 30x8", 120.0, 0.0, 6),  # V31, 1D-C
        ("60x4 40x6 30x8", 120.0, 0.125, 8),  # V31, 1D-C
        ("42x4 31x6 22x9", 96.0, 0.0, 6),  # 1D-D
        ("42x4 31x6 22x9", 96.0, 0.25, 6),  # 1D-D
        ("24x4", 96.0, 0.0, 1),  # V15
        ("24x4", 96.0, 0.25, 2),  # V15: three to a bar
    ],
)
def test_small_examples_with_kerf(text: str, stock: float, kerf: float, bars: int) -> None:
    wanted = pieces(text)
    plan = cut_bars(wanted, [Bar("bar", stock)], kerf=kerf)
    valid(plan, wanted, [Bar("bar", stock)], kerf)
    assert (plan.bars, plan.is_proven) == (bars, True)


def test_cheapest_kind_and_limited_remnants() -> None:
    wanted = [Piece("a", 900.0, 3), Piece("b", 400.0, 2)]
    bars = [Bar("full", 2000.0, None, 50), Bar("remnant", 950.0, 1, 0)]
    plan = cut_bars(wanted, bars, kerf=3.0)
    valid(plan, wanted, bars, 3.0)
    assert plan.cost == 100  # a on the remnant; a + a and b + b on full bars


def test_bars_that_run_out_and_pieces_too_long_are_told() -> None:
    wanted = [Piece("long", 5000.0), Piece("a", 900.0, 3), Piece("short", 100.0, 1)]
    bars = [Bar("bar", 1000.0, 2)]
    plan = cut_bars(wanted, bars)
    valid(plan, wanted, bars, 0.0)
    reasons = {name: why for name, _, why in plan.unplaced}
    assert "5000.0 mm" in reasons["long"]
    assert "1000.0 mm" in reasons["long"]
    assert "used up" in reasons["a"]


def test_nonsense_is_refused_with_every_fault() -> None:
    with pytest.raises(InvalidProblem) as caught:
        cut_bars([Piece("a", -1.0, 0), Piece("a", 2.0)], [], kerf=float("nan"))
    assert len(caught.value.findings) == 5


@given(
    lengths=st.lists(st.integers(5, 60), min_size=1, max_size=5, unique=True),
    counts=st.lists(st.integers(1, 6), min_size=5, max_size=5),
    kerf=st.sampled_from([0.0, 0.5, 3.0]),
)
@settings(max_examples=25, deadline=None)
def test_plan_is_valid_and_not_below_the_bound(lengths: list[int], counts: list[int], kerf: float) -> None:
    wanted = [Piece(str(length), float(length), count) for length, count in zip(lengths, counts, strict=False)]
    bars = [Bar("bar", 100.0), Bar("half", 70.0, None, 1)]
    plan = cut_bars(wanted, bars, kerf=kerf)
    valid(plan, wanted, bars, kerf)
    assert plan.cost >= plan.relaxed - 1e-6
    assert plan.cost >= sum(piece.length * piece.quantity for piece in wanted) / 100


@pytest.mark.parametrize(("shortest", "longest"), [(300.0, 4000.0), (1500.0, 3500.0)])
def test_hundreds_of_lengths_with_a_kerf(shortest: float, longest: float) -> None:
    # Closed form: never fewer bars than the sum of lengths and kerfs asks for; pieces over half a bar need one each.
    generator = np.random.default_rng(4)
    wanted = [
        Piece(str(n), round(float(length), 2)) for n, length in enumerate(generator.uniform(shortest, longest, 200))
    ]
    bars = [Bar("bar", 6000.0)]
    plan = cut_bars(wanted, bars, kerf=3.2)
    valid(plan, wanted, bars, 3.2)
    least = max(
        sum(piece.length + 3.2 for piece in wanted) / 6003.2,
        sum(piece.length + 3.2 > 6003.2 / 2 for piece in wanted),
    )
    assert least <= plan.bars <= plan.relaxed + 2
    assert plan.is_proven == (plan.bars - plan.relaxed < 1 - 1e-6)
