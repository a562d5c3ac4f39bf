"""Words that stand on several outputs, kept in one place so that they never disagree."""

from __future__ import annotations

from typing import Final

from app.job.document import DisplayUnits
from app.stock.book import StockSheet
from app.stock.weights import KG_PER_LB
from geometry.units import MM_PER, format_length

CAUTION: Final = (
    "Planning aid only. Check every size against the approved drawing and the sheet on the table before cutting. "
    "Confirm units, tool number, tool diameter, zero point and clamp positions; run an air pass or dry run. "
    "Keep guards and interlocks working, hands clear until the spindle stops, and lock out power before reaching in. "
    "Wear eye protection with side shields and hearing protection. Small parts and letter centres can come loose: "
    "hold them with tabs, skin or tape. Keep aluminium chips apart from plastic and wood dust; ventilate when cutting "
    "plastic. Cut edges are sharp; sheets are heavy: lift with two people. This sheet does not cover electrical, "
    "structural or code approval. A qualified or licensed person must do those."
)
"""Stands on every cut sheet and report."""

DEFINITIONS: Final[dict[str, str]] = {
    "net yield": "part area, holes removed / area of the sheets used",
    "credited yield": "(part area, holes removed + offcuts kept) / area of the sheets used",
    "waste share": "1 - net yield",
    "waste factor": "area of the sheets used / part area - 1: what to add to the part area, not the waste share",
    "scrap weight": "weight of what is neither part nor kept offcut; hole drops count as scrap unless a part is cut "
    "from them or they are kept",
    "fewest sheets": "no plan with these parts and this stock can use fewer sheets",
}
"""What each printed figure means; printed beside it."""


def piece_text(part: str, copy: int) -> str:
    """How one copy is named in the code on its label; `copy` is 0-based, people count from 1."""
    return f"part {part} copy {copy + 1}"


def stock_size(stock: StockSheet, units: str) -> str:
    """Width x height of a sheet in the units people read."""
    return f"{format_length(stock.width, units)} × {format_length(stock.height, units)}"


def thickness_text(mm: float) -> str:
    """A thickness in both units, never as a fraction: 0.063 in and 1/16 in are two different sheets."""
    return f"{mm / MM_PER['in']:.3f} in ({mm:.3f}".rstrip("0").rstrip(".") + " mm)"


def offcut_name(sheet_number: int, offcut_number: int) -> str:
    """Name of an offcut for its label: "S02-A", the first (0) offcut of sheet 2."""
    letters = ""
    number = offcut_number
    while True:
        letters = chr(ord("A") + number % 26) + letters
        number = number // 26 - 1
        if number < 0:
            return f"S{sheet_number:02d}-{letters}"


def area_text(mm2: float, units: DisplayUnits) -> str:
    """An area in the job's units: square feet or square metres."""
    return f"{mm2 / MM_PER['ft'] ** 2:,.2f} ft²" if units is DisplayUnits.INCHES else f"{mm2 / 1e6:,.3f} m²"


def weight_text(kg: float, units: DisplayUnits) -> str:
    """A weight both ways, the one of the job's units first."""
    metric, pounds = f"{kg:,.1f} kg", f"{kg / KG_PER_LB:,.1f} lb"
    return f"{pounds} ({metric})" if units is DisplayUnits.INCHES else f"{metric} ({pounds})"


def counted(number: int, noun: str) -> str:
    """A number with its noun: "1 sheet", "2 sheets"."""
    plural = "S" if noun.isupper() else "s"
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}{plural}"


def one_line(text: str) -> str:
    """Text without line breaks, control characters and halves of characters, fit for a file of any kind."""
    whole = text.encode("utf-8", "replace").decode("utf-8")
    return " ".join("".join(sign if sign.isprintable() else " " for sign in whole).split())
