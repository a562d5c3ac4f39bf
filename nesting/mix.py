"""Which sets of sheets are worth trying: cheaper than the one in use, with enough area, found by an exact solver."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from nesting.catalog import Catalog
from nesting.construct import fit_table
from nesting.problem import Problem

Floats = NDArray[np.float64]
FULLEST: Final = 0.98
"""Sets whose sheets would have to be filled beyond this with grown parts are not tried."""


def prices(problem: Problem, catalog: Catalog) -> Floats:
    """Price of each kind of sheet: its cost, and by a hair its area, so that equal costs prefer less area."""
    cost = np.array([sheet.cost for sheet in problem.sheets], dtype=float)
    area = np.array([room.area for room in catalog.rooms])
    return cost + 1e-6 * area / max(float(area.max()), 1e-9)


def cheaper_sets(
    problem: Problem, catalog: Catalog, parts: Sequence[int], kinds: Sequence[int], elsewhere: Sequence[int] = ()
) -> list[tuple[int, ...]]:
    """Sets of sheets (kinds, sorted) that cost less than `kinds`, roomiest first.

    `parts` are the parts of the copies to be placed; sheets `elsewhere` are in use and not to be had. Besides the
    roomiest set of all: the roomiest with one sheet fewer of each kind, and with one more.
    """
    price = prices(problem, catalog)
    count = len(price)
    area = np.array([room.area for room in catalog.rooms])
    now = np.bincount(np.array(kinds, dtype=np.int64), minlength=count).astype(float)
    limit = np.array([np.inf if sheet.quantity is None else float(sheet.quantity) for sheet in problem.sheets])
    limit -= np.bincount(np.array(elsewhere, dtype=np.int64), minlength=count)
    fits = fit_table(catalog)
    need: dict[frozenset[int], float] = {}
    for part in parts:
        group = frozenset(k for k in range(count) if fits[part][k])
        need[group] = need.get(group, 0.0) + catalog.areas[part]
    rows = [price]
    low, high = [-np.inf], [float(price @ now) - 0.5e-6 * float(area.min() / area.max())]
    for group in {*need, frozenset().union(*need)}:
        wanted = sum(a for sub, a in need.items() if sub <= group)
        rows.append(np.array([capacity(catalog, k) if k in group else 0.0 for k in range(count)]))
        low.append(wanted / FULLEST)
        high.append(np.inf)
        rows.append(np.array([1.0 if k in group else 0.0 for k in range(count)]))
        low.append(1.0)
        high.append(np.inf)
    constraint = LinearConstraint(np.array(rows), np.array(low), np.array(high))
    found: list[tuple[int, ...]] = []

    def look(least: Floats, most: Floats) -> None:
        if np.any(least > most):
            return
        answer = milp(-area, constraints=constraint, integrality=np.ones(count), bounds=Bounds(least, most))
        if answer.success:
            chosen = np.round(answer.x).astype(int)
            if float(price @ chosen) < float(price @ now):
                found.append(tuple(int(k) for k in np.repeat(np.arange(count), chosen)))

    zero = np.zeros(count)
    look(zero, limit)
    for k in range(count):
        fewer, more = limit.copy(), zero.copy()
        fewer[k] = min(limit[k], now[k] - 1)
        more[k] = now[k] + 1
        if now[k] >= 1:
            look(zero, fewer)
        look(more, limit)
    unique = dict.fromkeys(found)
    return sorted(unique, key=lambda chosen: (-sum(area[k] for k in chosen), chosen))


def capacity(catalog: Catalog, kind: int) -> float:
    """Area grown parts can share on a sheet: its room, and half the spacing around it."""
    x0, y0, x1, y1 = catalog.rooms[kind].rect
    return catalog.rooms[kind].area + catalog.reach * 2 * (x1 - x0 + y1 - y0)
