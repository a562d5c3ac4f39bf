r"""Numbers with units as job files write them. What is written reads back as the same float, bit for bit.

Lengths: "3/16 in", "1 1/2\"", "610 mm". Areas: "36 in2". Temperatures: "68 F", "20 C". Expansions: "4e-05 /F".
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from enum import StrEnum
from fractions import Fraction
from typing import Final

from app.job.document import DisplayUnits
from geometry.errors import InvalidLength, MissingUnit
from geometry.units import parse_length

MM_PER_IN: Final = 25.4

_NUMBER_AND_UNIT: Final = re.compile(r"\s*([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)\s*(\S*)\s*")

_AREA: Final = {"in2": MM_PER_IN**2, "in²": MM_PER_IN**2, "mm2": 1.0, "mm²": 1.0, "cm2": 100.0, "cm²": 100.0}
_EXPANSION: Final = {"/C": 1.0, "/°C": 1.0, "/F": 1.8, "/°F": 1.8}


class Quantity(StrEnum):
    """What a number measures; the value is the unit it is kept in."""

    LENGTH = "mm"
    AREA = "mm²"
    TEMPERATURE = "°C"
    EXPANSION = "1/°C"
    NUMBER = ""


def parse_quantity(text: str, quantity: Quantity) -> float:
    """Value in the quantity's own unit (mm, mm², °C, 1/°C) of a text with its unit.

    Raises
    ------
    ValueError
        In words: no number, no unit, or a unit of something else.
    """
    if quantity is Quantity.LENGTH:
        return _parse_length(text)
    match = _NUMBER_AND_UNIT.fullmatch(text)
    number, unit = (float(match[1]), match[2]) if match else (math.nan, "")
    if math.isfinite(number):
        if quantity is Quantity.AREA and unit in _AREA:
            return number * _AREA[unit]
        if quantity is Quantity.EXPANSION and unit in _EXPANSION:
            return number * _EXPANSION[unit]
        if quantity is Quantity.TEMPERATURE and unit.removeprefix("°") in ("C", "F"):
            return number if unit.endswith("C") else (number - 32.0) / 1.8
        if quantity is Quantity.NUMBER and not unit:
            return number
    raise ValueError(f"'{text}' is not understood; write it like {_EXAMPLE[quantity]}")


def format_quantity(value: float, quantity: Quantity, units: DisplayUnits) -> str:
    """Shortest plain text that reads back as exactly `value`, in the job's sort of unit where that can be exact."""
    candidates = _CANDIDATES[quantity](value) if units is DisplayUnits.INCHES else iter(())
    for text in candidates:
        if parse_quantity(text, quantity) == value:
            return text
    return f"{value!r}{_METRIC[quantity]}"


_EXAMPLE: Final = {
    Quantity.LENGTH: '"24 in"',
    Quantity.AREA: '"36 in2"',
    Quantity.TEMPERATURE: '"68 F"',
    Quantity.EXPANSION: '"4e-05 /F"',
    Quantity.NUMBER: "1.5",
}

_METRIC: Final = {
    Quantity.LENGTH: " mm",
    Quantity.AREA: " mm2",
    Quantity.TEMPERATURE: " C",
    Quantity.EXPANSION: " /C",
    Quantity.NUMBER: "",
}


def _parse_length(text: str) -> float:
    try:
        return parse_length(text)
    except MissingUnit:
        raise ValueError(f'{text.strip()} has no unit; write "{text.strip()} in" or "{text.strip()} mm"') from None
    except InvalidLength as error:
        raise ValueError(str(error)) from None


def _inches(value: float) -> Iterator[str]:
    inches = value / MM_PER_IN
    yield from _decimals(inches, 0, " in")
    fraction = Fraction(inches).limit_denominator(64)
    # Only the fractions of a rule; 1/3 in is nobody's mark.
    if fraction.denominator in (2, 4, 8, 16, 32, 64) and abs(fraction) < 1000:
        whole, part = divmod(abs(fraction), 1)
        sign = "-" if fraction < 0 else ""
        yield f"{sign}{f'{whole} ' if whole else ''}{part} in"
    for places in range(1, 7):
        yield from _decimals(inches, places, " in")


def _decimals(number: float, places: int, unit: str) -> Iterator[str]:
    if abs(number) < 1e6:
        yield f"{number:.{places}f}{unit}"


def _square_inches(value: float) -> Iterator[str]:
    for places in range(5):
        yield from _decimals(value / MM_PER_IN**2, places, " in2")


def _fahrenheit(value: float) -> Iterator[str]:
    for places in range(4):
        yield from _decimals(value * 1.8 + 32.0, places, " F")


def _per_fahrenheit(value: float) -> Iterator[str]:
    yield f"{value / 1.8:.4g} /F"


def _plain(value: float) -> Iterator[str]:
    yield f"{value:g}"


_CANDIDATES: Final[dict[Quantity, Callable[[float], Iterator[str]]]] = {
    Quantity.LENGTH: _inches,
    Quantity.AREA: _square_inches,
    Quantity.TEMPERATURE: _fahrenheit,
    Quantity.EXPANSION: _per_fahrenheit,
    Quantity.NUMBER: _plain,
}
