"""How long cutting takes, estimated from cut length and usual feeds; for comparing choices, never a machine setting.

Time = edges to cut x passes / feed + handling of each sheet. Air moves, ramps and tool changes are not counted.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from app.fabrication.part import CutPart
from app.stock.book import Cutter, Material, MaterialKind
from geometry.measure import region_perimeter

_INCH: Final = 25.4

HANDLING_MIN: Final = 6.0
"""Minutes to load, zero, clear and sweep one sheet. Common practice."""

BASIS: Final = (
    f"cutting time: edge length x passes / usual feed + {HANDLING_MIN:g} min handling per sheet; an estimate to "
    "compare by, not a machine setting"
)


@dataclass(frozen=True, slots=True)
class Feed:
    """Feed in mm/min and depth of one pass in mm; `mark` says where the numbers come from."""

    feed: float
    depth: float
    mark: str


def usual_feed(material: Material, cutter: Cutter) -> Feed:
    """Low end of the feeds reported for single-flute cutters."""
    match material.kind:
        case MaterialKind.ALUMINIUM if cutter.diameter < 5.0:
            return Feed(30 * _INCH, 0.020 * _INCH, "hobby router wiki: 25-35 in/min, 0.010-0.020 in deep at 1/8 in")
        case MaterialKind.ALUMINIUM:
            return Feed(50 * _INCH, 0.040 * _INCH, "hobby router wiki: 45-60 in/min, 0.020-0.040 in deep at 1/4 in")
        case MaterialKind.COMPOSITE:
            return Feed(100 * _INCH, 6.0, "common practice: one pass")
        case _:
            return Feed(100 * _INCH, cutter.diameter, "router maker's tutorial: 75-300 in/min; one diameter a pass")


def cutting_minutes(
    material: Material, cutter: Cutter, copies: Iterable[tuple[CutPart, int]], *, sheet_count: int
) -> float:
    """Estimated minutes to cut so many copies of each part from so many sheets."""
    feed = usual_feed(material, cutter)
    passes = math.ceil(material.thickness / feed.depth - 1e-9)
    length = sum(region_perimeter(part.region) * count for part, count in copies)
    return length * passes / feed.feed + sheet_count * HANDLING_MIN
