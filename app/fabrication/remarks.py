"""What a rule has to say about the shape it works on, before it is known which letter that is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from geometry.curve import Point
from geometry.findings import Severity


class FabricationCode(StrEnum):
    """Codes of the findings of fabrication."""

    PART_VANISHED = "part-vanished"
    PART_SPLIT = "part-split"
    SLIVER_LEFT_OUT = "sliver-left-out"
    COUNTER_LOST = "counter-lost"
    NO_LIGHT = "no-light"
    OPENING_LOST = "opening-lost"
    OPENING_SPLIT = "opening-split"
    OPENING_TAILS = "opening-tails"
    FLANGES_MEET = "flanges-meet"
    NARROW_STROKE = "narrow-stroke"
    NARROW_LIGHT = "narrow-light"
    LOW_LETTER = "low-letter"
    TALL_LETTER = "tall-letter"
    TIGHT_CORNER = "tight-corner"
    NARROW_SLOT = "narrow-slot"
    SMALL_PART = "small-part"
    FACE_BINDS = "face-binds"
    FACE_SLIPS_OUT = "face-slips-out"
    FACE_DROPS_OUT = "face-drops-out"
    PART_DIVIDED = "part-divided"
    SECTORS_TRIED = "sectors-tried"
    SEAM_UNSOUND = "seam-unsound"
    SEAM_MISSES = "seam-misses"
    BUILD_MISSES = "build-misses"
    NO_DIVISION = "no-division"
    PLATE_LEFT_OUT = "plate-left-out"
    WIDE_LOAD = "wide-load"
    HOLE_LEFT_OUT = "hole-left-out"
    NUMBER_LEFT_OUT = "number-left-out"
    FILM_DIVIDED = "film-divided"
    FILM_LEFT_OUT = "film-left-out"


@dataclass(frozen=True, slots=True)
class Remark:
    """A finding about a shape in its own frame: the message does not name the letter yet, `where` is local, mm."""

    code: FabricationCode
    severity: Severity
    message: str
    where: Point
