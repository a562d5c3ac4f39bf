"""How the tables of the stock book are shown: headings, what each column means, what may stand in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from app.stock.book import MaterialKind
from app.stock.supply import CoilUse, Per, PerLength
from app.window.data_table import Cell, Column, Row

LENGTH: Final = "a length with its unit: 48 in, 610 mm, 4' 6\""
NAMES: Final = {
    "sheets": "Sheet sizes",
    "materials": "Materials",
    "coils": "Coils",
    "rolls": "Rolls",
    "cutters": "Cutters",
}
"""Tables in the order they are offered."""

SHOWN: Final = {
    "sheets": (
        "material", "name", "width", "height", "price", "per", "minimum", "supplier", "width_over", "height_over",
        "width_minus", "height_minus", "mark", "currency", "id",
    ),
    "materials": (
        "name", "kind", "thickness", "thickness_minus", "thickness_plus", "density", "cutter", "web", "margin",
        "has_grain", "sides_alike", "mark", "id",
    ),
    "coils": (
        "name", "use", "width", "thickness", "length", "price", "per", "minimum", "supplier", "density", "mark",
        "currency", "id",
    ),
    "rolls": ("name", "width", "edge", "length", "price", "per", "minimum", "supplier", "mark", "currency", "id"),
    "cutters": ("name", "diameter", "mark", "id"),
}  # fmt: skip
"""Columns in the order they are shown: what is looked at and changed most comes first."""

_TIPS: Final[dict[str, tuple[str, str, int]]] = {
    "id": ("Id", "How job files and lists call it; change it with care", 170),
    "name": ("Name", "As the shop calls it", 190),
    "diameter": ("Diameter", f"Of the cutter, which is its kerf; {LENGTH}", 90),
    "mark": ("Source", "Where the numbers come from", 150),
    "kind": ("Kind", "Family of material", 110),
    "thickness": ("Thickness", f"Nominal; {LENGTH}", 86),
    "thickness_minus": ("Thinner by", f"How much thinner it may be; {LENGTH}", 86),
    "thickness_plus": ("Thicker by", f"How much thicker it may be; {LENGTH}", 86),
    "density": ("Density", "With its unit: 2680 kg/m3 or 0.097 lb/in3", 110),
    "cutter": ("Cutter", "Id of the cutter used on it", 76),
    "web": ("Web", f"Left between two cuts; spacing is the cutter's diameter plus this; {LENGTH}", 76),
    "margin": ("Margin", f"Least distance from a part to the sheet's edge; {LENGTH}", 76),
    "has_grain": ("Grain", "yes: parts turn by 180° only", 60),
    "sides_alike": ("Sides alike", "yes: parts may be cut mirrored", 80),
    "material": ("Material", "Id of the material", 150),
    "width": ("Width", f"Nominal; {LENGTH}", 80),
    "height": ("Height", f"Nominal; {LENGTH}", 80),
    "width_over": ("Wider by", f"How much wider than its name it is sold at least; {LENGTH}", 76),
    "height_over": ("Higher by", f"How much higher than its name it is sold at least; {LENGTH}", 76),
    "width_minus": ("Narrower by", f"How much narrower it may come; {LENGTH}", 86),
    "height_minus": ("Shorter by", f"How much shorter it may come; {LENGTH}", 80),
    "price": ("Price", "In the book's currency, for what stands under Per; empty when not known", 80),
    "currency": ("Currency", "Code of three capitals, the same throughout the book", 72),
    "per": ("Per", "What the price is for", 70),
    "minimum": ("Fewest", "Fewest that an order takes", 62),
    "supplier": ("Supplier", "Free text", 130),
    "use": ("Use", "What is cut from it", 130),
    "length": ("Length", f"Of a coil or roll; {LENGTH}", 86),
    "edge": ("Edge", f"What cannot be used at each edge; {LENGTH}", 76),
}
_NUMBERS: Final = {
    "diameter", "thickness", "thickness_minus", "thickness_plus", "density", "web", "margin", "width", "height",
    "width_over", "height_over", "width_minus", "height_minus", "price", "minimum", "length", "edge",
}  # fmt: skip
_YES_NO: Final = ("yes", "no")


def book_columns(table: str) -> tuple[Column, ...]:
    """Columns of a table of the book."""
    made = []
    for name in SHOWN[table]:
        title, tip, width = _TIPS[name]
        width = 104 if (table, name) == ("sheets", "name") else width
        made.append(
            Column(title, tip, width, is_number=name in _NUMBERS, is_editable=True, choices=_choices(table, name))
        )
    return tuple(made)


def book_rows_shown(
    table: str, rows: Sequence[Mapping[str, str]], shipped: Sequence[Mapping[str, str]], wanted: str
) -> list[Row]:
    """Rows that hold the words wanted; what differs from the shipped book stands out and tells what is shipped."""
    before = {row["id"]: row for row in shipped}
    shown = []
    for row in rows:
        if not all(word in " ".join(row.values()).casefold() for word in wanted.casefold().split()):
            continue
        old = before.get(row["id"])
        cells = []
        for name in SHOWN[table]:
            text = row[name]
            is_own = old is None or old[name] != text
            tip = "an entry of the shop's own" if old is None else f"shipped: {old[name] or 'nothing'}"
            cells.append(Cell(text, _value(name, text), "own" if is_own else "", f"{text}\n{tip}" if is_own else text))
        shown.append(Row(row["id"], tuple(cells)))
    return shown


def _choices(table: str, column: str) -> tuple[str, ...]:
    if column == "kind":
        return tuple(one.value for one in MaterialKind)
    if column == "per":
        return tuple(one.value for one in (Per if table == "sheets" else PerLength))
    if column == "use":
        return tuple(one.value for one in CoilUse)
    return _YES_NO if column in ("has_grain", "sides_alike") else ()


def _value(column: str, text: str) -> object:
    """What a cell is sorted by."""
    from app.stock.weights import parse_density
    from geometry.errors import GeometryError
    from geometry.units import parse_length

    if column not in _NUMBERS:
        return text
    if not text:
        return float("inf")
    try:
        if column == "density":
            return parse_density(text)
        return float(text) if column in ("price", "minimum") else parse_length(text)
    except (ValueError, GeometryError):
        return float("inf")
