"""A problem that must not be searched is refused with part, value and limit."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

from geometry.outline import Outline
from nesting.errors import InvalidProblem
from nesting.problem import Part, Problem, Rules, Sheet, net_area
from tests.nesting.shapes import FRAME, rectangle

PLATE = Sheet("plate", rectangle(600, 400))


def refused(parts: tuple[Part, ...], sheets: tuple[Sheet, ...] = (PLATE,), rules: Rules | None = None) -> str:
    with pytest.raises(InvalidProblem) as caught:
        Problem(parts, sheets, rules or Rules(3.0, 5.0))
    return str(caught.value)


def holed(*holes: list[tuple[float, float]]) -> Part:
    return Part("a", Outline.from_points([(0, 0), (9, 0), (9, 9), (0, 9)], holes))


def test_good_problem_is_accepted_and_survives_pickling() -> None:
    problem = Problem((Part("a", FRAME, 2),), (PLATE,), Rules(3.0, 5.0))
    again = pickle.loads(pickle.dumps(problem))
    assert again.parts[0].id == "a"
    assert not again.parts[0].outline.outer.flags.writeable


def test_net_area_takes_holes_off() -> None:
    assert net_area(FRAME) == pytest.approx(200 * 180 - 160 * 140)


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (Part("a", rectangle(10, 10), 0), ("'a'", "0", "at least 1")),
        (Part("a", rectangle(10, 10), 1, ()), ("'a'", "no rotation")),
        (Part("a", rectangle(10, 10), 1, (float("nan"),)), ("'a'", "nan")),
        (Part("a", Outline.from_points([(0, 0), (10, 10), (12, 0), (0, 9)])), ("'a'", "crosses itself", "mm")),
        (holed([(20, 20), (22, 20), (22, 22)]), ("hole 1", "not inside")),
        (holed([(5, 5), (12, 5), (12, 8)]), ("hole 1", "not inside")),
        (holed([(1, 1), (6, 1), (6, 6)], [(4, 2), (8, 2), (8, 6)]), ("'a'", "cross or touch")),
        (Part("a", Outline(np.array([[0.0, 0.0], [1.0, np.nan], [2.0, 1.0]]))), ("'a'", "finite")),
        (Part("a", Outline(np.array([[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]]))), ("'a'", "area")),
        (Part("a", Outline(np.array([[0.0, 0.0], [1.0, np.inf], [2.0, 1.0]]))), ("'a'", "finite")),
        (Part("a", Outline(np.array([[0.0, 0.0], [1.0, 1.0]]))), ("'a'", "at least 3 points")),
        (Part("a", Outline(rectangle(9, 9).outer, (np.array([[1.0, 1], [4, 4], [7, 7]]),))), ("hole 1", "0 mm²")),
        (holed([(1, 1), (6, 6), (6, 1), (1, 5)]), ("hole 1", "crosses itself")),
    ],
)
def test_faulty_part_is_named(part: Part, words: tuple[str, ...]) -> None:
    message = refused((part,))
    for word in words:
        assert word in message


def test_all_faults_are_collected() -> None:
    parts = (Part("a", rectangle(10, 10), 0), Part("a", rectangle(5, 5)))
    with pytest.raises(InvalidProblem) as caught:
        Problem(parts, (), Rules(-1.0, float("inf")))
    text = caught.value.findings
    assert len(text) == 5  # quantity, repeated id, no stock, spacing, margin
    assert any("spacing is -1.0" in one for one in text)


def test_margin_that_leaves_no_room_names_sheet_and_sizes() -> None:
    message = refused((Part("a", rectangle(10, 10)),), rules=Rules(3.0, 200.0))
    assert "'plate'" in message
    assert "200 mm leaves no room on 600.0 × 400.0 mm" in message


def test_faulty_keep_out_is_named() -> None:
    sheet = Sheet("plate", rectangle(600, 400), None, 0, (Outline.from_points([(0, 0), (10, 10), (12, 0), (0, 9)]),))
    assert "keep-out 1 of sheet 'plate'" in refused((Part("a", rectangle(10, 10)),), (sheet,))


def test_negative_count_and_cost_are_refused() -> None:
    message = refused((Part("a", rectangle(10, 10)),), (Sheet("plate", rectangle(600, 400), -1, -5),))
    assert "quantity is -1" in message
    assert "cost is -5" in message


@pytest.mark.parametrize("rules", [Rules(float("nan"), 5.0), Rules(3.0, float("nan")), Rules(3.0, -2.0)])
def test_distances_that_are_none_are_refused(rules: Rules) -> None:
    assert "it must be 0 mm or more" in refused((Part("a", rectangle(10, 10)),), rules=rules)


def test_faulty_sheet_is_named() -> None:
    crossed = Sheet("odd", Outline.from_points([(0, 0), (10, 10), (12, 0), (0, 9)]))
    holed_out = Sheet("thin", Outline(np.array([[0.0, 0.0], [np.nan, 1.0], [2.0, 1.0]])))
    message = refused((Part("a", rectangle(10, 10)),), (crossed, holed_out))
    assert "sheet 'odd'" in message
    assert "sheet 'thin'" in message
