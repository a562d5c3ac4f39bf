"""How far a sheet as bought may fall short of what it is called, by published tolerance tables.

A measured sheet always wins over these; they say what to count on before it is on the rack.
"""

from __future__ import annotations

from bisect import bisect_left
from enum import StrEnum
from typing import Final

_IN: Final = 25.4

# Flat aluminium sheet after ANSI H35.2, as reprinted by mills. Upper ends of the ranges in inches, "over - up to and
# including", each with its plus-minus tolerance; thinner than 0.125 in, and from there to 0.249 in.
_THIN: Final = 0.125 * _IN - 1e-6
_WIDTHS: Final = {
    True: ((24.0, 3 / 32), (60.0, 1 / 8), (96.0, 1 / 8), (132.0, 5 / 32)),
    False: ((60.0, 1 / 8), (96.0, 5 / 32)),
}
_LENGTHS: Final = {
    True: ((120.0, 1 / 8), (240.0, 5 / 32)),
    False: ((120.0, 1 / 8), (240.0, 5 / 32)),
}


class SizeStandard(StrEnum):
    """Which table a sheet is made to."""

    US = "ANSI H35.2"
    EUROPE = "EN 485"


def least_size(width: float, length: float, thickness: float, standard: SizeStandard) -> tuple[float, float]:
    """Smallest width and length, mm, that an aluminium sheet of that name may have.

    European sheet is made full size or larger; American sheet may be short by its tolerance.

    Raises
    ------
    ValueError
        In words, when the sheet is larger than the table goes.
    """
    if standard is SizeStandard.EUROPE:
        return width, length
    is_thin = thickness < _THIN
    return width - _tolerance(width, _WIDTHS[is_thin], "wide"), length - _tolerance(length, _LENGTHS[is_thin], "long")


def acrylic_thickness_tolerance(thickness: float, *, is_cast: bool = True) -> float:
    """Plus-minus tolerance of acrylic sheet's thickness, mm: cast by ISO 7823-1, extruded by ISO 7823-2."""
    if is_cast:
        return 0.4 + 0.1 * thickness
    return thickness * (0.10 if thickness < 3.0 else 0.05)


def _tolerance(size: float, table: tuple[tuple[float, float], ...], way: str) -> float:
    row = bisect_left([limit for limit, _ in table], size / _IN - 1e-9)
    if row == len(table):
        raise ValueError(
            f"the tolerance table ends at {table[-1][0]:g} in {way} and the sheet is {size / _IN:g} in; measure it"
        )
    return table[row][1] * _IN
