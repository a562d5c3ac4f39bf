"""Lengths, areas and counts as the window writes them."""

from __future__ import annotations

from typing import Final

from app.job.document import DisplayUnits
from geometry.units import MM_PER, format_length

KG_PER_LB: Final = 0.45359237
"""Exact: the international avoirdupois pound."""


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


def weight(kg: float, units: DisplayUnits) -> str:
    """A weight: pounds beside inches, kilograms beside millimetres."""
    return f"{kg / KG_PER_LB:,.1f} lb" if units is DisplayUnits.INCHES else f"{kg:,.1f} kg"


def count(number: int, one: str, many: str = "") -> str:
    """A number with its noun."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def as_folder_name(text: str) -> str:
    """A text as a piece of the name of a folder: letters, digits, spaces, hyphens and low lines; "job" when none."""
    kept = "".join(letter if letter.isalnum() or letter in " -_" else " " for letter in text)
    return " ".join(kept.split()) or "job"


def sentence(text: str) -> str:
    """Text with a capital at its head and a full stop at its end."""
    text = text.strip()
    if not text:
        return text
    first = text.split(maxsplit=1)[0].rstrip(":,.")
    if "." not in first:  # a file's name stays as it is
        text = text[0].upper() + text[1:]
    return text if text[-1] in ".!?" else text + "."
