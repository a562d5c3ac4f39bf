"""The stock book as shipped: cutters, materials and sheet sizes a job may refer to by id alone.

The tables stand beside this module as CSV, each row with its mark: the kind of source, or "common practice". Prices
are invented examples, for trying the program out; a shop puts its own in. An entry is never changed once released,
since job files name it: something better gets a new id.

Sheets have the size they surely come in: "48 x 96" of aluminium is 47 7/8 x 95 7/8 in, the least its tolerance table
allows, and "1220 x 2440 mm" is not 48 x 96 in. A measured sheet is written out in the job.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import Final

from app.stock.book import Cutter, Material, MaterialKind, StockSheet
from app.stock.money import parse_price
from app.stock.weights import parse_density
from geometry.units import parse_length

CURRENCY: Final = "USD"
"""What the shipped prices are in."""


@dataclass(frozen=True, slots=True)
class StockBook:
    """Entries by id, and the mark of each: where its numbers come from."""

    cutters: Mapping[str, Cutter]
    materials: Mapping[str, Material]
    stock: Mapping[str, StockSheet]
    marks: Mapping[str, str]

    def stock_in(self, currency: str) -> Mapping[str, StockSheet]:
        """Sheet sizes by id; their prices are left out unless the job counts in the book's currency."""
        if currency == CURRENCY:
            return self.stock
        return {sheet.id: replace(sheet, price=None) for sheet in self.stock.values()}

    def holds(self, entry: Cutter | Material | StockSheet, currency: str = CURRENCY) -> bool:
        """Whether an entry of a job is the shipped one, unchanged."""
        shelf: Mapping[str, object]
        if isinstance(entry, Cutter):
            shelf = self.cutters
        elif isinstance(entry, Material):
            shelf = self.materials
        else:
            shelf = self.stock_in(currency)
        return shelf.get(entry.id) == entry


@cache
def shipped() -> StockBook:
    """The stock book as shipped. Prices are in minor units of `CURRENCY`."""
    cutters = {row["id"]: _cutter(row) for row in _rows("shipped_cutters.csv")}
    materials = {row["id"]: _material(row) for row in _rows("shipped_materials.csv")}
    stock = {row["id"]: _sheet(row) for row in _rows("shipped_sheets.csv")}
    tables = ("shipped_cutters.csv", "shipped_materials.csv", "shipped_sheets.csv")
    return StockBook(cutters, materials, stock, {row["id"]: row["mark"] for name in tables for row in _rows(name)})


def _rows(name: str) -> list[dict[str, str]]:
    text = resources.files("app.stock").joinpath(name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def _cutter(row: dict[str, str]) -> Cutter:
    return Cutter(id=row["id"], name=row["name"], diameter=parse_length(row["diameter"]))


def _material(row: dict[str, str]) -> Material:
    return Material(
        id=row["id"],
        name=row["name"],
        kind=MaterialKind(row["kind"]),
        thickness=parse_length(row["thickness"]),
        density=parse_density(row["density"]),
        cutter=row["cutter"],
        web=parse_length(row["web"]),
        margin=parse_length(row["margin"]),
        has_grain=row["has_grain"] == "yes",
        sides_alike=row["sides_alike"] == "yes",
    )


def _sheet(row: dict[str, str]) -> StockSheet:
    return StockSheet(
        id=row["id"],
        material=row["material"],
        name=row["name"],
        width=_real_size(row, "width"),
        height=_real_size(row, "height"),
        price=parse_price(row["price"], CURRENCY),
    )


def _real_size(row: dict[str, str], side: str) -> float:
    """What a sheet surely has of one side: nominal size less the tolerance below it, mm."""
    minus = row[f"{side}_minus"]
    return parse_length(row[side]) - (parse_length(minus) if minus else 0.0)
