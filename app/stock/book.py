"""What can be cut from and with: cutters, materials, sheet sizes. Plain data; readers and editors are elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class MaterialKind(StrEnum):
    """Families of material that behave alike under the cutter and in the sun."""

    ALUMINIUM = "aluminium"
    ACRYLIC = "acrylic"
    POLYCARBONATE = "polycarbonate"
    COMPOSITE = "composite"
    PVC = "pvc"


@dataclass(frozen=True, slots=True)
class Cutter:
    """A router bit; its diameter (mm) is the kerf."""

    id: str
    name: str
    diameter: float


@dataclass(frozen=True, slots=True)
class Material:
    """A sheet material of one thickness.

    Fields
    ------
    id, name : str
    kind : MaterialKind
    thickness : float, mm
    density : float, kg/m³
    cutter : str
        Id of the cutter used on it.
    web : float
        Material left between two cuts, mm; spacing = cutter diameter + web.
    margin : float
        Least distance from a part to the sheet's edge, mm.
    has_grain : bool
        Grain or brushed finish along the sheet's length: parts turn by 0 or 180 degrees only.
    sides_alike : bool
        Both faces look alike, so that a part may be cut mirrored.
    """

    id: str
    name: str
    kind: MaterialKind
    thickness: float
    density: float
    cutter: str
    web: float
    margin: float
    has_grain: bool = False
    sides_alike: bool = False


@dataclass(frozen=True, slots=True)
class KeepOut:
    """A rectangle on the sheet (clamp zone, flaw) that no part may enter; mm from the sheet's lower left corner."""

    x: float
    y: float
    width: float
    height: float
    reason: str = ""


@dataclass(frozen=True, slots=True)
class StockSheet:
    """A sheet size that can be bought or is on hand.

    Fields
    ------
    id : str
    material : str
        Material id.
    name : str
        As the shop calls it, for example "48 x 120".
    width, height : float
        True size, mm; width runs along x on the machine.
    count : int or None
        How many can be had; None means as many as wanted.
    price : int or None
        Of one sheet, minor currency units; None when unknown (then the area decides).
    keep_outs : tuple of KeepOut
    outline : tuple of points or None
        True edge of an offcut that is no rectangle, mm, anticlockwise, lower left of its bounds at (0, 0); width and
        height are then those of its bounds. None for a rectangle.
    """

    id: str
    material: str
    name: str
    width: float
    height: float
    count: int | None = None
    price: int | None = None
    keep_outs: tuple[KeepOut, ...] = ()
    outline: tuple[tuple[float, float], ...] | None = None

    @property
    def edge(self) -> tuple[tuple[float, float], ...]:
        """Corners of the sheet, mm, anticlockwise."""
        if self.outline is not None:
            return self.outline
        return ((0.0, 0.0), (self.width, 0.0), (self.width, self.height), (0.0, self.height))

    @property
    def area(self) -> float:
        """Area of the sheet, mm²."""
        if self.outline is None:
            return self.width * self.height
        ends = (*self.outline[1:], self.outline[0])
        return sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in zip(self.outline, ends, strict=True)) / 2.0


def spacing_of(material: Material, cutter: Cutter) -> float:
    """Least distance between two parts, mm: cutter diameter plus web."""
    return cutter.diameter + material.web
