"""What a vacuum table holds a part with: pressure times area, and a share of it sideways."""

from __future__ import annotations

from typing import Final

_PA_PER_INHG: Final = 3386.389
FRICTION: Final = 0.3
"""Share of the downward force that holds sideways; plastic or metal on a spoilboard. Common practice."""


def usual_vacuum() -> float:
    """Pressure difference, Pa, of a good table well sealed: 20 inHg. Common practice."""
    return 20.0 * _PA_PER_INHG


def holding_force(area: float, pressure: float) -> tuple[float, float]:
    """Newtons down and sideways on a part of that net area (mm²), sealed all over, at a pressure difference in Pa."""
    down = area * 1e-6 * pressure
    return down, FRICTION * down
