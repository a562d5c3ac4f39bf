"""Lengths in and out.

Values follow from the definitions: 1 in = 25.4 mm (agreement of 1959), 12 in = 1 ft, 96 px = 72 pt = 6 pc = 1 in (CSS).
"""

import contextlib
import pickle
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.errors import GeometryError, InvalidLength, MissingUnit
from geometry.units import MM_PER, format_both, format_inches, format_length, format_mm, parse_length


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ('3/16"', "3/16"),
        ("1 1/2 in", "3/2"),
        ('1-1/2"', "3/2"),
        ('1 - 1/2"', "3/2"),
        ("0.125in", "1/8"),
        ('.5"', "1/2"),
        ('5."', "5"),
        ("4' 6\"", "54"),
        ("4'6\"", "54"),
        ("4' 6 1/2\"", "109/2"),
        ("4'-6 1/2\"", "109/2"),
        ("4' - 6\"", "54"),
        ("4 ft 6 in", "54"),
        ("4ft 6.5in", "109/2"),
        ("4 ft. 6 in.", "54"),
        ("4 feet 6 inches", "54"),
        ("4' 6", "54"),
        ("4'", "48"),
        ("1/2 ft", "6"),
        ('1½"', "3/2"),
        ("½ in", "1/2"),
        ("4′ 6½″", "109/2"),
        ("4’ 6”", "54"),
        ("3⁄4 in", "3/4"),
        ("1–1/2 in", "3/2"),
        ("2''", "2"),
        ("96 IN", "96"),
        ("+2 in", "2"),
        ("-2 in", "-2"),
        ("−2 in", "-2"),
        ("  12\u00a0in ", "12"),
        ("1e2 in", "100"),
        ("3 yd", "108"),
        ("96 px", "1"),
        ("72pt", "1"),
        ("6pc", "1"),
        ("127 mm", "5"),
        ("2.54 cm", "1"),
        ("0.0254 metres", "1"),
    ],
)
def test_text_becomes_the_exact_length(text: str, inches: str) -> None:
    assert parse_length(text) == float(Fraction(inches) * Fraction(127, 5))


def test_a_96_inch_sheet_is_2438_4_mm_exactly() -> None:
    assert parse_length('96"') == parse_length("8 ft") == 2438.4


def test_default_unit_applies_only_without_a_unit() -> None:
    assert parse_length("24", default_unit="in") == 609.6
    assert parse_length("24 mm", default_unit="in") == 24.0
    assert parse_length("1 1/2", default_unit="in") == 38.1


@pytest.mark.parametrize("text", ["24", "1/2", "-3.5", "1 1/2"])
def test_a_number_without_unit_is_refused(text: str) -> None:
    with pytest.raises(MissingUnit, match="no unit"):
        parse_length(text)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("1,5 in", "comma"),
        ("1,200 mm", "comma"),
        ("1/0 in", "zero below the line"),
        ("3 furlongs", "'furlongs' is not a unit"),
        ("nan in", "cannot be read"),
        ("inf mm", "cannot be read"),
        ("1e999 mm", "cannot be read"),
        ("--3 in", "cannot be read"),
        ("3 in 4", "cannot be read"),
        ("1 2 3 in", "cannot be read"),
        ("in", "cannot be read"),
        ("4' 6' in", "cannot be read"),
        ("9" * 500 + " in", "longer than"),
        ("1e99 m in", "cannot be read"),
    ],
)
def test_what_is_no_length_says_why(text: str, why: str) -> None:
    with pytest.raises(InvalidLength, match=why) as caught:
        parse_length(text)
    assert isinstance(caught.value, ValueError)
    assert isinstance(caught.value, GeometryError)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("error", [InvalidLength("3 x", "why"), MissingUnit("3")])
def test_errors_survive_pickling(error: InvalidLength) -> None:
    again = pickle.loads(pickle.dumps(error))
    assert (type(again), str(again)) == (type(error), str(error))


def test_an_unknown_default_unit_is_the_callers_mistake() -> None:
    with pytest.raises(ValueError, match="known units"):
        parse_length("3", default_unit="furlong")


@given(st.text(max_size=30))
def test_no_text_brings_anything_but_a_length_or_a_refusal(text: str) -> None:
    with contextlib.suppress(InvalidLength):
        assert isinstance(parse_length(text), float)


@given(st.integers(-3200, 3200), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_fractions_come_back_exactly(parts: int, denominator: int) -> None:
    mm = float(Fraction(parts, denominator) * Fraction(127, 5))
    text = format_inches(mm, denominator=denominator)
    assert parse_length(text) == mm
    assert "/" not in text or Fraction(text.strip('-"').split()[-1]).denominator <= denominator


@pytest.mark.parametrize(
    ("mm", "text"),
    [
        (38.1, '1 1/2"'),
        (4.7625, '3/16"'),
        (609.6, '24"'),
        (0.0, '0"'),
        (-38.1, '-1 1/2"'),
        (25.4 * 1.013, '1.013"'),
        (25.4 * 1.9996, '2"'),
        (25.4 * 1.4994, '1.499"'),
        (25.4 * 10.75, '10 3/4"'),
        (1000.0, '39.37"'),
    ],
)
def test_inches_are_reduced_fractions_or_decimals(mm: float, text: str) -> None:
    assert format_inches(mm) == text


def test_millimetres_and_both() -> None:
    assert format_mm(38.1) == "38.1 mm"
    assert format_mm(1914.83619) == "1914.84 mm"
    assert format_mm(0.0508) == "0.051 mm"
    assert format_mm(-0.0001) == "0 mm"
    assert format_both(609.6) == '24" (609.6 mm)'
    assert format_length(609.6, "in") == '24"'
    assert format_length(609.6, "mm") == "609.6 mm"
    with pytest.raises(ValueError, match="'in' or 'mm'"):
        format_length(1.0, "ft")


def test_units_hold_their_definitions() -> None:
    assert MM_PER["in"] == 25.4
    assert MM_PER["ft"] == 304.8
    assert MM_PER["px"] == 25.4 / 96
    assert MM_PER["pt"] == pytest.approx(25.4 / 72, rel=1e-15)
