"""What the rules of a build work on: one region of a letter, and the terms it is built on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from app.fabrication.part import Drill, MarkText, Role
from app.fabrication.remarks import Remark
from app.fabrication.walls import Walls
from app.job.document import DisplayUnits
from app.stock.book import MaterialKind
from app.stock.money import format_price
from geometry.contour import Contour, Region
from geometry.curve import Point
from geometry.flatten import flatten_region
from geometry.measure import Bounds
from geometry.outline import Outline
from geometry.units import format_length

MEASURING: Final = 0.1
"""Widths are measured on polygons this near to the true curves, mm."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What a build fixes for all its letters.

    Fields
    ------
    values : settings by name, each in its own unit
    cutters : cutter diameter by role, mm
    face_kind : MaterialKind or None
        Of the face's material, where the kind of build has a face.
    units : DisplayUnits
    currency : str
        Both for the messages.
    """

    values: Mapping[str, float]
    cutters: Mapping[Role, float]
    face_kind: MaterialKind | None
    units: DisplayUnits
    currency: str

    def __getitem__(self, setting: str) -> float:
        return self.values[setting]

    @property
    def step(self) -> float:
        """Seams and overlaps stand at whole multiples of this, mm, so that they can be measured out."""
        return 25.4 / 16.0 if self.units is DisplayUnits.INCHES else 1.0

    def say(self, length: float) -> str:
        """A length for people, in the job's units."""
        return format_length(length, self.units.value)

    def say_area(self, area: float) -> str:
        """An area for people, in the job's units squared."""
        if self.units is DisplayUnits.INCHES:
            return f"{area / 25.4**2:.4g} in²"
        return f"{area:.4g} mm²"

    def say_price(self, minor: int) -> str:
        """An amount for people, in the job's currency, from its minor units."""
        return f"{format_price(minor, self.currency)} {self.currency}"


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """One region of a letter, lines and arcs only, the lower left of its bounds at (0, 0).

    Fields
    ------
    region : Region
    bounds : Bounds
    strokes : Walls
        Opposed walls across the material, as far apart as any rule of the build cares for.
    """

    region: Region
    bounds: Bounds
    strokes: Walls

    @property
    def middle(self) -> Point:
        """Middle of the bounds: a place for remarks that have none of their own."""
        return self.bounds.centre


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A flat piece a rule made, in the subject's frame, and the same as a polygon for measuring.

    Fields
    ------
    role : Role
    region : Region
    outline : Outline
    drills : tuple of Drill
    marks : tuple of Contour
        Lines to be marked.
    texts : tuple of MarkText
        Words to be marked.
    """

    role: Role
    region: Region
    outline: Outline
    drills: tuple[Drill, ...] = ()
    marks: tuple[Contour, ...] = ()
    texts: tuple[MarkText, ...] = ()

    @classmethod
    def of(
        cls,
        role: Role,
        region: Region,
        *,
        drills: tuple[Drill, ...] = (),
        marks: tuple[Contour, ...] = (),
        texts: tuple[MarkText, ...] = (),
    ) -> Piece:
        """A piece of that shape."""
        return cls(role, region, flatten_region(region, MEASURING), drills, marks, texts)


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """Pieces of one region, and what the rules had to say."""

    pieces: tuple[Piece, ...] = ()
    remarks: tuple[Remark, ...] = ()
