"""Sines and cosines of degrees, exact where the answer is 0 or 1."""

from __future__ import annotations

import math

_QUARTERS = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))


def cos_sin(degrees: float) -> tuple[float, float]:
    """Cosine and sine of an angle in degrees; exact at multiples of 90."""
    quarters, rest = divmod(degrees, 90.0)
    if rest == 0.0:
        return _QUARTERS[int(quarters) % 4]
    radians = math.radians(degrees % 360.0)
    return math.cos(radians), math.sin(radians)
