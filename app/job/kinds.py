"""The kinds of build a job can ask for, as data; how each is made is told in `app.fabrication.kinds`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from app.job.settings import SETTINGS


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
    divisible : tuple of str
        Roles whose parts are divided by seams when no sheet holds them.
    ordered : tuple of (setting, setting, bool)
        Pairs of which the first must not be above the second; nor equal, where the bool is true.
    """

    name: str
    meaning: str
    materials: tuple[str, ...]
    own_materials: tuple[tuple[str, str], ...]
    settings: tuple[str, ...]
    divisible: tuple[str, ...]
    ordered: tuple[tuple[str, str, bool], ...] = ()


FACE_LIT_WITH_RETAINER: Final = Kind(
    name="face-lit with retainer",
    meaning="Backer inside the return, floating face, flat retainer ring over its edge and one round each counter.",
    materials=("backer", "face", "retainer"),
    own_materials=(("counter retainer", "retainer"), ("splice plate", "backer")),
    settings=tuple(SETTINGS),
    divisible=("backer", "face", "retainer"),
    ordered=(
        ("retainer fit", "retainer flange", True),
        ("return thickness", "retainer flange", True),
        ("coldest", "made at", False),
        ("made at", "hottest", False),
    ),
)

_RETAINER: Final = (
    "retainer flange",
    "retainer fit",
    "least lit stroke",
    "backing strip width",
    "divide retainers above",
)
_RINGS: Final = ("try retainers in sectors above",)
_TRIM: Final = ("trim edge width", "trim edge face", "trim edge lip")
_FLOATING: Final = (
    "face clearance",
    "least cold bite",
    "least cold bite of small letters",
    "retainer flange",
    "retainer fit",
)
_BUILT_UP: Final = (
    "return thickness",
    "return depth",
    "return lap",
    "return waste",
    "coil length",
    "backer fit",
    "least stroke",
    "least letter height",
    "reinforce above",
    "drain hole",
    "mounting hole",
    "least mounting holes",
    "mounting hole distance",
    "mounting edge distance",
    "wire hole",
    "drill up to",
)
_FILM: Final = ("film roll width", "film edge", "film lap", "film allowance")


def _settings_without(*left_out: str) -> tuple[str, ...]:
    return tuple(name for name in SETTINGS if name not in left_out)


_TEMPERATURES: Final = (("coldest", "made at", False), ("made at", "hottest", False))

FACE_LIT_WITH_TRIM: Final = Kind(
    name="face-lit with trim edge",
    meaning="Backer inside the return, face a little larger than the letter, held by a trim edge glued round it.",
    materials=("backer", "face"),
    own_materials=(("splice plate", "backer"),),
    settings=_settings_without(*_FLOATING, *_RINGS),
    divisible=("backer", "face"),
    ordered=(("trim edge face", "trim edge lip", False), *_TEMPERATURES),
)

HALO_LIT: Final = Kind(
    name="halo-lit",
    meaning="Metal face of the letter's own size on the return, clear back inside it; light falls on the wall behind.",
    materials=("backer", "face"),
    own_materials=(("splice plate", "face"),),
    settings=_settings_without(*_FLOATING, *_TRIM, *_FILM, *_RINGS, "least lit stroke"),
    divisible=("backer", "face"),
    ordered=_TEMPERATURES,
)

FLAT_CUT: Final = Kind(
    name="flat-cut",
    meaning="Letters cut from one sheet at their own size, without returns and light.",
    materials=("panel",),
    own_materials=(("splice plate", "panel"),),
    settings=_settings_without(
        *_FLOATING, *_TRIM, *_FILM, *_RETAINER, *_RINGS, *(set(_BUILT_UP) - {"return thickness"})
    ),
    divisible=("panel",),
    ordered=_TEMPERATURES,
)

CABINET_FACE: Final = Kind(
    name="cabinet face",
    meaning="Face that floats in the frame of a cabinet, whose flange is the retainer's; the frame is bought or built.",
    materials=("face",),
    own_materials=(("splice plate", "face"),),
    settings=_settings_without(*_TRIM, *_RINGS, "backer fit", "backer lap", "least stroke", "drain hole"),
    divisible=("face",),
    ordered=(("return thickness", "retainer flange", True), *_TEMPERATURES),
)

KINDS: Final[dict[str, Kind]] = {
    kind.name: kind for kind in (FACE_LIT_WITH_RETAINER, FACE_LIT_WITH_TRIM, HALO_LIT, FLAT_CUT, CABINET_FACE)
}
"""All kinds by name."""
