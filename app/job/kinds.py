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

KINDS: Final[dict[str, Kind]] = {kind.name: kind for kind in (FACE_LIT_WITH_RETAINER,)}
"""All kinds by name."""
