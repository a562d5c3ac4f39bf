"""Lengths, areas and counts as the window writes them."""

from __future__ import annotations

from app.job.document import DisplayUnits
from app.stock.book import Material, StockSheet
from geometry.units import MM_PER, format_length

INFINITE = "any number"


def size(width: float, height: float, units: DisplayUnits) -> str:
    """Width by height (mm) in the job's units."""
    return f"{format_length(width, units)} × {format_length(height, units)}"


def area(mm2: float, units: DisplayUnits) -> str:
    """An area (mm²) in the job's units."""
    if units is DisplayUnits.INCHES:
        square_inches = mm2 / MM_PER["in"] ** 2
        return f"{square_inches:,.1f} in²" if square_inches < 144 else f"{square_inches / 144:,.1f} ft²"
    return f"{mm2:,.0f} mm²" if mm2 < 1e5 else f"{mm2 / 1e6:,.3f} m²"


def share(value: float) -> str:
    """A share of one as a percentage."""
    return f"{value * 100:.1f} %"


def count(number: int, one: str, many: str = "") -> str:
    """A number with its noun."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def stock_title(sheet: StockSheet, units: DisplayUnits) -> str:
    """A stock size: what the shop calls it when that says more than its measures."""
    return f"{sheet.name} ({size(sheet.width, sheet.height, units)})"


def thickness(material: Material, units: DisplayUnits) -> str:
    """Thickness of a material."""
    return format_length(material.thickness, units)


def sentence(text: str) -> str:
    """Text with a capital at its head and a full stop at its end."""
    text = text.strip()
    if not text:
        return text
    first = text.split(maxsplit=1)[0].rstrip(":,.")
    if "." not in first:  # a file's name stays as it is
        text = text[0].upper() + text[1:]
    return text if text[-1] in ".!?" else text + "."
