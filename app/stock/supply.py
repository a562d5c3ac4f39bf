"""What can be bought and how: sheet sizes with their real size and price, coils, rolls; the shop's stock book.

A sheet is reckoned with at the size it surely has: its nominal size, plus what it is sold oversize, minus the
tolerance below nominal. Whoever measures the sheet uses what was measured instead.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

from app.stock.book import Cutter, Material, StockSheet
from app.stock.money import minor_digits
from app.stock.weights import KG_PER_LB, MM_PER_IN, weight

SQUARE_FOOT_MM2 = (12.0 * MM_PER_IN) ** 2


class Per(StrEnum):
    """What a price is for."""

    SHEET = "sheet"
    SQUARE_FOOT = "ft2"
    SQUARE_METRE = "m2"
    POUND = "lb"
    KILOGRAM = "kg"


class PerLength(StrEnum):
    """What the price of a coil or roll is for."""

    PIECE = "piece"
    FOOT = "ft"
    METRE = "m"


class CoilUse(StrEnum):
    """What is cut from a coil."""

    RETURNS = "returns"
    TRIM = "trim edge"
    BACKING = "clear backing strip"


@dataclass(frozen=True, slots=True)
class BookMaterial:
    """A material and what its thickness may really be: down to thickness - minus, up to thickness + plus, mm."""

    material: Material
    minus: float
    plus: float
    mark: str

    def within(self, measured: float) -> bool:
        """Whether a measured thickness (mm) is one this material may have."""
        thickness = self.material.thickness
        return thickness - self.minus - 1e-9 <= measured <= thickness + self.plus + 1e-9


@dataclass(frozen=True, slots=True)
class SheetOffer:
    """A sheet size that can be bought.

    Fields
    ------
    id, material, name : str
    width, height : float
        Nominal, mm; what the price of an area or a weight is reckoned on.
    width_over, height_over : float
        How much larger than nominal it is sold at least, mm.
    width_minus, height_minus : float
        How much smaller it may come, mm.
    price : Decimal or None
        Major currency units; None when unknown.
    per : Per
    minimum : int
        Fewest sheets an order takes.
    supplier : str
        Free text.
    mark : str
        Where the numbers come from.
    """

    id: str
    material: str
    name: str
    width: float
    height: float
    width_over: float = 0.0
    height_over: float = 0.0
    width_minus: float = 0.0
    height_minus: float = 0.0
    price: Decimal | None = None
    per: Per = Per.SHEET
    minimum: int = 1
    supplier: str = ""
    mark: str = ""

    @property
    def real_width(self) -> float:
        """Width it surely has, mm."""
        return self.width + self.width_over - self.width_minus

    @property
    def real_height(self) -> float:
        """Height it surely has, mm."""
        return self.height + self.height_over - self.height_minus

    def sheet_price(self, material: Material, currency: str) -> int | None:
        """Price of one sheet, minor units, rounded to the nearest; None when unknown."""
        if self.price is None:
            return None
        area = self.width * self.height
        match self.per:
            case Per.SHEET:
                amount = Decimal(1)
            case Per.SQUARE_FOOT:
                amount = Decimal(area / SQUARE_FOOT_MM2)
            case Per.SQUARE_METRE:
                amount = Decimal(area / 1e6)
            case Per.KILOGRAM:
                amount = Decimal(weight(area, material.density, material.thickness))
            case Per.POUND:
                amount = Decimal(weight(area, material.density, material.thickness) / KG_PER_LB)
        minor = (self.price * amount).scaleb(minor_digits(currency))
        return int(minor.to_integral_value(ROUND_HALF_UP))

    def sheet(self, material: Material, currency: str) -> StockSheet:
        """The size as a job's stock has it: real size, price of one."""
        return StockSheet(
            id=self.id,
            material=self.material,
            name=self.name,
            width=self.real_width,
            height=self.real_height,
            price=self.sheet_price(material, currency),
        )


@dataclass(frozen=True, slots=True)
class CoilOffer:
    """Coil for returns, trim edge or backing strip. Width, thickness and length in mm, density in kg/m³.

    Thickness and density are 0 where they are not known, which only coil for returns has to say. `minimum` is in coils.
    """

    id: str
    name: str
    width: float
    thickness: float
    density: float
    length: float
    price: Decimal | None = None
    per: PerLength = PerLength.PIECE
    minimum: int = 1
    supplier: str = ""
    mark: str = ""
    use: CoilUse = CoilUse.RETURNS

    def piece_price(self, currency: str) -> int | None:
        """Price of one coil, minor units; None when unknown."""
        return _length_price(self.price, self.per, self.length, currency)


@dataclass(frozen=True, slots=True)
class RollOffer:
    """Film on a roll. Width, what of it cannot be used at each edge, and length in mm; `minimum` is in rolls."""

    id: str
    name: str
    width: float
    edge: float
    length: float
    price: Decimal | None = None
    per: PerLength = PerLength.PIECE
    minimum: int = 1
    supplier: str = ""
    mark: str = ""

    @property
    def usable_width(self) -> float:
        """Width without the edges, mm."""
        return self.width - 2.0 * self.edge

    def piece_price(self, currency: str) -> int | None:
        """Price of one roll, minor units; None when unknown."""
        return _length_price(self.price, self.per, self.length, currency)


@dataclass(frozen=True, slots=True)
class BookCutter:
    """A cutter and where its numbers come from."""

    cutter: Cutter
    mark: str


@dataclass(frozen=True, slots=True)
class ShopBook:
    """The shop's stock book: everything by id, prices in one currency."""

    currency: str
    cutters: Mapping[str, BookCutter] = field(default_factory=dict)
    materials: Mapping[str, BookMaterial] = field(default_factory=dict)
    sheets: Mapping[str, SheetOffer] = field(default_factory=dict)
    coils: Mapping[str, CoilOffer] = field(default_factory=dict)
    rolls: Mapping[str, RollOffer] = field(default_factory=dict)

    def sizes_of(self, material: str) -> tuple[StockSheet, ...]:
        """Every sheet size of a material, as a job's stock has it."""
        entry = self.materials.get(material)
        if entry is None:
            return ()
        return tuple(
            offer.sheet(entry.material, self.currency) for offer in self.sheets.values() if offer.material == material
        )


def _length_price(price: Decimal | None, per: PerLength, length: float, currency: str) -> int | None:
    if price is None:
        return None
    match per:
        case PerLength.PIECE:
            amount = Decimal(1)
        case PerLength.FOOT:
            amount = Decimal(length / (12.0 * MM_PER_IN))
        case PerLength.METRE:
            amount = Decimal(length / 1000.0)
    return int((price * amount).scaleb(minor_digits(currency)).to_integral_value(ROUND_HALF_UP))
