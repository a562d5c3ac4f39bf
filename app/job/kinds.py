"""What a build can ask for: the kinds of build and their settings, as data. How each kind is made is told in
`app.fabrication.kinds`.

Every number that is common practice is a setting here, with its mark: the sort of source, or "common practice". To
add a setting, add a row to `SETTINGS` and name it in the kinds that use it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

IN: Final = 25.4


class Quantity(StrEnum):
    """What a setting's number measures; the value is the unit it is kept in."""

    LENGTH = "mm"
    AREA = "mm²"
    TEMPERATURE = "°C"
    EXPANSION = "1/°C"
    NUMBER = ""


@dataclass(frozen=True, slots=True)
class Setting:
    """One number of a build that can be changed.

    Fields
    ------
    name : str
        As written in job files and shown to people.
    default, least, most : float
        In the quantity's unit; `least` and `most` bound what is accepted.
    quantity : Quantity
    meaning : str
        One sentence for the person who sets it.
    mark : str
        Where the default comes from.
    """

    name: str
    default: float
    least: float
    most: float
    quantity: Quantity
    meaning: str
    mark: str


def _celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


def _length(name: str, inches: float, least: float, most: float, meaning: str, mark: str) -> Setting:
    return Setting(name, inches * IN, least * IN, most * IN, Quantity.LENGTH, meaning, mark)


def _temperature(name: str, fahrenheit: float, meaning: str, mark: str) -> Setting:
    return Setting(name, _celsius(fahrenheit), -100.0, 150.0, Quantity.TEMPERATURE, meaning, mark)


def _expansion(name: str, per_fahrenheit: float, mark: str) -> Setting:
    what = name.removeprefix("expansion of ")
    meaning = f"How much {what} grows per degree, as a share of its length."
    return Setting(name, per_fahrenheit * 1.8, 0.0, 5e-4, Quantity.EXPANSION, meaning, mark)


_COMMON: Final = "common practice"
_SHEET_MAKER: Final = "acrylic sheet makers' fabrication pages"
_LETTER_MAKER: Final = "a wholesale letter maker's production limits"

_CATALOGUE: Final = (
    _length("return thickness", 0.040, 0.0, 0.25, "Thickness of the coil the returns are bent from.", _COMMON),
    _length("backer fit", 0.020, 0.0, 0.5, "Gap between the backer and the inside of the return, each side.", _COMMON),
    _length(
        "face clearance", 1 / 16, 0.0, 3.0, "Gap between the face and the inside of the return, each side.", _COMMON
    ),
    _length("retainer flange", 1.5, 0.125, 6.0, "Width of the retainer ring, measured from its outer edge.", _COMMON),
    _length("retainer fit", 0.0, 0.0, 0.5, "How far the retainer's edge stands out past the artwork.", _COMMON),
    _length(
        "arc tolerance",
        0.002,
        0.0001,
        0.125,
        "How far arcs may stray from the artwork's curves they stand for.",
        _COMMON,
    ),
    _length("least stroke", 1.5, 0.0, 24.0, "Narrowest stroke that takes a row of lamps.", _LETTER_MAKER),
    _length("least letter height", 8.0, 0.0, 120.0, "Lowest letter that can be built and lit.", _LETTER_MAKER),
    _length(
        "reinforce above",
        72.0,
        0.0,
        1000.0,
        "Height above which a letter needs structural reinforcement.",
        "a sign trade periodical",
    ),
    _length("least lit stroke", 1.0, 0.0, 24.0, "Narrowest lit band that reads from afar.", _COMMON),
    Setting(
        "small part area",
        36.0 * IN * IN,
        0.0,
        1e7,
        Quantity.AREA,
        "Parts smaller than this are flagged for tabs or a skin when cut.",
        _COMMON,
    ),
    _length("small part width", 3.0, 0.0, 48.0, "Parts narrower than this are flagged likewise.", _COMMON),
    _temperature("made at", 68.0, "Temperature of the shop when the face is cut.", _SHEET_MAKER),
    _temperature("coldest", -30.0, "Coldest the face gets in use.", _SHEET_MAKER),
    _temperature("hottest", 160.0, "Hottest the face gets in use.", _SHEET_MAKER),
    Setting(
        "movement factor",
        1.0,
        0.1,
        5.0,
        Quantity.NUMBER,
        "Multiplies the movement of faces; 1.4 for dark sheet heated by the sun.",
        _SHEET_MAKER,
    ),
    _length("least cold bite", 0.375, 0.0, 3.0, "Least cover of the flange over the face when cold.", _COMMON),
    _length("least cold bite of small letters", 0.25, 0.0, 3.0, "The same for letters under 24 in.", _COMMON),
    _length("clearance step", 1 / 16, 0.001, 1.0, "Clearances are proposed in whole steps of this.", _COMMON),
    _expansion("expansion of acrylic", 4.0e-5, _SHEET_MAKER),
    _expansion("expansion of polycarbonate", 3.8e-5, _SHEET_MAKER),
    _expansion("expansion of pvc", 3.7e-5, "PVC sheet data"),
    _expansion("expansion of composite", 1.3e-5, "from memory"),
    _expansion("expansion of aluminium", 1.3e-5, "aluminium structures handbook"),
)

SETTINGS: Final[dict[str, Setting]] = {setting.name: setting for setting in _CATALOGUE}
"""All settings of all kinds, by name."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One way to fabricate a letter.

    Fields
    ------
    name : str
        As written in job files and shown to people.
    meaning : str
        One sentence.
    materials : tuple of str
        Roles that need a material.
    own_materials : tuple of (role, role)
        Roles that may have a material of their own, each with the role whose material they get otherwise.
    settings : tuple of str
        Names of the settings the kind uses.
    """

    name: str
    meaning: str
    materials: tuple[str, ...]
    own_materials: tuple[tuple[str, str], ...]
    settings: tuple[str, ...]


FACE_LIT_WITH_RETAINER: Final = Kind(
    name="face-lit with retainer",
    meaning="Backer inside the return, floating face, flat retainer ring over its edge and one round each counter.",
    materials=("backer", "face", "retainer"),
    own_materials=(("counter retainer", "retainer"),),
    settings=tuple(SETTINGS),
)

KINDS: Final[dict[str, Kind]] = {kind.name: kind for kind in (FACE_LIT_WITH_RETAINER,)}
"""All kinds by name."""
