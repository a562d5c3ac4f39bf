"""Weights of flat sheet. One master unit: density in kg/m³; pounds are worked out from it by exact factors."""

from __future__ import annotations

import re
from typing import Final

KG_PER_LB: Final = 0.45359237
"""International pound, exact by definition (1959)."""

MM_PER_IN: Final = 25.4
KG_M3_PER: Final = {
    "kg/m3": 1.0,
    "kg/m³": 1.0,
    "g/cm3": 1000.0,
    "g/cm³": 1000.0,
    "lb/in3": KG_PER_LB / (MM_PER_IN / 1000.0) ** 3,
    "lb/in³": KG_PER_LB / (MM_PER_IN / 1000.0) ** 3,
    "lb/ft3": KG_PER_LB / (12.0 * MM_PER_IN / 1000.0) ** 3,
    "lb/ft³": KG_PER_LB / (12.0 * MM_PER_IN / 1000.0) ** 3,
}
"""kg/m³ in one of each unit of density."""

_DENSITY: Final = re.compile(r"\s*([0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]+)?|[0-9]+\.)\s*(\S*)\s*")


def areal_weight(density: float, thickness: float) -> float:
    """Weight of a sheet, kg/m².

    Parameters
    ----------
    density : float, kg/m³
    thickness : float, mm
    """
    return density * thickness / 1000.0


def areal_weight_lb_ft2(density: float, thickness: float) -> float:
    """Weight of a sheet, lb/ft²; density in kg/m³, thickness in mm."""
    square_foot_m2 = (12.0 * MM_PER_IN / 1000.0) ** 2
    return areal_weight(density, thickness) * square_foot_m2 / KG_PER_LB


def weight(area: float, density: float, thickness: float) -> float:
    """Weight of a flat piece, kg; area in mm², density in kg/m³, thickness in mm."""
    return area * 1e-6 * areal_weight(density, thickness)


def parse_density(text: str) -> float:
    """Density in kg/m³ of a text with its unit, for example "2680 kg/m3" or "0.097 lb/in3".

    Raises
    ------
    ValueError
        In words, when the text has no number or no unit of density.
    """
    match = _DENSITY.fullmatch(text)
    if match is None or match[2] not in KG_M3_PER:
        raise ValueError(f'\'{text}\' is not a density; write it like "2680 kg/m3" or "0.097 lb/in3"')
    return float(match[1]) * KG_M3_PER[match[2]]
