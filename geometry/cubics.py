"""Many cubics at once: rows of control points (m, 4, 2) with one parameter each."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_Floats = NDArray[np.float64]


def evaluate(control: _Floats, t: _Floats) -> _Floats:
    """Points of m cubics at m parameters. (m, 4, 2), (m,) -> (m, 2), mm."""
    t = t[:, None]
    u = 1.0 - t
    first, second, third = (u * control[:, i] + t * control[:, i + 1] for i in range(3))
    points: _Floats = u * (u * first + t * second) + t * (u * second + t * third)
    return points


def derivatives(control: _Floats, t: _Floats) -> tuple[_Floats, _Floats]:
    """First and second derivatives. (m, 4, 2), (m,) -> (m, 2) twice."""
    t = t[:, None]
    u = 1.0 - t
    d0, d1, d2 = (3.0 * (control[:, i + 1] - control[:, i]) for i in range(3))
    first: _Floats = u * (u * d0 + t * d1) + t * (u * d1 + t * d2)
    second: _Floats = 2.0 * (u * (d1 - d0) + t * (d2 - d1))
    return first, second


def inflections(control: _Floats) -> list[_Floats]:
    """Parameters strictly inside each cubic where it stops turning one way (inflections and cusps), sorted.

    The cross product of the first two derivatives is a quadratic in t; these are its roots.
    """
    d0, d1, d2 = (control[:, i + 1] - control[:, i] for i in range(3))
    dd0, dd1 = d1 - d0, d2 - d1
    # B' ~ d0 + 2 t dd0 + t² (dd1 - dd0), B'' ~ dd0 + t (dd1 - dd0)
    ddd = dd1 - dd0
    c = _cross(d0, dd0)
    b = _cross(d0, ddd)
    a = _cross(dd0, ddd)
    scale = np.abs(a) + np.abs(b) + np.abs(c)
    discriminant = b * b - 4.0 * a * c
    # A cusp has a double root, which rounding may make complex.
    discriminant = np.where(np.abs(discriminant) < 1e-14 * scale * scale, 0.0, discriminant)
    root = np.sqrt(np.maximum(discriminant, 0.0))
    q = -0.5 * (b + np.where(b < 0.0, -root, root))
    real = (discriminant >= 0.0) & (scale > 0.0)
    nothing = np.full_like(q, np.nan)
    one = np.divide(q, a, out=nothing.copy(), where=real & (np.abs(a) > 1e-14 * scale))
    two = np.divide(c, q, out=nothing.copy(), where=real & (np.abs(q) > 1e-300))
    both = np.stack([one, two], axis=1)
    both = np.where((both > 1e-9) & (both < 1.0 - 1e-9), both, np.nan)
    return [np.unique(row[~np.isnan(row)]) for row in both]


def _cross(p: _Floats, q: _Floats) -> _Floats:
    result: _Floats = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    return result
