"""Feeds as a note for people: what a feed means at the tooth, and how long cutting takes with it.

feed = spindle speed x flutes x chip load. Nothing here is a machine setting: tool maker's data and a test cut govern.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from app.job.cutting import Cutting
from app.planning.cut_time import usual_feed
from app.stock.book import Cutter, Material, MaterialKind

_INCH: Final = 25.4
SPINDLE: Final = 18_000.0
"""Turns a minute that chip loads are shown for: the speed most reports on routers name (trade sources of 2008-2018)."""

_CHIPS: Final[dict[MaterialKind, tuple[tuple[float, float, float], ...]]] = {
    # Cutter diameter up to (in), then the usual chip load in inches. Common practice; aluminium after a router wiki.
    MaterialKind.ACRYLIC: ((0.1875, 0.003, 0.006), (0.3125, 0.004, 0.012), (math.inf, 0.008, 0.015)),
    MaterialKind.ALUMINIUM: ((0.1875, 0.001, 0.002), (math.inf, 0.002, 0.004)),
}
_RUBS: Final = {MaterialKind.ACRYLIC: 0.003 * _INCH, MaterialKind.ALUMINIUM: 0.001 * _INCH}
"""Chips thinner than this rub: plastic melts, aluminium welds to the cutter. Common practice."""


def feed_rate(turns: float, flutes: int, chip: float) -> float:
    """Feed in length a minute from turns a minute, flutes, and length a tooth."""
    return turns * flutes * chip


@dataclass(frozen=True, slots=True)
class SheetFeed:
    """The feed a sheet's time is worked out with.

    Fields
    ------
    feed : float, mm/min
    passes : int
    depth : float, mm
        Of one pass.
    chip : float, mm
        A tooth's share at `SPINDLE` with one flute.
    usual_chip : (float, float) or None, mm
    rubs : bool
        Whether the chip is so thin that the cutter rubs.
    mark : str
        Where feed and depth come from.
    """

    feed: float
    passes: int
    depth: float
    chip: float
    usual_chip: tuple[float, float] | None
    rubs: bool
    mark: str


def sheet_feed(material: Material, cutter: Cutter, cutting: Cutting) -> SheetFeed:
    """The job's own feed for a material, else the usual one."""
    own = next((one for one in cutting.feeds if one.material == material.id), None)
    if own is not None:
        feed, depth, mark = own.feed, own.depth, "set in this job"
    else:
        usual = usual_feed(material, cutter)
        feed, depth, mark = usual.feed, usual.depth, usual.mark
    passes = max(1, math.ceil(material.thickness / depth - 1e-9))
    chip = feed / SPINDLE
    rows = _CHIPS.get(material.kind, ())
    usual_chip = next(
        ((low * _INCH, high * _INCH) for up_to, low, high in rows if cutter.diameter <= up_to * _INCH), None
    )
    rubs = chip < _RUBS.get(material.kind, 0.0)
    return SheetFeed(feed, passes, material.thickness / passes, chip, usual_chip, rubs, mark)
