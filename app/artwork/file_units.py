"""Units that artwork files state for their numbers."""

from __future__ import annotations

from geometry.units import MM_PER

# $INSUNITS of the DXF reference (group 70): code, name, mm.
INSUNITS: dict[int, tuple[str, float]] = {
    1: ("in", 25.4),
    2: ("ft", 304.8),
    3: ("mi", 1_609_344.0),
    4: ("mm", 1.0),
    5: ("cm", 10.0),
    6: ("m", 1000.0),
    7: ("km", 1e6),
    8: ("microinch", 25.4e-6),
    9: ("mil", 0.0254),
    10: ("yd", 914.4),
    13: ("micron", 1e-3),
    14: ("dm", 100.0),
    15: ("dam", 1e4),
    16: ("hm", 1e5),
}
OFFERED = ("in", "mm", "cm", "ft", "px", "pt")
"""Units to choose from when a file states none, those of sign drawings."""

_MM_PER: dict[str, float] = {**dict(INSUNITS.values()), **MM_PER, "q": 0.25}  # q: of CSS, a quarter of a millimetre


def mm_per(unit: str) -> float:
    """Millimetres in one unit that a reader names in `Drawing.units`."""
    return _MM_PER[unit]
